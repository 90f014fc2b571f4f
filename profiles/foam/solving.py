"""Task -> the best layout found, and how good it is proven to be.

A plan by rule comes first, then a bound. Where these differ the solver is asked for a better plan, over every way to
cut if these are few enough, else over those that the relaxation found. Then, with what was reached held fast, it is
asked for fewer glue lines and less excess, for fewer settings of the fence, and for a larger offcut.
"""

import math
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from profiles.arrays import Floats
from profiles.foam.bound import Column, by_volume, columns_of, relax
from profiles.foam.cutting import Proof
from profiles.foam.fences import fence_rows, offcut_rows, settings_of
from profiles.foam.patterns import Task, affordable
from profiles.foam.patterns_available import Ways, every_way, found_ways
from profiles.foam.program import Question, ask, layout_of, question_of
from profiles.foam.score import Score, blanks_of, score_of
from profiles.foam.strips import Layout, by_rule, steps_of, volumes
from profiles.solver import Row

POWERS = (1.15, 0.85)
"""A block's worth is its volume to one of these: plans by rule with large blocks first, and with small ones."""

MOST_FOOTPRINTS = 150
"""With more only the rule is used."""

MOST_SUMS = 20_000
"""Most sums of board volumes that are distinguished."""

USUAL = 500
"""Numbers in a question that is searched with the whole effort; a larger one gets less, as each node takes longer."""

KNOWN_ONLY = 0.005
"""Of the effort, for a question over some ways to cut only: its answer proves nothing, and each node takes long."""

SAME_COST = 1e-6
"""Of a board; costs nearer than this are the same."""


@dataclass(slots=True)
class Best:
    """The best layout so far, and what there is to spend on a better one."""

    task: Task
    layout: Layout
    score: Score
    until: float
    """By the clock; passed only on a machine that is much too slow."""
    cut_short: bool = False

    def offer(self, layout: Layout) -> bool:
        """Take a layout if it is better."""
        score = score_of(self.task, layout)
        better = score < self.score
        if better:
            self.layout, self.score = layout, score
        return better

    @property
    def left(self) -> float:
        """Seconds."""
        return self.until - time.monotonic()


def solve(task: Task, start: Layout | None = None) -> tuple[Layout, Proof]:
    """The best layout found and what is proven of it; an empty task gives an empty layout."""
    if not task.formats or not task.sizes:
        return (), Proof(0.0, 0.0, "search")
    best = ruled(task, start)
    if len(task.footprints) > MOST_FOOTPRINTS:
        return best.layout, _proof(best, _bounded(best, [], rounds=0)[1], "by rule")
    columns = columns_of(task, best.layout)
    if best.score.lacking:
        columns = _more_given(best, columns)
    columns, least = _bounded(best, columns)
    method = "bound"
    if least < cost_of(task, best.layout) - SAME_COST:
        least, method = _fewer_boards(best, columns, least)
    if best.left > 0:
        _less_glue(best, columns)
    if best.left > 0:
        _fewer_fences(best, columns)
    return best.layout, _proof(best, least, method)


def ruled(task: Task, start: Layout | None = None) -> Best:
    """The best plan by rule; others are only tried where the first may not be the best."""
    until = time.monotonic() + task.settings.seconds
    first = _plan_by_rule(task, volumes(task)) if start is None else start
    best = Best(task, first, score_of(task, first), until)
    least = _bounded(best, [], rounds=0)[1]
    for power in POWERS:
        if not best.score.lacking and cost_of(task, best.layout) <= least + SAME_COST:
            break
        best.offer(_plan_by_rule(task, [volume**power for volume in volumes(task)]))
    return best


def _plan_by_rule(task: Task, worths: Sequence[float]) -> Layout:
    top = max(worths)
    stock = [math.inf if board.count is None else board.count for board in task.stock]
    return by_rule(task, steps_of(task), [worth / top for worth in worths], stock)[0]


def prices_of(task: Task) -> list[float]:
    """What each board costs: where some are to be bought their volume, as a share of the largest; else one a board."""
    bought = [board.volume for board in task.stock if board.count is None]
    if bought:
        return [board.volume / max(bought) if board.count is None else 0.0 for board in task.stock]
    return [0.0 if board.offcut else 1.0 for board in task.stock]


def cost_of(task: Task, layout: Layout) -> float:
    """Of all boards in a layout."""
    prices = prices_of(task)
    return sum(prices[place] for billet in layout for place in task.kinds[billet.kind].layers)


