"""Plans by rule: billets filled one after the other with the strips that are worth most for their width.

What a strip can be worth is a knapsack along its length. Blanks are sorted by what they take across, so one pass over
them gives the best strip of every width (P. C. Gilmore and R. E. Gomory, Operations Research 13, 1965).
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from profiles.arrays import Bools, Floats
from profiles.foam.layers import FIT
from profiles.foam.patterns import Format, Pattern, Stack, Task, most_in, plain, strip_lays, useful_widths

GRIDS = (5.0, 1.0, 0.5, 0.25, 0.1, 0.05)
"""mm; lengths are counted in the coarsest of these that all of them are multiples of."""

FINEST = 0.1
"""mm; where none of them does, lengths are rounded to this: up for a plan, down for a bound."""

TRIED = 6
"""Formats that are filled before the next billet is chosen; the most promising."""

OFFCUT_PRICE = 0.02
"""Of a board at hand; an offcut is used before a board."""

BOUGHT_PRICE = 100.0
"""Boards at hand; the largest board that is to be bought. Foam at hand is used first."""


@dataclass(frozen=True, slots=True)
class Blank:
    """A blank in a strip and the blocks that are sliced from it."""

    lay: int
    sizes: tuple[int, ...]
    """One for each block."""


@dataclass(frozen=True, slots=True)
class PlannedStrip:
    """A strip and its blanks, in no order."""

    width: float
    blanks: tuple[Blank, ...]


@dataclass(frozen=True, slots=True)
class PlannedBillet:
    """A billet and its strips, in no order."""

    kind: int
    strips: tuple[PlannedStrip, ...]


Layout = tuple[PlannedBillet, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """Lengths as whole numbers of one grid, each with the kerf after it."""

    grid: float
    exact: bool
    along: tuple[int, ...]
    """For each lay."""
    across: tuple[int, ...]
    """For each strip width."""
    kerf: float

    def room(self, length: float, *, up: bool = False) -> int:
        """Of a length, with the kerf after its end."""
        cells = (length + self.kerf) / self.grid
        return math.ceil(cells - FIT) if up and not self.exact else math.floor(cells + FIT)


def steps_of(task: Task, *, down: bool = False) -> Steps:
    """The task's lengths on a grid; where none suits, rounded up, or `down` for a bound."""
    lengths = sorted({lay.along for lay in task.lays} | set(task.widths))
    grid = next((grid for grid in GRIDS if all(_on(length + task.kerf, grid) for length in lengths)), None)
    unit = grid or FINEST

    def cells(length: float) -> int:
        share = (length + task.kerf) / unit
        if grid:
            return round(share)
        return max(1, math.floor(share + FIT)) if down else math.ceil(share - FIT)

    along = tuple(cells(lay.along) for lay in task.lays)
    return Steps(unit, grid is not None, along, tuple(cells(width) for width in task.widths), task.kerf)


def _on(length: float, grid: float) -> bool:
    return abs(length / grid - round(length / grid)) * grid < FIT


@dataclass(frozen=True, slots=True, eq=False)
class StripTable:
    """The best strips of every width and length."""

    best: Floats
    """(width, cells): worth of the best strip."""
    taken: tuple[tuple[int, Bools], ...]
    """(lay, whether one is taken by cells), in the order of the search."""
    until: tuple[int, ...]
    """For each width how many of these count."""
    along: tuple[int, ...]

    def strip(self, width: int, cells: int) -> Pattern:
        """The best strip of that width."""
        counts: Counter[int] = Counter()
        for lay, takes in reversed(self.taken[: self.until[width]]):
            if takes[cells]:
                counts[lay] += 1
                cells -= self.along[lay]
        return plain(counts)


