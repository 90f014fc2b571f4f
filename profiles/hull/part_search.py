"""Parts that the shape of a hull proposes: where its sections get much smaller or larger at once, upwards or outwards.

Sections are cut level by level; a jump of their area is a deck under a cabin, the root of a fin, a keel or a wing, or
the side of a float. What lies beyond the jump is looked at again by itself, since a root on a curved body is lower than
the body's top. Nothing is tried by building it.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely

from profiles.arrays import Floats
from profiles.errors import HullError
from profiles.hull.frame import Hull
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.part_settings import PartSettings, Slices
from profiles.hull.parts import THINNEST, TURNS, Part, divide
from profiles.hull.sections import Side, section
from profiles.hull.surface import Surface, sort_faces, transform
from profiles.values import dataclass

LEVELS = 60
"""Sections in each direction, before a jump is looked at more closely."""

JUMP = 1.6
"""Times that the area changes from a level to the next but one; an ellipsoid reaches 1.3 where enough is left."""

LEAST = 0.15
"""Of the way from the largest section outwards; what reaches less far beyond a jump is no part."""

INNERMOST = 0.2
"""Of half the breadth; nearer to the centre plane a jump outwards is the side of a fin or a keel."""

LASTS = 0.6
"""Of the area just beyond a jump that is left half way to the end; an ellipsoid leaves a half, a wedge a quarter."""

SHORT = 0.6
"""Of the length; a part that is shorter is also bounded fore and aft."""

BESIDE = 1.0
"""mm; how far fore and aft of a part its planes stand, in the air or where its foot is faired."""

CLOSER = 7
"""Times that the interval of a jump is halved."""


@dataclass(frozen=True, slots=True)
class _Slicer:
    """Sections of a surface along one of its axes, in (axis, next, next but one) order."""

    surface: Surface
    axis: int
    x_limits: tuple[float, float]
    """Only what lies between these x counts."""

    def region(self, place: float) -> shapely.Geometry:
        """The section at a place, or an empty one where it cannot be closed."""
        try:
            region = section(self.surface, place, Side.FORE).region
        except HullError:
            return shapely.Polygon()
        low, high = self.x_limits
        if math.isinf(low) and math.isinf(high):
            return region
        far = 1e6
        box = shapely.box(-far, low, far, high) if self.axis == 1 else shapely.box(low, -far, high, far)
        return shapely.intersection(region, box)


def proposed_parts(hull: Hull, foam: float) -> tuple[PartSettings, ...]:
    """Parts that are worth a try, none where the shape shows none; `foam` is their thickness in mm. Places are those of
    the hull frame.

    Sides are looked for first, then keels and what stands on top, each in what the parts before it leave.
    """
    if not isinstance(hull.shape, MeshShape):
        return ()
    kept: tuple[PartSettings, ...] = ()
    main: Part | None = None
    for name, axis, sign in (("sides", 1, 1.0), ("keel", 2, -1.0), ("top", 2, 1.0)):
        surface = main.hull.surface if main else hull.surface
        shift = main.offset if main else np.zeros(3)
        words = _region(surface, axis, sign, shift)
        if words:
            tried = _sliced_well(hull, kept, PartSettings(name=name, region=words), foam)
            if tried:
                kept, main = (*kept, tried[0]), tried[1]
    return kept


def _region(surface: Surface, axis: int, sign: float, shift: Floats) -> str:
    """What lies beyond the largest jump along an axis, in words; empty without one. `shift` is the frame's offset."""
    slicer = _slicer(surface, axis, (-math.inf, math.inf))
    low, high = (corner.tolist() for corner in surface.bounds)
    if axis == 1:
        way = (INNERMOST * high[1], high[1])
    else:
        levels = np.linspace(low[2], high[2], LEVELS + 2)[1:-1].tolist()
        widest = max(levels, key=lambda place: slicer.region(place).area)
        way = (widest, high[2] if sign > 0 else low[2])
    found = _jump(slicer, way, high[0])
    if found is None:
        return ""
    place, (x_low, x_high) = found
    words = {(1, 1.0): "beyond", (2, 1.0): "above", (2, -1.0): "below"}[axis, sign]
    words += f" {place - float(shift[axis]):.1f}"
    if x_low > 0:
        words += f" and aft of {x_low - float(shift[0]):.1f}"
    if x_high < high[0]:
        words += f" and fore of {x_high - float(shift[0]):.1f}"
    return words


