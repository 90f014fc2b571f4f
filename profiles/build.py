"""Job -> Build: the whole chain as values; writes nothing, prints nothing.

    job --read--> hull --plan_stations--> plan --make_blocks--> blocks --template_of--> templates --lay_out--> pages

What depends only on the hull (`read`) is a step of its own, so another foam thickness starts from the same hull.
"""

import contextlib
import ctypes
import hashlib
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING

from shapely import MultiPolygon

from profiles.beside import Awaited, Submit, here, shared
from profiles.blocks.blocks import Block, BlockSettings, CarvedBlock, CutBlock, grow_between, make_blocks
from profiles.blocks.bodyfile import built_stl
from profiles.blocks.fit import plan_by_fit
from profiles.blocks.hull_sections import hull_cut
from profiles.blocks.outlines import Allowances
from profiles.blocks.stations import StationPlan, plan_stations
from profiles.errors import HullError, JobError
from profiles.foam.cut_plan import cut_plan
from profiles.foamplan import FoamPlan, cutting_question, foam_of, kerf_of, measured_fulls
from profiles.hull.frame import FrameOptions, Hull
from profiles.hull.limits import Limits
from profiles.hull.reading import read_hull
from profiles.hull.sections import Side, section
from profiles.missing import missing_foam
from profiles.notes import Note, NoteKind, merge_notes
from profiles.paper.drawing import Drawing, Template
from profiles.paper.facesheet import TemplateTitle
from profiles.paper.fonts import check_requirements, font_notes
from profiles.paper.pages import Heading, Page, PageSettings, Picture, lay_out
from profiles.paper.templates import template_of
from profiles.paper.tipsheets import tip_templates
from profiles.pictures.bodyplan import Nest, nest_of, nested_sections
from profiles.pictures.bodyview import BlockFigure, body_view
from profiles.pictures.views import Extents, extents_along

if TYPE_CHECKING:
    from profiles.job import Job

PLAN_FORMAT = 2
"""Raised whenever the same hull and options would give other templates than before; part of the fingerprint."""

PICTURE_ROOM = (182.0, 240.0)
"""mm; room for the picture of the body in a file of its own."""

PICTURE_DPI = 150.0

