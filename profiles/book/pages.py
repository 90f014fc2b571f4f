"""Chapters onto pages: items run down the sheet under a head that says whose book it is, which chapter, which page.

A chapter begins on a page of its own, but for one that has room for the whole of it under the chapter before.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from profiles.paper.bands import shortened
from profiles.paper.cover import Heading
from profiles.paper.drawing import Drawing, Label, Role, line
from profiles.paper.flow import Item, deal, panel
from profiles.paper.lettering import ASCENT, text_width
from profiles.units import PAPERS, Paper

HEADER = 13.0
"""mm; two lines over the page, a hairline, and room under it."""

FOOTER = 6.0
"""mm; a line under the page."""

NAME_SIZE, CHAPTER_SIZE, FOOT_SIZE = 3.4, 2.8, 2.5
"""mm, font sizes."""

BETWEEN = 5.0
"""mm between two chapters on one page."""

INCH_PAPERS = frozenset({"Letter", "Legal", "Tabloid", "ANSI-C", "ANSI-D", "ANSI-E"})

UNITS = "Lengths in mm unless another unit is said. A drawing's scale stands over it."


@dataclass(frozen=True, slots=True)
class BookSettings:
    """What the book is printed on; the margin in mm."""

    paper: Paper = PAPERS["a4"]
    margin: float = 12.0


def book_paper(paper: Paper) -> Paper:
    """The sheet of the book for templates on `paper`: Letter beside inch papers, else A4; larger ones are hard to leaf
    through at the bench.
    """
    return PAPERS["letter"] if paper.name in INCH_PAPERS else PAPERS["a4"]


@dataclass(frozen=True, slots=True)
class Room:
    """Width and height for items on a page that stands upright, and on one that lies across, mm."""

    upright: tuple[float, float]
    across: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Leaf:
    """Items that follow one another on pages that stand upright, or lie across."""

    items: tuple[Item, ...]
    across: bool = False


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
        return sum(sum(item.height for item in items) + BETWEEN for _, items in self.columns)


def room_of(settings: BookSettings) -> Room:
    """What the furniture of a page leaves."""
    wide, high = sorted((settings.paper.width, settings.paper.height))
    inset, bands = 2 * settings.margin, HEADER + FOOTER
    return Room((wide - inset, high - inset - bands), (high - inset, wide - inset - bands))


def laid_out(chapters: Sequence[Chapter], heading: Heading, settings: BookSettings) -> tuple[BookPage, ...]:
    """All pages, in order."""
    sheets = _sheets(chapters, room_of(settings))
    return tuple(_page(sheet, k, len(sheets), heading, settings) for k, sheet in enumerate(sheets, start=1))


def begun(chapters: Sequence[Chapter], settings: BookSettings) -> dict[str, int]:
    """Chapter -> the number of the page that it begins on."""
    sheets = _sheets(chapters, room_of(settings))
    return {title: number for number, sheet in enumerate(sheets, start=1) for title in sheet.begins}


def _sheets(chapters: Sequence[Chapter], room: Room) -> list[_Sheet]:
    sheets: list[_Sheet] = []
    for chapter in chapters:
        fresh = True
        for leaf in chapter.leaves:
            height = (room.across if leaf.across else room.upright)[1]
            dealt = deal(leaf.items, height)
            last = sheets[-1] if sheets else None
            if last and len(dealt) == 1 and last.across == leaf.across:
                joined = _Sheet(
                    (*last.columns, (chapter.title, tuple(dealt[0]))),
                    (*last.begins, *([chapter.title] if fresh else [])),
                    leaf.across,
                )
                if joined.height - BETWEEN <= height:
                    sheets[-1] = joined
                    fresh = False
                    continue
            for items in dealt:
                begins = (chapter.title,) if fresh else ()
                sheets.append(_Sheet(((chapter.title, tuple(items)),), begins, leaf.across))
                fresh = False
    return sheets


def _page(sheet: _Sheet, number: int, count: int, heading: Heading, settings: BookSettings) -> BookPage:
    short, long = sorted((settings.paper.width, settings.paper.height))
    width, height = (long, short) if sheet.across else (short, long)
    paper = Paper(settings.paper.name, width, height)
    left, inner = settings.margin, width - 2 * settings.margin
    chapters = tuple(dict.fromkeys(title for title, _ in sheet.columns))
    drawing = Drawing(width, height)
    drawing = drawing.with_more(
        [line(Role.LABEL, (left, left + HEADER - 4.0), (left + inner, left + HEADER - 4.0))],
        _furniture(chapters, f"page {number} of {count}", heading, (left, left, inner, height - 2 * left)),
    )
    y = settings.margin + HEADER
    for _, items in sheet.columns:
        column = panel(items, inner)
        moved = column.moved(left, y)
        drawing = drawing.with_more(moved.strokes, moved.labels, moved.areas)
        y += column.height + BETWEEN
    return BookPage(number, count, chapters, sheet.begins, paper, drawing)


def _furniture(
    chapters: Sequence[str], number: str, heading: Heading, frame: tuple[float, float, float, float]
) -> list[Label]:
    """The head of the page, and the line at its foot; the name gives way where it is too long."""
    left, top, width, height = frame
    right = left + width
    base = top + ASCENT * NAME_SIZE
    plan = f"plan {heading.fingerprint}"
    taken = text_width(plan, NAME_SIZE, bold=True) + 8.0
    under = base + 4.4
    room = width - text_width(number, CHAPTER_SIZE, bold=True) - 4.0
    return [
        Label(shortened(heading.hull, NAME_SIZE, width - taken, bold=True), left, base, NAME_SIZE, bold=True),
        Label(plan, right, base, NAME_SIZE, "end", bold=True),
        Label(shortened("; ".join(chapters), CHAPTER_SIZE, room), left, under, CHAPTER_SIZE),
        Label(number, right, under, CHAPTER_SIZE, "end", bold=True),
        Label(shortened(UNITS, FOOT_SIZE, width), left, top + height - 0.6, FOOT_SIZE),
    ]
