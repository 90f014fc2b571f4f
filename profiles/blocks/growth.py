"""Grow a block: move both outlines outwards so that no foam is missing between them.

A hull that is convex along its length bulges beyond the straight wire, and foam cannot be put back. With growth the
outlines are enlarged, and the extra foam is sanded off, down to the finished outline at each face.

    varying   as little foam as possible to sand: the offset differs from place to place (`varying` finds it)
    block     one offset for both outlines, the least that is enough; also where no varying growth can be had
    a length  this offset
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from shapely import MultiPolygon

from profiles.arrays import Floats
from profiles.blocks.boundary import simplify_region
from profiles.blocks.depth import depth_inside
from profiles.blocks.deviation import Carving, Deviation, Sample, deviation_of, measure_sections, summarize
from profiles.blocks.hull_sections import Cut, Inside, control_points
from profiles.blocks.moved_rings import faces_of
from profiles.blocks.outlines import offset_outline
from profiles.blocks.pairing import Pairing, number_rings, pair_faces, pair_faces_like, spread_sections
from profiles.blocks.ring_pairs import RingPair
from profiles.blocks.ruled import RuledBlock
from profiles.blocks.settings import Growth
from profiles.blocks.varying import Varying, worst_in_cells
from profiles.values import dataclass

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

MORE_CONFIRMATIONS = 7
"""The same for varying growth while more is missing than PROMISED: new offsets move the wires between two stops a
little, also where they stay the same."""

WATCHED = 2
"""Points in each cell round and along a block that a varying growth is found with; the others confirm it."""

MORE = 1.05
"""The most by which varying growth is to be greater than the depth of missing foam."""

SHALLOW = 0.02
"""mm; points deeper than this without growth are not searched with."""

PROMISED = 0.05
"""mm; a varying growth that leaves more foam missing anywhere is not used."""

MOST_SANDED = 3.0
"""mm; of more foam a feature is carved, also where no limit is set for what is left to sand."""

ROUNDING = 1e-6
"""mm; more than rounding adds to a depth or a move."""

WORST = 400
"""Points of the hull used in the search for the offset: those least deep inside the block without growth."""


@dataclass(frozen=True, slots=True)
class GrownBlock:
    """A block after growth."""

    offset: float
    """mm; the greatest distance by which an outline moved outwards."""
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
    fore_range: tuple[float, float]
    """mm; the least and the greatest offset of the fore face."""
    aft_range: tuple[float, float]
    """mm; likewise of the aft face."""
    joined: bool = False
    """The outlines hold the area of features that both share, and are paired accordingly."""
    hopeless: bool = False
    """No growth up to HOPELESS covers the hull, or the outlines cannot be paired; the block is then not grown."""

    def fits(self, most: float) -> bool:
        """Whether two outlines leave the block with no more than `most` mm to sand off, and nothing to carve."""
        unfit = self.hopeless or self.pairing.unpaired or self.deviation.carved
        return not unfit and self.deviation.extra <= most

    def badness(self, most: float) -> tuple[bool, bool, float]:
        """The less the better: two outlines leave the block, nothing is sanded deeper than `most` mm, and then the
        least foam to sand and to carve off.
        """
        return self.hopeless or self.pairing.unpaired > 0, self.deviation.extra > most, self.to_remove

    @property
    def to_remove(self) -> float:
        """Foam to sand and to carve off, mm3."""
        return self.deviation.extra_volume + self.deviation.carved_volume

    @property
    def sanding(self) -> float:
        """Largest thickness to sand off, mm."""
        return self.deviation.extra

    @property
    def sanding_volume(self) -> float:
        """Foam to sand off, mm3."""
        return self.deviation.extra_volume


def grow_block(  # noqa: PLR0913 - all but the two outlines and the hull by name
    fore: MultiPolygon,
    aft: MultiPolygon,
    inside: Inside,
    *,
    growth: Growth = "varying",
    allowed: float = 0.0,
    most: float | None = None,
    spacing: float | None = None,
    cut: Cut | None = None,
    points: Floats | None = None,
    control: Floats | None = None,
    rings: Sequence[RingPair] = (),
    area: MultiPolygon | None = None,
    even: bool = True,
    carve: bool = True,
) -> GrownBlock:
    """The block between two outlines (y, z) mm after growth; neither may be empty.

    A `growth` in mm moves both outlines by so much, 0 leaves them; otherwise growth is found that leaves no more than
    `allowed` mm of foam missing, to CLOSE. Varying growth that leaves more than `most` mm to sand gives way to even
    growth. `spacing` is the distance between marks in mm. `cut` lets the deviation be measured where it is expected to
    be greatest, and gives more sections to confirm growth by. `points` (n, 3) mm are points of the hull inside the
    block (its vertices) that must be covered too; so are those of `control`, by which varying growth is confirmed.

    Without `even`, varying growth does not give way to even growth. `rings` pair the outlines; without them the pairing
    is found. `area` (y, z) mm is what features cover; there, and where few places have more than `most` mm of extra
    foam, the block is carved, unless `carve` is False.
    """
    fore, aft = simplify_region(fore), simplify_region(aft)
    pairing = number_rings(rings, spacing) if rings else pair_faces(fore, aft, spacing, inside.between)
    carving = (
        None if not carve or (most is None and area is None) else Carving(MOST_SANDED if most is None else most, area)
    )
    block = RuledBlock(inside.x_fore, inside.x_aft, pairing.rings)
    samples, inside = measure_sections(block, inside, cut)
    marks = pairing.fore, pairing.aft
    before = summarize(block, inside, samples, marks)
    deviation = before
    if carving and before.extra > carving.most:
        deviation = summarize(block, inside, samples, marks, carving)
    known = _measure_points(block, inside, samples, points, control)
    plain = GrownBlock(
        0.0, fore, aft, pairing, block, deviation, before, known.least, (0.0, 0.0), (0.0, 0.0), joined=area is not None
    )
    search = _Search(fore, aft, inside, spacing, allowed, known.worst, before, pairing.rings, carving)
    if not isinstance(growth, str):
        return _finish(search, _try_offset(search, growth)) if growth else plain
    if pairing.unpaired:
        return replace(plain, hopeless=True)
    missing = max(before.missing, -known.least)
    if missing <= allowed + CLOSE:
        return plain
    varied = None
    if growth == "varying":
        # One offset all round would be about as great as the most that is missing. Where varying growth needs no more,
        # it leaves no more to sand anywhere, too.
        for largest in (min(MORE * missing + CLOSE, HOPELESS), HOPELESS):
            varied = varied or _vary(search, plain, known, cut, largest)
    if varied and (not even or most is None or varied.sanding <= most):
        return varied
    least = _least_growth(search, missing) if even or growth == "block" else None
    return least or varied or replace(plain, hopeless=True)


@dataclass(frozen=True, slots=True)
class _Search:
    """What stays the same during the search for the offset."""

    fore: MultiPolygon
    aft: MultiPolygon
    inside: Inside
    spacing: float | None
    allowed: float
    """mm of foam that may be missing."""
    worst: Floats
    """(n, 3) mm, the points that are least deep without growth."""
    before: Deviation
    guide: Sequence[RingPair]
    carving: Carving | None


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


@dataclass(frozen=True, slots=True)
class _Known:
    """Points of the hull in a block, and how deep they lie in it without growth."""

    points: Floats
    """(n, 3) mm: those of the sections, then others, then those by which varying growth is confirmed."""
    depth: Floats
    """(n,) mm."""
    control: int
    """How many points, from the last, only confirm."""

    @property
    def least(self) -> float:
        """Depth of the least deep point, mm."""
        return float(self.depth.min())

    @property
    def worst(self) -> Floats:
        """The WORST least deep points, (n, 3) mm."""
        return np.asarray(self.points[np.argsort(self.depth, kind="stable")[:WORST]])


def _measure_points(
    block: RuledBlock, inside: Inside, samples: Sequence[Sample], points: Floats | None, control: Floats | None
) -> _Known:
    on_sections = np.concatenate([inside.points(section) for section in inside.sections])
    others = np.concatenate([np.zeros((0, 3)), *(own for own in (points, control) if own is not None)])
    depth = np.concatenate([*(sample.depth for sample in samples), depth_inside(block, others)])
    return _Known(np.concatenate([on_sections, others]), depth, 0 if control is None else len(control))


def _vary(search: _Search, plain: GrownBlock, known: _Known, cut: Cut | None, largest: float) -> GrownBlock | None:
    """Varying growth by `largest` mm at most, found with a few points and confirmed by all others; None where it cannot
    be had.
    """
    varying = Varying(plain.block, enough=CLOSE, allowed=search.allowed, most=largest)
    searched = len(known.points) - known.control
    # Points that lie deep in the block without growth are left to the confirmation.
    shallow = np.flatnonzero(known.depth[:searched] < SHALLOW)
    watched, _ = worst_in_cells(plain.block, known.points[shallow], -known.depth[shallow], WATCHED)
    points, lack = known.points[shallow][watched], -known.depth[shallow][watched]
    every = known.points
    if cut is not None:
        every = np.concatenate([every, control_points(search.inside, cut)])
    all_lack, before = np.full(len(every), np.inf), None
    for number in range(MORE_CONFIRMATIONS):
        if not varying.search(points, lack):
            return None
        all_lack = _lack_after(before, varying.block, every, all_lack, search.allowed + CLOSE)
        before = varying.block
        outside = all_lack > search.allowed + CLOSE
        kept = number >= CONFIRMATIONS - 1 and all_lack.max() <= search.allowed + PROMISED
        if kept or not outside.any():
            break
        points = np.concatenate([points, every[outside]])
        lack = -depth_inside(varying.block, points)
    faces = faces_of(varying.block.rings)
    if faces is None:
        return None
    pairing = number_rings(varying.block.rings, search.spacing)
    deviation, _ = deviation_of(varying.block, search.inside, (pairing.fore, pairing.aft), carving=search.carving)
    if max(float(all_lack.max()), deviation.missing) > search.allowed + PROMISED:
        return None
    fore, aft = varying.ranges()
    return GrownBlock(
        offset=max(fore[1], aft[1]),
        fore=faces[0],
        aft=faces[1],
        pairing=pairing,
        block=varying.block,
        deviation=deviation,
        before=search.before,
        least_cover=-float(all_lack.max()),
        fore_range=fore,
        aft_range=aft,
        joined=plain.joined,
    )


def _lack_after(before: RuledBlock | None, after: RuledBlock, points: Floats, lack: Floats, limit: float) -> Floats:
    """By how much (n,) mm points lie outside a block, from how much they did before its rings moved a little.

    No point comes to lie farther outside than by the greatest move, so those that stay under `limit` mm, and under the
    most of all, are not measured again; of them the answer is an upper bound.
    """
    if before is None or [len(old.fore) for old in before.rings] != [len(new.fore) for new in after.rings]:
        return -depth_inside(after, points)
    moves = [
        np.hypot(*(getattr(new, face) - getattr(old, face)).T).max()
        for old, new in zip(before.rings, after.rings, strict=True)
        for face in ("fore", "aft")
    ]
    result = lack + max(moves) + ROUNDING
    near = result > limit
    result[near] = -depth_inside(after, points[near])
    deep = ~near & (result > result[near].max(initial=-np.inf))
    result[deep] = -depth_inside(after, points[deep])
    return np.asarray(result)


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
    deviation, _ = deviation_of(
        tried.block, search.inside, (tried.pairing.fore, tried.pairing.aft), carving=search.carving
    )
    return GrownBlock(
        offset=tried.offset,
        fore=tried.fore,
        aft=tried.aft,
        pairing=tried.pairing,
        block=tried.block,
        deviation=deviation,
        before=search.before,
        least_cover=-tried.missing,
        fore_range=(tried.offset, tried.offset),
        aft_range=(tried.offset, tried.offset),
    )


def _least_growth(search: _Search, missing: float) -> GrownBlock | None:
    """The least offset by the worst points, then confirmed at all sections; None if HOPELESS is not enough."""
    spare = -search.allowed
    for _ in range(CONFIRMATIONS):
        tried = _least_offset(search, missing, spare)
        if tried is None:
            return None
        block = _finish(search, tried)
        if block.deviation.missing <= search.allowed + CLOSE:
            return block
        spare += block.deviation.missing - search.allowed
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
