"""Vary the growth round the outlines of a block: no foam missing, and as little as possible to sand.

This is a linear program. Its numbers are the offsets at the handles of both faces; it minimizes the volume by which the
block grows. A point of the hull that lies outside gives one row: the wire that passes it moves outwards by what the
offsets of the two faces give there, and that must be at least what the point lacks. Rows are made where foam is missing
most, in each cell round and along the block. Then the block is measured with its new outlines, and where foam is still
missing there are more rows.
"""

from collections.abc import Sequence

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.blocks.depth import depth_inside
from profiles.blocks.moved_rings import APART, Handles, handles_of, move_rings, refine
from profiles.blocks.ring_pairs import RingPair, even_out
from profiles.blocks.ruled import RuledBlock
from profiles.blocks.wires import nearest_wires, sort_round
from profiles.solver import GrowingProgram, Rows
from profiles.values import dataclass

SLOPE = 0.1
"""mm per mm along the outline by which an offset may change: a steeper step shows as a bump under the wire."""

SMOOTH = 0.07
"""What bends of the offset count beside the volume. Without it the two faces take turns in growing from one handle to
the next, which saves a few per cent of foam and gives an outline like a saw."""

ROUNDS = 6
"""Times at most that the program is solved; two or three do on a smooth hull."""

LEFT = 0.03
"""mm; what may still lie outside after all rounds: less than a wire holds, and within what is promised of a block."""

NEAR = 0.002
"""mm; points that lack less get no row: the wire is not that true."""

SPARE = 0.006
"""mm more than a point lacks; a little foam for what lies between the points that are looked at."""

DIGIT = 0.001
"""mm; offsets are rounded up to this."""

ALONG = 8
"""Cells along a block: in each the point that lacks most gets a row."""

FIRM = 1e-7
"""Share by which each offset is dearer than the one before it, so that of equally good answers one is taken."""


@dataclass(frozen=True, slots=True)
class _Side:
    """One face's ring and its place among the numbers that are sought."""

    handles: Handles
    along: Floats
    """(k + 1,) mm to each knot, the whole length at the end."""
    columns: slice

    def spread(self, along: Floats) -> tuple[Ints, Floats]:
        """For places (k,) mm along the ring: the two columns (k, 2) that move each, and by what share."""
        before, after, share = self.handles.beside(along)
        return self.columns.start + np.column_stack([before, after]), np.column_stack([1 - share, share])


