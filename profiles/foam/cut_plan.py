"""The cutting plan: blocks out of strips out of billets, as they are cut on a hot-wire table with a fence.

    stock, blocks --make_task--> Task --solve--> Layout --make_billets--> CutPlan

What is minimized, one after the other: missing blocks; the cost of boards to be bought, by price or else by area;
boards taken from those at hand; glue lines; slices; blocks that do not come out of offcuts; fence settings, and among
equally many the widths of strips. Then the largest offcut is made as large as possible. `foam.rules` says which
billets a block may come from.
"""

from collections.abc import Sequence
from dataclasses import replace

from profiles.foam.cuts import make_billets
from profiles.foam.cutting import CutPlan, CuttingSettings, Proof, WantedBlock
from profiles.foam.layouts import Layout
from profiles.foam.rules import Rule, restrict, without
from profiles.foam.score import score
from profiles.foam.shortages import find_shortages
from profiles.foam.solving import improve, plan_by_rule, solve
from profiles.foam.stock import Board
from profiles.foam.task import Task, make_task


def cut_plan(stock: Sequence[Board], wanted: Sequence[WantedBlock], settings: CuttingSettings) -> CutPlan:
    """How the blocks are cut out of the stock.

    The stock is as `stock.normalize_stock` returns it, the settings are within their limits, and no two blocks have the
    same number. An empty stock gives a plan in which every block is missing.
    """
    everything = make_task(stock, wanted, settings)
    task, layout, proof = _make_plan(everything)
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


def _make_plan(everything: Task) -> tuple[Task, Layout, Proof]:
    """The plan for those blocks that some billet can give, from the foam at hand alone if that is enough."""
    sizes = tuple(
        size if everything.can_give(n) else replace(size, blocks=()) for n, size in enumerate(everything.sizes)
    )
    task = replace(everything, sizes=sizes)
    to_buy = [board.count is None for board in task.stock]
    if all(to_buy) or not any(to_buy):
        return task, *_solve_by_rules(task)
    at_hand = replace(task, stock=tuple(replace(board, count=board.count or 0) for board in task.stock))
    if at_hand.formats and plan_by_rule(at_hand).score.missing == 0:
        layout, proof = _solve_by_rules(at_hand)
        if score(at_hand, layout).missing == 0:
            return at_hand, layout, proof
    layout, proof = _solve_by_rules(task)
    if layout and proof.cost == 0:  # nothing is bought: count the boards at hand instead
        return at_hand, *improve(at_hand, layout)
    return task, layout, proof


def _solve_by_rules(task: Task) -> tuple[Layout, Proof]:
    """A plan by the strictest rule, with more billets by looser rules for the blocks that it leaves missing."""
    layout: Layout = ()
    rest = task
    for rule in Rule:
        part = restrict(rest, rule)
        more, proof = solve(part)
        layout += more
        rest = without(rest, more)
        if not any(rest.demand):
            return (layout, proof) if layout == more else improve(task, layout)
    freely, proof = solve(task)
    if score(task, freely).missing < score(task, layout).missing:
        return freely, proof
    return improve(task, layout)
