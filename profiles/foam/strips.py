"""The strips that are worth most, by dynamic programming.

What a strip can be worth is a knapsack along its length. Orientations are sorted by their size across, so one pass over
them gives the best strip of every width (P. C. Gilmore and R. E. Gomory, Operations Research 13, 1965).
"""

import math
from collections import Counter
from collections.abc import Sequence

import numpy as np

from profiles.arrays import Bools, Floats
from profiles.foam.layers import ROUNDING
from profiles.foam.patterns import make_pattern
from profiles.foam.task import Format, Pattern, Stack, Task
from profiles.values import dataclass

CELLS = (5.0, 1.0, 0.5, 0.25, 0.1, 0.05)
"""mm; lengths are counted in the coarsest of these that divides all of them."""

ROUNDED_CELL = 0.1
"""mm; if none divides them, lengths are rounded to this: up for a plan, down for a bound."""

LEAST_GAIN = 1e-12
"""A smaller difference of worth is rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """Lengths as whole numbers of cells, each with the kerf after it."""

    cell: float
    """mm."""
    exact: bool
    along: tuple[int, ...]
    """For each orientation."""
    across: tuple[int, ...]
    """For each strip width."""
    kerf: float

    def cells(self, length: float, *, up: bool = False) -> int:
        """Whole cells in a length (mm) and one kerf; rounded `up` where the grid is not exact, for a bound."""
        cells = (length + self.kerf) / self.cell
        return math.ceil(cells - ROUNDING) if up and not self.exact else math.floor(cells + ROUNDING)


def make_grid(task: Task, *, down: bool = False) -> Grid:
    """The lengths of a task on a grid; if no cell divides them they are rounded up, or `down` for a bound."""
    lengths = sorted({orientation.along for orientation in task.orientations} | set(task.widths))
    exact = next((cell for cell in CELLS if all(_divides(cell, length + task.kerf) for length in lengths)), None)
    cell = exact or ROUNDED_CELL

    def count(length: float) -> int:
        share = (length + task.kerf) / cell
        if exact:
            return round(share)
        return max(1, math.floor(share + ROUNDING)) if down else math.ceil(share - ROUNDING)

    along = tuple(count(orientation.along) for orientation in task.orientations)
    return Grid(cell, exact is not None, along, tuple(count(width) for width in task.widths), task.kerf)


def _divides(cell: float, length: float) -> bool:
    return abs(length / cell - round(length / cell)) * cell < ROUNDING


@dataclass(frozen=True, slots=True, eq=False)
class StripTable:
    """The best strips of every width and length."""

    best: Floats
    """(widths, cells): worth of the best strip."""
    taken: tuple[tuple[int, Bools], ...]
    """(orientation, for each number of cells whether the best strip has one more), in the order of the search."""
    until: tuple[int, ...]
    """For each width, how many entries of `taken` count."""
    along: tuple[int, ...]

    def strip(self, width: int, cells: int) -> Pattern:
        """The blanks of the best strip of that width."""
        counts: Counter[int] = Counter()
        for orientation, takes in reversed(self.taken[: self.until[width]]):
            if takes[cells]:
                counts[orientation] += 1
                cells -= self.along[orientation]
        return make_pattern(counts)


def strip_table(
    task: Task, grid: Grid, orientations: Sequence[int], worth: Floats, limits: Sequence[int], cells: int
) -> StripTable:
    """The best strips up to `cells` long; `worth` of a blank, and how many a strip may hold, for each orientation."""
    best = np.zeros((len(task.widths), cells + 1))
    row = np.zeros(cells + 1)
    taken: list[tuple[int, Bools]] = []
    until = []
    queue = [n for n in orientations if worth[n] > 0]
    for width_index, width in enumerate(task.widths):
        while queue and task.orientations[queue[0]].across <= width + ROUNDING:
            n = queue.pop(0)
            step = grid.along[n]
            for _ in range(min(limits[n], cells // step)):
                more = row[:-step] + worth[n]
                takes = np.zeros(cells + 1, dtype=np.bool_)
                takes[step:] = more > row[step:] + LEAST_GAIN
                if not takes.any():
                    break
                row = np.where(takes, np.concatenate([row[:step], more]), row)
                taken.append((n, takes))
        best[width_index] = row
        until.append(len(taken))
    return StripTable(best, tuple(taken), tuple(until), grid.along)


def best_stack(fmt: Format, worths: Sequence[float], left: Sequence[int], footprint: int) -> tuple[float, Stack | None]:
    """The best way to slice a blank, and its worth; `worths` of a block and how many are `left` to cut, by size."""
    best, chosen = 0.0, None
    for stack in fmt.stacks[footprint]:
        worth = sum(worths[size] * min(count, left[size]) for size, count in stack.counts)
        if worth > best + LEAST_GAIN:
            best, chosen = worth, stack
    return best, chosen
