"""Make blocks: hull + station plan -> blocks with two faces each, outlines, marks, pins and box.

    Span --make_unboxed--> UnboxedBlock --with_box--> CutBlock       a wire cuts it along two templates
                                                  or  CarvedBlock    it is carved to profiles and gauges
                                                  or  Block          neither face has an outline; it keeps its box

`must_carve` decides which blocks are carved.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import field, replace
from enum import StrEnum

import numpy as np
import shapely
from shapely import MultiPolygon

from profiles.blocks.cut_into import CutInto, FaceCuts
from profiles.blocks.growth import MOST_SANDED, GrownBlock
from profiles.blocks.hull_sections import Cut, hull_cut, hull_inside
from profiles.blocks.outlines import BlockBox, Outline, Pin, offset_outline, pins_for
from profiles.blocks.pairing import Hands, Mark, Pairing, pair_faces
from profiles.blocks.piece_growth import Grow, grow_by_pieces
from profiles.blocks.ruled import RuledBlock
from profiles.blocks.settings import Allowances, BlockSettings
from profiles.blocks.skin import skin_on
from profiles.blocks.splits import split_x
from profiles.blocks.stations import Span
from profiles.blocks.tips import Tip, tip_of
from profiles.blocks.under_skin import foam_under_skin, pair_moved
from profiles.hull.sections import Section, Side
from profiles.hull.shape import Shape, SpanPoints
from profiles.notes import Note, fact, repair, warning
from profiles.units import block_name
from profiles.values import dataclass


class Which(StrEnum):
    """A face of a block: the one towards the nose or the one towards the tail."""

    FORE = "fore"
    AFT = "aft"


@dataclass(frozen=True, slots=True)
class Face:
    """One face of a block."""

    block: int
    which: Which
    x: float
    """mm aft of the foremost point."""
    outline: Outline
    marks: tuple[Mark, ...]
    into: FaceCuts = FaceCuts()
    """What is cut into it besides its outline."""

    @property
    def id(self) -> str:
        """Number and face: "03 fore"."""
        return f"{block_name(self.block)} {self.which}"

    @property
    def has_template(self) -> bool:
        """Whether there is an outline to cut; a face without area (a pointed tip) has none."""
        return not self.outline.cut.is_empty


@dataclass(frozen=True, slots=True)
class Block:
    """One foam block. Where it is neither a CutBlock nor a CarvedBlock, no face has an outline and nothing is cut."""

    span: Span
    fore: Face
    aft: Face
    pins: tuple[Pin, ...]
    notes: tuple[Note, ...]
    growth: tuple[float, float]
    """mm by which the outline of the fore and of the aft face is enlarged at most."""
    box: BlockBox
    into: CutInto | None = field(default=None, kw_only=True)
    """What is left of it where something is cut into it."""

    @property
    def faces(self) -> tuple[Face, Face]:
        """Fore, then aft."""
        return self.fore, self.aft


@dataclass(frozen=True, slots=True)
class CutBlock(Block):
    """A block that a straight wire cuts along the templates of both faces."""

    grown: GrownBlock
    """The solid that the wire would leave without a skin, and its deviation from the hull."""
    foam: RuledBlock
    """The solid that the wire leaves, under the skin."""
    sanding_volume: float
    """Foam to sand off, mm3."""
    hands: Hands
    """How fast they go along the templates."""


@dataclass(frozen=True, slots=True)
class CarvedBlock(Block):
    """A block that is cut by at most one face and then carved by hand."""

    tip: Tip
    """The profiles and gauges that it is carved to."""


@dataclass(frozen=True, slots=True)
class UnboxedBlock:
    """A block before its box is known: a common box depends on all blocks."""

    span: Span
    fore: Face
    aft: Face
    pins: tuple[Pin, ...]
    notes: tuple[Note, ...]
    grown: GrownBlock | None
    """None where a face of the hull has no area."""
    foam: RuledBlock | None
    """What the wire leaves under the skin; None where a face of the hull has no area."""
    sanding_volume: float
    """mm3 to sand off."""
    tip: Tip | None
    """None where the block is not carved."""
    hands: Hands

    @property
    def faces(self) -> tuple[Face, Face]:
        """Fore, then aft."""
        return self.fore, self.aft

    def with_number(self, number: int) -> "UnboxedBlock":
        """The same block by another number."""
        span = replace(self.span, number=number)
        fore, aft = (replace(face, block=number) for face in self.faces)
        names = {
            f"block {block_name(self.span.number)}": f"block {block_name(number)}",
            self.fore.id: fore.id,
            self.aft.id: aft.id,
        }
        notes = tuple(replace(note, about=names.get(note.about, note.about)) for note in self.notes)
        tip = replace(self.tip, span=span) if self.tip else None
        return replace(self, span=span, fore=fore, aft=aft, notes=notes, tip=tip)

    @property
    def shapes(self) -> list[shapely.Geometry]:
        """The shapes (y, z) mm that the box must hold; empty where no face has an outline."""
        shapes: list[shapely.Geometry] = [face.outline.cut for face in (self.fore, self.aft) if face.has_template]
        if self.tip and not self.tip.reach.is_empty:
            shapes.append(self.tip.reach)
        return shapes

    def with_box(self, box: BlockBox) -> Block:
        """The finished block."""
        growth = (self.grown.fore_range[1], self.grown.aft_range[1]) if self.grown else (0.0, 0.0)
        fields = (self.span, self.fore, self.aft, self.pins, self.notes, growth, box)
        if self.tip:
            return CarvedBlock(*fields, tip=self.tip)
        if self.grown and self.foam:
            return CutBlock(
                *fields, grown=self.grown, foam=self.foam, sanding_volume=self.sanding_volume, hands=self.hands
            )
        return Block(*fields)


def make_unboxed(
    shape: Shape, settings: BlockSettings, most: float | None, spans: Sequence[Span], *, carve: bool = True
) -> list[UnboxedBlock]:
    """The blocks of some spans, without boxes; `most` is the limit in mm of what is left to sand, where there is one,
    and `carve` is as in `grow_between`.

    Raises HullError where a section cannot be closed.
    """
    cut = hull_cut(shape)
    return [_make_block(shape, cut, span, settings, most, carve=carve) for span in spans]


def carve_block(shape: Shape, block: UnboxedBlock, settings: BlockSettings) -> UnboxedBlock:
    """A block that a wire could cut, but would leave too much to sand: it is carved instead."""
    depth = 0.0 if block.grown is None else block.grown.sanding
    tip = tip_of(shape, block.span, settings.gauges, allowances=settings.allowances, mark_spacing=settings.marks)
    text = f"a wire would leave up to {depth:.0f} mm to sand here, so the block is carved"
    note = fact(text, block.span.x_fore, f"block {block_name(block.span.number)}")
    return replace(block, tip=tip, notes=(*block.notes, note, *tip.notes))


def must_carve(outlines_left: int, grown: GrownBlock | None, unpaired: int) -> bool:
    """Whether a block is carved: only one face has an outline, a piece or hollow of one face is not on the other, or a
    straight wire cannot leave enough foam.
    """
    return outlines_left == 1 or (grown is not None and (grown.hopeless or unpaired > 0))


def _make_block(
    shape: Shape, cut: Cut, span: Span, settings: BlockSettings, most: float | None, *, carve: bool
) -> UnboxedBlock:
    ends = _end_sections(shape, span)
    finished = (ends[0].region, ends[1].region)
    grown = None
    if not any(region.is_empty for region in finished):
        grown = grow_between(shape, cut, span, finished, settings, most, carve=carve)
    foam = (grown.fore, grown.aft) if grown else finished
    skins = (skin_on(shape, ends[0], settings.skin), skin_on(shape, ends[1], settings.skin))
    edge = settings.allowances.edge
    outlines = [
        Outline(region, skin.square, offset_outline(skin.applied(grown_face, settings.skin), edge))
        for region, skin, grown_face in zip(finished, skins, foam, strict=True)
    ]
    fore, aft = outlines
    pairing = _pair_cut_lines(cut, span, grown, fore.cut, aft.cut, settings)
    with_area = [outline.cut for outline in outlines if not outline.cut.is_empty]
    pins = pins_for(with_area, settings.pin) if with_area else ()
    faces = (
        Face(span.number, Which.FORE, span.x_fore, fore, pairing.fore),
        Face(span.number, Which.AFT, span.x_aft, aft, pairing.aft),
    )
    tip = None
    if must_carve(len(with_area), grown, pairing.unpaired):
        tip = tip_of(shape, span, settings.gauges, allowances=settings.allowances, mark_spacing=settings.marks)
    notes = [
        *_block_notes(shape, span, faces, ends, pairing.unpaired, pins),
        *(() if grown and grown.joined else _piece_notes(faces, foam, ends)),
        *(tip.notes if tip else ()),
    ]
    under: tuple[RuledBlock | None, float] = (None, 0.0)
    if grown and not tip:
        under = foam_under_skin(grown, cut, finished, skins, settings.skin)
    return UnboxedBlock(span, *faces, pins, tuple(notes), grown, *under, tip, pairing.hands)


def grow_whole(
    shape: Shape,
    cut: Cut,
    span: Span,
    finished: tuple[MultiPolygon, MultiPolygon],
    settings: BlockSettings,
    most: float | None = None,
) -> GrownBlock:
    """The grown block of a span between two outlines, whose faces `finished` (y, z) mm both have area.

    Of the settings those for growth, missing foam and marks are used. `most` mm is the limit of what is left to sand,
    where there is one: varying growth that leaves more gives way to even growth.
    """
    inside = hull_inside(cut, span.x_fore, span.x_aft, *finished)
    return Grow(settings, most, carve=False)(*finished, inside, cut, _span_points(shape, span), even=True)


def grow_between(
    shape: Shape,
    cut: Cut,
    span: Span,
    finished: tuple[MultiPolygon, MultiPolygon],
    settings: BlockSettings,
    most: float | None = None,
    *,
    carve: bool = True,
) -> GrownBlock:
    """The same, but a block that two outlines do not leave, or with more than `most` mm to sand, is made piece by piece
    where that is better. Without `carve` only a block that two outlines do not leave at all is made so.
    """
    if not carve:
        whole = grow_whole(shape, cut, span, finished, settings, most)
        if not (whole.hopeless or whole.pairing.unpaired):
            return whole
    limit = math.inf if most is None else most
    inside = hull_inside(cut, span.x_fore, span.x_aft, *finished)
    points = _span_points(shape, span)
    grow = Grow(settings, most)
    grown = grow(*finished, inside, cut, points)
    if grown.fits(limit) or not isinstance(settings.growth, str):
        return grown
    by_pieces = grow_by_pieces(grown, inside, cut, points, grow, MOST_SANDED if most is None else most)
    unmade = grown.hopeless and not grown.pairing.unpaired
    if unmade or by_pieces is None or by_pieces.deviation.extra > limit:
        grown = grow(*finished, inside, cut, points, even=True)
    return grown if by_pieces is None or grown.badness(limit) < by_pieces.badness(limit) else by_pieces


def _span_points(shape: Shape, span: Span) -> SpanPoints:
    """Points of the hull in a block, without those beyond the places where its outlines are taken."""
    low, high = span.x_fore + span.fore_inset, span.x_aft - span.aft_inset
    points = shape.points_between(span.x_fore, span.x_aft)
    return points.keep(lambda those: (those[:, 0] >= low) & (those[:, 0] <= high))


def _pair_cut_lines(
    cut: Cut, span: Span, grown: GrownBlock | None, fore: MultiPolygon, aft: MultiPolygon, settings: BlockSettings
) -> Pairing:
    """The pairing of the template's edges. It follows that of the foam surface, which growth and deviation used."""
    if grown is None:
        return pair_faces(fore, aft, settings.marks)
    if settings.allowances == Allowances():
        return grown.pairing
    inside = hull_inside(cut, span.x_fore, span.x_aft, fore, aft)
    return pair_moved(grown, fore, aft, settings.marks, inside.between)


