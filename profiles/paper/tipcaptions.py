"""The text round the cards of a carved block: numbers of gauges, sides of the box, and the description.

Carved blocks are thin and high, so on most sheets the description is to the right of the box.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import shapely
from shapely import LineString

from profiles.paper.captions import offsets, place_label
from profiles.paper.drawing import UPWARDS, Label, Points, Role, Stroke, freeze, rectangles
from profiles.paper.facesheet import LEAST_TEXT, TEXT, Sheet, extents_of
from profiles.paper.flow import wrap
from profiles.paper.lettering import ASCENT, DESCENT, text_width
from profiles.paper.placing import CLEAR, Occupied, Rect, room_for
from profiles.units import short_length

INSET = 1.4
"""mm between a line of the box and the text along it."""

FURTHER = np.arange(0.0, 200.0, 4.0)
"""mm; distances outside the box that are tried for its labels."""

ASIDE = (0.0, 5.0, -5.0, 10.0, -10.0)
"""mm; distances beside its line that are tried for the number of a gauge above the box."""

MARKS_ROOM = 8.0
"""mm kept free round a card for the numbers of its marks."""

LINE_GAP = 1.2
"""mm between the number of a gauge and its line."""

STUB = 2.0
"""mm; a part of a gauge's line that is shorter is left out beside its number."""

WIDTHS = (56.0, 64.0, 72.0, 80.0, 90.0)
"""mm; widths that are tried for the description of a profile: from eight words in a line to no line broken."""

BESIDE = np.arange(3.0, 100.0, 1.0)
"""mm; distances to the right of the box that are tried for the description."""

UNDER = np.arange(0.8, 80.0, 0.8)
"""mm; distances below the box that are tried for the description."""

LEADING = 1.3
"""Line spacing in font sizes."""

COLUMN_GAP = 5.0
"""mm between facts and order of work side by side."""

Line = tuple[str, float, bool]
"""Text, size, bold."""


class _Text(NamedTuple):
    """Lines of text, relative to their upper left corner, with their width and height in mm."""

    labels: tuple[Label, ...]
    width: float
    height: float


def draw_gauges(sheet: Sheet, gauges: Sequence[tuple[float, str]], tick: float) -> list[tuple[float, str]]:
    """Draw the line of each gauge (u mm, text) across the box, with its number on it; return the gauges whose numbers
    have no room in the box.

    A line is left out on the cards, but for `tick` mm inside their edges.
    """
    _, top, _, bottom = sheet.box
    lines = [np.array([(u, top), (u, bottom)]) for u, _ in gauges]
    drawn = [stroke.path for stroke in sheet.strokes]
    cards = sheet.cut.buffer(MARKS_ROOM)
    numbers: list[Label] = []
    unplaced = []
    for k, (u, text) in enumerate(gauges):
        occupied = Occupied([*drawn, *lines[:k], *lines[k + 1 :]])
        for number in numbers:
            occupied.take(number.extent())
        highest = Label(text, u + 0.35 * TEXT, top + INSET, TEXT, "end", UPWARDS)
        reach = max(bottom - top - 2 * INSET - text_width(text, TEXT), 0.0)
        choices = [highest.translate(0.0, down) for down in np.arange(0.0, reach, 2.0).tolist()]
        rects = np.array([choice.extent() for choice in choices]).reshape(-1, 4)
        free = occupied.free(rects) & ~shapely.intersects(cards, shapely.box(*rects.T))
        rest = LineString(lines[k]).difference(sheet.cut.buffer(-tick))
        if free.any():
            numbers.append(choices[int(np.argmax(free))])
            x0, y0, x1, y1 = numbers[-1].extent()
            rest = rest.difference(shapely.box(x0, y0 - LINE_GAP, x1, y1 + LINE_GAP))
        else:
            unplaced.append((u, text))
        parts = [part for part in shapely.get_parts(rest) if part.length > (STUB if free.any() else 0)]
        sheet.strokes += [Stroke(Role.DATUM, freeze(shapely.get_coordinates(part))) for part in parts]
    sheet.labels += numbers
    return unplaced


