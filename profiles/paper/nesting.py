"""Which footprints share a sheet, where on it and how they are turned: true shapes, not rectangles, lie interleaved.

footprint   what nothing else may touch: material, numbers, leaders
claim       what no other footprint may touch, though claims may overlap: the block's box round the material
turn        quarter turns clockwise, as seen on the sheet

Sheets and shapes are pictures of square cells. A cell belongs to a shape if any of it comes near enough, so two shapes
without a common cell are at least the gap apart. Where a shape can lie on a sheet is asked for all places at once, by a
correlation. All is counted in cells, so the same shapes give the same places on any machine.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import field
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
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


Waves = npt.NDArray[np.complex128]


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
    waves: tuple[int, int]
    """Rows and columns of the transforms: sizes that are quick to transform."""

    @classmethod
    def of(cls, room: Size, gap: float) -> "_Grid":
        cell = max(CELL, math.sqrt(room[0] * room[1] / MOST_CELLS))
        columns, rows = (max(1, int((side + gap) / cell + 1e-6)) for side in room)
        return cls(room, gap, cell, rows, columns, (_smooth(rows), _smooth(columns)))

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
        near = geometry.buffer(self.gap / 2 + self.cell * math.sqrt(0.5), quad_segs=4)
        shapely.prepare(near)
        return np.asarray(shapely.contains_xy(near, *np.meshgrid(x, y)), dtype=np.bool_)


def _smooth(size: int) -> int:
    """The least number from `size` on without a prime factor over 5."""
    while True:
        rest = size
        for prime in (2, 3, 5):
            while rest % prime == 0:
                rest //= prime
        if rest == 1:
            return size
        size += 1


@dataclass(slots=True)
class _Sheet:
    """A sheet while it is filled: the cells of footprints, and of footprints and claims, with their transforms."""

    solid: Bools
    kept: Bools
    solid_wave: Waves
    kept_wave: Waves
    has_claims: bool = False

    @property
    def free(self) -> int:
        return int(np.count_nonzero(~self.solid))


@dataclass(slots=True)
class _Turned:
    """A picture in one turn, cut to the grid, with its transform."""

    turn: int
    solid: Bools
    kept: Bools
    slack: Size
    """mm from the corner of the cells to the corner of the turned window."""
    waves: tuple[Waves, Waves] = field(init=False)

    def transform(self, sizes: tuple[int, int]) -> None:
        solid = np.conj(np.fft.rfft2(self.solid, sizes))
        self.waves = solid, (solid if self.kept is self.solid else np.conj(np.fft.rfft2(self.kept, sizes)))


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
    solid = np.zeros((grid.rows, grid.columns), np.bool_)
    wave = np.fft.rfft2(solid, grid.waves)
    return _Sheet(solid, solid.copy(), wave, wave)


def _turns(grid: _Grid, picture: _Picture) -> list[_Turned]:
    """The picture in each turn that fits the room."""
    result = []
    for turn in picture.shape.turns:
        size = turned_size(picture.shape.size, turn)
        if not _fits(size, grid.room):
            continue
        solid, kept = (np.rot90(cells, -turn)[: grid.rows, : grid.columns] for cells in (picture.solid, picture.kept))
        turned = _Turned(turn, solid, kept, turned_size(picture.margin, turn))
        turned.transform(grid.waves)
        result.append(turned)
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
        rows, columns = way.solid.shape
        spot = _highest(grid, sheet, way)
        if spot is None:
            continue
        row, column = spot
        rank = (row + rows, column + columns, n)
        if best is None or rank < best[0]:
            best = rank, way, row, column
    if best is None:
        return None
    _, way, row, column = best
    _take(grid, sheet, way, row, column)
    half = grid.gap / 2
    x, y = column * grid.cell + way.slack[0] - half, row * grid.cell + way.slack[1] - half
    if picture.shape.turns == UPRIGHT:  # a rectangle: nothing is between it and the edge
        x, y = x if column else 0.0, y if row else 0.0
    width, height = turned_size(picture.shape.size, way.turn)
    x, y = min(max(x, 0.0), grid.room[0] - width), min(max(y, 0.0), grid.room[1] - height)
    return Place(number, max(round(x, 6), 0.0), max(round(y, 6), 0.0), way.turn)


def _highest(grid: _Grid, sheet: _Sheet, way: _Turned) -> tuple[int, int] | None:
    """Row and column of the highest, then leftmost free place."""
    height, width = way.solid.shape
    ends = grid.rows - height + 1, grid.columns - width + 1
    wave = sheet.solid_wave * way.waves[1]
    if sheet.has_claims:
        wave = wave + sheet.kept_wave * way.waves[0]
    free = np.fft.irfft2(wave, grid.waves)[: ends[0], : ends[1]] < 0.5  # noqa: PLR2004 - a count of cells, rounded
    rows = np.flatnonzero(free.any(axis=1))
    if not len(rows):
        return None
    row = int(rows[0])
    return row, int(np.argmax(free[row]))


def _take(grid: _Grid, sheet: _Sheet, way: _Turned, row: int, column: int) -> None:
    rows, columns = way.solid.shape
    sheet.solid[row : row + rows, column : column + columns] |= way.solid
    sheet.kept[row : row + rows, column : column + columns] |= way.kept
    sheet.solid_wave = np.fft.rfft2(sheet.solid, grid.waves)
    sheet.kept_wave = np.fft.rfft2(sheet.kept, grid.waves)
    sheet.has_claims = sheet.has_claims or bool((sheet.kept != sheet.solid).any())
