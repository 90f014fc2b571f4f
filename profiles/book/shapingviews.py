"""Pictures of how a block is cut to shape, drawn from blocks of the job at round scales."""

from collections.abc import Sequence

import numpy as np
import shapely

from profiles.arrays import Floats
from profiles.book.billetmap import BLOCK, LEFTOVER, SIZES
from profiles.book.scales import ratio_for, scale_words
from profiles.book.shapes import Corners, FaceShape, Ring, TipShape, WiredShape
from profiles.paper.drawing import Area, Drawing, Label, Role, Stroke, circle, freeze, line, patch, rectangle
from profiles.paper.flow import wrap
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.pictures.bodyview import hatching
from profiles.units import block_name, decimal_length

ROOM = (66.0, 50.0)
"""mm; largest width and height of the foam in a picture."""

SIDE, TOP, FOOT = 10.0, 8.0, 9.0
"""mm; margins beside the foam, above it for the title, and below it for dimensions."""

WIDTH = ROOM[0] + 2 * SIDE
"""Width of every picture in mm, so that two stand side by side."""

PIN = 1.0
"""mm; radius of a pin in a picture."""

ARROW = 2.0
"""mm; length of an arrow's head."""

TAIL = 7.0
"""mm; what the wire sticks out of the foam at either side, in a picture."""

NUMBERS_APART = 5.0
"""mm; least distance between two numbers of marks in a picture."""

OUT = 2.6
"""mm from the line to the number of a mark."""


WIDEST = 0.05
"""mm on paper; the highest of the points this near to the widest one decides where the shell is sawn apart."""


class _Frame:
    """The map from a face of a block (u, v) mm to the picture."""

    def __init__(self, box: Corners, room: tuple[float, float] = ROOM) -> None:
        self.box = box
        width, height = box[2] - box[0], box[3] - box[1]
        self.ratio = ratio_for((width, height), room, 1.0)
        self.left = SIDE + (room[0] - width / self.ratio) / 2
        self.bottom = TOP + height / self.ratio

    def at(self, u: float, v: float) -> tuple[float, float]:
        return self.left + (u - self.box[0]) / self.ratio, self.bottom - (v - self.box[1]) / self.ratio

    def ring(self, ring: Ring) -> Floats:
        return np.column_stack(
            [self.left + (ring[:, 0] - self.box[0]) / self.ratio, self.bottom - (ring[:, 1] - self.box[1]) / self.ratio]
        )

    def corners(self) -> tuple[float, float, float, float]:
        """Left, top, width, height of the box on the picture."""
        left, top = self.at(self.box[0], self.box[3])
        right, bottom = self.at(self.box[2], self.box[1])
        return left, top, right - left, bottom - top


def _title(text: str, frame: _Frame) -> list[Label]:
    lines = wrap(f"{text}, {scale_words(frame.ratio)}", SIZES, WIDTH, bold=True)
    return [Label(words, 0.0, CAP_HEIGHT * SIZES + n * SIZES * 1.3, SIZES, bold=True) for n, words in enumerate(lines)]


def _sheet(frame: _Frame) -> Drawing:
    return Drawing(WIDTH, frame.bottom + FOOT)


def _outlines(rings: Sequence[Ring], frame: _Frame, role: Role = Role.CUT) -> list[Stroke]:
    return [Stroke(role, freeze(frame.ring(ring)), closed=True) for ring in rings]


def _filled(rings: Sequence[Ring], frame: _Frame, colour: str = BLOCK) -> list[Area]:
    return [Area("block", colour, tuple(freeze(frame.ring(ring)) for ring in rings))]


def _arrow(start: tuple[float, float], end: tuple[float, float], role: Role = Role.CARVE) -> list[Stroke]:
    """A line with a head at its end."""
    way = np.subtract(end, start)
    length = float(np.hypot(*way))
    if length <= 0:
        return []
    ahead = way / length
    aside = np.array([-ahead[1], ahead[0]])
    wings = [np.array(end) - ARROW * ahead + side * ARROW / 2 * aside for side in (1.0, -1.0)]
    head = [(float(x), float(y)) for x, y in (wings[0], np.array(end), wings[1])]
    return [line(role, start, end), line(role, *head)]


