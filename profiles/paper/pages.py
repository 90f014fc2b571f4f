"""Templates -> pages: each sheet drawn with its title block and bars, after the printer correction."""

from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Executor

from profiles.paper.bands import Bands, title_block
from profiles.paper.bars import Bar
from profiles.paper.correction import Correction
from profiles.paper.cover import EVENLY, TITLE, Heading
from profiles.paper.drawing import Drawing, Role
from profiles.paper.forms import Form
from profiles.paper.settings import PageSettings
from profiles.paper.sheets import Contents, Picture, Piece, Sheet, arrange, draw_cover, tile_pages
from profiles.paper.template import Template
from profiles.units import Paper
from profiles.values import dataclass

PICTURES = "Pictures, reduced"
"""The name of pictures in the title block."""


@dataclass(frozen=True, slots=True)
class Page:
    """A finished page in mm, after the printer correction: the two bars, and everything else that is drawn."""

    number: int
    of: int
    paper: Paper
    content: Drawing
    pieces: tuple[Piece, ...]
    bars: tuple[Bar, Bar]
    correction: Correction

    @property
    def bar_drawing(self) -> Drawing:
        """The two bars alone."""
        sheet = Drawing(self.paper.width, self.paper.height)
        for bar in self.bars:
            sheet = sheet.with_more(bar.strokes, bar.labels)
        return sheet

    @property
    def drawing(self) -> Drawing:
        """Everything on the page."""
        return self.content.overlay(self.bar_drawing)

    @property
    def file_stem(self) -> str:
        """The name of the page's SVG file: "page-01", with as many digits as the last page needs, at least two."""
        return f"page-{self.number:0{max(2, len(str(self.of)))}d}"


def lay_out(
    templates: Sequence[Template],
    settings: PageSettings,
    heading: Heading,
    *,
    cover: bool = True,
    notes: Iterable[str] = (),
    pictures: Sequence[Picture] = (),
    executor: Executor | None = None,
) -> tuple[Page, ...]:
    """All pages: the cover, which lists `notes`, then `pictures`, then the templates in their order; `executor` does
    part of the work.

    All sheets lie the same way, upright unless the settings say otherwise. Raises PaperError if the paper cannot hold
    the bars.
    """
    contents = Contents(tuple(templates), heading, tuple(notes), cover)
    arrangement = arrange(contents, settings, pictures, executor)
    numbers = tile_pages(sheet.pieces for sheet in arrangement.sheets)
    panels = draw_cover(contents, arrangement.frame, arrangement.forms, arrangement.column, numbers)
    forms = {form.template.id: form for form in arrangement.forms}
    count = len(arrangement.sheets)
    return tuple(
        _draw_page(sheet, number, count, arrangement.frame, heading, panels, forms)
        for number, sheet in enumerate(arrangement.sheets, start=1)
    )


def _draw_page(
    sheet: Sheet,
    number: int,
    count: int,
    frame: Bands,
    heading: Heading,
    panels: Sequence[Drawing],
    forms: Mapping[str, Form],
) -> Page:
    left, top = frame.room[:2]
    # With the true numbers of the pages the lists of a cover may take fewer panels than were given room.
    parts = [panels[k].translate(left + x, top + y) for k, x, y in sheet.panels if k < len(panels)]
    of_cover = len(parts)
    parts += [_draw_piece(piece, forms[piece.template_id]) for piece in sheet.pieces]
    parts += [picture.translate(left + x, top + y) for picture, x, y in sheet.pictures]
    roles = {stroke.role for part in parts[of_cover:] for stroke in part.strokes}
    titles = title_block(
        frame.title,
        subject=_subject(sheet),
        number=f"page {number} of {count}",
        hull=" ".join(
            (f"Plan: {heading.fingerprint}.", f"Foam: {heading.foam}.", heading.made_with, f"Hull: {heading.hull}")
        ),
        legend=" ".join(words for role, words in LEGEND.items() if role in roles),
    )
    page = Drawing(frame.paper.width, frame.paper.height).with_more(
        [*frame.rules, *(stroke for part in parts for stroke in part.strokes)],
        [*titles, *(label for part in parts for label in part.labels)],
        [area for part in parts for area in part.areas],
    )
    return Page(number, count, frame.paper, frame.correction.drawing(page), sheet.pieces, frame.bars, frame.correction)


def _draw_piece(piece: Piece, form: Form) -> Drawing:
    """What the piece shows, in its place on the page."""
    drawing = form.tiles[piece.row - 1, piece.column - 1]
    if piece.boxed and not form.boxed and form.template.frame:  # the box has room after all
        drawing = form.template.boxed
    return piece.draw(drawing.with_more(piece.corners))


LEGEND = {
    Role.MARK: EVENLY,
    Role.FOAM: "Dashed: surface of the foam, sand to it.",
    Role.FINISHED: "Dotted: finished surface.",
    Role.CARVE: "Heavy dashed: carve here.",
    Role.WATER: "Long dashes: waterline.",
}
"""What the lines of a page mean."""


def _subject(sheet: Sheet) -> str:
    """The contents of the page for the title block."""
    names = [TITLE] * bool(sheet.panels) + [PICTURES] * bool(sheet.pictures)
    return "; ".join([*names, *(piece.name for piece in sheet.pieces)])
