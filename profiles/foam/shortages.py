"""The blocks that the foam at hand does not yield, why, and what to buy for them."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from profiles.foam.cutting import Shortage, WantedBlock
from profiles.foam.greedy import greedy_layout
from profiles.foam.stock import Board
from profiles.foam.task import Task, make_task

NO_FOAM = "there is no foam"
TOO_LARGE = "the block is larger than every board"
USED_UP = "the boards are used up"


def find_shortages(task: Task, missing: Sequence[WantedBlock]) -> tuple[Shortage, ...]:
    """The missing blocks by reason; what to buy is boards like those in the stock, if these would do."""
    reasons: dict[str, list[WantedBlock]] = {}
    for block in missing:
        reasons.setdefault(_reason(task, block), []).append(block)
    return tuple(
        Shortage(tuple(block.number for block in blocks), reason, _to_buy(task, blocks, reason))
        for reason, blocks in reasons.items()
    )


def _reason(task: Task, block: WantedBlock) -> str:
    if not task.stock:
        return NO_FOAM
    size = next(n for n, size in enumerate(task.sizes) if block.number in size.blocks)
    if task.can_give(size):
        return USED_UP
    footprint = task.sizes[size].footprint
    thick_enough = any(size in fmt.block_sizes(footprint) for fmt in task.formats)
    return TOO_LARGE if thick_enough else f"no foam is {block.thickness:g} mm thick"


def _to_buy(task: Task, blocks: Sequence[WantedBlock], reason: str) -> str:
    return (_boards(task, blocks) if reason == USED_UP else "") or _pieces(task, blocks)


def _boards(task: Task, blocks: Sequence[WantedBlock]) -> str:
    """Boards of the kinds in the stock, by a plan by rule; empty if only offcuts would do."""
    stock = [replace(board, count=None) for board in task.stock if not board.offcut]
    unlimited = make_task(stock, blocks, task.settings)
    layout, left = greedy_layout(unlimited, unlimited.block_volumes)
    if any(left):
        return ""
    counts = Counter(board for billet in layout for board in unlimited.kinds[billet.kind].uses)
    return " and ".join(_describe(count, stock[n]) for n, count in sorted(counts.items()))


def _describe(count: int, board: Board) -> str:
    return f"{count} board{'s' if count > 1 else ''} of {board.length:g} x {board.width:g} x {board.thickness:g} mm"


def _pieces(task: Task, blocks: Sequence[WantedBlock]) -> str:
    """The smallest piece for each block, with foam for squaring two edges."""
    trim = task.settings.trim
    sizes = Counter(
        (max(block.height, block.width) + trim, min(block.height, block.width) + trim, block.thickness)
        for block in blocks
    )
    return " and ".join(
        f"{count} piece{'s' if count > 1 else ''} of {length:g} x {width:g} x {thickness:g} mm at least"
        for (length, width, thickness), count in sizes.items()
    )
