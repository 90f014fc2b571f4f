"""Shape + span -> Tip: how to carve a block where a straight wire from face to face does not leave the hull.

    the hull between two stations --seen along y--> side profile (x, z)
                                  --seen along z--> plan profile (x, y)
                                  --cut across in between--> gauges (y, z)

A profile ends straight at a station that shows area; it is closed there, and no allowance is taken off that edge, so
that the block keeps its thickness.

Everywhere else a profile's allowances are square to the surface as it is seen. The skin of faces and gauges is square
to the surface too (`skin`), while their kerf lies in the section's own plane, as the wire does.
"""

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from profiles.arrays import Floats
from profiles.blocks.carved import carved_solid, left_by_profiles, mesh_volume
from profiles.blocks.landmarks import CORNER_DEGREES
from profiles.blocks.outlines import MITRE_LIMIT, Outline, as_multi, outline_of
from profiles.blocks.pairing import Mark
from profiles.blocks.settings import Allowances
from profiles.blocks.skin import ROUGH, skin_on
from profiles.blocks.stations import SAME_PLACE, Span
from profiles.errors import HullError
from profiles.hull.sections import Section, Side
from profiles.hull.shape import Shape, View
from profiles.hull.surface import Mesh
from profiles.notes import Note, warning
from profiles.units import block_name
from profiles.values import dataclass

SHARES = (0.25, 0.5, 0.75)
"""Where gauges are proposed: at these shares of the way from the smaller face's area to the larger one's."""

EVEN_SHARES = (1 / 3, 2 / 3)
"""Of the thickness: where gauges are proposed if the areas do not lead to two places."""

GAUGE_GRID = 0.5
"""mm; proposed gauges stand at multiples of this, as they are marked out with a rule."""

GAUGE_APART = 5.0
"""mm; least distance of a proposed gauge from the faces and from the next one: a card's thickness and a finger's."""

LOOKS = 16
"""Places at which areas are measured to propose gauges: every 3 mm in foam of 50 mm."""

HALVINGS = 8
"""After which such an interval is below GAUGE_GRID for any foam."""

MARKS_ALONG = 12
"""Target number of marks along one path of the wire when no spacing is set."""

MARKS_APART = 9.0
"""mm; marks closer together than this cannot carry readable numbers."""

CORNER_THIN = 0.2
"""mm; a profile is simplified to this before corners are searched, so that facets of a mesh do not count as corners."""


@dataclass(frozen=True, slots=True)
class Profile:
    """The hull between two stations as seen from one side, at true size."""

    view: View
    outline: Outline
    """(x, z) or (x, y) mm."""
    marks: tuple[Mark, ...]
    """Along the cut line as the wire goes, not on the faces; `y` and `z` of a mark are the profile's two axes."""


@dataclass(frozen=True, slots=True)
class Gauge:
    """A section to hold against the carved foam."""

    number: int
    """From 1 at the block's fore face."""
    x: float
    """mm aft of the foremost point."""
    outline: Outline
    """(y, z) mm; the line to cut is the foam's surface: skin taken off, no kerf."""


@dataclass(frozen=True, slots=True)
class Tip:
    """What a block is carved by."""

    span: Span
    by_fore: bool
    """The larger face, by which the block is cut, is the fore one."""
    side: Profile
    plan: Profile
    gauges: tuple[Gauge, ...]
    wired_volume: float
    """mm3 that the wire leaves inside both profiles."""
    solid: Mesh
    """What the knife leaves of that: the hull between the stations, less the skin; empty where nothing is left."""
    notes: tuple[Note, ...] = ()

    @property
    def volume(self) -> float:
        """Of the carved block, mm3."""
        return mesh_volume(self.solid)

    @property
    def carving_volume(self) -> float:
        """Foam to carve off, mm3."""
        return max(0.0, self.wired_volume - self.volume)

    @property
    def x_large(self) -> float:
        """Where the larger face lies, mm."""
        return self.span.x_fore if self.by_fore else self.span.x_aft

    @property
    def profiles(self) -> tuple[Profile, Profile]:
        """Side, then plan: the order of cutting."""
        return self.side, self.plan

    @property
    def reach(self) -> Polygon:
        """The rectangle (y, z) mm that both profiles need; the block's box must hold it. Empty if a profile is."""
        if self.side.outline.cut.is_empty or self.plan.outline.cut.is_empty:
            return Polygon()
        _, z_low, _, z_high = self.side.outline.cut.bounds
        _, y_low, _, y_high = self.plan.outline.cut.bounds
        return shapely.box(y_low, z_low, y_high, z_high)


