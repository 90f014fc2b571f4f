"""The numbered marks of a template: a tick in from the edge, its number clear of everything."""

import numpy as np
import shapely

from profiles.blocks.pairing import Mark
from profiles.paper.drawing import Label, Points, Role, Stroke, line, readonly
from profiles.paper.facesheet import TEXT, FaceSheet, face_points
from profiles.paper.lettering import text_width
from profiles.paper.placing import Occupied, Rect

TICK = 2.5
"""mm; how far an even mark reaches in from the edge."""

LANDMARK_TICK = 4.5
"""mm; the same for keel, deck and corners."""


def tick_of(sheet: FaceSheet, mark: Mark, inwards: float | None = None) -> Points:
    """From the outline inwards, shortened where the piece is thin."""
    reach = inwards if inwards is not None else (TICK if mark.kind == "even" else LANDMARK_TICK)
    here = np.array((mark.y, mark.z))
    return face_points(np.array([here, here + np.array(mark.inward) * reach]), sheet.face.which)


def draw_mark(sheet: FaceSheet, occupied: Occupied, mark: Mark) -> None:
    """A tick in from the edge with its number inside; where that has no room, outside with the tick drawn out to it."""
    tick = tick_of(sheet, mark)
    edge, tip = tick
    reach = float(np.hypot(*(tip - edge)))
    inward = (tip - edge) / reach
    text = str(mark.number)
    width, height = text_width(text, TEXT), 0.76 * TEXT
    inside = _beside(edge, inward, reach, width, height)
    region = shapely.box(*np.array(inside).T)
    fits = shapely.contains_properly(sheet.cut, region)
    candidates = [rect for rect, fit in zip(inside, fits, strict=True) if fit]
    place = occupied.first_free(candidates) if candidates else None
    sheet.strokes.append(Stroke(Role.MARK, readonly(tick)))
    if place is None:
        outside = [
            rect
            for away in np.arange(2.0, 60.0, 1.5).tolist()
            for rect in _beside(edge, -inward, away, width, height)[:5]
        ]
        place = occupied.first_free(outside) or outside[-1]
        middle = np.array([(place[0] + place[2]) / 2, (place[1] + place[3]) / 2])
        stop = _rect_edge_towards(place, middle, edge)
        sheet.strokes.append(line(Role.MARK, tuple(edge.tolist()), tuple(stop.tolist())))
    occupied.take(place)
    sheet.labels.append(Label(text, (place[0] + place[2]) / 2, place[3] - 0.02 * TEXT, TEXT, anchor="middle"))


def _beside(edge: Points, towards: Points, reach: float, width: float, height: float) -> list[Rect]:
    """Rectangles round the end of a tick: beyond its tip first, then beside it, then further off."""
    across = np.array((-towards[1], towards[0]))
    half = 0.5 * np.array((width, height))
    support = float(np.abs(towards) @ half)
    aside = float(np.abs(across) @ half) + 0.8
    offsets = [
        (reach + support + 0.7, 0.0),
        (reach * 0.55 + support * 0.5, aside),
        (reach * 0.55 + support * 0.5, -aside),
        (reach + support + 0.7, aside),
        (reach + support + 0.7, -aside),
        (reach + support + 2.5, 0.0),
        (reach + support + 4.5, 0.0),
    ]
    centres = [edge + towards * along + across * sideways for along, sideways in offsets]
    return [tuple(np.concatenate([centre - half, centre + half]).tolist()) for centre in centres]


def _rect_edge_towards(rect: Rect, middle: Points, target: Points) -> Points:
    """Where the line from a rectangle's middle towards a point leaves it."""
    run = target - middle
    half = np.array([(rect[2] - rect[0]) / 2 + 0.4, (rect[3] - rect[1]) / 2 + 0.4])
    share = float(np.min(half / np.maximum(np.abs(run), 1e-9)))
    return middle + run * min(share, 1.0)
