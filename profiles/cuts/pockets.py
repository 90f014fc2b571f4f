"""Pockets: bays for battery and radio, and slots for fin, keel, tailplane and rudder; a hatch over a bay.

A pocket is a rectangle with round corners, seen square to the side from which it goes in, and straight down from there:
(x, y) from the deck or the keel, (x, z) from port or starboard.
"""

import math

import numpy as np
import shapely
from shapely import Polygon

from profiles.arrays import Floats
from profiles.blocks.body import Body
from profiles.blocks.cut_into import CutRow, CutSheet, SheetLine
from profiles.cuts.settings import Bay, Cutout
from profiles.cuts.sheets import ring_of, sheet_of
from profiles.cuts.solids import tube
from profiles.errors import JobError
from profiles.hull.sections import Side
from profiles.hull.surface import Mesh
from profiles.units import length_text, short_length
from profiles.values import dataclass

BEYOND = 10.0
"""mm that a pocket goes on outside the body."""

ROUND = 16
"""Segments of a quarter circle in a corner."""


@dataclass(frozen=True, slots=True)
class Pocket:
    """A pocket in its place."""

    name: str
    kind: str
    """bay or slot."""
    outline: Polygon
    """(x, y) or (x, z) mm."""
    side: str
    bottom: float
    """z or y of its floor, mm."""
    mouth: float
    """z or y of the highest point of the surface over it, mm."""
    through: bool
    radius: float = 0.0
    """Of its corners, mm."""

    @property
    def upright(self) -> bool:
        """Whether it goes in from above or below."""
        return self.side in {"deck", "keel"}

    @property
    def solid(self) -> Mesh:
        """What it takes out."""
        ring = ring_of(self.outline)
        outward = 1.0 if self.side in {"deck", "starboard"} else -1.0
        ends = (self.bottom, self.mouth + outward * BEYOND)
        return tube(*(self._at(ring, end) for end in ends))

    @property
    def notch(self) -> tuple[Polygon, float, float] | None:
        """What a wire along the hull can cut of it: its outline (y, z) mm, and the stretch between its corners."""
        if self.through:
            return None
        low, across_low, high, across_high = self.outline.bounds
        outward = 1.0 if self.side in {"deck", "starboard"} else -1.0
        ends = sorted((self.bottom, self.mouth + outward * BEYOND))
        if self.upright:
            region = shapely.box(across_low, ends[0], across_high, ends[1])
        else:
            region = shapely.box(ends[0], across_low, ends[1], across_high)
        return region, low + self.radius, high - self.radius

    def _at(self, ring: Floats, depth: float) -> Floats:
        level = np.full(len(ring), depth)
        columns = (ring[:, 0], ring[:, 1], level) if self.upright else (ring[:, 0], level, ring[:, 1])
        return np.column_stack(columns)


def rounded(x_fore: float, x_aft: float, middle: float, width: float, radius: float) -> Polygon:
    """A rectangle with round corners, mm."""
    inner = shapely.box(x_fore + radius, middle - width / 2 + radius, x_aft - radius, middle + width / 2 - radius)
    return inner.buffer(radius, quad_segs=ROUND) if radius else inner


