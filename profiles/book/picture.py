"""Drawings and paragraphs as items of a flow, with several drawings side by side."""

from collections.abc import Iterable, Sequence

from profiles.paper.drawing import Drawing
from profiles.paper.flow import TEXT, Item, section, text_items
from profiles.units import in_printed_units

APART = 8.0
"""mm between two drawings side by side."""


def drawing_item(drawing: Drawing, *, keep: bool = False) -> Item:
    """A drawing as one item."""
    return Item(drawing.height, drawing.strokes, drawing.labels, keep, drawing.areas)


def rows_of(drawings: Sequence[Drawing], width: float) -> list[Item]:
    """Drawings side by side, in as many rows of `width` mm as they need."""
    rows: list[list[Drawing]] = []
    used = 0.0
    for drawing in drawings:
        if not rows or used + drawing.width > width:
            rows.append([])
            used = 0.0
        rows[-1].append(drawing)
        used += drawing.width + APART
    return [_row(row) for row in rows]


def _row(drawings: Sequence[Drawing]) -> Item:
    sheet = Drawing(0.0, max(drawing.height for drawing in drawings) + 3.0)
    x = 0.0
    for drawing in drawings:
        moved = drawing.translate(x, 0.0)
        sheet = sheet.overlay(moved)
        x += drawing.width + APART
    return drawing_item(sheet)


def sentence(text: str) -> str:
    """The text with a capital first and a full stop last; empty text stays empty."""
    return f"{text[0].upper()}{text[1:].rstrip('.')}." if text else ""


def paragraph(text: str, width: float) -> list[Item]:
    """A paragraph `width` mm wide and space below it."""
    return [*text_items(in_printed_units(text), TEXT, width), Item(1.5)]


def rules(title: str, texts: Iterable[str], width: float) -> list[Item]:
    """A heading and numbered rules below it."""
    return section(title, [in_printed_units(text) for text in texts], width)


def paragraphs(texts: Iterable[str], width: float) -> list[Item]:
    """Several paragraphs, each with space below it."""
    return [item for text in texts for item in paragraph(text, width)]
