"""A drawing as SVG: millimetres in the page, in the view box and in every coordinate."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from profiles.paper.drawing import STYLES, Area, Drawing, Label, Points, Role, Stroke
from profiles.paper.fonts import font_in_use

if TYPE_CHECKING:
    import svgwrite
    import svgwrite.container

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
    if drawing.areas:
        sheet.add(_patches(sheet, drawing.areas))
    for role in DRAWING_ORDER:
        strokes = drawing.of_role(role)
        if strokes:
            sheet.add(_group(sheet, role, strokes))
    if drawing.labels:
        sheet.add(_lettering(sheet, drawing.labels))
    return f'<?xml version="1.0" encoding="utf-8"?>\n{sheet.tostring()}\n'


def _group(sheet: "svgwrite.Drawing", role: Role, strokes: Iterable[Stroke]) -> "svgwrite.container.Group":
    style = STYLES[role]
    group = sheet.g(fill="none", stroke=style.colour, stroke_width=_number(style.width))
    if style.dash:
        group["stroke-dasharray"] = " ".join(_number(length) for length in style.dash)
    outlines = [path_data(stroke.points, closed=stroke.closed) for stroke in strokes]
    for data in ["".join(outlines)] if role in RUN_TOGETHER else outlines:
        group.add(sheet.path(data, class_=role.value))
    return group


def _patches(sheet: "svgwrite.Drawing", areas: Iterable[Area]) -> "svgwrite.container.Group":
    """Areas without an outline: an outline would have a colour, and colours of lines stand for roles."""
    group = sheet.g(fill_rule="evenodd", stroke="none")
    for area in areas:
        data = "".join(path_data(ring, closed=True) for ring in area.rings)
        group.add(sheet.path(data, class_=f"area {area.kind}", fill=area.colour))
    return group


def _lettering(sheet: "svgwrite.Drawing", labels: Sequence[Label]) -> "svgwrite.container.Group":
    group = sheet.g(fill=STYLES[Role.LABEL].colour, font_family=font_in_use().family)
    for label in labels:
        x, y = _number(label.x), _number(label.y)
        text = sheet.text(label.text, class_=Role.LABEL.value, font_size=_number(label.size))
        text.update({"x": x, "y": y})
        if label.bold:
            text["font-weight"] = "bold"
        if label.anchor != "start":
            text["text-anchor"] = label.anchor
        if label.angle:
            text["transform"] = f"rotate({_number(label.angle)} {x} {y})"
        group.add(text)
    return group


def path_data(points: Points, *, closed: bool) -> str:
    """The points (n, 2) mm as absolute SVG path data with four decimals: a tenth of a micrometre."""
    pairs = ("L%.4f %.4f" * len(points)) % tuple(points.ravel().tolist())
    return f"M{pairs[1:]}{'Z' if closed else ''}"


def _number(value: float, form: str = ".4f") -> str:
    """A number without trailing zeros, and zero without a minus."""
    text = format(value, form).rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text