def pair_view(block: WiredShape) -> Drawing:
    """The fore face of a block: its squared edges, the datum lines measured from them, the template and its pins."""
    face = block.fore
    frame = _Frame(face.box)
    left, low, right, high = face.box
    x, y = frame.at(0.0, 0.0)
    box = frame.corners()
    strokes = [
        rectangle(Role.BOX, *box),
        line(Role.DATUM, (box[0] - 3.0, y), (box[0] + box[2] + 3.0, y)),
        line(Role.DATUM, (x, box[1] - 2.0), (x, box[1] + box[3] + 2.0)),
        *_outlines(face.rings, frame),
        *(circle(Role.PIN, *frame.at(*pin), PIN) for pin in face.pins),
    ]
    foot = frame.bottom + 2.0 + SIZES
    labels = [
        *_title(f"Block {block_name(block.number)}, fore face: datum lines, template and pins", frame),
        Label(decimal_length(-left), (box[0] + x) / 2, foot, SIZES, "middle"),
        Label(decimal_length(right), (x + box[0] + box[2]) / 2, foot, SIZES, "middle"),
        Label(decimal_length(high), box[0] - 1.5, (box[1] + y) / 2 + 1.0, SIZES, "end"),
        Label(decimal_length(-low), box[0] - 1.5, (y + frame.bottom) / 2 + 1.0, SIZES, "end"),
        Label("UP", x + 1.0, box[1] + SIZES + 0.6, SIZES, bold=True),
    ]
    return _sheet(frame).with_more(strokes, labels, _filled(face.rings, frame))


def way_view(block: WiredShape) -> Drawing:
    """The way of the wire round a face: the lead-in, numbers of marks, the direction, and the lead-out."""
    face = block.fore
    frame = _Frame(face.box)
    middle = np.mean([frame.at(u, v) for _, u, v in face.marks] or [frame.at(0.0, 0.0)], axis=0)
    strokes = [rectangle(Role.BOX, *frame.corners()), *_outlines(face.rings, frame)]
    labels = _title(f"Block {block_name(block.number)}, fore face: the way of the wire", frame)
    placed: list[tuple[float, float]] = []
    for number, u, v in face.marks:
        x, y = frame.at(u, v)
        away = np.array([x, y]) - middle
        away = away / (np.hypot(*away) or 1.0)
        spot = (x + OUT * away[0], y + OUT * away[1])
        if any(np.hypot(spot[0] - a, spot[1] - b) < NUMBERS_APART for a, b in placed):
            continue
        placed.append(spot)
        strokes.append(line(Role.MARK, (x - 0.6 * away[0], y - 0.6 * away[1]), (x + 0.6 * away[0], y + 0.6 * away[1])))
        labels.append(Label(f"{number}", spot[0], spot[1] + CAP_HEIGHT * SIZES / 2, SIZES, "middle"))
    strokes += _lead_in(face, frame)
    return _sheet(frame).with_more(strokes, labels, _filled(face.rings, frame))


def _lead_in(face: FaceShape, frame: _Frame) -> list[Stroke]:
    """From the nearest edge of the foam straight to mark 1, and a little way along the line towards mark 2."""
    if not face.marks:
        return []
    _, u, v = face.marks[0]
    left, low, right, high = face.box
    edges = [((left, v), u - left), ((right, v), right - u), ((u, low), v - low), ((u, high), high - v)]
    (edge, _) = min(edges, key=lambda entry: entry[1])
    strokes = _arrow(frame.at(*edge), frame.at(u, v))
    _, nu, nv = face.marks[1 % len(face.marks)]
    return [*strokes, *_arrow(frame.at(u, v), frame.at(u + (nu - u) * 0.9, v + (nv - v) * 0.9))]


def wire_view(block: WiredShape) -> Drawing:
    """The block from above between its two templates, with the wire across both at one mark."""
    fore, aft = block.fore, block.aft
    widest = max(fore.marks, key=lambda mark: (abs(mark[1]), mark[0]), default=(1, 0.0, 0.0))
    partner = next((mark for mark in aft.marks if mark[0] == widest[0]), widest)
    left, _, right, _ = aft.box  # from above, the nose to the left, starboard below: v is -y
    frame = _Frame((0.0, -right, block.thickness, -left), (ROOM[0] - 4 * TAIL, ROOM[1]))
    shift = 2 * TAIL
    frame.left += shift
    x, y, wide, high = frame.corners()
    start, end = frame.at(0.0, widest[1]), frame.at(block.thickness, -partner[1])
    way = np.subtract(end, start) / (np.hypot(*np.subtract(end, start)) or 1.0)
    tail = 1.6 * TAIL
    first = (float(start[0] - tail * way[0]), float(start[1] - tail * way[1]))
    last = (float(end[0] + tail * way[0]), float(end[1] + tail * way[1]))
    strokes = [rectangle(Role.BOX, x, y, wide, high)]
    areas = [patch("block", BLOCK, x, y, wide, high)]
    for face, at, sign in ((fore, x - 1.0, 1.0), (aft, x + wide, -1.0)):
        spots = [frame.at(0.0, sign * u)[1] for ring in face.rings for u in ring[:, 0].tolist()]
        areas.append(patch("card", CARD, at, min(spots), 1.0, max(spots) - min(spots)))
    strokes += [line(Role.CARVE, first, last), *(circle(Role.MARK, *spot, 1.2) for spot in (first, last))]
    words = wrap("wire, tight and straight; one hand at each end", SIZES, WIDTH)
    labels = [
        *_title(f"Block {block_name(block.number)} from above, nose to the left: the wire at mark {widest[0]}", frame),
        Label(decimal_length(block.thickness), x + wide / 2, frame.bottom + 2.0 + SIZES, SIZES, "middle"),
        *(Label(text, 0.0, frame.bottom + 5.0 + SIZES * (1.3 * n + 1), SIZES) for n, text in enumerate(words)),
        Label("fore", x - 2.0, y + SIZES, SIZES, "end"),
        Label("aft", x + wide + 2.0, y + SIZES, SIZES),
    ]
    return Drawing(WIDTH, frame.bottom + FOOT + 2.0, tuple(strokes), tuple(labels), tuple(areas))