BLUNT = 0.1
"""mm; where the hull ends in a nearly flat wall, the outline is taken this far inside: less than a pencil line."""

BLUNT_SHARE = 0.02
"""Share of breadth x depth; an end with this much area at BLUNT is a slightly cambered wall, not a point. A sphere as
deep as the hull has pi x BLUNT x depth there, which is less than this from 16 mm depth on."""


def _end_sections(shape: Shape, span: Span) -> tuple[Section, Section]:
    """The block's two sections, each the limit from inside; at a slightly cambered end of the hull BLUNT further in."""
    fore = shape.section(span.x_fore + span.fore_inset, Side.AFT)
    aft = shape.section(span.x_aft - span.aft_inset, Side.FORE)
    low, high = shape.bounds
    least = BLUNT_SHARE * float(np.prod((high - low)[1:]))
    if span.x_fore <= low[0]:
        fore = _section_inside(shape, fore, span.x_fore + BLUNT, least)
    if span.x_aft >= high[0]:
        aft = _section_inside(shape, aft, span.x_aft - BLUNT, least)
    return fore, aft


def _section_inside(shape: Shape, end: Section, x: float, least: float) -> Section:
    """The section at x if its area makes the end a wall: above `least` mm2 and well above that of the end itself."""
    nearby = shape.section(x, end.side)
    return nearby if nearby.region.area > max(least, 1.5 * end.region.area) else end