class Varying:
    """The search for one block; points may be added while it goes on."""

    def __init__(self, block: RuledBlock, *, enough: float, allowed: float, most: float) -> None:
        """A block before growth. Points may lie `allowed` mm outside; once none lies more than `enough` mm farther
        outside, the search ends. No offset exceeds `most` mm.
        """
        self.block = block
        self.enough, self.allowed = enough, allowed
        self._plain = tuple(refine(pair) for pair in block.rings)
        self._sides = _sides(self._plain)
        self._count = self._sides[-1][1].columns.stop
        self.offsets = np.zeros(self._count)
        self._moved_along = [tuple(side.along for side in both) for both in self._sides]
        self._program = _program(self._plain, self._sides, block.thickness, most)

    def search(self, points: Floats, lack: Floats) -> bool:
        """Grow until none of the points (n, 3) mm lies outside. `lack` (n,) is the mm by which each does so now; the
        answer is False where no growth covers them all.
        """
        least = NEAR
        for _ in range(ROUNDS):
            short = np.flatnonzero(lack > self.allowed + least)
            if not len(short):
                return True
            self._program.add(self._rows(points[short], lack[short]))
            found = self._program.solve()
            if found is None:
                return False
            self.offsets = np.round(np.ceil(found[: self._count] / DIGIT - 1e-3) * DIGIT, 3) + 0.0
            self.block = self._moved()
            lack = -depth_inside(self.block, points)
            if lack.max() <= self.allowed + self.enough:
                return True
            least = self.enough / 2
        return bool(lack.max() <= self.allowed + LEFT)

    def ranges(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Least and greatest offset on the fore and on the aft face, mm."""
        fore, aft = (np.concatenate([self.offsets[sides[face].columns] for sides in self._sides]) for face in (0, 1))
        return (float(fore.min()), float(fore.max())), (float(aft.min()), float(aft.max()))

    def _moved(self) -> RuledBlock:
        rings = [
            move_rings(pair, [side.handles for side in sides], [self.offsets[side.columns] for side in sides])
            for pair, sides in zip(self._plain, self._sides, strict=True)
        ]
        self._moved_along = [(pair.along_fore, pair.along_aft) for pair in rings]
        return RuledBlock(self.block.x_fore, self.block.x_aft, tuple(map(even_out, rings)))

    def _rows(self, points: Floats, lack: Floats) -> Rows:
        """A row for the point that lacks most in each cell."""
        rings = self.block.rings if self.offsets.any() else self._plain
        block = RuledBlock(self.block.x_fore, self.block.x_aft, rings)
        worst, ring = worst_in_cells(block, points, lack, 1)
        shares = (points[:, 0] - block.x_fore) / block.thickness
        places, factors, low = [], [], []
        for number, (pair, sides) in enumerate(zip(rings, self._sides, strict=True)):
            chosen = worst[ring == number]
            if not len(chosen):
                continue
            share = shares[chosen]
            near = nearest_wires(pair, points[chosen, 1:], share)
            columns, parts = [], []
            alongs = (pair.along_fore, pair.along_aft)
            for side, part, along, moved in zip(
                sides, (1 - share, share), alongs, self._moved_along[number], strict=True
            ):
                place = along[near.piece] + near.share * (along[near.piece + 1] - along[near.piece])
                column, weight = side.spread(np.interp(place, moved, side.along))
                way = side.handles.way[column - side.columns.start]
                columns.append(column)
                parts.append(part[:, None] * weight * (way * near.outward[:, None]).sum(axis=2))
            column, factor = np.concatenate(columns, axis=1), np.concatenate(parts, axis=1)
            places.append(column)
            factors.append(factor)
            low.append(lack[chosen] - self.allowed + SPARE + (factor * self.offsets[column]).sum(axis=1))
        least = np.concatenate(low)
        return Rows(np.concatenate(places), np.concatenate(factors), least, np.full(len(least), np.inf))


def worst_in_cells(block: RuledBlock, points: Floats, lack: Floats, count: int) -> tuple[Ints, Ints]:
    """Numbers of the `count` points (n, 3) mm that lack most in each cell round and along a block, and the number of
    the ring that each of them is nearest to.
    """
    shares = (points[:, 0] - block.x_fore) / block.thickness
    ring, place = sort_round(block.rings, points[:, 1:], shares)
    cell = place * ALONG + np.minimum((shares * ALONG).astype(np.int64), ALONG - 1)
    order = np.lexsort((-lack, cell))
    first = np.diff(cell[order], prepend=-1) > 0
    rank = np.arange(len(order)) - np.maximum.accumulate(np.where(first, np.arange(len(order)), 0))
    worst = order[rank < count]
    return worst, ring[worst]


def _sides(rings: Sequence[RingPair]) -> list[tuple[_Side, _Side]]:
    sides = []
    first = 0
    for pair in rings:
        both = []
        for ring, along in ((pair.fore, pair.along_fore), (pair.aft, pair.along_aft)):
            handles = handles_of(ring, along, hollow=pair.hollow)
            columns = slice(first, first + len(handles.along))
            both.append(_Side(handles, along, columns))
            first = columns.stop
        sides.append((both[0], both[1]))
    return sides


def _program(
    rings: Sequence[RingPair], sides: Sequence[tuple[_Side, _Side]], thickness: float, most: float
) -> GrowingProgram:
    """What is kept least, with the rows for slope and bends.

    Beside each offset stands a number that is no less than how sharply the offset bends upwards there: round a ring
    bends up and down are as large, so those upwards are enough to count.
    """
    cost = np.concatenate([own for pair, both in zip(rings, sides, strict=True) for own in _costs(pair, both)])
    cost = np.maximum(cost * thickness, 1e-3 * np.abs(cost).mean() * thickness)
    count = len(cost)
    unit = float(cost.mean())
    cost = cost / unit * (1 + FIRM * np.arange(count))
    bend = np.full(count, SMOOTH * thickness * APART**2 / unit)
    program = GrowingProgram(
        np.concatenate([cost, bend]), np.concatenate([np.full(count, most), np.full(count, np.inf)])
    )
    for side in (side for both in sides for side in both):
        own = np.arange(side.columns.start, side.columns.stop)
        before, after = np.roll(own, 1), np.roll(own, -1)
        gap = side.handles.gaps
        earlier = np.roll(gap, 1)
        steepest = SLOPE * gap
        program.add(Rows(np.column_stack([own, after]), np.tile([-1.0, 1.0], (len(own), 1)), -steepest, steepest))
        factors = np.column_stack([-1 / earlier, 1 / earlier + 1 / gap, -1 / gap, np.ones(len(own))])
        places = np.column_stack([before, own, after, count + own])
        program.add(Rows(places, factors, np.zeros(len(own)), np.full(len(own), np.inf)))
    return program


def _costs(pair: RingPair, sides: tuple[_Side, _Side]) -> list[Floats]:
    """For each handle of both faces (g,) mm2: how the volume of the block grows with its offset, for each mm of
    thickness, by the prismoidal formula.
    """
    costs = []
    for side, own, other in zip(sides, (pair.fore, pair.aft), (pair.aft, pair.fore), strict=True):
        gradient = (_outward(own) / 6 + _outward(other) / 12) * (-1 if pair.hollow else 1)
        before, after, share = side.handles.beside(side.along[:-1])
        way = side.handles.way
        parts = [
            np.bincount(handle, weight * (gradient * way[handle]).sum(axis=1), len(way))
            for handle, weight in ((before, 1 - share), (after, share))
        ]
        costs.append(np.asarray(parts[0] + parts[1], dtype=np.float64))
    return costs


def _outward(ring: Floats) -> Floats:
    """(k, 2): how twice the area of a ring grows as each of its points moves in y and in z."""
    after, before = np.roll(ring, -1, axis=0), np.roll(ring, 1, axis=0)
    return np.column_stack([after[:, 1] - before[:, 1], before[:, 0] - after[:, 0]])
