"""The stage `lay_out`: a body -> templates, pictures and pages.

blocks --draw_templates--> templates --paper.pages.lay_out--> pages
"""

import contextlib
import hashlib
import json
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import replace
from functools import partial

import numpy as np
from shapely import MultiPolygon

from profiles.blocks.blocks import Block, CarvedBlock, CutBlock
from profiles.blocks.body import Body
from profiles.blocks.settings import BlockSettings
from profiles.body.waterplane import BodyMarks
from profiles.errors import HullError, JobError
from profiles.hull.frame import Hull
from profiles.hull.sections import Side
from profiles.notes import Note, NoteKind, assumption, fact, merge_notes, warning
from profiles.paper.cardrings import card_rings
from profiles.paper.cardsheets import card_sheet, too_large
from profiles.paper.cover import Heading
from profiles.paper.drawing import Drawing
from profiles.paper.facesheet import TemplateTitle
from profiles.paper.facetemplates import template_of
from profiles.paper.gauges import FRAME, check_templates
from profiles.paper.pages import Page
from profiles.paper.pages import lay_out as lay_out_pages
from profiles.paper.settings import PageSettings
from profiles.paper.sheetcount import estimate_sheets, refuse_too_many, sheet_notes
from profiles.paper.sheets import Picture
from profiles.paper.template import MIRRORED, BlockTemplate, Template
from profiles.paper.tipsheets import tip_templates
from profiles.pictures.bodyplan import Nest, nest_of, nested_sections
from profiles.pictures.bodyview import BlockFigure, body_view
from profiles.pictures.views import Extents, extents_along
from profiles.setting import check_settings, reported_values
from profiles.sharing import shared, start
from profiles.units import Paper, length_text, number_runs
from profiles.values import dataclass

PLAN_FORMAT = 6
"""Raised whenever the templates for the same hull and options change; part of the fingerprint."""