def _block_notes(
    shape: Shape,
    span: Span,
    faces: tuple[Face, Face],
    ends: tuple[Section, Section],
    unpaired: int,
    pins: tuple[Pin, ...],
) -> Iterator[Note]:
    for face, end in zip(faces, ends, strict=True):
        if end.x != face.x and not (span.fore_inset or span.aft_inset):
            yield repair(
                f"the hull ends in a slightly curved wall; the outline is taken at x = {end.x:.2f} mm", face.x, face.id
            )
        if end.gaps:
            gaps = "one gap" if len(end.gaps) == 1 else f"{len(end.gaps)} gaps"
            yield repair(f"{gaps} bridged, the widest {max(end.gaps):.3f} mm", end.x, face.id)
        if end.sheets:
            yield repair("a wall without thickness is left out", end.x, face.id)
        if end.region.is_empty:
            yield fact("the hull comes to a point or an edge here; the face has no template", end.x, face.id)
        elif not face.has_template:
            yield warning("the skin uses up the whole outline; the face has no template", end.x, face.id)
    block = f"block {block_name(span.number)}"
    if unpaired:
        places = split_x(shape, span.x_fore, span.x_aft)
        breaks = " ".join(f"--break {x:.1f}" for x in places)
        remedy = f" A station where it splits would help ({breaks})" if places else ""
        text = f"the two faces have different numbers of pieces or hollows, so the block is carved.{remedy}"
        yield warning(text, span.x_fore, block)
    if any(face.has_template for face in faces) and not pins:
        text = "no room for two pin holes through both faces. Align the templates by the box and the datum"
        yield warning(text, span.x_fore, block)


def _piece_notes(
    faces: tuple[Face, Face], foam: tuple[MultiPolygon, MultiPolygon], ends: tuple[Section, Section]
) -> Iterator[Note]:
    """Where a face has another number of pieces than the hull, and whether growth or the allowances did it."""
    for face, shape, end in zip(faces, foam, ends, strict=True):
        before, grown, after = (len(region.geoms) for region in (face.outline.finished, shape, face.outline.cut))
        if grown != before:
            text = f"the growth of the outline changes the number of pieces from {before} to {grown}"
            yield warning(f"{text}. Check the template, or give --growth none", end.x, face.id)
        if after not in {grown, 0}:
            text = f"skin, kerf and wire change the number of pieces from {grown} to {after}"
            yield warning(f"{text}. Check the template", end.x, face.id)
