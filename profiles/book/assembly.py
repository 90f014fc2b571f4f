"""How the blocks become the body: datum and pins, the order of gluing, and where every station must come."""

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass

from profiles.book.bodylines import body_lines
from profiles.book.cautions import WHERE, caution_items
from profiles.book.contents import BlockRow, BookContents
from profiles.book.cutlist import mm
from profiles.book.pages import Chapter, Leaf, Room
from profiles.book.picture import drawing_item, sentence
from profiles.book.tables import TICK, Column, abreast, table_items
from profiles.errors import PaperError
from profiles.paper.flow import Item, head, section

ASSEMBLY = "Assembly"

DATUM_RULES = (
    (
        "Every template has a datum cross: the upright line is the centre plane, the level line is the datum "
        "height. It is at the same place on every face, so marks that are carried round the edges of the blocks "
        "make one straight line along the body. {datum}"
    ),
    (
        "Mark the datum on both faces of a block before the templates go on; lay each template on its own face, its "
        "cross on the block's, the word UP upwards. The fore face of a block looks to the nose, the aft face to the "
        "tail."
    ),
    (
        "Pins hold both templates of a block in line: push them through both templates and the block, square to the "
        "face. Where two blocks are glued, lay datum on datum, not hole on hole: each block has its own pin holes. "
        "{pinless}"
    ),
    (
        "Numbered marks round the edge: equal numbers on the two faces belong together. Two people call them out, "
        "so that the wire is at the same number on both sides."
    ),
)

GLUE_RULES = (
    (
        "Put the whole body together dry first, in order of the numbers, and measure its length. Sand no face to "
        "make up for thickness; a face that is sanded moves every station behind it."
    ),
    (
        "Begin with the block that has the largest face: it stands best. Glue the next ones on in the order below, "
        "datum on datum. Check with a straight edge along the datum marks on two sides before the adhesive grips."
    ),
    (
        "After every joint measure from the nose end of the body so far to its tail end: the table gives that "
        "length. Note the difference; what is one tenth out in every joint is two millimetres out after twenty."
    ),
    (
        "Keep adhesive 5 mm away from the edge, so that it doesn't gum up sandpaper, and let a joint set before the "
        "next one loads it."
    ),
)


@dataclass(frozen=True, slots=True)
class Step:
    """One joint: a block glued to what is there, `x_fore` to `x_aft` being what stands together after it, mm."""

    block: int
    onto: int | None
    """The block that it is glued to; None for the first."""
    at: float
    """x of the joint."""
    x_fore: float
    x_aft: float


def steps_of(blocks: Sequence[BlockRow]) -> list[Step]:
    """From the block with the largest face to the tail, and then to the nose."""
    largest = max(blocks, key=lambda block: (max(block.fore_area, block.aft_area), -block.number))
    start = blocks.index(largest)
    x_fore, x_aft = largest.x_fore, largest.x_aft
    steps = [Step(largest.number, None, x_fore, x_fore, x_aft)]
    for k in range(start + 1, len(blocks)):
        x_aft = blocks[k].x_aft
        steps.append(Step(blocks[k].number, blocks[k - 1].number, blocks[k].x_fore, x_fore, x_aft))
    for k in range(start - 1, -1, -1):
        x_fore = blocks[k].x_fore
        steps.append(Step(blocks[k].number, blocks[k + 1].number, blocks[k].x_aft, x_fore, x_aft))
    return steps


def assembly(contents: BookContents, room: Room) -> Chapter:
    """Rules, the order of gluing, and side and plan view with all stations."""
    width = room.upright[0]
    pinless = [f"{block.number:02d}" for block in contents.blocks if block.pins == 0]
    words = {
        "datum": sentence(contents.told.datum),
        "pinless": f"No pins go through {_blocks(pinless)}; line the templates up by the box and the datum."
        if pinless
        else "",
    }
    items = [
        *head(ASSEMBLY, width),
        *section("Datum, pins and marks", [rule.format(**words).rstrip() for rule in DATUM_RULES], width),
        *section("Gluing", GLUE_RULES, width),
        Item(2.0),
        *caution_items(WHERE["assembly"], width),
        *head("Order of gluing", width),
        *_step_table(contents.blocks, width),
    ]
    return Chapter(ASSEMBLY, (Leaf(tuple(items)), Leaf(tuple(_views(contents, room)), across=True)))


def _blocks(numbers: Sequence[str]) -> str:
    return f"block {numbers[0]}" if len(numbers) == 1 else f"blocks {', '.join(numbers[:-1])} and {numbers[-1]}"


def _step_table(blocks: Sequence[BlockRow], width: float) -> list[Item]:
    columns = [
        Column("step", "end"),
        Column("block"),
        Column("glued to"),
        Column("joint at x", "end"),
        Column("from x", "end"),
        Column("to x", "end"),
        Column("length so far", "end"),
        Column("measured", "end"),
        Column("done"),
    ]
    rows = [
        [
            str(number),
            f"{step.block:02d}",
            "the first" if step.onto is None else f"{step.onto:02d}",
            "" if step.onto is None else mm(step.at),
            mm(step.x_fore),
            mm(step.x_aft),
            mm(step.x_aft - step.x_fore),
            "........",
            TICK,
        ]
        for number, step in enumerate(steps_of(blocks), start=1)
    ]
    return table_items(columns, rows, width)


TABLE_SHARE = 0.45
"""Of a page's height at most that the views leave to the table of stations; a longer table begins under them."""


def _views(contents: BookContents, room: Room) -> list[Item]:
    """The views where the body is known, and all stations as a table."""
    width, height = room.across
    items = head("Stations", width)
    rows = [[str(k), mm(x), _between(contents.blocks, k)] for k, x in enumerate(contents.stations)]
    columns = [Column("station", "end"), Column("x", "end"), Column("between blocks")]
    table = abreast(columns, rows, width, most=4)
    taken = sum(item.height for item in table)
    if contents.views.extents is not None:
        left = height - sum(item.height for item in items) - 4.0
        left -= taken if taken <= TABLE_SHARE * height else 0.0
        with contextlib.suppress(PaperError):
            numbers = [block.number for block in contents.blocks]
            drawing = body_lines(contents.views.extents, contents.stations, numbers, (width, left))
            items += [drawing_item(drawing), Item(3.0)]
    return [*items, *table]


def _between(blocks: Sequence[BlockRow], station: int) -> str:
    if station == 0:
        return "nose"
    if station == len(blocks):
        return "tail"
    return f"{blocks[station - 1].number:02d} and {blocks[station].number:02d}"
