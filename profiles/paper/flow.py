"""Text in columns: lines and small drawings with their heights, divided into columns or pages.

Item      a line, a small drawing or a gap; it can be kept on one page with the item after it
deal      divide items into columns of one height; the head of a table is repeated where the table breaks
panel     one column as a drawing
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from profiles.paper.drawing import Area, Drawing, Label, Role, Stroke, line, translate_areas, translate_strokes
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.values import dataclass

TEXT = 3.1
"""mm; about 9 points."""

HEAD = 4.2
"""mm; the heading of a section."""

LEADING = 1.42
"""Line spacing in font sizes."""


@dataclass(frozen=True, slots=True)
class Item:
    """A line of text or a small drawing with its height in mm; `keep` keeps it with the item after it."""

    height: float
    strokes: tuple[Stroke, ...] = ()
    labels: tuple[Label, ...] = ()
    keep: bool = False
    areas: tuple[Area, ...] = ()
    repeat: "tuple[Item, ...]" = ()
    """Repeated before this item if it comes first in a column: the head of a table that breaks here."""

    @property
    def is_gap(self) -> bool:
        """Whether it is only space, with which no column starts."""
        return not (self.labels or self.strokes or self.areas)

    def shift(self, dx: float) -> "Item":
        """The item `dx` mm further right."""
        return replace(
            self,
            strokes=tuple(translate_strokes(self.strokes, dx, 0.0)),
            labels=tuple(label.translate(dx, 0.0) for label in self.labels),
            areas=tuple(translate_areas(self.areas, dx, 0.0)),
            repeat=tuple(item.shift(dx) for item in self.repeat),
        )


def deal(items: Sequence[Item], height: float, used: float = 0.0) -> list[list[Item]]:
    """Items in columns of `height` mm; items that are kept together move to the next column together.

    If `used` mm of the first column are taken, the first list holds the items below, which may be none.
    """
    columns: list[list[Item]] = [[]]
    begun = used > 0
    for k, item in enumerate(items):
        need, last = item.height, k
        while items[last].keep and last + 1 < len(items):
            last += 1
            need += items[last].height
        together = need <= height
        if (columns[-1] or begun) and used + (need if together else item.height) > height:
            columns.append([])
            used, begun = 0.0, False
        if not columns[-1]:
            if item.is_gap and not begun:
                continue
            columns[-1] += item.repeat
            used += sum(repeated.height for repeated in item.repeat)
        columns[-1].append(item)
        used += item.height
    return columns if columns[-1] else columns[:-1]


def panel(items: Sequence[Item], width: float) -> Drawing:
    """The items one below the other on a sheet `width` mm wide and as high as they are together."""
    strokes: list[Stroke] = []
    labels: list[Label] = []
    areas: list[Area] = []
    y = 0.0
    for item in items:
        strokes += translate_strokes(item.strokes, 0.0, y)
        labels += [label.translate(0.0, y) for label in item.labels]
        areas += translate_areas(item.areas, 0.0, y)
        y += item.height
    return Drawing(width, y, tuple(strokes), tuple(labels), tuple(areas))


def wrap(text: str, size: float, width: float, *, bold: bool = False) -> list[str]:
    """The text in lines of at most `width` mm, broken between words; too long a word is broken anywhere."""
    lines: list[str] = []
    current = ""
    for word in text.split():
        candidate = f"{current} {word}".strip()
        if text_width(candidate, size, bold=bold) <= width:
            current = candidate
            continue
        if current:
            lines.append(current)
        while text_width(word, size, bold=bold) > width and len(word) > 1:
            fits = [n for n in range(1, len(word)) if text_width(word[:n], size, bold=bold) <= width]
            cut = max(fits, default=1)
            lines.append(word[:cut])
            word = word[cut:]  # noqa: PLW2901 - the rest of the same word
        current = word
    return [*lines, current] if current else lines


def text_items(text: str, size: float, width: float, *, bold: bool = False, indent: float = 0.0) -> list[Item]:
    """A paragraph as lines, `indent` mm from the left."""
    height = size * LEADING
    base = (height + CAP_HEIGHT * size) / 2
    return [
        Item(height, labels=(Label(words, indent, base, size, bold=bold),))
        for words in wrap(text, size, width - indent, bold=bold)
    ]


def keep_together(items: Sequence[Item]) -> list[Item]:
    """The items, each kept with the one after it."""
    return [replace(item, keep=True) for item in items]


def section(title: str, rules: Iterable[str], width: float) -> list[Item]:
    """A heading and numbered rules below it."""
    items = head(title, width)
    texts = list(rules)
    indent = max(5.0, text_width(str(len(texts)), TEXT) + 1.0)  # numbers from 100 on are wider
    for number, rule in enumerate(texts, start=1):
        lines = text_items(rule, TEXT, width, indent=indent)
        mark = Label(str(number), 0.0, lines[0].labels[0].y, TEXT)
        items.append(replace(lines[0], labels=(mark, *lines[0].labels), keep=len(lines) > 1))
        items += keep_together(lines[1:-1]) + (lines[-1:] if len(lines) > 1 else [])
        items.append(Item(0.9))
    return items


def head(title: str, width: float) -> list[Item]:
    """Space, the heading, and a hairline below it; kept with what follows."""
    heads = keep_together(text_items(title, HEAD, width, bold=True))
    rule = Item(1.6, strokes=(line(Role.LABEL, (0.0, 0.4), (width, 0.4)),), keep=True)
    return [Item(3.0, keep=True), *heads, rule]