def strip_table(
    task: Task, steps: Steps, lays: Sequence[int], worth: Floats, caps: Sequence[int], cells: int
) -> StripTable:
    """The best strips up to `cells` long; `worth` for each lay, `caps` how many of each lay a strip may hold."""
    best = np.zeros((len(task.widths), cells + 1))
    now = np.zeros(cells + 1)
    taken: list[tuple[int, Bools]] = []
    until = []
    queue = [lay for lay in lays if worth[lay] > 0]
    for n, width in enumerate(task.widths):
        while queue and task.lays[queue[0]].across <= width + FIT:
            lay = queue.pop(0)
            step = steps.along[lay]
            for _ in range(min(caps[lay], cells // step)):
                more = now[:-step] + worth[lay]
                takes = np.zeros(cells + 1, dtype=np.bool_)
                takes[step:] = more > now[step:] + 1e-12
                if not takes.any():
                    break
                now = np.where(takes, np.concatenate([now[:step], more]), now)
                taken.append((lay, takes))
        best[n] = now
        until.append(len(taken))
    return StripTable(best, tuple(taken), tuple(until), steps.along)


def worth_of(form: Format, worths: Sequence[float], left: Sequence[int], footprint: int) -> tuple[float, Stack | None]:
    """The best way to slice a blank while `left` blocks of each size are wanted, by the worth of each size."""
    best, chosen = 0.0, None
    for stack in form.stacks[footprint]:
        value = sum(worths[size] * min(many, left[size]) for size, many in stack.counts)
        if value > best + 1e-12:
            best, chosen = value, stack
    return best, chosen


def by_rule(task: Task, steps: Steps, worths: Sequence[float], stock_left: Sequence[float]) -> tuple[Layout, list[int]]:
    """A plan and how many blocks of each size it does not give; `worths` of a block of each size, > 0.

    `stock_left` is how many of each board may be used.
    """
    left = [len(size.blocks) for size in task.sizes]
    boards = list(stock_left)
    prices = board_prices(task)
    layout: list[PlannedBillet] = []
    while any(left):
        tried = []
        for kind, form in _promising(task, worths, left, boards, prices):
            strips, rest = _fill(task, form, steps, worths, left)
            gained = sum(worths[n] * (a - b) for n, (a, b) in enumerate(zip(left, rest, strict=True)))
            if strips:
                price = sum(prices[place] for place in task.kinds[kind].layers)
                tried.append((-gained / price, kind, strips, rest))
        if not tried:
            break
        _, kind, strips, left = min(tried, key=lambda entry: entry[:2])
        for place in task.kinds[kind].layers:
            boards[place] -= 1
        layout.append(PlannedBillet(kind, strips))
    return tuple(layout), left


def volumes(task: Task) -> list[float]:
    """The volume of a block of each size, mm3: the plainest worth."""
    return [size.thickness * math.prod(task.footprints[size.footprint]) for size in task.sizes]


def board_prices(task: Task) -> list[float]:
    """What the use of each board counts, where only the proportions matter."""
    largest = max((board.volume for board in task.stock if board.count is None), default=1.0)
    return [
        BOUGHT_PRICE * board.volume / largest if board.count is None else OFFCUT_PRICE if board.offcut else 1.0
        for board in task.stock
    ]


def _promising(
    task: Task, worths: Sequence[float], left: Sequence[int], boards: Sequence[float], prices: Sequence[float]
) -> list[tuple[int, Format]]:
    """Kinds of billets, the cheapest of each format, by what they might give for their price."""
    found = []
    for form in task.formats:
        open_kinds = [kind for kind in form.kinds if _enough(task.kinds[kind].layers, boards)]
        if not open_kinds:
            continue
        price, kind = min((sum(prices[place] for place in task.kinds[kind].layers), kind) for kind in open_kinds)
        wanted = 0.0
        densest = 0.0
        for footprint, (height, width) in enumerate(task.footprints):
            own = {size for stack in form.stacks[footprint] for size, _ in stack.counts}
            wanted += sum(worths[size] * left[size] for size in own)
            densest = max(densest, worth_of(form, worths, left, footprint)[0] / (height * width))
        hoped = min(wanted, densest * form.length * form.width)
        if hoped > 0:
            found.append((-hoped / price, kind, form))
    return [(kind, form) for _, kind, form in sorted(found, key=lambda entry: entry[:2])[:TRIED]]


def _enough(layers: Sequence[int], boards: Sequence[float]) -> bool:
    return all(boards[place] >= many for place, many in Counter(layers).items())


def _fill(
    task: Task, form: Format, steps: Steps, worths: Sequence[float], left: Sequence[int]
) -> tuple[tuple[PlannedStrip, ...], list[int]]:
    """Strips for one billet, and what is left to be cut after it."""
    rest = list(left)
    strips: list[PlannedStrip] = []
    room = form.width
    while True:
        found = _best_strip(task, form, steps, worths, rest, room)
        if found is None:
            return tuple(strips), rest
        strips.append(found)
        room -= found.width + task.kerf
        for blank in found.blanks:
            for size in blank.sizes:
                rest[size] -= 1


def _best_strip(
    task: Task, form: Format, steps: Steps, worths: Sequence[float], left: Sequence[int], room: float
) -> PlannedStrip | None:
    """The strip worth most for its width, of those that are no wider than `room`."""
    worth, caps = lay_worths(task, form, worths, left)
    cells = steps.room(form.length)
    if cells <= 0:
        return None
    table = strip_table(task, steps, strip_lays(task, form, room), worth, caps, cells)
    widths = [n for n in useful_widths(task, form) if task.widths[n] <= room + FIT and table.best[n, cells] > 0]
    if not widths:
        return None
    width = max(widths, key=lambda n: (table.best[n, cells] / (task.widths[n] + task.kerf), n))
    lays = shortest_lays(task, strip_lays(task, form, task.widths[width]))
    pattern = strip_table(task, steps, lays, worth, caps, cells).strip(width, cells)
    blanks, _ = _sliced(task, form, pattern, worths, left)
    widest = max(task.lays[blank.lay].across for blank in blanks)
    return PlannedStrip(widest, blanks)


def lay_worths(task: Task, form: Format, worths: Sequence[float], left: Sequence[int]) -> tuple[Floats, list[int]]:
    """For each lay the worth of a blank, and how many blanks are wanted at most."""
    worth = np.zeros(len(task.lays))
    caps = [0] * len(task.lays)
    for n, lay in enumerate(task.lays):
        own = sorted({size for stack in form.stacks[lay.footprint] for size, _ in stack.counts})
        worth[n] = worth_of(form, worths, left, lay.footprint)[0]
        caps[n] = min(sum(left[size] for size in own), most_in(form.length, lay.along, task.kerf))
    return worth, caps


def shortest_lays(task: Task, lays: Sequence[int]) -> list[int]:
    """Of each footprint only the lay that takes less along the strip."""
    best: dict[int, int] = {}
    for n in lays:
        footprint = task.lays[n].footprint
        if footprint not in best or task.lays[n].along < task.lays[best[footprint]].along:
            best[footprint] = n
    return [n for n in lays if best[task.lays[n].footprint] == n]


def _sliced(
    task: Task, form: Format, pattern: Pattern, worths: Sequence[float], left: Sequence[int]
) -> tuple[tuple[Blank, ...], list[int]]:
    """The blanks of a strip with blocks given to them; those that would give none are left out."""
    rest = list(left)
    blanks = []
    for lay, many in pattern:
        for _ in range(many):
            _, stack = worth_of(form, worths, rest, task.lays[lay].footprint)
            if stack is None:
                break
            sizes = []
            for size, wanted in stack.counts:
                given = min(wanted, rest[size])
                rest[size] -= given
                sizes += [size] * given
            blanks.append(Blank(lay, tuple(sizes)))
    return tuple(blanks), rest
