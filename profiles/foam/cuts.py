"""A layout -> billets with every cut in its place, numbered in the order in which to make them, and the fence list.

Wide strips, long blanks and thick blocks come first, so that all cuts of one fence setting follow each other. A rest
that is narrower than the kerf melts: the slot is only as wide as the rest.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import field, replace

from profiles.foam.cutting import Billet, Box3, Cut, FenceSetting, Offcut, PlacedBlock, Stage
from profiles.foam.layers import ROUNDING, BilletKind, Halved
from profiles.foam.layouts import Blank, Layout, PlannedBillet, PlannedStrip
from profiles.foam.task import Task
from profiles.values import dataclass

THINNEST_SLAB = 10.0
"""mm; slabs that slicing leaves are kept from this thickness on: thinner ones break in the hand. Common practice."""

STAGES = tuple(Stage)

SIDES = {"x": "along", "y": "across", "z": "thick"}
"""The size of a box along each axis."""


@dataclass(slots=True)
class _Cutting:
    """A billet while it is being cut."""

    task: Task
    kind: BilletKind
    cuts: list[Cut] = field(default_factory=list)
    blocks: list[PlacedBlock] = field(default_factory=list)
    offcuts: list[Offcut] = field(default_factory=list)
    kerf: float = 0.0
    trim: float = 0.0
    waste: float = 0.0

    def cut_off(self, stage: Stage, axis: str, piece: Box3, size: float) -> tuple[Box3, Box3]:
        """Cut a piece across an axis, so that `size` mm are kept; the part that is kept, and the rest behind the slot.

        No cut is made where nothing would be left.
        """
        side, low, whole = SIDES[axis], getattr(piece, axis), getattr(piece, SIDES[axis])
        left = whole - size
        slot = max(0.0, min(self.task.kerf, left))
        if left > ROUNDING:
            melted = replace(piece, **{axis: low + size, side: slot})
            self.cuts.append(Cut(0, stage, size, piece, melted))
            self.kerf += melted.volume
        rest = replace(piece, **{axis: low + size + slot, side: max(0.0, left - slot)})
        return replace(piece, **{side: size}), rest

    def put_aside(self, piece: Box3, layer: int | None = None, thinnest: float = 0.0) -> None:
        """Keep a rest as an offcut if it is large enough; otherwise it is waste."""
        least = max(self.task.settings.smallest_offcut, ROUNDING)
        if min(piece.along, piece.across) >= least and piece.thick >= max(thinnest, ROUNDING):
            self.offcuts.append(Offcut(piece, layer))
        else:
            self.waste += piece.volume


def make_billets(task: Task, layout: Layout) -> tuple[tuple[Billet, ...], tuple[FenceSetting, ...]]:
    """Billets with numbered cuts, and the fence settings in the order in which they are made.

    The layout gives no more blocks of a size than are wanted; they get their numbers in the order of the billets.
    """
    numbers = [list(size.blocks) for size in task.sizes]
    ordered = sorted(layout, key=lambda planned: _billet_order(task, planned))
    billets = [_make_billet(task, planned, number, numbers) for number, planned in enumerate(ordered, start=1)]
    cuts = [(_fence(cut), billet.number, n) for billet in billets for n, cut in enumerate(billet.cuts)]
    cuts.sort()
    order = {(billet, n): number for number, (_, billet, n) in enumerate(cuts, start=1)}
    counts = Counter(fence for fence, _, _ in cuts)
    fences: dict[tuple[int, float], FenceSetting] = {}
    for fence, billet, n in cuts:
        size = billets[billet - 1].cuts[n].fence
        fences.setdefault(fence, FenceSetting(STAGES[fence[0]], size, counts[fence]))
    return tuple(_number_cuts(billet, order) for billet in billets), tuple(fences.values())


def _number_cuts(billet: Billet, order: dict[tuple[int, int], int]) -> Billet:
    cuts = [replace(cut, number=order[billet.number, n]) for n, cut in enumerate(billet.cuts)]
    return replace(billet, cuts=tuple(sorted(cuts, key=lambda cut: cut.number)))


def _fence(cut: Cut) -> tuple[int, float]:
    """The fence setting of a cut; these sort in the order in which they are made."""
    return STAGES.index(cut.stage), -round(cut.fence, 6)


def _billet_order(task: Task, planned: PlannedBillet) -> tuple[object, ...]:
    blanks = planned.blanks
    contents = sorted((blank.orientation, blank.sizes) for blank in blanks)
    return -task.kinds[planned.kind].thickness, planned.kind, -len(blanks), contents


def _make_billet(task: Task, planned: PlannedBillet, number: int, numbers: Sequence[list[int]]) -> Billet:
    kind = task.kinds[planned.kind]
    cutting = _Cutting(task, kind)
    _cut_down(cutting)
    _square(cutting)
    _cut_strips(cutting, planned, numbers)
    return Billet(
        number=number,
        kind=kind,
        boards=tuple(task.stock[n] for n in kind.layers),
        cuts=tuple(cutting.cuts),
        blocks=tuple(cutting.blocks),
        offcuts=tuple(cutting.offcuts),
        kerf_volume=cutting.kerf,
        trim_volume=cutting.trim,
        waste_volume=cutting.waste,
    )


def _cut_down(cutting: _Cutting) -> None:
    """Cut each board to the size that the layers share, before gluing."""
    kind = cutting.kind
    if kind.halved != Halved.NO:
        _halve(cutting)
        return
    z = 0.0
    for layer, n in enumerate(kind.layers):
        board = cutting.task.stock[n]
        piece = Box3(0.0, 0.0, z, board.length, board.width, board.thickness)
        for axis, size in (("x", kind.length), ("y", kind.width)):
            if getattr(piece, SIDES[axis]) - size > ROUNDING:
                piece, rest = cutting.cut_off(Stage.DOWN, axis, piece, size)
                cutting.put_aside(rest, layer)
        z += board.thickness + cutting.task.settings.glue


def _halve(cutting: _Cutting) -> None:
    """Cut a board in two equal pieces, which are then glued on each other."""
    kind, board = cutting.kind, cutting.task.stock[cutting.kind.layers[0]]
    axis, size = ("x", kind.length) if kind.halved == Halved.ACROSS else ("y", kind.width)
    rest = Box3(0.0, 0.0, 0.0, board.length, board.width, board.thickness)
    for _ in range(2):
        _, rest = cutting.cut_off(Stage.DOWN, axis, rest, size)
    cutting.put_aside(rest, layer=0)


def _square(cutting: _Cutting) -> None:
    """Cut a long edge and then a short one straight."""
    kind, trim = cutting.kind, cutting.task.settings.trim
    slot = min(cutting.task.kerf, trim)
    if trim <= 0:
        return
    piece = Box3(0.0, 0.0, 0.0, kind.length, kind.width, kind.thickness)
    for axis in ("y", "x"):
        side = SIDES[axis]
        melted = replace(piece, **{axis: trim - slot, side: slot})
        cutting.cuts.append(Cut(0, Stage.SQUARE, 0.0, piece, melted))
        cutting.kerf += melted.volume
        cutting.trim += replace(piece, **{side: trim - slot}).volume
        piece = replace(piece, **{axis: trim, side: getattr(piece, side) - trim})


def _cut_strips(cutting: _Cutting, planned: PlannedBillet, numbers: Sequence[list[int]]) -> None:
    kind, trim = cutting.kind, cutting.task.settings.trim
    left = Box3(trim, trim, 0.0, kind.length - trim, kind.width - trim, kind.thickness)
    ordered = sorted(planned.strips, key=lambda strip: _strip_order(cutting.task, strip))
    for number, strip in enumerate(ordered, start=1):
        piece, left = cutting.cut_off(Stage.STRIP, "y", left, strip.width)
        _cut_blanks(cutting, strip, piece, number, numbers)
    cutting.put_aside(left)


def _strip_order(task: Task, strip: PlannedStrip) -> tuple[object, ...]:
    return -strip.width, -len(strip.blanks), sorted(_blank_order(task, blank) for blank in strip.blanks)


def _blank_order(task: Task, blank: Blank) -> tuple[object, ...]:
    orientation = task.orientations[blank.orientation]
    return -orientation.along, -orientation.across, blank.orientation, blank.sizes


def _cut_blanks(cutting: _Cutting, strip: PlannedStrip, left: Box3, number: int, numbers: Sequence[list[int]]) -> None:
    task = cutting.task
    for count, blank in enumerate(sorted(strip.blanks, key=lambda blank: _blank_order(task, blank)), start=1):
        orientation = task.orientations[blank.orientation]
        piece, left = cutting.cut_off(Stage.ACROSS, "x", left, orientation.along)
        if piece.across - orientation.across > ROUNDING:
            piece, rest = cutting.cut_off(Stage.TRIM, "y", piece, orientation.across)
            cutting.put_aside(rest)
        _slice_blank(cutting, blank, piece, (number, count), numbers)
    cutting.put_aside(left)


def _slice_blank(
    cutting: _Cutting, blank: Blank, left: Box3, place: tuple[int, int], numbers: Sequence[list[int]]
) -> None:
    """Take the blocks off a blank, the thickest first; `place` is the number of the strip and of the blank."""
    task, turned = cutting.task, cutting.task.orientations[blank.orientation].turned
    for size in sorted(blank.sizes, key=lambda size: (-task.sizes[size].thickness, size)):
        thickness = task.sizes[size].thickness
        if cutting.kind.matches(thickness):
            thickness = left.thick
        block, left = cutting.cut_off(Stage.SLICE, "z", left, thickness)
        cutting.blocks.append(PlacedBlock(numbers[size].pop(0), block, turned, *place))
    cutting.put_aside(left, thinnest=THINNEST_SLAB)
