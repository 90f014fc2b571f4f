import numpy as np
import pytest

from profiles.paper.bars import DEPTH, LONG, SHORT, SNAP, scale_bar
from profiles.paper.correction import Correction
from profiles.paper.cover import Heading, cover_panels
from profiles.units import MM_PER_IN, PT_PER_MM, PrintUnit, print_lengths_in

SIZES = pytest.mark.parametrize("size", [SHORT, LONG])
DIRECTIONS = pytest.mark.parametrize("across", [True, False])


@SIZES
@DIRECTIONS
def test_rulers_are_as_long_as_they_say(size: tuple[int, int], *, across: bool) -> None:
    """The two combs are 100 mm and 4 in, or 150 mm and 6 in, long (1 in = 25.4 mm, ISO 80000-3)."""
    bar = scale_bar(30.0, 250.0, size, across=across)
    lengths = [np.ptp(stroke.points[:, 0 if across else 1]) for stroke in bar.strokes]
    assert lengths == pytest.approx([size[0], size[1] * MM_PER_IN], abs=1e-12)


@SIZES
def test_every_millimetre_and_sixteenth_has_a_division(size: tuple[int, int]) -> None:
    """Division tips stand at every whole mm and every 1/16 in, and nowhere else."""
    for stroke, step in zip(scale_bar(0.0, 0.0, size, across=True).strokes, (1.0, MM_PER_IN / 16), strict=True):
        base = np.median(stroke.points[:, 1])
        tips = stroke.points[np.abs(stroke.points[:, 1] - base) > 0.1, 0]
        assert tips == pytest.approx(np.arange(len(tips)) * step, abs=1e-9)


@DIRECTIONS
def test_numbers_stay_on_the_bar_and_apart(*, across: bool) -> None:
    """No number leaves the length and depth of its bar or touches another number."""
    bar = scale_bar(30.0, 250.0, LONG, across=across)
    prints = [label.footprint() for label in bar.labels]
    assert not any(a.intersects(b) for k, a in enumerate(prints) for b in prints[k + 1 :])
    bounds = np.array([shape.bounds for shape in prints])
    along, over = (0, 1) if across else (1, 0)
    ends = (30.0, 30.0 + bar.longest) if across else (250.0 - bar.longest, 250.0)
    middle = 250.0 if across else 30.0
    assert bounds[:, along].min() >= ends[0] - 1e-9
    assert bounds[:, along + 2].max() <= ends[1] + 1e-9
    assert np.abs(bounds[:, [over, over + 2]] - middle).max() <= DEPTH / 2 + 1e-9


@DIRECTIONS
def test_a_corrected_bar_begins_on_the_grid(*, across: bool) -> None:
    """The bar begins on a multiple of 1/8 pt and moves by no more than half of that."""
    correction = Correction(1.0062, 0.9931, (105.0, 148.5))
    plain = scale_bar(21.7, 268.3, SHORT, across=across)
    bar = plain.correct(correction)
    axis, factor = (0, correction.x) if across else (1, correction.y)
    begin = bar.strokes[0].points[0][axis]
    assert begin * PT_PER_MM * 8 == pytest.approx(round(begin * PT_PER_MM * 8), abs=1e-9)
    assert abs(begin - correction.points(plain.strokes[0].points)[0][axis]) <= SNAP / 2 + 1e-12
    assert np.ptp(bar.strokes[0].points[:, axis]) == pytest.approx(100 * factor, abs=1e-9)


@pytest.mark.parametrize(("unit", "front"), [(PrintUnit.MM, 0), (PrintUnit.IN, 1)])
def test_the_ruler_of_the_builder_is_in_front(unit: PrintUnit, front: int) -> None:
    """Above on the bar across, to the left on the bar up: millimetres, or inches where figures are in inches."""
    with print_lengths_in(unit):
        for across in (True, False):
            bar = scale_bar(50.0, 200.0, SHORT, across=across)
            axis = 1 if across else 0
            places = [float(stroke.points[:, axis].mean()) for stroke in bar.strokes]
            assert places[front] < places[1 - front]
            assert {label.text for label in bar.labels} >= {"0 mm", "100", "0 in", "4"}


def test_the_cover_names_inches_first_where_figures_are_in_inches(heading: Heading) -> None:
    """What must measure what; 0.3 mm in 100 mm is 0.012 in in 4 in."""
    with print_lengths_in(PrintUnit.IN):
        (panel,) = cover_panels(heading, "Letter", [], [], (175.0, 260.0))
    words = " ".join(label.text for label in panel.labels)
    assert "4 in must measure 4 in, give or take 0.012 in; 100 mm must measure 100 mm" in words
