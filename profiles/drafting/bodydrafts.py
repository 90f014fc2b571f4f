"""Side and plan view, sections and the building board of a body at true size, each a template of its own.

Frames on the sheet: side (x, -z), plan and board (x, -y), so that starboard is up; sections (y, -z), from the tail.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import shapely

from profiles.arrays import Floats
from profiles.blocks.body import Body
from profiles.body.waterplane import BodyMarks
from profiles.drafting.draftsheet import TEXT, cross, dimension_across, dimension_up, framed
from profiles.drafting.settings import DrawingView
from profiles.errors import JobError
from profiles.hull.shape import View
from profiles.hull.silhouette import covered_region
from profiles.paper.drawing import UPWARDS, Label, Role, Stroke, circle, freeze, line
from profiles.paper.template import Template
from profiles.units import decimal_length, length_text
from profiles.values import dataclass

BEYOND = 6.0
"""mm by which a station's line reaches beyond the blocks."""

STEP = 9.0
"""mm between two dimension lines."""

JOINED = 0.01
"""mm; what is cut out of two blocks is one where they meet this closely."""

GRAVITY = 4.0
"""mm; radius of the mark at the centre of gravity."""

NEAR = 4.5
"""mm between two figures along the stations, or the second is left out."""

TITLES = {
    DrawingView.SIDE: "Side, from port, true size",
    DrawingView.PLAN: "Plan, from above, true size",
    DrawingView.SECTIONS: "Sections, from the tail, true size",
    DrawingView.BOARD: "Building board, true size",
}


@dataclass(frozen=True, slots=True)
class Overlay:
    """Lines of a marking in a view, on the sheet's frame; each (n, 2) mm."""

    view: DrawingView
    lines: tuple[tuple[Floats, bool], ...]
    """Points, and whether the line is closed."""


def body_drafts(
    body: Body, views: Sequence[DrawingView], marks: BodyMarks, overlays: Sequence[Overlay] = ()
) -> tuple[Template, ...]:
    """The drawings that are asked for, in that order; `overlays` are drawn on the side and the plan view.

    Raises JobError where the body has no outline to draw.
    """
    makers = {
        DrawingView.SIDE: side_view,
        DrawingView.PLAN: plan_view,
        DrawingView.SECTIONS: sections_view,
        DrawingView.BOARD: board_view,
    }
    drafts = []
    for view in views:
        strokes, labels = makers[view](body, marks)
        if not any(stroke.role is Role.CUT for stroke in strokes):
            message = f"{body.hull.name} has no outline to draw ({view})"
            raise JobError(message, remedy="Leave that view out of views under [drawings].")
        for overlay in overlays:
            if overlay.view is view:
                strokes += [Stroke(Role.LATER, freeze(points), closed=closed) for points, closed in overlay.lines]
        drafts.append(framed(f"drawing {view}", f"{body.hull.name}: {TITLES[view]}", strokes, labels))
    return tuple(drafts)


Draft = tuple[list[Stroke], list[Label]]


def side_view(body: Body, marks: BodyMarks) -> Draft:
    """Outline, blocks, stations, datum, waterline, cut-outs, centre of gravity and dimensions from port."""
    outline = body.hull.shape.silhouette(0.0, body.hull.length, View.SIDE)
    boxes = [(block.span.x_fore, -block.box.z_high, block.span.x_aft, -block.box.z_low) for block in body.blocks]
    strokes, labels = _long_view(body, outline, boxes)
    strokes += _cut_out(body, View.SIDE)
    if marks.water:
        ends = [(x, marks.water.z_at(x)) for x in (-BEYOND, body.hull.length + BEYOND)]
        if all(z is not None for _, z in ends):
            strokes.append(line(Role.WATER, *((x, -float(z or 0.0)) for x, z in ends)))
            labels.append(Label("waterline", body.hull.length + 2 * BEYOND, -float(ends[1][1] or 0.0), TEXT))
    if marks.gravity:
        strokes += _gravity(marks.gravity[0], -marks.gravity[2])
        labels.append(_gravity_label(marks.gravity[0], -marks.gravity[2]))
    return strokes, labels


def plan_view(body: Body, marks: BodyMarks) -> Draft:
    """Outline, blocks, stations, centre line, centre of gravity and dimensions from above, starboard up."""
    outline = body.hull.shape.silhouette(0.0, body.hull.length, View.PLAN)
    strokes, labels = _long_view(body, outline, list(_footprints(body)))
    strokes += _cut_out(body, View.PLAN)
    labels.append(Label("starboard", body.hull.length + 2 * BEYOND, -3 * TEXT, TEXT))
    if marks.gravity:
        strokes += _gravity(marks.gravity[0], -marks.gravity[1])
        labels.append(_gravity_label(marks.gravity[0], -marks.gravity[1]))
    return strokes, labels


def sections_view(body: Body, marks: BodyMarks) -> Draft:
    """All finished outlines one inside the other, the fore face of each block and the last aft face, with the datum
    cross and the waterline.
    """
    faces = [block.faces[0] for block in body.blocks] + [body.blocks[-1].faces[1]]
    shown = [face for face in faces if not face.outline.finished.is_empty]
    strokes = [stroke for face in shown for stroke in _rings(face.outline.finished)]
    if not shown:
        return strokes, []
    y_low, z_low, y_high, z_high = shapely.total_bounds([face.outline.finished for face in shown]).tolist()
    left, right, top, below = y_low - BEYOND, y_high + BEYOND, -z_high - BEYOND, -z_low + BEYOND
    strokes += [line(Role.DATUM, (left, 0.0), (right, 0.0)), line(Role.DATUM, (0.0, top), (0.0, below))]
    if marks.water:
        z = marks.water.z_at(body.hull.length / 2)
        if z is not None and z_low < z < z_high:
            strokes.append(line(Role.WATER, (left, -z), (right, -z)))
    more, labels = dimension_across(y_low, y_high, below + STEP, -z_low)
    up, words = dimension_up(-z_high, -z_low, left - STEP, y_low)
    labels.append(Label("starboard", right, -TEXT, TEXT, "end"))
    return [*strokes, *more, *up], [*labels, *words]


