"""Carved block -> templates at full size: two of the side profile, two of the plan profile, and a hollow gauge for each
section in between.

    side port     seen from port, (x, z) -> (u, v): nose to the left, up is up
    side stbd     seen from starboard, its mirror image: nose to the right
    plan top      seen from above, (x, y) -> (u, v): nose to the left, starboard up the sheet
    plan bottom   seen from below, its mirror image: nose to the right, starboard up the sheet
    gauge         (y, z) -> (u, v) as the face at the small end, from where it is slipped over the foam

Both templates of a profile lie on the foam with the print outwards, so that both can be read at the wire.
u is measured from the face that the block is cut by, v from the datum.
"""

from collections.abc import Sequence
from dataclasses import field
from itertools import pairwise

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon

from profiles.blocks.blocks import Block, Which
from profiles.blocks.outlines import as_multi
from profiles.blocks.tips import Gauge, Profile, Tip
from profiles.hull.shape import View
from profiles.paper.captions import box_dimensions
from profiles.paper.cards import Card, card_beside, card_on, letters, small_cards
from profiles.paper.drawing import (
    Label,
    Points,
    Role,
    Stroke,
    freeze,
    line,
    rectangle,
    rectangles,
)
from profiles.paper.facesheet import (
    LEAST_TEXT,
    TEXT,
    Sheet,
    TemplateTitle,
    face_points,
    finished_template,
    layers_after,
    line_names,
    occupied_by,
    outline_strokes,
    surface_strokes,
)
from profiles.paper.lettering import AWAY, TOWARDS, with_symbol
from profiles.paper.placing import Occupied, Rect
from profiles.paper.template import PROFILES, BlockTemplate, Kind, Source
from profiles.paper.ticks import LINE_AIR, TICK, draw_marks, ticks_of
from profiles.paper.tipcaptions import draw_gauges, label_above, label_sides, write_description, write_running
from profiles.paper.waterline import water_along
from profiles.units import bare_length, block_name, length_text, short_length
from profiles.values import dataclass

FRAME = 20.0
"""mm; width of the card of a gauge round the section: stiff enough in thick card, and room for text."""

FLAT = 0.02
"""mm; points this close to the outermost one of a section count as outermost, and the gauge is split in their
middle."""

BARE = 3
"""Lines of the card that stands beside a piece without room for any."""

SIDES = PROFILES[View.SIDE]
MIRRORED = frozenset(mirrored for _, mirrored in PROFILES.values())

SEEN = {
    Kind.SIDE_PORT: "from port, nose to the left",
    Kind.SIDE_STBD: "from starboard, nose to the right",
    Kind.PLAN_TOP: "from above, nose to the left, starboard up",
    Kind.PLAN_BOTTOM: "from below, nose to the right, starboard up",
}
"""From where each template of a profile is seen."""

SPLIT = 1e-6
"""mm; half the width of the line that splits a gauge when its two pieces are found."""


@dataclass(slots=True)
class _TipSheet:
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


def tip_templates(block: Block, tip: Tip, title: TemplateTitle) -> tuple[BlockTemplate, ...]:
    """Side, plan and gauges of a carved block, each at full size; a profile without area is left out.

    The box of the block must hold `tip.reach`.
    """
    profiles = [
        profile_template(block, tip, profile, kind, title)
        for profile in tip.profiles
        for kind in PROFILES[profile.view]
        if not profile.outline.cut.is_empty
    ]
    return (*profiles, *(gauge_template(tip, gauge, title) for gauge in tip.gauges))


