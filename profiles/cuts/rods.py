"""Rods: a straight line through blocks, its hole on every face, and a line proposed where none is given.

A rod of diameter d whose direction is (1, b, c) meets a plane across the hull in an ellipse: its axis along (b, c) is
d sqrt(1 + b^2 + c^2), the other d.
"""

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon

from profiles.arrays import Floats
from profiles.blocks.blocks import Block, Face
from profiles.blocks.cut_into import Hole
from profiles.cuts.settings import Rod
from profiles.cuts.solids import tube
from profiles.errors import JobError
from profiles.hull.sections import Side
from profiles.hull.shape import Shape
from profiles.hull.surface import Mesh
from profiles.notes import Note, assumption, fact, warning
from profiles.units import length_text, number_runs, short_length
from profiles.values import dataclass

SIDES = 120
"""Corners of a hole: within 0.004 mm of one of 20 mm."""

SAME_PLACE = 1e-6
"""mm along the hull; two planes nearer than this are one."""

SEARCHES = 80
"""Steps of the search for the slope of a line: its last step is finer than a millionth."""

LEVEL = 0.5
"""Share of the room of the best line that a level one must have to be taken instead: it is easier to drill."""

PLACES = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Where in a block, from face to face, a rod must be inside the hull."""


@dataclass(frozen=True, slots=True)
class Line:
    """A rod in its place."""

    name: str
    diameter: float
    start: tuple[float, float, float]
    """mm from the nose, to starboard, above the datum."""
    end: tuple[float, float, float]
    proposed: bool = False

    @property
    def slope(self) -> tuple[float, float]:
        """Mm to starboard and up for each mm aft."""
        run = self.end[0] - self.start[0]
        return (self.end[1] - self.start[1]) / run, (self.end[2] - self.start[2]) / run

    @property
    def length(self) -> float:
        """Mm."""
        return math.dist(self.start, self.end)

    @property
    def degrees(self) -> float:
        """Its angle to the length of the hull."""
        return math.degrees(math.atan(math.hypot(*self.slope)))

    def centre(self, x: float) -> tuple[float, float]:
        """(y, z) mm at x mm."""
        along = x - self.start[0]
        return self.start[1] + along * self.slope[0], self.start[2] + along * self.slope[1]

    def ring(self, x: float, more: float = 0.0) -> Floats:
        """(SIDES, 2) mm: its hole in the plane at x mm, `more` mm wider all round."""
        b, c = self.slope
        steep = math.hypot(b, c)
        radius = self.diameter / 2 + more
        turn = 2 * np.pi * np.arange(SIDES) / SIDES
        along, across = radius * math.sqrt(1 + steep**2) * np.cos(turn), radius * np.sin(turn)
        u = (b / steep, c / steep) if steep > 0 else (0.0, 1.0)
        return np.asarray(np.array(self.centre(x)) + np.outer(along, u) + np.outer(across, (-u[1], u[0])))

    def passes(self, x: float) -> bool:
        """Whether it goes through the plane at x mm."""
        return self.start[0] - SAME_PLACE <= x <= self.end[0] + SAME_PLACE


def hole_on(line: Line, face: Face) -> Hole | None:
    """The hole on a face; None where the rod does not go through it."""
    if not line.passes(face.x):
        return None
    y, z = line.centre(face.x)
    return Hole(line.name, Polygon(line.ring(face.x)), (y, z), f"{line.name} {short_length(line.diameter)}")


def solid_in(line: Line, block: Block) -> list[Mesh]:
    """What the rod takes out of a block."""
    low, high = max(line.start[0], block.span.x_fore), min(line.end[0], block.span.x_aft)
    if high - low <= SAME_PLACE:
        return []
    return [tube(*(np.column_stack([np.full(SIDES, x), line.ring(x)]) for x in (low, high)))]


def check_inside(line: Line, shape: Shape, blocks: Sequence[Block]) -> None:
    """Raise JobError where a rod leaves the hull."""
    low, high = shape.bounds
    for block in blocks:
        span = block.span
        for share in PLACES:
            x = span.x_fore + share * span.thickness
            if not line.passes(x) or not low[0] < x < high[0]:
                continue
            region = shape.section(x, Side.FORE if share == 1.0 else Side.AFT).region
            if not region.covers(Polygon(line.ring(x))):
                y, z = line.centre(x)
                message = f"{line.name} leaves the hull at x = {x:.1f} mm, where it is at y = {y:.1f}, z = {z:.1f} mm"
                raise JobError(message, remedy="Move its start or end, or leave out both for a proposal.")
    if line.start[0] < low[0] - SAME_PLACE or line.end[0] > high[0] + SAME_PLACE:
        message = (
            f"{line.name} goes from x = {line.start[0]:g} to {line.end[0]:g} mm; the hull ends at {high[0]:.1f} mm"
        )
        raise JobError(message, remedy="Let it start and end inside the hull.")


def lines_of(rod: Rod, number: int, shape: Shape, blocks: Sequence[Block]) -> tuple[list[Line], list[Note]]:
    """A rod in its place, as given or proposed; two that overlap where no single line is well inside.

    Raises JobError for a rod that leaves the hull, blocks that are not there, and where no line is found.
    """
    name = rod.name or f"rod {number}"
    if rod.start and rod.end:
        line = Line(name, rod.diameter, rod.start, rod.end)
        check_inside(line, shape, blocks)
        return [line], []
    chosen = _chosen(rod, name, shape, blocks)
    lines = propose(rod, name, shape, chosen)
    if not lines:
        runs = number_runs([block.span.number for block in chosen])
        message = (
            f"{name}: no straight line {length_text(rod.diameter)} thick runs {rod.clear:g} mm inside blocks {runs}"
        )
        raise JobError(message, remedy="Name fewer blocks, or give a thinner rod or a smaller clear.")
    return lines, [_proposal(line, rod, blocks) for line in lines]


def _proposal(line: Line, rod: Rod, blocks: Sequence[Block]) -> Note:
    through = number_runs([block.span.number for block in blocks if solid_in(line, block)])
    ends = " to ".join(f"{x:.1f}, {y:.1f}, {z:.1f}" for x, y, z in (line.start, line.end))
    text = f"{line.name} of {length_text(line.diameter)} from x, y, z = {ends}, through blocks {through}"
    return assumption(f"{text}, at least {rod.clear:g} mm inside. Override with start and end")


def _chosen(rod: Rod, name: str, shape: Shape, blocks: Sequence[Block]) -> list[Block]:
    """The blocks that a proposed rod goes through: those named, or the most that follow each other and have room for it
    in the centre plane. Raises JobError for a block that is not there, or where none has room.
    """
    known = [block.span.number for block in blocks]
    missing = [number for number in rod.blocks if number not in known]
    if missing:
        message = f"{name}: there is no block {number_runs(missing)}; the plan has blocks {number_runs(known)}"
        raise JobError(message, remedy="Give numbers of this plan.")
    if rod.blocks:
        return [block for block in blocks if rod.blocks[0] <= block.span.number <= rod.blocks[-1]]
    margin = rod.diameter / 2 + rod.clear
    runs: list[list[Block]] = [[]]
    for block in blocks:
        planes = _planes(shape, [block])
        if len(_rooms(planes, margin, 0.0)) == len(planes):
            runs[-1].append(block)
        else:
            runs.append([])
    longest = max(runs, key=len)
    if not longest:
        message = f"{name}: no block has room for a rod of {rod.diameter:g} mm with {rod.clear:g} mm of foam round it"
        raise JobError(message, remedy="Give a thinner rod or a smaller clear.")
    return longest


@dataclass(frozen=True, slots=True)
class _Room:
    """Where the middle of a rod may be in one plane, on an upright line."""

    x: float
    low: float
    high: float


def propose(rod: Rod, name: str, shape: Shape, blocks: Sequence[Block]) -> list[Line]:
    """One straight line in the centre plane that is well inside all sections, level where that is as good; else two
    that overlap in a block at least and lie beside each other there. Empty where there is neither.
    """
    margin = rod.diameter / 2 + rod.clear
    planes = [_planes(shape, [block]) for block in blocks]
    rooms = [_rooms(each, margin, 0.0) for each in planes]
    single = _spanning(rooms, blocks, 0, len(blocks) - 1, 0.0, rod, name)
    if single:
        return [single]
    for aside in (0.0, (rod.diameter + rod.clear) / 2):
        both = [[_rooms(each, margin, y) for each in planes] for y in (-aside, aside)]
        pair = _two_lines((both[0], both[1]), blocks, aside, rod, name)
        if pair:
            return pair
    return []


Rooms = Sequence[Sequence["_Room"]]
"""By block, from face to face."""


def _two_lines(rooms: tuple[Rooms, Rooms], blocks: Sequence[Block], aside: float, rod: Rod, name: str) -> list[Line]:
    """The longest line from the first block, `aside` mm to port, and the longest from the last, as far to starboard,
    that share a block.
    """
    last = len(blocks) - 1
    for k in range(last, -1, -1):
        first = _spanning(rooms[0], blocks, 0, k, -aside, rod, f"{name}a")
        if first is None:
            continue
        for n in range(k + 1):
            second = _spanning(rooms[1], blocks, n, last, aside, rod, f"{name}b")
            span = blocks[n].span.x_fore, blocks[k].span.x_aft
            if second is not None and _apart(first, second, *span) >= rod.diameter + rod.clear / 2:
                return [first, second]
        return []
    return []


def _apart(first: Line, second: Line, x_fore: float, x_aft: float) -> float:
    """The least distance of two lines between two planes, mm."""
    places = np.linspace(x_fore, x_aft, 9).tolist()
    return min(math.dist(first.centre(x), second.centre(x)) for x in places)


def _spanning(
    rooms: Rooms, blocks: Sequence[Block], first: int, last: int, y: float, rod: Rod, name: str
) -> Line | None:
    """A line from one block to another, where every plane of all blocks between has room."""
    here = rooms[first : last + 1]
    if any(len(block) < len(PLACES) for block in here):
        return None
    ends = blocks[first].span.x_fore, blocks[last].span.x_aft
    return _line_through([room for block in here for room in block], *ends, y, rod, name)


def _planes(shape: Shape, blocks: Sequence[Block]) -> list[tuple[float, MultiPolygon]]:
    """The sections that a rod must be inside, at both faces of every block and between them."""
    planes = []
    for block in blocks:
        for share in PLACES:
            x = block.span.x_fore + share * block.span.thickness
            face = block.fore if share == 0.0 else block.aft
            region = face.outline.foam if share in {0.0, 1.0} else shape.section(x, Side.AFT).region
            planes.append((x, region))
    return planes


def _rooms(planes: Sequence[tuple[float, MultiPolygon]], margin: float, y: float) -> list[_Room]:
    """The longest stretch of the upright line at y that is `margin` mm inside each section; planes without are left
    out.
    """
    rooms = []
    for x, region in planes:
        inside = region.buffer(-margin)
        if inside.is_empty:
            continue
        _, low, _, high = inside.bounds
        cut = shapely.get_parts(inside.intersection(LineString([(y, low - 1), (y, high + 1)]))).tolist()
        runs = [piece for piece in cut if isinstance(piece, LineString) and piece.length > 0]
        if runs:
            _, bottom, _, top = max(runs, key=lambda piece: piece.length).bounds
            rooms.append(_Room(x, bottom, top))
    return rooms


def _line_through(rooms: Sequence[_Room], x_fore: float, x_aft: float, y: float, rod: Rod, name: str) -> Line | None:
    """The line that keeps farthest from both ends of all stretches; None where none fits.

    For a slope b the room is min(high - b x) - max(low - b x), a concave function of b, so thirds find its maximum.
    """
    x, low, high = (np.array([getattr(room, key) for room in rooms]) for key in ("x", "low", "high"))

    def room(slope: float) -> float:
        return float((high - slope * x).min() - (low - slope * x).max())

    reach = float(high.max() - low.min()) / max(float(np.ptp(x)), 1.0)
    left, right = -reach, reach
    for _ in range(SEARCHES):
        one, other = left + (right - left) / 3, right - (right - left) / 3
        left, right = (one, right) if room(one) < room(other) else (left, other)
    slope = (left + right) / 2
    if room(0.0) >= max(LEVEL * room(slope), 0.0):
        slope = 0.0
    if room(slope) < 0:
        return None
    height = float((high - slope * x).min() + (low - slope * x).max()) / 2
    level = round(height)
    if slope == 0.0 and float(low.max()) <= level <= float(high.min()):
        height = float(level)
    start, end = ((place, y, height + slope * place) for place in (x_fore, x_aft))
    return Line(name, rod.diameter, start, end, proposed=True)


def wall_notes(line: Line, block: Block, clear: float) -> list[Note]:
    """A hole that is nearer to the edge of a face than it should be."""
    notes = []
    for face in block.faces:
        hole = Polygon(line.ring(face.x))
        if line.passes(face.x) and face.has_template and hole.intersects(face.outline.foam):
            room = 0.0 if not face.outline.foam.covers(hole) else face.outline.foam.boundary.distance(hole)
            if room < clear:
                text = f"{line.name} runs {room:.1f} mm from the edge; {clear:g} mm is wanted. The foam may break there"
                notes.append(warning(text, face.x, face.id))
    return notes


def end_notes(line: Line, blocks: Sequence[Block]) -> list[Note]:
    """Where a rod ends inside a block: the depth to drill."""
    notes = []
    for block in blocks:
        span = block.span
        for x, from_face in ((line.start[0], span.x_aft), (line.end[0], span.x_fore)):
            if span.x_fore + SAME_PLACE < x < span.x_aft - SAME_PLACE:
                depth = abs(x - from_face) * math.sqrt(1 + sum(slope**2 for slope in line.slope))
                side = "aft" if from_face == span.x_aft else "fore"
                notes.append(
                    fact(
                        f"{line.name} ends here: drill {depth:.1f} mm deep from the {side} face",
                        x,
                        f"block {span.number:02d}",
                    )
                )
    return notes
