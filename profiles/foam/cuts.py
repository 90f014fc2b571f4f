"""A layout -> billets with every cut in its place, numbered in the order to make them, and the fence list.

Wide strips, long blanks and thick blocks come first, so that all cuts of one setting follow each other. A rest that is
narrower than the kerf is eaten by the wire: the slot is as wide as the rest.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby

from profiles.foam.cutting import Billet, Box3, Cut, FenceSetting, Offcut, Placed, Stage
from profiles.foam.layers import FIT, BilletKind
from profiles.foam.patterns import Task
from profiles.foam.strips import Blank, Layout, PlannedBillet, PlannedStrip

THINNEST_SLAB = 10.0
"""mm; what slicing leaves is worth keeping from here on: thinner slabs break in the hand. Common practice."""

STAGES = tuple(Stage)


@dataclass(slots=True)
class _Work:
    """What has been cut of one billet so far."""

    task: Task
    kind: BilletKind
    cuts: list[Cut] = field(default_factory=list)
    placed: list[Placed] = field(default_factory=list)
    offcuts: list[Offcut] = field(default_factory=list)
    kerf: float = 0.0
    trim: float = 0.0
    waste: float = 0.0

    def cut(self, stage: Stage, fence: float, within: Box3, slot: Box3) -> None:
        self.cuts.append(Cut(0, stage, fence, within, slot))
        self.kerf += slot.volume

    def rest(self, piece: Box3, layer: int | None = None, thinnest: float = 0.0) -> None:
        least = max(self.task.settings.smallest_offcut, FIT)
        if min(piece.along, piece.across) >= least and piece.thick >= max(thinnest, FIT):
            self.offcuts.append(Offcut(piece, layer))
        else:
            self.waste += piece.volume


def billets_of(task: Task, layout: Layout) -> tuple[tuple[Billet, ...], tuple[FenceSetting, ...]]:
    """Billets with numbered cuts, and the settings of the fence in the order they are made.

    The layout gives no size more often than it is wanted; blocks of a size are numbered as they come.
    """
    numbers = [list(size.blocks) for size in task.sizes]
    billets = [
        _billet(task, planned, number, numbers)
        for number, planned in enumerate(sorted(layout, key=lambda one: _billet_key(task, one)), start=1)
    ]
    every = [(cut, billet.number, n) for billet in billets for n, cut in enumerate(billet.cuts)]
    every.sort(key=lambda one: (*_setting(one[0]), *one[1:]))
    order = {(billet, n): number for number, (_, billet, n) in enumerate(every, start=1)}
    fences = [(setting, list(group)) for setting, group in groupby(every, key=lambda one: _setting(one[0]))]
    numbered = tuple(
        replace(billet, cuts=tuple(replace(cut, number=order[billet.number, n]) for n, cut in enumerate(billet.cuts)))
        for billet in billets
    )
    in_order = [replace(one, cuts=tuple(sorted(one.cuts, key=lambda cut: cut.number))) for one in numbered]
    return tuple(in_order), tuple(
        FenceSetting(STAGES[stage], group[0][0].fence, len(group)) for (stage, _), group in fences
    )


def _setting(cut: Cut) -> tuple[int, float]:
    return STAGES.index(cut.stage), -round(cut.fence, 6)


def _billet_key(task: Task, planned: PlannedBillet) -> tuple[object, ...]:
    kind = task.kinds[planned.kind]
    blanks = [blank for strip in planned.strips for blank in strip.blanks]
    return -kind.thickness, planned.kind, -len(blanks), sorted((blank.lay, blank.sizes) for blank in blanks)


def _billet(task: Task, planned: PlannedBillet, number: int, numbers: Sequence[list[int]]) -> Billet:
    kind = task.kinds[planned.kind]
    work = _Work(task, kind)
    _cut_down(work)
    _square(work)
    _strips(work, planned, numbers)
    return Billet(
        number=number,
        kind=kind,
        boards=tuple(task.stock[place] for place in kind.layers),
        cuts=tuple(work.cuts),
        blocks=tuple(work.placed),
        offcuts=tuple(work.offcuts),
        kerf_volume=work.kerf,
        trim_volume=work.trim,
        waste_volume=work.waste,
    )


def _cut_down(work: _Work) -> None:
    """The layers of a billet cut to the size they share, each board by itself before it is glued."""
    kind, kerf = work.kind, work.task.kerf
    z = 0.0
    for layer, place in enumerate(kind.layers):
        board = work.task.stock[place]
        whole = Box3(0.0, 0.0, z, board.length, board.width, board.thickness)
        slot = min(kerf, board.length - kind.length)
        if board.length - kind.length > FIT:
            work.cut(Stage.DOWN, kind.length, whole, replace(whole, x=kind.length, along=slot))
            end = kind.length + slot
            work.rest(replace(whole, x=end, along=board.length - end), layer)
            whole = replace(whole, along=kind.length)
        slot = min(kerf, board.width - kind.width)
        if board.width - kind.width > FIT:
            work.cut(Stage.DOWN, kind.width, whole, replace(whole, y=kind.width, across=slot))
            end = kind.width + slot
            work.rest(replace(whole, y=end, across=board.width - end), layer)
        z += board.thickness + work.task.settings.glue


def _square(work: _Work) -> None:
    """A long edge, then a short one, cut straight."""
    kind, trim = work.kind, work.task.settings.trim
    slot = min(work.task.kerf, trim)
    if trim <= 0:
        return
    whole = Box3(0.0, 0.0, 0.0, kind.length, kind.width, kind.thickness)
    work.cut(Stage.SQUARE, 0.0, whole, replace(whole, y=trim - slot, across=slot))
    work.trim += replace(whole, across=trim - slot).volume
    whole = replace(whole, y=trim, across=kind.width - trim)
    work.cut(Stage.SQUARE, 0.0, whole, replace(whole, x=trim - slot, along=slot))
    work.trim += replace(whole, along=trim - slot).volume


def _strips(work: _Work, planned: PlannedBillet, numbers: Sequence[list[int]]) -> None:
    kind, trim = work.kind, work.task.settings.trim
    left = Box3(trim, trim, 0.0, kind.length - trim, kind.width - trim, kind.thickness)
    ordered = sorted(planned.strips, key=lambda one: _strip_key(work.task, one))
    for number, strip in enumerate(ordered, start=1):
        piece = replace(left, across=strip.width)
        rest = left.across - strip.width
        slot = max(0.0, min(work.task.kerf, rest))
        if rest > FIT:
            work.cut(Stage.STRIP, strip.width, left, replace(left, y=left.y + strip.width, across=slot))
        _blanks(work, strip, piece, number, numbers)
        left = replace(left, y=left.y + strip.width + slot, across=max(0.0, rest - slot))
    work.rest(left)


def _strip_key(task: Task, strip: PlannedStrip) -> tuple[object, ...]:
    return -strip.width, -len(strip.blanks), sorted(_blank_key(task, blank) for blank in strip.blanks)


def _blank_key(task: Task, blank: Blank) -> tuple[object, ...]:
    lay = task.lays[blank.lay]
    return -lay.along, -lay.across, blank.lay, blank.sizes


def _blanks(work: _Work, strip: PlannedStrip, whole: Box3, number: int, numbers: Sequence[list[int]]) -> None:
    task, left = work.task, whole
    for count, blank in enumerate(sorted(strip.blanks, key=lambda one: _blank_key(task, one)), start=1):
        lay = task.lays[blank.lay]
        piece = replace(left, along=lay.along)
        rest = left.along - lay.along
        slot = max(0.0, min(task.kerf, rest))
        if rest > FIT:
            work.cut(Stage.ACROSS, lay.along, left, replace(left, x=left.x + lay.along, along=slot))
        left = replace(left, x=left.x + lay.along + slot, along=max(0.0, rest - slot))
        _blocks(work, blank, _trim(work, piece, lay.across), (number, count), numbers)
    work.rest(left)


def _trim(work: _Work, piece: Box3, across: float) -> Box3:
    """A blank as wide as its block."""
    rest = piece.across - across
    if rest <= FIT:
        return piece
    slot = min(work.task.kerf, rest)
    work.cut(Stage.TRIM, across, piece, replace(piece, y=piece.y + across, across=slot))
    work.rest(replace(piece, y=piece.y + across + slot, across=rest - slot))
    return replace(piece, across=across)


def _blocks(work: _Work, blank: Blank, left: Box3, place: tuple[int, int], numbers: Sequence[list[int]]) -> None:
    task, lay = work.task, work.task.lays[blank.lay]
    ordered = sorted(blank.sizes, key=lambda size: (-task.sizes[size].thickness, size))
    for size in ordered:
        thick = task.sizes[size].thickness
        if work.kind.is_as_wanted(thick):
            thick = left.thick
        rest = left.thick - thick
        slot = max(0.0, min(task.kerf, rest))
        if rest > FIT:
            work.cut(Stage.SLICE, thick, left, replace(left, z=left.z + thick, thick=slot))
        work.placed.append(Placed(numbers[size].pop(0), replace(left, thick=thick), lay.turned, *place))
        left = replace(left, z=left.z + thick + slot, thick=max(0.0, rest - slot))
    work.rest(left, thinnest=THINNEST_SLAB)
