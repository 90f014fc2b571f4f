"""Thicknesses out of boards: a single board, a board halved and glued to itself, a billet glued of several, or any of
them sliced thinner.
"""

import bisect
import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from enum import StrEnum
from itertools import combinations_with_replacement

from profiles.foam.stock import Board
from profiles.values import dataclass

SAME_THICKNESS = 0.01
"""mm; a block whose thickness is this close to its billet's is not sliced: no fence is set more finely."""

ROUNDING = 1e-7
"""mm; sums of sizes may exceed a limit by this much because of rounding: less than 1e-9 of any board over 100 mm."""

HALVING_STEP = 0.5
"""mm; halves of a board are cut to such a size: no fence is set more finely by eye. Common practice."""

MAX_MIXTURES = 40_000
"""Largest number of mixtures of boards to consider; beyond it, a board is glued only to boards of its own kind."""

MAX_KINDS = 200
"""Largest number of billet kinds to keep; those with the most glue lines and the most excess are dropped first."""

MAX_DEPTHS = 4000
"""Largest number of stack depths to tell apart; beyond it, no billet is dropped as redundant."""


class Halved(StrEnum):
    """How a board is cut into the two layers of one billet."""

    NO = "no"
    ACROSS = "across"
    """The cut goes across the board: two layers of half its length."""
    ALONG = "along"
    """The cut goes along the board: two layers of half its width."""


@dataclass(frozen=True, slots=True)
class BilletKind:
    """A way to make foam of one thickness: the boards glued flat on each other. Sizes in mm.

    Boards of different size are as large as the area that they share; lengths lie along lengths.
    """

    layers: tuple[int, ...]
    """Positions of the boards in the stock, the thickest first; a single board has one layer."""
    length: float
    width: float
    thickness: float
    """Nominal thickness of the layers and the glue lines."""
    actual_thickness: float
    """Expected thickness: the measured layers, where they are measured, and the glue lines."""
    halved: Halved = Halved.NO
    """Both layers are halves of one board."""

    @property
    def uses(self) -> tuple[int, ...]:
        """Positions in the stock of the boards that are used up, once for each board."""
        return self.layers[:1] if self.halved != Halved.NO else self.layers

    @property
    def glue_lines(self) -> int:
        """Number of flat glue joints."""
        return len(self.layers) - 1

    @property
    def sliceable_thickness(self) -> float:
        """Thickness in mm that can be relied on when slicing."""
        return min(self.thickness, self.actual_thickness)

    def matches(self, thickness: float) -> bool:
        """Whether a block of this thickness needs no slicing, by the nominal thickness or by the measured one."""
        difference = min(abs(self.thickness - thickness), abs(self.actual_thickness - thickness))
        return difference <= SAME_THICKNESS + ROUNDING


@dataclass(frozen=True, slots=True)
class BilletKinds:
    """The useful ways to make the wanted thicknesses."""

    kinds: tuple[BilletKind, ...]
    complete: bool
    """True if every other way gives only blocks that one of these gives with fewer layers of the same boards."""


def billet_kinds(
    stock: Sequence[Board], thicknesses: Sequence[float], *, max_layers: int, kerf: float, glue: float = 0.0
) -> BilletKinds:
    """All useful billets for blocks of these thicknesses (mm, one entry per block), by glue lines, then thickness.

    A billet is useful if it is at least as thick as some block and each of its layers adds something: a block that
    needs no slicing, or more blocks sliced from one blank. There are none if the stock is empty or too thin.
    """
    wanted = sorted(set(thicknesses))
    if not wanted or not stock:
        return BilletKinds((), complete=True)
    mixtures, complete = _mixtures(stock, max_layers)
    kinds = [_billet_kind(stock, layers, glue) for layers in mixtures]
    if max_layers > 1:
        kinds += _halved_kinds(stock, kerf, glue)
    deepest = max((kind.thickness for kind in kinds), default=0.0)
    depths = _stack_depths(thicknesses, kerf, deepest)
    yields = {kind.layers: _yield(kind, wanted, depths, kerf) for kind in kinds}
    for n in range(len(stock)):  # a board of which there is only one is no part of a mixture of two
        yields.setdefault((n, n), _yield(_billet_kind(stock, (n, n), glue), wanted, depths, kerf))
    useful = [kind for kind in kinds if any(yields[kind.layers][1]) and not _is_redundant(kind, yields)]
    useful.sort(key=lambda kind: (kind.glue_lines, kind.thickness, kind.layers, kind.halved))
    return BilletKinds(tuple(useful[:MAX_KINDS]), complete=complete and len(useful) <= MAX_KINDS)


