"""Foams and ways of planning side by side, before any is chosen: the same hull built with each, as figures."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from profiles.beside import Submit, here
from profiles.blocks.blocks import CarvedBlock, CutBlock
from profiles.build import Build, build
from profiles.foam.figures import boards_used, waste_share
from profiles.hull.frame import Hull
from profiles.pictures.deviationplot import PlotRow

if TYPE_CHECKING:
    from profiles.job import Job


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
    pages: int
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

    build: Build
    row: Row
    plot: PlotRow


def compare(
    job: "Job", hull: Hull, foams: Sequence[float], fits: Sequence[float | None], submit: Submit = here
) -> list[Compared]:
    """Every foam thickness with every limit (None: full blocks as far as they go), in that order.

    Raises any StationerError, for the first foam that cannot be.
    """
    results = []
    for foam in foams:
        for fit in fits:
            variant = job.model_copy(update={"foam": job.foam.model_copy(update={"thickness": foam, "fit": fit})})
            made = build(variant, hull, submit=submit)
            results.append(Compared(made, _row(made, foam, fit), _plot_row(made, foam, fit)))
    return results


def _label(foam: float, fit: float | None) -> str:
    return f"foam {foam:g}" + ("" if fit is None else f", fit {fit:g}")


def _row(made: Build, foam: float, fit: float | None) -> Row:
    cut = [block.grown for block in made.blocks if isinstance(block, CutBlock)]
    joints = [
        before.aft.outline.cut.intersection(behind.fore.outline.cut).area
        for before, behind in zip(made.blocks, made.blocks[1:], strict=False)
    ]
    used = boards_used(made.foam.cut)
    return Row(
        label=_label(foam, fit),
        foam=foam,
        fit=fit,
        blocks=len(made.blocks),
        odd=len(made.plan.stations.odd_spans),
        tips=sum(isinstance(block, CarvedBlock) for block in made.blocks),
        templates=len(made.templates),
        pages=len(made.pages),
        missing=max((one.deviation.missing for one in cut), default=0.0),
        extra=max((one.deviation.extra for one in cut), default=0.0),
        growth=max((one.offset for one in cut), default=0.0),
        foam_volume=sum(block.box.width * block.box.height * block.span.thickness for block in made.blocks),
        sanding_volume=sum(one.sanding_volume for one in cut),
        glue_area=sum(joints),
        boards=sum(use.used for use in used if not use.board.offcut),
        offcuts=sum(use.used for use in used if use.board.offcut),
        glue_lines=sum(
            billet.kind.glue_lines * len({(one.strip, one.blank) for one in billet.blocks})
            for billet in made.foam.cut.billets
        ),
        lacking=sum(len(one.blocks) for one in made.foam.cut.lacking),
        waste=waste_share(made.foam.cut),
        fingerprint=made.fingerprint,
    )


def _plot_row(made: Build, foam: float, fit: float | None) -> PlotRow:
    """Deviation along the hull; nothing is known in tip blocks."""
    x: list[float] = []
    missing: list[float] = []
    extra: list[float] = []
    for block in made.blocks:
        if not isinstance(block, CutBlock):
            x += [block.span.x_fore, block.span.x_aft]
            missing += [np.nan, np.nan]
            extra += [np.nan, np.nan]
            continue
        for place in block.grown.deviation.along:
            x.append(place.x)
            missing.append(max(0.0, -place.lowest))
            extra.append(max(0.0, place.highest))
    return PlotRow(_label(foam, fit), np.array(x), np.array(missing), np.array(extra), made.plan.stations.stations)
