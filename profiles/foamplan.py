"""Job + blocks -> the foam: what is in the shed, how the blocks come out of it, and where the glued faces will be.

job --stock_of--> boards      blocks --wanted_of--> sizes      both --cut_plan--> CutPlan
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from profiles.blocks.blocks import Block
from profiles.blocks.outlines import ROUND_BOX
from profiles.blocks.stations import StationPlan
from profiles.foam.accuracy import BlockFoam, LengthError, length_error
from profiles.foam.cut_plan import cut_plan
from profiles.foam.cutting import CutPlan, CuttingSettings, Grain, WantedBlock
from profiles.foam.figures import is_sliced, numbers_told
from profiles.foam.kerf import kerf_from_test, kerf_test_notes
from profiles.foam.stock import Board, checked_stock, standard_stock
from profiles.foam.wire import WireFigures, wire_figures
from profiles.hull.frame import Hull
from profiles.notes import Note, assumption, warning

if TYPE_CHECKING:
    from profiles.job import BoardJob, Job


def stock_of(job: "Job") -> tuple[Board, ...]:
    """The boards and offcuts of a job; where it names none, boards as the trade sells them, to be bought."""
    boards = [*(_board(one, offcut=False) for one in job.boards), *(_board(one, offcut=True) for one in job.offcuts)]
    return checked_stock(boards) if boards else standard_stock()


def _board(wanted: "BoardJob", *, offcut: bool) -> Board:
    count = wanted.count or 1 if offcut else wanted.count
    return Board(
        name=wanted.name,
        count=count,
        length=wanted.length,
        width=wanted.width,
        thickness=wanted.thickness,
        measured=wanted.measured,
        tolerance=wanted.tolerance,
        foam=wanted.foam,
        price=wanted.price,
        offcut=offcut,
    )


def is_assumed(job: "Job") -> bool:
    """True where the job names no foam."""
    return not job.boards and not job.offcuts


def as_real(stock: Sequence[Board]) -> tuple[Board, ...]:
    """The same boards with the thickness that they really have as their nominal one."""
    return tuple(replace(board, thickness=board.real) for board in stock)


def cutting_of(job: "Job", kerf: float) -> CuttingSettings:
    """How the foam is cut; `kerf` mm is that of the templates, 0 where it is not known."""
    wanted = job.cutting
    usual = CuttingSettings()
    return CuttingSettings(
        kerf=(kerf or usual.kerf) if wanted.kerf is None else wanted.kerf,
        trim=wanted.trim,
        glue=wanted.glue,
        most_layers=wanted.layers,
        grain=Grain(wanted.grain),
        smallest_offcut=wanted.smallest_offcut,
        effort=wanted.effort,
        seconds=wanted.seconds,
    )


def wanted_of(blocks: Sequence[Block]) -> tuple[WantedBlock, ...]:
    """The squared sizes of blocks, mm."""
    return tuple(
        WantedBlock(block.span.number, block.span.thickness, block.box.height, block.box.width) for block in blocks
    )


def measured_fulls(job: "Job", hull: Hull, nominal: StationPlan) -> tuple[float, ...]:
    """The thickness that each full block of a nominal plan really has, mm, the tail's first.

    Which boards it comes from is planned with the hull's own breadth and depth, before outlines are known.
    """
    room = 2 * job.template.allowance
    sizes = [math.ceil((size + room) / ROUND_BOX) * ROUND_BOX for size in (hull.depth, hull.breadth)]
    wanted = [WantedBlock(span.number, span.thickness, *sizes) for span in nominal.spans]
    plan = cut_plan(stock_of(job), wanted, cutting_of(job, kerf_of(job)))
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


def kerf_of(job: "Job") -> float:
    """The kerf of the templates, mm: as the job says, or from the test block; 0 where it is not known."""
    wanted = job.template
    return wanted.kerf if wanted.kerf_test is None else kerf_from_test(wanted.kerf_test, wanted.wire)


def wire_of(job: "Job", widest: float | None) -> WireFigures:
    """The wire's figures; `widest` is the widest block in mm. Raises JobError."""
    return wire_figures(job.wire.settings(widest))


def planned_foam(job: "Job", blocks: Sequence[Block]) -> FoamPlan:
    """The foam of a job. Raises JobError for boards, settings or a wire that cannot be."""
    return foam_of(job, blocks, cut_plan(*cutting_question(job, blocks)))


def cutting_question(
    job: "Job", blocks: Sequence[Block]
) -> tuple[tuple[Board, ...], tuple[WantedBlock, ...], CuttingSettings]:
    """What the cutting plan is asked for: boards, blocks, settings. Raises JobError."""
    stock = stock_of(job)
    if job.foam.as_measured:
        stock = as_real(stock)
    return stock, wanted_of(blocks), cutting_of(job, kerf_of(job))


def foam_of(job: "Job", blocks: Sequence[Block], plan: CutPlan) -> FoamPlan:
    """The foam of a job whose cutting plan is made. Raises JobError for a wire that cannot be."""
    widest = max(block.box.width for block in blocks)
    return FoamPlan(plan, _accuracy(plan, blocks), wire_of(job, widest), foam_notes(job, plan, widest))


def _accuracy(plan: CutPlan, blocks: Sequence[Block]) -> LengthError | None:
    foam = {
        placed.block: BlockFoam(placed.place.thick, billet.boards, is_sliced(billet, placed), billet.number)
        for billet in plan.billets
        for placed in billet.blocks
    }
    chain = [
        replace(foam[block.span.number], nominal=block.span.thickness) for block in blocks if block.span.number in foam
    ]
    return length_error(chain, glue=plan.settings.glue, joint=plan.settings.glue) if len(chain) == len(blocks) else None


def foam_notes(job: "Job", plan: CutPlan, widest: float) -> tuple[Note, ...]:
    """Notes about the foam: assumed boards, missing foam, too short a wire; `widest` mm is the widest block."""
    notes: list[Note] = []
    if is_assumed(job):
        size = f"{plan.stock[0].length:g} x {plan.stock[0].width:g} mm"
        foam = plan.stock[0].foam
        text = f"{foam} boards of {size}, to be bought. Name your own under [[boards]]."
        notes.append(assumption(text))
    if job.template.kerf_test is not None:
        notes += kerf_test_notes(job.template.kerf_test, job.template.wire)
    for lacking in plan.lacking:
        text = f"No foam for block {numbers_told(lacking.blocks)}: {lacking.reason}. Buy {lacking.buy}"
        notes.append(warning(text))
    if widest > job.wire.span:
        text = (
            f"The wire spans {job.wire.span:g} mm, but the widest block is {widest:g} mm. "
            "Give a longer span under [wire]."
        )
        notes.append(warning(text))
    return tuple(notes)
