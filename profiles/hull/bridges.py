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
import shapely

from profiles.arrays import Bools, Floats, Ints
from profiles.errors import HullError
from profiles.hull.surface import SectionRules, Surface, edge_keys
from profiles.values import dataclass

MOST_CHAINS = 200
"""Open pieces of one outline; more means loose triangles, not a skin with cracks."""

ROUNDS = 8
"""Times that bridges are looked for again because some cross the outline."""

INSIDE_OUT = 0.02
"""Of an outline's area: bridges may turn so much of it inside out where skins lap over each other."""

OFF_RIM = 1.5
"""Weight of the length of a bridge from an opening's rim to an end on no rim or another's. A crack may run out into a
rim, but in thin places two such bridges are as short as one straight across the rim and one over the crack.
"""

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
    tail_rims, head_rims = _openings_of(surface, keys[tails]), _openings_of(surface, keys[heads])
    matched = _match_ends(
        (points[tails], points[heads]), (tail_rims, head_rims), [points[chain] for chain in chains], surface.rules, x
    )
    gaps = tuple(
        Gap(x, _place(points[tails[tail]]), _place(points[heads[head]]), bool(0 < tail_rims[tail] == head_rims[head]))
        for tail, head in enumerate(matched)
    )
    return _join_chains(chains, matched), gaps


def _place(point: Floats) -> tuple[float, float]:
    y, z = point.tolist()
    return y, z


def _openings_of(surface: Surface, edges: Ints) -> Ints:
    """(n,) numbers of the openings on whose rim mesh edges lie, 0 for none."""
    if not len(surface.open_edges):
        return np.zeros(len(edges), dtype=np.int64)
    rims = edge_keys(surface.open_edges[:, 0], surface.open_edges[:, 1], len(surface.vertices))
    order = np.argsort(rims)
    at = np.minimum(np.searchsorted(rims[order], edges), len(rims) - 1)
    labels: Ints = np.where(rims[order][at] == edges, surface.open_edges[order, 2][at], 0)
    return labels


def _match_ends(
    places: tuple[Floats, Floats], rims: tuple[Ints, Ints], lines: list[Floats], rules: SectionRules, x: float
) -> list[int]:
    """For each end the start that it is joined to; `places` of both (n, 2) mm, and the openings (n,) they lie on.

    Two on the rim of one opening may be as far apart as they like: on a line across its plan they are its open
    stretches, between its 1st and 2nd, 3rd and 4th crossing. Openings and cracks are matched together, since a crack
    may run out into a rim.
    """
    (ends, starts), (leaving, entering) = places, rims
    on_rim = (leaving[:, None] == entering[None]) & (leaving[:, None] > 0)
    off_rim = leaving[:, None] != entering[None]
    widest = rules.bridge
    apart = np.linalg.norm(ends[:, None] - starts[None], axis=-1)
    # A gap that is too wide, or a bridge that crosses, costs more than any number of others.
    cost = np.where(off_rim, OFF_RIM * apart, apart) + np.where((apart > widest) & ~on_rim, 1e6 + 10 * apart, 0.0)
    every = np.arange(len(ends))
    matched = _least_cost(cost)
    for _ in range(ROUNDS):
        free = np.flatnonzero(~on_rim[every, matched])
        crossing = free[_crossing(ends[free], starts[matched[free]], lines, rules.crack)]
        if not len(crossing):
            break
        cost[crossing, matched[crossing]] += 1e4
        matched = _least_cost(cost)
    width = np.where(on_rim[every, matched], 0.0, apart[every, matched])
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


def _crossing(ends: Floats, starts: Floats, lines: list[Floats], crack: float) -> Bools:
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


def _join_chains(chains: Sequence[list[int]], follower: Sequence[int]) -> list[list[int]]:
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
