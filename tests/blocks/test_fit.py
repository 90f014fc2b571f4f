"""Planning by fit: equal to trying everything, with few blocks measured."""

import math
import random
import re
from collections import Counter
from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from profiles.blocks.fit import plan_by_fit
from profiles.blocks.fit_search import ALIKE, CARVED_UNIT, OVER, WORTH, Deviation, Tips
from profiles.blocks.stations import SAME_PLACE, StationPlan, plan_stations
from profiles.errors import JobError

Rank = tuple[int, int, int, float]


class Counted:
    """A deviation that counts the requests for each block."""

    def __init__(self, deviation: Deviation) -> None:
        self.deviation = deviation
        self.requests: Counter[tuple[float, float]] = Counter()

    def __call__(self, x_fore: float, x_aft: float) -> float:
        """The deviation, counted."""
        self.requests[x_fore, x_aft] += 1
        return self.deviation(x_fore, x_aft)


def spheroid_sagitta(semi_length: float = 285.0, radius: float = 60.0) -> Deviation:
    """How far the meridian of a spheroid bulges beyond its chord, at right angles to the chord, in closed form.

    The ellipse is a circle stretched: at the middle of the eccentric angle the arc of the unit circle is 1 - cos(half
    the angle) beyond its chord, and stretching turns that into s a b / |(a sin t, b cos t)|.
    """

    def deviation(x_fore: float, x_aft: float) -> float:
        fore, aft = (math.acos(min(1.0, max(-1.0, 1 - x / semi_length))) for x in (x_fore, x_aft))
        middle = (fore + aft) / 2
        slant = math.hypot(semi_length * math.sin(middle), radius * math.cos(middle))
        return (1 - math.cos((aft - fore) / 2)) * semi_length * radius / slant

    return deviation


def every_tip(_x_fore: float, _x_aft: float) -> bool:
    return True


def random_table(seed: int, length: int) -> dict[tuple[int, int], float]:
    """A deviation for each block between whole places, without any order in it; a few are carved."""
    dice = random.Random(seed)  # noqa: S311 - a table, not a secret
    values = [0.1, 0.3, 0.7, 0.9, 1.2, 2.0, math.inf]
    return {(fore, aft): dice.choice(values) for fore in range(length) for aft in range(fore + 1, length + 1)}


def looked_up(table: dict[tuple[int, int], float]) -> Deviation:
    """The deviation in a table; blocks that do not lie on whole millimetres cannot be made."""
    return lambda x_fore, x_aft: (
        table[round(x_fore), round(x_aft)] if x_fore.is_integer() and x_aft.is_integer() else math.nan
    )


def looked_up_tips(seed: int) -> Tips:
    """Some blocks on whole millimetres are tips and some are not."""

    def tips(x_fore: float, x_aft: float) -> bool:
        return x_fore.is_integer() and x_aft.is_integer() and (x_fore * 7 + x_aft * 3 + seed) % 2 == 0

    return tips


def rank(stations: tuple[float, ...], foam: float, deviation: Deviation, tips: Tips) -> Rank:
    """What is less is better: blocks, of which a carved one counts as three and one over 1 mm as a thousand and more;
    lengths of carved blocks; odd blocks; largest deviation of the others.
    """
    blocks = list(pairwise(stations))
    values = [math.inf if block in {blocks[0], blocks[-1]} and tips(*block) else deviation(*block) for block in blocks]
    carved = [block for block, value in zip(blocks, values, strict=True) if math.isinf(value)]
    others = [value for value in values if math.isfinite(value)]
    count = 3 * len(carved) + sum(1 if value <= 1 else round(OVER * value**2) for value in others)
    length = sum(math.ceil((aft - fore) / CARVED_UNIT) for fore, aft in carved)
    odd = sum(abs(aft - fore - foam) >= SAME_PLACE for fore, aft in blocks)
    return count, length, odd, max(others, default=0.0)


