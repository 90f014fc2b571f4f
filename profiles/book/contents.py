"""What the job book tells, as plain values; the book's other rooms draw from these and nothing else.

BookContents   one job: its blocks, templates, cutting plan, pictures and figures
BlockRow       a block, its place in the foam and its templates
TemplatePlace  where a template is printed
FigureRow      one told figure
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from profiles.blocks.blocks import Block
from profiles.blocks.ruled import volume
from profiles.foam.cutting import CutPlan
from profiles.foam.figures import Origin, origins
from profiles.notes import Note
from profiles.paper.cover import Heading
from profiles.paper.drawing import Template
from profiles.paper.pages import Page, Picture
from profiles.pictures.views import Extents


@dataclass(frozen=True, slots=True)
class FigureRow:
    """A figure as it is printed: what it is, its value with the unit, and where it is from or what it means."""

    label: str
    value: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class TemplatePlace:
    """A template and the pages of templates.pdf that it is on."""

    id: str
    """"03 fore"."""
    block: int
    face: str
    x: float
    """mm aft of the foremost point."""
    pages: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class BlockRow:
    """A block; lengths in mm, areas in mm2, volumes in mm3."""

    number: int
    x_fore: float
    x_aft: float
    height: float
    width: float
    fore_area: float
    """Of the fore face's cut outline; 0 where it comes to a point."""
    aft_area: float
    pins: int
    """How many pin holes go through it."""
    templates: tuple[str, ...]
    tip: bool
    """Carved by profiles and gauges, not cut between two faces."""
    body_volume: float | None
    """What the wire leaves; None for a block that is carved."""
    origin: Origin | None
    """Its place in the foam; None where there is no cutting plan, or where the foam at hand does not give it."""

    @property
    def thickness(self) -> float:
        """Mm."""
        return self.x_aft - self.x_fore

    @property
    def box_volume(self) -> float:
        """Of the squared block before it is cut, mm3."""
        return self.thickness * self.height * self.width

    @property
    def waste(self) -> float | None:
        """Foam of the squared block that does not stay in the body, mm3; None for a block that is carved."""
        return None if self.body_volume is None else self.box_volume - self.body_volume


@dataclass(frozen=True, slots=True)
class Told:
    """What other rooms reckon and the book only prints."""

    key: tuple[FigureRow, ...] = ()
    """For the front page: length, breadth, volume, foam, number of blocks."""
    wire: tuple[FigureRow, ...] = ()
    wire_cautions: tuple[str, ...] = ()
    """Beyond the cautions that always stand: extra-low voltage, the end of a table, what is extrapolated."""
    accuracy: tuple[FigureRow, ...] = ()
    notes: tuple[Note, ...] = ()
    """Mends, guesses and warnings."""
    datum: str = ""
    """Where the datum cross lies, as a sentence."""


@dataclass(frozen=True, slots=True)
class Views:
    """What pictures of the body are drawn from."""

    extents: Extents | None = None
    body: Picture | None = None
    """The body with its blocks, drawn for the room that it gets."""


@dataclass(frozen=True, slots=True)
class BookContents:
    """One job as the book tells it."""

    heading: Heading
    blocks: tuple[BlockRow, ...]
    """From the nose."""
    templates: tuple[TemplatePlace, ...]
    plan: CutPlan | None = None
    views: Views = field(default_factory=Views)
    told: Told = field(default_factory=Told)

    @property
    def stations(self) -> tuple[float, ...]:
        """Where two blocks meet, and both ends, x in mm."""
        return (*(block.x_fore for block in self.blocks), self.blocks[-1].x_aft)


def contents_of(
    heading: Heading,
    blocks: Sequence[Block],
    templates: Sequence[Template],
    pages: Sequence[Page],
    *,
    plan: CutPlan | None = None,
    views: Views | None = None,
    told: Told | None = None,
) -> BookContents:
    """The contents of a book: blocks from the nose (at least one), their templates, and the pages these are on."""
    if not blocks:
        msg = "expected at least one block, found none"
        raise ValueError(msg)
    return BookContents(
        heading,
        tuple(block_rows(blocks, templates, plan)),
        tuple(template_places(templates, pages)),
        plan,
        views or Views(),
        told or Told(),
    )


def template_places(templates: Sequence[Template], pages: Sequence[Page]) -> list[TemplatePlace]:
    """Each template with its pages, in the order of the templates."""
    found: dict[str, list[int]] = {}
    for page in pages:
        for piece in page.pieces:
            found.setdefault(piece.template_id, []).append(page.number)
    return [
        TemplatePlace(one.id, one.block, one.face, one.x, tuple(dict.fromkeys(found.get(one.id, ()))))
        for one in templates
    ]


def block_rows(blocks: Sequence[Block], templates: Sequence[Template], plan: CutPlan | None) -> list[BlockRow]:
    """Each block with its templates and its place in the foam."""
    ids: dict[int, list[str]] = {}
    for template in templates:
        ids.setdefault(template.block, []).append(template.id)
    places = origins(plan) if plan else {}
    return [
        BlockRow(
            number=block.span.number,
            x_fore=block.span.x_fore,
            x_aft=block.span.x_aft,
            height=block.box.height,
            width=block.box.width,
            fore_area=block.fore.outline.cut.area,
            aft_area=block.aft.outline.cut.area,
            pins=len(block.pins),
            templates=tuple(ids.get(block.span.number, ())),
            tip=block.tip is not None,
            body_volume=volume(block.grown.block) if block.grown and not block.tip else None,
            origin=places.get(block.span.number),
        )
        for block in blocks
    ]