def board_view(body: Body, _marks: BodyMarks) -> Draft:
    """What is drawn on a building board: the base line, every station square across it with its number and place, and
    the footprint of every block.
    """
    length, boxes = body.hull.length, list(_footprints(body))
    low, high = min(box[1] for box in boxes), max(box[3] for box in boxes)
    strokes = [
        Stroke(Role.CUT, freeze([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]), closed=True) for x0, y0, x1, y1 in boxes
    ]
    strokes.append(line(Role.DATUM, (-2 * BEYOND, 0.0), (length + 2 * BEYOND, 0.0)))
    more, labels = _station_lines(body.stations.stations, low - BEYOND, high + BEYOND)
    labels.append(Label("base line = centre plane", length + 2 * BEYOND, -1.0, TEXT, "end"))
    labels += [
        Label(f"{block.span.number:02d}", (box[0] + box[2]) / 2, -2 * TEXT, TEXT, "middle", bold=True)
        for block, box in zip(body.blocks, boxes, strict=True)
    ]
    across, words = dimension_across(0.0, length, high + BEYOND + 7 * TEXT + STEP, high)
    return [*strokes, *more, *across], [*labels, *words]


def _footprints(body: Body) -> Iterator[tuple[float, float, float, float]]:
    """Left, top, right and bottom of every block's box on a plan, mm, starboard up."""
    for block in body.blocks:
        yield block.span.x_fore, -block.box.y_high, block.span.x_aft, -block.box.y_low


def _long_view(body: Body, outline: shapely.MultiPolygon, boxes: Sequence[tuple[float, float, float, float]]) -> Draft:
    """What side and plan view have in common; `boxes` are left, top, right, bottom on the sheet."""
    length = body.hull.length
    strokes = list(_rings(outline))
    strokes += [
        Stroke(Role.BOX, freeze([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]), closed=True) for x0, y0, x1, y1 in boxes
    ]
    strokes.append(line(Role.DATUM, (-2 * BEYOND, 0.0), (length + 2 * BEYOND, 0.0)))
    if outline.is_empty:
        return strokes, []
    low, high = min(box[1] for box in boxes), max(box[3] for box in boxes)
    more, labels = _station_lines(body.stations.stations, low - BEYOND, high + BEYOND)
    x0, y0, x1, y1 = outline.bounds  # mirrored up and down on the sheet
    across, words = dimension_across(x0, x1, high + BEYOND + 7 * TEXT + STEP, -y0)
    up, other = dimension_up(-y1, -y0, -2 * BEYOND - STEP, 0.0)
    return [*strokes, *more, *across, *up], [*labels, *words, *other]


def _station_lines(stations: Sequence[float], top: float, below: float) -> Draft:
    """A line at every station from top to below, its number above and its place from the nose below."""
    strokes = [line(Role.LABEL, (x, top), (x, below)) for x in stations]
    labels, last = [], float("-inf")
    for number, x in enumerate(stations):
        if x - last < NEAR:
            continue
        last = x
        labels.append(Label(str(number), x, top - 1.0, TEXT, "middle", bold=True))
        labels.append(Label(decimal_length(x), x + TEXT / 3, below + 1.0, TEXT, "end", UPWARDS))
    return strokes, labels


def _rings(outline: shapely.MultiPolygon) -> Iterator[Stroke]:
    """The outline on the sheet, up and down exchanged."""
    for part in outline.geoms:
        for ring in (part.exterior, *part.interiors):
            yield Stroke(Role.CUT, freeze(shapely.get_coordinates(ring)[:-1] * (1.0, -1.0)), closed=True)


def _cut_out(body: Body, view: View) -> list[Stroke]:
    """The outlines of rods, hollows and whatever else is cut out of the blocks, as they are seen."""
    seen = []
    for block in body.blocks:
        if block.into is None or not len(block.into.taken[1]):
            continue
        vertices, faces = block.into.taken
        flat = vertices[:, [0, 2] if view is View.SIDE else [0, 1]]
        first, second = flat[faces[:, 1]] - flat[faces[:, 0]], flat[faces[:, 2]] - flat[faces[:, 0]]
        seen.append(covered_region(flat, faces[first[:, 0] * second[:, 1] > first[:, 1] * second[:, 0]]))
    whole = (
        shapely.union_all([part.buffer(JOINED) for part in seen]).buffer(-JOINED) if seen else shapely.MultiPolygon()
    )
    parts = [part for part in shapely.get_parts(whole).tolist() if part.area > JOINED]
    return [replace(stroke, role=Role.LATER) for stroke in _rings(shapely.MultiPolygon(parts))]


def _gravity(x: float, y: float) -> list[Stroke]:
    return [circle(Role.LABEL, x, y, GRAVITY), *cross(x, y, 2 * GRAVITY)]


def _gravity_label(x: float, y: float) -> Label:
    return Label(f"balance, x {length_text(x)}", x + 2 * GRAVITY, y - GRAVITY, TEXT)