def largest_deviation(plan: StationPlan, deviation: Deviation, *, tips: Tips | None = None) -> float:
    """The largest deviation of a plan's blocks in mm; a first or last block that is a tip does not count."""
    blocks = list(pairwise(plan.stations))
    exempt = {block for block in (blocks[0], blocks[-1]) if tips and tips(*block)}
    return max((deviation(*block) for block in blocks if block not in exempt), default=0.0)


def brute_force(length: int, foam: int, least: int, deviation: Deviation, tips: Tips) -> list[Rank]:
    """The rank of every plan whose stations are whole millimetres."""
    return [
        rank(tuple(map(float, (0, *inner, length))), foam, deviation, tips)
        for count in range(length)
        for inner in combinations(range(1, length), count)
        if all(least <= aft - fore <= foam for fore, aft in pairwise((0, *inner, length)))
    ]


def no_tip(_x_fore: float, _x_aft: float) -> bool:
    return False


@given(
    seed=st.integers(0, 10**6),
    length=st.integers(2, 9),
    foam=st.integers(2, 5),
    least=st.integers(1, 2),
    tip=st.booleans(),
)
def test_plan_equals_brute_force(seed: int, length: int, foam: int, least: int, *, tip: bool) -> None:
    """Over every plan on the grid and deviations in no order at all, the blocks, carved blocks, full blocks and the
    largest deviation are the best there are; where none keeps the limit, a warning names the largest deviation.
    """
    deviation = looked_up(random_table(seed, length))
    carved: Tips = looked_up_tips(seed) if tip else no_tip
    counted = Counted(deviation)
    ranks = brute_force(length, foam, least, deviation, carved)
    if ranks:
        plan = plan_by_fit(length=float(length), foam=foam, limit=1, min_block=least, deviation=counted, tips=carved)
        *best, worst = rank(plan.stations, foam, deviation, carved)
        *wanted, least_worst = min(ranks)
        assert best == wanted
        assert worst <= max(least_worst / (1 - WORTH), least_worst + ALIKE) or worst > 1
        over = [note.sentence for note in plan.notes if "No plan keeps every block within 1 mm" in note.sentence]
        assert len(over) == (worst > 1)
        assert not over or f"up to {worst:.2f} mm off" in over[0]
    assert all(times == 1 for times in counted.requests.values())


@given(seed=st.integers(0, 10**6), length=st.integers(2, 9), foam=st.integers(2, 5))
def test_plan_with_the_assumption_equals_brute_force_where_the_assumption_is_true(
    seed: int, length: int, foam: int
) -> None:
    """Where a block deviates at least as much as all within it, assuming so changes nothing in the plan."""
    table = random_table(seed, length)
    rising = {
        (fore, aft): max(d for (low, high), d in table.items() if fore <= low and high <= aft)
        / (1 + length - aft + fore)
        for fore, aft in table
    }
    closed = {b: max(d for c, d in rising.items() if b[0] <= c[0] and c[1] <= b[1]) for b in rising}
    deviation = looked_up(closed)
    good = [r for r in brute_force(length, foam, 1, deviation, no_tip) if r[3] <= 1]
    if good:
        plan = plan_by_fit(
            length=float(length), foam=foam, limit=1, min_block=1, deviation=deviation, thinner_fits_better=True
        )
        assert rank(plan.stations, foam, deviation, no_tip)[:3] == min(good)[:3]
        worst = rank(plan.stations, foam, deviation, no_tip)[3]
        assert worst <= max(min(good)[3] / (1 - WORTH), min(good)[3] + ALIKE)


