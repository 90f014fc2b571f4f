"""Task -> the best layout, and how good it is proven to be.

A plan by rule comes first, then a bound. If these differ, the solver looks for a better plan, over all patterns if
there are few enough, else over those of the relaxation. With that cost held fixed it then looks for fewer boards at
hand, glue lines and slices, for fewer fence settings, and for a larger offcut.
"""

import math
import time
from collections import Counter
from collections.abc import Sequence

import numpy as np

from profiles.arrays import Floats
from profiles.foam.bound import relax, volume_bound
from profiles.foam.cutting import Proof
from profiles.foam.fences import fence_places, fence_rows, offcut_rows, slice_sizes
from profiles.foam.greedy import greedy_layout
from profiles.foam.layouts import Layout, blank_volume, columns_of, layout_cost
from profiles.foam.patterns import Column, all_patterns, patterns_of
from profiles.foam.program import Program, layout_of, make_program
from profiles.foam.score import Score, score
from profiles.foam.task import Task
from profiles.solver import Row, solve_program
from profiles.values import dataclass

POWERS = (1.0, 1.15, 0.85)
"""A block is worth its volume to the power of one of these, so plans by rule favour large blocks or small ones."""

MAX_FOOTPRINTS = 150
"""With more footprints, plans are made only by rule."""

MAX_SUMS = 20_000
"""Largest number of sums of board prices to tell apart."""

FULL_EFFORT_SIZE = 500
"""Numbers in a program that is searched with the whole effort; a larger one gets less, as each node takes longer."""

INCOMPLETE_EFFORT = 0.005
"""Share of the effort for a program without all patterns: its answer proves nothing, and each node takes long."""

SAME_COST = 1e-6
"""Of a board; costs closer than this are the same."""

EXCESS_SHARE = 1e-3
"""What the volume of all blanks counts beside one fence setting."""

OFFCUT_GAP = 1e-6
"""Gap at which the search for fewer glue lines and slices ends: far less than one of them."""


@dataclass(slots=True)
class Best:
    """The best layout so far, and the time that is left to improve it."""

    task: Task
    layout: Layout
    score: Score
    until: float
    """Monotonic clock, s; reached only on a machine that is much too slow."""
    cut_short: bool = False
    most_work: tuple[int, int] | None = None
    """Glue lines and slices that no plan may exceed, not even a cheaper one."""

    def offer(self, layout: Layout) -> None:
        """Take a layout if it is better."""
        offered = score(self.task, layout)
        if self.most_work is not None and (offered.glue_lines, offered.slices) > self.most_work:
            return
        if offered < self.score:
            self.layout, self.score = layout, offered

    @property
    def cost(self) -> float:
        """Cost of the boards of the layout."""
        return layout_cost(self.task, self.layout)

    @property
    def seconds_left(self) -> float:
        """Time that is left, s."""
        return self.until - time.monotonic()

    def run(
        self, program: Program, cost: Floats, rows: Sequence[Row], *, gap: float = 0.0, extra: int = 0
    ) -> tuple[bool, float]:
        """Search a program and take its layout if it is better; whether the search was finished, and its bound.

        `rows` are added to those of the program, and `extra` yes-or-no numbers to its choice.
        """
        share = min(1.0, (FULL_EFFORT_SIZE / program.size) ** 2)
        nodes = int(self.task.settings.effort * (share if program.complete else min(share, INCOMPLETE_EFFORT)))
        answer = solve_program(
            cost,
            [*program.rows(), *rows],
            np.concatenate([program.limits, np.ones(extra)]),
            whole=True,
            nodes=max(1, nodes),
            seconds=max(0.01, self.seconds_left),
            gap=gap,
        )
        self.cut_short = self.cut_short or not answer.finished
        if answer.choice is not None:
            self.offer(layout_of(program, answer.choice))
        return answer.finished, answer.bound


