"""A cutting plan as a builder makes it with pencil and paper, to compare plans with. It shares no code with
the planner.

All blocks have one box, which lies the same way in every board. Foam is taken in this order: what is at hand before
what must be bought; of each, boards of the blocks' thickness, offcuts before boards, then thicker ones to be sliced,
the thinnest first, then two boards glued, or one that is halved and glued to itself. Every board is filled strip by
strip before the next one is taken.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from profiles.foam.cutting import CuttingSettings, WantedBlock
from profiles.foam.stock import Board

Figures = tuple[float, float, float, int, int, int, float]
"""Missing blocks, cost to buy and boards at hand (mm2), glue lines, slices, fence settings, minus the largest rest."""


@dataclass
class Source:
    """Foam of one kind: boards at positions `uses`, one billet of the given size from each set of them."""

    uses: tuple[int, ...]
    length: float
    width: float
    thickness: float
    glue: int
    down: float | None = None


def sources(boards: Sequence[Board], thickness: float, cutting: CuttingSettings) -> list[Source]:
    """Everything that is thick enough, in the order in which a builder takes it."""
    single = [Source((n,), board.length, board.width, board.thickness, 0) for n, board in enumerate(boards)]
    double: list[Source] = []
    if cutting.max_layers > 1:
        for n, board in enumerate(boards):
            half = math.floor(board.length - cutting.effective_kerf) / 2
            double.append(Source((n,), half, board.width, 2 * board.thickness, 1, down=half))
            double.append(Source((n, n), board.length, board.width, 2 * board.thickness, 1))
    enough = [source for source in (*single, *double) if source.thickness >= thickness - 1e-9]

    def order(source: Source) -> tuple[object, ...]:
        board = boards[source.uses[0]]
        exact = abs(source.thickness - thickness) < 1e-6
        return (board.count is None, source.glue, not exact, not board.offcut, source.thickness, source.uses)

    return sorted(enough, key=order)


def stack_of(source: Source, thickness: float, kerf: float) -> tuple[int, int]:
    """How many blocks come out of a blank, and how many slices that takes."""
    if abs(source.thickness - thickness) < 1e-6:
        return 1, 0
    blocks = math.floor((source.thickness + kerf + 1e-9) / (thickness + kerf))
    exact = abs(blocks * (thickness + kerf) - kerf - source.thickness) < 1e-6
    return blocks, blocks - exact


def figures_by_hand(boards: Sequence[Board], wanted: Sequence[WantedBlock], cutting: CuttingSettings) -> Figures:
    """The better of the two ways to lay the box."""
    first = wanted[0]
    ways = ((first.height, first.width), (first.width, first.height))
    return min(_one_way(boards, wanted, cutting, *way) for way in ways)


def _one_way(
    boards: Sequence[Board], wanted: Sequence[WantedBlock], cutting: CuttingSettings, along: float, across: float
) -> Figures:
    kerf = cutting.effective_kerf
    full = [block for block in wanted if not block.odd]
    odd = sorted((block.thickness for block in wanted if block.odd), reverse=True)
    thickness, left = full[0].thickness, len(full)
    there = [math.inf if board.count is None else board.count for board in boards]
    cost = taken = 0.0
    glue = slices = 0
    fences: set[tuple[str, float]] = set()
    rests = [0.0]

    for source in sources(boards, thickness, cutting):
        rows = math.floor((source.width - cutting.trim + kerf + 1e-9) / (across + kerf))
        columns = math.floor((source.length - cutting.trim + kerf + 1e-9) / (along + kerf))
        each, cuts = stack_of(source, thickness, kerf)
        while (left or odd) and rows * columns and all(there[n] >= source.uses.count(n) for n in source.uses):
            for n in source.uses:
                there[n] -= 1
                area = boards[n].length * boards[n].width
                cost += area if boards[n].count is None else 0.0
                taken += 0.0 if boards[n].count is None or boards[n].offcut else area
            glue += source.glue
            if source.down:
                fences.add(("down", source.down))
            blanks = rows * columns
            used = min(blanks, math.ceil(left / each))
            whole = min(used, left // each)
            slices += whole * cuts
            if cuts and used:
                fences.add(("slice", thickness))
            if used > whole:
                last = left - whole * each
                slices += last if cuts else 0
            left = max(0, left - used * each)
            while odd and used < blanks:
                used += 1
                fences.add(("slice", odd[0]))
                slices += abs(odd[0] - source.thickness) > 1e-6
                odd.pop(0)
            fences |= {("strip", across), ("across", along)}
            rests += _rests(source, cutting, along, across, (columns, used))
    return len(odd) + left, cost, taken, glue, slices, len(fences), -max(rests)


def _rests(
    source: Source, cutting: CuttingSettings, along: float, across: float, filled: tuple[int, int]
) -> list[float]:
    """Volumes of what is left beside the strips and at the end of the last one, if it is large enough to keep."""
    columns, used = filled
    kerf = cutting.effective_kerf
    strips = math.ceil(used / columns)
    beside = source.width - cutting.trim - strips * (across + kerf)
    end = source.length - cutting.trim - (used - (strips - 1) * columns) * (along + kerf)
    pieces = [(beside, source.length - cutting.trim), (end, across)]
    return [math.prod(piece) * source.thickness for piece in pieces if min(piece) >= cutting.smallest_offcut]
