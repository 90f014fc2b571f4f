"""A hull in parts -> bodies: each part planned and cut its own way, its blocks with a letter before their numbers."""

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import replace

from profiles.blocks.blocks import Block
from profiles.blocks.body import Body, cut
from profiles.blocks.planning import plan
from profiles.blocks.settings import StationSettings
from profiles.blocks.stations import StationPlan
from profiles.errors import JobError
from profiles.hull.frame import Hull
from profiles.hull.gaps import refuse_open
from profiles.hull.part_search import proposed_parts
from profiles.hull.part_settings import PartSettings
from profiles.hull.parts import Division, Part, divide
from profiles.job import Job, JobPart
from profiles.notes import Note, assumption, fact, warning
from profiles.units import ALPHABET, LETTERED, block_name, length_text

CONFUSED = "IO"
"""Letters that read as digits."""

SAME_THICKNESS = 0.005
"""mm; a part that is thinner than its foam by less than this is as thick."""


def with_proposed_parts(job: Job, hull: Hull) -> tuple[Job, tuple[Note, ...]]:
    """The job with the parts that the shape proposes instead of its own, and what is assumed by that. Raises JobError
    without a foam thickness.
    """
    if job.foam.thickness is None:
        message = "--parts auto needs a foam thickness"
        raise JobError(message, remedy="Give it as --foam 40, or as thickness under [foam].")
    found = proposed_parts(hull, job.foam.thickness)
    parts = tuple(JobPart(name=part.name, region=part.region, slices=part.slices) for part in found)
    if not parts:
        return replace(job, parts=()), (fact("No parts are proposed: the shape has no jump that a plane would follow"),)
    words = ", ".join(f"--part {part_words(part)!r}" for part in parts)
    return replace(job, parts=parts), (assumption(f"Parts are taken as proposed: {words}. Override with --parts none"),)


def part_words(part: PartSettings) -> str:
    """A part as it is typed after --part."""
    return f"{part.name}: {part.region}" + (f", {part.slices}" if part.slices != "along" else "")


def shape_parts(job: Job, hull: Hull, executor: Executor | None = None) -> Body:
    """The body of a job with parts, with a body for each, the main one first. Raises JobError or HullError."""
    _refuse_what_is_for_one_body(job)
    refuse_open(hull.openings, hull.remedy)
    division = divide(hull, job.parts)
    letters = letters_of([part.name for part in division.parts[1:]])
    bodies: list[Body] = []
    plans: dict[str, StationPlan] = {}
    for part, letter in zip(division.parts, ("", *letters), strict=True):
        settings = _stations(job, part)
        _refuse_thick_foam(part, settings)
        template = replace(job.template, gauges=()) if part.name else job.template
        twin = next((body for body in bodies if part.twin and body.name == part.twin), None)
        plans[part.name] = plans[part.twin] if twin else plan(part.hull, settings, template)
        body = cut(part.hull, numbered(plans[part.name], letter), template, executor)
        bodies.append(replace(body, part=part, blocks=_like_twin(body, twin) if twin else body.blocks))
    whole = replace(hull, notes=(*hull.notes, *_notes(job, division, letters)))
    blocks = tuple(block for body in bodies for block in body.blocks)
    stations = replace(
        bodies[0].stations,
        spans=tuple(block.span for block in blocks),
        notes=tuple(note for body in bodies for note in body.stations.notes),
    )
    return Body(whole, stations, blocks, job.template, parts=tuple(bodies), joints=division.joints)


def _like_twin(body: Body, twin: Body) -> tuple[Block, ...]:
    """The blocks of a mirrored part in boxes that are those of its twin, mirrored, so that both are cut alike."""
    if len(body.blocks) != len(twin.blocks):
        return body.blocks
    boxes = [replace(other.box, y_low=-other.box.y_low - other.box.width) for other in twin.blocks]
    return tuple(replace(block, box=box) for block, box in zip(body.blocks, boxes, strict=True))


def _refuse_what_is_for_one_body(job: Job) -> None:
    for used, option in (
        (job.foam.built is not None or job.foam.built_length is not None, "--built"),
        (job.foam.as_measured, "--as-measured"),
        (job.cuts.any, "what is cut into the blocks"),
    ):
        if used:
            message = f"{option} is for a hull in one piece, and this job has parts"
            raise JobError(message, remedy=f"Leave out {option} or the parts.")