def tip_of(
    shape: Shape,
    span: Span,
    gauges: Sequence[float] = (),
    *,
    allowances: Allowances | None = None,
    mark_spacing: float | None = None,
) -> Tip:
    """What the block between two stations is carved by.

    `gauges` are places in mm aft of the foremost point; those outside the span are ignored, and if none is inside, two
    or three are proposed. A place without foam, or whose section stays open, has no gauge, and a warning says so. Marks
    stand about every `mark_spacing` mm, or as suits the size. Raises HullError where a face cannot be closed.
    """
    allowed = allowances or Allowances()
    ends = shape.section(span.x_fore, Side.AFT), shape.section(span.x_aft, Side.FORE)
    side, plan = (_profile(shape, span, ends, view, allowed, mark_spacing) for view in View)
    inside = sorted({float(x) for x in gauges if span.x_fore + SAME_PLACE < x < span.x_aft - SAME_PLACE})
    made, notes = _gauges(shape, span, inside or _propose_gauges(shape, span, ends), allowed)
    notes += _profile_notes(span, (side, plan))
    wired = left_by_profiles(side.outline.foam, plan.outline.foam)
    by_fore = ends[0].region.area > ends[1].region.area
    return Tip(span, by_fore, side, plan, made, wired, _solid(shape, span, allowed.skin), tuple(notes))


def _solid(shape: Shape, span: Span, skin: float) -> Mesh:
    """What the knife leaves between two stations; a place whose section stays open is passed over."""
    start, end = span.x_fore + span.fore_inset, span.x_aft - span.aft_inset

    def sections(x: float) -> MultiPolygon:
        try:
            section = shape.section(min(max(x, start), end), Side.FORE if x >= end else Side.AFT)
        except HullError:
            return MultiPolygon()
        return skin_on(shape, section, skin, ROUGH).square

    return carved_solid(sections, span.x_fore, span.x_aft)


def _gauges(
    shape: Shape, span: Span, places: Sequence[float], allowances: Allowances
) -> tuple[tuple[Gauge, ...], list[Note]]:
    """The gauges at those places, and a warning for each place without one."""
    made: list[Gauge] = []
    notes = []
    for x in places:
        fault = "no foam is left there"
        try:
            section = shape.section(x, Side.AFT)
            foam = skin_on(shape, section, allowances.skin).square
            outline = Outline(section.region, foam, foam)
        except HullError as error:
            outline, fault = Outline(MultiPolygon(), MultiPolygon(), MultiPolygon()), error.message
        if outline.cut.is_empty:
            notes.append(warning(f"no gauge at x = {x:g} mm: {fault}", x, f"block {block_name(span.number)}"))
        else:
            made.append(Gauge(len(made) + 1, x, outline))
    return tuple(made), notes


def _profile_notes(span: Span, profiles: tuple[Profile, Profile]) -> Iterator[Note]:
    block = f"block {block_name(span.number)}"
    for profile in profiles:
        if profile.outline.cut.is_empty:
            yield warning(f"the skin uses up the {profile.view} profile; it has no template", span.x_fore, block)
        elif len(profile.outline.cut.geoms) != len(profile.outline.finished.geoms):
            text = (
                f"skin or kerf change the number of pieces of the {profile.view} profile. "
                "Check the template before cutting"
            )
            yield warning(text, span.x_fore, block)


