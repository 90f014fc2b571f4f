"""Measure the deviation of a ruled block from the hull: signed, in mm, at sections inside the block.

Positive is extra foam, to be sanded off; negative is missing foam, which cannot be put back. At each section two sets
of points are measured: points of the block's outline to the hull's outline, signed by whether they lie inside the hull,
and points of the hull's outline to the block's, signed by whether they lie inside the block. Distances lie within the
section. The nearest point of the hull's surface may lie forward or aft of it, so the true distance is smaller, by the
cosine of the surface's slope along the hull; the reported value is never too small.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import MultiPolygon

from profiles.arrays import Bools, Floats, Ints
from profiles.blocks.depth import depth_inside
from profiles.blocks.hull_sections import ROUND, Cut, Inside, InsideSection, add_section, find_kinks
from profiles.blocks.pairing import Mark
from profiles.blocks.ring_pairs import RingPair
from profiles.blocks.ruled import RuledBlock, areas
from profiles.values import dataclass

SEARCHES = 3
"""Most sections added where the largest deviation is expected, for missing and for extra foam each."""

WORTH = 0.004
"""Share of the largest deviation; a section is added only if it is expected to raise the maximum by more than this."""

ON_AREA = 0.01
"""mm; a mark this near to the area of features lies on it."""

UNSEEN = 1e-3
"""mm; no sections are added to locate deviations smaller than this."""


@dataclass(frozen=True, slots=True)
class Extreme:
    """A largest deviation and where it is."""

    value: float
    """mm, positive for extra foam, negative for missing foam."""
    x: float
    """mm."""
    y: float
    """mm."""
    z: float
    """mm."""
    mark: int | None
    """The nearest mark."""


@dataclass(frozen=True, slots=True)
class AtMark:
    """Deviation around one mark, from the fore to the aft face."""

    number: int
    lowest: float
    """mm."""
    highest: float
    """mm."""
    mean: float
    """mm, of the absolute values."""


@dataclass(frozen=True, slots=True)
class AtSection:
    """Deviation at one section."""

    x: float
    """mm."""
    lowest: float
    """mm."""
    highest: float
    """mm."""


@dataclass(frozen=True, slots=True)
class Deviation:
    """Deviation of one block, mm."""

    lowest: Extreme
    """The smallest value: the most missing foam, or with growth the least extra foam."""
    highest: Extreme
    """The largest value: the most extra foam, or the least missing foam."""
    mean: float
    """Mean of the absolute values over the surface of the block, mm."""
    rms: float
    """Root mean square over the surface of the block, mm."""
    missing_volume: float
    """Volume of the hull outside the block, mm3."""
    extra_volume: float
    """Volume of the block outside the hull, to be sanded off, mm3; without what is carved."""
    by_mark: tuple[AtMark, ...]
    along: tuple[AtSection, ...]
    """At each measured section, both ends included."""
    unmeasured: int
    """Sections inside the block that could not be measured."""
    carved: tuple[int, ...] = ()
    """Numbers of the marks around which more is left than is sanded off: there the block is carved. `highest` and
    `extra_volume` are of the rest."""
    carved_depth: float = 0.0
    """mm; the most extra foam there."""
    carved_volume: float = 0.0
    """mm3 of extra foam there."""

    @property
    def missing(self) -> float:
        """Largest depth of missing foam, mm, never negative."""
        return max(0.0, -self.lowest.value)

    @property
    def extra(self) -> float:
        """Largest depth of extra foam, mm, never negative."""
        return max(0.0, self.highest.value)


@dataclass(frozen=True, slots=True)
class Carving:
    """What of a block is carved and not sanded: places with much extra foam, if they are few."""

    most: float
    """mm of extra foam that is sanded off."""
    area: MultiPolygon | None = None
    """(y, z) mm; what features cover. Marks in it are carved however many they are."""


MOST_CARVED = 0.5
"""Share of the marks outside the area of features; where more of them have too much extra foam, it is the block that is
unfit, and nothing of it counts as carved."""


@dataclass(frozen=True, slots=True)
class Sample:
    """Deviations at one section."""

    share: float
    """Of the way from the fore to the aft face."""
    places: Floats
    """(k, 2) mm: points on the block's outline, then points on the hull's."""
    values: Floats
    """(k,) mm."""
    even: Bools
    """(k,) the evenly spaced places; the others are kinks."""
    weight: float
    """In integrals along the block."""
    depth: Floats
    """mm by which the places on the hull's outline lie inside the block."""
    missing: float
    """Area of the hull's section outside the block's, mm2."""
    steps: Floats
    """(k,) mm of the block's outline that each of the evenly spaced places on it stands for; 0 for the others."""


