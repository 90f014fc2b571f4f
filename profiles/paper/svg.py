"""A drawing as SVG: millimetres in the page, in the view box and in every coordinate."""

from collections.abc import Iterable, Sequence
from html import escape

from profiles.paper.drawing import STYLES, Area, Drawing, Label, Points, Role, Stroke
from profiles.paper.fonts import font_in_use

RUN_TOGETHER = frozenset({Role.DATUM, Role.MARK, Role.TRIM, Role.JOIN, Role.LABEL})
"""Roles whose strokes share one path element: many small lines that nobody selects one by one, and rendering time
depends on the number of elements. Outlines, boxes, pins and bars have an element each."""

DRAWING_ORDER = tuple(reversed(Role))
"""Cut lines come last, on top of everything else."""


def drawing_svg(drawing: Drawing, *, title: str = "") -> str:
    """The drawing as an SVG document, the same text for the same drawing.

    Each stroke is a path whose class is its role; the attributes of the groups come from `STYLES`. Areas come first,
    under everything else.
    """
    import svgwrite  # slow to import, and PDFs need only DRAWING_ORDER

    width, height = _number(drawing.width, ".6f"), _number(drawing.height, ".6f")
    sheet = svgwrite.Drawing(
        size=(f"{width}mm", f"{height}mm"), viewBox=f"0 0 {width} {height}", debug=False, profile="full"
    )
    if title:
        sheet.set_desc(title=title)
    groups = [_patches(drawing.areas)] if drawing.areas else []
    for role in DRAWING_ORDER:
        strokes = drawing.of_role(role)
        if strokes:
            groups.append(_group(role, strokes))
    if drawing.labels:
        groups.append(_lettering(drawing.labels))
    # Groups are written as text: a sheet has thousands of elements, and an object for each takes longer than the rest.
    head = sheet.tostring().removesuffix("</svg>")
    return f'<?xml version="1.0" encoding="utf-8"?>\n{head}{"".join(groups)}</svg>\n'


def _group(role: Role, strokes: Iterable[Stroke]) -> str:
    style = STYLES[role]
    dash = f' stroke-dasharray="{" ".join(_number(length) for length in style.dash)}"' if style.dash else ""
    outlines = [path_data(stroke.points, closed=stroke.closed) for stroke in strokes]
    paths = "".join(
        f'<path class="{role.value}" d="{data}" />'
        for data in (["".join(outlines)] if role in RUN_TOGETHER else outlines)
    )
    return f'<g fill="none" stroke="{style.colour}"{dash} stroke-width="{_number(style.width)}">{paths}</g>'


def _patches(areas: Iterable[Area]) -> str:
    """Areas without an outline: an outline would have a colour, and colours of lines stand for roles."""
    paths = []
    for area in areas:
        data = "".join(path_data(ring, closed=True) for ring in area.rings)
        paths.append(f'<path class="area {area.kind}" d="{data}" fill="{area.colour}" />')
    return f'<g fill-rule="evenodd" stroke="none">{"".join(paths)}</g>'


def _lettering(labels: Sequence[Label]) -> str:
    sizes = {label.size: _number(label.size) for label in labels}
    texts = "".join(_text(label, sizes[label.size]) for label in labels)
    return f'<g fill="{STYLES[Role.LABEL].colour}" font-family="{font_in_use().family}">{texts}</g>'


def _text(label: Label, size: str) -> str:
    x, y = _number(label.x), _number(label.y)
    bold = ' font-weight="bold"' if label.bold else ""
    anchor = f' text-anchor="{label.anchor}"' if label.anchor != "start" else ""
    turn = f' transform="rotate({_number(label.angle)} {x} {y})"' if label.angle else ""
    words = escape(label.text, quote=False)
    return f'<text class="{Role.LABEL}" font-size="{size}"{bold}{anchor}{turn} x="{x}" y="{y}">{words}</text>'


def path_data(points: Points, *, closed: bool) -> str:
    """The points (n, 2) mm as absolute SVG path data with four decimals: a tenth of a micrometre."""
    pairs = ("L%.4f %.4f" * len(points)) % tuple(points.ravel().tolist())
    return f"M{pairs[1:]}{'Z' if closed else ''}"


def _number(value: float, form: str = ".4f") -> str:
    """A number without trailing zeros, and zero without a minus."""
    text = format(value, form).rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text