def _profile(
    shape: Shape,
    span: Span,
    ends: tuple[Section, Section],
    view: View,
    allowances: Allowances,
    spacing: float | None,
) -> Profile:
    finished = shape.silhouette(span.x_fore, span.x_aft, view)
    cut = _apply_allowances(finished, ends, view, allowances)
    skin = Allowances(skin=allowances.skin)
    foam = cut if allowances == skin else _apply_allowances(finished, ends, view, skin)
    closed = tuple(end.x for end in ends if not end.region.is_empty)
    return Profile(view, Outline(finished, foam, cut), profile_marks(cut, closed, spacing))


def _apply_allowances(
    finished: MultiPolygon, ends: tuple[Section, Section], view: View, allowances: Allowances
) -> MultiPolygon:
    """The cut line of a profile: the allowances taken where the hull's surface is, not where a station cuts it off.

    For that the profile is drawn out straight beyond each face with area, and cut off there afterwards.
    """
    beyond = MITRE_LIMIT * (allowances.skin + abs(allowances.edge)) + 1.0
    strip = [-math.inf, math.inf]
    drawn_out: list[shapely.Geometry] = [finished]
    for place, (end, way) in enumerate(zip(ends, (-beyond, beyond), strict=True)):
        for part in end.region.geoms:
            y_low, z_low, y_high, z_high = part.bounds
            low, high = (z_low, z_high) if view is View.SIDE else (y_low, y_high)
            drawn_out.append(shapely.box(min(end.x, end.x + way), low, max(end.x, end.x + way), high))
            strip[place] = end.x
    whole = outline_of(as_multi(shapely.union_all(drawn_out)), allowances).cut
    if whole.is_empty or not (allowances.skin or allowances.edge):
        return finished if not whole.is_empty else whole
    x_low, low, x_high, high = whole.bounds
    window = shapely.box(max(strip[0], x_low - 1), low - 1, min(strip[1], x_high + 1), high + 1)
    return as_multi(whole.intersection(window))


def _propose_gauges(shape: Shape, span: Span, ends: tuple[Section, Section]) -> list[float]:
    """Places where the area is at SHARES between that of the two faces, the first from the smaller face on."""
    areas = [end.region.area for end in ends]
    small, large = min(areas), max(areas)
    first, last = (span.x_fore, span.x_aft) if areas[0] <= areas[1] else (span.x_aft, span.x_fore)

    def area(x: float) -> float:
        try:
            return float(shape.section(x, Side.AFT).region.area)
        except HullError:
            return math.nan  # NaN compares as neither under nor over the target, so no gauge is proposed beside it

    places = np.linspace(first, last, LOOKS + 1).tolist()
    sampled = [small, *map(area, places[1:-1]), large]
    candidates = []
    for share in SHARES:
        target = small + share * (large - small)
        k = next((k for k in range(LOOKS) if sampled[k] < target <= sampled[k + 1]), None)
        if k is None:
            continue
        under, over = places[k], places[k + 1]
        for _ in range(HALVINGS):
            middle = (under + over) / 2
            under, over = (middle, over) if area(middle) < target else (under, middle)
        candidates.append(over)
    kept = _space_out(span, candidates)
    if len(kept) >= len(EVEN_SHARES):
        return kept
    return _space_out(span, [span.x_fore + share * span.thickness for share in EVEN_SHARES]) or [
        (span.x_fore + span.x_aft) / 2
    ]


def _space_out(span: Span, places: Sequence[float]) -> list[float]:
    """The places rounded to GAUGE_GRID, ascending, those too near to a face or the one before left out."""
    kept: list[float] = []
    for x in sorted(round(place / GAUGE_GRID) * GAUGE_GRID for place in places):
        before = kept[-1] if kept else span.x_fore
        if x - before >= GAUGE_APART - SAME_PLACE and span.x_aft - x >= GAUGE_APART - SAME_PLACE:
            kept.append(x)
    return kept


def profile_marks(cut: MultiPolygon, closed: Sequence[float], spacing: float | None = None) -> tuple[Mark, ...]:
    """Numbered marks along a profile, from where the wire enters to where it leaves.

    `closed` are the stations at which the profile ends straight: there is no mark between the corners on them. Ends and
    corners are marked, the others stand evenly between, about every `spacing` mm.
    """
    marks: list[Mark] = []
    for part in sorted(cut.geoms, key=lambda one: one.bounds[1]):
        for path in _paths(part, closed):
            marks += _path_marks(path, len(marks) + 1, spacing)
    return tuple(marks)