def deviation_of(
    block: RuledBlock,
    inside: Inside,
    marks: tuple[Sequence[Mark], Sequence[Mark]] = ((), ()),
    cut: Cut | None = None,
    carving: Carving | None = None,
) -> tuple[Deviation, Inside]:
    """Deviation of a block from the hull inside it, and that hull; `marks` are those of both faces. Nothing counts as
    carved without `carving`.

    With `cut` sections are added where the largest deviations are expected, by a parabola through the highest three;
    the returned hull includes them.
    """
    samples, inside = measure_sections(block, inside, cut)
    return summarize(block, inside, samples, marks, carving), inside


def measure_sections(block: RuledBlock, inside: Inside, cut: Cut | None = None) -> tuple[list[Sample], Inside]:
    """Deviations at the sections inside a block, and the hull inside it including the sections that were added."""
    wires = _sample_wires(block)
    samples = {sample.share: sample for sample in _samples(block, inside, inside.sections, wires)}
    for sign in (-1, 1) if cut is not None else ():
        for _ in range(SEARCHES):
            share = _expected_peak(samples, sign)
            if share is None or cut is None:
                break
            inside = add_section(inside, cut, share)
            added = [section for section in inside.sections if section.share == share]
            if not added:
                break
            (samples[share],) = _samples(block, inside, added, wires)
    return [samples[section.share] for section in inside.sections], inside


@dataclass(frozen=True, slots=True)
class _Wires:
    """Positions of the wire to measure at: points on the fore and the aft face, (k, 2) mm each."""

    fore: Floats
    aft: Floats
    even: Bools
    """(k,) the evenly spaced wires; the others are at kinks."""
    lengths: Floats
    """(k,) mm of both outlines together that an evenly spaced wire stands for, halved; 0 for the others."""


def _sample_wires(block: RuledBlock) -> _Wires:
    wires = [_ring_wires(pair) for pair in block.rings]
    return _Wires(
        np.concatenate([ring.fore for ring in wires]),
        np.concatenate([ring.aft for ring in wires]),
        np.concatenate([ring.even for ring in wires]),
        np.concatenate([ring.lengths for ring in wires]),
    )


def _ring_wires(pair: RingPair) -> _Wires:
    sums = pair.along_fore + pair.along_aft
    even = np.linspace(0.0, sums[-1], ROUND, endpoint=False)
    sharp = sorted({*_kinked_knots(pair.fore).tolist(), *_kinked_knots(pair.aft).tolist()})
    faces = []
    for ring in (pair.fore, pair.aft):
        closed = np.vstack([ring, ring[:1]])
        stepped = np.column_stack([np.interp(even, sums, closed[:, axis]) for axis in (0, 1)])
        faces.append(np.vstack([stepped, ring[sharp]]))
    is_even = np.arange(len(faces[0])) < ROUND
    return _Wires(faces[0], faces[1], is_even, np.where(is_even, sums[-1] / (2 * ROUND), 0.0))


def _kinked_knots(ring: Floats) -> Ints:
    """Indices of the knots where a ring has a kink; of knots at one point, the first."""
    distinct = np.flatnonzero(np.any(ring != np.roll(ring, 1, axis=0), axis=1))
    return distinct[find_kinks(ring[distinct])]


