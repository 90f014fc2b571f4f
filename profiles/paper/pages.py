"""Templates onto pages: several small ones share a page, a large one goes over several; a cover page comes first."""

import contextlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from profiles.errors import JobError, PaperError
from profiles.paper.bands import Bands, PageSettings, bands, title_block
from profiles.paper.bars import Bar
from profiles.paper.correction import Correction
from profiles.paper.cover import BETWEEN, TITLE, WIDEST, Entry, Heading, columns_in, cover_panels
from profiles.paper.drawing import Area, Drawing, Label, Stroke, Template
from profiles.paper.packing import packed
from profiles.paper.tiling import Tiling, Window, tile_drawings, tiled
from profiles.units import Paper

__all__ = ["Heading", "Page", "PageSettings", "Picture", "Piece", "lay_out"]

GAP = 4.0
"""mm between two templates on a page: room for a blade."""

Picture = Callable[[tuple[float, float]], Drawing]
"""A picture is drawn anew for the room (width, height) mm that a page has, so that its letters keep their size and it
can say how far it is reduced. It raises PaperError where there is too little."""

LARGEST_PICTURE = (360.0, 300.0)
"""mm; what the eye takes in at a glance. On a larger sheet a picture leaves room for other things."""

PICTURES = "Pictures, reduced"
"""What the title block calls them."""

ORIENTATIONS = ("auto", "portrait", "landscape")


@dataclass(frozen=True, slots=True)
class Piece:
    """One template, or one tile of it, on a page; `row` and `column` count from 1.

    `window` is the part shown, mm on the template's sheet; `at` is where the window's upper left corner lies on the
    page, mm, before the printer correction.
    """

    template_id: str
    row: int
    column: int
    rows: int
    columns: int
    window: Window
    at: tuple[float, float]

    @property
    def name(self) -> str:
        """Like "03 fore", or "03 fore, sheet 2 of 4 (row 1, column 2)"."""
        if self.rows * self.columns == 1:
            return self.template_id
        sheet = (self.row - 1) * self.columns + self.column
        count = self.rows * self.columns
        return f"{self.template_id}, sheet {sheet} of {count} (row {self.row}, column {self.column})"


