import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from profiles.errors import JobError
from profiles.foam.accuracy import BlockFoam, actual_thicknesses, length_error
from profiles.foam.stock import Board

FORTY = Board("XPS 40", None, 1250.0, 600.0, 40.0, foam="XPS")
TWENTY = Board("XPS 20", None, 1250.0, 600.0, 20.0, foam="XPS")
FIFTY = Board("XPS 50", None, 1250.0, 600.0, 50.0, foam="XPS")


def test_twenty_one_boards_of_class_t1() -> None:
    """21 x 40 mm at +-2 mm each (EN 13164 class T1): 42 mm at worst, 2 sqrt(21) = 9.165 mm as root sum of squares."""
    end = length_error([BlockFoam(40.0, (FORTY,))] * 21).end
    assert end.x == 840
    assert end.known == 0
    assert end.worst == pytest.approx((42, 42), abs=1e-12)
    assert end.likely == pytest.approx((9.1651513899, 9.1651513899), abs=1e-9)
    assert end.reach == pytest.approx((798, 882), abs=1e-12)


def test_blocks_of_one_billet_share_its_error() -> None:
    """From a single board nothing averages out: the likely error is the worst error; two boards of 11 and 10 blocks
    give 2 sqrt(11^2 + 10^2) (closed form).
    """
    end = length_error([BlockFoam(40.0, (FORTY,), billet=1)] * 21).end
    assert end.likely == pytest.approx(end.worst)
    blocks = [BlockFoam(40.0, (FORTY,), billet=k % 2) for k in range(21)]
    two = length_error(blocks).end
    assert two.worst == pytest.approx((42, 42))
    assert two.likely == pytest.approx((2 * math.sqrt(221),) * 2)


def test_layers_vary_by_themselves() -> None:
    """2 x 20 mm to a block: 4 mm at worst, likely 2 sqrt(2), a glue line thicker; n blocks: sqrt(2 n) * 2."""
    blocks = [BlockFoam(40.0, (TWENTY, TWENTY))] * 13
    error = length_error(blocks, glue=0.2)
    assert error.stations[0].worst == pytest.approx((4, 4))
    assert error.stations[0].likely == pytest.approx((2 * math.sqrt(2),) * 2)
    assert error.end.known == pytest.approx(13 * 0.2)
    assert error.end.likely == pytest.approx((2 * math.sqrt(26),) * 2)
    assert error.glue == 0


def test_sides_of_a_tolerance_are_kept_apart() -> None:
    """50 mm boards are -2/+3 (EN 13164 class T1), so ten of them may lie 20 mm before and 30 mm behind the plan."""
    end = length_error([BlockFoam(50.0, (FIFTY,))] * 10).end
    assert end.worst == pytest.approx((20, 30))
    assert end.likely == pytest.approx((2 * math.sqrt(10), 3 * math.sqrt(10)))


def test_measured_boards_shift_the_stations() -> None:
    """Boards of 40 mm that measure 39.3 put the tenth station at 393, give or take the caliper's 0.1 mm a board."""
    blocks = [BlockFoam(40.0, (replace(FORTY, measured=39.3),))] * 10
    error = length_error(blocks)
    assert error.end.expected == pytest.approx(393)
    assert error.end.worst == pytest.approx((1, 1))
    assert error.end.reach == pytest.approx((392, 394))
    assert actual_thicknesses(blocks) == pytest.approx([39.3] * 10)


def test_glue_between_blocks_makes_the_body_longer() -> None:
    """A row of n blocks has n - 1 glue lines between them, and each face lies aft of those before it."""
    error = length_error([BlockFoam(40.0, (FORTY,))] * 5, joint=0.3)
    assert error.glue == pytest.approx(1.2)
    assert [station.known for station in error.stations] == pytest.approx([0, 0.3, 0.6, 0.9, 1.2])


def test_sliced_blocks_are_as_good_as_the_fence() -> None:
    """A sliced block has the slicing error alone, whatever the foam under it measures, and a billet shares nothing."""
    blocks = [BlockFoam(30.0, (replace(FORTY, measured=39.0),), sliced=True, billet=1)] * 4
    error = length_error(blocks)
    assert actual_thicknesses(blocks) == (30,) * 4
    assert error.end.known == 0
    assert error.end.worst == pytest.approx((2, 2))
    assert error.end.likely == pytest.approx((1, 1))


@given(
    st.lists(st.tuples(st.sampled_from([20.0, 40.0, 50.0]), st.integers(0, 3), st.booleans()), min_size=1, max_size=12)
)
def test_errors_only_grow_and_the_likely_is_never_over_the_worst(parts: list[tuple[float, int, bool]]) -> None:
    """From station to station both sums grow, and the root sum of squares lies between worst / sqrt(n) and worst."""
    boards = {20.0: TWENTY, 40.0: FORTY, 50.0: FIFTY}
    blocks = [
        BlockFoam(size, (boards[size],), sliced=cut, billet=billet * 100 + int(size)) for size, billet, cut in parts
    ]
    stations = length_error(blocks).stations
    for side in (0, 1):
        worst = np.array([station.worst[side] for station in stations])
        likely = np.array([station.likely[side] for station in stations])
        assert np.all(np.diff(worst) > 0)
        assert np.all(np.diff(likely) > 0)
        assert np.all(likely <= worst * (1 + 1e-12))
        assert np.all(likely >= worst / np.sqrt(np.arange(1, len(worst) + 1)) * (1 - 1e-12))


def test_likely_error_is_the_spread_of_many_bodies() -> None:
    """Boards drawn at random with a standard deviation of a third of the tolerance, shared by billet: the spread of
    the length over 20,000 bodies is a third of the root sum of squares within 3 %.
    """
    generator = np.random.default_rng(7)
    billets = [0, 0, 0, 1, 1, 2]
    blocks = [BlockFoam(40.0, (TWENTY, TWENTY), billet=billet) for billet in billets]
    thickness = 20 + generator.normal(0.0, 2 / 3, (20_000, 3, 2))
    lengths = thickness[:, billets, :].sum(axis=(1, 2))
    assert np.std(lengths) == pytest.approx(length_error(blocks).end.likely[0] / 3, rel=0.03)


def test_what_cannot_be_added_up_is_refused() -> None:
    """No blocks at all, or a block of nothing, is reported."""
    with pytest.raises(JobError, match="no block"):
        length_error([])
    with pytest.raises(JobError, match="neither made of boards nor sliced"):
        length_error([BlockFoam(40.0)])
