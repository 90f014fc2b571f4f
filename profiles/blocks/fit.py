"""Plan stations by fit: the fewest blocks whose deviation from the hull stays within a limit.

A stretch between two breaks is a graph: its nodes are the places where a station may lie, its edges are the blocks. The
fewest blocks are the shortest path from end to end. Measuring the deviation of a block is what costs time, so the
search is lazy: it assumes that every unmeasured block is good, finds the shortest path, measures the blocks on it, and
repeats until a path keeps the limit (`fit_search`). The result is the best of all paths, however the deviation varies
along the hull.
"""

import math
from collections.abc import Mapping
from itertools import accumulate, pairwise

import numpy as np

from profiles.arrays import Floats
from profiles.blocks.fit_search import ALIKE, Deviation, Stretch, Tips, best_path
from profiles.blocks.stations import (
    SAME_PLACE,
    Span,
    StationPlan,
    check_foam,
    forced_stations,
    missed_step_notes,
    share_out,
    thin_block_notes,
)
from profiles.errors import JobError
from profiles.notes import Note, warning
from profiles.units import block_name, number_runs


def plan_by_fit(  # noqa: PLR0913 - independent settings, all by name
    *,
    length: float,
    foam: float,
    limit: float,
    min_block: float = 10.0,
    breaks: tuple[float, ...] = (),
    steps: tuple[float, ...] = (),
    grid: float = 1.0,
    deviation: Deviation,
    tips: Tips | None = None,
    thinner_fits_better: bool = False,
) -> StationPlan:
    """The plan with the fewest blocks, each between `min_block` and `foam` thick and within `limit` of the hull, in mm.

    A carved block counts as `CARVED` blocks and keeps any limit. Ties are broken by the least length of carved blocks,
    then the most full blocks, then the smallest largest deviation (to `ALIKE`). The same input gives the same plan.

    `breaks` (mm) are always stations; one close to a step in `steps` (mm) moves onto it. Other stations lie every
    `grid` mm from the tail of each stretch (slightly finer if the foam is not a whole multiple), at the steps, at whole
    foam thicknesses from these, and where `plan_stations` would put them, so the plan is never worse than that one. A
    stretch too short for `min_block` gets the thickest blocks possible, with a note. So does a limit that no plan
    keeps: the blocks over it are as few as possible and as little over it, and a warning names them.

    `tips` tells of first and last blocks of the body that they are carved, before any is measured. It is called only
    for blocks that begin at 0 or end at `length`.

    `deviation` is called at most once for each block. By default nothing is assumed about it. With
    `thinner_fits_better` a block inside another is assumed to deviate no more than the outer one, which is true where
    the hull is convex along its length; a carved block says nothing about others. Far fewer blocks are then
    measured when the limit is tight (a spheroid 570 x 120 in 40 mm foam within 0.25 mm: 62 instead of 1747). Every
    block of the plan is still measured, and before a block is taken that is over the limit, the assumption is doubted
    up to `DOUBT`; but where the hull swings in and out a better plan may exist.

    Raises JobError for impossible settings, and where no block at all can be made.
    """
    check_foam(length, foam, min_block)
    _check_limit(limit, grid)
    corners = [0.0, *forced_stations(length, breaks, steps), length]
    stations = [0.0]
    deviations: list[float] = []
    for start, end in pairwise(corners):
        # A stretch too short for `min_block` must still be cut: there the thinnest even division is allowed.
        least = min(min_block, *share_out(end - start, foam, "nose", min_block))
        places = _possible_stations(start, end, foam, min_block, grid, steps)
        stretch = Stretch(places, foam, least, deviation, thinner_fits_better=thinner_fits_better)
        if tips:
            for block in stretch.end_blocks(length):
                if tips(*stretch.x_of(block)):
                    stretch.carve(block)
        path = best_path(stretch, limit)
        if not path:
            message = f"between x = {start:.2f} and {end:.2f} mm no section of the hull can be closed"
            raise JobError(message, remedy="Close gaps with --bridge, or use --solid for an open hull.")
        stations += [stretch.x_of(block)[1] for block in path]
        deviations += [stretch.least_deviation(block) for block in path]
    spans = tuple(
        Span(number, fore, aft, abs(aft - fore - foam) < SAME_PLACE)
        for number, (fore, aft) in enumerate(pairwise(stations), start=1)
    )
    over = {span: value for span, value in zip(spans, deviations, strict=True) if value > limit}
    notes = (*thin_block_notes(spans, min_block), *missed_step_notes(stations, steps), *_over_notes(over, limit))
    return StationPlan(foam, tuple(stations), spans, notes, limit, divisible=False)


def _over_notes(over: Mapping[Span, float], limit: float) -> list[Note]:
    """A warning about blocks over the limit: which, by how much, and what to do."""
    if not over:
        return []
    worst = max(over, key=lambda span: over[span])
    thinnest = min(span.thickness for span in over)
    enough = math.ceil(over[worst] / ALIKE) * ALIKE
    blocks = "block" if len(over) == 1 else "blocks"
    text = (
        f"No plan keeps every block within {limit:g} mm of the hull: {blocks} "
        f"{number_runs([span.number for span in over])} will be up to {over[worst]:.2f} mm off, the most in block "
        f"{block_name(worst.number)} from x = {worst.x_fore:.2f} to {worst.x_aft:.2f} mm. "
        f"Use a --min-block below {thinnest:g}, or --fit {enough:.2f}"
    )
    return [warning(text, worst.x_fore)]


def _check_limit(limit: float, grid: float) -> None:
    if not limit > 0:
        message = f"expected a largest deviation above 0 mm, found {limit:g} mm"
        raise JobError(message, remedy="Give what you can sand, for example --fit 1.0.")
    if not 0 < grid < math.inf:
        message = f"expected a grid of stations above 0 mm, found {grid:g} mm"
        raise JobError(message, remedy="Use 1 mm.")


def _possible_stations(
    start: float, end: float, foam: float, min_block: float, grid: float, steps: tuple[float, ...]
) -> Floats:
    """Where stations may lie between two breaks, (n,) mm ascending: both breaks, exact steps, and the grid."""
    fixed = np.array([start, *sorted(s for s in steps if start + SAME_PLACE < s < end - SAME_PLACE), end])
    fixed = fixed[np.diff(fixed, prepend=-math.inf) > SAME_PLACE]
    step = foam / math.ceil(foam / grid - SAME_PLACE)
    foams = foam * np.arange(1, math.ceil((end - start) / foam) + 1)
    candidates = [end - step * np.arange(1, math.ceil((end - start) / step))]
    candidates += [x + side * foams for x in fixed for side in (-1, 1)]
    for odd in ("nose", "tail", "both"):
        candidates.append(start + np.array(list(accumulate(share_out(end - start, foam, odd, min_block)))))
    x = np.sort(np.concatenate(candidates))
    x = x[(x > start) & (x < end)]
    x = x[np.diff(x, prepend=-math.inf) > SAME_PLACE]
    apart = np.abs(x[:, None] - fixed[None, :]).min(axis=1) > SAME_PLACE
    return np.sort(np.concatenate([fixed, x[apart]]))
