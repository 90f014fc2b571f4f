"""Grow a block: move both outlines outwards so that no foam is missing between them.

A hull that is convex along its length bulges beyond the straight wire, and foam cannot be put back. With growth both
outlines are enlarged by the same offset, and the extra foam is sanded off, down to the finished outline at each face.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import MultiPolygon

from profiles.blocks.boundary import simplify_region
from profiles.blocks.correspondence import RingPair
from profiles.blocks.depth import depth_inside
from profiles.blocks.deviation import Deviation, Sample, deviation_of, measure_sections, summarize
from profiles.blocks.hull_sections import Cut, Inside
from profiles.blocks.outlines import offset_outline
from profiles.blocks.pairing import Pairing, pair_faces, pair_faces_like, spread_sections
from profiles.blocks.ruled import RuledBlock
from profiles.hull.surface import Floats

CLOSE = 0.01
"""mm; precision of the growth. Nobody sands foam finer than a tenth of a millimetre."""

TRIES = 12
"""Most offsets tried. Two or three are usual, because missing foam shrinks by about as much as the outlines grow."""

HOPELESS = 10.0
"""mm; a block that needs more growth does not suit a straight wire. It must be divided, or carved."""

FLATTEST = 0.2
"""Missing foam shrinks by about 1 mm for each mm of growth, at sharp edges by more. A smaller slope is noise."""

CONFIRMATIONS = 3
"""Most searches for the offset; another is needed when foam is missing at a point that the search did not use."""

WORST = 400
"""Points of the hull used in the search for the offset: those least deep inside the block without growth."""


@dataclass(frozen=True, slots=True)
class GrownBlock:
    """A block after growth."""

    offset: float
    """mm by which both outlines moved outwards."""
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
    """mm; depth inside the block of the least deep point of the hull; negative if it lies outside."""
    hopeless: bool = False
    """No growth up to HOPELESS covers the hull, or the outlines cannot be paired; the block is then not grown."""

    @property
    def sanding(self) -> float:
        """Largest thickness to sand off, mm."""
        return self.deviation.extra

    @property
    def sanding_volume(self) -> float:
        """Foam to sand off, mm3."""
        return self.deviation.extra_volume


def grow_block(
    fore: MultiPolygon,
    aft: MultiPolygon,
    inside: Inside,
    *,
    growth: float | None = None,
    spacing: float | None = None,
    cut: Cut | None = None,
    points: Floats | None = None,
) -> GrownBlock:
    """The block between two outlines (y, z) mm after growth; neither may be empty.

    `growth` is the offset in mm, 0 for none; None finds the least that leaves no foam missing, to CLOSE. `spacing` is
    the distance between marks in mm. `cut` lets the deviation be measured where it is expected to be greatest;
    `points` (n, 3) mm are points of the hull inside the block (its vertices) that must be covered too.
    """
    fore, aft = simplify_region(fore), simplify_region(aft)
    pairing = pair_faces(fore, aft, spacing, inside.between)
    block = RuledBlock(inside.x_fore, inside.x_aft, pairing.rings)
    samples, inside = measure_sections(block, inside, cut)
    before = summarize(block, inside, samples, (pairing.fore, pairing.aft))
    worst, least = _worst_points(block, inside, samples, points)
    plain = GrownBlock(0.0, fore, aft, pairing, block, before, before, least)
    search = _Search(fore, aft, inside, spacing, worst, before, pairing.rings)
    if growth is not None:
        return _finish(search, _try_offset(search, growth)) if growth else plain
    if pairing.unpaired:
        return replace(plain, hopeless=True)
    missing = max(before.missing, -least)
    return plain if missing <= CLOSE else _least_growth(search, missing) or replace(plain, hopeless=True)


@dataclass(frozen=True, slots=True)
class _Search:
    """What stays the same during the search for the offset."""

    fore: MultiPolygon
    aft: MultiPolygon
    inside: Inside
    spacing: float | None
    worst: Floats
    """(n, 3) mm, the points that are least deep without growth."""
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
    missing: float
    """mm by which the worst point lies outside; negative if all lie inside."""


def _worst_points(
    block: RuledBlock, inside: Inside, samples: Sequence[Sample], points: Floats | None
) -> tuple[Floats, float]:
    """The WORST least deep points, (n, 3) mm, of `points` and all sections, and the depth in mm of the least deep."""
    candidates = [inside.points(section) for section in inside.sections]
    depths = [sample.depth for sample in samples]
    if points is not None:
        candidates.append(points)
        depths.append(depth_inside(block, points))
    depth = np.concatenate(depths)
    return np.concatenate(candidates)[np.argsort(depth, kind="stable")[:WORST]], float(depth.min())


def _try_offset(search: _Search, offset: float) -> _Try:
    fore, aft = (offset_outline(outline, offset) for outline in (search.fore, search.aft))
    # The pairing without growth nearly always fits the grown outlines too, and following it is far cheaper.
    pairing = pair_faces_like(search.guide, fore, aft, search.spacing)
    if pairing is None:
        between = [(share, offset_outline(region, offset)) for share, region in spread_sections(search.inside.between)]
        pairing = pair_faces(fore, aft, search.spacing, between, search.guide)
    block = RuledBlock(search.inside.x_fore, search.inside.x_aft, pairing.rings)
    return _Try(offset, fore, aft, pairing, block, -float(depth_inside(block, search.worst).min()))


def _finish(search: _Search, tried: _Try) -> GrownBlock:
    deviation, _ = deviation_of(tried.block, search.inside, (tried.pairing.fore, tried.pairing.aft))
    return GrownBlock(
        offset=tried.offset,
        fore=tried.fore,
        aft=tried.aft,
        pairing=tried.pairing,
        block=tried.block,
        deviation=deviation,
        before=search.before,
        least_cover=-tried.missing,
    )


def _least_growth(search: _Search, missing: float) -> GrownBlock | None:
    """The least offset by the worst points, then confirmed at all sections; None if HOPELESS is not enough."""
    spare = 0.0
    for _ in range(CONFIRMATIONS):
        tried = _least_offset(search, missing, spare)
        if tried is None:
            return None
        block = _finish(search, tried)
        if block.deviation.missing <= CLOSE:
            return block
        spare += block.deviation.missing
    return block


def _least_offset(search: _Search, missing: float, spare: float) -> _Try | None:
    """The least offset, to CLOSE, that leaves the worst points `spare` mm inside; None if HOPELESS is not enough.

    Secant method, kept between the largest offset known to be too small and the smallest known to be enough.
    """
    too_small = 0.0
    enough: _Try | None = None
    last = (0.0, missing + spare)
    offset = missing + spare + CLOSE / 2
    for _ in range(TRIES):
        offset = min(offset, HOPELESS)
        tried = _try_offset(search, offset)
        excess = tried.missing + spare
        if excess <= 0:
            enough = tried
            if excess >= -CLOSE:
                break
        elif offset == HOPELESS:
            break
        else:
            too_small = offset
        slope = (excess - last[1]) / (offset - last[0])
        last = (offset, excess)
        offset += (excess + CLOSE / 2) / (-slope if slope < -FLATTEST else 1.0)
        if enough is not None and not too_small < offset < enough.offset:
            offset = (too_small + enough.offset) / 2
    return enough