@given(seed=st.integers(0, 10**6), length=st.integers(2, 9), foam=st.integers(2, 5))
def test_plan_with_the_assumption_keeps_the_limit_where_the_assumption_is_nearly_true(
    seed: int, length: int, foam: int
) -> None:
    """With deviations up to a tenth off the order that is assumed, a plan is found whenever there is one, and each of
    its blocks keeps the limit.
    """
    dice = random.Random(seed)  # noqa: S311 - a table, not a secret
    table = {
        (fore, aft): 0.1 * (aft - fore) ** 2 * dice.uniform(0.9, 1.1)
        for fore in range(length)
        for aft in range(fore + 1, length + 1)
    }
    deviation = looked_up(table)
    plan = plan_by_fit(
        length=float(length), foam=foam, limit=0.35, min_block=1, deviation=deviation, thinner_fits_better=True
    )
    assert largest_deviation(plan, deviation) <= 0.35


def test_closed_form_of_the_tests_is_the_sagitta_on_a_circle() -> None:
    """The sagitta r - sqrt(r^2 - c^2/4) (elementary geometry) is 0.501256 for 100, 20 and 0.260530 for 300, 25."""
    assert spheroid_sagitta(100, 100)(90, 110) == pytest.approx(0.501256, abs=1e-6)
    assert spheroid_sagitta(300, 300)(287.5, 312.5) == pytest.approx(0.260530, abs=1e-6)


@pytest.mark.parametrize("thinner_fits_better", [False, True])
@pytest.mark.parametrize("thickness", range(20, 41, 4))
def test_never_more_blocks_than_uniform_slicing(thickness: int, *, thinner_fits_better: bool) -> None:
    """With the largest deviation that slices of one thickness have, thicker foam needs no more blocks than those."""
    deviation = spheroid_sagitta()
    uniform = plan_stations(length=570, foam=thickness)
    limit = largest_deviation(uniform, deviation, tips=every_tip)
    for foam in (thickness, 40):
        plan = plan_by_fit(
            length=570,
            foam=foam,
            limit=limit,
            deviation=deviation,
            tips=every_tip,
            thinner_fits_better=thinner_fits_better,
        )
        assert len(plan.spans) <= len(uniform.spans)
        assert largest_deviation(plan, deviation, tips=every_tip) <= limit


@pytest.mark.parametrize("odd", ["nose", "tail", "both"])
@pytest.mark.parametrize("foam", [38.1, 57.15, 40])
def test_never_more_blocks_than_the_plan_by_thickness(foam: float, odd: str) -> None:
    """Also where the foam is no whole number of millimetres, its stations are among those tried."""
    deviation = spheroid_sagitta()
    plain = plan_stations(length=571.3, foam=foam, odd=odd)
    limit = largest_deviation(plain, deviation) + 1e-9  # the same stations, added up in another order
    plan = plan_by_fit(length=571.3, foam=foam, limit=limit, deviation=deviation, thinner_fits_better=True)
    assert len(plan.spans) <= len(plain.spans)
    assert len(plan.odd_spans) <= len(plain.odd_spans)


def test_blocks_are_thinner_towards_the_ends_of_a_spheroid() -> None:
    """The sagitta h^2 / 8R is largest where R is least: from the tips inwards no block is thinner than the one before,
    but for one that takes up the rest.
    """
    plan = plan_by_fit(
        length=570, foam=40, limit=0.25, deviation=spheroid_sagitta(), tips=every_tip, thinner_fits_better=True
    )
    thickness = [span.thickness for span in plan.spans[1:-1]]
    assert thickness[0] < 25
    assert thickness[-1] < 25
    assert 40 in thickness
    middle = len(thickness) // 2
    assert thickness[:middle] == sorted(thickness[:middle])
    assert thickness[middle:] == sorted(thickness[middle:], reverse=True)


def test_full_blocks_are_preferred() -> None:
    """Where any plan fits, the plan is that by thickness alone: full blocks from the tail, one odd one at the nose."""
    plan = plan_by_fit(length=570, foam=40, limit=1, deviation=lambda _fore, _aft: 0.0)
    assert [span.thickness for span in plan.spans] == [10, *[40] * 14]
    assert len(plan.odd_spans) == 1


