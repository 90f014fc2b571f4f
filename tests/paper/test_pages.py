from collections.abc import Callable
from itertools import pairwise, product

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from profiles.errors import PaperError
from profiles.paper.bands import WARNING
from profiles.paper.cover import Heading
from profiles.paper.drawing import STYLES, Drawing, Label
from profiles.paper.fonts import missing_requirements
from profiles.paper.packing import fewest_piles, pack
from profiles.paper.pages import Page, lay_out
from profiles.paper.pdf import pages_pdf
from profiles.paper.proof import measure
from profiles.paper.settings import PageSettings
from profiles.paper.svg import drawing_svg
from profiles.paper.template import Template
from profiles.units import PAPERS, Paper, paper_named

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
    """No two labels of a page touch, and the windows of two pieces stay 4 mm apart."""
    for page in _pages(mixed, heading, paper):
        prints = shapely.STRtree([label.footprint() for label in page.drawing.labels])
        pairs = prints.query(prints.geometries, predicate="intersects")
        touching = [(page.drawing.labels[a].text, page.drawing.labels[b].text) for a, b in pairs.T if a < b]
        assert touching == []
        windows = [
            shapely.box(
                *piece.at,
                piece.at[0] + piece.window[2] - piece.window[0],
                piece.at[1] + piece.window[3] - piece.window[1],
            )
            for piece in page.pieces
        ]
        assert all(a.distance(b) >= 4 - 0.011 for k, a in enumerate(windows) for b in windows[k + 1 :])


@pytest.mark.parametrize("paper", SHEETS)
def test_every_page_says_what_it_is(mixed: tuple[Template, ...], heading: Heading, paper: str) -> None:
    """Two bars, the warning, the hull and foam, the page number and the plan stand on every page, the cover too."""
    pages = _pages(mixed, heading, paper)
    for number, page in enumerate(pages, start=1):
        texts = [label.text for label in page.drawing.labels]
        assert WARNING in texts
        assert f"page {number} of {len(pages)}" in texts
        assert f"Plan: {heading.fingerprint}" in texts
        assert any(text.startswith("Hull: Test launch") for text in texts)
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
            assert piece.rows * piece.columns == 1 or len(page.pieces) == 1
    assert set(cells_of) == set(order)
    for cells in cells_of.values():
        assert cells == sorted(set(cells))
        assert len(cells) == cells[-1][0] * cells[-1][1]
    firsts = [min(order[piece.template_id] for piece in page.pieces) for page in pages if page.pieces]
    assert all(a <= b for a, b in pairwise(firsts))


def test_cover_says_where_everything_is(mixed: tuple[Template, ...], heading: Heading) -> None:
    """The cover lists the page of each template and numbers the sheets of the large one in its map."""
    pages = _pages(mixed, heading, "A4")
    texts = [label.text for label in pages[0].drawing.labels]
    assert texts.count("Read this first") == 2  # the title and the title block
    for template in mixed:
        numbers = [page.number for page in pages if any(piece.template_id == template.id for piece in page.pieces)]
        words = f"page {numbers[0]}" if len(numbers) == 1 else f"pages {numbers[0]} to {numbers[-1]}"
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


def test_orientation_is_the_one_that_takes_fewer_pages(template: Maker, heading: Heading) -> None:
    """Faces 230 mm wide are printed whole across A4, and go over two sheets each if it must stand upright."""
    faces = tuple(template(block, "fore", 220.0, 100.0) for block in range(1, 4))
    auto, upright = _pages(faces, heading, "A4"), _pages(faces, heading, "A4", orientation="portrait")
    assert auto[0].paper.width > auto[0].paper.height
    assert upright[0].paper.width < upright[0].paper.height
    assert len(auto) < len(upright)


def test_some_pages_lie_across_where_that_takes_fewer(template: Maker, heading: Heading) -> None:
    """Faces too wide for upright A4 and one too high for it across are all printed whole, and measure up."""
    job = (*(template(block, "fore", 220.0, 100.0) for block in (1, 2)), template(3, "fore", 100.0, 210.0))
    pages, across = _pages(job, heading, "A4"), _pages(job, heading, "A4", orientation="landscape")
    upright = _pages(job, heading, "A4", orientation="portrait")
    assert len(pages) < min(len(across), len(upright))
    assert all(piece.rows * piece.columns == 1 for page in pages for piece in page.pieces)
    lies = {piece.template_id: page.paper.width > page.paper.height for page in pages for piece in page.pieces}
    assert lies == {"01 fore": True, "02 fore": True, "03 fore": False}
    assert list(lies) == [face.id for face in job]
    assert pages[0].drawing.labels
    assert not pages[0].pieces
    if not missing_requirements():
        assert all(check.holds for check in measure(pages_pdf(pages), pages, job))
    again = _pages(job, heading, "A4")
    assert [drawing_svg(page.drawing) for page in again] == [drawing_svg(page.drawing) for page in pages]


