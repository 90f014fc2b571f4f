"""Polygons with any number of corners, convex or concave -> triangles.

Cases: fewer than three corners give nothing; a convex polygon becomes a fan from its first corner; shapely cuts a
concave one in the plane of its Newell normal; a twisted, flat or non-finite one stays a fan.
"""

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.hull.formats.content import TRIPLE, check_indices
from profiles.notes import Note, repair

FLAT = 1e-9
"""No unit; a fan triangle that is reversed by less than this share of the polygon's size is rounding."""


def triangulate(vertices: Floats, corners: Ints, counts: Ints, *, first: int = 0) -> Ints:
    """Triangles (m, 3) from polygons: all corners (k,) in order, and the number of corners of each polygon (p,).

    Raises HullError for a corner out of range (`first` is the number of the format's first vertex, for the message).
    """
    check_indices(corners, len(vertices), first=first)
    counts = np.asarray(counts, dtype=np.int64)
    starts = np.cumsum(counts) - counts
    fans = np.maximum(counts - 2, 0)
    polygon = np.repeat(np.arange(len(counts)), fans)
    step = np.arange(fans.sum()) - np.repeat(np.cumsum(fans) - fans, fans)
    base = starts[polygon]
    faces = np.column_stack((corners[base], corners[base + step + 1], corners[base + step + 2])).astype(np.int64)
    for number in _folded(vertices, faces, polygon):
        ring = corners[starts[number] : starts[number] + counts[number]]
        cut = _cut(vertices, ring)
        if cut is not None:
            faces[polygon == number] = cut
    return faces


def _folded(vertices: Floats, faces: Ints, polygon: Ints) -> Ints:
    """Numbers of the polygons in which a fan triangle faces against the others."""
    inner = np.nonzero(np.diff(polygon, prepend=-1) == 0)[0]
    if not len(inner):
        return np.zeros(0, dtype=np.int64)
    mask = np.isin(polygon, polygon[inner])
    faces, polygon = faces[mask], polygon[mask]
    a, b, c = (vertices[faces[:, i]] for i in range(3))
    with np.errstate(invalid="ignore", over="ignore"):
        areas = np.cross(b - a, c - a)
        first = np.nonzero(np.diff(polygon, prepend=-1))[0]
        normals = np.add.reduceat(areas, first)
        runs = np.diff(np.append(first, len(polygon)))
        dots = np.einsum("ij,ij->i", areas, np.repeat(normals, runs, axis=0))
        sizes = np.repeat(np.einsum("ij,ij->i", normals, normals), runs)
        return np.unique(polygon[dots < -FLAT * sizes])


def _cut(vertices: Floats, ring: Ints) -> Ints | None:
    """Triangles (n - 2, 3) of a simple polygon, with its winding; None if it crosses itself or has no area.

    A hole joined to the rim by a double edge stays open; a repeated corner gives a triangle without area.
    """
    import shapely  # most files have no concave polygon

    points = vertices[ring]
    middle = points - points.mean(axis=0)
    normal = np.cross(middle, np.roll(middle, -1, axis=0)).sum(axis=0)
    axis = int(np.argmax(np.abs(normal)))
    flat = np.delete(points, axis, axis=1)
    try:
        cut = shapely.constrained_delaunay_triangles(shapely.Polygon(flat))
    except shapely.GEOSException:
        return None
    corners = shapely.get_coordinates(cut).reshape(-1, 4, 2)[:, :3]
    (ux, uy), (vx, vy) = (corners[:, 1] - corners[:, 0]).T, (corners[:, 2] - corners[:, 0]).T
    turns = ux * vy - uy * vx
    whole = abs(float(normal[axis]))
    if len(corners) > len(ring) - 2 or abs(np.abs(turns).sum() - whole) > FLAT * whole:
        return None
    place = {tuple(point): number for point, number in zip(flat.tolist(), ring.tolist(), strict=True)}
    faces: Ints = np.array([[place[tuple(p)] for p in triangle] for triangle in corners.tolist()], dtype=np.int64)
    turned = turns * normal[axis] * (-1.0 if axis == 1 else 1.0) < 0  # (x, z) is a left-handed pair
    faces[turned] = faces[turned, ::-1]
    repeated = np.full((len(ring) - 2 - len(faces), 3), ring[0])
    return np.concatenate((faces, repeated))


def short_face_notes(counts: Ints) -> tuple[Note, ...]:
    """A note about polygons with fewer than three corners, given the numbers of corners (p,); or none."""
    short = int((counts < TRIPLE).sum())
    return (repair(f"{short} faces with fewer than three corners were left out."),) if short else ()
