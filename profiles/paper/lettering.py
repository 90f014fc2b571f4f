"""The width of a line of text, so that labels can be kept apart before anything is rendered."""

import functools

from profiles.paper.fonts import ASCENT, AWAY, DESCENT, TOWARDS, font_in_use

__all__ = ["ASCENT", "AWAY", "CAP_HEIGHT", "DESCENT", "TOWARDS", "text_width", "with_symbol"]
CAP_HEIGHT = 0.729
"""em; height of a capital letter of DejaVu Sans, the tallest of the fonts in use."""


def with_symbol(symbol: str, words: str) -> str:
    """The words with TOWARDS or AWAY before them, or alone if the font lacks the symbol."""
    return f"{symbol} {words}" if symbol in font_in_use().symbols else words


@functools.lru_cache(maxsize=4096)
def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Width in mm of a line of text at a font size in mm.

    A character outside the table counts as a full em, which is wider than any Latin letter.
    """
    words = text.split(" ")
    # Lines are tried word by word, so the same words come again and again.
    units = sum(_word_units(word, bold) for word in words) + (len(words) - 1) * _word_units(" ", bold)
    return units * size / font_in_use().units_per_em


@functools.lru_cache(maxsize=4096)
def _word_units(word: str, bold: bool) -> int:  # noqa: FBT001 - kept by both
    font = font_in_use()
    table = font.advances[bold]
    return sum(table.get(character, font.units_per_em) for character in word)
