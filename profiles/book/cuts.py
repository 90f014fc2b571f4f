"""The chapter about what is cut into the body: rods, hollows, with tool, place and cautions."""

from profiles.book.cautions import WHERE, caution_items
from profiles.book.contents import BookContents
from profiles.book.pages import Chapter, Leaf, Room
from profiles.book.picture import rules
from profiles.book.tables import TICK, Column, table_items
from profiles.paper.flow import Item, head

CUTS = "Cut into it"

RULES = {
    "hollow": (
        (
            "Hollow a block after its outside is cut and before it is glued, with both templates still pinned on. Cut "
            "the card along the inner line. Where there is a slit, lead the wire in through it, round the inner line "
            "on the side of the hole, and out through the slit again. Begin at the mark beside the slit."
        ),
        "Glue the slit before the block is moved: until then its walls bend. Keep the core; it is sound foam.",
    ),
    "rod": (
        (
            "Drill every block before gluing, from both faces to the middle, through the holes of the two templates. "
            "A sharpened tube that you turn by hand cuts a clean hole; a fast drill tears foam and catches in it."
        ),
        (
            "Thread all blocks on the rod dry. Look along the body, and turn it: a block that is off shows at once. "
            "The datum marks must lie in line all the same."
        ),
    ),
}
"""What to do, by kind of cut (common practice)."""


def cuts_chapter(contents: BookContents, room: Room) -> Chapter | None:
    """What is cut into the body; None if nothing is."""
    rows = contents.facts.cuts
    if not rows:
        return None
    width = room.upright[0]
    columns = [
        Column("cut", wraps=True),
        Column("where", wraps=True),
        Column("size", wraps=True),
        Column("how", wraps=True),
        Column("done"),
    ]
    kinds = dict.fromkeys(row.kind for row in rows)
    items = [
        *head(CUTS, width),
        *caution_items(WHERE["cuts"], width),
        *table_items(columns, [[row.name, row.place, row.size, row.work, TICK] for row in rows], width),
        Item(2.0),
    ]
    for kind in kinds:
        if kind in RULES:
            items += rules(TITLES[kind], RULES[kind], width)
    return Chapter(CUTS, (Leaf(tuple(items)),))


TITLES = {"hollow": "Hollowing a block", "rod": "Rods that line the body up"}
"""Heads of the rules, by kind of cut."""