def solve(task: Task, start: Layout | None = None) -> tuple[Layout, Proof]:
    """The best layout and what is proven of it, from a plan by rule or from `start`; without formats there is none."""
    if not task.formats or not any(task.demand):
        return (), Proof(0.0, 0.0, "search")
    best = plan_by_rule(task, start)
    if len(task.footprints) > MAX_FOOTPRINTS:
        return best.layout, _proof(best, _relax(best, [], rounds=0)[1], "by rule")
    columns = columns_of(task, best.layout)
    if best.score.missing:
        columns = _reduce_missing(best, columns)
    columns, bound = _relax(best, columns)
    method = "bound"
    if bound < best.cost - SAME_COST:
        bound, method = _reduce_cost(best, columns, bound)
    _reduce_work(best, columns)
    return best.layout, _proof(best, bound, method)


def improve(task: Task, layout: Layout) -> tuple[Layout, Proof]:
    """A layout with fewer glue lines, slices and fence settings at the same cost, and what is proven of its cost."""
    best = Best(task, layout, score(task, layout), time.monotonic() + task.settings.seconds)
    best.most_work = (best.score.glue_lines, best.score.slices)
    if len(task.footprints) > MAX_FOOTPRINTS:
        return best.layout, _proof(best, _relax(best, [], rounds=0)[1], "by rule")
    columns, bound = _relax(best, columns_of(task, layout))
    _reduce_work(best, columns)
    return best.layout, _proof(best, bound, "bound")


def _reduce_work(best: Best, columns: Sequence[Column]) -> None:
    """At the same cost: fewest boards at hand, glue lines and slices, then fence settings, then the largest offcut."""
    if best.seconds_left > 0:
        _reduce_taken(best, columns)
    if best.seconds_left > 0:
        _reduce_glue(best, columns)
    if best.seconds_left > 0:
        _reduce_fences(best, columns)


def plan_by_rule(task: Task, start: Layout | None = None) -> Best:
    """The best plan by rule, or `start`; more plans are tried only if the first may not be the best."""
    until = time.monotonic() + task.settings.seconds
    first = greedy_layout(task, task.block_volumes)[0] if start is None else start
    best = Best(task, first, score(task, first), until)
    bound = _relax(best, [], rounds=0)[1]
    for power in POWERS[1:]:
        if not best.score.missing and best.cost <= bound + SAME_COST:
            break
        best.offer(greedy_layout(task, [volume**power for volume in task.block_volumes])[0])
    return best


def _attainable_cost(task: Task, low: float, high: float) -> float:
    """The lowest cost that boards can have, from `low` on; `high` if there is none below it."""
    sums = {0.0}
    for price in sorted({price for price in task.prices if price > 0}):
        added = set(sums)
        while added:
            added = {round(cost + price, 9) for cost in added if cost + price < high - SAME_COST} - sums
            sums |= added
            if len(sums) > MAX_SUMS:
                return low
    return min((cost for cost in sums if cost >= low - SAME_COST), default=high)


def _budget(cost: float) -> float:
    """The most that a plan which is cheaper than this can cost."""
    return cost - 9 * SAME_COST


def _relax(best: Best, columns: Sequence[Column], rounds: int | None = None) -> tuple[list[Column], float]:
    """The columns of the relaxation, and the least cost that it proves; offers a plan by rule with its prices."""
    task, cost = best.task, best.cost
    by_volume = volume_bound(task, best.score.missing)
    if not task.complete:
        return list(columns), _attainable_cost(task, by_volume, cost)

    def settled(bound: float, value: float) -> bool:
        return _attainable_cost(task, bound, cost) >= _attainable_cost(task, min(value, cost), cost) - SAME_COST

    relaxation = relax(
        task.within_budget(_budget(cost)),
        columns,
        max_missing=best.score.missing,
        settled=settled,
        rounds=rounds,
        until=best.until,
    )
    best.cut_short = best.cut_short or best.seconds_left <= 0
    bound = _attainable_cost(task, max(by_volume, relaxation.bound), cost)
    if rounds is None and bound < cost - SAME_COST:
        highest, largest = max(relaxation.worths) or 1.0, max(task.block_volumes)
        worths = [
            worth / highest + volume / (100 * largest)
            for worth, volume in zip(relaxation.worths, task.block_volumes, strict=True)
        ]
        best.offer(greedy_layout(task, worths)[0])
    return list(relaxation.columns), bound