@pytest.mark.parametrize("thinner_fits_better", [False, True])
def test_breaks_are_kept_and_moved_onto_steps(*, thinner_fits_better: bool) -> None:
    """A break is a station; one given to a tenth of a millimetre meets the step exactly."""
    step = 300.0310000001
    plan = plan_by_fit(
        length=570,
        foam=40,
        limit=0.5,
        breaks=(200, 300),
        steps=(step,),
        deviation=spheroid_sagitta(),
        tips=every_tip,
        thinner_fits_better=thinner_fits_better,
    )
    assert {200, step} <= set(plan.stations)
    assert not plan.notes
    assert plan.stations[-1] == 570


def test_station_is_put_at_a_step_that_a_block_cannot_cross() -> None:
    """A step lies on the grid wherever it is, so the plan finds it by itself; full blocks start from it."""
    step = 140.4321

    def deviation(x_fore: float, x_aft: float) -> float:
        return 9.0 if x_fore < step < x_aft else 0.1

    plan = plan_by_fit(length=400, foam=40, limit=1, steps=(step,), deviation=deviation)
    assert step in plan.stations
    assert len(plan.spans) == math.ceil(step / 40) + math.ceil((400 - step) / 40)
    assert len(plan.odd_spans) == 2
    assert not plan.notes


def test_step_inside_a_block_that_fits_is_reported() -> None:
    """A step small enough for the limit stays in its block, with the note that any plan gives."""
    plan = plan_by_fit(length=400, foam=40, limit=1, steps=(150.4321,), deviation=lambda _fore, _aft: 0.0)
    assert "--break 150.43" in plan.notes[0].text


def test_stretch_shorter_than_the_thinnest_block_is_reported() -> None:
    """Two breaks 5 mm apart make a block of 5 mm, with the note that any plan gives."""
    plan = plan_by_fit(length=200, foam=40, limit=1, breaks=(100, 105), deviation=lambda _fore, _aft: 0.0)
    assert [span.thickness for span in plan.spans if span.thickness < 10] == [5]
    assert any("only 5.00 mm" in note.sentence for note in plan.notes)


def test_stretch_that_cannot_be_shared_is_halved() -> None:
    """50 mm in foam of 40 with a thinnest block of 30 is two blocks of 25, as in any plan."""
    plan = plan_by_fit(length=50, foam=40, limit=1, min_block=30, deviation=lambda _fore, _aft: 0.0)
    assert [span.thickness for span in plan.spans] == [25, 25]


def test_tips_are_carved_and_no_longer_than_they_need_be() -> None:
    """Blocks at pointed ends are carved whatever their length; they count as three, so the plan has no more blocks than
    one with the thinnest tips, and not more than the last 5 mm of them could be wire-cut instead.
    """
    within = spheroid_sagitta()

    def deviation(x_fore: float, x_aft: float) -> float:
        return math.inf if x_fore == 0 or x_aft == 570 else within(x_fore, x_aft)

    plan = plan_by_fit(length=570, foam=40, limit=0.5, deviation=deviation, thinner_fits_better=True)
    ends = plan.spans[0], plan.spans[-1]
    assert largest_deviation(plan, deviation, tips=every_tip) <= 0.5
    inner = plan_by_fit(length=570, foam=40, limit=0.5, breaks=(10, 560), deviation=deviation, thinner_fits_better=True)
    assert len(plan.spans) <= len(inner.spans)
    shorter = sum(span.thickness for span in ends) - 20
    if len(plan.spans) == len(inner.spans):
        assert shorter < 5
    known = plan_by_fit(
        length=570, foam=40, limit=0.5, deviation=deviation, tips=lambda fore, aft: fore == 0 or aft == 570
    )
    assert len(known.spans) == len(plan.spans)


