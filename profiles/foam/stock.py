"""Foam at hand: boards and offcuts in the shed, and what shops sell where the job names none.

Lengths in mm. A board lies with its length along the strips that are cut from it. Its thickness is what the maker says;
`measured` is what a rule or a caliper says.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Annotated

from profiles.errors import JobError
from profiles.setting import LONGEST, Setting, as_length

STANDARD_THICKNESSES = (20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0)
"""mm; extruded polystyrene boards as makers list them, EN 13164."""

STANDARD_SIZES = ((1250.0, 600.0), (1200.0, 600.0), (2400.0, 600.0))
"""mm; length and width of the same boards, the most usual first."""

CLASS_T1 = ((50.0, (2.0, 2.0)), (math.nextafter(120.0, math.inf), (2.0, 3.0)), (math.inf, (2.0, 6.0)))
"""Nominal thickness under which a line holds, and how far the real one may lie below and above, mm: thickness tolerance
class T1 of EN 13164, as XPS makers' data sheets print it (below 50: +-2; 50 to 120: -2/+3; over 120: -2/+6)."""

CALIPER = 0.1
"""mm; how far a measured thickness may be out: a caliper on foam, which gives way. Common practice."""

LONGEST_SIDE = 100_000.0
"""mm; no foam is sold longer than 100 m; a larger figure has the wrong unit."""

SHORTEST_SIDE = 1.0
"""mm; nothing can be cut out of less."""

MOST_OFF = 0.5
"""Share of the nominal thickness that a measured one may be off; beyond, one of the two is a slip."""


def as_tolerance(value: object) -> object:
    """One length in mm for both sides, or two: below and above. Raises ValueError."""
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
    """Boards of one kind, or offcuts of one kind, mm."""

    name: Annotated[str, Setting("What you call it.", longest=60)]
    """What the builder calls it: "XPS 20"; empty: made of its figures."""
    count: Annotated[int | None, Setting("How many there are; left out: as many as are needed.", least=1, most=10_000)]
    """None: as many as are needed, to be bought."""
    length: Annotated[float, Setting("The longer side.", parse=as_length, above=0, most=LONGEST)]
    """length >= width."""
    width: Annotated[float, Setting("The shorter side.", parse=as_length, above=0, most=LONGEST)]
    thickness: Annotated[float, Setting("As its maker names it.", parse=as_length, above=0, most=LONGEST)]
    """Nominal thickness."""
    measured: Annotated[float | None, Setting("Its thickness by caliper.", parse=as_length, above=0, most=LONGEST)] = (
        None
    )
    """None: not measured."""
    tolerance: Annotated[
        tuple[float, float] | None, Setting("How far off its thickness may be.", parse=as_tolerance, loose=True)
    ] = None
    """How far the real thickness may lie below and above `thickness` (or `measured`), both >= 0; None: not said."""
    foam: Annotated[str, Setting("The kind of foam.", longest=40)] = ""
    """Such as "XPS". Layers of one billet are of one kind."""
    price: Annotated[float | None, Setting("For one, in any currency.", least=0, most=1e6, loose=True)] = None
    """For one board, in any currency."""
    offcut: bool = False
    """Used before boards, and not counted as one."""

    @property
    def real(self) -> float:
        """Expected real thickness of the foam in mm."""
        return self.thickness if self.measured is None else self.measured

    @property
    def volume(self) -> float:
        """Of one board by its nominal thickness, mm3."""
        return self.length * self.width * self.thickness


def standard_stock(foam: str = "XPS", size: tuple[float, float] = STANDARD_SIZES[0]) -> tuple[Board, ...]:
    """What can be bought where nothing is at hand: every standard thickness in one size (length, width) mm."""
    return check_stock(Board("", None, *size, thickness, foam=foam) for thickness in STANDARD_THICKNESSES)


def check_stock(boards: Iterable[Board]) -> tuple[Board, ...]:
    """The boards in their order, each made sound by `sound`, and no two of one name: the second "XPS 40" is "XPS 40
    (2)". Raises JobError naming every invalid board.
    """
    found: list[Board] = []
    faults: list[str] = []
    for board in boards:
        try:
            found.append(sound(board))
        except JobError as error:
            faults.append(error.message)
    if faults:
        raise JobError(" ".join(faults), remedy="Correct these lines of the job; sizes are in mm.")
    return tuple(_named_apart(found))


def sound(board: Board) -> Board:
    """The board with its longer side as the length, and a name made of its figures where it has none.

    Raises JobError naming the board: a count under 1, a size that is not above 0 or beyond 100 m, a tolerance below 0
    or as large as the thickness, a measured thickness more than half off the nominal one, a price below 0.
    """
    length, width = max(board.length, board.width), min(board.length, board.width)
    named = replace(board, length=length, width=width, name=board.name.strip() or _figures(board, length, width))
    faults = list(_faults(named))
    if faults:
        msg = f"{named.name}: {'; '.join(faults)}."
        raise JobError(msg, remedy="Correct this line of the job; sizes are in mm.")
    return named


def _figures(board: Board, length: float, width: float) -> str:
    kind = " ".join(word for word in (board.foam, "offcut" if board.offcut else "") if word) or "board"
    return f"{kind} {length:g} x {width:g} x {board.thickness:g}"


def _faults(board: Board) -> Iterable[str]:
    if board.count is not None and board.count < 1:
        yield f"expected a count of 1 or more, found {board.count}"
    for word in ("length", "width", "thickness"):
        size = getattr(board, word)
        if not SHORTEST_SIDE <= size <= LONGEST_SIDE:
            yield f"expected a {word} between {SHORTEST_SIDE:g} and {LONGEST_SIDE:g} mm, found {size:g}"
    if board.measured is not None and not abs(board.measured - board.thickness) <= MOST_OFF * board.thickness:
        yield f"measured {board.measured:g} mm, but it is said to be {board.thickness:g} mm thick"
    for side, word in zip(board.tolerance or (), ("below", "above"), strict=False):
        if not 0 <= side < board.thickness:
            yield f"expected a tolerance {word} from 0 to less than {board.thickness:g} mm, found {side:g}"
    if board.price is not None and not 0 <= board.price < math.inf:
        yield f"expected a price of 0 or more, found {board.price:g}"


def _named_apart(boards: Sequence[Board]) -> Iterable[Board]:
    taken = {board.name for board in boards}
    seen: set[str] = set()
    for board in boards:
        name, again = board.name, 1
        while name in seen or (again > 1 and name in taken):
            again += 1
            name = f"{board.name} ({again})"
        seen.add(name)
        yield board if name == board.name else replace(board, name=name)


def tolerance_of(board: Board, caliper: float = CALIPER) -> tuple[float, float]:
    """How far the real thickness may lie below and above `board.real`, mm.

    What the job says; else, of a measured board, the error of the caliper; else EN 13164 class T1 by the nominal
    thickness.
    """
    if board.tolerance is not None:
        return board.tolerance
    if board.measured is not None:
        return caliper, caliper
    return next(sides for below, sides in CLASS_T1 if board.thickness < below)


def tolerance_source(board: Board, caliper: float = CALIPER) -> str:
    """Where `tolerance_of` has its figures from, in words."""
    if board.tolerance is not None:
        return "as the job says"
    if board.measured is not None:
        return f"measured, give or take {caliper:g} mm"
    guessed = "" if board.foam.strip().upper().startswith("XPS") else ", assumed: the standard is for XPS"
    return f"EN 13164 class T1{guessed}"
