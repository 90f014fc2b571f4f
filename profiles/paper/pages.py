"""Templates -> pages: several small ones share a page, a large one takes several; the cover comes first."""

import contextlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, partial
from itertools import permutations

from profiles.errors import PaperError
from profiles.paper.bands import Bands, bands, title_block
from profiles.paper.bars import Bar
from profiles.paper.correction import Correction
from profiles.paper.cover import BETWEEN, TITLE, WIDEST, Entry, Heading, columns_in, cover_panels
from profiles.paper.drawing import Area, Drawing, Label, Stroke
from profiles.paper.packing import pack
from profiles.paper.settings import PageSettings
from profiles.paper.template import Template
from profiles.paper.tiling import Tiling, Window, choose_tiling, tile_drawings
from profiles.units import Paper

__all__ = ["Heading", "Page", "PageSettings", "Picture", "Piece", "lay_out"]

GAP = 4.0
"""mm between two templates on a page: space for a blade."""

Picture = Callable[[tuple[float, float]], Drawing]
"""A function that draws a picture for a given room (width, height) mm, so that its text keeps its size and it can state
its scale. It raises PaperError if the room is too small."""

LARGEST_PICTURE = (360.0, 300.0)
"""mm; a larger picture is not seen at a glance. On a larger sheet it leaves room for other things."""

FIRST_SHARE = 0.6
"""Share of a sheet's width for the first of several pictures side by side: it shows the whole length of the body."""

PICTURES = "Pictures, reduced"
"""The name of pictures in the title block."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One template, or one tile of it, on a page; `row` and `column` count from 1.

    `window` is the part shown, mm on the template's sheet; `at` is the place of the window's upper left corner on the
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
    def sheet(self) -> str:
        """Which tile this is, like "sheet 2 of 4"; empty for a template on one sheet."""
        count = self.rows * self.columns
        return f"sheet {(self.row - 1) * self.columns + self.column} of {count}" if count > 1 else ""

    @property
    def short_name(self) -> str:
        """Like "03 fore", or "03 fore sheet 2 of 4"."""
        return f"{self.template_id} {self.sheet}".rstrip()

    @property
    def name(self) -> str:
        """Like "03 fore", or "03 fore, sheet 2 of 4 (row 1, column 2)"."""
        tile = f", {self.sheet} (row {self.row}, column {self.column})" if self.sheet else ""
        return f"{self.template_id}{tile}"


@dataclass(frozen=True, slots=True)
class Page:
    """A finished page in mm, after the printer correction: the two bars, and everything else that is drawn."""

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
        """The name of the page's SVG file: "page-01", with as many digits as the last page needs, at least two."""
        return f"page-{self.number:0{max(2, len(str(self.of)))}d}"


@dataclass(frozen=True, slots=True, eq=False)
class _Orientation:
    """The paper in one orientation: its bands, how each template fits on it, and the pictures that it shows.

    There is one for each orientation; they are compared by identity.
    """

    bands: Bands
    tilings: tuple[Tiling, ...]
    pictures: tuple[tuple[Drawing, ...], ...]
    """The pictures, grouped by sheet."""

    @property
    def room(self) -> tuple[float, float]:
        """Width and height left for templates, mm."""
        return self.bands.room[2:]


