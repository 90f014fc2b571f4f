"""A template too large for one sheet: its windows, what each shows, and the marks that join them.

window   the part of the template's sheet that one page shows, x0, y0, x1, y1 mm
seam     the line in the middle of the overlap of two windows, where one of the two pages is trimmed
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise, product
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from profiles.errors import PaperError
from profiles.paper.drawing import Drawing, Label, Role, Stroke, freeze, line
from profiles.paper.lettering import CAP_HEIGHT
from profiles.values import dataclass

Span = tuple[float, float]
Window = tuple[float, float, float, float]

FIT = 1e-6
"""mm; a sheet larger than the room only by rounding still fits."""

TOUCH = 0.01
"""mm; a clipped piece shorter than this only touches the window: it cannot be printed, and the next page shows it."""

SMALLEST_OVERLAP = 4.0
"""mm; a smaller overlap cannot hold a join mark."""

MARK_ARM = 4.0
MARK_DIAMOND = 2.2
MARK_SIZE = 2.6
"""mm; half a cross, half a diamond, and the font size of a join mark."""

MARK_EVERY = 110.0
"""mm of seam for each join mark; there are at least two, or a page could turn about one."""

TEXT_CLEAR = 2.0
"""mm between a seam and the text beside it."""

LINE_CLEAR = 9.0
"""mm between a seam and a datum line along it: room for a join mark and its name."""

CUT_TEXT, CROSSED_TEXT, NEAR_LINE = 1e6, 1e3, 30.0
"""Cost of a seam at which no window shows a text whole, of one whose trim line crosses a text, and of one close to a
datum line along it, each in mm that the seam moves from even spacing: text is cut only if it cannot be avoided, crossed
only if no free place is near."""


@dataclass(frozen=True, slots=True)
class Tiling:
    """The windows of one template: the spans of its columns and rows, mm on the template's sheet."""

    columns: tuple[Span, ...]
    rows: tuple[Span, ...]

    @property
    def sheets(self) -> int:
        """How many pages the template takes."""
        return len(self.columns) * len(self.rows)

    @property
    def cells(self) -> Iterator[tuple[int, int]]:
        """Row and column of each window, counted from 0, row by row."""
        return product(range(len(self.rows)), range(len(self.columns)))

    def window(self, row: int, column: int) -> Window:
        """The window in that row and column, counted from 0."""
        (x0, x1), (y0, y1) = self.columns[column], self.rows[row]
        return x0, y0, x1, y1

    def shifted(self, dx: float, dy: float) -> "Tiling":
        """The same windows elsewhere on the template's sheet."""
        columns = tuple((low + dx, high + dx) for low, high in self.columns)
        return Tiling(columns, tuple((low + dy, high + dy) for low, high in self.rows))

    def core(self, row: int, column: int) -> Window:
        """The window up to its seams, without its half of each overlap."""
        (x0, x1), (y0, y1) = _core(self.columns, column), _core(self.rows, row)
        return x0, y0, x1, y1


def seams(spans: Sequence[Span]) -> tuple[float, ...]:
    """The middle of each overlap, mm."""
    return tuple((left[1] + right[0]) / 2 for left, right in pairwise(spans))


def _core(spans: Sequence[Span], k: int) -> Span:
    middle = seams(spans)
    return (middle[k - 1] if k else spans[0][0]), (middle[k] if k < len(middle) else spans[-1][1])


def choose_tiling(drawing: Drawing, room: tuple[float, float], overlap: float, *, full: bool = False) -> Tiling:
    """Windows no larger than `room` mm that show the whole drawing, each overlapping the next by `overlap` mm.

    One window if the drawing fits. Seams are spaced evenly, or so that all windows but the last are `full`, and then
    moved, as far as there is room, so that every label is whole in one window and no trim line crosses a label. Raises
    PaperError if the overlap is too small or too large.
    """
    if drawing.width <= room[0] + FIT and drawing.height <= room[1] + FIT:
        return Tiling(((0.0, drawing.width),), ((0.0, drawing.height),))
    boxes = [label.extent() for label in drawing.labels]
    across = _Obstacles([(box[0], box[2]) for box in boxes], _lines_along(drawing, 0))
    down = _Obstacles([(box[1], box[3]) for box in boxes], _lines_along(drawing, 1))
    return Tiling(
        _spans(drawing.width, room[0], overlap, across, full=full),
        _spans(drawing.height, room[1], overlap, down, full=full),
    )


