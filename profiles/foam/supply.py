"""Blocks + boards -> the foam: how the blocks come out of it, where the glued faces will be, what the wire takes.

blocks --wanted_of--> sizes      boards and sizes --cut_plan--> CutPlan      both --complete--> FoamPlan
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
from profiles.foam.figures import is_sliced
from profiles.foam.stock import Board, check_stock, standard_stock
from profiles.foam.wire import WireFigures, WireSettings, wire_figures
from profiles.hull.frame import Hull
from profiles.notes import Note, assumption, warning
from profiles.units import number_runs


@dataclass(frozen=True, slots=True)
class FoamSettings:
    """What the foam of a body is planned from."""

    stock: tuple[Board, ...] = ()
    """Boards and offcuts at hand; none: boards as the trade sells them, to be bought."""
    cutting: CuttingSettings = CuttingSettings()
    wire: WireSettings = WireSettings()
    template: BlockSettings = BlockSettings()
    """The kerf that is known from the templates holds for the fence too, unless `cutting` gives one."""
    as_measured: bool = False
    """Boards count with the thickness that they really have."""


def stock_of(settings: FoamSettings) -> tuple[Board, ...]:
    """The boards at hand, or where there are none, boards as the trade sells them. Raises JobError."""
    stock = check_stock(settings.stock) if settings.stock else standard_stock()
    return tuple(replace(board, thickness=board.real) for board in stock) if settings.as_measured else stock


def cutting_of(settings: FoamSettings) -> CuttingSettings:
    """How the foam is cut, with the kerf of the templates where the fence's own is not given. Raises JobError."""
    cutting = settings.cutting
    return replace(cutting, kerf=settings.template.allowances.kerf or None) if cutting.kerf is None else cutting


def wanted_of(blocks: Sequence[Block]) -> tuple[WantedBlock, ...]:
    """The squared sizes of blocks, mm."""
    return tuple(
        WantedBlock(block.span.number, block.span.thickness, block.box.height, block.box.width) for block in blocks
    )


def measured_fulls(hull: Hull, nominal: StationPlan, settings: FoamSettings) -> tuple[float, ...]:
    """The thickness that each full block of a nominal plan really has, mm, the tail's first.

    Which boards it comes from is planned with the hull's own breadth and depth, before outlines are known.
    """
    room = 2 * settings.template.allowance
    sizes = [math.ceil((size + room) / ROUND_BOX) * ROUND_BOX for size in (hull.depth, hull.breadth)]
    wanted = [WantedBlock(span.number, span.thickness, *sizes) for span in nominal.spans]
    plan = cut_plan(stock_of(replace(settings, as_measured=False)), wanted, cutting_of(settings))
    real = {
        placed.block: billet.kind.measured
        for billet in plan.billets
        for placed in billet.blocks
        if not is_sliced(billet, placed)
    }
    fulls = [real.get(span.number, span.thickness) for span in nominal.spans if span.full]
    return tuple(reversed(fulls))


@dataclass(frozen=True, slots=True)
class FoamPlan:
    """How the blocks come out of the foam, how long the glued body may come out, and what the wire takes."""

    cut: CutPlan
    accuracy: LengthError | None
    """None where no block has foam."""
    wire: WireFigures
    notes: tuple[Note, ...]
    """Guesses and warnings about the foam; those about the wire stand with its figures."""


def supply(blocks: Sequence[Block], settings: FoamSettings = FoamSettings()) -> FoamPlan:
    """The foam of a body. Raises JobError for boards, settings or a wire that cannot be.

    >>> from profiles import Board, FoamSettings, StationSettings, cut, plan, read, supply
    >>> hull = read("models/skerrywing.stl")
    >>> body = cut(hull, plan(hull, StationSettings(thickness=58)))
    >>> boards = (Board("plain", length=1250, width=600, thickness=60, count=2),)
    >>> foam = supply(body.blocks, FoamSettings(stock=boards))
    >>> [len(billet.boards) for billet in foam.cut.billets], foam.cut.lacking
    ([1], ())
    """
    wanted = wanted_of(blocks)
    return complete(wanted, cut_plan(stock_of(settings), wanted, cutting_of(settings)), settings)


def complete(wanted: Sequence[WantedBlock], plan: CutPlan, settings: FoamSettings) -> FoamPlan:
    """A cutting plan with what follows from it. Raises JobError for a wire that cannot be."""
    widest = max(block.width for block in wanted)
    return FoamPlan(plan, _accuracy(plan, wanted), _wire(settings.wire, widest), _notes(settings, plan, widest))


def _wire(wire: WireSettings, widest: float) -> WireFigures:
    """The figures of the wire in the widest block, as far as the wire reaches."""
    return wire_figures(replace(wire, in_foam_mm=min(wire.in_foam_mm or widest, wire.span_mm)))


def _accuracy(plan: CutPlan, wanted: Sequence[WantedBlock]) -> LengthError | None:
    foam = {
        placed.block: BlockFoam(placed.place.thick, billet.boards, is_sliced(billet, placed), billet.number)
        for billet in plan.billets
        for placed in billet.blocks
    }
    chain = [replace(foam[block.number], nominal=block.thickness) for block in wanted if block.number in foam]
    glue = plan.settings.glue
    return length_error(chain, glue=glue, joint=glue) if len(chain) == len(wanted) else None


def _notes(settings: FoamSettings, plan: CutPlan, widest: float) -> tuple[Note, ...]:
    """Notes about the foam: assumed boards, missing foam, too short a wire; `widest` mm is the widest block."""
    notes: list[Note] = []
    if not settings.stock:
        size = f"{plan.stock[0].length:g} x {plan.stock[0].width:g} mm"
        foam = plan.stock[0].foam
        text = f"{foam} boards of {size}, to be bought. Name your own under [[boards]]."
        notes.append(assumption(text))
    if settings.template.kerf_test is not None:
        notes += kerf_test_notes(settings.template.kerf_test, settings.template.wire)
    for lacking in plan.lacking:
        text = f"No foam for block {number_runs(lacking.blocks)}: {lacking.reason}. Buy {lacking.buy}"
        notes.append(warning(text))
    if widest > settings.wire.span_mm:
        text = (
            f"The wire spans {settings.wire.span_mm:g} mm, but the widest block is {widest:g} mm. "
            "Give a longer span under [wire]."
        )
        notes.append(warning(text))
    return tuple(notes)
