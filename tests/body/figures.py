"""Bodies and figures that several tests of weight and flotation share."""

import math
from typing import Any

import numpy as np
import numpy.typing as npt
import trimesh

from profiles.arrays import Floats, Ints
from profiles.body.waterplane import WaterPlane
from tests import closed_forms as zoo

Mesh = tuple[Floats, Ints]

BARGE = (150.0, 24.0, 5.0)
"""Length, breadth and draught of a box barge: KB 2.5, BM 9.6, KM 12.1 (Barrass & Derrett, Ship Stability for Masters
and Mates)."""


def barge(depth: float = 20.0) -> Mesh:
    """The box barge with its keel at z = 0."""
    return zoo.box(BARGE[0], BARGE[1], depth)


def vee(length: float = 100.0, breadth: float = 40.0, depth: float = 30.0) -> Mesh:
    """A prism with the point of its triangular section down at z = 0."""
    return zoo.prism([(0.0, 0.0), (breadth / 2, depth), (-breadth / 2, depth)], 0.0, length)


def wall_sided(x: Floats, half: Floats, depth: float = 10.0) -> Mesh:
    """A body with vertical sides at the half-breadths (n,) at x (n,), from z = 0 up.

    Where they are negative it is inside out, and integrals over it are negative, as in the rule.
    """
    rings = np.stack([[(-y, 0.0), (y, 0.0), (y, depth), (-y, depth)] for y in half.tolist()])
    return zoo.loft(x, rings)


def parabolas(values: npt.ArrayLike, step: float, fine: int = 60) -> tuple[Floats, Floats]:
    """Points of the parabola through each three of the values (n odd), `step` apart: what Simpson's first rule adds."""
    known = np.asarray(values, dtype=np.float64)
    x = np.linspace(0.0, step * (len(known) - 1), fine * (len(known) - 1) + 1)
    y = np.empty_like(x)
    for k in range(0, len(known) - 2, 2):
        part = slice(fine * k, fine * (k + 2) + 1)
        y[part] = np.polyval(np.polyfit([-1.0, 0.0, 1.0], known[k : k + 3], 2), x[part] / step - k - 1)
    return x, y


def under_water(mesh: Mesh, plane: WaterPlane) -> Floats:
    """(k, 3, 3) the triangles of a mesh under a plane, cut by another library."""
    up = np.array(plane.up)
    cut: Any = trimesh.intersections.slice_faces_plane
    vertices, faces, _ = cut(mesh[0], mesh[1], -up, up * plane.height)
    return np.asarray(vertices[faces])


def pressure(triangles: Floats, plane: WaterPlane, about: Floats) -> tuple[Floats, Floats]:
    """(3,) force and (3,) moment of the water's pressure on triangles under it, for water of weight 1 per mm3.

    Pressure is linear over a triangle, so Gauss's rule with its three edge middles is exact for force and moment.
    """
    up = np.array(plane.up)
    a, b, c = np.moveaxis(triangles, 1, 0)
    normal = np.cross(b - a, c - a) / 2
    force, moment = np.zeros(3), np.zeros(3)
    for middle in ((a + b) / 2, (b + c) / 2, (c + a) / 2):
        depth = plane.height - middle @ up
        push = -normal * depth[:, None] / 3
        force += push.sum(axis=0)
        moment += np.cross(middle - about, push).sum(axis=0)
    return force, moment


def rotation(axis: tuple[float, float, float], degrees: float) -> Floats:
    """(3, 3) turn about an axis (Rodrigues)."""
    x, y, z = np.array(axis) / np.linalg.norm(axis)
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    angle = math.radians(degrees)
    return np.asarray(np.eye(3) + math.sin(angle) * cross + (1 - math.cos(angle)) * cross @ cross)
