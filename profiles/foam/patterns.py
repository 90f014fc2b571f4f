"""What can be cut out of what: blocks out of a blank, blanks out of a strip, strips out of a billet.

Two blocks of one height and width are of one footprint; a blank has a footprint and lies one of two ways. Billets of
one length, width and thickness have one format, whatever boards they are of. A pattern is one way to fill a piece,
without regard to order.
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from profiles.foam.cutting import CuttingSettings, Grain, WantedBlock
from profiles.foam.layers import FIT, BilletKind, billet_kinds
from profiles.foam.stock import Board

ALL_STACKS = 60
"""Ways to slice a blank that are all distinguished, for one footprint and format; with more, only full ones."""

MOST_STACKS = 300
"""Full ones that are distinguished; beyond, only one thickness at a time."""

STACKS_LOOKED_AT = 20_000
"""Ways to slice a blank, full or not, that are considered."""


@dataclass(frozen=True, slots=True)
class Size:
    """Blocks that are alike, mm."""

    thickness: float
    footprint: int
    blocks: tuple[int, ...]
    """Their numbers."""


@dataclass(frozen=True, slots=True)
class Lay:
    """A footprint in a strip, mm."""

    footprint: int
    along: float
    across: float
    turned: bool


@dataclass(frozen=True, slots=True)
class Stack:
    """Blocks out of one blank."""

    counts: tuple[tuple[int, int], ...]
    """(size, how many), ascending."""
    taken: float
    """Thickness of foam that is used up, mm: the block's where it comes as it is, else the blank's."""

    @property
    def sizes(self) -> tuple[int, ...]:
        """One for each block."""
        return tuple(size for size, many in self.counts for _ in range(many))


@dataclass(frozen=True, slots=True)
class Format:
    """Billets of one length, width and thickness."""

    length: float
    """What is left to cut after squaring, mm."""
    width: float
    thickness: float
    kinds: tuple[int, ...]
    stacks: tuple[tuple[Stack, ...], ...]
    """For each footprint; empty where its blocks are too thick."""


Pattern = tuple[tuple[int, int], ...]
"""A strip: (lay, how many), ascending; or a billet: (strip width by its place in `Task.widths`, how many)."""


@dataclass(frozen=True, slots=True)
class Task:
    """All that a plan is made from."""

    stock: tuple[Board, ...]
    settings: CuttingSettings
    kinds: tuple[BilletKind, ...]
    sizes: tuple[Size, ...]
    footprints: tuple[tuple[float, float], ...]
    """(height, width) mm."""
    lays: tuple[Lay, ...]
    """By what they take across, then along."""
    widths: tuple[float, ...]
    """Of strips: what some lay takes across, ascending, mm."""
    formats: tuple[Format, ...]
    whole: bool
    """True: no kind of billet and no way to slice a blank was left out."""

    @property
    def kerf(self) -> float:
        """Mm."""
        return self.settings.slot


def task_of(stock: Sequence[Board], wanted: Sequence[WantedBlock], settings: CuttingSettings) -> Task:
    """Stock and blocks sorted into kinds, sizes and formats; no stock and no blocks give an empty task."""
    groups: dict[tuple[float, float, float], list[int]] = {}
    for block in sorted(wanted, key=lambda entry: entry.number):
        groups.setdefault((block.height, block.width, block.thickness), []).append(block.number)
    footprints = tuple(sorted({key[:2] for key in groups}))
    place = {footprint: n for n, footprint in enumerate(footprints)}
    ordered = sorted(groups, key=lambda key: (place[key[:2]], -key[2]))
    sizes = tuple(Size(key[2], place[key[:2]], tuple(groups[key])) for key in ordered)
    lays = _lays(footprints, settings.grain)
    layering = billet_kinds(
        stock,
        [block.thickness for block in wanted],
        most_layers=settings.most_layers,
        kerf=settings.slot,
        glue=settings.glue,
    )
    formats, whole = _formats(layering.kinds, sizes, len(footprints), settings)
    return Task(
        stock=tuple(stock),
        settings=settings,
        kinds=layering.kinds,
        sizes=sizes,
        footprints=footprints,
        lays=lays,
        widths=tuple(sorted({lay.across for lay in lays})),
        formats=formats,
        whole=layering.whole and whole,
    )


def _lays(footprints: Sequence[tuple[float, float]], grain: Grain) -> tuple[Lay, ...]:
    lays = []
    for n, (height, width) in enumerate(footprints):
        if grain != Grain.WIDTH_ALONG:
            lays.append(Lay(n, height, width, turned=False))
        if grain != Grain.HEIGHT_ALONG and (height != width or grain == Grain.WIDTH_ALONG):
            lays.append(Lay(n, width, height, turned=True))
    return tuple(sorted(lays, key=lambda lay: (lay.across, lay.along, lay.footprint)))


def _formats(
    kinds: Sequence[BilletKind], sizes: Sequence[Size], footprints: int, settings: CuttingSettings
) -> tuple[tuple[Format, ...], bool]:
    groups: dict[tuple[float, float, float, float], list[int]] = {}
    for n, kind in enumerate(kinds):
        groups.setdefault((kind.length, kind.width, kind.thickness, kind.measured), []).append(n)
    formats, whole = [], True
    for (length, width, thickness, _), members in groups.items():
        stacks = []
        for footprint in range(footprints):
            own = [n for n, size in enumerate(sizes) if size.footprint == footprint]
            ways, all_of_them = _stacks(kinds[members[0]], sizes, own, settings.slot)
            stacks.append(ways)
            whole = whole and all_of_them
        if any(stacks):
            net = (length - settings.trim, width - settings.trim)
            formats.append(Format(*net, thickness, tuple(members), tuple(stacks)))
    return tuple(formats), whole


def _stacks(kind: BilletKind, sizes: Sequence[Size], own: Sequence[int], kerf: float) -> tuple[tuple[Stack, ...], bool]:
    """Every way to take blocks out of one blank of this kind, and whether these are all."""
    as_it_comes = [Stack(((n, 1),), sizes[n].thickness) for n in own if kind.is_as_wanted(sizes[n].thickness)]
    sliced = [
        n for n in own if sizes[n].thickness <= kind.sliceable + FIT and not kind.is_as_wanted(sizes[n].thickness)
    ]
    room = kind.sliceable + kerf + FIT
    ways: list[tuple[Pattern, float]] = [((), 0.0)]
    for n in sliced:
        step = sizes[n].thickness + kerf
        for counts, depth in list(ways):
            most = min(len(sizes[n].blocks), int((room - depth) // step))
            ways += [((*counts, (n, many)), depth + many * step) for many in range(1, most + 1)]
        if len(ways) > STACKS_LOOKED_AT:
            break
    every = len(ways) <= STACKS_LOOKED_AT
    if len(ways) > ALL_STACKS:
        full = [(counts, depth) for counts, depth in ways if not _more(sizes, sliced, counts, room - depth, kerf)]
        every = every and len(full) <= MOST_STACKS
        alone: list[tuple[Pattern, float]] = [
            (((n, min(len(sizes[n].blocks), int(room // (sizes[n].thickness + kerf)))),), 0.0) for n in sliced
        ]
        ways = full if every else alone
    stacks = [Stack(counts, kind.thickness) for counts, _ in ways if counts]
    return (*as_it_comes, *stacks), every


def _more(sizes: Sequence[Size], own: Sequence[int], counts: Pattern, room: float, kerf: float) -> bool:
    """Whether another block can be sliced from what is left of a blank."""
    taken = dict(counts)
    return any(sizes[n].thickness + kerf <= room and taken.get(n, 0) < len(sizes[n].blocks) for n in own)


def affordable(task: Task, prices: Sequence[float], most: float) -> Task:
    """The task without billets that cost more than `most` by themselves; formats keep their places."""
    formats = tuple(
        replace(
            form, kinds=tuple(n for n in form.kinds if sum(prices[place] for place in task.kinds[n].layers) <= most)
        )
        for form in task.formats
    )
    return replace(task, formats=formats)


def most_in(room: float, size: float, kerf: float) -> int:
    """How many pieces of one size a length gives, with a kerf between them."""
    return max(0, math.floor((room + kerf + FIT) / (size + kerf)))


def fits(task: Task, pattern: Pattern, room: float, *, strip: bool) -> bool:
    """Whether the blanks of a strip fit its length, or the strips of a billet its width, with a kerf between; mm."""
    size = [lay.along for lay in task.lays] if strip else task.widths
    taken = sum((size[n] + task.kerf) * many for n, many in pattern)
    return taken <= room + task.kerf + FIT


def plain(counts: Counter[int]) -> Pattern:
    """A pattern from counts."""
    return tuple(sorted((n, many) for n, many in counts.items() if many > 0))


def strip_lays(task: Task, form: Format, width: float) -> list[int]:
    """Lays that a strip of this width can hold in billets of this format."""
    return [
        n
        for n, lay in enumerate(task.lays)
        if lay.across <= width + FIT and form.stacks[lay.footprint] and lay.along <= form.length + FIT
    ]


def can_hold(task: Task, size: int) -> bool:
    """Whether blocks of this size come out of some billet."""
    footprint = task.sizes[size].footprint
    return any(
        any(one == size for stack in form.stacks[footprint] for one, _ in stack.counts)
        and any(
            lay.along <= form.length + FIT and lay.across <= form.width + FIT
            for lay in task.lays
            if lay.footprint == footprint
        )
        for form in task.formats
    )


def useful_widths(task: Task, form: Format) -> list[int]:
    """Strip widths, by their place in `task.widths`, that some blank of this format fills."""
    filled = {task.lays[n].across for n in strip_lays(task, form, form.width)}
    return [n for n, width in enumerate(task.widths) if width in filled and width <= form.width + FIT]


def patterns_into(
    sizes: Sequence[float], caps: Sequence[int], room: float, kerf: float, most: int
) -> list[tuple[int, ...]] | None:
    """Every non-empty choice of pieces that fits, as counts; None where there are more than `most`.

    `sizes` mm with a kerf between pieces, at most `caps` of each.
    """
    found: list[tuple[int, ...]] = []

    def grow(at: int, counts: tuple[int, ...], left: float) -> bool:
        if at == len(sizes):
            if any(counts):
                found.append(counts)
            return len(found) <= most
        step = sizes[at] + kerf
        top = min(caps[at], int((left + FIT) // step)) if step > 0 else caps[at]
        return all(grow(at + 1, (*counts, many), left - many * step) for many in range(top, -1, -1))

    return found if grow(0, (), room + kerf) else None
