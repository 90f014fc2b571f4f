"""Find the places where a hull changes its shape at once. They get a station, since no straight wire runs across them.

Steps and walls across the hull are known from reading. Pieces and hollows begin, end, split or join only at the
critical places of the shape, so sections are taken only beside these. Where these are unknown or too many, sections are
taken in even steps.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from profiles.arrays import Floats
from profiles.blocks.splits import TO, split_x
from profiles.blocks.stations import StationPlan
from profiles.errors import HullError
from profiles.hull.frame import Hull
from profiles.hull.sections import Side
from profiles.hull.shape import Shape
from profiles.notes import assumption
from profiles.values import dataclass

BESIDE = 1.0
"""mm; sections are compared this far before and after a critical place. A shorter piece is not cut by itself."""

MOST_PLACES = 400
"""Critical places that are tested one by one; a hull with more is rough, and is searched in even steps."""

EVEN_STEP = 5.0
"""mm between sections where the hull is searched in even steps."""

CLOSEST = 3.0
"""mm; stations nearer to each other would leave a slice that no hot wire cuts true (common practice)."""

SLIGHT = 0.02
"""Share of the larger change; a smaller change beside it is not worth a thin block of its own."""

INSET = 0.05
"""mm; how far before and after a change of pieces the two outlines of such a station are taken."""


@dataclass(frozen=True, slots=True)
class ShapeStation:
    """A station that the shape of the hull asks for."""

    x: float
    """mm aft of the foremost point."""
    is_step: bool
    """A wall across the hull, where the two limits differ; otherwise the pieces or hollows change there."""


def shape_stations(hull: Hull, breaks: Sequence[float], min_block: float = 0.0) -> tuple[ShapeStation, ...]:
    """The stations that the shape asks for, from the nose; none within CLOSEST of an end, of one of `breaks` (mm) or of
    another.

    Places nearer together than `min_block` mm are weighed by how much of the section changes there, mm2: the larger
    change goes first, and of the others those go too that leave CLOSEST and are no less than SLIGHT of it. So blocks
    between them may be thinner than `min_block`.
    """
    wanted = [ShapeStation(x, is_step=True) for x in hull.steps]
    wanted += [ShapeStation(x, is_step=False) for x in change_places(hull)]
    fixed = (0.0, hull.length, *breaks)
    free = [station for station in wanted if all(abs(station.x - x) >= CLOSEST for x in fixed)]
    reach = max(min_block, CLOSEST)
    crowded = [one for one in free if any(one is not other and abs(one.x - other.x) < reach for other in free)]
    sizes = {station.x: _size_of_change(hull.shape, station.x) for station in crowded}
    kept = [station for station in free if station.x not in sizes]
    for station in sorted(crowded, key=lambda station: (-sizes[station.x], not station.is_step)):
        near = [other for other in kept if abs(other.x - station.x) < reach]
        slight = any(sizes[station.x] < SLIGHT * sizes[other.x] for other in near)
        if not slight and all(abs(other.x - station.x) >= CLOSEST for other in near):
            kept.append(station)
    return tuple(sorted(kept, key=lambda station: station.x))


def _size_of_change(shape: Shape, x: float) -> float:
    """How much of the section changes from BESIDE before a place to BESIDE after, mm2; infinite where one is open."""
    try:
        before, after = shape.section(x - BESIDE, Side.AFT).region, shape.section(x + BESIDE, Side.FORE).region
    except HullError:
        return math.inf
    return float(before.symmetric_difference(after).area)


def with_shape_stations(plan: StationPlan, added: Sequence[ShapeStation]) -> StationPlan:
    """A plan that was made with these stations among its breaks: their outlines are taken on either side of a change,
    and a note names them.
    """
    if not added:
        return plan
    changes = {station.x for station in added if not station.is_step}
    spans = tuple(
        replace(
            span,
            fore_inset=INSET if span.x_fore in changes else 0.0,
            aft_inset=INSET if span.x_aft in changes else 0.0,
        )
        for span in plan.spans
    )
    steps = ", ".join(f"{station.x:.1f}" for station in added if station.is_step)
    others = ", ".join(f"{station.x:.1f}" for station in added if not station.is_step)
    reasons = [f"at x = {steps} mm, where the hull has a step"] if steps else []
    reasons += [f"at x = {others} mm, where pieces or hollows begin, end, split or join"] if others else []
    text = f"Stations stand {' and '.join(reasons)}. Override with --no-shape-stations"
    return replace(plan, spans=spans, notes=(*plan.notes, assumption(text, added[0].x)))


def change_places(hull: Hull) -> tuple[float, ...]:
    """Places along the hull, x in mm ascending, where the number of pieces or hollows of the section changes.

    Each is found to `splits.TO`; places nearer to an end of the hull than BESIDE are left out.
    """
    critical = hull.shape.critical_places()
    if critical is None:
        stretches = _even_stretches(hull.length)
    else:
        inner = critical[(critical > BESIDE) & (critical < hull.length - BESIDE)]
        rough = len(inner) > MOST_PLACES
        stretches = _even_stretches(hull.length) if rough else _stretches_about(inner, hull.length)
    places: list[float] = []
    for start, end in stretches:
        places += split_x(hull.shape, start, end, probes=1)
    return tuple(x for n, x in enumerate(places) if n == 0 or x - places[n - 1] > TO)


def _even_stretches(length: float) -> Iterator[tuple[float, float]]:
    """Stretches (start, end) mm all along the hull."""
    return pairwise(np.linspace(BESIDE, length - BESIDE, max(2, int(length / EVEN_STEP) + 1)).tolist())


def _stretches_about(inner: Floats, length: float) -> Iterator[tuple[float, float]]:
    """Stretches (start, end) mm about critical places (k,) mm."""
    start, end = -np.inf, -np.inf
    for x in inner.tolist():
        if x - BESIDE > end:
            if end > start:
                yield start, end
            start = x - BESIDE
        end = x + BESIDE
    if end > start:
        yield max(start, BESIDE / 2), min(end, length - BESIDE / 2)
