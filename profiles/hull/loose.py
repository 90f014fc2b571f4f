"""Small loose things in a hull's file, such as fittings, propellers and figures, left out of the body to cut."""

from collections.abc import Sequence

import numpy as np

from profiles.arrays import Bools, Floats, Ints
from profiles.hull.bodies import INSIDE, body_count, winding_about
from profiles.hull.repair import choose_bodies
from profiles.hull.settings import MOST_BODIES
from profiles.hull.surface import Surface
from profiles.notes import Note, assumption, fact

SMALL = 0.02
"""Of the largest body's volume: what is smaller may be a fitting."""

APART = 0.001
"""Of the hull's longest side: things this near to each other touch."""

MOST_POINTS = 400
"""Corners of a small body that are measured, picked evenly."""

AT_ONCE = 4000
"""Points times triangles that are measured together: fast, and few enough to stop early."""

MOST_LISTED = 6
"""Small bodies that the note names one by one."""


def leave_out_loose(surface: Surface) -> tuple[Surface, tuple[Note, ...]]:
    """The surface without the bodies that hold under SMALL of the largest one's volume and touch neither it nor any
    other body that stays; they are listed with number and size. Bodies keep their numbers. More than MOST_BODIES are
    pieces of a damaged file rather than fittings, and all stay.
    """
    if body_count(surface) == 1:
        return surface, ()
    numbers = np.unique(surface.body)
    if len(numbers) > MOST_BODIES:
        return surface, (fact(f"{len(numbers)} bodies: too many to look for loose ones among them"),)
    volumes = _volumes(surface, numbers)
    small = [int(n) for n, volume in zip(numbers, volumes, strict=True) if volume < SMALL * volumes.max()]
    if not small:
        return surface, ()
    low, high = surface.bounds
    near = APART * float((high - low).max())
    kept = [int(n) for n in numbers if int(n) not in small]
    corners = {int(n): surface.vertices[surface.faces[surface.body == n]] for n in numbers}
    boxes = {n: np.stack([c.min(axis=(0, 1)) - near, c.max(axis=(0, 1)) + near]) for n, c in corners.items()}
    waiting, fresh = list(small), list(kept)
    while fresh and waiting:
        # (fresh, 3): the boxes are compared all at once, as a damaged file may hold thousands of bodies.
        lows, highs = np.stack([boxes[k] for k in fresh], axis=1)
        touching = []
        for n in waiting:
            meets = np.flatnonzero(((lows <= boxes[n][1]) & (highs >= boxes[n][0])).all(axis=1))
            if any(_touch(corners[n], corners[fresh[k]], near) for k in meets):
                touching.append(n)
        waiting = sorted(set(waiting) - set(touching))
        kept += touching
        fresh = touching
    if not waiting:
        return surface, ()
    return choose_bodies(surface, tuple(sorted(kept))), (_note(waiting, corners),)


def _volumes(surface: Surface, numbers: Ints) -> Floats:
    """(n,) mm3 of each body, each measured from its own middle; open ones about so."""
    result = np.empty(len(numbers))
    for index, number in enumerate(numbers):
        corners = surface.vertices[surface.faces[surface.body == number]]
        a, b, c = np.moveaxis(corners - corners.reshape(-1, 3).mean(axis=0), 1, 0)
        result[index] = abs(float(np.einsum("ij,ij->", a, np.cross(b, c)))) / 6
    return result


def _touch(small: Floats, other: Floats, near: float) -> bool:
    """Whether triangles (m, 3, 3) of a small body come within `near` mm of others (k, 3, 3), or lie inside them."""
    low, high = small.min(axis=(0, 1)) - near, small.max(axis=(0, 1)) + near
    if (other.min(axis=(0, 1)) > high).any() or (other.max(axis=(0, 1)) < low).any():
        return False
    points = np.unique(small.reshape(-1, 3), axis=0)
    points = np.concatenate([points, small.mean(axis=1)])
    points = points[np.linspace(0, len(points) - 1, min(len(points), MOST_POINTS)).round().astype(np.int64)]
    beside = other[((other.min(axis=1) <= high) & (other.max(axis=1) >= low)).all(axis=1)]
    if _come_near(points, beside, near):
        return True
    # A corner of the other may stand in a large face of the small one.
    inner = np.unique(beside.reshape(-1, 3), axis=0)
    inner = inner[((inner >= low) & (inner <= high)).all(axis=1)][:MOST_POINTS]
    if _come_near(inner, small, near):
        return True
    return abs(float(winding_about(points[:1], other)[0])) > INSIDE


def _come_near(points: Floats, corners: Floats, near: float) -> bool:
    """Whether one of the points (n, 3) lies within `near` mm of one of the triangles (m, 3, 3)."""
    if not len(points) or not len(corners):
        return False
    together = max(1, AT_ONCE // len(corners))
    return any(
        bool((_distances(points[first : first + together], corners) <= near).any())
        for first in range(0, len(points), together)
    )


def _distances(points: Floats, corners: Floats) -> Floats:
    """(n * m,) mm from points (n, 3) to triangles (m, 3, 3): over their planes where the foot of the point lies inside
    them, else to their edges.
    """
    a, b, c = np.moveaxis((corners[None] - points[:, None, None]).reshape(-1, 3, 3), 1, 0)
    normal = np.cross(b - a, c - a)
    length = np.linalg.norm(normal, axis=1)
    inside: Bools = length > 0
    nearest = np.full(len(a), np.inf)
    for start, end in ((a, b), (b, c), (c, a)):
        along = end - start
        square = np.maximum((along * along).sum(axis=1), np.finfo(float).tiny)
        share = np.clip(-(start * along).sum(axis=1) / square, 0.0, 1.0)
        nearest = np.minimum(nearest, np.linalg.norm(start + share[:, None] * along, axis=1))
        inside &= (np.cross(along, -start) * normal).sum(axis=1) >= 0
    above = np.abs((a * normal).sum(axis=1)) / np.maximum(length, np.finfo(float).tiny)
    return np.asarray(np.where(inside, np.minimum(above, nearest), nearest))


def _note(left_out: Sequence[int], corners: dict[int, Floats]) -> Note:
    sizes = {n: np.ptp(corners[n].reshape(-1, 3), axis=0) for n in left_out[:MOST_LISTED]}
    words = [f"{n} ({' x '.join(f'{side:.4g}' for side in size)} mm in the file)" for n, size in sizes.items()]
    more = f" and {len(left_out) - MOST_LISTED} more" if len(left_out) > MOST_LISTED else ""
    what = "one small body that touches" if len(left_out) == 1 else f"{len(left_out)} small bodies that touch"
    return assumption(f"left out {what} nothing else: {', '.join(words)}{more}. Keep them with --all-bodies.")
