"""A body that stands askew to its file's axes, turned straight by its plane of symmetry, or as asked.

The skin of a body with a plane of symmetry has one of its principal axes square to that plane, so that only three
planes need to be tried. Turning that axis into the nearest axis of the file takes out yaw and roll. Pitch leaves no
such trace: a sound hull's main axis may rise by a degree or more over its base line.
"""

from dataclasses import replace

import numpy as np

from profiles.arrays import Floats
from profiles.hull.surface import Surface, doubled_normals, transform
from profiles.hull.symmetry import SYMMETRIC, Samples, asymmetry, sample_surface
from profiles.hull.turns import turns_of
from profiles.notes import Note, assumption, fact

AXES = "xyz"

LEAST_TURN = 0.5
"""Degrees; a body is not turned by less: its builder would not see it."""

STRAIGHT = 0.008
"""Asymmetry up to which a body stands straight: half a degree of yaw on a slender hull gives 0.02."""

BETTER = 0.4
"""Of its asymmetry about the file's axes: a plane of symmetry must leave no more than this."""


def turn(surface: Surface, text: str) -> tuple[Surface, tuple[Note, ...]]:
    """The surface turned about the file's axes as asked, one turn after the other."""
    matrix = np.eye(3)
    for axis, degrees in turns_of(text):
        matrix = _rotation(np.eye(3)[AXES.index(axis)], float(np.radians(degrees))) @ matrix
    if np.array_equal(matrix, np.eye(3)):
        return surface, ()
    return _turned(surface, matrix), (fact(f"turned by {text.strip()} degrees about the file's axes, as asked"),)


def straighten(surface: Surface, samples: Samples, skew: Floats) -> tuple[Surface, tuple[Note, ...]]:
    """The surface with its plane of symmetry square to an axis of the file, where it stands askew and has one.

    `samples` and their asymmetry (3,) are the surface's. Nothing is turned into an axis about which the body is
    symmetric already.
    """
    if (skew <= STRAIGHT).all():
        return surface, ()
    best: tuple[float, Floats, float] | None = None
    for normal in _candidates(surface):
        axis = int(np.abs(normal).argmax())
        if skew[axis] <= STRAIGHT:
            continue
        angle = float(np.arccos(np.clip(abs(normal[axis]), -1.0, 1.0)))
        if np.degrees(angle) < LEAST_TURN:
            continue
        matrix = _unyaw_and_unroll(normal * np.sign(normal[axis]), axis, samples.spread)
        points, normals = samples.points @ matrix.T, samples.normals @ matrix.T
        turned = replace(samples, points=points, normals=normals, corners=None)
        left = float(asymmetry(turned, (points.min(axis=0), points.max(axis=0)))[axis])
        limit = min(SYMMETRIC, BETTER * float(skew[axis])) if best is None else BETTER * best[0]
        if left < limit:
            best = (left, matrix, angle)
    if best is None:
        return surface, ()
    _, matrix, angle = best
    text = (
        f"turned straight by {np.degrees(angle):.2f} degrees: the body's plane of symmetry stood askew to the file's "
        "axes. Override with --turn none, or turn it yourself: --turn z=10,x=2."
    )
    return _turned(surface, matrix), (assumption(text),)


def straighten_sampled(
    surface: Surface, samples: Samples, skew: Floats
) -> tuple[Surface, Samples, Floats, tuple[Note, ...]]:
    """As `straighten`, with the samples and the asymmetry of what comes out."""
    result, notes = straighten(surface, samples, skew)
    if notes:
        samples = sample_surface(result)
        skew = asymmetry(samples, result.bounds)
    return result, samples, skew, notes


def _unyaw_and_unroll(normal: Floats, across: int, spread: Floats) -> Floats:
    """(3, 3): the turn that takes a normal into the axis `across`: about the upright axis first, which takes out yaw,
    then about the length. Of the two other axes the length is that along which more skin is spread.
    """
    upright, length = sorted((axis for axis in range(3) if axis != across), key=lambda axis: (spread[axis], -axis))
    matrix = np.eye(3)
    for about, away in ((upright, length), (length, upright)):
        now = matrix @ normal
        flat = np.where(np.arange(3) == about, 0.0, now)
        towards = np.eye(3)[across]
        angle = float(np.arctan2(flat[away], flat[across]))
        # The turn about `about` that brings `away` into `across`.
        matrix = _rotation(np.cross(np.eye(3)[away], towards), angle) @ matrix
    return matrix


def _turned(surface: Surface, matrix: Floats) -> Surface:
    return transform(surface, matrix, np.zeros(3))


def _rotation(axis: Floats, angle: float) -> Floats:
    """(3, 3): a turn by an angle about an axis of any length (Rodrigues' formula)."""
    size = float(np.linalg.norm(axis))
    if not size:
        return np.eye(3)
    x, y, z = axis / size
    cross = np.array([(0.0, -z, y), (z, 0.0, -x), (-y, x, 0.0)])
    result: Floats = np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * (cross @ cross)
    return result


def _candidates(surface: Surface) -> Floats:
    """(5, 3) unit vectors: the level normals of planes that hold the longest principal axis, then all principal axes.

    Of a round body the shorter principal axes may point anywhere about the longest.
    """
    axes = _principal_axes(surface)
    longest = axes[-1]
    level = [np.cross(axis, longest) for k, axis in enumerate(np.eye(3)) if k != int(np.abs(longest).argmax())]
    return np.stack([*(normal / np.linalg.norm(normal) for normal in level), *axes])


def _principal_axes(surface: Surface) -> Floats:
    """(3, 3) unit vectors, in rows: the principal axes of the skin's area, exact for its triangles.

    The second moment of a triangle is its area over 12 times the sum of the products of its corners and of their sum.
    """
    low, high = surface.bounds
    middle, moment, first, total = (low + high)[:, None] / 2, np.zeros((3, 3)), np.zeros(3), 0.0
    places = np.ascontiguousarray(surface.vertices.T)
    for part, corner, normal in doubled_normals(surface.vertices, surface.faces):
        area = np.sqrt((normal * normal).sum(axis=0)) / 2
        one = corner - middle
        two, three = (places.take(surface.faces[part, k], axis=1) - middle for k in (1, 2))
        summed = one + two + three
        moment += sum((area * points) @ points.T for points in (one, two, three, summed)) / 12
        first += summed @ area / 3
        total += float(area.sum())
    return np.asarray(np.linalg.eigh(moment - np.outer(first, first) / total)[1].T)
