"""Length + foam + how far a block may be off -> the station plan with the fewest blocks that keep that limit.

A stretch between two breaks is a row of places; a block leads from one place to a later one. The fewest blocks are the
cheapest way from end to end, and what is dear is to know how far a block would be off. So the search is lazy: take
every block that is not yet measured for a good one, find the cheapest way, measure the blocks on it, and look again
until a way holds. What it returns is the best of all ways, however the deviation behaves along the hull.
"""

import heapq
import math
from collections.abc import Callable, Iterable, Iterator
from itertools import accumulate, pairwise

import numpy as np
import numpy.typing as npt

from profiles.blocks.stations import (
    SAME_PLACE,
    Span,
    StationPlan,
    check_foam,
    forced_stations,
    share_out,
    told_missed,
    told_thin,
)
from profiles.errors import JobError

Deviation = Callable[[float, float], float]
"""(x_fore, x_aft) mm -> how far the block between is off the hull, mm; inf or nan where it cannot be cut at all."""

Tips = Callable[[float, float], bool]
"""(x_fore, x_aft) mm -> whether this first or last block may be carved as a tip."""

Block = tuple[int, int]
"""A block of a stretch by the numbers of the places of its two faces."""

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

ALIKE = 0.01
"""mm; deviations nearer than this are the same to a builder with sandpaper, and not worth more measuring."""

TIP_UNIT = 0.01
"""mm; to this the lengths of tips are compared."""

FINITE = 1e300
"""mm; a limit that every block keeps but those that cannot be cut at all."""

NO_WAY = 2**60
"""The price of a place that no way leads to; far above every price, and twice it still fits 64 bits."""


def plan_by_fit(  # noqa: PLR0913 - one wish each, all by name
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
    hereditary: bool = False,
) -> StationPlan:
    """The fewest blocks, none thicker than `foam` or thinner than `min_block`, each deviating by `limit` at most; mm.

    Of plans with equally few blocks the one with most full blocks is taken, of these the one with the shortest tips, of
    these the one whose largest deviation is least (to `ALIKE`). The same wishes give the same plan.

    `breaks` are stations in any case; one near to a step of `steps` is moved onto it. Other stations lie every `grid`
    mm from the tail of each stretch (a little finer where the foam is no whole number of them), at the steps, whole
    foams from these, and where `plan_stations` would put them; so the plan is never worse than that one. A stretch too
    short for `min_block` gets the thickest blocks that can be, with a note.

    `tips` tells which first and last blocks of the body are to be carved: they are exempt from `limit` and never
    measured, but no thicker than the foam. It is asked only for blocks that begin at 0 or end at `length`, and can
    refuse those too long to carve. Without it no block is exempt.

    `deviation` is called once at most for each block. Nothing is assumed about it, unless `hereditary`: then a block
    within another is taken to deviate no more than that one, which is so where the hull is convex along its length; one
    that cannot be cut says nothing of others. Many fewer blocks are measured where the limit is tight (a spheroid
    570 x 120 in 40 mm foam within 0.25 mm: 83 for 1124). Every block of the plan still is, and before giving up the
    guesses are dropped, so the limit is kept in any case; but where the hull swings in and out there may be a better
    plan. That is why it must be asked for.

    Raises JobError for impossible wishes, and when no plan keeps the limit: it names the stretch, the worst block of
    the best plan there, and what to do.
    """
    check_foam(length, foam, min_block)
    _checked_fit(limit, grid)
    corners = [0.0, *forced_stations(length, breaks, steps), length]
    stations = [0.0]
    for start, end in pairwise(corners):
        least = min(min_block, *share_out(end - start, foam, "nose", min_block))
        places = _places(start, end, foam, min_block, grid, steps)
        stretch = _Stretch(places, foam, least, deviation, hereditary=hereditary)
        if tips:
            stretch.carve(block for block in stretch.end_blocks(length) if tips(*stretch.reach(block)))
        stations += [stretch.reach(block)[1] for block in _best_way(stretch, limit)]
    spans = tuple(
        Span(number, fore, aft, abs(aft - fore - foam) < SAME_PLACE)
        for number, (fore, aft) in enumerate(pairwise(stations), start=1)
    )
    return StationPlan(foam, tuple(stations), spans, (*told_thin(spans, min_block), *told_missed(stations, steps)))