FINGERPRINT_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Thirty-two signs that are not mistaken for each other when read aloud (Crockford's base 32)."""

Progress = Callable[[str], None]


def _silent(_stage: str) -> None:
    """No progress shown."""


@dataclass(frozen=True, slots=True)
class Plan:
    """A job as far as its stations: the hull and where it is cut across."""

    job: "Job"
    hull: Hull
    stations: StationPlan

    @property
    def notes(self) -> tuple[Note, ...]:
        """All notes, in the order of the work."""
        return (*self.hull.notes, *self.stations.notes)


@dataclass(frozen=True, slots=True)
class Build:
    """Everything that a job comes to, as values."""

    plan: Plan
    blocks: tuple[Block, ...]
    templates: tuple[Template, ...]
    pages: tuple[Page, ...]
    fingerprint: str
    pictures: dict[str, Picture]
    """By name: body and sections, each drawn for the room that it gets."""
    extents: Extents | None
    """The hull's outline from the side and from above; None where it cannot be sounded."""
    foam: FoamPlan
    files: dict[str, Awaited[bytes]]
    """Files that need no pages, by name, each made beside the pages or when it is asked for: body.png, built.stl."""

    @property
    def notes(self) -> tuple[Note, ...]:
        """All notes, in the order of the work."""
        return (*all_notes(self.plan, self.blocks, self.foam), *font_notes())


def shape_notes(planned: Plan, blocks: Sequence[Block]) -> tuple[Note, ...]:
    """Notes about the hull, its stations and its blocks, in the order of the work."""
    shape = (note for block in blocks for note in block.notes)
    return (*planned.notes, *shape, *missing_foam(blocks, planned.job.template.growth))


def all_notes(planned: Plan, blocks: Sequence[Block], foam: FoamPlan) -> tuple[Note, ...]:
    """All notes of a job; of the wire's only the warnings."""
    wire = (note for note in foam.wire.notes if note.kind is NoteKind.WARNING)
    return (*shape_notes(planned, blocks), *foam.notes, *wire)


def read(job: "Job") -> Hull:
    """The hull of a job. Raises HullError or JobError."""
    wanted = job.hull
    options = FrameOptions(
        length_axis=wanted.length_axis,
        up=wanted.up,
        nose=wanted.nose,
        length=wanted.length,
        scale=wanted.scale,
        mirror=wanted.mirror,
        solid=wanted.solid,
        bodies=wanted.bodies,
        datum=wanted.datum,
    )
    limits = Limits(wanted.max_triangles, wanted.max_bytes)
    hull = read_hull(Path(wanted.file), unit=wanted.unit, options=options, limits=limits)
    _give_back()
    return hull


def _give_back() -> None:
    """Memory that reading took and freed goes back to the system: C's allocator on Linux would keep it, three times as
    much as the hull takes.
    """
    with contextlib.suppress(OSError, AttributeError, TypeError):
        ctypes.CDLL(None).malloc_trim(0)


def plan(job: "Job", hull: Hull) -> Plan:
    """The stations of a job. Raises JobError, also when the job gives no foam thickness."""
    foam = job.foam
    _check_gauges(job, hull)
    if foam.thickness is None:
        message = "the job has no foam thickness"
        raise JobError(message, remedy="Measure the foam and give it as --foam 40, or as thickness under [foam].")
    if foam.fit is not None and foam.as_measured:
        message = "blocks planned by fit are sliced to their own thickness; as_measured cannot be had with it"
        raise JobError(message, remedy="Leave out one of --fit and --as-measured.")
    if foam.fit is not None:
        return Plan(job, hull, _fitted(job, hull, foam.thickness, foam.fit))
    nominal = partial(
        plan_stations,
        length=hull.length,
        foam=foam.thickness,
        odd=foam.odd,
        min_block=foam.min_block,
        breaks=foam.breaks,
        steps=hull.steps,
    )
    stations = nominal()
    if foam.as_measured:
        stations = nominal(full=measured_fulls(job, hull, stations))
    return Plan(job, hull, stations)


def _check_gauges(job: "Job", hull: Hull) -> None:
    outside = [x for x in job.template.gauges if not 0 <= x <= hull.length]
    if outside:
        places = ", ".join(f"{x:g}" for x in outside)
        message = f"a gauge at {places} mm lies outside the hull, which reaches from 0 to {hull.length:.2f} mm"
        raise JobError(message, remedy="Give gauges in mm aft of the foremost point.")


def _fitted(job: "Job", hull: Hull, thickness: float, limit: float) -> StationPlan:
    """The fewest blocks that stay within the limit after growth; blocks with a pointed end are carved and exempt."""
    settings = _block_settings(job)
    surface, cut = hull.surface, hull_cut(hull.surface)

    @cache
    def face(x: float, side: Side) -> MultiPolygon | None:
        try:
            return section(surface, x, side).region
        except HullError:
            return None

    def deviation(x_fore: float, x_aft: float) -> float:
        fore, aft = face(x_fore, Side.AFT), face(x_aft, Side.FORE)
        if fore is None or aft is None or fore.is_empty or aft.is_empty:
            return math.inf
        made = grow_between(surface, cut, x_fore, x_aft, (fore, aft), settings.growth)
        if made.hopeless or made.pairing.unpaired:
            return math.inf
        return max(made.deviation.extra, made.deviation.missing)

    def is_tip(x_fore: float, x_aft: float) -> bool:
        ends = (face(x_fore, Side.AFT), face(x_aft, Side.FORE))
        return [end is not None and end.is_empty for end in ends].count(True) == 1

    return plan_by_fit(
        length=hull.length,
        foam=thickness,
        limit=limit,
        min_block=job.foam.min_block,
        breaks=job.foam.breaks,
        steps=hull.steps,
        deviation=deviation,
        tips=is_tip,
        thinner_fits_better=True,
    )


def build(job: "Job", hull: Hull | None = None, progress: Progress = _silent, submit: Submit = here) -> Build:
    """The whole chain; `hull` spares reading it again, `submit` has some of the work done elsewhere.

    Raises any StationerError.
    """
    if hull is None:
        progress("reading the hull")
        hull = read(job)
    planned = plan(job, hull)
    check_requirements()
    settings = _block_settings(job)
    extents = submit(extents_along, hull.surface, hull.length, hull.steps)
    progress("pairing faces and growing outlines")
    blocks = make_blocks(hull.surface, planned.stations, settings, submit)
    fingerprint = fingerprint_of(planned, settings)
    progress("drawing templates")
    title = TemplateTitle(hull.name, fingerprint)
    templates = tuple(shared(submit, partial(drawn, settings.pin, title), blocks))
    cut = submit(cut_plan, *cutting_question(job, blocks))
    progress("laying out pages")
    heading = heading_of(planned, fingerprint)
    notes = merge_notes(shape_notes(planned, blocks))
    warnings = [note.sentence for note in notes if note.kind is NoteKind.WARNING]
    outline = extents()
    pictures = pictures_of(planned, blocks, outline)
    files: dict[str, Awaited[bytes]] = {}
    if "body" in pictures:
        files["body.png"] = submit(_picture_png, pictures["body"])
    solids = [block.grown.block for block in blocks if isinstance(block, CutBlock)]
    if solids:
        files["built.stl"] = submit(built_stl, solids)
    pages = lay_out(
        templates, page_settings(job), heading, notes=[datum_told(hull), *warnings], pictures=list(pictures.values())
    )
    foam = foam_of(job, blocks, cut())
    return Build(planned, blocks, templates, tuple(pages), fingerprint, pictures, outline, foam, files)


def heading_of(planned: Plan, fingerprint: str) -> Heading:
    """What stands on every page."""
    return Heading(planned.hull.name, f"{planned.stations.foam:g} mm", fingerprint)


def blocks_of(planned: Plan) -> tuple[Block, ...]:
    """The blocks of a plan, without templates and pages."""
    return make_blocks(planned.hull.surface, planned.stations, _block_settings(planned.job))


def pictures_of(planned: Plan, blocks: Sequence[Block], extents: Extents | None) -> dict[str, Picture]:
    """The body with its blocks coloured by deviation, and its sections one inside the other, by name."""
    name, stations = planned.hull.name, planned.stations.stations
    nest = nest_of([(face.x, face.outline.finished) for block in blocks for face in block.faces])
    pictures: dict[str, Picture] = {}
    if extents is not None:
        figures = [
            BlockFigure(block.span.number, block.grown.deviation.missing, block.grown.deviation.extra)
            if isinstance(block, CutBlock)
            else None
            for block in blocks
        ]
        pictures["body"] = partial(_body, name, extents, stations, figures)
    pictures["sections"] = partial(_sections, name, nest)
    return pictures


def _picture_png(picture: Picture) -> bytes:
    from profiles.paper.pdf import drawing_png  # noqa: PLC0415 - loads the cairo library

    return drawing_png(picture(PICTURE_ROOM), PICTURE_DPI)


def _body(
    name: str,
    extents: Extents,
    stations: Sequence[float],
    figures: Sequence[BlockFigure | None],
    room: tuple[float, float],
) -> Drawing:
    return body_view(name, extents, stations, figures, room=room)


def _sections(name: str, nest: Nest, room: tuple[float, float]) -> Drawing:
    return nested_sections(name, nest, room=room)


def drawn(pin: float, title: TemplateTitle, blocks: Sequence[Block]) -> list[Template]:
    """The templates of some blocks: fore face, aft face, and what a tip block is carved by."""
    templates: list[Template] = []
    for block in blocks:
        templates += [template_of(block, face, pin, title) for face in block.faces if face.has_template]
        if isinstance(block, CarvedBlock):
            templates += tip_templates(block, block.tip, title)
    return templates


def datum_told(hull: Hull) -> str:
    """Where the datum cross lies."""
    return (
        f"datum cross: centre plane (y = 0) and {-hull.lowest:.1f} mm above the lowest point of the hull (z = 0); "
        "x is measured aft from the foremost point"
    )


def _block_settings(job: "Job") -> BlockSettings:
    wanted = job.template
    return BlockSettings(
        allowances=Allowances(wanted.skin, kerf_of(job), wanted.wire),
        allowance=wanted.allowance,
        common_box=wanted.box == "common",
        pin=wanted.pin,
        mark_spacing=wanted.marks,
        growth=wanted.growth,
        gauges=wanted.gauges,
    )


def page_settings(job: "Job") -> PageSettings:
    """What a job says about the pages."""
    wanted = job.paper
    return PageSettings(
        paper=wanted.size,
        margin=wanted.margin,
        overlap=wanted.overlap,
        orientation=wanted.orientation,
        correct_x=100.0 / wanted.bar_across,
        correct_y=100.0 / wanted.bar_up,
    )


def fingerprint_of(planned: Plan, settings: BlockSettings) -> str:
    """Eight letters that differ whenever the templates differ: hull shape, stations and settings, not the paper."""
    surface = planned.hull.surface
    digest = hashlib.sha256()
    digest.update(repr((PLAN_FORMAT, surface.solid, settings, planned.stations.stations)).encode())
    for array in (surface.vertices, surface.faces, surface.body, surface.open_edges):
        digest.update(array.tobytes())
    number = int.from_bytes(digest.digest()[:5])
    letters = [FINGERPRINT_LETTERS[(number >> 5 * place) & 31] for place in range(7, -1, -1)]
    return "".join(letters[:4]) + "-" + "".join(letters[4:])