def _paths(part: Polygon, closed: Sequence[float]) -> Iterator[Floats]:
    """The lines (n, 2) that the wire goes along, material on the left; a ring that meets no station is closed."""
    turned = shapely.orient_polygons(part)
    for ring in (turned.exterior, *turned.interiors):
        points = shapely.get_coordinates(ring)
        on = np.zeros(len(points) - 1, dtype=bool)
        for x in closed:
            at = np.abs(points[:, 0] - x) < SAME_PLACE
            on |= at[:-1] & at[1:]
        if not on.any():
            yield points
            continue
        start = int(np.flatnonzero(on)[0]) + 1
        around = np.roll(points[:-1], -start, axis=0)
        free = ~np.roll(on, -start)
        edges = np.flatnonzero(np.diff(np.concatenate([[False], free, [False]]).astype(int)))
        for first, last in edges.reshape(-1, 2).tolist():
            yield around[np.arange(first, last + 1) % len(around)]


def _path_marks(path: Floats, first: int, spacing: float | None) -> list[Mark]:
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    length = float(along[-1])
    returns = bool((path[0] == path[-1]).all())
    step = spacing or max(length / MARKS_ALONG, MARKS_APART)
    knots = [(0.0, "corner"), *_landmarks(path, along), (length, "corner")]
    stops: list[tuple[float, str]] = []
    for start, end in pairwise(knots):
        stops.append(start)
        run = end[0] - start[0]
        count = max(1, min(round(run / step), math.floor(run / MARKS_APART)))
        stops += [(start[0] + run * n / count, "even") for n in range(1, count)]
    if not returns:
        stops.append(knots[-1])
    return [_mark(path, along, number, *stop) for number, stop in enumerate(stops, start=first)]


def _landmarks(path: Floats, along: Floats) -> list[tuple[float, str]]:
    """(mm along a path, kind) of the tip, if the path goes round one, and of its sharp turns; MARKS_APART, ascending.

    Where space is short, the tip comes first, then the sharpest turns.
    """
    thin = shapely.get_coordinates(shapely.LineString(path).simplify(CORNER_THIN))
    heading = np.unwrap(np.arctan2(*np.diff(thin, axis=0).T[::-1]))
    turn = np.degrees(np.abs(np.diff(heading)))
    sharp = np.flatnonzero(turn > CORNER_DEGREES).tolist()
    order = sorted(sharp, key=lambda n: (-round(float(turn[n]), 3), n))
    wanted = [(float(along[int(np.argmin(np.hypot(*(path - thin[n + 1]).T)))]), "corner") for n in order]
    if abs(path[0, 0] - path[-1, 0]) < SAME_PLACE:
        wanted.insert(0, (float(along[int(np.argmax(np.abs(path[:, 0] - path[0, 0])))]), "tip"))
    kept = [(0.0, ""), (float(along[-1]), "")]
    for mark in wanted:
        if all(abs(mark[0] - other[0]) >= MARKS_APART for other in kept):
            kept.append(mark)
    return sorted(kept)[1:-1]


def _mark(path: Floats, along: Floats, number: int, place: float, kind: str) -> Mark:
    """A mark whose tick points square into the material; at the end of a path between the path and the face there."""
    length = float(along[-1])
    reach = min(1.0, length / 40)
    at = np.clip([place, place - reach, place + reach], 0.0, length)
    here, before, after = np.column_stack([np.interp(at, along, path[:, axis]) for axis in (0, 1)])
    forward = (after - before) / (np.hypot(*(after - before)) or 1.0)
    inward = np.array((-forward[1], forward[0]))
    if (path[0] != path[-1]).any() and place in {0.0, length}:
        inward = inward + (forward if place == 0 else -forward)
        inward /= np.hypot(*inward)
    return Mark(number, float(here[0]), float(here[1]), kind, (float(inward[0]), float(inward[1])))