def largest_deviation(plan: StationPlan, deviation: Deviation, *, tips: Tips | None = None) -> float:
    """The largest deviation of the plan's blocks, mm, without first and last blocks that are `tips`; 0 if all are."""
    ends = {plan.spans[0].number, plan.spans[-1].number}
    return max(
        (
            deviation(span.x_fore, span.x_aft)
            for span in plan.spans
            if not (tips and span.number in ends and tips(span.x_fore, span.x_aft))
        ),
        default=0.0,
    )


def _checked_fit(limit: float, grid: float) -> None:
    if not limit > 0:
        message = f"expected a largest deviation above 0 mm, found {limit:g} mm"
        raise JobError(message, remedy="Give what you can sand, for example --fit 1.0.")
    if not 0 < grid < math.inf:
        message = f"expected a grid of stations above 0 mm, found {grid:g} mm"
        raise JobError(message, remedy="Use 1 mm.")


def _places(start: float, end: float, foam: float, min_block: float, grid: float, steps: tuple[float, ...]) -> Floats:
    """Where stations may lie between two breaks, (n,) mm ascending, the breaks first and last and steps exact."""
    firm = np.array([start, *sorted(s for s in steps if start + SAME_PLACE < s < end - SAME_PLACE), end])
    firm = firm[np.diff(firm, prepend=-math.inf) > SAME_PLACE]
    step = foam / math.ceil(foam / grid - SAME_PLACE)
    foams = foam * np.arange(1, math.ceil((end - start) / foam) + 1)
    loose = [end - step * np.arange(1, math.ceil((end - start) / step))]
    loose += [x + side * foams for x in firm for side in (-1, 1)]
    for odd in ("nose", "tail", "both"):
        loose.append(start + np.array(list(accumulate(share_out(end - start, foam, odd, min_block)))))
    found = np.sort(np.concatenate(loose))
    found = found[(found > start) & (found < end)]
    found = found[np.diff(found, prepend=-math.inf) > SAME_PLACE]
    apart = np.abs(found[:, None] - firm[None, :]).min(axis=1) > SAME_PLACE
    return np.sort(np.concatenate([firm, found[apart]]))


