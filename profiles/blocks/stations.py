"""Plan stations by thickness: hull length + foam thickness + breaks -> where the hull is divided into blocks.

Full blocks are counted from the tail, so that the odd, thinner blocks are at the nose, where the shape changes fastest.
A break is a station that the user asks for (a step, a bulkhead, a wing root). Each stretch between breaks is filled in
the same way.
"""

import math
from collections.abc import Sequence
from itertools import chain, pairwise, repeat

from profiles.errors import JobError
from profiles.notes import Note, warning
from profiles.units import block_name
from profiles.values import dataclass

SAME_PLACE = 1e-6
"""mm; stations closer than this are the same. Far below what foam or paper shows, far above rounding at 10 m."""

STEP_SNAP = 0.1
"""mm; a break this close to a step in the hull moves onto it. The block before it then ends with the section just
forward of the step, and the block after it begins with the section just aft."""


@dataclass(frozen=True, slots=True)
class Span:
    """The place of a block along the hull, between two stations."""

    number: int
    """From 1 at the nose."""
    x_fore: float
    """mm."""
    x_aft: float
    """mm."""
    full: bool
    """As thick as the foam. Other blocks are sliced thinner, or cut from thinner foam."""
    fore_inset: float = 0.0
    """mm; the fore outline is taken this far aft of the fore station. A station where the shape changes has two
    outlines."""
    aft_inset: float = 0.0
    """mm; the aft outline is taken this far forward of the aft station."""

    @property
    def thickness(self) -> float:
        """Thickness in mm."""
        return self.x_aft - self.x_fore


