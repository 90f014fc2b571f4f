"""A foam thickness for a job that names boards but no thickness, and parts for a hull that is better cut apart.

A body is made with every thickness that the boards give without slicing; the choice is reported with its figures.
"""

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import replace

import shapely

from profiles.blocks.body import Body
from profiles.build import foam_settings, shape, supply_job
from profiles.comparing import Row, Variant, compare, row_of
from profiles.errors import JobError, StationerError
from profiles.foam.cutting import CuttingSettings
from profiles.foam.layers import laminations
from profiles.foam.stock import Board
from profiles.foam.supply import available_boards
from profiles.hull.frame import Hull
from profiles.job import Job
from profiles.units import figure
from profiles.values import dataclass

MAX_TRIED = 6
"""Largest number of thicknesses to try; each takes as long as a build."""

MIN_BLOCKS = 2
"""A hull is divided into at least this many blocks."""

SANDING_SHARE = 0.05
"""Of the hull's volume; a thicker foam that leaves more than this to sand off does not save work."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """The thicknesses that were tried, and the choice."""

    tried: tuple[Variant, ...]
    choice: Variant
    reason: str
    """Why it was chosen, as a clause: "it leaves the least ..."."""


def thicknesses(stock: Sequence[Board], cutting: CuttingSettings, length: float) -> list[float]:
    """Thicknesses that boards give without slicing, mm, ascending: those with the fewest layers, then the thickest.

    There are at most MAX_TRIED. Thicknesses that would divide a hull of this length (mm) into fewer than MIN_BLOCKS
    blocks are left out.
    """
    layers: dict[float, int] = {}
    for kind in laminations(stock, cutting.max_layers, cutting.glue):
        thickness = figure(kind.thickness)
        if thickness * MIN_BLOCKS <= length:
            layers.setdefault(thickness, len(kind.layers))
    ordered = sorted(layers, key=lambda thickness: (layers[thickness], -thickness))
    return sorted(ordered[:MAX_TRIED])


def propose_thickness(job: Job, hull: Hull, executor: Executor | None = None) -> Proposal:
    """The thickness with the fewest joints, among those that have enough boards and leave little to sand.

    Raises JobError if the boards give no thickness.
    """
    possible = thicknesses(available_boards(foam_settings(job)), job.cutting, hull.length)
    foams = [thickness for thickness in possible if thickness >= job.foam.min_block]
    if not foams:
        message = f"none of the boards gives a thickness for a hull of {hull.length:.1f} mm"
        raise JobError(message, remedy="Give the foam thickness as --foam 40, or correct the sizes under [[boards]].")
    tried = compare(job, hull, foams, [job.foam.fit], executor)
    enough = [variant for variant in tried if not variant.row.lacking]
    candidates, which = (enough, "for which the boards are enough") if enough else (tried, "that the boards give")
    little = [variant for variant in candidates if variant.row.sanding_volume <= SANDING_SHARE * hull.volume]
    if little:
        choice = min(little, key=lambda v: (v.row.blocks + v.row.glue_lines, v.row.sanding_volume))
        share = f"{100 * SANDING_SHARE:g} % of the body"
        reason = f"it has the fewest joints of those {which} with at most {share} to sand off"
    else:
        choice = min(candidates, key=lambda variant: variant.row.sanding_volume)
        reason = f"it leaves the least to sand off of those {which}"
    return Proposal(tuple(tried), choice, reason)


@dataclass(frozen=True, slots=True)
class PartProposal:
    """What a hull would take in one piece and in the parts that its shape proposes."""

    words: tuple[str, ...]
    """What to type: "--part 'fin: above 60, upright'" for each part."""
    before: Row
    after: Row


MOST_TRIANGLES = 200_000
"""Of a hull for which parts are proposed unasked; dividing a larger one takes longer than its blocks."""

WORTH = 0.75
"""Of what is left to sand and carve; parts that leave more than this share of it are not worth their joints."""

CARVED_BLOCK = 30_000.0
"""mm3 that a carved block counts as besides what is carved off it: its profiles and gauges are made, too."""


def propose_parts(job: Job, hull: Hull, body: Body, executor: Executor | None = None) -> PartProposal | None:
    """Parts that spare most of the work by hand, measured by making the blocks; None for a job that says something of
    parts itself, and where none of the shape is worth it.
    """
    if hull.triangles > MOST_TRIANGLES:
        return None
    if body.parts or job.hull.parts or job.cuts.any or job.foam.thickness is None or job.foam.built is not None:
        return None
    from profiles.parting import part_words, with_proposed_parts  # most hulls have none

    try:
        parted, _ = with_proposed_parts(replace(job, foam=replace(job.foam, as_measured=False)), hull)
        if not parted.parts:
            return None
        divided = shape(parted, hull, executor)
        rows = [row_of(one, supply_job(made, one), job) for made, one in ((job, body), (parted, divided))]
    except (StationerError, shapely.errors.GEOSException):  # a proposal that fails is none, and the job goes on
        return None
    if _by_hand(rows[1]) > WORTH * _by_hand(rows[0]):
        return None
    return PartProposal(tuple(f"--part {part_words(part)!r}" for part in parted.parts), rows[0], rows[1])


def _by_hand(row: Row) -> float:
    """mm3 to sand and to carve, carved blocks counted for the work on their templates."""
    return row.sanding_volume + row.carving_volume + CARVED_BLOCK * row.tips