def laminations(stock: Sequence[Board], max_layers: int, glue: float) -> list[BilletKind]:
    """Every way to glue boards of a stock flat on each other, single boards first, then by the number of layers."""
    return [_billet_kind(stock, layers, glue) for layers in _mixtures(stock, max_layers)[0]]


def _mixtures(stock: Sequence[Board], max_layers: int) -> tuple[list[tuple[int, ...]], bool]:
    """Boards that can be glued together, the thickest first, and whether these are all such mixtures."""
    order = sorted(range(len(stock)), key=lambda n: (-stock[n].thickness, n))
    total = sum(math.comb(len(order) + layers - 1, layers) for layers in range(1, max_layers + 1))
    complete = total <= MAX_MIXTURES
    mixtures = []
    for layers in range(1, max_layers + 1):
        candidates: Iterable[tuple[int, ...]] = (
            combinations_with_replacement(order, layers) if complete else ((n,) * layers for n in order)
        )
        for mixture in candidates:
            enough = all(stock[n].has(count) for n, count in Counter(mixture).items())
            if enough and len({stock[n].foam for n in mixture}) == 1:
                mixtures.append(mixture)
    return mixtures, complete


def _billet_kind(stock: Sequence[Board], layers: tuple[int, ...], glue: float) -> BilletKind:
    boards = [stock[n] for n in layers]
    joints = glue * (len(boards) - 1)
    return BilletKind(
        layers,
        min(board.length for board in boards),
        min(board.width for board in boards),
        sum(board.thickness for board in boards) + joints,
        sum(board.actual_thickness for board in boards) + joints,
    )


def _halved_kinds(stock: Sequence[Board], kerf: float, glue: float) -> list[BilletKind]:
    """Each board that there is, cut in two and glued to itself."""
    kinds = []
    for n, board in enumerate(stock):
        double = _billet_kind(stock, (n, n), glue)
        for halved, side in ((Halved.ACROSS, "length"), (Halved.ALONG, "width")):
            half = math.floor((getattr(board, side) - kerf) / 2 / HALVING_STEP) * HALVING_STEP
            if board.has(1) and half > 0:
                kinds.append(replace(double, **{side: half}, halved=halved))
    return kinds


def _stack_depths(thicknesses: Sequence[float], kerf: float, deepest: float) -> list[float] | None:
    """Every depth that blocks sliced from one blank can take up, each with its kerf; None if there are too many."""
    depths = {0.0}
    for thickness, count in sorted(Counter(thicknesses).items()):
        step = thickness + kerf
        for _ in range(min(count, int((deepest + kerf + ROUNDING) // step))):
            more = {round(depth + step, 6) for depth in depths if depth + step <= deepest + kerf + ROUNDING} - depths
            if not more:
                break
            depths |= more
            if len(depths) > MAX_DEPTHS:
                return None
    return sorted(depths)


Yield = tuple[float, tuple[bool, ...]]
"""Depth in mm of the deepest stack of blocks that a billet gives, and which of the wanted thicknesses it gives."""


def _yield(kind: BilletKind, wanted: Sequence[float], depths: list[float] | None, kerf: float) -> Yield:
    limit = kind.sliceable_thickness + kerf
    # Depths are rounded to 6 decimals, so one may be 5e-7 larger than the exact sum.
    deepest = limit if depths is None else depths[bisect.bisect_right(depths, limit + ROUNDING + 5e-7) - 1]
    gives = (kind.matches(size) or size <= kind.sliceable_thickness + ROUNDING for size in wanted)
    return deepest, tuple(gives)


def _is_redundant(kind: BilletKind, yields: dict[tuple[int, ...], Yield]) -> bool:
    """Whether the same boards without one of them give the same blocks."""
    deepest, gives = yields[kind.layers]
    for n in range(len(kind.layers)):
        fewer = yields.get(kind.layers[:n] + kind.layers[n + 1 :])
        if fewer and fewer[0] >= deepest and all(a or not b for a, b in zip(fewer[1], gives, strict=True)):
            return True
    return False
