"""Section -> finished surface, foam surface and cut line; also the block's box and its pin holes.

From the hull inwards: finished surface, skin (sheeting, cloth, filler), foam surface, kerf. The centre of the hot wire
runs outside the template by the wire's radius, and the wire melts half the kerf on either side of its centre. So the
edge of the template lies outside the foam surface by kerf/2 - wire/2. In a cut-out it lies as far inside the hollow,
which also adds material.
"""

import math
from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon

from profiles.blocks.settings import ROUND_BOX, Allowances
from profiles.units import SIXTEENTH
from profiles.values import dataclass

SAME_STEP = 1e-6
"""Of a sixteenth of an inch; a step this close to a multiple of it is one."""

PIN_EDGE = 4.0
"""mm; least material between a pin hole and the edge, so that neither card nor foam tears."""

PIN_APART = 8.0
"""mm; two pins closer than this let a template turn, so none is drawn."""

PIN_INSET = 0.1
"""Share of the usable line that stays free beyond each pin."""

MITRE_LIMIT = 4.0
"""Offsets keep corners sharp down to an angle of 2 asin(1/4) = 29 degrees; sharper corners are cut off square."""


@dataclass(frozen=True, slots=True)
class Outline:
    """The three outlines of one block face, (y, z) mm. Without skin, kerf and growth they are the same."""

    finished: MultiPolygon
    """The hull's surface, over the skin."""
    foam: MultiPolygon
    """The foam's surface under the skin: what is sanded to."""
    cut: MultiPolygon
    """The line on which the template is cut."""


@dataclass(frozen=True, slots=True)
class BlockBox:
    """The cross-section of the foam block before it is cut, (y, z) mm."""

    y_low: float
    z_low: float
    width: float
    height: float

    @property
    def y_high(self) -> float:
        """Starboard edge, mm."""
        return self.y_low + self.width

    @property
    def z_high(self) -> float:
        """Upper edge, mm."""
        return self.z_low + self.height


@dataclass(frozen=True, slots=True)
class Pin:
    """A hole through both templates and the block, (y, z) mm."""

    y: float
    z: float


def outline_of(finished: MultiPolygon, allowances: Allowances) -> Outline:
    """The finished outline (y, z) mm with foam surface and cut line. Skin is on the outside only; kerf and wire change
    hollows, too. Foam surface and cut line are empty where the skin uses up all of the outline.

    >>> square = MultiPolygon([shapely.box(-50, -50, 50, 50)])
    >>> outline_of(square, Allowances(skin=1.5, kerf=1.2, wire=0.4)).cut.bounds  # 1.5 inwards, (1.2 - 0.4) / 2 outwards
    (-48.9, -48.9, 48.9, 48.9)
    """
    foam = foam_surface(finished, allowances.skin)
    return Outline(finished, foam, offset_outline(foam, allowances.edge))


def foam_surface(finished: MultiPolygon, skin: float) -> MultiPolygon:
    """The foam (y, z) mm under `skin` mm on the outside of a finished outline."""
    if not skin:
        return finished
    shells = MultiPolygon([Polygon(part.exterior) for part in finished.geoms])
    hollows = [Polygon(ring) for part in finished.geoms for ring in part.interiors]
    return as_multi(offset_outline(shells, -skin).difference(shapely.unary_union(hollows)))


def offset_outline(outline: MultiPolygon, offset: float) -> MultiPolygon:
    """The outline moved by `offset` mm, inwards if negative. Corners stay sharp; hollows shrink as it grows."""
    if not offset:
        return outline
    with np.errstate(divide="ignore", invalid="ignore"):  # GEOS divides by zero where two edges lie in one line
        return as_multi(outline.buffer(offset, join_style="mitre", mitre_limit=MITRE_LIMIT))


def as_multi(shape: shapely.Geometry) -> MultiPolygon:
    """The polygons of any geometry."""
    return MultiPolygon([part for part in shapely.get_parts(shape) if isinstance(part, Polygon) and not part.is_empty])


def box_around(shapes: Iterable[shapely.Geometry], allowance: float, step: float = ROUND_BOX) -> BlockBox:
    """The smallest box in steps of `step` mm that leaves `allowance` mm around all shapes, which must not be empty.

    Its port and lower edges are at whole mm from the datum where there is room, or at sixteenths of an inch where the
    step is a multiple of these, so that the datum can be marked with a
    ruler from two edges of the block.

    >>> box_around([shapely.box(-31, -12, 31, 23)], allowance=5)
    BlockBox(y_low=-38.0, z_low=-17.0, width=75.0, height=45.0)
    """
    y_low, z_low, y_high, z_high = shapely.total_bounds(list(shapes)).tolist()
    y, width = _round_extent(y_low, y_high, allowance, step)
    z, height = _round_extent(z_low, z_high, allowance, step)
    return BlockBox(y, z, width, height)


