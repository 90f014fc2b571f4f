"""Hollow gauges: cards with a section cut out of them, to be held against foam or a finished body.

gauge            of the foam's surface of a carved block, slipped over it from the small end
check            of the finished surface, in an upper and a lower half, along the whole body

A gauge for carving that no sheet holds is drawn in parts, as checks are: a band along the section, cut where the
section is widest and, where a half is still too large, in the middle.
"""

from collections.abc import Iterator, Sequence
from dataclasses import field, replace
from itertools import pairwise

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon

from profiles.blocks.blocks import Block, Which
from profiles.blocks.outlines import as_multi
from profiles.blocks.tips import Gauge, Tip
from profiles.errors import HullError
from profiles.hull.sections import Side
from profiles.hull.shape import Shape
from profiles.notes import Note, warning
from profiles.paper.cards import Card, card_beside, card_on, letters
from profiles.paper.drawing import Label, Points, Role, Stroke, freeze, rectangle
from profiles.paper.facesheet import (
    LEAST_TEXT,
    TEXT,
    UNSEEN,
    TemplateTitle,
    face_points,
    finished_template,
    layers_after,
    occupied_by,
    outline_strokes,
)
from profiles.paper.lettering import AWAY, TOWARDS, with_symbol
from profiles.paper.placing import Occupied, Rect
from profiles.paper.template import BlockTemplate, Kind, Source
from profiles.paper.ticks import TICK
from profiles.paper.tipcaptions import write_running
from profiles.units import block_name, length_text, short_length
from profiles.values import dataclass

FRAME = 20.0
"""mm; width of the card of a gauge round the section: stiff enough in thick card, and room for text."""

FLAT = 0.02
"""mm; points this close to the outermost one of a section count as outermost, and the gauge is split in their
middle."""

SPLIT = 1e-6
"""mm; half the width of the line that splits a gauge when its two pieces are found."""

LARGEST = (180.0, 260.0)
"""mm; a gauge whose card is larger is drawn in parts: what an A4 sheet has room for beside its bars."""

HALVES = ("upper", "lower")


@dataclass(slots=True)
class TipSheet:
    """A template while it is drawn: (points - origin) x flip is on it."""

    cut: MultiPolygon
    """The material of the card, or what the wire leaves, in the frame of the sheet."""
    box: Rect
    flip: tuple[float, float]
    origin: tuple[float, float] = (0.0, 0.0)
    strokes: list[Stroke] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)

    def to_sheet(self, points: Points) -> Points:
        """The frame of the block -> the frame of the sheet, both (n, 2) mm."""
        return (points - self.origin) * self.flip


def _clip_datum(datum: LineString, cut: MultiPolygon) -> list[Stroke]:
    """A datum line without its middle on the cards, where the text is: it reaches TICK inside their edges."""
    rest = shapely.get_parts(datum.difference(cut.buffer(-TICK)))
    return [Stroke(Role.DATUM, freeze(shapely.get_coordinates(part))) for part in rest if part.length > 0]


def take_strokes(occupied: Occupied, strokes: Sequence[Stroke]) -> None:
    """Keep later labels clear of strokes that were drawn after `occupied` was made."""
    for stroke in strokes:
        left, top = stroke.points.min(axis=0).tolist()
        right, bottom = stroke.points.max(axis=0).tolist()
        occupied.take((left, top, right, bottom))


def gauge_templates(tip: Tip, gauge: Gauge, title: TemplateTitle) -> tuple[BlockTemplate, ...]:
    """The template of a hollow gauge for carving, or its parts where a sheet holds no more."""
    which = Which.AFT if tip.by_fore else Which.FORE
    hollow = _hollow(gauge.outline.cut, which)
    left, top, right, bottom = shapely.total_bounds(hollow).tolist()
    box = (left - FRAME, top - FRAME, right + FRAME, bottom + FRAME)
    if _fits(box):
        return (_whole_gauge(tip, gauge, which, hollow, box, title),)
    source = Source(tip.span.number, Kind.GAUGE, gauge.x, gauge.number)
    end = "tail" if tip.by_fore else "nose"
    return tuple(
        _part_template(
            part,
            word,
            source,
            _Words(_skin_words(title), f"gauge for the foam's surface, seen from the {end}"),
            which,
            title,
        )
        for word, part in _parts(hollow)
    )


