"""Open ends of a section's chains -> closed loops, across openings and over gaps by straight bridges.

opening   ends on the rim of the same opening (`openings.mark_openings`) are joined straight across it, however wide
gap       any other two ends: joined where the gap is no wider than the surface's rule allows

Of all ways to join the ends the one with the least length in all is taken: bridges of least length never cross each
other, and a short piece of skin is not closed upon itself where it belongs between two others. A bridge over a wide gap
that would cross the outline is given up for another way round, if there is one; where skins lap over each other there
is none, and the crossing does no harm while it turns next to nothing of the outline inside out.

Cases: no chain; one chain, closed upon itself; ends at the same point (a bridge of no length); two skins on each
other, where either end will do; a gap too wide, or bridges that turn the outline inside out: refused with the place.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely

from profiles.arrays import Floats, Ints
from profiles.errors import HullError
from profiles.hull.surface import SectionRules, Surface, edge_keys
from profiles.values import dataclass

MOST_CHAINS = 200
"""Open pieces of one outline; more means loose triangles, not a skin with cracks."""

ROUNDS = 8
"""Times that bridges are looked for again because some cross the outline."""

INSIDE_OUT = 0.02
"""Of an outline's area: bridges may turn so much of it inside out where skins lap over each other."""

CLEAR = 1e-6
"""Share of a bridge's length that may touch the outline at each of its ends."""


@dataclass(frozen=True, slots=True)
class Gap:
    """A place where an outline was open, in (y, z) mm."""

    x: float
    start: tuple[float, float]
    end: tuple[float, float]
    opening: bool = False
    """On the rim of an opening that is closed straight across."""

    @property
    def width(self) -> float:
        """Mm."""
        return float(np.hypot(self.end[0] - self.start[0], self.end[1] - self.start[1]))

    @property
    def middle(self) -> tuple[float, float, float]:
        """(x, y, z) mm."""
        return self.x, (self.start[0] + self.end[0]) / 2, (self.start[1] + self.end[1]) / 2


def close_chains(
    surface: Surface, keys: Ints, points: Floats, chains: Sequence[list[int]], x: float
) -> tuple[list[list[int]], tuple[Gap, ...]]:
    """Closed loops out of open chains of nodes, and the gaps between their ends.

    `keys` (k,) are the mesh edges of the nodes and `points` (k, 2) their places, (y, z) mm. Raises HullError where a
    gap is wider than the surface's rule allows, and for a skin in shreds.
    """
    if not chains:
        return [], ()
    if len(chains) > MOST_CHAINS:
        message = f"the outline at x = {x:.2f} mm is torn into {len(chains)} pieces."
        raise HullError(message, remedy="Repair the mesh in the modeller, or export it again.")
    tails, heads = [chain[-1] for chain in chains], [chain[0] for chain in chains]
    follower = _across_openings(surface, keys, points, tails, heads)
    across = set(follower)
    left = [tail for tail in range(len(chains)) if tail not in follower]
    free = sorted(set(range(len(chains))) - set(follower.values()))
    if left:
        ends, starts = points[[tails[k] for k in left]], points[[heads[k] for k in free]]
        matched = _match_ends(ends, starts, [points[chain] for chain in chains], surface.rules, x)
        follower |= {left[tail]: free[head] for tail, head in enumerate(matched)}
    gaps = tuple(
        Gap(x, _place(points[tails[tail]]), _place(points[heads[head]]), tail in across)
        for tail, head in sorted(follower.items())
    )
    return _join_chains(chains, follower), gaps


def _place(point: Floats) -> tuple[float, float]:
    y, z = point.tolist()
    return y, z


def _across_openings(
    surface: Surface, keys: Ints, points: Floats, tails: list[int], heads: list[int]
) -> dict[int, int]:
    """Tail chain -> head chain, for ends that lie on the rim of the same opening, joined with the least length in all.

    On a line across an opening's plan these are its open stretches, between its 1st and 2nd, 3rd and 4th crossing.
    Where a crack runs out into the rim it is the crack and the stretch above.
    """
    if not len(surface.open_edges):
        return {}
    rims = edge_keys(surface.open_edges[:, 0], surface.open_edges[:, 1], len(surface.vertices))
    order = np.argsort(rims)
    opening_of = dict(zip(rims[order].tolist(), surface.open_edges[order, 2].tolist(), strict=True))
    follower: dict[int, int] = {}
    of_tail, of_head = ([opening_of.get(int(keys[node])) for node in nodes] for nodes in (tails, heads))
    for opening in dict.fromkeys(label for label in of_tail if label is not None):
        leaving = [chain for chain, label in enumerate(of_tail) if label == opening]
        entering = [chain for chain, label in enumerate(of_head) if label == opening]
        ends, starts = points[[tails[k] for k in leaving]], points[[heads[k] for k in entering]]
        number = min(len(leaving), len(entering))
        if not number:
            continue
        # More ends of one kind: those that are left over lie on another opening's rim, too, or on a crack.
        apart = np.linalg.norm(ends[:, None] - starts[None], axis=-1)
        padded = np.zeros((max(apart.shape),) * 2)
        padded[: apart.shape[0], : apart.shape[1]] = apart
        for tail, head in enumerate(_least_cost(padded).tolist()):
            if tail < apart.shape[0] and head < apart.shape[1]:
                follower[leaving[tail]] = entering[head]
    return follower


