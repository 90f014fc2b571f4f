"""Which point of a block's fore face goes with which of its aft face: the numbered marks.

Mark    a numbered point on a cut outline; equal numbers on the two faces of a block are reached by the wire together
Ring    one closed line of an outline, anticlockwise in (y, z), that begins at its keel

Landmarks come first: keel and deck, then corners (chines, deck edges) that continue from face to face. Between two
landmarks the marks are spread evenly along both outlines.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely import LinearRing, MultiPolygon, Polygon

from profiles.hull.surface import Floats

CORNER_DEGREES = 25.0
"""An outline that turns more than this at one point has a corner there that a builder sees: a chine, a deck edge."""

CORNER_REACH = 0.4
"""mm; the turn is measured between points this far to either side, so that a corner cut off by a short facet counts."""

CORNER_SHIFT = 0.12
"""Share of the way from keel to deck by which a corner may move from face to face and still be the same one."""

MOST_CORNERS = 8
"""Corners used on a side at most; a coarse mesh has one at every vertex, and the sharpest are the real ones."""

MARKS_ROUND = 16
"""Marks aimed at round one ring when no spacing is asked for: about one every 25 mm on a 400 mm ring."""

CLOSEST = 9.0
"""mm; marks nearer than this on the smaller face could not carry readable numbers."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A numbered point on a cut outline."""

    number: int
    y: float
    """mm."""
    z: float
    """mm."""
    kind: str
    """keel, deck, corner or even."""
    inward: tuple[float, float]
    """Unit vector from the outline into the material."""


@dataclass(frozen=True, slots=True)
class Pairing:
    """The marks of a block's two faces, and how many parts of either found no partner."""

    fore: tuple[Mark, ...]
    aft: tuple[Mark, ...]
    unpaired: int


@dataclass(frozen=True, slots=True)
class _Ring:
    """Points (n, 2) anticlockwise from the keel; `along` (n + 1,) mm to each point and back to the first; corners and
    deck as mm along.
    """

    points: Floats
    along: Floats
    deck: float
    corners: tuple[tuple[float, float], ...]
    """(mm along, turn in degrees), ascending."""
    hollow: bool

    @property
    def length(self) -> float:
        return float(self.along[-1])


def pair_faces(fore: MultiPolygon, aft: MultiPolygon, spacing: float | None = None) -> Pairing:
    """Numbered marks for the two cut outlines of a block, (y, z) mm; a mark about every `spacing` mm.

    Parts are paired by where they are, the hollows of paired parts likewise. When one face is empty the other one's
    marks are its own landmarks and even steps. Numbers run on from ring to ring.
    """
    if fore.is_empty or aft.is_empty:
        lone = [ring for part in _sorted(fore if aft.is_empty else aft) for ring in _rings(part)]
        marks = _numbered([(ring, ring) for ring in lone], spacing)[0]
        return Pairing(marks, (), 0) if aft.is_empty else Pairing((), marks, 0)
    pairs: list[tuple[_Ring, _Ring]] = []
    unpaired = 0
    parts, alone = _matched(_sorted(fore), _sorted(aft))
    unpaired += alone
    for fore_part, aft_part in parts:
        pairs.append((_ring(fore_part.exterior, hollow=False), _ring(aft_part.exterior, hollow=False)))
        hollows, alone = _matched(list(map(Polygon, fore_part.interiors)), list(map(Polygon, aft_part.interiors)))
        unpaired += alone
        pairs += [(_ring(one.exterior, hollow=True), _ring(other.exterior, hollow=True)) for one, other in hollows]
    fore_marks, aft_marks = _numbered(pairs, spacing)
    return Pairing(fore_marks, aft_marks, unpaired)


def _sorted(shape: MultiPolygon) -> list[Polygon]:
    return sorted(shape.geoms, key=lambda part: (-round(part.area, 6), part.bounds))


def _rings(part: Polygon) -> list[_Ring]:
    return [_ring(part.exterior, hollow=False), *(_ring(ring, hollow=True) for ring in part.interiors)]


