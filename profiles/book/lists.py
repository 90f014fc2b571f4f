"""The block list and the template map: what is made, out of what, and on which page its templates are."""

from collections.abc import Sequence

from profiles.book.cautions import WHERE, caution_items
from profiles.book.contents import BlockRow, BookContents
from profiles.book.cutlist import mm
from profiles.book.foam import DM3
from profiles.book.pages import Chapter, Leaf, Room
from profiles.book.picture import paragraph
from profiles.book.tables import TABLE_TEXT, TICK, Column, abreast, table_items
from profiles.paper.bands import shortened
from profiles.paper.flow import Item, head

NAME = 34.0
"""mm; a board's name is shortened to this, so that a block keeps to one line."""

BLOCKS = "Block list"
TEMPLATES = "Template map"


def block_list(contents: BookContents, room: Room) -> Chapter:
    """Every block with its sizes, its place in the foam, its templates and volumes, on a page that lies across."""
    width = room.across[0]
    columns = [
        Column("block"),
        Column("thick", "end"),
        Column("height", "end"),
        Column("width", "end"),
        Column("layers", wraps=True),
        Column("billet.strip.blank"),
        Column("templates", wraps=True),
        Column("box, litres", "end"),
        Column("body, litres", "end"),
        Column("waste, litres", "end"),
        Column("cut"),
        Column("shaped"),
    ]
    rows = [_row(block) for block in contents.blocks]
    lead = (
        "Thickness is along the hull and must be right; height and width are the squared block's. A body of a carved "
        "block is not reckoned. Box is the squared block, body is what the wire leaves of it, waste is the rest."
    )
    items = [
        *head(BLOCKS, width),
        *paragraph(lead, width),
        *table_items(columns, rows, width, total=_total(contents.blocks)),
    ]
    return Chapter(BLOCKS, (Leaf(tuple(items), across=True),))


def _row(block: BlockRow) -> list[str]:
    origin = block.origin
    place = f"{origin.billet}.{origin.strip}.{origin.blank}" if origin else "not planned"
    if origin and origin.sliced:
        place += ", sliced"
    return [
        f"{block.number:02d}",
        mm(block.thickness),
        mm(block.height),
        mm(block.width),
        " + ".join(shortened(name, TABLE_TEXT, NAME) for name in origin.layers) if origin else "",
        place,
        ", ".join(_faces(block)) or "none",
        f"{block.box_volume / DM3:.3f}",
        "carved" if block.body_volume is None else f"{block.body_volume / DM3:.3f}",
        "" if block.waste is None else f"{block.waste / DM3:.3f}",
        TICK,
        TICK,
    ]


def _faces(block: BlockRow) -> list[str]:
    """Template ids; the block's number, which the row begins with, only once."""
    first, *others = block.templates or ("",)
    stem = f"{block.number:02d} "
    return [word for word in (first, *(other.removeprefix(stem) for other in others)) if word]


def _total(blocks: Sequence[BlockRow]) -> list[str]:
    boxes = sum(block.box_volume for block in blocks)
    bodies = sum(block.body_volume or 0.0 for block in blocks)
    waste = sum(block.waste or 0.0 for block in blocks)
    thick = mm(blocks[-1].x_aft - blocks[0].x_fore)
    volumes = [f"{volume / DM3:.3f}" for volume in (boxes, bodies, waste)]
    return ["all", thick, "", "", "", "", "", *volumes, "", ""]


def template_map(contents: BookContents, room: Room) -> Chapter | None:
    """Which template is on which page of templates.pdf; None where there are no templates."""
    if not contents.templates:
        return None
    width = room.upright[0]
    rows = [[one.id, mm(one.x), _pages(one.pages), TICK] for one in contents.templates]
    lead = (
        "Pages of templates.pdf. A template on several pages is trimmed and taped together; its first page says "
        "how. x is the place of the face aft of the foremost point, mm. Every template must carry "
        f"{contents.heading.fingerprint}."
    )
    columns = [Column("template"), Column("x", "end"), Column("page"), Column("cut out")]
    items = [
        *head(TEMPLATES, width),
        *paragraph(lead, width),
        *abreast(columns, rows, width),
        Item(2.0),
        *caution_items(WHERE["templates"], width),
    ]
    return Chapter(TEMPLATES, (Leaf(tuple(items)),))


def _pages(pages: Sequence[int]) -> str:
    if not pages:
        return "none"
    whole = list(range(pages[0], pages[-1] + 1)) == list(pages) and len(pages) > 1
    return f"{pages[0]} to {pages[-1]}" if whole else ", ".join(str(page) for page in pages)
