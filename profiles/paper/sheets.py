"""Which sheet each template goes on, and where on it: of several arrangements the one with the fewest sheets.

Orientation   the paper upright or across, with the tiling of each template and the pictures that fit on it
Sheet         what goes on one page, in place
Arrangement   the sheets of a whole job

Small templates share a sheet, a large one is tiled over several. Cover and pictures come first, on sheets of their own
or together with templates.
"""

import contextlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache, partial
from itertools import permutations

from profiles.errors import PaperError
from profiles.paper.bands import Bands, bands
from profiles.paper.cover import BETWEEN, WIDEST, Entry, Heading, columns_in, cover_panels
from profiles.paper.drawing import Drawing
from profiles.paper.packing import pack
from profiles.paper.settings import PageSettings
from profiles.paper.template import Template
from profiles.paper.tiling import Tiling, Window, choose_tiling
from profiles.values import dataclass

GAP = 4.0
"""mm between two templates on a page: space for a blade."""

Size = tuple[float, float]
"""Width and height in mm."""

Picture = Callable[[Size], Drawing]
"""A function that draws a picture for a given room, so that its text keeps its size and it can state its scale. It
raises PaperError if the room is too small."""

LARGEST_PICTURE = (360.0, 300.0)
"""mm; a larger picture cannot be taken in at a glance. On a larger sheet there is room for other things."""

FIRST_SHARE = 0.6
"""The share of a sheet's width for the first of several pictures side by side: it shows the whole length of the
body."""


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
    def tile(self) -> str:
        """Which tile this is, like "sheet 2 of 4"; empty for a template on one sheet."""
        count = self.rows * self.columns
        return f"sheet {(self.row - 1) * self.columns + self.column} of {count}" if count > 1 else ""

    @property
    def short_name(self) -> str:
        """Like "03 fore", or "03 fore sheet 2 of 4"."""
        return f"{self.template_id} {self.tile}".rstrip()

    @property
    def name(self) -> str:
        """Like "03 fore", or "03 fore, sheet 2 of 4 (row 1, column 2)"."""
        tile = f", {self.tile} (row {self.row}, column {self.column})" if self.tile else ""
        return f"{self.template_id}{tile}"


@dataclass(frozen=True, slots=True, eq=False)
class Orientation:
    """The paper in one orientation: its bands, how each template fits on it, and the pictures that it shows.

    There is one for each orientation; they are compared by identity.
    """

    bands: Bands
    tilings: tuple[Tiling, ...]
    pictures: tuple[tuple[Drawing, ...], ...]
    """The pictures, grouped by sheet."""

    @property
    def room(self) -> Size:
        """The room for templates."""
        return self.bands.room[2:]

    @property
    def corner(self) -> tuple[float, float]:
        """The upper left corner of that room on the page, mm."""
        return self.bands.room[:2]


