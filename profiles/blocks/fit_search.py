"""The search behind `fit`: the cheapest way through the possible stations of a stretch, with few blocks measured.

What a block costs, the most important first:

    a block that a wire cuts within the limit      one block
    a block that is carved                         three blocks, and of equal plans the one with less length to carve
    a block thinner than the foam                  of equal plans the one with fewer of these
    a block over the limit                         OVER blocks and more: only where no plan keeps the limit
    a station where no section can be closed       no block at all
"""

import heapq
import math
from collections.abc import Callable, Iterable, Iterator

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.blocks.stations import SAME_PLACE

Deviation = Callable[[float, float], float]
"""(x_fore, x_aft) mm -> deviation of the block between them, mm; inf if it is carved, nan if it cannot be made."""

Tips = Callable[[float, float], bool]
"""(x_fore, x_aft) mm -> whether this first or last block is carved, known without measuring."""

Block = tuple[int, int]
"""A block of a stretch: the indices of the places of its fore and aft face."""

ALIKE = 0.01
"""mm; a builder with sandpaper cannot tell smaller differences in deviation, so they are not worth more measuring."""

WORTH = 0.2
"""Share by which the largest deviation must fall for another plan of equal cost to be looked for: each costs as many
measurements as the first.
"""

CARVED = 3
"""Blocks that a carved block counts as: side, plan and gauges are cut from card, and the foam is shaped by hand."""

CARVED_UNIT = 5.0
"""mm; lengths of carved blocks are compared to this precision."""

OVER = 1000
"""Blocks that a block over the limit counts as, times the square of how many times over: more than any hull has."""

MOST_OVER = 30.0
"""Times over the limit from which on blocks count the same."""

DOUBT = 1.25
"""How far off the assumption may be that a thinner block fits better. Where it lets no plan keep the limit, blocks that
it puts over the limit by no more than this factor are measured after all."""

FEW = 3
"""Blocks that are halved rather than guessed among."""

NO_PATH = 2**60
"""Cost of a place that no path reaches. It is far above any real cost, and twice it still fits 64 bits."""


