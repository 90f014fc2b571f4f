"""Two closed lines matched point by point, as two hands go along them.

Stop      a place on the fore ring that goes with a place on the aft ring; there is a mark at each
RingPair  the rings, with knots at all vertices of both: between two stops both hands go evenly, so a share of the way
          on the one ring goes with the same share on the other

The wire is modelled as hands hold it. So what is measured and grown is what the marks on the templates give.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from profiles.arrays import Floats
from profiles.blocks.boundary import ONE_PLACE
from profiles.blocks.landmarks import Landmark, Ring
from profiles.blocks.speeds import BURNS, RESTS
from profiles.values import dataclass

STRAIGHT = 1e-7
"""mm; a knot this near to the line between its neighbours is no vertex: far below the bend of a curve at the vertices
of a mesh."""


@dataclass(frozen=True, slots=True)
class RingPair:
    """Two rings with matched vertices: points of equal index are joined by the straight wire."""

    fore: Floats
    """(k, 2) mm, anticlockwise; holds every vertex of the fore ring."""
    aft: Floats
    """(k, 2) mm, the same for the aft ring."""
    along_fore: Floats
    """(k + 1,) mm along the fore ring, its whole length at the end."""
    along_aft: Floats
    hollow: bool
    part: int
    """Rings of one number belong to one part: its outside, then its hollows."""
    stops: tuple[Landmark, ...]
    """Ascending; the first is at (0, 0). Between two of them hands go evenly."""
    keel: float
    """mm along the fore ring."""
    deck: float
    """mm along the fore ring."""

    @property
    def from_keel(self) -> bool:
        """Whether keel and deck are stops; otherwise the rings begin at a corner."""
        return self.stops[0].kind == "keel"

    @property
    def places(self) -> Floats:
        """(m + 1, 2) mm along both rings: the stops, and the ends of the rings."""
        return np.array([*((stop.fore, stop.aft) for stop in self.stops), (self.along_fore[-1], self.along_aft[-1])])

    @property
    def speed_ratios(self) -> Floats:
        """The ratio of the two hands' ways between stops, where either is BURNS or more; inf where one hand RESTS."""
        runs = np.diff(self.places, axis=0)
        slow, fast = runs.min(axis=1), runs.max(axis=1)
        ratios = np.divide(fast, slow, out=np.full(len(runs), np.inf), where=slow > RESTS)
        return np.asarray(ratios[fast >= BURNS])


def pair_evenly(
    fore: Ring,
    aft: Ring,
    stops: Sequence[Landmark],
    part: int,
    keel_and_deck: tuple[float, float],
) -> RingPair:
    """The pair of rings whose hands go evenly between `stops`, of which the last is where the rings end."""
    on = np.array([(stop.fore, stop.aft) for stop in stops])
    on = np.column_stack([_snap(on[:, face], ring.along) for face, ring in enumerate((fore, aft))])
    stops = [Landmark(f, a, stop.kind) for (f, a), stop in zip(on.tolist(), stops, strict=True)]
    along = _knots((fore.along[:-1], aft.along[:-1]), on)
    points = [
        np.column_stack([np.interp(along[:-1, face], ring.along, ring.closed[:, axis]) for axis in (0, 1)])
        for face, ring in enumerate((fore, aft))
    ]
    line = points[0], points[1], along[:, 0], along[:, 1]
    return RingPair(*line, fore.hollow, part, tuple(stops[:-1]), *keel_and_deck)


def even_out(pair: RingPair) -> RingPair:
    """The pair with its rings as they are and the hands evenly between its stops, after the rings were moved."""
    vertices, closed = [], []
    rings, alongs = (pair.fore, pair.aft), (pair.along_fore, pair.along_aft)
    for ring, along in zip(rings, alongs, strict=True):
        fresh = np.flatnonzero(np.diff(along) > 0)
        way = np.roll(ring[fresh], -1, axis=0) - ring[fresh]
        into = np.roll(way, 1, axis=0)
        across = np.abs(way[:, 0] * into[:, 1] - way[:, 1] * into[:, 0])
        longer = np.sqrt(np.maximum((way**2).sum(axis=1), (into**2).sum(axis=1)))
        bent = (across > STRAIGHT * longer) | ((way * into).sum(axis=1) <= 0)
        vertices.append(along[fresh][bent])
        closed.append(np.vstack([ring, ring[:1]]))
    knots = _knots((vertices[0], vertices[1]), pair.places)
    points = [
        np.column_stack([np.interp(knots[:-1, face], alongs[face], closed[face][:, axis]) for axis in (0, 1)])
        for face in (0, 1)
    ]
    return replace(pair, fore=points[0], aft=points[1], along_fore=knots[:, 0], along_aft=knots[:, 1])


