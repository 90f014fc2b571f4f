from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely

from profiles.paper.cover import WIDEST, Heading
from profiles.paper.drawing import Role, rectangle
from profiles.paper.kerfpage import NARROWEST, kerf_pages, kerf_templates
from profiles.paper.pdf import pages_pdf
from profiles.paper.proof import measure, refuse_if_off
from profiles.paper.settings import PageSettings
from profiles.paper.template import Template
from profiles.units import paper_named


def _squares() -> tuple[Template, Template]:
    first, second, table = kerf_templates()
    assert not table.drawing.of_role(Role.CUT)
    return first, second


def test_squares_are_exactly_100_mm() -> None:
    """Each has one cut line, a closed square of 100 mm a side, and the datum cross in its middle."""
    for template in _squares():
        (cut,) = template.drawing.of_role(Role.CUT)
        assert cut.closed
        sides = np.diff(np.vstack([cut.points, cut.points[:1]]), axis=0)
        assert np.abs(sides).max(axis=1).tolist() == [100.0] * 4
        assert np.abs(sides).min(axis=1).tolist() == [0.0] * 4
        assert cut.points.mean(axis=0) == pytest.approx(template.datum)


def test_both_squares_fit_back_to_back() -> None:
    """The one seen from behind is the other: cross and pin holes are the same when right and left change places."""
    first, second = (template.drawing for template in _squares())
    for role in (Role.CUT, Role.DATUM, Role.PIN):
        lines = [
            shapely.MultiLineString([stroke.points for stroke in square.of_role(role)]) for square in (first, second)
        ]
        mirrored = shapely.transform(lines[1], lambda points: points * (-1, 1) + (second.width, 0))
        assert lines[0].hausdorff_distance(mirrored) < 1e-9


@pytest.mark.parametrize("width", [NARROWEST, 72.0, 115.0, WIDEST])
def test_words_are_clear_of_lines_and_stay_on_their_sheet(width: float) -> None:
    """No label touches a line or another label, and all are within the square, or within the column of text."""
    for template in kerf_templates(width):
        drawing = template.drawing
        room = shapely.box(0, 0, drawing.width, drawing.height)
        if cut := drawing.of_role(Role.CUT):
            room = shapely.Polygon(cut[0].points)
        words = [label.footprint() for label in drawing.labels]
        lines = [shapely.LineString(stroke.points) for stroke in drawing.strokes]
        assert all(room.buffer(1e-6).covers(word) for word in words)
        assert not any(word.intersects(stroke) for word in words for stroke in lines)
        assert not any(word.intersection(other).area > 0.05 for word, other in combinations(words, 2))


@pytest.mark.parametrize(
    ("paper", "count"), [("A4", 1), ("Letter", 1), ("A3", 1), ("A0", 1), ("610x2000", 1), ("A5", 2)]
)
@pytest.mark.parametrize("correction", [(1.0, 1.0), (1.0071, 0.9953)])
def test_finished_pages_measure_what_they_should(paper: str, count: int, correction: tuple[float, float]) -> None:
    """Read back from the PDF, bars and squares are right on every paper, for a corrected printer too; one page but on
    A5.
    """
    settings = PageSettings(paper_named(paper), bar_across=100 / correction[0], bar_up=100 / correction[1])
    pages = kerf_pages(settings)
    assert len(pages) == count
    checks = measure(pages_pdf(pages), pages, kerf_templates())
    refuse_if_off(checks)
    measured = {check.name: check.measured for check in checks}
    for name in ("kerf test 1", "kerf test 2"):
        assert measured[f"{name} width"] == pytest.approx(100 * correction[0], abs=0.003)
        assert measured[f"{name} height"] == pytest.approx(100 * correction[1], abs=0.003)


def test_the_measurement_can_fail() -> None:
    """Pages that were drawn from a square of 100 mm are refused where one of 100.05 mm is asked for."""
    pages = kerf_pages(PageSettings(paper_named("A4")))
    first, _ = _squares()
    larger = replace(first.drawing, strokes=(rectangle(Role.CUT, 0.5, 0.5, 100.05, 100.0), *first.drawing.strokes[1:]))
    checks = measure(pages_pdf(pages), pages, (replace(first, drawing=larger), *kerf_templates()[1:]))
    assert [check.name for check in checks if not check.holds] == ["kerf test 1 width"]


@pytest.mark.parametrize("orientation", ["portrait", "landscape", "auto"])
def test_same_bytes_and_the_heading_that_was_asked_for(orientation: str) -> None:
    """The same settings give the same PDF, and a job's own heading stands in the title block."""
    settings = PageSettings(paper_named("A4"), orientation=orientation)  # type: ignore[arg-type]
    heading = Heading("Test launch, 600 mm", "40 mm", "7c1d-09aa")
    pages = kerf_pages(settings, heading)
    assert pages_pdf(pages) == pages_pdf(kerf_pages(settings, heading))
    texts = {label.text for page in pages for label in page.content.labels}
    assert any("Plan: 7c1d-09aa" in text for text in texts)


def test_the_page_says_how_to_type_it_in() -> None:
    """The words of the job file and of the command line are on the page, with the formula and the cautions."""
    texts = " ".join(label.text for label in kerf_templates()[2].drawing.labels)
    for words in (
        "kerf = 100 + wire - measured",
        "kerf_test = 98.9",
        "--kerf-test 98.9",
        "go cold",
        "extraction",
        "100 %",
    ):
        assert words in texts
