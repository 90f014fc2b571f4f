"""A body plan: all sections one inside the other, seen from the tail, the fore body on the starboard side and the aft
body on the port side.

The picture is reduced, and says so: for looking at, not for measuring. A body whose sides differ is drawn whole, twice.
"""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import MultiPolygon, affinity

from profiles.blocks.assignment import assign
from profiles.body.waterplane import WaterPlane
from profiles.errors import PaperError
from profiles.paper.drawing import Area, Drawing, Label, Points, Role, Stroke, circle, freeze, hairline, line
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.pictures.bodyview import EDGE, LARGEST_RATIO, LEAST_VIEW, ROOM, TEXT, TITLE, plain
from profiles.pictures.tints import GREY, PALE, round_value
from profiles.units import length_text, printed_unit
from profiles.values import dataclass

NUMBER = 2.5
"""mm; font size of the places of the sections."""

PITCH = 1.35 * NUMBER
"""mm between two numbers of a column."""

LEADER = 9.0
"""mm between the grid and a column of numbers."""

GRID_LINES = 7
"""The most grid lines across the larger of breadth and depth."""

HEAD = 22.0
"""mm above the sections: the edge, the title and two lines of text."""

LOPSIDED = 0.01
"""Share of a section's area by which its two sides may differ and still count as equal: a builder sands off more."""

SAME = 1e-3
"""Share of a section's area by which two sections at one place may differ and still be drawn once."""

SHOWN = 0.05
"""mm on the hull; a section is drawn without the points that are within this of a straight line between others: the
picture is reduced, and its lines are three times as wide."""

DOT = 0.45
"""mm; radius of the dot where a leader ends."""

FAN = np.radians(50.0)
"""How far up and down leaders fan out from the middle of the body, or, if it is wide and low, from POLE depths inside
its side."""

POLE = 0.6


@dataclass(frozen=True, slots=True)
class _Half:
    """One side of the sheet: +1 for the fore body to starboard, -1 for the aft body to port."""

    hand: int
    zero: tuple[float, float]
    """mm on the sheet; the place of y = 0 on the datum."""
    ratio: float
    whole: bool
    """Whether both sides of its sections are drawn."""

    def lines(self, region: MultiPolygon) -> shapely.Geometry:
        """The part of a section's outline that is drawn, mm on the sheet."""
        edge = region.boundary
        if not self.whole:
            left, low, right, high = edge.bounds
            reach = max(abs(left), abs(right)) + 1
            half = shapely.box(min(0.0, self.hand * reach), low - 1, max(0.0, self.hand * reach), high + 1)
            edge = shapely.line_merge(shapely.intersection(edge, half))
        return affinity.affine_transform(edge, (self.ratio, 0.0, 0.0, -self.ratio, *self.zero))


@dataclass(frozen=True, slots=True)
class Nest:
    """The sections to draw, independent of the room: from the nose, each (x mm, shape in (y, z) mm)."""

    sections: tuple[tuple[float, MultiPolygon], ...]
    whole: bool
    """Whether both sides of each are drawn, because they differ."""


def nest_of(faces: Sequence[tuple[float, MultiPolygon]]) -> Nest:
    """The faces (x mm, shape in (y, z) mm) that have an area; of two equal ones at one place the first."""
    sections = tuple((x, _with_fewer_points(region)) for x, region in _distinct(faces))
    return Nest(sections, any(_lopsided(region) for _, region in sections))


