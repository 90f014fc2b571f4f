"""Meshes whose sections and volumes are known exactly, for the tests of every package.

A maker returns (vertices (n, 3) mm, faces (m, 3)), closed, wound counter-clockwise seen from outside, x along the body.
Beside it stand `..._area(x, ...)`, the section area in mm2 at x mm, and `..._volume(...)` in mm3. Where a body is round
and the mesh has flat facets, the maker takes `sides`, and the exact value of the MESH comes from `faceted_area` and
`faceted_volume`; the value of the smooth body is what the mesh converges to, with order 2.

    box, wedge, stepped_box, twin_boxes, tube    flat faces: the mesh is the body
    frustum, spheroid, sears_haack               bodies of revolution
    wigley                                       a mathematical ship hull

Sources of the formulas stand beside them; what has none follows from the definition.
"""

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Mesh = tuple[Floats, Ints]


def joined(*meshes: Mesh) -> Mesh:
    """Several meshes as one, each keeping its own vertices."""
    starts = np.cumsum([0, *(len(vertices) for vertices, _ in meshes)])
    faces = [faces + start for (_, faces), start in zip(meshes, starts[:-1], strict=True)]
    return np.concatenate([vertices for vertices, _ in meshes]), np.concatenate(faces)


def turned_inside_out(mesh: Mesh) -> Mesh:
    """The same triangles wound the other way round."""
    return mesh[0], mesh[1][:, ::-1].copy()


def mesh_volume(mesh: Mesh) -> float:
    """Volume by the divergence theorem, mm3; negative for a mesh that is inside out."""
    a, b, c = np.moveaxis(mesh[0][mesh[1]], 1, 0)
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def triangle_soup(mesh: Mesh) -> Mesh:
    """Every triangle with three vertices of its own, as an STL file holds it."""
    return mesh[0][mesh[1]].reshape(-1, 3), np.arange(mesh[1].size, dtype=np.int64).reshape(-1, 3)


def prism(outline: Sequence[tuple[float, float]], x_fore: float, x_aft: float) -> Mesh:
    """A convex outline of (y, z) points, counter-clockwise seen from aft (y right, z up), drawn out along x."""
    ring = np.array(outline, dtype=np.float64)
    return loft(np.array([x_fore, x_aft]), np.stack([ring, ring]))


def box(length: float = 100.0, breadth: float = 60.0, depth: float = 40.0, x: float = 0.0, y: float = 0.0) -> Mesh:
    """A box from x to x + length, its middle at y, from z = 0 up; 12 triangles."""
    low, high = y - breadth / 2, y + breadth / 2
    return prism([(low, 0.0), (high, 0.0), (high, depth), (low, depth)], x, x + length)


def box_volume(length: float = 100.0, breadth: float = 60.0, depth: float = 40.0) -> float:
    """Length x breadth x depth."""
    return length * breadth * depth


def wedge(length: float = 100.0, breadth: float = 60.0, depth: float = 40.0) -> Mesh:
    """A triangular prism lying across: an edge along y at x = 0, z = 0 that opens to a wall at x = length."""
    half = breadth / 2
    vertices = np.array(
        [
            (0.0, -half, 0.0),
            (0.0, half, 0.0),
            (length, -half, 0.0),
            (length, half, 0.0),
            (length, -half, depth),
            (length, half, depth),
        ]
    )
    faces = [(0, 1, 3), (0, 3, 2), (0, 4, 5), (0, 5, 1), (2, 3, 5), (2, 5, 4), (0, 2, 4), (1, 5, 3)]
    return vertices, np.array(faces, dtype=np.int64)


def wedge_area(x: npt.ArrayLike, length: float = 100.0, breadth: float = 60.0, depth: float = 40.0) -> Floats:
    """Area grows in proportion to x; from forward at the end wall, nothing aft of it."""
    place = np.asarray(x, dtype=np.float64)
    return np.where((place >= 0) & (place <= length), breadth * depth * place / length, 0.0)


