"""The triangles of a hull, where they are a closed surface round what its sections show."""

import numpy as np

from profiles.hull.edges import CLEAN, edge_table
from profiles.hull.frame import Hull
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.surface import Mesh, Surface


def closed_mesh(hull: Hull) -> Mesh | None:
    """Vertices (n, 3) mm in the hull frame and faces (m, 3) of a closed hull.

    None where the shape is not a mesh, or where the mesh is open, is filled to a plug, or may overlap itself: then only
    sections say where there is foam.
    """
    if not isinstance(hull.shape, MeshShape):
        return None
    surface = hull.shape.surface
    if hull.volume_from == "mesh" or (not surface.rules.solid and _are_apart(surface) and _is_closed(surface)):
        return surface.vertices, surface.faces
    return None


def _is_closed(surface: Surface) -> bool:
    return bool((edge_table(surface.faces, len(surface.vertices)).count == CLEAN).all())


def _are_apart(surface: Surface) -> bool:
    """Whether there are several bodies, with a plane between any two of them: two hulls side by side."""
    numbers = np.unique(surface.body)
    boxes = []
    for number in numbers:
        points = surface.vertices[surface.faces[surface.body == number]].reshape(-1, 3)
        boxes.append((points.min(axis=0), points.max(axis=0)))
    low, high = (np.array(corner) for corner in zip(*boxes, strict=True))
    meets = ((low[:, None] <= high[None]) & (low[None] <= high[:, None])).all(axis=2)
    return len(numbers) > 1 and int(meets.sum()) == len(numbers)
