"""One hull built in several ways, with other foams and other limits, as rows of figures; no pages are drawn."""

import math
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import replace
from functools import partial
from itertools import pairwise

import numpy as np

from profiles.blocks.blocks import Block, CarvedBlock, CutBlock, grow_whole, must_carve
from profiles.blocks.body import Body
from profiles.blocks.dividing import THINNEST
from profiles.blocks.hull_sections import Cut, hull_cut
from profiles.blocks.stations import divide_span
from profiles.build import shape, supply_job
from profiles.foam.figures import boards_used, waste_share
from profiles.foam.supply import FoamPlan
from profiles.hull.frame import Hull
from profiles.hull.sections import Side
from profiles.job import Job
from profiles.layout import fingerprint_of
from profiles.pictures.deviationplot import PlotRow
from profiles.sharing import shared
from profiles.values import dataclass


@dataclass(frozen=True, slots=True)
class Row:
    """One way to build the hull. Lengths mm, areas mm2, volumes mm3."""

    label: str
    foam: float
    fit: float | None
    blocks: int
    odd: int
    tips: int
    templates: int
    missing: float
    """Largest depth of missing foam after growth, without carved blocks."""
    extra: float
    """Largest depth to sand off, without carved blocks."""
    more_blocks: int
    """How many blocks more would lower that: so many of the worst blocks halved; 0 where it is not worth it."""
    more_extra: float
    """Largest depth to sand off with those."""
    growth: float
    """Largest growth of an outline."""
    foam_volume: float
    """Volume of the squared blocks."""
    sanding_volume: float
    """Of the wire-cut blocks."""
    carving_volume: float
    """Of the carved blocks: what both profiles leave, less the hull."""
    glue_area: float
    """Area of all joints between two blocks: what both faces share."""
    boards: int
    """Boards that the cutting plan uses, without offcuts."""
    offcuts: int
    """Offcuts that it uses."""
    glue_lines: int
    """Flat glue joints inside the blocks."""
    lacking: int
    """Blocks that the foam at hand does not yield."""
    waste: float
    """Share of the foam that is neither block nor an offcut to keep."""
    fingerprint: str


@dataclass(frozen=True, slots=True)
class Variant:
    """One way to build the hull, its figures, and its row in the plot."""

    job: Job
    body: Body
    row: Row
    plot: PlotRow


def compare(
    job: Job, hull: Hull, foams: Sequence[float], fits: Sequence[float | None], executor: Executor | None = None
) -> list[Variant]:
    """Every foam thickness with every limit of deviation (None: full blocks wherever possible), in that order.

    Raises any StationerError, for the first foam that does not work.
    """
    jobs = [replace(job, foam=replace(job.foam, thickness=foam, fit=fit)) for foam in foams for fit in fits]
    if len(jobs) == 1:
        return [_variant(hull, jobs[0], executor)]
    return shared(executor, partial(_variants, hull), jobs)


def _variants(hull: Hull, jobs: Sequence[Job]) -> list[Variant]:
    return [_variant(hull, job) for job in jobs]


def _variant(hull: Hull, job: Job, executor: Executor | None = None) -> Variant:
    body = shape(job, hull, executor)
    foam = job.foam.thickness or body.stations.foam
    return Variant(
        job, body, _row(body, supply_job(job, body), foam, job.foam.fit), _plot_row(body, foam, job.foam.fit)
    )


MORE_BLOCKS = 3
"""Blocks that are halved at most: what a few more blocks bring, not what another foam would."""

GAIN = 0.1
"""mm; a smaller gain is not worth a joint: nobody sands finer."""

WORTH = 0.25
"""Share by which the most to sand must fall for more blocks to be worth their templates and joints."""


def more_blocks(body: Body) -> tuple[int, float]:
    """How many of the blocks that leave most to sand are worth halving, and the most that is left to sand then, mm.

    Of one, two or three it is the number that by the square law (half as thick, a quarter left) lowers the most by the
    largest amount for each block; these are then measured.
    """
    blocks = sorted(body.cut_blocks, key=lambda block: -block.grown.sanding)[: MORE_BLOCKS + 1]
    thick = [block.span.thickness >= 2 * THINNEST for block in blocks[:MORE_BLOCKS]]
    counts = [n for n in range(1, len(thick) + 1) if all(thick[:n])]
    sanding = [*(block.grown.sanding for block in blocks), 0.0]
    most = sanding[0]
    if not counts:
        return 0, most
    count = max(counts, key=lambda n: ((most - max(most / 4, sanding[n])) / n, -n))
    cut = hull_cut(body.hull.shape)
    left = max([*(_sanding_in_halves(body, block, cut) for block in blocks[:count]), sanding[count]])
    return (count, left) if left <= min((1 - WORTH) * most, most - GAIN) else (0, most)


