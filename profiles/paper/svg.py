"""A drawing as SVG: millimetres in the page, in the view box and in every coordinate."""

from collections.abc import Iterable

import svgwrite

from profiles.paper.drawing import STYLES, Area, Drawing, Label, Points, Role, Stroke
from profiles.paper.lettering import FAMILY

RUN_TOGETHER = frozenset({Role.DATUM, Role.MARK, Role.TRIM, Role.JOIN, Role.LABEL})
"""Roles whose strokes share one path element: many small lines that no one picks out one by one, and rendering time
goes by elements. Outlines, boxes, pins and bars keep an element each."""

DRAWING_ORDER = tuple(reversed(Role))
"""Lines to cut by come last, on top of everything else."""


def drawing_svg(drawing: Drawing, *, title: str = "") -> str:
    """The drawing as an SVG document, the same text for the same drawing.

    Each stroke is a path whose class is its role; looks are attributes of the groups, taken from `STYLES`. Areas come
    first, under everything else.
    """
    width, height = _number(drawing.width, 6), _number(drawing.height, 6)
    sheet = svgwrite.Drawing(
        size=(f"{width}mm", f"{height}mm"), viewBox=f"0 0 {width} {height}", debug=False, profile="full"
    )
    if title:
        sheet.set_desc(title=title)
    if drawing.areas:
        sheet.add(_patches(sheet, drawing.areas))
    for role in DRAWING_ORDER:
        strokes = drawing.of_role(role)
        if strokes:
            sheet.add(_group(sheet, role, strokes))
    if drawing.labels:
        sheet.add(_lettering(sheet, drawing.labels))
    body: str = sheet.tostring()
    return f'<?xml version="1.0" encoding="utf-8"?>\n{body}\n'


def _group(sheet: svgwrite.Drawing, role: Role, strokes: Iterable[Stroke]) -> svgwrite.container.Group:
    style = STYLES[role]
    looks = {"fill": "none", "stroke": style.colour, "stroke_width": _number(style.width)}
    if style.dash:
        looks["stroke_dasharray"] = " ".join(_number(length) for length in style.dash)
    group = sheet.g(debug=False, **looks)
    outlines = [path_data(stroke.points, closed=stroke.closed) for stroke in strokes]
    for data in ["".join(outlines)] if role in RUN_TOGETHER else outlines:
        group.add(sheet.path(d=data, class_=role.value, debug=False))
    return group


def _patches(sheet: svgwrite.Drawing, areas: Iterable[Area]) -> svgwrite.container.Group:
    """Areas without a line round them: a line would carry a colour, and colours of lines are roles."""
    group = sheet.g(debug=False, stroke="none", fill_rule="evenodd")
    for area in areas:
        data = "".join(path_data(ring, closed=True) for ring in area.rings)
        group.add(sheet.path(d=data, class_=f"area {area.kind}", fill=area.colour, debug=False))
    return group


def _lettering(sheet: svgwrite.Drawing, labels: Iterable[Label]) -> svgwrite.container.Group:
    colour = STYLES[Role.LABEL].colour
    group = sheet.g(debug=False, font_family=FAMILY, fill=colour)
    for label in labels:
        x, y = _number(label.x), _number(label.y)
        looks = {"font_size": _number(label.size), "class_": Role.LABEL.value}
        if label.anchor != "start":
            looks["text_anchor"] = label.anchor
        if label.bold:
            looks["font_weight"] = "bold"
        if label.angle:
            looks["transform"] = f"rotate({_number(label.angle)} {x} {y})"
        group.add(sheet.text(label.text, insert=(x, y), debug=False, **looks))
    return group


def path_data(points: Points, *, closed: bool) -> str:
    """The points (n, 2) mm as absolute SVG path data with four decimals: a tenth of a micrometre."""
    pairs = [f"{x:.4f} {y:.4f}" for x, y in points.tolist()]
    return f"M{'L'.join(pairs)}{'Z' if closed else ''}"


def _number(value: float, decimals: int = 4) -> str:
    """A number without needless zeros and without a minus before nought."""
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text
