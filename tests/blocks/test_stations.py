"""Stations: full blocks from the tail, odd ones where they are wanted, breaks kept."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from profiles.blocks.stations import SAME_PLACE, StationPlan, plan_stations, share_out
from profiles.errors import JobError


def thicknesses(plan: StationPlan) -> list[float]:
    return [round(span.thickness, 6) for span in plan.spans]


def test_570_in_40_with_thinnest_20() -> None:
    """570 mm in 40 mm foam with a thinnest block of 20 gives 13 full blocks and two odd ones that share 50 mm (common
    practice).
    """
    plan = plan_stations(length=570, foam=40, min_block=20)
    assert thicknesses(plan) == [20, 30, *[40] * 13]
    assert [span.number for span in plan.odd_spans] == [1, 2]


def test_570_in_58() -> None:
    """570 mm in 58 mm foam gives nine full blocks and 48 mm left (common practice)."""
    assert thicknesses(plan_stations(length=570, foam=58)) == [48, *[58] * 9]


@pytest.mark.parametrize(
    ("odd", "expected"),
    [("nose", [30, 40, 40]), ("tail", [40, 40, 30]), ("both", [15, 40, 40, 15])],
)
def test_odd_blocks_go_where_they_are_wanted(odd: str, expected: list[float]) -> None:
    """The remainder lies at the nose, at the tail, or half at either end."""
    assert share_out(110, 40, odd) == expected


def test_remainder_too_thin_for_both_ends_takes_a_full_block_with_it() -> None:
    """With 10 mm over and a thinnest block of 10, both ends share 50 mm."""
    assert share_out(570, 40, "both", 10) == [25, *[40] * 13, 25]


def test_need_is_taken_from_several_neighbours_when_one_cannot_spare_it() -> None:
    """10 mm over with a thinnest block of 30 in 40 mm foam is made up from the next two blocks."""
    assert share_out(570, 40, "nose", 30) == [30, 30, 30, *[40] * 12]


def test_length_that_divides_has_no_odd_block() -> None:
    """Rounding in the length makes no block of a millionth of a millimetre."""
    assert thicknesses(plan_stations(length=560 + 1e-9, foam=40)) == [40] * 14
    assert thicknesses(plan_stations(length=0.1 + 0.2, foam=0.1, min_block=0)) == [0.1] * 3


def test_break_is_a_station_and_both_stretches_are_filled_alike() -> None:
    """A forced station splits the plan; each part has its odd block at its own nose end."""
    plan = plan_stations(length=820, foam=40, breaks=(432,))
    assert 432 in plan.stations
    assert thicknesses(plan) == [32, *[40] * 10, 28, *[40] * 9]


def test_break_near_a_step_is_moved_onto_it() -> None:
    """A break given to a tenth of a millimetre meets the wall in the hull exactly."""
    step = 432.0310000001
    plan = plan_stations(length=820, foam=40, breaks=(432,), steps=(step,))
    assert step in plan.stations
    assert not plan.notes


def test_step_inside_a_block_is_told_with_the_option_that_helps() -> None:
    """A wall across the hull that no station meets is a warning that names --break."""
    (note,) = plan_stations(length=820, foam=40, steps=(432.0,)).notes
    assert "--break 432.00" in note.text


def test_stretch_shorter_than_the_thinnest_block_is_told() -> None:
    """Two breaks 5 mm apart make a block of 5 mm, with a warning."""
    plan = plan_stations(length=200, foam=40, breaks=(100, 105))
    assert 5 in thicknesses(plan)
    assert any("only 5.00 mm" in note.sentence for note in plan.notes)


@pytest.mark.parametrize(
    ("wishes", "words"),
    [
        ({"foam": 0}, "above 0"),
        ({"foam": float("nan")}, "above 0"),
        ({"min_block": 50}, "between 0 and the foam thickness"),
        ({"breaks": (900,)}, "outside the hull"),
        ({"breaks": (0,)}, "outside the hull"),
        ({"foam": 0.001, "min_block": 0}, "at most"),
    ],
)
def test_impossible_wishes_are_refused(wishes: dict[str, float], words: str) -> None:
    """Foam without thickness, breaks off the hull and thousands of blocks are refused in words."""
    with pytest.raises(JobError, match=words):
        plan_stations(**({"length": 820.0, "foam": 40.0} | wishes))  # type: ignore[arg-type]


@given(
    length=st.floats(1, 3000),
    foam=st.floats(5, 120),
    odd=st.sampled_from(["nose", "tail", "both"]),
    share=st.floats(0, 1),
)
def test_blocks_add_up_and_keep_their_limits(length: float, foam: float, odd: str, share: float) -> None:
    """Blocks always add up to the length, never exceed the foam, and fall under the thinnest only when they must."""
    least = foam * share
    blocks = share_out(length, foam, odd, least)
    assert sum(blocks) == pytest.approx(length, abs=len(blocks) * 2 * SAME_PLACE)
    assert all(block <= foam + SAME_PLACE for block in blocks)
    count = len(blocks)
    could_keep = count * least <= length
    if could_keep:
        assert all(block >= least - 1e-6 for block in blocks)
