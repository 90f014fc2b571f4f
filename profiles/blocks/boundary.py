"""Exact distances in mm from many points to the boundary of a region, and whether the points are inside.

The pieces of the boundary are grouped into short runs. The distance from a point to the middle of each run, and the
reach of the run, show which runs can contain the nearest piece; only the pieces of these runs are measured. Near an
outline these are two or three runs of hundreds.
"""

from collections.abc import Callable, Iterator, Sequence

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from profiles.arrays import Floats, Ints
from profiles.values import dataclass

RUN = 8
"""Pieces in a run: on a ring of some hundred pieces, a point then has about as many runs as pieces to measure."""

SLACK = 1e-3
"""mm added to a run's reach: distances to the middles are rounded to a hundredth of this in a hull of 10 m."""

AT_ONCE = 30_000
"""Pairs of a point and a run in one batch: it fits the processor's cache, and the matrix product stays too small for
the linear algebra library to start threads, which would cost more than they save."""

ONE_PLACE = 1e-7
"""mm; points closer than this count as one. Above rounding at 10 m, below the resolution of a mesh file."""

AS_NEAR = 1e-9
"""mm; pieces whose distances differ by less are equally near, such as two that meet at the nearest corner."""

MANY = 500
"""Points; a region with no more keeps them all. A section of a mesh of 100,000 triangles has about as many."""

DENSE = 0.002
"""mm; regions with more points are simplified to this: a fifth of the tolerance of growth."""


def simplify_region(region: MultiPolygon) -> MultiPolygon:
    """The region simplified to DENSE, where it has more than MANY points."""
    if shapely.get_num_coordinates(region) <= MANY:
        return region
    fewer = shapely.simplify(region, DENSE)
    return fewer if isinstance(fewer, MultiPolygon) and len(fewer.geoms) == len(region.geoms) else region


@dataclass(frozen=True, slots=True)
class Boundary:
    """Closed lines, as runs of pieces."""

    pieces: Floats
    """(5, RUN, r): start y and z in mm, direction as a unit vector, and length in mm of each piece."""
    middles: Floats
    """(4, r): coefficients of 1, y, z and y^2 + z^2 in a point's squared distance in mm2 from the middle of each
    run."""
    reach: Floats
    """(r,) mm from the middle to the farthest point of the run."""

    def distance(self, points: Floats) -> Floats:
        """Distance (k,) in mm from each of the points (k, 2) to the boundary, never negative."""
        return self._measure(points, NearPairs.distance)

    def depth(self, points: Floats) -> Floats:
        """Depth (k,) in mm of points (k, 2) inside, negative outside; the boundary has the material on its left."""
        return self._measure(points, NearPairs.depth)

    def _measure(self, points: Floats, measure: Callable[["NearPairs"], Floats]) -> Floats:
        y, z = np.ascontiguousarray(points.T)
        of_points = np.column_stack([np.ones_like(y), y, z, y * y + z * z])
        measured = [np.zeros(0)]
        for batch in batches(len(y), len(self.reach)):
            owner, run = near_pairs(of_points[batch] @ self.middles, self.reach)
            start_y, start_z, way_y, way_z, length = self.pieces.take(run, axis=2)
            to_y, to_z = y[batch].take(owner) - start_y, z[batch].take(owner) - start_z
            measured.append(measure(NearPairs(owner, to_y, to_z, way_y, way_z, length)))
        return np.concatenate(measured)


