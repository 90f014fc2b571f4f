"""What the job book says, as plain values; the other modules of the book draw from these and nothing else.

BookContents   one job: its blocks, templates, cutting plan, pictures and figures
BlockRow       a block, its place in the foam and its templates
TemplatePlace  where a template is printed
FigureRow      one figure with its unit
BookFacts      figures and notes from the rest of the program, already in words
Examples       blocks to show the work by
"""

from collections.abc import Sequence
from dataclasses import field, replace

import shapely

from profiles.blocks.blocks import Block, CarvedBlock
from profiles.blocks.bodyfile import volume_of
from profiles.blocks.cut_into import CutRow
from profiles.book.shapes import Examples, examples_of
from profiles.foam.cutting import CutPlan
from profiles.foam.figures import Origin, origins
from profiles.notes import Note
from profiles.paper.cover import Heading
from profiles.paper.pages import Page
from profiles.paper.sheets import Picture, page_numbers
from profiles.paper.template import BlockTemplate
from profiles.pictures.views import Extents
from profiles.values import dataclass


@dataclass(frozen=True, slots=True)
class FigureRow:
    """A figure as printed: what it is, its value with the unit, and where it comes from or what it means."""

    label: str
    value: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class TemplatePlace:
    """A template and the pages of templates.pdf that show it."""

    id: str
    """"03 fore"."""
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
    """Area in mm2 inside the cut outline of the fore face; 0 where the block comes to a point."""
    aft_area: float
    """The same for the aft face."""
    pins: int
    """Number of pin holes."""
    templates: tuple[str, ...]
    """What each shows of the block: "fore", "gauge 1 x 8.5"."""
    tip: bool
    """Carved by profiles and gauges, not cut between two faces."""
    body_volume: float | None
    """Volume in mm3 that wire and knife leave; None where nothing is cut."""
    port: float
    """From the port edge of the squared block to the centre plane, mm."""
    below: float
    """From its lower edge to the datum, mm."""
    origin: Origin | None
    """Place in the foam; None if there is no cutting plan, or if the foam at hand does not yield the block."""

    @property
    def thickness(self) -> float:
        """Thickness along the hull in mm."""
        return self.x_aft - self.x_fore

    @property
    def box_volume(self) -> float:
        """Volume of the squared block before it is cut, mm3."""
        return self.thickness * self.height * self.width

    @property
    def waste(self) -> float | None:
        """Foam of the squared block that does not stay in the body, mm3; None where nothing is cut."""
        return None if self.body_volume is None else self.box_volume - self.body_volume


@dataclass(frozen=True, slots=True)
class BookFacts:
    """What other parts of the program compute and the book only prints."""

    key: tuple[FigureRow, ...] = ()
    """For the front page: length, breadth, volume, foam, number of blocks."""
    wire: tuple[FigureRow, ...] = ()
    """Empty if the job names no wire."""
    wire_cautions: tuple[str, ...] = ()
    """In addition to the fixed cautions: extra-low voltage, the end of a table, what is extrapolated."""
    accuracy: tuple[FigureRow, ...] = ()
    weights: tuple[tuple[str, ...], ...] = ()
    """Parts of the weight: name, weight, x, y, z, from; the total last. Empty if the job does not ask for it."""
    balance: tuple[FigureRow, ...] = ()
    afloat: tuple[FigureRow, ...] = ()
    """Empty if the job does not ask for it."""
    cuts: tuple[CutRow, ...] = ()
    """What is cut into the body. Empty if the job does not ask for it."""
    notes: tuple[Note, ...] = ()
    """Repairs, assumptions, warnings and facts."""
    datum: str = ""
    """Where the datum cross lies, as a sentence."""
    drafts: tuple[str, ...] = ()
    """What to do with drawings, panels and markings; empty where the job asks for none."""


