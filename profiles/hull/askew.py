"""A body that stands askew to its file's axes, turned straight by its plane of symmetry, or as asked.

The skin of a body with a plane of symmetry has one of its principal axes square to that plane, so that only three
planes need to be tried. Turning that axis into the nearest axis of the file takes out yaw and roll. Pitch leaves no
such trace: a sound hull's main axis may rise by a degree or more over its base line.
"""

from dataclasses import replace

import numpy as np

from profiles.arrays import Floats
from profiles.hull.surface import Surface, doubled_normals, transform
from profiles.hull.symmetry import SYMMETRIC, Samples, asymmetry, asymmetry_about, sample_surface
from profiles.hull.turns import turns_of
from profiles.notes import Note, assumption, fact

AXES = "xyz"

LEAST_TURN = 0.5
"""Degrees; a body is not turned by less: its builder would not see it."""

STRAIGHT = 0.008
"""Asymmetry up to which a body stands straight: half a degree of yaw on a slender hull gives 0.02."""

BETTER = 0.4
"""Of its asymmetry about the file's axes: a plane of symmetry must leave no more than this."""

DRAWN = 0.005
"""Asymmetry up to which a body was drawn symmetric, and its principal axis is exact."""

HALFWAY = 0.95
"""Least share of the length of a normal's upright part: one just as far from level as from upright was level."""

STEP = 1.0
"""Degrees; how far from its principal axis the normal of a plane of symmetry is looked for at first."""

FINEST = 0.05
"""Degrees; samples show no less."""

HARDLY = 0.5
"""Of the asymmetry: a normal that leaves more is no better than the principal axis."""


def turn(surface: Surface, text: str) -> tuple[Surface, Floats, tuple[Note, ...]]:
    """The surface turned about the file's axes as asked, one turn after the other, and the turn (3, 3)."""
    matrix = np.eye(3)
    for axis, degrees in turns_of(text):
        matrix = rotation(np.eye(3)[AXES.index(axis)], float(np.radians(degrees))) @ matrix
    if np.array_equal(matrix, np.eye(3)):
        return surface, matrix, ()
    return (
        _turned(surface, matrix),
        matrix,
        (fact(f"turned by {text.strip()} degrees about the file's axes, as asked"),),
    )


def straighten(
    surface: Surface, samples: Samples, skew: Floats, up_hint: str | None = None
) -> tuple[Surface, Floats, tuple[Note, ...]]:
    """The surface with its plane of symmetry square to an axis of the file, where it stands askew and has one; the turn
    (3, 3); and a note.

    `samples` and their asymmetry (3,) are the surface's. Nothing is turned into an axis about which the body is
    symmetric already. `up_hint` is the axis that the file declares to be up.
    """
    if (skew <= STRAIGHT).all():
        return surface, np.eye(3), ()
    # Rolled by 45 degrees: the body is turned back, not on over its side.
    level = np.where(np.arange(3) == AXES.index(up_hint or "z"), HALFWAY, 1.0)
    best: tuple[float, Floats, int] | None = None
    for normal in _candidates(surface):
        axis = int((np.abs(normal) * level).argmax())
        if skew[axis] <= STRAIGHT or _degrees(normal, axis) < LEAST_TURN:
            continue
        left = _asymmetry_left(samples, normal, axis)
        limit = min(SYMMETRIC, BETTER * float(skew[axis])) if best is None else BETTER * best[0]
        if left < limit:
            best = (left, normal, axis)
    if best is None:
        return surface, np.eye(3), ()
    left, normal, axis = best
    if left > DRAWN:
        normal = _refine(samples, normal, axis, left)
    text = (
        f"turned straight by {_degrees(normal, axis):.2f} degrees: the body's plane of symmetry stood askew to the "
        "file's axes. Override with --turn none, or turn it yourself: --turn z=10,x=2."
    )
    matrix = _unyaw_and_unroll(normal, axis, samples.spread)
    return _turned(surface, matrix), matrix, (assumption(text),)


def _degrees(normal: Floats, axis: int) -> float:
    """The angle between a unit normal and an axis."""
    return float(np.degrees(np.arccos(np.clip(abs(normal[axis]), -1.0, 1.0))))


def _asymmetry_left(samples: Samples, normal: Floats, axis: int) -> float:
    """The asymmetry of a body that is turned until a normal lies in an axis."""
    matrix = _unyaw_and_unroll(normal, axis, samples.spread)
    points, normals = samples.points @ matrix.T, samples.normals @ matrix.T
    turned = replace(samples, points=points, normals=normals, corners=None)
    return asymmetry_about(turned, (points.min(axis=0), points.max(axis=0)), axis)


def _refine(samples: Samples, normal: Floats, axis: int, left: float) -> Floats:
    """The normal near the given one that leaves least asymmetry; the given one where that is hardly better.

    A body that is not drawn exactly symmetric, such as a fish that was modelled freely, has a principal axis that is
    off its plane of symmetry by a degree or so.
    """
    best, least, step = normal, left, STEP
    ways = np.eye(3)[np.arange(3) != axis]
    while step > FINEST:
        moved = [best + np.radians(step) * sign * way for way in ways for sign in (1, -1)]
        tried = [near / np.linalg.norm(near) for near in moved]
        values = [_asymmetry_left(samples, near, axis) for near in tried]
        if min(values) < least:
            best, least = tried[int(np.argmin(values))], min(values)
        else:
            step /= 2
    return best if least < HARDLY * left else normal


def straighten_sampled(
    surface: Surface, samples: Samples, skew: Floats, up_hint: str | None = None
) -> tuple[Surface, Samples, Floats, Floats, tuple[Note, ...]]:
    """As `straighten`, with the samples and the asymmetry of what comes out after the surface."""
    result, matrix, notes = straighten(surface, samples, skew, up_hint)
    if notes:
        samples = sample_surface(result)
        skew = asymmetry(samples, result.bounds)
    return result, samples, skew, matrix, notes


def _unyaw_and_unroll(normal: Floats, across: int, spread: Floats) -> Floats:
    """(3, 3): the turn that takes a normal or its opposite into the axis `across`: about the upright axis first, which
    takes out yaw, then about the length. Of the two other axes the length is that along which more skin is spread.
    """
    upright, length = sorted((axis for axis in range(3) if axis != across), key=lambda axis: (spread[axis], -axis))
    normal = normal * np.sign(normal[across])
    matrix = np.eye(3)
    for about, away in ((upright, length), (length, upright)):
        now = matrix @ normal
        flat = np.where(np.arange(3) == about, 0.0, now)
        towards = np.eye(3)[across]
        angle = float(np.arctan2(flat[away], flat[across]))
        # The turn about `about` that brings `away` into `across`.
        matrix = rotation(np.cross(np.eye(3)[away], towards), angle) @ matrix
    return matrix


def _turned(surface: Surface, matrix: Floats) -> Surface:
    return transform(surface, matrix, np.zeros(3))


def rotation(axis: Floats, angle: float) -> Floats:
    """(3, 3): a turn by an angle in radians about an axis of any length (Rodrigues' formula)."""
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
