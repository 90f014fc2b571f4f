"""A stand: two or more cradles that the finished body rests in, and the base plate that they are slotted into."""

import math

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon, affinity

from profiles.blocks.body import Body
from profiles.blocks.cut_into import CutRow, CutSheet, SheetLine
from profiles.blocks.outlines import as_multi
from profiles.cuts.settings import Stand
from profiles.errors import JobError
from profiles.hull.sections import Side
from profiles.units import length_text, short_length

SHOULDER = 12.0
"""mm of the cradle's board beside the body: enough for plywood of 3 to 6 mm (common practice)."""

FOOT_SHARE = 0.6
"""Of the cradle's width that goes down into the base plate as a tenon."""


def stand_sheets(stand: Stand, name: str, body: Body) -> tuple[list[CutSheet], list[CutRow]]:
    """The cradles and the base plate of a stand. Raises JobError for a cradle where there is no hull."""
    cradles = []
    lowest = min(_resting(stand, name, body, x).bounds[1] for x in stand.at)
    for number, x in enumerate(stand.at, start=1):
        cradles.append((number, x, _cradle(stand, name, body, x, lowest)))
    keel = "keel up" if stand.keel == "up" else "keel down"
    sheets = []
    for number, x, (outline, tenon) in cradles:
        words = [
            f"cradle at x {short_length(x)}, {keel}, seen from the tail; board of {short_length(stand.thickness)}",
            f"clearance {length_text(stand.clear)} for felt; tenon {short_length(tenon)} wide for the base plate",
        ]
        left, low, right, high = outline.bounds
        datum = SheetLine("datum", ((0.0, low), (0.0, high)), "centre plane")
        level = SheetLine("datum", ((left, 0.0), (right, 0.0)), "datum") if low < 0.0 < high else None
        sheets.append(
            CutSheet(f"{name} cradle {number}", x, outline, (datum, *([level] if level else ())), tuple(words))
        )
    sheets.append(_base(stand, name, [(x, tenon) for _, x, (_, tenon) in cradles]))
    places = ", ".join(short_length(x) for x in stand.at)
    row = CutRow(
        name,
        "stand",
        f"x {places}",
        f"{len(stand.at)} cradles, board {short_length(stand.thickness)}",
        "fretsaw or jigsaw in plywood; felt along the edge",
    )
    return sheets, [row]


def _resting(stand: Stand, name: str, body: Body, x: float) -> Polygon:
    """The section (y, z) mm that rests in a cradle, with its clearance, the resting side down."""
    low, high = body.hull.shape.bounds
    region = body.hull.shape.section(x, Side.AFT).region if low[0] < x < high[0] else MultiPolygon()
    if region.is_empty:
        message = f"{name}: there is no hull at x = {x:g} mm for a cradle"
        raise JobError(message, remedy=f"Give places between 0 and {body.hull.length:.0f} mm.")
    part = Polygon(max(region.geoms, key=lambda piece: piece.area).exterior).buffer(stand.clear, quad_segs=16)
    return affinity.scale(part, 1.0, -1.0, origin=(0.0, 0.0)) if stand.keel == "up" else part


def _cradle(stand: Stand, name: str, body: Body, x: float, lowest: float) -> tuple[MultiPolygon, float]:
    """A cradle, and the width of its tenon: a board under the body, open upwards."""
    resting = _resting(stand, name, body, x)
    left, bottom, right, top = resting.bounds
    rim = bottom + min(stand.depth, (top - bottom) / 2)
    foot = lowest - stand.height
    board = shapely.box(left - SHOULDER, foot, right + SHOULDER, rim)
    swept = shapely.union_all(
        [affinity.translate(resting, 0.0, up) for up in np.linspace(0.0, top - bottom, 33).tolist()]
    )
    card = board.difference(shapely.union_all([resting, swept.intersection(shapely.box(-1e6, bottom, 1e6, 1e6))]))
    tenon = math.floor(FOOT_SHARE * (right - left + 2 * SHOULDER))
    middle = (left + right) / 2
    key = shapely.box(middle - tenon / 2, foot - stand.thickness, middle + tenon / 2, foot)
    parts = as_multi(shapely.union_all([card, key]))
    return MultiPolygon([max(parts.geoms, key=lambda piece: piece.area)]), float(tenon)


def _base(stand: Stand, name: str, cradles: list[tuple[float, float]]) -> CutSheet:
    """The base plate with a slot for each tenon, seen from above, nose to the left."""
    wide = max(tenon for _, tenon in cradles) + 4 * SHOULDER
    low, high = min(x for x, _ in cradles) - 4 * SHOULDER, max(x for x, _ in cradles) + 4 * SHOULDER
    half = stand.thickness / 2
    slots = [shapely.box(x - half, -tenon / 2, x + half, tenon / 2) for x, tenon in cradles]
    plate = as_multi(shapely.box(low, -wide / 2, high, wide / 2).difference(shapely.union_all(slots)))
    lines = [SheetLine("datum", ((low, 0.0), (high, 0.0)), "centre plane")]
    words = [f"base plate, {short_length(high - low)} x {short_length(wide)}; cut slots to the board that you have"]
    return CutSheet(f"{name} base", (low + high) / 2, plate, tuple(lines), tuple(words))
