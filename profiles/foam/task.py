"""What a cutting plan is made from: the stock and the blocks, sorted into billet kinds, block sizes and formats.

Blocks of the same height and width have the same footprint; a blank has a footprint and lies in one of two
orientations. Billets of the same length, width and thickness have the same format, whatever boards they are made of, as
long as they are all glued or all not, all of offcuts or not, and all at hand or not.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property

from profiles.foam.cutting import CuttingSettings, Grain, WantedBlock
from profiles.foam.layers import ROUNDING, BilletKind, billet_kinds
from profiles.foam.stock import Board
from profiles.values import dataclass

MAX_STACKS = 60
"""Largest number of ways to slice a blank to tell apart, per footprint and format; beyond it, only full stacks."""

MAX_FULL_STACKS = 300
"""Largest number of full stacks to tell apart; beyond it, only stacks of a single thickness."""

MAX_STACKS_TRIED = 20_000
"""Largest number of ways to slice a blank, full or not, to go through."""

Pattern = tuple[tuple[int, int], ...]
"""Pieces side by side, in no order: (index of the piece, how many), ascending. In a strip the index is that of an
orientation, in a billet that of a strip width in `Task.widths`."""


@dataclass(frozen=True, slots=True)
class BlockSize:
    """Blocks of equal size, mm."""

    thickness: float
    footprint: int
    """Its index in `Task.footprints`."""
    blocks: tuple[int, ...]
    """Their numbers."""
    odd: bool = False
    """See `WantedBlock.odd`."""


@dataclass(frozen=True, slots=True)
class Orientation:
    """A footprint as it lies in a strip, mm."""

    footprint: int
    along: float
    across: float
    turned: bool


@dataclass(frozen=True, slots=True)
class Stack:
    """Blocks that come out of one blank."""

    counts: Pattern
    """(index of the block size, how many), ascending."""
    thickness: float
    """Thickness of foam that is used up, mm: that of the block if it is not sliced, else that of the blank."""

    @property
    def sizes(self) -> tuple[int, ...]:
        """The index of the block size, once for each block."""
        return tuple(size for size, count in self.counts for _ in range(count))


@dataclass(frozen=True, slots=True)
class Format:
    """Billets of one length, width, thickness and source; mm."""

    length: float
    """What squaring leaves."""
    width: float
    """What squaring leaves."""
    thickness: float
    kinds: tuple[int, ...]
    stacks: tuple[tuple[Stack, ...], ...]
    """For each footprint; empty if its blocks are too thick."""

    def block_sizes(self, footprint: int) -> list[int]:
        """The block sizes that blanks of a footprint give, ascending."""
        return sorted({size for stack in self.stacks[footprint] for size, _ in stack.counts})

    def holds(self, orientation: Orientation) -> bool:
        """Whether a blank in this orientation fits."""
        return orientation.along <= self.length + ROUNDING and orientation.across <= self.width + ROUNDING


@dataclass(frozen=True)  # no slots: values are cached
class Task:
    """All that a plan is made from."""

    stock: tuple[Board, ...]
    settings: CuttingSettings
    kinds: tuple[BilletKind, ...]
    sizes: tuple[BlockSize, ...]
    footprints: tuple[tuple[float, float], ...]
    """(height, width) mm."""
    orientations: tuple[Orientation, ...]
    """By their size across, then along."""
    widths: tuple[float, ...]
    """Strip widths: every size across of an orientation, ascending, mm."""
    formats: tuple[Format, ...]
    complete: bool
    """True if no kind of billet and no way to slice a blank was left out."""

    @property
    def kerf(self) -> float:
        """Width of foam that each cut melts, mm."""
        return self.settings.effective_kerf

    @cached_property
    def demand(self) -> tuple[int, ...]:
        """How many blocks of each size are wanted."""
        return tuple(len(size.blocks) for size in self.sizes)

    @cached_property
    def block_volumes(self) -> tuple[float, ...]:
        """Volume of a block of each size, mm3."""
        return tuple(size.thickness * math.prod(self.footprints[size.footprint]) for size in self.sizes)

    @cached_property
    def format_of(self) -> dict[int, int]:
        """Index of a billet kind -> index of its format."""
        return {kind: n for n, fmt in enumerate(self.formats) for kind in fmt.kinds}

    @cached_property
    def price_unit(self) -> float:
        """The largest of the prices that count, or the largest area in mm2; `prices` are shares of it."""
        return max(self._values, default=0.0) or 1.0

    @cached_property
    def prices(self) -> tuple[float, ...]:
        """Price of each board to be bought, or its area if not all of them have one, as a share of the largest; boards
        at hand are free. If nothing can be bought, that of the boards at hand. Offcuts are free.
        """
        return tuple(value / self.price_unit for value in self._values)

    @cached_property
    def _values(self) -> tuple[float, ...]:
        return board_values(self.stock, [board.count is None for board in self.stock])

    @cached_property
    def taken_prices(self) -> tuple[float, ...]:
        """The same for boards at hand alone."""
        values = board_values(self.stock, [False] * len(self.stock))
        largest = max(values, default=0.0) or 1.0
        return tuple(value / largest for value in values)

    def kind_cost(self, kind: int, prices: Sequence[float] | None = None) -> float:
        """Cost of the boards of a billet, by the task's prices or others."""
        return sum((prices or self.prices)[board] for board in self.kinds[kind].uses)

    def strip_orientations(self, fmt: Format, width: float) -> list[int]:
        """Indices of the orientations that a strip of this width (mm) can hold in billets of a format."""
        return [
            n
            for n, orientation in enumerate(self.orientations)
            if orientation.across <= width + ROUNDING
            and orientation.along <= fmt.length + ROUNDING
            and fmt.stacks[orientation.footprint]
        ]

    def can_give(self, size: int) -> bool:
        """Whether blocks of this size come out of some billet."""
        footprint = self.sizes[size].footprint
        orientations = [orientation for orientation in self.orientations if orientation.footprint == footprint]
        return any(
            size in fmt.block_sizes(footprint) and any(fmt.holds(orientation) for orientation in orientations)
            for fmt in self.formats
        )

    def within_budget(self, budget: float) -> "Task":
        """The task without billets that alone cost more than the budget; formats keep their indices."""
        formats = tuple(
            replace(fmt, kinds=tuple(kind for kind in fmt.kinds if self.kind_cost(kind) <= budget))
            for fmt in self.formats
        )
        return replace(self, formats=formats)


