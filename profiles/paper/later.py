"""A cross and a word on a template where a hole or slit comes to the surface that is made by hand later."""

from collections.abc import Sequence

import numpy as np

from profiles.hull.later import Later
from profiles.paper.drawing import Label, Role, line
from profiles.paper.facesheet import LEAST_TEXT, FaceSheet
from profiles.paper.lettering import text_width
from profiles.paper.placing import Occupied
from profiles.units import bare_length

ARM = 2.0
"""mm; half the length of each line of the cross."""

AIR = 1.0
"""mm between the cross and its word."""


def later_on(sheet: FaceSheet, found: Sequence[Later]) -> list[Later]:
    """Those of the holes and slits that come to the surface inside the sheet's block and nearer to this face than to
    the other.
    """
    faces = [face.x for face in (sheet.block.fore, sheet.block.aft)]
    here = [later for later in found if min(faces) <= later.mouth[0] < max(faces)]
    return [later for later in here if min(faces, key=lambda x: abs(x - later.mouth[0])) == sheet.face.x]


WORDS = {"hole": "drill", "slit": "slit", "crease": "crease"}
"""What stands beside a cross, by kind."""


def draw_crosses(sheet: FaceSheet, found: Sequence[Later]) -> None:
    """A cross at the mouth of each."""
    for later in found:
        u, v = sheet.to_sheet(np.array([later.mouth[1:]]))[0].tolist()
        sheet.strokes.append(line(Role.LATER, (u - ARM, v - ARM), (u + ARM, v + ARM)))
        sheet.strokes.append(line(Role.LATER, (u - ARM, v + ARM), (u + ARM, v - ARM)))


def label_crosses(sheet: FaceSheet, occupied: Occupied, found: Sequence[Later]) -> None:
    """What to do there, beside each cross, where there is room."""
    for later in found:
        text = f"later: {WORDS[later.kind]} {bare_length(later.width)}"
        width, (u, v) = text_width(text, LEAST_TEXT), sheet.to_sheet(np.array([later.mouth[1:]]))[0].tolist()
        lefts = (u + ARM + AIR, u - ARM - AIR - width, u - width / 2, u - width / 2, u + AIR, u - AIR - width)
        middle, above, below = v - LEAST_TEXT / 2, v - ARM - AIR - LEAST_TEXT, v + ARM + AIR
        tops = (middle, middle, above, below, above, above)
        rects = np.array([(x, y, x + width, y + LEAST_TEXT) for x, y in zip(lefts, tops, strict=True)])
        place = occupied.first_free(rects)
        if place is not None:
            left, top, right, bottom = rects[place].tolist()
            occupied.take((left, top, right, bottom))
            sheet.labels.append(Label(text, left, bottom - 0.2 * LEAST_TEXT, LEAST_TEXT))
