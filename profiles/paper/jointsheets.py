"""Joints between parts -> templates: the outline of the glued area at full size, with pins and dowels across it.

Each joint is printed for both parts, as each of them shows it: for one as it is seen from the side of greater
coordinates, for the other mirrored. Laid on each other face to face the two cover each other.
"""

import math
from collections.abc import Sequence

import shapely
from shapely import MultiPolygon, Polygon

from profiles.blocks.outlines import Pin, foam_surface, pins_for
from profiles.hull.parts import Joint
from profiles.paper.drawing import Drawing, Label, Role, Stroke, circle, freeze, line, pin_hole
from profiles.paper.facesheet import outline_strokes
from profiles.paper.lettering import ASCENT, text_width
from profiles.paper.placing import Occupied, room_for
from profiles.paper.template import Template
from profiles.values import dataclass

DOWEL = 6.0
"""mm; diameter of a wooden dowel across a joint (common practice for models of this size)."""

DOWEL_EDGE = 9.0
"""mm from the edge of a dowel's hole to that of the joint: foam that is thinner tears out (common practice)."""

PAD = 1.0
"""mm of empty sheet round everything drawn."""

TITLE, TEXT = 4.5, 3.2
"""mm; sizes of the text above the outline."""

INSIDE, LEAST = 4.0, 2.2
"""mm; sizes of the name inside the outline."""

LEADING = 1.35

ARROW = 12.0
"""mm; length of the arrow that shows how the sheet lies in the hull."""

DIRECTIONS = {"x": ("y", "STARBOARD", "UP"), "y": ("z", "UP", "AFT"), "z": ("x", "AFT", "STARBOARD")}
"""Axis of a joint -> its first axis, and the words for greater coordinates along its first and second axis."""


@dataclass(frozen=True, slots=True)
class JointHoles:
    """What goes across a joint, in its own coordinates, mm."""

    pins: tuple[Pin, ...]
    """Two for each area that has room for them: nails or skewers that stop it from turning."""
    dowels: tuple[Pin, ...]
    """Those of the pins that have room for a dowel instead."""


def holes_of(joint: Joint, pin: float) -> JointHoles:
    """Pins of `pin` mm, and those places where a dowel fits; none where a joint is too small."""
    pins = pins_for([joint.outline], pin)
    room = joint.outline.buffer(-(DOWEL / 2 + DOWEL_EDGE))
    return JointHoles(pins, tuple(hole for hole in pins if room.covers(shapely.Point(hole.y, hole.z))))


def joint_name(number: int) -> str:
    """What a joint is called: "joint 1"."""
    return f"joint {number}"


def joint_templates(
    joints: Sequence[Joint], titles: dict[str, str], fingerprint: str, pin: float, skin: float = 0.0
) -> tuple[Template, ...]:
    """Two sheets for each joint, one for either part; `titles` are the parts' names as printed, by their names."""
    sheets = []
    for number, joint in enumerate(joints, start=1):
        for which in (0, 1):
            own, other = (titles[joint.parts[n]] for n in (which, 1 - which))
            words = (f"{joint_name(number)}, {own}", f"glued to {other}", fingerprint)
            sheets.append(_sheet(joint, words, holes_of(joint, pin), skin, mirrored=which == 1))
    return tuple(sheets)


def _sheet(joint: Joint, words: tuple[str, str, str], holes: JointHoles, skin: float, *, mirrored: bool) -> Template:
    """One side of a joint: seen from greater coordinates its first axis goes to the right and its second up."""
    sign = -1.0 if mirrored else 1.0

    def to_sheet(points: shapely.Geometry) -> shapely.Geometry:
        return shapely.transform(points, lambda p: p * (sign, -1.0))

    outline: MultiPolygon = to_sheet(joint.outline)
    strokes = outline_strokes(outline, Role.CUT)
    if skin:
        strokes += outline_strokes(to_sheet(foam_surface(joint.outline, skin)), Role.FOAM)
    for hole in holes.pins:
        x, y = sign * hole.y, -hole.z
        strokes += pin_hole(x, y, 3.0 if hole not in holes.dowels else DOWEL / 2)
        if hole in holes.dowels:
            strokes.append(circle(Role.PIN, x, y, DOWEL / 2))
    labels = _inside(outline, strokes, words)
    left, top, _, bottom = outline.bounds
    arrows, names = _arrows(joint, (left, bottom + 3.0), sign)
    heads = [
        Label(words[0][0].upper() + words[0][1:], left, top - 4.0 - LEADING * (TEXT + 1.0), TITLE, bold=True),
        Label(f"{words[1]}. Plan {words[2]}.", left, top - 3.0, TEXT),
    ]
    return _on_sheet(words[0], [*strokes, *arrows], [*labels, *names, *heads])


def _inside(outline: MultiPolygon, strokes: Sequence[Stroke], words: tuple[str, str, str]) -> list[Label]:
    """The name and the plan inside each area, where they fit: when the scissors have passed, the heading is gone."""
    labels: list[Label] = []
    for area in outline.geoms:
        occupied = Occupied([stroke.path for stroke in strokes])
        for size in (INSIDE, LEAST):
            lines = (words[0], words[2])
            width = max(text_width(text, size, bold=True) for text in lines)
            middle = area.representative_point()
            place = room_for(Polygon(area.exterior), width, LEADING * size * 2, occupied, (middle.x, middle.y))
            if place:
                labels += [
                    Label(text, place[0], place[1] + size * (ASCENT + LEADING * row), size, bold=True)
                    for row, text in enumerate(lines)
                ]
                break
    return labels


def _arrows(joint: Joint, corner: tuple[float, float], sign: float) -> tuple[list[Stroke], list[Label]]:
    """Two arrows below the outline, and the words at their tips."""
    _, along, up = DIRECTIONS[joint.axis]
    x, y = corner[0], corner[1] + ARROW
    if sign < 0:
        x += text_width(along, TEXT) + ARROW + 2.0
    tip = x + sign * ARROW
    strokes = [line(Role.LABEL, (x, y), (tip, y)), line(Role.LABEL, (x, y), (x, y - ARROW))]
    for (end_x, end_y), turn in (((tip, y), 0.0 if sign > 0 else math.pi), ((x, y - ARROW), -math.pi / 2)):
        barbs = [(end_x - 2 * math.cos(turn + side), end_y - 2 * math.sin(turn + side)) for side in (0.4, -0.4)]
        strokes.append(line(Role.LABEL, barbs[0], (end_x, end_y), barbs[1]))
    labels = [
        Label(along, tip + sign * 1.0, y + TEXT / 3, TEXT, "start" if sign > 0 else "end"),
        Label(up, x + 1.5, y - ARROW + TEXT, TEXT),
    ]
    return strokes, labels


def _on_sheet(name: str, strokes: Sequence[Stroke], labels: Sequence[Label]) -> Template:
    """Everything moved onto a sheet of its own."""
    boxes = [shapely.MultiPoint(stroke.points).bounds for stroke in strokes]
    boxes += [label.footprint().bounds for label in labels]
    left, top = min(box[0] for box in boxes) - PAD, min(box[1] for box in boxes) - PAD
    right, bottom = max(box[2] for box in boxes) + PAD, max(box[3] for box in boxes) + PAD
    moved = Drawing(right - left, bottom - top).with_more(
        [Stroke(stroke.role, freeze(stroke.points - (left, top)), stroke.closed) for stroke in strokes],
        [label.translate(-left, -top) for label in labels],
    )
    return Template(name, moved, (-left, -top))
