"""Foam plans of invented sheds beside those of a builder with pencil and paper."""

import random

import pytest

from profiles.foam.cut_plan import cut_plan
from profiles.foam.cutting import CutPlan, CuttingSettings, WantedBlock
from profiles.foam.figures import preferences
from profiles.foam.stock import Board, normalize_stock, standard_stock
from tests.foam.by_hand import Figures, figures_by_hand
from tests.foam.cut_replay import check_plan

SIZES = ((1250.0, 600.0), (1200.0, 600.0), (1000.0, 500.0), (2400.0, 1200.0))
OFFCUTS = ((700.0, 300.0), (500.0, 400.0), (420.0, 250.0))
THICKNESSES = (20.0, 25.0, 30.0, 40.0, 50.0, 60.0)
NEAR = 1e-6


def invent_shed(number: int) -> tuple[tuple[Board, ...], list[WantedBlock], CuttingSettings]:
    """Boards, offcuts and a body with one common box."""
    draw = random.Random(number)  # noqa: S311 - an invented shed, not a secret
    foam = draw.choice((30.0, 40.0, 50.0))
    high, wide = (float(5 * draw.randint(16, 44)) for _ in range(2))
    full = draw.randint(6, 24)
    odd = [round(draw.uniform(11.0, foam - 3.0) * 2) / 2 for _ in range(draw.randint(0, 2))]
    wanted = [WantedBlock(n, foam, high, wide) for n in range(1, full + 1)]
    wanted += [WantedBlock(n, thickness, high, wide, odd=True) for n, thickness in enumerate(odd, start=full + 1)]
    cutting = CuttingSettings(kerf=draw.choice((0.8, 1.0, 1.5)), max_layers=2)
    if number % 6 == 0:
        return standard_stock(foam), wanted, cutting
    boards = [
        Board("", draw.choice((None, 1, 2, 4, 8)), *draw.choice(SIZES), draw.choice(THICKNESSES))
        for _ in range(draw.randint(1, 3))
    ]
    for _ in range(draw.randint(0, 2)):
        thickness = draw.choice((foam, draw.choice(THICKNESSES)))
        boards.append(Board("", draw.randint(1, 2), *draw.choice(OFFCUTS), thickness, offcut=True))
    return normalize_stock(boards), wanted, cutting


def figures_of(plan: CutPlan, *, to_buy: bool) -> Figures:
    chosen = preferences(plan)
    rest = chosen.largest_rest.volume if chosen.largest_rest else 0.0
    missing = sum(len(shortage.blocks) for shortage in plan.shortages)
    cost = chosen.cost if to_buy else 0.0
    return missing, cost, chosen.taken, chosen.glue_lines, chosen.slices, chosen.fences, -rest


def is_worse(figures: Figures, other: Figures) -> bool:
    """Whether the first figure that differs is larger."""
    return next((a > b for a, b in zip(figures, other, strict=True) if abs(a - b) > NEAR * (1 + abs(b))), False)


def test_the_comparison_can_fail() -> None:
    """The first figure that differs decides."""
    assert is_worse((0, 1.0, 0.0, 0, 2, 3, -9.0), (0, 1.0, 0.0, 0, 1, 9, 0.0))
    assert not is_worse((0, 1.0, 0.0, 0, 1, 3, -9.0), (0, 1.0, 0.0, 0, 2, 1, 0.0))


@pytest.mark.parametrize("number", range(30))
def test_a_plan_is_never_worse_than_one_by_hand(number: int) -> None:
    """In the order of preference: cost to buy, boards at hand, glue lines, slices, fence settings, largest rest."""
    boards, wanted, cutting = invent_shed(number)
    plan = cut_plan(boards, wanted, cutting)
    check_plan(plan, wanted)
    figures = figures_of(plan, to_buy=any(board.count is None for board in boards))
    by_hand = figures_by_hand(boards, wanted, cutting)
    assert not is_worse(figures, by_hand), f"{figures}, by hand {by_hand}"
