"""A surface divided by planes into closed surfaces, one for each region and one for the rest.

    surface --split--> triangles that cross no plane --classify--> faces of each region
    plane   --section from both sides--> cells --triangulate--> caps of the two regions that meet there

Cases: a plane through vertices or in a wall needs no code of its own, because what is within SNAP of a plane is moved
onto it, and a wall in a plane belongs to the side where its foam is. A cap is what both limits of the section share, so
no cap lies where the body only touches the plane. Both regions get the same triangles, wound against each other: they
share the joint's outline exactly.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from profiles.arrays import Bools, Floats, Ints
from profiles.errors import HullError
from profiles.hull.plugs import as_multi
from profiles.hull.regions import Region
from profiles.hull.sections import Side, section
from profiles.hull.surface import Surface, edge_keys, sort_faces, surface_of
from profiles.values import dataclass

SNAP = 1e-6
"""mm; a vertex this close to a plane is moved onto it: thinner slivers are rounding. Welds caps to the skin, too."""

ASIDE = 1e-4
"""mm; how far beside a plane its two sides are asked to which region they belong; regions are 3 mm thick and more."""

REST = -1
"""In place of a region's number: what no region holds."""

SMALLEST = 1e-6
"""mm2; a cell of less area is rounding."""


@dataclass(frozen=True, slots=True)
class Cap:
    """Where two regions meet in a plane."""

    axis: int
    """0, 1 or 2: the plane stands square to x, y or z."""
    place: float
    """mm."""
    low: int
    """Number of the region on the side of lesser coordinates; REST for the rest."""
    high: int
    area: MultiPolygon
    """mm, in the two other axes in the order (y, z), (z, x) or (x, y)."""
    triangles: Floats
    """(n, 3, 3) mm; anticlockwise seen from greater coordinates."""
    body: int


def divide_surface(surface: Surface, regions: Sequence[Region]) -> tuple[dict[int, Surface], tuple[Cap, ...]]:
    """The closed surface of each region by its number, REST last, and where they meet; empty regions are left out.

    What several regions hold belongs to the first. Raises HullError where a section in a plane cannot be closed.
    """
    planes = sorted({plane for region in regions for plane in region.planes})
    for axis, place in planes:
        surface = split(surface, axis, place)
    owner = _owners(surface, regions)
    caps = tuple(cap for axis, place in planes for cap in _caps(surface, axis, place, planes, regions))
    numbers = [*range(len(regions)), REST]
    parts = {number: _assemble(surface, owner == number, number, caps) for number in numbers}
    return {number: part for number, part in parts.items() if len(part.faces)}, caps


def split(surface: Surface, axis: int, place: float) -> Surface:
    """The same surface with no face across the plane; edges are divided once for all their faces."""
    vertices = surface.vertices.copy()
    distance = vertices[:, axis] - place
    vertices[np.abs(distance) < SNAP, axis] = place
    side = np.sign(vertices[:, axis] - place).astype(np.int64)
    sides = side[surface.faces]
    crossed = (sides.min(axis=1) < 0) & (sides.max(axis=1) > 0)
    count = len(vertices)
    begin, end = surface.faces[crossed].reshape(-1), surface.faces[crossed][:, (1, 2, 0)].reshape(-1)
    ends = np.sort(np.stack([begin, end], axis=1), axis=1)
    keys, first = np.unique(edge_keys(ends[:, 0], ends[:, 1], count), return_index=True)
    cut = side[ends[first, 0]] * side[ends[first, 1]] < 0
    keys, ends = keys[cut], ends[first][cut]
    a, b = vertices[ends[:, 0]], vertices[ends[:, 1]]
    share = ((place - a[:, axis]) / (b[:, axis] - a[:, axis]))[:, None]
    points = (1 - share) * a + share * b
    points[:, axis] = place
    middle = {key: count + number for number, key in enumerate(keys.tolist())}
    faces, body = [surface.faces[~crossed]], [surface.body[~crossed]]
    for face, number in zip(surface.faces[crossed].tolist(), surface.body[crossed].tolist(), strict=True):
        pieces = _split_face(face, side, middle, count)
        faces.append(np.array(pieces, dtype=np.int64))
        body.append(np.full(len(pieces), number))
    rims = [row for edge in surface.open_edges.tolist() for row in _split_rim(edge, middle, count)]
    result = surface_of(
        np.concatenate([vertices, points]),
        np.concatenate(faces),
        np.concatenate(body),
        np.array(rims, dtype=np.int64).reshape(-1, 3),
        surface.rules,
    )
    return replace(result, whole=surface.whole)


