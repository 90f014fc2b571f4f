"""What the foam at hand does not give, why, and what to buy for it."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from profiles.foam.cutting import Lacking, WantedBlock
from profiles.foam.layers import FIT
from profiles.foam.patterns import Task, task_of
from profiles.foam.stock import Board
from profiles.foam.strips import by_rule, steps_of, volumes

NO_FOAM = "there is no foam"
TOO_LARGE = "the block is larger than every board"
USED_UP = "the boards are used up"


def lacking_of(task: Task, missing: Sequence[WantedBlock]) -> tuple[Lacking, ...]:
    """The missing blocks by reason; what to buy is boards like those in the stock where these would do."""
    reasons: dict[str, list[WantedBlock]] = {}
    for block in missing:
        reasons.setdefault(_reason(task, block), []).append(block)
    return tuple(
        Lacking(tuple(block.number for block in blocks), reason, _to_buy(task, blocks, reason))
        for reason, blocks in reasons.items()
    )


def _reason(task: Task, block: WantedBlock) -> str:
    if not task.stock:
        return NO_FOAM
    wanted = next(n for n, size in enumerate(task.sizes) if block.number in size.blocks)
    footprint = task.sizes[wanted].footprint
    thick = [
        form
        for form in task.formats
        if any(size == wanted for stack in form.stacks[footprint] for size, _ in stack.counts)
    ]
    if not thick:
        return f"no foam is {block.thickness:g} mm thick"
    lays = [lay for lay in task.lays if lay.footprint == footprint]
    if not any(lay.along <= form.length + FIT and lay.across <= form.width + FIT for form in thick for lay in lays):
        return TOO_LARGE
    return USED_UP


def _to_buy(task: Task, blocks: Sequence[WantedBlock], reason: str) -> str:
    return (_boards(task, blocks) if reason == USED_UP else "") or _pieces(task, blocks)


def _boards(task: Task, blocks: Sequence[WantedBlock]) -> str:
    """Boards of the kinds in the stock, found by rule; empty where there are only offcuts of the right kind."""
    stock = [replace(board, count=None) for board in task.stock if not board.offcut]
    again = task_of(stock, blocks, task.settings)
    layout, left = by_rule(again, steps_of(again), volumes(again), [float("inf")] * len(stock))
    if any(left):
        return ""
    counts = Counter(place for billet in layout for place in again.kinds[billet.kind].layers)
    return " and ".join(_describe(many, stock[place]) for place, many in sorted(counts.items()))


def _describe(many: int, board: Board) -> str:
    return f"{many} board{'s' if many > 1 else ''} of {board.length:g} x {board.width:g} x {board.thickness:g} mm"


def _pieces(task: Task, blocks: Sequence[WantedBlock]) -> str:
    """The least piece for each block, with foam for squaring two edges."""
    trim = task.settings.trim
    sizes = Counter(
        (max(block.height, block.width) + trim, min(block.height, block.width) + trim, block.thickness)
        for block in blocks
    )
    return " and ".join(
        f"{many} piece{'s' if many > 1 else ''} of {length:g} x {width:g} x {thick:g} mm at least"
        for (length, width, thick), many in sizes.items()
    )
