"""Block face -> template at full size, every label clear of every line.

Lines come first: block box, datum, outlines, pins. Then what stays on the card (cards), the numbered marks (ticks), and
what belongs to the box (captions), each clear of everything placed before.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import LinearRing, MultiPolygon, Polygon

from profiles.blocks.blocks import Block, Face
from profiles.blocks.outlines import as_multi
from profiles.body.waterplane import WaterPlane
from profiles.paper.captions import box_dimensions, face_edges, label_box, write_caption
from profiles.paper.cards import label_pieces
from profiles.paper.carving import carving_strokes
from profiles.paper.cutlines import cut_strokes, label_cuts
from profiles.paper.drawing import Points, Role, freeze, line, pin_hole, rectangle
from profiles.paper.facesheet import (
    UNSEEN,
    FaceSheet,
    TemplateTitle,
    face_points,
    face_shape,
    finished_template,
    layers_after,
    occupied_by,
    outline_strokes,
    surface_strokes,
)
from profiles.paper.later import draw_crosses, label_crosses, later_on
from profiles.paper.template import BlockTemplate, Kind, Source
from profiles.paper.ticks import draw_marks, ticks_of
from profiles.paper.waterline import water_across


def template_of(
    block: Block, face: Face, pin: float, title: TemplateTitle, rings: Sequence[Points] = ()
) -> BlockTemplate:
    """The template of a face with area; `pin` is the diameter of the pin holes in mm, `rings` the cut lines for card
    cutters, (y, z) mm.
    """
    source = Source(face.block, Kind(face.which), face.x)
    sheet = FaceSheet(block, face, face_shape(_simplify(face.outline.cut), face.which))
    _draw_lines(sheet, pin, title.water)
    later = later_on(sheet, title.later)
    draw_crosses(sheet, later)
    ticks = ticks_of(sheet, face.marks)
    occupied = occupied_by(sheet.strokes, ticks.lines)
    label_pieces(sheet, occupied, source, title)
    label_cuts(sheet, occupied)
    draw_marks(sheet, occupied, ticks)
    label_crosses(sheet, occupied, later)
    core = len(sheet.labels)
    dimensions = box_dimensions(sheet, occupied, face_edges(sheet))
    label_box(sheet, occupied)
    layers = layers_after(sheet, core)
    write_caption(sheet, occupied, source, title)
    template = finished_template(sheet, source, layers, dimensions)
    shift = np.array(template.datum)
    return replace(template, rings=tuple(freeze(face_points(ring, face.which) + shift) for ring in rings))


def _simplify(shape: MultiPolygon) -> MultiPolygon:
    """An outline without the points that do not show, and without rings smaller than UNSEEN, which a PDF rounds to
    single points and so leaves out.
    """
    parts = [
        Polygon(part.exterior, [ring for ring in part.interiors if _shows(ring)])
        for part in as_multi(shapely.simplify(shape, UNSEEN)).geoms
        if _shows(part.exterior)
    ]
    return MultiPolygon(parts)


def _shows(ring: LinearRing) -> bool:
    left, top, right, bottom = ring.bounds
    return bool(max(right - left, bottom - top) >= UNSEEN)


def _draw_lines(sheet: FaceSheet, pin: float, water: WaterPlane | None) -> None:
    left, top, right, bottom = sheet.box
    sheet.strokes.append(rectangle(Role.BOX, left, top, right - left, bottom - top))
    sheet.strokes += [
        line(Role.DATUM, (min(left, 0.0), 0.0), (max(right, 0.0), 0.0)),
        line(Role.DATUM, (0.0, min(top, 0.0)), (0.0, max(bottom, 0.0))),
    ]
    sheet.strokes += surface_strokes(sheet, sheet.face.outline, _simplify)
    sheet.strokes += outline_strokes(sheet.cut, Role.CUT)
    sheet.strokes += carving_strokes(sheet)
    sheet.strokes += water_across(sheet, water)
    sheet.strokes += cut_strokes(sheet)
    for hole in sheet.block.pins:
        u, v = face_points(np.array([(hole.y, hole.z)]), sheet.face.which)[0].tolist()
        sheet.strokes += pin_hole(u, v, pin)