def label_above(sheet: Sheet, occupied: Occupied, gauges: Sequence[tuple[float, str]]) -> None:
    """Write the number of each gauge above its line, or further off with the line drawn to it if something is there."""
    top = sheet.box[1]
    places = [(aside, -rise) for rise in FURTHER.tolist() for aside in ASIDE]
    for u, text in gauges:
        lowest = Label(text, u + 0.35 * TEXT, top - INSET, TEXT, "start", UPWARDS)
        texts = shapely.union_all(rectangles(sheet.labels))
        for place in places:  # the last one if none is free
            label = lowest.translate(*place)
            leader = LineString([(u, top), (label.x - 0.35 * TEXT, label.y + 0.5 * INSET)])
            if occupied.is_free(label.extent()) and not leader.intersects(texts):
                break
        sheet.labels.append(label)
        occupied.take(label.extent())
        if place != places[0]:
            sheet.strokes.append(Stroke(Role.DATUM, freeze(shapely.get_coordinates(leader))))
            x0, y0, x1, y1 = leader.bounds
            occupied.take((x0, y0, x1, y1))


def label_sides(sheet: Sheet, occupied: Occupied, name: str, *, hands: bool, mirrored: bool) -> None:
    """Write NOSE and TAIL, also STBD and PORT if both `hands` are seen, and the sizes of the box with its name: inside
    it, horizontal or vertical, if that is clear, else outside. The nose is to the left, or `mirrored` to the right.
    """
    left, top, right, bottom = sheet.box
    first, last = ("TAIL", "NOSE") if mirrored else ("NOSE", "TAIL")
    for text, at, anchor, out in ((first, left, "start", -1.0), (last, right, "end", 1.0)):
        beyond = {"start": "end", "end": "start"}[anchor]
        upper = top + INSET + LEAST_TEXT * ASCENT
        level = [Label(text, at - out * INSET, upper, LEAST_TEXT, anchor)]
        inner = at + INSET + ASCENT * LEAST_TEXT if out < 0 else at - INSET - DESCENT * LEAST_TEXT
        highest = Label(text, inner, top + INSET, LEAST_TEXT, "end", UPWARDS)
        reach = bottom - top - 2 * INSET - text_width(text, LEAST_TEXT)
        upright = [highest.translate(0.0, down) for down in np.arange(0.0, max(reach, 0.0), 4.0).tolist()]
        outside = [Label(text, at + out * INSET, upper + far, LEAST_TEXT, beyond) for far in FURTHER.tolist()]
        place_label(sheet, occupied, level + upright + outside, fallback=outside[-1])
    if hands:
        _label_hands(sheet, occupied)
    _label_sizes(sheet, occupied, name)


def _label_hands(sheet: Sheet, occupied: Occupied) -> None:
    left, top, right, bottom = sheet.box
    upper, lower = top + INSET + LEAST_TEXT * ASCENT, bottom - INSET
    aside = [sign * far for far in np.arange(0.0, (right - left) / 2 - 4, 1.0).tolist() for sign in (1.0, -1.0)]
    middle = (left + right) / 2
    for text, v, end, anchor, further in (
        ("STBD", upper, top + INSET, "end", -FURTHER),
        ("PORT", lower, lower, "start", FURTHER),
    ):
        level = [Label(text, middle + far, v, LEAST_TEXT, "middle") for far in aside]
        upright = [Label(text, middle + far, end, LEAST_TEXT, anchor, UPWARDS) for far in aside]
        outside = [Label(text, left - INSET, v + far, LEAST_TEXT, "end") for far in further.tolist()]
        place_label(sheet, occupied, level + upright + outside, fallback=outside[-1])


def _label_sizes(sheet: Sheet, occupied: Occupied, name: str) -> None:
    left, top, right, bottom = sheet.box
    along, down = offsets((right - left) / 2 - 8), offsets((bottom - top) / 2 - 12)
    high = Label(short_length(bottom - top), right - INSET, (top + bottom) / 2, TEXT, "middle", UPWARDS)
    named = replace(high, text=f"{name}: {high.text}")
    inside = [label.translate(0.0, step) for label in (named, high) for step in down]
    outside = [high.translate(INSET + TEXT + far, 0.0) for far in FURTHER.tolist()]
    place_label(sheet, occupied, inside + outside, fallback=outside[-1])
    wide = Label(short_length(right - left), (left + right) / 2, bottom - INSET, TEXT, "middle")
    named = replace(wide, text=f"{name}: {wide.text}")
    inside = [label.translate(step, 0.0) for label in (named, wide) for step in along]
    outside = [wide.translate(0.0, INSET + TEXT + far) for far in FURTHER.tolist()]
    place_label(sheet, occupied, inside + outside, fallback=outside[-1])


