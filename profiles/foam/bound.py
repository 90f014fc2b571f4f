"""The least foam that any plan needs: a lower bound by the linear relaxation over every way to cut a billet.

Ways to cut a billet (columns) are generated when they are needed: the prices of the blocks in the relaxation go to the
knapsack of `strips`, and the best billet of each format joins, until no billet is worth more than its boards
(P. C. Gilmore and R. E. Gomory, Operations Research 13, 1965, two-stage cutting). No plan can cost less than the
relaxation.
"""

import math
import time
from collections import Counter
from collections.abc import Callable, Sequence

import numpy as np

from profiles.arrays import Floats
from profiles.foam.patterns import Column, StripPattern, make_pattern
from profiles.foam.strips import LEAST_GAIN, Grid, StripTable, best_stack, make_grid, strip_table
from profiles.foam.task import Pattern, Task
from profiles.solver import solve_program
from profiles.values import dataclass

MAX_ROUNDS = 40
"""Rounds of pricing; after them the bound reached so far stands. 40 blocks of different size seldom gain from more."""

JOINING = 12
"""Columns that join in a round, those with the largest gain; all of them would make the relaxation slow."""

BLEND = 0.5
"""How far prices are moved towards those that gave the best bound so far: they swing less and fewer rounds are needed
(P. Wentges, International Transactions in Operational Research 4, 1997)."""

LEAST_PROFIT = 1e-7
"""Of the largest price; a billet that gains less does not join: the solver is no more exact."""


@dataclass(frozen=True, slots=True)
class Relaxation:
    """The result of the relaxation."""

    bound: float
    """No plan costs less."""
    worths: tuple[float, ...]
    """The price of a block of each size."""
    columns: tuple[Column, ...]
    """The most useful first."""


@dataclass(frozen=True, slots=True, eq=False)
class Duals:
    """Dual prices: of a block of each size, of each board on top of its cost, and of a block that may be missing."""

    worths: Floats
    boards: Floats
    missing: float

    def blend(self, other: "Duals", share: float) -> "Duals":
        """These prices and a share of the others."""
        return Duals(
            (1 - share) * self.worths + share * other.worths,
            (1 - share) * self.boards + share * other.boards,
            (1 - share) * self.missing + share * other.missing,
        )


def relax(
    task: Task,
    columns: Sequence[Column],
    *,
    max_missing: int = 0,
    settled: Callable[[float, float], bool],
    rounds: int | None = None,
    until: float = math.inf,
) -> Relaxation:
    """Solve the relaxation, starting from some columns.

    Up to `max_missing` blocks may be missing. It ends when `settled` says that the bound (first) and the cost of the
    relaxation over the columns so far (second) need come no closer, after a number of rounds, or at a time of the
    monotonic clock.
    """
    pricing = _prepare_pricing(task)
    pool = dict.fromkeys(column for column in columns if column.kind in task.formats[column.format].kinds)
    best = Duals(np.array(task.block_volumes), np.zeros(len(task.stock)), 0.0)
    bound = _prove_bound(task, best, _best_billets(task, pricing, best), max_missing)
    last = best
    cost, taken = math.inf, np.zeros(0)
    for _ in range(MAX_ROUNDS if rounds is None else rounds):
        if settled(bound, cost) or time.monotonic() > until:
            break
        last, cost, taken = _solve_master(task, list(pool), max_missing)
        joining: list[Column] = []
        for duals in (last.blend(best, BLEND), last):
            billets = _best_billets(task, pricing, duals)
            proven = _prove_bound(task, duals, billets, max_missing)
            if proven > bound:
                best, bound = duals, proven
            joining = _improving_columns(task, last, billets, pool)
            if joining:
                break
        if not joining:
            break
        pool |= dict.fromkeys(joining)
    return Relaxation(bound, tuple(last.worths.tolist()), _by_use(list(pool), taken))


def _by_use(pool: Sequence[Column], taken: Floats) -> tuple[Column, ...]:
    """The columns that the relaxation takes, the most taken first, then the others, the youngest first."""
    share = [float(taken[n]) if n < len(taken) else 0.0 for n in range(len(pool))]
    return tuple(pool[n] for n in sorted(range(len(pool)), key=lambda n: (-round(share[n], 9), -n)))


