"""Tables that run down pages: columns as wide as they need, cells that wrap, the head repeated after a page break."""

from collections.abc import Sequence
from dataclasses import replace

from profiles.paper.drawing import Area, Label, Role, Stroke, line, patch, rectangle
from profiles.paper.flow import Item, keep_together, panel, wrap
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.units import in_printed_units
from profiles.values import dataclass

TABLE_TEXT = 2.8
"""Font size in mm; about 8 points."""

LINE = 3.8
"""mm from one line of a cell to the next."""

PADDING = 0.9
"""mm above and below the text of a row."""

GAP = 4.0
"""mm between two columns."""

NARROWEST = 14.0
"""Least width in mm of a column that wraps."""

WHOLE = 8
"""A table of at most this many rows stays on one page."""

ZEBRA = "#f0f2f4"
"""Colour behind every second row."""

TICK = "[]"
"""The text of a cell that is drawn as a box to tick."""

TICK_SIZE = 3.0
"""Side of a box to tick, mm."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its head, its alignment (start or end), and whether it wraps if the table is too wide."""

    head: str
    anchor: str = "start"
    wraps: bool = False


def table_items(
    columns: Sequence[Column], rows: Sequence[Sequence[str]], width: float, *, total: Sequence[str] | None = None
) -> list[Item]:
    """The table as items, at most `width` mm wide. `total` is a last row in bold. A `TICK` cell is drawn as a box."""
    cells = [[in_printed_units(cell) for cell in row] for row in (*rows, *([total] if total else []))]
    items = _rows(columns, cells, _widths(columns, cells, width), total=total is not None)
    return [*keep_together(items[:-1]), items[-1]] if len(cells) <= WHOLE else items


def _rows(
    columns: Sequence[Column], cells: Sequence[Sequence[str]], widths: Sequence[float], *, total: bool = False
) -> list[Item]:
    """The head and the rows in columns of given widths; with a total the last row is bold."""
    head = _head(columns, widths)
    items = []
    for number, row in enumerate(cells):
        bold = total and number == len(cells) - 1
        item = _row(columns, row, widths, bold=bold)
        if number % 2 and not bold:
            ground = patch("zebra", ZEBRA, 0.0, 0.0, _reach(widths), item.height)
            item = replace(item, areas=(ground, *item.areas))
        if bold:
            rule = line(Role.LABEL, (0.0, 0.0), (_reach(widths), 0.0))
            item = replace(item, strokes=(*item.strokes, rule))
        items.append(replace(item, repeat=(head,)))
    if items:
        items[0] = replace(items[0], repeat=())
    return [head, *items]


def without_head(items: Sequence[Item]) -> list[Item]:
    """The table without its head, also after a page break."""
    return [replace(item, repeat=()) for item in items[1:]]


