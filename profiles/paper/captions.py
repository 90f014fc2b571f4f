"""The text round a block box: its sides, its sizes, and the caption of the template."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import shapely

from profiles.blocks.blocks import Which
from profiles.paper.carving import carving_words
from profiles.paper.cutlines import cut_words
from profiles.paper.drawing import UPWARDS, Label, Role
from profiles.paper.facesheet import DATUM_BEYOND, LEAST_TEXT, TEXT, FaceSheet, Sheet, TemplateTitle, line_names
from profiles.paper.lettering import ASCENT, text_width
from profiles.paper.placing import Occupied, Rect, room_for
from profiles.paper.template import Source
from profiles.units import bare_length, length_text, short_length

Lines = list[list[tuple[str, float, bool]]]
"""Lines, each with texts (text, font size in mm, bold) side by side."""


BEYOND = tuple(4.0 * step for step in range(8))
"""mm outside the box at which its size is tried."""


def label_box(sheet: FaceSheet, occupied: Occupied) -> None:
    """Write the sides and sizes of the box, each with the name of the face, since boxes overlap on a page: inside it
    round the outline if they fit there, which keeps the sheet small; else outside.
    """
    left, top, right, bottom = sheet.box
    box = sheet.block.box
    port, starboard = "PORT", "STBD"
    if sheet.face.which is Which.FORE:
        port, starboard = starboard, port
    name = sheet.face.id
    inset, line_height = 1.4, LEAST_TEXT
    for text, at, anchor in ((f"{name} {port}", left + inset, "start"), (f"{name} {starboard}", right - inset, "end")):
        above = [Label(text, at, top - inset - line * line_height, LEAST_TEXT, anchor) for line in range(16)]
        inside = Label(text, at, top + inset + line_height * ASCENT, LEAST_TEXT, anchor)
        place_label(sheet, occupied, [inside, *above], fallback=above[0])
    high = Label(short_length(box.height), right - inset, (top + bottom) / 2, TEXT, "middle", UPWARDS)
    wide = Label(short_length(box.width), (left + right) / 2, bottom - inset, TEXT, "middle")
    for size, reach, along in ((high, box.height, (0.0, 1.0)), (wide, box.width, (1.0, 0.0))):
        named = replace(size, text=f"{name}: {size.text}")
        room = reach / 2 - inset - text_width(named.text, TEXT) / 2
        slides = [
            label.translate(along[0] * step, along[1] * step)
            for label, far in ((named, room), (size, reach / 2 - 10))
            for step in offsets(far)
        ]
        out = [named.translate(along[1] * (TEXT + inset + far), along[0] * (TEXT + inset + far)) for far in BEYOND]
        place_label(sheet, occupied, [*slides, *out], fallback=out[-1])


def box_dimensions(sheet: Sheet, occupied: Occupied, edges: Sequence[str]) -> list[Label]:
    """The words for where the box's edges are: on the card if there is room, else in a hollow or beside the card within
    its extents, else below all that is drawn.

    They are not placed on the sheet, since they stand only where the box does not.
    """
    joined = [f"box {', '.join(edges[:2])}", ", ".join(edges[2:])]
    shapes: list[Lines] = [
        [[(text, LEAST_TEXT, False)] for text in texts if text] for texts in (joined, ["box edges:", *edges])
    ]
    drawn = [stroke.points for stroke in sheet.strokes if stroke.role not in {Role.BOX, Role.DATUM}]
    points = np.vstack([*drawn, *(np.reshape(label.extent(), (2, 2)) for label in sheet.labels)])
    largest = max(sheet.cut.geoms, key=lambda part: part.area)
    around = shapely.box(*points.min(axis=0), *points.max(axis=0)).difference(sheet.cut.buffer(1.0))
    regions = [part for part in shapely.get_parts(around).tolist() if part.area]
    beside = sorted(regions, key=lambda part: -part.area)[:4]
    for part in (largest, *beside):
        middle = part.representative_point()
        for lines in shapes:
            place = room_for(part, *_paragraph_size(lines), occupied, (middle.x, middle.y), rim=2.0)
            if place:
                return _paragraph(lines, place[0], place[1])
    return _paragraph(shapes[0], float(points[:, 0].min()), float(points[:, 1].max()) + DATUM_BEYOND + 0.5)


def face_edges(sheet: FaceSheet) -> list[str]:
    """Where the edges of a face's box are, from the datum, mm."""
    box = sheet.block.box
    return [
        f"{bare_length(box.z_high)} above",
        f"{bare_length(-box.z_low)} below datum",
        f"{bare_length(-box.y_low)} to port",
        f"{bare_length(box.y_high)} to starboard",
    ]