def _whole_gauge(
    tip: Tip, gauge: Gauge, which: Which, hollow: Sequence[Polygon], box: Rect, title: TemplateTitle
) -> BlockTemplate:
    """A card with the section cut out of it, split where the section is widest."""
    material = shapely.box(*box).difference(shapely.union_all(hollow))
    sheet = TipSheet(as_multi(material), box, (-1.0, -1.0) if which is Which.FORE else (1.0, -1.0))
    joins = _joins(hollow, box)
    _draw_gauge(sheet, hollow, joins)
    occupied = Occupied([stroke.path for stroke in sheet.strokes])
    source = Source(tip.span.number, Kind.GAUGE, gauge.x, gauge.number)
    nose = _nose(which)
    split = as_multi(material.difference(shapely.union_all([join.buffer(SPLIT) for join in joins])))
    halves = sorted(split.geoms, key=lambda part: part.centroid.y)
    words = HALVES if len(halves) == len(HALVES) else letters(len(halves))
    for word, half in zip(words, halves, strict=True):
        name, place = f"{source.name()} {word}".strip(), f"x {short_length(gauge.x)}"
        cards = _gauge_cards(name, nose, place, _skin_words(title), title)
        before = len(sheet.strokes)
        if not card_on(sheet, occupied, half, cards):
            card_beside(sheet, occupied, half, cards[-2])
            take_strokes(occupied, sheet.strokes[before:])
    layers = layers_after(sheet, len(sheet.labels))
    _write_gauge(sheet, occupied, tip, source, title)
    return finished_template(sheet, source, layers)


def _joins(hollow: Sequence[Polygon], box: Rect) -> list[LineString]:
    """The lines that split a gauge: from each side of the card to the outermost point of the section, and from piece to
    piece; pieces one above the other are split only at the sides.
    """
    pieces = sorted(hollow, key=lambda part: part.bounds[0])
    beside = all(left.bounds[2] < right.bounds[0] for left, right in pairwise(pieces))
    if not beside:
        pieces = [shapely.union_all(pieces)]
    joins = []
    at = box[0], _furthest(pieces[0], 0)[1]
    for piece in pieces:
        u, v = _furthest(piece, 0)
        middle = (at[0] + u) / 2
        joins.append(LineString([at, (u, v)] if at[1] == v else [at, (middle, at[1]), (middle, v), (u, v)]))
        at = _furthest(piece, 2)
    return [*joins, LineString([at, (box[2], at[1])])]


def _furthest(shape: shapely.Geometry, side: int) -> tuple[float, float]:
    """The middle of the outermost points of a shape on the left (side 0) or on the right (side 2)."""
    outermost = shape.bounds[side]
    points = shapely.get_coordinates(shape)
    heights = points[np.abs(points[:, 0] - outermost) < FLAT, 1]
    v = float(heights.min() + heights.max()) / 2
    left, _, right, _ = shape.bounds
    across = shape.intersection(LineString([(left - 1, v), (right + 1, v)]))
    return (float(across.bounds[side]) if not across.is_empty else outermost), v


def _draw_gauge(sheet: TipSheet, hollow: Sequence[Polygon], joins: Sequence[LineString]) -> None:
    left, top, right, bottom = sheet.box
    if top < 0 < bottom:
        sheet.strokes += _clip_datum(LineString([(left, 0.0), (right, 0.0)]), sheet.cut)
    if left < 0 < right:
        sheet.strokes += _clip_datum(LineString([(0.0, top), (0.0, bottom)]), sheet.cut)
    sheet.strokes.append(rectangle(Role.CUT, left, top, right - left, bottom - top))
    sheet.strokes += outline_strokes(MultiPolygon(hollow), Role.CUT)
    sheet.strokes += [Stroke(Role.CUT, freeze(shapely.get_coordinates(join))) for join in joins]


