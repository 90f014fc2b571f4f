"""How errors of thickness add up along the hull, mm.

Blocks are glued in order from the nose, so the aft face of block n is off by the errors of all blocks up to it and by
the glue lines between them. There are three separate sums:

    known     measured boards: sum of (actual - nominal); glue lines between blocks: (n - 1) * joint
    worst     every board at the end of its tolerance: sum of t
    likely    root sum of squares over independent errors: sqrt(sum of (k * t)^2)

The errors of different layers are independent, but blocks from one billet share its layers: such a layer counts with
all its k blocks at once. Twenty blocks from one board that is 1 mm too thin are 20 mm short; nothing averages out.
"""

import math
from collections import defaultdict
from collections.abc import Sequence

from profiles.errors import JobError
from profiles.foam.stock import Board, thickness_tolerance
from profiles.values import dataclass

SLICING = 0.5
"""mm; possible error of a block that a hot wire slices to its thickness, either way. Common practice."""


@dataclass(frozen=True, slots=True)
class BlockFoam:
    """What one block is made of."""

    nominal: float
    """Its planned thickness, mm."""
    layers: tuple[Board, ...] = ()
    """The boards glued flat, with their original faces; ignored if the block is sliced."""
    sliced: bool = False
    """True if a fence sets its thickness, whatever the foam measures."""
    billet: int | None = None
    """Blocks of the same billet share its layers; None: the block has foam to itself."""
    halved: bool = False
    """Its layers are halves of one board and share that board's error."""


@dataclass(frozen=True, slots=True)
class StationError:
    """Where the aft face of a block may lie; mm."""

    x: float
    """As planned, mm aft of the nose."""
    known: float
    """Expected shift aft in mm: measured thickness and glue."""
    worst: tuple[float, float]
    """Worst error forward and aft of that in mm, both >= 0."""
    likely: tuple[float, float]
    """Likely error forward and aft of that in mm: root sum of squares."""

    @property
    def expected(self) -> float:
        """Expected place of the face, mm aft of the nose."""
        return self.x + self.known

    @property
    def reach(self) -> tuple[float, float]:
        """The foremost and the aftmost place in the worst case, mm aft of the nose."""
        return self.expected - self.worst[0], self.expected + self.worst[1]


@dataclass(frozen=True, slots=True)
class LengthError:
    """How far off the length of the glued body may be."""

    stations: tuple[StationError, ...]
    """The aft face of every block, from the nose."""
    glue: float
    """The part of the known error that is glue between blocks, mm."""

    @property
    def end(self) -> StationError:
        """The tail: `known`, `worst` and `likely` are those of the whole length."""
        return self.stations[-1]


def length_error(blocks: Sequence[BlockFoam], *, glue: float = 0.0, joint: float = 0.0) -> LengthError:
    """The error of every station, for blocks from the nose.

    `glue` is the thickness of a glue line between layers, `joint` of one between blocks, mm. The two sides of a
    tolerance such as -2/+3 are summed separately. Raises JobError if there is no block, or if a block is neither
    sliced nor made of boards.

    Ten boards of 40 mm (+-2 mm) are off by 20 mm in the worst case, but likely by 2 * sqrt(10) mm:

    >>> board = Board("XPS 40", None, 1250.0, 600.0, 40.0)
    >>> end = length_error([BlockFoam(40.0, (board,))] * 10).end
    >>> end.reach, round(end.likely[1], 3)
    ((380.0, 420.0), 6.325)
    """
    if not blocks:
        msg = "There is no block, so there is no length."
        raise JobError(msg)
    thicknesses = actual_thicknesses(blocks, glue=glue)
    errors: dict[tuple[object, ...], list[float]] = defaultdict(lambda: [0.0, 0.0])
    stations = []
    x = known = 0.0
    for number, (block, thickness) in enumerate(zip(blocks, thicknesses, strict=True)):
        for source, sides in _error_sources(number, block):
            for side in (0, 1):
                errors[source][side] += sides[side]
        x += block.nominal
        known += thickness - block.nominal + (joint if number else 0.0)
        below, above = zip(*errors.values(), strict=True)
        worst, likely = (math.fsum(below), math.fsum(above)), (math.hypot(*below), math.hypot(*above))
        stations.append(StationError(x, known, worst, likely))
    return LengthError(tuple(stations), joint * (len(blocks) - 1))


def _error_sources(number: int, block: BlockFoam) -> list[tuple[tuple[object, ...], tuple[float, float]]]:
    """The sources of error in a block, and how large each is; blocks of the same billet share sources."""
    if block.sliced:
        return [(("sliced", number), (SLICING, SLICING))]
    source = ("block", number) if block.billet is None else ("billet", block.billet)
    return [
        ((*source, 0 if block.halved else layer), thickness_tolerance(board))
        for layer, board in enumerate(block.layers)
    ]


def actual_thicknesses(blocks: Sequence[BlockFoam], *, glue: float = 0.0) -> tuple[float, ...]:
    """The expected thickness of each block, mm: its layers and the glue between them; if sliced, as planned."""
    return tuple(_actual_thickness(block, glue) for block in blocks)


def _actual_thickness(block: BlockFoam, glue: float) -> float:
    if block.sliced:
        return block.nominal
    if not block.layers:
        msg = f"A block of {block.nominal:g} mm is neither made of boards nor sliced."
        raise JobError(msg)
    return math.fsum(board.actual_thickness for board in block.layers) + glue * (len(block.layers) - 1)
