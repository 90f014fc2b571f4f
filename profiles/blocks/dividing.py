"""Plan + shape -> all blocks of a body: made, divided where that spares work by hand, and boxed.

Most of what a block leaves to sand falls by the square of its thickness, where the hull is smooth. At a feature it does
not fall at all. So a division is tried, and kept only where its pieces are less work than the whole block.
"""

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from functools import partial

from profiles.blocks.blocks import Block, UnboxedBlock, carve_block, make_unboxed
from profiles.blocks.outlines import box_around
from profiles.blocks.settings import BlockSettings
from profiles.blocks.stations import Span, StationPlan, divide_span
from profiles.errors import JobError
from profiles.hull.shape import Shape
from profiles.notes import assumption
from profiles.sharing import shared
from profiles.units import block_name, number_runs

THINNEST = 5.0
"""mm; a block is not divided into thinner pieces than this: they bend under the wire (common practice)."""

MOST_PIECES = 4
"""Of one block at a time; where more seem needed, the shape and not the thickness is the reason."""

ROUNDS = 3
"""Times at most that blocks are divided. Where the hull is smooth one division is enough; the others are for what the
square law does not foresee.
"""

CARVED = 4.0
"""What a carved block costs, in blocks that a wire cuts: two profiles and the gauges are cut for it, too, and it is
rounded by hand."""

FEATURES = 0.4
"""What features cost that are carved on a block."""

DEEP_PLACES = 1.5
"""What it costs where a block leaves too much to sand in a few places: more than another block that spares it."""

TOO_DEEP = 1.5
"""Times what may be left to sand; a block that leaves more, and is not worth dividing, is carved."""

WASTEFUL = 2.5
"""Times the foam of boxes of their own from which on blocks do not get one size for all; boats without a mast stay
below 2."""

UNFIT = 20.0
"""What a block costs more that leaves twice as much to sand as it may; more than the pieces that it is divided into."""


def make_blocks(
    shape: Shape, plan: StationPlan, settings: BlockSettings, executor: Executor | None = None
) -> tuple[StationPlan, tuple[Block, ...]]:
    """The blocks of a plan, from the nose, and the plan with the stations at which blocks are divided; `executor` does
    some of the work.

    Each block's fore face is the section just aft of its forward station, its aft face the section just forward of its
    after station. Raises HullError where a section cannot be closed, JobError when no station has any area.
    """

    def make(spans: Sequence[Span]) -> Sequence[UnboxedBlock]:
        return shared(executor, partial(make_unboxed, shape, settings, plan.most, carve=plan.divisible), spans)

    blocks = make(plan.spans)
    if plan.most is None or not plan.divisible:
        return _box(plan, blocks, settings)
    most = plan.most
    divided = _divide(blocks, most, make)
    if len(divided) > len(blocks):
        plan, blocks = _with_pieces(plan, blocks, divided, most)
    deepest = TOO_DEEP * most
    blocks = [
        carve_block(shape, block, settings)
        if block.grown and not block.tip and block.grown.sanding > deepest
        else block
        for block in blocks
    ]
    return _box(plan, blocks, settings)


def _divide(
    blocks: Sequence[UnboxedBlock], most: float, make: Callable[[Sequence[Span]], Sequence[UnboxedBlock]]
) -> Sequence[UnboxedBlock]:
    """The blocks with some of them divided; the numbers of their spans are those from before."""
    tried: dict[float, int] = {}
    for _ in range(ROUNDS):
        counts = [_count(block, most, tried.get(block.span.x_fore, 1)) for block in blocks]
        if max(counts) == 1:
            break
        spans = [divide_span(block.span, count) for block, count in zip(blocks, counts, strict=True)]
        made = iter(make([piece for pieces in spans if len(pieces) > 1 for piece in pieces]))
        after: list[UnboxedBlock] = []
        for block, pieces in zip(blocks, spans, strict=True):
            parts = [next(made) for _ in pieces] if len(pieces) > 1 else [block]
            tried[block.span.x_fore] = len(pieces)
            after += parts if sum(_cost(part, most) for part in parts) <= _cost(block, most) else [block]
        blocks = after
    return blocks


