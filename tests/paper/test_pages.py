from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
import shapely

from profiles.errors import PaperError
from profiles.paper.bands import WARNING
from profiles.paper.cover import Heading
from profiles.paper.drawing import STYLES, Role
from profiles.paper.pages import Page, lay_out
from profiles.paper.settings import PageSettings
from profiles.paper.sheets import GAP
from profiles.paper.template import Template
from profiles.units import PAPERS, Paper, number_runs, paper_named

Maker = Callable[..., Template]

SHEETS = [*PAPERS, "610x2000", "120x200", "120x160", "300x120", "1000x150"]
"""Every named paper, a roll, and the smallest there are."""


def _pages(
    templates: tuple[Template, ...],
    heading: Heading,
    paper: str,
    *,
    correction: tuple[float, float] = (1.0, 1.0),
    orientation: str = "auto",
) -> tuple[Page, ...]:
    settings = PageSettings(
        paper_named(paper),
        orientation=orientation,  # type: ignore[arg-type]
        bar_across=100 / correction[0],
        bar_up=100 / correction[1],
    )
    return lay_out(templates, settings, heading)


def _extent(page: Page) -> tuple[float, float, float, float]:
    """Everything on the page with half of its line width, mm."""
    boxes = [
        shapely.box(*stroke.points.min(axis=0), *stroke.points.max(axis=0)).buffer(STYLES[stroke.role].width / 2).bounds
        for stroke in page.drawing.strokes
    ]
    boxes += [label.footprint().bounds for label in page.drawing.labels]
    low, high = np.min(boxes, axis=0), np.max(boxes, axis=0)
    return low[0], low[1], high[2], high[3]


@pytest.mark.parametrize("paper", SHEETS)
@pytest.mark.parametrize("correction", [(1.0, 1.0), (1.012, 0.991)])
def test_margins_stay_free(
    mixed: tuple[Template, ...], heading: Heading, paper: str, correction: tuple[float, float]
) -> None:
    """On every paper, with and without a printer correction, nothing reaches into the margin."""
    for page in _pages(mixed, heading, paper, correction=correction):
        left, top, right, bottom = _extent(page)
        assert left >= 8 - 1e-6
        assert top >= 8 - 1e-6
        assert right <= page.paper.width - 8 + 1e-6
        assert bottom <= page.paper.height - 8 + 1e-6


@pytest.mark.parametrize("paper", SHEETS)
def test_nothing_lies_on_anything_else(mixed: tuple[Template, ...], heading: Heading, paper: str) -> None:
    """No two labels of a page touch, and the windows of two pieces stay apart."""
    for page in _pages(mixed, heading, paper):
        prints = shapely.STRtree([label.footprint() for label in page.drawing.labels])
        pairs = prints.query(prints.geometries, predicate="intersects")
        touching = [(page.drawing.labels[a].text, page.drawing.labels[b].text) for a, b in pairs.T if a < b]
        assert touching == []
        windows = [shapely.transform(shapely.box(*piece.window), piece.to_page) for piece in page.pieces]
        assert all(a.distance(b) >= GAP - 1e-6 for k, a in enumerate(windows) for b in windows[k + 1 :])


@pytest.mark.parametrize("paper", SHEETS)
def test_every_page_says_what_it_is(mixed: tuple[Template, ...], heading: Heading, paper: str) -> None:
    """Two bars, the warning, the hull and foam, the page number and the plan stand on every page, the cover too."""
    pages = _pages(mixed, heading, paper)
    for number, page in enumerate(pages, start=1):
        texts = [label.text for label in page.drawing.labels]
        assert WARNING in texts
        assert f"page {number} of {len(pages)}" in texts
        assert any(text.startswith(f"Plan: {heading.fingerprint}") and "Hull: Test launch" in text for text in texts)
        assert {bar.across for bar in page.bars} == {True, False}


@pytest.mark.parametrize("paper", ["A5", "A4", "A3", "610x2000"])
def test_every_template_is_there_once(mixed: tuple[Template, ...], heading: Heading, paper: str) -> None:
    """Each template has all of its tiles, each once, and pages come in the order of their first template."""
    pages = _pages(mixed, heading, paper)
    order = {template.id: k for k, template in enumerate(mixed)}
    cells_of: dict[str, list[tuple[int, int]]] = {}
    for page in pages:
        for piece in page.pieces:
            cells_of.setdefault(piece.template_id, []).append((piece.row, piece.column))
    assert set(cells_of) == set(order)
    for cells in cells_of.values():
        assert len(cells) == len(set(cells))
        assert len(cells) == max(row for row, _ in cells) * max(column for _, column in cells)
    firsts = [min(order[piece.template_id] for piece in page.pieces) for page in pages if page.pieces]
    assert all(a <= b for a, b in pairwise(firsts))


def test_cover_says_where_everything_is(mixed: tuple[Template, ...], heading: Heading) -> None:
    """The cover lists the page of each template and numbers the sheets of the large one in its map."""
    pages = _pages(mixed, heading, "A4")
    texts = [label.text for label in pages[0].drawing.labels]
    assert texts.count("Read this first") == 2  # the title and the title block
    for template in mixed:
        numbers = [page.number for page in pages if any(piece.template_id == template.id for piece in page.pieces)]
        words = f"page {numbers[0]}" if len(numbers) == 1 else f"pages {number_runs(numbers, 1)}"
        row = [label for label in pages[0].drawing.labels if label.text == template.id]
        beside = [label.text for label in pages[0].drawing.labels if any(abs(label.y - name.y) < 0.01 for name in row)]
        assert words in beside
        if len(numbers) > 1:
            assert all(str(number) in texts for number in numbers)