def test_carved_block_counts_as_three() -> None:
    """Where 20 mm in the middle can be carved in one block or cut by wire in two, three or four, it is carved only in
    place of four.
    """

    def deviation_of(count: int) -> Deviation:
        def deviation(x_fore: float, x_aft: float) -> float:
            if x_aft <= 40 or x_fore >= 60:
                return 0.0
            return 0.0 if x_fore >= 40 and x_aft <= 60 and x_aft - x_fore <= 20 / count + 1e-9 else math.inf

        return deviation

    for count, blocks in ((2, 2), (3, 3), (4, 1)):
        plan = plan_by_fit(
            length=100, foam=40, limit=1, min_block=5, breaks=(40, 60), grid=1, deviation=deviation_of(count)
        )
        middle = [span for span in plan.spans if 40 <= span.x_fore < 60]
        # Thirds of 20 mm do not lie on the grid of 1 mm, so three blocks are not to be had, and one is carved.
        assert len(middle) == (1 if count == 3 else blocks)


def test_of_equal_plans_the_one_with_short_tips_is_taken() -> None:
    """What is carved by eye is kept short: the odd block is the tip."""
    plan = plan_by_fit(
        length=570,
        foam=40,
        limit=1,
        deviation=lambda _fore, _aft: 0.0,
        tips=lambda _fore, x_aft: x_aft == 570,
    )
    assert [span.thickness for span in plan.spans] == [*[40] * 14, 10]


def test_warning_names_where_what_and_what_helps() -> None:
    """Without tips a spheroid's blunt end deviates 2.14 mm in the thinnest block of 10 mm; both remedies help."""
    deviation = spheroid_sagitta()
    assert deviation(0, 10) == pytest.approx(2.1389, abs=1e-4)

    def plan(limit: float, min_block: float) -> StationPlan:
        return plan_by_fit(length=570, foam=40, limit=limit, min_block=min_block, breaks=(300,), deviation=deviation)

    (note,) = plan(1, 10).notes
    words = note.sentence
    assert "No plan keeps every block within 1 mm of the hull" in words
    assert "up to 2.14 mm off, the most in block 01 from x = 0.00 to 10.00 mm" in words
    found = re.search(r"--fit (\d+\.\d+)", words)
    assert found
    assert len(plan(float(found[1]), 10).spans) == 17
    assert not plan(float(found[1]), 10).notes
    assert largest_deviation(plan(1, 2), deviation) <= 1


@pytest.mark.parametrize(
    ("limit", "thinner_fits_better", "most"),
    [(1.0, False, 40), (0.5, False, 450), (0.25, False, 1800), (1.0, True, 60), (0.5, True, 200), (0.25, True, 120)],
)
def test_few_blocks_are_measured(limit: float, most: int, *, thinner_fits_better: bool) -> None:
    """Of the 16,600 blocks between the places of a spheroid, some hundreds are measured, and each once."""
    counted = Counted(spheroid_sagitta())
    plan = plan_by_fit(
        length=570, foam=40, limit=limit, deviation=counted, tips=every_tip, thinner_fits_better=thinner_fits_better
    )
    assert len(plan.spans) == (16 if limit == 0.25 else 15)
    assert counted.requests.total() <= most
    assert set(counted.requests.values()) == {1}


def test_same_settings_give_the_same_plan() -> None:
    """Two searches end at the same stations, to the last bit."""

    def once() -> StationPlan:
        return plan_by_fit(length=570, foam=38.1, limit=0.5, deviation=spheroid_sagitta(), tips=every_tip)

    assert once() == once()


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"limit": 0.0}, "largest deviation above 0"),
        ({"limit": math.nan}, "largest deviation above 0"),
        ({"grid": 0.0}, "grid of stations above 0"),
        ({"foam": 0.0}, "foam thickness above 0"),
        ({"breaks": (900.0,)}, "outside the hull"),
    ],
)
def test_impossible_settings_are_refused(settings: dict[str, float], words: str) -> None:
    """A limit, a grid or foam of nothing and breaks off the hull are refused in words."""
    with pytest.raises(JobError, match=words):
        plan_by_fit(**({"length": 820.0, "foam": 40.0, "limit": 1.0} | settings), deviation=spheroid_sagitta())  # type: ignore[arg-type]