def board_values(stock: Sequence[Board], to_buy: Sequence[bool]) -> tuple[float, ...]:
    """Price of each board that counts, or its area in mm2 if not all of these have one; 0 for the others.

    The boards to be bought count, or if there are none, the boards at hand that are not offcuts.
    """
    counts = to_buy if any(to_buy) else [not board.offcut and board.count is not None for board in stock]
    priced = all(board.price for board, valid in zip(stock, counts, strict=True) if valid)
    return tuple(
        0.0 if not valid else board.price if priced and board.price else board.length * board.width
        for board, valid in zip(stock, counts, strict=True)
    )


def make_task(stock: Sequence[Board], wanted: Sequence[WantedBlock], settings: CuttingSettings) -> Task:
    """Sort stock and blocks into kinds, sizes and formats; without stock or blocks there are none."""
    groups: dict[tuple[float, float, float, bool], list[int]] = {}
    for block in sorted(wanted, key=lambda block: block.number):
        groups.setdefault((block.height, block.width, block.thickness, block.odd), []).append(block.number)
    footprints = tuple(sorted({key[:2] for key in groups}))
    index = {footprint: n for n, footprint in enumerate(footprints)}
    ordered = sorted(groups, key=lambda key: (index[key[:2]], -key[2], key[3]))
    sizes = tuple(BlockSize(key[2], index[key[:2]], tuple(groups[key]), key[3]) for key in ordered)
    orientations = _orientations(footprints, settings.grain)
    useful = billet_kinds(
        stock,
        [block.thickness for block in wanted],
        max_layers=settings.max_layers,
        kerf=settings.effective_kerf,
        glue=settings.glue,
    )
    formats, complete = _formats(stock, useful.kinds, sizes, len(footprints), settings)
    return Task(
        stock=tuple(stock),
        settings=settings,
        kinds=useful.kinds,
        sizes=sizes,
        footprints=footprints,
        orientations=orientations,
        widths=tuple(sorted({orientation.across for orientation in orientations})),
        formats=formats,
        complete=useful.complete and complete,
    )


