"""The deviation of the glued blocks from the hull along its length: a row for each foam or plan, all to one scale.

Missing foam is below the line, extra foam above it.
"""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from profiles.arrays import Bools
from profiles.paper.drawing import Area, Drawing, Label, Points, Role, Stroke, freeze, hairline, line, patch
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.pictures.bodyview import EDGE, LEAST_SHOWN, TEXT, TITLE, format_length, hatching, plain
from profiles.pictures.tints import EXTRA, GREY, MISSING, PALE, round_value
from profiles.units import printed_unit, short_length
from profiles.values import dataclass

WIDE = 182.0
"""mm; width of the picture."""

MARGIN = 14.0
"""mm left of the axes, for the numbers of the vertical one."""

TALL = 26.0
"""mm; height of the axes of a row."""

ROW_HEAD = 7.0
"""mm above the axes of a row, for its label."""

BETWEEN = 4.0
"""mm between two rows."""

FOOT = 11.0
"""mm below the last row: the numbers of the horizontal axis and what they are."""

NUMBER = 2.4
"""mm, font size of the numbers at the axes."""

APART = 4.5
"""mm; least distance between two numbers of the vertical axis."""

COLUMN = 16.0
"""mm; least distance between two numbers of the horizontal axis."""

LEAST_RANGE = 0.1
"""mm; a shorter axis would magnify what nobody can feel."""

LEVEL = 1
"""Which tint of each arm fills the curves: darker than paper, lighter than a line."""


@dataclass(frozen=True, slots=True)
class PlotRow:
    """One row: places `x` (n,) along the hull, foam `missing` (n,) and `extra` (n,) there, all mm and the last two not
    negative; NaN where nothing is known, as in a carved block. `stations` are x in mm.
    """

    label: str
    x: Points
    missing: Points
    extra: Points
    stations: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class _Axes:
    """The axes of a row on the sheet, mm: left end, height of zero, and scales in mm per mm."""

    left: float
    zero: float
    across: float
    up: float
    lowest: float
    highest: float
    """mm of deviation at the ends of the vertical axis; the lowest is not positive."""

    @property
    def ends(self) -> tuple[float, float]:
        """Top and bottom on the sheet."""
        return self.zero - self.highest * self.up, self.zero - self.lowest * self.up

    def places(self, x: Points, value: Points) -> Points:
        """Points on the sheet; values beyond the axis are drawn at its end."""
        within = np.clip(value, self.lowest, self.highest)
        return np.column_stack([self.left + x * self.across, self.zero - within * self.up])


def deviation_plot(
    rows: Sequence[PlotRow], *, title: str = "Deviation along the hull", most: float | None = None
) -> Drawing:
    """The rows one below the other, all to one scale: x in mm from the nose, deviation in mm.

    `most` ends the vertical axis at so many mm; a larger value is cut off there but still given as a number. Raises
    ValueError if there is no row or if the arrays of a row differ in length.
    """
    _check(rows)
    far = max(max(float(row.x[-1]), *row.stations) if row.stations else float(row.x[-1]) for row in rows)
    lowest, highest, step = _range(rows, most)
    up = TALL / (highest - lowest)
    across = (WIDE - EDGE - MARGIN - EDGE) / far
    drawing = Drawing(WIDE, 0.0).with_more(*_head(title, cut=_largest(rows) > max(highest, -lowest)))
    top = EDGE + CAP_HEIGHT * TITLE + 1.6 * TEXT + BETWEEN
    for row in rows:
        axes = _Axes(EDGE + MARGIN, top + ROW_HEAD + highest * up, across, up, lowest, highest)
        drawing = drawing.with_more(*_row(row, axes, far, step))
        top += ROW_HEAD + TALL + BETWEEN
    bottom = top - BETWEEN
    labels = _horizontal_numbers(far, across, bottom)
    sheet = Drawing(WIDE, bottom + FOOT)
    return sheet.with_more(drawing.strokes, (*drawing.labels, *labels), drawing.areas)


def _check(rows: Sequence[PlotRow]) -> None:
    if not rows:
        msg = "expected at least one row to plot, found none"
        raise ValueError(msg)
    for row in rows:
        sizes = {len(row.x), len(row.missing), len(row.extra)}
        if len(sizes) > 1 or sizes == {0}:
            msg = f"expected as many places as figures in row {row.label!r}, found {sorted(sizes)}"
            raise ValueError(msg)


def _greatest(values: Points) -> float:
    known = values[np.isfinite(values)]
    return float(known.max()) if len(known) else 0.0


def _largest(rows: Sequence[PlotRow]) -> float:
    return max(max(_greatest(row.missing), _greatest(row.extra)) for row in rows)


def _range(rows: Sequence[PlotRow], most: float | None) -> tuple[float, float, float]:
    """The ends of the vertical axis and the step of its numbers, mm: whole steps that hold every value up to `most`."""
    limit = np.inf if most is None else most
    below = min(max(_greatest(row.missing) for row in rows), limit)
    above = min(max(_greatest(row.extra) for row in rows), limit)
    if below + above < LEAST_RANGE:
        above = LEAST_RANGE
    step = -9
    while True:
        size = round_value(step)
        low, high = -np.ceil(below / size - 1e-9) * size, np.ceil(above / size - 1e-9) * size
        if TALL * size / (high - low) >= APART:
            return float(low), float(high), size
        step += 1


