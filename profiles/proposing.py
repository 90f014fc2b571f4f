"""A foam thickness for a job that names boards but no thickness.

A body is made with every thickness that the boards give without slicing; the choice is reported with its figures.
"""

from collections.abc import Sequence
from concurrent.futures import Executor

from profiles.build import foam_settings
from profiles.comparing import Variant, compare
from profiles.errors import JobError
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