def _orientations(footprints: Sequence[tuple[float, float]], grain: Grain) -> tuple[Orientation, ...]:
    orientations = []
    for n, (height, width) in enumerate(footprints):
        if grain != Grain.WIDTH_ALONG:
            orientations.append(Orientation(n, height, width, turned=False))
        if grain != Grain.HEIGHT_ALONG and (height != width or grain == Grain.WIDTH_ALONG):
            orientations.append(Orientation(n, width, height, turned=True))
    return tuple(sorted(orientations, key=lambda entry: (entry.across, entry.along, entry.footprint)))


def _formats(
    stock: Sequence[Board],
    kinds: Sequence[BilletKind],
    sizes: Sequence[BlockSize],
    footprints: int,
    settings: CuttingSettings,
) -> tuple[tuple[Format, ...], bool]:
    """The formats, and whether every way to slice a blank is among their stacks."""
    groups: dict[tuple[object, ...], list[int]] = {}
    for n, kind in enumerate(kinds):
        boards = [stock[board] for board in kind.uses]
        source = (
            kind.glue_lines > 0,
            all(board.offcut for board in boards),
            any(board.count is None for board in boards),
        )
        groups.setdefault((kind.length, kind.width, kind.thickness, kind.actual_thickness, *source), []).append(n)
    formats, complete = [], True
    for members in groups.values():
        length, width, thickness = (getattr(kinds[members[0]], name) for name in ("length", "width", "thickness"))
        stacks = []
        for footprint in range(footprints):
            candidates = [n for n, size in enumerate(sizes) if size.footprint == footprint]
            possible, all_stacks = _stacks(kinds[members[0]], sizes, candidates, settings.effective_kerf)
            stacks.append(possible)
            complete = complete and all_stacks
        if any(stacks):
            net = (length - settings.trim, width - settings.trim)
            formats.append(Format(*net, thickness, tuple(members), tuple(stacks)))
    return tuple(formats), complete


def _stacks(
    kind: BilletKind, sizes: Sequence[BlockSize], candidates: Sequence[int], kerf: float
) -> tuple[tuple[Stack, ...], bool]:
    """The ways to take blocks of the candidate sizes out of one blank of this kind, and whether these are all."""
    unsliced = [n for n in candidates if kind.matches(sizes[n].thickness)]
    sliced = [n for n in candidates if n not in unsliced and sizes[n].thickness <= kind.sliceable_thickness + ROUNDING]
    limit = kind.sliceable_thickness + kerf + ROUNDING
    stacks: list[tuple[Pattern, float]] = [((), 0.0)]
    for n in sliced:
        step = sizes[n].thickness + kerf
        for counts, depth in list(stacks):
            most = min(len(sizes[n].blocks), int((limit - depth) // step))
            stacks += [((*counts, (n, count)), depth + count * step) for count in range(1, most + 1)]
        if len(stacks) > MAX_STACKS_TRIED:
            break
    complete = len(stacks) <= MAX_STACKS_TRIED
    if len(stacks) > MAX_STACKS:
        full = [(counts, depth) for counts, depth in stacks if not _can_add(sizes, sliced, counts, limit - depth, kerf)]
        complete = complete and len(full) <= MAX_FULL_STACKS
        single: list[tuple[Pattern, float]] = [
            (((n, min(len(sizes[n].blocks), int(limit // (sizes[n].thickness + kerf)))),), 0.0) for n in sliced
        ]
        stacks = full if complete else single
    return (
        *(Stack(((n, 1),), sizes[n].thickness) for n in unsliced),
        *(Stack(counts, kind.thickness) for counts, _ in stacks if counts),
    ), complete


def _can_add(sizes: Sequence[BlockSize], candidates: Sequence[int], counts: Pattern, left: float, kerf: float) -> bool:
    """Whether another block can be sliced from what is left of a blank (mm)."""
    used = dict(counts)
    return any(sizes[n].thickness + kerf <= left and used.get(n, 0) < len(sizes[n].blocks) for n in candidates)
