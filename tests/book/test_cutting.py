"""Billet drawings and lists of cuts: true to scale, complete, readable."""

import re
from collections import Counter
from collections.abc import Callable
from itertools import pairwise

import hypothesis
import numpy as np
import pytest
from hypothesis import strategies as st

from profiles.book.billetmap import spread
from profiles.book.billetparts import slice_views
from profiles.book.billetview import billet_view
from profiles.book.book import book_pages
from profiles.book.contents import BookContents
from profiles.book.cutlist import group_alike, runs_of
from profiles.book.cutting import CUTTING, FENCES
from profiles.book.foam import LAYERS
from profiles.foam.cut_plan import cut_plan
from profiles.foam.cutting import Billet, Box3, CuttingSettings, Stage, WantedBlock
from profiles.foam.figures import cuts_by_fence
from profiles.foam.stock import Board
from profiles.paper.drawing import Drawing, Role
from profiles.units import number_runs
from tests.sampling import examples

Clashes = Callable[[Drawing], list[tuple[str, str]]]
Hand = Callable[..., BookContents]


def _billets(contents: BookContents) -> tuple[Billet, ...]:
    assert contents.plan
    return contents.plan.billets


def _boxes(drawing: Drawing, kind: str) -> list[tuple[float, float, float, float]]:
    """Left, top, right and bottom of the areas of a kind, in order of their places."""
    rings = [area.rings[0] for area in drawing.areas if area.kind == kind]
    return sorted((*ring.min(axis=0).tolist(), *ring.max(axis=0).tolist()) for ring in rings)


def _expected(places: list[Box3], ratio: float, zero: tuple[float, float]) -> list[tuple[float, float, float, float]]:
    return sorted(
        (
            zero[0] + box.x / ratio,
            zero[1] + box.y / ratio,
            zero[0] + (box.x + box.along) / ratio,
            zero[1] + (box.y + box.across) / ratio,
        )
        for box in places
    )


@pytest.mark.parametrize("ratio", [3.0, 5.0, 12.0])
def test_billets_are_drawn_to_scale(large: BookContents, ratio: float) -> None:
    """Edges of foam, blocks, offcuts and cuts lie where the scale puts them, to a millionth of a millimetre."""
    for billet in _billets(large):
        view = billet_view([billet], ratio)
        (foam,) = view.drawing.of_role(Role.BOX)
        size = np.ptp(foam.points, axis=0) * ratio
        assert size == pytest.approx((billet.kind.length, billet.kind.width), abs=1e-6)
        whole = [one.place for one in billet.offcuts if one.layer is None and one.place.thick > 39.9]
        flat = [cut.slot for cut in billet.cuts if cut.stage not in {Stage.DOWN, Stage.SLICE}]
        for kind, places in (
            ("block", [one.place for one in billet.blocks]),
            ("offcut", whole),
            ("slot", flat),
        ):
            found = np.array(_boxes(view.drawing, kind))
            assert found == pytest.approx(np.array(_expected(places, ratio, view.zero)), abs=1e-6), kind


def test_the_scale_is_said(hand: Hand) -> None:
    """A page that says 1:n shows a block of 200 mm as 200/n mm wide."""
    pages = [page for page in book_pages(hand(1)) if CUTTING in page.chapters]
    seen = 0
    for page in pages:
        for label in page.drawing.labels:
            for ratio in re.findall(r"Drawn 1:([\d.]+), from above", label.text):
                foam = next(stroke for stroke in page.drawing.of_role(Role.BOX) if len(stroke.points) == 4)
                assert np.ptp(foam.points[:, 0]) * float(ratio) == pytest.approx(1000.0, abs=1e-6)
                seen += 1
    assert seen == 1


def test_alike_billets_share_a_page(hand: Hand) -> None:
    """Three billets that are cut alike are one drawing: make 3, with the block numbers of all three in each place."""
    contents = hand(3)
    (group,) = group_alike(_billets(contents))
    view = billet_view(group, 5.0)
    assert [label.text for label in view.numbers] == ["01, 04, 07", "02, 05, 08", "03, 06, 09"]
    texts = [label.text for page in book_pages(contents) for label in page.drawing.labels]
    assert "Billets 1 to 3: make 3 of these" in texts


def test_too_many_alike_are_parted(hand: Hand) -> None:
    """Six alike are drawn as four and two; one that differs stands alone."""
    billets = _billets(hand(6))
    assert [len(group) for group in group_alike(billets)] == [4, 2]
    assert [len(group) for group in group_alike([*billets[:2], *_billets(hand(1, 199.0))])] == [2, 1]


@pytest.mark.parametrize("size", [8.0, 14.0, 30.0, 300.0])
def test_small_blocks_keep_their_numbers(hand: Hand, clashes: Clashes, size: float) -> None:
    """However small a block is drawn, its number is there once and on no other label."""
    (group,) = group_alike(_billets(hand(2, size)))
    view = billet_view(group, 6.0)
    numbers = [int(number) for label in view.numbers for number in re.findall(r"\d+", label.text)]
    assert sorted(numbers) == [1, 2, 3, 4, 5, 6]
    assert clashes(view.drawing) == []
    assert (view.outside > 0) == (size < 20)


