import hashlib
import math
import os
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from profiles.errors import JobError
from profiles.foam.cut_plan import cut_plan
from profiles.foam.cutting import CutPlan, CuttingSettings, Grain, Stage, WantedBlock
from profiles.foam.figures import cuts_by_fence
from profiles.foam.layers import Halved
from profiles.foam.solving import solve
from profiles.foam.stock import Board
from profiles.foam.supply import FoamSettings, cutting_settings
from profiles.foam.task import make_task
from tests.foam.cut_replay import check_plan
from tests.sampling import examples

XPS_20 = Board("XPS 20", 6, 1200.0, 600.0, 20.0)
BODY = [
    WantedBlock(n, thick, 115.0, 150.0, odd=thick < 40.0) for n, thick in enumerate([20.0, 30.0] + [40.0] * 13, start=1)
]
"""570 mm of body in 40 mm foam with one common box."""


def fences(plan: CutPlan) -> list[tuple[Stage, float, int]]:
    return [(fence.stage, fence.fence, fence.cuts) for fence in plan.fences]


def test_a_body_is_cut_as_a_builder_would() -> None:
    """A board halved and glued makes the 40 mm billet; strips first, then across, then slices (common practice)."""
    plan = cut_plan([XPS_20], BODY, CuttingSettings(kerf=1.0, trim=5.0))
    check_plan(plan, BODY)
    assert [(billet.kind.layers, billet.kind.uses) for billet in plan.billets] == [((0, 0), (0,))]
    assert (plan.billets[0].kind.thickness, plan.billets[0].kind.halved) == (40, Halved.ACROSS)
    assert fences(plan) == [
        (Stage.DOWN, 599.5, 1),
        (Stage.SQUARE, 0.0, 2),
        (Stage.STRIP, 150.0, 3),
        (Stage.ACROSS, 115.0, 15),
        (Stage.SLICE, 30.0, 1),
        (Stage.SLICE, 20.0, 1),
    ]
    assert not plan.shortages
    assert (plan.proof.cost, plan.proof.bound) == (1200 * 600, 1200 * 600)


def test_the_reader_finds_faults() -> None:
    """The independent reader refuses a slot too wide, a block moved or left out, and a fence forgotten."""
    plan = cut_plan([XPS_20], BODY, CuttingSettings())
    billet = plan.billets[0]
    moved = replace(billet.blocks[0], place=replace(billet.blocks[0].place, x=billet.blocks[0].place.x + 0.5))
    wide = replace(billet.cuts[3], slot=replace(billet.cuts[3].slot, across=2.0))
    faults = [
        replace(plan, billets=(replace(billet, blocks=(moved, *billet.blocks[1:])),)),
        replace(plan, billets=(replace(billet, blocks=billet.blocks[1:]),)),
        replace(plan, billets=(replace(billet, cuts=(*billet.cuts[:3], wide, *billet.cuts[4:])),)),
        replace(plan, billets=(replace(billet, waste_volume=billet.waste_volume + 1000),)),
        replace(plan, fences=plan.fences[1:]),
    ]
    for fault in faults:
        with pytest.raises(AssertionError):
            check_plan(fault, BODY)


SIDES = st.sampled_from([40.0, 60.0, 85.0, 115.0, 150.0, 62.5, 71.3])
BOARDS = st.builds(
    lambda sides, thick, count, offcut: Board(
        "foam", (count or 1) if offcut else count, max(sides), min(sides), thick, offcut=offcut
    ),
    st.tuples(st.sampled_from([160.0, 250.0, 400.0, 600.0]), st.sampled_from([120.0, 200.0, 333.0])),
    st.sampled_from([20.0, 25.0, 40.0, 60.0]),
    st.sampled_from([None, 1, 2, 3]),
    st.booleans(),
)
SETTINGS = st.builds(
    CuttingSettings,
    kerf=st.sampled_from([0.0, 0.7, 1.0, 2.5]),
    trim=st.sampled_from([0.0, 0.5, 5.0]),
    glue=st.sampled_from([0.0, 0.0, 0.3]),
    max_layers=st.integers(1, 3),
    grain=st.sampled_from(list(Grain)),
    smallest_offcut=st.sampled_from([0.0, 50.0, 80.0]),
    effort=st.just(30),
)
THICK = st.sampled_from([12.0, 20.0, 25.0, 33.0, 40.0])


