"""The book as a whole: its pages, its chapters, its cautions, and the finished PDF."""

import io
import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace

import pikepdf
import pypdfium2
import pytest

from profiles.book.book import book_pages, book_pdf
from profiles.book.cautions import CAUTIONS, WHERE, Hazard
from profiles.book.contents import BookContents, BookFacts, FigureRow, Views, make_contents
from profiles.book.cuts import CUTS
from profiles.book.cutting import CUTTING, FENCES
from profiles.book.foam import FOAM, LAYERS
from profiles.book.front import BEFORE, TITLE
from profiles.book.lists import BLOCKS, TEMPLATES
from profiles.book.pages import FOOTER, HEADER, BookPage, BookSettings, book_paper
from profiles.book.shaping import SHAPING
from profiles.book.tables import TABLE_TEXT
from profiles.paper.cover import Heading
from profiles.paper.drawing import Drawing, Label
from profiles.units import PAPERS, paper_named

Clashes = Callable[[Drawing], list[tuple[str, str]]]

JOBS = ("tiny", "large", "planless")

CHAPTER = {
    "foam": FOAM,
    "layers": LAYERS,
    "cutting": CUTTING,
    "fences": FENCES,
    "templates": TEMPLATES,
    "shaping": SHAPING,
    "carving": SHAPING,
    "cuts": CUTS,
    "assembly": "Assembly",
    "finish": "Assembly",
    "wire": "Wire",
}

HAZARD_WORDS = (
    *("burns", "fuse", "switch", "off and cold", "outdoors or with an extractor", "styrene", "decomposition"),
    *("chlorinated", "unknown foam", "flammable", "dissolves foam", "light coats from a distance"),
    *("flash off before closing", "on scrap", "blade", "sanding", "safety data sheets", "codes", "licensed"),
)
"""Common practice."""

LEAST_SIZE = 2.5
"""mm."""


@pytest.fixture(name="books", scope="session")
def fixture_books(request: pytest.FixtureRequest) -> dict[str, tuple[BookPage, ...]]:
    """The pages of each job, made once."""
    return {name: book_pages(request.getfixturevalue(name)) for name in JOBS}


def _texts(pages: Sequence[BookPage], chapter: str) -> str:
    """All that is said on the pages of a chapter."""
    return " ".join(label.text for page in pages if chapter in page.chapters for label in page.drawing.labels)


@pytest.mark.parametrize("name", JOBS)
def test_no_label_touches_another_or_leaves_its_page(
    books: dict[str, tuple[BookPage, ...]], clashes: Clashes, name: str
) -> None:
    """On every page each label has its own room, by the font's own widths."""
    for page in books[name]:
        assert clashes(page.drawing) == [], f"page {page.number}"


@pytest.mark.parametrize("name", JOBS)
def test_nothing_is_drawn_over_the_margins(books: dict[str, tuple[BookPage, ...]], name: str) -> None:
    """Strokes, areas and labels keep 12 mm from every edge, but for half the width of a line."""
    for page in books[name]:
        drawing = page.drawing
        reach = [label.extent() for label in drawing.labels]
        drawn = [stroke.points for stroke in drawing.strokes] + [area.rings[0] for area in drawing.areas]
        reach += [(*points.min(axis=0).tolist(), *points.max(axis=0).tolist()) for points in drawn]
        left, top, right, bottom = zip(*reach, strict=True)
        assert min(left) >= 12.0 - 0.2, page.number
        assert min(top) >= 12.0 - 0.2, page.number
        assert max(right) <= page.paper.width - 12.0 + 0.2, page.number
        assert max(bottom) <= page.paper.height - 12.0 + 0.2, page.number


def test_the_check_finds_labels_on_each_other(clashes: Clashes) -> None:
    """Two labels at one place, and one over the edge, are found."""
    labels = (Label("one", 10, 10, 3), Label("two", 11, 10, 3), Label("far out", 195, 30, 3))
    assert clashes(Drawing(200, 100, (), labels)) == [("far out", ""), ("one", "two")]


