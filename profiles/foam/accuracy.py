"""How errors of thickness add up along the hull, mm.

Blocks are glued from the nose, so the face after block n lies off by the errors of all blocks before it and by the glue
lines between them. There are three separate sums:

    known     measured boards: sum of (real - nominal); glue lines between blocks: (n - 1) * joint
    worst     every board at the end of its tolerance: sum of t
    likely    root sum of squares over what varies by itself: sqrt(sum of (k * t)^2)

A layer varies by itself; blocks cut out of one billet share their layers, so such a layer counts with all its k blocks
at once. Twenty blocks out of one board that is 1 mm thin are 20 mm short, and nothing averages out.
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from profiles.errors import JobError
from profiles.foam.stock import CALIPER, Board, tolerance_of

SLICING = 0.5
"""mm; how far a block that a hot wire slices to its thickness may be out, either way. Common practice."""


@dataclass(frozen=True, slots=True)
class BlockFoam:
    """What one block is made of."""

    nominal: float
    """The thickness that the plan gives it."""
    layers: tuple[Board, ...] = ()
    """The boards glued flat, with their original faces; ignored when the block is sliced."""
    sliced: bool = False
    """Cut to its thickness with a fence, whatever the foam measures."""
    billet: int | None = None
    """Blocks of the same billet share its layers; None: out of foam of its own."""


@dataclass(frozen=True, slots=True)
class StationError:
    """Where the aft face of a block may lie, mm aft of the nose."""

    x: float
    """By the plan."""
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
        """The foremost and the aftmost place at worst."""
        return self.expected - self.worst[0], self.expected + self.worst[1]


@dataclass(frozen=True, slots=True)
class LengthError:
    """How long the glued body may come out."""

    stations: tuple[StationError, ...]
    """The aft face of every block, from the nose."""
    glue: float
    """Share of the known growth that is glue between blocks."""

    @property
    def end(self) -> StationError:
        """The tail: `known`, `worst` and `likely` are those of the whole length."""
        return self.stations[-1]


def length_error(
    blocks: Sequence[BlockFoam],
    *,
    glue: float = 0.0,
    joint: float = 0.0,
    slicing: float = SLICING,
    caliper: float = CALIPER,
) -> LengthError:
    """The error of every station, for blocks from the nose.

    `glue` is the thickness of a glue line between layers, `joint` of one between blocks, `slicing` and `caliper` the
    errors of a sliced block and of a measured board. A tolerance that is not even, as -2/+3, is summed on each side by
    itself. Raises JobError where there is no block, or a block is neither sliced nor made of boards.
    """
    if not blocks:
        msg = "There is no block whose thickness could be added up."
        raise JobError(msg)
    real = real_thicknesses(blocks, glue=glue)
    shared: dict[tuple[object, ...], list[float]] = defaultdict(lambda: [0.0, 0.0])
    stations = []
    x = known = 0.0
    for number, (block, thickness) in enumerate(zip(blocks, real, strict=True)):
        for key, sides in _varying(number, block, slicing, caliper):
            for side in (0, 1):
                shared[key][side] += sides[side]
        x += block.nominal
        known += thickness - block.nominal + (joint if number else 0.0)
        worst = math.fsum(sides[0] for sides in shared.values()), math.fsum(sides[1] for sides in shared.values())
        likely = math.hypot(*(sides[0] for sides in shared.values())), math.hypot(*(s[1] for s in shared.values()))
        stations.append(StationError(x, known, worst, likely))
    return LengthError(tuple(stations), joint * (len(blocks) - 1))


def _varying(
    number: int, block: BlockFoam, slicing: float, caliper: float
) -> list[tuple[tuple[object, ...], tuple[float, float]]]:
    """What varies in a block, and how far: a name that blocks of the same billet share, and the tolerance."""
    if block.sliced:
        return [(("sliced", number), (slicing, slicing))]
    source = ("block", number) if block.billet is None else ("billet", block.billet)
    return [((*source, layer), tolerance_of(board, caliper)) for layer, board in enumerate(block.layers)]


def real_thicknesses(blocks: Sequence[BlockFoam], *, glue: float = 0.0) -> tuple[float, ...]:
    """The thickness that each block is expected to have: its layers' `real` and `glue` between them; a
    sliced block is as thick as it is planned.
    """
    return tuple(_real(block, glue) for block in blocks)


def _real(block: BlockFoam, glue: float) -> float:
    if block.sliced:
        return block.nominal
    if not block.layers:
        msg = f"A block of {block.nominal:g} mm is neither made of boards nor sliced."
        raise JobError(msg)
    return math.fsum(board.real for board in block.layers) + glue * (len(block.layers) - 1)