@dataclass(frozen=True, slots=True)
class Sheet:
    """What goes on a page: panels of the cover (number, x, y) and pictures (drawing, x, y), mm from the corner of the
    room; pieces of templates.
    """

    orientation: Orientation
    panels: tuple[tuple[int, float, float], ...] = ()
    pieces: tuple[Piece, ...] = ()
    pictures: tuple[tuple[Drawing, float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Arrangement:
    """All sheets of a job."""

    orientations: tuple[Orientation, ...]
    """The orientation of the paper for each template."""
    sheets: tuple[Sheet, ...]
    front: Orientation
    """The orientation of the paper for the cover."""
    column: float
    """The width of a panel of the cover in mm."""

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
class Contents:
    """What is to be printed."""

    templates: tuple[Template, ...]
    heading: Heading
    notes: tuple[str, ...]
    """What the cover says about the job."""
    cover: bool
    """Whether there is a cover."""


def page_numbers(pages: Iterable[Sequence[Piece]]) -> dict[str, tuple[int, ...]]:
    """Template id -> the numbers of the pages that show it; `pages` are the pieces on each page, from the first."""
    numbers: dict[str, dict[int, None]] = {}
    for number, pieces in enumerate(pages, start=1):
        for piece in pieces:
            numbers.setdefault(piece.template_id, {})[number] = None
    return {template_id: tuple(shown) for template_id, shown in numbers.items()}


def arrange(contents: Contents, settings: PageSettings, pictures: Sequence[Picture]) -> Arrangement:
    """The arrangement of the lowest cost. Raises PaperError if the paper cannot hold the bars."""
    orientations = _orientations(contents.templates, settings, pictures)
    sheets = cache(partial(_template_sheets, contents))  # many arrangements share these
    choices = [
        arrangement
        for orientation in orientations
        for arrangement in _arrangements(contents, (orientation,) * len(contents.templates), [orientation], sheets)
    ]
    for main, other in permutations(orientations, 2):
        for chosen in _mixed_orientations(contents.templates, main, other):
            choices += _arrangements(contents, chosen, [main, other], sheets)
    return min(choices, key=lambda arrangement: arrangement.cost)


def draw_cover(
    contents: Contents,
    orientations: Sequence[Orientation],
    front: Orientation,
    width: float,
    pages: Mapping[str, Sequence[int]],
) -> tuple[Drawing, ...]:
    """The panels of the cover, each `width` mm wide, with the `pages` of each template id; zero where they are not
    known yet. No panels if there is no cover.
    """
    if not contents.cover:
        return ()
    entries = []
    for k, template in enumerate(contents.templates):
        tiling = orientations[k].tilings[k]
        entries.append(Entry(template, tiling, tuple(pages.get(template.id, [0] * tiling.sheets))))
    correction = front.bands.correction
    return cover_panels(
        contents.heading,
        front.bands.paper.name,
        entries,
        contents.notes,
        (width, front.room[1]),
        corrected=(correction.x, correction.y) != (1.0, 1.0),
    )


def _orientations(
    templates: Sequence[Template], settings: PageSettings, pictures: Sequence[Picture]
) -> list[Orientation]:
    orientations: list[Orientation] = []
    refusals: list[PaperError] = []
    for paper in settings.orientations:
        try:
            frame = bands(paper, settings)
            room = frame.room[2:]
            tilings = tuple(choose_tiling(template.drawing, room, settings.overlap) for template in templates)
        except PaperError as error:
            refusals.append(error)
            continue
        orientations.append(Orientation(frame, tilings, _draw_pictures(pictures, room)))
    if not orientations:
        raise refusals[0]
    return orientations


def _mixed_orientations(
    templates: Sequence[Template], main: Orientation, other: Orientation
) -> Iterator[tuple[Orientation, ...]]:
    """Use the other orientation for those templates that take fewer sheets there, and then also for those that fit
    beside them.
    """
    numbers = range(len(templates))
    chosen = [main if main.tilings[k].sheets <= other.tilings[k].sheets else other for k in numbers]
    yield tuple(chosen)
    turned = [k for k in numbers if chosen[k] is other and other.tilings[k].sheets == 1]
    sheets = _count_sheets(templates, turned, other)
    for k in numbers:
        if turned and chosen[k] is main and main.tilings[k].sheets == other.tilings[k].sheets == 1:
            more = sorted([*turned, k])
            if _count_sheets(templates, more, other) == sheets:
                turned, chosen[k] = more, other
    if turned:
        yield tuple(chosen)


def _count_sheets(templates: Sequence[Template], numbers: Sequence[int], orientation: Orientation) -> int:
    sizes = [(templates[k].drawing.width, templates[k].drawing.height) for k in numbers]
    return len(pack([_clip_size(size, orientation.room) for size in sizes], orientation.room, GAP))


def _arrangements(
    contents: Contents,
    orientations: tuple[Orientation, ...],
    fronts: Sequence[Orientation],
    sheets: Callable[..., tuple[Sheet, ...]],
) -> Iterator[Arrangement]:
    """Arrangements with cover and pictures before the templates: on sheets of their own in one of the orientations
    `fronts`, or together with templates.

    `sheets` returns the sheets of the templates, as `_template_sheets` does.
    """
    shown = min(fronts, key=lambda front: len(front.pictures))
    pictures = [Sheet(shown, pictures=_place_pictures(group, shown)) for group in shown.pictures]
    for front in fronts:
        abreast, width = columns_in(front.room[0])
        panels = range(len(draw_cover(contents, orientations, front, width, {})))
        groups = [panels[k : k + abreast] for k in range(0, len(panels), abreast)]
        covers = [Sheet(front, tuple((k, n * (width + BETWEEN), 0.0) for n, k in enumerate(group))) for group in groups]
        yield Arrangement(orientations, (*covers, *pictures, *sheets(orientations)), front, width)
        together = sheets(orientations, front)
        if together:
            yield Arrangement(orientations, together, front, min(front.room[0], WIDEST))


def _draw_pictures(pictures: Sequence[Picture], room: Size) -> tuple[tuple[Drawing, ...], ...]:
    """The pictures for this room, grouped by sheet; a picture that does not fit is left out.

    They are drawn narrower, side by side, if that takes fewer sheets and loses no label.
    """
    width, height = (min(size, largest) for size, largest in zip(room, LARGEST_PICTURE, strict=True))
    wide = [(picture, drawing) for picture in pictures if (drawing := _draw_picture(picture, (width, height)))]
    apart = _group_by_sheet([drawing for _, drawing in wide], room)
    if len(apart) <= 1:
        return apart
    first = FIRST_SHARE * (room[0] - GAP) // 1.0
    rest = (room[0] - GAP - first) // 1.0
    beside = []
    for k, (picture, drawing) in enumerate(wide):
        narrow = _draw_picture(picture, (min(width, rest if k else first), height))
        if narrow is None or len(narrow.labels) < len(drawing.labels):
            return apart
        beside.append(narrow)
    return min(apart, _group_by_sheet(beside, room), key=len)


def _draw_picture(picture: Picture, room: Size) -> Drawing | None:
    with contextlib.suppress(PaperError):
        return picture(room)
    return None


def _group_by_sheet(pictures: Sequence[Drawing], room: Size) -> tuple[tuple[Drawing, ...], ...]:
    sizes = [_clip_size((picture.width, picture.height), room) for picture in pictures]
    return tuple(tuple(pictures[slot.which] for slot in slots) for slots in pack(sizes, room, GAP))


def _place_pictures(pictures: Sequence[Drawing], orientation: Orientation) -> tuple[tuple[Drawing, float, float], ...]:
    """The pictures of one sheet in their places."""
    sizes = [_clip_size((picture.width, picture.height), orientation.room) for picture in pictures]
    return tuple((pictures[slot.which], slot.x, slot.y) for slot in pack(sizes, orientation.room, GAP)[0])


def _template_sheets(
    contents: Contents, orientations: Sequence[Orientation], front: Orientation | None = None
) -> tuple[Sheet, ...]:
    """Small templates packed, then the tiles of large ones.

    With a `front`, the cover and the pictures share its first sheets with small templates; nothing if the cover does
    not have exactly one panel.
    """
    templates = contents.templates
    numbered: list[tuple[int, Sheet]] = []
    leading: list[Drawing] = []
    if front:
        panels = draw_cover(contents, orientations, front, min(front.room[0], WIDEST), {})
        if len(panels) != 1:
            return ()
        leading = [*panels, *(picture for group in front.pictures for picture in group)]
    for orientation in dict.fromkeys([*([front] if front else []), *orientations]):
        small = [
            k for k, chosen in enumerate(orientations) if chosen is orientation and orientation.tilings[k].sheets == 1
        ]
        numbered += _pack_templates(templates, small, orientation, leading if orientation is front else ())
    for k, orientation in enumerate(orientations):
        if orientation.tilings[k].sheets > 1:
            tiles = _tiles(templates[k], orientation.tilings[k], orientation.corner)
            numbered += [(k, Sheet(orientation, pieces=(tile,))) for tile in tiles]
    return tuple(sheet for _, sheet in sorted(numbered, key=lambda entry: entry[0]))


def _pack_templates(
    templates: Sequence[Template], small: Sequence[int], orientation: Orientation, leading: Sequence[Drawing]
) -> list[tuple[int, Sheet]]:
    """Sheets with the number of the first template on each; negative for those with `leading`: the panel, pictures."""
    sizes = [(drawing.width + GAP, drawing.height + GAP) for drawing in leading]
    lead = len(sizes)
    sizes += [(templates[k].drawing.width, templates[k].drawing.height) for k in small]
    numbered: list[tuple[int, Sheet]] = []
    for slots in pack([_clip_size(size, orientation.room) for size in sizes], orientation.room, GAP):
        panels = tuple((0, slot.x, slot.y) for slot in slots if lead and slot.which == 0)
        pictures = tuple((leading[slot.which], slot.x, slot.y) for slot in slots if 0 < slot.which < lead)
        placed = [(small[slot.which - lead], slot.x, slot.y) for slot in slots if slot.which >= lead]
        pieces = tuple(_whole(templates[k], x, y, orientation.corner) for k, x, y in placed)
        order = min([slot.which - lead for slot in slots if slot.which < lead], default=placed[0][0] if placed else 0)
        numbered.append((order, Sheet(orientation, panels, pieces, pictures)))
    return numbered


def _clip_size(size: Size, room: Size) -> Size:
    """The size, at most the room: it may exceed the room by rounding, or by the gap beside a panel of the cover."""
    return min(size[0], room[0]), min(size[1], room[1])


def _whole(template: Template, x: float, y: float, corner: tuple[float, float]) -> Piece:
    window = (0.0, 0.0, template.drawing.width, template.drawing.height)
    return Piece(template.id, 1, 1, 1, 1, window, (corner[0] + x, corner[1] + y))


def _tiles(template: Template, tiling: Tiling, corner: tuple[float, float]) -> list[Piece]:
    rows, columns = len(tiling.rows), len(tiling.columns)
    return [
        Piece(template.id, row + 1, column + 1, rows, columns, tiling.window(row, column), corner)
        for row, column in tiling.cells
    ]