@pytest.mark.parametrize("name", JOBS)
def test_no_page_is_nearly_empty(books: dict[str, tuple[BookPage, ...]], name: str) -> None:
    """Each page but the last is filled to a quarter of its room at least: chapters continue on one page."""
    for page in books[name][:-1]:
        top, bottom = 12.0 + HEADER, page.paper.height - 12.0 - FOOTER
        lowest = max(label.y for label in page.drawing.labels if label.y < bottom)
        assert lowest - top >= (bottom - top) / 4, page.chapters


@pytest.mark.parametrize("rows", [3, 14])
def test_the_front_page_is_one_page(tiny: BookContents, rows: int) -> None:
    """However many figures there are, the picture leaves room for them and for the list of chapters."""
    facts = replace(tiny.facts, key=(FigureRow("length", "320.0 mm", "as planned"),) * rows)
    pages = book_pages(replace(tiny, facts=facts))
    assert [page.number for page in pages if TITLE in page.chapters] == [1]


def test_chapters_follow_the_work(books: dict[str, tuple[BookPage, ...]]) -> None:
    """Foam is bought, the wire set up, boards laminated, foam cut, blocks shaped, and the body glued, in this order."""
    order = [chapter for page in books["tiny"] for chapter in page.begins]
    work = [FOAM, "Wire", LAYERS, CUTTING, FENCES, TEMPLATES, SHAPING, "Assembly"]
    assert [chapter for chapter in order if chapter in work] == work


@pytest.mark.parametrize("name", JOBS)
def test_letters_can_be_read(books: dict[str, tuple[BookPage, ...]], name: str) -> None:
    """No letter is lower than 2.5 mm in font size, but in the picture of the body, which is for looking at."""
    sizes = [label.size for page in books[name] if TITLE not in page.chapters for label in page.drawing.labels]
    assert min(sizes) >= LEAST_SIZE


@pytest.mark.parametrize("name", JOBS)
def test_every_page_says_whose_it_is(books: dict[str, tuple[BookPage, ...]], name: str) -> None:
    """Name, plan number, chapter and page number stand on each page, the name shortened where it is too long."""
    pages = books[name]
    for number, page in enumerate(pages, start=1):
        texts = [label.text for label in page.drawing.labels]
        assert "plan 7C1D-09AA" in texts
        assert f"page {number} of {len(pages)}" in texts
        assert "; ".join(page.chapters) in texts
        assert any(text.startswith(("A body with a name", "Test launch")) for text in texts)


@pytest.mark.parametrize("name", JOBS)
def test_every_caution_stands_where_its_hazard_comes_up(books: dict[str, tuple[BookPage, ...]], name: str) -> None:
    """All cautions stand before the work, and each again, word for word, in the chapters of its hazard."""
    pages = books[name]
    known = {chapter for page in pages for chapter in page.chapters}
    asked = {BEFORE: tuple(Hazard)} | {CHAPTER[key]: hazards for key, hazards in WHERE.items()}
    for chapter, hazards in asked.items():
        if chapter in known and not (chapter == LAYERS and "No boards are glued together" in _texts(pages, chapter)):
            said = _texts(pages, chapter)
            for hazard in hazards:
                assert CAUTIONS[hazard].text in said, (chapter, hazard)


def test_the_hazards_of_the_trade_are_named() -> None:
    """What the trade warns of is in the cautions: burns, supply, fumes, foams, adhesive, knives and dust."""
    every = " ".join(f"{caution.hazard} {caution.text}" for caution in CAUTIONS.values()).lower()
    for word in HAZARD_WORDS:
        assert word in every


