"""The lines plan of a hull: sheer plan, half-breadth plan, body plan. It is reduced: for looking at, not for measuring.

Waterlines and buttocks are taken from sections along the hull, so the plan shows what will be cut. In the body plan the
sections of the fore half stand on the right, those of the aft half on the left.
"""

from collections.abc import Callable, Sequence

import numpy as np
import shapely
from shapely import LineString, MultiPolygon

from profiles.arrays import Floats
from profiles.errors import HullError
from profiles.hull.frame import Hull, first_look
from profiles.hull.line_places import LinePlaces, line_places
from profiles.hull.sections import Side
from profiles.hull.shape import Shape
from profiles.paper.drawing import Drawing, Label, Role, Stroke, freeze, line
from profiles.pictures.views import Extents, extents_along

WIDE = 250.0
"""mm on the sheet for the length of the hull."""

BODY_WIDE = 120.0
"""mm on the sheet for its breadth in the body plan."""

SAMPLES = 240
"""Sections along the hull: one for each millimetre of the plan."""

HALVINGS = 8
"""Times that the place between two sections is halved in which a line ends: to 0.01 mm on the sheet."""

TEXT, SMALL = 3.2, 2.2
"""mm, font sizes."""

EDGE = 8.0
"""mm of space round the views."""

GAP = 14.0
"""mm between the views."""

LEVEL = 1e-3
"""mm; a waterline this near to the lowest or highest point is the base or the deck."""

Zero = tuple[float, float]


def lines_plan(hull: Hull) -> Drawing:
    """The three views of a hull's lines, nose to the left. Sections that cannot be closed are left out."""
    shape, places = first_look(hull), line_places(hull)
    extents = extents_along(shape, hull.length, hull.steps)
    if extents is None:
        words = Label(f"{hull.name}: no section can be closed", EDGE, 2 * EDGE, TEXT)
        return Drawing(WIDE + 2 * EDGE, 4 * EDGE, (), (words,))
    low, high = shape.bounds
    depth, breadth = float(high[2] - low[2]), float(max(high[1], -low[1]))
    scale = min(WIDE / hull.length, BODY_WIDE / max(2 * breadth, depth))
    body_scale = BODY_WIDE / max(2 * breadth, depth)
    title = f"{hull.name}: lines plan, drawn about {_ratio(scale)}, the body plan {_ratio(body_scale)}"
    sampled = _Sampled(shape, hull.length, hull.steps)
    top = EDGE + TEXT + GAP
    sheer = _sheer_plan(sampled, extents, places, (EDGE, top + float(high[2]) * scale), scale)
    numbers = [
        Label(f"{x:.5g}", EDGE + x * scale, top - 1.0, SMALL, anchor="middle") for x in _apart(places.stations, scale)
    ]
    centre = top + depth * scale + GAP
    plan = _half_breadth_plan(sampled, extents, places, (EDGE, centre), scale)
    base = centre + breadth * scale + GAP + depth * body_scale
    body = _body_plan(sampled, places, (EDGE + WIDE / 2, base + float(low[2]) * body_scale), body_scale)
    labels = [
        Label(title, EDGE, EDGE + TEXT, TEXT, bold=True),
        Label("sheer plan: buttocks from the side; stations in mm from the nose", EDGE, top - 3.0 - SMALL, SMALL),
        *numbers,
        Label("half-breadth plan: waterlines from above", EDGE, centre - 2.0, SMALL),
        Label("body plan: fore half on the right, aft half on the left", EDGE, base - depth * body_scale - 2.0, SMALL),
    ]
    return Drawing(WIDE + 2 * EDGE, base + EDGE, (*sheer, *plan, *body), tuple(labels))


def _ratio(scale: float) -> str:
    return f"{scale:.2g}:1" if scale > 1 else f"1:{1 / scale:.2g}"


def _apart(values: Sequence[float], scale: float) -> list[float]:
    """The values that are far enough from the one before for a number at each."""
    kept: list[float] = []
    for value in values:
        if not kept or (value - kept[-1]) * scale > 4 * SMALL:
            kept.append(value)
    return kept


