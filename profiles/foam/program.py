"""The whole-number program of a plan: which patterns are used how often, so that a cost is least.

The whole numbers count: billets of each kind, billets of each format cut into strips by each billet pattern, strips cut
into blanks by each strip pattern, blanks sliced by each stack, and missing blocks. Strips of the same format and width
are interchangeable, and so are blanks of the same format and footprint, so the program need not say which strip or
blank comes from which piece.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Sequence

import numpy as np

from profiles.arrays import Floats
from profiles.foam.layers import ROUNDING
from profiles.foam.layouts import Blank, Layout, PlannedBillet, PlannedStrip, make_strip
from profiles.foam.patterns import PatternSet, StripPattern
from profiles.foam.task import Pattern, Stack, Task
from profiles.solver import Row
from profiles.values import dataclass


@dataclass(frozen=True, slots=True, eq=False)
class Program:
    """What may be chosen, and the rows that a choice must keep. A choice is (n,) whole numbers, in this order."""

    task: Task
    kinds: tuple[int, ...]
    billets: tuple[tuple[int, Pattern], ...]
    """(format, billet pattern)."""
    strips: tuple[tuple[int, StripPattern], ...]
    """(format, strip pattern)."""
    stacks: tuple[tuple[int, int, Stack], ...]
    """(format, footprint, how a blank is sliced)."""
    limits: Floats
    """(n,) largest number of each; the last are the missing blocks of each size."""
    complete: bool
    """True if no plan needs another pattern."""

    @property
    def size(self) -> int:
        """Length of a choice."""
        return len(self.limits)

    @property
    def starts(self) -> tuple[int, int, int, int]:
        """Where billet patterns, strip patterns, stacks and missing blocks begin in a choice."""
        billets = len(self.kinds)
        strips = billets + len(self.billets)
        stacks = strips + len(self.strips)
        return billets, strips, stacks, stacks + len(self.stacks)

    def rows(self) -> list[Row]:
        """No more is used than there is, and every block is cut or missing."""
        return [*self._stock_rows(), *self._cutting_rows(), *self._demand_rows()]

    def _stock_rows(self) -> list[Row]:
        rows: list[Row] = []
        for n, board in enumerate(self.task.stock):
            layers = [self.task.kinds[kind].uses.count(n) for kind in self.kinds]
            use = {k: float(count) for k, count in enumerate(layers) if count}
            if use and board.count is not None:
                rows.append((use, -math.inf, float(board.count)))
        return rows

    def _cutting_rows(self) -> list[Row]:
        """Billets of each format, strips of each width and blanks of each footprint: as many made as are cut up."""
        task = self.task
        at_billets, at_strips, at_stacks, _ = self.starts
        billets: dict[int, dict[int, float]] = defaultdict(dict)
        strips: dict[tuple[int, int], dict[int, float]] = defaultdict(dict)
        blanks: dict[tuple[int, int], dict[int, float]] = defaultdict(dict)
        for n, kind in enumerate(self.kinds):
            billets[task.format_of[kind]][n] = 1.0
        for n, (fmt, pattern) in enumerate(self.billets, start=at_billets):
            billets[fmt][n] = -1.0
            for width, count in pattern:
                strips[fmt, width][n] = float(count)
        for n, (fmt, strip) in enumerate(self.strips, start=at_strips):
            strips[fmt, strip.width][n] = -1.0
            for orientation, count in strip.blanks:
                row = blanks[fmt, task.orientations[orientation].footprint]
                row[n] = row.get(n, 0.0) + float(count)
        for n, (fmt, footprint, _) in enumerate(self.stacks, start=at_stacks):
            blanks[fmt, footprint][n] = -1.0
        made = [*(billets[n] for n in sorted(billets)), *strips.values(), *blanks.values()]
        return [(row, 0.0, math.inf) for row in made]

    def _demand_rows(self) -> list[Row]:
        *_, at_stacks, at_missing = self.starts
        rows: list[dict[int, float]] = [{at_missing + n: 1.0} for n in range(len(self.task.sizes))]
        for n, (_, _, stack) in enumerate(self.stacks, start=at_stacks):
            for size, count in stack.counts:
                rows[size][n] = float(count)
        return [(row, float(count), math.inf) for row, count in zip(rows, self.task.demand, strict=True)]


def make_program(task: Task, patterns: PatternSet, kinds: Sequence[int]) -> Program:
    """The program over some patterns and some kinds of billets."""
    formats = [n for n, fmt in enumerate(task.formats) if set(fmt.kinds) & set(kinds)]
    billets = tuple((n, pattern) for n in formats for pattern in patterns.billets[n])
    strips = tuple((n, strip) for n in formats for strip in patterns.strips[n])
    stacks = tuple(
        (n, footprint, stack)
        for n in formats
        for footprint, stacks in enumerate(task.formats[n].stacks)
        for stack in stacks
    )
    blocks = float(sum(task.demand))
    limits = np.full(len(kinds) + len(billets) + len(strips) + len(stacks) + len(task.sizes), blocks)
    for n, kind in enumerate(kinds):
        layers = Counter(task.kinds[kind].uses)
        counts = [(task.stock[board].count, count) for board, count in layers.items()]
        limits[n] = min([blocks, *(have // need for have, need in counts if have is not None)])
    limits[len(limits) - len(task.sizes) :] = task.demand
    return Program(task, tuple(kinds), billets, strips, stacks, limits, patterns.complete)


def layout_of(program: Program, choice: Floats) -> Layout:
    """The billets of a choice; blanks, strips and billets that nothing is cut from are left out."""
    task = program.task
    at_billets, at_strips, at_stacks, at_missing = program.starts
    counts = choice.astype(int).tolist()
    stacks: dict[tuple[int, int], list[Stack]] = defaultdict(list)
    for (fmt, footprint, stack), count in zip(program.stacks, counts[at_stacks:at_missing], strict=True):
        stacks[fmt, footprint] += [stack] * count
    chosen = [
        entry for entry, count in zip(program.strips, counts[at_strips:at_stacks], strict=True) for _ in range(count)
    ]
    chosen.sort(
        key=lambda entry: (entry[0], -sum(count for _, count in entry[1].blanks), entry[1].width, entry[1].blanks)
    )
    wanted = list(task.demand)
    strips: dict[int, list[PlannedStrip]] = defaultdict(list)
    for fmt, strip in chosen:
        blanks: list[Blank] = []
        for orientation, count in strip.blanks:
            blanks += _make_blanks(orientation, count, stacks[fmt, task.orientations[orientation].footprint], wanted)
        if blanks:
            strips[fmt].append(make_strip(task, blanks))
    kinds: dict[int, list[int]] = defaultdict(list)
    for kind, count in zip(program.kinds, counts[:at_billets], strict=True):
        kinds[task.format_of[kind]] += [kind] * count
    patterns: dict[int, list[Pattern]] = defaultdict(list)
    for (fmt, pattern), count in zip(program.billets, counts[at_billets:at_strips], strict=True):
        patterns[fmt] += [pattern] * count
    return tuple(
        billet for fmt in sorted(strips) for billet in _make_billets(task, kinds[fmt], patterns[fmt], strips[fmt])
    )


def _make_blanks(orientation: int, most: int, stacks: list[Stack], wanted: list[int]) -> list[Blank]:
    """At most so many blanks with blocks that are still wanted; takes them off both lists."""
    blanks: list[Blank] = []
    while stacks and len(blanks) < most:
        sizes = []
        for size in stacks.pop(0).sizes:
            if wanted[size]:
                wanted[size] -= 1
                sizes.append(size)
        if sizes:
            blanks.append(Blank(orientation, tuple(sizes)))
    return blanks


def _make_billets(
    task: Task, kinds: Sequence[int], patterns: Sequence[Pattern], strips: Sequence[PlannedStrip]
) -> list[PlannedBillet]:
    """The strips put into billets, each at a place at least as wide as it is, the fullest billets first."""
    fullest = sorted(
        patterns, key=lambda pattern: (-sum((task.widths[n] + task.kerf) * k for n, k in pattern), pattern)
    )
    waiting = sorted(strips, key=lambda strip: -strip.width)
    billets = []
    for kind, pattern in zip(kinds, fullest, strict=False):
        placed = []
        for width in sorted((task.widths[n] for n, count in pattern for _ in range(count)), reverse=True):
            n = next((n for n, strip in enumerate(waiting) if strip.width <= width + ROUNDING), None)
            if n is not None:
                placed.append(waiting.pop(n))
        if placed:
            billets.append(PlannedBillet(kind, tuple(placed)))
    return billets
