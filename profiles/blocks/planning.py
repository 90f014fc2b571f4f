"""Hull + settings -> station plan: full blocks as far as they go, or the fewest that keep a limit."""

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache

from shapely import MultiPolygon

from profiles.blocks.blocks import grow_between
from profiles.blocks.changes import shape_stations, with_shape_stations
from profiles.blocks.fit import plan_by_fit
from profiles.blocks.hull_sections import hull_cut
from profiles.blocks.settings import BlockSettings, StationSettings
from profiles.blocks.stations import StationPlan, plan_stations
from profiles.errors import HullError, JobError
from profiles.hull.frame import Hull
from profiles.hull.gaps import refuse_open
from profiles.hull.sections import Side
from profiles.setting import check_settings


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
    if settings.fit is not None and settings.as_measured:
        message = "blocks planned by fit are sliced to their own thickness; as_measured cannot be had with it"
        raise JobError(message, remedy="Leave out one of --fit and --as-measured.")
    added = shape_stations(hull, settings.breaks) if settings.shape_stations else ()
    wanted = replace(settings, breaks=(*settings.breaks, *(station.x for station in added)))
    if settings.fit is not None:
        stations = _fitted(hull, wanted, settings.thickness, settings.fit, template)
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
    return with_shape_stations(stations, added)


def _check_gauges(template: BlockSettings, hull: Hull) -> None:
    outside = [x for x in template.gauges if not 0 <= x <= hull.length]
    if outside:
        places = ", ".join(f"{x:g}" for x in outside)
        message = f"a gauge at {places} mm lies outside the hull, which reaches from 0 to {hull.length:.2f} mm"
        raise JobError(message, remedy="Give gauges in mm aft of the foremost point.")


def _fitted(
    hull: Hull, settings: StationSettings, thickness: float, limit: float, template: BlockSettings
) -> StationPlan:
    """The fewest blocks that stay within the limit after growth; blocks with a pointed end are carved and exempt."""
    shape, cut = hull.shape, hull_cut(hull.shape)
    # Even growth is quicker to find, and a block that stays within the limit with it may have either.
    even = replace(template, growth="block") if template.growth == "varying" else template

    @cache
    def face(x: float, side: Side) -> MultiPolygon | None:
        try:
            return shape.section(x, side).region
        except HullError:
            return None

    def deviation(x_fore: float, x_aft: float) -> float:
        fore, aft = face(x_fore, Side.AFT), face(x_aft, Side.FORE)
        if fore is None or aft is None or fore.is_empty or aft.is_empty:
            return math.inf
        block = grow_between(shape, cut, x_fore, x_aft, (fore, aft), even)
        if block.hopeless or block.pairing.unpaired:
            return math.inf
        return max(block.deviation.extra, block.deviation.missing)

    def is_tip(x_fore: float, x_aft: float) -> bool:
        ends = (face(x_fore, Side.AFT), face(x_aft, Side.FORE))
        return [end is not None and end.is_empty for end in ends].count(True) == 1

    return plan_by_fit(
        length=hull.length,
        foam=thickness,
        limit=limit,
        min_block=settings.min_block,
        breaks=settings.breaks,
        steps=hull.steps,
        deviation=deviation,
        tips=is_tip,
        thinner_fits_better=True,
    )
