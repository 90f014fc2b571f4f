"""Questions about settings of the fence and about the largest offcut, with the billets already chosen."""

from collections import Counter
from collections.abc import Sequence

import numpy as np

from profiles.arrays import Floats
from profiles.foam.cutting import Stage
from profiles.foam.layers import FIT
from profiles.foam.patterns import Task
from profiles.foam.program import Question
from profiles.foam.strips import Layout
from profiles.solver import Row

Setting = tuple[int, float]
"""(stage by its place, fence in mm)."""

Settings = dict[Setting, list[int]]
"""Setting -> the places in a choice that need it."""

STAGES = tuple(Stage)

APART = 2000
"""Rows; under this each place in a choice gets its own, which the solver answers sooner."""


def settings_of(question: Question) -> Settings:
    """Which setting each strip, blank and slice needs."""
    task = question.task
    places_of: Settings = {}
    _, at_strips, at_stacks, _ = question.starts
    needs: list[tuple[Setting, int]] = []
    for n, (_, strip) in enumerate(question.strips, start=at_strips):
        width = task.widths[strip.width]
        needs.append(((STAGES.index(Stage.STRIP), width), n))
        for lay, _ in strip.lays:
            needs.append(((STAGES.index(Stage.ACROSS), task.lays[lay].along), n))
            if task.lays[lay].across < width - FIT:
                needs.append(((STAGES.index(Stage.TRIM), task.lays[lay].across), n))
    for n, (form, _, stack) in enumerate(question.stacks, start=at_stacks):
        needs += [((STAGES.index(Stage.SLICE), fence), n) for fence in sliced(task, form, stack.sizes)]
    for setting, n in sorted(set(needs)):
        places_of.setdefault(setting, []).append(n)
    return places_of


def sliced(task: Task, form: int, sizes: Sequence[int]) -> list[float]:
    """The fences that a blank of this format is sliced with into these blocks."""
    kind = task.kinds[task.formats[form].kinds[0]]
    left, fences = kind.thickness, []
    for thick in sorted((task.sizes[size].thickness for size in sizes), reverse=True):
        if kind.is_as_wanted(thick) or left - thick <= FIT:
            break
        fences.append(thick)
        left -= thick + task.kerf
    return fences


def fence_rows(question: Question, settings: Settings) -> tuple[Floats, list[Row]]:
    """Cost and rows, with one yes-or-no number for each setting after the choice."""
    blocks = float(sum(len(size.blocks) for size in question.task.sizes))
    widths = sum(fence for stage, fence in settings if STAGES[stage] == Stage.STRIP)
    cost = np.zeros(question.many + len(settings))
    rows: list[Row] = []
    apart = sum(map(len, settings.values())) <= APART
    for n, ((stage, fence), places) in enumerate(settings.items(), start=question.many):
        cost[n] = 1.0
        if STAGES[stage] == Stage.STRIP:
            cost[n] += 0.5 * fence / widths
        rows.append(({**dict.fromkeys(places, 1.0), n: -blocks}, -np.inf, 0.0))
        if apart:
            rows += [({place: 1.0, n: -float(question.most[place])}, -np.inf, 0.0) for place in places]
    return cost, rows


def offcut_rows(question: Question, settings: Settings, layout: Layout) -> tuple[Floats, list[Row], int]:
    """Cost and rows for the largest offcut with no other settings than a layout needs.

    One yes-or-no number after the choice for each piece of foam that may be the largest.
    """
    task = question.task
    needed = _needed(task, layout)
    other = sorted({n for setting, places in settings.items() if setting not in needed for n in places})
    rows: list[Row] = [({n: 1.0}, 0.0, 0.0) for n in other]
    pieces = [(n, volume) for n, volume in _pieces(question) if n not in set(other)]
    cost = np.zeros(question.many + len(pieces))
    for extra, (n, volume) in enumerate(pieces, start=question.many):
        cost[extra] = -volume
        rows.append(({extra: 1.0, n: -1.0}, -np.inf, 0.0))
    if pieces:
        rows.append((dict.fromkeys(range(question.many, question.many + len(pieces)), 1.0), 0.0, 1.0))
        cost /= max(volume for _, volume in pieces)
    return cost, rows, len(pieces)


def _needed(task: Task, layout: Layout) -> set[Setting]:
    needed = set()
    form_of = {kind: n for n, form in enumerate(task.formats) for kind in form.kinds}
    for billet in layout:
        for strip in billet.strips:
            needed.add((STAGES.index(Stage.STRIP), strip.width))
            for blank in strip.blanks:
                lay = task.lays[blank.lay]
                needed.add((STAGES.index(Stage.ACROSS), lay.along))
                if lay.across < strip.width - FIT:
                    needed.add((STAGES.index(Stage.TRIM), lay.across))
                needed |= {
                    (STAGES.index(Stage.SLICE), fence) for fence in sliced(task, form_of[billet.kind], blank.sizes)
                }
    return needed


def _pieces(question: Question) -> list[tuple[int, float]]:
    """(place in the choice, mm3) of the rests beside strips and at the ends of strips that are large enough to keep."""
    task = question.task
    least = max(task.settings.smallest_offcut, FIT)
    at_across, at_strips, _, _ = question.starts
    pieces = []
    for n, (form, pattern) in enumerate(question.across, start=at_across):
        foam_format = task.formats[form]
        rest = foam_format.width - sum((task.widths[width] + task.kerf) * many for width, many in pattern)
        if min(rest, foam_format.length) >= least:
            pieces.append((n, rest * foam_format.length * foam_format.thickness))
    for n, (form, strip) in enumerate(question.strips, start=at_strips):
        foam_format, width = task.formats[form], task.widths[strip.width]
        counts = Counter(dict(strip.lays))
        rest = foam_format.length - sum((task.lays[lay].along + task.kerf) * many for lay, many in counts.items())
        if min(rest, width) >= least:
            pieces.append((n, rest * width * foam_format.thickness))
    return pieces
