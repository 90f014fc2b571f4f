"""Plan stations by fit: the fewest blocks whose deviation from the hull stays within a limit.

A stretch between two breaks is a graph: its nodes are the places where a station may lie, its edges are the blocks. The
fewest blocks are the shortest path from end to end. Measuring the deviation of a block is what costs time, so the
search is lazy: it assumes that every unmeasured block is good, finds the shortest path, measures the blocks on it, and
repeats until a path keeps the limit. The result is the best of all paths, however the deviation varies along the hull.
"""

import heapq
import math
from collections.abc import Callable, Iterable, Iterator
from itertools import accumulate, pairwise

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.blocks.stations import (
    SAME_PLACE,
    Span,
    StationPlan,
    check_foam,
    forced_stations,
    missed_step_notes,
    share_out,
    thin_block_notes,
)
from profiles.errors import JobError

Deviation = Callable[[float, float], float]
"""(x_fore, x_aft) mm -> deviation of the block between them, mm; inf or nan where a wire cannot cut it."""

Tips = Callable[[float, float], bool]
"""(x_fore, x_aft) mm -> whether this first or last block may be carved as a tip."""

Block = tuple[int, int]
"""A block of a stretch: the indices of the places of its fore and aft face."""

ALIKE = 0.01
"""mm; a builder with sandpaper cannot tell smaller differences in deviation, so they are not worth more measuring."""

TIP_UNIT = 0.01
"""mm; tip lengths are compared to this precision."""

FINITE = 1e300
"""mm; a limit that every block keeps unless a wire cannot cut it."""

NO_PATH = 2**60
"""Cost of a place that no path reaches. It is far above any real cost, and twice it still fits 64 bits."""


def plan_by_fit(  # noqa: PLR0913 - independent settings, all by name
    *,
    length: float,
    foam: float,
    limit: float,
    min_block: float = 10.0,
    breaks: tuple[float, ...] = (),
    steps: tuple[float, ...] = (),
    grid: float = 1.0,
    deviation: Deviation,
    tips: Tips | None = None,
    thinner_fits_better: bool = False,
) -> StationPlan:
    """The plan with the fewest blocks, each between `min_block` and `foam` thick and within `limit` of the hull, in mm.

    Ties are broken by the most full blocks, then the shortest tips, then the smallest largest deviation (to `ALIKE`).
    The same input gives the same plan.

    `breaks` (mm) are always stations; one close to a step in `steps` (mm) moves onto it. Other stations lie every
    `grid` mm from the tail of each stretch (slightly finer if the foam is not a whole multiple), at the steps, at whole
    foam thicknesses from these, and where `plan_stations` would put them, so the plan is never worse than that one. A
    stretch too short for `min_block` gets the thickest blocks possible, with a note.

    `tips` decides which first and last blocks of the body are carved. They are exempt from `limit` and never measured,
    but no thicker than the foam. It is called only for blocks that begin at 0 or end at `length`, and may reject those
    too long to carve. Without it no block is exempt.

    `deviation` is called at most once for each block. By default nothing is assumed about it. With
    `thinner_fits_better` a block inside another is assumed to deviate no more than the outer one, which is true where
    the hull is convex along its length; a block that cannot be cut says nothing about others. Far fewer blocks are then
    measured when the limit is tight (a spheroid 570 x 120 in 40 mm foam within 0.25 mm: 83 instead of 1124). Every
    block of the plan is still measured, and the assumption is dropped before the search gives up, so the limit always
    holds; but where the hull swings in and out a better plan may exist.

    Raises JobError for impossible settings, and when no plan keeps the limit: it names the stretch, the worst block of
    the best plan there, and what to do.
    """
    check_foam(length, foam, min_block)
    _check_limit(limit, grid)
    corners = [0.0, *forced_stations(length, breaks, steps), length]
    stations = [0.0]
    for start, end in pairwise(corners):
        # A stretch too short for `min_block` must still be cut: there the thinnest even division is allowed.
        least = min(min_block, *share_out(end - start, foam, "nose", min_block))
        places = _possible_stations(start, end, foam, min_block, grid, steps)
        stretch = _Stretch(places, foam, least, deviation, thinner_fits_better=thinner_fits_better)
        if tips:
            stretch.exempt_tips(block for block in stretch.end_blocks(length) if tips(*stretch.x_of(block)))
        stations += [stretch.x_of(block)[1] for block in _best_path(stretch, limit)]
    spans = tuple(
        Span(number, fore, aft, abs(aft - fore - foam) < SAME_PLACE)
        for number, (fore, aft) in enumerate(pairwise(stations), start=1)
    )
    notes = (*thin_block_notes(spans, min_block), *missed_step_notes(stations, steps))
    return StationPlan(foam, tuple(stations), spans, notes, limit)


