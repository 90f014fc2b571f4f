"""One question to the solver: which ways to cut are taken how often, so that a cost is least.

Whole numbers of: billets of each kind, billets of each format cut into strips in each way, strips cut into blanks in
each way, blanks sliced in each way, blocks that are lacking. Strips of one format and width are alike, and so are
blanks of one format and footprint, so it need not be said which comes out of which.
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from profiles.arrays import Floats
from profiles.foam.bound import Strip
from profiles.foam.layers import FIT
from profiles.foam.patterns import Pattern, Stack, Task
from profiles.foam.patterns_available import Ways
from profiles.foam.strips import Blank, Layout, PlannedBillet, PlannedStrip
from profiles.solver import Answer, Row, cheapest


@dataclass(frozen=True, slots=True, eq=False)
class Question:
    """What may be chosen, and what a choice must keep. A choice is (n,) whole numbers, in the order of the parts."""

    task: Task
    kinds: tuple[int, ...]
    across: tuple[tuple[int, Pattern], ...]
    """(format, strips side by side)."""
    strips: tuple[tuple[int, Strip], ...]
    stacks: tuple[tuple[int, int, Stack], ...]
    """(format, footprint, how a blank is sliced)."""
    rows: tuple[tuple[dict[int, float], float, float], ...]
    """({place in the choice: factor}, least, most)."""
    most: Floats
    """(n,) of each."""
    every: bool
    """True: no plan needs a way to cut that is not in it."""

    @property
    def many(self) -> int:
        """Length of a choice."""
        return len(self.most)

    @property
    def starts(self) -> tuple[int, int, int, int]:
        """Where strips side by side, strips, stacks and lacking blocks begin."""
        first = len(self.kinds)
        second = first + len(self.across)
        third = second + len(self.strips)
        return first, second, third, third + len(self.stacks)


def question_of(task: Task, ways: Ways, kinds: Sequence[int]) -> Question:
    """The question over some ways to cut and some kinds of billets."""
    forms = [n for n, form in enumerate(task.formats) if set(form.kinds) & set(kinds)]
    across = [(n, pattern) for n in forms for pattern in ways.across[n]]
    strips = [(n, strip) for n in forms for strip in ways.strips[n]]
    stacks = [
        (n, footprint, stack)
        for n in forms
        for footprint, several in enumerate(task.formats[n].stacks)
        for stack in several
    ]
    blocks = sum(len(size.blocks) for size in task.sizes)
    most = np.full(len(kinds) + len(across) + len(strips) + len(stacks) + len(task.sizes), float(blocks))
    for n, kind in enumerate(kinds):
        counts = Counter(task.kinds[kind].layers)
        limits = [(task.stock[place].count, many) for place, many in counts.items()]
        most[n] = min([blocks, *(count // many for count, many in limits if count is not None)])
    question = Question(task, tuple(kinds), tuple(across), tuple(strips), tuple(stacks), (), most, ways.every)
    most[question.starts[3] :] = [len(size.blocks) for size in task.sizes]
    rows = [*_stock_rows(question), *_cutting_rows(question, forms), *_demand_rows(question)]
    return Question(task, tuple(kinds), tuple(across), tuple(strips), tuple(stacks), tuple(rows), most, ways.every)


def _stock_rows(question: Question) -> list[Row]:
    rows: list[Row] = []
    for place, board in enumerate(question.task.stock):
        use = {
            n: float(question.task.kinds[kind].layers.count(place))
            for n, kind in enumerate(question.kinds)
            if place in question.task.kinds[kind].layers
        }
        if use and board.count is not None:
            rows.append((use, -math.inf, float(board.count)))
    return rows


def _cutting_rows(question: Question, forms: Sequence[int]) -> list[Row]:
    """No more is cut than there is: billets, strips of each width, blanks of each footprint."""
    task = question.task
    at_across, at_strips, at_stacks, _ = question.starts
    billets: dict[int, dict[int, float]] = {n: {} for n in forms}
    widths: dict[tuple[int, int], dict[int, float]] = {}
    blanks: dict[tuple[int, int], dict[int, float]] = {}
    for n, kind in enumerate(question.kinds):
        billets[next(form for form in forms if kind in task.formats[form].kinds)][n] = 1.0
    for n, (form, pattern) in enumerate(question.across, start=at_across):
        billets[form][n] = -1.0
        for width, many in pattern:
            widths.setdefault((form, width), {})[n] = float(many)
    for n, (form, strip) in enumerate(question.strips, start=at_strips):
        widths.setdefault((form, strip.width), {})[n] = -1.0
        for footprint, many in Counter(_footprints(task, strip)).items():
            blanks.setdefault((form, footprint), {})[n] = float(many)
    for n, (form, footprint, _) in enumerate(question.stacks, start=at_stacks):
        blanks.setdefault((form, footprint), {})[n] = -1.0
    return [(row, 0.0, math.inf) for group in (billets, widths, blanks) for row in group.values()]


def _footprints(task: Task, strip: Strip) -> list[int]:
    return [task.lays[lay].footprint for lay, many in strip.lays for _ in range(many)]


def _demand_rows(question: Question) -> list[Row]:
    *_, at_stacks, at_lacking = question.starts
    rows: list[dict[int, float]] = [{at_lacking + n: 1.0} for n in range(len(question.task.sizes))]
    for n, (_, _, stack) in enumerate(question.stacks, start=at_stacks):
        for size, many in stack.counts:
            rows[size][n] = float(many)
    wanted = [float(len(size.blocks)) for size in question.task.sizes]
    return [(row, many, math.inf) for row, many in zip(rows, wanted, strict=True)]


def ask(
    question: Question,
    cost: Floats,
    rows: Sequence[Row],
    *,
    effort: int,
    seconds: float,
    gap: float = 0.0,
    extra: int = 0,
) -> Answer:
    """The cheapest choice that also keeps `rows`; with `extra` yes-or-no numbers after the choice."""
    answer = cheapest(
        cost,
        [*question.rows, *rows],
        np.concatenate([question.most, np.ones(extra)]),
        whole=True,
        nodes=max(1, effort),
        seconds=max(0.01, seconds),
        gap=gap,
    )
    return replace(answer, choice=None if answer.choice is None else np.round(answer.choice))


def layout_of(question: Question, choice: Floats) -> Layout:
    """The billets of a choice; blanks, strips and billets that are cut but not wanted are left whole."""
    task = question.task
    at_across, at_strips, at_stacks, at_lacking = question.starts
    counts = choice.astype(int).tolist()
    stacks: dict[tuple[int, int], list[tuple[int, ...]]] = {}
    for (form, footprint, stack), many in zip(question.stacks, counts[at_stacks:at_lacking], strict=True):
        stacks.setdefault((form, footprint), []).extend([stack.sizes] * many)
    strips: dict[int, list[PlannedStrip]] = {}
    chosen = [one for one, many in zip(question.strips, counts[at_strips:at_stacks], strict=True) for _ in range(many)]
    wanted = [len(size.blocks) for size in task.sizes]
    for form, strip in sorted(
        chosen, key=lambda one: (one[0], -len(_footprints(task, one[1])), one[1].width, one[1].lays)
    ):
        blanks = []
        for lay, many in strip.lays:
            blanks += _given(lay, many, stacks.get((form, task.lays[lay].footprint), []), wanted)
        if blanks:
            strips.setdefault(form, []).append(
                PlannedStrip(max(task.lays[blank.lay].across for blank in blanks), tuple(blanks))
            )
    kinds: dict[int, list[int]] = {}
    for kind, many in zip(question.kinds, counts[:at_across], strict=True):
        form = next(n for n, one in enumerate(task.formats) if kind in one.kinds)
        kinds.setdefault(form, []).extend([kind] * many)
    patterns: dict[int, list[Pattern]] = {}
    for (form, pattern), many in zip(question.across, counts[at_across:at_strips], strict=True):
        patterns.setdefault(form, []).extend([pattern] * many)
    layout: list[PlannedBillet] = []
    for form, own in sorted(strips.items()):
        layout += _billets(task, kinds.get(form, []), patterns.get(form, []), own)
    return tuple(layout)


def _given(lay: int, many: int, stacks: list[tuple[int, ...]], wanted: list[int]) -> list[Blank]:
    """Up to so many blanks with blocks that are still wanted."""
    blanks: list[Blank] = []
    while stacks and len(blanks) < many:
        sizes = []
        for size in stacks.pop(0):
            if wanted[size]:
                wanted[size] -= 1
                sizes.append(size)
        if sizes:
            blanks.append(Blank(lay, tuple(sizes)))
    return blanks


def _billets(
    task: Task, kinds: Sequence[int], patterns: Sequence[Pattern], strips: Sequence[PlannedStrip]
) -> list[PlannedBillet]:
    """Strips put where a strip of at least their width was planned, the fullest billets first."""
    filled = sorted(patterns, key=lambda one: (-sum((task.widths[n] + task.kerf) * many for n, many in one), one))
    waiting = sorted(strips, key=lambda one: -one.width)
    billets = []
    for kind, pattern in zip(kinds, filled, strict=False):
        own = []
        places = sorted((task.widths[n] for n, many in pattern for _ in range(many)), reverse=True)
        for width in places:
            n = next((n for n, strip in enumerate(waiting) if strip.width <= width + FIT), None)
            if n is not None:
                own.append(waiting.pop(n))
        if own:
            billets.append(PlannedBillet(kind, tuple(own)))
    return billets
