"""How little foam could do: the linear relaxation over every way to cut a billet.

Ways to cut a billet are made as they are needed: the prices of the blocks in the relaxation are given to the knapsack
of `strips`, and the best billet of each format joins, until none is worth more than its boards (P. C. Gilmore and
R. E. Gomory, Operations Research 13, 1965, two-stage cutting). What the relaxation then costs, no plan can undercut.
"""

import math
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from profiles.arrays import Floats
from profiles.foam.patterns import Format, Pattern, Task, plain
from profiles.foam.strips import Layout, Steps, StripTable, steps_of, strip_table, volumes, worth_of
from profiles.solver import cheapest

MOST_ROUNDS = 40
"""Of pricing; beyond, the bound that was reached stands. 40 blocks of different size seldom gain from more."""

JOINING = 12
"""Columns that join in a round, those that gain most; all that there are would make the relaxation slow."""

TOWARDS = 0.5
"""How far prices are drawn to those that gave the best bound so far: they swing less and fewer rounds are needed
(P. Wentges, International Transactions in Operational Research 4, 1997)."""

WORTH_MORE = 1e-7
"""Of the largest price; a billet that gains less does not join: the solver is not more exact."""


@dataclass(frozen=True, slots=True)
class Strip:
    """A way to cut a strip: its width by its place in `Task.widths`, and its blanks."""

    width: int
    lays: Pattern


@dataclass(frozen=True, slots=True)
class Column:
    """A way to cut a billet of one kind."""

    form: int
    kind: int
    strips: tuple[tuple[Strip, int], ...]
    """(strip, how many)."""
    gives: tuple[tuple[int, int], ...]
    """(size, how many)."""


@dataclass(frozen=True, slots=True)
class Relaxation:
    """What the relaxation says."""

    bound: float
    """No plan costs less."""
    worths: tuple[float, ...]
    """The price of a block of each size."""
    columns: tuple[Column, ...]
    """The most useful first."""


@dataclass(frozen=True, slots=True, eq=False)
class Duals:
    """Prices: of a block of each size, of a board of each place beside its cost, of a block that may be lacking."""

    worths: Floats
    boards: Floats
    lacking: float

    def drawn(self, other: "Duals", share: float) -> "Duals":
        """Between these and others."""
        return Duals(
            (1 - share) * self.worths + share * other.worths,
            (1 - share) * self.boards + share * other.boards,
            (1 - share) * self.lacking + share * other.lacking,
        )


def relax(
    task: Task,
    prices: Sequence[float],
    columns: Sequence[Column],
    *,
    most_lacking: int = 0,
    settled: Callable[[float, float], bool],
    rounds: int | None = None,
    until: float = math.inf,
) -> Relaxation:
    """The relaxation with a price for each board of the stock, starting from some columns.

    Up to `most_lacking` blocks may be missing. Stops where `settled` says that the bound (first) and the cost of the
    relaxation over the columns so far (second) need come no nearer, after so many rounds, or at a time of the clock.
    """
    pricing = pricing_of(task)
    pool = dict.fromkeys(column for column in columns if column.kind in task.formats[column.form].kinds)
    best = Duals(np.array(volumes(task)), np.zeros(len(task.stock)), 0.0)
    bound = _prove_bound(task, prices, best, _price(task, pricing, best), most_lacking)
    last = best
    value, taken = math.inf, np.zeros(0)
    for _ in range(MOST_ROUNDS if rounds is None else rounds):
        if settled(bound, value) or time.monotonic() > until:
            break
        last, value, taken = _master(task, prices, list(pool), most_lacking)
        more: list[Column] = []
        for trial in (last.drawn(best, TOWARDS), last):
            priced = _price(task, pricing, trial)
            proven = _prove_bound(task, prices, trial, priced, most_lacking)
            if proven > bound:
                best, bound = trial, proven
            more = _joining(task, prices, last, priced, pool)
            if more:
                break
        if not more:
            break
        pool |= dict.fromkeys(more)
    return Relaxation(bound, tuple(last.worths.tolist()), _by_use(list(pool), taken))


def _by_use(pool: Sequence[Column], taken: Floats) -> tuple[Column, ...]:
    """Columns that the relaxation takes first, most taken first, then the others, youngest first."""
    share = [float(taken[n]) if n < len(taken) else 0.0 for n in range(len(pool))]
    return tuple(pool[n] for n in sorted(range(len(pool)), key=lambda n: (-round(share[n], 9), -n)))


def _joining(
    task: Task, prices: Sequence[float], duals: Duals, priced: "Priced", pool: dict[Column, None]
) -> list[Column]:
    """The columns that gain most for their price by the prices of the relaxation."""
    least = WORTH_MORE * max(1.0, *prices)
    costs = _costs(task, prices, duals)
    order = sorted(
        range(len(task.kinds)), key=lambda kind: ((costs[kind] - priced.values[kind]) / max(costs[kind], least), kind)
    )
    found: list[Column] = []
    for kind in order[: 2 * JOINING]:
        if priced.values[kind] <= 0 or len(found) == JOINING:
            break
        column = priced.column(task, kind)
        gain = sum(duals.worths[size] * many for size, many in column.gives) - costs[kind]
        if gain > least and column not in pool:
            found.append(column)
    return found


