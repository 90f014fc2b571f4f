"""Mass, centre and moments of solids, skins and points, exact for triangles.

Sums over triangles follow from the integrals of monomials over a simplex: for the tetrahedron from the origin to a
triangle with corners p, q, r and s = p + q + r, the integral of x x^T is det/120 (p p^T + q q^T + r r^T + s s^T), and
over the triangle itself it is area/12 times the same bracket (Tonon 2004, "Explicit exact formulas for the 3-D
tetrahedron inertia tensor").
"""

from collections.abc import Iterable, Sequence

import numpy as np
from shapely import MultiPolygon, orient_polygons

from profiles.arrays import Floats
from profiles.hull.surface import Mesh
from profiles.values import dataclass


@dataclass(frozen=True, slots=True)
class Mass:
    """A mass with its centre and its moments; `amount` in g, or in mm3 or mm2 for a density of 1."""

    amount: float
    centre: Floats
    """(3,) mm, hull frame."""
    second: Floats
    """(3, 3): the integral of (p - centre)(p - centre)^T, amount x mm2."""

    def times(self, density: float) -> "Mass":
        """The mass of this volume (or area) at a density per mm3 (or mm2)."""
        return Mass(self.amount * density, self.centre, self.second * density)

    @property
    def inertia(self) -> Floats:
        """(3, 3) moments of inertia about the centre, amount x mm2."""
        return np.asarray(np.trace(self.second) * np.eye(3) - self.second)


NOTHING = Mass(0.0, np.zeros(3), np.zeros((3, 3)))


def point_mass(amount: float, centre: Sequence[float]) -> Mass:
    """A mass in one point, mm."""
    return Mass(amount, np.array(centre, dtype=np.float64), np.zeros((3, 3)))


def combine(masses: Iterable[Mass]) -> Mass:
    """All masses as one; NOTHING for none, or where they have no weight."""
    parts = list(masses)
    total = sum(part.amount for part in parts)
    if not total:
        return NOTHING
    centre = np.sum([part.amount * part.centre for part in parts], axis=0) / total
    second = np.zeros((3, 3))
    for part in parts:
        arm = part.centre - centre
        second += part.second + part.amount * np.outer(arm, arm)
    return Mass(total, centre, second)


def solid_mass(mesh: Mesh) -> Mass:
    """Volume, centroid and moments inside a closed mesh, mm3; voids are wound inwards. NOTHING without volume."""
    if not len(mesh[1]):
        return NOTHING
    origin, corners = _corners(mesh)
    p, q, r = corners
    det = np.einsum("ij,ij->i", p, np.cross(q, r))
    volume = float(det.sum()) / 6
    if not volume:
        return NOTHING
    return _about_centre(volume, det @ (p + q + r) / 24, _seconds(det / 120, corners), origin)


def skin_mass(mesh: Mesh) -> Mass:
    """Area, centroid and moments of the triangles themselves, mm2."""
    if not len(mesh[1]):
        return NOTHING
    origin, corners = _corners(mesh)
    p, q, r = corners
    area = np.linalg.norm(np.cross(q - p, r - p), axis=1) / 2
    return _about_centre(float(area.sum()), area @ (p + q + r) / 3, _seconds(area / 12, corners), origin)


def _corners(mesh: Mesh) -> tuple[Floats, Floats]:
    """(3,) the middle of the mesh, and (3, m, 3) the corners of its faces from there: sums far away lose figures."""
    vertices, faces = mesh
    origin = (vertices.min(axis=0) + vertices.max(axis=0)) / 2
    return origin, np.moveaxis((vertices - origin)[faces], 1, 0)


def _seconds(weight: Floats, corners: Floats) -> Floats:
    """(3, 3) the sum over faces of weight (m,) times (p p^T + q q^T + r r^T + s s^T)."""
    return np.asarray(sum((weight[:, None] * row).T @ row for row in (*corners, corners.sum(axis=0))))


def _about_centre(amount: float, moment: Floats, second: Floats, origin: Floats) -> Mass:
    centre = moment / amount
    return Mass(amount, centre + origin, second - amount * np.outer(centre, centre))


def flat_mass(region: MultiPolygon, x: float) -> Mass:
    """Area, centroid and moments of a section (y, z) mm at x mm, mm2; NOTHING without area."""
    if region.is_empty:
        return NOTHING
    moments = np.zeros(6)
    for part in orient_polygons(region).geoms:
        for ring in (part.exterior, *part.interiors):
            points = np.asarray(ring.coords)
            moments += line_moments(points[:-1], points[1:])
    return moments_mass(moments, np.array([x, 0.0, 0.0]), np.eye(3)[1:])


def line_moments(start: Floats, end: Floats) -> Floats:
    """(6,) area, first moments u, v and second moments uu, vv, uv of what closed lines run round, its inside on their
    left; the lines are given as straight pieces from start (n, 2) to end (n, 2) in any order (Green's theorem).
    """
    (u0, v0), (u1, v1) = start.T, end.T
    cross = u0 * v1 - u1 * v0
    return np.array(
        [
            cross.sum() / 2,
            ((u0 + u1) @ cross) / 6,
            ((v0 + v1) @ cross) / 6,
            ((u0 * u0 + u0 * u1 + u1 * u1) @ cross) / 12,
            ((v0 * v0 + v0 * v1 + v1 * v1) @ cross) / 12,
            ((u0 * v1 + 2 * u0 * v0 + 2 * u1 * v1 + u1 * v0) @ cross) / 24,
        ]
    )


def moments_mass(moments: Floats, origin: Floats, axes: Floats) -> Mass:
    """The mass of a flat area from its `line_moments`, the origin (3,) mm and the directions u and v (2, 3)."""
    area, u, v, uu, vv, uv = moments
    if not area:
        return NOTHING
    flat = np.array([[uu - u * u / area, uv - u * v / area], [uv - u * v / area, vv - v * v / area]])
    centre = origin + np.array([u, v]) / area @ axes
    return Mass(float(area), np.asarray(centre), np.asarray(axes.T @ flat @ axes))


def is_inside(mesh: Mesh, point: Sequence[float]) -> bool:
    """Whether a point (3,) mm lies inside a closed mesh: by the solid angle of its faces (van Oosterom and Strackee
    1983, "The solid angle of a plane triangle").
    """
    vertices, faces = mesh
    a, b, c = np.moveaxis((vertices - np.array(point))[faces], 1, 0)
    la, lb, lc = (np.linalg.norm(corner, axis=1) for corner in (a, b, c))
    det = np.einsum("ij,ij->i", a, np.cross(b, c))
    dots = [np.einsum("ij,ij->i", one, other) for one, other in ((a, b), (b, c), (c, a))]
    below = la * lb * lc + dots[0] * lc + dots[1] * la + dots[2] * lb
    return bool(2 * np.arctan2(det, below).sum() > 2 * np.pi)
