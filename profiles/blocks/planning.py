"""Hull + settings -> station plan: full blocks as far as they go, or the fewest that keep a limit."""

import math
from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from functools import cache

from shapely import MultiPolygon

from profiles.blocks.blocks import grow_whole, must_carve
from profiles.blocks.changes import INSET, shape_stations, with_shape_stations
from profiles.blocks.fit import plan_by_fit
from profiles.blocks.growth import GrownBlock
from profiles.blocks.hull_sections import hull_cut
from profiles.blocks.settings import BlockSettings, StationSettings
from profiles.blocks.stations import SAME_PLACE, Span, StationPlan, plan_stations
from profiles.errors import HullError, JobError
from profiles.hull.frame import Hull
from profiles.hull.gaps import refuse_open
from profiles.hull.sections import Side
from profiles.notes import Note, assumption
from profiles.setting import check_settings

NEARLY = 1.3
"""Times the limit; a block that even growth leaves within this is measured with varying growth too."""


def plan(
    hull: Hull,
    settings: StationSettings,
    template: BlockSettings = BlockSettings(),
    full: Sequence[float] = (),
) -> StationPlan:
    """The stations of a hull, x in mm aft of the foremost point.

    `template` matters where blocks are planned by fit, since the limit holds after growth. `full` are the thicknesses
    of the full blocks as measured, mm, the tail's first. Raises JobError for settings that cannot be, also without a
    foam thickness.

    >>> from profiles import StationSettings, plan, read
    >>> stations = plan(read("models/skerrywing.stl"), StationSettings(thickness=40))
    >>> stations.stations[:4], len(stations.spans)
    ((0.0, 32.0, 72.0, 112.0), 21)
    """
    check_settings(settings, template)
    refuse_open(hull.openings, hull.remedy)
    _check_gauges(template, hull)
    if settings.thickness is None:
        message = "the job has no foam thickness"
        raise JobError(message, remedy="Measure the foam and give it as --foam 40, or as thickness under [foam].")
    added = shape_stations(hull, settings.breaks, settings.min_block) if settings.shape_stations else ()
    wanted = replace(settings, breaks=(*settings.breaks, *(station.x for station in added)))
    if settings.fit is not None:
        changes = frozenset(station.x for station in added if not station.is_step)
        stations = _fitted(hull, wanted, settings.fit, template, min(full, default=settings.thickness), changes)
        stations = replace(stations, foam=settings.thickness, notes=(*_fit_notes(wanted, full), *stations.notes))
    else:
        stations = plan_stations(
            length=hull.length,
            foam=settings.thickness,
            odd=wanted.odd,
            min_block=wanted.min_block,
            breaks=wanted.breaks,
            steps=hull.steps,
            full=full,
        )
        stations = replace(stations, most=settings.most)
    return with_shape_stations(stations, added)


def _check_gauges(template: BlockSettings, hull: Hull) -> None:
    outside = [x for x in template.gauges if not 0 <= x <= hull.length]
    if outside:
        places = ", ".join(f"{x:g}" for x in outside)
        message = f"a gauge at {places} mm lies outside the hull, which reaches from 0 to {hull.length:.2f} mm"
        raise JobError(message, remedy="Give gauges in mm aft of the foremost point.")


def _fit_notes(settings: StationSettings, full: Sequence[float]) -> list[Note]:
    """What `fit` makes of other settings."""
    notes = []
    if settings.most is not None:
        notes.append(assumption("--most is ignored: --fit says how much may be left to sand"))
    if full and max(full) - min(full) > SAME_PLACE:
        text = f"Blocks are at most {min(full):g} mm thick, like the thinnest measured board. Override with --as-named"
        notes.append(assumption(text))
    return notes


def _fitted(
    hull: Hull,
    settings: StationSettings,
    limit: float,
    template: BlockSettings,
    thickness: float,
    changes: AbstractSet[float],
) -> StationPlan:
    """The fewest blocks of at most `thickness` mm that stay within the limit after growth; at `changes`, x in mm, faces
    are taken on either side, as `with_shape_stations` does afterwards.
    """
    shape, cut = hull.shape, hull_cut(hull.shape)
    even = replace(template, growth="block") if template.growth == "varying" else template

    @cache
    def face(x: float, side: Side) -> MultiPolygon | None:
        inset = 0.0 if x not in changes else INSET if side is Side.AFT else -INSET
        try:
            return shape.section(x + inset, side).region
        except HullError:
            return None

    def deviation(x_fore: float, x_aft: float) -> float:
        fore, aft = face(x_fore, Side.AFT), face(x_aft, Side.FORE)
        if fore is None or aft is None:
            return math.nan
        if fore.is_empty or aft.is_empty:
            return math.inf
        # Even growth is quicker to find. A block that is within the limit with it may have either; varying growth,
        # which enlarges no more than needed, brings some blocks within the limit that are a little over it.
        fore_inset, aft_inset = (INSET if x in changes else 0.0 for x in (x_fore, x_aft))
        span = Span(0, x_fore, x_aft, full=False, fore_inset=fore_inset, aft_inset=aft_inset)
        block = grow_whole(shape, cut, span, (fore, aft), even)
        if even is not template and not block.hopeless and limit < _off(block) <= NEARLY * limit:
            block = grow_whole(shape, cut, span, (fore, aft), template, limit)
        carved = must_carve(2, block, block.pairing.unpaired)
        return math.inf if carved else _off(block)

    def is_tip(x_fore: float, x_aft: float) -> bool:
        ends = (face(x_fore, Side.AFT), face(x_aft, Side.FORE))
        return [end is not None and end.is_empty for end in ends].count(True) == 1

    return plan_by_fit(
        length=hull.length,
        foam=thickness,
        limit=limit,
        min_block=min(settings.min_block, thickness),
        breaks=settings.breaks,
        steps=hull.steps,
        deviation=deviation,
        tips=is_tip,
        thinner_fits_better=True,
    )


def _off(block: GrownBlock) -> float:
    """How far a block is off the hull, mm: foam to sand or missing."""
    return max(block.deviation.extra, block.deviation.missing)
