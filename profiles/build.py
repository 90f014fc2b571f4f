"""Job -> Build: the stages in their order, as values; writes nothing, prints nothing.

    job --read--> Hull --plan--> StationPlan --cut--> Body --supply--> FoamPlan --weigh--> BodyFigures, if asked for
                                                      Body --lay_out--> Layout

What depends only on the hull is a step of its own, so another foam thickness starts from the same hull; what needs no
pages (`shape`, `supply_job`) is made without them.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from typing import TYPE_CHECKING

from profiles.blocks.body import Body, cut
from profiles.blocks.planning import plan
from profiles.blocks.stations import StationPlan
from profiles.body.waterplane import BodyMarks
from profiles.built import check_built, rest_of, settings_from, with_built_note
from profiles.errors import JobError
from profiles.foam.cut_plan import cut_plan
from profiles.foam.supply import (
    FoamPlan,
    FoamSettings,
    available_boards,
    complete_plan,
    cutting_settings,
    measured_thicknesses,
    squared_sizes,
    supply,
)
from profiles.hull.frame import Hull
from profiles.hull.reading import read
from profiles.job import Job
from profiles.layout import Layout, heading_of, lay_out, refuse_unprintable
from profiles.notes import Note, NoteKind
from profiles.paper.fonts import check_requirements, find_requirements, font_notes, require
from profiles.sharing import start
from profiles.units import PrintUnit, print_lengths_in
from profiles.values import dataclass

if TYPE_CHECKING:
    from profiles.body.settings import WeighSettings
    from profiles.body.weigh import BodyFigures
    from profiles.drafting.drafts import Drafts
    from profiles.proposing import Proposal

Progress = Callable[[str], None]


def _silent(_stage: str) -> None:
    """No progress shown."""


@dataclass(frozen=True, slots=True)
class Build:
    """All results of a job, as values."""

    job: Job
    bodies: tuple[Body, ...]
    """One today; several when a hull is divided into parts."""
    foam: FoamPlan
    layout: Layout
    figures: "BodyFigures | None" = None
    """Weight, balance and flotation; None where the job does not ask for them."""

    drafts: "Drafts | None" = None
    """Drawings, panels and markings; None where the job does not ask for any."""

    @property
    def body(self) -> Body:
        """The only body."""
        (body,) = self.bodies
        return body

    @property
    def fingerprint(self) -> str:
        """Eight letters that differ whenever the templates differ."""
        return self.layout.fingerprint

    @property
    def notes(self) -> tuple[Note, ...]:
        """All notes, in the order of the work."""
        weighed = self.figures.notes if self.figures else ()
        drawn = self.drafts.notes if self.drafts else ()
        return (*all_notes(self.bodies, self.foam), *weighed, *self.layout.notes, *drawn, *font_notes())


def all_notes(bodies: Sequence[Body], foam: FoamPlan) -> tuple[Note, ...]:
    """All notes but those about paper; of the wire's only the warnings."""
    wire = (note for note in foam.wire.notes if note.kind is NoteKind.WARNING)
    return (*(note for body in bodies for note in body.notes), *foam.notes, *wire)


def read_job(job: Job) -> Hull:
    """The hull of a job. Raises HullError or JobError."""
    return read(job.hull.file, job.hull)


def plan_job(job: Job, hull: Hull) -> StationPlan:
    """The stations of a job. Raises JobError, also when the job gives no foam thickness."""
    if not job.foam.as_measured:
        return plan(hull, job.foam, job.template)
    stations = plan(hull, replace(job.foam, fit=None), job.template)
    return plan(hull, job.foam, job.template, full=measured_thicknesses(hull, stations, foam_settings(job)))


def shape(job: Job, hull: Hull, executor: Executor | None = None) -> Body:
    """Stations and blocks of a job, with what is cut into them; blocks that leave too much to sand are divided. Where
    some are glued already, only the others. Raises JobError or HullError.
    """
    if job.hull.parts == "auto" or (job.parts and job.hull.parts is None):
        from profiles.parting import shape_parts, with_proposed_parts  # most jobs have none

        job, notes = with_proposed_parts(job, hull) if job.hull.parts == "auto" else (job, ())
        if notes:
            hull = replace(hull, notes=(*hull.notes, *notes))
        if job.parts:
            return shape_parts(job, hull, executor)
    body = _shape(job, hull, executor)
    if not job.cuts.any:
        return body
    from profiles.cuts.cutting import cut_into  # most jobs cut nothing out

    return cut_into(body, job.cuts)


