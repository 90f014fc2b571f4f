"""Uneven walls are made square, so that both limits of a section there are exact."""

import numpy as np
import pytest

from profiles.hull.sections import Side, section
from profiles.hull.surface import surface_of
from profiles.hull.walls import UNEVEN, square_walls
from tests import closed_forms as zoo


def refined_stepped_box(noise: float) -> tuple[zoo.Floats, zoo.Ints]:
    """The stepped box with every corner moved along x by up to `noise`, mm."""
    vertices, faces = zoo.stepped_box()
    shake = np.random.default_rng(1).uniform(-noise, noise, len(vertices))
    return vertices + np.column_stack([shake, np.zeros((len(vertices), 2))]), faces


def test_wall_scattered_by_rounding_is_made_square_and_told() -> None:
    """Corners of a step and of both ends scattered by 1e-4 mm come to one x each, and both limits are exact again."""
    squared, notes = square_walls(surface_of(*refined_stepped_box(1e-4)))
    assert len(notes) == 3
    step = float(np.median(squared.vertices[np.abs(squared.vertices[:, 0] - 55) < 1, 0]))
    fore, aft = zoo.stepped_box_areas(55.0)
    assert section(squared, step, Side.FORE).region.area == pytest.approx(fore)
    assert section(squared, step, Side.AFT).region.area == pytest.approx(aft)
    end = float(squared.vertices[:, 0].max())
    assert section(squared, end, Side.FORE).region.area == pytest.approx(60 * 31)


def test_even_walls_and_round_ends_are_left_alone() -> None:
    """A clean box and a finely meshed spheroid come back as the same value."""
    for mesh in (zoo.stepped_box(), zoo.spheroid(rings=200, sides=60)):
        surface = surface_of(*mesh)
        assert square_walls(surface) == (surface, ())


def test_wall_more_uneven_than_rounding_is_not_touched() -> None:
    """A wall that leans is the hull's own shape."""
    surface = surface_of(*refined_stepped_box(20 * UNEVEN))
    assert square_walls(surface)[0] is surface
