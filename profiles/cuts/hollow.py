"""A hollow: the inside of a block that the wire takes out along inner outlines on both faces.

    section --walls.deep_inside--> wall line --outline's kerf, sign turned--> cut line, marks, slit

A block is hollowed from face to face or not at all, since a wire goes right through. Its inner outlines are paired as
outer ones are. Between the faces the wire goes straight; where that leaves less than the wall, both lines move in.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon

from profiles.blocks.blocks import Block, CutBlock, Face, Which
from profiles.blocks.outlines import Outline, as_multi, offset_outline
from profiles.blocks.pairing import Mark, Pairing, pair_faces, pair_faces_like
from profiles.blocks.ruled import RuledBlock, block_mesh, section_of, volume
from profiles.blocks.settings import BlockSettings
from profiles.cuts.settings import THIN_WALL, Hollow
from profiles.cuts.walls import Sections, deep_inside, depth_of
from profiles.hull.sections import Side
from profiles.hull.shape import Shape
from profiles.hull.surface import Mesh
from profiles.notes import Note, fact, warning
from profiles.units import length_text
from profiles.values import dataclass

NARROWEST = 6.0
"""mm; a wire and the hand that leads it do not turn in a hollow that is narrower."""

SMALLEST = 150.0
"""mm2; a smaller hollow is not worth a slit."""

CLOSE = 0.01
"""mm; points of an inner outline that keep it this near to all others are enough."""

SHARES = (0.25, 0.5, 0.75)
"""Where between the faces the wall is measured."""

SLIT_ASIDE = 8.0
"""mm from the middle of a hollow to its slit: clear of the datum line, of the marks at keel and deck, and of pins."""

TRIES = 3
"""How often both lines move in where the wall is too thin between the faces."""

FLAT = 0.1
"""mm; a wall this much thinner than asked for is no thinner: the accuracy that is promised."""


@dataclass(frozen=True, slots=True)
class Void:
    """A hollow in one block."""

    block: int
    walls: tuple[MultiPolygon, MultiPolygon]
    """(y, z) mm; its surface on the fore and on the aft face."""
    cuts: tuple[MultiPolygon, MultiPolygon]
    """The lines along which the wire is led there: moved in by kerf and wire."""
    marks: tuple[tuple[Mark, ...], tuple[Mark, ...]]
    slits: tuple[tuple[LineString, ...], tuple[LineString, ...]]
    ruled: RuledBlock
    """The hollow itself between the faces."""
    thinnest: float
    """mm; the wall measured square to the surface, up to 1.5 times what is asked for."""

    @property
    def solid(self) -> Mesh:
        """Its closed surface."""
        return block_mesh(self.ruled)

    @property
    def volume(self) -> float:
        """mm3."""
        return volume(self.ruled)


@dataclass(frozen=True, slots=True)
class _Task:
    hollow: Hollow
    name: str
    sections: Sections
    settings: BlockSettings


def voids_of(
    hollow: Hollow, name: str, shape: Shape, blocks: Sequence[Block], settings: BlockSettings
) -> tuple[list[Void], list[Note]]:
    """The hollow in every block that it goes through, and which blocks stay solid and why."""
    deck = hollow.wall if hollow.deck == "open" else 0.0
    task = _Task(hollow, name, Sections(shape, deck), settings)
    voids, notes = [], list[Note]()
    if hollow.wall < THIN_WALL:
        text = f"{name}: a wall of {length_text(hollow.wall)} breaks in the hand"
        text += f"; {THIN_WALL:g} mm is the least (common practice)"
        notes.append(warning(text))
    low = -np.inf if hollow.x_from is None else hollow.x_from
    high = np.inf if hollow.x_to is None else hollow.x_to
    for block in blocks:
        span, about = block.span, f"block {block.span.number:02d}"
        if not (low - 1e-6 <= span.x_fore and span.x_aft <= high + 1e-6):
            continue
        if any(span.x_fore <= x < span.x_aft for x in hollow.bulkheads):
            notes.append(fact(f"left solid in {name}, as a bulkhead", span.x_fore, about))
            continue
        if not isinstance(block, CutBlock):
            notes.append(fact(f"left solid in {name}, because a wire alone does not cut it", span.x_fore, about))
            continue
        void = _void_in(task, block)
        if void is None:
            notes.append(fact(f"left solid in {name}: the walls leave no room on one of its faces", span.x_fore, about))
        else:
            voids.append(void)
    return voids, notes


def _void_in(task: _Task, block: CutBlock) -> Void | None:
    more = 0.0
    void = None
    for _ in range(TRIES):
        made = _void_with(task, block, more)
        if made is None:
            return void
        void = made
        lacking = task.hollow.wall - void.thinnest
        if lacking <= FLAT:
            break
        more += lacking
    return void


def _void_with(task: _Task, block: CutBlock, more: float) -> Void | None:
    """The hollow whose walls on the faces are `more` mm thicker than asked for; None where no room is left."""
    span, skin = block.span, task.settings.skin
    depth = task.hollow.wall + skin + more
    places = ((span.x_fore + span.fore_inset, Side.AFT), (span.x_aft - span.aft_inset, Side.FORE))
    walls = [_largest(_floored(task, deep_inside(task.sections, x, side, depth), x, side, depth)) for x, side in places]
    if any(wall.is_empty for wall in walls):
        return None
    pairing = pair_faces(walls[0], walls[1], task.settings.marks)
    if pairing.unpaired or not pairing.rings:
        return None
    edge = task.settings.allowances.edge
    cuts = [offset_outline(wall, -edge) for wall in walls]
    on_cuts = pairing
    if edge:
        on_cuts = pair_faces_like(pairing.rings, cuts[0], cuts[1], task.settings.marks) or pair_faces(
            cuts[0], cuts[1], task.settings.marks
        )
    if any(cut.is_empty for cut in cuts) or on_cuts.unpaired:
        return None
    ruled = RuledBlock(span.x_fore, span.x_aft, pairing.rings)
    closed = task.hollow.deck == "closed"
    slits = [
        (_slit(cut, face.outline.cut, task.hollow.slit),) if closed else ()
        for cut, face in zip(cuts, block.faces, strict=True)
    ]
    return Void(
        span.number,
        (walls[0], walls[1]),
        (cuts[0], cuts[1]),
        _turned(on_cuts),
        (slits[0], slits[1]),
        ruled,
        _thinnest(task, ruled, more),
    )


def _floored(task: _Task, region: MultiPolygon, x: float, side: Side, depth: float) -> MultiPolygon:
    """The region above the floor; under an open deck it goes up beyond the deck."""
    whole = task.sections.at(x, side)
    if region.is_empty or whole.is_empty:
        return MultiPolygon()
    y_low, z_low, y_high, top = whole.bounds
    floor = z_low + (depth if task.hollow.floor is None else task.hollow.floor + task.settings.skin)
    if task.hollow.floor is None:
        floor = -np.inf  # the wall goes on all round
    if task.hollow.deck == "open":
        upper = min(top - task.sections.added + depth, region.bounds[3])
        region = as_multi(region.intersection(shapely.box(y_low - 1, z_low, y_high + 1, upper)))
    if np.isfinite(floor):
        region = as_multi(region.intersection(shapely.box(y_low - 1, floor, y_high + 1, top + 2 * depth)))
    return region


def _largest(region: MultiPolygon) -> MultiPolygon:
    """The largest part that a wire can follow, through few points; empty without one."""
    parts = [
        Polygon(part.exterior)
        for part in as_multi(region).geoms
        if part.area >= SMALLEST and not part.buffer(-NARROWEST / 2).is_empty
    ]
    if not parts:
        return MultiPolygon()
    return as_multi(max(parts, key=lambda part: part.area).simplify(CLOSE))


def _turned(pairing: Pairing) -> tuple[tuple[Mark, ...], tuple[Mark, ...]]:
    """The marks of a hollow: their ticks point away from it, into the material."""
    fore, aft = (
        tuple(replace(mark, inward=(-mark.inward[0], -mark.inward[1])) for mark in marks)
        for marks in (pairing.fore, pairing.aft)
    )
    return fore, aft


def _slit(cut: MultiPolygon, outline: MultiPolygon, side: str) -> LineString:
    """The straight way of the wire from outside to the hollow, in the middle of one side."""
    y_low, z_low, y_high, z_high = outline.bounds
    left, low, right, high = cut.bounds
    y = (left + right) / 2 + min(SLIT_ASIDE, (right - left) / 6)
    z = (low + high) / 2
    far = {
        "deck": [(y, z), (y, z_high + 1)],
        "keel": [(y, z), (y, z_low - 1)],
        "port": [(y, z), (y_low - 1, z)],
        "starboard": [(y, z), (y_high + 1, z)],
    }[side]
    ray = LineString(far)
    parts = shapely.get_parts(ray.intersection(outline).difference(cut)).tolist()
    runs = [part for part in parts if isinstance(part, LineString) and part.length > 0]
    return max(runs, key=lambda part: part.length)


def _thinnest(task: _Task, ruled: RuledBlock, more: float) -> float:
    """The least wall on the faces and between them, square to the surface, without the skin."""
    skin = task.settings.skin
    reach = 1.5 * task.hollow.wall + skin + more
    least = reach
    for share in SHARES:
        x = ruled.x_fore + share * ruled.thickness
        hollow = section_of(ruled, share)
        if task.hollow.deck == "open":
            whole = task.sections.at(x, Side.FORE)
            if whole.is_empty:
                return 0.0
            _, low, _, top = whole.bounds
            hollow = as_multi(hollow.intersection(shapely.box(-1e6, low - 1e3, 1e6, top - task.sections.added)))
        if task.hollow.floor is not None and not hollow.is_empty:
            bottom = hollow.bounds[1]
            hollow = as_multi(hollow.intersection(shapely.box(-1e6, bottom + reach, 1e6, 1e6)))
        points = shapely.get_coordinates(hollow)
        if len(points):
            least = min(least, float(depth_of(task.sections, x, points, reach).min()))
    return least - skin


def notch_in(region: Polygon, block: CutBlock, settings: BlockSettings) -> Void | None:
    """A notch with one outline (y, z) mm on both faces, which goes out through the surface; None where it cannot be."""
    wall = MultiPolygon([region])
    edge = settings.allowances.edge
    cut = offset_outline(wall, -edge)
    walls, cuts = pair_faces(wall, wall, settings.marks), pair_faces(cut, cut, settings.marks)
    if cut.is_empty or any(
        cut.contains(face.outline.cut) or not cut.intersects(face.outline.cut) for face in block.faces
    ):
        return None
    ruled = RuledBlock(block.span.x_fore, block.span.x_aft, walls.rings)
    return Void(block.span.number, (wall, wall), (cut, cut), _turned(cuts), ((), ()), ruled, math.inf)


def with_void(block: Block, void: Void) -> Block:
    """The block with a hollow or a notch on both faces, and the marks of all outlines."""
    marks = paired_marks(block, void)
    fore, aft = (
        replace(hollowed_face(face, void), marks=numbers) for face, numbers in zip(block.faces, marks, strict=True)
    )
    return replace(block, fore=fore, aft=aft)


def void_notes(void: Void, hollow: Hollow, name: str) -> list[Note]:
    """A wall that is thinner than asked for."""
    if void.thinnest < hollow.wall - FLAT:
        text = f"{name}: the wall is {void.thinnest:.1f} mm at its thinnest; {hollow.wall:g} mm is asked for"
        return [warning(text, void.ruled.x_fore, f"block {void.block:02d}")]
    return []


def hollowed_face(face: Face, void: Void) -> Face:
    """The face with its inner outline: its lines less the hollow, and the marks of both.

    Marks of the outer outline that lie in the hollow are left out, and those of the hollow beyond the outline: on both
    faces, so that numbers still pair.
    """
    n = 0 if face.which is Which.FORE else 1
    wall, cut, outline = void.walls[n], void.cuts[n], face.outline
    less = Outline(
        as_multi(outline.finished.difference(wall)),
        as_multi(outline.foam.difference(wall)),
        as_multi(outline.cut.difference(cut)),
    )
    return replace(face, outline=less, into=replace(face.into, slits=(*face.into.slits, *void.slits[n])))


def paired_marks(block: Block, void: Void) -> tuple[tuple[Mark, ...], tuple[Mark, ...]]:
    """The marks of both faces of a hollowed block, outer ones first, with numbers that run on."""
    outer = [(face.marks, cut) for face, cut in zip(block.faces, void.cuts, strict=True)]
    kept_out = {
        mark.number for marks, cut in outer for mark in marks if cut.distance(shapely.Point(mark.y, mark.z)) == 0.0
    }
    inner = [(marks, face.outline.cut) for marks, face in zip(void.marks, block.faces, strict=True)]
    beyond = {mark.number for marks, cut in inner for mark in marks if not cut.covers(shapely.Point(mark.y, mark.z))}
    last = max((mark.number for marks, _ in outer for mark in marks), default=0)
    both = [
        (
            *(mark for mark in marks if mark.number not in kept_out),
            *(replace(mark, number=mark.number + last) for mark in inside if mark.number not in beyond),
        )
        for (marks, _), (inside, _) in zip(outer, inner, strict=True)
    ]
    return both[0], both[1]
