"""The pairing of outlines that are partly the same on both faces, led by the pairing of what they were made from.

A core is paired as any block. Where features join it, both outlines follow the features' area, each from where it
leaves its own core. So wherever both outlines run along their cores, points stay with their partners; wherever they run
along the area, a point is its own partner; and between the two the hands go in proportion.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from shapely import LinearRing, MultiPolygon

from profiles.arrays import Bools, Floats
from profiles.blocks.boundary import ONE_PLACE
from profiles.blocks.correspondence import RingPair, insert_knots
from profiles.blocks.landmarks import Landmark, Ring, ring_of, straddles
from profiles.blocks.paths import BY_LENGTH

ON = 1e-6
"""mm; a knot this near to an outline lies on it."""

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
    return insert_knots(fore, aft, *_stretches(fore, aft, places[kept], named[kept]), part, (0.0, fore.deck))


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


def _stretches(fore: Ring, aft: Ring, places: Floats, named: Bools) -> tuple[list[Landmark], list[Floats]]:
    """The landmarks with the closing one, and the paths between them."""
    ends = [0, *(np.flatnonzero(named) + 1).tolist(), len(places) + 1]
    every = np.vstack([[0.0, 0.0], places, [fore.length, aft.length]])
    kinds = ["keel", *["corner"] * (len(ends) - 2), "keel"]
    landmarks = [Landmark(float(every[n, 0]), float(every[n, 1]), kind) for n, kind in zip(ends, kinds, strict=True)]
    return landmarks, [_path(every[start : end + 1]) for start, end in pairwise(ends)]


def _path(places: Floats) -> Floats:
    """Shares (p, 2) of a stretch at its places (p, 2) mm."""
    run = np.maximum(places[-1] - places[0], ONE_PLACE)
    shares = np.clip((places - places[0]) / run, 0.0, 1.0)
    shares[-1] = 1.0
    fresh = np.concatenate([[True], np.diff(shares.sum(axis=1)) > 0])
    return np.asarray(shares[fresh]) if fresh[-1] else BY_LENGTH
