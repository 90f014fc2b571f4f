"""The kerf test to print: two squares of 100 mm for the two faces of a scrap of foam, with instructions.

The squares are templates like all others, at full size on pages with bars, and are measured in the same way.
"""

from profiles.blocks.kerf import TEST_SIZE
from profiles.errors import PaperError
from profiles.paper.bands import bands
from profiles.paper.cover import WIDEST, Heading
from profiles.paper.drawing import Drawing, Label, Role, line, pin_hole, rectangle
from profiles.paper.flow import LEADING, TEXT, Item, panel, section, text_items
from profiles.paper.lettering import CAP_HEIGHT
from profiles.paper.nesting import CELL
from profiles.paper.pages import Page, lay_out
from profiles.paper.settings import PageSettings
from profiles.paper.sheets import GAP
from profiles.paper.template import Template

PAD = 0.5
"""mm of sheet round a square, for the width of its line."""

PIN = 3.0
"""mm; diameter of the holes for pins or nails, as on templates."""

PIN_INSET = 20.0
"""mm from the sides: far enough in that the card does not tear, and far enough apart that it does not turn."""

NARROWEST = 60.0
"""mm; the least width of a column of text beside the squares."""

TITLE_SIZE = 6.0

NO_HULL = Heading("any, this is a kerf test", "the one to be cut", "kerf test")
"""The heading of a test that is printed without a job."""

RULES = (
    "Print this page at 100 %, and lay a steel rule along both bars: 100 mm must measure 100 mm.",
    "Glue it on card. Cut out both squares on the middle of the line; each must measure {size:g} mm both ways.",
    (
        "Pin one on each face of a scrap of the same foam as the blocks and about as thick, opposite each other and "
        "both UP."
    ),
    (
        "Cut round them, all four sides, with the same wire, current and pace as the blocks will be cut. The wire "
        "burns, and the fumes harm: work in the open or with extraction. Switch off and let it go cold before you "
        "reach in."
    ),
    "With a caliper that does not squeeze the foam, measure the block half way between the squares, across and up.",
    (
        "Write the mean into the job under [template], for example kerf_test = 98.9, or make the templates with "
        "--kerf-test 98.9. The wire's diameter belongs there too: wire = 0.4, or --wire 0.4."
    ),
)

WHY = (
    "The wire rides outside the template and melts a slot wider than itself. What this block measures says how wide: "
    "kerf = {size:g} + wire - measured, in mm. Cut another when the wire, the foam, the current or the pace changes."
)

TO_FILL = ("across", "up", "mean")


def kerf_pages(settings: PageSettings, heading: Heading = NO_HULL) -> tuple[Page, ...]:
    """The test on as few pages as fit: one on A4 and Letter. Raises PaperError if the paper cannot hold the bars."""
    layouts = [lay_out(kerf_templates(width), settings, heading, cover=False) for width in _text_widths(settings)]
    return min(layouts, key=len)


def _text_widths(settings: PageSettings) -> list[float]:
    """Widths to try for the text: beside one or two squares, or the whole width, on upright paper and across."""
    widths = []
    refused: PaperError | None = None
    for paper in dict.fromkeys((settings.paper, settings.paper.turned())):
        try:
            room = bands(paper, settings).room[2]
        except PaperError as error:
            refused = refused or error
            continue
        square = TEST_SIZE + 2 * PAD + GAP + 2 * CELL
        widths += [room - square, room - 2 * square, room]
    if not widths and refused:
        raise refused
    return sorted({min(width, WIDEST) for width in widths if width >= NARROWEST})


def kerf_templates(text_width: float = WIDEST) -> tuple[Template, ...]:
    """The two squares, and the instructions as a column of text `text_width` mm wide."""
    return (_square(1), _square(2), _instructions(text_width))


def _square(number: int) -> Template:
    """A square of TEST_SIZE with its cross, two pin holes and its name, all inside the line."""
    side, middle = TEST_SIZE + 2 * PAD, PAD + TEST_SIZE / 2
    end = PAD + TEST_SIZE
    strokes = [
        rectangle(Role.CUT, PAD, PAD, TEST_SIZE, TEST_SIZE),
        line(Role.DATUM, (PAD, middle), (end, middle)),
        line(Role.DATUM, (middle, PAD), (middle, end)),
    ]
    for x in (PAD + PIN_INSET, end - PIN_INSET):
        strokes += pin_hole(x, middle, PIN)
    left, top = PAD + 6.0, PAD + 6.0 + CAP_HEIGHT * TITLE_SIZE
    below = end - 6.0
    labels = (
        Label(f"Kerf test {number}", left, top, TITLE_SIZE, bold=True),
        Label("UP", middle + 3.0, top, TITLE_SIZE, bold=True),
        Label(f"{TEST_SIZE:g} x {TEST_SIZE:g} mm", left, below, TEXT),
        Label("cut on the line", middle + 3.0, below, TEXT),
        Label("measure along", middle + 3.0, middle - 4.0 - LEADING * TEXT, TEXT),
        Label("this cross", middle + 3.0, middle - 4.0, TEXT),
    )
    drawing = Drawing(side, side, tuple(strokes), labels)
    return Template(f"kerf test {number}", drawing, (middle, middle))


def _instructions(width: float) -> Template:
    """A template without a cut line: the column of text."""
    items = [
        *text_items("How wide does the wire cut?", TITLE_SIZE, width, bold=True),
        Item(1.5),
        *text_items(WHY.format(size=TEST_SIZE), TEXT, width),
        *section("What to do", [rule.format(size=TEST_SIZE) for rule in RULES], width),
        Item(3.0),
        *[_blank(word, width) for word in TO_FILL],
    ]
    return Template("what to do", panel(items, width), (0.0, 0.0))


def _blank(word: str, width: float) -> Item:
    """A line to write a measurement on."""
    height = 2 * LEADING * TEXT
    end = min(width, NARROWEST)
    base = height - 1.0
    labels = (Label(word, 0.0, base, TEXT), Label("mm", end, base, TEXT, "end"))
    return Item(height, strokes=(line(Role.LABEL, (16.0, base + 0.6), (end - 8.0, base + 0.6)),), labels=labels)
