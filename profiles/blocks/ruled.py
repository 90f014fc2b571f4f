"""What a straight wire leaves of a block: the solid between two outlines whose points are paired.

Each stretch of wire between two knots sweeps a patch of a hyperbolic paraboloid. So every section of the block is the
polygon through (1 - t) P + t Q, its area is quadratic in t, and the prismoidal formula gives its volume exactly. In the
mesh a twisted patch has a vertex in its middle: the four triangles round it hold exactly the volume of the patch, being
half-way between the two ways of cutting it into two triangles.

    twisted patch        four triangles round its middle
    flat patch           two triangles
    wire turns at a knot one triangle
    a face is empty      a tip block: a wire cannot cut it, there is no mesh and no volume
"""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from profiles.arrays import Floats, Ints
from profiles.blocks.outlines import as_multi
from profiles.blocks.ring_pairs import RingPair
from profiles.hull.surface import Mesh, join_meshes
from profiles.values import dataclass

FLAT = 1e-6
"""mm3; a patch whose four corners span less is cut in two. A thousand of these are under a millionth of a block."""

LACED = (1.0, 2.2, 0.3, 1.6, 0.45, 0.8, 1.3, 2.35, 2.75, 0.05)
"""Directions in radians tried for lacing the two sides of an outline together, none along a keel, a deck or a
wall. Any outline without deep bays can be laced; for others a search takes ten times as long."""


@dataclass(frozen=True, slots=True)
class RuledBlock:
    """The solid that the wire leaves between two stations."""

    x_fore: float
    """mm."""
    x_aft: float
    """mm."""
    rings: tuple[RingPair, ...]
    """Empty in a tip block."""

    @property
    def tip(self) -> bool:
        """Whether one face is empty: the block is cut by the other face alone and carved."""
        return not self.rings

    @property
    def thickness(self) -> float:
        """Thickness in mm."""
        return self.x_aft - self.x_fore


def section_of(block: RuledBlock, share: float) -> MultiPolygon:
    """The section of the block, (y, z) mm, at a share of the way from its fore to its aft face; empty in a tip block.

    Where wires cross within the section it is not a simple polygon; the section is then repaired.
    """
    parts = []
    for shell, hollows in _parts(block):
        lines = [(1 - share) * pair.fore + share * pair.aft for pair in (shell, *hollows)]
        parts.append(shapely.make_valid(Polygon(lines[0], lines[1:])))
    return as_multi(shapely.union_all(parts))


def areas(block: RuledBlock, shares: Floats) -> Floats:
    """Section areas in mm2 at shares (k,), exact."""
    total = np.zeros(len(shares))
    for pair in block.rings:
        ends = _twice_area(pair.fore, pair.fore), _twice_area(pair.aft, pair.aft)
        mixed = _twice_area(pair.fore, pair.aft) + _twice_area(pair.aft, pair.fore)
        doubled = (1 - shares) ** 2 * ends[0] + shares * (1 - shares) * mixed + shares**2 * ends[1]
        total += doubled * (-0.5 if pair.hollow else 0.5)
    return total


def volume(block: RuledBlock) -> float:
    """Volume in mm3 by the prismoidal formula h (A0 + 4 Am + A1) / 6, exact since the area is quadratic along x."""
    fore, middle, aft = areas(block, np.array([0.0, 0.5, 1.0])).tolist()
    return float(block.thickness * (fore + 4 * middle + aft) / 6)


def block_mesh(block: RuledBlock) -> Mesh:
    """The closed surface of one block; no faces for a tip block.

    Every edge belongs to two faces, and the enclosed volume is `volume` but for rounding.
    """
    meshes = [_part_mesh(block, shell, hollows) for shell, hollows in _parts(block)]
    return join_meshes(meshes)


def _parts(block: RuledBlock) -> Iterator[tuple[RingPair, list[RingPair]]]:
    """Each part: its outside and its hollows."""
    for shell in block.rings:
        if not shell.hollow:
            yield shell, [pair for pair in block.rings if pair.hollow and pair.part == shell.part]


def _twice_area(one: Floats, other: Floats) -> float:
    """Sum of y_i z'_(i+1) - z_i y'_(i+1) round two rings (k, 2); of a ring with itself twice its area."""
    following = np.roll(other, -1, axis=0)
    return float(np.dot(one[:, 0], following[:, 1]) - np.dot(one[:, 1], following[:, 0]))


def _part_mesh(block: RuledBlock, shell: RingPair, hollows: Sequence[RingPair]) -> Mesh:
    vertices: list[Floats] = []
    faces: list[Ints] = []
    ends: tuple[list[Ints], list[Ints]] = ([], [])
    count = 0
    for pair in (shell, *hollows):
        numbers = []
        for face, (ring, x) in enumerate(((pair.fore, block.x_fore), (pair.aft, block.x_aft))):
            points, number = _distinct(ring)
            vertices.append(_at_x(points, x))
            numbers.append(number + count)
            ends[face].append(np.arange(count, count + len(points)))
            count += len(points)
        sides, middles = _sides(pair, numbers[0], numbers[1], count)
        vertices.append(_at_x(middles, (block.x_fore + block.x_aft) / 2))
        count += len(middles)
        faces.append(sides if pair.hollow else sides[:, ::-1])
    points = np.concatenate(vertices)
    fore, aft = (cap(points, rings) for rings in ends)
    return points, np.concatenate([*faces, fore[:, ::-1], aft])