@dataclass(frozen=True, slots=True)
class Page:
    """A finished page, in mm with the printer correction done: the two bars, and all that is drawn beside them."""

    number: int
    of: int
    paper: Paper
    content: Drawing
    pieces: tuple[Piece, ...]
    bars: tuple[Bar, Bar]
    correction: Correction

    @property
    def drawing(self) -> Drawing:
        """Everything on the page."""
        whole = self.content
        for bar in self.bars:
            whole = whole.with_more(bar.strokes, bar.labels)
        return whole

    @property
    def file_stem(self) -> str:
        """The name of its own SVG file: "page-01", with as many digits as the last page needs, two at least."""
        return f"page-{self.number:0{max(2, len(str(self.of)))}d}"


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A page in the making: panels of the cover, pieces of templates, and pictures, with their places in the room."""

    panels: tuple[tuple[int, float, float], ...] = ()
    pieces: tuple[Piece, ...] = ()
    pictures: tuple[tuple[Drawing, float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class _Layout:
    """One way to lay everything out."""

    bands: Bands
    tilings: tuple[Tiling, ...]
    sheets: tuple[_Sheet, ...]
    column: float
    """mm; width of a panel of the cover."""

    @property
    def cost(self) -> tuple[int, int, float]:
        """Fewer sheets of paper first, then fewer tiles, then the larger room for what else there is."""
        _, _, width, height = self.bands.room
        return len(self.sheets), sum(tiling.sheets for tiling in self.tilings), -width * height


def lay_out(
    templates: Sequence[Template],
    settings: PageSettings,
    heading: Heading,
    *,
    cover: bool = True,
    notes: Iterable[str] = (),
    pictures: Sequence[Picture] = (),
) -> tuple[Page, ...]:
    """All pages, in the order of the first template on each; `notes` are told on the cover, `pictures` come before it.

    Raises PaperError when the paper cannot hold the bars, JobError for an unknown orientation.
    """
    told = tuple(notes)
    ways: list[_Layout] = []
    refused: list[PaperError] = []
    for paper in _ways(settings):
        try:
            frame = bands(paper, settings)
            tilings = tuple(tiled(template.drawing, frame.room[2:], settings.overlap) for template in templates)
        except PaperError as error:
            refused.append(error)
            continue
        shown = _shown(pictures, frame)
        apart = _apart(templates, tilings, frame, heading, told, cover=cover)
        ways.append(replace(apart, sheets=(*_picture_sheets(shown, frame), *apart.sheets)))
        if cover:
            shared = _shared(templates, tilings, frame, heading, told, shown)
            ways += [shared] if shared else []
    if not ways:
        raise refused[0]
    best = min(ways, key=lambda way: way.cost)
    return _drawn(templates, best, heading, told, cover=cover)


def _ways(settings: PageSettings) -> list[Paper]:
    """The papers to try: as it lies, turned, or both."""
    if settings.orientation not in ORIENTATIONS:
        msg = f"The orientation is {settings.orientation!r}, expected one of {', '.join(ORIENTATIONS)}."
        raise JobError(msg)
    paper = settings.paper
    upright = paper if paper.width <= paper.height else paper.turned()
    ways = {"portrait": [upright], "landscape": [upright.turned()], "auto": [upright, upright.turned()]}
    found = ways[settings.orientation]
    return found[:1] if upright.width == upright.height else found


def _apart(
    templates: Sequence[Template],
    tilings: tuple[Tiling, ...],
    frame: Bands,
    heading: Heading,
    notes: tuple[str, ...],
    *,
    cover: bool,
) -> _Layout:
    """The cover on pages of its own, its panels side by side."""
    sheets: list[_Sheet] = []
    abreast, width = columns_in(frame.room[2])
    if cover:
        panels = _panels(templates, tilings, frame, heading, notes, {}, width)
        pitch = width + BETWEEN
        for first in range(0, len(panels), abreast):
            group = range(first, min(first + abreast, len(panels)))
            sheets.append(_Sheet(tuple((k, (k - first) * pitch, 0.0) for k in group)))
    return _Layout(frame, tilings, (*sheets, *_template_sheets(templates, tilings, frame)), width)


def _shown(pictures: Sequence[Picture], frame: Bands) -> tuple[Drawing, ...]:
    """The pictures as this paper shows them; one that the paper is too small for is left out."""
    width, height = (min(size, largest) for size, largest in zip(frame.room[2:], LARGEST_PICTURE, strict=True))
    shown = []
    for picture in pictures:
        with contextlib.suppress(PaperError):
            shown.append(picture((width, height)))
    return tuple(shown)


def _picture_sheets(pictures: Sequence[Drawing], frame: Bands) -> tuple[_Sheet, ...]:
    """The pictures on pages of their own, several on one where they fit."""
    sizes = [_within((picture.width, picture.height), frame.room[2:]) for picture in pictures]
    return tuple(
        _Sheet(pictures=tuple((pictures[slot.which], slot.x, slot.y) for slot in slots))
        for slots in packed(sizes, frame.room[2:], GAP)
    )


def _shared(
    templates: Sequence[Template],
    tilings: tuple[Tiling, ...],
    frame: Bands,
    heading: Heading,
    notes: tuple[str, ...],
    pictures: tuple[Drawing, ...],
) -> _Layout | None:
    """The cover as a single panel on the first page beside templates, pictures too; None if it does not fit one."""
    width = min(frame.room[2], WIDEST)
    panels = _panels(templates, tilings, frame, heading, notes, {}, width)
    if len(panels) != 1:
        return None
    return _Layout(frame, tilings, _template_sheets(templates, tilings, frame, (*pictures, panels[0])), width)


def _template_sheets(
    templates: Sequence[Template], tilings: tuple[Tiling, ...], frame: Bands, leading: Sequence[Drawing] = ()
) -> tuple[_Sheet, ...]:
    """Small templates packed, after what is `leading`: pictures, and the cover's panel as the last; then the tiles."""
    small = [k for k, tiling in enumerate(tilings) if tiling.sheets == 1]
    sizes = [(drawing.width + GAP, drawing.height + GAP) for drawing in leading]
    lead = len(sizes)
    sizes += [(templates[k].drawing.width, templates[k].drawing.height) for k in small]
    found: list[tuple[int, _Sheet]] = []
    for slots in packed([_within(size, frame.room[2:]) for size in sizes], frame.room[2:], GAP):
        panels = tuple((0, slot.x, slot.y) for slot in slots if slot.which == lead - 1)
        pictures = tuple((leading[slot.which], slot.x, slot.y) for slot in slots if slot.which < lead - 1)
        whole = [(small[slot.which - lead], slot.x, slot.y) for slot in slots if slot.which >= lead]
        pieces = tuple(_whole(templates[k], x, y, frame) for k, x, y in whole)
        order = min([slot.which - lead for slot in slots if slot.which < lead], default=whole[0][0] if whole else 0)
        found.append((order, _Sheet(panels, pieces, pictures)))
    for k, tiling in enumerate(tilings):
        if tiling.sheets > 1:
            found += [(k, _Sheet(pieces=(piece,))) for piece in _tiles(templates[k], tiling, frame)]
    return tuple(sheet for _, sheet in sorted(found, key=lambda one: one[0]))


