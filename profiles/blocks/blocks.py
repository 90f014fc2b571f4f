"""Hull + station plan -> blocks: two faces each, with outlines, marks, pins and box."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from enum import StrEnum

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
    ends = (section(surface, span.x_fore, Side.AFT), section(surface, span.x_aft, Side.FORE))
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


def _told(
    span: Span, faces: tuple[Face, Face], ends: tuple[Section, Section], unpaired: int, pins: tuple[Pin, ...]
) -> Iterator[Note]:
    for face, end in zip(faces, ends, strict=True):
        if end.gaps:
            yield mend(f"{face.id}: {len(end.gaps)} gap(s) bridged, widest {max(end.gaps):.3f} mm", end.x)
        if end.sheets:
            yield mend(f"{face.id}: {end.sheets} wall(s) without thickness left out", end.x)
        if end.region.is_empty:
            yield warning(f"{face.id}: the hull comes to a point or an edge here; the face has no template", end.x)
        elif not face.has_template:
            yield warning(f"{face.id}: the skin uses up the whole outline; the face has no template", end.x)
        elif len(face.outline.cut.geoms) != len(face.outline.finished.geoms):
            yield warning(f"{face.id}: the allowances change the number of pieces; look at the template", end.x)
    if unpaired:
        yield warning(
            f"block {span.number:02d}: the outline has {unpaired} piece(s) or hollow(s) on one face only; "
            "a wire cannot follow that. Put a station where it splits with --break",
            span.x_fore,
        )
    if any(face.has_template for face in faces) and not pins:
        yield warning(
            f"block {span.number:02d}: no room for two pin holes that go through both faces; "
            "line its templates up by the box and the datum",
            span.x_fore,
        )