def wedge_volume(length: float = 100.0, breadth: float = 60.0, depth: float = 40.0) -> float:
    """Half the box."""
    return length * breadth * depth / 2


def stepped_box(
    length: float = 100.0, breadth: float = 60.0, depth: float = 40.0, step_x: float = 55.0, step: float = 9.0
) -> Mesh:
    """A box whose bottom jumps up by `step` at x = step_x: one closed body with a wall in the plane x = step_x."""
    profile = np.array(
        [(0.0, 0.0), (step_x, 0.0), (step_x, step), (length, step), (length, depth), (step_x, depth), (0.0, depth)]
    )
    count, half = len(profile), breadth / 2
    # Seen from starboard (x right, z up) the profile runs counter-clockwise; fanned as two convex parts.
    cap = [(0, 1, 2), (0, 2, 5), (0, 5, 6), (2, 3, 4), (2, 4, 5)]
    port = np.column_stack([profile[:, 0], np.full(count, -half), profile[:, 1]])
    starboard = np.column_stack([profile[:, 0], np.full(count, half), profile[:, 1]])
    faces = list(cap) + [(a + count, c + count, b + count) for a, b, c in cap]
    for low in range(count):
        high = (low + 1) % count
        faces += [(low, low + count, high + count), (low, high + count, high)]
    return np.concatenate([port, starboard]), np.array(faces, dtype=np.int64)


def stepped_box_areas(
    x: float, length: float = 100.0, breadth: float = 60.0, depth: float = 40.0, step_x: float = 55.0, step: float = 9.0
) -> tuple[float, float]:
    """Section areas just forward and just aft of x; at the step they differ by breadth x step."""
    full, less = breadth * depth, breadth * (depth - step)
    fore = 0.0 if not 0 < x <= length else (full if x <= step_x else less)
    aft = 0.0 if not 0 <= x < length else (full if x < step_x else less)
    return fore, aft


def stepped_box_volume(
    length: float = 100.0, breadth: float = 60.0, depth: float = 40.0, step_x: float = 55.0, step: float = 9.0
) -> float:
    """The box less what the step takes away."""
    return breadth * (length * depth - (length - step_x) * step)


def twin_boxes(length: float = 100.0, breadth: float = 20.0, depth: float = 30.0, offset: float = 40.0) -> Mesh:
    """Two boxes side by side, their middles at y = -offset and y = +offset; section area 2 x breadth x depth."""
    return joined(box(length, breadth, depth, y=-offset), box(length, breadth, depth, y=offset))


def tube(length: float = 100.0, outer: float = 60.0, inner: float = 40.0) -> Mesh:
    """A square pipe open through both ends: outer and inner side; one closed body, its sections have a hole."""
    corners = np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])
    rings = [
        np.column_stack([np.full(4, x), corners * side / 2]) for x in (0.0, length) for side in (outer, inner)
    ]  # 0-3 outer fore, 4-7 inner fore, 8-11 outer aft, 12-15 inner aft
    faces = []
    for a in range(4):
        b = (a + 1) % 4
        quads = [(a, b + 8, b), (a, a + 8, b + 8)]
        quads += [(a + 4, b + 4, b + 12), (a + 4, b + 12, a + 12)]
        quads += [(a, b, b + 4), (a, b + 4, a + 4)]
        quads += [(a + 8, b + 12, b + 8), (a + 8, a + 12, b + 12)]
        faces += [quad[::-1] for quad in quads]
    return np.concatenate(rings), np.array(faces, dtype=np.int64)


def tube_area(outer: float = 60.0, inner: float = 40.0) -> float:
    """Outer square less inner square."""
    return outer**2 - inner**2


def frustum(fore: float = 40.0, aft: float = 30.0, length: float = 50.0, sides: int = 64) -> Mesh:
    """A cone frustum: radius `fore` at x = 0, `aft` at x = length, a vertex at y = +radius, z = 0."""
    return revolved(np.array([0.0, length]), np.array([fore, aft]), sides)