def _check_limit(limit: float, grid: float) -> None:
    if not limit > 0:
        message = f"expected a largest deviation above 0 mm, found {limit:g} mm"
        raise JobError(message, remedy="Give what you can sand, for example --fit 1.0.")
    if not 0 < grid < math.inf:
        message = f"expected a grid of stations above 0 mm, found {grid:g} mm"
        raise JobError(message, remedy="Use 1 mm.")


def _possible_stations(
    start: float, end: float, foam: float, min_block: float, grid: float, steps: tuple[float, ...]
) -> Floats:
    """Where stations may lie between two breaks, (n,) mm ascending: both breaks, exact steps, and the grid."""
    fixed = np.array([start, *sorted(s for s in steps if start + SAME_PLACE < s < end - SAME_PLACE), end])
    fixed = fixed[np.diff(fixed, prepend=-math.inf) > SAME_PLACE]
    step = foam / math.ceil(foam / grid - SAME_PLACE)
    foams = foam * np.arange(1, math.ceil((end - start) / foam) + 1)
    candidates = [end - step * np.arange(1, math.ceil((end - start) / step))]
    candidates += [x + side * foams for x in fixed for side in (-1, 1)]
    for odd in ("nose", "tail", "both"):
        candidates.append(start + np.array(list(accumulate(share_out(end - start, foam, odd, min_block)))))
    x = np.sort(np.concatenate(candidates))
    x = x[(x > start) & (x < end)]
    x = x[np.diff(x, prepend=-math.inf) > SAME_PLACE]
    apart = np.abs(x[:, None] - fixed[None, :]).min(axis=1) > SAME_PLACE
    return np.sort(np.concatenate([fixed, x[apart]]))