def _slicer(surface: Surface, axis: int, x_limits: tuple[float, float]) -> _Slicer:
    order = np.eye(3)[[axis, (axis + 1) % 3, (axis + 2) % 3]]
    return _Slicer(sort_faces(transform(surface, order, np.zeros(3))), axis, x_limits)


def _jump(slicer: _Slicer, way: tuple[float, float], length: float) -> tuple[float, tuple[float, float]] | None:
    """The place of the largest jump on the way outwards, and the x between which the part beyond it lies, or None."""
    place = _largest_jump(slicer, way)
    if place is None:
        return None
    x_low, x_high = _reach_in_x(slicer, (place + 0.02 * (way[1] - way[0]), way[1]))
    limits = (x_low - BESIDE, x_high + BESIDE)
    if x_high - x_low > SHORT * length:
        return place, (-math.inf, math.inf)
    again = _largest_jump(_Slicer(slicer.surface, slicer.axis, limits), way)
    return (place if again is None else again), limits


def _largest_jump(slicer: _Slicer, way: tuple[float, float]) -> float | None:
    start, end = way
    levels = np.linspace(start, end, LEVELS // 2 + 1)[:-1]
    areas = np.array([slicer.region(place).area for place in levels.tolist()])
    with np.errstate(divide="ignore", invalid="ignore"):
        change = np.abs(np.log(areas[2:] / areas[:-2]))
    change[~np.isfinite(change)] = 0.0
    left = np.abs(end - levels[1:-1])
    change[left < max(LEAST * abs(end - start), 2 * THINNEST)] = 0.0
    for n in np.argsort(-change, kind="stable").tolist():
        if change[n] < math.log(JUMP):
            return None
        half_way = areas[(n + 2 + len(levels)) // 2]
        if half_way >= LASTS * areas[n + 2]:
            return _closer(slicer, float(levels[n]), float(levels[n + 2]))
    return None


def _closer(slicer: _Slicer, inner: float, outer: float) -> float:
    """The place of a jump between two levels, by halving the half that changes more; its outer end."""
    first, last = (slicer.region(place).area for place in (inner, outer))
    for _ in range(CLOSER):
        middle = (inner + outer) / 2
        area = slicer.region(middle).area
        if area <= 0 or first <= 0 or last <= 0 or abs(math.log(area / first)) > abs(math.log(last / area)):
            outer, last = middle, area
        else:
            inner, first = middle, area
    return outer


def _reach_in_x(slicer: _Slicer, way: tuple[float, float]) -> tuple[float, float]:
    """How far fore and aft reaches what lies beyond a jump."""
    column = 1 if slicer.axis == 1 else 0
    boxes = [slicer.region(place).bounds for place in np.linspace(*way, 6)[:-1].tolist()]
    known = [box for box in boxes if not math.isnan(box[0])]
    if not known:
        return -math.inf, math.inf
    return min(box[column] for box in known), max(box[column + 2] for box in known)


def _sliced_well(
    hull: Hull, kept: Sequence[PartSettings], part: PartSettings, foam: float
) -> tuple[PartSettings, Part] | None:
    """The part in the direction in which its slices differ least from each other, and the main body that it leaves;
    None where it cannot be divided off.
    """
    try:
        division = divide(hull, [*kept, part])
    except HullError:
        return None
    piece = division.parts[-1]
    ways: tuple[Slices, ...] = ("along", "across", "upright")
    steps = {way: _steps(piece, way, foam) for way in ways}
    way = min(ways, key=lambda one: steps[one])
    if not math.isfinite(steps[way]):
        return None
    return replace(part, slices=way), division.parts[0]


def _steps(piece: Part, way: Slices, foam: float) -> float:
    """mm3 by which slices of half the foam differ from the next ones; infinite where the part is thinner than it."""
    turned = sort_faces(transform(piece.hull.surface, TURNS[way], np.zeros(3)))
    low, high = (float(corner[0]) for corner in turned.bounds)
    if high - low < foam:
        return math.inf
    places = np.linspace(low, high, max(4, 2 * math.ceil((high - low) / foam)) + 1)
    middles = (places[1:] + places[:-1]) / 2
    slicer = _Slicer(turned, 0, (-math.inf, math.inf))
    regions = [slicer.region(place) for place in middles.tolist()]
    apart = [first.symmetric_difference(second).area for first, second in pairwise(regions)]
    return float(sum(apart)) * float(places[1] - places[0])
