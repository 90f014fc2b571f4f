"""A closed mesh cut by a plane of water: displaced volume, its centroid, wetted area, and the waterplane.

The water is where `up` . p < height. A vertex on the plane counts as above it, so each figure is the limit from just
below, no vertex is ever on the plane, and no case needs code of its own:

    vertex or edge on the plane      the crossing is the vertex itself; pieces of line without length add nothing
    deck in the plane                dry, and the waterplane is the deck
    bottom in the plane              nothing is under water
    plane above or below the body    all of it is under water, or nothing

Faces wholly under water are summed from a table. Of a face that the plane cuts, the corner that is alone on its side is
cut off; the other part is the face less this triangle. Every such cut is a piece of the waterline; the integrals over
the waterplane follow from these pieces by Green's theorem, and nothing has to be linked to loops. So voids, several
hulls and any number of pools need no code either.
"""

from functools import cached_property

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.body.mass import NOTHING, Mass, line_moments, moments_mass
from profiles.body.waterplane import WaterPlane
from profiles.hull.surface import Mesh
from profiles.values import dataclass

CLOSE = 1e-12
"""Of the body's volume: a height is not sought more closely. Rounding of the sums is about as large."""

MOST_STEPS = 80
"""Steps to find a height; each at least halves what is left where Newton's would not."""


@dataclass(frozen=True, slots=True)
class Immersed:
    """What of a body is under water."""

    plane: WaterPlane
    volume: float
    """mm3."""
    centre: Floats
    """(3,) mm, the centre of buoyancy; NaN where nothing is under water."""
    wetted: float
    """mm2 of the surface under water."""
    waterplane: Mass
    """Area in mm2, centroid and moments of the waterplane."""
    start: Floats
    """(k, 3) mm: the waterline in straight pieces, in no order."""
    end: Floats


class Floater:
    """A closed mesh with what every cut needs, worked out once."""

    def __init__(self, mesh: Mesh) -> None:
        vertices, faces = mesh
        self.mesh = mesh
        self.origin: Floats = (vertices.min(axis=0) + vertices.max(axis=0)) / 2
        self._points: Floats = vertices - self.origin
        self._faces: Ints = np.ascontiguousarray(faces.T).astype(np.int32)
        corners = self._points[faces]
        p, q, r = np.moveaxis(corners, 1, 0)
        self._table = _table(p, q, r)
        self.size = float(np.linalg.norm(vertices.max(axis=0) - vertices.min(axis=0)))

    @cached_property
    def volume(self) -> float:
        """mm3 of the whole body."""
        return float(self._table[:, 0].sum())

    @cached_property
    def centre(self) -> Floats:
        """(3,) mm, the centroid of the whole body."""
        return np.asarray(self._table[:, 1:4].sum(axis=0) / self.volume + self.origin)

    def reach(self, up: Floats) -> tuple[float, float]:
        """The least and the greatest height of the body along `up` (3,), mm."""
        along = self._points @ up + self.origin @ up
        return float(along.min()), float(along.max())

    def cut(self, plane: WaterPlane) -> Immersed:
        """What of the body is under a plane of water."""
        up = np.array(plane.up)
        level = plane.height - float(self.origin @ up)
        above = self._points @ up - level
        dry = above >= 0
        one, two, three = (dry.take(corner) for corner in self._faces)
        count = one.astype(np.int8) + two + three
        sums = (count < 2).astype(np.float64) @ self._table  # noqa: PLR2004 - with one dry corner, less what is cut off
        cut = np.flatnonzero((count == 1) | (count == 2))  # noqa: PLR2004 - of three corners
        alone_dry = count[cut] == 1
        first = np.where(one[cut] == alone_dry, 0, np.where(two[cut] == alone_dry, 1, 2))
        a, b, c = (self._faces[(first + turn) % 3, cut] for turn in range(3))
        corner = self._points[a]
        ends = []
        for other in (b, c):
            share = above[a] / (above[a] - above[other])
            ends.append(corner + share[:, None] * (self._points[other] - corner))
        sums = sums + np.where(alone_dry, -1.0, 1.0) @ _table(corner, *ends)
        # The waterplane is on the left of its line, seen from above: it runs against the face under water.
        start = np.where(alone_dry[:, None], ends[0], ends[1])
        end = np.where(alone_dry[:, None], ends[1], ends[0])
        axes = plane.axes
        moments = line_moments(start @ axes.T, end @ axes.T)
        waterplane = moments_mass(moments, up * level, axes)
        # The pyramid from the origin to the waterplane closes what is under water.
        volume = sums[0] + moments[0] * level / 3
        moment = sums[1:4] + (moments[0] * up * level + moments[1:3] @ axes) * level / 4
        centre = moment / volume + self.origin if volume > 0 else np.full(3, np.nan)
        waterplane = Mass(waterplane.amount, waterplane.centre + self.origin, waterplane.second)
        if moments[0] <= 0:
            waterplane = NOTHING
        return Immersed(
            plane, float(volume), centre, float(sums[4]), waterplane, start + self.origin, end + self.origin
        )

    def sink(self, up: Floats, volume: float, height: float | None = None) -> Immersed:
        """The cut across `up` (3,) that has `volume` mm3 under water; `height` mm is a first guess.

        Newton's step is volume over waterplane; where it would leave the heights that are still possible, or where a
        step before was of no use, these are halved.
        """
        low, high = self.reach(up)
        direction: tuple[float, float, float] = (float(up[0]), float(up[1]), float(up[2]))
        at = low + (high - low) * volume / self.volume if height is None or not low < height < high else height
        result = self.cut(WaterPlane(direction, at))
        for _ in range(MOST_STEPS):
            excess = result.volume - volume
            if abs(excess) <= CLOSE * self.volume or high - low <= CLOSE * self.size:
                break
            low, high = (low, at) if excess > 0 else (at, high)
            area = result.waterplane.amount
            step = at - excess / area if area > 0 else low
            at = step if low < step < high else (low + high) / 2
            result = self.cut(WaterPlane(direction, at))
        return result


def _table(p: Floats, q: Floats, r: Floats) -> Floats:
    """(m, 5) of triangles with corners (m, 3): volume and first moments of the tetrahedron to the origin, area."""
    normal = np.cross(q - p, r - p)
    volume = np.einsum("ij,ij->i", p, normal) / 6
    middle = (p + q + r) / 4
    return np.column_stack([volume, volume[:, None] * middle, np.linalg.norm(normal, axis=1) / 2])
