"""Find the places where a hull changes its shape at once. They get a station, since no straight wire runs across them.

Steps and walls across the hull are known from reading. Pieces and hollows begin, end, split or join only at the
critical places of the shape, so sections are taken only beside these. Where these are unknown or too many, sections are
taken in even steps.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from profiles.arrays import Floats
from profiles.blocks.splits import TO, split_x
from profiles.blocks.stations import StationPlan
from profiles.hull.frame import Hull
from profiles.notes import assumption

BESIDE = 1.0
"""mm; sections are compared this far before and after a critical place. A shorter piece is not cut by itself."""

MOST_PLACES = 400
"""Critical places that are tested one by one; a hull with more is rough, and is searched in even steps."""

EVEN_STEP = 5.0
"""mm between sections where the hull is searched in even steps."""

CLOSEST = 3.0
"""mm; stations nearer to each other would leave a slice that no hot wire cuts true (common practice)."""

INSET = TO
"""mm; how far before and after a change of pieces the two outlines of such a station are taken."""


@dataclass(frozen=True, slots=True)
class ShapeStation:
    """A station that the shape of the hull asks for."""

    x: float
    """mm aft of the foremost point."""
    is_step: bool
    """A wall across the hull, where the two limits differ; otherwise the pieces or hollows change there."""


def shape_stations(hull: Hull, breaks: Sequence[float]) -> tuple[ShapeStation, ...]:
    """The stations that the shape asks for, from the nose; none within CLOSEST of an end, of one of `breaks` (mm) or of
    another, where steps win over other changes.
    """
    wanted = [ShapeStation(x, is_step=True) for x in hull.steps]
    wanted += [ShapeStation(x, is_step=False) for x in change_places(hull)]
    taken = [0.0, hull.length, *breaks]
    kept: list[ShapeStation] = []
    for station in wanted:
        if all(abs(station.x - x) >= CLOSEST for x in taken):
            kept.append(station)
            taken.append(station.x)
    return tuple(sorted(kept, key=lambda station: station.x))


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
