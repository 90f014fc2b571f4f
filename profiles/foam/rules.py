"""Which billets a block may come from: the foam that is named is the foam that is used.

A builder who has 40 mm boards cuts blocks of 40 mm out of them, not out of 100 mm boards that make two of each blank.
So a plan is made by strict rules first, and only the blocks that these leave missing go on to looser ones:

    FOAM     a full block comes unsliced from a board of its thickness, where there is one. It is not glued of several
             where a single board is thick enough.
    SLICED   a full block may be sliced out of a thicker board, but is not glued where a single one is thick enough.
    ANY      everything.

Odd blocks come from wherever they cost least. Boards at hand may be sliced and glued by any rule where that saves
buying others.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum

from profiles.foam.layouts import Layout
from profiles.foam.task import Format, Stack, Task


class Rule(StrEnum):
    """How strict a plan is, the strictest first."""

    FOAM = "foam"
    SLICED = "sliced"
    ANY = "any"


def restrict(task: Task, rule: Rule) -> Task:
    """The task with only those stacks that a rule allows; sizes, kinds and formats keep their indices."""
    if rule == Rule.ANY:
        return task
    single = [fmt for fmt in task.formats if _is_single(task, fmt) and _is_there(task, fmt)]
    thick_enough = [[fmt for fmt in single if _gives(task, fmt, size, whole=False)] for size in range(len(task.sizes))]
    named: list[list[Format]] = [
        [fmt for fmt in single if not task.sizes[size].odd and _gives(task, fmt, size, whole=True)]
        for size in range(len(task.sizes))
    ]

    def allows(fmt: Format, size: int, *, whole: bool) -> bool:
        if not _is_single(task, fmt):
            odd = task.sizes[size].odd
            return odd or not thick_enough[size] or _spares_buying(task, fmt, named[size] or thick_enough[size])
        return rule != Rule.FOAM or whole or not named[size] or _spares_buying(task, fmt, named[size])

    formats = []
    for fmt in task.formats:
        kind = task.kinds[fmt.kinds[0]] if fmt.kinds else None
        stacks = []
        for of_footprint in fmt.stacks:
            allowed: dict[Stack, None] = {}
            for stack in of_footprint:
                counts = tuple(
                    (size, count)
                    for size, count in stack.counts
                    if kind and allows(fmt, size, whole=kind.matches(task.sizes[size].thickness))
                )
                if counts:
                    allowed[replace(stack, counts=counts)] = None
            stacks.append(tuple(allowed))
        formats.append(replace(fmt, stacks=tuple(stacks), kinds=fmt.kinds if any(stacks) else ()))
    return replace(task, formats=tuple(formats))


def _is_single(task: Task, fmt: Format) -> bool:
    return bool(fmt.kinds) and task.kinds[fmt.kinds[0]].glue_lines == 0


def _is_there(task: Task, fmt: Format) -> bool:
    """Whether there is a board for one of its kinds."""
    return any(all(task.stock[board].has(1) for board in task.kinds[kind].uses) for kind in fmt.kinds)


def _is_bought(task: Task, fmt: Format) -> bool:
    return any(task.stock[board].count is None for kind in fmt.kinds for board in task.kinds[kind].uses)


def _spares_buying(task: Task, fmt: Format, others: Sequence[Format]) -> bool:
    """Whether a format of boards at hand may replace others, because all of these must be bought."""
    return not _is_bought(task, fmt) and all(_is_bought(task, other) for other in others)


def _gives(task: Task, fmt: Format, size: int, *, whole: bool) -> bool:
    """Whether blocks of a size come out of a format; `whole`: without slicing."""
    footprint = task.sizes[size].footprint
    if size not in fmt.block_sizes(footprint):
        return False
    if whole and not task.kinds[fmt.kinds[0]].matches(task.sizes[size].thickness):
        return False
    return any(fmt.holds(orientation) for orientation in task.orientations if orientation.footprint == footprint)


def without(task: Task, layout: Layout) -> Task:
    """What is left to plan after a layout: its boards are used up, and its blocks are given."""
    used = Counter(board for billet in layout for board in task.kinds[billet.kind].uses)
    given = Counter(size for billet in layout for blank in billet.blanks for size in blank.sizes)
    stock = tuple(
        board if board.count is None else replace(board, count=board.count - used[n])
        for n, board in enumerate(task.stock)
    )
    sizes = tuple(replace(size, blocks=size.blocks[given[n] :]) for n, size in enumerate(task.sizes))
    return replace(task, stock=stock, sizes=sizes)
