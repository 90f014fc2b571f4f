"""The first page: how to print and check, the cautions, the page of each template, and how large templates join.

It consists of panels, columns of text and small drawings, which are placed on sheets like templates.
"""

import re
from collections.abc import Iterable, Sequence

from profiles.paper.drawing import Drawing, Label, Role, Stroke, freeze, line, rectangle
from profiles.paper.flow import LEADING, TEXT, Item, deal, head, keep_together, panel, section, text_items
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.paper.template import Template
from profiles.paper.tiling import Tiling, seams
from profiles.units import PrintUnit, number_runs, printed_unit
from profiles.values import dataclass

TITLE = "Read this first"

MEET = "How the pages meet"

WIDEST = 175.0
"""mm; the greatest width of a column: longer lines are hard to read."""

BETWEEN = 8.0
"""mm between two columns of a table."""

MAP = 53.0
MAP_OF_SOME = 37.0
MAP_OF_MANY = 22.0
"""mm; the longer side of a map of tiles: three fit side by side, four if there are more than FEW, or six."""

FEW = 3
SOME = 12

BAR_ALLOWED = 0.3
"""mm in 100 mm; paper can stretch this much with damp in a day. A larger error needs the printer correction."""

PRINT_RULES = (
    "Print this file at 100 % (also called actual size), never with fit to page, on {paper} paper.",
    (
        "On every page lay a steel rule along both bars, the one across and the one up the page. {bars}. Do not cut "
        "anything by a page before you have measured its bars."
    ),
    (
        "If a bar is wrong, note the length of its 100 mm on paper and make the templates again with --bar-across and "
        "--bar-up, for example --bar-across 99.4 --bar-up 100.5. Each direction has its own error. Then print and "
        "measure again."
    ),
    "Use sheets of one plan only. Every page and every template carries the plan's number: {plan}.",
)

CORRECTED_RULES = (
    PRINT_RULES[0],
    (
        "These pages are corrected for one printer, and in the file the bars are not 100 mm. On paper, lay a steel "
        "rule along both bars of every page. {bars}. Do not cut anything by a page before you have measured its bars."
    ),
    (
        "If a bar is still wrong, make the templates without a correction, print them, measure the bars, and make "
        "them again with --bar-across and --bar-up."
    ),
    PRINT_RULES[3],
)

WIRE_RULES = (
    (
        "A hot wire burns skin at once and can set fire to paper, dust and solvents. Keep your hands out of its way, "
        "and never leave it on unattended."
    ),
    (
        "Hot foam gives off harmful fumes. Work outdoors or with an extractor. Cut only foam whose maker says that it "
        "may be cut with a hot wire; never cut polyurethane or PVC foam with one."
    ),
    (
        "Switch the supply off, and let the wire go cold, before you reach across it, change a block or touch a clamp. "
        "Use an isolated low-voltage supply with a fuse, never the mains."
    ),
    "Blades cut hands: cut templates on a firm board, away from the hand that holds them.",
    (
        "The data sheets of the makers of foam, wire, supply and adhesive, your local rules and codes, and the word of "
        "a licensed electrician on the wiring come before this page."
    ),
)

CUT_RULES = (
    (
        "Equal numbers on the two templates of a block belong together. Call them out, and reach each number at the "
        "same time on both sides."
    ),
    (
        "Go evenly between the numbers, each hand at its own pace: halfway at the same time. Where a tick carries "
        "several numbers, that hand waits there until the other has passed them."
    ),
)

EVENLY = "Go evenly between the numbers."
"""What every page with numbered marks says, because the sizes of the blocks hold only for such hands."""


@dataclass(frozen=True, slots=True)
class Heading:
    """What every page names: the hull, the foam, and the fingerprint of the plan."""

    hull: str
    foam: str
    fingerprint: str
    made_with: str = ""
    """Skin, kerf and wire as used, as a sentence."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A template on the cover: its name, its tiling, and the page of each tile (row, column) that is printed."""

    template: Template
    tiling: Tiling
    tiles: tuple[tuple[tuple[int, int], int], ...]

    @property
    def pages(self) -> tuple[int, ...]:
        """The pages that show it, each once."""
        return tuple(sorted({page for _, page in self.tiles}))


def cover_panels(
    heading: Heading,
    paper: str,
    entries: Sequence[Entry],
    notes: Iterable[str],
    room: tuple[float, float],
    *,
    corrected: bool = False,
) -> tuple[Drawing, ...]:
    """The cover as panels, each as wide as `room` (width, height) mm and no higher; the last may be lower.

    The number of panels and their heights do not depend on the page numbers.
    """
    width, height = room
    rules = [
        rule.format(paper=paper, plan=heading.fingerprint, bars=_bar_words())
        for rule in (CORRECTED_RULES if corrected else PRINT_RULES)
    ]
    items = [
        *_title(heading, width),
        *section("How to print", rules, width),
        *section("Before the wire is hot", WIRE_RULES, width),
        *section("At the wire", CUT_RULES, width),
    ]
    texts = list(notes)
    if texts:
        items += section("Notes and warnings", texts, width)
    items += _contents(entries, width)
    items += _maps(entries, width, height)
    return tuple(panel(column, width) for column in deal(items, height))


def _bar_words() -> str:
    """What the bars must measure, in the unit of the builder's rule first."""
    inches = f"4 in must measure 4 in, give or take {4 * BAR_ALLOWED / 100:g} in"
    millimetres = f"100 mm must measure 100 mm, give or take {BAR_ALLOWED:g} mm"
    if printed_unit() is PrintUnit.IN:
        return f"{inches}; {millimetres}"
    return f"{millimetres}; 4 in must measure 4 in"