class _Obstacles(NamedTuple):
    """What seams of one direction avoid: the extents of texts, and the places of datum lines along them, mm."""

    texts: Sequence[Span]
    lines: Sequence[float]


def _lines_along(drawing: Drawing, axis: int) -> list[float]:
    places = [stroke.points[:, axis] for stroke in drawing.of_role(Role.DATUM)]
    return sorted({float(place[0]) for place in places if np.ptp(place) < FIT})


def _spans(length: float, room: float, overlap: float, obstacles: _Obstacles, *, full: bool) -> tuple[Span, ...]:
    if length <= room + FIT:
        return ((0.0, length),)
    if not SMALLEST_OVERLAP <= overlap <= room / 3:
        msg = (
            f"The overlap is {overlap:g} mm; sheets that show {room:.0f} mm of a template can be joined with "
            f"{SMALLEST_OVERLAP:g} to {room / 3:.0f} mm."
        )
        raise PaperError(msg, remedy="Choose another overlap or a larger paper.")
    fewest = math.ceil((length - overlap - FIT) / (room - overlap))
    choices = [_seams_for(count, length, room, overlap, obstacles, full=full) for count in (fewest, fewest + 1)]
    _, places = min(choices, key=lambda choice: (choice[0] >= CUT_TEXT, len(choice[1])))
    half = overlap / 2
    starts = [0.0, *(seam - half for seam in places)]
    ends = [*(seam + half for seam in places), length]
    return tuple(zip(starts, ends, strict=True))


def _seams_for(
    count: int, length: float, room: float, overlap: float, obstacles: _Obstacles, *, full: bool
) -> tuple[float, tuple[float, ...]]:
    """The cheapest seams of `count` windows and their cost: a shortest path over the places worth trying."""
    half = overlap / 2
    even = (length + (count - 1) * overlap) / count - overlap
    paths: list[tuple[float, tuple[float, ...]]] = [(0.0, (half,))]
    for k in range(1, count):
        left = count - k
        low = max(length - left * (room - overlap) - half, half)
        high = min(k * (room - overlap) + half, length - half)
        target = high if full else even * k + half
        places = _places(low, high, target, half, obstacles)
        longer = []
        costs, ends = np.array([path[0] for path in paths]), np.array([path[1][-1] for path in paths])
        for place, obstructed in zip(places, _seam_costs(places, half, obstacles), strict=True):
            before = np.flatnonzero((overlap - FIT <= place - ends) & (place - ends <= room - overlap + FIT))
            if len(before):
                cheapest = before[costs[before] == costs[before].min()]
                best = min(paths[n] for n in cheapest.tolist())
                longer.append((best[0] + (obstructed + abs(place - target)), (*best[1], place)))
        paths = longer
    ended = [path for path in paths if overlap - FIT <= length - half - path[1][-1] <= room - overlap + FIT]
    cost, path = min(ended, default=(math.inf, ()))
    return cost, path[1:]


def _places(low: float, high: float, target: float, half: float, obstacles: _Obstacles) -> list[float]:
    """Places worth trying for a seam: the even one, the outermost ones, and those that just clear a text or a line."""
    clear = half + FIT
    places = {min(max(target, low), high), low, high}
    for first, last in obstacles.texts:
        places.update((first + clear, last - clear, first - TEXT_CLEAR, last + TEXT_CLEAR))
    for place in obstacles.lines:
        places.update((place - LINE_CLEAR, place + LINE_CLEAR))
    return sorted(place for place in places if low - FIT <= place <= high + FIT)


def _seam_costs(places: Sequence[float], half: float, obstacles: _Obstacles) -> list[float]:
    """What a seam at each of the places costs, all at once: a template of hundreds of pieces has as many texts."""
    seams = np.array(places)[:, None]
    first, last = np.reshape(obstacles.texts, (-1, 2)).T
    cut = (first < seams - half) & (last > seams + half)
    crossed = (first - TEXT_CLEAR + FIT < seams) & (seams < last + TEXT_CLEAR - FIT) & ~cut
    near = np.abs(seams - np.array(obstacles.lines)) < LINE_CLEAR - FIT
    costs = CUT_TEXT * cut.sum(axis=1) + CROSSED_TEXT * crossed.sum(axis=1) + NEAR_LINE * near.sum(axis=1)
    return [float(cost) for cost in costs]


