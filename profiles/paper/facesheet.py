"""The sheet of one template while it is drawn, in the face frame.

    hull frame (y, z)  --face_points-->  face frame (u, v)

Labels are placed on a `Sheet`; cards, marks and captions need nothing more.

u runs to the right and v down, both mm from the datum cross. The face is seen from outside the block: the fore face
shows starboard on the left, the aft face on the right.
"""

from collections.abc import Callable, Sequence
from dataclasses import field, replace
from typing import Protocol

import numpy as np
import shapely
from shapely import MultiPolygon

from profiles.blocks.blocks import Block, Face, Which
from profiles.blocks.boundary import rings_of
from profiles.blocks.outlines import Outline
from profiles.blocks.settings import Allowances
from profiles.body.waterplane import WaterPlane
from profiles.hull.later import Later
from profiles.paper.drawing import Drawing, Label, Points, Role, Stroke, freeze
from profiles.paper.placing import Occupied, Rect
from profiles.paper.template import BlockTemplate, BoxFrame, Source
from profiles.units import length_text, printed_unit, short_length
from profiles.values import dataclass

TEXT = 3.2
"""mm; font size of numbers and marks. At arm's length (700 mm) capitals 2.3 mm high span 11 minutes of arc."""

LEAST_TEXT = 2.6
"""mm; the smallest text on a template."""

UNSEEN = 0.01
"""mm; an outline is drawn through as few points as keep it within this of all the others: a thirtieth of the width of
the line, and the tolerance of the finished page. A hull of a million triangles has eight times the points that show on
paper."""

DATUM_BEYOND = 4.0
"""mm that a datum line reaches beyond what a template shows, on pages without the box: enough to lay a rule along."""

CROSS = 3.0
"""mm of each datum line on either side of the cross that a card interrupts last."""

PAD = 0.5
"""mm of empty sheet round everything drawn."""


@dataclass(frozen=True, slots=True)
class TemplateTitle:
    """What every template says besides its own sizes."""

    hull: str
    fingerprint: str
    allowances: Allowances = field(default_factory=Allowances)
    later: tuple[Later, ...] = ()
    """Holes and slits of the hull that are made by hand later."""
    water: WaterPlane | None = None
    """The surface of the water on which the body floats, in the hull frame."""

    @property
    def allowance_words(self) -> str:
        """Skin, kerf and wire as used, like "skin 1.5, kerf 1.2, wire 0.4 mm"; empty if all are zero."""
        used = self.allowances
        sizes = {"skin": used.skin, "kerf": used.kerf, "wire": used.wire}
        words = [f"{name} {short_length(size)}" for name, size in sizes.items() if size]
        return f"{', '.join(words)} {printed_unit()}" if words else ""

    def used_words(self, growth: float | None = None) -> tuple[str, ...]:
        """Skin, kerf, wire and, where it is given, growth in two lines for a card, zeros too: what is not allowed for
        must be known as well.
        """
        used = self.allowances
        first = f"skin {short_length(used.skin)}, kerf {short_length(used.kerf)}"
        second = f"wire {short_length(used.wire)}{'' if growth is None else f', growth {short_length(growth)}'}"
        return first, f"{second} {printed_unit()}"


def face_points(points: Points, which: Which) -> Points:
    """Hull (y, z) -> face (u, v), both (n, 2) mm."""
    return points * ((-1.0, -1.0) if which is Which.FORE else (1.0, -1.0))


def face_shape(shape: MultiPolygon, which: Which) -> MultiPolygon:
    """Hull (y, z) -> face (u, v), mm."""
    face: MultiPolygon = shapely.transform(shape, lambda points: face_points(points, which))
    return face


class Sheet(Protocol):
    """A template while it is drawn: its material, its box, and what is on it so far."""

    cut: MultiPolygon
    strokes: list[Stroke]
    labels: list[Label]

    @property
    def box(self) -> Rect:
        """Left, top, right, bottom, mm."""

    def to_sheet(self, points: Points) -> Points:
        """The frame of the block -> the frame of the sheet, both (n, 2) mm."""


@dataclass(slots=True)
class FaceSheet:
    """A face template while it is drawn: what it shows, and what is on it so far."""

    block: Block
    face: Face
    cut: MultiPolygon
    strokes: list[Stroke] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)

    @property
    def box(self) -> Rect:
        """The block box: left, top, right, bottom, mm."""
        box = self.block.box
        corners = face_points(np.array([(box.y_low, box.z_low), (box.y_high, box.z_high)]), self.face.which)
        left, top = corners.min(axis=0).tolist()
        return left, top, left + box.width, top + box.height

    def to_sheet(self, points: Points) -> Points:
        """Hull (y, z) -> face (u, v), both (n, 2) mm."""
        return face_points(points, self.face.which)


def outline_strokes(shape: MultiPolygon, role: Role) -> list[Stroke]:
    """The closed lines of a shape, hollows included."""
    return [Stroke(role, freeze(shapely.get_coordinates(ring)[:-1]), closed=True) for ring in rings_of(shape)]


