"""The figures of a bench as a drawing: time over triangles and over stations, both axes in powers."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import svgwrite

COLOURS = {"stationer": "#0b5394", "trimesh": "#b45f06", "vtk": "#38761d", "manifold3d": "#7a0177", "plain": "#b45f06"}
DASHES = {"stationer": "", "trimesh": "6 3", "vtk": "2 2", "manifold3d": "8 2 2 2", "plain": "6 3"}
"""Lines differ without their colours too."""

PANEL = (300.0, 240.0)
EDGE = (62.0, 40.0, 116.0, 48.0)
"""px; left, top, right and bottom of a panel, for what is written there."""

TEXT = 12
GREY, PALE = "#555555", "#dddddd"

Line = Sequence[tuple[float, float]]
"""(across, up), both above 0."""


@dataclass(frozen=True, slots=True)
class Panel:
    """One plot: lines by name."""

    title: str
    across: str
    up: str
    lines: Mapping[str, Line]
    ticks: Sequence[tuple[float, str]]
    """Places on the axis across, and what is written there."""


def bench_svg(panels: Sequence[Panel], head: str) -> str:
    """The panels side by side as an SVG document."""
    width = sum(PANEL[0] + EDGE[0] + EDGE[2] for _ in panels)
    height = PANEL[1] + EDGE[1] + EDGE[3] + 24
    sheet = svgwrite.Drawing(size=(width, height), viewBox=f"0 0 {width:g} {height:g}", debug=False)
    sheet.add(sheet.rect((0, 0), (width, height), fill="#ffffff"))
    sheet.add(_text(sheet, head, 10, 18, bold=True))
    for number, panel in enumerate(panels):
        place = sheet.g(transform=f"translate({number * (PANEL[0] + EDGE[0] + EDGE[2]) + EDGE[0]:g} {EDGE[1] + 24:g})")
        for element in _panel(sheet, panel):
            place.add(element)
        sheet.add(place)
    return str(sheet.tostring()) + "\n"


def _panel(sheet: svgwrite.Drawing, panel: Panel) -> Iterator[svgwrite.base.BaseElement]:
    wide, tall = PANEL
    points = [point for line in panel.lines.values() for point in line]
    left, right = _span([x for x, _ in points])
    low, high = _span([y for _, y in points])
    low, high = math.floor(low), math.ceil(high)

    def at(x: float, y: float) -> tuple[float, float]:
        return (
            round(wide * (math.log10(x) - left) / (right - left), 2),
            round(tall * (high - math.log10(y)) / (high - low), 2),
        )

    yield sheet.rect((0, 0), (wide, tall), fill="none", stroke=GREY, stroke_width=1)
    yield _text(sheet, panel.title, 0, -10, bold=True)
    yield _text(sheet, panel.across, wide / 2, tall + 36, "middle")
    for power in range(low, high + 1):
        y = at(10**left, 10.0**power)[1]
        yield sheet.line((0, y), (wide, y), stroke=PALE, stroke_width=1)
        yield _text(sheet, f"{10.0**power:g}", -6, y + 4, "end")
    yield _text(sheet, panel.up, -48, tall / 2, "middle", turned=True)
    for x, word in panel.ticks:
        yield _text(sheet, word, at(x, 10.0**low)[0], tall + 18, "middle")
    ends: list[float] = []
    for name, line in sorted(panel.lines.items(), key=lambda one: -one[1][-1][1]):
        key = next((key for key in COLOURS if name.startswith(key)), "stationer")
        looks = {"stroke": COLOURS[key], "stroke_width": 2, "fill": "none"}
        if DASHES[key]:
            looks["stroke_dasharray"] = DASHES[key]
        places = [at(x, y) for x, y in line]
        yield sheet.polyline(places, **looks)
        for place in places:
            yield sheet.circle(place, 3, fill=COLOURS[key])
        y = max(places[-1][1] + 4, ends[-1] + TEXT + 2 if ends else 0.0)
        ends.append(y)
        yield _text(sheet, name, wide + 8, y, colour=COLOURS[key])


def _span(values: Sequence[float]) -> tuple[float, float]:
    low, high = math.log10(min(values)), math.log10(max(values))
    return low - 0.05, max(high, low + 0.1) + 0.05


def _text(  # noqa: PLR0913 - looks are keywords
    sheet: svgwrite.Drawing,
    words: str,
    x: float,
    y: float,
    anchor: str = "start",
    *,
    bold: bool = False,
    turned: bool = False,
    colour: str = "#202020",
) -> svgwrite.text.Text:
    looks: dict[str, object] = {"font_size": TEXT, "font_family": "DejaVu Sans, sans-serif", "fill": colour}
    if bold:
        looks["font_weight"] = "bold"
    if turned:
        looks["transform"] = f"rotate(-90 {x:g} {y:g})"
    return sheet.text(words, insert=(round(x, 2), round(y, 2)), text_anchor=anchor, debug=False, **looks)