def profile_template(block: Block, tip: Tip, profile: Profile, kind: Kind, title: TemplateTitle) -> BlockTemplate:
    """One template of a side or plan profile, which must not be empty."""
    source = Source(block.span.number, kind, tip.x_large)
    sheet = _profile_sheet(block, tip, profile, mirrored=kind in MIRRORED)
    left, top, right, bottom = sheet.box
    sheet.strokes.append(rectangle(Role.BOX, left, top, right - left, bottom - top))
    sheet.strokes.append(line(Role.DATUM, (left, 0.0), (right, 0.0)))
    sheet.strokes += surface_strokes(sheet, profile.outline, lambda shape: shape)
    sheet.strokes += outline_strokes(sheet.cut, Role.CUT)
    if profile.view is View.SIDE:
        sheet.strokes += water_along(sheet, title.water, tip.span.x_fore, tip.span.x_aft)
    across = sheet.flip[0]
    gauges = [
        (across * (gauge.x - tip.x_large), f"gauge {gauge.number}, x {short_length(gauge.x)}") for gauge in tip.gauges
    ]
    unplaced = draw_gauges(sheet, gauges, TICK)
    ticks = ticks_of(sheet, profile.marks)
    occupied = occupied_by(sheet.strokes, ticks.lines)
    _take_labels(occupied, sheet.labels)
    unplaced_cards = _label_pieces(sheet, occupied, tip, source, title)
    draw_marks(sheet, occupied, ticks)
    for part, card in unplaced_cards:
        before = len(sheet.strokes)
        card_beside(sheet, occupied, part, card, rectangles(sheet.labels))
        _take(occupied, sheet.strokes[before:])
    label_above(sheet, occupied, unplaced)
    core = len(sheet.labels)
    label_sides(sheet, occupied, source.name(), hands=profile.view is View.PLAN, mirrored=kind in MIRRORED)
    layers = layers_after(sheet, core)
    dimensions = box_dimensions(sheet, occupied, _profile_edges(block, profile.view))
    _write_profile(sheet, occupied, block, tip, source, title)
    return finished_template(sheet, source, layers, dimensions)


def _profile_edges(block: Block, view: View) -> list[str]:
    """Where the long edges of a profile's box are, from the datum, mm."""
    box = block.box
    if view is View.SIDE:
        return [f"{bare_length(box.z_high)} above", f"{bare_length(-box.z_low)} below datum"]
    return [f"{bare_length(-box.y_low)} to port", f"{bare_length(box.y_high)} to starboard"]


def _profile_sheet(block: Block, tip: Tip, profile: Profile, *, mirrored: bool) -> _TipSheet:
    box, span = block.box, tip.span
    low, high = (box.z_low, box.z_high) if profile.view is View.SIDE else (box.y_low, box.y_high)
    left, right = span.x_fore - tip.x_large, span.x_aft - tip.x_large
    if mirrored:
        left, right = -right, -left
    sheet = _TipSheet(MultiPolygon(), (left, -high, right, -low), (-1.0 if mirrored else 1.0, -1.0), (tip.x_large, 0.0))
    sheet.cut = _to_sheet(profile.outline.cut, sheet)
    return sheet


def _clip_datum(datum: LineString, cut: MultiPolygon) -> list[Stroke]:
    """A datum line without its middle on the cards, where the text is: it reaches TICK inside their edges."""
    rest = shapely.get_parts(datum.difference(cut.buffer(-TICK)))
    return [Stroke(Role.DATUM, freeze(shapely.get_coordinates(part))) for part in rest if part.length > 0]


def _label_pieces(
    sheet: _TipSheet, occupied: Occupied, tip: Tip, source: Source, title: TemplateTitle
) -> list[tuple[Polygon, Card]]:
    """Write a card on each piece; return those whose card does not show the nose, and the card to write beside."""
    before = len(sheet.labels)
    pieces = sorted(sheet.cut.geoms, key=lambda part: -part.bounds[3])
    unplaced = []
    for letter, part in zip(letters(len(pieces)), pieces, strict=True):
        cards = _profile_cards(source.name(letter), tip, source.kind, title)
        written = card_on(sheet, occupied, part, cards)
        if written is None or not written.nose:
            unplaced.append((part, next(card for card in cards if len(card.lines) <= BARE)))
    _take_labels(occupied, sheet.labels[before:])
    return unplaced


