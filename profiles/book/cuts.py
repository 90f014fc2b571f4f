"""The chapter about what is cut into the body, from hollows to stands, with tool, place and cautions."""

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
    "saddle": (
        (
            "Glue and fair the body first. Cut both side templates (cutouts.pdf) out of thin plywood along the "
            "contour, set them up on the two sides by datum line and stations, and tape them on. Cut from one to the "
            "other with a hot bow, both hands even, or with a fine saw. Sand with a block that rests on both cards."
        ),
        "Try the wing in dry. Measure from both wing tips to the tail: the two must be equal before it is glued.",
    ),
    "slot": (
        (
            "Mark the slot through its template, cut both edges with a thin blade along a steel rule, and take the "
            "foam out between them. The fin must slide in without force."
        ),
    ),
    "tube": (
        (
            "Sharpen the end of a brass tube and turn it by hand, sighted along the template by a second person. Stop "
            "often and push the foam out of the tube."
        ),
    ),
    "bay": (
        (
            "Mark the bay on the fair body through its template. Cut round it in steps of a blade's depth, lever the "
            "foam out in layers, and sand the floor flat."
        ),
        "Balance the body with battery and radio in place before the floor is glued: a bay is easy to lengthen now.",
    ),
    "stand": (
        (
            "Saw the cradles and the base plate out of plywood, try the tenons in their slots, and line the edges "
            "that touch the body with felt."
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


TITLES = {
    "hollow": "Hollowing a block",
    "rod": "Rods that line the body up",
    "saddle": "The wing's saddle",
    "slot": "Slots",
    "tube": "Tubes",
    "bay": "Bays and hatches",
    "stand": "The stand",
}
"""Heads of the rules, by kind of cut."""