def clip(stroke: Stroke, window: Window) -> tuple[Stroke, ...]:
    """The pieces of a stroke inside a window, in drawing order.

    Wholly inside: the stroke itself, still closed. Wholly outside, or only touching: none. Otherwise open pieces; where
    a closed stroke starts and ends inside the window, it is one piece. A line along the window's edge is inside.
    """
    x0, y0, x1, y1 = window
    low, high = stroke.points.min(axis=0), stroke.points.max(axis=0)
    if low[0] >= x0 and low[1] >= y0 and high[0] <= x1 and high[1] <= y1:
        return (stroke,)
    if low[0] > x1 or low[1] > y1 or high[0] < x0 or high[1] < y0:
        return ()
    pieces = shapely.LineString(stroke.path).intersection(shapely.box(*window))
    if stroke.closed and pieces.geom_type != "LineString":
        parts = [part for part in shapely.get_parts(pieces).tolist() if part.geom_type == "LineString"]
        pieces = shapely.line_merge(shapely.MultiLineString(parts))
    return tuple(
        Stroke(stroke.role, freeze(shapely.get_coordinates(part)))
        for part in shapely.get_parts(pieces).tolist()
        if part.geom_type == "LineString" and part.length > TOUCH
    )


def tile_drawings(drawing: Drawing, tiling: Tiling) -> dict[tuple[int, int], Drawing]:
    """What each window shows, (row, column) -> drawing in the template's own coordinates, join marks included."""
    labels = _assign_labels(drawing.labels, tiling)
    marks = join_marks(drawing, tiling)
    tiles = {}
    for cell in tiling.cells:
        lines = [piece for stroke in drawing.strokes for piece in clip(stroke, tiling.window(*cell))]
        joins, names = _joins(marks, tiling, *cell)
        tiles[cell] = Drawing(drawing.width, drawing.height, (*lines, *joins), (*labels[cell], *names))
    return tiles


def _assign_labels(labels: Iterable[Label], tiling: Tiling) -> dict[tuple[int, int], list[Label]]:
    """Each label in one tile: one that shows it whole, if necessary after a shift, and nearest to its middle."""
    cells = list(tiling.cells)
    assigned: dict[tuple[int, int], list[Label]] = {cell: [] for cell in cells}
    for label in labels:
        box = label.footprint().bounds
        middle = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
        ranks = [
            (not _holds(tiling.window(*cell), box), not _holds(tiling.core(*cell), (*middle, *middle)), cell)
            for cell in cells
        ]
        must_move, _, cell = min(ranks)
        assigned[cell].append(_move_inside(label, tiling.window(*cell)) if must_move else label)
    return assigned


def _holds(window: Window, box: Window) -> bool:
    return (
        window[0] - FIT <= box[0]
        and window[1] - FIT <= box[1]
        and box[2] <= window[2] + FIT
        and box[3] <= window[3] + FIT
    )


def _move_inside(label: Label, window: Window) -> Label:
    """The label moved into the window, and made smaller if it is longer than the window."""
    box = label.footprint().bounds
    ratio = max((box[2] - box[0]) / (window[2] - window[0]), (box[3] - box[1]) / (window[3] - window[1]))
    if ratio > 1:
        label = replace(label, size=label.size / ratio)
        box = label.footprint().bounds
    right = max(window[0] - box[0], 0.0) - max(box[2] - window[2], 0.0)
    down = max(window[1] - box[1], 0.0) - max(box[3] - window[3], 0.0)
    return label.translate(right, down)


@dataclass(frozen=True, slots=True)
class JoinMark:
    """A cross on a seam with the same name on both pages; `before` is (row, column) left of the seam or above it."""

    name: str
    x: float
    y: float
    before: tuple[int, int]
    after: tuple[int, int]

    @property
    def upright(self) -> bool:
        """Whether the seam runs up the page."""
        return self.before[0] == self.after[0]


def join_marks(drawing: Drawing, tiling: Tiling) -> tuple[JoinMark, ...]:
    """The marks of every seam: a letter for the seam, a number along it.

    They keep clear of labels, and of all lines where the seam is long enough.
    """
    texts = shapely.union_all([label.footprint() for label in drawing.labels])
    lines = shapely.union_all([shapely.LineString(stroke.path) for stroke in drawing.strokes])
    shapely.prepare([texts, lines])
    pairs = [
        ((row, column), (row + down, column + right))
        for row, column in tiling.cells
        for down, right in ((0, 1), (1, 0))
        if row + down < len(tiling.rows) and column + right < len(tiling.columns)
    ]
    marks = []
    for letter, (before, after) in enumerate(pairs):
        for number, (x, y) in enumerate(_mark_places(tiling, before, after, texts, lines), start=1):
            marks.append(JoinMark(f"{_letters(letter)}{number}", x, y, before, after))
    return tuple(marks)