@dataclass(frozen=True, slots=True)
class StationPlan:
    """Where the hull is divided: `stations` are x in mm, ascending, both ends included."""

    foam: float
    """mm."""
    stations: tuple[float, ...]
    spans: tuple[Span, ...]
    notes: tuple[Note, ...]
    most: float | None = None
    """mm; no block is to leave more than this to sand. None without such a limit."""
    divisible: bool = True
    """Whether blocks may be divided further to keep that limit."""

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

    `odd` is the end for odd blocks: nose, tail or both. A rest thinner than `min_block` mm is shared with its
    neighbours. `breaks` are forced stations in mm from the nose, `steps` the x of walls across the hull. Where full
    blocks differ, `full` is the thickness of each in mm, from the tail; its last value repeats.

    Raises JobError for an impossible foam thickness, `min_block` or break.

    >>> plan_stations(length=100, foam=40).stations, plan_stations(length=100, foam=40, breaks=(50,)).stations
    ((0.0, 20.0, 60.0, 100), (0.0, 10.0, 50, 60, 100))
    """
    check_foam(length, foam, min_block)
    forced = forced_stations(length, breaks, steps)
    corners = [0.0, *forced, length]
    stretches: list[list[float]] = []
    fulls = list(full) or [foam]
    for start, end in reversed(list(pairwise(corners))):
        stretches.insert(0, _share_foams(end - start, fulls, odd, min_block))
        used = sum(any(_is_same(thickness, size) for size in fulls) for thickness in stretches[0])
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
        Span(number, fore, aft, any(_is_same(aft - fore, size) for size in sizes))
        for number, (fore, aft) in enumerate(pairwise(stations), start=1)
    )
    notes = (*thin_block_notes(spans, min_block), *missed_step_notes(stations, steps))
    return StationPlan(foam, tuple(stations), spans, notes)


def divide_span(span: Span, count: int) -> list[Span]:
    """The span in `count` pieces of the same thickness, all with its number."""
    if count == 1:
        return [span]
    edges = [span.x_fore + span.thickness * n / count for n in range(count)] + [span.x_aft]
    return [
        Span(
            span.number,
            fore,
            aft,
            full=False,
            fore_inset=span.fore_inset if n == 0 else 0.0,
            aft_inset=span.aft_inset if n == count - 1 else 0.0,
        )
        for n, (fore, aft) in enumerate(pairwise(edges))
    ]


def share_out(length: float, foam: float, odd: str = "nose", min_block: float = 10.0) -> list[float]:
    """Block thicknesses in mm from nose to tail with the sum `length`; none above `foam`, and none below `min_block`
    unless the stretch is too short.

    >>> share_out(95, 40), share_out(95, 40, odd="both"), share_out(82, 40)
    ([15, 40, 40], [27.5, 40, 27.5], [10.0, 32.0, 40.0])
    """
    return _share_foams(length, [foam], odd, min_block)


def _is_same(first: float, second: float) -> bool:
    return abs(first - second) < SAME_PLACE


def _share_foams(length: float, foams: Sequence[float], odd: str, min_block: float) -> list[float]:
    """Like `share_out`, for full blocks of different thicknesses from the tail; the last one repeats."""
    full: list[float] = []
    for foam in chain(foams, repeat(foams[-1])):
        if sum(full) + foam > length + SAME_PLACE:
            break
        full.append(foam)
    rest = length - sum(full)
    full.reverse()
    if rest < SAME_PLACE:
        return full
    if odd == "both":
        return _split_rest(full, rest, min_block)
    thicknesses = _thicken_first([rest, *full], min_block)
    return thicknesses if odd == "nose" else thicknesses[::-1]


def _thicken_first(thicknesses: list[float], min_block: float) -> list[float]:
    """Thicken the first block to `min_block` mm. The next blocks give what they have above that, nearest first."""
    lacking = min_block - thicknesses[0]
    if lacking <= 0:
        return thicknesses
    spare = [thickness - min_block for thickness in thicknesses[1:]]
    if sum(spare) < lacking:
        return [sum(thicknesses) / len(thicknesses)] * len(thicknesses)
    result = list(thicknesses)
    for place, amount in enumerate(spare, start=1):
        share = min(lacking, amount)
        result[0] += share
        result[place] -= share
        lacking -= share
    return result


def _split_rest(full: list[float], rest: float, min_block: float) -> list[float]:
    """An equal odd block at each end. If the rest is too thin for two, one full block is divided with it."""
    if rest / 2 >= min_block:
        return [rest / 2, *full, rest / 2]
    if full and (rest + full[0]) / 2 >= min_block:
        return [(rest + full[0]) / 2, *full[1:], (rest + full[0]) / 2]
    return _thicken_first([rest, *full], min_block)


def check_foam(length: float, foam: float, min_block: float) -> None:
    """Raises JobError for an impossible foam thickness or thinnest block (mm), and for too many blocks."""
    if not 0 < foam < math.inf:
        message = f"expected a foam thickness above 0 mm, found {foam:g} mm"
        raise JobError(message, remedy="Measure the foam and give it as --foam 40 or --foam 1.5in.")
    if not 0 <= min_block <= foam:
        message = f"expected a thinnest block between 0 and the foam thickness {foam:g} mm, found {min_block:g} mm"
        raise JobError(message, remedy="Choose a smaller --min-block.")
    if length / foam > MOST_BLOCKS:
        message = (
            f"a hull of {length:.1f} mm in {foam:g} mm foam gives {length / foam:.0f} blocks, at most {MOST_BLOCKS} "
            "are possible"
        )
        raise JobError(message, remedy="Check the hull's unit (--unit) and the foam thickness (--foam).")


MOST_BLOCKS = 2000
"""More blocks than this mean a wrong unit: 2000 blocks of 5 mm are a hull of 10 m."""


def forced_stations(length: float, breaks: tuple[float, ...], steps: tuple[float, ...]) -> list[float]:
    """The stations at breaks, mm ascending. A break within STEP_SNAP of a step moves onto it; equal ones count once.

    Raises JobError for a break outside the hull.
    """
    outside = [x for x in breaks if not SAME_PLACE < x < length - SAME_PLACE]
    if outside:
        places = ", ".join(f"{x:g}" for x in outside)
        message = f"a break at {places} mm lies outside the hull, which reaches from 0 to {length:.2f} mm"
        raise JobError(message, remedy="Give breaks in mm aft of the foremost point.")
    onto_steps = [
        min([s for s in steps if abs(s - x) <= STEP_SNAP], key=lambda s: abs(s - x), default=x) for x in breaks
    ]
    forced: list[float] = []
    for x in sorted(onto_steps):
        if not forced or x - forced[-1] > SAME_PLACE:
            forced.append(x)
    return forced


def thin_block_notes(spans: tuple[Span, ...], min_block: float) -> list[Note]:
    """Warnings about blocks that breaks leave thinner than `min_block` mm."""
    text = f"thinner than the minimum of {min_block:g} mm because of the breaks"
    return [
        warning(f"only {span.thickness:.2f} mm thick, {text}", span.x_fore, f"block {block_name(span.number)}")
        for span in spans
        if span.thickness < min_block - SAME_PLACE
    ]


def missed_step_notes(stations: list[float], steps: tuple[float, ...]) -> list[Note]:
    """A warning about steps in the hull (x in mm) that lie inside a block."""
    missed = [step for step in steps if all(abs(step - x) > SAME_PLACE for x in stations)]
    if not missed:
        return []
    places = ", ".join(f"{step:.2f}" for step in missed)
    breaks = " ".join(f"--break {step:.2f}" for step in missed)
    text = (
        f"the hull has a step inside a block at x = {places} mm, which a straight wire cannot cut. "
        f"Put a station there ({breaks})"
    )
    return [warning(text, missed[0])]
