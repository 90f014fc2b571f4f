"""The pairing of outlines that are partly the same on both faces, led by the pairing of what they were made from.

A core is paired as any block. Where features join it, both outlines follow the features' area, each from where it
leaves its own core. So wherever both outlines run along their cores, points stay with their partners; wherever they run
along the area, a point is its own partner; and between the two the hands go in proportion. Stops are where hands that
go evenly between them keep to that.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from shapely import LinearRing, MultiPolygon

from profiles.arrays import Bools, Floats
from profiles.blocks.boundary import ONE_PLACE
from profiles.blocks.landmarks import Landmark, ring_of, straddles
from profiles.blocks.ring_pairs import RingPair, pair_evenly

ON = 1e-6
"""mm; a knot this near to an outline lies on it."""

DRIFT = 0.05
"""mm along an outline by which even hands may leave the pairing of the cores."""

SHARED = 0.5
"""mm; the outlines run together where they share more than this."""


def join_pairing(
    rings: Sequence[RingPair], fore: MultiPolygon, aft: MultiPolygon, reach: float = ON
) -> tuple[RingPair, ...] | None:
    """The pairing of the outlines of two faces (y, z) mm that hold the `rings` of a core and areas that both share.

    Points of the rings belong to an outline that passes within `reach` mm of them, so that it may be the outline of
    these rings moved by so much. None where the outlines have other parts or hollows on the one face than on the other.
    """
    pairs = []
    knots = (
        np.concatenate([np.stack([pair.fore, pair.aft], axis=1) for pair in rings]) if rings else np.zeros((0, 2, 2))
    )
    parts = _partners(list(fore.geoms), list(aft.geoms))
    if parts is None:
        return None
    for number, (fore_part, aft_part) in enumerate(parts):
        hollows = _partners(*([shapely.Polygon(ring) for ring in part.interiors] for part in (fore_part, aft_part)))
        if hollows is None:
            return None
        lines = [(fore_part.exterior, aft_part.exterior), *((a.exterior, b.exterior) for a, b in hollows)]
        pairs += [_pair(*both, knots, number, reach, hollow=n > 0) for n, both in enumerate(lines)]
    return tuple(pairs)


def _partners(
    fore: Sequence[shapely.Polygon], aft: Sequence[shapely.Polygon]
) -> list[tuple[shapely.Polygon, shapely.Polygon]] | None:
    """Parts that overlap most, each used once; None where one is left over or overlaps none."""
    if len(fore) != len(aft):
        return None
    left = list(aft)
    pairs = []
    for part in sorted(fore, key=lambda part: (-part.area, part.bounds)):
        shares = [part.intersection(other).area for other in left]
        best = int(np.argmax(shares))
        if shares[best] <= 0:
            return None
        pairs.append((part, left.pop(best)))
    return pairs


def _pair(
    fore_line: LinearRing, aft_line: LinearRing, knots: Floats, part: int, reach: float, *, hollow: bool
) -> RingPair:
    centre = 0.0 if straddles(fore_line) and straddles(aft_line) else None
    fore, aft = (ring_of(line, hollow=hollow, centre=centre) for line in (fore_line, aft_line))
    lines = [shapely.linestrings(ring.closed) for ring in (fore, aft)]
    together = _places(lines, _ends_of_shared_runs(*lines))
    on_both = [shapely.distance(shapely.points(knots[:, face]), line) < reach for face, line in enumerate(lines)]
    partners = _places(lines, knots[on_both[0] & on_both[1]])
    inside = [np.array([fore.length, aft.length]) - ONE_PLACE * 10, ONE_PLACE * 10]
    places = np.concatenate([together, partners])
    named = np.arange(len(places)) < len(together)
    within = np.all((places < inside[0]) & (places > inside[1]), axis=1)
    places, named = places[within], named[within]
    order = np.lexsort((places[:, 1], places[:, 0]))
    kept = order[_ascending(places[order])]
    ends = np.array([(fore.length, aft.length)])
    stops = _stops(np.concatenate([np.zeros((1, 2)), places[kept], ends]), named[kept])
    return pair_evenly(fore, aft, stops, part, (0.0, fore.deck))


def _ends_of_shared_runs(fore: shapely.LineString, aft: shapely.LineString) -> Floats:
    """(k, 2, 2) mm: where the outlines begin and end to run together, on the fore and on the aft face."""
    runs = shapely.get_parts(shapely.line_merge(shapely.intersection(fore, aft)))
    ends = [
        end
        for run in runs
        if isinstance(run, shapely.LineString) and run.length > SHARED
        for end in shapely.get_coordinates(run)[[0, -1]]
    ]
    return np.repeat(np.array(ends).reshape(-1, 1, 2), 2, axis=1)


def _places(lines: Sequence[shapely.LineString], points: Floats) -> Floats:
    """(k, 2) mm along both outlines of points (k, 2, 2) that lie on them."""
    return np.column_stack(
        [shapely.line_locate_point(line, shapely.points(points[:, face])) for face, line in enumerate(lines)]
    )


def _ascending(places: Floats) -> list[int]:
    """Numbers of the most places (k, 2), ascending on the first ring, that ascend on the second ring too."""
    tails: list[float] = []
    last: list[int] = []
    before = np.full(len(places), -1)
    for n, (_, place) in enumerate(places.tolist()):
        at = int(np.searchsorted(tails, place, side="left"))
        if at > 0:
            before[n] = last[at - 1]
        if at == len(tails):
            tails.append(place)
            last.append(n)
        else:
            tails[at], last[at] = place, n
    chain: list[int] = []
    n = last[-1] if last else -1
    while n >= 0:
        chain.append(n)
        n = int(before[n])
    return chain[::-1]


def _stops(places: Floats, named: Bools) -> list[Landmark]:
    """The stops out of places (p, 2) mm along both rings, of which the first and the last are the keel, those `named`
    (p - 2,) are corners, and the others are needed only where hands would leave them by more than DRIFT.
    """
    fixed = [0, *(np.flatnonzero(named) + 1).tolist(), len(places) - 1]
    stops = []
    for start, end in pairwise(fixed):
        line = shapely.linestrings(places[start : end + 1])
        bends = shapely.get_coordinates(shapely.simplify(line, DRIFT, preserve_topology=False))[:-1].tolist()
        kinds = ["corner" if start else "keel", *["even"] * (len(bends) - 1)]
        stops += [Landmark(on_fore, on_aft, kind) for (on_fore, on_aft), kind in zip(bends, kinds, strict=True)]
    return [*stops, Landmark(float(places[-1, 0]), float(places[-1, 1]), "keel")]
