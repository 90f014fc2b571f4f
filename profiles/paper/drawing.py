"""Drawings as plain data in mm, each stroke with a role; knows no file format.

Stroke    a polyline with a role, never a colour or a width
Label     a line of text with its size in mm
Area      a filled patch without an edge, for pictures
Drawing   a sheet of strokes, labels and areas; x to the right, y DOWN, origin at the top left
Style     how a role looks; one table for every output format
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from enum import StrEnum
from itertools import islice

import numpy as np
import numpy.typing as npt
from shapely import Polygon, affinity, box

from profiles.arrays import Floats
from profiles.paper.lettering import ASCENT, DESCENT, text_width
from profiles.values import dataclass

Points = Floats


class Role(StrEnum):
    """What a stroke is for; also its class in SVG."""

    CUT = "cut"
    FOAM = "foam"
    FINISHED = "finished"
    BOX = "box"
    DATUM = "datum"
    PIN = "pin"
    MARK = "mark"
    BAR = "bar"
    TRIM = "trim"
    JOIN = "join"
    LABEL = "label"
    GAP = "gap"
    LATER = "later"
    CARVE = "carve"
    WATER = "water"
    ROD = "rod"
    SLIT = "slit"
    HAND = "hand"


@dataclass(frozen=True, slots=True)
class Style:
    """How a role is drawn: colour as #rrggbb, line width in mm, dashes in mm (empty: solid)."""

    colour: str
    width: float
    dash: tuple[float, ...] = ()


STYLES: dict[Role, Style] = {
    Role.CUT: Style("#000000", 0.35),
    Role.FOAM: Style("#4d4d4d", 0.18, (2.0, 1.2)),
    Role.FINISHED: Style("#5e5e5e", 0.25, (0.4, 1.1)),
    Role.BOX: Style("#0b5394", 0.25),
    Role.DATUM: Style("#b45f06", 0.18, (6.0, 1.2, 1.2, 1.2)),
    Role.PIN: Style("#7a0177", 0.25),
    Role.MARK: Style("#1a1a1a", 0.25),
    Role.BAR: Style("#010101", 0.20),
    Role.TRIM: Style("#7f7f7f", 0.13, (1.0, 1.0)),
    Role.JOIN: Style("#38761d", 0.25),
    Role.LABEL: Style("#202020", 0.18),
    Role.GAP: Style("#cc0000", 0.5),
    Role.LATER: Style("#990000", 0.25),
    Role.CARVE: Style("#783f04", 0.7, (3.0, 0.8)),
    Role.WATER: Style("#073763", 0.3, (7.0, 1.5)),
    Role.ROD: Style("#20124d", 0.25),
    Role.SLIT: Style("#7f3f00", 0.35, (1.5, 0.8)),
    Role.HAND: Style("#274e13", 0.25, (3.0, 1.0)),
}
"""How each role looks. No two roles share a colour, so that a finished page can be read back by role; all are dark
enough for a grey printer."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A polyline: points (n, 2) mm, n >= 2, read-only; a closed one does not repeat its first point."""

    role: Role
    points: Points
    closed: bool = False

    def __reduce__(self) -> tuple[type["Stroke"], tuple[object, ...]]:
        """Pickle the fields as a tuple: there are thousands of strokes, and the default takes twice as long."""
        return Stroke, (self.role, self.points, self.closed)

    @property
    def path(self) -> Points:
        """The points, with the first one repeated at the end if the stroke is closed."""
        return np.vstack([self.points, self.points[:1]]) if self.closed else self.points

    def translate(self, dx: float, dy: float) -> "Stroke":
        """The stroke shifted by (dx, dy) mm."""
        return Stroke(self.role, freeze(self.points + np.array((dx, dy))), self.closed)


ANCHORS = {"start": 0.0, "middle": 0.5, "end": 1.0}
"""The share of a text's width that is left of its anchor."""

UPWARDS = -90.0
"""The angle in degrees of text that reads up the page."""


