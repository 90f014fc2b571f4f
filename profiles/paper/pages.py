"""Templates onto pages: several small ones share a page, a large one goes over several; a cover page comes first."""

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
from profiles.paper.drawing import Area, Drawing, Label, Stroke, Template
from profiles.paper.packing import packed
from profiles.paper.settings import PageSettings
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

FIRST_SHARE = 0.6
"""How much of a sheet's width the first picture has where several stand side by side: it shows the long body."""

PICTURES = "Pictures, reduced"
"""What the title block calls them."""


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


@dataclass(frozen=True, slots=True, eq=False)
class _Lie:
    """The paper as it lies, upright or across: its furniture, how each template goes on it, the pictures it shows.

    There is one for each way, and that one is meant, not one like it.
    """

    bands: Bands
    tilings: tuple[Tiling, ...]
    pictures: tuple[tuple[Drawing, ...], ...]
    """The pictures, and which of them share a sheet."""

    @property
    def room(self) -> tuple[float, float]:
        """Width and height left for templates, mm."""
        return self.bands.room[2:]


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A page in the making: panels of the cover, pieces of templates, and pictures, with their places in the room."""

    lie: _Lie
    panels: tuple[tuple[int, float, float], ...] = ()
    pieces: tuple[Piece, ...] = ()
    pictures: tuple[tuple[Drawing, float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class _Layout:
    """One way to lay everything out."""

    lies: tuple[_Lie, ...]
    """How the paper of each template lies."""
    sheets: tuple[_Sheet, ...]
    front: _Lie
    """How the paper of the cover lies."""
    column: float
    """mm; width of a panel of the cover."""

    @property
    def tilings(self) -> tuple[Tiling, ...]:
        """How each template is tiled."""
        return tuple(lie.tilings[k] for k, lie in enumerate(self.lies))

    @property
    def cost(self) -> tuple[int, int, int, float]:
        """Fewer sheets of paper first, then fewer tiles, then sheets that all lie one way, then the larger room for
        what else there is.
        """
        papers = {sheet.lie.bands.paper for sheet in self.sheets}
        width, height = self.front.room
        return len(self.sheets), sum(tiling.sheets for tiling in self.tilings), len(papers), -width * height


@dataclass(frozen=True, slots=True)
class _Job:
    """What is to be laid out."""

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
    """All pages, in the order of the first template on each; `notes` are told on the cover, `pictures` come before it.

    With the orientation auto all pages lie the way that takes fewer of them, or some upright and some across where that
    takes fewer still. Raises PaperError when the paper cannot hold the bars.
    """
    job = _Job(tuple(templates), heading, tuple(notes), cover)
    lies: list[_Lie] = []
    refused: list[PaperError] = []
    for paper in _ways(settings):
        try:
            frame = bands(paper, settings)
            tilings = tuple(tiled(template.drawing, frame.room[2:], settings.overlap) for template in templates)
        except PaperError as error:
            refused.append(error)
            continue
        lies.append(_Lie(frame, tilings, _picture_sheets(pictures, frame.room[2:])))
    if not lies:
        raise refused[0]
    sheets = cache(partial(_template_sheets, job))  # many ways have their templates alike
    ways = [way for lie in lies for way in _fronted(job, (lie,) * len(job.templates), [lie], sheets)]
    for main, other in permutations(lies, 2):
        for chosen in _mixed(job.templates, main, other):
            ways += _fronted(job, chosen, [main, other], sheets)
    return _drawn(job, min(ways, key=lambda way: way.cost))


def _ways(settings: PageSettings) -> list[Paper]:
    """The papers to try: as it lies, turned, or both."""
    paper = settings.paper
    upright = paper if paper.width <= paper.height else paper.turned()
    ways = {"portrait": [upright], "landscape": [upright.turned()], "auto": [upright, upright.turned()]}
    found = ways[settings.orientation]
    return found[:1] if upright.width == upright.height else found


def _mixed(templates: Sequence[Template], main: _Lie, other: _Lie) -> Iterator[tuple[_Lie, ...]]:
    """Ways to let some templates lie the other way: those that take fewer sheets there, and then also whatever has room
    beside them.
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


def _sheets_for(templates: Sequence[Template], numbers: Sequence[int], lie: _Lie) -> int:
    sizes = [(templates[k].drawing.width, templates[k].drawing.height) for k in numbers]
    return len(packed([_within(size, lie.room) for size in sizes], lie.room, GAP))


def _fronted(
    job: _Job,
    lies: tuple[_Lie, ...],
    fronts: Sequence[_Lie],
    sheets: Callable[..., tuple[_Sheet, ...]],
) -> Iterator[_Layout]:
    """What comes before the templates on sheets of its own, lying as one of `fronts`, or together with templates.

    `sheets` are those of the templates, as `_template_sheets` gives them.
    """
    shown = min(fronts, key=lambda front: len(front.pictures))
    pictures = [_Sheet(shown, pictures=_abreast(group, shown)) for group in shown.pictures]
    rest = sheets(lies)
    for front in fronts:
        abreast, width = columns_in(front.room[0])
        panels = _panels(job, lies, front, {}, width) if job.cover else ()
        groups = [range(k, min(k + abreast, len(panels))) for k in range(0, len(panels), abreast)]
        pitch = width + BETWEEN
        covers = [_Sheet(front, tuple((k, (k - group[0]) * pitch, 0.0) for k in group)) for group in groups]
        yield _Layout(lies, (*pictures, *covers, *rest), front, width)
        together = sheets(lies, front)
        if together:
            yield _Layout(lies, together, front, min(front.room[0], WIDEST))