def _samples(block: RuledBlock, inside: Inside, sections: Sequence[InsideSection], wires: _Wires) -> Iterator[Sample]:
    # All sections are measured in one call: many small ones would cost more than the measuring.
    depths = depth_inside(block, np.concatenate([inside.points(section) for section in sections]))
    ends = np.cumsum([len(section.places) for section in sections])
    for section, depth in zip(sections, np.split(depths, ends[:-1]), strict=True):
        places = (1 - section.share) * wires.fore + section.share * wires.aft
        yield Sample(
            section.share,
            np.vstack([places, section.places]),
            np.concatenate([-section.boundary.depth(places), depth]),
            np.concatenate([wires.even, section.even]),
            section.weight,
            depth,
            float(np.maximum(0.0, -depth[section.even]).mean()) * section.region.length,
            np.concatenate([wires.lengths, np.zeros(len(depth))]),
        )


def _expected_peak(samples: dict[float, Sample], sign: int) -> float | None:
    """The share where the largest deviation of one sign is expected, if another section is worth it."""
    shares = np.array(sorted(samples))
    values = np.array([(sign * samples[share].values).max() for share in shares.tolist()])
    top = int(values.argmax())
    if values[top] < UNSEEN or not 0 < top < len(shares) - 1:
        return None
    near, heights = shares[top - 1 : top + 2], values[top - 1 : top + 2]
    square, slope, height = np.polyfit(near - near[1], heights, 2).tolist()
    if square >= 0:
        return None
    ahead = -slope / (2 * square)
    gain = height + slope * ahead / 2 - heights[1]
    return float(near[1] + ahead) if gain > WORTH * heights[1] else None


def summarize(
    block: RuledBlock,
    inside: Inside,
    samples: Sequence[Sample],
    marks: tuple[Sequence[Mark], Sequence[Mark]],
    carving: Carving | None = None,
) -> Deviation:
    """The deviation of a block from its samples; `marks` are those of both faces."""
    weights = np.array([sample.weight for sample in samples])
    weights = weights / weights.sum()
    even = [np.abs(sample.values[sample.even]) for sample in samples]
    mean = float(weights @ np.array([values.mean() for values in even]))
    square = float(weights @ np.array([(values**2).mean() for values in even]))
    numbers, nearest = _nearest_marks(samples, marks)
    by_mark = _by_mark(samples, nearest, numbers)
    carved = _carved_marks(by_mark, marks, carving) if carving else ()
    lowest, highest = (_extreme(block, samples, nearest, numbers, pick) for pick in (np.argmin, np.argmax))
    along = tuple(
        AtSection(block.x_fore + sample.share * block.thickness, float(sample.values.min()), float(sample.values.max()))
        for sample in samples
    )
    missing, extra = _volumes(block, inside, samples)
    deviation = Deviation(
        lowest=lowest,
        highest=highest,
        mean=mean,
        rms=math.sqrt(square),
        missing_volume=missing,
        extra_volume=extra,
        by_mark=by_mark,
        along=along,
        unmeasured=inside.unmeasured,
    )
    if not carved:
        return deviation
    out = [np.isin(own, np.flatnonzero(np.isin(numbers, carved))) for own in nearest]
    highest = _extreme(block, samples, nearest, numbers, np.argmax, out)
    sanded = sum(
        weight * block.thickness * float((np.maximum(0.0, sample.values) * sample.steps)[~taken].sum())
        for weight, sample, taken in zip(weights.tolist(), samples, out, strict=True)
    )
    return replace(
        deviation,
        highest=highest,
        extra_volume=min(sanded, extra),
        carved=carved,
        carved_depth=deviation.extra,
        carved_volume=max(0.0, extra - sanded),
    )