def _match_ends(ends: Floats, starts: Floats, lines: list[Floats], rules: SectionRules, x: float) -> list[int]:
    """For each end (n, 2) the start (n, 2), mm, that it is joined to."""
    widest = rules.bridge
    apart = np.linalg.norm(ends[:, None] - starts[None], axis=-1)
    # A gap that is too wide, or a bridge that crosses, costs more than any number of others.
    cost = apart + np.where(apart > widest, 1e6 + 10 * apart, 0.0)
    matched = _least_cost(cost)
    for _ in range(ROUNDS):
        crossing = _crossing(ends, starts[matched], lines, rules.crack)
        if not crossing.any():
            break
        for tail in np.flatnonzero(crossing).tolist():
            cost[tail, matched[tail]] += 1e4
        matched = _least_cost(cost)
    width = apart[np.arange(len(ends)), matched]
    if width.max() > widest:
        worst = int(width.argmax())
        raise _too_wide(x, float(width[worst]), ends[worst], widest)
    return [int(start) for start in matched]


def _too_wide(x: float, width: float, end: Floats, widest: float) -> HullError:
    y, z = end
    message = (
        f"the outline at x = {x:.2f} mm stays open by {width:.2f} mm near y = {y:.1f}, z = {z:.1f} mm; "
        f"gaps up to {widest:.3g} mm are closed straight."
    )
    return HullError(message, remedy=f"Close wider ones with --bridge {bridge_for(width):g}, or choose a sound --body.")


def bridge_for(width: float) -> float:
    """The limit in mm to ask for so that a gap of `width` mm is closed: a little more, in whole mm."""
    return float(np.ceil(1.02 * width))


def _least_cost(cost: Floats) -> Ints:
    """(n,) the column of each row, each taken once, for the least sum of cost (n, n)."""
    nearest: Ints = cost.argmin(axis=1)
    if len(set(nearest.tolist())) == len(cost):
        return nearest
    from scipy.optimize import linear_sum_assignment  # slow to import and seldom needed

    columns: Ints = np.asarray(linear_sum_assignment(cost)[1], dtype=np.int64)
    return columns


def _crossing(ends: Floats, starts: Floats, lines: list[Floats], crack: float) -> npt.NDArray[np.bool_]:
    """(n,) whether a bridge wider than a crack crosses the chains (n, 2) or another bridge."""
    wide = np.linalg.norm(starts - ends, axis=1) > crack
    result = np.zeros(len(ends), dtype=bool)
    if not wide.any():
        return result
    middle = (ends + starts) / 2
    shorter = np.stack([ends, starts], axis=1)
    shorter = middle[:, None] + (1 - 2 * CLEAR) * (shorter - middle[:, None])
    bridges = shapely.linestrings(shorter)
    skin = shapely.linestrings([pair for line in lines for pair in pairwise(line.tolist())])
    tree = shapely.STRtree(skin)
    crossed = tree.query(bridges[wide], predicate="crosses")[0]
    result[np.flatnonzero(wide)[np.unique(crossed)]] = True
    for first, second in np.argwhere(np.triu(shapely.crosses(bridges[:, None], bridges[None]), 1)).tolist():
        result[first] |= wide[first]
        result[second] |= wide[second]
    return result


def refuse_inside_out(area: float, turned: float, gaps: Sequence[Gap], crack: float, x: float) -> None:
    """Raises HullError where bridges wider than `crack` mm have turned much of an outline inside out.

    `area` is what the loops enclose, mm2, and `turned` the sum of their areas, negative where they run clockwise.
    """
    wide = [gap for gap in gaps if gap.width > crack and not gap.opening]
    if wide and turned < (1 - INSIDE_OUT) * area:
        _, y, z = max(wide, key=lambda gap: gap.width).middle
        message = f"the outline at x = {x:.2f} mm is open near y = {y:.1f}, z = {z:.1f} mm; a bridge would cross it."
        raise HullError(message, remedy="Close the hole in the modeller, or choose a sound body with --body.")


def _join_chains(chains: Sequence[list[int]], follower: dict[int, int]) -> list[list[int]]:
    loops = []
    waiting = set(range(len(chains)))
    while waiting:
        at = min(waiting)
        loop: list[int] = []
        while at in waiting:
            waiting.remove(at)
            loop += chains[at]
            at = follower[at]
        loops.append(loop)
    return loops