def _matched(fore: Sequence[Polygon], aft: Sequence[Polygon]) -> tuple[list[tuple[Polygon, Polygon]], int]:
    """Parts with the nearest centroids, each used once; and how many are left over on the fuller side."""
    if not fore or not aft:
        return [], len(fore) + len(aft)
    if len(fore) == len(aft) == 1:
        return [(fore[0], aft[0])], 0
    from scipy.optimize import linear_sum_assignment  # noqa: PLC0415 - slow to import and seldom needed

    apart = [[one.centroid.distance(other.centroid) for other in aft] for one in fore]
    rows, columns = linear_sum_assignment(apart)
    return [(fore[i], aft[j]) for i, j in zip(rows.tolist(), columns.tolist(), strict=True)], abs(len(fore) - len(aft))


def _ring(line: LinearRing, *, hollow: bool) -> _Ring:
    points = shapely.get_coordinates(line.simplify(0.01))[:-1]
    if not shapely.is_ccw(LinearRing(points)):
        points = points[::-1]
    points = _from_keel(points)
    closed = np.vstack([points, points[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    deck = _deck_along(closed, along)
    return _Ring(points, along, deck, _corners(closed, along, deck), hollow)


def _from_keel(points: Floats) -> Floats:
    """The ring begun at its lowest crossing of the centre plane, or at its lowest point when it has none."""
    closed = np.vstack([points, points[:1]])
    crossing = [(z, n, t) for n, t, z in _centre_crossings(closed)]
    if not crossing:
        start = min(range(len(points)), key=lambda n: (round(points[n, 1], 6), abs(points[n, 0])))
        return np.roll(points, -start, axis=0)
    z, n, t = min(crossing)
    rest = np.roll(points, -(n + 1), axis=0)
    if t <= 0.0:
        return np.roll(points, -n, axis=0)
    return rest if t >= 1.0 and np.allclose(rest[0], (0.0, z)) else np.vstack([[(0.0, z)], rest])


def _centre_crossings(closed: Floats) -> list[tuple[int, float, float]]:
    """(segment, share of it, z) wherever the ring meets y = 0."""
    y0, y1 = closed[:-1, 0], closed[1:, 0]
    hits = np.flatnonzero((y0 * y1 <= 0) & (y0 != y1))
    shares = y0[hits] / (y0[hits] - y1[hits])
    heights = closed[hits, 1] + shares * (closed[hits + 1, 1] - closed[hits, 1])
    return list(zip(hits.tolist(), shares.tolist(), heights.tolist(), strict=True))


def _deck_along(closed: Floats, along: Floats) -> float:
    """Mm along the ring to its highest crossing of the centre plane, or to its highest point."""
    crossing = _centre_crossings(closed)
    if len(crossing) > 1:
        n, t, _ = max(crossing, key=lambda hit: hit[2])
        return float(along[n] + t * (along[n + 1] - along[n]))
    return float(along[int(np.argmax(closed[:, 1]))])


def _corners(closed: Floats, along: Floats, deck: float) -> tuple[tuple[float, float], ...]:
    """Where the ring turns sharply, apart from keel and deck."""
    length = float(along[-1])
    reach = min(CORNER_REACH, length / 50)
    here = closed[:-1]
    before = _at(closed, along, along[:-1] - reach)
    after = _at(closed, along, along[:-1] + reach)
    into, out = here - before, after - here
    turn = np.degrees(
        np.arctan2(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], (into * out).sum(axis=1)),
    )
    sharp = [(float(along[n]), float(turn[n])) for n in np.flatnonzero(np.abs(turn) > CORNER_DEGREES)]
    clear = max(3 * reach, length / 100)
    landmarks = (0.0, deck, length)
    free = [corner for corner in sharp if all(abs(corner[0] - place) > clear for place in landmarks)]
    kept: list[tuple[float, float]] = []
    for corner in sorted(free, key=lambda c: (-round(abs(c[1]), 3), c[0])):
        if all(abs(corner[0] - other[0]) > clear for other in kept) and len(kept) < 2 * MOST_CORNERS:
            kept.append(corner)
    return tuple(sorted(kept))


def _at(closed: Floats, along: Floats, places: Floats) -> Floats:
    """Points at `places` mm along the ring, wrapping round; (k,) -> (k, 2)."""
    wrapped = np.mod(places, along[-1])
    return np.column_stack([np.interp(wrapped, along, closed[:, axis]) for axis in (0, 1)])


def _numbered(pairs: Sequence[tuple[_Ring, _Ring]], spacing: float | None) -> tuple[tuple[Mark, ...], tuple[Mark, ...]]:
    fore: list[Mark] = []
    aft: list[Mark] = []
    for one, other in pairs:
        stops = _stops(one, other, spacing)
        for number, (along_one, along_other, kind) in enumerate(stops, start=len(fore) + 1):
            fore.append(_mark(one, number, along_one, kind))
            aft.append(_mark(other, number, along_other, kind))
    return tuple(fore), tuple(aft)


def _stops(one: _Ring, other: _Ring, spacing: float | None) -> list[tuple[float, float, str]]:
    """(mm along one, mm along the other, kind) of every mark, ascending from the keel."""
    knots = [(0.0, 0.0, "keel"), *_landmarks(one, other), (one.length, other.length, "keel")]
    step = spacing or max(one.length, other.length) / MARKS_ROUND
    stops: list[tuple[float, float, str]] = []
    for start, end in pairwise(knots):
        stops.append(start)
        longer = max(end[0] - start[0], end[1] - start[1])
        shorter = min(end[0] - start[0], end[1] - start[1])
        pieces = max(1, min(round(longer / step), math.floor(shorter / CLOSEST)))
        for n in range(1, pieces):
            share = n / pieces
            stops.append((start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]), "even"))
    return stops