def _within(size: tuple[float, float], room: tuple[float, ...]) -> tuple[float, float]:
    """A size that fits but for rounding, or but for the gap round a cover panel, fits."""
    return min(size[0], room[0]), min(size[1], room[1])


def _whole(template: Template, x: float, y: float, frame: Bands) -> Piece:
    at = (frame.room[0] + x, frame.room[1] + y)
    return Piece(template.id, 1, 1, 1, 1, (0.0, 0.0, template.drawing.width, template.drawing.height), at)


def _tiles(template: Template, tiling: Tiling, frame: Bands) -> list[Piece]:
    rows, columns = len(tiling.rows), len(tiling.columns)
    return [
        Piece(template.id, row + 1, column + 1, rows, columns, tiling.window(row, column), frame.room[:2])
        for row in range(rows)
        for column in range(columns)
    ]


def _panels(
    templates: Sequence[Template],
    tilings: Sequence[Tiling],
    frame: Bands,
    heading: Heading,
    notes: tuple[str, ...],
    pages: dict[str, list[int]],
    width: float,
) -> tuple[Drawing, ...]:
    entries = [
        Entry(template, tiling, tuple(pages.get(template.id, [0] * tiling.sheets)))
        for template, tiling in zip(templates, tilings, strict=True)
    ]
    corrected = (frame.correction.x, frame.correction.y) != (1.0, 1.0)
    return cover_panels(heading, frame.paper.name, entries, notes, (width, frame.room[3]), corrected=corrected)


def _drawn(
    templates: Sequence[Template], layout: _Layout, heading: Heading, notes: tuple[str, ...], *, cover: bool
) -> tuple[Page, ...]:
    pages: dict[str, list[int]] = {}
    for number, sheet in enumerate(layout.sheets, start=1):
        for piece in sheet.pieces:
            pages.setdefault(piece.template_id, []).append(number)
    panels = _panels(templates, layout.tilings, layout.bands, heading, notes, pages, layout.column) if cover else ()
    tiles = {
        template.id: tile_drawings(template.drawing, tiling) if tiling.sheets > 1 else {(0, 0): template.drawing}
        for template, tiling in zip(templates, layout.tilings, strict=True)
    }
    count = len(layout.sheets)
    return tuple(
        _page(sheet, number, count, layout.bands, heading, panels, tiles)
        for number, sheet in enumerate(layout.sheets, start=1)
    )


def _page(
    sheet: _Sheet,
    number: int,
    count: int,
    frame: Bands,
    heading: Heading,
    panels: tuple[Drawing, ...],
    tiles: dict[str, dict[tuple[int, int], Drawing]],
) -> Page:
    strokes: list[Stroke] = [frame.rule]
    areas: list[Area] = []
    labels: list[Label] = title_block(
        frame.title,
        subject=_subject(sheet),
        number=f"page {number} of {count}",
        hull=f"Hull: {heading.hull}. Foam: {heading.foam}.",
        plan=f"Plan: {heading.fingerprint}",
    )
    placed = [(panels[k], (frame.room[0] + x, frame.room[1] + y)) for k, x, y in sheet.panels]
    for piece in sheet.pieces:
        x0, y0, _, _ = piece.window
        placed.append((tiles[piece.template_id][piece.row - 1, piece.column - 1], (piece.at[0] - x0, piece.at[1] - y0)))
    placed += [(picture, (frame.room[0] + x, frame.room[1] + y)) for picture, x, y in sheet.pictures]
    for drawing, (dx, dy) in placed:
        moved = drawing.moved(dx, dy)
        strokes += moved.strokes
        labels += moved.labels
        areas += moved.areas
    paper = frame.paper
    nominal = Drawing(paper.width, paper.height, tuple(strokes), tuple(labels), tuple(areas))
    content = frame.correction.drawing(nominal)
    return Page(number, count, paper, content, sheet.pieces, frame.bars, frame.correction)


def _subject(sheet: _Sheet) -> str:
    """What the title block calls the page."""
    names = (
        ([PICTURES] if sheet.pictures else [])
        + ([TITLE] if sheet.panels else [])
        + [piece.name for piece in sheet.pieces]
    )
    return "; ".join(names)