def _take_labels(occupied: Occupied, labels: Sequence[Label]) -> None:
    for label in labels:
        left, top, right, bottom = label.extent()
        occupied.take((left, top - LINE_AIR, right, bottom + LINE_AIR))


def _take(occupied: Occupied, strokes: Sequence[Stroke]) -> None:
    """Keep later labels clear of strokes that were drawn after `occupied` was made."""
    for stroke in strokes:
        left, top = stroke.points.min(axis=0).tolist()
        right, bottom = stroke.points.max(axis=0).tolist()
        occupied.take((left, top, right, bottom))


def _profile_cards(name: str, tip: Tip, kind: Kind, title: TemplateTitle) -> list[Card]:
    """What a piece of a profile can carry, fullest first; up is a direction on the paper only in the side view."""
    arrow = 5.0 if kind in SIDES else 0.0
    seen_from = with_symbol(TOWARDS, "UP to you") if kind is Kind.PLAN_TOP else with_symbol(AWAY, "UP away")
    up = () if kind in SIDES else ((seen_from, TEXT, False),)
    place = ((f"x {bare_length(tip.span.x_fore, 2)} to {bare_length(tip.span.x_aft, 2)}", TEXT, False),)
    mark, nose = (title.fingerprint, TEXT, False), ("NOSE", TEXT, True)
    small, small_nose = (title.fingerprint, LEAST_TEXT, False), ("NOSE", LEAST_TEXT, True)
    used = tuple((words, LEAST_TEXT, False) for words in title.used_words())
    bodies = [
        ((name, 7.0, True), *up, *place, *used, mark, nose),
        ((name, 5.0, True), *up, *used, mark, nose),
        ((name, 5.0, True), *up, mark, nose),
        ((name, 5.0, True), mark, nose),
        ((name, TEXT, True), small, small_nose),
        ((f"{name}  {title.fingerprint}  NOSE", LEAST_TEXT, True),),
    ]
    least = [Card(((name, size, True), small), min(arrow, 3.0)) for size in (TEXT, LEAST_TEXT)]
    noses = [Card(lines, arrow, nose=True, nose_right=kind in MIRRORED) for lines in bodies]
    return [*noses, *least, *small_cards(name, title, arrow)]


def _write_profile(
    sheet: _TipSheet, occupied: Occupied, block: Block, tip: Tip, source: Source, title: TemplateTitle
) -> None:
    """Write the description of the template and the order of work."""
    side = source.kind in SIDES
    across = short_length(block.box.height if side else block.box.width) + (" high" if side else " wide")
    facts = [
        f"{'side' if side else 'plan'} profile, seen {SEEN[source.kind]}",
        f"x {bare_length(tip.span.x_fore, 2)} to {length_text(tip.span.x_aft, 2)}",
        f"box {bare_length(tip.span.thickness, 2)} thick x {across}",
        *line_names(sheet, title),
        f"{title.hull}, {title.fingerprint}",
    ]
    order = [("Order of work", TEXT, True), *((text, TEXT, False) for text in order_of_work(tip))]
    write_description(sheet, occupied, [(source.id, 5.0, True), *((fact, TEXT, False) for fact in facts)], order)


def order_of_work(tip: Tip) -> tuple[str, ...]:
    """How a block is cut and carved by its profiles, in a few lines."""
    number = block_name(tip.span.number)
    large = f"{number} {Which.FORE if tip.by_fore else Which.AFT}"
    return (
        f"1. Cut by {number} side port and {number} side stbd, print outwards.",
        "2. Put the offcuts back with tape.",
        f"3. Cut by {number} plan top and {number} plan bottom, print outwards.",
        f"4. Round by eye to the line of {large} and to the gauges.",
        "Caution: wire off and cold before you reach in; cut away from your hand.",
    )


