"""Square up walls across the hull (a transom, a step, a bulkhead) that rounding has left uneven.

The section just before or behind a wall is exact only when all corners of the wall have the same x. In files in metres
with 32-bit numbers they differ by some 1e-4 mm, and a plane would then cut through the wall itself.
"""

from dataclasses import replace

import numpy as np

from profiles.hull.surface import Surface, sort_faces, surface_of
from profiles.notes import Note, repair

UNEVEN = 0.005
"""mm; corners of a wall that differ by less get the same x. Ten times the rounding of 32-bit numbers at 10 m written in
metres, and far below what a wire or a rule can show."""

SQUARE_ON = 0.999
"""Cosine of the angle to the length; a face with at least this much can belong to a wall."""

WALL = 0.01
"""Share of breadth x depth; less area in one plane is the rounding of a nose or tail and must not be flattened."""


def square_walls(surface: Surface) -> tuple[Surface, tuple[Note, ...]]:
    """The surface with uneven walls made square, and a note for each. Even walls stay as they are."""
    level = np.flatnonzero(surface.x_high - surface.x_low <= UNEVEN)
    a, b, c = (surface.vertices[surface.faces[level, corner]] for corner in range(3))
    normal = np.cross(b - a, c - a) / 2
    across = np.abs(normal[:, 0])
    square_on = across >= SQUARE_ON * np.linalg.norm(normal, axis=1)
    level, across = level[square_on], across[square_on]
    if not (surface.x_high > surface.x_low)[level].any():
        return surface, ()
    ascending = np.argsort(surface.x_low[level], kind="stable")
    order, across = level[ascending], across[ascending]
    wall = np.concatenate([[0], np.cumsum(np.diff(surface.x_low[order]) > UNEVEN)])
    low, high = surface.bounds
    least = WALL * float(np.prod((high - low)[1:]))
    vertices = surface.vertices.copy()
    notes = []
    for number in np.flatnonzero(np.bincount(wall, across) > least):
        corners = np.unique(surface.faces[order[wall == number]])
        x = vertices[corners, 0]
        spread = float(np.ptp(x))
        if not 0 < spread <= 2 * UNEVEN:
            continue
        square = low[0] if x.min() == low[0] else high[0] if x.max() == high[0] else np.median(x)
        vertices[corners, 0] = square
        text = f"squared the wall at x = {square:.2f} mm, which was uneven by {spread:.1g} mm"
        notes.append(repair(text, float(square)))
    if not notes:
        return surface, ()
    squared = surface_of(vertices, surface.faces, surface.body, surface.open_edges, surface.rules)
    squared = replace(squared, whole=surface.whole)
    return sort_faces(squared) if surface.order else squared, tuple(notes)