def _carved_marks(
    by_mark: Sequence[AtMark], marks: tuple[Sequence[Mark], Sequence[Mark]], carving: Carving
) -> tuple[int, ...]:
    """Numbers of the marks where the block is carved, ascending."""
    unfit = {mark.number for mark in by_mark if mark.highest > carving.most}
    on_area = {
        mark.number
        for face in marks
        for mark in face
        if carving.area is not None and carving.area.distance(shapely.Point(mark.y, mark.z)) < ON_AREA
    }
    free = [mark.number for mark in by_mark if mark.number not in on_area]
    if len(unfit.intersection(free)) > MOST_CARVED * len(free):
        return ()
    return tuple(sorted(unfit))


def _volumes(block: RuledBlock, inside: Inside, samples: Sequence[Sample]) -> tuple[float, float]:
    """Missing and extra foam, mm3. Missing foam is depth times length around the hull's outline; extra foam is block
    minus hull plus missing foam, with both volumes from the same sections, so that their errors cancel.
    """
    weights = np.array([sample.weight for sample in samples]) * block.thickness
    missing = float(weights @ np.array([sample.missing for sample in samples]))
    foam = float(weights @ areas(block, np.array([sample.share for sample in samples])))
    return missing, max(0.0, foam - inside.volume + missing)


def _nearest_marks(
    samples: Sequence[Sample], marks: tuple[Sequence[Mark], Sequence[Mark]]
) -> tuple[list[int], list[Ints]]:
    """Numbers of the marks, and for each section the index of the mark nearest to each place, (k,)."""
    fore, aft = (np.array([(mark.y, mark.z) for mark in face]).reshape(-1, 2) for face in marks)
    if not len(fore) or len(fore) != len(aft):
        return [], []
    nearest = [_nearest_points(sample.places, (1 - sample.share) * fore + sample.share * aft) for sample in samples]
    return [mark.number for mark in marks[0]], nearest


MANY_MARKS = 200
"""Beyond, as many pieces have, the nearest mark is looked up in a tree: comparing with each would take too long. Up to
here that is quicker than to load the tree."""


def _nearest_points(places: Floats, points: Floats) -> Ints:
    """For each of the places (k, 2) the number of the nearest of the points (n, 2)."""
    if len(points) > MANY_MARKS:
        from scipy.spatial import KDTree

        return np.asarray(KDTree(points).query(places)[1])
    # |place - point|^2 without the term of the place, which is the same for all points.
    return np.asarray(((points**2).sum(axis=1) - 2 * places @ points.T).argmin(axis=1))


def _extreme(
    block: RuledBlock,
    samples: Sequence[Sample],
    nearest: Sequence[Ints],
    numbers: Sequence[int],
    pick: Callable[[Floats], np.intp],
    out: Sequence[Bools] | None = None,
) -> Extreme:
    """The extreme value of all samples; those that are `out` count as zero."""
    every = [sample.values for sample in samples]
    if out is not None:
        every = [np.where(taken, 0.0, values) for values, taken in zip(every, out, strict=True)]
    section = int(pick(np.array([values[pick(values)] for values in every])))
    sample = samples[section]
    place = int(pick(every[section]))
    y, z = sample.places[place].tolist()
    x = block.x_fore + sample.share * block.thickness
    mark = numbers[int(nearest[section][place])] if numbers else None
    return Extreme(float(every[section][place]), x, y, z, mark)


def _by_mark(samples: Sequence[Sample], nearest: Sequence[Ints], numbers: Sequence[int]) -> tuple[AtMark, ...]:
    if not numbers:
        return ()
    values = np.concatenate([sample.values for sample in samples])
    owner = np.concatenate(nearest)
    lowest, highest = np.full(len(numbers), np.inf), np.full(len(numbers), -np.inf)
    np.minimum.at(lowest, owner, values)
    np.maximum.at(highest, owner, values)
    count = np.bincount(owner, minlength=len(numbers))
    mean = np.bincount(owner, np.abs(values), len(numbers)) / np.maximum(count, 1)
    return tuple(
        AtMark(number, float(lowest[n]), float(highest[n]), float(mean[n]))
        for n, number in enumerate(numbers)
        if count[n]
    )
