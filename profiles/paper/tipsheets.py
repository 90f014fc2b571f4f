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

import shapely
from shapely import MultiPolygon, Polygon

from profiles.blocks.blocks import Block, Which
from profiles.blocks.tips import Profile, Tip
from profiles.hull.shape import View
from profiles.paper.captions import box_dimensions
from profiles.paper.cards import Card, card_beside, card_on, letters, small_cards
from profiles.paper.drawing import (
    Label,
    Role,
    line,
    rectangle,
    rectangles,
)
from profiles.paper.facesheet import (
    LEAST_TEXT,
    TEXT,
    Sheet,
    TemplateTitle,
    finished_template,
    layers_after,
    line_names,
    occupied_by,
    outline_strokes,
    surface_strokes,
)
from profiles.paper.gauges import TipSheet, gauge_templates, take_strokes
from profiles.paper.lettering import AWAY, TOWARDS, with_symbol
from profiles.paper.placing import Occupied
from profiles.paper.template import MIRRORED, PROFILES, BlockTemplate, Kind, Source
from profiles.paper.ticks import LINE_AIR, TICK, draw_marks, ticks_of
from profiles.paper.tipcaptions import draw_gauges, label_above, label_sides, write_description
from profiles.paper.waterline import water_along
from profiles.units import bare_length, block_name, length_text, short_length

BARE = 3
"""Lines of the card that stands beside a piece without room for any."""

SIDES = PROFILES[View.SIDE]

SEEN = {
    Kind.SIDE_PORT: "from port, nose to the left",
    Kind.SIDE_STBD: "from starboard, nose to the right",
    Kind.PLAN_TOP: "from above, nose to the left, starboard up",
    Kind.PLAN_BOTTOM: "from below, nose to the right, starboard up",
}
"""From where each template of a profile is seen."""


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
    return (*profiles, *(part for gauge in tip.gauges for part in gauge_templates(tip, gauge, title)))


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
        take_strokes(occupied, sheet.strokes[before:])
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


def _profile_sheet(block: Block, tip: Tip, profile: Profile, *, mirrored: bool) -> TipSheet:
    box, span = block.box, tip.span
    low, high = (box.z_low, box.z_high) if profile.view is View.SIDE else (box.y_low, box.y_high)
    left, right = span.x_fore - tip.x_large, span.x_aft - tip.x_large
    if mirrored:
        left, right = -right, -left
    sheet = TipSheet(MultiPolygon(), (left, -high, right, -low), (-1.0 if mirrored else 1.0, -1.0), (tip.x_large, 0.0))
    sheet.cut = _to_sheet(profile.outline.cut, sheet)
    return sheet


def _label_pieces(
    sheet: TipSheet, occupied: Occupied, tip: Tip, source: Source, title: TemplateTitle
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
    sheet: TipSheet, occupied: Occupied, block: Block, tip: Tip, source: Source, title: TemplateTitle
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


def _to_sheet(shape: MultiPolygon, sheet: Sheet) -> MultiPolygon:
    result: MultiPolygon = shapely.transform(shape, sheet.to_sheet)
    return result
