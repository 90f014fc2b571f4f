"""Hull length + foam thickness (+ breaks) -> station plan: where the body is cut across, and why there.

Full blocks are counted from the tail, so that the odd, thinner ones lie at the nose where the shape turns fastest. A
break is a station that must be there (a step, a bulkhead, a wing root); the stretches between are filled alike.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain, pairwise, repeat

from profiles.errors import JobError
from profiles.notes import Note, warning

SAME_PLACE = 1e-6
"""mm; stations closer than this are one. Far below what foam or paper can show, far above rounding at 10 m."""

STEP_SNAP = 0.1
"""mm; a break this near to a step in the hull is moved onto it, so that both limits are taken at the step itself."""


@dataclass(frozen=True, slots=True)
class Span:
    """The stretch of one block, between two stations."""

    number: int
    """From 1 at the nose."""
    x_fore: float
    """mm."""
    x_aft: float
    """mm."""
    full: bool
    """As thick as the foam; the others are re-sliced or cut from thinner foam."""

    @property
    def thickness(self) -> float:
        """Mm."""
        return self.x_aft - self.x_fore


@dataclass(frozen=True, slots=True)
class StationPlan:
    """Where the body is cut across: `stations` are x in mm, ascending, both ends included."""

    foam: float
    """mm."""
    stations: tuple[float, ...]
    spans: tuple[Span, ...]
    notes: tuple[Note, ...]

    @property
    def odd_spans(self) -> tuple[Span, ...]:
        """The blocks thinner than the foam."""
        return tuple(span for span in self.spans if not span.full)


def plan_stations(
    *,
    length: float,
    foam: float,
    odd: str = "nose",
    min_block: float = 10.0,
    breaks: tuple[float, ...] = (),
    steps: tuple[float, ...] = (),
    full: Sequence[float] = (),
) -> StationPlan:
    """Stations for a body of `length` mm in foam of `foam` mm.

    `odd` says where the odd blocks go: nose, tail or both. A remainder thinner than `min_block` mm is shared with its
    neighbours. `breaks` are forced stations (mm from the nose), `steps` the x of walls across the hull. `full` gives
    the thickness of each full block where they differ, mm, the tail's first; the last one stands for all that follow.

    Raises JobError when the foam, `min_block` or a break cannot be.
    """
    check_foam(length, foam, min_block)
    forced = forced_stations(length, breaks, steps)
    corners = [0.0, *forced, length]
    stretches: list[list[float]] = []
    fulls = list(full) or [foam]
    for start, end in reversed(list(pairwise(corners))):
        stretches.insert(0, _share(end - start, fulls, odd, min_block))
        used = sum(any(_same(thickness, one) for one in fulls) for thickness in stretches[0])
        fulls = fulls[min(used, len(fulls) - 1) :]
    stations = [0.0]
    for start, end, thicknesses in zip(corners, corners[1:], stretches, strict=False):
        x = start
        for thickness in thicknesses[:-1]:
            x += thickness
            stations.append(x)
        stations.append(end)
    sizes = tuple(full) or (foam,)
    spans = tuple(
        Span(number, fore, aft, any(_same(aft - fore, one) for one in sizes))
        for number, (fore, aft) in enumerate(pairwise(stations), start=1)
    )
    return StationPlan(foam, tuple(stations), spans, (*told_thin(spans, min_block), *told_missed(stations, steps)))


def share_out(length: float, foam: float, odd: str = "nose", min_block: float = 10.0) -> list[float]:
    """Block thicknesses from nose to tail that add up to `length`, all mm; none over `foam`, none under `min_block`
    unless the whole stretch is too short for that.
    """
    return _share(length, [foam], odd, min_block)


def _same(one: float, other: float) -> bool:
    return abs(one - other) < SAME_PLACE


def _share(length: float, foams: Sequence[float], odd: str, min_block: float) -> list[float]:
    """As `share_out`, for full blocks of differing thickness, the tail's first; the last stands for all that follow."""
    taken: list[float] = []
    for foam in chain(foams, repeat(foams[-1])):
        if sum(taken) + foam > length + SAME_PLACE:
            break
        taken.append(foam)
    rest = length - sum(taken)
    taken.reverse()
    if rest < SAME_PLACE:
        return taken
    if odd == "both":
        return _both_ends(taken, rest, min_block)
    return _topped_up([rest, *taken], min_block) if odd == "nose" else _topped_up([rest, *taken], min_block)[::-1]