def test_a_page_that_lies_the_other_way_is_filled_up(template: Maker, heading: Heading) -> None:
    """A low face shares the upright page of a high one, if across it would need a page of its own."""
    high, wide, low = (
        template(1, "fore", 100.0, 150.0),
        template(2, "fore", 220.0, 110.0),
        template(3, "fore", 80.0, 40.0),
    )
    pages = [page for page in _pages((high, wide, low), heading, "A4") if page.pieces]
    assert [[piece.template_id for piece in page.pieces] for page in pages] == [["01 fore", "03 fore"], ["02 fore"]]


def test_what_no_page_holds_lies_the_way_that_takes_fewer_tiles(template: Maker, heading: Heading) -> None:
    """A high sheet goes over two pages across, a wide one over two upright pages; all one way takes more."""
    job = (template(1, "fore", 166.0, 316.0), template(2, "fore", 280.0, 176.0))
    tiles = [(piece.rows, piece.columns) for page in _pages(job, heading, "A4") for piece in page.pieces]
    assert tiles == [(2, 1), (2, 1), (1, 2), (1, 2)]
    for orientation in ("portrait", "landscape"):
        pages = _pages(job, heading, "A4", orientation=orientation)
        assert sum(len(page.pieces) for page in pages) > len(tiles)


@pytest.mark.parametrize(("least", "sheets"), [(0.0, 1), (170.0, 2)])
def test_pictures_share_a_page_where_they_say_as_much(heading: Heading, least: float, sheets: int) -> None:
    """Two pictures too high for one page stand side by side on it, unless one would have to leave out a label."""

    def picture(room: tuple[float, float]) -> Drawing:
        texts = ["title", "detail"] if room[0] >= least else ["title"]
        labels = tuple(Label(text, 2.0, 5.0 * k, 3.0) for k, text in enumerate(texts, start=1))
        return Drawing(room[0], 100.0, labels=labels)

    settings = PageSettings(paper_named("A4"), orientation="landscape")
    pages = lay_out((), settings, heading, cover=False, pictures=[picture, picture])
    assert len(pages) == sheets
    assert [label.text for page in pages for label in page.content.labels].count("detail") == 2


def test_up_stays_up(template: Maker, heading: Heading) -> None:
    """A template is moved to its place and never turned."""
    face = template(1, "fore", 100.0, 60.0)
    for page in _pages((face,), heading, "A4", orientation="landscape"):
        for piece in page.pieces:
            moved = face.drawing.translate(*piece.at)
            shown = {stroke.points.tobytes() for stroke in page.drawing.strokes}
            assert all(stroke.points.tobytes() in shown for stroke in moved.strokes)


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


def test_packing_keeps_its_order_where_that_costs_nothing() -> None:
    """Equal rectangles fill one sheet after another in the order given."""
    sheets = pack([(90.0, 60.0)] * 10, (190.0, 130.0), 4.0)
    assert [[slot.which for slot in sheet] for sheet in sheets] == [[0, 1, 2, 3], [4, 5, 6, 7], [8, 9]]


def test_packing_breaks_its_order_where_that_saves_a_sheet() -> None:
    """Small and large by turns share sheets as well as they would sorted."""
    sizes = [(100.0, 100.0), (60.0, 60.0)] * 2
    assert len(pack(sizes, (170.0, 104.0), 4.0)) == 2


def test_packing_puts_small_beside_large_in_order() -> None:
    """Large ones take a sheet each in the order given, and the small ones go beside the first that have room."""
    sizes = [(56.0, 100.0), (56.0, 100.0), (120.0, 100.0), (120.0, 100.0), (120.0, 100.0)]
    sheets = pack(sizes, (180.0, 104.0), 4.0)
    assert [[slot.which for slot in sheet] for sheet in sheets] == [[0, 2], [1, 3], [4]]


def _optimum(sizes: list[int], room: int) -> int:
    """The fewest bins of all ways to deal the sizes to them."""
    best = len(sizes)
    for sheets in product(range(len(sizes)), repeat=len(sizes)):
        bins = [sum(size for size, sheet in zip(sizes, sheets, strict=True) if sheet == k) for k in set(sheets)]
        if max(bins) <= room:
            best = min(best, len(bins))
    return best


@settings(deadline=None)
@given(st.lists(st.integers(1, 20), min_size=1, max_size=5))
def test_no_packing_does_with_fewer_piles_than_the_bound(sizes: list[int]) -> None:
    """The bound never exceeds what trying every way finds."""
    assert fewest_piles(sizes, 20) <= _optimum(sizes, 20)


@pytest.mark.parametrize(
    ("sizes", "least"),
    [([], 0), ([11] * 4, 4), ([15, 15, 6, 6, 6], 3), ([12, 12, 8, 8], 2), ([7] * 5, 3), ([10] * 5, 3)],
)
def test_the_bound_on_piles_is_sharp(sizes: list[int], least: int) -> None:
    """Over half the room: one each. Pieces that do not fit beside them need more room of their own."""
    assert fewest_piles(sizes, 20) == least


def test_packing_nothing_needs_nothing() -> None:
    """No rectangles, no sheets."""
    assert pack([], (100.0, 100.0), 4.0) == ()