def test_every_cut_is_listed_once(large: BookContents, hand: Hand) -> None:
    """The lists beside the drawings hold every cut of their billet once, with the fence it has."""
    for contents in (large, hand(2)):
        for billet in _billets(contents):
            listed = [cut for run in runs_of(billet) for cut in run.cuts]
            assert sorted(cut.number for cut in listed) == sorted(cut.number for cut in billet.cuts)
            assert all(len({(cut.stage, cut.fence) for cut in run.cuts}) == 1 for run in runs_of(billet))


def test_places_of_cuts_in_words(hand: Hand) -> None:
    """The hand-set billet's cuts are described by edge, strip and blank."""
    places = {str(run.cuts[0].stage): run.where for run in runs_of(_billets(hand(1))[0])}
    assert places == {
        "cut down": "boards, before gluing",
        "square": "short edge",
        "strip": "whole billet",
        "across": "strip 1",
        "slice": "strip 1, blank 3",
    }


def test_the_fence_list_holds_all_cuts(large: BookContents, hand: Hand) -> None:
    """Each setting has as many cuts as the plan says, and together they are all cuts."""
    for contents in (large, hand(3)):
        plan = contents.plan
        assert plan
        settings = cuts_by_fence(plan)
        assert [len(own) for _, own in settings] == [one.cuts for one in plan.fences]
        every = Counter(cut.number for _, own in settings for _, cut in own)
        assert every == Counter(cut.number for billet in plan.billets for cut in billet.cuts)
        pages = [page for page in book_pages(contents) if FENCES in page.chapters]
        texts = [label.text for page in pages for label in page.drawing.labels]
        assert texts[texts.index("all cuts") - 1] == str(len(every))


def test_what_is_not_seen_from_above_is_sketched(hand: Hand) -> None:
    """Slices are drawn on the billet's page, boards cut down among the layers, each with its number and fence."""
    contents = hand(2)
    pages = book_pages(contents)
    for billet in _billets(contents):
        for cut in billet.cuts:
            chapter = {Stage.SLICE: CUTTING, Stage.DOWN: LAYERS}.get(cut.stage)
            if chapter:
                said = [label.text for page in pages if chapter in page.chapters for label in page.drawing.labels]
                assert said.count(f"cut {cut.number}, fence {cut.fence:.1f}") == 1


def test_blanks_sliced_alike_have_one_sketch() -> None:
    """Five blanks that lose the same slice are one sketch that names all their blocks and cuts."""
    wanted = [WantedBlock(k, 38.0, 150.0, 200.0) for k in range(1, 6)]
    plan = cut_plan((Board("XPS", None, 1250.0, 600.0, 40.0),), wanted, CuttingSettings(effort=0))
    (billet,) = plan.billets
    (sketch,) = slice_views(billet)
    slices = [cut.number for cut in billet.cuts if cut.stage is Stage.SLICE]
    assert len(slices) == 5
    texts = [label.text for label in sketch.labels]
    assert "blocks 01 to 05: 38.0" in texts
    assert f"cuts {slices[0]} to {slices[-1]}, fence 38.0" in texts


def test_cuts_have_their_numbers(hand: Hand) -> None:
    """Where there is room every cut that shows as a line carries its number."""
    view = billet_view(_billets(hand(1))[:1], 5.0)
    assert sorted(view.tagged) == [2, 3, 4, 5, 6, 7]
    assert view.is_clear


@hypothesis.settings(max_examples=examples(40, 4), deadline=None)
@hypothesis.given(
    sizes=st.lists(st.tuples(st.integers(20, 380), st.integers(20, 380)), min_size=1, max_size=9),
    ratio=st.sampled_from([4.0, 8.0, 15.0]),
)
def test_any_plan_can_be_read(clashes: Clashes, sizes: list[tuple[int, int]], ratio: float) -> None:
    """Whatever is cut, numbers and sizes in a billet's drawing lie clear of each other, and every block has its own."""
    wanted = [WantedBlock(k, 40.0, float(high), float(wide)) for k, (high, wide) in enumerate(sizes, start=1)]
    plan = cut_plan((Board("XPS", None, 1250.0, 600.0, 40.0),), wanted, CuttingSettings(effort=0))
    found: list[int] = []
    for group in group_alike(plan.billets):
        view = billet_view(group, ratio)
        assert clashes(view.drawing) == []
        found += [int(number) for label in view.numbers for number in re.findall(r"\d+", label.text)]
    assert sorted(found) == [block.number for block in wanted]


@hypothesis.given(places=st.lists(st.floats(0.0, 100.0), max_size=12), pitch=st.floats(0.1, 10.0))
def test_spread_keeps_order_and_pitch(places: list[float], pitch: float) -> None:
    """Spread places stand a pitch apart in their order, and not moved where they had room."""
    found = spread(places, pitch)
    order = sorted(range(len(places)), key=lambda k: (places[k], k))
    for one, other in pairwise(order):
        assert found[other] - found[one] >= pitch - 1e-9
    if all(places[b] - places[a] >= pitch for a, b in pairwise(order)):
        assert found == pytest.approx(places)


def test_spread_keeps_within_its_span() -> None:
    """Places near an end are moved away from it as far as they need, in their order."""
    assert spread([1.0, 1.5, 50.0, 99.0, 99.5], 10.0, 5.0, 95.0) == pytest.approx([5.0, 15.0, 50.0, 85.0, 95.0])


def test_runs() -> None:
    """Three and more that follow one another are drawn together."""
    assert number_runs([9, 1, 2, 4, 5, 6], digits=1) == "1, 2, 4 to 6, 9"