def attainable(task: Task, least: float, most: float) -> float:
    """The lowest cost that boards can have, from `least` on; `most` where there is none below."""
    counts = Counter(price for price in prices_of(task) if price > 0)
    sums = {0.0}
    for price in sorted(counts):
        for _ in range(max(0, math.ceil((most - least) / price + least / price))):
            more = {round(one + price, 9) for one in sums if one + price < most - SAME_COST} - sums
            if not more:
                break
            sums |= more
            if len(sums) > MOST_SUMS:
                return least
    return min((one for one in sums if one >= least - SAME_COST), default=most)


def _bounded(best: Best, columns: Sequence[Column], rounds: int | None = None) -> tuple[list[Column], float]:
    """The columns that a relaxation made, and the least cost that it proves."""
    task, prices, cost = best.task, prices_of(best.task), cost_of(best.task, best.layout)
    volume = by_volume(task, prices, best.score.lacking)
    if not task.whole:
        return list(columns), attainable(task, volume, cost)

    cheap = affordable(task, prices, _next_below(task, cost) + SAME_COST)

    def settled(bound: float, value: float) -> bool:
        return attainable(task, bound, cost) >= attainable(task, min(value, cost), cost) - SAME_COST

    relaxation = relax(
        cheap, prices, columns, most_lacking=best.score.lacking, settled=settled, rounds=rounds, until=best.until
    )
    best.cut_short = best.cut_short or best.left <= 0
    least = attainable(task, max(volume, relaxation.bound), cost)
    if rounds is None and least < cost - SAME_COST:
        block_volumes = volumes(task)
        worths = [
            worth / (max(relaxation.worths) or 1.0) + each / (100 * max(block_volumes))
            for worth, each in zip(relaxation.worths, block_volumes, strict=True)
        ]
        best.offer(_plan_by_rule(task, worths))
    return list(relaxation.columns), least


def _more_given(best: Best, columns: list[Column]) -> list[Column]:
    """Fewer blocks lacking, if the boards at hand give more."""
    task = best.task
    relaxation = relax(
        task, prices_of(task), columns, most_lacking=best.score.lacking - 1, settled=lambda *_: False, until=best.until
    )
    columns = list(relaxation.columns)
    question = _question(best, task, columns)
    cost = np.zeros(question.many)
    cost[question.starts[3] :] = 1.0
    row: Row = (dict.fromkeys(range(question.starts[3], question.many), 1.0), 0.0, best.score.lacking - 1.0)
    _asked(best, question, cost, [row])
    return columns_of(task, best.layout) + columns


def _question(best: Best, task: Task, columns: Sequence[Column]) -> Question:
    """Over every way to cut what the task can afford, or over those that are known where these are too many."""
    known = [column for column in (*columns_of(best.task, best.layout), *columns) if task.formats[column.form].kinds]
    ways = every_way(task, [n for n, form in enumerate(task.formats) if form.kinds], full=True) or found_ways(
        task, known
    )
    kinds = [kind for n, form in enumerate(task.formats) for kind in form.kinds if ways.strips[n]]
    return question_of(task, ways, sorted(kinds))


def _asked(
    best: Best, question: Question, cost: Floats, rows: Sequence[Row], *, gap: float = 0.0, extra: int = 0
) -> tuple[bool, float]:
    """Whether the solver came to an end, and its bound; what it found is kept if it is better."""
    share = min(1.0, (USUAL / question.many) ** 2)
    nodes = int(best.task.settings.effort * (share if question.every else min(share, KNOWN_ONLY)))
    answer = ask(question, cost, rows, effort=nodes, seconds=best.left, gap=gap, extra=extra)
    best.cut_short = best.cut_short or not answer.finished
    if answer.choice is not None:
        best.offer(layout_of(question, answer.choice))
    return answer.finished, answer.bound


def _kind_costs(question: Question, prices: Sequence[float]) -> Floats:
    cost = np.zeros(question.many)
    for n, kind in enumerate(question.kinds):
        cost[n] = sum(prices[place] for place in question.task.kinds[kind].layers)
    return cost


def _row(cost: Floats, least: float, most: float) -> Row:
    return {int(n): float(cost[n]) for n in np.flatnonzero(cost)}, least, most


def _lacking_row(best: Best, question: Question) -> Row:
    return dict.fromkeys(range(question.starts[3], question.many), 1.0), 0.0, float(best.score.lacking)


def _fewer_boards(best: Best, columns: Sequence[Column], least: float) -> tuple[float, str]:
    """A plan with fewer boards, if there is one; the least cost that is proven, and how."""
    task = best.task
    prices, most = prices_of(task), _next_below(task, cost_of(task, best.layout)) + SAME_COST
    question = _question(best, affordable(task, prices, most), columns)
    cost = _kind_costs(question, prices)
    rows = [_lacking_row(best, question), _row(cost, least - SAME_COST, most)]
    finished, bound = _asked(best, question, cost, rows)
    if not (question.every and task.whole):
        return least, "bound"
    now = cost_of(task, best.layout)
    proven = now if finished else attainable(task, max(least, min(bound, now)), now)
    return proven, "search"


