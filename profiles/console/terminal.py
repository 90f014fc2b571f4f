"""Paragraphs and tables on the terminal."""

import contextlib
import re
import textwrap
from collections.abc import Callable, Iterator, Sequence

from rich.console import Console
from rich.markup import escape
from rich.table import Table
from rich.text import Text

from profiles import interrupts
from profiles.units import (
    area_units,
    in_printed_units,
    printed_unit,
    volume_unit,
)

OUT = Console(highlight=False, soft_wrap=True)
ERR = Console(stderr=True, highlight=False)


def say(text: str, style: str = "") -> None:
    """One paragraph."""
    paragraph(text, len(text), style)


def gap() -> None:
    """An empty line between groups."""
    OUT.print()


def paragraph(text: str, styled: int, style: str, indent: str = "") -> None:
    """A paragraph whose first `styled` characters have the style; on a terminal it breaks between words."""
    text = in_printed_units(text)
    if OUT.is_terminal:
        # Options such as --growth must stay whole, and so must file names.
        text = textwrap.fill(text, OUT.width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
    line = Text(text)
    if style:
        line.stylize(style, 0, styled)
    OUT.print(line)


def labelled(label: str, text: str, style: str) -> None:
    """A paragraph after a label that has the style."""
    paragraph(f"{label}: {text}", len(label) + 1, style, indent="  ")


@contextlib.contextmanager
def progress() -> Iterator[Callable[[str], None]]:
    """A changing line on a terminal's standard error."""
    with ERR.status("starting") as status, interrupts.before_end(status.stop):  # it hides the cursor
        yield lambda stage: status.update(escape(stage))


def table_of(title: str, *headings: str, left: Sequence[str] = ()) -> Table:
    """A table whose columns are right-aligned, except those in `left`."""
    table = Table(title=escape(in_printed_units(title)), title_justify="left")
    for heading in headings:
        words = re.sub(r"\bmm\b", str(printed_unit()), heading).replace("litres", volume_unit())
        table.add_column(words.replace("cm2", area_units()[0]), justify="left" if heading in left else "right")
    return table


def count_of(number: int, noun: str) -> str:
    """A number with its noun, in the plural where it is not one."""
    return f"{number:,} {noun}" + ("" if number == 1 else "s")


def plain_table(title: str, rows: Sequence[tuple[str, str, str]]) -> None:
    """Rows of a label, a value and a note without lines."""
    table = Table(title=escape(title), title_justify="left", show_header=False, box=None, pad_edge=False)
    for row in rows:
        table.add_row(*(escape(in_printed_units(cell)) for cell in row))
    OUT.print(table)
