"""The fixed parts of every page: margins, the two bars, the title block, and the room left for templates.

The bar up the page is in a band at the left, the bar across in a band at the bottom with the title block beside it, or
above it on narrow paper. A band is 12 mm deep: what bars take from a sheet is lost to templates.
"""

from profiles.errors import PaperError
from profiles.paper.bars import DEPTH, LONG, SHORT, Bar, bar_length, scale_bar
from profiles.paper.correction import Correction
from profiles.paper.drawing import Label, Role, Stroke, line
from profiles.paper.lettering import CAP_HEIGHT, DESCENT, text_width
from profiles.paper.settings import PageSettings
from profiles.units import Paper
from profiles.values import dataclass

WARNING = "Print at 100 %. Measure both bars before cutting anything."

INSET = 0.3
"""mm inside the margin, so that line width and rounding do not reach into it."""

CLEAR = 1.6
"""mm between a band and what is beside it."""

BAND = DEPTH + CLEAR
"""mm; the depth of a band with a bar."""

TITLE_SIZE = 2.3
"""mm; about 6.5 points, legible with the sheet in the hand."""

LEADING = 2.65
"""mm from one line of the title block to the next."""

LINES = 4
"""Lines of the title block."""

BESIDE = 66.0
"""mm; the least width at which the title block fits beside the bar instead of above it."""

LARGEST_CORRECTION = 0.10
"""Share of the length; a printer that is further off has scaled the page and must be set to 100 % first."""


@dataclass(frozen=True, slots=True)
class Bands:
    """The fixed parts of one sheet of paper, mm from its upper left corner, before the printer correction."""

    paper: Paper
    correction: Correction
    bars: tuple[Bar, Bar]
    """Across and up; only these have the correction already."""
    title: tuple[float, float, float]
    """Left end, top and width of the title block."""
    rules: tuple[Stroke, ...]
    """The hairlines between the bands and the room."""
    room: tuple[float, float, float, float]
    """x, y, width and height left for templates."""


def bands(paper: Paper, settings: PageSettings) -> Bands:
    """The fixed parts of a sheet. Raises PaperError if the margins leave no room for the bars."""
    for factor, option in ((settings.correct_x, "--bar-across"), (settings.correct_y, "--bar-up")):
        if not abs(factor - 1) <= LARGEST_CORRECTION:
            msg = f"The bar would have to be drawn {factor:.3f} times as long."
            raise PaperError(msg, remedy=f"Print at 100 %, measure again, and correct at most 10 % with {option}.")
    correction = Correction(settings.correct_x, settings.correct_y, (paper.width / 2, paper.height / 2))
    left, top, right, bottom = _frame(paper, settings)
    short = bar_length(SHORT)
    inner = left + BAND
    narrow = right - inner < short  # the bar across goes below the one up the page
    begin = left if narrow else inner
    beside = right - begin >= short + 2 * CLEAR + BESIDE
    band = BAND if beside else BAND + _TITLE_HEIGHT + CLEAR
    foot = bottom - band if narrow else bottom
    if right - begin < short or foot - top < short or bottom - band <= top or settings.margin < 0:
        msg = (
            f"Two bars of {short:.1f} mm and the title block need more than {paper.name} ({paper.width:g} x "
            f"{paper.height:g} mm) has inside margins of {settings.margin:g} mm."
        )
        raise PaperError(msg, remedy="Use a larger paper or smaller margins.")
    spare = right - begin - (2 * CLEAR + BESIDE if beside else 0.0)
    across = scale_bar(begin, bottom - DEPTH / 2, LONG if spare >= bar_length(LONG) else SHORT, across=True)
    up = scale_bar(left + DEPTH / 2, foot, LONG if foot - top >= bar_length(LONG) else SHORT, across=False)
    title_left = begin + across.longest + 2 * CLEAR if beside else begin
    over, aside = bottom - band + CLEAR / 2, inner - CLEAR / 2
    rules = (
        line(Role.LABEL, (begin if narrow else aside, over), (right, over)),
        line(Role.LABEL, (aside, top), (aside, min(foot, bottom))),
    )
    title = (title_left, bottom - band + CLEAR + 0.2, right - title_left)
    room = (inner, top, right - inner, bottom - band - top)
    bars = (across.correct(correction), up.correct(correction))
    return Bands(paper, correction, bars, title, rules, room)


def _frame(paper: Paper, settings: PageSettings) -> tuple[float, float, float, float]:
    """The area inside the margins before the correction, chosen so that nothing leaves it after."""
    half_x = (paper.width / 2 - settings.margin) / max(settings.correct_x, 1.0) - INSET
    half_y = (paper.height / 2 - settings.margin) / max(settings.correct_y, 1.0) - INSET
    middle_x, middle_y = paper.width / 2, paper.height / 2
    return middle_x - half_x, middle_y - half_y, middle_x + half_x, middle_y + half_y


_TITLE_HEIGHT = (LINES - 1) * LEADING + (CAP_HEIGHT + DESCENT) * TITLE_SIZE
"""mm"""


def title_block(place: tuple[float, float, float], *, subject: str, number: str, hull: str, legend: str) -> list[Label]:
    """The lines of the title block: the warning; page number and what is on the page; hull, foam and plan; what the
    lines mean.

    Text too long for its line is set smaller, down to LEAST, and then shortened with three dots.
    """
    left, top, width = place
    base = [top + CAP_HEIGHT * TITLE_SIZE + k * LEADING for k in range(LINES)]
    warning = TITLE_SIZE * min(1.0, width / text_width(WARNING, TITLE_SIZE, bold=True))
    labels = [Label(WARNING, left, base[0], warning, bold=True), Label(number, left, base[1], TITLE_SIZE, bold=True)]
    used = text_width(number, TITLE_SIZE, bold=True) + CLEAR
    labels.append(_fitted(subject, left + used, base[1], width - used))
    labels += [_fitted(hull, left, base[2], width), _fitted(legend, left, base[3], width)]
    return [label for label in labels if label.text]


LEAST = 1.9
"""mm; the smallest text of a title block."""


def _fitted(text: str, x: float, y: float, width: float) -> Label:
    whole = text_width(text, TITLE_SIZE)
    size = TITLE_SIZE if whole <= width else max(LEAST, TITLE_SIZE * width / whole)
    return Label(shorten(text, size, width) if text else "", x, y, size)


def shorten(text: str, size: float, width: float, *, bold: bool = False) -> str:
    """The text, or as much of it as fits into `width` mm with three dots after it."""
    if text_width(text, size, bold=bold) <= width:
        return text
    while text and text_width(text + "...", size, bold=bold) > width:
        text = text[:-1]
    return text.rstrip() + "..."