def frustum_volume(fore: float = 40.0, aft: float = 30.0, length: float = 50.0) -> float:
    """The round frustum: pi h (R^2 + R r + r^2) / 3; 193731.547 for R 40, r 30, h 50."""
    return math.pi * length * (fore**2 + fore * aft + aft**2) / 3


def spheroid(semi_length: float = 100.0, radius: float = 50.0, rings: int = 24, sides: int = 48) -> Mesh:
    """A spheroid about x from 0 to 2 x semi_length, pointed on its poles, `rings` bands along it."""
    x = spheroid_rings(semi_length, rings)
    return revolved(x, np.sqrt(np.maximum(spheroid_area(x, semi_length, radius) / math.pi, 0.0)), sides)


def spheroid_rings(semi_length: float = 100.0, rings: int = 24) -> Floats:
    """Where the rings of `spheroid` lie, (rings + 1,) mm, the poles included."""
    return semi_length * (1 - np.cos(np.linspace(0.0, math.pi, rings + 1)))


def spheroid_area(x: npt.ArrayLike, semi_length: float = 100.0, radius: float = 50.0) -> Floats:
    """The round section at x: pi b^2 (1 - (x/a - 1)^2)."""
    along = np.asarray(x, dtype=np.float64) / semi_length - 1
    return math.pi * radius**2 * np.maximum(1 - along**2, 0.0)


def spheroid_volume(semi_length: float = 100.0, radius: float = 50.0) -> float:
    """4 pi a b^2 / 3; 8.377580 for a 2, b 1."""
    return 4 / 3 * math.pi * semi_length * radius**2


def sears_haack(length: float = 400.0, radius: float = 40.0, rings: int = 40, sides: int = 48) -> Mesh:
    """The body of least wave drag for its length and volume, pointed at both ends."""
    x = 0.5 * length * (1 - np.cos(np.linspace(0.0, math.pi, rings + 1)))
    return revolved(x, sears_haack_radius(x, length, radius), sides)


def sears_haack_radius(x: npt.ArrayLike, length: float = 400.0, radius: float = 40.0) -> Floats:
    """R (4 s (1 - s))^(3/4), s = x/L (Sears 1947, Haack 1941); 0.805927 R at a quarter of the length."""
    s = np.clip(np.asarray(x, dtype=np.float64) / length, 0.0, 1.0)
    return np.asarray(radius * (4 * s * (1 - s)) ** 0.75)


def sears_haack_volume(length: float = 400.0, radius: float = 40.0) -> float:
    """3 pi^2 R^2 L / 16."""
    return 3 * math.pi**2 / 16 * radius**2 * length


def wigley(
    length: float = 400.0, breadth: float = 40.0, draught: float = 25.0, stations: int = 40, rows: int = 16
) -> Mesh:
    """The Wigley hull below its flat deck: knife ends, x from 0 to length, keel at z = 0, deck at z = draught."""
    x = np.linspace(0.0, length, stations + 1)
    down = np.linspace(1.0, 0.0, rows + 1)
    half = breadth / 2 * np.outer(1 - (2 * x / length - 1) ** 2, 1 - down**2)
    # From the keel up the starboard side and down the port side; the keel and the ends have no breadth.
    around = np.concatenate([half, -half[:, ::-1]], axis=1)
    height = np.broadcast_to(np.concatenate([1 - down, (1 - down)[::-1]]) * draught, around.shape)
    return welded(loft(x, np.stack([around, height], axis=-1), capped=False))


def wigley_half_breadth(
    x: npt.ArrayLike, z: npt.ArrayLike, length: float = 400.0, breadth: float = 40.0, draught: float = 25.0
) -> Floats:
    """Half-breadth B/2 (1 - (2 xi / L)^2)(1 - (zeta / T)^2), xi from midships, zeta below the deck (Wigley 1942)."""
    along = 2 * np.asarray(x, dtype=np.float64) / length - 1
    down = 1 - np.asarray(z, dtype=np.float64) / draught
    return np.asarray(breadth / 2 * (1 - along**2) * (1 - down**2))


