"""What is written round the cards of a tip: the numbers of gauges, the sides of the box, the account of the template.

Tip blocks are thin and high, so most sheets have the account to the right of the box and nothing above or below it.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import shapely
from shapely import LineString

from profiles.paper.captions import outwards, place_label
from profiles.paper.drawing import UPWARDS, Label, Points, Role, Stroke, freeze, rectangles
from profiles.paper.facesheet import LEAST_TEXT, TEXT, Sheet, extents_of
from profiles.paper.flow import wrap
from profiles.paper.lettering import ASCENT, DESCENT, text_width
from profiles.paper.placing import CLEAR, Occupied, Rect, room_for

INSET = 1.4
"""mm between a line of the box and the lettering along it."""

FURTHER = np.arange(0.0, 200.0, 4.0)
"""mm; how far out a label that belongs to the box is tried."""

ASIDE = (0.0, 5.0, -5.0, 10.0, -10.0)
"""mm; how far beside its line the number of a gauge is tried above the box."""

MARKS_ROOM = 8.0
"""mm kept free round a card for its marks' numbers when the numbers of gauges are placed."""

LINE_GAP = 1.2
"""mm between the number of a gauge and its line."""

STUB = 2.0
"""mm; what a number leaves of its gauge's line is left out if it is shorter."""

WIDTHS = (56.0, 64.0, 72.0, 80.0, 90.0)
"""mm; widths at which the account of a profile is tried: from eight words in a line to none broken."""

BESIDE = np.arange(3.0, 40.0, 1.0)
"""mm; how far to the right of the box the account is tried."""

UNDER = np.arange(0.8, 80.0, 0.8)
"""mm; how far below the box the account is tried."""

LEADING = 1.3
"""Line height in font sizes."""

COLUMN_GAP = 5.0
"""mm between facts and order of work where they stand side by side."""

Line = tuple[str, float, bool]
"""Text, size, bold."""


class _Block(NamedTuple):
    """Lettering that stands together, about its upper left corner, with its width and height, mm."""

    labels: tuple[Label, ...]
    width: float
    height: float


def draw_gauges(sheet: Sheet, gauges: Sequence[tuple[float, str]], tick: float) -> list[tuple[float, str]]:
    """The line of each gauge (u mm, text) across the box but for its middle on the cards, with its number on it.

    The line reaches `tick` mm in over the edges of the cards. Returns the gauges whose numbers have no room in the box.
    """
    _, top, _, bottom = sheet.box
    lines = [np.array([(u, top), (u, bottom)]) for u, _ in gauges]
    drawn = [stroke.path for stroke in sheet.strokes]
    cards = sheet.cut.buffer(MARKS_ROOM)
    numbers: list[Label] = []
    homeless = []
    for k, (u, text) in enumerate(gauges):
        occupied = Occupied([*drawn, *lines[:k], *lines[k + 1 :]])
        for number in numbers:
            occupied.take(number.extent())
        highest = Label(text, u + 0.35 * TEXT, top + INSET, TEXT, "end", UPWARDS)
        reach = max(bottom - top - 2 * INSET - text_width(text, TEXT), 0.0)
        choices = [highest.translate(0.0, far) for far in np.arange(0.0, reach, 2.0).tolist()]
        rects = np.array([choice.extent() for choice in choices]).reshape(-1, 4)
        free = occupied.free(rects) & ~shapely.intersects(cards, shapely.box(*rects.T))
        rest = LineString(lines[k]).difference(sheet.cut.buffer(-tick))
        if free.any():
            numbers.append(choices[int(np.argmax(free))])
            x0, y0, x1, y1 = numbers[-1].extent()
            rest = rest.difference(shapely.box(x0, y0 - LINE_GAP, x1, y1 + LINE_GAP))
        else:
            homeless.append((u, text))
        parts = [part for part in shapely.get_parts(rest) if part.length > (STUB if free.any() else 0)]
        sheet.strokes += [Stroke(Role.DATUM, freeze(shapely.get_coordinates(part))) for part in parts]
    sheet.labels += numbers
    return homeless