def _letters(k: int) -> str:
    """A, B .. Z, AA, AB .."""
    text = ""
    k += 1
    while k:
        k, rest = divmod(k - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def _mark_places(
    tiling: Tiling, before: tuple[int, int], after: tuple[int, int], texts: BaseGeometry, lines: BaseGeometry
) -> list[tuple[float, float]]:
    upright = before[0] == after[0]
    core = tiling.core(*before)
    low, high = (core[1], core[3]) if upright else (core[0], core[2])
    seam = core[2] if upright else core[3]
    inset = min(2 * MARK_ARM, (high - low) / 4)
    low, high = low + inset, high - inset
    count = max(2, round((high - low) / MARK_EVERY))
    share = (high - low) / count
    places = []
    for k in range(count):
        first = low + k * share
        middle = first + share / 2
        offsets = [middle + step * share / 40 for step in sorted(range(-18, 19), key=abs)]
        spots = [(seam, along) if upright else (along, seam) for along in offsets]
        ranks = [(_mark_conflict(spot, texts, lines, upright=upright), k) for k, spot in enumerate(spots)]
        places.append(spots[min(ranks)[1]])
    return places


def _mark_conflict(spot: tuple[float, float], texts: BaseGeometry, lines: BaseGeometry, *, upright: bool) -> int:
    """2 if the mark would meet a text, 1 if only a line, 0 if neither."""
    x, y = spot
    half = (10.0, 5.0) if upright else (10.0, 6.0)
    ground = shapely.box(x - half[0], y - half[1], x + half[0], y + half[1])
    return 2 if texts.intersects(ground) else 1 if lines.intersects(ground) else 0


def _joins(marks: Iterable[JoinMark], tiling: Tiling, row: int, column: int) -> tuple[list[Stroke], list[Label]]:
    """The trim lines and join marks that one page shows."""
    x0, y0, x1, y1 = tiling.window(row, column)
    strokes: list[Stroke] = []
    core = tiling.core(row, column)
    for edge, seam in ((x0, core[0]), (x1, core[2])):
        if seam != edge:
            strokes.append(line(Role.TRIM, (seam, y0), (seam, y1)))
    for edge, seam in ((y0, core[1]), (y1, core[3])):
        if seam != edge:
            strokes.append(line(Role.TRIM, (x0, seam), (x1, seam)))
    labels: list[Label] = []
    for mark in marks:
        if (row, column) in {mark.before, mark.after}:
            strokes += _cross(mark, _overlap(tiling, mark))
            labels.append(_mark_label(mark, before=(row, column) == mark.before))
    return strokes, labels


def _overlap(tiling: Tiling, mark: JoinMark) -> float:
    before, after = tiling.window(*mark.before), tiling.window(*mark.after)
    return before[2] - after[0] if mark.upright else before[3] - after[1]


def _cross(mark: JoinMark, overlap: float) -> list[Stroke]:
    arm, tip = min(MARK_ARM, overlap / 2), min(MARK_DIAMOND, overlap / 2 - 0.5)
    x, y = mark.x, mark.y
    diamond = freeze([(x - tip, y), (x, y - tip), (x + tip, y), (x, y + tip)])
    return [
        line(Role.JOIN, (x - arm, y), (x + arm, y)),
        line(Role.JOIN, (x, y - arm), (x, y + arm)),
        Stroke(Role.JOIN, diamond, closed=True),
    ]


def _mark_label(mark: JoinMark, *, before: bool) -> Label:
    """The name, on the side of the seam that the page keeps when it is trimmed."""
    off = MARK_DIAMOND + 0.6
    if mark.upright:
        side, anchor = (-off, "end") if before else (off, "start")
        return Label(mark.name, mark.x + side, mark.y - 0.8, MARK_SIZE, anchor)
    drop = -0.9 if before else 0.9 + CAP_HEIGHT * MARK_SIZE
    return Label(mark.name, mark.x + off, mark.y + drop, MARK_SIZE)
