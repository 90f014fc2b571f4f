"""Plans by rule: billets are filled one after the other, each time with the strip worth most for its width."""

import math
from collections import Counter
from collections.abc import Sequence

import numpy as np

from profiles.arrays import Floats
from profiles.foam.layouts import Blank, Layout, PlannedBillet, PlannedStrip, make_strip
from profiles.foam.patterns import max_pieces, shortest_orientations
from profiles.foam.strips import Grid, best_stack, make_grid, strip_table
from profiles.foam.task import Format, Pattern, Task

MAX_TRIED = 6
"""Number of formats to fill before the next billet is chosen: the most promising ones."""

OFFCUT_PRICE = 0.02
"""Of the largest board at hand; an offcut is used before a board."""

BOUGHT_PRICE = 100.0
"""Of the largest board to be bought, in boards at hand; foam at hand is used first."""


def greedy_layout(task: Task, worths: Sequence[float]) -> tuple[Layout, list[int]]:
    """A plan, and how many blocks of each size it does not give; `worths` (> 0) of a block of each size."""
    worths = [worth / max(worths) for worth in worths]
    grid = make_grid(task)
    left = list(task.demand)
    boards = [math.inf if board.count is None else float(board.count) for board in task.stock]
    prices = _preference_prices(task)
    layout: list[PlannedBillet] = []
    while any(left):
        tried = []
        for kind, fmt in _promising(task, worths, left, boards, prices):
            strips, rest = _fill_billet(task, fmt, grid, worths, left)
            gain = sum(worths[n] * (before - after) for n, (before, after) in enumerate(zip(left, rest, strict=True)))
            if strips:
                tried.append((-gain / task.kind_cost(kind, prices), kind, strips, rest))
        if not tried:
            break
        _, kind, strips, left = min(tried, key=lambda entry: entry[:2])
        for board in task.kinds[kind].uses:
            boards[board] -= 1
        layout.append(PlannedBillet(kind, strips))
    return tuple(layout), left


def _preference_prices(task: Task) -> list[float]:
    """Prices of the boards of the stock that put offcuts before boards at hand, and these before boards to be bought.

    Only their proportions matter.
    """
    return [
        BOUGHT_PRICE * bought if board.count is None else OFFCUT_PRICE if board.offcut else taken
        for board, bought, taken in zip(task.stock, task.prices, task.taken_prices, strict=True)
    ]


def _promising(
    task: Task, worths: Sequence[float], left: Sequence[int], boards: Sequence[float], prices: Sequence[float]
) -> list[tuple[int, Format]]:
    """The cheapest kind of each format, sorted by what it might give for its price."""
    promising = []
    for fmt in task.formats:
        available = [
            kind
            for kind in fmt.kinds
            if all(boards[board] >= count for board, count in Counter(task.kinds[kind].uses).items())
        ]
        if not available:
            continue
        price, kind = min((task.kind_cost(kind, prices), kind) for kind in available)
        wanted = densest = 0.0
        for footprint, (height, width) in enumerate(task.footprints):
            wanted += sum(worths[size] * left[size] for size in fmt.block_sizes(footprint))
            densest = max(densest, best_stack(fmt, worths, left, footprint)[0] / (height * width))
        hope = min(wanted, densest * fmt.length * fmt.width)
        if hope > 0:
            promising.append((-hope / price, kind, fmt))
    return [(kind, fmt) for _, kind, fmt in sorted(promising, key=lambda entry: entry[:2])[:MAX_TRIED]]


def _fill_billet(
    task: Task, fmt: Format, grid: Grid, worths: Sequence[float], left: Sequence[int]
) -> tuple[tuple[PlannedStrip, ...], list[int]]:
    """Strips for one billet, and the number of blocks of each size that are left to cut after it."""
    rest = list(left)
    strips: list[PlannedStrip] = []
    room = fmt.width
    while strip := _best_strip(task, fmt, grid, worths, rest, room):
        strips.append(strip)
        room -= strip.width + task.kerf
        for blank in strip.blanks:
            for size in blank.sizes:
                rest[size] -= 1
    return tuple(strips), rest


def _best_strip(
    task: Task, fmt: Format, grid: Grid, worths: Sequence[float], left: Sequence[int], room: float
) -> PlannedStrip | None:
    """The strip worth most for its width among those no wider than `room` (mm)."""
    worth, limits = _blank_worths(task, fmt, worths, left)
    cells = grid.cells(fmt.length)
    if cells <= 0:
        return None
    orientations = task.strip_orientations(fmt, room)
    table = strip_table(task, grid, orientations, worth, limits, cells)
    useful = {task.orientations[n].across for n in orientations}
    widths = [n for n, width in enumerate(task.widths) if width in useful and table.best[n, cells] > 0]
    if not widths:
        return None
    width = max(widths, key=lambda n: (table.best[n, cells] / (task.widths[n] + task.kerf), n))
    orientations = shortest_orientations(task, task.strip_orientations(fmt, task.widths[width]))
    pattern = strip_table(task, grid, orientations, worth, limits, cells).strip(width, cells)
    return make_strip(task, _make_blanks(task, fmt, pattern, worths, left))


def _blank_worths(task: Task, fmt: Format, worths: Sequence[float], left: Sequence[int]) -> tuple[Floats, list[int]]:
    """For each orientation, the worth of a blank, and how many blanks could be used."""
    worth = np.zeros(len(task.orientations))
    limits = []
    for n, orientation in enumerate(task.orientations):
        wanted = sum(left[size] for size in fmt.block_sizes(orientation.footprint))
        worth[n] = best_stack(fmt, worths, left, orientation.footprint)[0]
        limits.append(min(wanted, max_pieces(fmt.length, orientation.along, task.kerf)))
    return worth, limits


def _make_blanks(
    task: Task, fmt: Format, pattern: Pattern, worths: Sequence[float], left: Sequence[int]
) -> list[Blank]:
    """The blanks of a strip with blocks assigned to them; blanks that would give no block are left out."""
    rest = list(left)
    blanks = []
    for orientation, count in pattern:
        for _ in range(count):
            _, stack = best_stack(fmt, worths, rest, task.orientations[orientation].footprint)
            if stack is None:
                break
            sizes = []
            for size, most in stack.counts:
                number = min(most, rest[size])
                rest[size] -= number
                sizes += [size] * number
            blanks.append(Blank(orientation, tuple(sizes)))
    return blanks