def wigley_area(x: npt.ArrayLike, length: float = 400.0, breadth: float = 40.0, draught: float = 25.0) -> Floats:
    """Two thirds of the rectangle round the section: the midship coefficient is 2/3."""
    along = 2 * np.asarray(x, dtype=np.float64) / length - 1
    return np.asarray(2 / 3 * breadth * draught * np.maximum(1 - along**2, 0.0))


def wigley_volume(length: float = 400.0, breadth: float = 40.0, draught: float = 25.0) -> float:
    """4 L B T / 9."""
    return 4 / 9 * length * breadth * draught


def ellipse_loft(
    fore: tuple[float, float], aft: tuple[float, float], length: float = 50.0, rings: int = 6, sides: int = 96
) -> Mesh:
    """Straight lines from one ellipse to another, at equal angles of their circles; semi-axes in y and z."""
    x = np.linspace(0.0, length, rings)
    angle = np.arange(sides) * 2 * np.pi / sides
    axes = np.array(fore) + (x / length)[:, None] * (np.array(aft) - np.array(fore))
    circle = np.column_stack([np.cos(angle), np.sin(angle)])
    return loft(x, axes[:, None] * circle)


def revolved(x: Floats, radius: Floats, sides: int) -> Mesh:
    """A body of revolution through rings (n,) x and radius, mm, as a regular polygon; radius 0 makes a point."""
    turn = 2 * math.pi * np.arange(sides) / sides
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    return welded(loft(x, radius[:, None, None] * circle))


def faceted_area(x: npt.ArrayLike, ring_x: Floats, ring_radius: Floats, sides: int) -> Floats:
    """Exact section area of a `revolved` mesh: regular polygon, its radius linear between rings."""
    radius = np.interp(np.asarray(x, dtype=np.float64), ring_x, ring_radius, left=0.0, right=0.0)
    return np.asarray(sides / 2 * math.sin(2 * math.pi / sides) * radius**2)


def faceted_volume(ring_x: Floats, ring_radius: Floats, sides: int) -> float:
    """Exact volume of a `revolved` mesh: one frustum after another."""
    fore, aft = ring_radius[:-1], ring_radius[1:]
    bands = np.diff(ring_x) * (fore**2 + fore * aft + aft**2) / 3
    return float(sides / 2 * math.sin(2 * math.pi / sides) * bands.sum())


def welded(mesh: Mesh, decimals: int = 9) -> Mesh:
    """Equal vertices made one and triangles that lost their area dropped."""
    vertices, index = np.unique(np.round(mesh[0], decimals) + 0.0, axis=0, return_inverse=True)
    faces = index.reshape(-1)[mesh[1]]
    distinct = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    used, index = np.unique(faces[distinct], return_inverse=True)
    return vertices[used], index.reshape(-1, 3).astype(np.int64)


def loft(x: Floats, rings: Floats, *, capped: bool = True) -> Mesh:
    """A body through rings (n, m, 2) of (y, z) at x (n,), each counter-clockwise seen from aft; caps are fans."""
    count, around = rings.shape[:2]
    vertices = np.concatenate([np.repeat(x, around)[:, None], rings.reshape(-1, 2)], axis=1)
    a = np.arange(count * around, dtype=np.int64).reshape(count, around)
    b = np.roll(a, -1, axis=1)
    cells = [(a[:-1], b[1:], a[1:]), (a[:-1], b[:-1], b[1:])]
    faces = [np.stack(corners, axis=-1).reshape(-1, 3) for corners in cells]
    if capped:
        fan = np.stack([np.zeros(around - 2, dtype=np.int64), np.arange(1, around - 1), np.arange(2, around)], axis=-1)
        faces += [a[0][fan][:, ::-1], a[-1][fan]]
    return vertices, np.concatenate(faces)
