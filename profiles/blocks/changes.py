"""Where a hull changes its shape at once: there a station belongs, since no straight wire runs across such a place.

Steps and walls across the hull are known from reading. Pieces and hollows begin, end, split or join only at vertices
where the mesh has a peak, a pit or a saddle along x (Morse theory; Banchoff 1967, "Critical points and curvature for
embedded polyhedra"). So a smooth hull is done after one pass over its faces, and sections are taken only beside such
vertices. Several bodies may also meet between vertices; there sections are taken in even steps.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from profiles.arrays import Floats
from profiles.blocks.splits import TO, split_x
from profiles.blocks.stations import StationPlan
from profiles.hull.frame import Hull
from profiles.hull.surface import Surface
from profiles.notes import assumption

BESIDE = 1.0
"""mm; sections are compared this far before and after a critical vertex. A shorter piece is not cut by itself."""

MOST_VERTICES = 400
"""Critical vertices that are looked at one by one; a mesh with more is rough, and is searched in even steps."""

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
    surface = hull.surface
    critical = critical_places(surface)
    inner = critical[(critical > BESIDE) & (critical < hull.length - BESIDE)]
    bodies = len(np.unique(surface.body))
    if bodies == 1 and not len(inner):
        return ()
    places: list[float] = []
    for start, end in _stretches(inner, hull.length, even=bodies > 1 or len(inner) > MOST_VERTICES):
        places += split_x(surface, start, end, probes=1)
    return tuple(x for n, x in enumerate(places) if n == 0 or x - places[n - 1] > TO)


def _stretches(inner: Floats, length: float, *, even: bool) -> Iterator[tuple[float, float]]:
    """Stretches (start, end) mm to search: all along the hull, or only those about critical places."""
    if even:
        edges = np.linspace(BESIDE, length - BESIDE, max(2, int(length / EVEN_STEP) + 1))
        yield from zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True)
        return
    start, end = -np.inf, -np.inf
    for x in inner.tolist():
        if x - BESIDE > end:
            if end > start:
                yield start, end
            start = x - BESIDE
        end = x + BESIDE
    if end > start:
        yield max(start, BESIDE / 2), min(end, length - BESIDE / 2)


def critical_places(surface: Surface) -> Floats:
    """X (k,) mm ascending of the vertices where the mesh has a peak, a pit or a saddle along x.

    Around an ordinary vertex the neighbours lie forward of it on one side and aft on the other, so exactly two of its
    faces reach from forward to aft. Vertices at one x count in the order of their numbers, so that none are level.
    """
    order = np.empty(len(surface.vertices), dtype=np.int64)
    order[np.argsort(surface.vertices[:, 0], kind="stable")] = np.arange(len(order))
    rank = order[surface.faces]
    middle = np.median(rank, axis=1).astype(np.int64)
    across = surface.faces[rank == middle[:, None]]
    used = np.unique(surface.faces)
    count = np.bincount(across, minlength=len(surface.vertices))
    return np.unique(surface.vertices[used[count[used] != 2], 0])  # noqa: PLR2004 - see above