def test_a_large_sheet_has_the_cover_beside_the_templates(template: Maker, heading: Heading) -> None:
    """On A0 the cover takes no sheet of its own."""
    pages = _pages(tuple(template(block, "fore") for block in range(1, 6)), heading, "A0")
    assert len(pages) == 1
    assert len(pages[0].pieces) == 5


@pytest.mark.parametrize(
    ("paper", "margin"), [(Paper("small", 120.0, 200.0), 12.0), (Paper("square", 120.0, 120.0), 8.0)]
)
def test_too_little_room_for_the_bars_is_refused(heading: Heading, paper: Paper, margin: float) -> None:
    """Where margins leave less than two bars need, the error says what was found and what to do."""
    with pytest.raises(PaperError, match=f"{margin:g} mm") as caught:
        lay_out((), PageSettings(paper, margin=margin), heading)
    assert "margins" in caught.value.remedy


@pytest.mark.parametrize("factor", [0.85, 1.2, float("nan")])
def test_a_printer_that_scales_the_page_is_refused(heading: Heading, factor: float) -> None:
    """More than 10 % is no error of a printer but a wrong setting."""
    with pytest.raises(PaperError):
        lay_out((), PageSettings(paper_named("A4"), bar_up=100 / factor), heading)


@pytest.mark.parametrize("paper", ["A4", "A3"])
def test_all_sheets_lie_the_same_way(mixed: tuple[Template, ...], heading: Heading, paper: str) -> None:
    """Sheets have one box, upright unless asked otherwise; what is on them is turned."""
    for orientation, across in (("auto", False), ("portrait", False), ("landscape", True)):
        pages = _pages(mixed, heading, paper, orientation=orientation)
        assert {page.paper.width > page.paper.height for page in pages} == {across}


def test_what_is_too_wide_is_turned_and_not_split(template: Maker, heading: Heading) -> None:
    """A face 235 mm wide and 38 high stands on end on upright A4, in one piece, and all its lines turn with it."""
    face = template(1, "fore", 235.0, 38.0)
    pages = [page for page in _pages((face,), heading, "A4") if page.pieces]
    ((piece,),) = (page.pieces for page in pages)
    assert (piece.rows, piece.columns) == (1, 1)
    assert piece.turn % 2 == 1
    low, high = (edge(face.drawing.of_role(Role.CUT)[0].points, axis=0) for edge in (np.min, np.max))
    drawn = np.vstack([stroke.points for stroke in pages[0].drawing.of_role(Role.CUT)])
    assert np.ptp(drawn, axis=0) == pytest.approx((high - low)[::-1])


@pytest.mark.parametrize("correction", [(1.0, 1.0), (100 / 99.4, 100 / 100.7)])
def test_correction_is_by_the_axes_of_the_printer(
    template: Maker, heading: Heading, correction: tuple[float, float]
) -> None:
    """A turned template is corrected across the sheet by the bar across, whichever of its own sides lies that way."""
    faces = (template(1, "fore", 235.0, 38.0), template(2, "fore", 120.0, 100.0))
    for page in _pages(faces, heading, "A4", correction=correction):
        for piece in page.pieces:
            face = next(face for face in faces if face.id == piece.template_id)
            points = piece.to_page(face.drawing.of_role(Role.CUT)[0].points)
            expected = np.ptp(points, axis=0) * correction
            sizes = [np.ptp(stroke.points, axis=0) for stroke in page.drawing.of_role(Role.CUT)]
            assert min(np.abs(size - expected).max() for size in sizes) < 1e-9


def test_tiles_joined_are_the_template(template: Maker, heading: Heading) -> None:
    """The cut lines of all tiles, moved back from their pages, cover the outline and nothing else."""
    face = template(1, "fore", 300.0, 340.0)
    outline = shapely.LineString(face.drawing.of_role(Role.CUT)[0].path)
    shown = []
    for page in _pages((face,), heading, "A4"):
        for piece in page.pieces:
            corner = np.array(piece.window[:2])
            frame = np.array([corner, corner + (1.0, 0.0), corner + (0.0, 1.0)])
            moved = piece.to_page(frame)
            back = np.linalg.inv(np.array([moved[1] - moved[0], moved[2] - moved[0]]))
            for stroke in page.drawing.of_role(Role.CUT):
                points = (stroke.path - moved[0]) @ back + corner
                if shapely.box(*piece.window).buffer(1e-6).covers(shapely.LineString(points)):
                    shown.append(shapely.LineString(points))
    joined = shapely.union_all(shown)
    assert outline.difference(joined.buffer(1e-6)).length < 1e-3
    assert joined.difference(outline.buffer(1e-6)).length < 1e-3


def test_every_tile_carries_its_name_and_the_plan(template: Maker, heading: Heading) -> None:
    """Tiles of several templates share pages, so each says whose it is, inside its window."""
    faces = tuple(template(block, "fore", 300.0, 340.0) for block in (1, 2))
    for page in _pages(faces, heading, "A4"):
        for piece in page.pieces:
            window = shapely.transform(shapely.box(*piece.window), piece.to_page)
            texts = [label.text for label in page.drawing.labels if window.covers(label.footprint())]
            assert f"{piece.template_id}, {piece.tile}" in texts
            assert heading.fingerprint in texts
