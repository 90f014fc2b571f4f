"""Distances in mm from many points to the boundary of a region at once.

The boundary is divided into short pieces; for each point the pieces at its nearest division points are measured. A tree
over the division points makes this several times as fast as measuring against the whole line. The answer is never too
small; it can be too great where very short and long pieces crowd together, so a largest value is to be confirmed with
`confirmed`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import MultiPolygon, Polygon

from profiles.hull.surface import Floats, Ints

PIECES = 160
"""Least number of pieces a ring is divided into. The piece nearest to a point then ends at one of the division points
nearest to it, unless two stretches of boundary are closer together than half a piece."""


LEVEL = 1e-5
"""mm; the boundary is measured to this."""

NEAREST = 2
"""Division points of each tree whose pieces are measured for each point."""

CONFIRMED = 12
"""Values confirmed at a time, of each sign, and times at most."""

LONG = 0.4
"""Share of an even piece from which a piece counts as long."""

ONE_PLACE = 1e-7
"""mm; points nearer than this are one. Above rounding at 10 m, below what a mesh file can tell."""


@dataclass(frozen=True, slots=True)
class Boundary:
    """Closed lines, divided."""

    pieces: Floats
    """(5, p): y and z in mm where each piece begins, its direction as a unit vector, its length in mm."""
    before: Ints
    """(p,) the piece before each on the same ring."""
    trees: tuple[tuple[cKDTree, Ints], ...]
    """Trees over where pieces begin, each with the numbers of its pieces: over all, and over the long ones and those
    that follow them, which a crowd of short pieces would hide."""

    def distance(self, points: Floats) -> Floats:
        """Mm from each of the points (k, 2) to the boundary, (k,), never negative."""
        y, z = np.ascontiguousarray(points.T)
        least = np.full(len(points), np.inf)
        for tree, number in self.trees:
            near = number[tree.query(points, k=NEAREST)[1]]
            for found in near.T:
                for pieces in (found, self.before[found]):
                    start_y, start_z, way_y, way_z, length = self.pieces[:, pieces]
                    to_y, to_z = y - start_y, z - start_z
                    along = np.clip(to_y * way_y + to_z * way_z, 0.0, length)
                    to_y -= along * way_y
                    to_z -= along * way_z
                    np.minimum(least, to_y * to_y + to_z * to_z, out=least)
        return np.asarray(np.sqrt(least))


def boundary_of_rings(rings: Sequence[Floats]) -> Boundary:
    """The boundary made of closed lines, each (n, 2) mm without its first point repeated."""
    pieces, before, long = [], [], []
    count = 0
    for ring in rings:
        points = _divided(_plain(ring))
        way = np.concatenate([points[1:], points[:1]]) - points
        length = np.hypot(way[:, 0], way[:, 1])
        pieces.append(np.vstack([points.T, way.T / length, length]))
        number = np.arange(count - 1, count + len(points) - 1)
        number[0] += len(points)
        before.append(number)
        is_long = length > LONG * length.sum() / PIECES
        long.append(count + np.flatnonzero(is_long | np.roll(is_long, 1)))
        count += len(points)
    found = np.concatenate(pieces, axis=1)
    trees = [_tree(found, np.arange(count))]
    apart = np.concatenate(long)
    if NEAREST < len(apart) < count:
        trees.append(_tree(found, apart))
    return Boundary(found, np.concatenate(before), tuple(trees))


def _tree(pieces: Floats, number: Ints) -> tuple[cKDTree, Ints]:
    return cKDTree(pieces[:2, number].T, balanced_tree=False, compact_nodes=False), number


def _plain(ring: Floats) -> Floats:
    """The ring without vertices within LEVEL of a straight line; crowded ones would hide what is beside them."""
    line = shapely.simplify(shapely.linestrings(np.vstack([ring, ring[:1]])), LEVEL)
    plain = shapely.get_coordinates(line)[:-1]
    return plain if len(plain) > 2 else ring  # noqa: PLR2004 - a triangle


def confirmed(values: Floats, points: Floats, line: shapely.Geometry) -> Floats:
    """Signed distances (k,) mm with the largest of both signs measured again, exactly, until the largest left has been.
    `points` (k, 2) are where they belong, `line` is what they were measured to.
    """
    values = values.copy()
    sure = np.zeros(len(values), dtype=np.bool_)
    shapely.prepare(line)
    for _ in range(CONFIRMED):
        open_values = np.where(sure, 0.0, values)
        doubtful = [int(values.argmin()), int(values.argmax())]
        if sure[doubtful].all():
            break
        order = np.argsort(open_values, kind="stable")
        chosen = np.unique(np.concatenate([doubtful, order[:CONFIRMED], order[-CONFIRMED:]]))
        exact = shapely.distance(line, shapely.points(points[chosen]))
        values[chosen] = np.copysign(np.minimum(exact, np.abs(values[chosen])), values[chosen])
        sure[chosen] = True
    return values


def boundary_of(region: MultiPolygon) -> Boundary:
    """The boundary of a region that is not empty."""
    return boundary_of_rings([shapely.get_coordinates(ring)[:-1] for ring in rings_of(region)])


def rings_of(region: MultiPolygon) -> list[shapely.LinearRing]:
    """All closed lines of a region: each part's outside, then its hollows."""
    return [ring for part in region.geoms if isinstance(part, Polygon) for ring in (part.exterior, *part.interiors)]


def _divided(ring: Floats) -> Floats:
    way = np.concatenate([ring[1:], ring[:1]]) - ring
    length = np.hypot(way[:, 0], way[:, 1])
    fresh = length > ONE_PLACE
    if not fresh.all():
        return _divided(ring[fresh])
    pieces = np.maximum(1, np.ceil(length * PIECES / length.sum())).astype(np.int64)
    owner = np.repeat(np.arange(len(ring)), pieces)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    return np.asarray(ring[owner] + (place / pieces[owner])[:, None] * way[owner])