def _nose(which: Which) -> str:
    return with_symbol(TOWARDS, "NOSE to you") if which is Which.FORE else with_symbol(AWAY, "NOSE away")


def _skin_words(title: TemplateTitle) -> str:
    return f"under a skin of {length_text(title.allowances.skin)}" if title.allowances.skin else "no skin"


def _gauge_cards(name: str, nose: str, place: str, skin: str, title: TemplateTitle) -> list[Card]:
    """What half a gauge can carry, fullest first."""
    mark, small = (title.fingerprint, TEXT, False), (title.fingerprint, LEAST_TEXT, False)
    return [
        Card(((name, 5.0, True), (f"{place}  {nose}", TEXT, True), (skin, LEAST_TEXT, False), mark)),
        Card(((name, 5.0, True), (f"{place}  {nose}", TEXT, True), mark)),
        Card(((name, 4.0, True), (f"{place}  {nose}", LEAST_TEXT, True), small)),
        Card(((name, TEXT, True), (nose, LEAST_TEXT, True), small)),
        Card(((f"{name}  {title.fingerprint}", LEAST_TEXT, True), (nose, LEAST_TEXT, True)), 3.0),
        Card(((name, LEAST_TEXT, True), (nose, LEAST_TEXT, True), small), 3.0),
        Card(((name, LEAST_TEXT, True), small), 3.0),
    ]


def _write_gauge(sheet: TipSheet, occupied: Occupied, tip: Tip, source: Source, title: TemplateTitle) -> None:
    end, large = ("tail", Which.FORE) if tip.by_fore else ("nose", Which.AFT)
    far = length_text(abs(source.x - tip.x_large), 2)
    facts = [
        f"x {length_text(source.x, 2)}, {far} from the {large} face of block {block_name(source.block)}",
        f"hollow gauge for the foam's surface, seen from the {end}",
        "cut out the inside and split the card at the lines to its sides",
        *_datum_notes(sheet),
    ]
    head = [(source.name(), 4.0, True), (f"{title.hull}, {title.fingerprint}", LEAST_TEXT, False)]
    write_running(sheet, occupied, head, "; ".join(facts))


def _datum_notes(sheet: TipSheet) -> list[str]:
    """Where the datum is if it is not on the card."""
    left, top, right, bottom = sheet.box
    notes = []
    if not top < 0 < bottom:
        far = f"{length_text(-bottom)} below" if bottom <= 0 else f"{length_text(top)} above"
        notes.append(f"the datum height is {far} the card")
    if not left < 0 < right:
        far = f"{length_text(-right)} to the right" if right <= 0 else f"{length_text(left)} to the left"
        notes.append(f"the centre plane is {far} of the card")
    return notes


@dataclass(frozen=True, slots=True)
class _Words:
    """What a part says of its surface: on the card, and in the caption."""

    surface: str
    seen: str


def check_templates(
    shape: Shape, places: Sequence[float], blocks: Sequence[Block], title: TemplateTitle
) -> tuple[list[BlockTemplate], list[Note]]:
    """Gauges of the finished surface at places in mm aft of the foremost point, each in an upper and a lower half; a
    warning for each place without a section. Places outside the blocks have none.
    """
    templates: list[BlockTemplate] = []
    notes: list[Note] = []
    for number, x in enumerate(places, start=1):
        block = next((block for block in blocks if block.span.x_fore <= x < block.span.x_aft), None)
        if block is None:
            continue
        fault = "the hull has no section there"
        try:
            region = shape.section(x, Side.AFT).region
        except HullError as error:
            region, fault = MultiPolygon(), error.message
        if region.is_empty:
            notes.append(warning(f"no check at x = {x:g} mm: {fault}", x))
            continue
        source = Source(block.span.number, Kind.CHECK, x, number)
        words = _Words("finished surface", "gauge for the finished surface, seen from the tail")
        templates += [
            replace(_part_template(part, word, source, words, Which.AFT, title), section=region)
            for word, part in _parts(_hollow(region, Which.AFT))
        ]
    return templates, notes


