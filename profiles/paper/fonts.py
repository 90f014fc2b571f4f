"""The font of the pages: DejaVu Sans, or another sans serif where DejaVu Sans is not installed.

The advance widths of DejaVu Sans are listed here, so that they are the same on every machine; a test compares them with
the installed font. Any other font is measured. Cairo replaces a missing font silently, so the name of the font that it
really uses is read from a small PDF.
"""

import io
import sys
from collections.abc import Mapping
from dataclasses import field
from typing import Any

from profiles import interrupts
from profiles.errors import StationerError
from profiles.notes import Note, assumption
from profiles.values import dataclass

UNITS_PER_EM = 2048
"""Units of the table of DejaVu Sans."""

MEASURED_UNITS_PER_EM = 10_000
"""Units of a measured font, rounded: the same font gives the same widths, and so the same bytes."""

ASCENT = 0.80
"""em; the tallest character of the table, an accent or a bracket, reaches 0.80 in every font that is used."""

DESCENT = 0.24
"""em; the same below the base line: g, j, p, q, y and brackets."""

SAME_WIDTH = 1e-3
"""em; any other font differs by more than this in one of the PROBES."""

SAME_HEIGHT = 5e-3
"""em; cairo rounds heights by less than this at MEASURED_SIZE."""

MEASURED_SIZE = 1000.0
"""Font size for measuring, in units of the surface; large, so that rounding is small."""

PROBES = "MiQg0&"
"""Letters that have different widths in different fonts."""

TOWARDS, AWAY = "\N{CIRCLED DOT OPERATOR}", "\N{CIRCLED TIMES}"
"""The head and the feathers of an arrow: towards you, and away from you. Many fonts do not have them."""

CHARACTERS = tuple(map(chr, range(32, 127)))
"""The characters whose widths are known; any other counts as a full em."""

_REGULAR = """
    651 821 942 1716 1303 1946 1597 563 799 799 1024 1716 651 739 651 690 1303 1303 1303 1303 1303 1303 1303
    1303 1303 1303 690 690 1716 1716 1716 1087 2048 1401 1405 1430 1577 1294 1178 1587 1540 604 604 1343 1141
    1767 1532 1612 1235 1612 1423 1300 1251 1499 1401 2025 1403 1251 1403 799 690 799 1716 1024 1024 1255 1300
    1126 1300 1260 721 1300 1298 569 569 1186 569 1995 1298 1253 1300 1300 842 1067 803 1298 1212 1675 1212 1212
    1075 1303 690 1303 1716
"""
_BOLD = """
    713 934 1067 1716 1425 2052 1786 627 936 936 1071 1716 778 850 778 748 1425 1425 1425 1425 1425 1425 1425
    1425 1425 1425 819 819 1716 1716 1716 1188 2048 1585 1561 1503 1700 1399 1399 1681 1714 762 762 1587 1305
    2038 1714 1741 1501 1741 1577 1475 1397 1663 1585 2259 1579 1483 1485 936 748 936 1716 1024 1024 1382 1466
    1214 1466 1389 891 1466 1458 702 702 1362 702 2134 1458 1407 1466 1466 1010 1219 979 1458 1335 1892 1321
    1335 1192 1458 748 1458 1716
"""


def _table(text: str) -> dict[str, int]:
    return {character: int(width) for character, width in zip(CHARACTERS, text.split(), strict=True)}


@dataclass(frozen=True, slots=True)
class Font:
    """A font and the advance widths of its characters."""

    family: str
    units_per_em: int
    advances: Mapping[bool, Mapping[str, int]]
    """bold -> character -> advance width in `units_per_em`."""
    symbols: str
    """Those of TOWARDS and AWAY that the font has."""


DEJAVU = Font("DejaVu Sans", UNITS_PER_EM, {False: _table(_REGULAR), True: _table(_BOLD)}, TOWARDS + AWAY)