def label_above(sheet: Sheet, occupied: Occupied, gauges: Sequence[tuple[float, str]]) -> None:
    """The number of each gauge above its line; where something is in the way further off, with the line drawn to it."""
    top = sheet.box[1]
    places = [(aside, -rise) for rise in FURTHER.tolist() for aside in ASIDE]
    for u, text in gauges:
        lowest = Label(text, u + 0.35 * TEXT, top - INSET, TEXT, "start", UPWARDS)
        written = shapely.union_all(rectangles(sheet.labels))
        for place in places:  # the last stands where none is free
            label = lowest.translate(*place)
            leader = LineString([(u, top), (label.x - 0.35 * TEXT, label.y + 0.5 * INSET)])
            if occupied.is_free(label.extent()) and not leader.intersects(written):
                break
        sheet.labels.append(label)
        occupied.take(label.extent())
        if place != places[0]:
            sheet.strokes.append(Stroke(Role.DATUM, freeze(shapely.get_coordinates(leader))))
            x0, y0, x1, y1 = leader.bounds
            occupied.take((x0, y0, x1, y1))


def label_sides(sheet: Sheet, occupied: Occupied, *, hands: bool) -> None:
    """What lies on which side, STBD and PORT where both `hands` are seen, and the sizes of the box: inside it, level or
    upright, where that is clear, else outside, ever further.
    """
    left, top, right, bottom = sheet.box
    for text, at, anchor, out in (("NOSE", left, "start", -1.0), ("TAIL", right, "end", 1.0)):
        beyond = {"start": "end", "end": "start"}[anchor]
        upper = top + INSET + LEAST_TEXT * ASCENT
        level = [Label(text, at - out * INSET, upper, LEAST_TEXT, anchor)]
        inner = at + INSET + ASCENT * LEAST_TEXT if out < 0 else at - INSET - DESCENT * LEAST_TEXT
        highest = Label(text, inner, top + INSET, LEAST_TEXT, "end", UPWARDS)
        reach = bottom - top - 2 * INSET - text_width(text, LEAST_TEXT)
        upright = [highest.translate(0.0, far) for far in np.arange(0.0, max(reach, 0.0), 4.0).tolist()]
        outside = [Label(text, at + out * INSET, upper + far, LEAST_TEXT, beyond) for far in FURTHER.tolist()]
        place_label(sheet, occupied, level + upright + outside, fallback=outside[-1])
    if hands:
        _label_hands(sheet, occupied)
    _label_sizes(sheet, occupied)


def _label_hands(sheet: Sheet, occupied: Occupied) -> None:
    left, top, right, bottom = sheet.box
    upper, lower = top + INSET + LEAST_TEXT * ASCENT, bottom - INSET
    between = [way * far for far in np.arange(0.0, (right - left) / 2 - 4, 1.0).tolist() for way in (1.0, -1.0)]
    middle = (left + right) / 2
    for text, v, end, anchor, further in (
        ("STBD", upper, top + INSET, "end", -FURTHER),
        ("PORT", lower, lower, "start", FURTHER),
    ):
        level = [Label(text, middle + far, v, LEAST_TEXT, "middle") for far in between]
        upright = [Label(text, middle + far, end, LEAST_TEXT, anchor, UPWARDS) for far in between]
        outside = [Label(text, left - INSET, v + far, LEAST_TEXT, "end") for far in further.tolist()]
        place_label(sheet, occupied, level + upright + outside, fallback=outside[-1])


def _label_sizes(sheet: Sheet, occupied: Occupied) -> None:
    left, top, right, bottom = sheet.box
    along, down = outwards((right - left) / 2 - 8), outwards((bottom - top) / 2 - 12)
    high = Label(f"{round(bottom - top, 2):g}", right - INSET, (top + bottom) / 2, TEXT, "middle", UPWARDS)
    inside = [high.translate(0.0, step) for step in down]
    outside = [high.translate(INSET + TEXT + far, 0.0) for far in FURTHER.tolist()]
    place_label(sheet, occupied, inside + outside, fallback=outside[-1])
    wide = Label(f"{round(right - left, 2):g}", (left + right) / 2, bottom - INSET, TEXT, "middle")
    inside = [wide.translate(step, 0.0) for step in along]
    outside = [wide.translate(0.0, INSET + TEXT + far) for far in FURTHER.tolist()]
    place_label(sheet, occupied, inside + outside, fallback=outside[-1])


def write_account(sheet: Sheet, occupied: Occupied, facts: Sequence[Line], order: Sequence[Line]) -> None:
    """Facts and the order of work as one block of lettering, where it makes the sheet the least wide and high."""
    blocks = []
    for width in WIDTHS:
        first, second = _set(facts, width), _set(order, width)
        blocks += [_stacked(first, second), _abreast(first, second)]
    _place(sheet, occupied, blocks)


