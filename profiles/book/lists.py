"""The block list and the template map: every block, the foam it comes from, and the pages of its templates."""

from collections.abc import Sequence

from profiles.book.cautions import WHERE, caution_items
from profiles.book.contents import BlockRow, BookContents
from profiles.book.cutlist import billet_word
from profiles.book.pages import Chapter, Leaf, Room
from profiles.book.picture import paragraph
from profiles.book.tables import TABLE_TEXT, TICK, Column, side_by_side, table_items
from profiles.paper.bands import shorten
from profiles.paper.cover import MEET
from profiles.paper.cover import TITLE as READ_FIRST
from profiles.paper.flow import head
from profiles.units import bare_volume, block_name, decimal_length, volume_unit

NAME = 34.0
"""mm; a longer board name is shortened to this, so that a block takes one line."""

BLOCKS = "Block list"
TEMPLATES = "Template map"


def block_list_chapter(contents: BookContents, room: Room) -> Chapter:
    """Every block with its sizes, its place in the foam, its templates and volumes, on landscape pages."""
    width = room.across[0]
    columns = [
        Column("block"),
        Column("thick", "end"),
        Column("height", "end"),
        Column("width", "end"),
        Column("layers", wraps=True),
        Column(f"{billet_word(contents.plan.billets if contents.plan else ())}.strip.blank"),
        Column("grain along"),
        Column("templates", wraps=True),
        Column(f"box, {volume_unit()}", "end"),
        Column(f"body, {volume_unit()}", "end"),
        Column(f"waste, {volume_unit()}", "end"),
        Column("cut"),
        Column("shaped"),
    ]
    rows = [_row(block) for block in contents.blocks]
    lead = (
        "Thickness is measured along the hull and must be accurate; height and width are those of the squared block. "
        "Box is the squared block, body is what wire and knife leave of it, waste is the rest."
    )
    items = [
        *head(BLOCKS, width),
        *paragraph(lead, width),
        *table_items(columns, rows, width, total=_total(contents)),
    ]
    return Chapter(BLOCKS, (Leaf(tuple(items), across=True),))


def _row(block: BlockRow) -> list[str]:
    origin = block.origin
    place = f"{origin.billet}.{origin.strip}.{origin.blank}" if origin else "not planned"
    if origin and origin.sliced:
        place += ", sliced"
    return [
        block_name(block.number),
        decimal_length(block.thickness),
        decimal_length(block.height),
        decimal_length(block.width),
        " + ".join(shorten(name, TABLE_TEXT, NAME) for name in origin.layers) if origin else "",
        place,
        ("width" if origin.turned else "height") if origin else "",
        f"{block_name(block.number)} {', '.join(block.templates)}" if block.templates else "none",
        bare_volume(block.box_volume),
        "" if block.body_volume is None else bare_volume(block.body_volume),
        "" if block.waste is None else bare_volume(block.waste),
        TICK,
        TICK,
    ]


def _total(contents: BookContents) -> list[str]:
    blocks = contents.blocks
    boxes = sum(block.box_volume for block in blocks)
    bodies = sum(block.body_volume or 0.0 for block in blocks)
    waste = sum(block.waste or 0.0 for block in blocks)
    thick = "" if contents.parts else decimal_length(blocks[-1].x_aft - blocks[0].x_fore)
    volumes = [bare_volume(volume) for volume in (boxes, bodies, waste)]
    return ["total", thick, "", "", "", "", "", "", *volumes, "", ""]


def template_map_chapter(contents: BookContents, room: Room) -> Chapter | None:
    """Which template is on which page of templates.pdf; None if there are no templates."""
    if not contents.templates:
        return None
    width = room.upright[0]
    rows = [[template.id, decimal_length(template.x), _pages(template.pages), TICK] for template in contents.templates]
    joins = f' "{MEET}" under "{READ_FIRST}" in templates.pdf shows how to trim and tape a template on several pages.'
    lead = (
        "The pages are those of templates.pdf. x is the distance from the foremost point of the hull to a face "
        "or a gauge; for side and plan templates, to the large face of the block."
        f"{joins if any(len(template.pages) > 1 for template in contents.templates) else ''}"
        f" Every template must carry {contents.heading.fingerprint}."
    )
    columns = [Column("template"), Column("x", "end"), Column("page"), Column("cut out")]
    items = [
        *head(TEMPLATES, width),
        *paragraph(lead, width),
        *caution_items(WHERE["templates"], width),
        *side_by_side(columns, rows, width),
    ]
    return Chapter(TEMPLATES, (Leaf(tuple(items)),))


def _pages(pages: Sequence[int]) -> str:
    if not pages:
        return "none"
    whole = list(range(pages[0], pages[-1] + 1)) == list(pages) and len(pages) > 1
    return f"{pages[0]} to {pages[-1]}" if whole else ", ".join(str(page) for page in pages)
