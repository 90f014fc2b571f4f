"""How far the block that the wire leaves is from the hull: signed, in mm, measured across at sections inside the block.

Positive is extra foam, to be sanded off; negative is missing foam, which nothing brings back. At each section two
families of points are measured: points of the block's outline to the hull's outline, signed by whether they lie inside
the hull, and points of the hull's outline to the block's, signed by whether they lie inside the block. Distances are
taken within the section. The nearest point of the hull's skin may lie forward or aft of it, so the distance square to
the skin is smaller, by the cosine of the skin's slope along the hull; what is told is never too small.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from profiles.blocks.correspondence import RingPair
from profiles.blocks.depth import cover
from profiles.blocks.hull_sections import ROUND, Bools, Cut, Inside, InsideSection, kinks, with_section
from profiles.blocks.pairing import Mark
from profiles.blocks.ruled import RuledBlock, areas
from profiles.hull.surface import Floats, Ints

SEARCHES = 3
"""Sections added at most where the largest deviation is expected, for missing and for extra foam each."""

WORTH = 0.004
"""Share of the largest deviation by which a section more must be expected to raise it; below that it is not added."""

UNSEEN = 1e-3
"""mm; deviations below this are not looked for more closely."""


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
    """Deviation in the stretch round one mark, from the fore to the aft face."""

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
    """Of one block, mm."""

    lowest: Extreme
    """The least value: the most missing foam, or with growth the least extra foam."""
    highest: Extreme
    """The greatest value: the most extra foam, or the least missing."""
    mean: float
    """Of the absolute values over the skin of the block."""
    rms: float
    missing_volume: float
    """mm3 of the hull that the block lacks."""
    extra_volume: float
    """mm3 of the block that is not hull: what is to be sanded off."""
    by_mark: tuple[AtMark, ...]
    along: tuple[AtSection, ...]
    """At each section measured, both ends included."""
    unmeasured: int
    """Sections inside the block that could not be measured."""

    @property
    def missing(self) -> float:
        """Largest depth of missing foam, mm, never negative."""
        return max(0.0, -self.lowest.value)

    @property
    def extra(self) -> float:
        """Largest depth of extra foam, mm, never negative."""
        return max(0.0, self.highest.value)


@dataclass(frozen=True, slots=True)
class AtPlaces:
    """Deviations at one section."""

    share: float
    places: Floats
    """(k, 2) mm: first those on the block's outline, then those on the hull's."""
    values: Floats
    """(k,) mm."""
    even: Bools
    weight: float
    depth: Floats
    """mm by which the places on the hull's outline lie inside the block."""
    missing: float
    """mm2 of the hull's section outside the block's."""


def deviation(
    block: RuledBlock, inside: Inside, marks: tuple[Sequence[Mark], Sequence[Mark]] = ((), ()), cut: Cut | None = None
) -> tuple[Deviation, Inside]:
    """Deviation of a block, which must not be a tip block, from the hull inside it; `marks` are those of both faces.

    With `cut` sections are added where the largest deviations are to be expected, by a parabola through the highest
    three; the hull inside the block comes back with them.
    """
    found, inside = measured(block, inside, cut)
    return gathered(block, inside, found, marks), inside


def measured(block: RuledBlock, inside: Inside, cut: Cut | None = None) -> tuple[list[AtPlaces], Inside]:
    """Deviations at the sections inside a block, and the hull inside it with the sections that were added."""
    wires = _wires(block)
    found = {one.share: one for one in _at_places(block, inside, inside.sections, wires)}
    for sign in (-1, 1) if cut is not None else ():
        for _ in range(SEARCHES):
            share = _peak(found, sign)
            if share is None or cut is None:
                break
            inside = with_section(inside, cut, share)
            fresh = [one for one in inside.sections if one.share == share]
            if not fresh:
                break
            (found[share],) = _at_places(block, inside, fresh, wires)
    return [found[one.share] for one in inside.sections], inside


@dataclass(frozen=True, slots=True)
class _Wires:
    """Wires that are looked at: places on the fore and the aft face, (k, 2) mm each."""

    fore: Floats
    aft: Floats
    even: Bools
    """(k,) the even steps; the others are kinks."""


def _wires(block: RuledBlock) -> _Wires:
    own = [_wires_of(pair) for pair in block.rings]
    return _Wires(
        np.concatenate([one.fore for one in own]),
        np.concatenate([one.aft for one in own]),
        np.concatenate([one.even for one in own]),
    )


def _wires_of(pair: RingPair) -> _Wires:
    sums = pair.along_fore + pair.along_aft
    even = np.linspace(0.0, sums[-1], ROUND, endpoint=False)
    sharp = sorted({*_sharp(pair.fore).tolist(), *_sharp(pair.aft).tolist()})
    faces = []
    for ring in (pair.fore, pair.aft):
        closed = np.vstack([ring, ring[:1]])
        stepped = np.column_stack([np.interp(even, sums, closed[:, axis]) for axis in (0, 1)])
        faces.append(np.vstack([stepped, ring[sharp]]))
    return _Wires(faces[0], faces[1], np.arange(len(faces[0])) < ROUND)


