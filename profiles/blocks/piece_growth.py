"""A block that no two outlines leave as they are: each of its pieces is made in its own way.

    a piece between two outlines that leave it
    a piece with features: its core between two outlines, and the area of the features on both
    a piece that begins, ends or cannot be left otherwise: cut square through the block, and carved

What joined outlines still lack of the hull, at the roots of features mostly, is left to growth, or is added to the area
of the features. What lies on that area is carved, the rest is sanded.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from profiles.arrays import Bools, Floats
from profiles.blocks.correspondence import pair_rings
from profiles.blocks.depth import depth_inside
from profiles.blocks.features import OVERLAP, Features, Sections, features_of, tidy
from profiles.blocks.growth import PROMISED, GrownBlock, grow_block
from profiles.blocks.hull_sections import Cut, Inside, control_points, hull_inside
from profiles.blocks.joined_pairing import join_pairing
from profiles.blocks.landmarks import ring_of, straddles
from profiles.blocks.outlines import as_multi
from profiles.blocks.pieces import Piece, cut_of, pieces_of
from profiles.blocks.ring_pairs import RingPair
from profiles.blocks.ruled import RuledBlock, section_of
from profiles.blocks.settings import BlockSettings
from profiles.blocks.varying import LEFT
from profiles.hull.shape import SpanPoints
from profiles.values import dataclass

SHARES = (0.02, *(n / 14 for n in range(1, 14)), 0.98)
"""Of the way through a block: where sections are looked at for pieces and features, besides both faces."""

RADII = (0.35, 0.8, 0.12)
"""That sections are opened by, as shares of the radius of a circle with the area of the smallest section: the parts
that stand on a body are narrower than the body. What is narrow beside one hull is wide beside another, so each is
tried."""

LITTLE = 0.1
"""Share of the volume of a piece; once no more than this is taken off, no other radius is tried."""

DEEP = 0.5
"""mm; what is missing less deep is left to growth first."""

FINE = 0.02
"""mm; sections of a block are simplified to this before they are compared with the hull's."""

MARGINS = (0.15, 0.5, 1.0, 2.0, 4.0)
"""mm by which the area of features is made larger than what is missing, time after time: what is added on one face
moves the wire inside the block only in part."""

ROOM = 0.05
"""mm; an outline this far outside the core is there for a feature."""


@dataclass(frozen=True, slots=True)
class Grow:
    """Grows blocks between two outlines by the settings of a job."""

    settings: BlockSettings
    most: float | None
    """mm of extra foam that may be sanded off, where there is a limit."""
    carve: bool = True
    """Whether places with more may be carved."""

    def __call__(  # noqa: PLR0913 - pieces differ in all of these
        self,
        fore: MultiPolygon,
        aft: MultiPolygon,
        inside: Inside,
        cut: Cut,
        points: SpanPoints,
        rings: Sequence[RingPair] = (),
        area: MultiPolygon | None = None,
        *,
        even: bool = False,
    ) -> GrownBlock:
        """The block between two outlines (y, z) mm, out of sections and points of the hull; as `grow_block`."""
        settings = self.settings
        return grow_block(
            fore,
            aft,
            inside,
            growth=settings.growth,
            allowed=max(settings.missing, LEFT) if rings else settings.missing,
            most=self.most,
            spacing=settings.marks,
            cut=cut,
            points=points.search,
            control=points.control,
            rings=rings,
            area=area,
            even=even,
            carve=self.carve,
        )


@dataclass(frozen=True, slots=True)
class _Made:
    """A piece that is made."""

    fore: MultiPolygon
    """(y, z) mm; its outline on the fore face."""
    aft: MultiPolygon
    rings: tuple[RingPair, ...]
    area: MultiPolygon
    """(y, z) mm; where it is carved."""
    extra: float
    """mm3 of foam to take off."""
    deepest: float
    """mm to sand off at most."""
    offset: float = 0.0
    """mm; the greatest growth."""

    def badness(self, most: float) -> tuple[bool, float]:
        """The less the better: nothing sanded deeper than `most` mm, then the least foam to take off."""
        return self.deepest > most, self.extra