def _knots(vertices: tuple[Floats, Floats], places: Floats) -> Floats:
    """(k + 1, 2) mm along both rings of the knots: all vertices, given in mm along, and all places (p, 2)."""
    numbers = np.arange(len(places), dtype=np.float64)
    places = np.column_stack([_snap(places[:, face], vertices[face]) for face in (0, 1)])
    params, owned = [numbers], [places]
    for face in (0, 1):
        own = vertices[face][_apart(vertices[face], places[:, face]) > ONE_PLACE]
        params.append(np.interp(own, places[:, face], numbers))
        held = np.full((len(own), 2), -np.inf)
        held[:, face] = own
        owned.append(held)
    param, held = np.concatenate(params), np.concatenate(owned)
    order = np.argsort(param, kind="stable")
    param, held = param[order], held[order]
    along = np.column_stack(
        [_merge_places(np.interp(param, numbers, places[:, face]), held[:, face], places[-1, face]) for face in (0, 1)]
    )
    fresh = np.append(np.any(np.diff(along, axis=0) > 0, axis=1), True)
    return np.asarray(along[fresh])


def _snap(places: Floats, vertices: Floats) -> Floats:
    """The places (p,) with those at a vertex exactly there; rounding would otherwise leave it slightly beside."""
    near = _nearest(places, vertices)
    return np.where(np.abs(places - near) <= ONE_PLACE, near, places)


def _apart(places: Floats, others: Floats) -> Floats:
    """For each of the places (n,) how far the nearest of the others is."""
    return np.abs(places - _nearest(places, others))


def _nearest(places: Floats, others: Floats) -> Floats:
    """For each of the places (n,) the nearest of the others, which ascend."""
    after = np.clip(np.searchsorted(others, places), 1, len(others) - 1)
    low, high = others[after - 1], others[after]
    return np.where(places - low < high - places, low, high)


def _merge_places(along: Floats, owned: Floats, end: float) -> Floats:
    """Places along one ring, ascending, with those closer together than ONE_PLACE made equal: to the place `owned` by a
    vertex or a stop if there is one (-inf elsewhere), or to the `end` of the ring.

    Rounding would otherwise leave edges of almost no length, and a vertex slightly beside the outline.
    """
    along = np.maximum.accumulate(np.where(np.isfinite(owned), owned, along))
    fresh = np.concatenate([[True], np.diff(along) > ONE_PLACE])
    first = np.flatnonzero(fresh)
    held = np.maximum.reduceat(owned, first)
    place = np.where(np.isfinite(held), held, along[first])
    place[place > end - ONE_PLACE] = end
    return np.asarray(place[np.cumsum(fresh) - 1])


def mirror_pair(pair: RingPair) -> RingPair:
    """The mirror image of a pair about y = 0, again anticlockwise and from the same start."""
    ends = float(pair.along_fore[-1]), float(pair.along_aft[-1])
    rings = [np.vstack([ring, ring[:1]])[::-1][:-1] * (-1.0, 1.0) for ring in (pair.fore, pair.aft)]
    first, *others = pair.stops
    stops = (first, *(Landmark(ends[0] - stop.fore, ends[1] - stop.aft, stop.kind) for stop in reversed(others)))
    return replace(
        pair,
        fore=rings[0],
        aft=rings[1],
        along_fore=ends[0] - pair.along_fore[::-1],
        along_aft=ends[1] - pair.along_aft[::-1],
        stops=stops,
        keel=-pair.keel % ends[0],
        deck=-pair.deck % ends[0],
    )
