"""The numbered marks of a template: a tick in from the edge, its number clear of everything."""

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


def draw_mark(sheet: Sheet, occupied: Occupied, mark: Mark) -> None:
    """A tick in from the edge with its number inside; where that has no room, outside with the tick drawn out to it."""
    tick = tick_of(sheet, mark)
    edge, tip = tick
    reach = float(np.hypot(*(tip - edge)))
    inward = (tip - edge) / reach
    text = str(mark.number)
    size = np.array((text_width(text, TEXT), 0.76 * TEXT))
    sheet.strokes.append(Stroke(Role.MARK, readonly(tick)))
    inside = _beside(edge, inward, size, np.array([reach]))
    fits = occupied.free(inside) & shapely.contains_xy(sheet.cut, *(inside[:, :2] + size / 2).T)
    if fits.any():
        place = inside[int(np.argmax(fits))]
    else:
        outside = _beside(edge, -inward, size, FURTHER_OUT)
        free = occupied.free(outside)
        place = outside[int(np.argmax(free))] if free.any() else outside[-1]
        stop = _rect_edge_towards(place, edge)
        sheet.strokes.append(line(Role.MARK, tuple(edge.tolist()), tuple(stop.tolist())))
    left, top, right, bottom = place.tolist()
    occupied.take((left, top, right, bottom))
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