def _next_below(task: Task, cost: float) -> float:
    """A cost under which any better plan stays."""
    if any(board.count is None for board in task.stock):
        return cost - 10 * SAME_COST
    return cost - 1.0


NO_FINER = 1e-6
"""Of the cost where a board counts 1000: less than 1 % of all blocks' volume in excess is not searched for long."""


def _less_glue(best: Best, columns: Sequence[Column]) -> None:
    """With the cost reached: fewest boards at hand, then glue lines, then least excess, then fewest offcuts."""
    score, task = best.score, best.task
    if score.glue_lines == 0 and score.excess == 0 and score.offcuts == 0 and not score.bought:
        return
    prices, most = prices_of(task), cost_of(task, best.layout) + SAME_COST
    question = _question(best, affordable(task, prices, most), columns)
    boards = [0.0 if board.offcut or board.count is None else 1.0 for board in task.stock]
    offcuts = [1.0 if board.offcut else 0.0 for board in task.stock]
    glue = np.zeros(question.many)
    for n, kind in enumerate(question.kinds):
        glue[n] = task.kinds[kind].glue_lines
    deepest = max(kind.thickness for kind in task.kinds)
    scale = 4.0 * sum(
        deepest * volume / size.thickness * len(size.blocks)
        for size, volume in zip(task.sizes, volumes(task), strict=True)
    )
    if score.glue_lines == 0 and not question.every:
        return
    excess = np.zeros(question.many)
    for n, (_, footprint, stack) in enumerate(question.stacks, start=question.starts[2]):
        height, width = task.footprints[footprint]
        excess[n] = stack.taken * height * width
    cost = 1000.0 * _kind_costs(question, boards) + glue + excess / scale + 1e-3 * _kind_costs(question, offcuts)
    price = _kind_costs(question, prices)
    _asked(best, question, cost, [_lacking_row(best, question), _row(price, 0.0, most)], gap=NO_FINER)


def _fewer_fences(best: Best, columns: Sequence[Column]) -> None:
    """With the billets reached: fewest settings of the fence, then the narrower strips, then the largest offcut.

    Where there are too many ways for all, nearly every block has settings of its own, so only the offcut is asked for.
    """
    task = best.task
    used = Counter(billet.kind for billet in best.layout)
    forms = [n for n, form in enumerate(task.formats) if any(kind in used for kind in form.kinds)]
    ways = every_way(task, forms, full=False) or every_way(task, forms, full=True)
    own = columns_of(task, best.layout)
    ways = _with(ways or found_ways(task, [*own, *columns], forms), own)
    question = question_of(task, ways, sorted(used))
    held = [_lacking_row(best, question)]
    held += [({n: 1.0}, float(used[kind]), float(used[kind])) for n, kind in enumerate(question.kinds)]
    excess = np.zeros(question.many)
    for n, (_, footprint, stack) in enumerate(question.stacks, start=question.starts[2]):
        height, width = task.footprints[footprint]
        excess[n] = stack.taken * height * width / 1e6
    held.append(_row(excess, 0.0, blanks_of(task, best.layout) / 1e6 + SAME_COST))
    settings = settings_of(question)
    cost, rows = fence_rows(question, settings)
    if ways.every:
        _asked(best, question, cost, [*held, *rows], extra=len(settings))
    if best.left > 0:
        cost, rows, extra = offcut_rows(question, settings, best.layout)
        if extra:
            _asked(best, question, cost, [*held, *rows], extra=extra)


def _with(ways: Ways, columns: Iterable[Column]) -> Ways:
    """The ways and those of a layout, so that this can be said too."""
    strips, across = [list(one) for one in ways.strips], [list(one) for one in ways.across]
    for column in columns:
        widths: Counter[int] = Counter()
        for strip, many in column.strips:
            widths[strip.width] += many
            if strip not in strips[column.form]:
                strips[column.form].append(strip)
        pattern = tuple(sorted(widths.items()))
        if pattern not in across[column.form]:
            across[column.form].append(pattern)
    return Ways(tuple(map(tuple, strips)), tuple(map(tuple, across)), every=ways.every)


def _proof(best: Best, least: float, method: str) -> Proof:
    task = best.task
    bought = [board.volume for board in task.stock if board.count is None]
    unit = max(bought) if bought else 1.0
    found = cost_of(task, best.layout)
    return Proof(found * unit, min(least, found) * unit, method, best.cut_short)
