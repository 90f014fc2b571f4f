"""Chapters about the finished body: what it weighs and where it balances, and how it floats."""

from profiles.book.contents import BookContents
from profiles.book.figures import figure_table
from profiles.book.pages import Chapter, Leaf, Room
from profiles.book.picture import drawing_item, paragraph
from profiles.book.tables import Column, table_items
from profiles.paper.flow import Item, head

WEIGHT = "Weight and balance"
AFLOAT = "Afloat"

CURVE = 72.0
"""mm; height of a plot."""

PLACES = "x from the nose, y to starboard, z above the datum. The pictures of the body show the balance as G."

ESTIMATE = (
    "These figures are estimates for models. They prove nothing about the safety of anything that carries people: that "
    "is licensed work. Openings through which water comes in, and water or fuel that moves inside, are not known and "
    "not counted."
)


def weight_chapter(contents: BookContents, room: Room) -> Chapter | None:
    """The parts of the weight with their places, and what follows; None if the job does not ask for it."""
    if not contents.facts.weights:
        return None
    width = room.upright[0]
    columns = [
        Column("part", wraps=True),
        *(Column(name, "end") for name in ("weight", "x", "y", "z")),
        Column("from", wraps=True),
    ]
    *rows, total = contents.facts.weights
    items = [
        *head(WEIGHT, width),
        *table_items(columns, rows, width, total=total),
        Item(1.5),
        *paragraph(PLACES, width),
        *figure_table(contents.facts.balance, width),
    ]
    return Chapter(WEIGHT, (Leaf(tuple(items)),))


def afloat_chapter(contents: BookContents, room: Room) -> Chapter | None:
    """The figures afloat and their curves; None if the job does not ask for it."""
    if not contents.facts.afloat:
        return None
    width = room.upright[0]
    items = [*head(AFLOAT, width), *paragraph(ESTIMATE, width), *figure_table(contents.facts.afloat, width), Item(3.0)]
    items += [drawing_item(curve((width, CURVE))) for curve in contents.views.curves]
    return Chapter(AFLOAT, (Leaf(tuple(items)),))
