"""A draft: strokes and labels at true size anywhere -> a template with a sheet and a frame just large enough for it."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from profiles.paper.drawing import UPWARDS, Drawing, Label, Role, Stroke, line, rectangle
from profiles.paper.template import Template
from profiles.units import length_text, sizes_text

TEXT = 3.0
"""mm; the size of figures and names."""

TITLE = 5.0
"""mm; the size of the title of a draft."""

PAD = 4.0
"""mm between what is drawn and the frame."""

EDGE = 0.5
"""mm of sheet outside the frame, for the width of its line."""

TICK = 1.5
"""mm; half the stroke at the end of a dimension line."""


def framed(name: str, title: str, strokes: Sequence[Stroke], labels: Sequence[Label]) -> Template:
    """The draft on its own sheet, in a frame whose size it states: a builder measures that with a rule.

    The frame has the role of a cut line, so the proof measures it.
    """
    points = np.vstack(
        [*(stroke.points for stroke in strokes), *(np.reshape(label.extent(), (2, 2)) for label in labels)]
    )
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    head = Label(title, left, top - PAD, TITLE, bold=True)
    wide = max(right - left, head.extent()[2] - left)
    room = [PAD + wide + PAD, 3 * PAD + TITLE + bottom - top + TEXT + PAD]
    width, height = (float(math.ceil(side)) for side in room)  # whole mm, which a rule shows
    foot = Label(f"Frame {sizes_text((width, height), 0)}: measure it.", left, bottom + PAD + TEXT, TEXT)
    shift = PAD + EDGE - left, 2 * PAD + TITLE + EDGE - top
    drawing = Drawing(width + 2 * EDGE, height + 2 * EDGE, tuple(strokes), (head, *labels, foot)).translate(*shift)
    frame = rectangle(Role.CUT, EDGE, EDGE, width, height)
    return Template(name, drawing.with_more([frame]), (float(shift[0]), float(shift[1])))


def stacked(templates: Sequence[Template], gap: float = 20.0) -> Drawing:
    """All drafts below each other in one drawing, `gap` mm apart."""
    whole, down = Drawing(0.0, 0.0), 0.0
    for template in templates:
        sheet = template.drawing
        moved = sheet.translate(0.0, down)
        whole = replace(whole.overlay(moved), width=max(whole.width, sheet.width), height=down + sheet.height)
        down += sheet.height + gap
    return whole


def dimension_across(x0: float, x1: float, y: float, reach: float) -> tuple[list[Stroke], list[Label]]:
    """A dimension from x0 to x1 at height y; extension lines begin at height `reach`. All mm."""
    strokes = [line(Role.LABEL, (x0, y), (x1, y))]
    for x in (x0, x1):
        strokes += [
            line(Role.LABEL, (x, reach), (x, y + math.copysign(TICK, y - reach))),
            line(Role.LABEL, (x - TICK, y + TICK), (x + TICK, y - TICK)),
        ]
    return strokes, [Label(length_text(x1 - x0), (x0 + x1) / 2, y - 1.0, TEXT, "middle")]


def dimension_up(y0: float, y1: float, x: float, reach: float) -> tuple[list[Stroke], list[Label]]:
    """A dimension from y0 down to y1 at x; extension lines begin at `reach`. All mm."""
    strokes = [line(Role.LABEL, (x, y0), (x, y1))]
    for y in (y0, y1):
        strokes += [
            line(Role.LABEL, (reach, y), (x + math.copysign(TICK, x - reach), y)),
            line(Role.LABEL, (x - TICK, y + TICK), (x + TICK, y - TICK)),
        ]
    return strokes, [Label(length_text(y1 - y0), x - 1.0, (y0 + y1) / 2, TEXT, "middle", UPWARDS)]


def cross(x: float, y: float, arm: float) -> list[Stroke]:
    """An upright cross, each arm `arm` mm."""
    return [line(Role.LABEL, (x - arm, y), (x + arm, y)), line(Role.LABEL, (x, y - arm), (x, y + arm))]