def _round_extent(low: float, high: float, allowance: float, step: float) -> tuple[float, float]:
    """Start and rounded size in mm of the box along one axis, round the extent from `low` to `high`."""
    needed = high - low + 2 * allowance
    size = math.ceil(needed / step - 1e-9) * step
    start = low - allowance - (size - needed) / 2
    grid = SIXTEENTH if abs(step / SIXTEENTH - round(step / SIXTEENTH)) < SAME_STEP else 1.0
    whole = round(start / grid) * grid
    fits = whole <= low - allowance + 1e-9 and whole + size >= high + allowance - 1e-9
    return (float(whole) if fits else start), size


def pins_for(faces: Sequence[MultiPolygon], diameter: float) -> tuple[Pin, ...]:
    """Two pin holes for each part that all faces of a block share, in the same place on every face.

    They are on the centre line or the datum line if possible, where they are easiest to mark, and at whole mm from the
    datum if that is still inside. A shared part that is too small has none.
    """
    shared = shapely.intersection_all(list(faces))
    room = as_multi(shared.buffer(-(diameter / 2 + PIN_EDGE)))
    parts = sorted(room.geoms, key=lambda part: part.bounds)
    largest: dict[int, Polygon] = {}
    solids = as_multi(shared).geoms
    for part in parts:
        home = next(n for n, solid in enumerate(solids) if solid.intersects(part))
        if home not in largest or part.area > largest[home].area:
            largest[home] = part
    return tuple(pin for part in largest.values() for pin in _pin_pair(part))


def _pin_pair(room: Polygon) -> tuple[Pin, ...]:
    lines = [_longest_chord(room, upright=True), _longest_chord(room, upright=False)]
    best = max(lines, key=lambda ends: math.dist(*ends))
    if math.dist(*best) < PIN_APART / (1 - 2 * PIN_INSET):
        best = _farthest_points(room)
    (y0, z0), (y1, z1) = best
    inset = [
        (y0 + PIN_INSET * (y1 - y0), z0 + PIN_INSET * (z1 - z0)),
        (y1 + PIN_INSET * (y0 - y1), z1 + PIN_INSET * (z0 - z1)),
    ]
    pins = [_on_whole_mm(room, *point) for point in inset]
    return tuple(pins) if math.dist((pins[0].y, pins[0].z), (pins[1].y, pins[1].z)) >= PIN_APART else ()


_Ends = tuple[tuple[float, float], tuple[float, float]]


def _longest_chord(room: Polygon, *, upright: bool) -> _Ends:
    """Ends of the longest stretch of the centre line (upright) or the datum line in the region; both the origin if
    none.
    """
    y_low, z_low, y_high, z_high = room.bounds
    ends = [(0.0, z_low - 1), (0.0, z_high + 1)] if upright else [(y_low - 1, 0.0), (y_high + 1, 0.0)]
    pieces = [
        piece
        for piece in shapely.get_parts(room.intersection(LineString(ends)))
        if isinstance(piece, LineString) and not piece.is_empty
    ]
    if not pieces:
        return ((0.0, 0.0), (0.0, 0.0))
    (y0, z0), (y1, z1) = max(pieces, key=lambda piece: piece.length).coords
    return ((y0, z0), (y1, z1))


def _farthest_points(room: Polygon) -> _Ends:
    """The two points of the boundary farthest apart whose connecting line is inside the region."""
    points = shapely.get_coordinates(room.simplify(0.2).exterior)
    apart = np.linalg.norm(points[:, None] - points[None], axis=-1)
    for flat in np.argsort(-apart, axis=None, kind="stable")[:400].tolist():
        first, second = divmod(flat, len(points))
        if room.buffer(1e-6).covers(LineString([points[first], points[second]])):
            return (tuple(points[first].tolist()), tuple(points[second].tolist()))
    middle = room.point_on_surface()
    return ((middle.x, middle.y), (middle.x, middle.y))


def _on_whole_mm(room: Polygon, y: float, z: float) -> Pin:
    whole = (float(round(y)), float(round(z)))
    return Pin(*whole) if room.covers(shapely.Point(whole)) else Pin(y, z)
