"""A body of which the first blocks are glued already: they stay, and the rest is planned from where they really end.

Thicknesses add up, so a glued part is seldom as long as planned. The old plan says which blocks these are; the new one
begins at their measured length, takes its outlines from the hull there, and goes on with their numbers.
"""

from dataclasses import replace

from profiles.blocks.body import Body
from profiles.blocks.settings import StationSettings
from profiles.blocks.stations import StationPlan
from profiles.errors import JobError
from profiles.layout import fingerprint_of
from profiles.notes import fact
from profiles.units import block_name

MOST_OFF = 0.5
"""Of the foam's thickness; a glued part that is farther off its plan than this is another number of blocks."""


def check_built(settings: StationSettings, before: Body) -> tuple[int, float]:
    """How many blocks are glued and how long they are, mm. Raises JobError where that cannot be by the plan before."""
    count, length = settings.built, settings.built_length
    spans, foam = before.stations.spans, before.stations.foam
    if count is None or length is None:
        given = "--built" if length is None else "--built-length"
        message = f"{given} is given alone"
        raise JobError(message, remedy="Give both: --built 8 --built-length 321.5.")
    if count >= len(spans):
        message = f"--built {count}: the plan has {len(spans)} blocks, so at most {len(spans) - 1} can be glued"
        raise JobError(message, remedy="Count the glued blocks from the nose.")
    planned = spans[count - 1].x_aft
    if abs(length - planned) > MOST_OFF * foam:
        message = f"--built-length {length:g} mm: the first {count} blocks are {planned:.1f} mm long by their plan"
        raise JobError(message, remedy="Count the glued blocks from the nose, and measure from there to the last face.")
    return count, length


def settings_from(settings: StationSettings, length: float) -> StationSettings:
    """The settings of the rest: a station at `length` mm, and no break before it."""
    later = tuple(place for place in settings.breaks if place > length)
    return replace(settings, built=None, built_length=None, breaks=(length, *later))


def rest_of(plan: StationPlan, count: int, length: float) -> StationPlan:
    """What a plan holds from `length` mm on, its blocks numbered after the first `count`."""
    start = min(range(len(plan.stations) - 1), key=lambda n: abs(plan.stations[n] - length))
    spans = tuple(replace(span, number=count + n) for n, span in enumerate(plan.spans[start:], start=1))
    old = {
        f"block {block_name(before.number)}": f"block {block_name(after.number)}"
        for before, after in zip(plan.spans[start:], spans, strict=True)
    }
    notes = tuple(
        replace(note, about=old.get(note.about, note.about))
        for note in plan.notes
        if note.x is None or note.x >= plan.stations[start]
    )
    return replace(plan, stations=plan.stations[start:], spans=spans, notes=notes)


def with_built_note(body: Body, before: Body, count: int, length: float) -> Body:
    """The body with what is said of its glued part, both fingerprints named."""
    planned = before.stations.spans[count - 1].x_aft
    text = (
        f"The first {count} blocks are glued, by plan {fingerprint_of(before)}, and measure {length:.1f} mm instead of "
        f"{planned:.1f} mm. They stay. The rest is by plan {fingerprint_of(body)}: "
        f"block {block_name(count + 1)} begins there"
    )
    return replace(body, stations=replace(body.stations, notes=(fact(text), *body.stations.notes)))