@st.composite
def jobs(draw: st.DrawFn) -> tuple[list[Board], list[WantedBlock], CuttingSettings]:
    boards = draw(st.lists(BOARDS, min_size=0, max_size=3))
    boxes = draw(st.lists(st.tuples(SIDES, SIDES), min_size=1, max_size=3))
    blocks = draw(st.lists(st.tuples(THICK, st.sampled_from(boxes)), min_size=0, max_size=9))
    wanted = [WantedBlock(n, thick, *box) for n, (thick, box) in enumerate(blocks, start=1)]
    return boards, wanted, draw(SETTINGS)


@given(job=jobs())
@settings(max_examples=examples(500, 60), deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_cuts_of_random_jobs_give_the_blocks(job: tuple[list[Board], list[WantedBlock], CuttingSettings]) -> None:
    """Making the cuts of any plan in their order leaves exactly its blocks and offcuts, each cut edge to edge."""
    boards, wanted, cutting = job
    check_plan(cut_plan(boards, wanted, cutting), wanted)


def partitions(items: Sequence[WantedBlock]) -> Iterator[list[list[WantedBlock]]]:
    if not items:
        yield []
        return
    for rest in partitions(items[1:]):
        yield [[items[0]], *rest]
        for n in range(len(rest)):
            yield [*rest[:n], [items[0], *rest[n]], *rest[n + 1 :]]


def orientations(block: WantedBlock) -> set[tuple[float, float]]:
    return {(block.height, block.width), (block.width, block.height)}


def strip_widths(blocks: Sequence[WantedBlock], room: float, kerf: float) -> list[float]:
    """The widths that a strip of exactly these blocks can have."""
    ways = [(0.0, 0.0)]
    for block in blocks:
        ways = [
            (used + along + kerf, max(width, across)) for used, width in ways for along, across in orientations(block)
        ]
    return sorted({width for used, width in ways if used <= room + kerf + 1e-9})


def fits(wanted: Sequence[WantedBlock], length: float, width: float, cutting: CuttingSettings) -> bool:
    """Whether blocks come out of one billet, by looking at every way to share them among strips."""
    kerf = cutting.effective_kerf
    for strips in partitions(wanted):
        widths = [strip_widths(strip, length - cutting.trim, kerf)[:1] for strip in strips]
        if all(widths) and sum(narrow + kerf for (narrow,) in widths) <= width - cutting.trim + kerf + 1e-9:
            return True
    return False


def fewest_boards(board: Board, wanted: Sequence[WantedBlock], cutting: CuttingSettings) -> int:
    """By looking at every way to share blocks among billets. Those as thick as a board come out of single boards, the
    others out of two boards, or one that is halved and glued to itself. Blocks are so thick that no blank holds two.
    """
    half_length, half_width = (math.floor(side - cutting.effective_kerf) / 2 for side in (board.length, board.width))
    total = 0
    for thick in (False, True):
        blocks = [block for block in wanted if (block.thickness > board.thickness) == thick]
        sizes = [(board.length, board.width, 2 if thick else 1)]
        sizes += [(half_length, board.width, 1), (board.length, half_width, 1)] if thick else []
        best = 10**6 if blocks else 0
        for billets in partitions(blocks):
            costs = [
                min((boards for length, width, boards in sizes if fits(billet, length, width, cutting)), default=10**6)
                for billet in billets
            ]
            best = min(best, sum(costs)) if blocks else 0
        total += best
    return total


SMALL = st.lists(
    st.tuples(
        st.sampled_from([20.0, 30.0, 40.0]),
        st.sampled_from([90.0, 110.0, 140.0, 190.0]),
        st.sampled_from([60.0, 95.0, 150.0]),
    ),
    min_size=2,
    max_size=5,
)


@given(blocks=SMALL, board=st.sampled_from([(300.0, 200.0), (260.0, 160.0), (400.0, 196.0)]))
@settings(max_examples=examples(40, 12), deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_small_jobs_take_as_few_boards_as_can_be(
    blocks: list[tuple[float, float, float]], board: tuple[float, float]
) -> None:
    """Plan and bound both equal the fewest boards that an exhaustive search finds."""
    foam = Board("foam", 12, *board, 20.0)
    cutting = CuttingSettings(kerf=1.0, trim=4.0, max_layers=2)
    wanted = [WantedBlock(n, *sizes) for n, sizes in enumerate(blocks, start=1)]
    plan = cut_plan([foam], wanted, cutting)
    assert not plan.shortages
    assert plan.proof.cost == fewest_boards(foam, wanted, cutting) * foam.length * foam.width
    assert plan.proof.bound == plan.proof.cost


CGCUT1 = ((8, 4, 2), (3, 7, 1), (8, 2, 3), (3, 4, 5), (3, 3, 2), (3, 2, 2), (2, 1, 1))
CGCUT3 = (
    *((31, 43, 4), (30, 41, 2), (29, 39, 4), (28, 38, 4), (27, 37, 3), (26, 36, 4), (25, 35, 3), (24, 34, 4)),
    *((33, 23, 4), (22, 32, 3), (31, 21, 3), (29, 18, 3), (17, 27, 2), (15, 24, 3), (16, 25, 4), (23, 14, 4)),
    *((21, 12, 3), (19, 11, 4), (9, 17, 1)),
)


@pytest.mark.parametrize(
    ("items", "sheet", "fewest"),
    [(CGCUT1, (10.0, 15.0), 2), (CGCUT3, (40.0, 70.0), 23)],
    ids=["cgcut1", "cgcut3"],
)
def test_published_two_stage_examples(
    items: Sequence[tuple[int, int, int]], sheet: tuple[float, float], fewest: int
) -> None:
    """The sheets that N. Christofides and C. Whitlock's examples need in two stages are found and proven.

    Items: Operations Research 25 (1977), as in OR-Datasets (cgcut1, cgcut3), not turned. Fewest sheets: A. Lodi,
    S. Martello and D. Vigo, Journal of Combinatorial Optimization 8 (2004), packing in levels, from memory.
    """
    first = sheet[0] == 10
    sizes = [(float(h), float(w)) if first else (float(w), float(h)) for w, h, count in items for _ in range(count)]
    wanted = [WantedBlock(n, 10.0, *size) for n, size in enumerate(sizes, start=1)]
    cutting = CuttingSettings(kerf=0.0, trim=0.0, grain=Grain.HEIGHT_ALONG, smallest_offcut=5.0)
    layout, proof = solve(make_task([Board("sheet", 60, *sheet, 10.0)], wanted, cutting))
    assert len(layout) == fewest
    assert (proof.cost, proof.bound) == pytest.approx((fewest * math.prod(sheet),) * 2)


def test_an_offcut_goes_before_a_board() -> None:
    """Where an offcut is large enough no board is touched, and none is counted."""
    offcut = Board("rest", 1, 400.0, 300.0, 40.0, offcut=True)
    plan = cut_plan([Board("foam", 5, 1200.0, 600.0, 40.0), offcut], BODY[2:6], CuttingSettings())
    assert [billet.kind.layers for billet in plan.billets] == [(1,)]
    assert plan.proof.cost == plan.proof.bound == 0


def test_foam_is_bought_only_where_that_at_hand_does_not_do() -> None:
    """Boards at hand come first; what must be bought is the least volume."""
    at_hand, small, large = (
        Board("shed", 1, 400.0, 300.0, 40.0),
        Board("small", None, 600.0, 300.0, 40.0),
        Board("large", None, 1200.0, 600.0, 40.0),
    )
    few = cut_plan([large, small, at_hand], BODY[2:6], CuttingSettings())
    assert [billet.kind.layers for billet in few.billets] == [(2,)]
    more = cut_plan([large, small, at_hand], BODY[2:], CuttingSettings())
    assert sorted(billet.kind.layers for billet in more.billets) == [(1,), (2,)]
    assert more.proof.cost == pytest.approx(small.length * small.width)


def test_a_blank_may_hold_several_blocks() -> None:
    """One 100 mm board gives two 40 mm blocks of each blank, and what is left gives a thin block."""
    wanted = [WantedBlock(n, thick, 115.0, 150.0) for n, thick in enumerate([40.0, 40.0, 15.0], start=1)]
    plan = cut_plan([Board("thick", 1, 160.0, 120.0, 100.0)], wanted, CuttingSettings())
    check_plan(plan, wanted)
    assert not plan.shortages
    assert fences(plan)[-2:] == [(Stage.SLICE, 40.0, 2), (Stage.SLICE, 15.0, 1)]


def test_boards_of_different_size_are_cut_down() -> None:
    """Two boards of different size share the smaller one's area, and what is cut off the larger one is kept."""
    boards = [Board("long", 1, 1000.0, 300.0, 20.0), Board("short", 1, 500.0, 300.0, 25.0)]
    wanted = [WantedBlock(n, 45.0, 160.0, 150.0) for n in (1, 2, 3)]
    plan = cut_plan(boards, wanted, CuttingSettings())
    check_plan(plan, wanted)
    assert fences(plan)[0] == (Stage.DOWN, 500.0, 1)
    assert [(offcut.place.along, offcut.layer) for offcut in plan.billets[0].offcuts if offcut.layer is not None] == [
        (499.0, 1)
    ]


def test_every_cut_belongs_to_a_fence_setting() -> None:
    """Thicknesses that differ by rounding are one setting, and no cut of it is left out."""
    wanted = [WantedBlock(n, 38.1 + n * 1e-9, 115.0, 150.0) for n in range(1, 5)]
    plan = cut_plan([Board("thick", None, 400.0, 300.0, 50.0)], wanted, CuttingSettings())
    by_fence = cuts_by_fence(plan)
    assert [(fence.stage, fence.cuts) for fence, _ in by_fence][-1] == (Stage.SLICE, 4)
    assert all(cut.stage == fence.stage for fence, cuts in by_fence for _, cut in cuts)
    assert [len(cuts) for _, cuts in by_fence] == [fence.cuts for fence in plan.fences]
    assert sum(fence.cuts for fence in plan.fences) == sum(len(billet.cuts) for billet in plan.billets)


def test_what_is_missing_is_named_with_what_to_buy() -> None:
    """Used up, too thick, too large and no foam at all are different reasons."""
    wanted = [*BODY[2:14], WantedBlock(50, 130.0, 115.0, 150.0), WantedBlock(51, 20.0, 700.0, 700.0)]
    plan = cut_plan([Board("foam", 1, 400.0, 300.0, 40.0)], wanted, CuttingSettings())
    reasons = {shortage.reason: (shortage.blocks, shortage.buy) for shortage in plan.shortages}
    assert reasons["no foam is 130 mm thick"] == ((50,), "1 piece of 155 x 120 x 130 mm at least")
    assert reasons["the block is larger than every board"] == ((51,), "1 piece of 705 x 705 x 20 mm at least")
    assert len(reasons["the boards are used up"][0]) == 7
    assert reasons["the boards are used up"][1] == "2 boards of 400 x 300 x 40 mm"
    nothing = cut_plan([], BODY[:1], CuttingSettings())
    assert nothing.shortages[0].buy == "1 piece of 155 x 120 x 20 mm at least"
    assert not cut_plan([XPS_20], [], CuttingSettings()).billets


@pytest.mark.parametrize(
    ("cutting", "named"),
    [
        (CuttingSettings(kerf=-1.0), "kerf"),
        (CuttingSettings(trim=float("nan")), "trim"),
        (CuttingSettings(max_layers=0), "layers"),
        (CuttingSettings(seconds=0.0), "seconds"),
    ],
)
def test_bad_settings_are_named(cutting: CuttingSettings, named: str) -> None:
    """A setting outside its limits is refused by its name, before anything is planned."""
    with pytest.raises(JobError, match=named):
        cutting_settings(FoamSettings(cutting=cutting))


SCRIPT = """
import hashlib
import math
from profiles.foam.cut_plan import cut_plan
from profiles.foam.cutting import CuttingSettings, WantedBlock
from profiles.foam.stock import Board
boards = [Board("a", 4, 800.0, 400.0, 30.0), Board("b", 3, 600.0, 300.0, 50.0)]
boards.append(Board("c", 1, 400.0, 300.0, 40.0, offcut=True))
wanted = [WantedBlock(n, 30.0 - n % 3, 60.0 + 5 * (n * 7 % 11), 80.0 + 5 * (n * 5 % 13)) for n in range(1, 19)]
print(hashlib.sha256(repr(cut_plan(boards, wanted, CuttingSettings(effort=200))).encode()).hexdigest())
"""


def test_the_same_job_gives_the_same_plan() -> None:
    """A plan depends on nothing but the job: not on the run, nor on how sets and dicts are hashed."""
    digests = []
    for seed in ("0", "1", "4242"):
        run = subprocess.run(
            [sys.executable, "-c", SCRIPT],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(Path(__file__).parents[2])},
            capture_output=True,
            text=True,
            check=True,
        )
        digests.append(run.stdout.strip())
    assert len(digests[0]) == len(hashlib.sha256(b"").hexdigest())
    assert len(set(digests)) == 1
