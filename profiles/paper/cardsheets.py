"""All templates nested on sheets of card, for card cutters and lasers: no bars, no pages, nothing outside the pieces.

A piece carries what stays on it: cut lines as exact as the outlines are, pin holes, and text and scored lines inside.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np
import shapely

from profiles.paper.drawing import Drawing, Label, Points, Role, Stroke, freeze
from profiles.paper.forms import material_of, window_of
from profiles.paper.nesting import Shape, Window, nest, turn_points
from profiles.paper.template import Template
from profiles.units import Paper

GAP = 3.0
"""mm between two pieces: what holds the card together while it is cut."""

EDGE = 5.0
"""mm along the edges of a card that stay free."""

BETWEEN = 20.0
"""mm between two cards side by side in one file."""

NAME_SIZE = 4.0
"""mm; the text below a card."""

CURVE = 0.02
"""mm; how far a line may be outside its piece by rounding."""


def cut_drawing(template: Template) -> Drawing:
    """The template as a cutter follows it: cut lines through every point of the outline, without the block's box."""
    shown = template.core or template.drawing
    others = tuple(stroke for stroke in shown.strokes if stroke.role is not Role.CUT)
    cuts = tuple(Stroke(Role.CUT, ring, closed=True) for ring in template.rings) or shown.of_role(Role.CUT)
    return replace(shown, strokes=(*others, *cuts))


def too_large(templates: Sequence[Template], card: Paper) -> tuple[str, ...]:
    """The ids of templates that are larger than a card."""
    return tuple(template.id for template in templates if not _fits(template, card))


def _fits(template: Template, card: Paper) -> bool:
    points = np.vstack([stroke.points for stroke in template.drawing.of_role(Role.CUT)])
    wide, high = (float(side) + 2 * CURVE for side in np.ptp(points, axis=0))
    room = _room(card)
    return any(wide <= across and high <= down for across, down in (room, room[::-1]))


def _room(card: Paper) -> tuple[float, float]:
    return card.width - 2 * EDGE, card.height - 2 * EDGE


def card_sheet(templates: Sequence[Template], card: Paper) -> Drawing:
    """All pieces on cards side by side in one drawing; templates larger than a card are left out."""
    fitting = [template for template in templates if _fits(template, card)]
    drawings = [_inside(template) for template in fitting]
    shapes = [_shape(template, drawing) for template, drawing in zip(fitting, drawings, strict=True)]
    found = nest(shapes, _room(card), GAP)
    pitch = card.width + BETWEEN
    strokes: list[Stroke] = []
    labels: list[Label] = []
    for drawing, shape, place in zip(drawings, shapes, found.places, strict=True):
        at = np.array((EDGE + place.x + place.sheet * pitch, EDGE + place.y))
        moved = drawing.transform(partial(_move, shape.window, place.turn, at), 90.0 * place.turn)
        strokes += moved.strokes
        labels += moved.labels
    count = max(found.sheets, 1)
    for number in range(count):
        words = f"card {number + 1} of {count}, {card.width:g} x {card.height:g} mm"
        labels.append(Label(words, number * pitch, card.height + 2 * NAME_SIZE, NAME_SIZE))
    width = count * pitch - BETWEEN
    return Drawing(width, card.height + 3 * NAME_SIZE, tuple(strokes), tuple(labels))


def _move(window: Window, turn: int, at: Points, points: Points) -> Points:
    return turn_points(points, window, turn) + at


def _shape(template: Template, drawing: Drawing) -> Shape:
    return Shape(window_of(template, drawing), material_of(drawing))


def _inside(template: Template) -> Drawing:
    """What is left of a template when it is cut out."""
    drawing = cut_drawing(template)
    material = material_of(template.core or template.drawing).buffer(CURVE)
    shapely.prepare(material)
    strokes = [
        part
        for stroke in drawing.strokes
        for part in ([stroke] if stroke.role is Role.CUT else _clipped(stroke, material))
    ]
    labels = tuple(label for label in drawing.labels if material.covers(label.footprint()))
    return replace(drawing, strokes=tuple(strokes), labels=labels)


def _clipped(stroke: Stroke, material: shapely.Geometry) -> list[Stroke]:
    path = shapely.LineString(stroke.path)
    if material.covers(path):
        return [stroke]
    parts = shapely.get_parts(path.intersection(material)).tolist()
    return [
        Stroke(stroke.role, freeze(shapely.get_coordinates(part)))
        for part in parts
        if part.geom_type == "LineString" and part.length > GAP
    ]