def _costs(task: Task, prices: Sequence[float], duals: Duals) -> list[float]:
    each = [price + dual for price, dual in zip(prices, duals.boards.tolist(), strict=True)]
    return [sum(each[place] for place in kind.layers) for kind in task.kinds]


def _prove_bound(task: Task, prices: Sequence[float], duals: Duals, priced: "Priced", most_lacking: int) -> float:
    """What these prices prove (A. A. Farley, Operations Research 38, 1990): they are lowered until no billet gains.

    A billet of offcuts alone costs nothing; what it gains is paid for each offcut there is.
    """
    share, paid = 1.0 if duals.boards.any() else 0.0, [0.0] * len(task.stock)
    free = []
    for n, kind in enumerate(task.kinds):
        price = sum(prices[place] for place in kind.layers)
        over = float(priced.values[n]) - sum(duals.boards[place] for place in kind.layers)
        if price > 0:
            share = max(share, over / price)
        elif over > 0:
            free.append((kind.layers[0], over))
    for place, over in free:
        paid[place] = max(paid[place], over)
    limits = [board.count for board in task.stock]
    if any(over > 0 and many is None for over, many in zip(paid, limits, strict=True)) or share <= 0:
        return 0.0
    blocks = float(duals.worths @ [len(size.blocks) for size in task.sizes])
    boards = sum(
        (float(dual) + over) * many
        for dual, over, many in zip(duals.boards, paid, limits, strict=True)
        if many is not None
    )
    return (blocks - boards - duals.lacking * most_lacking) / share


def _master(
    task: Task, prices: Sequence[float], pool: Sequence[Column], most_lacking: int
) -> tuple[Duals, float, Floats]:
    """The relaxation over the columns at hand; where they do not reach, blocks are bought at a dear price."""
    sizes, places = len(task.sizes), len(task.stock)
    dear = 10.0 * max(1.0, *prices)
    wide = len(pool) + 2 * sizes  # columns, blocks that may be lacking, blocks at a dear price
    table: list[dict[int, float]] = [{} for _ in range(sizes + places + 1)]
    cost = np.zeros(wide)
    for n, column in enumerate(pool):
        for size, many in column.gives:
            table[size][n] = -many
        for place in task.kinds[column.kind].layers:
            table[sizes + place][n] = table[sizes + place].get(n, 0.0) + 1
            cost[n] += prices[place]
    for size in range(sizes):
        table[size] |= {len(pool) + size: -1.0, len(pool) + sizes + size: -1.0}
        table[-1][len(pool) + size] = 1.0
        cost[len(pool) + sizes + size] = dear
    limits = [
        *(-float(len(size.blocks)) for size in task.sizes),
        *(1e6 if board.count is None else float(board.count) for board in task.stock),
        float(most_lacking),
    ]
    rows = [(row, -math.inf, limit) for row, limit in zip(table, limits, strict=True)]
    answer = cheapest(cost, rows, np.full(wide, math.inf), whole=False)
    taken = np.zeros(wide) if answer.choice is None else answer.choice
    duals = -np.minimum(answer.prices, 0.0)
    return (
        Duals(duals[:sizes], duals[sizes : sizes + places], float(duals[-1])),
        float(cost @ taken),
        taken[: len(pool)],
    )


@dataclass(frozen=True, slots=True, eq=False)
class Pricing:
    """What pricing asks for again and again."""

    steps: Steps
    groups: tuple[tuple[int, ...], ...]
    """Formats whose blanks can be sliced alike."""
    caps: tuple[tuple[int, ...], ...]
    """For each group and lay: blanks that are wanted at most."""


def pricing_of(task: Task) -> Pricing:
    """Formats by what a blank of them gives."""
    wanted = [len(size.blocks) for size in task.sizes]
    groups: dict[tuple[object, ...], list[int]] = {}
    for n, form in enumerate(task.formats):
        key = tuple(tuple(stack.counts for stack in stacks) for stacks in form.stacks)
        if form.kinds:
            groups.setdefault(key, []).append(n)
    caps = tuple(
        tuple(sum(wanted[size] for size in _own(task.formats[members[0]], lay.footprint)) for lay in task.lays)
        for members in groups.values()
    )
    return Pricing(steps_of(task, down=True), tuple(tuple(members) for members in groups.values()), caps)


@dataclass(frozen=True, slots=True, eq=False)
class Priced:
    """The best way to cut a billet of each kind at some prices."""

    values: Floats
    """(kinds,): what its blocks are worth; 0 for those that the task cannot afford."""
    forms: tuple[int, ...]
    """Format of each kind."""
    tables: tuple[StripTable | None, ...]
    """For each format."""
    cells: tuple[int, ...]
    widths: tuple[Pattern, ...]
    """For each format: (strip width, how many)."""
    worths: tuple[float, ...]

    def column(self, task: Task, kind: int) -> Column:
        """The best way to cut this kind."""
        form = self.forms[kind]
        table = self.tables[form]
        strips = tuple(
            (Strip(width, table.strip(width, self.cells[form])), many) for width, many in self.widths[form] if table
        )
        return _column(task, form, kind, strips, self.worths)