def _make_program(best: Best, task: Task, columns: Sequence[Column]) -> Program:
    """Over all full patterns of the billets within the task's budget, or over those of columns if they are too many."""
    formats = [n for n, fmt in enumerate(task.formats) if fmt.kinds]
    patterns = all_patterns(task, formats, full=True)
    if patterns is None:
        columns = (*columns_of(best.task, best.layout), *columns)
        patterns = patterns_of(task, [column for column in columns if column.format in formats])
    kinds = [kind for n in formats for kind in task.formats[n].kinds if patterns.strips[n]]
    return make_program(task, patterns, sorted(kinds))


def _kind_costs(program: Program, prices: Sequence[float] | None = None) -> Floats:
    cost = np.zeros(program.size)
    cost[: len(program.kinds)] = [program.task.kind_cost(kind, prices) for kind in program.kinds]
    return cost


def _blank_volumes(program: Program) -> Floats:
    """Volume of foam that each stack uses up, mm3; 0 for everything else."""
    volumes = np.zeros(program.size)
    for n, (_, footprint, stack) in enumerate(program.stacks, start=program.starts[2]):
        height, width = program.task.footprints[footprint]
        volumes[n] = stack.thickness * height * width
    return volumes


def _row(factors: Floats, low: float, high: float) -> Row:
    return {int(n): float(factors[n]) for n in np.flatnonzero(factors)}, low, high


def _missing_row(program: Program, most: int) -> Row:
    return dict.fromkeys(range(program.starts[3], program.size), 1.0), 0.0, float(most)


def _reduce_missing(best: Best, columns: list[Column]) -> list[Column]:
    """Look for a plan with fewer missing blocks; more columns."""
    task, fewer = best.task, best.score.missing - 1
    relaxation = relax(task, columns, max_missing=fewer, settled=lambda *_: False, until=best.until)
    columns = list(relaxation.columns)
    program = _make_program(best, task, columns)
    cost = np.zeros(program.size)
    cost[program.starts[3] :] = 1.0
    best.run(program, cost, [_missing_row(program, fewer)])
    return columns_of(task, best.layout) + columns


def _reduce_cost(best: Best, columns: Sequence[Column], bound: float) -> tuple[float, str]:
    """Look for a cheaper plan; the least cost that is proven, and how."""
    task, budget = best.task, _budget(best.cost)
    program = _make_program(best, task.within_budget(budget), columns)
    cost = _kind_costs(program)
    rows = [_missing_row(program, best.score.missing), _row(cost, bound - SAME_COST, budget)]
    finished, proven = best.run(program, cost, rows)
    if not (program.complete and task.complete):
        return bound, "bound"
    now = best.cost
    return now if finished else _attainable_cost(task, max(bound, min(proven, now)), now), "search"


def _reduce_taken(best: Best, columns: Sequence[Column]) -> None:
    """At the same cost of boards to be bought: the fewest boards at hand."""
    task, figures = best.task, best.score
    if not figures.taken or not figures.bought:
        return  # nothing is bought: the cost is that of the boards at hand
    program = _make_program(best, task.within_budget(best.cost + SAME_COST), columns)
    rows = [_missing_row(program, figures.missing), _row(_kind_costs(program), 0.0, best.cost + SAME_COST)]
    best.run(program, _kind_costs(program, task.taken_prices), rows)


