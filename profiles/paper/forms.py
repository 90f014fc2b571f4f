"""What pages show of a template: with the block's box or without, whole or in tiles, each tile a shape to be nested."""

from dataclasses import replace
from functools import cached_property

import numpy as np
import shapely

from profiles.paper.drawing import Drawing, Label, Role, freeze, rectangles
from profiles.paper.lettering import ASCENT, text_width
from profiles.paper.nesting import ANY_TURN, UPRIGHT, Shape, Size
from profiles.paper.placing import Occupied, room_for
from profiles.paper.template import Template
from profiles.paper.tiling import Tiling, Window, choose_tiling, tile_drawings
from profiles.values import dataclass

COARSE = 0.2
"""mm; outlines are simplified by this much before they are nested, which the gap between them has room for."""

SOLID = frozenset({Role.CUT, Role.BAR})
BESIDE = frozenset({Role.MARK, Role.LABEL, Role.PIN, Role.LATER, Role.JOIN, Role.CARVE})
"""Roles of lines that nothing may cross outside the outlines: ticks, leaders, arrows, join marks."""

TILE_TEXT, LEAST_TEXT = 3.2, 2.2
"""mm; sizes of the name of a tile."""

LEADING = 1.3
"""Line height in font sizes."""

Cell = tuple[int, int]


@dataclass(frozen=True, eq=False)
class Form:
    """A template as pages show it. `tiling` is in the coordinates of the template's sheet."""

    template: Template
    boxed: bool
    """Whether the block's box is drawn."""
    drawing: Drawing
    tiling: Tiling
    plan: str = ""
    """The fingerprint, which every tile carries."""

    @cached_property
    def tiles(self) -> dict[Cell, Drawing]:
        """What each window shows."""
        if self.tiling.sheets == 1:
            return {(0, 0): self.drawing}
        drawings = tile_drawings(self.drawing, self.tiling)
        return {
            cell: self._named(drawing, cell, number) for number, (cell, drawing) in enumerate(drawings.items(), start=1)
        }

    def _named(self, drawing: Drawing, cell: Cell, number: int) -> Drawing:
        """A tile with its name on the card: tiles of several templates share a page."""
        ground = self._material.intersection(shapely.box(*self.tiling.core(*cell)))
        occupied = Occupied([stroke.path for stroke in drawing.strokes])
        for label in drawing.labels:
            occupied.take(label.extent())
        lines = (f"{self.template.id}, sheet {number} of {self.tiling.sheets}", self.plan)
        for part in sorted(shapely.get_parts(ground).tolist(), key=lambda part: -part.area):
            if part.area < TILE_TEXT**2:
                break
            middle = part.representative_point()
            for size in (TILE_TEXT, LEAST_TEXT):
                width = max(text_width(line, size, bold=True) for line in lines)
                place = room_for(part, width, 2 * LEADING * size, occupied, (middle.x, middle.y))
                if place:
                    tops = [place[1] + size * (ASCENT + LEADING * k) for k in range(len(lines))]
                    pairs = zip(lines, tops, strict=True)
                    return drawing.with_more(labels=[Label(text, place[0], y, size, bold=True) for text, y in pairs])
        return drawing

    @cached_property
    def cells(self) -> tuple[Cell, ...]:
        """The windows that are printed: all but those without anything to cut or to drill."""
        if self.tiling.sheets == 1:
            return ((0, 0),)
        wanted = {Role.CUT, Role.PIN, *([Role.BOX] if self.boxed else [])}
        return tuple(cell for cell, tile in self.tiles.items() if any(stroke.role in wanted for stroke in tile.strokes))

    @cached_property
    def shapes(self) -> tuple[Shape, ...]:
        """The shape of each of the cells."""
        return tuple(self._shape(cell) for cell in self.cells)

    def _shape(self, cell: Cell) -> Shape:
        window = self.tiling.window(*cell)
        frame = self.template.frame
        claim = shapely.box(*frame.rect).boundary if self.boxed and frame else None
        if self.template.core is None:
            turns = ANY_TURN if self.drawing.of_role(Role.CUT) else UPRIGHT
            return Shape(window, shapely.box(*window), None, turns)
        footprint = footprint_of(self.tiles[cell], self._material)
        if self.tiling.sheets > 1:
            view = shapely.box(*window)
            footprint, claim = footprint.intersection(view), claim and claim.intersection(view)
        return Shape(window, footprint, claim)

    @cached_property
    def _material(self) -> shapely.Geometry:
        return material_of(self.template.core or self.drawing)


def form_of(template: Template, room: Size, overlap: float, *, boxed: bool, full: bool = False, plan: str = "") -> Form:
    """The form of a template, in as few tiles as one of two directions of the room allows; with `full`, all but the
    last of a row as large as the room.
    """
    drawing = template.boxed if boxed else template.bare
    window = window_of(template, drawing)
    x0, y0, x1, y1 = window
    sheet = replace(drawing.translate(-x0, -y0), width=x1 - x0, height=y1 - y0)
    sides = (room, room[::-1]) if drawing.of_role(Role.CUT) else (room,)
    tilings = [choose_tiling(sheet, side, overlap, full=full) for side in sides]
    best = min(tilings, key=lambda tiling: tiling.sheets)
    return Form(template, boxed and template.frame is not None, drawing, best.shifted(x0, y0), plan)


def window_of(template: Template, drawing: Drawing) -> Window:
    """The extents of what a page shows of a template; its whole sheet if it has no core."""
    if template.core is None:
        return 0.0, 0.0, drawing.width, drawing.height
    corners = [stroke.points for stroke in drawing.strokes]
    corners += [np.reshape(label.extent(), (2, 2)) for label in drawing.labels]
    points = np.vstack(corners)
    (left, top), (right, bottom) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return left, top, right, bottom


def material_of(drawing: Drawing) -> shapely.Geometry:
    """The card inside the cut lines, a hollow being one more line inside."""
    rings = [
        shapely.LinearRing(stroke.points).simplify(COARSE) for stroke in drawing.of_role(Role.CUT) if stroke.closed
    ]
    return shapely.build_area(shapely.GeometryCollection(rings))


def footprint_of(drawing: Drawing, material: shapely.Geometry) -> shapely.Geometry:
    """All that nothing else may touch on a page: the material, texts, and lines outside the material."""
    lines = [shapely.LineString(stroke.path) for stroke in drawing.strokes if stroke.role in BESIDE]
    parts = np.array([*lines, *rectangles(drawing.labels)], dtype=object)
    shapely.prepare(material)
    return shapely.GeometryCollection([material, *parts[~shapely.covers(material, parts)]])


def corner_strokes(template: Template, length: float) -> list[np.ndarray]:
    """The four corners of the block's box as lines (3, 2) mm on the template's sheet."""
    if template.frame is None:
        return []
    x0, y0, x1, y1 = template.frame.rect
    length = min(length, (x1 - x0) / 3, (y1 - y0) / 3)
    return [
        freeze([(x + across, y), (x, y), (x, y + down)])
        for x, across in ((x0, length), (x1, -length))
        for y, down in ((y0, length), (y1, -length))
    ]
