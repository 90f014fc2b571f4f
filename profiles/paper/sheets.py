"""Which sheet each template goes on, and where on it: nested over all sheets of a job, turned and interleaved.

Piece         one template, or one tile of it, on a page
Sheet         what goes on one page, in place
Arrangement   the sheets of a whole job

All sheets lie the same way and have the same room; what is on them is turned.
"""

import contextlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from functools import partial

import numpy as np
import numpy.typing as npt
import shapely

from profiles.errors import PaperError
from profiles.paper.bands import Bands, bands
from profiles.paper.cover import WIDEST, Entry, Heading, cover_panels
from profiles.paper.drawing import Drawing, Label, Points, Role, Stroke
from profiles.paper.forms import Cell, Form, corner_strokes, form_of
from profiles.paper.nesting import UPRIGHT, Nest, Place, Shape, Size, nest, turn_points
from profiles.paper.settings import PageSettings
from profiles.paper.template import MIRRORED, BlockTemplate, Kind, Template
from profiles.paper.tiling import FIT, Window
from profiles.sharing import shared
from profiles.values import dataclass

GAP = 3.0
"""mm between two templates on a page: space for a blade."""

ASIDE = 2.5
"""mm of air between the rule of the bars and the text of the cover."""

CORNER = 8.0
"""mm; how long the lines of a corner of the block's box are where the box itself is left out."""

OFF_FOOTPRINT = 0.5
"""mm between such a corner and its own template."""

Geometries = npt.NDArray[np.object_]
"""shapely geometries (n,)."""

Picture = Callable[[Size], Drawing]
"""A function that draws a picture for a given room, so that its text keeps its size and it can state its scale. It
raises PaperError if the room is too small."""

LARGEST_PICTURE = (360.0, 300.0)
"""mm; a larger picture cannot be taken in at a glance. On a larger sheet there is room for other things."""

PICTURE_SHARES = (1.0, 0.75, 0.6, 0.5)
"""Shares of the room's width that are tried for a picture."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One template, or one tile of it, on a page; `row` and `column` count from 1.

    `window` is the part shown, mm on the template's sheet; `turn` quarter turns clockwise are made with it; `at` is the
    place of the upper left corner of the turned window on the page, mm, before the printer correction.
    """

    template_id: str
    row: int
    column: int
    rows: int
    columns: int
    window: Window
    at: tuple[float, float]
    turn: int = 0
    boxed: bool = True
    """Whether the block's box is drawn; True also for a template without one."""
    corners: tuple[Stroke, ...] = ()
    """The corners of the box that are drawn instead, on the template's sheet."""

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

    def to_page(self, points: Points) -> Points:
        """Points (n, 2) mm of the template's sheet -> page, before the printer correction."""
        return turn_points(points, self.window, self.turn) + self.at

    def draw_label(self, label: Label) -> Label:
        """A label of the template's sheet, in its place on the page."""
        x, y = self.to_page(np.array([(label.x, label.y)]))[0].tolist()
        return label.turned(x, y, 90.0 * self.turn)

    def draw(self, drawing: Drawing) -> Drawing:
        """A drawing on the template's sheet, in its place on the page."""
        if not self.turn:
            return drawing.translate(self.at[0] - self.window[0], self.at[1] - self.window[1])
        return drawing.transform(self.to_page, 90.0 * self.turn)


