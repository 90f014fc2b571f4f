"""Two rings divided by landmarks, and the sections between them -> a path that pairs each stretch.

A path is a monotone line from (0, 0) to (1, 1): share of the fore stretch, share of the aft stretch. Of all paths on a
grid over both stretches, dynamic programming finds those whose wires are nearest to the sections, in mean square and in
the greatest distance (H. Fuchs, Z. Kedem and S. Uselton, Communications of the ACM 20, 1977, find the least area in the
same graph). On a monotone path no two wires cross. These paths compete with plain ones: by arc length, vertex to vertex
where both stretches have equally many, about the corners of a flat panel, and smoothed. The plainest of equally good
paths wins, so a body that is ruled between its corners is paired exactly.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely

from profiles.arrays import Floats, Ints
from profiles.blocks.boundary import ONE_PLACE, Boundary
from profiles.blocks.landmarks import SYMMETRIC, Landmark, Ring
from profiles.blocks.speeds import limit_speeds
from profiles.values import dataclass

COARSE = 56
"""Cells round a whole ring in the first search, which covers all paths."""

SEARCHED = 3
"""Sections used in the search, spread over the block. More of them change the path by less than a cell."""

FINER = 3
"""Cells of the second search for each cell of the first. It covers only the neighbourhood of the first path."""

NEAR = 7
"""Half-width of the second search, in its own cells across the path: two cells of the first."""

LEAN = 1e-8
"""Preference of the search for pairing by arc length: 10 mm away from it weigh as much as 0.001 mm away from the hull.
This decides where the sections do not (a flat side), and is less than foam shows."""

PEAKED = 4
"""Power of the squared distance in the search for the smallest maximum. The higher, the more the maximum counts."""

AS_GOOD = 1.05
"""A plainer path wins when its mean square distance is greater by at most this factor: 2.5 % of a deviation."""

TRIALS = 61
"""Wires of each stretch on which paths are compared; a prime number, so that they do not fall on grid lines."""

WORTH = 0.1
"""mm by which a path must be nearer to the sections if one hand is too slow on it: a burnt hollow is deeper."""

BEND = 0.02
"""mm along the ring; smaller bends of a path are left out. Such a small shift keeps the wire on the surface."""

Targets = Sequence[tuple[float, Boundary]]
"""The sections between the faces: share of the way, and boundary of the ring."""


@dataclass(frozen=True, slots=True)
class _Stretch:
    """One ring between two landmarks: points (n, 2) and shares (n,) of all its vertices, the ends included."""

    points: Floats
    shares: Floats
    length: float

    def at(self, shares: Floats) -> Floats:
        """Points (..., 2) at shares (...)."""
        return np.stack([np.interp(shares, self.shares, self.points[:, axis]) for axis in (0, 1)], axis=-1)


def _stretch(ring: Ring, start: float, end: float) -> _Stretch:
    inside = np.flatnonzero((ring.along > start + ONE_PLACE) & (ring.along < end - ONE_PLACE))
    places = np.concatenate([[start], ring.along[inside], [end]])
    closed = ring.closed
    points = np.column_stack([np.interp(places, ring.along, closed[:, axis]) for axis in (0, 1)])
    length = max(end - start, ONE_PLACE)
    return _Stretch(points, (places - start) / length, length)


_Pair = tuple[_Stretch, _Stretch]

BY_LENGTH: Floats = np.array([[0.0, 0.0], [1.0, 1.0]])

_TURNING: tuple[Floats, ...] = (
    np.array([[0.0, 0.0], [0.0, 1.0], [1.0, 1.0]]),
    np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0]]),
)
"""The two ways to cover a panel with two triangles: the wire turns about one corner, then about the opposite one."""


def best_paths(
    fore: Ring, aft: Ring, landmarks: Sequence[Landmark], targets: Targets, *, mirrored: bool
) -> list[Floats]:
    """The best path of every stretch. For symmetric outlines only starboard is searched; port is its mirror image."""
    pairs = [
        (_stretch(fore, start.fore, end.fore), _stretch(aft, start.aft, end.aft)) for start, end in pairwise(landmarks)
    ]
    if not targets:
        return [BY_LENGTH] * len(pairs)
    half = len(pairs) // 2
    if mirrored and len(pairs) % 2 == 0 and _alike(pairs, max(fore.length, aft.length)):
        paths = _choose_paths(pairs[:half], targets)
        return [*paths, *(1.0 - path[::-1] for path in paths[::-1])]
    return _choose_paths(pairs, targets)


def _alike(pairs: Sequence[_Pair], length: float) -> bool:
    return all(
        abs(pairs[n][face].length - pairs[-1 - n][face].length) <= SYMMETRIC * length
        for n in range(len(pairs) // 2)
        for face in (0, 1)
    )


def _choose_paths(pairs: Sequence[_Pair], targets: Targets) -> list[Floats]:
    """The best path of each stretch: one whose hands keep their speeds within limits, unless that costs too much."""
    targets = targets[:: 1 + len(targets) // (SEARCHED + 1)]
    searched = _search(pairs, targets)
    offered = [_candidates(pair, paths) for pair, paths in zip(pairs, searched, strict=True)]
    slow = [[_slow_down(path, pair) for path in paths] for paths, pair in zip(offered, pairs, strict=True)]
    fast = [
        [path for path, bent in zip(paths, ways, strict=True) if bent is not path]
        for paths, ways in zip(offered, slow, strict=True)
    ]
    owners = [n for ways in (slow, fast) for n, paths in enumerate(ways) for _ in paths]
    every = [path for ways in (slow, fast) for paths in ways for path in paths]
    scores = _scores([pairs[n] for n in owners], every, targets)
    split = sum(map(len, slow))
    chosen: list[Floats] = []
    for n, pair in enumerate(pairs):
        of_slow, of_fast = (
            own[np.array(owner, np.int64) == n]
            for own, owner in ((scores[:split], owners[:split]), (scores[split:], owners[split:]))
        )
        values, paths = of_slow, slow[n]
        if len(of_fast) and math.sqrt(of_fast.min()) + WORTH < math.sqrt(of_slow.min()):
            values, paths = of_fast, fast[n]
        path = paths[int(np.argmax(values <= AS_GOOD * values.min() + 1e-15))]
        plain = any(path is other for other in offered[n][: -2 * len(searched[0])])
        chosen.append(path if plain else _straighten(path, pair))
    return chosen


def _slow_down(path: Floats, pair: _Pair) -> Floats:
    """The path, bent where one hand would be too slow."""
    lengths = np.array([pair[0].length, pair[1].length])
    places = path * lengths
    slow = limit_speeds(places)
    return path if slow is places else slow / lengths


def _candidates(pair: _Pair, searched: Sequence[Floats]) -> list[Floats]:
    """The paths to choose from, the plainest first."""
    fore, aft = pair
    paths = [BY_LENGTH]
    if len(fore.shares) == len(aft.shares) > 2:  # noqa: PLR2004 - more than the two ends
        paths.append(np.column_stack([fore.shares, aft.shares]))
    if len(fore.shares) == len(aft.shares) == 2:  # noqa: PLR2004 - straight on both faces
        paths += _TURNING
    return [*paths, *map(_smooth, searched), *searched]


def _scores(pairs: Sequence[_Pair], paths: Sequence[Floats], targets: Targets) -> Floats:
    """For each path, mm2: mean plus greatest squared distance of its wires from the sections, plus a share by LEAN."""
    shares = np.stack([_along_path(path, (np.arange(TRIALS) + 0.5) * 2 / TRIALS) for path in paths])
    fore = np.stack([pair[0].at(share[:, 0]) for pair, share in zip(pairs, shares, strict=True)])
    aft = np.stack([pair[1].at(share[:, 1]) for pair, share in zip(pairs, shares, strict=True)])
    mean, worst = (
        squares.reshape(len(paths), -1) for squares in squared_misses(fore.reshape(-1, 2), aft.reshape(-1, 2), targets)
    )
    total = mean.mean(axis=1) + worst.max(axis=1)
    size = np.array([(fore_stretch.length + aft_stretch.length) / 2 for fore_stretch, aft_stretch in pairs])
    return np.asarray(total + LEAN * (size**2) * ((shares[..., 0] - shares[..., 1]) ** 2).mean(axis=1))


def squared_misses(fore: Floats, aft: Floats, targets: Targets) -> tuple[Floats, Floats]:
    """Squared distances in mm2 of wires, fore (p, 2) to aft (p, 2), from the sections: mean and maximum, (p,) each."""
    total, worst = np.zeros(len(fore)), np.zeros(len(fore))
    for share, boundary in targets:
        squares = boundary.distance((1 - share) * fore + share * aft) ** 2
        total += squares
        np.maximum(worst, squares, out=worst)
    return total / len(targets), worst


def _along_path(path: Floats, places: Floats) -> Floats:
    """Points (k, 2) of a path where the sum of both shares is `places` (k,)."""
    sums = path.sum(axis=1)
    return np.column_stack([np.interp(places, sums, path[:, axis]) for axis in (0, 1)])


def _smooth(path: Floats) -> Floats:
    """A moving average of the path about the diagonal. The ends stay, and a monotone path stays monotone."""
    count = 192
    places = np.linspace(0.0, 2.0, count + 1)
    shares = _along_path(path, places)
    off = shares[:, 0] - shares[:, 1]
    half = 8
    padded = np.concatenate([2 * off[0] - off[half:0:-1], off, 2 * off[-1] - off[-2 : -half - 2 : -1]])
    off = np.convolve(padded, np.full(2 * half + 1, 1 / (2 * half + 1)), mode="valid")
    smooth = np.column_stack([places + off, places - off]) / 2
    smooth[0], smooth[-1] = 0.0, 1.0
    return np.maximum.accumulate(np.clip(smooth, 0.0, 1.0), axis=0)


def _straighten(path: Floats, pair: _Pair) -> Floats:
    """The path without bends below BEND."""
    size = (pair[0].length + pair[1].length) / 2
    bends = shapely.get_coordinates(shapely.simplify(shapely.linestrings(path), BEND / size))
    return bends if len(bends) > 1 else BY_LENGTH


def _search(pairs: Sequence[_Pair], targets: Targets) -> list[tuple[Floats, ...]]:
    """The cheapest paths of each stretch: by the middle section on a coarse grid, then near these on a fine grid."""
    cells = int(np.clip(COARSE // len(pairs), 8, 28))
    middle = [min(targets, key=lambda target: abs(target[0] - 0.5))]
    grids = [_grids(pair, cells) for pair in pairs]
    rough = [paths[0] for paths in _cheapest(pairs, grids, middle, None)]
    fine = [_grids(pair, FINER * cells) for pair in pairs]
    return _cheapest(pairs, fine, targets, rough)


def _grids(pair: _Pair, cells: int) -> tuple[Floats, Floats]:
    """Shares of the grid lines of both stretches: even, but where vertices are few the nearest line moves onto each."""
    lines = []
    for stretch in pair:
        line = np.linspace(0.0, 1.0, cells + 1)
        inside = stretch.shares[1:-1]
        if 0 < len(inside) <= cells // 2:
            nearest = np.clip(np.rint(inside * cells).astype(np.int64), 1, cells - 1)
            line[nearest] = inside
        lines.append(line)
    return lines[0], lines[1]


def _cheapest(
    pairs: Sequence[_Pair], grids: Sequence[tuple[Floats, Floats]], targets: Targets, near: Sequence[Floats] | None
) -> list[tuple[Floats, ...]]:
    """Cheapest monotone paths of each stretch as shares (p, 2): that of least mean square and, with `near`, also that
    of the smallest maximum. `near` keeps the search within NEAR cells of another path.

    Arrays are (stretch, i + j, i), i and j being the grid lines of the fore and aft stretch, so that one step of the
    search is a whole row.
    """
    count = len(grids[0][0]) - 1
    sums, i = np.meshgrid(np.arange(2 * count + 1), np.arange(count + 1), indexing="ij")
    j = sums - i
    allowed = np.broadcast_to((j >= 0) & (j <= count), (len(pairs), *i.shape)).copy()
    if near is not None:
        for n, path in enumerate(near):
            shares = _along_path(path, np.arange(2 * count + 1) / count)
            across = (shares[:, 0] - shares[:, 1]) * count
            allowed[n] &= np.abs((i - j) - across[:, None]) <= NEAR
    cost = np.full(allowed.shape, np.inf)
    owner, row, column = np.unravel_index(np.flatnonzero(allowed), allowed.shape)
    partner = row - column
    shares_fore, shares_aft = (np.stack([grid[face] for grid in grids]) for face in (0, 1))
    fore = np.stack([pair[0].at(grid) for pair, grid in zip(pairs, shares_fore, strict=True)])
    aft = np.stack([pair[1].at(grid) for pair, grid in zip(pairs, shares_aft, strict=True)])
    size = np.array([(fore_stretch.length + aft_stretch.length) / 2 for fore_stretch, aft_stretch in pairs])
    off = size[owner] * (shares_fore[owner, column] - shares_aft[owner, partner])
    mean, worst = squared_misses(fore[owner, column], aft[owner, partner], targets)
    cost[allowed] = mean + LEAN * off**2
    if near is not None:
        cost = np.concatenate([cost, cost])
        cost[len(pairs) :][allowed] = (worst / max(float(worst.max()), LEAN)) ** PEAKED + LEAN * off**2
    paths = [
        np.column_stack([grids[n % len(pairs)][face][path[:, face]] for face in (0, 1)])
        for n, path in enumerate(_walk(cost))
    ]
    return [tuple(paths[n :: len(pairs)]) for n in range(len(pairs))]


def _walk(cost: Floats) -> list[Ints]:
    """Grid lines (p, 2) of the cheapest path for each of the costs (b, 2 n + 1, n + 1), in steps along either grid or
    both. A step costs the mean of its ends; a step along both grids costs twice that.
    """
    batch, rows, columns = cost.shape
    # An infinite column at the left makes a step along the fore grid the same row shifted by one.
    walled = np.full((rows, batch, columns + 1), np.inf)
    walled[:, :, 1:] = cost.swapaxes(0, 1)
    node_cost = walled[:, :, 1:]
    # The least total to each node, plus half the cost of the node itself.
    total = np.full_like(walled, np.inf)
    total[0, :, 1] = node_cost[0, :, 0] / 2
    leap = np.full_like(node_cost, np.inf)
    leap[2:] = walled[:-2, :, :-1] / 2 + 1.5 * node_cost[2:]
    np.minimum(total[0, :, 1:], total[0, :, :-1], out=total[1, :, 1:])
    total[1, :, 1:] += node_cost[1]
    both = np.empty((batch, columns))
    views = zip(total[:-2, :, :-1], total[1:-1, :, 1:], total[1:-1, :, :-1], total[2:, :, 1:], strict=True)
    for (two_before, beside, behind, now), here, across in zip(views, node_cost[2:], leap[2:], strict=True):
        np.minimum(beside, behind, out=now)
        np.add(now, here, out=now)
        np.add(two_before, across, out=both)
        np.minimum(now, both, out=now)
    return [_walk_back(total[:, n], leap[:, n]) for n in range(batch)]


def _walk_back(total: Floats, leap: Floats) -> Ints:
    """Follow the path from its end back to its start; returned from the start."""
    row, column = len(total) - 1, total.shape[1] - 1
    path = [(column - 1, row - column + 1)]
    while row:
        twice = row > 1 and total[row - 2, column - 1] + leap[row, column - 1] <= total[row, column]
        column -= bool(twice or total[row - 1, column - 1] < total[row - 1, column])
        row -= 2 if twice else 1
        path.append((column - 1, row - column + 1))
    return np.array(path[::-1], dtype=np.int64)
