"""Foam at hand: boards and offcuts in the shed, and what shops sell if the job names none.

Lengths in mm. A board's length runs along the strips that are cut from it. Its thickness is what the maker states;
`measured` is what a caliper shows.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Annotated

from profiles.errors import JobError
from profiles.setting import LONGEST, Setting, as_length, length_setting
from profiles.units import MM_PER_IN
from profiles.values import dataclass

STANDARD_THICKNESSES = (20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0)
"""mm; extruded polystyrene boards as makers list them, EN 13164."""

STANDARD_SIZE = (1250.0, 600.0)
"""mm; the most common length and width of these boards."""

INCH_THICKNESSES = (0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0)
"""in; extruded polystyrene boards as they are sold in North America (common practice; their properties: ASTM C578)."""

INCH_SIZES = ((96.0, 24.0), (96.0, 48.0))
"""in; length and width of these boards, 8 ft by 2 ft and by 4 ft (common practice)."""

SAME_NAME = 0.01
"""mm; a foam thickness this close to that of a board is that of the board."""

CLASS_T1 = ((50.0, (2.0, 2.0)), (math.nextafter(120.0, math.inf), (2.0, 3.0)), (math.inf, (2.0, 6.0)))
"""For nominal thicknesses below each limit, how far the real one may lie below and above it, mm: thickness tolerance
class T1 of EN 13164, as XPS makers' data sheets print it (below 50: +-2; 50 to 120: -2/+3; over 120: -2/+6)."""

CALIPER_ERROR = 0.1
"""mm; possible error of a measured thickness: a caliper on foam, which gives way. Common practice."""

SMALLEST_SIDE = 1.0
"""mm; nothing can be cut out of a smaller piece."""

MAX_DIFFERENCE = 0.5
"""A measured thickness may differ from the nominal one by this share of it; beyond that, one of the two is a typo."""


def as_tolerance(value: object) -> object:
    """One length in mm for both sides, or two: below and above. Raises ValueError.

    >>> as_tolerance("0.5mm"), as_tolerance([2, 3])
    ((0.5, 0.5), (2.0, 3.0))
    """
    if isinstance(value, list | tuple):
        if len(value) != 2:  # noqa: PLR2004 - below and above
            msg = f"expected a tolerance such as 0.5 or [2, 3] (below, above), found {value!r}"
            raise ValueError(msg)
        sides = [as_length(side) for side in value]
    else:
        sides = [as_length(value)] * 2
    if any(isinstance(side, float) and side < 0 for side in sides):
        msg = f"expected a tolerance of 0 or more, found {value!r}"
        raise ValueError(msg)
    return tuple(sides)


@dataclass(frozen=True, slots=True)
class Board:
    """Boards of one kind, or offcuts of one kind; sizes in mm."""

    name: Annotated[str, Setting("What you call it.", max_length=60)]
    """The builder's name for it, such as "XPS 20"; if empty, it is made from the sizes."""
    count: Annotated[
        int | None, Setting("How many there are; left out: as many as are needed.", minimum=1, maximum=10_000)
    ]
    """None: as many as are needed, to be bought."""
    length: Annotated[float, length_setting("The longer side.", above=0)]
    """length >= width."""
    width: Annotated[float, length_setting("The shorter side.", above=0)]
    thickness: Annotated[float, length_setting("As its maker names it.", above=0)]
    """Nominal thickness."""
    measured: Annotated[float | None, length_setting("Its thickness by caliper.", above=0)] = None
    """None: not measured."""
    tolerance: Annotated[
        tuple[float, float] | None, Setting("How far off its thickness may be.", parse=as_tolerance, lenient=True)
    ] = None
    """How far the real thickness may lie below and above `thickness` (or `measured`), both >= 0; None: not given."""
    foam: Annotated[str, Setting("The kind of foam.", max_length=40)] = ""
    """Such as "XPS". Layers of one billet are of one kind."""
    price: Annotated[float | None, Setting("For one, in any currency.", minimum=0, maximum=1e6, lenient=True)] = None
    """For one board, in any currency."""
    offcut: bool = False
    """Offcuts are used before boards, and are not counted as boards."""

    @property
    def actual_thickness(self) -> float:
        """Expected real thickness in mm: as measured, or else nominal."""
        return self.thickness if self.measured is None else self.measured

    @property
    def volume(self) -> float:
        """Volume of one board by its nominal thickness, mm3."""
        return self.length * self.width * self.thickness

    def has(self, count: float) -> bool:
        """Whether there are at least this many, or more can be bought."""
        return self.count is None or self.count >= count


def standard_stock(thickness: float, *, inches: bool = False) -> tuple[Board, ...]:
    """What is bought for foam of a thickness (mm) if nothing is at hand: XPS boards of that thickness, metric ones or
    else those in inches. Where neither series has it, the next thicker board of one series is sliced, that in `inches`
    or the metric one; foam that is thicker than all boards is glued of any of them.

    >>> [board.name for board in standard_stock(40)], [board.name for board in standard_stock(45)]
    (['XPS 1250 x 600 x 40'], ['XPS 1250 x 600 x 50'])
    >>> [board.name for board in standard_stock(38.1)]
    ['XPS 96 x 24 x 1.5 in', 'XPS 96 x 48 x 1.5 in']
    """
    metric = {float(size): _metric_board(size) for size in STANDARD_THICKNESSES}
    imperial = {size * MM_PER_IN: tuple(_inch_board(size, *sides) for sides in INCH_SIZES) for size in INCH_THICKNESSES}
    for series in (metric, imperial):
        for size, boards in series.items():
            if abs(size - thickness) <= SAME_NAME:
                return normalize_stock(boards)
    series = imperial if inches else metric
    thicker = next((size for size in sorted(series) if size > thickness), None)
    return normalize_stock(series[thicker] if thicker else [board for boards in series.values() for board in boards])