def occupied_by(strokes: Sequence[Stroke], ticks: Points) -> Occupied:
    """What strokes and ticks (n, 2, 2) mm leave free for labels."""
    datum = [stroke.path for stroke in strokes if stroke.role is Role.DATUM]
    lines = [stroke.path for stroke in strokes if stroke.role is not Role.DATUM]
    cross = [np.array([(-CROSS, 0.0), (CROSS, 0.0)]), np.array([(0.0, -CROSS), (0.0, CROSS)])]
    return Occupied([*ticks, *lines], datum, cross)


def surface_strokes(sheet: Sheet, outline: Outline, simplify: Callable[[MultiPolygon], MultiPolygon]) -> list[Stroke]:
    """The surface of the foam, dashed, where it is not the cut line; the finished surface, dotted, where a skin parts
    it from that of the foam.
    """
    strokes = []
    for role, shape, other in (
        (Role.FOAM, outline.foam, outline.cut),
        (Role.FINISHED, outline.finished, outline.foam),
    ):
        if not _look_alike(shape, other):
            strokes += outline_strokes(shapely.transform(simplify(shape), sheet.to_sheet), role)
    return strokes


def _look_alike(shape: MultiPolygon, other: MultiPolygon) -> bool:
    """Whether the two are the same line on paper."""
    if shape is other or shape.equals_exact(other, 1e-9):
        return True
    return bool(shape.symmetric_difference(other).area <= UNSEEN * shape.length / 2)


def line_names(sheet: Sheet, title: TemplateTitle, oversize: float = 0.0) -> list[str]:
    """What the dashed and the dotted line are, if they are drawn, and by how much the cut line is too large; the
    allowances that part the lines.
    """
    roles = {stroke.role for stroke in sheet.strokes}
    names = []
    if round(oversize, 2):
        names.append(
            f"up to {length_text(oversize, 2)} oversize{': sand to the dashed line' if Role.FOAM in roles else ''}"
        )
    elif Role.FOAM in roles:
        names.append("dashed line: surface of the foam")
    if Role.FINISHED in roles:
        names.append("dotted line: finished surface")
    if Role.WATER in roles:
        names.append("line of long dashes: waterline")
    return [*names, *([title.allowance_words] if title.allowance_words else [])]


def extents_of(sheet: Sheet) -> Rect:
    """Left, top, right and bottom of everything drawn on a sheet, mm."""
    corners = [stroke.points for stroke in sheet.strokes]
    corners += [np.reshape(label.extent(), (2, 2)) for label in sheet.labels]
    points = np.vstack(corners)
    (left, top), (right, bottom) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return left, top, right, bottom


@dataclass(frozen=True, slots=True)
class Layers:
    """Which labels of a sheet belong to what, by their number in the order of drawing: first those of the template
    itself, then the sides and sizes of the box, then the caption, which pages leave out.
    """

    core: int
    sides: int


def layers_after(sheet: Sheet, core: int) -> Layers:
    """The layers of a sheet whose sides are just written; `core` labels were written before."""
    return Layers(core, len(sheet.labels))


def finished_template(
    sheet: Sheet, source: Source, layers: Layers | None = None, dimensions: Sequence[Label] = ()
) -> BlockTemplate:
    """The drawing moved onto a sheet of its own, just large enough for everything drawn; with `layers`, what pages show
    of it as well.
    """
    left, top, right, bottom = extents_of(sheet)
    datum = (PAD - left, PAD - top)
    drawing = Drawing(right + datum[0] + PAD, bottom + datum[1] + PAD, tuple(sheet.strokes), tuple(sheet.labels))
    whole = drawing.translate(*datum)
    if layers is None:
        return BlockTemplate(source.id, whole, datum, source=source)
    labels, sides = whole.labels[: layers.core], whole.labels[layers.core : layers.sides]
    core = replace(whole, strokes=tuple(_core_strokes(whole.strokes, labels)), labels=labels)
    box = whole.of_role(Role.BOX)
    if not box:
        return BlockTemplate(source.id, whole, datum, core, source=source)
    outer = np.vstack([stroke.points for stroke in box])
    (x0, y0), (x1, y1) = outer.min(axis=0).tolist(), outer.max(axis=0).tolist()
    words = tuple(label.translate(*datum) for label in dimensions)
    frame = BoxFrame((x0, y0, x1, y1), replace(whole, strokes=box, labels=sides), words)
    return BlockTemplate(source.id, whole, datum, core, frame, source=source)


def _core_strokes(strokes: Sequence[Stroke], labels: Sequence[Label]) -> list[Stroke]:
    """The strokes without the box, and datum lines only where they cross or come near what the template shows."""
    kept = [stroke for stroke in strokes if stroke.role not in {Role.BOX, Role.DATUM}]
    corners = [stroke.points for stroke in kept] + [np.reshape(label.extent(), (2, 2)) for label in labels]
    points = np.vstack(corners)
    near = shapely.box(*(points.min(axis=0) - DATUM_BEYOND), *(points.max(axis=0) + DATUM_BEYOND))
    for stroke in strokes:
        if stroke.role is Role.DATUM:
            parts = shapely.get_parts(shapely.LineString(stroke.points).intersection(near)).tolist()
            kept += [
                Stroke(Role.DATUM, freeze(shapely.get_coordinates(part)))
                for part in parts
                if part.geom_type == "LineString" and part.length > UNSEEN
            ]
    return kept