def _shape(job: Job, hull: Hull, executor: Executor | None) -> Body:
    if job.foam.built is None and job.foam.built_length is None:
        return cut(hull, plan_job(job, hull), job.template, executor)
    if job.is_weighed:
        message = "--built leaves out the glued blocks, so the body cannot be weighed"
        raise JobError(message, remedy="Leave out [body], [[loads]] and [water], or --built.")
    foam = replace(job.foam, built=None, built_length=None)
    before = cut(hull, plan_job(replace(job, foam=foam), hull), job.template, executor)
    count, length = check_built(job.foam, before)
    stations = plan_job(replace(job, foam=settings_from(job.foam, length)), hull)
    body = cut(hull, rest_of(stations, count, length), job.template, executor)
    return with_built_note(body, before, count, length)


def foam_settings(job: Job) -> FoamSettings:
    """What a job says about the foam."""
    return FoamSettings(
        job.stock,
        job.foam.thickness,
        inches=job.output.units is PrintUnit.IN,
        cutting=job.cutting,
        wire=job.wire,
        template=job.template,
        as_measured=job.foam.as_measured,
        of_parts=tuple(part.thickness for part in job.parts if part.thickness is not None),
    )


def supply_job(job: Job, body: Body) -> FoamPlan:
    """The foam of a job. Raises JobError for boards, settings or a wire that cannot be."""
    return supply(body.blocks, foam_settings(job))


def weigh_settings(job: Job) -> "WeighSettings":
    """What a job says about weight and flotation."""
    from profiles.body.settings import BodySettings, WeighSettings

    return WeighSettings(
        job.body or BodySettings(), job.loads, job.water, skin=job.template.allowances.skin, scale=job.hull.scale
    )


def weigh_job(job: Job, hull: Hull, body: Body | None = None, foam: FoamPlan | None = None) -> "BodyFigures":
    """Weight, balance and flotation of a job. Raises JobError or HullError."""
    from profiles.body.weigh import weigh  # most jobs do not ask for it

    if body and body.parts:  # its blocks are in frames of their own
        body = foam = None
    return weigh(hull, weigh_settings(job), body, foam)


def build(
    job: Job,
    body: Body | None = None,
    progress: Progress = _silent,
    executor: Executor | None = None,
    hull: Hull | None = None,
) -> Build:
    """The whole chain; `hull` spares reading it again, `body` making it again; `executor` does some of the work.

    Raises any StationerError.
    """
    with print_lengths_in(job.output.units):
        return _build(job, body or hull, progress, executor)


def build_or_propose(
    job: Job, progress: Progress = _silent, executor: Executor | None = None
) -> "tuple[Build, Proposal | None]":
    """The build; a job that names boards and no thickness gets the proposed one. Raises any StationerError."""
    if job.foam.thickness is not None or not (job.boards or job.offcuts):
        return build(job, progress=progress, executor=executor), None
    from profiles.proposing import propose_thickness  # most jobs name a thickness

    progress("reading the hull")
    hull = read_job(job)
    progress("trying what the boards give")
    proposal = propose_thickness(job, hull, executor)
    choice = proposal.choice
    return build(choice.job, choice.body, progress, executor), proposal


def _build(job: Job, start_from: Body | Hull | None, progress: Progress, executor: Executor | None) -> Build:
    if executor is None:
        check_requirements()
    found = start(executor, find_requirements)  # loading the cairo library takes long, and only pages need it
    if isinstance(start_from, Body):
        body = start_from
    else:
        progress("reading the hull")
        hull = start_from or read_job(job)
        if job.foam.thickness and not job.paper.blocks:
            refuse_unprintable(hull, job.foam.thickness, job.paper)
        progress("pairing faces and growing outlines")
        body = shape(job, hull, executor)
    require(found.result())
    foam, wanted = foam_settings(job), squared_sizes(body.blocks)
    pending = start(executor, cut_plan, available_boards(foam, wanted), wanted, cutting_settings(foam))
    figures = None
    if job.is_weighed:
        progress("weighing the body")
        plan = complete_plan(wanted, pending.result(), foam)
        figures = weigh_job(job, body.hull, body, plan)
    marks = figures.marks if figures else BodyMarks()
    progress("drawing templates and laying out pages")
    drafts = draft_job(job, body, marks)
    layout = lay_out(body, job.paper, executor, marks, drafts.panels if drafts else ())
    return Build(job, (body,), complete_plan(wanted, pending.result(), foam), layout, figures, drafts)


def draft_job(job: Job, body: Body, marks: BodyMarks) -> "Drafts | None":
    """Drawings, panels and markings of a job; None where it asks for none. Raises JobError or PaperError."""
    sheets = body.cuts.sheets if body.cuts else ()
    if not (job.drafts.any or sheets) or job.paper.blocks:
        return None
    from profiles.drafting.drafts import draft  # most jobs do not ask for it

    return draft(body, job.drafts, job.paper, heading_of(body, marks), marks)