@pytest.mark.parametrize("name", ["tiny", "large"])
def test_every_block_stands_once_in_the_cutting_plan(
    request: pytest.FixtureRequest, books: dict[str, tuple[BookPage, ...]], name: str
) -> None:
    """Each block's number stands in one rectangle of all billet pages, and in one line of the block list."""
    contents: BookContents = request.getfixturevalue(name)
    planned = sorted(block.number for block in contents.blocks if block.origin)
    bold = [
        label.text
        for page in books[name]
        if CUTTING in page.chapters
        for label in page.drawing.labels
        if label.bold and label.size != TABLE_TEXT and re.fullmatch(r"[\d, /]+", label.text)
    ]
    assert planned
    assert sorted(int(number) for text in bold for number in re.findall(r"\d+", text)) == planned
    listed = Counter(
        label.text
        for page in books[name]
        if BLOCKS in page.chapters
        for label in page.drawing.labels
        if label.anchor == "start" and re.fullmatch(r"\d\d", label.text)
    )
    assert listed == {f"{block.number:02d}": 1 for block in contents.blocks}


def test_templates_are_found_by_their_pages(tiny: BookContents, books: dict[str, tuple[BookPage, ...]]) -> None:
    """Every template is in the map once, with its page after it."""
    texts = [label.text for page in books["tiny"] if TEMPLATES in page.chapters for label in page.drawing.labels]
    for one in tiny.templates:
        (at,) = [k for k, text in enumerate(texts) if text == one.id]
        assert texts[at + 2] == str(one.pages[0])


@pytest.mark.parametrize("name", JOBS)
def test_chapters_are_where_the_front_page_says(books: dict[str, tuple[BookPage, ...]], name: str) -> None:
    """The page numbers of the list of chapters are those of the pages."""
    pages = books[name]
    assert TITLE not in pages[1].chapters
    texts = [label.text for label in pages[0].drawing.labels]
    begins = [(chapter, page.number) for page in pages[1:] for chapter in page.begins]
    assert begins
    for chapter, number in begins:
        assert texts[texts.index(chapter) + 1] == str(number)


def test_the_pdf_opens_with_its_pages(tiny: BookContents, books: dict[str, tuple[BookPage, ...]]) -> None:
    """Another library finds as many pages, each of its paper's size, and the text on it."""
    pages = books["tiny"]
    document = pypdfium2.PdfDocument(book_pdf(pages, "Test launch, job book"))
    try:
        assert len(document) == len(pages)
        for page, leaf in zip(pages, document, strict=True):
            size = (page.paper.width * 72 / 25.4, page.paper.height * 72 / 25.4)
            assert leaf.get_size() == pytest.approx(size, abs=1e-3)
            text = leaf.get_textpage().get_text_range()
            assert f"page {page.number} of {len(pages)}" in text
            assert tiny.heading.fingerprint in text
    finally:
        document.close()


def test_bookmarks_lead_to_chapters(books: dict[str, tuple[BookPage, ...]]) -> None:
    """The outline names every chapter in order."""
    pages = books["tiny"]
    with pikepdf.open(io.BytesIO(book_pdf(pages, "Book"))) as document, document.open_outline() as outline:
        assert [item.title for item in outline.root] == [chapter for page in pages for chapter in page.begins]


def test_the_same_contents_give_the_same_bytes(tiny: BookContents) -> None:
    """Two runs give one file, without a date."""
    first, second = (book_pdf(book_pages(tiny), "Book") for _ in range(2))
    assert first == second
    assert b"CreationDate" not in first


def test_letter_paper(tiny: BookContents, clashes: Clashes) -> None:
    """On Letter the pages are that large and every label has its room."""
    pages = book_pages(tiny, BookSettings(PAPERS["letter"]))
    for page in pages:
        assert sorted((page.paper.width, page.paper.height)) == pytest.approx([215.9, 279.4])
        assert clashes(page.drawing) == []


def test_the_paper_of_the_book() -> None:
    """Letter beside inch papers, A4 beside all others."""
    assert [book_paper(paper_named(name)).name for name in ("A0", "A5", "610x2000", "Legal", "ANSI-E", "Letter")] == [
        "A4", "A4", "A4", "Letter", "Letter", "Letter"
    ]  # fmt: skip


def test_a_book_needs_blocks() -> None:
    """Without a block there is nothing to tell."""
    with pytest.raises(ValueError, match="at least one block"):
        make_contents(Heading("none", "40 mm", "0000-0000"), (), (), (), plan=None, views=Views(), facts=BookFacts())
