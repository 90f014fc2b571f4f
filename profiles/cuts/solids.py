"""Solids that are cut out of blocks, and what is left: closed meshes, by manifold3d.

Two cuts may overlap; what both take is taken once. Where a block's own surface is not closed in the sense of that
library, the block is left as it is, and `Solid.sound` says so.
"""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from profiles.arrays import Floats, Ints
from profiles.blocks.cut_into import CutInto
from profiles.blocks.outlines import as_multi
from profiles.hull.surface import Mesh

if TYPE_CHECKING:
    from manifold3d import Manifold

TOUCH = 1.0
"""mm3; two cuts that share less only touch."""


def tube(fore: Floats, aft: Floats) -> Mesh:
    """The solid between two rings (k, 3) mm whose points belong together; turned so that its volume is positive."""
    count = len(fore)
    turn = np.arange(count, dtype=np.int64)
    following = np.roll(turn, -1)
    sides = np.concatenate(
        [
            np.column_stack([turn, following, following + count]),
            np.column_stack([turn, following + count, turn + count]),
        ]
    )
    caps = [fan + shift for fan, shift in ((_cap(fore)[:, ::-1], 0), (_cap(aft), count))]
    vertices, faces = np.concatenate([fore, aft]), np.concatenate([sides, *caps])
    a, b, c = np.moveaxis(vertices[faces] - vertices[0], 1, 0)
    if float(np.einsum("ij,ij->", a, np.cross(b, c))) < 0:
        faces = faces[:, ::-1]
    return vertices, faces


def _cap(ring: Floats) -> Ints:
    """Triangles over a flat ring (k, 3), in the order of the ring."""
    spread = np.ptp(ring, axis=0)
    axes = [axis for axis in range(3) if axis != int(np.argmin(spread))]
    flat = ring[:, axes]
    triangles = shapely.constrained_delaunay_triangles(Polygon(flat)).geoms
    numbers = {tuple(point): n for n, point in enumerate(flat.tolist())}
    faces = np.array([[numbers[point] for point in triangle.exterior.coords[:3]] for triangle in triangles])
    wound = 1 if Polygon(flat).exterior.is_ccw else -1
    a, b, c = (flat[faces[:, k]] for k in range(3))
    turned = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    faces[turned * wound < 0] = faces[turned * wound < 0][:, ::-1]
    return faces


def as_manifold(mesh: Mesh) -> "Manifold | None":
    """The solid; None where its surface is not closed."""
    from manifold3d import Error, Manifold, Mesh64  # most jobs cut nothing out

    vertices, faces = mesh
    solid = Manifold(Mesh64(np.ascontiguousarray(vertices, np.float64), np.ascontiguousarray(faces, np.uint64)))
    return solid if solid.status() == Error.NoError and not solid.is_empty() else None


def _mesh_of(solid: "Manifold") -> Mesh:
    mesh = solid.to_mesh64()
    return np.array(mesh.vert_properties[:, :3], np.float64), np.array(mesh.tri_verts, np.int64)


def unite(meshes: Iterable[Mesh]) -> "Manifold | None":
    """All solids as one; None without any."""
    total = None
    for mesh in meshes:
        solid = as_manifold(mesh)
        if solid is not None:
            total = solid if total is None else total + solid
    return total


def cut_out(block: Mesh, solids: Sequence[Mesh]) -> CutInto | None:
    """What is left of a block when the solids are cut out of it; None where nothing is cut, or the block's surface is
    not closed.
    """
    whole, cuts = as_manifold(block), unite(solids)
    if whole is None or cuts is None:
        return None
    taken = whole ^ cuts
    if taken.is_empty() or taken.volume() <= 0:
        return None
    left = whole - cuts
    return CutInto(_mesh_of(left), _mesh_of(taken), float(left.volume()))


def pieces_of(block: Mesh) -> int:
    """Number of bodies that a closed mesh consists of, without splinters."""
    solid = as_manifold(block)
    return 0 if solid is None else sum(part.volume() > TOUCH for part in solid.decompose())


def crossing(first: Sequence[Mesh], second: Sequence[Mesh]) -> float:
    """mm3 that two cuts share."""
    one, other = unite(first), unite(second)
    return 0.0 if one is None or other is None else max(float((one ^ other).volume()), 0.0)


def slice_at(solids: Sequence[Mesh], x: float) -> MultiPolygon:
    """The region (y, z) mm in which the plane at x mm cuts closed meshes."""
    whole = unite(solids)
    if whole is None:
        return MultiPolygon()
    # The plane is turned to z: (x, y, z) -> (y, z, x).
    turned = whole.transform(np.array([[0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0], [1.0, 0.0, 0.0, 0.0]]))
    rings = turned.slice(x).to_polygons()
    area = shapely.Polygon()
    for ring in rings:
        if len(ring) >= 3:  # noqa: PLR2004 - a polygon
            area = area.symmetric_difference(shapely.make_valid(Polygon(ring)))
    return as_multi(area)


def between(solids: Sequence[Mesh], x_fore: float, x_aft: float) -> list[Mesh]:
    """The part of closed meshes between two planes across the hull; none where nothing is."""
    whole = unite(solids)
    if whole is None:
        return []
    part = whole.trim_by_plane((1.0, 0.0, 0.0), x_fore).trim_by_plane((-1.0, 0.0, 0.0), -x_aft)
    return [] if part.is_empty() else [_mesh_of(part)]