def _reduce_glue(best: Best, columns: Sequence[Column]) -> None:
    """At the same cost: fewest glue lines, then fewest slices, then most out of offcuts."""
    task, figures = best.task, best.score
    offcuts = any(board.offcut for board in task.stock)
    if not figures.glue_lines and figures.slices <= _least_slices(task) and not (offcuts and figures.from_boards):
        return
    budget = best.cost + SAME_COST
    program = _make_program(best, task.within_budget(budget), columns)
    if not (figures.glue_lines or program.complete):
        return
    blocks = sum(task.demand)
    glue = np.zeros(program.size)
    glue[: len(program.kinds)] = [task.kinds[kind].glue_lines for kind in program.kinds]
    cost = 2.0 * (blocks + 1) * glue + 2.0 * _slice_counts(program)
    cost += _board_volumes(program) / sum(volume * n for volume, n in zip(task.block_volumes, task.demand, strict=True))
    rows = [_missing_row(program, figures.missing), _row(_kind_costs(program), 0.0, budget)]
    if figures.bought:
        rows.append(_row(_kind_costs(program, task.taken_prices), 0.0, figures.taken + SAME_COST))
    best.run(program, cost, rows, gap=OFFCUT_GAP)


def _least_slices(task: Task) -> int:
    """Slices that any plan needs at least, by the best stack for each block."""
    least = [math.inf] * len(task.sizes)
    for n, fmt in enumerate(task.formats):
        for stack in (stack for stacks in fmt.stacks for stack in stacks):
            share = len(slice_sizes(task, n, stack.sizes)) / len(stack.sizes)
            for size, _ in stack.counts:
                least[size] = min(least[size], share)
    return math.ceil(sum(n * share for n, share in zip(task.demand, least, strict=True) if n) - SAME_COST)


def _slice_counts(program: Program) -> Floats:
    """How many slices each stack takes; 0 for everything else."""
    counts = np.zeros(program.size)
    for n, (fmt, _, stack) in enumerate(program.stacks, start=program.starts[2]):
        counts[n] = len(slice_sizes(program.task, fmt, stack.sizes))
    return counts


def _board_volumes(program: Program) -> Floats:
    """Volume of the blocks of each stack that does not come out of offcuts, mm3; 0 for everything else."""
    task = program.task
    volumes = np.zeros(program.size)
    for n, (fmt, _, stack) in enumerate(program.stacks, start=program.starts[2]):
        if not all(task.stock[board].offcut for board in task.kinds[task.formats[fmt].kinds[0]].uses):
            volumes[n] = sum(task.block_volumes[size] for size in stack.sizes)
    return volumes


def _reduce_fences(best: Best, columns: Sequence[Column]) -> None:
    """With the same billets: fewest fence settings, then the narrower strips, then the largest offcut.

    If there are too many patterns for all of them, nearly every block has its own settings anyway, so only the offcut
    is searched for.
    """
    task = best.task
    used = Counter(billet.kind for billet in best.layout)
    formats = sorted({task.format_of[kind] for kind in used})
    current = columns_of(task, best.layout)
    patterns = (
        all_patterns(task, formats, full=False)
        or all_patterns(task, formats, full=True)
        or patterns_of(task, [*current, *columns], formats)
    ).with_columns(current)
    program = make_program(task, patterns, sorted(used))
    fixed = [_missing_row(program, best.score.missing)]
    fixed += [({n: 1.0}, float(used[kind]), float(used[kind])) for n, kind in enumerate(program.kinds)]
    fixed.append(_row(_slice_counts(program), 0.0, float(best.score.slices)))
    fixed.append(_row(_board_volumes(program) / 1e6, 0.0, best.score.from_boards / 1e6 + SAME_COST))
    places = fence_places(program)
    if program.complete:
        cost, rows = fence_rows(program, places)
        volumes = _blank_volumes(program)
        cost[: program.size] += EXCESS_SHARE * volumes / max(1.0, blank_volume(task, best.layout))
        best.run(program, cost, [*fixed, *rows], extra=len(places))
    if best.seconds_left > 0:
        cost, rows, extra = offcut_rows(program, places, best.layout)
        if extra:
            best.run(program, cost, [*fixed, *rows], extra=extra)


def _proof(best: Best, bound: float, method: str) -> Proof:
    unit = best.task.price_unit
    return Proof(best.cost * unit, min(bound, best.cost) * unit, method, best.cut_short)
