"""How good a layout is: the figures that are kept least, one after the other."""

from dataclasses import dataclass

from profiles.foam.cuts import billets_of
from profiles.foam.cutting import Stage
from profiles.foam.patterns import Task
from profiles.foam.strips import Layout, volumes

ALIKE = 1.0
"""mm3; volumes nearer than this are the same."""


@dataclass(frozen=True, slots=True, order=True)
class Score:
    """The less the better, the first figure first."""

    lacking: int
    bought: float
    """mm3 of boards to be bought."""
    boards: int
    """At hand; offcuts are not counted."""
    glue_lines: int
    excess: float
    """mm3 of blanks that is thicker than their blocks."""
    offcuts: int
    """That are used."""
    fences: int
    """Settings of the fence."""
    widths: float
    """mm; the sum of the settings for strips. Narrow strips first, the longer size across them: common practice."""
    largest: float
    """mm3 of the largest offcut that is left, negative."""


def score_of(task: Task, layout: Layout) -> Score:
    """The figures of a layout."""
    billets, fences = billets_of(task, layout)
    boards = [board for billet in billets for board in billet.boards]
    given = sum(len(billet.blocks) for billet in billets)
    return Score(
        lacking=sum(len(size.blocks) for size in task.sizes) - given,
        bought=_rounded(sum(board.volume for board in boards if board.count is None)),
        boards=sum(board.count is not None and not board.offcut for board in boards),
        glue_lines=sum(billet.kind.glue_lines for billet in billets),
        excess=_rounded(blanks_of(task, layout) - blocks_of(task, layout)),
        offcuts=sum(board.offcut for board in boards),
        fences=sum(one.stage != Stage.SQUARE for one in fences),
        widths=round(sum(one.fence for one in fences if one.stage == Stage.STRIP), 6),
        largest=-max((_rounded(one.place.volume) for billet in billets for one in billet.offcuts), default=0.0),
    )


def blanks_of(task: Task, layout: Layout) -> float:
    """mm3 of foam that the blanks use up, kerf and slabs worth keeping with it."""
    total = 0.0
    for billet in layout:
        kind = task.kinds[billet.kind]
        for blank in (blank for strip in billet.strips for blank in strip.blanks):
            lay, thick = task.lays[blank.lay], task.sizes[blank.sizes[0]].thickness
            total += (thick if kind.is_as_wanted(thick) else kind.thickness) * lay.along * lay.across
    return total


def blocks_of(task: Task, layout: Layout) -> float:
    """mm3 of the blocks that a layout gives."""
    own = volumes(task)
    return sum(
        own[size] for billet in layout for strip in billet.strips for blank in strip.blanks for size in blank.sizes
    )


def _rounded(volume: float) -> float:
    return round(volume / ALIKE) * ALIKE
