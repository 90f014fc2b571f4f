"""Shadows: the rim of triangles tells what they cover."""

import numpy as np
import pytest
import shapely

from profiles.arrays import Ints
from profiles.hull.silhouette import covered_region, rim

GRID = np.array([(x, y) for y in range(4) for x in range(4)], dtype=np.float64)


def squares(*corners: int) -> Ints:
    """Two triangles for each square of the grid, by its low left corner."""
    return np.array([face for n in corners for face in ((n, n + 1, n + 5), (n, n + 5, n + 4))])


def test_ring_of_squares_has_a_hole() -> None:
    """Eight unit squares round a missing one: 8 mm2, one hole, a rim of 12 + 4 edges."""
    faces = squares(0, 1, 2, 4, 6, 8, 9, 10)
    covered = covered_region(GRID, faces)
    assert covered.area == 8
    assert len(shapely.get_parts(covered)[0].interiors) == 1
    assert len(rim(faces, len(GRID))) == 16


def test_triangles_that_lie_over_each_other_cover_once() -> None:
    """The same square twice, and one overlapped by another that shares no point with it."""
    points = np.vstack([GRID, GRID + 0.5])
    faces = np.vstack([squares(0), squares(0), squares(0) + len(GRID)])
    assert covered_region(points, faces).area == pytest.approx(1.75)


def test_the_covered_region_is_the_union_of_the_triangles() -> None:
    """Random triangles, anticlockwise, against shapely's union of them one by one."""
    random = np.random.default_rng(8)
    points = random.uniform(0, 10, (60, 2))
    faces = np.array([random.choice(60, 3, replace=False) for _ in range(40)])
    one, two = points[faces[:, 1]] - points[faces[:, 0]], points[faces[:, 2]] - points[faces[:, 0]]
    back = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0] < 0
    faces[back] = faces[back, ::-1]
    union = shapely.union_all(shapely.polygons(points[faces]))
    assert shapely.symmetric_difference(covered_region(points, faces), union).area < 1e-9


def test_nothing_covers_nothing() -> None:
    """Triangles seen edge on cover nothing."""
    assert covered_region(np.array([(0.0, 0.0), (1.0, 1.0), (2.0, 2.0)]), np.array([(0, 1, 2)])).is_empty