def _hollow(section: MultiPolygon, which: Which) -> list[Polygon]:
    return [Polygon(face_points(shapely.get_coordinates(part.exterior), which)) for part in section.geoms]


def _fits(box: Rect) -> bool:
    wide, high = sorted((box[2] - box[0], box[3] - box[1]))
    return wide <= LARGEST[0] and high <= LARGEST[1]


def _parts(hollow: Sequence[Polygon]) -> Iterator[tuple[str, Polygon]]:
    """The parts of a band round a section, with their names: from the top, large ones in two from left to right."""
    inside = shapely.union_all(hollow)
    band = shapely.union_all([piece.buffer(FRAME, join_style="mitre", mitre_limit=1.5) for piece in hollow])
    left, top, right, bottom = band.bounds
    box = (left - 1.0, top - 1.0, right + 1.0, bottom + 1.0)
    material = Polygon(as_multi(band).geoms[0].exterior) if len(as_multi(band).geoms) == 1 else band
    material = material.difference(inside)
    joins = _joins(hollow, box)
    split = as_multi(material.difference(shapely.union_all([join.buffer(SPLIT) for join in joins])))
    halves = sorted(split.geoms, key=lambda part: part.centroid.y)
    words = HALVES if len(halves) == len(HALVES) else letters(len(halves))
    for word, half in zip(words, halves, strict=True):
        if _fits(half.bounds):
            yield word, half
            continue
        x0, y0, x1, y1 = half.bounds
        middle = (x0 + x1) / 2
        sides = as_multi(half.difference(LineString([(middle, y0 - 1), (middle, y1 + 1)]).buffer(SPLIT)))
        ordered = sorted(sides.geoms, key=lambda part: part.centroid.x)
        for letter, side in zip(letters(len(ordered)), ordered, strict=True):
            yield f"{word} {letter}".strip(), side


def _part_template(
    part: Polygon, word: str, source: Source, words: _Words, which: Which, title: TemplateTitle
) -> BlockTemplate:
    """A part of a gauge as a template of its own."""
    own = replace(source, piece=word)
    cut = as_multi(shapely.simplify(part, UNSEEN))
    sheet = TipSheet(cut, part.bounds, (-1.0, -1.0) if which is Which.FORE else (1.0, -1.0))
    left, top, right, bottom = sheet.box
    for datum in (LineString([(left, 0.0), (right, 0.0)]), LineString([(0.0, top), (0.0, bottom)])):
        inside = shapely.get_parts(datum.intersection(cut)).tolist()
        sheet.strokes += [
            Stroke(Role.DATUM, freeze(shapely.get_coordinates(piece)))
            for piece in inside
            if piece.geom_type == "LineString" and piece.length
        ]
    sheet.strokes += outline_strokes(cut, Role.CUT)
    occupied = occupied_by(sheet.strokes, np.zeros((0, 2, 2)))
    cards = _gauge_cards(own.name(), _nose(which), f"x {short_length(source.x)}", words.surface, title)
    if not card_on(sheet, occupied, cut.geoms[0], cards):
        card_beside(sheet, occupied, cut.geoms[0], cards[-2])
    layers = layers_after(sheet, len(sheet.labels))
    facts = [f"x {length_text(source.x, 2)}", words.seen, *_datum_notes(sheet)]
    head = [(own.name(), 4.0, True), (f"{title.hull}, {title.fingerprint}", LEAST_TEXT, False)]
    write_running(sheet, occupied, head, "; ".join(facts))
    return finished_template(sheet, own, layers)
