"""Markings -> sheets at true size with register lines; their outlines on drawings; their figures and words."""

from collections.abc import Sequence

import numpy as np

from profiles.arrays import Floats
from profiles.drafting.bodydrafts import Overlay
from profiles.drafting.draftsheet import TEXT, framed
from profiles.drafting.markings import LaidMarking
from profiles.drafting.settings import DrawingView
from profiles.notes import Note, fact, warning
from profiles.paper.cover import Heading
from profiles.paper.drawing import Label, Role, Stroke, freeze, line
from profiles.paper.template import Template
from profiles.units import Figures, length_text

AROUND = 8.0
"""mm of register lines beyond the marking."""

BETWEEN = 12.0
"""mm between the marking as it is laid and as it is seen."""

JOINS = 0.1
"""mm; a wider step of a line at a station is a step of the body, and is told."""


def marking_templates(markings: Sequence[LaidMarking], stations: Sequence[float], heading: Heading) -> list[Template]:
    """A sheet for each marking: laid along the skin, with its stations and its middle line, and below as it is seen."""
    return [_template(laid, stations, heading) for laid in markings]


def _template(laid: LaidMarking, stations: Sequence[float], heading: Heading) -> Template:
    way = np.array([-1.0 if laid.turned else 1.0, -1.0])
    x0, v0, x1, v1 = laid.extents
    strokes = [_stroke(Role.CUT, piece.laid * way, closed=piece.closed) for piece in laid.lines]
    marks, labels = _registers(laid, stations, way)
    seen = [piece.seen * way for piece in laid.lines]
    low = float(np.concatenate(seen)[:, 1].min())
    down = -v0 + AROUND + 3 * TEXT + BETWEEN - low
    below = [
        _stroke(Role.LABEL, points + (0.0, down), closed=piece.closed)
        for points, piece in zip(seen, laid.lines, strict=True)
    ]
    left = min(x0 * way[0], x1 * way[0])
    labels.append(Label(f"as seen square from {laid.side}", left, low + down - TEXT, TEXT))
    aft = "left" if laid.turned else "right"
    words = f"{heading.fingerprint}, {laid.side}, aft to the {aft}, skin longer by up to {100 * laid.stretch:.2f} %"
    labels.append(Label(words, left, -v1 - AROUND - 2 * TEXT, TEXT))
    return framed(f"marking {laid.name}", f"{heading.hull}: {laid.name}", [*strokes, *marks, *below], labels)


def _stroke(role: Role, points: Floats, *, closed: bool) -> Stroke:
    return Stroke(role, freeze(points), closed=closed)


def _registers(laid: LaidMarking, stations: Sequence[float], way: Floats) -> tuple[list[Stroke], list[Label]]:
    """A line at every station under the marking, or at the two nearest, and the line that its middle follows."""
    x0, v0, x1, v1 = laid.extents
    top, low = -v1 - AROUND, -v0 + AROUND
    before = [x for x in stations if x <= x0]
    behind = [x for x in stations if x >= x1]
    near = {x for x in stations if x0 - AROUND <= x <= x1 + AROUND} | {*before[-1:]} | {*behind[:1]}
    places = [(number, x) for number, x in enumerate(stations) if x in near]
    strokes = [line(Role.DATUM, (x * way[0], top), (x * way[0], low)) for _, x in places]
    labels = [
        Label(f"{number}: x {length_text(x)}", x * way[0], low + TEXT + 1.0, TEXT, "middle") for number, x in places
    ]
    ends = [x * way[0] for x in (min(x0, *(x for _, x in places)), max(x1, *(x for _, x in places)))]
    left, right = min(ends) - AROUND, max(ends) + AROUND
    strokes.append(line(Role.DATUM, (left, 0.0), (right, 0.0)))
    axis = "z" if laid.side in {"starboard", "port"} else "y"
    labels.append(Label(f"{axis} {length_text(laid.middle)}", right, -1.0, TEXT))
    return strokes, labels


def overlays_of(markings: Sequence[LaidMarking]) -> list[Overlay]:
    """The outlines of markings on the side view (both sides) and on the plan (top alone)."""
    views = {"starboard": DrawingView.SIDE, "port": DrawingView.SIDE, "top": DrawingView.PLAN}
    return [
        Overlay(views[laid.side], tuple((piece.seen * (1.0, -1.0), piece.closed) for piece in laid.lines))
        for laid in markings
        if laid.side in views
    ]


def marking_figures(laid: LaidMarking) -> Figures:
    """A marking for the report."""
    x0, v0, x1, v1 = laid.extents
    return {
        "name": laid.name,
        "side": laid.side,
        "x_fore": x0,
        "x_aft": x1,
        "middle": laid.middle,
        "girth": v1 - v0,
        "stretch": laid.stretch,
        "gap": laid.gap,
        "over": list(laid.over),
    }


def marking_notes(markings: Sequence[LaidMarking]) -> list[Note]:
    """What to know before printing: cut-outs below, steps at stations, stretch, pictures that are left out."""
    notes = []
    for laid in markings:
        if laid.over:
            text = f"the marking {laid.name} lies over what is cut out there: {', '.join(laid.over)}"
            notes.append(warning(text))
        if laid.gap > JOINS:
            text = f"the marking {laid.name} crosses a step of the body, where its lines are {laid.gap:.1f} mm apart"
            notes.append(warning(text))
        if laid.pictures:
            text = f"the marking {laid.name}: {laid.pictures} pictures in its artwork are left out; lines are drawn"
            notes.append(warning(text))
        text = f"the marking {laid.name} keeps stations, so its skin is longer by up to {100 * laid.stretch:.2f} %"
        notes.append(fact(text))
    return notes


def marking_step(markings: Sequence[LaidMarking]) -> str:
    """What a builder does with markings, for the book."""
    names = ", ".join(laid.name for laid in markings)
    return (
        f"Markings: when the body is filled and sanded, print markings.pdf ({names}) and measure the frames. Cut slits "
        "across the paper between stations, lay its stations on the joints and its middle line at its height, "
        "and let it down along the skin. Prick the outline through, or cut a mask."
    )