def _sanding_in_halves(body: Body, block: CutBlock, cut: Cut) -> float:
    """The most to sand in mm if a block is divided in the middle."""
    shape, span = body.hull.shape, block.span
    middle = (span.x_fore + span.x_aft) / 2
    before, after = (shape.section(middle, side).region for side in (Side.FORE, Side.AFT))
    faces = (block.fore.outline.finished, before), (after, block.aft.outline.finished)
    halves = [
        grow_whole(shape, cut, half, both, body.settings)
        for half, both in zip(divide_span(span, 2), faces, strict=True)
    ]
    return max(math.inf if must_carve(2, half, half.pairing.unpaired) else half.sanding for half in halves)


def _label(foam: float, fit: float | None) -> str:
    return f"foam {foam:g}" + ("" if fit is None else f", fit {fit:g}")


def _count_templates(block: Block) -> int:
    """Number of face templates, profiles and gauges of a block."""
    faces = sum(face.has_template for face in block.faces)
    return faces + (2 * len(block.tip.profiles) + len(block.tip.gauges) if isinstance(block, CarvedBlock) else 0)


def row_of(body: Body, plan: FoamPlan, job: Job) -> Row:
    """The figures of a body that is made already."""
    return _row(body, plan, job.foam.thickness or body.stations.foam, job.foam.fit)


def _row(body: Body, plan: FoamPlan, foam: float, fit: float | None) -> Row:
    grown = [block.grown for block in body.blocks if isinstance(block, CutBlock)]
    pairs = [pair for piece in body.bodies for pair in pairwise(piece.blocks)]
    joints = [fore.aft.outline.cut.intersection(aft.fore.outline.cut).area for fore, aft in pairs]
    joints += [joint.outline.area for joint in body.joints]
    used = boards_used(plan.cut)
    deepest = max((block.grown.sanding for block in body.cut_blocks), default=0.0)
    more, more_extra = (0, deepest) if body.parts else more_blocks(body)
    return Row(
        label=_label(foam, fit),
        foam=foam,
        fit=fit,
        blocks=len(body.blocks),
        odd=len(body.stations.odd_spans),
        tips=sum(isinstance(block, CarvedBlock) for block in body.blocks),
        templates=sum(_count_templates(block) for block in body.blocks),
        missing=max((block.deviation.missing for block in grown), default=0.0),
        extra=max((block.deviation.extra for block in grown), default=0.0),
        more_blocks=more,
        more_extra=more_extra,
        growth=max((block.offset for block in grown), default=0.0),
        foam_volume=sum(block.box.width * block.box.height * block.span.thickness for block in body.blocks),
        sanding_volume=sum(block.sanding_volume for block in body.cut_blocks),
        carving_volume=sum(block.tip.carving_volume for block in body.blocks if isinstance(block, CarvedBlock))
        + sum(block.deviation.carved_volume for block in grown),
        glue_area=sum(joints),
        boards=sum(use.used for use in used if not use.board.offcut),
        offcuts=sum(use.used for use in used if use.board.offcut),
        glue_lines=sum(
            billet.kind.glue_lines * len({(block.strip, block.blank) for block in billet.blocks})
            for billet in plan.cut.billets
        ),
        lacking=sum(len(shortage.blocks) for shortage in plan.cut.shortages),
        waste=waste_share(plan.cut),
        fingerprint=fingerprint_of(body),
    )


def _plot_row(body: Body, foam: float, fit: float | None) -> PlotRow:
    """Deviation along the hull, without carved blocks."""
    x: list[float] = []
    missing: list[float] = []
    extra: list[float] = []
    for block in body.bodies[0].blocks:
        if not isinstance(block, CutBlock):
            x += [block.span.x_fore, block.span.x_aft]
            missing += [np.nan, np.nan]
            extra += [np.nan, np.nan]
            continue
        for section in block.grown.deviation.along:
            x.append(section.x)
            missing.append(max(0.0, -section.lowest))
            extra.append(max(0.0, section.highest))
    return PlotRow(_label(foam, fit), np.array(x), np.array(missing), np.array(extra), body.stations.stations)
