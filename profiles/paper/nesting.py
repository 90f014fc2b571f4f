"""Which footprints share a sheet, where on it and how they are turned: true shapes, not rectangles, lie interleaved.

footprint   what nothing else may touch: material, numbers, leaders
claim       what no other footprint may touch, though claims may overlap: the block's box round the material
turn        quarter turns clockwise, as seen on the sheet

Sheets and shapes are pictures of square cells. A cell belongs to a shape if any of it comes near enough, so two shapes
without a common cell are at least the gap apart. Where a shape can lie on a sheet is asked for all places at once: a
sheet is one whole number with a bit for each cell, row after row, and moving the shape is shifting that number. All is
counted in cells, so the same shapes give the same places on any machine.
"""

import functools
import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np
import shapely

from profiles.arrays import Bools, Floats
from profiles.paper.drawing import Points
from profiles.values import dataclass

Size = tuple[float, float]
Window = tuple[float, float, float, float]

CELL = 2.0
"""mm; the side of a cell on sheets up to A3: finer cells save no sheet in the jobs that were tried."""

MOST_CELLS = 32_000
"""On larger sheets cells are larger, so that there are no more than this."""

OPEN = 8
"""The number of sheets that a shape is tried on: those with the most room, first sheets first. In a job of hundreds of
sheets nearly all are full."""

UPRIGHT = (0,)
ANY_TURN = (0, 2, 1, 3)


class Place(NamedTuple):
    """Where a shape lies: its sheet, from 0; the upper left corner of its turned window in the room, mm; its turn."""

    sheet: int
    x: float
    y: float
    turn: int


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """What is to be placed: `window` (x0, y0, x1, y1) mm holds all that is drawn; footprint and claim are within it."""

    window: Window
    footprint: shapely.Geometry
    claim: shapely.Geometry | None = None
    turns: tuple[int, ...] = ANY_TURN

    @property
    def size(self) -> Size:
        """Width and height of the window, mm."""
        x0, y0, x1, y1 = self.window
        return x1 - x0, y1 - y0

    def fits(self, room: Size) -> bool:
        """Whether it fits the room in one of its turns."""
        return any(_fits(turned_size(self.size, turn), room) for turn in self.turns)


def turned_size(size: Size, turn: int) -> Size:
    """Width and height after quarter turns."""
    return (size[1], size[0]) if turn % 2 else size


def turn_points(points: Points, window: Window, turn: int) -> Points:
    """Points (n, 2) of a window (mm), after quarter turns, measured from the upper left corner of the turned window."""
    x0, y0, x1, y1 = window
    u, v = points[:, 0] - x0, points[:, 1] - y0
    across, down = ((u, v), (y1 - y0 - v, u), (x1 - x0 - u, y1 - y0 - v), (v, x1 - x0 - u))[turn % 4]
    return np.column_stack([across, down])


def _fits(size: Size, room: Size) -> bool:
    return size[0] <= room[0] + 1e-6 and size[1] <= room[1] + 1e-6


@dataclass(slots=True, eq=False)
class Nest:
    """Shapes in their places, and what is left of the sheets."""

    places: list[Place]
    grid: "_Grid"
    filled: list["_Sheet"]

    @property
    def sheets(self) -> int:
        """The number of sheets."""
        return len(self.filled)

    def add(self, shape: Shape) -> Place | None:
        """The place of one more shape on the sheets there are, taken; None if none has room for it."""
        picture = self.grid.picture(shape)
        return _first_place(self.grid, self.filled, _turns(self.grid, picture), picture)

    def add_sheet(self, shape: Shape) -> Place:
        """The place of one more shape on a sheet of its own, which has room for it."""
        self.filled.append(_empty_sheet(self.grid))
        picture = self.grid.picture(shape)
        place = _place_on(self.grid, self.filled, self.sheets - 1, _turns(self.grid, picture), picture)
        return place or Place(self.sheets - 1, 0.0, 0.0, 0)


def nest(shapes: Sequence[Shape], room: Size, gap: float) -> Nest:
    """The place of each shape, on as few sheets as the order largest first finds; `gap` mm stay between footprints.

    Shapes that are not to be turned come first, in their order, each on the first sheet with room for it. Every shape
    must fit the room in one of its turns.
    """
    grid = _Grid.of(room, gap)
    pictures = [grid.picture(shape) for shape in shapes]
    turned = [_turns(grid, picture) for picture in pictures]
    fixed = [k for k, shape in enumerate(shapes) if shape.turns == UPRIGHT]
    rest = [k for k, shape in enumerate(shapes) if shape.turns != UPRIGHT]
    best = Nest([], grid, [])
    for order in _orders(rest, pictures):
        best = _fill(grid, pictures, turned, [*fixed, *order], best.sheets) or best
    return best


def _orders(numbers: Sequence[int], pictures: Sequence["_Picture"]) -> Iterable[list[int]]:
    """Orders to try: by what a shape keeps others out of, and by its longer side."""
    yield sorted(numbers, key=lambda k: (-pictures[k].cells, k))
    yield sorted(numbers, key=lambda k: (-pictures[k].longest, -pictures[k].cells, k))


