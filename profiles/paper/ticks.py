"""The numbered marks of a template: a tick in from the edge, its number clear of everything."""

from collections.abc import Sequence

import numpy as np
import shapely

from profiles.blocks.pairing import Mark
from profiles.paper.drawing import Label, Points, Role, Stroke, freeze, line
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


def ticks_of(sheet: Sheet, marks: Sequence[Mark]) -> Points:
    """From the outline inwards, (n, 2, 2) mm in the sheet's frame; longer at a landmark."""
    starts = np.reshape([(mark.y, mark.z) for mark in marks], (-1, 2))
    inward = np.reshape([mark.inward for mark in marks], (-1, 2))
    reach = np.array([TICK if mark.kind == "even" else LANDMARK_TICK for mark in marks])
    return sheet.shown(np.stack([starts, starts + inward * reach[:, None]], axis=1))


def draw_marks(sheet: Sheet, occupied: Occupied, marks: Sequence[Mark]) -> None:
    """A tick in from the edge for each mark with its number inside; where that has no room, outside with the tick drawn
    out to it.
    """
    if not marks:
        return
    ticks = ticks_of(sheet, marks)
    reaches = np.linalg.norm(ticks[:, 1] - ticks[:, 0], axis=1)
    inward = (ticks[:, 1] - ticks[:, 0]) / reaches[:, None]
    sizes = np.array([(text_width(str(mark.number), TEXT), 0.76 * TEXT) for mark in marks])
    inside = _beside(ticks[:, 0], inward, sizes, reaches[:, None])
    flat = inside.reshape(-1, 4)
    shapely.prepare(sheet.cut)
    fits = shapely.contains_xy(sheet.cut, *((flat[:, :2] + flat[:, 2:]) / 2).T)
    fits[fits] = occupied.off_lines(flat[fits])
    for mark, tick, out, size, places, fit in zip(
        marks, ticks, -inward, sizes, inside.tolist(), fits.reshape(len(marks), -1).tolist(), strict=True
    ):
        sheet.strokes.append(Stroke(Role.MARK, freeze(tick)))
        place = next(
            (rect for rect, fine in zip(places, fit, strict=True) if fine and occupied.is_off_labels(rect)), None
        )
        if place is None:
            outside = _beside(tick[:1], out[None], size[None], FURTHER_OUT[None])[0]
            found = occupied.first_free(outside)
            rect = outside[-1 if found is None else found]
            stop = _rect_edge_towards(rect, tick[0])
            sheet.strokes.append(line(Role.MARK, tuple(tick[0].tolist()), tuple(stop.tolist())))
            place = rect.tolist()
        left, top, right, bottom = place
        occupied.take((left, top, right, bottom))
        text = str(mark.number)
        sheet.labels.append(Label(text, (left + right) / 2, bottom - 0.02 * TEXT, TEXT, anchor="middle"))


def _beside(edge: Points, towards: Points, size: Points, reaches: Points) -> Points:
    """Rectangles (n, places, 4) of the sizes (n, 2) round the ends of ticks at `edge` (n, 2), for each of their reaches
    (n, k): beyond its tip first, then beside it, then further off; mm.
    """
    across = np.column_stack([-towards[:, 1], towards[:, 0]])
    half = size / 2
    support = (np.abs(towards) * half).sum(axis=1)[:, None, None]
    aside = (np.abs(across) * half).sum(axis=1)[:, None] + 0.8
    scale, more, sideways = ROUND_TIP.T
    along = reaches[..., None] * scale + support * np.where(scale < 1, 0.5, 1.0) + more
    sideways = (sideways * aside)[:, None, :, None] * across[:, None, None]
    centres = edge[:, None, None] + along[..., None] * towards[:, None, None] + sideways
    centres = centres.reshape(len(edge), -1, 2)
    return np.concatenate([centres - half[:, None], centres + half[:, None]], axis=-1)


def _rect_edge_towards(rect: Points, target: Points) -> Points:
    """Where the line from a rectangle's middle towards a point leaves it, with a little air."""
    middle = (rect[:2] + rect[2:]) / 2
    run = target - middle
    half = (rect[2:] - rect[:2]) / 2 + 0.4
    share = float(np.min(half / np.maximum(np.abs(run), 1e-9)))
    stop: Points = middle + run * min(share, 1.0)
    return stop