class _Stretch:
    """The places between two breaks, the blocks between them, and what is known about those.

    Tables have one row for each place and in it one column for each block that ends there, from the thickest on: the
    block from place i to place j stands in [j, i - first[j]].
    """

    def __init__(self, places: Floats, foam: float, least: float, deviation: Deviation, *, hereditary: bool) -> None:
        self.places = places
        self.deviation = deviation
        self.hereditary = hereditary
        self.limit = math.inf
        count = len(places)
        self.first: Ints = np.searchsorted(places, places - foam - SAME_PLACE)
        self.past: Ints = np.minimum(np.searchsorted(places, places - least + SAME_PLACE), np.arange(count))
        width = max(1, int((self.past - self.first).max()))
        self.low: Floats = np.zeros((count, width))
        """What a block deviates at least, mm."""
        self.high: Floats = np.full((count, width), math.inf)
        """What a block deviates at most, mm; infinite if nothing is known."""
        self.known = np.zeros((count, width), dtype=np.bool_)
        self.price: Ints = np.full((count, width), NO_WAY, dtype=np.int64)
        self.cost: Ints = np.zeros(count, dtype=np.int64)
        """The price of the cheapest way to each place, with every block that may hold taken to hold."""
        self._after_first: Ints = np.searchsorted(places, places + least - SAME_PLACE)
        self._after_past: Ints = np.searchsorted(places, places + foam + SAME_PLACE)
        self._tip_unit = 2 * math.ceil(foam / TIP_UNIT) + 1
        for aft in range(count):
            row = slice(0, max(0, self.past[aft] - self.first[aft]))
            thickness = places[aft] - places[self.first[aft] : self.past[aft]]
            full = np.abs(thickness - foam) < SAME_PLACE
            self.price[aft, row] = (count - full) * self._tip_unit

    def end_blocks(self, length: float) -> Iterator[Block]:
        """The blocks that may be the first or the last of the whole body."""
        last = len(self.places) - 1
        if self.places[0] == 0.0:
            yield from ((0, aft) for aft in self._aft_of(0))
        if self.places[-1] == length:
            yield from ((fore, last) for fore in self._fore_of(last))

    def carve(self, blocks: Iterable[Block]) -> None:
        """Let these blocks hold whatever they deviate; a longer one is dearer, by less than any other difference."""
        for fore, aft in blocks:
            at = self._at((fore, aft))
            if not self.known[at]:
                self.price[at] += round((self.places[aft] - self.places[fore]) / TIP_UNIT)
            self.known[at], self.low[at], self.high[at] = True, 0.0, 0.0

    def reach(self, block: Block) -> tuple[float, float]:
        """The two stations of a block, mm."""
        return float(self.places[block[0]]), float(self.places[block[1]])

    def deviates(self, block: Block) -> float:
        """What is known to be the least deviation of a block, mm; exact for a measured one."""
        return float(self.low[self._at(block)])

    def set_limit(self, limit: float) -> None:
        """Judge every block by another limit."""
        self.limit = limit
        for aft in range(1, len(self.places)):
            self.cost[aft] = self._cheapest(aft)

    def forget_guesses(self) -> None:
        """Drop what was only concluded from other blocks, and conclude no more."""
        self.hereditary = False
        self.low[~self.known] = 0.0
        self.high[~self.known] = math.inf

    def way(self) -> list[Block]:
        """A cheapest way, nose to tail; where there is a choice over blocks known to hold, else over thick ones aft."""
        blocks = []
        aft = len(self.places) - 1
        while aft > 0:
            columns = self._cheap_columns(aft)
            safe = columns[self.high[aft, columns] <= self.limit]
            fore = int(self.first[aft] + (safe if len(safe) else columns)[0])
            blocks.append((fore, aft))
            aft = fore
        return blocks[::-1]

    def holds(self, block: Block) -> bool:
        """Whether a block keeps the limit, measured if it was not yet."""
        at = self._at(block)
        if not self.known[at]:
            found = self.deviation(*self.reach(block))
            self._learn(block, math.inf if math.isnan(found) else max(0.0, found))
        return bool(self.low[at] <= self.limit)

    def thickest(self, blocks: list[Block]) -> Block | None:
        """The thickest block that holds, of some from thin to thick each within the next; found by halving."""
        good, bad = -1, len(blocks)
        while bad - good > 1:
            middle = bad - 1 if bad - good > len(blocks) else (good + bad) // 2
            at = self._at(blocks[middle])
            if self.high[at] <= self.limit or (self.low[at] <= self.limit and self.holds(blocks[middle])):
                good = middle
            else:
                bad = middle
        return blocks[good] if good >= 0 else None

    def sound(self) -> None:
        """From both ends, one thickest block after another: enough to know the least number of blocks."""
        last = len(self.places) - 1
        block: Block | None = (0, 0)
        while block and block[1] < last:
            block = self.thickest([(block[1], aft) for aft in self._aft_of(block[1])])
        block = (last, last)
        while block and block[0] > 0:
            block = self.thickest([(fore, block[0]) for fore in self._fore_of(block[0])[::-1]])

    def prefer_thin(self) -> None:
        """Price blocks so that many thin ones are cheaper than a few thick ones."""
        for aft in range(1, len(self.places)):
            thickness = self.places[aft] - self.places[self.first[aft] : self.past[aft]]
            self.price[aft, : len(thickness)] = np.round(1e6 * (thickness / thickness.max(initial=TIP_UNIT)) ** 2)

    def least_limit(self) -> float:
        """The least limit that some way may keep, by what is known."""
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
        costs[self.low[aft, :width] > self.limit] = NO_WAY
        return costs

    def _cheapest(self, aft: int) -> int:
        return int(min(NO_WAY, self._costs(aft).min(initial=NO_WAY)))

    def _cheap_columns(self, aft: int) -> Ints:
        return np.flatnonzero(self._costs(aft) == self.cost[aft])

    def _learn(self, block: Block, found: float) -> None:
        at = self._at(block)
        self.known[at], self.low[at], self.high[at] = True, found, found
        changed = [block[1]]
        if self.hereditary and math.isfinite(found):
            changed = list(self._conclude(block, found))
        if found > self.limit:
            self._renew(changed)

    def _conclude(self, block: Block, found: float) -> range:
        """Blocks round this one deviate at least as much, blocks within it at most as much; the rows that rose."""
        fore, aft = block
        rising = range(aft, int(self._after_past[fore]))
        for row in rising:
            columns = slice(0, max(0, min(fore + 1, self.past[row]) - self.first[row]))
            free = ~self.known[row, columns]
            np.maximum(self.low[row, columns], found, out=self.low[row, columns], where=free)
        for row in range(fore + 1, aft + 1):
            columns = slice(max(0, fore - self.first[row]), max(0, self.past[row] - self.first[row]))
            free = ~self.known[row, columns]
            np.minimum(self.high[row, columns], found, out=self.high[row, columns], where=free)
        return rising

    def _renew(self, rows: Iterable[int]) -> None:
        """Let the costs rise where the cheapest way led over blocks that fell out; they end in these rows."""
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


