"""An empty table of offsets and an empty drawing for sections, to be filled in by a builder with a paper plan."""

from typing import TYPE_CHECKING

import numpy as np

from profiles.paper.drawing import STYLES, Role
from profiles.paper.fonts import font_in_use
from profiles.units import EIGHTHS, MM_PER_IN, MM_PER_UNIT
from profiles.values import dataclass

if TYPE_CHECKING:
    from collections.abc import Sequence

MARGIN = 30.0
"""mm of paper round the greatest section."""

TEXT = 4.0
"""mm, font size, and the distance of lines that is 1.6 times as much."""

GRID = 10.0
"""mm between the lines of the grid."""

TABLE_HELP = (
    "Write into each column what the plan gives for that station, and leave blank what it does not.",
    "A waterline holds half-breadths; its height stands in its name. Add rows as you need them:",
    "buttock 30 (heights at that half-breadth); knuckle chine height and knuckle chine half-breadth;",
    "stem place and stem height (points of the stem one after the other, in any columns); stern alike;",
    "corners keel (x where the keel has a corner along the hull); corners (x where all lines have one).",
    "Rows for keel or sheer may go. Rows that begin with # are remarks.",
)

DRAWING_HELP = (
    "One path for each station, all about this centre line and on one base. Draw the right half from keel to sheer,",
    "or the whole section. Draw it in the group of its station (x0, x100 ...) or give the path that name as its id.",
    "A line on the centre line ends the hull in an edge, as a stem does. Corners are knuckles.",
)


@dataclass(frozen=True, slots=True)
class FormSizes:
    """Sizes of the hull that a form is for, in mm, and how many lines it has room for."""

    length: float = 900.0
    breadth: float = 200.0
    depth: float = 120.0
    stations: int = 11
    waterlines: int = 7

    @property
    def places(self) -> list[float]:
        """Where the stations are along the hull."""
        return [float(x) for x in np.linspace(0.0, self.length, self.stations)]

    @property
    def heights(self) -> list[float]:
        """Heights of the waterlines: none at the keel, none at the sheer."""
        return [float(z) for z in np.linspace(0.0, self.depth, self.waterlines + 2)[1:-1]]


def empty_table(sizes: FormSizes, unit: str = "mm") -> str:
    """A table of offsets as CSV without figures; `unit` is a key of MM_PER_UNIT, or EIGHTHS."""
    places = [_figure(x, unit) for x in sizes.places]
    blank = [""] * len(places)
    rows: list[Sequence[str]] = [
        ["name", ""],
        ["unit", unit],
        ["station", *map(str, range(len(places)))],
        ["place", *places],
        ["keel height", *blank],
        ["sheer height", *blank],
        ["sheer half-breadth", *blank],
        *([f"waterline {_figure(z, unit)}", *blank] for z in reversed(sizes.heights)),
        ["stem place", *blank],
        ["stem height", *blank],
    ]
    return "\n".join([*(f"# {line}" for line in TABLE_HELP), *map(",".join, rows)]) + "\n"


def _figure(value: float, unit: str) -> str:
    """A length in mm as a table holds it; in eighths of an inch the nearest."""
    if unit != EIGHTHS:
        return f"{value / MM_PER_UNIT[unit]:.4f}".rstrip("0").rstrip(".")
    inches, eighths = divmod(round(value / MM_PER_IN * 8), 8)
    return f"{inches // 12}-{inches % 12}-{eighths}"


def empty_drawing(sizes: FormSizes) -> str:
    """An SVG in mm with a centre line, a grid, and a group for each station."""
    import svgwrite  # slow to import

    lines = [*DRAWING_HELP, f"The grid has {GRID:g} mm; the heavy lines are the waterlines of the form."]
    head = MARGIN / 2 + 1.6 * TEXT * len(lines)
    long_line = 0.55 * TEXT * max(map(len, lines))
    width, height = max(sizes.breadth + 2 * MARGIN, long_line + MARGIN), sizes.depth + head + 2 * MARGIN
    centre, base = width / 2, height - MARGIN
    sheet = svgwrite.Drawing(size=(f"{width:g}mm", f"{height:g}mm"), viewBox=f"0 0 {width:g} {height:g}", debug=False)
    words = sheet.g(id="help", font_family=font_in_use().family, font_size=TEXT, fill=STYLES[Role.LABEL].colour)
    for number, line in enumerate(lines):
        words.add(sheet.text(line, insert=(MARGIN / 2, MARGIN / 2 + 1.6 * TEXT * number)))
    sheet.add(words)
    sheet.add(_grid(sheet, sizes, centre, base))
    axis = STYLES[Role.DATUM]
    for name, start, end in (
        ("centre", (centre, base + MARGIN / 2), (centre, base - sizes.depth - MARGIN / 2)),
        ("base", (centre - sizes.breadth / 2, base), (centre + sizes.breadth / 2, base)),
    ):
        sheet.add(sheet.line(id=name, start=start, end=end, stroke=axis.colour, stroke_width=axis.width))
    for x in sizes.places:
        sheet.add(sheet.g(id=f"x{x:.6g}", fill="none", stroke=STYLES[Role.CUT].colour, stroke_width=0.35))
    return f'<?xml version="1.0" encoding="utf-8"?>\n{sheet.tostring()}\n'


def _grid(sheet, sizes: FormSizes, centre: float, base: float):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202
    """Lines every GRID mm about the centre line, and the waterlines heavier."""
    half, style = sizes.breadth / 2, STYLES[Role.TRIM]
    grid = sheet.g(id="grid", fill="none", stroke=style.colour, stroke_width=style.width)
    across = np.arange(-np.floor(half / GRID), np.floor(half / GRID) + 1) * GRID + centre
    up = base - np.arange(0, np.floor(sizes.depth / GRID) + 1) * GRID
    data = [f"M{x:g} {base:g}V{base - sizes.depth:g}" for x in across]
    data += [f"M{centre - half:g} {z:g}H{centre + half:g}" for z in up]
    grid.add(sheet.path(d=" ".join(data)))
    heavy = [f"M{centre - half:g} {base - z:.6g}H{centre + half:g}" for z in sizes.heights]
    grid.add(sheet.path(d=" ".join(heavy), stroke_width=2.5 * style.width))
    return grid