def settings_of(job: Job, part: Part) -> JobPart | None:
    """What a job says about a part; None for the main body."""
    return next((given for given in job.parts if part.name in _names(given)), None)


def _names(part: JobPart) -> tuple[str, ...]:
    return part.name, f"{part.name} port", f"{part.name} starboard"


def _stations(job: Job, part: Part) -> StationSettings:
    given = settings_of(job, part) if part.name else None
    return given.stations(job.foam) if given else job.foam


def _refuse_thick_foam(part: Part, settings: StationSettings) -> None:
    """Raise JobError for foam that is thicker than a part: not one block of it would be full."""
    if part.name and settings.thickness and settings.thickness > part.hull.length + SAME_THICKNESS:
        message = (
            f"part {part.name!r}: its foam is {settings.thickness:g} mm thick, but the part measures only "
            f"{part.hull.length:.1f} mm {WAYS[part.slices]}"
        )
        raise JobError(message, remedy="Slice it another way, or give it thinner foam.")


WAYS = {"along": "along the hull", "across": "across the hull", "upright": "in height"}
"""Slices of a part -> the direction in which they count."""


def letters_of(names: Sequence[str]) -> list[str]:
    """A letter for each part: the first of its name, or of its next words, or one that is free.

    Raises JobError for more parts than there are letters.

    >>> letters_of(["fin", "floats port", "floats starboard"])
    ['F', 'P', 'S']
    """
    letters: list[str] = []
    for name in names:
        words = name.upper().split()
        wanted = [*(word[0] for word in words), *"".join(words), *ALPHABET]
        letter = next((c for c in wanted if c in ALPHABET and c not in letters and c not in CONFUSED), None)
        if letter is None:
            message = f"the job has {len(names)} parts, more than there are letters for their blocks"
            raise JobError(message, remedy="Leave out some of them.")
        letters.append(letter)
    return letters


def numbered(plan: StationPlan, letter: str) -> StationPlan:
    """The plan with the letter of a part before the numbers of its blocks."""
    first = (ALPHABET.index(letter) + 1) * LETTERED if letter else 0
    spans = tuple(replace(span, number=first + n) for n, span in enumerate(plan.spans, start=1))
    names = {
        f"block {block_name(before.number)}": f"block {block_name(after.number)}"
        for before, after in zip(plan.spans, spans, strict=True)
    }
    notes = tuple(replace(note, about=names.get(note.about, note.about)) for note in plan.notes)
    return replace(plan, spans=spans, notes=notes)


def _notes(job: Job, division: Division, letters: Sequence[str]) -> list[Note]:
    notes = [fact(_describe(part, letter)) for part, letter in zip(division.parts[1:], letters, strict=True)]
    if job.template.skin:
        text = (
            f"the skin of {length_text(job.template.skin)} is taken off at the joints between parts too. Leave the "
            "joints bare, and pack each with a sheet of twice that thickness"
        )
        notes.append(warning(text))
    return notes


def _describe(part: Part, letter: str) -> str:
    """Which part it is, and how its templates lie in the hull."""
    name = f"Part {letter} ({part.name})"
    if part.twin:
        return f"{name} is the mirror image of {part.twin}: same stations, templates of its own"
    size = f"{name} is sliced {part.slices}, {length_text(part.hull.length)} {WAYS[part.slices]}"
    if part.slices == "upright":
        return f"{size}. On its templates x counts from its lowest point up, fore is below, and UP is forward"
    if part.slices == "across":
        side = "aft" if part.turn[1, 0] > 0 else "forward"
        begin = "from its port side" if _is_on_both_sides(part) else "outwards from its root"
        return f"{size}. On its templates x counts {begin}, and its starboard side is the hull's {side} side"
    return f"{size}. On its templates x counts from its foremost point"


def _is_on_both_sides(part: Part) -> bool:
    """Whether a part that is sliced across reaches from one side of the centre plane to the other."""
    start = -float(part.offset[0])
    return start < 0 < start + part.hull.length
