from dataclasses import replace

import pytest

from profiles.errors import JobError
from profiles.foam.stock import (
    STANDARD_THICKNESSES,
    Board,
    describe_tolerance,
    normalize_board,
    normalize_stock,
    standard_stock,
    thickness_tolerance,
)

PLAIN = Board("XPS 40", 3, 1250.0, 600.0, 40.0, foam="XPS")


@pytest.mark.parametrize("thickness", STANDARD_THICKNESSES)
def test_foam_that_makers_list_is_bought_as_named(thickness: float) -> None:
    """Boards 1250 x 600 of the named thickness alone, for each thickness of XPS makers' lists (EN 13164 boards)."""
    (board,) = standard_stock(thickness)
    assert (board.length, board.width, board.thickness, board.count, board.foam) == (1250, 600, thickness, None, "XPS")
    assert board.name == f"XPS 1250 x 600 x {thickness:g}"


def test_foam_in_inches_is_bought_in_inches() -> None:
    """1.5 in foam is sold 8 ft long and 2 or 4 ft wide (common practice), whatever the job is printed in."""
    for inches in (False, True):
        boards = standard_stock(38.1, inches=inches)
        assert [round(board.length / 304.8, 6) for board in boards] == [8, 8]
        assert [round(board.width / 304.8, 6) for board in boards] == [2, 4]
        assert {board.thickness for board in boards} == {38.1}


def test_foam_that_nobody_sells_comes_from_the_next_thicker_board() -> None:
    """58 mm is sliced out of 60 mm, or out of 2.5 in in a job in inches; 120 mm is glued of any boards."""
    assert [board.thickness for board in standard_stock(58.0)] == [60]
    assert {board.thickness for board in standard_stock(58.0, inches=True)} == {63.5}
    assert [board.thickness for board in standard_stock(120.0)] == list(STANDARD_THICKNESSES)


@pytest.mark.parametrize(
    ("thickness", "sides"),
    [(20, (2, 2)), (49.9, (2, 2)), (50, (2, 3)), (120, (2, 3)), (120.1, (2, 6)), (200, (2, 6))],
)
def test_tolerance_by_class_t1(thickness: float, sides: tuple[float, float]) -> None:
    """EN 13164 class T1: under 50 mm +-2, 50 to 120 mm -2/+3, over 120 mm -2/+6 (XPS makers' data sheets)."""
    board = replace(PLAIN, thickness=float(thickness))
    assert thickness_tolerance(board) == sides
    assert describe_tolerance(board) == "EN 13164 class T1"
    assert "assumed" in describe_tolerance(replace(board, foam="EPS"))


def test_a_given_tolerance_comes_before_measured_and_measured_before_the_standard() -> None:
    """A measured board has the caliper's error; a tolerance in the job holds for both."""
    measured = replace(PLAIN, measured=39.4)
    assert measured.actual_thickness == 39.4
    assert thickness_tolerance(measured) == (0.1, 0.1)
    assert "0.1 mm" in describe_tolerance(measured)
    assert thickness_tolerance(replace(measured, tolerance=(0.3, 0.0))) == (0.3, 0.0)


def test_length_is_the_longer_side() -> None:
    """A board given the other way round is turned, and a turned board stays."""
    turned = normalize_board(replace(PLAIN, length=600.0, width=1250.0))
    assert turned == PLAIN
    assert normalize_board(turned) == turned


@pytest.mark.parametrize(
    ("board", "name"),
    [
        (replace(PLAIN, name=" "), "XPS 1250 x 600 x 40"),
        (replace(PLAIN, name="", foam=""), "board 1250 x 600 x 40"),
        (replace(PLAIN, name="", offcut=True, length=300.0, width=412.5), "XPS offcut 412.5 x 300 x 40"),
        (replace(PLAIN, name="", offcut=True, foam=""), "offcut 1250 x 600 x 40"),
    ],
)
def test_name_from_figures(board: Board, name: str) -> None:
    """A board without a name is called by its foam and its sizes."""
    assert normalize_board(board).name == name


def test_names_are_unique_and_order_stays() -> None:
    """Boards of one name are numbered, also where the numbered name is taken already."""
    stock = normalize_stock(
        [PLAIN, replace(PLAIN, name="XPS 40 (2)"), replace(PLAIN, count=1), replace(PLAIN, count=2)]
    )
    assert [board.name for board in stock] == ["XPS 40", "XPS 40 (2)", "XPS 40 (3)", "XPS 40 (4)"]
    assert [board.count for board in stock] == [3, 3, 1, 2]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"count": 0}, "expected a count of 1 or more, found 0"),
        ({"length": 0.0, "width": 0.0}, "expected a length between 1 and 100000 mm, found 0"),
        ({"width": -600.0}, "expected a width between 1 and 100000 mm, found -600"),
        ({"length": 1.25e6}, "expected a length between 1 and 100000 mm, found 1.25e+06"),
        ({"thickness": float("nan")}, "expected a thickness between 1 and 100000 mm, found nan"),
        ({"measured": 19.0}, "measured 19 mm, but the nominal thickness is 40 mm"),
        ({"measured": float("nan")}, "measured nan mm"),
        ({"tolerance": (2.0, 40.0)}, "expected a tolerance above from 0 to less than 40 mm, found 40"),
        ({"tolerance": (-1.0, 1.0)}, "expected a tolerance below from 0 to less than 40 mm, found -1"),
        ({"price": -1.0}, "expected a price of 0 or more, found -1"),
    ],
)
def test_nonsense_is_refused_by_name(changes: dict[str, float], words: str) -> None:
    """What cannot be a board is refused, with its name, what was expected and what was found."""
    with pytest.raises(JobError) as raised:
        normalize_board(replace(PLAIN, **changes))  # type: ignore[arg-type]
    assert words in raised.value.message
    assert raised.value.message.startswith("XPS 40: ")


def test_all_faults_at_once() -> None:
    """Every board at fault is named in one message; valid ones are not."""
    boards = [replace(PLAIN, name="thin", thickness=0.0), PLAIN, replace(PLAIN, name="none", count=0)]
    with pytest.raises(JobError) as raised:
        normalize_stock(boards)
    assert "thin: " in raised.value.message
    assert "none: " in raised.value.message
    assert "XPS 40" not in raised.value.message