@dataclass(frozen=True, slots=True)
class Label:
    """A line of text; (x, y) mm is the anchor on the base line, `size` the font size in mm.

    `anchor` is start, middle or end; `angle` turns the text about its anchor, in degrees clockwise.
    """

    text: str
    x: float
    y: float
    size: float
    anchor: str = "start"
    angle: float = 0.0
    bold: bool = False

    def __reduce__(self) -> tuple[type["Label"], tuple[object, ...]]:
        """Pickle the fields as a tuple, as a stroke does."""
        return Label, (self.text, self.x, self.y, self.size, self.anchor, self.angle, self.bold)

    def translate(self, dx: float, dy: float) -> "Label":
        """The label shifted by (dx, dy) mm."""
        return Label(self.text, self.x + dx, self.y + dy, self.size, self.anchor, self.angle, self.bold)

    def turned(self, x: float, y: float, turn: float) -> "Label":
        """The label at another place, turned by `turn` degrees clockwise."""
        angle = (self.angle + turn + 180.0) % 360.0 - 180.0
        return Label(self.text, x, y, self.size, self.anchor, angle, self.bold)

    def _flat(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom of the text relative to its anchor, before it is turned."""
        width = text_width(self.text, self.size, bold=self.bold)
        left = -ANCHORS[self.anchor] * width
        return left, -ASCENT * self.size, left + width, DESCENT * self.size

    def footprint(self) -> Polygon:
        """The rectangle that the text covers, from the advance widths of the font, mm."""
        flat = affinity.translate(box(*self._flat()), self.x, self.y)
        return affinity.rotate(flat, self.angle, origin=(self.x, self.y)) if self.angle else flat

    def extent(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom of the footprint, mm; fast for horizontal and vertical text."""
        left, top, right, bottom = self._flat()
        if self.angle == 0:
            return self.x + left, self.y + top, self.x + right, self.y + bottom
        if self.angle == UPWARDS:
            return self.x + top, self.y - right, self.x + bottom, self.y - left
        x0, y0, x1, y1 = self.footprint().bounds
        return x0, y0, x1, y1


@dataclass(frozen=True, slots=True)
class Area:
    """A filled patch without an edge: closed `rings` (n, 2) mm; a ring inside another is a hole.

    `kind` is its class in SVG. Its colour, #rrggbb, often stands for a value, so no table of roles can hold it. Areas
    lie under all strokes, the first at the bottom.
    """

    kind: str
    colour: str
    rings: tuple[Points, ...]

    def translate(self, dx: float, dy: float) -> "Area":
        """The area shifted by (dx, dy) mm."""
        return translate_areas([self], dx, dy)[0]


@dataclass(frozen=True, slots=True)
class Drawing:
    """Strokes, labels and areas on a sheet of `width` x `height` mm."""

    width: float
    height: float
    strokes: tuple[Stroke, ...] = ()
    labels: tuple[Label, ...] = ()
    areas: tuple[Area, ...] = ()

    def translate(self, dx: float, dy: float) -> "Drawing":
        """Everything shifted by (dx, dy) mm; the sheet stays."""
        return Drawing(
            self.width,
            self.height,
            tuple(translate_strokes(self.strokes, dx, dy)),
            tuple(label.translate(dx, dy) for label in self.labels),
            tuple(translate_areas(self.areas, dx, dy)),
        )

    def transform(self, move: Callable[[Points], Points], turn: float) -> "Drawing":
        """Everything moved by a map of points (n, 2) mm that turns by `turn` degrees clockwise; the sheet stays."""
        lines = [stroke.points for stroke in self.strokes]
        ends = np.cumsum([len(points) for points in lines])[:-1]
        moved = np.split(freeze(move(np.concatenate(lines))), ends) if lines else []
        anchors = move(np.reshape([(label.x, label.y) for label in self.labels], (-1, 2))).tolist()
        return Drawing(
            self.width,
            self.height,
            tuple(
                Stroke(stroke.role, points, stroke.closed) for stroke, points in zip(self.strokes, moved, strict=True)
            ),
            tuple(label.turned(x, y, turn) for label, (x, y) in zip(self.labels, anchors, strict=True)),
            tuple(replace(area, rings=tuple(freeze(move(ring)) for ring in area.rings)) for area in self.areas),
        )

    def with_more(
        self, strokes: Iterable[Stroke] = (), labels: Iterable[Label] = (), areas: Iterable[Area] = ()
    ) -> "Drawing":
        """The sheet with more on it."""
        return replace(
            self,
            strokes=(*self.strokes, *strokes),
            labels=(*self.labels, *labels),
            areas=(*self.areas, *areas),
        )

    def overlay(self, other: "Drawing") -> "Drawing":
        """The sheet with everything of another drawing on it."""
        return self.with_more(other.strokes, other.labels, other.areas)

    def of_role(self, role: Role) -> tuple[Stroke, ...]:
        """The strokes with that role, in drawing order."""
        return tuple(stroke for stroke in self.strokes if stroke.role is role)


def freeze(points: npt.ArrayLike) -> Points:
    """Points as a read-only float64 array."""
    array = np.array(points, dtype=np.float64)
    array.setflags(write=False)
    return array


def translate_strokes(strokes: Sequence[Stroke], dx: float, dy: float) -> list[Stroke]:
    """The strokes shifted by (dx, dy) mm, all at once, which is faster."""
    lines = _translate_lines([stroke.points for stroke in strokes], dx, dy)
    return [Stroke(stroke.role, points, stroke.closed) for stroke, points in zip(strokes, lines, strict=True)]


def translate_areas(areas: Sequence[Area], dx: float, dy: float) -> list[Area]:
    """The areas shifted by (dx, dy) mm, all at once, which is faster."""
    rings = _translate_lines([ring for area in areas for ring in area.rings], dx, dy)
    return [Area(area.kind, area.colour, tuple(islice(rings, len(area.rings)))) for area in areas]


def _translate_lines(lines: Sequence[Points], dx: float, dy: float) -> Iterator[Points]:
    """The lines (n, 2) shifted by (dx, dy) mm, as read-only views of one array."""
    if lines:
        shifted = np.concatenate(lines) + (dx, dy)
        shifted.setflags(write=False)
        start = 0
        for points in lines:
            end = start + len(points)
            yield shifted[start:end]
            start = end


def line(role: Role, *points: tuple[float, float]) -> Stroke:
    """An open polyline through the points, mm."""
    return Stroke(role, freeze(points))


def rectangle(role: Role, x: float, y: float, width: float, height: float) -> Stroke:
    """A closed rectangle with its upper left corner at (x, y), mm."""
    return Stroke(role, freeze([(x, y), (x + width, y), (x + width, y + height), (x, y + height)]), closed=True)


def patch(kind: str, colour: str, x: float, y: float, width: float, height: float) -> Area:
    """A filled rectangle with its upper left corner at (x, y), mm."""
    return Area(kind, colour, (freeze([(x, y), (x + width, y), (x + width, y + height), (x, y + height)]),))


def hairline(kind: str, colour: str, start: tuple[float, float], end: tuple[float, float], width: float) -> Area:
    """A straight line as a thin filled area, mm: for the background of a picture, which has no role."""
    a, b = np.array(start), np.array(end)
    along = b - a
    across = np.array((-along[1], along[0])) * (width / 2 / max(float(np.hypot(*along)), width))
    return Area(kind, colour, (freeze([a + across, b + across, b - across, a - across]),))


def rectangles(labels: Iterable[Label]) -> list[Polygon]:
    """What each text covers, mm; for turned text, its extents."""
    return list(box(*np.reshape([label.extent() for label in labels], (-1, 4)).T))


def circle(role: Role, x: float, y: float, radius: float, sides: int = 24) -> Stroke:
    """A circle as a closed polygon; 24 sides stay within 0.013 mm of a 3 mm pin hole's edge."""
    turn = np.linspace(0.0, 2 * np.pi, sides, endpoint=False)
    return Stroke(role, freeze(np.column_stack([x + radius * np.cos(turn), y + radius * np.sin(turn)])), closed=True)


def pin_hole(x: float, y: float, diameter: float) -> list[Stroke]:
    """A hole for a pin with a cross over it, mm."""
    arm = diameter / 2 + 1.5
    return [
        circle(Role.PIN, x, y, diameter / 2),
        line(Role.PIN, (x - arm, y), (x + arm, y)),
        line(Role.PIN, (x, y - arm), (x, y + arm)),
    ]