SUBSTITUTES = (
    *("Arial", "Helvetica", "Liberation Sans", "Noto Sans", "Open Sans", "Roboto", "Segoe UI", "Verdana"),
    *("Nimbus Sans", "FreeSans", "Ubuntu", "Cantarell"),
)
"""Sans serif fonts, tried in this order. Windows and macOS come with the first or the second."""

STYLE_WORDS = ("", "mt", "regular", "book", "roman")
"""What may follow the family in the name of a font file: LiberationSans, ArialMT, NotoSans-Regular."""


@dataclass(slots=True)
class _Known:
    """What this process knows: the fonts found, at most one; None for no font at all."""

    fonts: list[Font | None] = field(default_factory=list)


_known = _Known()


def find_font() -> Font | None:
    """The font of this machine's pages; None without the cairo library or without any sans serif that is known."""
    if not _known.fonts:
        _known.fonts.append(_look_for_font())
    return _known.fonts[0]


def _look_for_font() -> Font | None:
    cairo = cairo_library()
    if cairo is None:
        return None
    if _is_dejavu(cairo):
        return DEJAVU
    for family in SUBSTITUTES:
        if is_of_family(_embedded_name(cairo, family), family) and _fits_labels(cairo, family):
            advances = {bold: _measure(cairo, family, bold) for bold in (False, True)}
            return Font(family, MEASURED_UNITS_PER_EM, advances, _symbols_of(cairo, family))
    return None


def cairo_library() -> Any:  # noqa: ANN401 - untyped library
    """The binding of the cairo library; None if the library is not installed."""
    try:
        with interrupts.held():  # an interrupted search for the library leaves a temporary file behind
            import cairocffi  # loads the C library
    except OSError:
        return None
    return cairocffi


def font_in_use() -> Font:
    """The font that labels are measured with; DejaVu Sans if there is none, because then nothing is drawn."""
    return find_font() or DEJAVU


def is_of_family(name: str, family: str) -> bool:
    """Whether a font name such as NotoSans-Regular is the plain style of a family."""
    plain = "".join(character for character in name.lower() if character.isalnum())
    return plain in {family.lower().replace(" ", "") + style for style in STYLE_WORDS}


def _context(cairo: Any, family: str, *, bold: bool, out: io.BytesIO | None = None) -> Any:  # noqa: ANN401
    """A context of a PDF surface with the font set at MEASURED_SIZE."""
    context = cairo.Context(cairo.PDFSurface(out, MEASURED_SIZE, MEASURED_SIZE))
    weight = cairo.FONT_WEIGHT_BOLD if bold else cairo.FONT_WEIGHT_NORMAL
    context.select_font_face(family, cairo.FONT_SLANT_NORMAL, weight)
    context.set_font_size(MEASURED_SIZE)
    return context


def _is_dejavu(cairo: Any) -> bool:  # noqa: ANN401
    """Whether the letters that cairo draws as DejaVu Sans have its widths: much faster than reading the font's name."""
    for bold, table in DEJAVU.advances.items():
        context = _context(cairo, DEJAVU.family, bold=bold)
        for letter in PROBES:
            advance = context.text_extents(letter)[4] / MEASURED_SIZE
            if abs(advance - table[letter] / UNITS_PER_EM) > SAME_WIDTH:
                return False
    return True


def _embedded_name(cairo: Any, family: str) -> str:  # noqa: ANN401
    """The name of the font that cairo embeds in a PDF for this family; empty if it embeds none."""
    import pikepdf  # slow to import

    out = io.BytesIO()
    context = _context(cairo, family, bold=False, out=out)
    context.move_to(0, MEASURED_SIZE / 2)
    context.show_text(PROBES)
    context.get_target().finish()
    with pikepdf.Pdf.open(io.BytesIO(out.getvalue())) as pdf:
        for item in pdf.objects:
            if isinstance(item, pikepdf.Dictionary) and "/BaseFont" in item:
                # The name of an embedded subset starts with six letters and a plus sign.
                return str(item["/BaseFont"]).removeprefix("/").rpartition("+")[2]
    return ""


