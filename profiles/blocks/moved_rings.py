"""Move rings outwards by an offset that varies along them.

Handles are the places round a ring where the offset is free; between two handles it changes evenly. A handle moves
along the mitre of the two lines that meet there. So a line between two handles moves square to itself by the offsets at
its ends, and corners stay sharp. Knots keep their partners, so the pairing stays the same.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from profiles.arrays import Floats, Ints
from profiles.blocks.landmarks import Landmark
from profiles.blocks.outlines import MITRE_LIMIT
from profiles.blocks.ring_pairs import RingPair
from profiles.values import dataclass

BEND = 0.05
"""mm; handles follow the ring to this, so that small steps of a mesh do not change the direction of growth."""

APART = 5.0
"""mm; handles are no farther apart, so that growth can rise and fall within a centimetre."""

MOST_HANDLES = 90
"""About the number of handles on a long ring with few bends. More take time and save hardly any foam."""

ROUNDING = 1e-9
"""Steps; a gap within this of a whole number of steps has that number."""

TINY = 1e-12
"""mm; less than any length that is a divisor."""


@dataclass(frozen=True, slots=True)
class Handles:
    """The handles of one ring."""

    along: Floats
    """(g,) mm along the ring, ascending; the first is at 0."""
    length: float
    """mm, of the whole ring."""
    way: Floats
    """(g, 2) mm, (y, z) movement of the ring for each mm of offset, out of the material."""

    def beside(self, along: Floats) -> tuple[Ints, Ints, Floats]:
        """For places (k,) mm along the ring: the handles before and after, and the share of the way between them."""
        low = np.clip(np.searchsorted(self.along, along, side="right") - 1, 0, len(self.along) - 1)
        share = (along - self.along[low]) / self.gaps[low]
        return low, (low + 1) % len(self.along), np.clip(share, 0.0, 1.0)

    @property
    def gaps(self) -> Floats:
        """(g,) mm from each handle to the next."""
        return np.diff(self.along, append=self.length)

    def moves(self, along: Floats, offsets: Floats) -> Floats:
        """(k, 2) mm, the movement of places (k,) mm along the ring with offsets (g,) mm at the handles."""
        move = self.way * offsets[:, None]
        return np.column_stack(
            [np.interp(along, [*self.along, self.length], [*move[:, axis], move[0, axis]]) for axis in (0, 1)]
        )


def refine(pair: RingPair) -> RingPair:
    """The same pairing, with knots no farther apart than handles may be."""
    step = _apart(max(float(pair.along_fore[-1]), float(pair.along_aft[-1])))
    runs = np.maximum(np.diff(pair.along_fore), np.diff(pair.along_aft))
    pieces = np.maximum(1, np.ceil(runs / step)).astype(np.int64)
    if pieces.max() == 1:
        return pair
    knot = np.repeat(np.arange(len(pieces)), pieces)
    share = (np.arange(len(knot)) - np.repeat(np.cumsum(pieces) - pieces, pieces)) / pieces[knot]
    after = (knot + 1) % len(pieces)
    fore, aft = (ring[knot] + share[:, None] * (ring[after] - ring[knot]) for ring in (pair.fore, pair.aft))
    along_fore, along_aft = (
        np.append(along[knot] + share * (along[knot + 1] - along[knot]), along[-1])
        for along in (pair.along_fore, pair.along_aft)
    )
    return replace(pair, fore=fore, aft=aft, along_fore=along_fore, along_aft=along_aft)


def handles_of(ring: Floats, along: Floats, *, hollow: bool) -> Handles:
    """The handles of a ring (k, 2) mm, anticlockwise, with knots at `along` (k + 1,) mm: its bends, and more knots so
    that gaps are at most APART.
    """
    length = float(along[-1])
    fresh = np.flatnonzero((np.diff(along, prepend=-1.0) > 0) & (along < length))
    points, places = ring[fresh], along[fresh]
    numbered = np.column_stack([np.vstack([points, points[:1]]), np.arange(len(points) + 1)])
    bends = shapely.simplify(shapely.linestrings(numbered), BEND, preserve_topology=False)
    bend = shapely.get_coordinates(bends, include_z=True)[:-1, 2].astype(np.int64)
    if len(bend) < 3:  # noqa: PLR2004 - no area is left
        bend = np.arange(len(points))
    starts = places[bend]
    gaps = np.diff(starts, append=length)
    pieces = np.ceil(gaps / _apart(length) - ROUNDING).astype(np.int64)
    gap = np.repeat(np.arange(len(bend)), pieces)
    step = np.arange(len(gap)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    wanted = (starts[gap] + gaps[gap] * step / pieces[gap])[step > 0]
    after = np.clip(np.searchsorted(places, wanted), 1, len(places) - 1)
    nearest = after - (wanted - places[after - 1] < places[after] - wanted)
    chosen = np.union1d(bend, nearest)
    return Handles(places[chosen], length, _mitres(points[chosen], hollow=hollow))


def _apart(length: float) -> float:
    """Greatest distance of handles on a ring of that length, mm."""
    return max(APART, length / MOST_HANDLES)


def _mitres(points: Floats, *, hollow: bool) -> Floats:
    """(g, 2) movement of each corner of a polygon (g, 2) for each mm that its sides move outwards."""
    way = np.roll(points, -1, axis=0) - points
    size = np.maximum(np.hypot(way[:, 0], way[:, 1]), TINY)
    normal = np.column_stack([way[:, 1], -way[:, 0]]) / size[:, None] * (-1 if hollow else 1)
    both = normal + np.roll(normal, 1, axis=0)
    square = (both**2).sum(axis=1)
    # 2 n / |n|^2 is the mitre, 2 / |n| long; at sharper corners it is no longer than MITRE_LIMIT.
    short = np.maximum(np.sqrt(square), TINY) * np.maximum(np.sqrt(square), 2 / MITRE_LIMIT)
    return np.asarray(2 * both / short[:, None])


def move_rings(pair: RingPair, handles: Sequence[Handles], offsets: Sequence[Floats]) -> RingPair:
    """The pair with both rings moved by the offsets (g,) mm at the handles of the fore and the aft ring. Knots stay
    partners, so hands do not quite go evenly between its stops; `even_out` sees to that.
    """
    before = pair.along_fore, pair.along_aft
    rings = [
        ring + ring_handles.moves(along[:-1], offset)
        for ring, along, ring_handles, offset in zip((pair.fore, pair.aft), before, handles, offsets, strict=True)
    ]
    after = [_along(ring) for ring in rings]
    places = np.column_stack([np.interp(pair.places[:-1, face], before[face], after[face]) for face in (0, 1)])
    stops = [
        Landmark(on_fore, on_aft, stop.kind)
        for (on_fore, on_aft), stop in zip(places.tolist(), pair.stops, strict=True)
    ]
    return replace(
        pair,
        fore=rings[0],
        aft=rings[1],
        along_fore=after[0],
        along_aft=after[1],
        stops=tuple(stops),
        keel=float(np.interp(pair.keel, before[0], after[0])),
        deck=float(np.interp(pair.deck, before[0], after[0])),
    )


def _along(ring: Floats) -> Floats:
    """(k + 1,) mm along a ring (k, 2) to each point, with the whole length at the end."""
    way = np.diff(ring, axis=0, append=ring[:1])
    return np.concatenate([[0.0], np.cumsum(np.hypot(way[:, 0], way[:, 1]))])


def faces_of(rings: Sequence[RingPair]) -> tuple[MultiPolygon, MultiPolygon] | None:
    """The fore and the aft face that the rings enclose; None where they are not simple outlines."""
    fore, aft = (
        MultiPolygon(
            [
                Polygon(shell, [ring for ring, pair in lines if pair.hollow and pair.part == own.part])
                for shell, own in lines
                if not own.hollow
            ]
        )
        for lines in ([(_distinct(pair.fore), pair) for pair in rings], [(_distinct(pair.aft), pair) for pair in rings])
    )
    return (fore, aft) if fore.is_valid and aft.is_valid else None


def _distinct(ring: Floats) -> Floats:
    """The ring without repeated points."""
    return np.asarray(ring[np.any(ring != np.roll(ring, 1, axis=0), axis=1)])
