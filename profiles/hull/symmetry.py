"""Measure how much a surface differs from its mirror image, with samples that do not depend on the triangulation.

The samples also show where the bulk of the surface is: `spread` is an area-weighted standard deviation, so a mast or a
flying boat's wing, long but with little skin, is not taken for the hull.
"""

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.hull.surface import Surface, doubled_normals
from profiles.values import dataclass

SAMPLES = 2000
"""Points on the surface: on a slender hull about 2 % of the breadth apart, measured in well under 0.1 s."""

MIRRORED = 300
"""Samples whose mirror images are compared with the surface."""

NEIGHBOURS = 4
"""Nearest samples compared with each mirrored point. With fewer, a point near a chine or in a thin wall may find only
the wrong side."""

AT_ONCE = 50
"""Points whose distances to all samples are computed together: 1 MB, which stays in the processor's cache."""

ROUNDING = 1e-6
"""Share of the longest side within which a vertex equals the mirror image of another."""

SYMMETRIC = 0.03
"""Mean distance to the mirror image over the girth's spread; a body with less is symmetric. Bodies drawn symmetric
measure under 0.005, built symmetric by hand about 0.01; bow and stern, keel and deck differ by 0.1 or more."""


@dataclass(frozen=True, slots=True)
class Samples:
    """Points spread evenly over a surface."""

    points: Floats
    """(n, 3) mm."""
    normals: Floats
    """(n, 3) unit."""
    spacing: float
    """mm, approximately, between neighbours."""
    corners: Floats | None = None
    """(v, 3) mm, the vertices of the surface."""
    silhouette: Floats | None = None
    """(3,) mm2, half the area of all faces projected along each axis: the silhouette of a body without bays."""

    @property
    def centroid(self) -> Floats:
        """(3,) mm."""
        return np.asarray(self.points.mean(axis=0))

    @property
    def spread(self) -> Floats:
        """(3,) mm, standard deviation along each axis."""
        return np.asarray(self.points.std(axis=0))


def sample_surface(surface: Surface) -> Samples:
    """SAMPLES points, spread evenly by area in the order of the faces; the same points for the same surface."""
    double, shown = np.empty(len(surface.faces)), np.zeros(3)
    for part, _, normal in doubled_normals(surface.vertices, surface.faces):
        double[part] = np.sqrt((normal * normal).sum(axis=0))
        shown += np.abs(normal).sum(axis=1)
    total = np.cumsum(double)
    step = np.arange(SAMPLES) + 0.5
    face = np.searchsorted(total, step * (total[-1] / SAMPLES)).clip(max=len(total) - 1)
    # The plastic number's sequence (M. Roberts, 2018) fills each face evenly without random numbers.
    u, v = (step * 0.7548776662466927) % 1.0, (step * 0.5698402909980532) % 1.0
    outside = u + v > 1
    u, v = np.where(outside, 1 - u, u)[:, None], np.where(outside, 1 - v, v)[:, None]
    a, b, c = (surface.vertices[surface.faces[face, corner]] for corner in range(3))
    points = a + u * (b - a) + v * (c - a)
    normals = np.cross(b - a, c - a) / np.maximum(double[face], np.finfo(float).tiny)[:, None]
    return Samples(points, normals, float(np.sqrt(total[-1] / 2 / SAMPLES)), surface.vertices, shown / 4)


def asymmetry(samples: Samples, bounds: tuple[Floats, Floats]) -> Floats:
    """(3,) for each axis: mean distance between the surface and its mirror image, over the girth's spread.

    The mirror plane is in the middle of the bounds or at the samples' centroid, whichever fits better: an aerial on one
    side moves the former, a hatch on one side the latter.
    """
    result = np.array([asymmetry_about(samples, bounds, axis) for axis in range(3)])
    middle = (bounds[0] + bounds[1]) / 2
    for axis in np.flatnonzero(result >= SYMMETRIC).tolist():
        # In a body of many thin parts a neighbour may lie on another part; there the vertices decide.
        if _is_mirrored(samples.corners, axis, float(middle[axis])):
            result[axis] = 0.0
    return result


def asymmetry_about(samples: Samples, bounds: tuple[Floats, Floats], axis: int) -> float:
    """The same for one axis, by samples alone."""
    spread = np.sort(samples.spread)
    girth = float(np.sqrt(spread[0] * spread[1])) or float(spread[2])
    middle = float(bounds[0][axis] + bounds[1][axis]) / 2
    some = samples.points[:: max(1, SAMPLES // MIRRORED)]
    distances = []
    for place in {round(x, 9) for x in (middle, float(samples.centroid[axis]))}:
        image = some.copy()
        image[:, axis] = 2 * place - image[:, axis]
        distances.append(distance(image, samples))
    return min(distances) / girth


def _is_mirrored(corners: Floats | None, axis: int, middle: float) -> bool:
    """Whether the mirror image of vertices (v, 3) is the same set, except for rounding."""
    if corners is None or not len(corners):
        return False
    size = float(np.ptp(corners, axis=0).max())
    if abs(float(corners[:, axis].mean()) - middle) > ROUNDING * size:
        return False  # this excludes most bodies that are not symmetric
    grid = np.round((corners - corners.min(axis=0)) / (ROUNDING * size)).astype(np.int64)
    image = grid.copy()
    image[:, axis] = round((2 * middle - 2 * float(corners[:, axis].min())) / (ROUNDING * size)) - grid[:, axis]
    first, second = (part[np.lexsort(part.T)] for part in (grid, image))
    return bool((np.abs(first - second) <= 1).all())


def distance(points: Floats, samples: Samples) -> float:
    """Mean distance in mm from points (n, 3) to a sampled surface: to the nearest samples, or to their tangent planes
    if they are near.

    Every point is compared with every sample. A search tree takes longer to import than it saves on so few.
    """
    parts = np.split(points, range(AT_ONCE, len(points), AT_ONCE))
    near = np.concatenate([_nearest(part, samples.points) for part in parts])
    offset = points[:, None] - samples.points[near]
    straight = np.linalg.norm(offset, axis=2)
    across = np.abs(np.einsum("ijk,ijk->ij", offset, samples.normals[near]))
    return float(np.where(straight < 2 * samples.spacing, across, straight).min(axis=1).mean())


def _nearest(points: Floats, others: Floats) -> Ints:
    """(n, NEIGHBOURS) numbers of the other points nearest to each point."""
    # |point - other|^2 without the term of the point, which is the same for all others; from their middle, so that
    # little is lost to rounding.
    middle = others.mean(axis=0)
    far: Floats = (points - middle) @ (-2 * (others - middle).T)
    far += ((others - middle) ** 2).sum(axis=1)
    rows = np.arange(len(points))
    near = np.empty((len(points), NEIGHBOURS), dtype=np.int64)
    for place in range(NEIGHBOURS):  # a few searches for the least are quicker than a partition
        near[:, place] = far.argmin(axis=1)
        far[rows, near[:, place]] = np.inf
    return near