def side_by_side(
    columns: Sequence[Column], rows: Sequence[Sequence[str]], width: float, *, most: int = 3
) -> list[Item]:
    """A narrow table set up to `most` times side by side, as often as it fits. It reads across, so that a page may
    break after any row.
    """
    single = _reach(_widths(columns, rows, width))
    times = max(1, min(most, int((width + 2 * GAP) // (single + 2 * GAP)), len(rows)))
    if times == 1:
        return table_items(columns, rows, width)
    pitch = (width + 2 * GAP) / times
    widths = _widths(columns, rows, width)
    tables = [_rows(columns, rows[k::times], widths) for k in range(times)]
    return [_beside([table[k] for table in tables if k < len(table)], pitch) for k in range(len(tables[0]))]


def in_halves(
    columns: Sequence[Column], rows: Sequence[Sequence[str]], width: float, height: float
) -> list[Item] | None:
    """The two halves of a table side by side, each read down, as one item; None if they do not fit in `width` x
    `height` mm.
    """
    widths = _widths(columns, rows, width)
    pitch = _reach(widths) + 3 * GAP
    half = -(-len(rows) // 2)
    parts = [panel(_rows(columns, part, widths), pitch) for part in (rows[:half], rows[half:])]
    if pitch + _reach(widths) > width or parts[0].height > height:
        return None
    right = parts[1].translate(pitch, 0.0)
    both = parts[0].overlay(right)
    return [Item(both.height, both.strokes, both.labels, areas=both.areas)]


def _beside(items: Sequence[Item], pitch: float) -> Item:
    moved = [item.shift(k * pitch) for k, item in enumerate(items)]
    heads = [item.repeat[0] for item in items if item.repeat]
    return Item(
        max(item.height for item in moved),
        tuple(stroke for item in moved for stroke in item.strokes),
        tuple(label for item in moved for label in item.labels),
        keep=any(item.keep for item in moved),
        areas=tuple(area for item in moved for area in item.areas),
        repeat=(_beside(heads, pitch),) if heads else (),
    )


def _reach(widths: Sequence[float]) -> float:
    return sum(widths) + GAP * (len(widths) - 1)


def _widths(columns: Sequence[Column], rows: Sequence[Sequence[str]], width: float) -> tuple[float, ...]:
    """As wide as the cells need; if that is too wide, the columns that wrap share what the others leave."""
    natural = [
        max([text_width(column.head, TABLE_TEXT, bold=True), *(_cell_width(row[k]) for row in rows)]) + 0.01
        for k, column in enumerate(columns)
    ]
    over = _reach(natural) - width
    if over <= 0:
        return tuple(natural)
    soft = [k for k, column in enumerate(columns) if column.wraps] or list(range(len(columns)))
    left = max(width - _reach(natural) + sum(natural[k] for k in soft), NARROWEST * len(soft))
    shares = _share([natural[k] for k in soft], left)
    for k, share in zip(soft, shares, strict=True):
        natural[k] = share
    over = _reach(natural) - width
    if over > 0:
        widest = width - GAP * (len(columns) - 1)
        natural = [column_width * widest / sum(natural) for column_width in natural]
    return tuple(natural)


def _share(wanted: Sequence[float], room: float) -> list[float]:
    """Share the room: columns that want little get all that they want, the others equal shares of the rest."""
    shares = [0.0] * len(wanted)
    rest = sorted(range(len(wanted)), key=lambda k: wanted[k])
    while rest:
        k = rest.pop(0)
        shares[k] = min(wanted[k], room / (len(rest) + 1))
        room -= shares[k]
    return shares


def _cell_width(text: str) -> float:
    return TICK_SIZE if text == TICK else text_width(text, TABLE_TEXT, bold=True)


def _head(columns: Sequence[Column], widths: Sequence[float]) -> Item:
    row = _row(columns, [column.head for column in columns], widths, bold=True)
    rule = line(Role.LABEL, (0.0, row.height - 0.2), (_reach(widths), row.height - 0.2))
    return replace(row, height=row.height + 0.4, strokes=(*row.strokes, rule), keep=True)


def _row(columns: Sequence[Column], cells: Sequence[str], widths: Sequence[float], *, bold: bool) -> Item:
    labels: list[Label] = []
    strokes: list[Stroke] = []
    areas: list[Area] = []
    left, most = 0.0, 1
    for column, cell, width in zip(columns, cells, widths, strict=True):
        if cell == TICK:
            strokes.append(rectangle(Role.MARK, left, PADDING + (LINE - TICK_SIZE) / 2, TICK_SIZE, TICK_SIZE))
        else:
            lines = wrap(cell, TABLE_TEXT, width, bold=bold)
            most = max(most, len(lines))
            x = left + width if column.anchor == "end" else left
            base = PADDING + (LINE + CAP_HEIGHT * TABLE_TEXT) / 2
            labels += [
                Label(text, x, base + k * LINE, TABLE_TEXT, column.anchor, bold=bold) for k, text in enumerate(lines)
            ]
        left += width + GAP
    return Item(2 * PADDING + most * LINE, tuple(strokes), tuple(labels), areas=tuple(areas))
