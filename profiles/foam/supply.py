"""Blocks + boards -> the foam: how the blocks are cut, where the glued faces will be, and what the wire needs.

blocks --squared_sizes--> sizes      boards, sizes --cut_plan--> CutPlan --complete_plan--> FoamPlan
"""

import math
from collections.abc import Sequence
from dataclasses import replace

from profiles.blocks.blocks import Block
from profiles.blocks.kerf import kerf_test_notes
from profiles.blocks.settings import BlockSettings
from profiles.blocks.stations import StationPlan
from profiles.foam.accuracy import BlockFoam, LengthError, length_error
from profiles.foam.cut_plan import cut_plan
from profiles.foam.cutting import CutPlan, CuttingSettings, WantedBlock
from profiles.foam.figures import boards_used
from profiles.foam.layers import Halved
from profiles.foam.stock import Board, normalize_stock, standard_stock
from profiles.foam.wire import WireFigures, WireSettings, wire_figures
from profiles.hull.frame import Hull
from profiles.notes import Note, assumption, fact, warning
from profiles.setting import check_settings
from profiles.units import LETTERED, SIXTEENTH, block_name, number_runs
from profiles.values import dataclass


@dataclass(frozen=True, slots=True)
class FoamSettings:
    """What the foam of a body is planned from."""

    stock: tuple[Board, ...] = ()
    """Boards and offcuts at hand; none: standard boards of the foam's thickness, to be bought."""
    thickness: float | None = None
    """Thickness in mm of the foam that the job names; None: that of the thickest block."""
    inches: bool = False
    """Where no standard board has the foam's thickness, boards sold in inches are assumed and not metric ones."""
    cutting: CuttingSettings = CuttingSettings()
    wire: WireSettings = WireSettings()
    template: BlockSettings = BlockSettings()
    """Its kerf holds for the fence too, unless `cutting` gives one."""
    of_parts: tuple[float, ...] = ()
    """Thicknesses in mm of the foams of parts that have one of their own."""
    as_measured: bool = False
    """Boards count with their measured thickness."""


def available_boards(settings: FoamSettings, wanted: Sequence[WantedBlock] = ()) -> tuple[Board, ...]:
    """The boards at hand, or standard boards of the foam's thickness if there are none. Raises JobError."""
    if settings.stock:
        stock = normalize_stock(settings.stock)
    else:
        thickness = settings.thickness or max((block.thickness for block in wanted), default=0.0)
        each = [standard_stock(size, inches=settings.inches) for size in (thickness, *settings.of_parts)]
        stock = tuple(dict.fromkeys(board for boards in each for board in boards))
    return tuple(replace(board, thickness=board.actual_thickness) for board in stock) if settings.as_measured else stock


def cutting_settings(settings: FoamSettings) -> CuttingSettings:
    """How the foam is cut, with the kerf of the templates if the fence has none of its own. Raises JobError."""
    cutting = settings.cutting
    check_settings(cutting)
    return replace(cutting, kerf=settings.template.allowances.kerf or None) if cutting.kerf is None else cutting


THICKNESS_STEP = 0.5
"""mm; an odd block at a pointed end of the hull is sliced to a multiple of this, which a fence can be set to."""


def squared_sizes(blocks: Sequence[Block]) -> tuple[WantedBlock, ...]:
    """The sizes of blocks before they are cut to shape, mm."""
    return tuple(
        WantedBlock(
            block.span.number,
            block.span.thickness + spare,
            block.box.height,
            block.box.width,
            odd=not block.span.full,
            spare=spare,
        )
        for block, spare in zip(blocks, _spare_ends(blocks), strict=True)
    )