def _topped_up(thicknesses: list[float], min_block: float) -> list[float]:
    """The first block brought up to `min_block` at the cost of the next ones, each giving what it can spare."""
    lacking = min_block - thicknesses[0]
    if lacking <= 0:
        return thicknesses
    spare = [thickness - min_block for thickness in thicknesses[1:]]
    if sum(spare) < lacking:
        return [sum(thicknesses) / len(thicknesses)] * len(thicknesses)
    result = list(thicknesses)
    for place, amount in enumerate(spare, start=1):
        given = min(lacking, amount)
        result[0] += given
        result[place] -= given
        lacking -= given
    return result


def _both_ends(taken: list[float], rest: float, min_block: float) -> list[float]:
    """An equal odd block at each end; a rest too thin for two takes one full block with it."""
    if rest / 2 >= min_block:
        return [rest / 2, *taken, rest / 2]
    if taken and (rest + taken[0]) / 2 >= min_block:
        return [(rest + taken[0]) / 2, *taken[1:], (rest + taken[0]) / 2]
    return _topped_up([rest, *taken], min_block)


def check_foam(length: float, foam: float, min_block: float) -> None:
    """Raises JobError for a foam or a thinnest block (mm) that cannot be, or makes no sense for that length."""
    if not 0 < foam < math.inf:
        message = f"expected a foam thickness above 0 mm, found {foam:g} mm"
        raise JobError(message, remedy="Measure the foam and give it as --foam 40 or --foam 1.5in.")
    if not 0 <= min_block <= foam:
        message = f"expected a thinnest block between 0 and the foam thickness {foam:g} mm, found {min_block:g} mm"
        raise JobError(message, remedy="Choose a smaller --min-block.")
    if length / foam > MOST_BLOCKS:
        message = f"{length:.1f} mm in foam of {foam:g} mm would be {length / foam:.0f} blocks; at most {MOST_BLOCKS}"
        raise JobError(message, remedy="Check the hull's unit (--unit) and the foam thickness (--foam).")


MOST_BLOCKS = 2000
"""More is a wrong unit, not a plan: 2000 blocks of 5 mm are a 10 m hull."""


def forced_stations(length: float, breaks: tuple[float, ...], steps: tuple[float, ...]) -> list[float]:
    """The stations that must be, ascending, mm: breaks, moved onto a step that is as good as there.

    Raises JobError for a break outside the hull.
    """
    outside = [x for x in breaks if not SAME_PLACE < x < length - SAME_PLACE]
    if outside:
        told = ", ".join(f"{x:g}" for x in outside)
        message = f"a break at {told} mm lies outside the hull, which reaches from 0 to {length:.2f} mm"
        raise JobError(message, remedy="Give breaks in mm aft of the foremost point.")
    onto_steps = [
        min([s for s in steps if abs(s - x) <= STEP_SNAP], key=lambda s: abs(s - x), default=x) for x in breaks
    ]
    forced: list[float] = []
    for x in sorted(onto_steps):
        if not forced or x - forced[-1] > SAME_PLACE:
            forced.append(x)
    return forced


def told_thin(spans: tuple[Span, ...], min_block: float) -> list[Note]:
    """Warnings about blocks that breaks leave thinner than `min_block` mm."""
    text = f"thinner than the {min_block:g} mm asked for: the breaks leave no room for more"
    return [
        warning(f"only {span.thickness:.2f} mm, {text}", span.x_fore, f"block {span.number:02d}")
        for span in spans
        if span.thickness < min_block - SAME_PLACE
    ]


def told_missed(stations: list[float], steps: tuple[float, ...]) -> list[Note]:
    """A warning about steps in the hull (x in mm) at which there is no station."""
    missed = [step for step in steps if all(abs(step - x) > SAME_PLACE for x in stations)]
    if not missed:
        return []
    places = ", ".join(f"{step:.2f}" for step in missed)
    breaks = " ".join(f"--break {step:.2f}" for step in missed)
    text = f"the hull has a step inside a block at x = {places} mm; a wire cannot cut it. Put a station there: {breaks}"
    return [warning(text, missed[0])]
