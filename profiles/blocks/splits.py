"""Where along the hull an outline splits, joins, appears or ends: there a block cannot be cut by one wire.

A piece that divides or joins another, a hollow that opens or closes, and a piece that begins or ends inside a block all
ask for a station there; at its tip a piece has no area. Where nothing changes there is no place.
"""

from itertools import pairwise

from shapely import LinearRing, Polygon

from profiles.errors import HullError
from profiles.hull.sections import Side
from profiles.hull.shape import Shape

TO = 0.02
"""mm; tolerance of a place. What two blocks that meet there leave out between them is no longer than twice this."""

SPECK = 0.01
"""mm2; pieces and hollows smaller than this, a tenth of a millimetre across, are invisible in foam."""

PROBES = 16
"""Sections tested inside a block; a change that is undone before the next section goes unnoticed."""

Pieces = tuple[int, ...]
"""How many hollows each piece has, ascending: as many numbers as pieces."""


def split_x(shape: Shape, x_fore: float, x_aft: float, probes: int = PROBES) -> list[float]:
    """Places in mm between two stations where the number of pieces or hollows changes, ascending, each to TO.

    Places within TO of a station are left out, since a block that thin cannot be handled. Sections that stay open are
    skipped.
    """
    places = [x_fore + (x_aft - x_fore) * n / (probes + 1) for n in range(1, probes + 1)]
    seen = [
        (x_fore, _pieces(shape, x_fore, Side.AFT)),
        *((x, _pieces(shape, x, Side.FORE)) for x in places),
        (x_aft, _pieces(shape, x_aft, Side.FORE)),
    ]
    known = [(x, pieces) for x, pieces in seen if pieces is not None]
    changes: list[float] = []
    for before, behind in pairwise(known):
        changes += _changes(shape, before, behind)
    clear = [x for x in changes if x - x_fore > TO and x_aft - x > TO]
    return [x for n, x in enumerate(clear) if n == 0 or x - clear[n - 1] > TO]


def _pieces(shape: Shape, x: float, side: Side) -> Pieces | None:
    try:
        region = shape.section(x, side).region
    except HullError:
        return None
    parts = [part for part in region.geoms if part.area > SPECK]
    return tuple(sorted(sum(_area(ring) > SPECK for ring in part.interiors) for part in parts))


def _area(ring: LinearRing) -> float:
    return float(Polygon(ring).area)


def _changes(shape: Shape, before: tuple[float, Pieces], behind: tuple[float, Pieces]) -> list[float]:
    """All changes between two places, by halving; changes nearer than TO to each other count as one."""
    if before[1] == behind[1]:
        return []
    if behind[0] - before[0] <= TO:
        return [_at_wall(shape, before, behind)]
    x = (before[0] + behind[0]) / 2
    pieces = _pieces(shape, x, Side.FORE)
    if pieces is None:
        return [x]
    return [*_changes(shape, before, (x, pieces)), *_changes(shape, (x, pieces), behind)]


def _at_wall(shape: Shape, before: tuple[float, Pieces], behind: tuple[float, Pieces]) -> float:
    """The place itself: on a wall across the hull if there is one, since both limits are then taken at the wall."""
    wall = shape.wall_between(before[0], behind[0])
    return (before[0] + behind[0]) / 2 if wall is None else wall
