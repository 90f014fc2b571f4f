"""Templates -> pages: each sheet drawn with its title block and bars, after the printer correction."""

from collections.abc import Iterable, Mapping, Sequence

from profiles.paper.bands import title_block
from profiles.paper.bars import Bar
from profiles.paper.correction import Correction
from profiles.paper.cover import EVENLY, TITLE, Heading
from profiles.paper.drawing import Drawing, Role
from profiles.paper.settings import PageSettings
from profiles.paper.sheets import Contents, Picture, Piece, Sheet, arrange, draw_cover, page_numbers
from profiles.paper.template import Template
from profiles.paper.tiling import tile_drawings
from profiles.units import Paper
from profiles.values import dataclass

PICTURES = "Pictures, reduced"
"""The name of pictures in the title block."""

Tiles = Mapping[str, Mapping[tuple[int, int], Drawing]]
"""Template id -> (row, column) from 0 -> what that tile shows."""


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
) -> tuple[Page, ...]:
    """All pages: the cover, which lists `notes`, then `pictures`, then the templates in their order.

    With the orientation auto all pages have the orientation that takes fewer of them, or some are portrait and some
    landscape if that takes fewer still. Raises PaperError if the paper cannot hold the bars.
    """
    contents = Contents(tuple(templates), heading, tuple(notes), cover)
    arrangement = arrange(contents, settings, pictures)
    numbers = page_numbers(sheet.pieces for sheet in arrangement.sheets)
    panels = draw_cover(contents, arrangement.orientations, arrangement.front, arrangement.column, numbers)
    tiles = {
        template.id: tile_drawings(template.drawing, tiling) if tiling.sheets > 1 else {(0, 0): template.drawing}
        for template, tiling in zip(templates, arrangement.tilings, strict=True)
    }
    count = len(arrangement.sheets)
    return tuple(
        _draw_page(sheet, number, count, heading, panels, tiles)
        for number, sheet in enumerate(arrangement.sheets, start=1)
    )


def _draw_page(
    sheet: Sheet, number: int, count: int, heading: Heading, panels: Sequence[Drawing], tiles: Tiles
) -> Page:
    frame = sheet.orientation.bands
    left, top = sheet.orientation.corner
    shown = [(piece, tiles[piece.template_id][piece.row - 1, piece.column - 1]) for piece in sheet.pieces]
    has_marks = any(tile.of_role(Role.MARK) for _, tile in shown)
    titles = title_block(
        frame.title,
        subject=_subject(sheet),
        number=f"page {number} of {count}",
        hull=f"Hull: {heading.hull}. Foam: {heading.foam}. {EVENLY if has_marks else ''}".rstrip(),
        plan=f"Plan: {heading.fingerprint}",
    )
    placed = [(panels[k], left + x, top + y) for k, x, y in sheet.panels]
    placed += [(tile, piece.at[0] - piece.window[0], piece.at[1] - piece.window[1]) for piece, tile in shown]
    placed += [(picture, left + x, top + y) for picture, x, y in sheet.pictures]
    parts = [drawing.translate(dx, dy) for drawing, dx, dy in placed]
    page = Drawing(frame.paper.width, frame.paper.height).with_more(
        [frame.rule, *(stroke for part in parts for stroke in part.strokes)],
        [*titles, *(label for part in parts for label in part.labels)],
        [area for part in parts for area in part.areas],
    )
    return Page(number, count, frame.paper, frame.correction.drawing(page), sheet.pieces, frame.bars, frame.correction)


def _subject(sheet: Sheet) -> str:
    """The contents of the page for the title block."""
    names = [TITLE] * bool(sheet.panels) + [PICTURES] * bool(sheet.pictures)
    return "; ".join([*names, *(piece.name for piece in sheet.pieces)])
