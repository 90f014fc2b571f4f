"""Chapters -> pages: items run down the sheet below a header with the hull, the plan, the chapter and the page.

A chapter begins below the one before if there is room for a good part of it, else on a new page.
"""

from collections.abc import Sequence

from profiles.paper.bands import shorten
from profiles.paper.cover import Heading
from profiles.paper.drawing import Drawing, Label, Role, line
from profiles.paper.flow import Item, deal, panel
from profiles.paper.lettering import ASCENT, text_width
from profiles.units import PAPERS, Paper, PrintUnit, printed_unit
from profiles.values import dataclass

HEADER = 13.0
"""mm; two lines at the top of the page, a hairline, and space below it."""

FOOTER = 6.0
"""mm; a line at the foot of the page."""

NAME_SIZE, CHAPTER_SIZE, FOOT_SIZE = 3.4, 2.8, 2.5
"""mm, font sizes."""

BETWEEN = 5.0
"""mm between two chapters on one page."""

LEAST_START = 0.2
"""Of the page's height; a chapter that fills less of the page before it begins on a new page."""

LEAST_FILL = 0.3
"""Of the page's height; if the last page of a chapter would be emptier, the pages before it take less."""

SHARES = (0.9, 0.8, 0.7, 0.6, 0.5)
"""Of the page's height, to which the pages before are filled then, tried in this order."""

INCH_PAPERS = frozenset({"Letter", "Legal", "Tabloid", "ANSI-C", "ANSI-D", "ANSI-E"})

UNITS = "Lengths are in {} unless another unit is given. The scale of a drawing is written above it."


@dataclass(frozen=True, slots=True)
class BookSettings:
    """What the book is printed on; the margin in mm."""

    paper: Paper = PAPERS["a4"]
    margin: float = 12.0


def book_paper(paper: Paper) -> Paper:
    """The paper of the book for templates on `paper`: Letter for papers sized in inches, else A4. Larger pages are hard
    to handle at the bench.
    """
    return PAPERS["letter"] if paper.name in INCH_PAPERS else PAPERS["a4"]


@dataclass(frozen=True, slots=True)
class Room:
    """Width and height in mm for items on a portrait page (upright) and on a landscape page (across)."""

    upright: tuple[float, float]
    across: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Leaf:
    """Items that follow one another on portrait pages, or on landscape pages (across)."""

    items: tuple[Item, ...]
    across: bool = False
    flows: bool = True
    """Whether its pages may break anywhere, so that it may begin below other leaves without fitting there."""


@dataclass(frozen=True, slots=True)
class Chapter:
    """A title and what stands under it."""

    title: str
    leaves: tuple[Leaf, ...]