class _Stretch:
    """The possible stations between two breaks, the blocks between them, and what is known about each block.

    Tables have one row for each place, and in it one column for each block that ends there, thickest first: the block
    from place i to place j is entry [j, i - first[j]].
    """

    def __init__(
        self, places: Floats, foam: float, least: float, deviation: Deviation, *, thinner_fits_better: bool
    ) -> None:
        self.places = places
        self.deviation = deviation
        self.thinner_fits_better = thinner_fits_better
        self.limit = math.inf
        count = len(places)
        # Blocks that end at place j begin at places first[j] to past[j] - 1.
        self.first: Ints = np.searchsorted(places, places - foam - SAME_PLACE)
        self.past: Ints = np.minimum(np.searchsorted(places, places - least + SAME_PLACE), np.arange(count))
        width = max(1, int((self.past - self.first).max()))
        self.low: Floats = np.zeros((count, width))
        """Lower bound of each block's deviation, mm."""
        self.high: Floats = np.full((count, width), math.inf)
        """Upper bound of each block's deviation, mm; infinite if nothing is known."""
        self.known = np.zeros((count, width), dtype=np.bool_)
        self.price: Ints = np.full((count, width), NO_PATH, dtype=np.int64)
        self.cost: Ints = np.zeros(count, dtype=np.int64)
        """Cost of the cheapest path to each place over all blocks that may still keep the limit."""
        self._after_first: Ints = np.searchsorted(places, places + least - SAME_PLACE)
        self._after_past: Ints = np.searchsorted(places, places + foam + SAME_PLACE)
        self._tip_unit = 2 * math.ceil(foam / TIP_UNIT) + 1
        for aft in range(count):
            row = slice(0, max(0, self.past[aft] - self.first[aft]))
            thickness = places[aft] - places[self.first[aft] : self.past[aft]]
            full = np.abs(thickness - foam) < SAME_PLACE
            # One integer holds the order of preference: blocks, then odd blocks, then (exempt_tips) lengths of tips.
            self.price[aft, row] = (count - full) * self._tip_unit

    def end_blocks(self, length: float) -> Iterator[Block]:
        """The blocks that can be the first or the last of the whole body."""
        last = len(self.places) - 1
        if self.places[0] == 0.0:
            yield from ((0, aft) for aft in self._aft_of(0))
        if self.places[-1] == length:
            yield from ((fore, last) for fore in self._fore_of(last))

    def exempt_tips(self, blocks: Iterable[Block]) -> None:
        """Count these blocks as keeping any limit. A longer tip costs more, by less than any other difference."""
        for fore, aft in blocks:
            at = self._at((fore, aft))
            if not self.known[at]:
                self.price[at] += round((self.places[aft] - self.places[fore]) / TIP_UNIT)
            self.known[at], self.low[at], self.high[at] = True, 0.0, 0.0

    def x_of(self, block: Block) -> tuple[float, float]:
        """The two stations of a block, mm."""
        return float(self.places[block[0]]), float(self.places[block[1]])

    def least_deviation(self, block: Block) -> float:
        """Lower bound of a block's deviation, mm; exact for a measured one."""
        return float(self.low[self._at(block)])

    def set_limit(self, limit: float) -> None:
        """Start over with another limit in mm; measurements are kept."""
        self.limit = limit
        for aft in range(1, len(self.places)):
            self.cost[aft] = self._cheapest(aft)

    def drop_assumption(self) -> None:
        """Forget all bounds that were inferred from other blocks, and infer no more."""
        self.thinner_fits_better = False
        self.low[~self.known] = 0.0
        self.high[~self.known] = math.inf

    def cheapest_path(self) -> list[Block]:
        """A cheapest path, nose to tail. Ties prefer blocks known to keep the limit, then thick blocks aft."""
        blocks = []
        aft = len(self.places) - 1
        while aft > 0:
            columns = self._cheap_columns(aft)
            safe = columns[self.high[aft, columns] <= self.limit]
            fore = int(self.first[aft] + (safe if len(safe) else columns)[0])
            blocks.append((fore, aft))
            aft = fore
        return blocks[::-1]

    def keeps_limit(self, block: Block) -> bool:
        """Whether a block keeps the limit; measures it first if needed."""
        at = self._at(block)
        if not self.known[at]:
            value = self.deviation(*self.x_of(block))
            self._record(block, math.inf if math.isnan(value) else max(0.0, value))
        return bool(self.low[at] <= self.limit)

    def thickest(self, blocks: list[Block]) -> Block | None:
        """The thickest block that keeps the limit; `blocks` go from thin to thick, each inside the next (bisection)."""
        good, bad = -1, len(blocks)
        while bad - good > 1:
            # The first try is the thickest block: in most of the hull it fits, and no bisection is needed.
            middle = bad - 1 if bad - good > len(blocks) else (good + bad) // 2
            at = self._at(blocks[middle])
            if self.high[at] <= self.limit or (self.low[at] <= self.limit and self.keeps_limit(blocks[middle])):
                good = middle
            else:
                bad = middle
        return blocks[good] if good >= 0 else None

    def measure_greedily(self) -> None:
        """Measure one thickest block after another from both ends, which already shows the least number of blocks."""
        last = len(self.places) - 1
        block: Block | None = (0, 0)
        while block and block[1] < last:
            block = self.thickest([(block[1], aft) for aft in self._aft_of(block[1])])
        block = (last, last)
        while block and block[0] > 0:
            block = self.thickest([(fore, block[0]) for fore in self._fore_of(block[0])[::-1]])

    def prefer_thin(self) -> None:
        """Change prices so that many thin blocks cost less than a few thick ones."""
        for aft in range(1, len(self.places)):
            thickness = self.places[aft] - self.places[self.first[aft] : self.past[aft]]
            self.price[aft, : len(thickness)] = np.round(1e6 * (thickness / thickness.max(initial=TIP_UNIT)) ** 2)

    def least_limit(self) -> float:
        """The smallest limit in mm that some path may keep, by what is known."""
        worst = np.full(len(self.places), math.inf)
        worst[0] = 0.0
        for aft in range(1, len(self.places)):
            fores = slice(self.first[aft], self.past[aft])
            row = self.low[aft, : max(0, self.past[aft] - self.first[aft])]
            worst[aft] = np.maximum(worst[fores], row).min(initial=math.inf)
        return float(worst[-1])

    def _at(self, block: Block) -> tuple[int, int]:
        return block[1], int(block[0] - self.first[block[1]])

    def _aft_of(self, fore: int) -> range:
        return range(max(fore + 1, int(self._after_first[fore])), int(self._after_past[fore]))

    def _fore_of(self, aft: int) -> range:
        return range(int(self.first[aft]), int(self.past[aft]))

    def _costs(self, aft: int) -> Ints:
        width = max(0, self.past[aft] - self.first[aft])
        costs = self.cost[self.first[aft] : self.past[aft]] + self.price[aft, :width]
        costs[self.low[aft, :width] > self.limit] = NO_PATH
        return costs

    def _cheapest(self, aft: int) -> int:
        return int(min(NO_PATH, self._costs(aft).min(initial=NO_PATH)))

    def _cheap_columns(self, aft: int) -> Ints:
        return np.flatnonzero(self._costs(aft) == self.cost[aft])

    def _record(self, block: Block, value: float) -> None:
        at = self._at(block)
        self.known[at], self.low[at], self.high[at] = True, value, value
        changed = [block[1]]
        if self.thinner_fits_better and math.isfinite(value):
            changed = list(self._infer_bounds(block, value))
        if value > self.limit:
            self._update_costs(changed)

    def _infer_bounds(self, block: Block, value: float) -> range:
        """Blocks around this one deviate at least as much, blocks inside it at most; returns rows with new bounds."""
        fore, aft = block
        outer = range(aft, int(self._after_past[fore]))
        for row in outer:
            columns = slice(0, max(0, min(fore + 1, self.past[row]) - self.first[row]))
            free = ~self.known[row, columns]
            np.maximum(self.low[row, columns], value, out=self.low[row, columns], where=free)
        for row in range(fore + 1, aft + 1):
            columns = slice(max(0, fore - self.first[row]), max(0, self.past[row] - self.first[row]))
            free = ~self.known[row, columns]
            np.minimum(self.high[row, columns], value, out=self.high[row, columns], where=free)
        return outer

    def _update_costs(self, rows: Iterable[int]) -> None:
        """Raise the costs of places whose cheapest path used a block that now fails; such blocks end in `rows`.

        A heap visits places from nose to tail, so that each is computed once, after all places before it are settled.
        """
        waiting = list(rows)
        heapq.heapify(waiting)
        while waiting:
            aft = heapq.heappop(waiting)
            while waiting and waiting[0] == aft:
                heapq.heappop(waiting)
            before, self.cost[aft] = int(self.cost[aft]), self._cheapest(aft)
            if self.cost[aft] != before:
                later = np.array(self._aft_of(aft), dtype=np.int64)
                through = before + self.price[later, aft - self.first[later]] == self.cost[later]
                for row in later[through].tolist():
                    heapq.heappush(waiting, row)