def _improving_columns(task: Task, duals: Duals, billets: "BestBillets", pool: dict[Column, None]) -> list[Column]:
    """The new columns that gain most for their price, by the prices of the relaxation."""
    least = LEAST_PROFIT * max(1.0, *task.prices)
    dual_prices = [price + dual for price, dual in zip(task.prices, duals.boards.tolist(), strict=True)]
    costs = [task.kind_cost(kind, dual_prices) for kind in range(len(task.kinds))]
    order = sorted(
        range(len(task.kinds)), key=lambda kind: ((costs[kind] - billets.worths[kind]) / max(costs[kind], least), kind)
    )
    columns: list[Column] = []
    for kind in order[: 2 * JOINING]:
        if billets.worths[kind] <= 0 or len(columns) == JOINING:
            break
        column = billets.column(task, kind)
        gain = sum(duals.worths[size] * count for size, count in column.gives) - costs[kind]
        if gain > least and column not in pool:
            columns.append(column)
    return columns


def _prove_bound(task: Task, duals: Duals, billets: "BestBillets", max_missing: int) -> float:
    """The bound that these prices prove when they are lowered until no billet gains (A. A. Farley, Operations Research
    38, 1990).

    A billet of offcuts alone costs nothing, so its gain is charged to each offcut that there is.
    """
    divisor, charges = 1.0 if duals.boards.any() else 0.0, [0.0] * len(task.stock)
    for n, kind in enumerate(task.kinds):
        price = task.kind_cost(n)
        gain = float(billets.worths[n]) - sum(duals.boards[board] for board in kind.uses)
        if price > 0:
            divisor = max(divisor, gain / price)
        elif gain > 0:
            charges[kind.uses[0]] = max(charges[kind.uses[0]], gain)
    counts = [board.count for board in task.stock]
    if any(charge > 0 and count is None for charge, count in zip(charges, counts, strict=True)) or divisor <= 0:
        return 0.0
    blocks = float(duals.worths @ task.demand)
    boards = sum(
        (float(dual) + charge) * count
        for dual, charge, count in zip(duals.boards, charges, counts, strict=True)
        if count is not None
    )
    return (blocks - boards - duals.missing * max_missing) / divisor


def _solve_master(task: Task, pool: Sequence[Column], max_missing: int) -> tuple[Duals, float, Floats]:
    """The relaxation over the columns so far; blocks that they do not give are bought at a high price."""
    sizes, boards = len(task.sizes), len(task.stock)
    width = len(pool) + 2 * sizes  # columns, blocks that may be missing, blocks at a high price
    table: list[dict[int, float]] = [{} for _ in range(sizes + boards + 1)]
    cost = np.zeros(width)
    for n, column in enumerate(pool):
        for size, count in column.gives:
            table[size][n] = -count
        for board in task.kinds[column.kind].uses:
            table[sizes + board][n] = table[sizes + board].get(n, 0.0) + 1
            cost[n] += task.prices[board]
    for size in range(sizes):
        table[size] |= {len(pool) + size: -1.0, len(pool) + sizes + size: -1.0}
        table[-1][len(pool) + size] = 1.0
        cost[len(pool) + sizes + size] = 10.0 * max(1.0, *task.prices)
    limits = [
        *(-float(count) for count in task.demand),
        *(1e6 if board.count is None else float(board.count) for board in task.stock),
        float(max_missing),
    ]
    rows = [(row, -math.inf, limit) for row, limit in zip(table, limits, strict=True)]
    answer = solve_program(cost, rows, np.full(width, math.inf), whole=False)
    taken = np.zeros(width) if answer.choice is None else answer.choice
    duals = -np.minimum(answer.prices, 0.0)
    return (
        Duals(duals[:sizes], duals[sizes : sizes + boards], float(duals[-1])),
        float(cost @ taken),
        taken[: len(pool)],
    )


@dataclass(frozen=True, slots=True, eq=False)
class Pricing:
    """What every round of pricing needs."""

    grid: Grid
    groups: tuple[tuple[int, ...], ...]
    """Formats whose blanks can be sliced in the same ways."""
    limits: tuple[tuple[int, ...], ...]
    """For each group and orientation, how many blanks could be used."""


def _prepare_pricing(task: Task) -> Pricing:
    groups: dict[tuple[object, ...], list[int]] = {}
    for n, fmt in enumerate(task.formats):
        key = tuple(tuple(stack.counts for stack in stacks) for stacks in fmt.stacks)
        if fmt.kinds:
            groups.setdefault(key, []).append(n)
    limits = tuple(
        tuple(
            sum(task.demand[size] for size in task.formats[members[0]].block_sizes(orientation.footprint))
            for orientation in task.orientations
        )
        for members in groups.values()
    )
    return Pricing(make_grid(task, down=True), tuple(tuple(members) for members in groups.values()), limits)