def pocket_of(item: Bay | Cutout, name: str, kind: str, body: Body) -> Pocket:
    """A bay or slot in its place. Raises JobError where it lies outside the hull or does not reach it."""
    low, high = item.x_from, item.x_to
    if low is None or high is None or not item.width or not (item.depth or item.through):
        message = f"{name}: a {kind} needs from, to, width and depth (or through = true)"
        raise JobError(message, remedy="The README shows one of each.")
    if low < 0 or high > body.hull.length:
        message = f"{name}: it goes from x = {low:g} to {high:g} mm; the hull ends at {body.hull.length:.1f} mm"
        raise JobError(message, remedy="Move from and to inside the hull.")
    radius = item.radius if isinstance(item, Bay) else 0.0
    if 2 * radius >= min(high - low, item.width):
        message = f"{name}: corners of {radius:g} mm radius do not go into {high - low:g} x {item.width:g} mm"
        raise JobError(message, remedy="Give a smaller radius.")
    outline = rounded(low, high, item.middle, item.width, radius)
    reach = _reach(body, outline, upright=item.side in {"deck", "keel"})
    if reach is None:
        message = f"{name}: it lies beside the hull, from x = {low:g} to {high:g} mm"
        raise JobError(message, remedy="Change middle, or from and to.")
    outward = 1.0 if item.side in {"deck", "starboard"} else -1.0
    mouth, far = (reach[1], reach[0]) if outward > 0 else reach
    bottom = far - outward * BEYOND if item.through else mouth - outward * (item.depth or 0.0)
    return Pocket(name, kind, outline, item.side, bottom, mouth, item.through, radius)


def _reach(body: Body, outline: Polygon, *, upright: bool) -> tuple[float, float] | None:
    """The lowest and highest z (or y) of the hull within the outline, mm; None where there is no hull."""
    x_fore, across_low, x_aft, across_high = outline.bounds
    low, high = math.inf, -math.inf
    for x in np.linspace(x_fore + 1e-3, x_aft - 1e-3, 9).tolist():
        region = body.hull.shape.section(x, Side.AFT).region
        big = 1e6
        band = (
            shapely.box(across_low, -big, across_high, big)
            if upright
            else shapely.box(-big, across_low, big, across_high)
        )
        part = region.intersection(band)
        if not part.is_empty:
            bounds = part.bounds
            low, high = min(low, bounds[1 if upright else 0]), max(high, bounds[3 if upright else 2])
    return None if low > high else (low, high)


def pocket_sheets(pocket: Pocket, body: Body, hatch: tuple[float, float] | None) -> list[CutSheet]:
    """The template for the glued body, and that of the hatch: thickness and draught in degrees."""
    seen = "plan" if pocket.upright else pocket.side
    deep = abs(pocket.mouth - pocket.bottom)
    way = "right through" if pocket.through else f"{length_text(deep)} deep from the highest point"
    words = [
        f"{pocket.kind} from the {pocket.side}, {way}",
        "Lay it on the glued body by centre line and stations; cut round with a thin blade.",
    ]
    if pocket.side == "keel":
        words.append("Seen from above: turn the card over for the keel.")
    sheets = [sheet_of(body, pocket.name, seen, [ring_of(pocket.outline)], words)]
    if hatch:
        thickness, draught = hatch
        inset = thickness * math.tan(math.radians(draught))
        lower = pocket.outline.buffer(-inset, join_style="mitre")
        if lower.is_empty:
            message = f"{pocket.name}: a hatch {thickness:g} mm thick with {draught:g} degrees of draught has no bottom"
            raise JobError(message, remedy="Give a thinner hatch or less draught.")
        ring = ring_of(lower)
        line = SheetLine("hand", tuple((float(u), float(v)) for u, v in np.vstack([ring, ring[:1]])), "lower edge")
        words = [
            f"{length_text(thickness)} thick, draught {draught:g} degrees, lower edge {length_text(inset)} inside",
            "Cut it out of a board with the wire leaning, along both lines.",
        ]
        sheets.append(sheet_of(body, f"{pocket.name} hatch", seen, [ring_of(pocket.outline)], words, [line]))
    return sheets


def pocket_row(pocket: Pocket) -> CutRow:
    """The pocket as the book lists it."""
    low, across_low, high, across_high = pocket.outline.bounds
    deep = "through" if pocket.through else f"{short_length(abs(pocket.mouth - pocket.bottom))} deep"
    return CutRow(
        pocket.name,
        pocket.kind,
        f"{pocket.side}, x {short_length(low)} to {short_length(high)}",
        f"{short_length(high - low)} x {short_length(across_high - across_low)}, {deep}",
        "glued body: thin blade and sanding block along its template",
    )
