"""Chapters that print what other parts of the program compute: the wire, the length, the checks, and all notes."""

from collections.abc import Sequence

from profiles.book.cautions import SETTING_UP, WHERE, caution_items
from profiles.book.contents import BookContents, FigureRow
from profiles.book.pages import Chapter, Leaf, Room
from profiles.book.picture import paragraph, rules
from profiles.book.tables import TICK, Column, table_items, without_head
from profiles.notes import NoteKind, merge_notes
from profiles.paper.flow import Item, head
from profiles.units import PrintUnit, printed_unit

WIRE = "Wire"
ACCURACY = "Accuracy and checks"
NOTES = "Notes and assumptions"

BARS = "The bars on every page of templates.pdf"
BARS_MM = "100 mm measure 100 mm, give or take 0.3 mm, both ways"
BARS_IN = "4 in measure 4 in, give or take 1/64 in, both ways"

CHECKS = (
    ("The plan's number on every template", "the number at the top of this page"),
    ("Thickness of every board before the first cut", "measured at the four corners, the mean written on the board"),
    ("The first corner of every board or billet", "square: 300 mm and 400 mm along its edges are 500 mm apart"),
    ("The diagonals of every strip's first block", "equal within 0.5 mm"),
    ("The first piece of every fence setting", "within 0.5 mm of the fence distance; measured before the next cut"),
    ("Thickness of every block at four corners", "within 0.2 mm of each other, so that the faces are parallel"),
    ("Length of all blocks, stacked dry", "the length of the body; write down the difference"),
    ("The datum marks along the dry stack", "in a straight line on two sides"),
    ("The wire, before you change a block", "off and cold"),
)
"""What to check and what it must be; common practice."""

KINDS = {
    NoteKind.WARNING: "Warnings: check these before you cut foam",
    NoteKind.ASSUMPTION: "Assumptions, because the job does not say",
    NoteKind.REPAIR: "Repairs to the hull",
    NoteKind.FACT: "Notes",
}


def figure_table(rows: Sequence[FigureRow], width: float) -> list[Item]:
    """Figures with their notes, a line each."""
    noted = any(row.note for row in rows)
    columns = [Column("", wraps=True), Column("", wraps=True), *([Column("", wraps=True)] if noted else [])]
    cells = [[row.label, row.value, *([row.note] if noted else [])] for row in rows]
    return without_head(table_items(columns, cells, width))


def wire_chapter(contents: BookContents, room: Room) -> Chapter:
    """The figures of the wire if the job names one, and its cautions."""
    width = room.upright[0]
    items = [*head(WIRE, width), *caution_items(WHERE["wire"], width)]
    if contents.facts.wire:
        items += [*figure_table(contents.facts.wire, width), Item(2.0)]
    else:
        items += paragraph(
            "The job names no wire. Try the current on scrap, from low to high: it is right when the wire goes through "
            "the foam at a slow, steady pace without smoke and without force.",
            width,
        )
    items += rules("Setting it up", (*SETTING_UP, *contents.facts.wire_cautions), width)
    return Chapter(WIRE, (Leaf(tuple(items)),))


def accuracy_chapter(contents: BookContents, room: Room) -> Chapter:
    """How far off the length may be, and what to check."""
    width = room.upright[0]
    items = head(ACCURACY, width)
    if contents.facts.accuracy:
        items += [*figure_table(contents.facts.accuracy, width), Item(2.0)]
    bars = BARS_IN if printed_unit() is PrintUnit.IN else BARS_MM
    rows = [[subject, target, TICK] for subject, target in ((BARS, bars), *CHECKS)]
    columns = [Column("check", wraps=True), Column("must be", wraps=True), Column("done")]
    return Chapter(ACCURACY, (Leaf((*items, *head("Checks", width), *table_items(columns, rows, width))),))


def notes_chapter(contents: BookContents, room: Room) -> Chapter | None:
    """Warnings, assumptions, repairs and facts, equal ones merged; None if there are none."""
    width = room.upright[0]
    every = merge_notes(contents.facts.notes)
    items = []
    for kind, title in KINDS.items():
        sentences = [note.sentence for note in every if note.kind is kind]
        if sentences:
            items += rules(title, sentences, width)
    return Chapter(NOTES, (Leaf((*head(NOTES, width), *items)),)) if items else None
