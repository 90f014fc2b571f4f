"""The stage `draft`: a body -> drawings, panels and markings at true size, on pages, with what is reported of them."""

from collections.abc import Sequence
from dataclasses import replace

from profiles.blocks.body import Body
from profiles.body.waterplane import BodyMarks
from profiles.drafting.bodydrafts import body_drafts
from profiles.drafting.cutdrafts import cut_draft
from profiles.drafting.draftsheet import stacked
from profiles.drafting.markings import lay_markings
from profiles.drafting.markingsheets import (
    marking_figures,
    marking_notes,
    marking_step,
    marking_templates,
    overlays_of,
)
from profiles.drafting.panels import flat_panels
from profiles.drafting.panelsheets import panel_figures, panel_notes, panel_step, panel_templates
from profiles.drafting.settings import DraftSettings, DrawingView
from profiles.notes import Note
from profiles.paper.cover import Heading
from profiles.paper.drawing import Drawing
from profiles.paper.pages import Page, lay_out
from profiles.paper.settings import PageSettings
from profiles.paper.template import Template
from profiles.units import Figures, round_figures
from profiles.values import dataclass


@dataclass(frozen=True, slots=True)
class DraftSet:
    """Drafts of one kind: all on one roll of pages and in one drawing."""

    stem: str
    """Of its files: drawings, panels, markings, cutouts."""
    templates: tuple[Template, ...]
    pages: tuple[Page, ...]

    @property
    def drawing(self) -> Drawing:
        """All drafts below each other."""
        return stacked(self.templates)


@dataclass(frozen=True, slots=True)
class Drafts:
    """All that is drawn of a body beside its templates."""

    sets: tuple[DraftSet, ...]
    figures: Figures
    """For the report, by the keys of the sets."""
    notes: tuple[Note, ...] = ()
    steps: tuple[str, ...] = ()
    """What a builder does with them, in the order of work, for the book."""

    @property
    def panels(self) -> tuple[Template, ...]:
        """The panels, which go on the cards too."""
        group = self.named("panels")
        return group.templates if group else ()

    def named(self, stem: str) -> DraftSet | None:
        """The set with that name; None where the job does not ask for it."""
        return next((group for group in self.sets if group.stem == stem), None)


def draft(
    body: Body, settings: DraftSettings, paper: PageSettings, heading: Heading, marks: BodyMarks = BodyMarks()
) -> Drafts:
    """Drawings at true size of a body.

    Raises JobError for what cannot be drawn, PaperError if the paper is too small.

    >>> from profiles import BlockSettings, DraftSettings, DrawingSettings, PageSettings, StationSettings
    >>> from profiles import cut, draft, plan, read
    >>> from profiles.layout import heading_of
    >>> hull = read("models/skerrywing.stl")
    >>> body = cut(hull, plan(hull, StationSettings(thickness=58)), BlockSettings(growth=0.0))
    >>> drafts = draft(body, DraftSettings(DrawingSettings(views=("side",))), PageSettings(), heading_of(body))
    >>> [template.id for template in drafts.named("drawings").templates]
    ['drawing side']
    """
    if body.parts:  # those have frames of their own: the whole hull is drawn, with the blocks of its main body
        body = replace(body.parts[0], hull=body.hull)
    sheets = replace(paper, paper=(settings.drawings and settings.drawings.paper) or paper.paper)
    sets: list[DraftSet] = []
    figures: Figures = {}
    marked = lay_markings(body, settings.markings)
    if settings.drawings:
        templates = body_drafts(body, settings.drawings.views, marks, overlays_of(marked))
        sets.append(_on_pages("drawings", templates, sheets, heading))
        figures["drawings"] = [_sheet_figures(template) for template in templates]
    if body.cuts and body.cuts.sheets:
        sets.append(_on_pages("cutouts", [cut_draft(sheet) for sheet in body.cuts.sheets], sheets, heading))
    steps, notes = [*_drawing_steps(settings)], []
    if settings.panels:
        stations, skin = body.stations.stations, body.settings.allowances.skin
        flat = [piece for panel in settings.panels for piece in flat_panels(body.hull, panel, skin, stations)]
        sets.append(_on_pages("panels", panel_templates(flat, stations, heading), sheets, heading))
        figures["panels"] = [panel_figures(piece) for piece in flat]
        steps.append(panel_step(flat))
        notes += panel_notes(flat)
    if marked:
        laid = marking_templates(marked, body.stations.stations, heading)
        sets.append(_on_pages("markings", laid, sheets, heading))
        figures["markings"] = [marking_figures(marking) for marking in marked]
        steps.append(marking_step(marked))
        notes += marking_notes(marked)
    return Drafts(tuple(sets), round_figures(figures), tuple(notes), tuple(steps))


def _drawing_steps(settings: DraftSettings) -> list[str]:
    views = settings.drawings.views if settings.drawings else ()
    steps = []
    if DrawingView.BOARD in views:
        steps.append(
            "Building board: join the sheets of the board in drawings.pdf mark on mark, measure the frame with a rule, "
            "and glue them flat on the level board under the cling film. Its base line is the reference line; each "
            "block stands on the rectangle with its number."
        )
    others = [str(view) for view in views if view is not DrawingView.BOARD]
    if others:
        steps.append(
            f"Hang up the drawings ({', '.join(others)}) in drawings.pdf, joined mark on mark and measured, and check "
            "the body against them as it grows."
        )
    return steps


def _on_pages(stem: str, templates: Sequence[Template], paper: PageSettings, heading: Heading) -> DraftSet:
    return DraftSet(stem, tuple(templates), lay_out(templates, paper, heading, cover=False))


def _sheet_figures(template: Template) -> Figures:
    return {"name": template.id, "width": template.drawing.width, "height": template.drawing.height}