def _picture_sheets(pictures: Sequence[Picture], room: tuple[float, float]) -> tuple[tuple[Drawing, ...], ...]:
    """The pictures as this room shows them, by sheets; one that it is too small for is left out.

    They are drawn narrower, side by side, where that takes fewer sheets and costs no label.
    """
    width, height = (min(size, largest) for size, largest in zip(room, LARGEST_PICTURE, strict=True))
    wide = [(picture, shown) for picture in pictures if (shown := _shown(picture, (width, height)))]
    apart = _grouped([shown for _, shown in wide], room)
    if len(apart) <= 1:
        return apart
    first = FIRST_SHARE * (room[0] - GAP) // 1.0
    narrow = [
        _shown(picture, (min(width, (room[0] - GAP - first) // 1.0 if k else first), height))
        for k, (picture, _) in enumerate(wide)
    ]
    beside = [less for less, (_, shown) in zip(narrow, wide, strict=True) if less and _says_as_much(less, shown)]
    return min(apart, _grouped(beside, room), key=len) if len(beside) == len(wide) else apart


def _says_as_much(one: Drawing, other: Drawing) -> bool:
    return len(one.labels) >= len(other.labels)


def _shown(picture: Picture, room: tuple[float, float]) -> Drawing | None:
    with contextlib.suppress(PaperError):
        return picture(room)
    return None


def _grouped(pictures: Sequence[Drawing], room: tuple[float, float]) -> tuple[tuple[Drawing, ...], ...]:
    sizes = [_within((picture.width, picture.height), room) for picture in pictures]
    return tuple(tuple(pictures[slot.which] for slot in slots) for slots in packed(sizes, room, GAP))


def _abreast(pictures: Sequence[Drawing], lie: _Lie) -> tuple[tuple[Drawing, float, float], ...]:
    """The pictures of one sheet in their places."""
    sizes = [_within((picture.width, picture.height), lie.room) for picture in pictures]
    return tuple((pictures[slot.which], slot.x, slot.y) for slot in packed(sizes, lie.room, GAP)[0])


def _template_sheets(job: _Job, lies: Sequence[_Lie], front: _Lie | None = None) -> tuple[_Sheet, ...]:
    """Small templates packed, with a `front` after what is leading on paper that lies like it: pictures, and the
    cover's panel as the last; then the tiles. Nothing where the cover has no panel or more than one to lead with.
    """
    templates = job.templates
    found: list[tuple[int, _Sheet]] = []
    leading: list[Drawing] = []
    if front:
        panels = _panels(job, lies, front, {}, min(front.room[0], WIDEST)) if job.cover else ()
        if len(panels) != 1:
            return ()
        leading = [*(picture for group in front.pictures for picture in group), *panels]
    for lie in dict.fromkeys([*([front] if front else []), *lies]):
        small = [k for k, own in enumerate(lies) if own is lie and lie.tilings[k].sheets == 1]
        found += _packed_sheets(templates, small, lie, leading if lie is front else ())
    for k, lie in enumerate(lies):
        if lie.tilings[k].sheets > 1:
            found += [(k, _Sheet(lie, pieces=(piece,))) for piece in _tiles(templates[k], lie.tilings[k], lie.bands)]
    return tuple(sheet for _, sheet in sorted(found, key=lambda one: one[0]))


def _packed_sheets(
    templates: Sequence[Template], small: Sequence[int], lie: _Lie, leading: Sequence[Drawing]
) -> list[tuple[int, _Sheet]]:
    """Sheets with the number of the first template on each, which is negative for what is leading."""
    sizes = [(drawing.width + GAP, drawing.height + GAP) for drawing in leading]
    lead = len(sizes)
    sizes += [(templates[k].drawing.width, templates[k].drawing.height) for k in small]
    found: list[tuple[int, _Sheet]] = []
    for slots in packed([_within(size, lie.room) for size in sizes], lie.room, GAP):
        panels = tuple((0, slot.x, slot.y) for slot in slots if slot.which == lead - 1)
        pictures = tuple((leading[slot.which], slot.x, slot.y) for slot in slots if slot.which < lead - 1)
        whole = [(small[slot.which - lead], slot.x, slot.y) for slot in slots if slot.which >= lead]
        pieces = tuple(_whole(templates[k], x, y, lie.bands) for k, x, y in whole)
        order = min([slot.which - lead for slot in slots if slot.which < lead], default=whole[0][0] if whole else 0)
        found.append((order, _Sheet(lie, panels, pieces, pictures)))
    return found


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
    job: _Job, lies: Sequence[_Lie], front: _Lie, pages: dict[str, list[int]], width: float
) -> tuple[Drawing, ...]:
    tilings = [lie.tilings[k] for k, lie in enumerate(lies)]
    entries = [
        Entry(template, tiling, tuple(pages.get(template.id, [0] * tiling.sheets)))
        for template, tiling in zip(job.templates, tilings, strict=True)
    ]
    frame = front.bands
    corrected = (frame.correction.x, frame.correction.y) != (1.0, 1.0)
    room = (width, front.room[1])
    return cover_panels(job.heading, frame.paper.name, entries, job.notes, room, corrected=corrected)


def _drawn(job: _Job, layout: _Layout) -> tuple[Page, ...]:
    pages: dict[str, list[int]] = {}
    for number, sheet in enumerate(layout.sheets, start=1):
        for piece in sheet.pieces:
            pages.setdefault(piece.template_id, []).append(number)
    panels = _panels(job, layout.lies, layout.front, pages, layout.column) if job.cover else ()
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
    frame = sheet.lie.bands
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