def _best_path(stretch: _Stretch, limit: float) -> list[Block]:
    """The cheapest path within the limit; of equally cheap ones that with the smallest largest deviation."""
    stretch.set_limit(limit)
    if stretch.thinner_fits_better:
        stretch.measure_greedily()
    path = _measured_path(stretch)
    if path is None and stretch.thinner_fits_better:
        stretch.drop_assumption()
        stretch.set_limit(limit)
        path = _measured_path(stretch)
    if path is None:
        raise _no_plan_error(stretch, limit)
    cost = int(stretch.cost[-1])
    better: list[Block] | None = path
    while better is not None:
        path = better
        worst = max(stretch.least_deviation(block) for block in path)
        if worst <= ALIKE:
            break
        stretch.set_limit(worst - ALIKE)
        better = _measured_path(stretch, cost)
    return path


def _measured_path(stretch: _Stretch, most: int = NO_PATH - 1) -> list[Block] | None:
    """A cheapest path whose blocks are all measured and keep the limit; None if the cheapest costs more than `most`."""
    while stretch.cost[-1] <= most:
        path = stretch.cheapest_path()
        if all(stretch.keeps_limit(block) for block in _ends_first(path)):
            return path
    return None


def _ends_first(path: list[Block]) -> list[Block]:
    """The blocks from both ends inwards: a hull curves most at its ends, so failing blocks are met early."""
    return [path[place] for place in sorted(range(len(path)), key=lambda place: min(place, len(path) - 1 - place))]


def _no_plan_error(stretch: _Stretch, limit: float) -> JobError:
    """The error for a limit that no path keeps: the best limit possible, where, and what to do."""
    stretch.prefer_thin()
    path = None
    while path is None and math.isfinite(best := stretch.least_limit()):
        stretch.set_limit(best + ALIKE)
        path = _measured_path(stretch)
    start, end = stretch.x_of((0, len(stretch.places) - 1))
    where = f"no plan keeps every block within {limit:g} mm of the hull between x = {start:.2f} and {end:.2f} mm"
    if path is None:
        stretch.set_limit(FINITE)
        stuck = float(stretch.places[np.flatnonzero(stretch.cost < NO_PATH)[-1]])
        message = f"{where}: no block that starts at x = {stuck:.2f} mm can be cut by two templates"
        return JobError(
            message, remedy="Put a station where the shape changes (--break), or use a smaller --min-block."
        )
    worst = max(path, key=stretch.least_deviation)
    fore, aft = stretch.x_of(worst)
    deviation = stretch.least_deviation(worst)
    message = f"{where}: the best is {deviation:.2f} mm, in the block from x = {fore:.2f} to {aft:.2f} mm"
    enough = math.ceil(deviation / ALIKE) * ALIKE
    return JobError(message, remedy=f"Use a --min-block below {aft - fore:g}, or --fit {enough:.2f}.")