def _count(block: UnboxedBlock, most: float, tried: int) -> int:
    """Into how many pieces to divide a block that was `tried` with so many, 1 for none."""
    if _cost(block, most) <= 1 + FEATURES or not all(face.has_template for face in block.faces):
        return 1
    wanted = 2
    if block.grown and block.tip is None:
        deepest = max(block.grown.sanding, 0.0 if block.grown.joined else block.grown.deviation.carved_depth)
        wanted = math.ceil(math.sqrt(deepest / most))
    count = min(max(wanted, tried + 1 if tried > 1 else 2), MOST_PIECES, int(block.span.thickness / THINNEST))
    return count if count > tried else 1


def _cost(block: UnboxedBlock, most: float) -> float:
    """What a block costs, in blocks that a wire cuts."""
    if block.tip or block.grown is None:
        return CARVED
    carved = (FEATURES if block.grown.joined else DEEP_PLACES) * bool(block.grown.deviation.carved)
    return min(1 + carved + UNFIT * max(0.0, block.grown.sanding / most - 1), CARVED)


def _with_pieces(
    plan: StationPlan, blocks: Sequence[UnboxedBlock], divided: Sequence[UnboxedBlock], most: float
) -> tuple[StationPlan, tuple[UnboxedBlock, ...]]:
    """The plan of the divided blocks, and these with their numbers in it."""
    whole = {(block.span.x_fore, block.span.x_aft) for block in blocks}
    numbered = tuple(block.with_number(number) for number, block in enumerate(divided, start=plan.spans[0].number))
    pieces = [block.span.number for block in numbered if (block.span.x_fore, block.span.x_aft) not in whole]
    text = (
        f"Blocks {number_runs(pieces)} are thinner than the foam, because thicker ones would leave more than "
        f"{most:g} mm to sand or would have to be carved. Override with --most none"
    )
    stations = (plan.stations[0], *(block.span.x_aft for block in numbered))
    spans = tuple(block.span for block in numbered)
    names = {
        f"block {block_name(before.span.number)}": f"block {block_name(after.span.number)}"
        for before, after in zip(divided, numbered, strict=True)
        if after.span.number not in pieces
    }
    kept = [replace(note, about=names.get(note.about, "")) if note.about else note for note in plan.notes]
    notes = [note for note, old in zip(kept, plan.notes, strict=True) if note.about or not old.about]
    return replace(plan, stations=stations, spans=spans, notes=(*notes, assumption(text))), numbered


def _box(
    plan: StationPlan, blocks: Sequence[UnboxedBlock], settings: BlockSettings
) -> tuple[StationPlan, tuple[Block, ...]]:
    """The blocks in their boxes, and the plan with what was assumed about these."""
    shapes = [shape for block in blocks for shape in block.shapes]
    if not shapes:
        message = (
            f"no station of the plan ({len(plan.stations)} stations, foam {plan.foam:g} mm) cuts the hull with "
            "any area left after the allowances"
        )
        raise JobError(message, remedy="Use thinner foam, put a station in the middle with --break, or reduce --skin.")
    common = box_around(shapes, settings.allowance, settings.box_step)
    each = [
        box_around(block.shapes, settings.allowance, settings.box_step) if block.shapes else common for block in blocks
    ]
    if settings.box == "auto":
        foam = sum(box.width * box.height * block.span.thickness for box, block in zip(each, blocks, strict=True))
        times = common.width * common.height * (plan.stations[-1] - plan.stations[0]) / foam
        if times > WASTEFUL:
            text = (
                f"Each block has its own size: one for all, {common.width:g} x {common.height:g} mm, would take "
                f"{times:.1f} times the foam. Override with --box common"
            )
            plan = replace(plan, notes=(*plan.notes, assumption(text)))
            settings = replace(settings, box="each")
    boxes = each if settings.box == "each" else [common] * len(blocks)
    return plan, tuple(block.with_box(box) for block, box in zip(blocks, boxes, strict=True))
