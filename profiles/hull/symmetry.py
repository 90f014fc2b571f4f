"""How far a surface is from being its own mirror image, measured with samples that do not depend on the triangles.

The same samples show where the bulk of the surface lies: spread is an area-weighted standard deviation, so that a mast
or a flying boat's wing, which is long but has little skin, is not taken for the hull.
"""

from dataclasses import dataclass

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.hull.surface import Surface, doubled_normals

SAMPLES = 2000
"""Points on the surface: some 2 % of the breadth apart on a slender hull, and measured in well under 0.1 s."""

MIRRORED = 300
"""Of them mirrored and looked for on the other side."""

NEIGHBOURS = 4
"""Samples compared with each mirrored point; with fewer a point near a chine, or in a thin wall, may meet only the
other side of it."""

AT_ONCE = 50
"""Points whose distances to all samples are worked out together: 1 MB, which stays near the processor."""

ROUNDING = 1e-6
"""Of the longest side: vertices this near to the image of others are that image."""

SYMMETRIC = 0.03
"""Mean distance to the mirror image over the girth's spread below which a body is symmetric. Drawn symmetric it
measures under 0.005 here, built symmetric by hand about 0.01; bow and stern, keel and deck differ by 0.1 or more."""


@dataclass(frozen=True, slots=True)
class Samples:
    """Points spread evenly over a surface."""

    points: Floats
    """(n, 3) mm."""
    normals: Floats
    """(n, 3) unit."""
    spacing: float
    """mm, roughly, from one to the next."""
    corners: Floats | None = None
    """(v, 3) mm, the surface's own vertices."""
    silhouette: Floats | None = None
    """(3,) mm2, half of what all faces show along each axis: what a body without bays shows there."""

    @property
    def centroid(self) -> Floats:
        """(3,) mm."""
        return np.asarray(self.points.mean(axis=0))

    @property
    def spread(self) -> Floats:
        """(3,) mm, standard deviation along each axis."""
        return np.asarray(self.points.std(axis=0))


def sample_surface(surface: Surface) -> Samples:
    """SAMPLES points, evenly by area in the order of the faces; the same surface always gives the same points."""
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

    The mirror stands in the middle of the bounds or at the samples' centroid, whichever fits better: an aerial on one
    side moves the one, a hatch on one side the other.
    """
    spread = np.sort(samples.spread)
    girth = float(np.sqrt(spread[0] * spread[1])) or float(spread[2])
    middle = (bounds[0] + bounds[1]) / 2
    some = samples.points[:: max(1, SAMPLES // MIRRORED)]
    result = np.empty(3)
    for axis in range(3):
        found = []
        for at in {round(float(place), 9) for place in (middle[axis], samples.centroid[axis])}:
            image = some.copy()
            image[:, axis] = 2 * at - image[:, axis]
            found.append(distance(image, samples))
        result[axis] = min(found) / girth
        # In a body of many thin parts a sample's neighbour may be on another part; its vertices decide.
        if result[axis] >= SYMMETRIC and _is_mirrored(samples.corners, axis, float(middle[axis])):
            result[axis] = 0.0
    return result


def _is_mirrored(corners: Floats | None, axis: int, middle: float) -> bool:
    """Whether vertices (v, 3) are their own mirror image, except for rounding."""
    if corners is None or not len(corners):
        return False
    size = float(np.ptp(corners, axis=0).max())
    if abs(float(corners[:, axis].mean()) - middle) > ROUNDING * size:
        return False  # most bodies that are not symmetric end here
    grid = np.round((corners - corners.min(axis=0)) / (ROUNDING * size)).astype(np.int64)
    image = grid.copy()
    image[:, axis] = round((2 * middle - 2 * float(corners[:, axis].min())) / (ROUNDING * size)) - grid[:, axis]
    first, second = (part[np.lexsort(part.T)] for part in (grid, image))
    return bool((np.abs(first - second) <= 1).all())


def distance(points: Floats, samples: Samples) -> float:
    """Mean distance, mm, from points (n, 3) to a sampled surface: to the nearest samples, or the tangent planes there
    where they are near.

    Every point is compared with every sample; a search tree would save nothing on so few and takes long to import.
    """
    parts = np.split(points, range(AT_ONCE, len(points), AT_ONCE))
    near = np.concatenate([_nearest(part, samples.points) for part in parts])
    offset = points[:, None] - samples.points[near]
    straight = np.linalg.norm(offset, axis=2)
    across = np.abs(np.einsum("ijk,ijk->ij", offset, samples.normals[near]))
    return float(np.where(straight < 2 * samples.spacing, across, straight).min(axis=1).mean())


def _nearest(points: Floats, others: Floats) -> Ints:
    """(n, NEIGHBOURS) which of the other points lie nearest to each point."""
    far: Floats = np.zeros((len(points), len(others)))
    for axis in range(3):
        far += (points[:, axis, None] - others[:, axis]) ** 2
    rows = np.arange(len(points))
    near = np.empty((len(points), NEIGHBOURS), dtype=np.int64)
    for place in range(NEIGHBOURS):  # a few searches for the least are quicker than one that puts all in parts
        near[:, place] = far.argmin(axis=1)
        far[rows, near[:, place]] = np.inf
    return near
