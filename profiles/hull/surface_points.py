"""Points on a surface between two stations: its vertices, and points along its edges and on its faces."""

import numpy as np

from profiles.arrays import Floats
from profiles.hull.surface import Surface

MOST = 5000
"""Vertices measured in a block; of more, every second, third and so on. In a block of 40 mm with a girth of 400 mm they
are less than 2 mm apart, and between them a hull of 100 mm radius bulges by 0.005 mm."""

STEP = 3.0
"""mm between points along mesh edges and on faces. On a coarse mesh both may leave a block between its vertices."""

MOST_SPREAD = 6000
"""Approximate limit of points on edges, and of points on faces, in a block of a coarse mesh."""

MOST_FINE = 800
"""The same where edges are shorter than STEP: neighbours are then about equally deep."""

SPREAD = (0.7548776662466927, 0.5698402909980532)
"""The fractional parts of multiples of these fill a square evenly (M. Roberts, 2018: powers of the inverse of the root
of x^3 = x + 1)."""


def vertices_between(surface: Surface, x_fore: float, x_aft: float) -> Floats:
    """Vertices (n, 3) mm of a surface between two stations but not on them: all, or about MOST of them."""
    x = surface.vertices[:, 0]
    margin = 1e-6 * (x_aft - x_fore)
    inside = np.flatnonzero((x > x_fore + margin) & (x < x_aft - margin))
    return np.asarray(surface.vertices[inside[:: -(-len(inside) // MOST) or 1]])


def points_on_edges(surface: Surface, x_fore: float, x_aft: float) -> Floats:
    """Points (n, 3) mm along the mesh edges between two stations, none on a vertex: one in the middle of a short edge,
    more on a long one. Of very many edges every second, third and so on is used.
    """
    margin = 1e-6 * (x_aft - x_fore)
    low, high = x_fore + margin, x_aft - margin
    faces = surface.faces[(surface.x_high > low) & (surface.x_low < high)]
    if not len(faces):
        return np.zeros((0, 3))
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    # An edge of a closed surface belongs to two faces, which run along it in opposite directions.
    edges = edges[edges[:, 0] < edges[:, 1]]
    start, end = surface.vertices[edges[:, 0]], surface.vertices[edges[:, 1]]
    length = np.sqrt(((end - start) ** 2).sum(axis=1))
    most = MOST_SPREAD if length.mean() > STEP else MOST_FINE
    every = -(-len(edges) // most) or 1
    start, end, edges = start[::every], end[::every], edges[::every]
    count = np.ceil(length[::every] / STEP).astype(np.int64)
    edge = np.repeat(np.arange(len(edges)), count)
    step = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    share = (step + 0.5) / count[edge]
    points = start[edge] + share[:, None] * (end[edge] - start[edge])
    points = points[(points[:, 0] > low) & (points[:, 0] < high)]
    return np.asarray(points[:: -(-len(points) // most) or 1])


def points_on_faces(surface: Surface, x_fore: float, x_aft: float) -> Floats:
    """Points (n, 3) mm on the mesh faces between two stations: one on a small face, more on a large one."""
    faces = surface.faces[(surface.x_high > x_fore) & (surface.x_low < x_aft)]
    faces = faces[:: -(-len(faces) // MOST_SPREAD) or 1]
    if not len(faces):
        return np.zeros((0, 3))
    a, b, c = (surface.vertices[corner] for corner in faces.T)
    area = np.sqrt((np.cross(b - a, c - a) ** 2).sum(axis=1)) / 2
    most = MOST_SPREAD if area.mean() > STEP**2 / 2 else MOST_FINE
    every = -(-len(faces) // most)
    a, b, c, area, faces = a[::every], b[::every], c[::every], area[::every], faces[::every]
    step = max(STEP**2, float(area.sum()) / most)
    face = np.repeat(np.arange(len(faces)), np.ceil(area / step).astype(np.int64))
    along, across = (np.arange(1, len(face) + 1)[:, None] * SPREAD % 1.0).T
    beyond = along + across > 1  # the other half of the parallelogram is turned onto the face
    along, across = np.where(beyond, 1 - along, along), np.where(beyond, 1 - across, across)
    points = a[face] + along[:, None] * (b - a)[face] + across[:, None] * (c - a)[face]
    return np.asarray(points[(points[:, 0] > x_fore) & (points[:, 0] < x_aft)])
