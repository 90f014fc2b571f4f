"""How good a layout is: the figures to minimize, one after the other."""

from profiles.foam.cuts import make_billets
from profiles.foam.cutting import Stage
from profiles.foam.layouts import Layout, blank_volume, block_volume
from profiles.foam.task import Task
from profiles.values import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Score:
    """Lower is better; the first figure that differs decides. Volumes in whole mm3."""

    missing: int
    """Blocks that the foam does not give."""
    bought: float
    """Price or area of the boards to be bought, as a share of the largest."""
    taken: float
    """Price or area of the boards at hand that are used, as a share of the largest; offcuts are free."""
    glue_lines: int
    slices: int
    """Cuts that slice a blank."""
    from_boards: float
    """Volume of the blocks that do not come out of offcuts: named offcuts go first."""
    fences: int
    """Fence settings."""
    largest_offcut: float
    """Volume of the largest offcut that is left, negative."""
    widths: float
    """mm; sum of the fence settings for strips. Narrow strips first, the longer size across them: common practice."""
    excess: float
    """Volume of blanks beyond that of their blocks."""


def score(task: Task, layout: Layout) -> Score:
    """The figures of a layout."""
    billets, fences = make_billets(task, layout)
    rests = [offcut.place.volume for billet in billets for offcut in billet.offcuts]
    to_buy = any(board.count is None for board in task.stock)
    return Score(
        missing=sum(task.demand) - sum(len(billet.blocks) for billet in billets),
        bought=round(sum(task.kind_cost(billet.kind) for billet in layout), 6) if to_buy else 0.0,
        taken=round(sum(task.kind_cost(billet.kind, task.taken_prices) for billet in layout), 6),
        glue_lines=sum(billet.kind.glue_lines for billet in billets),
        slices=sum(cut.stage == Stage.SLICE for billet in billets for cut in billet.cuts),
        from_boards=round(
            sum(
                block.place.volume
                for billet in billets
                if not all(board.offcut for board in billet.boards)
                for block in billet.blocks
            )
        ),
        fences=sum(fence.stage != Stage.SQUARE for fence in fences),
        largest_offcut=-round(max(rests, default=0.0)),
        widths=round(sum(fence.fence for fence in fences if fence.stage == Stage.STRIP), 6),
        excess=round(blank_volume(task, layout) - block_volume(task, layout)),
    )