CARD = "#8a6d3b"
"""Colour of a template seen from its edge."""


def cradle_view(block: WiredShape) -> Drawing:
    """What is left round a block: sawn at the datum, its lower half is a cradle."""
    face = block.aft
    frame = _Frame(face.box)
    left, top, wide, _ = frame.corners()
    solid = shapely.union_all([shapely.Polygon(frame.ring(ring)) for ring in face.rings]).buffer(0)
    spots = np.vstack([frame.ring(ring) for ring in face.rings])
    level = float(spots[spots[:, 0] > spots[:, 0].max() - WIDEST, 1].min())
    lower = shapely.box(left, level, left + wide, frame.bottom).difference(solid.buffer(0.4))
    upper = shapely.box(left, top, left + wide, level).difference(solid.buffer(0.4))
    areas = [
        Area(
            "shell", LEFTOVER, tuple(freeze(shapely.get_coordinates(ring)) for ring in (part.exterior, *part.interiors))
        )
        for part in shapely.get_parts(lower)
    ]
    strokes = [
        Stroke(Role.BOX, freeze(shapely.get_coordinates(ring)), closed=False)
        for shell in (lower, upper)
        for part in shapely.get_parts(shell)
        for ring in (part.exterior, *part.interiors)
    ]
    words = wrap("hatched: the lower shell, a cradle for the block", SIZES, WIDTH)
    labels = [
        *_title(f"Block {block_name(block.number)}, aft face: the shells round it", frame),
        *(Label(text, 0.0, frame.bottom + 2.0 + SIZES * (1.3 * n + 1), SIZES) for n, text in enumerate(words)),
    ]
    areas += [area for part in shapely.get_parts(lower) for area in hatching(part)]
    return _sheet(frame).with_more(
        [*strokes, *_outlines(face.rings, frame)], labels, [*_filled(face.rings, frame), *areas]
    )


def feature_view(block: WiredShape) -> Drawing:
    """A face of a block that is carved afterwards, with the marks between which the knife works."""
    face = block.fore
    frame = _Frame(face.box)
    carved = [(number, *frame.at(u, v)) for number, u, v in face.marks if number in block.carved]
    strokes = [rectangle(Role.BOX, *frame.corners()), *_outlines(face.rings, frame)]
    strokes += [circle(Role.CARVE, x, y, 0.9) for _, x, y in carved]
    numbers = f"{carved[0][0]} to {carved[-1][0]}" if len(carved) > 1 else "".join(str(mark[0]) for mark in carved)
    words = wrap(f"rings: marks {numbers}, where the template has its heavy line", SIZES, WIDTH)
    labels = [
        *_title(f"Block {block_name(block.number)}, fore face: where to carve", frame),
        *(Label(text, 0.0, frame.bottom + 2.0 + SIZES * (1.3 * n + 1), SIZES) for n, text in enumerate(words)),
    ]
    return _sheet(frame).with_more(strokes, labels, _filled(face.rings, frame))


def tip_views(block: TipShape) -> list[Drawing]:
    """A tip from the side and from above: the two profiles that the wire cuts, and the places of the gauges."""
    views = []
    for name, box, rings in (("side", block.side_box, block.side), ("plan", block.plan_box, block.plan)):
        frame = _Frame(box)
        gauges = [frame.at(x, 0.0)[0] for x in block.gauges]
        left, top, wide, high = frame.corners()
        strokes = [rectangle(Role.BOX, left, top, wide, high), *_outlines(rings, frame)]
        strokes += [line(Role.DATUM, (x, top - 1.0), (x, top + high + 1.5)) for x in gauges]
        shown = [n for n, x in enumerate(gauges) if n == 0 or x - gauges[n - 1] > text_width("0", SIZES) + 1.0]
        labels = [
            *_title(f"Block {block_name(block.number)}, {name} profile, nose to the left", frame),
            *(Label(f"{n + 1}", gauges[n], frame.bottom + 2.0 + SIZES, SIZES, "middle") for n in shown),
            *([Label("gauges", left - 1.5, frame.bottom + 2.0 + SIZES, SIZES, "end")] if shown else []),
        ]
        views.append(_sheet(frame).with_more(strokes, labels, _filled(rings, frame)))
    return views