@dataclass(frozen=True, slots=True)
class _Picture:
    """A shape as cells, unturned: `solid` its footprint, `kept` footprint and claim; `margin` (across, down) mm from
    the edges of the cells to the window.
    """

    shape: Shape
    solid: Bools
    kept: Bools
    margin: Size

    @property
    def cells(self) -> int:
        """How many cells others are kept out of."""
        return int(np.count_nonzero(self.kept))

    @property
    def longest(self) -> int:
        """The longer side, in cells."""
        return int(max(self.solid.shape))


@dataclass(frozen=True, slots=True)
class _Grid:
    """The room of a sheet as cells: it extends by half of the gap beyond the room, as windows do."""

    room: Size
    gap: float
    cell: float
    rows: int
    columns: int

    @classmethod
    def of(cls, room: Size, gap: float) -> "_Grid":
        cell = max(CELL, math.sqrt(room[0] * room[1] / MOST_CELLS))
        columns, rows = (max(1, int((side + gap) / cell + 1e-6)) for side in room)
        return cls(room, gap, cell, rows, columns)

    def picture(self, shape: Shape) -> _Picture:
        """The cells of a shape; a window as large as the room may have a cell too many, which is left out."""
        x0, y0, x1, y1 = shape.window
        across, down = (math.ceil((side + self.gap) / self.cell - 1e-6) for side in shape.size)
        margin = (across * self.cell - (x1 - x0)) / 2, (down * self.cell - (y1 - y0)) / 2
        x = np.linspace(x0 - margin[0], x1 + margin[0], 2 * across + 1)[1::2]
        y = np.linspace(y0 - margin[1], y1 + margin[1], 2 * down + 1)[1::2]
        solid = self._cells(shape.footprint, x, y)
        kept = solid if shape.claim is None else solid | self._cells(shape.claim, x, y)
        return _Picture(shape, solid, kept, margin)

    def _cells(self, geometry: shapely.Geometry, x: Floats, y: Floats) -> Bools:
        reach = self.gap / 2 + self.cell * math.sqrt(0.5)
        cells = np.zeros((len(y), len(x)), np.bool_)
        for part in shapely.get_parts(shapely.get_parts(geometry)):  # one by one: the union of hundreds takes seconds
            near = part.buffer(reach, quad_segs=4)
            shapely.prepare(near)
            left, top, right, bottom = near.bounds
            columns, rows = slice(*np.searchsorted(x, (left, right))), slice(*np.searchsorted(y, (top, bottom)))
            cells[rows, columns] |= shapely.contains_xy(near, *np.meshgrid(x[columns], y[rows]))
        return cells


class _Open:
    """The cells of a sheet that are still open, as bits, and where runs of them begin."""

    def __init__(self, cells: int) -> None:
        self.cells = cells
        self._doubled = [cells]

    def take(self, cells: int) -> None:
        """Close cells."""
        self.cells &= ~cells
        self._doubled = [self.cells]

    def starts(self, start: int, length: int) -> int:
        """The places of a shape, as bits, for which `length` open cells begin `start` cells on.

        Runs of 1, 2, 4 ... cells are kept; of any other length two of these that overlap.
        """
        level = length.bit_length() - 1
        while len(self._doubled) <= level:
            last = self._doubled[-1]
            self._doubled.append(last & last >> (1 << len(self._doubled) - 1))
        runs = self._doubled[level]
        return runs >> start & runs >> start + length - (1 << level)


@dataclass(slots=True)
class _Sheet:
    """A sheet while it is filled: cells that no footprint covers, and that neither footprint nor claim covers."""

    solid: _Open
    kept: _Open
    has_claims: bool = False

    @property
    def free(self) -> int:
        """How many cells no footprint covers."""
        return self.solid.cells.bit_count()


@dataclass(frozen=True, slots=True)
class _Cover:
    """Cells as bits and as runs (start, length)."""

    bits: int
    runs: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class _Turned:
    """A picture in one turn, cut to the grid: its rows and columns, its footprint, and that with its claim."""

    turn: int
    rows: int
    columns: int
    solid: _Cover
    kept: _Cover
    places: int
    """Where it lies within the grid, as bits."""
    slack: Size
    """mm from the corner of the cells to the corner of the turned window."""


def _bits(cells: Bools, columns: int) -> int:
    """Cells (rows, columns) as a number, a row of the grid after the other."""
    wide = np.zeros((len(cells), columns), np.bool_)
    wide[:, : cells.shape[1]] = cells
    return int.from_bytes(np.packbits(wide, bitorder="little").tobytes(), "little")


def _runs(cells: Bools, columns: int) -> tuple[tuple[int, int], ...]:
    """Start and length of the runs of cells in each row; rows far apart follow each other, since they tell most."""
    edges = np.diff(cells.astype(np.int8), axis=1, prepend=0, append=0)
    (row, start), (_, end) = np.nonzero(edges == 1), np.nonzero(edges == -1)
    runs = list(zip((row * columns + start).tolist(), (end - start).tolist(), strict=True))
    return tuple(runs[k] for k in _far_apart(len(runs)))