def _sharp(ring: Floats) -> Ints:
    """Numbers of the knots (of each fan the first) where a ring has a kink."""
    fresh = np.flatnonzero(np.any(ring != np.roll(ring, 1, axis=0), axis=1))
    return fresh[kinks(ring[fresh])]


def _at_places(
    block: RuledBlock, inside: Inside, sections: Sequence[InsideSection], wires: _Wires
) -> Iterator[AtPlaces]:
    depths = cover(block, np.concatenate([inside.points(one) for one in sections]))
    ends = np.cumsum([len(one.places) for one in sections])
    for one, depth in zip(sections, np.split(depths, ends[:-1]), strict=True):
        places = (1 - one.share) * wires.fore + one.share * wires.aft
        yield AtPlaces(
            one.share,
            np.vstack([places, one.places]),
            np.concatenate([-one.boundary.depth(places), depth]),
            np.concatenate([wires.even, one.even]),
            one.weight,
            depth,
            float(np.maximum(0.0, -depth[one.even]).mean()) * one.region.length,
        )


def _range(found: AtPlaces) -> tuple[float, float]:
    return float(found.values.min()), float(found.values.max())


def _peak(found: dict[float, AtPlaces], sign: int) -> float | None:
    """The share where the largest deviation of one sign is to be expected, if that is worth a section."""
    shares = np.array(sorted(found))
    values = np.array([(sign * found[share].values).max() for share in shares.tolist()])
    top = int(values.argmax())
    if values[top] < UNSEEN or not 0 < top < len(shares) - 1:
        return None
    near, own = shares[top - 1 : top + 2], values[top - 1 : top + 2]
    square, slope, height = np.polyfit(near - near[1], own, 2).tolist()
    if square >= 0:
        return None
    ahead = -slope / (2 * square)
    gain = height + slope * ahead / 2 - own[1]
    return float(near[1] + ahead) if gain > WORTH * own[1] else None


def gathered(
    block: RuledBlock, inside: Inside, found: Sequence[AtPlaces], marks: tuple[Sequence[Mark], Sequence[Mark]]
) -> Deviation:
    """The deviation of a block from what was measured; `marks` are those of both faces."""
    weights = np.array([one.weight for one in found])
    weights = weights / weights.sum()
    even = [np.abs(one.values[one.even]) for one in found]
    mean = float(weights @ np.array([own.mean() for own in even]))
    square = float(weights @ np.array([(own**2).mean() for own in even]))
    numbers, nearest = _nearest(found, marks)
    lowest, highest = (_extreme(block, found, nearest, numbers, pick) for pick in (np.argmin, np.argmax))
    along = tuple(AtSection(block.x_fore + one.share * block.thickness, *_range(one)) for one in found)
    missing, extra = _volumes(block, inside, found)
    return Deviation(
        lowest=lowest,
        highest=highest,
        mean=mean,
        rms=math.sqrt(square),
        missing_volume=missing,
        extra_volume=extra,
        by_mark=_by_mark(found, nearest, numbers),
        along=along,
        unmeasured=inside.unmeasured,
    )


def _volumes(block: RuledBlock, inside: Inside, found: Sequence[AtPlaces]) -> tuple[float, float]:
    """Missing and extra foam, mm3: the missing as depth times length round the hull's outline; the extra is that and
    what the block's volume is greater than the hull's, both by the same sections.
    """
    weights = np.array([one.weight for one in found]) * block.thickness
    missing = float(weights @ np.array([one.missing for one in found]))
    left = float(weights @ areas(block, np.array([one.share for one in found])))
    return missing, max(0.0, left - inside.volume + missing)


def _nearest(found: Sequence[AtPlaces], marks: tuple[Sequence[Mark], Sequence[Mark]]) -> tuple[list[int], list[Ints]]:
    """Numbers of the marks, and for each section which of them is nearest to each place, (k,)."""
    fore, aft = (np.array([(mark.y, mark.z) for mark in own]).reshape(-1, 2) for own in marks)
    if not len(fore) or len(fore) != len(aft):
        return [], []
    nearest = []
    for one in found:
        stand = (1 - one.share) * fore + one.share * aft
        nearest.append(((stand**2).sum(axis=1) - 2 * one.places @ stand.T).argmin(axis=1))
    return [mark.number for mark in marks[0]], nearest


def _extreme(
    block: RuledBlock,
    found: Sequence[AtPlaces],
    nearest: Sequence[Ints],
    numbers: Sequence[int],
    pick: Callable[[Floats], np.intp],
) -> Extreme:
    section = int(pick(np.array([one.values[pick(one.values)] for one in found])))
    one = found[section]
    place = int(pick(one.values))
    y, z = one.places[place].tolist()
    x = block.x_fore + one.share * block.thickness
    mark = numbers[int(nearest[section][place])] if numbers else None
    return Extreme(float(one.values[place]), x, y, z, mark)


def _by_mark(found: Sequence[AtPlaces], nearest: Sequence[Ints], numbers: Sequence[int]) -> tuple[AtMark, ...]:
    if not numbers:
        return ()
    values = np.concatenate([one.values for one in found])
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