def _split_face(face: Sequence[int], side: Ints, middle: dict[int, int], count: int) -> list[tuple[int, int, int]]:
    """The two or three triangles of a face that a plane crosses: the polygon on each side, as a fan."""
    low: list[int] = []
    high: list[int] = []
    for start, end in ((face[0], face[1]), (face[1], face[2]), (face[2], face[0])):
        if side[start] <= 0:
            low.append(start)
        if side[start] >= 0:
            high.append(start)
        new = middle.get(min(start, end) * count + max(start, end))
        if new is not None:
            low.append(new)
            high.append(new)
    return [(ring[0], *pair) for ring in (low, high) for pair in pairwise(ring[1:])]


def _split_rim(edge: Sequence[int], middle: dict[int, int], count: int) -> list[tuple[int, int, int]]:
    low, high, opening = edge
    new = middle.get(low * count + high)
    return [(low, high, opening)] if new is None else [(low, new, opening), (high, new, opening)]


def _owners(surface: Surface, regions: Sequence[Region]) -> Ints:
    """(m,) the region of each face; a face in a plane belongs to the side where its foam is."""
    corners = surface.vertices[surface.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    level = (corners == corners[:, :1]).all(axis=1)
    inwards = np.where(level, -np.sign(normals) * ASIDE, 0.0)
    return _region_at(corners.mean(axis=1) + inwards, surface.body, regions)


def _region_at(points: Floats, bodies: Ints, regions: Sequence[Region]) -> Ints:
    """(n,) number of the first region that holds each point (n, 3) mm; REST where none does."""
    owner = np.full(len(points), REST)
    for number in reversed(range(len(regions))):
        owner[regions[number].holds(points, bodies)] = number
    return owner


def _caps(
    surface: Surface, axis: int, place: float, planes: Sequence[tuple[int, float]], regions: Sequence[Region]
) -> list[Cap]:
    """What closes the regions on both sides of a plane, body by body, since each body is a surface of its own."""
    order = [axis, (axis + 1) % 3, (axis + 2) % 3]
    caps = []
    for body, shell in _shells(surface):
        turned = surface_of(shell.vertices[:, order], shell.faces, shell.body, shell.open_edges, shell.rules)
        try:
            fore, aft = (section(sort_faces(turned), place, side).region for side in Side)
        except HullError as fault:  # it names the axes of the turned surface
            message = f"the hull cannot be divided at {'xyz'[axis]} = {place:g} mm: its outline stays open there"
            raise HullError(message, remedy="Divide elsewhere, or close the hull with --bridge or --solid.") from fault
        area = fore if fore.equals_exact(aft, 0.0) else fore.intersection(aft)
        for cell in _cells(area, order, planes):
            inside = cell.representative_point()
            centre = np.empty(3)
            centre[order] = (place, inside.x, inside.y)
            step = np.eye(3)[axis] * ASIDE
            low, high = _region_at(np.stack([centre - step, centre + step]), np.full(2, body), regions).tolist()
            if low != high:
                flat = np.array([triangle.exterior.coords[:3] for triangle in _triangles(cell)])
                triangles = np.empty((len(flat), 3, 3))
                triangles[:, :, order] = np.concatenate([np.full((len(flat), 3, 1), place), flat], axis=2)
                caps.append(Cap(axis, place, low, high, MultiPolygon([cell]), triangles, body))
    return caps


def _shells(surface: Surface) -> list[tuple[int, Surface]]:
    """Each body by its number; all together where the hull is filled, or is open and its bodies share a skin."""
    numbers = np.unique(surface.body).tolist()
    if surface.rules.solid or len(surface.open_edges) or len(numbers) == 1:
        return [(numbers[0], surface)]
    shells = []
    for number in numbers:
        faces = surface.faces[surface.body == number]
        shells.append((number, surface_of(surface.vertices, faces, np.full(len(faces), number), rules=surface.rules)))
    return shells


def _cells(area: shapely.Geometry, order: Sequence[int], planes: Sequence[tuple[int, float]]) -> list[Polygon]:
    """A section divided by all planes that cross its own."""
    pieces = [area]
    for column in (0, 1):
        places = sorted(place for axis, place in planes if axis == order[column + 1])
        limits = list(pairwise([-1e6, *places, 1e6]))
        boxes = [
            shapely.box(*((low, -1e6, high, 1e6) if column == 0 else (-1e6, low, 1e6, high))) for low, high in limits
        ]
        pieces = [piece.intersection(box) for piece in pieces for box in boxes] if places else pieces
    return [cell for piece in pieces for cell in as_multi(piece).geoms if cell.area > SMALLEST]


def _triangles(cell: Polygon) -> list[Polygon]:
    """The cell as triangles between its own vertices, each anticlockwise."""
    triangles = shapely.constrained_delaunay_triangles(cell).geoms
    return [shapely.orient_polygons(triangle) for triangle in triangles if triangle.area > 0]


def _assemble(surface: Surface, chosen: Bools, number: int, caps: Sequence[Cap]) -> Surface:
    """The faces of one region with its caps, welded; without vertices that nothing uses."""
    corners, bodies = [surface.vertices[surface.faces[chosen]]], [surface.body[chosen]]
    for cap in caps:
        if number in {cap.low, cap.high}:
            # The low side looks to greater coordinates there, as the triangles are wound.
            corners.append(cap.triangles if number == cap.low else cap.triangles[:, ::-1])
            bodies.append(np.full(len(cap.triangles), cap.body))
    points = np.concatenate(corners).reshape(-1, 3)
    vertices, node = _weld(points)
    faces = node.reshape(-1, 3)
    body = np.concatenate(bodies)
    keep = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    rims = _rims(surface, vertices, faces[keep])
    return surface_of(vertices, faces[keep], body[keep], rims, surface.rules)


def _weld(points: Floats) -> tuple[Floats, Ints]:
    """Vertices (k, 3) mm and the vertex of each point (n, 3); points of one vertex lie within SNAP of the first."""
    from scipy.spatial import cKDTree  # slow to import, and few jobs have parts

    unique, node = np.unique(points, axis=0, return_inverse=True)
    first = np.arange(len(unique))
    for low, high in sorted(cKDTree(unique).query_pairs(SNAP)):
        first[high] = min(first[high], first[low])
    used, number = np.unique(first, return_inverse=True)
    return unique[used], number[node.reshape(-1)]


def _rims(surface: Surface, vertices: Floats, faces: Ints) -> Ints:
    """(k, 3) open edges of a part of an open hull: all its edges with one face, since a cap ends at the opening too."""
    if not len(surface.open_edges):
        return np.zeros((0, 3), dtype=np.int64)
    begin, end = faces.reshape(-1), faces[:, (1, 2, 0)].reshape(-1)
    low, high = np.minimum(begin, end), np.maximum(begin, end)
    _, first, count = np.unique(edge_keys(low, high, len(vertices)), return_index=True, return_counts=True)
    lone = first[count == 1]
    return np.stack([low[lone], high[lone], np.full(len(lone), surface.open_edges[0, 2])], axis=1)
