"""One hull built in several ways, with other foams and other limits, as rows of figures; no pages are drawn."""

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from profiles.blocks.blocks import Block, CarvedBlock, CutBlock
from profiles.blocks.body import Body
from profiles.build import shape, supply_job
from profiles.foam.figures import boards_used, waste_share
from profiles.foam.supply import FoamPlan
from profiles.hull.frame import Hull
from profiles.job import Job
from profiles.layout import fingerprint_of
from profiles.pictures.deviationplot import PlotRow


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
    variants = []
    for foam in foams:
        for fit in fits:
            changed = replace(job, foam=replace(job.foam, thickness=foam, fit=fit))
            body = shape(changed, hull, executor)
            row = _row(body, supply_job(changed, body), foam, fit)
            variants.append(Variant(changed, body, row, _plot_row(body, foam, fit)))
    return variants


def _label(foam: float, fit: float | None) -> str:
    return f"foam {foam:g}" + ("" if fit is None else f", fit {fit:g}")


def _count_templates(block: Block) -> int:
    """Number of face templates, profiles and gauges of a block."""
    faces = sum(face.has_template for face in block.faces)
    return faces + (len(block.tip.profiles) + len(block.tip.gauges) if isinstance(block, CarvedBlock) else 0)


def _row(body: Body, plan: FoamPlan, foam: float, fit: float | None) -> Row:
    grown = [block.grown for block in body.blocks if isinstance(block, CutBlock)]
    joints = [fore.aft.outline.cut.intersection(aft.fore.outline.cut).area for fore, aft in pairwise(body.blocks)]
    used = boards_used(plan.cut)
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
        growth=max((block.offset for block in grown), default=0.0),
        foam_volume=sum(block.box.width * block.box.height * block.span.thickness for block in body.blocks),
        sanding_volume=sum(block.sanding_volume for block in body.cut_blocks),
        carving_volume=sum(block.tip.carving_volume for block in body.blocks if isinstance(block, CarvedBlock)),
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
    for block in body.blocks:
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