def _best_way(stretch: _Stretch, limit: float) -> list[Block]:
    """The cheapest way within the limit, and of equally cheap ones that with the least largest deviation."""
    stretch.set_limit(limit)
    if stretch.hereditary:
        stretch.sound()
    way = _holding(stretch)
    if way is None and stretch.hereditary:
        stretch.forget_guesses()
        stretch.set_limit(limit)
        way = _holding(stretch)
    if way is None:
        raise _failure(stretch, limit)
    price = int(stretch.cost[-1])
    better: list[Block] | None = way
    while better is not None:
        way = better
        worst = max(stretch.deviates(block) for block in way)
        if worst <= ALIKE:
            break
        stretch.set_limit(worst - ALIKE)
        better = _holding(stretch, price)
    return way


def _holding(stretch: _Stretch, price: int = NO_WAY - 1) -> list[Block] | None:
    """A cheapest way whose every block was measured and holds; none if the cheapest is dearer than `price`."""
    while stretch.cost[-1] <= price:
        way = stretch.way()
        if all(stretch.holds(block) for block in _outer_first(way)):
            return way
    return None


def _outer_first(way: list[Block]) -> list[Block]:
    """Blocks of a way from both ends inwards: a hull turns fastest at its ends, so bad blocks are met early."""
    return [way[place] for place in sorted(range(len(way)), key=lambda place: min(place, len(way) - 1 - place))]


def _failure(stretch: _Stretch, limit: float) -> JobError:
    """What can be had where no way keeps the limit, and what to do."""
    stretch.prefer_thin()
    way = None
    while way is None and math.isfinite(best := stretch.least_limit()):
        stretch.set_limit(best + ALIKE)
        way = _holding(stretch)
    start, end = stretch.reach((0, len(stretch.places) - 1))
    where = f"no plan keeps every block within {limit:g} mm of the hull between x = {start:.2f} and {end:.2f} mm"
    if way is None:
        stretch.set_limit(FINITE)
        stuck = float(stretch.places[np.flatnonzero(stretch.cost < NO_WAY)[-1]])
        message = f"{where}: past x = {stuck:.2f} mm there is no block that two templates can cut"
        return JobError(
            message, remedy="Put a station where the shape changes (--break), or use a smaller --min-block."
        )
    worst = max(way, key=stretch.deviates)
    fore, aft = stretch.reach(worst)
    found = stretch.deviates(worst)
    message = f"{where}: the best is {found:.2f} mm, in the block from x = {fore:.2f} to {aft:.2f} mm"
    enough = math.ceil(found / ALIKE) * ALIKE
    return JobError(message, remedy=f"Use a --min-block below {aft - fore:g}, or --fit {enough:.2f}.")