def offsets(reach: float, step: float = 4.0) -> list[float]:
    """Offsets in mm: 8 first, then steps to both sides alternately, up to the reach."""
    steps = np.arange(step, max(reach, step), step).tolist()
    return [8.0, *(sign * offset for offset in steps for sign in (1.0, -1.0))]


def place_label(sheet: Sheet, occupied: Occupied, choices: Iterable[Label], fallback: Label) -> None:
    """Place the first choice that is clear of everything, else the fallback, which is outside the box."""
    chosen = next((choice for choice in choices if _is_clear(sheet, occupied, choice.extent())), fallback)
    occupied.take(chosen.extent())
    sheet.labels.append(chosen)


def _is_clear(sheet: Sheet, occupied: Occupied, rect: Rect) -> bool:
    return occupied.is_free(rect) and not shapely.intersects(sheet.cut, shapely.box(*rect))


def write_caption(sheet: FaceSheet, occupied: Occupied, source: Source, title: TemplateTitle) -> None:
    """Write the caption beside the outline, or below the box in as few lines as its width allows."""
    face, block = sheet.face, sheet.block
    seen = "fore face, seen from the nose" if face.which is Which.FORE else "aft face, seen from the tail"
    pieces = len(sheet.cut.geoms)
    facts = [
        seen + (f"; {pieces} pieces" if pieces > 1 else ""),
        f"x {length_text(face.x, 2)}, block {length_text(block.span.thickness, 2)} thick",
        f"box {short_length(block.box.width)} wide x {short_length(block.box.height)} high",
        *line_names(sheet, title, block.growth[face.which is Which.AFT]),
        *carving_words(sheet),
        *cut_words(sheet),
        f"{title.hull}, {title.fingerprint}",
    ]
    tall = [[(source.id, 5.0, True)], *([(fact, TEXT, False)] for fact in facts)]
    left, _, right, _ = sheet.box
    write_paragraph(sheet, occupied, tall, [_fill(source.id, facts, size, right - left) for size in (TEXT, LEAST_TEXT)])


def _fill(name: str, facts: Sequence[str], size: float, width: float) -> Lines:
    """The name and the facts in lines filled up to `width` mm; a fact that is too long for a line stays whole."""
    lines: Lines = [[(name, 5.0, True)]]
    for fact in facts:
        *before, (text, *_) = lines[-1]
        joined = [*lines[-1], (fact, size, False)] if text == name else [*before, (f"{text}; {fact}", size, False)]
        if _paragraph_size([joined])[0] <= width:
            lines[-1] = joined
        else:
            lines.append([(fact, size, False)])
    return lines


def write_paragraph(sheet: Sheet, occupied: Occupied, tall: Lines, flat: Sequence[Lines]) -> None:
    """Write the lines `tall` inside the box round the outline, or, if they do not fit, the lowest of `flat` below the
    box that is no wider than the box, or `tall` there.
    """
    left, top, right, bottom = sheet.box
    free = shapely.box(left + 1, top + 1, right - 1, bottom - 1).difference(sheet.cut.buffer(1.0))
    width, height = _paragraph_size(tall)
    corner = (left + width / 2, bottom - height / 2)
    for region in sorted(shapely.get_parts(free).tolist(), key=lambda part: -part.area):
        place = room_for(region, width, height, occupied, corner)
        if place:
            sheet.labels += _paragraph(tall, place[0], place[1])
            occupied.take(place)
            return
    fits = [lines for lines in flat if _paragraph_size(lines)[0] <= right - left]
    lowest = min(fits, key=lambda lines: _paragraph_size(lines)[1], default=tall)
    sheet.labels += _paragraph(lowest, left, _below_box(sheet))


_SIDE_GAP = 3.0
"""mm between texts that share a line."""

_LEADING = 1.3
"""Line height in font sizes."""


def _paragraph_size(lines: Lines) -> tuple[float, float]:
    width = max(sum(text_width(text, size, bold=bold) + _SIDE_GAP for text, size, bold in line) for line in lines)
    return width, sum(_LEADING * max(size for _, size, _ in line) for line in lines)


def _paragraph(lines: Lines, left: float, top: float) -> list[Label]:
    labels = []
    for texts in lines:
        size = max(size for _, size, _ in texts)
        base = top + size * ASCENT
        start = left
        for text, text_size, bold in texts:
            labels.append(Label(text, start, base, text_size, bold=bold))
            start += text_width(text, text_size, bold=bold) + _SIDE_GAP
        top += _LEADING * size
    return labels


def _below_box(sheet: Sheet) -> float:
    """The height below all labels, arrows and leaders, mm."""
    drawn = [float(stroke.points[:, 1].max()) for stroke in sheet.strokes if stroke.role is Role.LABEL]
    return max([sheet.box[3], *drawn, *(label.extent()[3] for label in sheet.labels)]) + 0.8
