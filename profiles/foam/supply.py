"""Blocks + boards -> the foam: how the blocks are cut, where the glued faces will be, and what the wire needs.

blocks --squared_sizes--> sizes      boards, sizes --cut_plan--> CutPlan --complete_plan--> FoamPlan
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from profiles.blocks.blocks import Block
from profiles.blocks.kerf import kerf_test_notes
from profiles.blocks.outlines import ROUND_BOX
from profiles.blocks.settings import BlockSettings
from profiles.blocks.stations import StationPlan
from profiles.foam.accuracy import BlockFoam, LengthError, length_error
from profiles.foam.cut_plan import cut_plan
from profiles.foam.cutting import CutPlan, CuttingSettings, WantedBlock
from profiles.foam.stock import Board, normalize_stock, standard_stock
from profiles.foam.wire import WireFigures, WireSettings, wire_figures
from profiles.hull.frame import Hull
from profiles.notes import Note, assumption, warning
from profiles.setting import check_settings
from profiles.units import number_runs


@dataclass(frozen=True, slots=True)
class FoamSettings:
    """What the foam of a body is planned from."""

    stock: tuple[Board, ...] = ()
    """Boards and offcuts at hand; none: standard boards, to be bought."""
    cutting: CuttingSettings = CuttingSettings()
    wire: WireSettings = WireSettings()
    template: BlockSettings = BlockSettings()
    """Its kerf holds for the fence too, unless `cutting` gives one."""
    as_measured: bool = False
    """Boards count with their measured thickness."""


def available_boards(settings: FoamSettings) -> tuple[Board, ...]:
    """The boards at hand, or standard boards if there are none. Raises JobError."""
    stock = normalize_stock(settings.stock) if settings.stock else standard_stock()
    return tuple(replace(board, thickness=board.actual_thickness) for board in stock) if settings.as_measured else stock


def cutting_settings(settings: FoamSettings) -> CuttingSettings:
    """How the foam is cut, with the kerf of the templates if the fence has none of its own. Raises JobError."""
    cutting = settings.cutting
    check_settings(cutting)
    return replace(cutting, kerf=settings.template.allowances.kerf or None) if cutting.kerf is None else cutting


def squared_sizes(blocks: Sequence[Block]) -> tuple[WantedBlock, ...]:
    """The sizes of blocks before they are cut to shape, mm."""
    return tuple(
        WantedBlock(block.span.number, block.span.thickness, block.box.height, block.box.width) for block in blocks
    )


def measured_thicknesses(hull: Hull, nominal: StationPlan, settings: FoamSettings) -> tuple[float, ...]:
    """The measured thickness of each full block of a nominal plan, mm, from the tail.

    Outlines are not known yet, so the boards are assigned by a cutting plan with the hull's breadth and depth.
    """
    allowance = 2 * settings.template.allowance
    box = [math.ceil((size + allowance) / ROUND_BOX) * ROUND_BOX for size in (hull.depth, hull.breadth)]
    wanted = [WantedBlock(span.number, span.thickness, *box) for span in nominal.spans]
    plan = cut_plan(available_boards(replace(settings, as_measured=False)), wanted, cutting_settings(settings))
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
    return complete_plan(wanted, cut_plan(available_boards(settings), wanted, cutting_settings(settings)), settings)


def complete_plan(wanted: Sequence[WantedBlock], plan: CutPlan, settings: FoamSettings) -> FoamPlan:
    """A cutting plan with what follows from it. Raises JobError for a wire that is not valid."""
    widest = max(block.width for block in wanted)
    in_foam = min(settings.wire.in_foam_mm or widest, settings.wire.span_mm)
    wire = wire_figures(replace(settings.wire, in_foam_mm=in_foam))
    return FoamPlan(plan, _length_error(plan, wanted), wire, _notes(settings, plan, widest))


def _length_error(plan: CutPlan, wanted: Sequence[WantedBlock]) -> LengthError | None:
    if plan.shortages:
        return None
    nominal = {block.number: block.thickness for block in wanted}
    foam = {
        block.block: BlockFoam(nominal[block.block], billet.boards, billet.is_sliced(block), billet.number)
        for billet in plan.billets
        for block in billet.blocks
    }
    glue = plan.settings.glue
    return length_error([foam[block.number] for block in wanted], glue=glue, joint=glue)


def _notes(settings: FoamSettings, plan: CutPlan, widest: float) -> tuple[Note, ...]:
    """Notes about assumed boards, missing foam, and a wire that is shorter than the widest block (mm)."""
    notes: list[Note] = []
    if not settings.stock:
        board = plan.stock[0]
        size = f"{board.length:g} x {board.width:g} mm"
        notes.append(assumption(f"{board.foam} boards of {size}, to be bought. Name your own under [[boards]]."))
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
