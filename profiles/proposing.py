"""A foam thickness proposed where boards are named and none is asked for.

Every thickness that the boards give without slicing is built; the choice is reported with its figures.
"""

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

from profiles.build import foam_settings
from profiles.comparing import Compared, compare
from profiles.errors import JobError
from profiles.foam.cutting import CuttingSettings
from profiles.foam.layers import laminations
from profiles.foam.stock import Board
from profiles.foam.supply import available_boards
from profiles.hull.frame import Hull
from profiles.job import Job
from profiles.units import figure

MOST = 6
"""Thicknesses that are tried; each is a whole build."""

LEAST_BLOCKS = 2
"""A hull in fewer blocks than this is not sliced."""

SANDING_SHARE = 0.05
"""Of the hull's volume; a thicker foam that leaves more than this to be sanded off is no saving of work."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """What was tried, and which of them is proposed."""

    tried: tuple[Compared, ...]
    chosen: Compared
    why: str


def thicknesses(stock: Sequence[Board], cutting: CuttingSettings, length: float) -> list[float]:
    """What boards give without slicing, mm: fewest layers first, then the thickest; at most MOST of them.

    `length` mm is the hull's; foam that would leave it in fewer than LEAST_BLOCKS blocks is left out.
    """
    found: dict[float, int] = {}
    for kind in laminations(stock, cutting.max_layers, cutting.glue):
        thickness = figure(kind.thickness)
        if thickness * LEAST_BLOCKS <= length:
            found.setdefault(thickness, len(kind.layers))
    ordered = sorted(found, key=lambda thickness: (found[thickness], -thickness))
    return sorted(ordered[:MOST])


def proposed(job: Job, hull: Hull, executor: Executor | None = None) -> Proposal:
    """The thickness with the fewest joints of those that the boards are enough for and that leave little to sand.

    Raises JobError where the boards give none.
    """
    foams = [
        one
        for one in thicknesses(available_boards(foam_settings(job)), job.cutting, hull.length)
        if one >= job.foam.min_block
    ]
    if not foams:
        message = f"none of the boards gives a thickness for a hull of {hull.length:.1f} mm"
        raise JobError(message, remedy="Give the foam thickness as --foam 40, or correct the sizes under [[boards]].")
    tried = tuple(compare(job, hull, foams, [job.foam.fit], executor))
    enough = [one for one in tried if not one.row.lacking]
    pool, words = (enough, "that the boards are enough for") if enough else (list(tried), "that the boards give")
    little = [one for one in pool if one.row.sanding_volume <= SANDING_SHARE * hull.volume]
    if little:
        chosen = min(little, key=lambda one: (one.row.blocks + one.row.glue_lines, one.row.sanding_volume))
        why = (
            f"it has the fewest joints of those {words} with at most {100 * SANDING_SHARE:g} % of the body to sand off"
        )
    else:
        chosen = min(pool, key=lambda one: one.row.sanding_volume)
        why = f"it leaves the least to sand off of those {words}"
    return Proposal(tried, chosen, why)