@dataclass(frozen=True, slots=True)
class Sheet:
    """What goes on a page: panels of the cover (number, x, y) and pictures (drawing, x, y), mm from the corner of the
    room; pieces of templates.
    """

    panels: tuple[tuple[int, float, float], ...] = ()
    pieces: tuple[Piece, ...] = ()
    pictures: tuple[tuple[Drawing, float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Arrangement:
    """All sheets of a job."""

    frame: Bands
    forms: tuple[Form, ...]
    """What pages show of each template."""
    sheets: tuple[Sheet, ...]
    column: float
    """The width of a panel of the cover in mm."""


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


def tile_pages(pages: Iterable[Sequence[Piece]]) -> dict[tuple[str, Cell], int]:
    """Template id and tile (row, column from 0) -> the number of the page that shows it."""
    return {
        (piece.template_id, (piece.row - 1, piece.column - 1)): number
        for number, pieces in enumerate(pages, start=1)
        for piece in pieces
    }


def arrange(
    contents: Contents, settings: PageSettings, pictures: Sequence[Picture], executor: Executor | None = None
) -> Arrangement:
    """The arrangement with the fewest sheets; of those the one with the most boxes. Raises PaperError if the paper
    cannot hold the bars. `executor` tries some of them.
    """
    frame = frame_of(settings)
    room = frame.room[2:]
    width = min(room[0] - ASIDE, WIDEST)
    choices = list(_form_choices(contents, room, settings))
    panels = [
        [_panel_shape(panel, room) for panel in draw_cover(contents, frame, forms, width, {})] for forms in choices
    ]
    tried = [
        [*first, *(shape for form in forms for shape in form.shapes)]
        for first, forms in zip(panels, choices, strict=True)
    ]
    nests = shared(executor, partial(_nest_all, room), tried)
    k = min(range(len(nests)), key=lambda k: nests[k].sheets)  # of equal ones the first
    best = nests[k], choices[k], len(panels[k])
    sheets = _sheets_of(*best, corner=frame.room[:2], room=room)
    more = _place_pictures(pictures, best[0], room, make_sheets=not contents.templates)
    sheets = [*sheets, *(Sheet() for _ in range(best[0].sheets - len(sheets)))]
    for number, picture, x, y in more:
        sheets[number] = replace(sheets[number], pictures=(*sheets[number].pictures, (picture, x, y)))
    order = {form.template.id: k for k, form in enumerate(best[1])}
    sheets.sort(key=lambda sheet: _rank(sheet, order))
    return Arrangement(frame, tuple(best[1]), tuple(sheets or [Sheet()]), width)


def _nest_all(room: Size, tried: Sequence[Sequence[Shape]]) -> list[Nest]:
    return [nest(shapes, room, GAP) for shapes in tried]


def frame_of(settings: PageSettings) -> Bands:
    """The fixed parts of every sheet, upright if they fit so and nothing else is asked for."""
    refusals = []
    for paper in settings.orientations:
        try:
            return bands(paper, settings)
        except PaperError as error:
            refusals.append(error)
    raise refusals[0]


def _form_choices(contents: Contents, room: Size, settings: PageSettings) -> Iterator[list[Form]]:
    """What pages may show of the templates: more boxes first, then with the tiles of large ones as large as may be, so
    that the rest of one goes beside the rest of another.
    """
    templates, plan = contents.templates, contents.heading.fingerprint
    for boxed in _box_choices(templates, room, draw_box=settings.draw_box):
        for full in (False, True):
            forms = [
                form_of(template, room, settings.overlap, boxed=has_box, full=full, plan=plan)
                for template, has_box in zip(templates, boxed, strict=True)
            ]
            yield forms
            if all(form.tiling.sheets == 1 for form in forms):
                break


def _rank(sheet: Sheet, order: Mapping[str, int]) -> tuple[int, int]:
    """Panels first, then by the first template."""
    panel = min((number for number, _, _ in sheet.panels), default=1 << 30)
    return panel, min((order[piece.template_id] for piece in sheet.pieces), default=-1)


def _box_choices(templates: Sequence[Template], room: Size, *, draw_box: bool) -> list[list[bool]]:
    """Which templates may show their box: all; or, for fewer sheets, those whose box fits a sheet, or one face of each
    block of these.
    """
    if draw_box:  # the mirror image of a profile repeats the box of the other
        return [
            [not (isinstance(template, BlockTemplate) and template.source.kind in MIRRORED) for template in templates]
        ]
    fitting = [template.frame is None or _box_fits(template, room) for template in templates]
    first: dict[int, int] = {}
    for k, template in enumerate(templates):
        if fitting[k] and isinstance(template, BlockTemplate) and template.source.kind in {Kind.FORE, Kind.AFT}:
            first.setdefault(template.source.block, k)
    one = [
        template.frame is None or (isinstance(template, BlockTemplate) and first.get(template.source.block) == k)
        for k, template in enumerate(templates)
    ]
    return [fitting] if one == fitting else [fitting, one]


def _box_fits(template: Template, room: Size) -> bool:
    form = form_of(template, room, min(room) / 3, boxed=True)
    return form.tiling.sheets == 1


def _panel_shape(panel: Drawing, room: Size) -> Shape:
    window = (0.0, 0.0, min(panel.width, room[0]), min(panel.height, room[1]))
    return Shape(window, shapely.box(*window), None, UPRIGHT)


def draw_cover(
    contents: Contents, frame: Bands, forms: Sequence[Form], width: float, pages: Mapping[tuple[str, Cell], int]
) -> tuple[Drawing, ...]:
    """The panels of the cover, each `width` mm wide, with the `pages` of each tile; a number as wide as any where they
    are not known yet. No panels if there is no cover.
    """
    if not contents.cover:
        return ()
    unknown = 10 ** len(str(2 * len(contents.templates))) - 2
    entries = [
        Entry(
            form.template,
            form.tiling,
            tuple(
                (cell, pages.get((form.template.id, cell), unknown - k % 2 * 2)) for k, cell in enumerate(form.cells)
            ),
        )
        for form in forms
    ]
    panels = cover_panels(
        contents.heading,
        frame.paper.name,
        entries,
        contents.notes,
        (width, frame.room[3]),
        corrected=(frame.correction.x, frame.correction.y) != (1.0, 1.0),
    )
    return tuple(replace(panel.translate(ASIDE, 0.0), width=panel.width + ASIDE) for panel in panels)


def _sheets_of(
    found: Nest, forms: Sequence[Form], panels: int, *, corner: tuple[float, float], room: Size
) -> list[Sheet]:
    """The sheets with panels and pieces in their places."""
    sheets = [Sheet() for _ in range(found.sheets)]
    for number, place in enumerate(found.places[:panels]):
        sheet = sheets[place.sheet]
        sheets[place.sheet] = replace(sheet, panels=(*sheet.panels, (number, place.x, place.y)))
    places = iter(found.places[panels:])
    on_sheet: dict[int, list[tuple[Form, Piece, Shape]]] = {}
    for form in forms:
        for cell, shape in zip(form.cells, form.shapes, strict=True):
            place = next(places)
            on_sheet.setdefault(place.sheet, []).append((form, _piece(form, cell, place, corner), shape))
    for number, placed in on_sheet.items():
        sheets[number] = replace(sheets[number], pieces=tuple(_with_boxes(placed, corner, room)))
    return sheets


def _piece(form: Form, cell: Cell, place: Place, corner: tuple[float, float]) -> Piece:
    tiling = form.tiling
    return Piece(
        form.template.id,
        cell[0] + 1,
        cell[1] + 1,
        len(tiling.rows),
        len(tiling.columns),
        tiling.window(*cell),
        (corner[0] + place.x, corner[1] + place.y),
        place.turn,
        form.boxed or form.template.frame is None,
    )


def _with_boxes(placed: Sequence[tuple[Form, Piece, Shape]], corner: tuple[float, float], room: Size) -> list[Piece]:
    """The pieces of a sheet, where a box was left out with the box if there is room for it after all, else with those
    of its corners that fit.
    """
    pieces = [piece for _, piece, _ in placed]
    if all(piece.boxed for piece in pieces):
        return pieces
    view = shapely.box(corner[0], corner[1], corner[0] + room[0], corner[1] + room[1]).buffer(1e-6)
    prints = [_parts_on_page(piece, shape) for _, piece, shape in placed]
    lines = [shapely.transform(shape.claim, piece.to_page) for _, piece, shape in placed if shape.claim]
    for k, (form, piece, shape) in enumerate(placed):
        frame = form.template.frame
        if piece.boxed or frame is None:
            continue
        others = np.concatenate([np.zeros(0, object), *prints[:k], *prints[k + 1 :]])
        box = shapely.transform(shapely.box(*frame.rect).boundary, piece.to_page)
        texts = shapely.MultiPolygon([piece.draw_label(label).footprint() for label in frame.drawing.labels])
        free = (
            not _is_near(box, others) and not _is_near(texts, others) and not texts.intersects(shapely.union_all(lines))
        )
        if form.tiling.sheets == 1 and free and view.covers(box) and view.covers(texts):
            pieces[k] = replace(piece, boxed=True)
            lines.append(box)
            prints[k] = np.append(prints[k], texts)
            continue
        window = shapely.box(*piece.window) if form.tiling.sheets > 1 else None
        corners = [
            points
            for points in corner_strokes(form.template, CORNER)
            if not shape.footprint.dwithin(shapely.LineString(points), OFF_FOOTPRINT)
            and (window is None or window.covers(shapely.LineString(points)))
            and _is_free(shapely.LineString(piece.to_page(points)), view, others, lines)
        ]
        pieces[k] = replace(piece, corners=tuple(Stroke(Role.BOX, points) for points in corners))
    return pieces


def _parts_on_page(piece: Piece, shape: Shape) -> Geometries:
    """What nothing else may touch, on the page, in parts that are quick to compare."""
    parts = shapely.get_parts(shapely.get_parts(shape.footprint))
    moved = np.array([shapely.transform(part, piece.to_page) for part in parts], object)
    shapely.prepare(moved)
    return moved


def _is_near(geometry: shapely.Geometry, parts: Geometries) -> bool:
    """Whether it comes nearer to one of the parts (n,) than half of the gap between two templates."""
    return bool(shapely.dwithin(parts, geometry, GAP / 2).any())


def _is_free(
    line: shapely.LineString, view: shapely.Geometry, others: Geometries, lines: Sequence[shapely.Geometry]
) -> bool:
    return bool(view.covers(line) and not _is_near(line, others) and not line.intersects(shapely.union_all(lines)))


def _place_pictures(
    pictures: Sequence[Picture], found: Nest, room: Size, *, make_sheets: bool
) -> list[tuple[int, Drawing, float, float]]:
    """Pictures where sheets have room left, with the number of the sheet; without any room they are left out, unless
    there is nothing else to print.
    """
    shown = []
    for picture in pictures:
        sizes = [
            (min(room[0] * share, LARGEST_PICTURE[0]), min(room[1], LARGEST_PICTURE[1])) for share in PICTURE_SHARES
        ]
        drawings = [drawing for size in sizes if (drawing := _draw_picture(picture, size))]
        places = ((drawing, place) for drawing in drawings if (place := found.add(_panel_shape(drawing, room))))
        chosen = next(places, None)
        if chosen is None and make_sheets and drawings:
            chosen = drawings[0], found.add_sheet(_panel_shape(drawings[0], room))
        if chosen is not None:
            drawing, place = chosen
            shown.append((place.sheet, drawing, place.x, place.y))
    return shown


def _draw_picture(picture: Picture, room: Size) -> Drawing | None:
    with contextlib.suppress(PaperError):
        drawing = picture(room)
        return drawing if drawing.width <= room[0] + FIT and drawing.height <= room[1] + FIT else None
    return None