class Stretch:
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
        self.carved = np.zeros((count, width), dtype=np.bool_)
        """Which blocks are known to be carved; they keep any limit."""
        self.price: Ints = np.full((count, width), NO_PATH, dtype=np.int64)
        """What a block costs that is cut within the limit, or carved if that is known."""
        self.cost: Ints = np.zeros(count, dtype=np.int64)
        """Cost of the cheapest path to each place over all blocks that may still keep the limit."""
        self._after_first: Ints = np.searchsorted(places, places + least - SAME_PLACE)
        self._after_past: Ints = np.searchsorted(places, places + foam + SAME_PLACE)
        carved_units = math.ceil((places[-1] - places[0]) / CARVED_UNIT) + count
        self._length_price = count
        """Of CARVED_UNIT of a carved block: more than all odd blocks together."""
        self.block_price = self._length_price * (carved_units + 1)
        """Of one block: more than all lengths of carved blocks together."""
        for aft in range(count):
            row = slice(0, max(0, self.past[aft] - self.first[aft]))
            thickness = places[aft] - places[self.first[aft] : self.past[aft]]
            self.price[aft, row] = self.block_price + (np.abs(thickness - foam) >= SAME_PLACE)

    def end_blocks(self, length: float) -> Iterator[Block]:
        """The blocks that can be the first or the last of the whole body."""
        last = len(self.places) - 1
        if self.places[0] == 0.0:
            yield from ((0, aft) for aft in self._aft_of(0))
        if self.places[-1] == length:
            yield from ((fore, last) for fore in self._fore_of(last))

    def carve(self, block: Block) -> None:
        """Count a block as carved."""
        fore, aft = self.x_of(block)
        at = self._at(block)
        if not self.carved[at]:
            length = math.ceil((aft - fore) / CARVED_UNIT)
            self.price[at] += (CARVED - 1) * self.block_price + length * self._length_price
        self.carved[at], self.known[at], self.low[at], self.high[at] = True, True, 0.0, 0.0

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

    def doubt_assumption(self) -> None:
        """Forget bounds that were inferred from other blocks, but for those that are clear, and infer no more."""
        self.thinner_fits_better = False
        self.low[~self.known & (self.low <= DOUBT * self.limit)] = 0.0
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

    def settle(self, block: Block) -> bool:
        """Measure a block unless it is known; whether it costs what was assumed."""
        at = self._at(block)
        if self.known[at]:
            return True
        self._measure(block)
        return bool(not self.carved[at] and self.low[at] <= self.limit)

    def fits(self, block: Block) -> bool:
        """Whether a wire cuts a block within the limit; measures it first if needed."""
        at = self._at(block)
        if not self.known[at]:
            self._measure(block)
        return bool(not self.carved[at] and self.low[at] <= self.limit)

    def thickest(self, blocks: list[Block]) -> Block | None:
        """The thickest block that fits; `blocks` go from thin to thick, each inside the next.

        The first try is the thickest block: in most of the hull it fits. Where it does not, the next guess is by the
        square law, by which a smooth hull deviates, and then the rest is halved.
        """
        good, bad = -1, len(blocks)
        guess = bad - 1
        while bad - good > 1:
            at = self._at(blocks[guess])
            if self.high[at] <= self.limit or (self.low[at] <= self.limit and self.fits(blocks[guess])):
                good = guess
            else:
                bad = guess
            guess = (good + bad) // 2
            over = self.low[self._at(blocks[bad])] / self.limit if bad < len(blocks) else 0.0
            if bad - good > FEW and 1.0 < over < math.inf:
                ends = self.places[np.array(blocks[good + 1 : bad])]
                fore, aft = self.x_of(blocks[bad])
                ahead = int(np.searchsorted(ends[:, 1] - ends[:, 0], (aft - fore) / math.sqrt(over)))
                guess = min(max(good + ahead, good + 1), bad - 1)
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

    def _at(self, block: Block) -> tuple[int, int]:
        return block[1], int(block[0] - self.first[block[1]])

    def _aft_of(self, fore: int) -> range:
        return range(max(fore + 1, int(self._after_first[fore])), int(self._after_past[fore]))

    def _fore_of(self, aft: int) -> range:
        return range(int(self.first[aft]), int(self.past[aft]))

    def _costs(self, aft: int) -> Ints:
        width = max(0, self.past[aft] - self.first[aft])
        return self.cost[self.first[aft] : self.past[aft]] + self._prices(aft, slice(0, width))

    def _prices(self, afts: int | Ints, columns: slice | Ints) -> Ints:
        """What some blocks cost by what is known of them, (k,)."""
        prices, low = self.price[afts, columns].copy(), self.low[afts, columns]
        over = np.flatnonzero(low > self.limit)
        if len(over):
            times = np.minimum(low[over] / self.limit, MOST_OVER)
            dear = np.round(OVER * times**2).astype(np.int64) * self.block_price
            prices[over] = np.where(low[over] < math.inf, dear, NO_PATH)
        return prices

    def _cheapest(self, aft: int) -> int:
        return int(min(NO_PATH, self._costs(aft).min(initial=NO_PATH)))

    def _cheap_columns(self, aft: int) -> Ints:
        return np.flatnonzero(self._costs(aft) == self.cost[aft])

    def _measure(self, block: Block) -> None:
        at = self._at(block)
        value = self.deviation(*self.x_of(block))
        changed = [block[1]]
        if math.isinf(value):
            self.carve(block)
        else:
            value = math.inf if math.isnan(value) else max(0.0, value)
            self.known[at], self.low[at], self.high[at] = True, value, value
            if self.thinner_fits_better and math.isfinite(value):
                changed = list(self._infer_bounds(block, value))
        if self.carved[at] or value > self.limit:
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
        """Raise the costs of places whose cheapest path used a block that now costs more; such blocks end in `rows`.

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
                through = before + self._prices(later, aft - self.first[later]) == self.cost[later]
                for row in later[through].tolist():
                    heapq.heappush(waiting, row)


def best_path(stretch: Stretch, limit: float) -> list[Block]:
    """The cheapest path; of equally cheap ones that with the smallest largest deviation. Empty where there is none."""
    stretch.set_limit(limit)
    if stretch.thinner_fits_better:
        stretch.measure_greedily()
    path = _measured_path(stretch)
    if stretch.thinner_fits_better and stretch.cost[-1] >= OVER * stretch.block_price:
        stretch.doubt_assumption()
        stretch.set_limit(limit)
        path = _measured_path(stretch)
    if path is None:
        return []
    cost = int(stretch.cost[-1])
    better: list[Block] | None = path
    while better is not None:
        path = better
        worst = max(stretch.least_deviation(block) for block in path)
        if worst <= ALIKE or worst > limit:
            break
        stretch.set_limit(worst - max(ALIKE, WORTH * worst))
        better = _measured_path(stretch, cost)
    return path


def _measured_path(stretch: Stretch, most: int = NO_PATH - 1) -> list[Block] | None:
    """A cheapest path of measured blocks; None if the cheapest costs more than `most`."""
    while stretch.cost[-1] <= most:
        path = stretch.cheapest_path()
        if all(stretch.settle(block) for block in _ends_first(path)):
            return path
    return None


def _ends_first(path: list[Block]) -> list[Block]:
    """The blocks from both ends inwards: a hull curves most at its ends, so failing blocks are met early."""
    return [path[place] for place in sorted(range(len(path)), key=lambda place: min(place, len(path) - 1 - place))]