@dataclass(frozen=True, slots=True)
class PartRow:
    """A part of a divided hull; the main body is one of them."""

    title: str
    """"main body", or "K keel"."""
    first: int
    """The place of its first block in the list of blocks."""
    count: int
    extents: Extents | None = None
    """In its own frame."""
    silhouettes: tuple[shapely.Geometry, shapely.Geometry] = (shapely.Point(), shapely.Point())
    """From the side, (x, -z) mm in the frame of the hull, and from above, (x, y)."""
    apart: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """mm by which it is moved along x, y and z where the parts are drawn apart."""


@dataclass(frozen=True, slots=True)
class JointRow:
    """A joint between two parts, in the order of gluing."""

    name: str
    """"joint 1"."""
    part: str
    """The part that is glued on."""
    onto: str
    """The part that is there already."""
    area: float
    """mm2."""
    pins: int
    dowels: int
    """Those of the pins that have room for a dowel."""
    pages: tuple[int, ...]
    """The pages of templates.pdf that show it."""


@dataclass(frozen=True, slots=True)
class Views:
    """What pictures of the body are drawn from."""

    extents: Extents | None = None
    """None if no section of the hull can be closed."""
    body: Picture | None = None
    """A function that draws the body with its blocks for a given width and height."""
    curves: tuple[Picture, ...] = ()
    """Curves of the body afloat."""


@dataclass(frozen=True, slots=True)
class BookContents:
    """One job as the book describes it."""

    heading: Heading
    blocks: tuple[BlockRow, ...]
    """In order from the nose."""
    templates: tuple[TemplatePlace, ...]
    plan: CutPlan | None = None
    views: Views = field(default_factory=Views)
    facts: BookFacts = field(default_factory=BookFacts)
    examples: Examples = field(default_factory=Examples)
    parts: tuple[PartRow, ...] = ()
    """Empty where the hull is in one piece."""
    joints: tuple[JointRow, ...] = ()

    def of_part(self, part: PartRow) -> "BookContents":
        """The contents with the blocks of one part alone."""
        blocks = self.blocks[part.first : part.first + part.count]
        return replace(self, blocks=blocks, views=Views(part.extents), parts=())

    @property
    def stations(self) -> tuple[float, ...]:
        """X in mm of both ends and of every place where two blocks meet."""
        return (*(block.x_fore for block in self.blocks), self.blocks[-1].x_aft)


def make_contents(
    heading: Heading,
    blocks: Sequence[Block],
    templates: Sequence[BlockTemplate],
    pages: Sequence[Page],
    *,
    plan: CutPlan | None,
    views: Views,
    facts: BookFacts,
) -> BookContents:
    """The contents of a book: blocks in order from the nose, their templates, and the pages that show these.

    Raises ValueError if there is no block.
    """
    if not blocks:
        msg = "expected at least one block, found none"
        raise ValueError(msg)
    return BookContents(
        heading,
        tuple(block_rows(blocks, templates, plan)),
        tuple(template_places(templates, pages)),
        plan,
        views,
        facts,
        examples_of(blocks),
    )


def template_places(templates: Sequence[BlockTemplate], pages: Sequence[Page]) -> list[TemplatePlace]:
    """Each template with its pages, in the order of the templates."""
    numbers = page_numbers(page.pieces for page in pages)
    return [TemplatePlace(template.id, template.source.x, numbers.get(template.id, ())) for template in templates]


def block_rows(blocks: Sequence[Block], templates: Sequence[BlockTemplate], plan: CutPlan | None) -> list[BlockRow]:
    """Each block with its templates and its place in the foam."""
    labels: dict[int, list[str]] = {}
    for template in templates:
        labels.setdefault(template.source.block, []).append(template.source.label)
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
            templates=tuple(labels.get(block.span.number, ())),
            tip=isinstance(block, CarvedBlock),
            body_volume=volume_of(block),
            port=-block.box.y_low,
            below=-block.box.z_low,
            origin=places.get(block.span.number),
        )
        for block in blocks
    ]
