"""Hull + station plan -> blocks: two faces each, with outlines, marks, pins and box."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import partial

import numpy as np
import shapely
from shapely import MultiPolygon

from profiles.beside import Submit, here, shared
from profiles.blocks.depth import points_between
from profiles.blocks.growth import Grown
from profiles.blocks.growth import grown as grown_outlines
from profiles.blocks.hull_sections import Cut, hull_cut, hull_inside
from profiles.blocks.outlines import Allowances, BlockBox, Outline, Pin, box_round, outline_of, pins_for
from profiles.blocks.pairing import Mark, Pairing, pair_faces
from profiles.blocks.splits import split_x
from profiles.blocks.stations import Span, StationPlan
from profiles.blocks.tips import Tip, tip_of
from profiles.errors import JobError
from profiles.hull.sections import Section, Side, section
from profiles.hull.surface import Surface
from profiles.notes import Note, fact, repair, warning


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
    growth: float | None = None
    """How far the outlines are moved outwards; None is the least with which no foam is missing in a block."""
    gauges: tuple[float, ...] = ()
    """Places of the gauges for tip blocks, mm aft of the foremost point; none are proposed by the shape."""


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
    grown: Grown | None = None
    """The solid that the wire leaves and its deviation from the hull; None where a face has no area."""
    tip: Tip | None = None
    """What the block is carved by, where two templates do not do."""

    @property
    def faces(self) -> tuple[Face, Face]:
        """Fore, then aft."""
        return self.fore, self.aft


def make_blocks(
    surface: Surface, plan: StationPlan, settings: BlockSettings, submit: Submit = here
) -> tuple[Block, ...]:
    """The blocks of a plan, from the nose; `submit` may have some of them made elsewhere.

    Each block's fore face is the section just aft of its forward station, its aft face the one just forward of its
    after station. Raises HullError where a section cannot be closed, JobError when no station has any area.
    """
    blocks = shared(submit, partial(blocks_between, surface, settings), plan.spans)
    shapes = [shape for block in blocks for shape in _shapes(block)]
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


def blocks_between(surface: Surface, settings: BlockSettings, spans: Sequence[Span]) -> list[Block]:
    """Blocks that have no box yet."""
    cut = hull_cut(surface)
    return [_block(surface, cut, span, settings) for span in spans]


def _own_box(block: Block, allowance: float) -> BlockBox | None:
    shapes = _shapes(block)
    return box_round(shapes, allowance) if shapes else None


def _shapes(block: Block) -> list[shapely.Geometry]:
    """What the block's box must hold."""
    shapes: list[shapely.Geometry] = [face.outline.cut for face in block.faces if face.has_template]
    if block.tip and not block.tip.reach.is_empty:
        shapes.append(block.tip.reach)
    return shapes


_NO_BOX = BlockBox(0.0, 0.0, 0.0, 0.0)


def _block(surface: Surface, cut: Cut, span: Span, settings: BlockSettings) -> Block:
    ends = _ends(surface, span)
    finished = (ends[0].region, ends[1].region)
    grown = _grown(surface, cut, span, finished, settings)
    foam = (grown.fore, grown.aft) if grown else finished
    outlines = [
        Outline(region, outline_of(shape, settings.allowances).cut)
        for region, shape in zip(finished, foam, strict=True)
    ]
    fore, aft = outlines
    pairing = _pairing(cut, span, grown, fore.cut, aft.cut, settings)
    with_area = [outline.cut for outline in outlines if not outline.cut.is_empty]
    pins = pins_for(with_area, settings.pin) if with_area else ()
    faces = (
        Face(span.number, Which.FORE, span.x_fore, fore, pairing.fore),
        Face(span.number, Which.AFT, span.x_aft, aft, pairing.aft),
    )
    carved = len(with_area) == 1 or (grown is not None and grown.hopeless and not pairing.unpaired)
    tip = None
    if carved:
        tip = tip_of(surface, span, settings.gauges, allowances=settings.allowances, mark_spacing=settings.mark_spacing)
    notes = [*_told(surface, span, faces, ends, pairing.unpaired, pins), *(tip.notes if tip else ())]
    return Block(span, *faces, box=_NO_BOX, pins=pins, notes=tuple(notes), grown=grown, tip=tip)


def _grown(
    surface: Surface, cut: Cut, span: Span, finished: tuple[MultiPolygon, MultiPolygon], settings: BlockSettings
) -> Grown | None:
    """What the wire leaves between two faces with area, grown as wished."""
    if any(region.is_empty for region in finished):
        return None
    return grown_between(surface, cut, span.x_fore, span.x_aft, finished, settings.growth, settings.mark_spacing)


def grown_between(
    surface: Surface,
    cut: Cut,
    x_fore: float,
    x_aft: float,
    finished: tuple[MultiPolygon, MultiPolygon],
    growth: float | None,
    spacing: float | None = None,
) -> Grown:
    """The block between two stations with area on both faces; `growth` None is the least with no foam missing, mm."""
    inside = hull_inside(cut, x_fore, x_aft, *finished)
    points = points_between(surface, x_fore, x_aft)
    return grown_outlines(*finished, inside, growth=growth, spacing=spacing, cut=cut, points=points)


def _pairing(
    cut: Cut, span: Span, grown: Grown | None, fore: MultiPolygon, aft: MultiPolygon, settings: BlockSettings
) -> Pairing:
    if grown is None:
        return pair_faces(fore, aft, settings.mark_spacing)
    if settings.allowances == Allowances():
        return grown.pairing
    inside = hull_inside(cut, span.x_fore, span.x_aft, fore, aft)
    return pair_faces(fore, aft, settings.mark_spacing, inside.between, grown.pairing.rings)


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
    surface: Surface,
    span: Span,
    faces: tuple[Face, Face],
    ends: tuple[Section, Section],
    unpaired: int,
    pins: tuple[Pin, ...],
) -> Iterator[Note]:
    for face, end in zip(faces, ends, strict=True):
        if end.x != face.x:
            yield repair(
                f"the hull ends in a cambered wall; the outline is taken at x = {end.x:.2f} mm", face.x, face.id
            )
        if end.gaps:
            yield repair(f"{len(end.gaps)} gap(s) bridged, widest {max(end.gaps):.3f} mm", end.x, face.id)
        if end.sheets:
            yield repair("a wall without thickness is left out", end.x, face.id)
        if end.region.is_empty:
            yield fact("the hull comes to a point or an edge here; the face has no template", end.x, face.id)
        elif not face.has_template:
            yield warning("the skin uses up the whole outline; the face has no template", end.x, face.id)
        elif len(face.outline.cut.geoms) != len(face.outline.finished.geoms):
            yield warning("the allowances change the number of pieces; look at the template", end.x, face.id)
    block = f"block {span.number:02d}"
    if unpaired:
        places = split_x(surface, span.x_fore, span.x_aft)
        remedy = "Put a station where it splits: " + " ".join(f"--break {x:.1f}" for x in places) if places else ""
        text = f"the outline has pieces or hollows on one face only; a wire cannot follow that. {remedy}".rstrip()
        yield warning(text, span.x_fore, block)
    if any(face.has_template for face in faces) and not pins:
        text = "no room for two pin holes that go through both faces; line the templates up by the box and the datum"
        yield warning(text, span.x_fore, block)
