"""The front page: whose book it is, the body with its blocks, the figures that matter, and what is on which page."""

import contextlib
from collections.abc import Mapping

from profiles.book.cautions import Hazard, caution_items
from profiles.book.contents import BookContents
from profiles.book.pages import Chapter, Leaf, Room
from profiles.book.picture import drawing_item, paragraphs
from profiles.book.tables import Column, abreast, halved, headless, table_items
from profiles.errors import PaperError
from profiles.paper.drawing import Drawing
from profiles.paper.flow import TEXT, Item, head, kept, text_items

TITLE = "Job book"

BEFORE = "Before you start"

TITLE_SIZE = 7.0
"""mm."""

PICTURE = 0.42
"""Of the page's height at most for the picture of the body."""

USE = (
    (
        "This book says how the foam is glued, cut and put together. The templates are in a file of their own, "
        "templates.pdf: print that at 100 % and measure its bars. Every template carries the plan's number; use "
        "only those that carry the number at the top of this page."
    ),
    (
        "Work in the order of the chapters: buy, glue layers, cut the billets to blocks with the fence list, put "
        "the templates on, cut the blocks to shape, glue the body. Read the cautions first; each stands again where "
        "its hazard comes up."
    ),
)


def front(contents: BookContents, room: Room, picture: Drawing | None, pages: Mapping[str, int]) -> Chapter:
    """The front page with its picture; `pages` gives the page of each chapter, or 0 while that is not known."""
    width, height = room.upright
    items = [
        *kept(text_items(f"{TITLE}: {contents.heading.hull}", TITLE_SIZE, width, bold=True)),
        *text_items(f"Plan {contents.heading.fingerprint}. Foam {contents.heading.foam}.", TEXT, width),
        Item(2.0),
    ]
    if picture:
        items += [drawing_item(picture), Item(2.0)]
    if contents.told.key:
        items += head("Figures", width)
        notes = any(row.note for row in contents.told.key)
        columns = [Column(""), Column("", "end"), *([Column("", wraps=True)] if notes else [])]
        rows = [[row.label, row.value, *([row.note] if notes else [])] for row in contents.told.key]
        items += headless((table_items if notes else abreast)(columns, rows, width))
    items += head("Chapters", width)
    listed = [[title, f"{page}" if page else "000"] for title, page in pages.items()]
    columns = [Column("chapter"), Column("page", "end")]
    items += halved(columns, listed, width, height) or table_items(columns, listed, width)
    return Chapter(TITLE, (Leaf(tuple(items)),))


def front_picture(contents: BookContents, room: Room) -> Drawing | None:
    """The body on the front page; None where there is none, or no room for it."""
    width, height = room.upright
    if contents.views.body is None:
        return None
    with contextlib.suppress(PaperError):
        return contents.views.body((width, height * PICTURE))
    return None


def before(room: Room) -> Chapter:
    """How the book is used, and every caution."""
    width = room.upright[0]
    items = [*head(BEFORE, width), *paragraphs(USE, width), *caution_items(tuple(Hazard), width)]
    return Chapter(BEFORE, (Leaf(tuple(items)),))