def _fits_labels(cairo: Any, family: str) -> bool:  # noqa: ANN401
    """Whether every character stays within ASCENT and DESCENT."""
    for bold in (False, True):
        context = _context(cairo, family, bold=bold)
        for character in CHARACTERS:
            _, top, _, height, *_ = context.text_extents(character)
            if -top / MEASURED_SIZE > ASCENT + SAME_HEIGHT or (top + height) / MEASURED_SIZE > DESCENT + SAME_HEIGHT:
                return False
    return True


def _measure(cairo: Any, family: str, bold: bool) -> dict[str, int]:  # noqa: ANN401, FBT001
    """Advance widths in MEASURED_UNITS_PER_EM."""
    context = _context(cairo, family, bold=bold)
    share = MEASURED_UNITS_PER_EM / MEASURED_SIZE
    return {character: round(context.text_extents(character)[4] * share) for character in CHARACTERS}


def _symbols_of(cairo: Any, family: str) -> str:  # noqa: ANN401
    """Those of TOWARDS and AWAY that the font has in both weights; glyph 0 means that it lacks the character."""
    fonts = [_context(cairo, family, bold=bold).get_scaled_font() for bold in (False, True)]
    return "".join(
        symbol
        for symbol in (TOWARDS, AWAY)
        if all(glyph[0] for font in fonts for glyph in font.text_to_glyphs(0, 0, symbol, with_clusters=False))
    )


CAIRO_ON = {
    "darwin": "the cairo library: brew install cairo",
    "win32": (
        "the cairo library: install GTK for Windows or MSYS2's cairo package, and name the folder of libcairo-2.dll in "
        "the environment variable CAIROCFFI_DLL_DIRECTORIES"
    ),
    "": "the cairo library: apt install libcairo2 (Debian, Ubuntu), dnf install cairo (Fedora)",
}
"""Platform -> how to install the library; Linux is tested, the others are from the documentation of cairosvg and
cairocffi."""

FONT_ON = {
    "darwin": f"the font {DEJAVU.family}: brew install --cask font-dejavu",
    "win32": f"the font {DEJAVU.family}: right-click its .ttf files and choose Install",
    "": (
        f"the font {DEJAVU.family}: apt install fonts-dejavu-core (Debian, Ubuntu), dnf install dejavu-sans-fonts "
        "(Fedora)"
    ),
}
"""Platform -> how to install the font; not tested on macOS and Windows, which have Helvetica or Arial anyway."""


def missing_requirements(platform: str = sys.platform) -> list[str]:
    """What must be installed to make pages, and how; empty if nothing is missing."""
    if cairo_library() is None:
        return [CAIRO_ON.get(platform, CAIRO_ON[""])]
    if find_font() is None:
        others = ", ".join(SUBSTITUTES[:4])
        return [f"{FONT_ON.get(platform, FONT_ON[''])}; or another sans serif ({others})"]
    return []


@dataclass(frozen=True, slots=True)
class Requirements:
    """What pages are made with on this machine."""

    missing: tuple[str, ...]
    """What must be installed first, and how; empty if nothing is missing."""
    font: Font | None


def find_requirements() -> Requirements:
    """The requirements as this process finds them; another process can be spared the search with `require`."""
    return Requirements(tuple(missing_requirements()), find_font())


def require(found: Requirements) -> None:
    """Take over what a process found: labels are placed by its font. Raises StationerError with what to install."""
    if found.missing:
        msg = "Pages cannot be made on this machine."
        raise StationerError(msg, remedy=f"Install {'; and '.join(found.missing)}.")
    _known.fonts[:] = [found.font]


def check_requirements() -> None:
    """Raise StationerError with what to install if pages cannot be made."""
    require(find_requirements())


def font_notes() -> tuple[Note, ...]:
    """A note if a font other than DejaVu Sans is used."""
    family = font_in_use().family
    if family == DEJAVU.family:
        return ()
    text = f"The font {family}, because {DEJAVU.family} is not installed. The files differ from those made with it."
    return (assumption(text),)