def _landmarks(one: _Ring, other: _Ring) -> list[tuple[float, float, str]]:
    """Deck and the corners that continue, side by side: keel to deck up to starboard, then deck to keel."""
    starboard = _same_corners(one, other, (0.0, one.deck), (0.0, other.deck))
    port = _same_corners(one, other, (one.deck, one.length), (other.deck, other.length))
    return [*starboard, (one.deck, other.deck, "deck"), *port]


def _same_corners(
    one: _Ring, other: _Ring, one_side: tuple[float, float], other_side: tuple[float, float]
) -> list[tuple[float, float, str]]:
    """The longest monotone matching of the corners of one side, and of those the one that moves them least."""
    first = _relative(one, one_side)
    second = _relative(other, other_side)
    best: dict[tuple[int, int], tuple[int, float, tuple[tuple[float, float], ...]]] = {}
    for i in range(len(first) + 1):
        for j in range(len(second) + 1):
            if i == 0 or j == 0:
                best[i, j] = (0, 0.0, ())
                continue
            options = [best[i - 1, j], best[i, j - 1]]
            a, b = first[i - 1], second[j - 1]
            shift = abs(a[1] - b[1])
            if shift <= CORNER_SHIFT and (a[2] > 0) == (b[2] > 0):
                count, cost, pairs = best[i - 1, j - 1]
                options.append((count + 1, cost + shift, (*pairs, (a[0], b[0]))))
            best[i, j] = min(options, key=lambda option: (-option[0], option[1]))
    return [(a, b, "corner") for a, b in best[len(first), len(second)][2]]


def _relative(ring: _Ring, side: tuple[float, float]) -> list[tuple[float, float, float]]:
    """(mm along, share of the side, turn) of a side's corners."""
    start, end = side
    if end <= start:
        return []
    return [(at, (at - start) / (end - start), turn) for at, turn in ring.corners if start < at < end]


def _mark(ring: _Ring, number: int, place: float, kind: str) -> Mark:
    closed = np.vstack([ring.points, ring.points[:1]])
    reach = min(1.0, ring.length / 40)
    here, before, after = _at(closed, ring.along, np.array([place, place - reach, place + reach]))
    tangent = after - before
    size = float(np.hypot(*tangent)) or 1.0
    left = (-float(tangent[1]) / size, float(tangent[0]) / size)
    inward = (-left[0], -left[1]) if ring.hollow else left
    return Mark(number, float(here[0]), float(here[1]), kind, inward)
