"""Chapters that print what other rooms reckon: the wire, the length, the checks; and what the program told."""

from collections.abc import Sequence

from profiles.book.cautions import WHERE, caution_items
from profiles.book.contents import BookContents, FigureRow
from profiles.book.pages import Chapter, Leaf, Room
from profiles.book.picture import paragraph
from profiles.book.tables import TICK, Column, headless, table_items
from profiles.foam.wire import SETTING_UP
from profiles.notes import NoteKind, merge_notes
from profiles.paper.flow import Item, head, section

WIRE = "Wire"
ACCURACY = "Accuracy and checks"
NOTES = "What was told"

CHECKS = (
    ("The bars on every page of templates.pdf", "100 mm measure 100 mm, give or take 0.3 mm, both ways"),
    ("The plan's number on every template", "the number at the top of this page"),
    ("Thickness of every board before gluing", "measured at the four corners, the mean written on it"),
    ("The first corner of every billet", "square: 3, 4 and 5 times 100 mm on its edges and across"),
    ("The diagonals of every strip's first block", "equal within 0.5 mm"),
    ("The first piece of every fence setting", "the fence's figure within 0.5 mm, measured before the next cut"),
    ("Thickness of every block at four corners", "within 0.2 mm of each other: faces parallel"),
    ("The sum of all blocks, stacked dry", "the length of the body; the difference noted"),
    ("The datum marks along the dry stack", "on a straight line on two sides"),
    ("Wire, before a block is changed", "off and cold"),
)
"""What to look at and what it must be; common practice."""

KINDS = {
    NoteKind.WARNING: "Warnings: check these before you cut foam",
    NoteKind.ASSUMPTION: "Assumptions, because the job does not say",
    NoteKind.REPAIR: "Repairs to the hull",
    NoteKind.FACT: "Notes",
}


def _figure_table(rows: Sequence[FigureRow], width: float) -> list[Item]:
    noted = any(row.note for row in rows)
    columns = [Column("", wraps=True), Column("", wraps=True), *([Column("", wraps=True)] if noted else [])]
    cells = [[row.label, row.value, *([row.note] if noted else [])] for row in rows]
    return headless(table_items(columns, cells, width))


def wire(contents: BookContents, room: Room) -> Chapter:
    """Figures of the wire where they were asked for, and its cautions."""
    width = room.upright[0]
    items = head(WIRE, width)
    if contents.told.wire:
        items += [*_figure_table(contents.told.wire, width), Item(2.0)]
    else:
        items += paragraph(
            "No wire was given. Try the current on scrap, from low to high: the wire is right when foam parts at a "
            "steady walk of the hand, without smoke and without force.",
            width,
        )
    items += [*section("Setting it up", (*SETTING_UP, *contents.told.wire_cautions), width), Item(2.0)]
    return Chapter(WIRE, (Leaf((*items, *caution_items(WHERE["wire"], width))),))


def accuracy(contents: BookContents, room: Room) -> Chapter:
    """How far the length may be out, and what to check."""
    width = room.upright[0]
    items = head(ACCURACY, width)
    if contents.told.accuracy:
        items += [*_figure_table(contents.told.accuracy, width), Item(2.0)]
    rows = [[what, must, TICK] for what, must in CHECKS]
    columns = [Column("check", wraps=True), Column("must be", wraps=True), Column("done")]
    return Chapter(ACCURACY, (Leaf((*items, *head("Checks", width), *table_items(columns, rows, width))),))


def notes(contents: BookContents, room: Room) -> Chapter | None:
    """Warnings, assumptions, repairs and facts, equal ones merged; None if there are none."""
    width = room.upright[0]
    every = merge_notes(contents.told.notes)
    items = []
    for kind, title in KINDS.items():
        own = [note.sentence for note in every if note.kind is kind]
        if own:
            items += section(title, own, width)
    return Chapter(NOTES, (Leaf((*head(NOTES, width), *items)),)) if items else None
