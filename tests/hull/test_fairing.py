"""Fair lines: exact at the points, straight where they are, sharp at corners, of fourth order elsewhere."""

from collections.abc import Callable

import numpy as np
import pytest

from profiles.arrays import Floats
from profiles.hull.fairing import FairLine, fair


def draw(line: FairLine) -> Floats:
    return np.concatenate([line.at(piece, np.linspace(0, 1, 101)) for piece in range(len(line.chords))])


def arc(n: int) -> tuple[Floats, Callable[[Floats], Floats]]:
    """A quarter of a circle of 50 mm, and the distance from it."""
    angle = np.linspace(0, np.pi / 2, n)
    return 50 * np.column_stack([np.cos(angle), np.sin(angle)]), lambda points: np.hypot(*points.T) - 50


def wave(n: int) -> tuple[Floats, Callable[[Floats], Floats]]:
    """Half a sine, 600 mm long and 50 mm high, and the distance from it along y."""

    def height(x: Floats) -> Floats:
        return np.asarray(50 * np.sin(np.pi * x / 600))

    x = np.linspace(0, 600, n)
    return np.column_stack([x, height(x)]), lambda points: points[:, 1] - height(points[:, 0])


@pytest.mark.parametrize("curve", [arc, wave])
def test_a_line_through_points_of_a_smooth_curve_is_of_fourth_order(
    curve: Callable[[int], tuple[Floats, Callable[[Floats], Floats]]],
) -> None:
    """Chordal cubic splines are of fourth order (Floater 2006): half the spacing leaves a sixteenth of the error."""
    errors = []
    for n in (11, 21, 41):
        points, off = curve(n)
        errors.append(np.abs(off(draw(fair(points)))).max())
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert (orders > 3.8).all(), orders


def test_a_line_passes_its_points() -> None:
    """To the last digit: a table is met exactly."""
    points = np.random.default_rng(3).uniform(0, 100, (9, 3)).cumsum(axis=0)
    line = fair(points)
    assert np.array_equal([line.at(piece, np.array([0.0]))[0] for piece in range(8)], points[:-1])
    assert np.array_equal([line.at(piece, np.array([1.0]))[0] for piece in range(8)], points[1:])


def test_a_corner_is_sharp_and_what_is_beside_it_does_not_feel_it() -> None:
    """Two quarter circles that meet at a right angle are as round as each alone."""
    angle = np.linspace(0, np.pi / 2, 9)
    one = 50 * np.column_stack([np.sin(angle), np.cos(angle)])
    other = np.array([50.0, 0.0]) + 50 * np.column_stack([1 - np.cos(angle), np.sin(angle)])
    corners = np.zeros(17, dtype=bool)
    corners[8] = True
    line = fair(np.concatenate([one, other[1:]]), corners)
    alone = fair(one)
    assert np.allclose(line.end[7], alone.end[7], atol=1e-12)
    assert line.end[7] @ line.start[8] == pytest.approx(-1.0, abs=0.01)  # down the one, and up the other


def test_straight_runs_stay_straight_and_what_joins_them_leaves_along_them() -> None:
    """Four points in line, then a bend: the line is exact between the four, and its slope is theirs at the last."""
    points = np.array([[0, 10], [30, 10], [50, 10], [90, 10], [120, 14], [150, 25], [170, 40]], dtype=float)
    line = fair(points)
    assert np.abs(draw(line)[:303, 1] - 10.0).max() < 1e-12
    assert np.allclose(line.start[3], [1.0, 0.0], atol=1e-12)
    assert np.allclose(line.start[4], line.end[3], atol=1e-12)


def test_a_line_that_changes_its_bend_where_three_points_are_in_line_is_not_made_straight() -> None:
    """A sine through its zero: three points are in line by symmetry, and the line stays a sine of fourth order."""
    x = np.linspace(-300, 300, 13)
    line = fair(np.column_stack([x, 50 * np.sin(np.pi * x / 600)]))
    points = draw(line)
    assert np.abs(points[:, 1] - 50 * np.sin(np.pi * points[:, 0] / 600)).max() < 0.005


def test_steps_do_not_overshoot() -> None:
    """Where the points never fall, the line never does, and it stays between its least and its greatest."""
    y = np.array([0, 0, 0.5, 9.5, 10, 10], dtype=float)
    line = fair(np.column_stack([np.arange(6) * 10.0, y]))
    points = draw(line)
    assert np.diff(points[:, 1]).min() > -1e-9
    assert points[:, 1].max() <= 10 + 1e-9


def test_a_bulge_between_equal_points_is_no_overshoot() -> None:
    """A parabola's greatest breadth may lie between two stations: 50 (1 - u^2) at u = +-1/9 is exceeded there."""
    u = np.linspace(-1, 1, 10)
    points = draw(fair(np.column_stack([500 * u, 50 * (1 - u**2)])))
    assert points[:, 1].max() == pytest.approx(50.0, abs=0.01)


def test_a_line_is_met_at_a_place_along_it() -> None:
    """A parabola y = x^2 / 100 at x = 33.3 (closed form); beyond its ends the ends."""
    x = np.linspace(0, 100, 21)
    line = fair(np.column_stack([x, x**2 / 100]))
    assert line.at_first(33.3) == pytest.approx([33.3, 33.3**2 / 100], abs=2e-4)
    assert line.at_first(-5.0).tolist() == [0.0, 0.0]
    assert line.at_first(105.0).tolist() == [100.0, 100.0]