@dataclass(frozen=True, slots=True)
class NearPairs:
    """Pairs of a point and a run of near pieces: `owner` (c,) ascends, the other arrays are (RUN, c)."""

    owner: Ints
    """Number of the point."""
    to_y: Floats
    """mm from the start of the piece to the point."""
    to_z: Floats
    way_y: Floats
    """The piece's direction, a unit vector; zero for a piece without length."""
    way_z: Floats
    length: Floats
    """mm."""

    def distance(self) -> Floats:
        """Distance (k,) in mm from each point to the nearest piece."""
        return self._least(self._squares())

    def depth(self) -> Floats:
        """The distance (k,), positive to the left of the nearest piece. At a corner two pieces are equally near, and
        the one whose line is farther from the point decides the side.
        """
        squares = self._squares()
        least = self._least(squares)
        near = np.flatnonzero(squares <= ((least + AS_NEAR) ** 2).take(self.owner))
        aside = self.way_y.take(near) * self.to_z.take(near) - self.way_z.take(near) * self.to_y.take(near)
        side = np.bincount(self.owner.take(near % len(self.owner)), aside, len(least))
        return np.copysign(least, side)

    def _squares(self) -> Floats:
        along = self.to_y * self.way_y
        along += self.to_z * self.way_z
        np.minimum(np.maximum(along, 0.0, out=along), self.length, out=along)
        off_y, off_z = self.to_y - along * self.way_y, self.to_z - along * self.way_z
        off_y *= off_y
        off_z *= off_z
        off_y += off_z
        return off_y

    def _least(self, squares: Floats) -> Floats:
        first = np.flatnonzero(np.concatenate([[True], self.owner[1:] != self.owner[:-1]]))
        return np.asarray(np.sqrt(np.minimum.reduceat(squares.min(axis=0), first)))


def batches(points: int, runs: int) -> Iterator[slice]:
    """Batches of points with at most AT_ONCE pairs of a point and a run."""
    step = max(1, AT_ONCE // runs)
    return (slice(start, start + step) for start in range(0, points, step))


def near_pairs(squares: Floats, reach: Floats) -> tuple[Ints, Ints]:
    """Point and run of each pair to measure, given squared distances (k, r) in mm2 to the middles of the runs."""
    limit = np.sqrt(np.maximum(squares.min(axis=1, keepdims=True), 0.0)) + reach
    limit *= limit
    owner, run = np.divmod(np.flatnonzero(squares <= limit), len(reach))
    return owner, run


def runs_of(ring: Floats) -> Ints:
    """Numbers (RUN + 1, r) of the points of a closed line (n, 2), run by run. A run ends with the first point of the
    next; the last run is padded with its last point.
    """
    start = np.arange(-(-len(ring) // RUN)) * RUN
    return np.asarray(np.minimum(np.arange(RUN + 1)[:, None] + start, len(ring)) % len(ring))


def reach_of(points: Floats) -> Floats:
    """Distance in mm from the middle of each run to the farthest of its points (2, RUN + 1, r), plus SLACK."""
    off = points - points[:, RUN // 2, None]
    return np.asarray(np.sqrt((off[0] ** 2 + off[1] ** 2).max(axis=0)) + SLACK)


def boundary_of_rings(rings: Sequence[Floats]) -> Boundary:
    """The boundary of closed lines, each (n, 2) mm without its first point at the end; other points may repeat."""
    points = np.concatenate([ring.T[:, runs_of(ring)] for ring in rings], axis=2)
    way = np.diff(points, axis=1)
    length = np.sqrt(way[0] ** 2 + way[1] ** 2)
    way /= np.maximum(length, ONE_PLACE**2)
    y, z = points[:, RUN // 2]
    middles = np.stack([y * y + z * z, -2 * y, -2 * z, np.ones_like(y)])
    return Boundary(np.concatenate([points[:, :-1], way, length[None]]), middles, reach_of(points))


def boundary_of(region: MultiPolygon) -> Boundary:
    """The boundary of a region that is not empty.

    >>> square = boundary_of(MultiPolygon([shapely.box(0, 0, 10, 10)]))
    >>> square.depth(np.array([[5.0, 5.0], [1.0, 5.0], [13.0, 14.0]])).tolist()
    [5.0, 1.0, -5.0]
    """
    turned = shapely.orient_polygons(region)
    return boundary_of_rings([shapely.get_coordinates(ring)[:-1] for ring in rings_of(turned)])


def rings_of(region: MultiPolygon) -> list[shapely.LinearRing]:
    """All closed lines of a region: each part's outside, then its hollows."""
    return [ring for part in region.geoms if isinstance(part, Polygon) for ring in (part.exterior, *part.interiors)]
