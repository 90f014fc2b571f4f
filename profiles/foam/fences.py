"""Costs and rows for the fewest fence settings and for the largest offcut, once the billets are chosen."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from profiles.arrays import Floats
from profiles.foam.cutting import Stage
from profiles.foam.layers import ROUNDING
from profiles.foam.layouts import Layout
from profiles.foam.program import Program
from profiles.foam.task import Task
from profiles.solver import Row

WIDTHS_SHARE = 1e-4
"""What a fence setting and the widths of strips count beside the largest offcut."""

Fence = tuple[int, float]
"""(index of the stage, size in mm): one setting of the fence."""

STAGES = tuple(Stage)

MAX_SEPARATE_ROWS = 2000
"""Up to here each place in a choice gets a row of its own for each of its settings, which the solver answers sooner."""


def fence_places(program: Program) -> dict[Fence, list[int]]:
    """Each fence setting with the places in a choice (strips and stacks) that need it."""
    task = program.task
    _, at_strips, at_stacks, _ = program.starts
    needs: set[tuple[Fence, int]] = set()
    for n, (_, strip) in enumerate(program.strips, start=at_strips):
        needs |= {
            (fence, n)
            for orientation, _ in strip.blanks
            for fence in _blank_fences(task, task.widths[strip.width], orientation)
        }
    for n, (fmt, _, stack) in enumerate(program.stacks, start=at_stacks):
        needs |= {(fence, n) for fence in _slice_fences(task, fmt, stack.sizes)}
    places: dict[Fence, list[int]] = defaultdict(list)
    for fence, n in sorted(needs):
        places[fence].append(n)
    return places


def _layout_fences(task: Task, layout: Layout) -> Iterator[Fence]:
    """The fence settings that a layout needs; some may come several times."""
    for billet in layout:
        for strip in billet.strips:
            for blank in strip.blanks:
                yield from _blank_fences(task, strip.width, blank.orientation)
                yield from _slice_fences(task, task.format_of[billet.kind], blank.sizes)


def _blank_fences(task: Task, width: float, orientation: int) -> Iterator[Fence]:
    """Settings that cut a strip of a width (mm) off a billet and a blank off that strip."""
    along, across = task.orientations[orientation].along, task.orientations[orientation].across
    yield STAGES.index(Stage.STRIP), width
    yield STAGES.index(Stage.ACROSS), along
    if across < width - ROUNDING:
        yield STAGES.index(Stage.TRIM), across


def _slice_fences(task: Task, fmt: int, sizes: Sequence[int]) -> Iterator[Fence]:
    """Settings that slice a blank of a format into blocks of these sizes."""
    for thickness in slice_sizes(task, fmt, sizes):
        yield STAGES.index(Stage.SLICE), thickness


def slice_sizes(task: Task, fmt: int, sizes: Sequence[int]) -> list[float]:
    """The thicknesses (mm) that are sliced off a blank of a format for blocks of these sizes, one for each cut."""
    if not task.formats[fmt].kinds:
        return []
    kind = task.kinds[task.formats[fmt].kinds[0]]
    left, slices = kind.thickness, []
    for thickness in sorted((task.sizes[size].thickness for size in sizes), reverse=True):
        if kind.matches(thickness) or left - thickness <= ROUNDING:
            break
        slices.append(thickness)
        left -= thickness + task.kerf
    return slices


def fence_rows(program: Program, places: dict[Fence, list[int]]) -> tuple[Floats, list[Row]]:
    """Cost and rows for the fewest settings: one yes-or-no number for each setting after the choice."""
    blocks = float(sum(program.task.demand))
    strips = STAGES.index(Stage.STRIP)
    widths = sum(size for stage, size in places if stage == strips)
    cost = np.zeros(program.size + len(places))
    rows: list[Row] = []
    separate = sum(map(len, places.values())) <= MAX_SEPARATE_ROWS
    for n, ((stage, size), users) in enumerate(places.items(), start=program.size):
        cost[n] = 1.0 + (0.5 * size / widths if stage == strips else 0.0)  # of equally many, the narrower strips
        rows.append(({**dict.fromkeys(users, 1.0), n: -blocks}, -np.inf, 0.0))
        if separate:
            rows += [({place: 1.0, n: -float(program.limits[place])}, -np.inf, 0.0) for place in users]
    return cost, rows


def offcut_rows(program: Program, places: dict[Fence, list[int]], layout: Layout) -> tuple[Floats, list[Row], int]:
    """Cost and rows for the largest offcut with no more fence settings than a layout needs; if the program is not
    complete, with only those that it needs. Among equally large ones, the narrower strips.

    The third value is the number of yes-or-no numbers after the choice: one for each fence setting of a complete
    program, and one for each piece that may be the largest.
    """
    needed = set(_layout_fences(program.task, layout))
    others = {n for fence, users in places.items() if fence not in needed for n in users}
    cost, rows = np.zeros(program.size), list[Row]()
    if program.complete:
        cost, rows = fence_rows(program, places)
        cost = WIDTHS_SHARE * cost
        rows.append((dict.fromkeys(range(program.size, len(cost)), 1.0), 0.0, float(len(needed))))
        others = set()
    rows += [({n: 1.0}, 0.0, 0.0) for n in sorted(others)]
    pieces = [(n, volume) for n, volume in _leftovers(program) if n not in others]
    start = len(cost)
    cost = np.concatenate([cost, np.zeros(len(pieces))])
    for extra, (n, volume) in enumerate(pieces, start=start):
        cost[extra] = -volume / max(volume for _, volume in pieces)
        rows.append(({extra: 1.0, n: -1.0}, -np.inf, 0.0))
    if pieces:
        rows.append((dict.fromkeys(range(start, start + len(pieces)), 1.0), 0.0, 1.0))
    return cost, rows, len(cost) - program.size if pieces else 0


def _leftovers(program: Program) -> Iterable[tuple[int, float]]:
    """(place in the choice, mm3) of the foam beside strips and at the ends of strips that is large enough to keep."""
    task = program.task
    least = max(task.settings.smallest_offcut, ROUNDING)
    at_billets, at_strips, _, _ = program.starts
    for n, (k, pattern) in enumerate(program.billets, start=at_billets):
        fmt = task.formats[k]
        rest = fmt.width - sum((task.widths[width] + task.kerf) * count for width, count in pattern)
        if min(rest, fmt.length) >= least:
            yield n, rest * fmt.length * fmt.thickness
    for n, (k, strip) in enumerate(program.strips, start=at_strips):
        fmt, width = task.formats[k], task.widths[strip.width]
        rest = fmt.length - sum(
            (task.orientations[orientation].along + task.kerf) * count for orientation, count in strip.blanks
        )
        if min(rest, width) >= least:
            yield n, rest * width * fmt.thickness
