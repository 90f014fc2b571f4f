"""Foams and ways of planning side by side, before any is chosen: the same hull built with each, as figures."""

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

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
    """Largest depth of missing foam after growth, tip blocks left out."""
    extra: float
    """Largest depth to be sanded off, tip blocks left out."""
    growth: float
    """Largest growth of an outline."""
    foam_volume: float
    """Of the squared blocks."""
    sanding_volume: float
    glue_area: float
    """Of all joints between two blocks: what both faces share."""
    boards: int
    """That the cutting plan takes, offcuts left out."""
    offcuts: int
    """Offcuts that it takes."""
    glue_lines: int
    """Flat joints inside the blocks."""
    lacking: int
    """Blocks that the foam at hand does not give."""
    waste: float
    """Share of the foam taken that is neither block nor an offcut to keep."""
    fingerprint: str


@dataclass(frozen=True, slots=True)
class Compared:
    """One way to build the hull, its figures, and its line in the plot."""

    job: Job
    body: Body
    row: Row
    plot: PlotRow


def compare(
    job: Job, hull: Hull, foams: Sequence[float], fits: Sequence[float | None], executor: Executor | None = None
) -> list[Compared]:
    """Every foam thickness with every limit (None: full blocks as far as they go), in that order.

    Raises any StationerError, for the first foam that cannot be.
    """
    results = []
    for foam in foams:
        for fit in fits:
            variant = replace(job, foam=replace(job.foam, thickness=foam, fit=fit))
            body = shape(variant, hull, executor)
            row = _row(body, supply_job(variant, body), foam, fit)
            results.append(Compared(variant, body, row, _plot_row(body, foam, fit)))
    return results


def _label(foam: float, fit: float | None) -> str:
    return f"foam {foam:g}" + ("" if fit is None else f", fit {fit:g}")


def _templates(block: Block) -> int:
    """Face templates, profiles and gauges of a block."""
    faces = sum(face.has_template for face in block.faces)
    return faces + (len(block.tip.profiles) + len(block.tip.gauges) if isinstance(block, CarvedBlock) else 0)


def _row(body: Body, supplied: FoamPlan, foam: float, fit: float | None) -> Row:
    cut = [block.grown for block in body.blocks if isinstance(block, CutBlock)]
    joints = [
        before.aft.outline.cut.intersection(behind.fore.outline.cut).area
        for before, behind in zip(body.blocks, body.blocks[1:], strict=False)
    ]
    used = boards_used(supplied.cut)
    return Row(
        label=_label(foam, fit),
        foam=foam,
        fit=fit,
        blocks=len(body.blocks),
        odd=len(body.stations.odd_spans),
        tips=sum(isinstance(block, CarvedBlock) for block in body.blocks),
        templates=sum(_templates(block) for block in body.blocks),
        missing=max((one.deviation.missing for one in cut), default=0.0),
        extra=max((one.deviation.extra for one in cut), default=0.0),
        growth=max((one.offset for one in cut), default=0.0),
        foam_volume=sum(block.box.width * block.box.height * block.span.thickness for block in body.blocks),
        sanding_volume=sum(one.sanding_volume for one in cut),
        glue_area=sum(joints),
        boards=sum(use.used for use in used if not use.board.offcut),
        offcuts=sum(use.used for use in used if use.board.offcut),
        glue_lines=sum(
            billet.kind.glue_lines * len({(one.strip, one.blank) for one in billet.blocks})
            for billet in supplied.cut.billets
        ),
        lacking=sum(len(one.blocks) for one in supplied.cut.shortages),
        waste=waste_share(supplied.cut),
        fingerprint=fingerprint_of(body),
    )


def _plot_row(body: Body, foam: float, fit: float | None) -> PlotRow:
    """Deviation along the hull; nothing is known in tip blocks."""
    x: list[float] = []
    missing: list[float] = []
    extra: list[float] = []
    for block in body.blocks:
        if not isinstance(block, CutBlock):
            x += [block.span.x_fore, block.span.x_aft]
            missing += [np.nan, np.nan]
            extra += [np.nan, np.nan]
            continue
        for place in block.grown.deviation.along:
            x.append(place.x)
            missing.append(max(0.0, -place.lowest))
            extra.append(max(0.0, place.highest))
    return PlotRow(_label(foam, fit), np.array(x), np.array(missing), np.array(extra), body.stations.stations)