def nested_sections(
    name: str,
    faces: Nest | Sequence[tuple[float, MultiPolygon]],
    *,
    room: tuple[float, float] = ROOM,
    water: WaterPlane | None = None,
) -> Drawing:
    """The sections of `faces`, one inside the other in a `room` (width, height) mm.

    Those forward of the largest are drawn to starboard, those aft of it to port, the largest on both sides. Every
    section has its x beside it, or every second, third ... if there is no room for all. The picture is as high as
    necessary. Of `water` each side shows the line at its middle section. Raises PaperError if the room is too small.
    """
    nest = faces if isinstance(faces, Nest) else nest_of(faces)
    sections, whole = nest.sections, nest.whole
    if not sections:
        note = Label(f"{name}: no section has any area", EDGE, EDGE + TEXT, TEXT)
        return Drawing(room[0], 2 * EDGE + TEXT, (), (note,))
    largest = max(range(len(sections)), key=lambda k: sections[k][1].area)
    fore, aft = sections[: largest + 1], sections[largest:]
    y_low, z_low, y_high, z_high = shapely.total_bounds([region for _, region in sections]).tolist()
    reach = max(-y_low, y_high)
    column = max(text_width(plain(x), NUMBER) for x, _ in sections)
    across = 2 * (EDGE + column + LEADER)
    breadth = 4 * reach if whole else 2 * reach
    ratio = min((room[0] - across) / breadth, (room[1] - HEAD - EDGE) / (z_high - z_low), LARGEST_RATIO)
    if ratio * (z_high - z_low) < LEAST_VIEW:
        msg = f"expected more room for the picture of the sections than {room[0]:.0f} x {room[1]:.0f} mm"
        raise PaperError(msg, remedy="Take a larger paper, or leave the pictures out.")
    depth = (z_high - z_low) * ratio
    longest = max(len(fore), len(aft))
    tall = min(max(depth, longest * PITCH), room[1] - HEAD - EDGE)
    base = HEAD + (tall - depth) / 2 + z_high * ratio
    middle = room[0] / 2
    halves = [_Half(hand, (middle + (hand * reach * ratio if whole else 0.0), base), ratio, whole) for hand in (1, -1)]
    step = _grid_step(max(2 * reach, z_high - z_low))
    drawing = Drawing(room[0], HEAD + tall + EDGE)
    bounds = (reach, z_low, z_high)
    for half, group in zip(halves, (fore, aft[::-1]), strict=True):
        drawing = drawing.with_more((), (), _grid(half, bounds, step))
        end = middle + half.hand * (breadth / 2 * ratio + LEADER)
        drawing = _side(drawing, half, group, end, (HEAD, HEAD + tall))
        drawing = drawing.with_more(_datum(half, bounds))
        drawing = drawing.with_more(_waterline(half, bounds, water, group[len(group) // 2][0]))
    return drawing.with_more((), _head(name, ratio, step, room[0], "; long dashes: waterline" if water else ""))


def _distinct(faces: Sequence[tuple[float, MultiPolygon]]) -> list[tuple[float, MultiPolygon]]:
    """The sections that have an area, from the nose; equal ones at one place once."""
    kept: list[tuple[float, MultiPolygon]] = []
    for x, region in sorted(faces, key=lambda face: face[0]):
        if region.is_empty:
            continue
        if kept and kept[-1][0] == x:
            if kept[-1][1].equals_exact(region):
                continue
            differs = shapely.symmetric_difference(kept[-1][1], region).area
            if differs <= SAME * region.area:
                continue
        kept.append((x, region))
    return kept


def _with_fewer_points(region: MultiPolygon) -> MultiPolygon:
    fewer = shapely.simplify(region, SHOWN)
    return fewer if isinstance(fewer, MultiPolygon) else region


def _lopsided(region: MultiPolygon) -> bool:
    mirrored = affinity.scale(region, -1.0, 1.0, origin=(0.0, 0.0))
    return bool(shapely.symmetric_difference(region, mirrored).area > LOPSIDED * region.area)


def _grid_step(size: float) -> float:
    """The finest of 1, 2, 5, 10 ... mm with no more than GRID_LINES lines."""
    step = -3
    while size / round_value(step) > GRID_LINES:
        step += 1
    return round_value(step)


def _grid(half: _Half, bounds: tuple[float, float, float], step: float) -> list[Area]:
    """Pale lines at whole steps from the datum, across the half that is drawn."""
    reach, z_low, z_high = bounds
    first, last = (-reach, reach) if half.whole else sorted((0.0, half.hand * reach))
    (x0, y0), (x1, y1) = _on_sheet(half, first, z_high), _on_sheet(half, last, z_low)
    areas = []
    for k in range(int(np.ceil(first / step)), int(last // step) + 1):
        at = _on_sheet(half, k * step, 0.0)[0]
        areas.append(hairline("grid", PALE, (at, y0), (at, y1), 0.12))
    for k in range(int(np.ceil(z_low / step)), int(z_high // step) + 1):
        at = _on_sheet(half, 0.0, k * step)[1]
        areas.append(hairline("grid", PALE, (x0, at), (x1, at), 0.12))
    return areas


def _on_sheet(half: _Half, y: float, z: float) -> tuple[float, float]:
    return half.zero[0] + y * half.ratio, half.zero[1] - z * half.ratio


def _datum(half: _Half, bounds: tuple[float, float, float]) -> list[Stroke]:
    reach, z_low, z_high = bounds
    out = 3.0 / half.ratio
    first, last = (-reach - out, reach + out) if half.whole else sorted((0.0, half.hand * (reach + out)))
    across = line(Role.DATUM, _on_sheet(half, first, 0.0), _on_sheet(half, last, 0.0))
    up = line(Role.DATUM, _on_sheet(half, 0.0, z_low - out), _on_sheet(half, 0.0, z_high + out))
    return [across, up] if half.whole or half.hand > 0 else [across]


def _waterline(half: _Half, bounds: tuple[float, float, float], water: WaterPlane | None, x: float) -> list[Stroke]:
    reach = bounds[0] + 3.0 / half.ratio
    ends = water.line_across(x, 2 * reach + abs(bounds[1]) + abs(bounds[2])) if water else None
    if ends is None:
        return []
    first, last = (-reach, reach) if half.whole else sorted((0.0, half.hand * reach))
    seen = shapely.LineString(ends).intersection(shapely.box(first, bounds[1], last, bounds[2]))
    if seen.geom_type != "LineString" or seen.is_empty:
        return []
    return [line(Role.WATER, *(_on_sheet(half, y, z) for y, z in seen.coords))]


def _side(
    drawing: Drawing,
    half: _Half,
    group: Sequence[tuple[float, MultiPolygon]],
    end: float,
    span: tuple[float, float],
) -> Drawing:
    """The sections of one side with their numbers in a column at `end`, between the heights of `span`."""
    edges = [half.lines(region) for _, region in group]
    strokes = [_stroke(part) for edge in edges for part in shapely.get_parts(edge) if part.length > 0]
    every = -(-len(group) // max(1, int((span[1] - span[0]) // PITCH)))
    shown = list(range(0, len(group), every))
    anchors = _anchors(half, [edges[k] for k in shown])
    slots = np.linspace(span[0] + PITCH / 2, span[1] - PITCH / 2, len(shown)) if len(shown) > 1 else [sum(span) / 2]
    places = np.column_stack([np.full(len(shown), end), slots])
    rows = _uncrossed(anchors, places)
    areas, labels = [], []
    for k, anchor, row in zip(shown, anchors, rows, strict=True):
        place = (end, float(places[row, 1]))
        spot = (float(anchor[0]), float(anchor[1]))
        areas.append(hairline("leader", GREY, spot, (place[0] - half.hand * 0.8, place[1]), 0.12))
        areas.append(Area("leader", GREY, (circle(Role.LABEL, *spot, DOT).points,)))
        side = "start" if half.hand > 0 else "end"
        labels.append(Label(plain(group[k][0]), place[0], place[1] + CAP_HEIGHT * NUMBER / 2, NUMBER, side))
    return drawing.with_more(strokes, labels, areas)


def _stroke(part: shapely.LineString) -> Stroke:
    points = shapely.get_coordinates(part)
    return Stroke(Role.LABEL, freeze(points[:-1] if part.is_ring else points), closed=bool(part.is_ring))


def _anchors(half: _Half, edges: Sequence[shapely.Geometry]) -> Points:
    """Where the leader of each section ends: on rays that fan out from the middle of the body, one after the other, so
    that leaders end at different places on neighbouring sections; at the outermost point if a ray misses.
    """
    left, top, right, bottom = shapely.total_bounds(edges).tolist()
    reach = max(half.hand * (left - half.zero[0]), half.hand * (right - half.zero[0]))
    inwards = max(0.0, reach - POLE * (bottom - top))
    pole = np.array((half.zero[0] + half.hand * inwards, (top + bottom) / 2))
    far = right - left + bottom - top
    anchors = []
    for angle, edge in zip(np.linspace(-FAN, FAN, len(edges)), edges, strict=True):
        tip = pole + far * np.array((half.hand * np.cos(angle), np.sin(angle)))
        points = shapely.get_coordinates(shapely.intersection(edge, shapely.LineString([pole, tip])))
        points = points if len(points) else shapely.get_coordinates(edge)
        anchors.append(points[np.argmax(half.hand * points[:, 0])])
    return np.array(anchors)


def _uncrossed(
    anchors: Points,
    places: Points,
) -> list[int]:
    """The place for each anchor: in order if then no two leaders cross; otherwise so that the total length of leaders
    is least, which leaves none crossing, because uncrossing two leaders makes them shorter.
    """
    leaders = shapely.linestrings(np.stack([anchors, places], axis=1))
    if not np.any(shapely.crosses(leaders[:, None], leaders[None, :])):
        return list(range(len(anchors)))
    lengths = np.hypot(*(anchors[:, None, :] - places[None, :, :]).transpose(2, 0, 1))
    return [column for _, column in assign(lengths)]


def _head(name: str, ratio: float, step: float, width: float, more: str = "") -> list[Label]:
    room = width - 2 * EDGE
    y = EDGE + CAP_HEIGHT * TITLE
    title = f"{name}: all sections"
    labels = [Label(title, EDGE, y, TITLE * min(1.0, room / text_width(title, TITLE, bold=True)), bold=True)]
    for text in (
        f"looking towards the nose: aft body to port, fore body to starboard{more}",
        (
            f"numbers are {printed_unit()} from the nose; grid {length_text(step, shorten=True)} from the datum; "
            f"drawn about 1:{1 / ratio:.2g}"
        ),
    ):
        y += 1.6 * TEXT
        labels.append(Label(text, EDGE, y, TEXT * min(1.0, room / text_width(text, TEXT))))
    return labels
