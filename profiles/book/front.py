"""The front page: which hull the book is for, a picture of the blocks, the main figures, and the chapters' pages."""

import contextlib
from collections.abc import Mapping

from profiles.book.cautions import Hazard, caution_items
from profiles.book.contents import BookContents
from profiles.book.cutlist import billet_word
from profiles.book.pages import Chapter, Leaf, Room
from profiles.book.picture import drawing_item, paragraphs
from profiles.book.tables import Column, in_halves, side_by_side, table_items, without_head
from profiles.errors import PaperError
from profiles.paper.drawing import Drawing
from profiles.paper.flow import TEXT, Item, head, keep_together, text_items

TITLE = "Job book"

BEFORE = "Before you start"

TITLE_SIZE = 7.0
"""Font size in mm."""

GAP = 2.0
"""mm above and below the picture."""

PICTURE = 0.42
"""Largest share of the page's height for the picture of the body."""

USE = (
    (
        "This book shows how to glue, cut and assemble the foam. The templates are in a separate file, "
        "templates.pdf: print it at 100 % and measure its bars. Every template carries the plan's number. Use only "
        "templates with the number at the top of this page."
    ),
    (
        "Work in this order: buy the foam, {glue}set up the wire, cut the {words} into blocks with the fence list, put "
        "the templates on, cut the blocks to shape, glue the body. Read the cautions first. Each is repeated where "
        "its hazard comes up."
    ),
)


def front_chapter(contents: BookContents, room: Room, picture: Drawing | None, pages: Mapping[str, int]) -> Chapter:
    """The front page with its picture; `pages` is the page number of each chapter, or 0 while it is not known."""
    width, height = room.upright
    items = [
        *keep_together(text_items(f"{TITLE}: {contents.heading.hull}", TITLE_SIZE, width, bold=True)),
        *text_items(f"Plan {contents.heading.fingerprint}. Foam {contents.heading.foam}.", TEXT, width),
        Item(GAP),
    ]
    if picture:
        items += [drawing_item(picture), Item(GAP)]
    if contents.facts.key:
        items += head("Figures", width)
        notes = any(row.note for row in contents.facts.key)
        columns = [Column(""), Column("", "end"), *([Column("", wraps=True)] if notes else [])]
        rows = [[row.label, row.value, *([row.note] if notes else [])] for row in contents.facts.key]
        items += without_head((table_items if notes else side_by_side)(columns, rows, width))
    items += head("Chapters", width)
    listed = [[title, f"{page}" if page else "000"] for title, page in pages.items()]
    columns = [Column("chapter"), Column("page", "end")]
    items += in_halves(columns, listed, width, height) or table_items(columns, listed, width)
    return Chapter(TITLE, (Leaf(tuple(items)),))


def front_picture(contents: BookContents, room: Room, pages: Mapping[str, int]) -> Drawing | None:
    """The picture of the body, as large as the text of the front page allows; None if there is none, or no room."""
    width, height = room.upright
    if contents.views.body is None:
        return None
    text = sum(item.height for item in front_chapter(contents, room, None, pages).leaves[0].items)
    with contextlib.suppress(PaperError):
        return contents.views.body((width, min(height * PICTURE, height - text - GAP)))
    return None


def before_chapter(contents: BookContents, room: Room) -> Chapter:
    """How to use the book, and every caution."""
    width = room.upright[0]
    billets = contents.plan.billets if contents.plan else ()
    glued = any(billet.kind.glue_lines for billet in billets)
    words = {"words": billet_word(billets, many=True), "glue": "glue the layers, " if glued else ""}
    items = [
        *head(BEFORE, width),
        *paragraphs([text.format(**words) for text in USE], width),
        *caution_items(tuple(Hazard), width),
    ]
    return Chapter(BEFORE, (Leaf(tuple(items), flows=False),))
