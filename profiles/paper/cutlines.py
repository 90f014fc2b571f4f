"""What a template shows of rods, slits and cuts made by hand: true outlines with a word beside each."""

import numpy as np
import shapely

from profiles.blocks.cut_into import Hole
from profiles.paper.drawing import Label, Role, Stroke, freeze, line
from profiles.paper.facesheet import LEAST_TEXT, TEXT, FaceSheet, outline_strokes
from profiles.paper.lettering import text_width
from profiles.paper.placing import Occupied

ARM = 2.5
"""mm that the cross over a hole reaches beyond it."""

AIR = 1.0
"""mm between a hole and its word."""


def cut_strokes(sheet: FaceSheet) -> list[Stroke]:
    """The holes with a cross over each, the slits, and the outlines of what is cut out by hand."""
    into, strokes = sheet.face.into, list[Stroke]()
    for hole in into.holes:
        strokes.append(Stroke(Role.ROD, freeze(sheet.to_sheet(_ring(hole))), closed=True))
        (u, v), (across, down) = _middle(sheet, hole), _half_size(sheet, hole)
        strokes.append(line(Role.ROD, (u - across - ARM, v), (u + across + ARM, v)))
        strokes.append(line(Role.ROD, (u, v - down - ARM), (u, v + down + ARM)))
    for slit in into.slits:
        strokes.append(Stroke(Role.SLIT, freeze(sheet.to_sheet(shapely.get_coordinates(slit)))))
    for cut in into.by_hand:
        strokes += outline_strokes(shapely.transform(cut.outline, sheet.to_sheet), Role.HAND)
    return strokes


def label_cuts(sheet: FaceSheet, occupied: Occupied) -> None:
    """The name and diameter of each hole, and the name of each cut by hand, where there is room."""
    for hole in sheet.face.into.holes:
        _label(sheet, occupied, hole.words, _middle(sheet, hole), _half_size(sheet, hole))
    for cut in sheet.face.into.by_hand:
        left, top, right, bottom = shapely.transform(cut.outline, sheet.to_sheet).bounds
        half = ((right - left) / 2, (bottom - top) / 2)
        _label(sheet, occupied, f"later: {cut.name}", ((left + right) / 2, (top + bottom) / 2), half)


def cut_words(sheet: FaceSheet) -> list[str]:
    """What the lines mean, if there are any."""
    into = sheet.face.into
    words = ["slit: the wire goes in here; glue it again"] if into.slits else []
    if into.holes:
        words.append(f"drill {', '.join(hole.words for hole in into.holes)}")
    if into.by_hand:
        words.append(f"cut by hand later: {', '.join(cut.name for cut in into.by_hand)}")
    return words


def _ring(hole: Hole) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    return np.asarray(shapely.get_coordinates(hole.outline)[:-1])


def _middle(sheet: FaceSheet, hole: Hole) -> tuple[float, float]:
    u, v = sheet.to_sheet(np.array([hole.centre]))[0].tolist()
    return u, v


def _half_size(sheet: FaceSheet, hole: Hole) -> tuple[float, float]:
    across, down = np.ptp(sheet.to_sheet(_ring(hole)), axis=0).tolist()
    return across / 2, down / 2


def _label(
    sheet: FaceSheet, occupied: Occupied, text: str, middle: tuple[float, float], half: tuple[float, float]
) -> None:
    """The text near a place: right, left, above or below what is there, the nearest place that is free."""
    (u, v), (across, down) = middle, half
    for size in (TEXT, LEAST_TEXT):
        width = text_width(text, size)
        rects = [
            rect
            for more in (AIR, ARM + AIR, 2 * ARM + AIR, 4 * ARM + AIR)
            for rect in (
                (u + across + more, v - size - AIR),
                (u + across + more, v + AIR),
                (u - across - more - width, v - size - AIR),
                (u - across - more - width, v + AIR),
                (u - width / 2, v - down - more - size),
                (u - width / 2, v + down + more),
                (u + AIR, v - down - more - size),
                (u + AIR, v + down + more),
            )
        ]
        corners = np.array([(x, y, x + width, y + size) for x, y in rects])
        place = occupied.first_free(corners)
        if place is not None:
            left, top, right, bottom = corners[place].tolist()
            occupied.take((left, top, right, bottom))
            sheet.labels.append(Label(text, left, bottom - 0.2 * size, size))
            return