@dataclass(frozen=True, slots=True)
class _Sheet:
    """What goes on a page: panels of the cover (number, x, y), pieces of templates, pictures (drawing, x, y); mm."""

    orientation: _Orientation
    panels: tuple[tuple[int, float, float], ...] = ()
    pieces: tuple[Piece, ...] = ()
    pictures: tuple[tuple[Drawing, float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class _Layout:
    """One way to lay everything out."""

    orientations: tuple[_Orientation, ...]
    """The orientation of the paper for each template."""
    sheets: tuple[_Sheet, ...]
    front: _Orientation
    """The orientation of the paper for the cover."""
    column: float
    """mm; width of a panel of the cover."""

    @property
    def tilings(self) -> tuple[Tiling, ...]:
        """How each template is tiled."""
        return tuple(orientation.tilings[k] for k, orientation in enumerate(self.orientations))

    @property
    def cost(self) -> tuple[int, int, int, float]:
        """Fewer sheets of paper first, then fewer tiles, then one orientation for all, then more room for the cover."""
        papers = {sheet.orientation.bands.paper for sheet in self.sheets}
        width, height = self.front.room
        return len(self.sheets), sum(tiling.sheets for tiling in self.tilings), len(papers), -width * height


@dataclass(frozen=True, slots=True)
class _Job:
    """What to lay out."""

    templates: tuple[Template, ...]
    heading: Heading
    notes: tuple[str, ...]
    cover: bool


def lay_out(
    templates: Sequence[Template],
    settings: PageSettings,
    heading: Heading,
    *,
    cover: bool = True,
    notes: Iterable[str] = (),
    pictures: Sequence[Picture] = (),
) -> tuple[Page, ...]:
    """All pages: the cover, which lists `notes`, then `pictures`, then the templates in their order.

    With the orientation auto all pages have the orientation that takes fewer of them, or some are portrait and some
    landscape if that takes fewer still. Raises PaperError if the paper cannot hold the bars.
    """
    job = _Job(tuple(templates), heading, tuple(notes), cover)
    orientations: list[_Orientation] = []
    refused: list[PaperError] = []
    for paper in _papers(settings):
        try:
            frame = bands(paper, settings)
            tilings = tuple(choose_tiling(template.drawing, frame.room[2:], settings.overlap) for template in templates)
        except PaperError as error:
            refused.append(error)
            continue
        orientations.append(_Orientation(frame, tilings, _picture_sheets(pictures, frame.room[2:])))
    if not orientations:
        raise refused[0]
    sheets = cache(partial(_template_sheets, job))  # many ways have their templates alike
    ways = [
        way
        for orientation in orientations
        for way in _layouts(job, (orientation,) * len(job.templates), [orientation], sheets)
    ]
    for main, other in permutations(orientations, 2):
        for chosen in _mixed_orientations(job.templates, main, other):
            ways += _layouts(job, chosen, [main, other], sheets)
    return _draw_pages(job, min(ways, key=lambda way: way.cost))


def _papers(settings: PageSettings) -> list[Paper]:
    """The papers to try: portrait, landscape, or both."""
    paper = settings.paper
    upright = paper if paper.width <= paper.height else paper.turned()
    ways = {"portrait": [upright], "landscape": [upright.turned()], "auto": [upright, upright.turned()]}
    papers = ways[settings.orientation]
    return papers[:1] if upright.width == upright.height else papers


def _mixed_orientations(
    templates: Sequence[Template], main: _Orientation, other: _Orientation
) -> Iterator[tuple[_Orientation, ...]]:
    """Ways to use the other orientation for some templates: those that take fewer sheets there, and then also others
    that fit beside them.
    """
    numbers = range(len(templates))
    chosen = [main if main.tilings[k].sheets <= other.tilings[k].sheets else other for k in numbers]
    yield tuple(chosen)
    taken = [k for k in numbers if chosen[k] is other and other.tilings[k].sheets == 1]
    sheets = _sheets_for(templates, taken, other)
    for k in numbers:
        if taken and chosen[k] is main and main.tilings[k].sheets == other.tilings[k].sheets == 1:
            more = sorted([*taken, k])
            if _sheets_for(templates, more, other) == sheets:
                taken, chosen[k] = more, other
    if taken:
        yield tuple(chosen)


def _sheets_for(templates: Sequence[Template], numbers: Sequence[int], orientation: _Orientation) -> int:
    sizes = [(templates[k].drawing.width, templates[k].drawing.height) for k in numbers]
    return len(pack([_clip_size(size, orientation.room) for size in sizes], orientation.room, GAP))


def _layouts(
    job: _Job,
    orientations: tuple[_Orientation, ...],
    fronts: Sequence[_Orientation],
    sheets: Callable[..., tuple[_Sheet, ...]],
) -> Iterator[_Layout]:
    """Layouts with cover and pictures before the templates: on sheets of their own in one of the orientations `fronts`,
    or together with templates.

    `sheets` are those of the templates, as `_template_sheets` returns them.
    """
    shown = min(fronts, key=lambda front: len(front.pictures))
    pictures = [_Sheet(shown, pictures=_place_pictures(group, shown)) for group in shown.pictures]
    rest = sheets(orientations)
    for front in fronts:
        abreast, width = columns_in(front.room[0])
        panels = _panels(job, orientations, front, {}, width) if job.cover else ()
        groups = [range(k, min(k + abreast, len(panels))) for k in range(0, len(panels), abreast)]
        pitch = width + BETWEEN
        covers = [_Sheet(front, tuple((k, (k - group[0]) * pitch, 0.0) for k in group)) for group in groups]
        yield _Layout(orientations, (*covers, *pictures, *rest), front, width)
        together = sheets(orientations, front)
        if together:
            yield _Layout(orientations, together, front, min(front.room[0], WIDEST))


def _picture_sheets(pictures: Sequence[Picture], room: tuple[float, float]) -> tuple[tuple[Drawing, ...], ...]:
    """The pictures as drawn for this room, grouped by sheet; a picture that does not fit is left out.

    They are drawn narrower, side by side, if that takes fewer sheets and loses no label.
    """
    width, height = (min(size, largest) for size, largest in zip(room, LARGEST_PICTURE, strict=True))
    wide = [(picture, shown) for picture in pictures if (shown := _draw_picture(picture, (width, height)))]
    apart = _group_by_sheet([shown for _, shown in wide], room)
    if len(apart) <= 1:
        return apart
    first = FIRST_SHARE * (room[0] - GAP) // 1.0
    narrow = [
        _draw_picture(picture, (min(width, (room[0] - GAP - first) // 1.0 if k else first), height))
        for k, (picture, _) in enumerate(wide)
    ]
    beside = [
        less for less, (_, shown) in zip(narrow, wide, strict=True) if less and len(less.labels) >= len(shown.labels)
    ]
    return min(apart, _group_by_sheet(beside, room), key=len) if len(beside) == len(wide) else apart


def _draw_picture(picture: Picture, room: tuple[float, float]) -> Drawing | None:
    with contextlib.suppress(PaperError):
        return picture(room)
    return None


def _group_by_sheet(pictures: Sequence[Drawing], room: tuple[float, float]) -> tuple[tuple[Drawing, ...], ...]:
    sizes = [_clip_size((picture.width, picture.height), room) for picture in pictures]
    return tuple(tuple(pictures[slot.which] for slot in slots) for slots in pack(sizes, room, GAP))


def _place_pictures(pictures: Sequence[Drawing], orientation: _Orientation) -> tuple[tuple[Drawing, float, float], ...]:
    """The pictures of one sheet in their places."""
    sizes = [_clip_size((picture.width, picture.height), orientation.room) for picture in pictures]
    return tuple((pictures[slot.which], slot.x, slot.y) for slot in pack(sizes, orientation.room, GAP)[0])


def _template_sheets(
    job: _Job, orientations: Sequence[_Orientation], front: _Orientation | None = None
) -> tuple[_Sheet, ...]:
    """Small templates packed, with a `front` after the cover's panel and the pictures, which then come first on paper
    of its orientation; then the tiles. Nothing if the cover does not have exactly one panel.
    """
    templates = job.templates
    numbered: list[tuple[int, _Sheet]] = []
    leading: list[Drawing] = []
    if front:
        panels = _panels(job, orientations, front, {}, min(front.room[0], WIDEST)) if job.cover else ()
        if len(panels) != 1:
            return ()
        leading = [*panels, *(picture for group in front.pictures for picture in group)]
    for orientation in dict.fromkeys([*([front] if front else []), *orientations]):
        small = [
            k for k, chosen in enumerate(orientations) if chosen is orientation and orientation.tilings[k].sheets == 1
        ]
        numbered += _packed_sheets(templates, small, orientation, leading if orientation is front else ())
    for k, orientation in enumerate(orientations):
        if orientation.tilings[k].sheets > 1:
            numbered += [
                (k, _Sheet(orientation, pieces=(piece,)))
                for piece in _tiles(templates[k], orientation.tilings[k], orientation.bands)
            ]
    return tuple(sheet for _, sheet in sorted(numbered, key=lambda entry: entry[0]))


def _packed_sheets(
    templates: Sequence[Template], small: Sequence[int], orientation: _Orientation, leading: Sequence[Drawing]
) -> list[tuple[int, _Sheet]]:
    """Sheets with the number of the first template on each; negative where `leading` is: the panel, then pictures."""
    sizes = [(drawing.width + GAP, drawing.height + GAP) for drawing in leading]
    lead = len(sizes)
    sizes += [(templates[k].drawing.width, templates[k].drawing.height) for k in small]
    numbered: list[tuple[int, _Sheet]] = []
    for slots in pack([_clip_size(size, orientation.room) for size in sizes], orientation.room, GAP):
        panels = tuple((0, slot.x, slot.y) for slot in slots if lead and slot.which == 0)
        pictures = tuple((leading[slot.which], slot.x, slot.y) for slot in slots if 0 < slot.which < lead)
        whole = [(small[slot.which - lead], slot.x, slot.y) for slot in slots if slot.which >= lead]
        pieces = tuple(_whole(templates[k], x, y, orientation.bands) for k, x, y in whole)
        order = min([slot.which - lead for slot in slots if slot.which < lead], default=whole[0][0] if whole else 0)
        numbered.append((order, _Sheet(orientation, panels, pieces, pictures)))
    return numbered


def _clip_size(size: tuple[float, float], room: tuple[float, ...]) -> tuple[float, float]:
    """The size, cut down to the room: it may exceed the room by rounding, or by the gap beside a cover panel."""
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
    job: _Job, orientations: Sequence[_Orientation], front: _Orientation, pages: dict[str, list[int]], width: float
) -> tuple[Drawing, ...]:
    tilings = [orientation.tilings[k] for k, orientation in enumerate(orientations)]
    entries = [
        Entry(template, tiling, tuple(pages.get(template.id, [0] * tiling.sheets)))
        for template, tiling in zip(job.templates, tilings, strict=True)
    ]
    frame = front.bands
    corrected = (frame.correction.x, frame.correction.y) != (1.0, 1.0)
    room = (width, front.room[1])
    return cover_panels(job.heading, frame.paper.name, entries, job.notes, room, corrected=corrected)


def _draw_pages(job: _Job, layout: _Layout) -> tuple[Page, ...]:
    pages: dict[str, list[int]] = {}
    for number, sheet in enumerate(layout.sheets, start=1):
        for piece in sheet.pieces:
            pages.setdefault(piece.template_id, []).append(number)
    panels = _panels(job, layout.orientations, layout.front, pages, layout.column) if job.cover else ()
    tiles = {
        template.id: tile_drawings(template.drawing, tiling) if tiling.sheets > 1 else {(0, 0): template.drawing}
        for template, tiling in zip(job.templates, layout.tilings, strict=True)
    }
    count = len(layout.sheets)
    return tuple(
        _page(sheet, number, count, job.heading, panels, tiles) for number, sheet in enumerate(layout.sheets, start=1)
    )


def _page(
    sheet: _Sheet,
    number: int,
    count: int,
    heading: Heading,
    panels: tuple[Drawing, ...],
    tiles: dict[str, dict[tuple[int, int], Drawing]],
) -> Page:
    frame = sheet.orientation.bands
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
        moved = drawing.translate(dx, dy)
        strokes += moved.strokes
        labels += moved.labels
        areas += moved.areas
    paper = frame.paper
    nominal = Drawing(paper.width, paper.height, tuple(strokes), tuple(labels), tuple(areas))
    content = frame.correction.drawing(nominal)
    return Page(number, count, paper, content, sheet.pieces, frame.bars, frame.correction)


def _subject(sheet: _Sheet) -> str:
    """The contents of the page for the title block."""
    names = (
        ([TITLE] if sheet.panels else [])
        + ([PICTURES] if sheet.pictures else [])
        + [piece.name for piece in sheet.pieces]
    )
    return "; ".join(names)
