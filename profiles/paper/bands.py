"""The fixed parts of every page: margins, the two bars, the title block, and the room left for templates.

The bar across is in a band at the bottom with the title block beside or above it, the bar up the page in a band at
the left. On a low, wide sheet the left band goes all the way down and the bottom band starts beside it.
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

CLEAR = 3.0
"""mm between a band and what is beside it."""

TITLE_SIZE = 2.8
"""mm; about 8 points, legible at arm's length."""

TITLE_CLEAR = 0.6
"""mm of extra room between the hairline and the title block."""

LEADING = 4.2
"""mm from one line of the title block to the next."""

BESIDE = 105.0
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
    rule: Stroke
    """The hairline over the bottom band."""
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
    width, height = right - left, bottom - top
    short, upright = bar_length(SHORT), DEPTH + CLEAR
    beside = _beside(width)
    low = height - _bottom_band(width, beside=beside) < short
    if low:
        beside = _beside(width - upright)
    band_left = left + upright if low else left
    across_size = LONG if right - band_left >= bar_length(LONG) else SHORT
    band = _bottom_band(right - band_left, beside=beside)
    up_reach = height if low else height - band
    if width < short or right - band_left < short or up_reach < short or settings.margin < 0:
        msg = (
            f"Two bars of {short:.1f} mm and the title block need more than {paper.name} ({paper.width:g} x "
            f"{paper.height:g} mm) has inside margins of {settings.margin:g} mm."
        )
        raise PaperError(msg, remedy="Use a larger paper or smaller margins.")
    across = scale_bar(band_left, bottom - DEPTH / 2, across_size, across=True)
    up_size = LONG if up_reach >= bar_length(LONG) else SHORT
    up = scale_bar(left + DEPTH / 2, bottom if low else bottom - band, up_size, across=False)
    over = bottom - band + CLEAR
    title_left = band_left + bar_length(across_size) + 2 * CLEAR if beside else band_left
    rule = line(Role.LABEL, (band_left, over - CLEAR / 2), (right, over - CLEAR / 2))
    room = (left + upright, top, right - left - upright, height - band)
    bars = (across.correct(correction), up.correct(correction))
    return Bands(paper, correction, bars, (title_left, over + TITLE_CLEAR, right - title_left), rule, room)


def _frame(paper: Paper, settings: PageSettings) -> tuple[float, float, float, float]:
    """The area inside the margins before the correction, chosen so that nothing leaves it after."""
    half_x = (paper.width / 2 - settings.margin) / max(settings.correct_x, 1.0) - INSET
    half_y = (paper.height / 2 - settings.margin) / max(settings.correct_y, 1.0) - INSET
    middle_x, middle_y = paper.width / 2, paper.height / 2
    return middle_x - half_x, middle_y - half_y, middle_x + half_x, middle_y + half_y


def _beside(width: float) -> bool:
    return width >= bar_length(LONG) + 2 * CLEAR + BESIDE


def _bottom_band(width: float, *, beside: bool) -> float:
    """Height of the bottom band with its clearances, mm."""
    if beside:
        return CLEAR + TITLE_CLEAR + max(DEPTH, _title_height(BESIDE))
    return CLEAR + TITLE_CLEAR + _title_height(width) + CLEAR / 2 + DEPTH


def _title_height(width: float) -> float:
    return (_title_lines(width) - 1) * LEADING + (CAP_HEIGHT + DESCENT) * TITLE_SIZE


def _title_lines(width: float) -> int:
    return 3 if width >= BESIDE else 4


def title_block(place: tuple[float, float, float], *, subject: str, number: str, hull: str, plan: str) -> list[Label]:
    """The lines of the title block: the warning, what is on the page, the hull and foam; page number and plan.

    Text too long for its line is shortened with three dots; the warning is set smaller instead.
    """
    left, top, width = place
    right = left + width
    base = [top + CAP_HEIGHT * TITLE_SIZE + k * LEADING for k in range(_title_lines(width))]
    wide = [(subject, number), (hull, plan)]
    narrow = [(plan, number), (subject, ""), (hull, "")]
    rows = wide if len(base) == 1 + len(wide) else narrow
    size = TITLE_SIZE * min(1.0, width / text_width(WARNING, TITLE_SIZE, bold=True))
    labels = [Label(WARNING, left, base[0], size, bold=True)]
    for y, (first, last) in zip(base[1:], rows, strict=True):
        bold = last == number and bool(last)
        used = text_width(last, TITLE_SIZE, bold=bold) + CLEAR if last else 0.0
        if first:
            labels.append(Label(shorten(first, TITLE_SIZE, width - used), left, y, TITLE_SIZE))
        if last:
            labels.append(Label(last, right, y, TITLE_SIZE, "end", bold=bold))
    return labels


def shorten(text: str, size: float, width: float, *, bold: bool = False) -> str:
    """The text, or as much of it as fits into `width` mm with three dots after it."""
    if text_width(text, size, bold=bold) <= width:
        return text
    while text and text_width(text + "...", size, bold=bold) > width:
        text = text[:-1]
    return text.rstrip() + "..."