def grow_by_pieces(
    whole: GrownBlock, inside: Inside, cut: Cut, points: SpanPoints, grow: Grow, most: float
) -> GrownBlock | None:
    """A block with each piece made in its own way; None where that leaves foam missing, or where its largest piece
    could only be cut square and carved.

    `whole` is the block made between two outlines, which does not fit, and `inside` the hull in it. A piece that two
    outlines leave with no more than `most` mm to sand off is made so.
    """
    sections = _sections(inside, cut)
    pieces = pieces_of(sections)
    made, square = [], []
    for piece in pieces:
        if len(pieces) == 1:
            wired = _wire_best(piece, whole, inside, cut, points, grow, most)
        else:
            wired = _wire_apart(piece, pieces, inside, cut, points, grow, most)
        if wired:
            made.append(wired)
        elif piece is pieces[0]:
            return None
        else:
            square.append(piece.area)
    if square:
        made.append(_square(square))
    faces, rings, area = _put_together(made)
    if rings is None:
        return None
    grown = grow(*faces, inside, cut, points, rings, area)
    if grown.hopeless or not _keeps_promise(grown):
        return None
    return replace(grown, offset=max(grown.offset, *(piece.offset for piece in made)))


def _keeps_promise(grown: GrownBlock) -> bool:
    return grown.deviation.missing <= PROMISED and grown.least_cover >= -PROMISED


def _sections(inside: Inside, cut: Cut) -> list[tuple[float, MultiPolygon]]:
    """Sections all through a block: those at SHARES between its two faces, which have area."""
    between = ((share, cut(inside.x_fore + share * inside.thickness)) for share in SHARES)
    return [
        (0.0, inside.sections[0].region),
        *((share, region) for share, region in between if region is not None and not region.is_empty),
        (1.0, inside.sections[-1].region),
    ]


def _wire_apart(
    piece: Piece, pieces: Sequence[Piece], inside: Inside, cut: Cut, points: SpanPoints, grow: Grow, most: float
) -> _Made | None:
    """One of several pieces between two outlines; None where there are none."""
    if piece.fore.is_empty or piece.aft.is_empty:
        return None
    others = [other for other in pieces if other is not piece]

    def nearest(those: Floats) -> Bools:
        where = shapely.points(those[:, 1:])
        apart = [shapely.distance(where, one.area) for one in (piece, *others)]
        return np.asarray(apart[0] <= np.min(apart[1:], axis=0), dtype=np.bool_)

    cut = cut_of(piece, others, cut, inside.x_fore, inside.thickness)
    inside = hull_inside(cut, inside.x_fore, inside.x_aft, piece.fore, piece.aft)
    points = points.keep(nearest)
    whole = grow(piece.fore, piece.aft, inside, cut, points)
    return _wire_best(piece, whole, inside, cut, points, grow, most)


def _wire_best(
    piece: Piece, whole: GrownBlock, inside: Inside, cut: Cut, points: SpanPoints, grow: Grow, most: float
) -> _Made | None:
    """A piece between two outlines: as `whole`, if that fits, or with the features that leave the least foam to take
    off; None where nothing will do.
    """
    best = (
        None if whole.hopeless or whole.pairing.unpaired or not _keeps_promise(whole) else _made(whole, MultiPolygon())
    )
    if best and whole.fits(most):
        return best
    size = np.sqrt(min(region.area for _, region in piece.sections) / np.pi)
    for steady in (True, False):
        for radius in RADII:
            features = features_of(piece.sections, radius * size, keep_steady=steady)
            wired = features and _wire_features(features, piece.sections, inside, cut, points, grow)
            if wired and (best is None or wired.badness(most) < best.badness(most)):
                best = wired
            if best and best.deepest <= most and best.extra < LITTLE * inside.volume:
                return best
        if best and best.deepest <= most:
            return best
    square = _square([piece.area])
    grown = grow(square.fore, square.aft, inside, cut, points, square.rings, MultiPolygon())
    if _keeps_promise(grown) and grown.deviation.extra <= most:
        return _made(grown, MultiPolygon())
    return best


def _made(grown: GrownBlock, area: MultiPolygon) -> _Made:
    rings = grown.pairing.rings
    return _Made(grown.fore, grown.aft, rings, area, grown.to_remove, grown.deviation.extra, grown.offset)