def _metric_board(thickness: float) -> tuple[Board, ...]:
    return (Board("", None, *STANDARD_SIZE, thickness, foam="XPS"),)


def _inch_board(thickness: float, length: float, width: float) -> Board:
    length_mm, width_mm, thickness_mm = (round(size * MM_PER_IN, 6) for size in (length, width, thickness))
    return Board(f"XPS {length:g} x {width:g} x {thickness:g} in", None, length_mm, width_mm, thickness_mm, foam="XPS")


def normalize_stock(boards: Iterable[Board]) -> tuple[Board, ...]:
    """The boards in their order, each as `normalize_board` returns it, with unique names: a second "XPS 40" becomes
    "XPS 40 (2)". Raises JobError naming every invalid board.
    """
    valid: list[Board] = []
    faults: list[str] = []
    for board in boards:
        try:
            valid.append(normalize_board(board))
        except JobError as error:
            faults.append(error.message)
    if faults:
        raise JobError(" ".join(faults), remedy="Correct these lines of the job; sizes are in mm.")
    return tuple(_with_unique_names(valid))


def normalize_board(board: Board) -> Board:
    """The board with its longer side as the length, and a name made from its sizes if it has none.

    Raises JobError naming the board: a count under 1, a side under 1 mm or over 100 m, a tolerance below 0 or as large
    as the thickness, a measured thickness that differs from the nominal one by more than half of it, a price below 0.
    """
    length, width = max(board.length, board.width), min(board.length, board.width)
    normal = replace(board, length=length, width=width)
    normal = replace(normal, name=board.name.strip() or _default_name(normal))
    faults = "; ".join(_faults(normal))
    if faults:
        msg = f"{normal.name}: {faults}."
        raise JobError(msg, remedy="Correct this line of the job; sizes are in mm.")
    return normal


def _default_name(board: Board) -> str:
    kind = " ".join(word for word in (board.foam, "offcut" if board.offcut else "") if word) or "board"
    return f"{kind} {board.length:g} x {board.width:g} x {board.thickness:g}"


def _faults(board: Board) -> Iterator[str]:
    """What is wrong with the values of a board, one phrase for each fault."""
    if board.count is not None and board.count < 1:
        yield f"expected a count of 1 or more, found {board.count}"
    for name in ("length", "width", "thickness"):
        size = getattr(board, name)
        if not SMALLEST_SIDE <= size <= LONGEST:
            yield f"expected a {name} between {SMALLEST_SIDE:g} and {LONGEST:g} mm, found {size:g}"
    if board.measured is not None and not abs(board.measured - board.thickness) <= MAX_DIFFERENCE * board.thickness:
        yield f"measured {board.measured:g} mm, but the nominal thickness is {board.thickness:g} mm"
    for side, name in zip(board.tolerance or (), ("below", "above"), strict=False):
        if not 0 <= side < board.thickness:
            yield f"expected a tolerance {name} from 0 to less than {board.thickness:g} mm, found {side:g}"
    if board.price is not None and not 0 <= board.price < math.inf:
        yield f"expected a price of 0 or more, found {board.price:g}"


def _with_unique_names(boards: list[Board]) -> Iterator[Board]:
    given = {board.name for board in boards}
    used: set[str] = set()
    for board in boards:
        name, number = board.name, 1
        while name in used or (number > 1 and name in given):
            number += 1
            name = f"{board.name} ({number})"
        used.add(name)
        yield replace(board, name=name)


def thickness_tolerance(board: Board) -> tuple[float, float]:
    """How far the real thickness may lie below and above `board.actual_thickness`, mm.

    The job's own figure if it gives one; else, for a measured board, the error of the caliper; else EN 13164 class T1
    for the nominal thickness.

    >>> thickness_tolerance(Board("XPS 50", None, 1250.0, 600.0, 50.0))
    (2.0, 3.0)
    >>> thickness_tolerance(Board("XPS 50", None, 1250.0, 600.0, 50.0, measured=50.8))
    (0.1, 0.1)
    """
    if board.tolerance is not None:
        return board.tolerance
    if board.measured is not None:
        return CALIPER_ERROR, CALIPER_ERROR
    return next(sides for limit, sides in CLASS_T1 if board.thickness < limit)


def describe_tolerance(board: Board) -> str:
    """The source of the figures of `thickness_tolerance`, in words."""
    if board.tolerance is not None:
        return "as the job says"
    if board.measured is not None:
        return f"measured, give or take {CALIPER_ERROR:g} mm"
    assumed = "" if board.foam.strip().upper().startswith("XPS") else ", assumed: the standard is for XPS"
    return f"EN 13164 class T1{assumed}"