@functools.cache
def _far_apart(count: int) -> tuple[int, ...]:
    """The numbers below `count` by their binary digits read from the right, as 0, 4, 2, 6, 1, 5, 3, 7."""
    return tuple(sorted(range(count), key=lambda k: f"{k:016b}"[::-1]))


def _fill(
    grid: _Grid,
    pictures: Sequence[_Picture],
    turned: Sequence[Sequence["_Turned"]],
    order: Sequence[int],
    limit: int,
) -> Nest | None:
    """Places by the order; None as soon as they take `limit` sheets, unless that is 0."""
    sheets: list[_Sheet] = []
    places: dict[int, Place] = {}
    for k in order:
        place = _first_place(grid, sheets, turned[k], pictures[k])
        if place is None:
            if limit and len(sheets) + 1 >= limit:
                return None
            sheets.append(_empty_sheet(grid))
            place = _place_on(grid, sheets, len(sheets) - 1, turned[k], pictures[k])
        if place is None:
            msg = f"expected a shape of {pictures[k].shape.size} mm to fit the room of {grid.room} mm"
            raise ValueError(msg)
        places[k] = place
    return Nest([places[k] for k in sorted(places)], grid, sheets)


def _empty_sheet(grid: _Grid) -> _Sheet:
    cells = (1 << grid.rows * grid.columns) - 1
    return _Sheet(_Open(cells), _Open(cells))


def _turns(grid: _Grid, picture: _Picture) -> list[_Turned]:
    """The picture in each turn that fits the room."""
    result = []
    for turn in picture.shape.turns:
        size = turned_size(picture.shape.size, turn)
        if not _fits(size, grid.room):
            continue
        solid, kept = (np.rot90(cells, -turn)[: grid.rows, : grid.columns] for cells in (picture.solid, picture.kept))
        rows, columns = solid.shape
        ends = np.ones((grid.rows - rows + 1, grid.columns - columns + 1), np.bool_)
        first, second = (_Cover(_bits(cells, grid.columns), _runs(cells, grid.columns)) for cells in (solid, kept))
        slack = turned_size(picture.margin, turn)
        result.append(_Turned(turn, rows, columns, first, second, _bits(ends, grid.columns), slack))
    return result


def _first_place(grid: _Grid, sheets: Sequence[_Sheet], turned: Sequence[_Turned], picture: _Picture) -> Place | None:
    need = int(picture.solid.sum())
    able = [n for n, sheet in enumerate(sheets) if sheet.free >= need]
    roomiest = sorted(able, key=lambda n: -sheets[n].free)[:OPEN]
    for n in sorted(roomiest):
        place = _place_on(grid, sheets, n, turned, picture)
        if place is not None:
            return place
    return None


def _place_on(
    grid: _Grid, sheets: Sequence[_Sheet], number: int, turned: Sequence[_Turned], picture: _Picture
) -> Place | None:
    """The place on a sheet that ends furthest up and left, taken; None if there is none."""
    sheet = sheets[number]
    best: tuple[tuple[int, int, int], _Turned, int, int] | None = None
    for n, way in enumerate(turned):
        first = _first_free(sheet, way)
        if first is None:
            continue
        row, column = divmod(first, grid.columns)
        rank = (row + way.rows, column + way.columns, n)
        if best is None or rank < best[0]:
            best = rank, way, row, column
    if best is None:
        return None
    _, way, row, column = best
    _take(sheet, way, row * grid.columns + column)
    half = grid.gap / 2
    x, y = column * grid.cell + way.slack[0] - half, row * grid.cell + way.slack[1] - half
    if picture.shape.turns == UPRIGHT:  # a rectangle: nothing is between it and the edge
        x, y = x if column else 0.0, y if row else 0.0
    width, height = turned_size(picture.shape.size, way.turn)
    x, y = min(max(x, 0.0), grid.room[0] - width), min(max(y, 0.0), grid.room[1] - height)
    return Place(number, max(round(x, 6), 0.0), max(round(y, 6), 0.0), way.turn)


def _first_free(sheet: _Sheet, way: _Turned) -> int | None:
    """The highest, then leftmost free place: row x columns + column of its corner."""
    places = way.places
    for start, length in way.kept.runs:
        places &= sheet.solid.starts(start, length)
        if not places:
            return None
    for start, length in way.solid.runs if sheet.has_claims else ():
        places &= sheet.kept.starts(start, length)
        if not places:
            return None
    return (places & -places).bit_length() - 1


def _take(sheet: _Sheet, way: _Turned, place: int) -> None:
    sheet.solid.take(way.solid.bits << place)
    sheet.kept.take(way.kept.bits << place)
    sheet.has_claims = sheet.has_claims or sheet.kept.cells != sheet.solid.cells
