"""Thickness out of boards: one board, a billet laminated of several, or either sliced thinner."""

import bisect
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement

from profiles.foam.stock import Board

SAME_THICKNESS = 0.01
"""mm; a block this near to its billet's thickness is not sliced: no fence is set finer."""

FIT = 1e-7
"""mm; what sums of sizes may be over, from rounding: still under 1e-9 of any board over 100 mm."""

MOST_MIXTURES = 40_000
"""Most mixtures of boards that are considered; beyond, boards are glued only to boards of their own kind."""

MOST_KINDS = 200
"""Ways to a thickness that are kept; with more, those with most glue lines and most excess are left out."""

MOST_SUMS = 4000
"""Most sums of thicknesses that are distinguished; beyond, no billet is left out for giving nothing new."""


@dataclass(frozen=True, slots=True)
class BilletKind:
    """A way to get foam of one thickness: the boards that are glued flat on each other, mm.

    Boards of different size give the area they share; lengths lie along lengths.
    """

    layers: tuple[int, ...]
    """Which boards, as places in the stock, thickest first; one alone is a board as it is."""
    length: float
    width: float
    thickness: float
    """Nominal: layers and glue lines."""
    measured: float
    """Expected: the layers' real thickness and the glue lines."""

    @property
    def glue_lines(self) -> int:
        """How many joints are glued flat."""
        return len(self.layers) - 1

    @property
    def sliceable(self) -> float:
        """Thickness that is surely there to be sliced, mm."""
        return min(self.thickness, self.measured)

    def is_as_wanted(self, thickness: float) -> bool:
        """Whether a block of this thickness needs no slicing: as the boards are called, or as they were measured."""
        return min(abs(self.thickness - thickness), abs(self.measured - thickness)) <= SAME_THICKNESS + FIT


@dataclass(frozen=True, slots=True)
class Layering:
    """The ways to the wanted thicknesses."""

    kinds: tuple[BilletKind, ...]
    whole: bool
    """True: every other way gives no block that one of these does not give with fewer layers of the same boards."""


def billet_kinds(
    stock: Sequence[Board], thicknesses: Sequence[float], *, most_layers: int, kerf: float, glue: float = 0.0
) -> Layering:
    """All useful billets for blocks of these thicknesses (one for each block), by glue lines, then thickness; mm.

    A billet is useful if it is as thick as a block, or thicker, and gives more than it does without one of its layers:
    a block as it comes, or more blocks sliced from one blank. No stock, or nothing thick enough, gives no kinds.
    """
    wanted = sorted(set(thicknesses))
    if not wanted or not stock:
        return Layering((), whole=True)
    mixtures, whole = _mixtures(stock, most_layers)
    kinds = [_kind(stock, layers, glue) for layers in mixtures]
    deepest = max((kind.thickness for kind in kinds), default=0.0)
    sums = _sums(thicknesses, kerf, deepest)
    gives = {kind.layers: _gives(kind, wanted, sums, kerf) for kind in kinds}
    useful = [kind for kind in kinds if any(gives[kind.layers][1]) and not _is_redundant(kind, gives)]
    useful.sort(key=lambda kind: (kind.glue_lines, kind.thickness, kind.layers))
    return Layering(tuple(useful[:MOST_KINDS]), whole=whole and len(useful) <= MOST_KINDS)


def laminations(stock: Sequence[Board], most_layers: int, glue: float) -> list[BilletKind]:
    """Every way to glue boards of a stock flat on each other, fewest layers first; one board alone is the first."""
    return [_kind(stock, layers, glue) for layers in _mixtures(stock, most_layers)[0]]


def _mixtures(stock: Sequence[Board], most_layers: int) -> tuple[list[tuple[int, ...]], bool]:
    """Boards that can be glued together, thickest first, and whether these are all."""
    order = sorted(range(len(stock)), key=lambda place: (-stock[place].thickness, place))
    whole = sum(math.comb(len(order) + layers - 1, layers) for layers in range(1, most_layers + 1)) <= MOST_MIXTURES
    mixtures = []
    for layers in range(1, most_layers + 1):
        several = combinations_with_replacement(order, layers) if whole else _alike(order, layers)
        for mixture in several:
            counts = Counter(mixture)
            enough = all(_has(stock[place], many) for place, many in counts.items())
            if enough and len({stock[place].foam for place in mixture}) == 1:
                mixtures.append(mixture)
    return mixtures, whole


def _has(board: Board, many: int) -> bool:
    return board.count is None or board.count >= many


def _alike(order: Sequence[int], layers: int) -> Iterator[tuple[int, ...]]:
    return ((place,) * layers for place in order)


def _kind(stock: Sequence[Board], layers: tuple[int, ...], glue: float) -> BilletKind:
    boards = [stock[place] for place in layers]
    joints = glue * (len(boards) - 1)
    return BilletKind(
        layers,
        min(board.length for board in boards),
        min(board.width for board in boards),
        sum(board.thickness for board in boards) + joints,
        sum(board.real for board in boards) + joints,
    )


def _sums(thicknesses: Sequence[float], kerf: float, deepest: float) -> list[float] | None:
    """Every depth that blocks sliced from one blank can take, with a kerf after each; None where there are too many."""
    depths = {0.0}
    for thickness, many in sorted(Counter(thicknesses).items()):
        step = thickness + kerf
        for _ in range(min(many, int((deepest + kerf + FIT) // step))):
            more = {round(depth + step, 6) for depth in depths if depth + step <= deepest + kerf + FIT} - depths
            if not more:
                break
            depths |= more
            if len(depths) > MOST_SUMS:
                return None
    return sorted(depths)


Gives = tuple[float, tuple[bool, ...]]
"""The deepest stack of blocks that a billet gives, mm, and which of the wanted thicknesses."""


def _gives(kind: BilletKind, wanted: Sequence[float], sums: list[float] | None, kerf: float) -> Gives:
    depth = kind.sliceable + kerf
    deepest = depth if sums is None else sums[bisect.bisect_right(sums, depth + FIT + 5e-7) - 1]
    return deepest, tuple(kind.is_as_wanted(one) or one <= kind.sliceable + FIT for one in wanted)


def _is_redundant(kind: BilletKind, gives: dict[tuple[int, ...], Gives]) -> bool:
    """Whether the same boards without one of them give the same blocks."""
    deepest, reached = gives[kind.layers]
    for place in range(len(kind.layers)):
        fewer = gives.get(kind.layers[:place] + kind.layers[place + 1 :])
        if fewer and fewer[0] >= deepest and all(a or not b for a, b in zip(fewer[1], reached, strict=True)):
            return True
    return False
