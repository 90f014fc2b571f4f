"""The cutting plan: blocks out of strips out of billets, as they are cut on a hot-wire table with a fence.

    stock, blocks --make_task--> Task --solve--> Layout --make_billets--> CutPlan

What is minimized, one after the other: missing blocks; foam that must be bought; boards; glue lines and excess
thickness; fence settings, and among equally many the widths of strips. Then the largest offcut is made as large as
possible.
"""

from collections.abc import Sequence
from dataclasses import replace

from profiles.foam.cuts import make_billets
from profiles.foam.cutting import CutPlan, CuttingSettings, Proof, WantedBlock
from profiles.foam.layouts import Layout
from profiles.foam.shortages import find_shortages
from profiles.foam.solving import plan_by_rule, solve
from profiles.foam.stock import Board
from profiles.foam.task import Task, make_task


def cut_plan(stock: Sequence[Board], wanted: Sequence[WantedBlock], settings: CuttingSettings) -> CutPlan:
    """How the blocks are cut out of the stock.

    The stock is as `stock.normalize_stock` returns it, the settings are within their limits, and no two blocks have the
    same number. An empty stock gives a plan in which every block is missing.
    """
    everything = make_task(stock, wanted, settings)
    task, layout, proof = _make_plan(everything, wanted)
    billets, fences = make_billets(task, layout)
    given = {placed.block for billet in billets for placed in billet.blocks}
    missing = [block for block in sorted(wanted, key=lambda block: block.number) if block.number not in given]
    return CutPlan(
        stock=tuple(stock),
        settings=settings,
        billets=billets,
        fences=fences,
        shortages=find_shortages(everything, missing),
        proof=proof,
    )


def _make_plan(everything: Task, wanted: Sequence[WantedBlock]) -> tuple[Task, Layout, Proof]:
    """The plan for those blocks that some billet can give, from the foam at hand alone if that is enough."""
    impossible = {
        number for n, size in enumerate(everything.sizes) if not everything.can_give(n) for number in size.blocks
    }
    possible = [block for block in wanted if block.number not in impossible]
    task = make_task(everything.stock, possible, everything.settings) if impossible else everything
    to_buy = [board.count is None for board in task.stock]
    if all(to_buy) or not any(to_buy):
        return task, *solve(task)
    stock = tuple(replace(board, count=board.count or 0) for board in task.stock)
    at_hand = make_task(stock, possible, task.settings)
    if at_hand.formats and plan_by_rule(at_hand).score.missing == 0:
        return at_hand, *solve(at_hand)
    layout, proof = solve(task)
    if layout and proof.cost == 0:  # nothing is bought: count the boards at hand instead
        kinds = {kind.layers: n for n, kind in enumerate(at_hand.kinds)}
        start = tuple(replace(billet, kind=kinds[task.kinds[billet.kind].layers]) for billet in layout)
        return at_hand, *solve(at_hand, start)
    return task, layout, proof