def write_running(sheet: Sheet, occupied: Occupied, head: Sequence[Line], text: str) -> None:
    """The lines of the head, and the text in small letters under them, as wide as the box or wider if need be."""
    left, _, right, _ = sheet.box
    least = max(text_width(line, size, bold=bold) for line, size, bold in head)
    _place(
        sheet,
        occupied,
        [_set([*head, (text, LEAST_TEXT, False)], max(least, width)) for width in (right - left, *WIDTHS)],
    )


def _set(lines: Sequence[Line], width: float) -> _Block:
    """The lines one under the other, those too long for `width` mm broken between words."""
    broken = [(part, size, bold) for text, size, bold in lines for part in wrap(text, size, width - CLEAR, bold=bold)]
    labels, top = [], 0.0
    for text, size, bold in broken:
        labels.append(Label(text, 0.0, top + size * ASCENT, size, bold=bold))
        top += LEADING * size
    return _Block(tuple(labels), max(text_width(text, size, bold=bold) for text, size, bold in broken), top)


def _stacked(upper: _Block, lower: _Block) -> _Block:
    moved = (label.translate(0.0, upper.height) for label in lower.labels)
    return _Block((*upper.labels, *moved), max(upper.width, lower.width), upper.height + lower.height)


def _abreast(first: _Block, second: _Block) -> _Block:
    at = first.width + COLUMN_GAP
    moved = (label.translate(at, 0.0) for label in second.labels)
    return _Block((*first.labels, *moved), at + second.width, max(first.height, second.height))


def _place(sheet: Sheet, occupied: Occupied, blocks: Sequence[_Block]) -> None:
    """One of the blocks in the foam round the cards, which costs no paper; else to the right of the box or below it,
    wherever width and height of the sheet grow least together.
    """
    inside = next(_in_foam(sheet, occupied, blocks), None)
    block, (left, top, right, bottom) = inside or _outside(sheet, occupied, blocks)
    sheet.labels += [label.translate(left, top) for label in block.labels]
    occupied.take((left, top, right, bottom))


def _in_foam(sheet: Sheet, occupied: Occupied, blocks: Sequence[_Block]) -> Iterator[tuple[_Block, Rect]]:
    left, top, right, bottom = sheet.box
    free = shapely.box(left + 1, top + 1, right - 1, bottom - 1).difference(sheet.cut.buffer(1.0))
    regions = sorted(shapely.get_parts(free).tolist(), key=lambda part: -part.area)
    for block in sorted(blocks, key=lambda block: block.width * block.height):
        for region in regions:
            corner = (left + block.width / 2, bottom - block.height / 2)
            place = room_for(region, block.width, block.height, occupied, corner)
            if place:
                yield block, place


def _outside(sheet: Sheet, occupied: Occupied, blocks: Sequence[_Block]) -> tuple[_Block, Rect]:
    """One of the blocks in its first free place to the right of the box, level with its top or with what stands over
    it, or below it, where the sheet grows least.
    """
    left, top, right, bottom = sheet.box
    reach = extents_of(sheet)
    highest = min(top, *(label.extent()[1] for label in sheet.labels))
    ways = [
        *(np.column_stack([right + BESIDE, np.full(len(BESIDE), v)]) for v in (top, highest)),
        np.column_stack([np.full(len(UNDER), left), bottom + UNDER]),
    ]
    least, chosen = np.inf, (blocks[0], reach)
    for block in blocks:
        for way in ways:
            if _half_girth(reach, _stretched(way[0], block)) >= least:  # further out it only grows
                continue
            found = occupied.first_free(np.hstack([way, way + (block.width, block.height)]))
            place = _stretched(way[-1 if found is None else found], block)
            girth = _half_girth(reach, place)
            if girth < least:
                least, chosen = girth, (block, place)
    return chosen


def _stretched(corner: Points, block: _Block) -> Rect:
    """The rectangle of a block with its upper left corner there."""
    u, v = corner.tolist()
    return u, v, u + block.width, v + block.height


def _half_girth(reach: Rect, more: Rect) -> float:
    """Width and height together, mm, of what reaches so far with one more rectangle on it."""
    across, down = max(reach[2], more[2]) - min(reach[0], more[0]), max(reach[3], more[3]) - min(reach[1], more[1])
    return round(across + down, 6)