def _title(heading: Heading, width: float) -> list[Item]:
    title = text_items(TITLE, 7.0, width, bold=True)
    facts = [f"Hull: {heading.hull}.", f"Foam: {heading.foam}.", f"Plan: {heading.fingerprint}."]
    facts += [heading.made_with] if heading.made_with else []
    joined = " ".join(facts)
    lines = [joined] if text_width(joined, TEXT) <= width else facts
    return [*keep_together(title), *(item for text in lines for item in text_items(text, TEXT, width))]


def _contents(entries: Sequence[Entry], width: float) -> list[Item]:
    """The table of templates in as many columns as fit, row by row, so that a page may break after any row."""
    items = head("Templates", width)
    names = [entry.template.id for entry in entries]
    offset = max([text_width(name, TEXT) for name in names], default=0.0) + 5.0
    pages = max([text_width(page_words(entry.pages), TEXT) for entry in entries], default=0.0)
    cell = offset + pages + BETWEEN
    across = max(1, int((width + BETWEEN) // cell))
    rows = -(-len(entries) // across)
    height = TEXT * LEADING
    base = (height + CAP_HEIGHT * TEXT) / 2
    pitch = (width + BETWEEN) / across
    for row in range(rows):
        labels = []
        for column, entry in enumerate(entries[row * across : (row + 1) * across]):
            left = column * pitch
            labels.append(Label(entry.template.id, left, base, TEXT))
            labels.append(Label(page_words(entry.pages), left + offset, base, TEXT))
        items.append(Item(height, labels=tuple(labels)))
    if any(_SHORT_NAME.fullmatch(label.text) for entry in entries for label in entry.template.drawing.labels):
        items += [Item(1.0), *text_items(SHORT_NAMES, TEXT, width)]
    return items


SHORT_NAMES = (
    "A piece that is too small for its name carries the number of its block and a letter: F on the fore face, A on the "
    "aft face. Small letters follow from port to starboard: 7Fb is piece 07b fore. Write the plan on the back."
)

_SHORT_NAME = re.compile(r"[A-Z]?\d+[FA]([a-z]|\(\d+\))?")


def page_words(pages: Sequence[int]) -> str:
    """The pages of a template: "page 3", "pages 3, 5"."""
    return f"page {pages[0]}" if len(pages) == 1 else f"pages {number_runs(pages, 1)}"


def _maps(entries: Sequence[Entry], width: float, height: float) -> list[Item]:
    large = [entry for entry in entries if entry.tiling.sheets > 1]
    if not large:
        return []
    lead = (
        "Numbers are pages. Trim one of two neighbouring pages along the straight dashed line through the crosses, lay "
        "it on the other so that crosses of the same name meet, and tape them together. Maps are not to scale."
    )
    items = [*head(MEET, width), *keep_together(text_items(lead, TEXT, width)), Item(2.0, keep=True)]
    side = min(
        MAP if len(large) <= FEW else MAP_OF_SOME if len(large) <= SOME else MAP_OF_MANY,
        (width - BETWEEN) / 2,
        height / 2,
    )
    across = max(1, int((width + BETWEEN) // (side + BETWEEN)))
    for k in range(0, len(large), across):
        pictures = [_map(entry, side) for entry in large[k : k + across]]
        strokes: list[Stroke] = []
        labels: list[Label] = []
        for column, picture in enumerate(pictures):
            strokes += [stroke.translate(column * (side + BETWEEN), 0.0) for stroke in picture.strokes]
            labels += [label.translate(column * (side + BETWEEN), 0.0) for label in picture.labels]
        items.append(Item(max(picture.height for picture in pictures) + 4.0, tuple(strokes), tuple(labels)))
    return items


def _map(entry: Entry, side: float) -> Item:
    """The tiles of one template as a grid with the page number in each, and its cut lines as thin lines."""
    tiling, sheet = entry.tiling, entry.template.drawing
    ratio = side / max(sheet.width, sheet.height)
    top = TEXT * LEADING
    across, down = sheet.width * ratio, sheet.height * ratio
    strokes = [rectangle(Role.BOX, 0.0, top, across, down)]
    strokes += [line(Role.TRIM, (x * ratio, top), (x * ratio, top + down)) for x in seams(tiling.columns)]
    strokes += [line(Role.TRIM, (0.0, top + y * ratio), (across, top + y * ratio)) for y in seams(tiling.rows)]
    for stroke in sheet.of_role(Role.CUT):
        strokes.append(Stroke(Role.LABEL, freeze(stroke.points * ratio + (0.0, top)), stroke.closed))
    labels = [Label(entry.template.id, 0.0, CAP_HEIGHT * TEXT + 0.4, TEXT, bold=True)]
    for cell, page in entry.tiles:
        x0, y0, x1, y1 = (edge * ratio for edge in tiling.core(*cell))
        x0, x1, y0, y1 = max(x0, 0.0), min(x1, across), max(y0, 0.0), min(y1, down)
        size = min(4.0, 0.8 * (y1 - y0), 0.4 * (x1 - x0))
        base = top + (y0 + y1 + CAP_HEIGHT * size) / 2
        labels.append(Label(str(page), (x0 + x1) / 2, base, size, "middle", bold=True))
    return Item(top + down, tuple(strokes), tuple(labels))