def _at_x(points: Floats, x: float) -> Floats:
    return np.column_stack([np.full(len(points), x), points])


def _distinct(ring: Floats) -> tuple[Floats, Ints]:
    """Points of a ring without repeats in succession, and the number of each of the given points among them."""
    fresh = np.any(ring != np.roll(ring, 1, axis=0), axis=1)
    number = (np.cumsum(fresh) - 1) % max(int(fresh.sum()), 1)
    return ring[fresh], number


def _sides(pair: RingPair, fore: Ints, aft: Ints, first: int) -> tuple[Ints, Floats]:
    """Faces between two rings, anticlockwise seen from within the rings, and the middles (k, 2) of twisted patches,
    numbered from `first`.
    """
    a, b, c, d = fore, aft, np.roll(aft, -1), np.roll(fore, -1)
    corners = [pair.fore, pair.aft, np.roll(pair.aft, -1, axis=0), np.roll(pair.fore, -1, axis=0)]
    # Three edges from the first corner; those along x have the block's thickness, which cancels in the flat test below.
    ahead, across, beyond = corners[3] - corners[0], corners[1] - corners[0], corners[2] - corners[0]
    spanned = np.abs(ahead[:, 0] * (beyond - across)[:, 1] - ahead[:, 1] * (beyond - across)[:, 0])
    turning = (a == d) | (b == c)
    twisted = ~turning & (spanned > FLAT)
    flat = ~turning & ~twisted
    cells = [
        np.column_stack([a, b, c])[flat],
        np.column_stack([a, c, d])[flat],
        np.column_stack([a, b, c])[(a == d) & (b != c)],
        np.column_stack([a, b, d])[(b == c) & (a != d)],
    ]
    middle = first + np.arange(int(twisted.sum()))
    around = [side[twisted] for side in (a, b, c, d)]
    for start, end in zip(around, around[1:] + around[:1], strict=True):
        cells.append(np.column_stack([start, end, middle]))
    return np.concatenate(cells), np.asarray(sum(corners) / 4)[twisted]


def lace_ring(ring: Floats, angle: float) -> Ints | None:
    """Triangles (n - 2, 3) over a ring (n, 2), laced between the two sides that run from its least to its greatest
    point in a direction; None where these are no triangulation.

    The signed areas of such triangles always add up to the ring's. Where each of them is positive, none lies over
    another or outside the ring.
    """
    height = ring @ np.array((np.cos(angle), np.sin(angle)))
    count, low = len(ring), int(height.argmin())
    around = (low + np.arange(count)) % count
    height = height[around]
    top = int(height.argmax())
    up, down = np.arange(top + 1), np.concatenate([[0], np.arange(count - 1, top - 1, -1)])
    if (np.diff(height[up]) <= 0).any() or (np.diff(height[down]) <= 0).any():
        return None
    # One side's next point after another, by height; each makes a triangle with its own last and the other's last.
    steps = np.concatenate([np.column_stack([up[:-1], up[1:]]), np.column_stack([down[:-1], down[1:]])[:-1]])
    side = np.arange(len(steps)) >= top
    order = np.argsort(height[steps[:, 1]], kind="stable")
    steps, side = steps[order], side[order]
    passed = np.where(side, up[np.cumsum(~side)], down[np.cumsum(side)])
    faces = np.column_stack([steps[:, 0], steps[:, 1], passed])
    faces[side] = faces[side][:, ::-1]
    real = (faces[:, 0] != faces[:, 2]) & (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2])
    corners = ring[around][faces[real]]
    (a, b), (c, d) = (corners[:, 1] - corners[:, 0]).T, (corners[:, 2] - corners[:, 0]).T
    return around[faces[real]] if len(corners) == count - 2 and (a * d - b * c > 0).all() else None


def cap(points: Floats, rings: Sequence[Ints]) -> Ints:
    """A face (m, 3) over rings of vertex numbers, the outside first; seen from aft. All vertices are used."""
    if len(rings) == 1:
        for angle in LACED:
            laced = lace_ring(points[rings[0], 1:], angle)
            if laced is not None:
                return np.asarray(rings[0][laced])
    shell, *hollows = ([*map(tuple, points[ring, 1:].tolist())] for ring in rings)
    number = {
        place: n
        for ring, places in zip(rings, (shell, *hollows), strict=True)
        for n, place in zip(ring.tolist(), places, strict=True)
    }
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(Polygon(shell, hollows)))
    places = shapely.get_coordinates(shapely.normalize(triangles)).reshape(-1, 4, 2)[:, :3]
    faces = np.array([number[place] for place in map(tuple, places.reshape(-1, 2).tolist())], dtype=np.int64)
    faces = faces.reshape(-1, 3)
    y, z = np.moveaxis(points[faces][..., 1:], -1, 0)
    turn = (y[:, 1] - y[:, 0]) * (z[:, 2] - z[:, 0]) - (z[:, 1] - z[:, 0]) * (y[:, 2] - y[:, 0])
    return np.where((turn < 0)[:, None], faces[:, ::-1], faces)
