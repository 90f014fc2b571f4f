"""How good a layout is: the figures to minimize, one after the other."""

from dataclasses import dataclass

from profiles.foam.cuts import make_billets
from profiles.foam.cutting import Stage
from profiles.foam.layouts import Layout, blank_volume, block_volume
from profiles.foam.task import Task


@dataclass(frozen=True, slots=True, order=True)
class Score:
    """Lower is better; the first figure that differs decides. Volumes in whole mm3."""

    missing: int
    """Blocks that the foam does not give."""
    bought: float
    """Volume of boards to be bought."""
    boards: int
    """Boards at hand; offcuts are not counted."""
    glue_lines: int
    excess: float
    """Volume of blanks beyond that of their blocks."""
    offcuts: int
    """Offcuts that are used up."""
    fences: int
    """Fence settings."""
    widths: float
    """mm; sum of the fence settings for strips. Narrow strips first, the longer size across them: common practice."""
    largest_offcut: float
    """Volume of the largest offcut that is left, negative."""


def score(task: Task, layout: Layout) -> Score:
    """The figures of a layout."""
    billets, fences = make_billets(task, layout)
    boards = [board for billet in billets for board in billet.boards]
    offcuts = [offcut.place.volume for billet in billets for offcut in billet.offcuts]
    return Score(
        missing=sum(task.demand) - sum(len(billet.blocks) for billet in billets),
        bought=round(sum(board.volume for board in boards if board.count is None)),
        boards=sum(board.count is not None and not board.offcut for board in boards),
        glue_lines=sum(billet.kind.glue_lines for billet in billets),
        excess=round(blank_volume(task, layout) - block_volume(task, layout)),
        offcuts=sum(board.offcut for board in boards),
        fences=sum(fence.stage != Stage.SQUARE for fence in fences),
        widths=round(sum(fence.fence for fence in fences if fence.stage == Stage.STRIP), 6),
        largest_offcut=-round(max(offcuts, default=0.0)),
    )
