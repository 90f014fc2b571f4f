"""A layout: billets with their strips and blanks, before the cuts have places and numbers."""

from collections import Counter

from profiles.foam.patterns import Column, StripPattern, make_pattern
from profiles.foam.task import Task
from profiles.values import dataclass


@dataclass(frozen=True, slots=True)
class Blank:
    """A blank in a strip and the blocks that come out of it."""

    orientation: int
    sizes: tuple[int, ...]
    """The index of the block size, once for each block."""


@dataclass(frozen=True, slots=True)
class PlannedStrip:
    """A strip and its blanks, in no order."""

    width: float
    blanks: tuple[Blank, ...]


@dataclass(frozen=True, slots=True)
class PlannedBillet:
    """A billet and its strips, in no order."""

    kind: int
    strips: tuple[PlannedStrip, ...]

    @property
    def blanks(self) -> list[Blank]:
        """The blanks of all strips."""
        return [blank for strip in self.strips for blank in strip.blanks]


Layout = tuple[PlannedBillet, ...]


def make_strip(task: Task, blanks: list[Blank]) -> PlannedStrip:
    """A strip as wide as its widest blank; at least one blank."""
    return PlannedStrip(max(task.orientations[blank.orientation].across for blank in blanks), tuple(blanks))


def columns_of(task: Task, layout: Layout) -> list[Column]:
    """The billets of a layout as columns."""
    columns = []
    for billet in layout:
        strips: Counter[StripPattern] = Counter()
        for strip in billet.strips:
            blanks = make_pattern(Counter(blank.orientation for blank in strip.blanks))
            widest = max(task.orientations[n].across for n, _ in blanks)
            strips[StripPattern(task.widths.index(widest), blanks)] += 1
        ordered = sorted(strips.items(), key=lambda entry: (entry[0].width, entry[0].blanks))
        gives = make_pattern(Counter(size for blank in billet.blanks for size in blank.sizes))
        columns.append(Column(task.format_of[billet.kind], billet.kind, tuple(ordered), gives))
    return columns


def layout_cost(task: Task, layout: Layout) -> float:
    """Cost of the boards of a layout."""
    return sum(task.kind_cost(billet.kind) for billet in layout)


def blank_volume(task: Task, layout: Layout) -> float:
    """Volume of foam that the blanks use up, with kerfs and slabs worth keeping, mm3."""
    total = 0.0
    for billet in layout:
        kind = task.kinds[billet.kind]
        for blank in billet.blanks:
            orientation, thickness = task.orientations[blank.orientation], task.sizes[blank.sizes[0]].thickness
            used = thickness if kind.matches(thickness) else kind.thickness
            total += used * orientation.along * orientation.across
    return total


def block_volume(task: Task, layout: Layout) -> float:
    """Volume of the blocks that a layout gives, mm3."""
    volumes = task.block_volumes
    return sum(volumes[size] for billet in layout for blank in billet.blanks for size in blank.sizes)
