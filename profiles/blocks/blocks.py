"""Hull + station plan -> blocks: two faces each, with outlines, marks, pins and box."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np

from profiles.blocks.outlines import Allowances, BlockBox, Outline, Pin, box_round, outline_of, pins_for
from profiles.blocks.pairing import Mark, pair_faces
from profiles.blocks.stations import Span, StationPlan
from profiles.errors import JobError
from profiles.hull.sections import Section, Side, section
from profiles.hull.surface import Surface
from profiles.notes import Note, mend, warning


class Which(StrEnum):
    """Which face of a block: the one towards the nose or the one towards the tail."""

    FORE = "fore"
    AFT = "aft"


@dataclass(frozen=True, slots=True)
class BlockSettings:
    """How blocks and templates are laid out; lengths in mm."""

    allowances: Allowances = field(default_factory=Allowances)
    allowance: float = 5.0
    """Least foam round the outline on every side of the block."""
    common_box: bool = True
    """One box for all blocks; otherwise each has its own."""
    pin: float = 3.0
    """Diameter of the pin holes."""
    mark_spacing: float | None = None
    """Distance between numbered marks; None chooses by the size of the outline."""


@dataclass(frozen=True, slots=True)
class Face:
    """One face of a block."""

    block: int
    which: Which
    x: float
    """mm aft of the foremost point."""
    outline: Outline
    marks: tuple[Mark, ...]

    @property
    def id(self) -> str:
        """Number and face: "03 fore"."""
        return f"{self.block:02d} {self.which}"

    @property
    def has_template(self) -> bool:
        """A face without area (a pointed tip) has none."""
        return not self.outline.cut.is_empty


@dataclass(frozen=True, slots=True)
class Block:
    """One foam block."""

    span: Span
    fore: Face
    aft: Face
    box: BlockBox
    pins: tuple[Pin, ...]
    notes: tuple[Note, ...]

    @property
    def faces(self) -> tuple[Face, Face]:
        """Fore, then aft."""
        return self.fore, self.aft


def make_blocks(surface: Surface, plan: StationPlan, settings: BlockSettings) -> tuple[Block, ...]:
    """The blocks of a plan, from the nose.

    Each block's fore face is the section just aft of its forward station, its aft face the one just forward of its
    after station. Raises HullError where a section cannot be closed, JobError when no station has any area.
    """
    blocks = [_block(surface, span, settings) for span in plan.spans]
    shapes = [face.outline.cut for block in blocks for face in block.faces if face.has_template]
    if not shapes:
        message = (
            f"no station of the plan ({len(plan.stations)} stations, foam {plan.foam:g} mm) cuts the hull with "
            "any area left after the allowances"
        )
        raise JobError(message, remedy="Take thinner foam, put a station in the middle with --break, or less --skin.")
    common = box_round(shapes, settings.allowance)
    if settings.common_box:
        return tuple(replace(block, box=common) for block in blocks)
    return tuple(replace(block, box=_own_box(block, settings.allowance) or common) for block in blocks)


def _own_box(block: Block, allowance: float) -> BlockBox | None:
    shapes = [face.outline.cut for face in block.faces if face.has_template]
    return box_round(shapes, allowance) if shapes else None


_NO_BOX = BlockBox(0.0, 0.0, 0.0, 0.0)


def _block(surface: Surface, span: Span, settings: BlockSettings) -> Block:
    ends = _ends(surface, span)
    fore, aft = (outline_of(end.region, settings.allowances) for end in ends)
    pairing = pair_faces(fore.cut, aft.cut, settings.mark_spacing)
    with_area = [outline.cut for outline in (fore, aft) if not outline.cut.is_empty]
    pins = pins_for(with_area, settings.pin) if with_area else ()
    faces = (
        Face(span.number, Which.FORE, span.x_fore, fore, pairing.fore),
        Face(span.number, Which.AFT, span.x_aft, aft, pairing.aft),
    )
    notes = tuple(_told(span, faces, ends, pairing.unpaired, pins))
    return Block(span, *faces, box=_NO_BOX, pins=pins, notes=notes)


BLUNT = 0.1
"""mm; how far inside a hull's very end its face is taken when the end is nearly a wall: less than a pencil line."""

BLUNT_SHARE = 0.02
"""Of breadth x depth; an end that shows this much area within BLUNT is a wall with a slight camber and not a point: a
sphere as deep as the hull shows 0.2 mm x pi x depth / 2 there, under this from 16 mm depth on."""


def _ends(surface: Surface, span: Span) -> tuple[Section, Section]:
    """The block's two sections: the limits from inside it; at a slightly cambered end of the hull just inside that."""
    fore = section(surface, span.x_fore, Side.AFT)
    aft = section(surface, span.x_aft, Side.FORE)
    low, high = surface.bounds
    least = BLUNT_SHARE * float(np.prod((high - low)[1:]))
    if span.x_fore <= low[0]:
        fore = _blunt(surface, fore, span.x_fore + BLUNT, least)
    if span.x_aft >= high[0]:
        aft = _blunt(surface, aft, span.x_aft - BLUNT, least)
    return fore, aft


def _blunt(surface: Surface, end: Section, inside: float, least: float) -> Section:
    nearby = section(surface, inside, end.side)
    return nearby if nearby.region.area > max(least, 1.5 * end.region.area) else end


def _told(
    span: Span, faces: tuple[Face, Face], ends: tuple[Section, Section], unpaired: int, pins: tuple[Pin, ...]
) -> Iterator[Note]:
    for face, end in zip(faces, ends, strict=True):
        if end.x != face.x:
            yield mend(f"the hull ends in a cambered wall; the outline is taken at x = {end.x:.2f} mm", face.x, face.id)
        if end.gaps:
            yield mend(f"{len(end.gaps)} gap(s) bridged, widest {max(end.gaps):.3f} mm", end.x, face.id)
        if end.sheets:
            yield mend("a wall without thickness is left out", end.x, face.id)
        if end.region.is_empty:
            yield warning("the hull comes to a point or an edge here; the face has no template", end.x, face.id)
        elif not face.has_template:
            yield warning("the skin uses up the whole outline; the face has no template", end.x, face.id)
        elif len(face.outline.cut.geoms) != len(face.outline.finished.geoms):
            yield warning("the allowances change the number of pieces; look at the template", end.x, face.id)
    block = f"block {span.number:02d}"
    if unpaired:
        text = (
            "the outline has pieces or hollows on one face only; a wire cannot follow that. "
            "Put a station where it splits with --break"
        )
        yield warning(text, span.x_fore, block)
    if any(face.has_template for face in faces) and not pins:
        text = "no room for two pin holes that go through both faces; line the templates up by the box and the datum"
        yield warning(text, span.x_fore, block)
