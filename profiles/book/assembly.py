"""The assembly chapter: the level board, the order of gluing, fairing, and the place of every station."""

import contextlib
from collections.abc import Sequence

from profiles.book.bodylines import body_lines
from profiles.book.cautions import WHERE, caution_items
from profiles.book.contents import BlockRow, BookContents
from profiles.book.pages import Chapter, Leaf, Room
from profiles.book.picture import drawing_item, rules, sentence
from profiles.book.tables import TICK, Column, side_by_side, table_items
from profiles.errors import PaperError
from profiles.paper.flow import Item, head
from profiles.units import LETTERED, block_name, decimal_length
from profiles.values import dataclass

ASSEMBLY = "Assembly"

BOARD_RULES = (
    (
        "Take a straight, level board longer than the body and lay cling film on it. Draw one line along it, the "
        "reference line, and a stroke square across it at every station, measured from one end with one long rule: the "
        "table of stations has the places. {datum}"
    ),
    (
        "Set the blocks up in the order below in their lower shells or on strips of waste, with the marks of the "
        "centre plane over the reference line and the faces at their strokes. Where two blocks meet, lay datum on "
        "datum, not hole on hole: each block has its own pin holes. {pinless} {carved}"
    ),
    (
        "Put the whole body together dry first and measure its length. Do not sand a face to correct the thickness: "
        "that moves every station behind it."
    ),
    (
        "Check with long lines: stretch a thread from nose to tail along the centre plane on top, and one along the "
        "datum height on each side. Every mark must lie under its thread; then look along the body from both ends: the "
        "edges of the blocks run without a step or a twist."
    ),
)

GLUE_RULES = (
    (
        "Begin with the block that has the largest face: it stands best. Glue on the other blocks in the order below, "
        "datum on datum, and check the threads before the adhesive grips."
    ),
    (
        "After every joint, measure the length of what you have glued so far and compare it with the table. Write "
        "down the difference: 0.1 mm in every joint is 2 mm after twenty."
    ),
    (
        "Keep adhesive 5 mm away from the edge, so that it does not clog sandpaper, and let a joint set before the "
        "next one loads it."
    ),
)

FINISH_RULES = (
    "Sand across the joints with a long block until the foam lines of the templates run through, checking often.",
    "Fill and cover only with what you have tried on a rest of this foam, adhesive joints included.",
)


@dataclass(frozen=True, slots=True)
class Step:
    """One joint. After it the glued part of the body reaches from `x_fore` to `x_aft` (mm)."""

    block: int
    onto: int | None
    """The block that it is glued to; None for the first block."""
    at: float
    """x of the joint in mm; for the first block its fore face."""
    x_fore: float
    x_aft: float


def steps_of(blocks: Sequence[BlockRow]) -> list[Step]:
    """The order of gluing: from the block with the largest face to the tail, then to the nose. Where the blocks before
    the first one are glued already, from there to the tail. At least one block.
    """
    if blocks[0].number % LETTERED > 1:
        return [Step(block.number, block.number - 1, block.x_fore, 0.0, block.x_aft) for block in blocks]
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


def assembly_chapter(contents: BookContents, room: Room) -> Chapter:
    """Rules, the order of gluing, and side and plan view with all stations."""
    width = room.upright[0]
    pinless = [block_name(block.number) for block in contents.blocks if block.pins == 0 and not block.tip]
    carved = [block_name(block.number) for block in contents.blocks if block.tip]
    words = {
        "datum": sentence(contents.facts.datum),
        "pinless": f"No pins go through {_blocks(pinless)}: line the templates up by the box and the datum."
        if pinless
        else "",
        "carved": f"For {_blocks(carved)}, which you carve, follow the order of work on the side and plan templates."
        if carved
        else "",
    }
    items = [
        *head(ASSEMBLY, width),
        *caution_items(WHERE["assembly"], width),
        *rules("On a level board", [" ".join(rule.format(**words).split()) for rule in BOARD_RULES], width),
        *(rules("Drawings, panels and markings", contents.facts.drafts, width) if contents.facts.drafts else ()),
        *rules("Gluing", GLUE_RULES, width),
        *_step_tables(contents, width),
        *rules("Fairing and covering", FINISH_RULES, width),
        Item(2.0),
        *caution_items(WHERE["finish"], width),
    ]
    each = [(part.title, contents.of_part(part)) for part in contents.parts] or [("", contents)]
    views = (Leaf(tuple(_views(piece, room, title)), across=True, flows=False) for title, piece in each)
    return Chapter(ASSEMBLY, (Leaf(tuple(items)), *views))


def _step_tables(contents: BookContents, width: float) -> list[Item]:
    """The order of gluing, of each part by itself."""
    items: list[Item] = []
    for part in contents.parts:
        items += head(f"Order of gluing: {part.title}", width)
        items += _step_table(contents.of_part(part).blocks, width)
    return items or [*head("Order of gluing", width), *_step_table(contents.blocks, width)]


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
            block_name(step.block),
            "the first" if step.onto is None else block_name(step.onto),
            "" if step.onto is None else decimal_length(step.at),
            decimal_length(step.x_fore),
            decimal_length(step.x_aft),
            decimal_length(step.x_aft - step.x_fore),
            "........",
            TICK,
        ]
        for number, step in enumerate(steps_of(blocks), start=1)
    ]
    return table_items(columns, rows, width)


TABLE_SHARE = 0.45
"""Largest share of a page's height that the views leave to the table of stations; a longer table begins below them."""


def _views(contents: BookContents, room: Room, title: str = "") -> list[Item]:
    """The views, if the body's extents are known, and a table of all stations."""
    width, height = room.across
    items = head(f"Stations: {title}" if title else "Stations", width)
    rows = [[str(k), decimal_length(x), _between(contents.blocks, k)] for k, x in enumerate(contents.stations)]
    columns = [Column("station", "end"), Column("x", "end"), Column("between blocks")]
    table = side_by_side(columns, rows, width, most=4)
    table_height = sum(item.height for item in table)
    if contents.views.extents is not None:
        left = height - sum(item.height for item in items) - 4.0
        left -= table_height if table_height <= TABLE_SHARE * height else 0.0
        with contextlib.suppress(PaperError):
            numbers = [block.number for block in contents.blocks]
            drawing = body_lines(contents.views.extents, contents.stations, numbers, (width, left))
            items += [drawing_item(drawing), Item(3.0)]
    return [*items, *table]


def _between(blocks: Sequence[BlockRow], station: int) -> str:
    if station == 0:
        return "nose" if blocks[0].number % LETTERED == 1 else "end of the glued part"
    if station == len(blocks):
        return "tail"
    return f"{block_name(blocks[station - 1].number)} and {block_name(blocks[station].number)}"