class _Sampled:
    """Sections along a hull, from which its lines are taken."""

    def __init__(self, shape: Shape, length: float, steps: Sequence[float]) -> None:
        self.shape, self.length = shape, length
        self.bounds = shape.bounds
        places = [(x, self._side(x)) for x in np.linspace(0.0, length, SAMPLES + 1).tolist()]
        places += [(x, side) for x in steps for side in Side]
        self.cuts = [
            (x, side, self.region(x, side)) for x, side in sorted(places, key=lambda at: (at[0], at[1] is Side.AFT))
        ]

    def _side(self, x: float) -> Side:
        return Side.FORE if x >= self.length else Side.AFT

    def region(self, x: float, side: Side | None = None) -> MultiPolygon:
        """The section at x; empty where it stays open."""
        try:
            return self.shape.section(x, side or self._side(x)).region
        except HullError:
            return MultiPolygon()

    def curves(self, cutter: LineString, axis: int, end: int) -> list[Floats]:
        """Where a line in the plane of the sections meets them: points (n, 2), x and the least (end 0) or greatest (1)
        coordinate, for each stretch of the hull that it meets.
        """

        def meet(region: MultiPolygon) -> float:
            met = region.intersection(cutter)
            return np.nan if met.is_empty else float(met.bounds[axis + 2 * end])

        table = np.array([(x, meet(region)) for x, _, region in self.cuts])
        known = np.isfinite(table[:, 1])
        curves = []
        for run in np.split(np.arange(len(table)), np.flatnonzero(np.diff(known)) + 1):
            if not known[run[0]]:
                continue
            before = self._end(table, int(run[0]) - 1, int(run[0]), meet)
            after = self._end(table, int(run[-1]) + 1, int(run[-1]), meet)
            curves.append(np.concatenate([before, table[run], after]))
        return [curve for curve in curves if len(curve) > 1]

    def _end(self, table: Floats, outside: int, inside: int, meet: Callable[[MultiPolygon], float]) -> Floats:
        """(1, 2), the end of a line between a section that it misses and the next that it meets; (0, 2) at the ends."""
        if not 0 <= outside < len(table):
            return table[:0]
        missed, (x, value) = float(table[outside, 0]), table[inside].tolist()
        for _ in range(HALVINGS):
            middle = (missed + x) / 2
            at = meet(self.region(middle))
            missed, x, value = (middle, x, value) if np.isnan(at) else (missed, middle, at)
        return np.array([(x, value)])


def _sheer_plan(sampled: _Sampled, extents: Extents, places: LinePlaces, zero: Zero, scale: float) -> list[Stroke]:
    view = np.array([scale, -scale])
    low, high = (float(corner[2]) for corner in sampled.bounds)
    strokes = [_straight((x, low), (x, high), zero, view) for x in places.stations]
    strokes += [_straight((0.0, z), (sampled.length, z), zero, view) for z in places.waterlines]
    for y in places.buttocks:
        cutter = LineString([(y, low - 1), (y, high + 1)])
        strokes += [
            _stroke(Role.LABEL, curve, zero, view) for end in (0, 1) for curve in sampled.curves(cutter, 1, end)
        ]
    strokes += [_stroke(Role.MARK, knuckle[:, [0, 2]], zero, view) for knuckle in places.knuckles]
    below, above = (np.column_stack([extents.x, side[:, 1]]) for side in (extents.low, extents.high))
    return [*strokes, _stroke(Role.CUT, np.concatenate([below, above[::-1]]), zero, view, closed=True)]


def _half_breadth_plan(
    sampled: _Sampled, extents: Extents, places: LinePlaces, zero: Zero, scale: float
) -> list[Stroke]:
    view = np.array([scale, scale])
    (_, _, low), (_, wide, high) = (corner.tolist() for corner in sampled.bounds)
    strokes = [_straight((x, 0.0), (x, wide), zero, view) for x in places.stations]
    strokes += [_straight((0.0, y), (sampled.length, y), zero, view) for y in places.buttocks]
    for z in places.waterlines:
        if low + LEVEL < z < high - LEVEL:
            curves = sampled.curves(LineString([(0.0, z), (wide + 1, z)]), 0, 1)
            strokes += [_stroke(Role.LABEL, curve, zero, view) for curve in curves]
    strokes += [_stroke(Role.MARK, knuckle[:, :2], zero, view) for knuckle in places.knuckles]
    strokes.append(_straight((0.0, 0.0), (sampled.length, 0.0), zero, view, Role.DATUM))
    return [*strokes, _stroke(Role.CUT, np.column_stack([extents.x, extents.high[:, 0]]), zero, view)]


def _body_plan(sampled: _Sampled, places: LinePlaces, zero: Zero, scale: float) -> list[Stroke]:
    view = np.array([scale, -scale])
    (_, port, low), (_, starboard, high) = (corner.tolist() for corner in sampled.bounds)
    wide = max(starboard, -port)
    strokes = [_straight((-wide, z), (wide, z), zero, view) for z in places.waterlines]
    strokes += [_straight((side * y, low), (side * y, high), zero, view) for y in places.buttocks for side in (-1, 1)]
    for x in places.stations:
        side = 1.0 if x <= sampled.length / 2 else -1.0
        half = sampled.region(x).intersection(shapely.box(min(0.0, side * wide), low, max(0.0, side * wide), high))
        rings = [shapely.get_coordinates(part.exterior) for part in shapely.get_parts(half) if part.area]
        strokes += [_stroke(Role.LABEL, ring[:-1], zero, view, closed=True) for ring in rings]
    return [*strokes, _straight((0.0, low), (0.0, high), zero, view, Role.DATUM)]


def _stroke(role: Role, points: Floats, zero: Zero, view: Floats, *, closed: bool = False) -> Stroke:
    return Stroke(role, freeze(points * view + zero), closed=closed)


def _straight(start: Zero, end: Zero, zero: Zero, view: Floats, role: Role = Role.TRIM) -> Stroke:
    a, b = (np.array([start, end]) * view + zero).tolist()
    return line(role, tuple(a), tuple(b))