FINGERPRINT_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Thirty-two characters that are not confused when read aloud (Crockford's base 32)."""


SAME_WATER = 4
"""Decimals of a waterline that count for the fingerprint: finer than a line on paper, coarser than rounding."""


@dataclass(frozen=True, slots=True)
class Layout:
    """A body on paper."""

    templates: tuple[BlockTemplate, ...]
    pages: tuple[Page, ...]
    heading: Heading
    """What every page says: the name of the body, the foam, the fingerprint."""
    pictures: dict[str, Picture]
    """By name (body, sections): each draws itself for a given room."""
    notes: tuple[Note, ...]
    """Notes about the templates and the paper."""
    card: Paper
    """The card that all pieces are nested on for a cutter."""
    cards: Drawing
    """All pieces on cards side by side."""
    extents: Extents | None
    """The outlines of the hull, or of its main body, from the side and from above; None if no section along it can be
    closed."""
    part_extents: tuple[Extents | None, ...] = ()
    """The same for each part of a divided hull, the main body first."""
    joints: tuple[Template, ...] = ()
    """The sheets of joints between parts."""

    @property
    def drawn(self) -> tuple[Template, ...]:
        """Every template that the pages show."""
        return (*self.templates, *self.joints)

    @property
    def fingerprint(self) -> str:
        """Eight characters that differ whenever the templates differ."""
        return self.heading.fingerprint


def lay_out(
    body: Body,
    paper: PageSettings = PageSettings(),
    executor: Executor | None = None,
    marks: BodyMarks = BodyMarks(),
    more: Sequence[Template] = (),
) -> Layout:
    """Templates, pictures and pages of a body; `executor` does part of the work, and `marks` are drawn where they are.
    `more` goes on the cards with the templates.

    Raises JobError for invalid settings, PaperError if the paper is too small.

    >>> from profiles import PageSettings, StationSettings, cut, lay_out, plan, read
    >>> from profiles.units import paper_named
    >>> hull = read("models/skerrywing.stl")
    >>> body = cut(hull, plan(hull, StationSettings(thickness=58)))
    >>> layout = lay_out(body, PageSettings(paper=paper_named("A3")))
    >>> layout.templates[0].id, layout.pages[0].number, len(layout.fingerprint)
    ('01 aft', 1, 9)
    """
    check_settings(paper)
    blocks = _chosen_blocks(body, paper.blocks)
    sizes = template_sizes(blocks, paper)
    refuse_too_many(sizes, paper, paper.max_sheets)
    hulls = [piece.hull for piece in body.bodies]
    pending = [start(executor, extents_along, hull.shape, hull.length, hull.steps) for hull in hulls]
    heading = heading_of(body, marks)
    templates: tuple[BlockTemplate, ...] = ()
    check_notes: list[Note] = []
    for piece in body.bodies:
        chosen = [block for block in piece.blocks if any(block is wanted for wanted in blocks)]
        title = title_of(piece, heading, marks)
        drawing = partial(draw_templates, piece.settings.pin, title)
        checks, notes_of_checks = check_templates(
            piece.hull.shape, paper.check_places(piece.hull.length), chosen, title
        )
        templates += (*shared(executor, drawing, chosen), *checks)
        check_notes += notes_of_checks
    cards = start(executor, card_sheet, (*templates, *more), paper.card)
    warnings = [note.sentence for note in merge_notes(body.notes) if note.kind is NoteKind.WARNING]
    extents = tuple(found.result() for found in pending)
    pictures: dict[str, Picture] = {}
    for piece, extent in zip(body.bodies, extents, strict=True):
        drawn = pictures_of(piece, extent, marks_of(piece, marks))
        if not piece.name:
            pictures |= drawn
        elif "body" in drawn:
            pictures[f"body {piece.letter}"] = drawn["body"]
    notes = [datum_sentence(body), *warnings]
    shown = [] if paper.blocks else list(pictures.values())
    joints = () if paper.blocks else _joint_templates(body, heading)
    pages = lay_out_pages((*templates, *joints), paper, heading, notes=notes, pictures=shown, executor=executor)
    paper_notes = (
        *allowance_notes(body.settings),
        *check_notes,
        *box_notes(templates, pages),
        *card_notes((*templates, *more), paper.card),
        *sheet_notes(sizes, paper, len(pages)),
    )
    return Layout(
        templates, tuple(pages), heading, pictures, paper_notes, paper.card, cards.here(), extents[0], extents, joints
    )


def _joint_templates(body: Body, heading: Heading) -> tuple[Template, ...]:
    """Two sheets for each joint between the parts of a divided hull."""
    if not body.joints:
        return ()
    from profiles.paper.jointsheets import joint_templates  # most jobs have no parts

    titles = {piece.name: piece.title for piece in body.parts}
    settings = body.settings
    return joint_templates(body.joints, titles, heading.fingerprint, settings.pin, settings.allowances.skin)


def title_of(body: Body, heading: Heading, marks: BodyMarks) -> TemplateTitle:
    """What every template of a body, or of one of the parts of a divided hull, says."""
    water = marks_of(body, marks).water
    return TemplateTitle(body.hull.name, heading.fingerprint, body.settings.allowances, body.hull.later, water)


def marks_of(body: Body, marks: BodyMarks) -> BodyMarks:
    """The marks in the frame of a part; none of them where its slices do not stand across the hull."""
    if body.part is None:
        return marks
    if body.part.slices != "along":
        return BodyMarks()
    offset = body.part.offset
    water = marks.water and replace(marks.water, height=marks.water.height + float(offset @ marks.water.up))
    return BodyMarks(water)


def _chosen_blocks(body: Body, numbers: Sequence[int]) -> Sequence[Block]:
    """The blocks with these numbers; without any, all. Raises JobError for a number that no block has."""
    if not numbers:
        return body.blocks
    known = [block.span.number for block in body.blocks]
    unknown = [number for number in numbers if number not in known]
    if unknown:
        message = f"--blocks: there is no block {number_runs(unknown)}; the plan has blocks {number_runs(known)}"
        raise JobError(message, remedy="Give numbers of this plan, such as --blocks 7,9.")
    return [block for block in body.blocks if block.span.number in numbers]


def allowance_notes(settings: BlockSettings) -> tuple[Note, ...]:
    """What is assumed about skin, kerf and wire because the job does not give them."""
    used = settings.allowances
    unset = [name for name, size in (("skin", used.skin), ("kerf", used.kerf), ("wire", used.wire)) if not size]
    if not unset:
        return ()
    options = ", ".join(f"--{name}" for name in unset)
    return (assumption(f"{', '.join(f'{name} 0' for name in unset)} mm. Override with {options}"),)


def box_notes(templates: Sequence[BlockTemplate], pages: Sequence[Page]) -> tuple[Note, ...]:
    """How many templates are printed without the block's box; the mirror image of a profile needs none."""
    repeating = {template.id for template in templates if template.source.kind in MIRRORED}
    without = {piece.template_id for page in pages for piece in page.pieces if not piece.boxed} - repeating
    if not without:
        return ()
    count = sum(template.frame is not None and template.id not in repeating for template in templates)
    text = (
        f"the block's box is left out on the pages of {len(without)} of {count} templates, where it would take more "
        "sheets; words there say where its edges are. --draw-box draws it on all"
    )
    return (fact(text),)


def card_notes(templates: Sequence[Template], card: Paper) -> tuple[Note, ...]:
    """Which templates the card for cutters does not hold."""
    large = too_large(templates, card)
    if not large:
        return ()
    text = (
        f"cards.dxf leaves out {len(large)} of {len(templates)} templates that are larger than a card of "
        f"{card.width:g} x {card.height:g} mm ({large[0]}{', ...' if len(large) > 1 else ''}); each has a DXF file "
        "of its own. Give a larger card with --card"
    )
    return (warning(text),)


def heading_of(body: Body, marks: BodyMarks = BodyMarks()) -> Heading:
    """What every page says."""
    title = TemplateTitle(body.hull.name, fingerprint_of(body, marks), body.settings.allowances)
    made_with = ", ".join(title.used_words()).capitalize() + "."
    foams = dict.fromkeys(length_text(piece.stations.foam, 2, shorten=True) for piece in body.bodies)
    return Heading(title.hull, " and ".join(foams), title.fingerprint, made_with)


def fingerprint_of(body: Body, marks: BodyMarks = BodyMarks()) -> str:
    """Eight characters that depend on all that the templates depend on: hull, stations, settings and waterline, not the
    paper.
    """
    digest = hashlib.sha256()
    for piece in body.bodies:
        shape = piece.hull.shape.definition()
        fields = {
            "format": PLAN_FORMAT,
            **shape.values,
            "stations": piece.stations.stations,
            "most": piece.stations.most,
            "template": reported_values(piece.settings),
        }
        if piece.cuts:
            fields["cuts"] = dict(piece.cuts.definition)
        if piece.part:
            fields["part"] = [piece.title, piece.part.slices, *piece.part.offset.tolist()]
        if marks.water:
            fields["water"] = [round(value, SAME_WATER) for value in (*marks.water.up, marks.water.height)]
        digest.update(json.dumps(fields, sort_keys=True).encode())
        for array in shape.arrays:
            digest.update(array.tobytes())
    number = int.from_bytes(digest.digest()[:5])
    letters = [FINGERPRINT_LETTERS[(number >> 5 * place) & 31] for place in range(7, -1, -1)]
    return "".join(letters[:4]) + "-" + "".join(letters[4:])


def pictures_of(body: Body, extents: Extents | None, marks: BodyMarks = BodyMarks()) -> dict[str, Picture]:
    """By name: the body with its blocks coloured by deviation, and its sections one inside the other."""
    name, stations = body.hull.name, body.stations.stations
    nest = nest_of([(face.x, face.outline.finished) for block in body.blocks for face in block.faces])
    pictures: dict[str, Picture] = {}
    if extents is not None:
        figures = [
            BlockFigure(block.span.number, block.grown.deviation.missing, block.grown.deviation.extra)
            if isinstance(block, CutBlock)
            else None
            for block in body.blocks
        ]
        pictures["body"] = partial(_draw_body, name, extents, stations, figures, marks)
    pictures["sections"] = partial(_draw_sections, name, nest, marks)
    return pictures


def _draw_body(
    name: str,
    extents: Extents,
    stations: Sequence[float],
    figures: Sequence[BlockFigure | None],
    marks: BodyMarks,
    room: tuple[float, float],
) -> Drawing:
    return body_view(name, extents, stations, figures, room=room, marks=marks)


def _draw_sections(name: str, nest: Nest, marks: BodyMarks, room: tuple[float, float]) -> Drawing:
    return nested_sections(name, nest, room=room, water=marks.water)


def draw_templates(pin: float, title: TemplateTitle, blocks: Sequence[Block]) -> list[BlockTemplate]:
    """The templates of some blocks: fore face, aft face, and the profiles and gauges of a carved block."""
    templates: list[BlockTemplate] = []
    for block in blocks:
        templates += [
            template_of(block, face, pin, title, rings)
            for face, rings in zip(block.faces, card_rings(block), strict=True)
            if face.has_template
        ]
        if isinstance(block, CarvedBlock):
            templates += tip_templates(block, block.tip, title)
    return templates


def refuse_unprintable(hull: Hull, foam: float, paper: PageSettings) -> None:
    """Raise PaperError if the faces of full blocks of `foam` mm alone take more sheets than are allowed. So a wrong
    unit is noticed before minutes go into the blocks.
    """
    stations = int(hull.length / foam)
    breadth, depth = np.ptp(np.stack(hull.shape.bounds)[:, 1:], axis=0).tolist()
    if estimate_sheets([(breadth, depth)] * 2 * stations, paper) <= paper.max_sheets:
        return
    sizes = []
    for k in range(1, stations):
        with contextlib.suppress(HullError):  # which section stays open is a matter for the blocks
            sizes += [_extents(hull.shape.section(k * foam, Side.AFT).region)] * 2
    refuse_too_many(sizes, paper, paper.max_sheets)


def template_sizes(blocks: Sequence[Block], paper: PageSettings) -> list[tuple[float, float]]:
    """The sizes of all templates before any is drawn: width and height in mm, of the boxes if these are all drawn."""
    sizes = []
    for block in blocks:
        box = (block.box.width, block.box.height)
        outlines = [face.outline.cut for face in block.faces if face.has_template]
        sizes += [box if paper.draw_box else _extents(outline) for outline in outlines]
        if isinstance(block, CarvedBlock):
            sizes += 2 * [_extents(profile.outline.cut) for profile in block.tip.profiles]
            sizes += [(box[0] + 2 * FRAME, box[1] + 2 * FRAME) for _ in block.tip.gauges]
    return sizes


def _extents(outline: MultiPolygon) -> tuple[float, float]:
    if outline.is_empty:
        return 0.0, 0.0
    left, low, right, high = outline.bounds
    return right - left, high - low


def datum_sentence(body: Body) -> str:
    """Where the datum cross is."""
    if body.parts:
        places = "; ".join(f"{piece.title} {length_text(-piece.hull.lowest)}" for piece in body.parts)
        return (
            "Datum cross: each part has its own, at the same place on all its faces; heights above the lowest point of "
            f"each, as its templates lie: {places}. x is measured from the fore end of each part."
        )
    return (
        f"Datum cross: centre plane (y = 0) and {length_text(-body.hull.lowest)} above the lowest point of the hull "
        "(z = 0); x is measured aft from the foremost point."
    )
