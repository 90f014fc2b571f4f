"""Where along the hull an outline splits, joins, appears or ends: there a block cannot be cut by one wire.

A piece that divides or joins another, a hollow that opens or closes, and a piece that begins or ends inside a block all
ask for a station there; at its tip a piece has no area. Where nothing changes there is no place.
"""

from itertools import pairwise

from shapely import LinearRing, Polygon

from profiles.blocks.stations import SAME_PLACE
from profiles.errors import HullError
from profiles.hull.sections import Side, section
from profiles.hull.surface import Surface

TO = 0.1
"""mm; tolerance of a place. No block is cut more exactly than this."""

SPECK = 0.01
"""mm2; pieces and hollows smaller than this, a tenth of a millimetre across, are invisible in foam."""

PROBES = 16
"""Sections tested inside a block; a change that is undone before the next section goes unnoticed."""

Shape = tuple[int, ...]
"""How many hollows each piece has, ascending: as many numbers as pieces."""


def split_x(surface: Surface, x_fore: float, x_aft: float, probes: int = PROBES) -> list[float]:
    """Places in mm between two stations where the number of pieces or hollows changes, ascending, each to TO.

    Places within TO of a station are left out, since a block that thin cannot be handled. Sections that stay open are
    skipped.
    """
    places = [x_fore + (x_aft - x_fore) * n / (probes + 1) for n in range(1, probes + 1)]
    seen = [
        (x_fore, _shape(surface, x_fore, Side.AFT)),
        *((x, _shape(surface, x, Side.FORE)) for x in places),
        (x_aft, _shape(surface, x_aft, Side.FORE)),
    ]
    known = [(x, shape) for x, shape in seen if shape is not None]
    changes: list[float] = []
    for before, behind in pairwise(known):
        changes += _changes(surface, before, behind)
    clear = [x for x in changes if x - x_fore > TO and x_aft - x > TO]
    return [x for n, x in enumerate(clear) if n == 0 or x - clear[n - 1] > TO]


def _shape(surface: Surface, x: float, side: Side) -> Shape | None:
    try:
        region = section(surface, x, side).region
    except HullError:
        return None
    parts = [part for part in region.geoms if part.area > SPECK]
    return tuple(sorted(sum(_area(ring) > SPECK for ring in part.interiors) for part in parts))


def _area(ring: LinearRing) -> float:
    return float(Polygon(ring).area)


def _changes(surface: Surface, before: tuple[float, Shape], behind: tuple[float, Shape]) -> list[float]:
    """All changes between two places, by halving; changes nearer than TO to each other count as one."""
    if before[1] == behind[1]:
        return []
    if behind[0] - before[0] <= TO:
        return [_at_wall(surface, before, behind)]
    x = (before[0] + behind[0]) / 2
    shape = _shape(surface, x, Side.FORE)
    if shape is None:
        return [x]
    return [*_changes(surface, before, (x, shape)), *_changes(surface, (x, shape), behind)]


def _at_wall(surface: Surface, before: tuple[float, Shape], behind: tuple[float, Shape]) -> float:
    """The place itself: on a wall across the hull if there is one, since both limits are then taken at the wall."""
    inside = surface.x_low[
        (surface.x_low >= before[0] - SAME_PLACE)
        & (surface.x_high <= behind[0] + SAME_PLACE)
        & (surface.x_high - surface.x_low < SAME_PLACE)
    ]
    if len(inside):
        return float(inside[0])
    return (before[0] + behind[0]) / 2