def _price(task: Task, pricing: Pricing, duals: Duals) -> Priced:
    """The best billet of each kind."""
    steps, wanted = pricing.steps, [len(size.blocks) for size in task.sizes]
    worths = tuple(duals.worths.tolist())
    tables: list[StripTable | None] = [None] * len(task.formats)
    length = [max(0, steps.room(form.length, up=True)) for form in task.formats]
    across = [max(0, steps.room(form.width, up=True)) for form in task.formats]
    strips = np.zeros((len(task.formats), len(task.widths)))
    for members, caps in zip(pricing.groups, pricing.caps, strict=True):
        first = task.formats[members[0]]
        by_footprint = [worth_of(first, worths, wanted, n)[0] for n in range(len(task.footprints))]
        worth = np.array([by_footprint[lay.footprint] for lay in task.lays])
        table = strip_table(task, steps, range(len(task.lays)), worth, caps, max(length[n] for n in members))
        for n in members:
            tables[n] = table
            strips[n] = table.best[:, length[n]]
    values, widths = _across(steps, strips, across)
    forms, worth_of_kinds = [0] * len(task.kinds), np.zeros(len(task.kinds))
    for n, form in enumerate(task.formats):
        for kind in form.kinds:
            forms[kind], worth_of_kinds[kind] = n, values[n]
    return Priced(worth_of_kinds, tuple(forms), tuple(tables), tuple(length), tuple(widths), worths)


def _across(steps: Steps, worth: Floats, cells: Sequence[int]) -> tuple[Floats, list[Pattern]]:
    """The best strips side by side: `worth` (formats, widths), `cells` the room of each format."""
    formats, most = len(worth), max(cells, default=0)
    now = np.zeros((formats, most + 1))
    taken = []
    narrower = np.zeros(formats)
    for width, step in enumerate(steps.across):
        gains = worth[:, width] > narrower + 1e-12
        if not gains.any():
            continue
        narrower = np.maximum(narrower, worth[:, width])
        value = np.where(gains, worth[:, width], -np.inf)[:, None]
        for _ in range(most // step):
            more = now[:, :-step] + value
            takes = more > now[:, step:] + 1e-12
            if not takes.any():
                break
            now[:, step:] = np.where(takes, more, now[:, step:])
            taken.append((width, step, takes))
    patterns = []
    for n, room in enumerate(cells):
        counts: Counter[int] = Counter()
        at = room
        for width, step, takes in reversed(taken):
            if at >= step and takes[n, at - step]:
                counts[width] += 1
                at -= step
        patterns.append(plain(counts))
    return now[np.arange(formats), list(cells)], patterns


def _own(form: Format, footprint: int) -> list[int]:
    return sorted({size for stack in form.stacks[footprint] for size, _ in stack.counts})


def _column(task: Task, form: int, kind: int, strips: tuple[tuple[Strip, int], ...], worths: Sequence[float]) -> Column:
    wanted = [len(size.blocks) for size in task.sizes]
    gives: Counter[int] = Counter()
    for strip, many in strips:
        for lay, blanks in strip.lays:
            _, stack = worth_of(task.formats[form], worths, wanted, task.lays[lay].footprint)
            for size, blocks in stack.counts if stack else ():
                gives[size] += min(blocks, wanted[size]) * blanks * many
    return Column(form, kind, strips, plain(gives))


def by_volume(task: Task, prices: Sequence[float], lacking: int) -> float:
    """The least cost of boards with the volume of the blocks, but for the largest ones that may be lacking."""
    every = sorted(volume for size, volume in zip(task.sizes, volumes(task), strict=True) for _ in size.blocks)
    left = sum(every[: len(every) - lacking])
    cost = 0.0
    glue = task.settings.glue
    own = [board.length * board.width * (board.thickness + glue) for board in task.stock]
    for n in sorted(range(len(own)), key=lambda n: prices[n] / own[n]):
        many = math.inf if task.stock[n].count is None else float(task.stock[n].count or 0)
        used = min(many, left / own[n])
        cost += used * prices[n]
        left -= used * own[n]
    return cost


def columns_of(task: Task, layout: Layout) -> list[Column]:
    """The billets of a layout as columns."""
    form_of = {kind: n for n, form in enumerate(task.formats) for kind in form.kinds}
    columns = []
    for billet in layout:
        strips: Counter[Strip] = Counter()
        gives: Counter[int] = Counter()
        for strip in billet.strips:
            lays = plain(Counter(blank.lay for blank in strip.blanks))
            widest = max(task.lays[lay].across for lay, _ in lays)
            strips[Strip(task.widths.index(widest), lays)] += 1
            gives.update(size for blank in strip.blanks for size in blank.sizes)
        ordered = sorted(strips.items(), key=lambda one: (one[0].width, one[0].lays))
        columns.append(Column(form_of[billet.kind], billet.kind, tuple(ordered), plain(gives)))
    return columns
