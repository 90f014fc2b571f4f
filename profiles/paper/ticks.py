"""The numbered marks of a template: a tick in from the edge, its number clear of everything."""

from collections.abc import Sequence

import numpy as np
import shapely

from profiles.blocks.pairing import Mark
from profiles.paper.drawing import Label, Points, Role, Stroke, line, readonly
from profiles.paper.facesheet import TEXT, Sheet
from profiles.paper.lettering import text_width
from profiles.paper.placing import Occupied

TICK = 2.5
"""mm; how far an even mark reaches in from the edge."""

LANDMARK_TICK = 4.5
"""mm; the same for keel, deck and corners."""

ROUND_TIP = np.array(
    [
        (1.0, 0.7, 0.0),
        (0.55, 0.0, 1.0),
        (0.55, 0.0, -1.0),
        (1.0, 0.7, 1.0),
        (1.0, 0.7, -1.0),
        (1.0, 2.5, 0.0),
        (1.0, 4.5, 0.0),
    ]
)
"""Where a number may stand at its tick, best first: share of the tick's length, mm beyond that, and side."""

FURTHER_OUT = np.arange(2.0, 60.0, 1.5)
"""mm; how far outside the outline a number without room inside is tried."""


def tick_of(sheet: Sheet, mark: Mark) -> Points:
    """From the outline inwards, (2, 2) mm in the sheet's frame; longer at a landmark."""
    reach = TICK if mark.kind == "even" else LANDMARK_TICK
    here = np.array((mark.y, mark.z))
    return sheet.shown(np.array([here, here + np.array(mark.inward) * reach]))


def draw_marks(sheet: Sheet, occupied: Occupied, marks: Sequence[Mark]) -> None:
    """A tick in from the edge for each mark with its number inside; where that has no room, outside with the tick drawn
    out to it.
    """
    if not marks:
        return
    ticks = np.array([tick_of(sheet, mark) for mark in marks])
    reaches = np.linalg.norm(ticks[:, 1] - ticks[:, 0], axis=1)
    inward = (ticks[:, 1] - ticks[:, 0]) / reaches[:, None]
    sizes = np.array([(text_width(str(mark.number), TEXT), 0.76 * TEXT) for mark in marks])
    inside = np.array([_beside(*tip) for tip in zip(ticks[:, 0], inward, sizes, reaches[:, None], strict=True)])
    flat = inside.reshape(-1, 4)
    fits = occupied.off_lines(flat) & shapely.contains_xy(sheet.cut, *((flat[:, :2] + flat[:, 2:]) / 2).T)
    for mark, tick, out, size, places, fit in zip(
        marks, ticks, -inward, sizes, inside, fits.reshape(len(marks), -1), strict=True
    ):
        sheet.strokes.append(Stroke(Role.MARK, readonly(tick)))
        fit &= occupied.off_labels(places)  # noqa: PLW2901 - the row's own view
        if fit.any():
            place = places[int(np.argmax(fit))]
        else:
            outside = _beside(tick[0], out, size, FURTHER_OUT)
            free = occupied.free(outside)
            place = outside[int(np.argmax(free))] if free.any() else outside[-1]
            stop = _rect_edge_towards(place, tick[0])
            sheet.strokes.append(line(Role.MARK, tuple(tick[0].tolist()), tuple(stop.tolist())))
        left, top, right, bottom = place.tolist()
        occupied.take((left, top, right, bottom))
        text = str(mark.number)
        sheet.labels.append(Label(text, (left + right) / 2, bottom - 0.02 * TEXT, TEXT, anchor="middle"))


def _beside(edge: Points, towards: Points, size: Points, reaches: Points) -> Points:
    """Rectangles (n, 4) of `size` round the end of a tick, for each of the reaches (k,): beyond its tip first, then
    beside it, then further off; mm.
    """
    across = np.array((-towards[1], towards[0]))
    half = size / 2
    support = float(np.abs(towards) @ half)
    aside = float(np.abs(across) @ half) + 0.8
    scale, more, sideways = ROUND_TIP.T
    along = reaches[:, None] * scale + support * np.where(scale < 1, 0.5, 1.0) + more
    centres = edge + along[..., None] * towards + (sideways * aside)[:, None] * across
    centres = centres.reshape(-1, 2)
    return np.hstack([centres - half, centres + half])


def _rect_edge_towards(rect: Points, target: Points) -> Points:
    """Where the line from a rectangle's middle towards a point leaves it, with a little air."""
    middle = (rect[:2] + rect[2:]) / 2
    run = target - middle
    half = (rect[2:] - rect[:2]) / 2 + 0.4
    share = float(np.min(half / np.maximum(np.abs(run), 1e-9)))
    stop: Points = middle + run * min(share, 1.0)
    return stop
