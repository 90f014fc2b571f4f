"""The cutting plan: blocks out of strips out of billets, as a hot-wire table with a fence makes them.

    stock, blocks --patterns.task_of--> Task --plans--> Layout --cuts.billets_of--> CutPlan

What is kept least, one after the other: blocks that the foam does not give; foam that must be bought; boards; glue
lines and excess of thickness; settings of the fence, and of equally many the narrower strips; then the largest offcut
is made as large as can be.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

from profiles.errors import JobError
from profiles.foam.cuts import billets_of
from profiles.foam.cutting import (
    Billet,
    Box3,
    Cut,
    CutPlan,
    CuttingSettings,
    FenceSetting,
    Grain,
    Lacking,
    Offcut,
    Placed,
    Proof,
    Stage,
    WantedBlock,
)
from profiles.foam.lacking import lacking_of
from profiles.foam.patterns import Task, can_hold, task_of
from profiles.foam.solving import ruled, solve
from profiles.foam.stock import Board
from profiles.foam.strips import Layout

__all__ = [
    "Billet",
    "Box3",
    "Cut",
    "CutPlan",
    "CuttingSettings",
    "FenceSetting",
    "Grain",
    "Lacking",
    "Offcut",
    "Placed",
    "Proof",
    "Stage",
    "WantedBlock",
    "cut_plan",
]


def cut_plan(stock: Sequence[Board], wanted: Sequence[WantedBlock], settings: CuttingSettings) -> CutPlan:
    """How the wanted blocks come out of the stock.

    `lacking` lists what the foam at hand does not give; no blocks give an empty plan, no stock gives one in which
    every block is lacking. Raises JobError for sizes that cannot be, all at once.
    """
    _check(stock, wanted, settings)
    whole = task_of(stock, wanted, settings)
    task, layout, proof = _make_plan(whole, wanted)
    billets, fences = billets_of(task, layout)
    given = {placed.block for billet in billets for placed in billet.blocks}
    missing = [block for block in sorted(wanted, key=lambda entry: entry.number) if block.number not in given]
    return CutPlan(
        stock=tuple(stock),
        settings=settings,
        billets=billets,
        fences=fences,
        lacking=lacking_of(whole, missing),
        proof=proof,
    )


def _make_plan(whole: Task, wanted: Sequence[WantedBlock]) -> tuple[Task, Layout, Proof]:
    """The plan for those blocks that some billet can hold, from the foam at hand if that does."""
    hopeless = {number for n, size in enumerate(whole.sizes) if not can_hold(whole, n) for number in size.blocks}
    possible = [block for block in wanted if block.number not in hopeless]
    task = task_of(whole.stock, possible, whole.settings) if hopeless else whole
    if all(board.count is not None for board in whole.stock) or all(board.count is None for board in whole.stock):
        return task, *solve(task)
    stock = tuple(replace(board, count=0) if board.count is None else board for board in whole.stock)
    at_hand = task_of(stock, possible, whole.settings)
    if at_hand.formats and ruled(at_hand).score.lacking == 0:
        return at_hand, *solve(at_hand)
    layout, proof = solve(task)
    if layout and proof.found == 0:
        places = {kind.layers: n for n, kind in enumerate(at_hand.kinds)}
        start = tuple(replace(billet, kind=places[task.kinds[billet.kind].layers]) for billet in layout)
        return at_hand, *solve(at_hand, start)
    return task, layout, proof


def _check(stock: Sequence[Board], wanted: Sequence[WantedBlock], settings: CuttingSettings) -> None:
    faults = [*_setting_faults(settings)]
    for board in stock:
        sizes = (board.length, board.width, board.thickness, board.real)
        if not all(_positive(size) for size in sizes) or board.width > board.length:
            sizes_text = " x ".join(f"{size:g}" for size in sizes[:3])
            faults.append(
                f"board {board.name!r}: expected length >= width > 0 and thickness > 0, found {sizes_text} mm"
            )
        if board.count is not None and board.count < 0:
            faults.append(f"board {board.name!r}: expected a count of 0 or more, found {board.count}")
    for block in wanted:
        box = (block.thickness, block.height, block.width)
        if not all(_positive(size) for size in box):
            sizes_text = " x ".join(f"{size:g}" for size in box)
            faults.append(f"block {block.number}: expected sizes over 0 mm, found {sizes_text} mm")
    numbers = [block.number for block in wanted]
    twice = sorted({number for number in numbers if numbers.count(number) > 1})
    if twice:
        faults.append(f"expected each block once, found block {twice[0]} again")
    faults = list(dict.fromkeys(faults))
    if faults:
        message = faults[0] if len(faults) == 1 else f"{len(faults)} faults:\n  " + "\n  ".join(faults)
        raise JobError(message)


def _setting_faults(settings: CuttingSettings) -> list[str]:
    lengths = {
        "kerf": settings.slot,
        "trim": settings.trim,
        "glue": settings.glue,
        "smallest_offcut": settings.smallest_offcut,
    }
    faults = [
        f"{name}: expected 0 mm or more, found {value:g}"
        for name, value in lengths.items()
        if not (math.isfinite(value) and value >= 0)
    ]
    if not 1 <= settings.most_layers <= MOST_LAYERS:
        faults.append(f"most_layers: expected 1 to {MOST_LAYERS} layers in a billet, found {settings.most_layers}")
    if settings.effort < 0:
        faults.append(f"effort: expected 0 nodes or more, found {settings.effort}")
    if not settings.seconds > 0:
        faults.append(f"seconds: expected a time over 0 s, found {settings.seconds:g}")
    return faults


MOST_LAYERS = 12
"""In one billet; nobody glues more boards at once."""


def _positive(size: float) -> bool:
    return math.isfinite(size) and size > 0