def gauge_template(tip: Tip, gauge: Gauge, title: TemplateTitle) -> BlockTemplate:
    """The template of a hollow gauge: a card with the section cut out of it, split where the section is widest."""
    which = Which.AFT if tip.by_fore else Which.FORE
    hollow = [Polygon(face_points(shapely.get_coordinates(part.exterior), which)) for part in gauge.outline.cut.geoms]
    left, top, right, bottom = shapely.total_bounds(hollow).tolist()
    box = (left - FRAME, top - FRAME, right + FRAME, bottom + FRAME)
    material = shapely.box(*box).difference(shapely.union_all(hollow))
    sheet = _TipSheet(as_multi(material), box, (-1.0, -1.0) if which is Which.FORE else (1.0, -1.0))
    joins = _joins(hollow, box)
    _draw_gauge(sheet, hollow, joins)
    occupied = Occupied([stroke.path for stroke in sheet.strokes])
    source = Source(tip.span.number, Kind.GAUGE, gauge.x, gauge.number)
    nose = with_symbol(TOWARDS, "NOSE to you") if which is Which.FORE else with_symbol(AWAY, "NOSE away")
    split = as_multi(material.difference(shapely.union_all([join.buffer(SPLIT) for join in joins])))
    halves = sorted(split.geoms, key=lambda part: part.centroid.y)
    words = ["upper", "lower"] if len(halves) == len(("upper", "lower")) else letters(len(halves))
    for word, half in zip(words, halves, strict=True):
        cards = _gauge_cards(f"{source.name()} {word}".strip(), nose, f"x {short_length(gauge.x)}", title)
        before = len(sheet.strokes)
        if not card_on(sheet, occupied, half, cards):
            card_beside(sheet, occupied, half, cards[-2])
            _take(occupied, sheet.strokes[before:])
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


def _draw_gauge(sheet: _TipSheet, hollow: Sequence[Polygon], joins: Sequence[LineString]) -> None:
    left, top, right, bottom = sheet.box
    if top < 0 < bottom:
        sheet.strokes += _clip_datum(LineString([(left, 0.0), (right, 0.0)]), sheet.cut)
    if left < 0 < right:
        sheet.strokes += _clip_datum(LineString([(0.0, top), (0.0, bottom)]), sheet.cut)
    sheet.strokes.append(rectangle(Role.CUT, left, top, right - left, bottom - top))
    sheet.strokes += outline_strokes(MultiPolygon(hollow), Role.CUT)
    sheet.strokes += [Stroke(Role.CUT, freeze(shapely.get_coordinates(join))) for join in joins]


def _gauge_cards(name: str, nose: str, place: str, title: TemplateTitle) -> list[Card]:
    """What half a gauge can carry, fullest first."""
    mark, small = (title.fingerprint, TEXT, False), (title.fingerprint, LEAST_TEXT, False)
    skin = f"under a skin of {length_text(title.allowances.skin)}" if title.allowances.skin else "no skin"
    return [
        Card(((name, 5.0, True), (f"{place}  {nose}", TEXT, True), (skin, LEAST_TEXT, False), mark)),
        Card(((name, 5.0, True), (f"{place}  {nose}", TEXT, True), mark)),
        Card(((name, 4.0, True), (f"{place}  {nose}", LEAST_TEXT, True), small)),
        Card(((name, TEXT, True), (nose, LEAST_TEXT, True), small)),
        Card(((f"{name}  {title.fingerprint}", LEAST_TEXT, True), (nose, LEAST_TEXT, True)), 3.0),
        Card(((name, LEAST_TEXT, True), (nose, LEAST_TEXT, True), small), 3.0),
        Card(((name, LEAST_TEXT, True), small), 3.0),
    ]


def _write_gauge(sheet: _TipSheet, occupied: Occupied, tip: Tip, source: Source, title: TemplateTitle) -> None:
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


def _datum_notes(sheet: _TipSheet) -> list[str]:
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


def _to_sheet(shape: MultiPolygon, sheet: Sheet) -> MultiPolygon:
    result: MultiPolygon = shapely.transform(shape, sheet.to_sheet)
    return result