def write_description(sheet: Sheet, occupied: Occupied, facts: Sequence[Line], order: Sequence[Line]) -> None:
    """Write facts and order of work as one text, where the sheet grows least."""
    texts = []
    for width in WIDTHS:
        first, second = _break_lines(facts, width), _break_lines(order, width)
        texts += [_stack(first, second), _put_abreast(first, second)]
    _place(sheet, occupied, texts)


def write_running(sheet: Sheet, occupied: Occupied, head: Sequence[Line], text: str) -> None:
    """Write the lines of the head with the text in small letters below, as wide as the box, or wider if necessary."""
    left, _, right, _ = sheet.box
    least = max(text_width(line, size, bold=bold) for line, size, bold in head)
    _place(
        sheet,
        occupied,
        [_break_lines([*head, (text, LEAST_TEXT, False)], max(least, width)) for width in (right - left, *WIDTHS)],
    )


def _break_lines(lines: Sequence[Line], width: float) -> _Text:
    """The lines one below the other, those too long for `width` mm broken between words."""
    broken = [(part, size, bold) for text, size, bold in lines for part in wrap(text, size, width - CLEAR, bold=bold)]
    labels, top = [], 0.0
    for text, size, bold in broken:
        labels.append(Label(text, 0.0, top + size * ASCENT, size, bold=bold))
        top += LEADING * size
    return _Text(tuple(labels), max(text_width(text, size, bold=bold) for text, size, bold in broken), top)


def _stack(upper: _Text, lower: _Text) -> _Text:
    below = (label.translate(0.0, upper.height) for label in lower.labels)
    return _Text((*upper.labels, *below), max(upper.width, lower.width), upper.height + lower.height)


def _put_abreast(first: _Text, second: _Text) -> _Text:
    at = first.width + COLUMN_GAP
    beside = (label.translate(at, 0.0) for label in second.labels)
    return _Text((*first.labels, *beside), at + second.width, max(first.height, second.height))


def _place(sheet: Sheet, occupied: Occupied, texts: Sequence[_Text]) -> None:
    """Write one of the texts inside the box round the cards, which costs no paper; else to the right of the box or
    below it, where width and height of the sheet together grow least.
    """
    inside = next(_places_in_box(sheet, occupied, texts), None)
    text, (left, top, right, bottom) = inside or _place_outside(sheet, occupied, texts)
    sheet.labels += [label.translate(left, top) for label in text.labels]
    occupied.take((left, top, right, bottom))


def _places_in_box(sheet: Sheet, occupied: Occupied, texts: Sequence[_Text]) -> Iterator[tuple[_Text, Rect]]:
    left, top, right, bottom = sheet.box
    free = shapely.box(left + 1, top + 1, right - 1, bottom - 1).difference(sheet.cut.buffer(1.0))
    regions = sorted(shapely.get_parts(free).tolist(), key=lambda part: -part.area)
    for text in sorted(texts, key=lambda text: text.width * text.height):
        for region in regions:
            corner = (left + text.width / 2, bottom - text.height / 2)
            place = room_for(region, text.width, text.height, occupied, corner)
            if place:
                yield text, place


def _place_outside(sheet: Sheet, occupied: Occupied, texts: Sequence[_Text]) -> tuple[_Text, Rect]:
    """One of the texts and its place: the first free one to the right of the box, level with its top or with the labels
    above it, or below the box, where the sheet grows least.
    """
    left, top, right, bottom = sheet.box
    reach = extents_of(sheet)
    highest = min(top, *(label.extent()[1] for label in sheet.labels))
    rows = [
        *(np.column_stack([right + BESIDE, np.full(len(BESIDE), v)]) for v in (top, highest)),
        np.column_stack([np.full(len(UNDER), left), bottom + UNDER]),
    ]
    least, chosen = np.inf, (texts[0], reach)
    for text in texts:
        for row in rows:
            if _half_girth(reach, _stretch(row[0], text)) >= least:  # further out it only grows
                continue
            free = occupied.first_free(np.hstack([row, row + (text.width, text.height)]))
            place = _stretch(row[-1 if free is None else free], text)
            girth = _half_girth(reach, place)
            if girth < least:
                least, chosen = girth, (text, place)
    return chosen


def _stretch(corner: Points, text: _Text) -> Rect:
    """The rectangle of a text with its upper left corner there."""
    u, v = corner.tolist()
    return u, v, u + text.width, v + text.height


def _half_girth(reach: Rect, more: Rect) -> float:
    """Width plus height, mm, of the extents together with one more rectangle."""
    across, down = max(reach[2], more[2]) - min(reach[0], more[0]), max(reach[3], more[3]) - min(reach[1], more[1])
    return round(across + down, 6)
