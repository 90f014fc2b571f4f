"""Sheets for what is cut out of the glued body, and for stands -> templates at full size in frames."""

import numpy as np

from profiles.blocks.boundary import rings_of
from profiles.blocks.cut_into import CutSheet
from profiles.drafting.draftsheet import TEXT, framed
from profiles.paper.drawing import Label, Role, Stroke, freeze
from profiles.paper.template import Template

DOWN = np.array((1.0, -1.0))
"""From v up to v down."""

LEADING = 1.4
"""Line height in font sizes."""

AIR = 1.0
"""mm between a line and its word."""


def cut_draft(sheet: CutSheet) -> Template:
    """The sheet in its frame, with what to do written below."""
    strokes = [
        Stroke(Role.CUT, freeze(np.asarray(ring.coords)[:-1] * DOWN), closed=True) for ring in rings_of(sheet.outline)
    ]
    labels = []
    for line in sheet.lines:
        points = freeze(np.array(line.points) * DOWN)
        strokes.append(Stroke(Role(line.role), points))
        if line.text:
            u, v = points[int(np.argmin(points[:, 1] - 1e-3 * points[:, 0]))].tolist()
            labels.append(Label(line.text, u + AIR, v - AIR, TEXT))
    left = min(float(stroke.points[:, 0].min()) for stroke in strokes)
    below = max(float(stroke.points[:, 1].max()) for stroke in strokes)
    labels += [Label(text, left, below + AIR + (n + 1) * LEADING * TEXT, TEXT) for n, text in enumerate(sheet.words)]
    return framed(sheet.name, sheet.name, strokes, labels)
