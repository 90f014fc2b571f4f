"""Rings, and the places on them that a builder recognises: keel, deck, and corners that continue from face to face.

Ring       one closed line of an outline, anticlockwise in (y, z), that begins at its keel or at a corner
Corner     where a ring turns sharply: a chine, a deck edge
Landmark   a place on the ring of one face that goes with a place on the ring of the other

A ring that crosses the centre plane has its keel and deck there. Others (a float, a hollow to one side) have them on
their middle line.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import LinearRing, MultiPolygon, Polygon

from profiles.arrays import Floats
from profiles.blocks.assignment import assign
from profiles.hull.sections import swept_area
from profiles.values import dataclass

CORNER_DEGREES = 25.0
"""Where an outline turns by more than this at a point, a builder sees a corner: a chine, a deck edge."""

WEAK_DEGREES = 15.0
"""A corner that is sharp on one face may be this soft on the other, or between the faces, and still be the same."""

CORNER_REACH = 0.4
"""mm; the turn is measured between points this far on either side, so that a corner with a short facet counts."""

CORNER_SHIFT = 0.12
"""Share of the way from keel to deck by which a corner may move from face to face and still be the same, where there is
no section between the faces."""

CORNER_STRAY = 0.02
"""Share of the ring's length by which the straight line between two corners may miss the corner of a section between
them, if it is the same corner: 8 mm on a 400 mm ring, more than any chine bends within a block."""

MOST_CORNERS = 8
"""Most corners on a side. A coarse mesh has one at every vertex, and the sharpest are the real ones."""

SYMMETRIC = 0.002
"""Share of the ring's length by which its halves may differ and still be mirror images: 1 mm on a ring of half a metre,
so that a slightly uneven mesh of a symmetric hull counts."""


@dataclass(frozen=True, slots=True)
class Corner:
    """A sharp turn of a ring."""

    along: float
    """mm from the start of the ring."""
    turn: float
    """Degrees, positive to the left."""
    y: float
    """mm."""
    z: float
    """mm."""


@dataclass(frozen=True, slots=True)
class Landmark:
    """A place on the fore ring that goes with a place on the aft ring."""

    fore: float
    """mm along the fore ring."""
    aft: float
    """mm along the aft ring."""
    kind: str
    """keel, deck or corner."""


@dataclass(frozen=True, slots=True)
class Ring:
    """One closed line of an outline."""

    points: Floats
    """(n, 2) mm, anticlockwise; every vertex of the outline, and the keel."""
    along: Floats
    """(n + 1,) mm along the ring to each point, and back to the first."""
    deck: float
    """mm along; the keel is at 0."""
    corners: tuple[Corner, ...]
    """Ascending; the turn is at least WEAK_DEGREES."""
    hollow: bool

    @property
    def length(self) -> float:
        """Length round the ring in mm."""
        return float(self.along[-1])

    @property
    def closed(self) -> Floats:
        """(n + 1, 2), the first point again at the end."""
        return np.vstack([self.points, self.points[:1]])


def ring_of(line: LinearRing, *, hollow: bool, centre: float | None = None) -> Ring:
    """The ring of a closed line; `centre` is the y in mm of the plane that holds its keel and deck, None its middle."""
    points = shapely.get_coordinates(line)[:-1]
    fresh = np.any(points[1:] != points[:-1], axis=1)
    if not fresh.all():
        points = points[np.concatenate([[True], fresh])]
    if swept_area(points) <= 0:
        points = points[::-1]
    y = points[:, 0]
    middle = float(y.min() + y.max()) / 2 if centre is None else centre
    points = _from_keel(points, middle)
    return _measure_ring(points, middle, hollow=hollow)


def straddles(line: LinearRing) -> bool:
    """Whether a line crosses the centre plane."""
    low, _, high, _ = line.bounds
    return bool(low < 0.0 < high)


def point_at(ring: Ring, places: Floats) -> Floats:
    """Points (k, 2) at `places` (k,) mm along the ring, wrapping round."""
    return _at(ring.closed, ring.along, places)


def start_ring_at(ring: Ring, place: float) -> Ring:
    """The same ring from another start, in mm along it; keel and deck stay places, but may not be vertices."""
    if place == 0.0:
        return ring
    n = int(np.searchsorted(ring.along, place, side="right")) - 1
    rest = np.roll(ring.points, -n, axis=0)
    if place > ring.along[n]:
        rest = np.vstack([point_at(ring, np.array([place])), np.roll(ring.points, -(n + 1), axis=0)])
    closed = np.vstack([rest, rest[:1]])
    corners = sorted(
        (replace(corner, along=(corner.along - place) % ring.length) for corner in ring.corners),
        key=lambda corner: corner.along,
    )
    return Ring(rest, _along(closed), (ring.deck - place) % ring.length, tuple(corners), ring.hollow)


def mirror_ring(ring: Ring) -> Ring:
    """The mirror image of a ring about y = 0, again anticlockwise and from the same start."""
    corners = [replace(corner, along=ring.length - corner.along, y=-corner.y) for corner in reversed(ring.corners)]
    points = ring.closed[::-1][:-1] * (-1.0, 1.0)
    return Ring(points, ring.length - ring.along[::-1], ring.length - ring.deck, tuple(corners), ring.hollow)


def is_symmetric(ring: Ring) -> bool:
    """Whether port is the mirror image of starboard, about the line through keel and deck."""
    share = np.linspace(0.0, 1.0, 33)
    starboard = point_at(ring, share[1:-1] * ring.deck)
    port = point_at(ring, ring.length - share[1:-1] * (ring.length - ring.deck))
    centre = ring.points[0, 0]
    off = np.hypot(starboard[:, 0] + port[:, 0] - 2 * centre, starboard[:, 1] - port[:, 1])
    return bool(off.max() <= SYMMETRIC * ring.length)


def sorted_parts(shape: MultiPolygon) -> list[Polygon]:
    """The parts of a region, largest first."""
    return sorted(shape.geoms, key=lambda part: (-round(part.area, 6), part.bounds))


def match_polygons(fore: Sequence[Polygon], aft: Sequence[Polygon]) -> tuple[list[tuple[Polygon, Polygon]], int]:
    """Pairs of parts with the nearest centroids, each part used once, and the number of parts without a partner."""
    if not fore or not aft:
        return [], len(fore) + len(aft)
    if len(fore) == len(aft) == 1:
        return [(fore[0], aft[0])], 0
    apart = shapely.distance(shapely.centroid(list(fore))[:, None], shapely.centroid(list(aft)))
    return [(fore[i], aft[j]) for i, j in assign(apart.tolist())], abs(len(fore) - len(aft))


Between = Sequence[tuple[float, Ring]]
"""The rings of the sections between two faces, each with its share of the way from the fore face."""


def continued_corners(fore: Ring, aft: Ring, between: Between) -> list[Landmark]:
    """Corners that continue, each side for itself: keel to deck to starboard, the deck, then deck to keel to port."""
    cost = _corner_costs(fore, aft, between)
    starboard = _same_corners(fore, aft, (0.0, fore.deck), (0.0, aft.deck), cost)
    port = _same_corners(fore, aft, (fore.deck, fore.length), (aft.deck, aft.length), cost)
    return [*starboard, Landmark(fore.deck, aft.deck, "deck"), *port]


def continued_corners_round(fore: Ring, aft: Ring, between: Between) -> list[Landmark]:
    """Corners that continue all the way round, without regard to keel and deck; ascending on the fore ring, and on the
    aft ring ascending from the first corner round. Every first pair is tried; most corners win, then least cost.
    """
    cost = _corner_costs(fore, aft, between)
    best: tuple[int, float, list[Landmark]] = (0, 0.0, [])
    count = len(aft.corners)
    for turn in range(count):
        order = [(turn + j) % count for j in range(count)]
        chosen, total = _match_in_order(cost[:, order])
        if chosen and (-len(chosen), total) < (-best[0], best[1]):
            pairs = [(fore.corners[i].along, aft.corners[order[j]].along) for i, j in chosen]
            best = (len(chosen), total, [Landmark(a, b, "corner") for a, b in pairs])
    return best[2]


def _corner_costs(fore: Ring, aft: Ring, between: Between) -> Floats:
    """(fore corners, aft corners) costs of a pair, inf where two corners do not fit.

    With sections between the faces it is the distance by which the straight line between the corners misses a corner
    of these sections that turns the same way, as a share of the ring. Without, it is the distance that the corner
    moves along its side.
    """
    first, second = fore.corners, aft.corners
    cost = np.full((len(first), len(second)), np.inf)
    if not first or not second:
        return cost
    a, b = _places(first), _places(second)
    turn_a, turn_b = np.array([c.turn for c in first]), np.array([c.turn for c in second])
    clear = np.maximum(np.abs(turn_a)[:, None], np.abs(turn_b)) >= CORNER_DEGREES
    alike = clear & (np.sign(turn_a)[:, None] == np.sign(turn_b))
    if not between:
        cost = np.abs(_shares(fore)[:, None] - _shares(aft))
        return np.where(alike & (cost <= CORNER_SHIFT), cost, np.inf)
    missed = np.zeros_like(cost)
    for share, ring in between:
        places = _places(ring.corners)
        turns = np.array([corner.turn for corner in ring.corners])
        joined = (1 - share) * a[:, None, None] + share * b[None, :, None]
        apart = np.linalg.norm(joined - places, axis=-1)
        apart[np.broadcast_to(np.sign(turns) != np.sign(turn_a)[:, None, None], apart.shape)] = np.inf
        missed += apart.min(axis=-1, initial=np.inf) / len(between)
    missed /= max(fore.length, aft.length)
    return np.where(alike & (missed <= CORNER_STRAY), missed, np.inf)


def _places(corners: Sequence[Corner]) -> Floats:
    return np.array([(corner.y, corner.z) for corner in corners]).reshape(-1, 2)


def _shares(ring: Ring) -> Floats:
    """The place of each corner: 0 to 1 from keel up to deck to starboard, 1 to 2 down to the keel to port."""
    port = max(ring.length - ring.deck, 1e-9)
    return np.array(
        [
            corner.along / ring.deck if corner.along <= ring.deck else 1 + (corner.along - ring.deck) / port
            for corner in ring.corners
        ]
    )


def _same_corners(
    fore: Ring, aft: Ring, fore_side: tuple[float, float], aft_side: tuple[float, float], cost: Floats
) -> list[Landmark]:
    rows = [n for n, corner in enumerate(fore.corners) if fore_side[0] < corner.along < fore_side[1]]
    columns = [n for n, corner in enumerate(aft.corners) if aft_side[0] < corner.along < aft_side[1]]
    if not rows or not columns:
        return []
    chosen, _ = _match_in_order(cost[np.ix_(rows, columns)])
    return [Landmark(fore.corners[rows[i]].along, aft.corners[columns[j]].along, "corner") for i, j in chosen]


def _match_in_order(cost: Floats) -> tuple[list[tuple[int, int]], float]:
    """The longest monotone matching of rows and columns, the cheapest of several, and its cost."""
    count, width = cost.shape
    best: list[list[tuple[int, float]]] = [[(0, 0.0)] * (width + 1)]
    for i in range(count):
        row = [(0, 0.0)]
        for j in range(width):
            options = [best[i][j + 1], row[j]]
            if np.isfinite(cost[i, j]):
                negative_count, spent = best[i][j]
                options.append((negative_count - 1, spent + float(cost[i, j])))
            row.append(min(options))
        best.append(row)
    chosen = []
    i, j = count, width
    while i and j:
        if best[i][j] == best[i - 1][j]:
            i -= 1
        elif best[i][j] == best[i][j - 1]:
            j -= 1
        else:
            i, j = i - 1, j - 1
            chosen.append((i, j))
    return chosen[::-1], best[count][width][1]


def _along(closed: Floats) -> Floats:
    way = closed[1:] - closed[:-1]
    return np.concatenate([[0.0], np.cumsum(np.sqrt(way[:, 0] ** 2 + way[:, 1] ** 2))])


def _measure_ring(points: Floats, centre: float, *, hollow: bool) -> Ring:
    closed = np.vstack([points, points[:1]])
    along = _along(closed)
    deck = _deck_along(closed, along, centre)
    return Ring(points, along, deck, _corners(closed, along, deck), hollow)


def _from_keel(points: Floats, centre: float) -> Floats:
    """The ring started at its lowest crossing of the centre plane, or at its lowest point if there is none."""
    closed = np.vstack([points, points[:1]])
    crossing = [(z, n, t) for n, t, z in _centre_crossings(closed, centre)]
    if not crossing:
        start = min(range(len(points)), key=lambda n: (round(points[n, 1], 6), abs(points[n, 0] - centre)))
        return np.roll(points, -start, axis=0)
    z, n, t = min(crossing)
    rest = np.roll(points, -(n + 1), axis=0)
    if t <= 0.0:
        return np.roll(points, -n, axis=0)
    return rest if t >= 1.0 and np.allclose(rest[0], (centre, z)) else np.vstack([[(centre, z)], rest])


def _centre_crossings(closed: Floats, centre: float) -> list[tuple[int, float, float]]:
    """(segment, share along it, z) of each place where the ring meets the centre plane."""
    y0, y1 = closed[:-1, 0] - centre, closed[1:, 0] - centre
    hits = np.flatnonzero((y0 * y1 <= 0) & (y0 != y1))
    shares = y0[hits] / (y0[hits] - y1[hits])
    heights = closed[hits, 1] + shares * (closed[hits + 1, 1] - closed[hits, 1])
    return list(zip(hits.tolist(), shares.tolist(), heights.tolist(), strict=True))


def _deck_along(closed: Floats, along: Floats, centre: float) -> float:
    """Distance in mm along the ring to its highest crossing of the centre plane, or to its highest point."""
    crossing = _centre_crossings(closed, centre)
    if len(crossing) > 1:
        n, t, _ = max(crossing, key=lambda hit: hit[2])
        return float(along[n] + t * (along[n + 1] - along[n]))
    return float(along[int(np.argmax(closed[:, 1]))])


def _corners(closed: Floats, along: Floats, deck: float) -> tuple[Corner, ...]:
    """The sharp turns of a ring, apart from keel and deck."""
    length = float(along[-1])
    reach = min(CORNER_REACH, length / 50)
    turn = _turns(closed, along, reach)
    sharp = np.flatnonzero(np.abs(turn) > WEAK_DEGREES)
    clear = max(3 * reach, length / 100)
    away = np.abs(along[sharp][:, None] - np.array([0.0, deck, length])).min(axis=1) > clear
    sharp = sharp[away]
    order = sharp[np.lexsort([along[sharp], -np.round(np.abs(turn[sharp]), 3)])]
    kept: list[int] = []
    for n in order.tolist():
        if len(kept) == 2 * MOST_CORNERS:
            break
        if all(abs(along[n] - along[other]) > clear for other in kept):
            kept.append(n)
    return tuple(
        Corner(float(along[n]), float(turn[n]), float(closed[n, 0]), float(closed[n, 1])) for n in sorted(kept)
    )


def _turns(closed: Floats, along: Floats, reach: float) -> Floats:
    """Degrees that the ring turns at each vertex, between points `reach` mm to either side."""
    here = closed[:-1]
    into = here - _at(closed, along, along[:-1] - reach)
    out = _at(closed, along, along[:-1] + reach) - here
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    return np.asarray(np.degrees(np.arctan2(cross, (into * out).sum(axis=1))))


def _at(closed: Floats, along: Floats, places: Floats) -> Floats:
    wrapped = np.mod(places, along[-1])
    return np.column_stack([np.interp(wrapped, along, closed[:, axis]) for axis in (0, 1)])