def _square(areas: Sequence[MultiPolygon]) -> _Made:
    """Pieces that are cut square through the block along all that they cover, and carved."""
    covered = as_multi(shapely.union_all(areas).buffer(OVERLAP))
    whole = tidy(shapely.union_all([Polygon(part.exterior) for part in covered.geoms]))
    rings = []
    for number, part in enumerate(whole.geoms):
        ring = ring_of(part.exterior, hollow=False, centre=0.0 if straddles(part.exterior) else None)
        rings.append(pair_rings(ring, ring, part=number))
    return _Made(whole, whole, tuple(rings), whole, 0.0, 0.0)


def _wire_features(
    features: Features, sections: Sections, inside: Inside, cut: Cut, points: SpanPoints, grow: Grow
) -> _Made | None:
    """A piece whose features have their area on both outlines."""
    fore, aft = (features.core_of(region) for region in (sections[0][1], sections[-1][1]))
    if fore.is_empty or aft.is_empty:
        return None
    core_cut = features.core_cut(cut)
    core_inside = hull_inside(core_cut, inside.x_fore, inside.x_aft, fore, aft)
    of_core = points.keep(lambda those: ~features.hold(those[:, 1:]))
    core = grow(fore, aft, core_inside, core_cut, of_core, even=True)
    if core.hopeless or core.pairing.unpaired:
        return None
    every = np.concatenate([points.search, points.control, control_points(inside, cut)])
    for margin in MARGINS:
        faces = features.join(core.fore), features.join(core.aft)
        rings = join_pairing(core.block.rings, *faces)
        if rings is None:
            return None
        block = RuledBlock(inside.x_fore, inside.x_aft, rings)
        lack = _lack_in_sections(block, sections, DEEP)
        if lack.is_empty:
            beyond = [face.difference(own.buffer(ROOM)) for face, own in zip(faces, (core.fore, core.aft), strict=True)]
            area = as_multi(shapely.union_all(beyond))
            grown = grow(*faces, inside, cut, points, rings, area)
            if not grown.hopeless and _keeps_promise(grown):
                return replace(_made(grown, area), offset=max(core.offset, grown.offset))
            lack = _lack_in_sections(block, sections, PROMISED / 2).union(_lack_at(block, every))
            if lack.is_empty:
                return None
        features = features.with_area(lack.buffer(margin))
    return None


def _put_together(
    made: Sequence[_Made],
) -> tuple[tuple[MultiPolygon, MultiPolygon], tuple[RingPair, ...] | None, MultiPolygon]:
    """The faces of all pieces, their rings, and where they are carved. Where pieces run into each other, the others are
    features of the largest; no rings where that does not help.
    """
    area = as_multi(shapely.union_all([piece.area for piece in made]))
    rings: list[RingPair] = []
    for piece in made:
        first = 1 + max((pair.part for pair in rings), default=-1)
        rings += [replace(pair, part=first + pair.part) for pair in piece.rings]
    fore, aft = (tidy(shapely.union_all([getattr(piece, face) for piece in made])) for face in ("fore", "aft"))
    if all(len(face.geoms) == len({pair.part for pair in rings}) for face in (fore, aft)):
        return (fore, aft), tuple(rings), area
    body, *others = made
    area = as_multi(shapely.union_all([body.area, *(piece.fore for piece in others), *(piece.aft for piece in others)]))
    features = Features(area, 0.0, (body.fore, body.aft))
    faces = features.join(body.fore), features.join(body.aft)
    beyond = [face.difference(own.buffer(ROOM)) for face, own in zip(faces, (body.fore, body.aft), strict=True)]
    return faces, join_pairing(body.rings, *faces), as_multi(shapely.union_all([body.area, *beyond]))


def _lack_in_sections(block: RuledBlock, sections: Sections, deep: float) -> shapely.Geometry:
    """What a block lacks of the hull's sections by more than `deep` mm, seen along it."""
    lack = [
        region.difference(section_of(block, share).simplify(FINE).buffer(deep)).buffer(deep)
        for share, region in sections
    ]
    return shapely.union_all(lack)


def _lack_at(block: RuledBlock, points: Floats) -> shapely.Geometry:
    """The same round points of the hull (n, 3) mm."""
    depth = depth_inside(block, points)
    short = depth < -PROMISED / 2
    return shapely.union_all(shapely.buffer(shapely.points(points[short, 1:]), -depth[short]))