@dataclass(frozen=True, slots=True)
class BookPage:
    """A finished page; `begins` are the chapters that begin on it."""

    number: int
    of: int
    chapters: tuple[str, ...]
    begins: tuple[str, ...]
    paper: Paper
    drawing: Drawing


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A page in the making."""

    columns: tuple[tuple[str, tuple[Item, ...]], ...]
    """Chapter and its items, one under the other."""
    begins: tuple[str, ...]
    across: bool

    @property
    def height(self) -> float:
        return sum(_sum_heights(items) + BETWEEN for _, items in self.columns)


def room_of(settings: BookSettings) -> Room:
    """The room that margins, header and footer leave."""
    wide, high = sorted((settings.paper.width, settings.paper.height))
    inset, bands = 2 * settings.margin, HEADER + FOOTER
    return Room((wide - inset, high - inset - bands), (high - inset, wide - inset - bands))


def lay_out_chapters(chapters: Sequence[Chapter], heading: Heading, settings: BookSettings) -> tuple[BookPage, ...]:
    """All pages, in order."""
    sheets = _sheets(chapters, room_of(settings))
    return tuple(_page(sheet, k, len(sheets), heading, settings) for k, sheet in enumerate(sheets, start=1))


def chapter_pages(chapters: Sequence[Chapter], settings: BookSettings) -> dict[str, int]:
    """Chapter title -> number of the page on which it begins."""
    sheets = _sheets(chapters, room_of(settings))
    return {title: number for number, sheet in enumerate(sheets, start=1) for title in sheet.begins}


def _sheets(chapters: Sequence[Chapter], room: Room) -> list[_Sheet]:
    leaves = [(chapter, leaf) for chapter in chapters for leaf in chapter.leaves]
    sheets: list[_Sheet] = []
    begun: set[str] = set()
    for (chapter, leaf), (_, following) in zip(leaves, [*leaves[1:], (None, None)], strict=True):
        height = (room.across if leaf.across else room.upright)[1]
        continued = following is not None and following.flows and following.across == leaf.across
        columns = _deal_leaf(leaf, height, sheets[-1] if sheets else None, continued=continued)
        for k, items in enumerate(columns):
            column = (chapter.title, tuple(items))
            begins = (chapter.title,) if items and chapter.title not in begun else ()
            begun.update(begins)
            if k:
                sheets.append(_Sheet((column,), begins, leaf.across))
            elif items:
                last = sheets.pop()
                sheets.append(_Sheet((*last.columns, column), (*last.begins, *begins), leaf.across))
    return sheets


def _deal_leaf(leaf: Leaf, height: float, last: _Sheet | None, *, continued: bool) -> list[list[Item]]:
    """The items of a leaf: first those that go below the last sheet, which may be none, then those of each new sheet.

    A leaf begins below the last sheet if all of it fits there, or if it flows and a good part of it does. A leaf
    does not leave its own last sheet nearly empty, unless another leaf may continue there.
    """
    used = last.height if last and last.across == leaf.across else height
    columns = deal(leaf.items, height, used)
    if len(columns) > 1 and not (leaf.flows and _sum_heights(columns[0]) >= LEAST_START * height):
        used = height
        columns = deal(leaf.items, height, used)
    if not (leaf.flows and continued) and len(columns) > 1:
        for share in SHARES:
            if _sum_heights(columns[-1]) >= LEAST_FILL * height:
                break
            balanced = deal(leaf.items, share * height, used)
            columns = balanced if len(balanced) == len(columns) else columns
    return columns


def _sum_heights(items: Sequence[Item]) -> float:
    return sum(item.height for item in items)


def _page(sheet: _Sheet, number: int, count: int, heading: Heading, settings: BookSettings) -> BookPage:
    short, long = sorted((settings.paper.width, settings.paper.height))
    width, height = (long, short) if sheet.across else (short, long)
    paper = Paper(settings.paper.name, width, height)
    left, inner = settings.margin, width - 2 * settings.margin
    chapters = tuple(dict.fromkeys(title for title, _ in sheet.columns))
    drawing = Drawing(width, height)
    drawing = drawing.with_more(
        [line(Role.LABEL, (left, left + HEADER - 4.0), (left + inner, left + HEADER - 4.0))],
        _header_and_footer(chapters, f"page {number} of {count}", heading, (left, left, inner, height - 2 * left)),
    )
    y = settings.margin + HEADER
    for _, items in sheet.columns:
        column = panel(items, inner)
        moved = column.translate(left, y)
        drawing = drawing.overlay(moved)
        y += column.height + BETWEEN
    return BookPage(number, count, chapters, sheet.begins, paper, drawing)


def _header_and_footer(
    chapters: Sequence[str], number: str, heading: Heading, frame: tuple[float, float, float, float]
) -> list[Label]:
    """The two lines at the top of the page and the line at its foot; names that are too long are shortened."""
    left, top, width, height = frame
    right = left + width
    base = top + ASCENT * NAME_SIZE
    plan = f"plan {heading.fingerprint}"
    plan_width = text_width(plan, NAME_SIZE, bold=True) + 8.0
    under = base + 4.4
    unit = "inches" if printed_unit() is PrintUnit.IN else "mm"
    room = width - text_width(number, CHAPTER_SIZE, bold=True) - 4.0
    return [
        Label(shorten(heading.hull, NAME_SIZE, width - plan_width, bold=True), left, base, NAME_SIZE, bold=True),
        Label(plan, right, base, NAME_SIZE, "end", bold=True),
        Label(shorten("; ".join(chapters), CHAPTER_SIZE, room), left, under, CHAPTER_SIZE),
        Label(number, right, under, CHAPTER_SIZE, "end", bold=True),
        Label(
            shorten(UNITS.format(unit), FOOT_SIZE, width),
            left,
            top + height - 0.6,
            FOOT_SIZE,
        ),
    ]
