"""Both outlines of a block moved outwards, so that no foam is missing between them.

A hull that is convex along its length bulges beyond the straight wire, and foam cannot be put back. With growth the
outlines are cut larger by an even offset, and what is extra is sanded down to the finished outline at each face.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import MultiPolygon

from profiles.blocks.boundary import thinned
from profiles.blocks.correspondence import RingPair
from profiles.blocks.depth import cover
from profiles.blocks.deviation import AtPlaces, Deviation, deviation, gathered, measured
from profiles.blocks.hull_sections import Cut, Inside
from profiles.blocks.outlines import MITRE_LIMIT, as_multi
from profiles.blocks.pairing import Pairing, led_faces, pair_faces, spread
from profiles.blocks.ruled import RuledBlock
from profiles.hull.surface import Floats

CLOSE = 0.01
"""mm; growth is found to this. Foam is not sanded finer than a tenth of a millimetre."""

TRIES = 12
"""Offsets tried at most; two or three do, since missing foam falls by as much as the outlines grow."""

HOPELESS = 10.0
"""mm; a block that needs more growth is no shape for a straight wire: it is to be divided, or carved as a tip block."""

FLATTEST = 0.2
"""Missing foam falls by about 1 mm for each mm of growth, at sharp edges by more; a lesser slope is a disturbance."""

CONFIRMED = 3
"""Times at most that the offset is sought anew, because foam is missing where it was not watched."""

WORST = 400
"""Points of the hull that are watched while the offset is sought: those least deep without growth."""


@dataclass(frozen=True, slots=True)
class Grown:
    """A block after growth."""

    offset: float
    """mm by which both outlines were moved outwards."""
    fore: MultiPolygon
    """(y, z) mm, the grown outline of the fore face."""
    aft: MultiPolygon
    pairing: Pairing
    """Of the grown outlines."""
    block: RuledBlock
    deviation: Deviation
    """After growth."""
    before: Deviation
    """Without growth."""
    least_cover: float
    """mm; how deep the points of the hull lie in the block at least; below 0 some lie outside."""
    hopeless: bool = False
    """No growth up to HOPELESS covers the hull, or its outlines do not go together; the block is left as it was."""

    @property
    def sanding(self) -> float:
        """Largest thickness that is to be sanded off, mm."""
        return self.deviation.extra

    @property
    def sanding_volume(self) -> float:
        """Foam that is to be sanded off, mm3."""
        return self.deviation.extra_volume


def offset_outline(outline: MultiPolygon, offset: float) -> MultiPolygon:
    """The outline moved outwards by `offset` mm; corners stay sharp, hollows become smaller."""
    if not offset:
        return outline
    return as_multi(outline.buffer(offset, join_style="mitre", mitre_limit=MITRE_LIMIT))


def grown(
    fore: MultiPolygon,
    aft: MultiPolygon,
    inside: Inside,
    *,
    growth: float | None = None,
    spacing: float | None = None,
    cut: Cut | None = None,
    points: Floats | None = None,
) -> Grown:
    """A block with its outlines grown; neither face may be empty.

    `growth` is the offset in mm, 0 for none; None seeks the least with which no foam is missing, to CLOSE. `cut` lets
    the deviation look for the worst place; `points` (n, 3) mm are points of the hull inside the block (its vertices)
    that must be covered too.
    """
    fore, aft = thinned(fore), thinned(aft)
    pairing = pair_faces(fore, aft, spacing, inside.between)
    block = RuledBlock(inside.x_fore, inside.x_aft, pairing.rings)
    found, inside = measured(block, inside, cut)
    before = gathered(block, inside, found, (pairing.fore, pairing.aft))
    watched, least = _watched(block, inside, found, points)
    plain = Grown(0.0, fore, aft, pairing, block, before, before, least)
    seek = _Seek(fore, aft, inside, spacing, watched, before, pairing.rings)
    if growth is not None:
        return _finished(seek, _at_offset(seek, growth)) if growth else plain
    if pairing.unpaired:
        return replace(plain, hopeless=True)
    lacking = max(before.missing, -least)
    return plain if lacking <= CLOSE else _least(seek, lacking) or replace(plain, hopeless=True)


@dataclass(frozen=True, slots=True)
class _Seek:
    """What stays the same while the offset is sought."""

    fore: MultiPolygon
    aft: MultiPolygon
    inside: Inside
    spacing: float | None
    watched: Floats
    """(n, 3) mm, the points that lie least deep without growth."""
    before: Deviation
    guide: Sequence[RingPair]


@dataclass(frozen=True, slots=True)
class _Try:
    """A block with one offset."""

    offset: float
    fore: MultiPolygon
    aft: MultiPolygon
    pairing: Pairing
    block: RuledBlock
    lacking: float
    """mm by which the watched points lie outside; below 0 they lie inside."""


def _watched(
    block: RuledBlock, inside: Inside, found: Sequence[AtPlaces], points: Floats | None
) -> tuple[Floats, float]:
    """The points that lie least deep, (n, 3) mm, of those given and of all sections; and how deep the least does."""
    every = [inside.points(one) for one in inside.sections]
    depth = [one.depth for one in found]
    if points is not None:
        every.append(points)
        depth.append(cover(block, points))
    depths = np.concatenate(depth)
    return np.concatenate(every)[np.argsort(depths, kind="stable")[:WORST]], float(depths.min())


def _at_offset(seek: _Seek, offset: float) -> _Try:
    fore, aft = (offset_outline(outline, offset) for outline in (seek.fore, seek.aft))
    pairing = led_faces(fore, aft, seek.guide, seek.spacing)
    if pairing is None:
        between = [(share, offset_outline(region, offset)) for share, region in spread(seek.inside.between)]
        pairing = pair_faces(fore, aft, seek.spacing, between, seek.guide)
    block = RuledBlock(seek.inside.x_fore, seek.inside.x_aft, pairing.rings)
    return _Try(offset, fore, aft, pairing, block, -float(cover(block, seek.watched).min()))


def _finished(seek: _Seek, one: _Try) -> Grown:
    found, _ = deviation(one.block, seek.inside, (one.pairing.fore, one.pairing.aft))
    return Grown(one.offset, one.fore, one.aft, one.pairing, one.block, found, seek.before, -one.lacking)


def _least(seek: _Seek, lacking: float) -> Grown | None:
    """The least offset by the watched points, then confirmed by all that is measured; None when none is enough."""
    spare = 0.0
    for _ in range(CONFIRMED):
        one = _sought(seek, lacking, spare)
        if one is None:
            return None
        block = _finished(seek, one)
        if block.deviation.missing <= CLOSE:
            return block
        spare += block.deviation.missing
    return block


def _sought(seek: _Seek, lacking: float, spare: float) -> _Try | None:
    """Secants, kept between an offset that is too small and one that is enough, which leaves `spare` mm inside."""
    short = 0.0
    enough: _Try | None = None
    tried = (0.0, lacking + spare)
    offset = lacking + spare + CLOSE / 2
    for _ in range(TRIES):
        offset = min(offset, HOPELESS)
        one = _at_offset(seek, offset)
        now = one.lacking + spare
        if now <= 0:
            enough = one
            if now >= -CLOSE:
                break
        elif offset == HOPELESS:
            break
        else:
            short = offset
        slope = (now - tried[1]) / (offset - tried[0])
        tried = (offset, now)
        offset += (now + CLOSE / 2) / (-slope if slope < -FLATTEST else 1.0)
        if enough is not None and not short < offset < enough.offset:
            offset = (short + enough.offset) / 2
    return enough