def _spare_ends(blocks: Sequence[Block]) -> list[float]:
    """What each block may be thicker (mm): up to the next step, for an odd one that ends its part without a face."""
    spare = [0.0] * len(blocks)
    letters = [block.span.number // LETTERED for block in blocks]
    first = [n for n in range(len(blocks)) if n == 0 or letters[n] != letters[n - 1]]
    last = [n - 1 for n in (*first[1:], len(blocks))]
    for n, end in (*((n, blocks[n].fore) for n in first), *((n, blocks[n].aft) for n in last)):
        thickness = blocks[n].span.thickness
        settable = any(_is_multiple(thickness, step) for step in (THICKNESS_STEP, SIXTEENTH))
        if not blocks[n].span.full and end.outline.cut.is_empty and not settable:
            spare[n] = max(0.0, math.ceil(thickness / THICKNESS_STEP - STEP_ROUNDING) * THICKNESS_STEP - thickness)
    return spare


def _is_multiple(size: float, step: float) -> bool:
    return abs(size / step - round(size / step)) < STEP_ROUNDING


STEP_ROUNDING = 1e-6
"""Of a step; a thickness this close to one has it."""


def measured_thicknesses(hull: Hull, nominal: StationPlan, settings: FoamSettings) -> tuple[float, ...]:
    """The measured thickness of each full block of a nominal plan, mm, from the tail.

    Outlines are not known yet, so the boards are assigned by a cutting plan with the hull's breadth and depth.
    """
    allowance = 2 * settings.template.allowance
    step = settings.template.box_step
    box = [math.ceil((size + allowance) / step) * step for size in (hull.depth, hull.breadth)]
    wanted = [WantedBlock(span.number, span.thickness, box[0], box[1], odd=not span.full) for span in nominal.spans]
    boards = available_boards(replace(settings, as_measured=False), wanted)
    plan = cut_plan(boards, wanted, cutting_settings(settings))
    measured = {
        block.block: billet.kind.actual_thickness
        for billet in plan.billets
        for block in billet.blocks
        if not billet.is_sliced(block)
    }
    return tuple(measured.get(span.number, span.thickness) for span in reversed(nominal.spans) if span.full)


@dataclass(frozen=True, slots=True)
class FoamPlan:
    """How the blocks are cut out of the foam, how far off the body's length may be, and what the wire needs."""

    cut: CutPlan
    accuracy: LengthError | None
    """None if some blocks have no foam."""
    wire: WireFigures
    notes: tuple[Note, ...]
    """Assumptions and warnings about the foam; those about the wire are in its figures."""


def supply(blocks: Sequence[Block], settings: FoamSettings = FoamSettings()) -> FoamPlan:
    """The foam of a body. Raises JobError for boards, settings or a wire that are not valid.

    >>> from profiles import Board, FoamSettings, StationSettings, cut, plan, read, supply
    >>> hull = read("models/skerrywing.stl")
    >>> body = cut(hull, plan(hull, StationSettings(thickness=58)))
    >>> boards = (Board("plain", length=1250, width=600, thickness=60, count=2),)
    >>> foam = supply(body.blocks, FoamSettings(stock=boards))
    >>> [len(billet.boards) for billet in foam.cut.billets], foam.cut.shortages
    ([1], ())
    """
    wanted = squared_sizes(blocks)
    plan = cut_plan(available_boards(settings, wanted), wanted, cutting_settings(settings))
    return complete_plan(wanted, plan, settings)


def complete_plan(wanted: Sequence[WantedBlock], plan: CutPlan, settings: FoamSettings) -> FoamPlan:
    """A cutting plan with what follows from it. Raises JobError for a wire that is not valid."""
    widest = max(block.width for block in wanted)
    in_foam = min(settings.wire.in_foam_mm or widest, settings.wire.span_mm)
    wire = wire_figures(replace(settings.wire, in_foam_mm=in_foam))
    return FoamPlan(plan, _length_error(plan, wanted), wire, _notes(settings, plan, wanted))


def _length_error(plan: CutPlan, wanted: Sequence[WantedBlock]) -> LengthError | None:
    if plan.shortages:
        return None
    # The main body's, or all blocks where there are no parts: each part has a length of its own.
    wanted = [block for block in wanted if block.number // LETTERED == wanted[0].number // LETTERED]
    nominal = {block.number: block.thickness - block.spare for block in wanted}
    foam = {
        block.block: BlockFoam(
            nominal[block.block],
            billet.boards,
            billet.is_sliced(block),
            billet.number,
            halved=billet.kind.halved != Halved.NO,
        )
        for billet in plan.billets
        for block in billet.blocks
        if block.block in nominal
    }
    glue = plan.settings.glue
    return length_error([foam[block.number] for block in wanted], glue=glue, joint=glue)


def _notes(settings: FoamSettings, plan: CutPlan, wanted: Sequence[WantedBlock]) -> tuple[Note, ...]:
    """Notes about assumed boards, missing foam, and a wire that is shorter than the widest block."""
    widest = max(block.width for block in wanted)
    notes: list[Note] = []
    if not settings.stock:
        names = " and ".join(use.board.name for use in boards_used(plan)) or plan.stock[0].name
        notes.append(assumption(f"boards are bought: {names}. Name your own under [[boards]]."))
    spare = [block for block in wanted if block.spare]
    if spare:
        sizes = " and ".join(f"block {block_name(block.number)} {block.thickness:g} mm" for block in spare)
        text = f"Sliced to a size that a fence can be set to: {sizes}. What is too much lies beyond the tip."
        notes.append(fact(text))
    if settings.template.kerf_test is not None:
        notes += kerf_test_notes(settings.template.kerf_test, settings.template.wire)
    notes += [
        warning(f"No foam for block {number_runs(shortage.blocks)}: {shortage.reason}. Buy {shortage.buy}")
        for shortage in plan.shortages
    ]
    if widest > settings.wire.span_mm:
        text = (
            f"The wire spans {settings.wire.span_mm:g} mm, but the widest block is {widest:g} mm. "
            "Give a longer span under [wire]."
        )
        notes.append(warning(text))
    return tuple(notes)
