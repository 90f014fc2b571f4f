"""A surface between two stations -> its silhouette, seen from port or from above.

Seen along an axis, a closed body covers exactly what those of its triangles cover that face in one direction. So a
silhouette is their union: points, knife edges, several pieces and steps need no special case.

Where two triangles meet, their common edge runs once in each direction and cancels. The rest is the rim: directed edges
with triangles on their left, so the winding number about a point is the number of triangles that cover it. The rim has
a few hundred edges where there are thousands of triangles.
"""

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from profiles.arrays import Floats, Ints
from profiles.hull.sections import winding_numbers
from profiles.hull.shape import View
from profiles.hull.surface import Surface, edge_keys

THIN = 0.001
"""mm; points nearer than this to the line between their neighbours are left out of a profile. A hundredth of what can
be seen on paper."""

SPECK = 0.01
"""mm2; smaller pieces and holes of a profile are rounding between neighbouring triangles: a prick of 0.1 mm."""


def silhouette(surface: Surface, x_fore: float, x_aft: float, view: View) -> MultiPolygon:
    """The hull between two stations as seen along y (x, z) or z (x, y), mm; empty where there is no hull.

    Walls at the stations themselves are not between them. Only the triangles that face one way are used, unless the
    hull is open: then both, since either may lack what the other has.
    """
    touched = surface.faces[(surface.x_low < x_aft) & (surface.x_high > x_fore)]
    axes = [0, 2] if view is View.SIDE else [0, 1]
    corners = surface.vertices[touched][..., axes]
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    turn = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    seen = touched[turn > 0]
    if len(surface.open_edges):
        seen = np.concatenate([seen, touched[turn < 0, ::-1]])
    if not len(seen):
        return MultiPolygon()
    low, high = corners[..., 1].min() - 1, corners[..., 1].max() + 1
    covered = covered_region(surface.vertices[:, axes], seen)
    return _clean_up(covered.intersection(shapely.box(x_fore, low, x_aft, high)))


def _clean_up(shape: shapely.Geometry) -> MultiPolygon:
    """Without specks and needless points; both ends stay where they are."""
    whole = MultiPolygon(
        [
            Polygon(part.exterior, [ring for ring in part.interiors if Polygon(ring).area > SPECK])
            for part in _polygons(shape)
            if part.area > SPECK
        ]
    )
    thin = MultiPolygon(_polygons(whole.simplify(THIN)))
    return thin if thin.bounds[::2] == whole.bounds[::2] else whole


def _polygons(shape: shapely.Geometry) -> list[Polygon]:
    return [part for part in shapely.get_parts(shape) if isinstance(part, Polygon) and not part.is_empty]


def covered_region(points: Floats, triangles: Ints) -> shapely.Geometry:
    """The region covered by anticlockwise triangles (m, 3), numbers of points (n, 2) mm. They may overlap."""
    edges = rim(triangles, len(points))
    ends = points[edges]
    ends = ends[(ends[:, 0] != ends[:, 1]).any(axis=1)]
    cells = shapely.get_parts(shapely.polygonize([shapely.union_all(shapely.linestrings(ends))]))
    if not len(cells):
        return shapely.MultiPolygon()
    inside = shapely.get_coordinates(shapely.point_on_surface(cells))
    return shapely.union_all(cells[winding_numbers(ends[:, 0], ends[:, 1], inside) > 0])


def rim(triangles: Ints, points: int) -> Ints:
    """The directed edges (k, 2) of triangles that no other triangle cancels, each as often as it remains."""
    directed = np.concatenate([triangles[:, (0, 1)], triangles[:, (1, 2)], triangles[:, (2, 0)]])
    keys, first, number = np.unique(
        edge_keys(directed[:, 0], directed[:, 1], points), return_index=True, return_inverse=True
    )
    upwards = np.where(directed[:, 0] < directed[:, 1], 1, -1)
    left = np.bincount(number, upwards, len(keys)).astype(np.int64)
    ends = np.sort(directed[first], axis=1)
    ends = np.where((left < 0)[:, None], ends[:, ::-1], ends)
    return np.repeat(ends, np.abs(left), axis=0)