def _head(title: str, *, cut: bool) -> tuple[list[Stroke], list[Label], list[Area]]:
    """The title, and the meaning of the two colours."""
    y = EDGE + CAP_HEIGHT * TITLE
    room = WIDE - 2 * EDGE
    labels = [Label(title, EDGE, y, TITLE * min(1.0, room / text_width(title, TITLE, bold=True)), bold=True)]
    y += 1.6 * TEXT
    x, areas = EDGE, []
    for tint, text in ((EXTRA[LEVEL], "extra foam"), (MISSING[LEVEL], "foam missing")):
        areas.append(patch(tint.kind, tint.colour, x, y - CAP_HEIGHT * TEXT, 4.0, CAP_HEIGHT * TEXT))
        labels.append(Label(text, x + 5.5, y, TEXT))
        x += 5.5 + text_width(text, TEXT) + 6.0
    scale = f"{printed_unit()}; the same scale in every row" + ("; what is larger is cut off" if cut else "")
    labels.append(Label(scale, x, y, TEXT))
    return [], labels, areas


def _row(row: PlotRow, axes: _Axes, far: float, step: float) -> tuple[list[Stroke], list[Label], list[Area]]:
    top, bottom = axes.ends
    end = axes.left + far * axes.across
    areas = [*_unknown(row, axes)]
    labels = []
    for k in range(round(axes.lowest / step), round(axes.highest / step) + 1):
        y = axes.zero - k * step * axes.up
        areas.append(hairline("grid", PALE, (axes.left, y), (end, y), 0.12))
        text = f"{'+' if k > 0 else ''}{short_length(k * step)}"
        labels.append(Label(text, axes.left - 1.5, y + CAP_HEIGHT * NUMBER / 2, NUMBER, "end"))
    for x in row.stations:
        at = axes.left + x * axes.across
        areas.append(hairline("station", GREY, (at, top), (at, bottom), 0.12))
    areas += _curve(EXTRA[LEVEL].kind, EXTRA[LEVEL].colour, axes, row.x, row.extra)
    areas += _curve(MISSING[LEVEL].kind, MISSING[LEVEL].colour, axes, row.x, -row.missing)
    strokes = [line(Role.LABEL, (axes.left, axes.zero), (end, axes.zero))]
    base = top - 2.2
    values = f"{_up_to('missing', row.missing)}, {_up_to('extra', row.extra)}"
    labels.append(Label(values, WIDE - EDGE, base, TEXT, "end"))
    room = WIDE - 2 * EDGE - text_width(values, TEXT) - BETWEEN
    size = TEXT * min(1.0, room / max(text_width(row.label, TEXT, bold=True), 1.0))
    labels.append(Label(row.label, EDGE, base, size, bold=True))
    return strokes, labels, areas


def _up_to(word: str, values: Points) -> str:
    greatest = _greatest(values)
    return f"{word} up to {format_length(greatest)} {printed_unit()}" if greatest >= LEAST_SHOWN else f"none {word}"


def _runs(known: Bools) -> Iterator[tuple[int, int]]:
    """First and last place of each unbroken run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(np.int8)))
    yield from ((int(first), int(after) - 1) for first, after in edges.reshape(-1, 2))


def _curve(kind: str, colour: str, axes: _Axes, x: Points, value: Points) -> list[Area]:
    """The areas between the zero line and the curve, one for each stretch that is known."""
    areas = []
    for first, last in _runs(np.isfinite(value)):
        stretch, figures = x[first : last + 1], value[first : last + 1]
        if first == last or not figures.any():
            continue
        ends = axes.places(stretch[[-1, 0]], np.zeros(2))
        areas.append(Area(kind, colour, (freeze(np.concatenate([axes.places(stretch, figures), ends])),)))
    return areas


def _unknown(row: PlotRow, axes: _Axes) -> list[Area]:
    """Hatching where nothing is known, up to the nearest places where something is."""
    top, bottom = axes.ends
    areas = []
    for first, last in _runs(~np.isfinite(row.missing + row.extra)):
        left, right = row.x[max(first - 1, 0)], row.x[min(last + 1, len(row.x) - 1)]
        x0, x1 = axes.left + float(left) * axes.across, axes.left + float(right) * axes.across
        if x1 > x0:
            areas += [Area("hatch", PALE, area.rings) for area in hatching(shapely.box(x0, top, x1, bottom))]
    return areas


def _horizontal_numbers(far: float, across: float, bottom: float) -> list[Label]:
    """The numbers below the last row, and what they are."""
    step = -3
    while round_value(step) * across < COLUMN:
        step += 1
    size = round_value(step)
    y = bottom + 1.5 + CAP_HEIGHT * NUMBER
    labels = [
        Label(plain(k * size), EDGE + MARGIN + k * size * across, y, NUMBER, "middle")
        for k in range(int(far / size + 1e-9) + 1)
    ]
    return [*labels, Label(f"{printed_unit()} from the nose", EDGE + MARGIN, y + 1.5 * NUMBER, NUMBER)]
