"""What stays on the card when a template is cut out: id, UP, the nose and the fingerprint on every piece.

The text is as full as the piece has room for; for a piece that is too small it is beside the piece, on a leader.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.ops import nearest_points, polylabel, substring

from profiles.blocks.blocks import Block, Face, Which
from profiles.paper.drawing import UPWARDS, Label, Role, Stroke, freeze, line
from profiles.paper.facesheet import LEAST_TEXT, TEXT, FaceSheet, Sheet, TemplateTitle
from profiles.paper.lettering import ASCENT, AWAY, DESCENT, TOWARDS, text_width, with_symbol
from profiles.paper.placing import CLEAR, Occupied, Over, Rect, room_for
from profiles.paper.template import Source
from profiles.units import bare_length, block_name
from profiles.values import dataclass

LINE_GAP = 0.35
"""Space between lines of text, in font sizes."""

RIM = 7.5
"""mm kept free for marks inside the edge, if there is room."""


AIR = 0.8
"""mm kept free round a card beyond what any label keeps, so that no number of a mark reads as part of it."""

MODEST = 3
"""Lines of a card that may read up the page; a fuller one also says what the template was made with."""

BESIDE = 4
"""The number of the card that stands beside a piece without room for any."""

SMALL_TEXT = (2.2, 1.9)
"""mm; the text on small pieces, which are read in the hand."""

NOSE_FOOT = 3.4
"""mm below the lines of a card for an arrow along the paper."""


@dataclass(frozen=True, slots=True)
class Card:
    """Lines of text beside an UP arrow: (text, size, bold)."""

    lines: tuple[tuple[str, float, bool], ...]

    arrow: float = 4.0
    """mm left of the lines for the UP arrow; 0 if up is not a direction on the paper."""
    nose: bool = False
    """Whether there is an arrow below the lines; the last line says what it points to."""
    nose_right: bool = False
    """Whether that arrow points to the right and not to the left."""
    upwards: bool = False
    """Whether the lines read up the page, with the UP arrow on their left, as narrow pieces need it."""

    @property
    def width(self) -> float:
        """Width in mm."""
        return self.arrow + (self._lines_height if self.upwards else self._lines_width)

    @property
    def height(self) -> float:
        """Height in mm."""
        return self._lines_width if self.upwards else self._lines_height + NOSE_FOOT * self.nose

    @property
    def _lines_width(self) -> float:
        return max(text_width(text, size, bold=bold) for text, size, bold in self.lines)

    @property
    def _lines_height(self) -> float:
        gaps = LINE_GAP * sum(size for _, size, _ in self.lines[1:])
        return sum(size * (ASCENT + DESCENT) for _, size, _ in self.lines) + gaps


def _cards(face: Face, name: str, block: Block, title: TemplateTitle) -> list[Card]:
    """What a piece can carry, fullest first."""
    nose = with_symbol(TOWARDS, "NOSE to you") if face.which is Which.FORE else with_symbol(AWAY, "NOSE away")
    place = (f"x {bare_length(face.x, 2)}", TEXT, False), (f"thick {bare_length(block.span.thickness, 2)}", TEXT, False)
    used = tuple((words, LEAST_TEXT, False) for words in title.used_words(block.growth[face.which is Which.AFT]))
    mark = (title.fingerprint, TEXT, False)
    small = (title.fingerprint, LEAST_TEXT, False)
    return [
        Card(((name, 7.0, True), (nose, TEXT, True), *place, *used, mark), 6.0),
        Card(((name, 5.0, True), (nose, TEXT, True), *place, *used, mark), 5.0),
        Card(((name, 5.0, True), (nose, TEXT, True), *used, mark), 5.0),
        Card(((f"{name}  {nose}", TEXT, True), *used, mark)),
        Card(((name, 5.0, True), (nose, TEXT, True), mark)),
        Card(((f"{name}  {nose}", TEXT, True), mark)),
        Card(((name, 4.0, True), (nose, LEAST_TEXT, True), small)),
        Card(((f"{name}  {nose}  {title.fingerprint}", LEAST_TEXT, True),), 3.0),
        Card(((name, TEXT, True), small), 3.0),
        Card(((name, LEAST_TEXT, True), small), 3.0),
        *small_cards(name, title),
    ]


def small_cards(name: str, title: TemplateTitle, arrow: float = 2.6) -> list[Card]:
    """Name, UP and fingerprint for a small piece, the fingerprint in two lines; the arrow is left out if it is 0."""
    first, _, second = title.fingerprint.partition("-")
    halves = [f"{first}-", second] if second else [first]
    return [
        Card(((name, size, True), *((half, size, False) for half in halves)), min(arrow, 2.6)) for size in SMALL_TEXT
    ]


def piece_code(source: Source, letter: str) -> str:
    """The short name of a piece that is too small for its name: the block, F or A for its face, the letter."""
    return f"{block_name(source.block, 1)}{source.kind[0].upper()}{letter}"


def label_pieces(sheet: FaceSheet, occupied: Occupied, source: Source, title: TemplateTitle) -> None:
    """Write id, UP, nose and fingerprint on every piece of the template. A piece that has no room for them carries its
    short name, and its card stands beside it on a leader.
    """
    pieces = sorted(
        sheet.cut.geoms, key=lambda part: part.bounds if sheet.face.which is Which.AFT else (-part.bounds[2],)
    )
    for letter, part in zip(letters(len(pieces)), pieces, strict=True):
        cards = _cards(sheet.face, source.name(letter), sheet.block, title)
        if card_on(sheet, occupied, part, cards):
            continue
        code = piece_code(source, letter)
        card_on(sheet, occupied, part, [Card(((code, size, True),), 0.0) for size in (LEAST_TEXT, *SMALL_TEXT)])
        card_beside(sheet, occupied, part, cards[BESIDE])


def card_on(sheet: Sheet, occupied: Occupied, part: Polygon, cards: Sequence[Card]) -> Card | None:
    """Write the first of the cards that a piece has room for, and return it.

    Before a card says less than skin, kerf, wire and growth, or its text becomes smaller than LEAST_TEXT, it may
    interrupt a datum line, away from the cross.
    """
    middle = polylabel(part, tolerance=1.0)
    room = middle.distance(part.boundary) + 1.0
    for card, over in _attempts(cards):
        width, height = card.width, card.height
        if min(width, height) / 2 > room:  # larger than the largest circle in the piece
            continue
        place = room_for(part, width, height, occupied, (middle.x, middle.y), rim=RIM, over=over)
        if place:
            _write_card(sheet, card, place)
            left, top, right, bottom = place
            occupied.take((left - AIR, top - AIR, right + AIR, bottom + AIR))
            if over is not Over.NOTHING:
                _interrupt_datum(sheet, shapely.box(*place).buffer(CLEAR, join_style="mitre"))
            return card
    return None


def _attempts(cards: Sequence[Card]) -> Iterator[tuple[Card, Over]]:
    """The cards in the order in which they are tried, each with what it may interrupt."""
    full = [card for card in cards if len(card.lines) > MODEST]
    small = [card for card in cards if min(size for _, size, _ in card.lines) < LEAST_TEXT]
    plain = [card for card in cards if card not in full and card not in small]
    for some in (full, plain, small):
        upwards = [replace(card, upwards=True) for card in some if some is not full and not card.nose]
        for over in (Over.NOTHING, Over.DATUM) if some is full else Over:
            yield from ((card, over) for card in (*some, *upwards))


def _interrupt_datum(sheet: Sheet, gap: Polygon) -> None:
    """Leave datum lines out where a card stands on them."""
    strokes = list(sheet.strokes)
    sheet.strokes.clear()
    for stroke in strokes:
        if stroke.role is not Role.DATUM:
            sheet.strokes.append(stroke)
            continue
        rest = shapely.get_parts(LineString(stroke.points).difference(gap)).tolist()
        sheet.strokes += [Stroke(Role.DATUM, freeze(shapely.get_coordinates(part))) for part in rest if part.length]


def letters(count: int) -> list[str]:
    """A letter for each piece: none for a single one, else a, b, c ... from port to starboard."""
    if count == 1:
        return [""]
    return [chr(ord("a") + n) if n < 26 else f"({n + 1})" for n in range(count)]  # noqa: PLR2004 - the alphabet


def _write_card(sheet: Sheet, card: Card, place: Rect) -> None:
    _draw_arrows(sheet, card, place)
    left, top, _, bottom = place
    along = 0.0
    for n, (text, size, bold) in enumerate(card.lines):
        along += size * ASCENT + (LINE_GAP * size if n else 0.0)
        if card.upwards:
            label = Label(text, left + card.arrow + along, bottom, size, angle=UPWARDS, bold=bold)
        else:
            label = Label(text, left + card.arrow, top + along, size, bold=bold)
        sheet.labels.append(label)
        along += size * DESCENT


def _draw_arrows(sheet: Sheet, card: Card, place: Rect) -> None:
    left, top, right, bottom = place
    head = 1.2
    if card.arrow:
        u = left + head
        sheet.strokes += [
            line(Role.LABEL, (u, bottom), (u, top)),
            line(Role.LABEL, (u - head, top + 1.8 * head), (u, top), (u + head, top + 1.8 * head)),
        ]
    if card.nose:
        foot, tip, v = right, left + card.arrow, bottom - head
        if card.nose_right:
            foot, tip = tip, foot
        barb = tip + (-1.8 if card.nose_right else 1.8) * head
        sheet.strokes += [
            line(Role.LABEL, (foot, v), (tip, v)),
            line(Role.LABEL, (barb, v - head), (tip, v), (barb, v + head)),
        ]


def card_beside(
    sheet: Sheet, occupied: Occupied, part: Polygon, card: Card, clear_of: Sequence[shapely.Geometry] = ()
) -> None:
    """Write the card beside the piece, with a leader to the edge of the piece that, if possible, crosses no other
    outline and nothing in `clear_of`.
    """
    best, fewest = None, 0
    obstacles = _lines_to_cross(sheet, clear_of)
    for place in _places_beside(sheet, occupied, part, card):
        leader = _leader(place, part)
        crossings = _crossings(leader, obstacles)
        if best is None or crossings < fewest:
            best, fewest = (place, leader), crossings
        if not fewest:
            break
    if best is None:
        place = _below_everything(sheet, occupied, part, card)
        best = place, _leader(place, part)
    place, leader = best
    _write_card(sheet, card, place)
    occupied.take(place)
    sheet.strokes.append(line(Role.LABEL, *leader))


def _places_beside(sheet: Sheet, occupied: Occupied, part: Polygon, card: Card) -> list[Rect]:
    """Free places for a card, nearest to the piece first: in the foam round the outlines and round the box."""
    left, top, right, bottom = sheet.box
    middle = part.centroid
    near = (middle.x, middle.y)
    inside = [room_for(region, card.width, card.height, occupied, near) for region in _foam_round(sheet.cut, sheet.box)]
    gap = 3.0
    across = np.arange(left, max(right - card.width, left) + 1, 4.0).tolist()
    up = np.arange(top, max(bottom - card.height, top) + 1, 4.0).tolist()
    corners = [(u, bottom + gap) for u in across] + [(u, top - gap - card.height) for u in across]
    corners += [(right + gap + TEXT, v) for v in up] + [(left - gap - card.width, v) for v in up]
    beyond = [(left, bottom + gap + far) for far in np.arange(0.0, 400.0, 4.0).tolist()]
    rects = [(u, v, u + card.width, v + card.height) for u, v in corners + beyond]
    free = occupied.free(np.array(rects))
    outside = [rect for rect, clear in zip(rects, free, strict=True) if clear]
    places = [rect for rect in inside if rect] + outside
    if not places:
        return []
    distances = shapely.distance(shapely.box(*np.array(places).T), part).round(3)
    return [places[k] for k in np.argsort(distances, kind="stable")]


@lru_cache(maxsize=1)
def _foam_round(cut: MultiPolygon, box: Rect) -> list[Polygon]:
    """The foam round the outlines within the box, 1 mm from both: the same for all pieces of a template."""
    left, top, right, bottom = box
    foam = shapely.box(left + 1, top + 1, right - 1, bottom - 1).difference(cut.buffer(1.0))
    return [part for part in shapely.get_parts(foam).tolist() if isinstance(part, Polygon)]


def _below_everything(sheet: Sheet, occupied: Occupied, part: Polygon, card: Card) -> Rect:
    """A place in rows below the box, for a template with more pieces than there is room for cards round its box.

    The rows continue below everything drawn so far, so one of the places is always free.
    """
    left, _, right, bottom = sheet.box
    drawn = [float(stroke.points[:, 1].max()) for stroke in sheet.strokes]
    lowest = max([bottom, *drawn, *(label.extent()[3] for label in sheet.labels)])
    step = card.height + 2 * CLEAR
    downs = np.arange(bottom + 3.0, lowest + step + 2 * CLEAR, step)
    acrosses = np.arange(left, max(right - card.width, left) + 1, card.width + 2 * CLEAR)
    corners = np.array([(u, v) for v in downs for u in acrosses])
    rects = np.hstack([corners, corners + (card.width, card.height)])
    rects = rects[occupied.free(rects)]
    rows = np.round(rects[:, 1], 3)
    rects = rects[rows == rows.min()]  # the first row with room keeps the sheet small
    middle = part.centroid.x
    x0, y0, x1, y1 = min(rects.tolist(), key=lambda rect: abs((rect[0] + rect[2]) / 2 - middle))
    return x0, y0, x1, y1


def _leader(rect: Rect, part: Polygon) -> tuple[tuple[float, float], tuple[float, float]]:
    """From a card's edge to the nearest point of the piece, mm."""
    start, end = nearest_points(shapely.box(*rect).buffer(0.5, join_style="mitre"), part)
    return (start.x, start.y), (end.x, end.y)


def _lines_to_cross(sheet: Sheet, clear_of: Sequence[shapely.Geometry]) -> shapely.STRtree:
    """What no leader should cross: the outlines, other leaders and `clear_of`."""
    lines = [stroke.points for stroke in sheet.strokes if stroke.role is Role.LABEL]
    numbers = np.repeat(np.arange(len(lines)), [len(points) for points in lines])
    leaders = shapely.linestrings(np.vstack([np.zeros((0, 2)), *lines]), indices=numbers)
    return shapely.STRtree([*clear_of, *shapely.get_parts(sheet.cut.boundary), *leaders])


def _crossings(leader: tuple[tuple[float, float], ...], obstacles: shapely.STRtree) -> int:
    """How often a leader meets lines before its own end."""
    whole = LineString(leader)
    short = substring(whole, 0.0, max(whole.length - 0.05, 0.0))
    met = obstacles.geometries[obstacles.query(short, predicate="intersects")]
    return int(shapely.get_num_geometries(shapely.intersection(short, met)).sum())