@dataclass(frozen=True, slots=True, eq=False)
class BestBillets:
    """The best way to cut a billet of each kind at some prices."""

    worths: Floats
    """(kinds,): worth of its blocks; 0 for kinds beyond the task's budget."""
    tables: tuple[StripTable | None, ...]
    """For each format, as are the next two."""
    cells: tuple[int, ...]
    widths: tuple[Pattern, ...]
    """(strip width, how many)."""
    block_worths: tuple[float, ...]

    def column(self, task: Task, kind: int) -> Column:
        """The best way to cut this kind."""
        n = task.format_of[kind]
        table = self.tables[n]
        strips = tuple(
            (StripPattern(width, table.strip(width, self.cells[n])), count) for width, count in self.widths[n] if table
        )
        gives: Counter[int] = Counter()
        for strip, strip_count in strips:
            for orientation, blanks in strip.blanks:
                footprint = task.orientations[orientation].footprint
                _, stack = best_stack(task.formats[n], self.block_worths, task.demand, footprint)
                for size, blocks in stack.counts if stack else ():
                    gives[size] += min(blocks, task.demand[size]) * blanks * strip_count
        return Column(n, kind, strips, make_pattern(gives))


def _best_billets(task: Task, pricing: Pricing, duals: Duals) -> BestBillets:
    grid, demand = pricing.grid, task.demand
    block_worths = tuple(duals.worths.tolist())
    tables: list[StripTable | None] = [None] * len(task.formats)
    along = [max(0, grid.cells(fmt.length, up=True)) for fmt in task.formats]
    across = [max(0, grid.cells(fmt.width, up=True)) for fmt in task.formats]
    strip_worths = np.zeros((len(task.formats), len(task.widths)))
    for members, limits in zip(pricing.groups, pricing.limits, strict=True):
        first = task.formats[members[0]]
        by_footprint = [best_stack(first, block_worths, demand, n)[0] for n in range(len(task.footprints))]
        worth = np.array([by_footprint[orientation.footprint] for orientation in task.orientations])
        longest = max(along[n] for n in members)
        table = strip_table(task, grid, range(len(task.orientations)), worth, limits, longest)
        for n in members:
            tables[n] = table
            strip_worths[n] = table.best[:, along[n]]
    format_worths, widths = _best_billet_patterns(grid, strip_worths, across)
    worths = np.zeros(len(task.kinds))
    for kind, n in task.format_of.items():
        worths[kind] = format_worths[n]
    return BestBillets(worths, tuple(tables), tuple(along), tuple(widths), block_worths)


def _best_billet_patterns(grid: Grid, strip_worths: Floats, cells: Sequence[int]) -> tuple[Floats, list[Pattern]]:
    """The best strips side by side, and their worth; `strip_worths` (formats, widths), `cells` across each format."""
    formats, most = len(strip_worths), max(cells, default=0)
    best = np.zeros((formats, most + 1))
    taken = []
    narrower = np.zeros(formats)
    for width, step in enumerate(grid.across):
        gains = strip_worths[:, width] > narrower + LEAST_GAIN
        if not gains.any():
            continue
        narrower = np.maximum(narrower, strip_worths[:, width])
        worth = np.where(gains, strip_worths[:, width], -np.inf)[:, None]
        for _ in range(most // step):
            more = best[:, :-step] + worth
            takes = more > best[:, step:] + LEAST_GAIN
            if not takes.any():
                break
            best[:, step:] = np.where(takes, more, best[:, step:])
            taken.append((width, step, takes))
    patterns = []
    for n, cell in enumerate(cells):
        counts: Counter[int] = Counter()
        left = cell
        for width, step, takes in reversed(taken):
            if left >= step and takes[n, left - step]:
                counts[width] += 1
                left -= step
        patterns.append(make_pattern(counts))
    return best[np.arange(formats), list(cells)], patterns


def volume_bound(task: Task, missing: int) -> float:
    """The least cost of boards that have the volume of the blocks, without the largest ones that may be missing."""
    volumes = sorted(
        volume for volume, count in zip(task.block_volumes, task.demand, strict=True) for _ in range(count)
    )
    left = sum(volumes[: len(volumes) - missing])
    cost = 0.0
    board_volumes = [board.length * board.width * (board.thickness + task.settings.glue) for board in task.stock]
    for n in sorted(range(len(board_volumes)), key=lambda n: task.prices[n] / board_volumes[n]):
        count = task.stock[n].count
        used = left / board_volumes[n] if count is None else min(float(count), left / board_volumes[n])
        cost += used * task.prices[n]
        left -= used * board_volumes[n]
    return cost
