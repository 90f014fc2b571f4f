"""Text to millimetres, once, at the edge; the sizes of paper; and millimetres to text, in mm or inches.

Sources: 1 in = 25.4 mm exactly (CSS Values and Units, W3C; ISO 80000-3 note); A sizes ISO 216; Letter,
Legal, Tabloid and ANSI sizes ASME Y14.1; the point is 1/72 in (ISO 32000-1).
"""

import contextlib
import math
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextvars import ContextVar
from enum import StrEnum
from fractions import Fraction
from typing import Any, TypeVar

from profiles.values import dataclass

Result = TypeVar("Result")

MM_PER_IN = 25.4
PT_PER_MM = 72.0 / MM_PER_IN

MM_PER_UNIT = {
    "um": 1e-3,
    "mm": 1.0,
    "cm": 10.0,
    "dm": 100.0,
    "m": 1000.0,
    "in": MM_PER_IN,
    "ft": 12 * MM_PER_IN,
    "yd": 36 * MM_PER_IN,
}
"""Length units by their short name, in mm."""

EIGHTHS = "feet-inches-eighths"
"""Unit of a table in which 1-4-3 is 1 ft 4 3/8 in; + or - behind it is a sixteenth more or less. Common practice."""

UNIT_ALIASES = {
    alias: unit
    for unit, aliases in (
        ("um", "micron micrometer micrometre"),
        ("mm", "millimeter millimetre"),
        ("cm", "centimeter centimetre"),
        ("dm", "decimeter decimetre"),
        ("m", "meter metre"),
        ("in", 'inch inches "'),
        ("ft", "foot feet '"),
        ("yd", "yard"),
    )
    for alias in aliases.split()
}
"""Other names of the units -> their short name."""


def unit_name(text: str) -> str:
    """The short name of a length unit ("metres" -> "m").

    Raises ValueError naming the units that are known.

    >>> unit_name("metres"), unit_name("inches")
    ('m', 'in')
    """
    word = text.strip().lower()
    for candidate in (word, word.removesuffix("s")):
        name = UNIT_ALIASES.get(candidate, candidate)
        if name in MM_PER_UNIT:
            return name
    known = ", ".join(MM_PER_UNIT)
    msg = f"expected a length unit ({known}), found {text!r}"
    raise ValueError(msg)


DECIMALS = 6
"""1e-6 mm: far finer than anything that can be cut, and still free of rounding noise."""


Figures = dict[str, Any]
"""Figures by name, as in a JSON file."""


def figure(value: float) -> float:
    """A value as a report prints it, rounded to DECIMALS and never -0.

    >>> figure(-1e-9), figure(2 / 3)
    (0.0, 0.666667)
    """
    return round(float(value), DECIMALS) + 0.0


def round_figures(figures: Figures) -> Figures:
    """The same figures with every float, at any depth, as `figure` returns it, and tuples as lists.

    >>> round_figures({"x": -0.0, "sides": (1.00000000049, 2), "name": "tail"})
    {'x': 0.0, 'sides': [1.0, 2], 'name': 'tail'}
    """
    return {key: _round(value) for key, value in figures.items()}


def _round(value: Any) -> Any:  # noqa: ANN401 - any value of a JSON file
    if isinstance(value, float):
        return figure(value)
    if isinstance(value, dict):
        return round_figures(value)
    return [_round(inner) for inner in value] if isinstance(value, list | tuple) else value


_LENGTH = re.compile(r"\s*([-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?)\s*([a-zA-Z\"']*)\s*")


def length_mm(value: str | float) -> float:
    """A length in mm from a number (mm) or from text with a unit ("1.5in", "2 ft", "40").

    Raises ValueError for anything that is not one finite number with at most one known unit.

    >>> length_mm("1.5in"), length_mm("2 ft"), length_mm(40)
    (38.1, 609.6, 40.0)
    """
    if isinstance(value, bool):
        msg = f"expected a length such as 40 or '1.5in', found {value!r}"
        raise ValueError(msg)  # noqa: TRY004 - one kind of error for every unreadable value
    if isinstance(value, int | float):
        number, unit = float(value), "mm"
    else:
        match = _LENGTH.fullmatch(value)
        if match is None:
            hint = " (write the decimal point as '.')" if "," in value else ""
            msg = f"expected a length such as 40 or '1.5in', found {value!r}{hint}"
            raise ValueError(msg)
        number, unit = float(match[1]), unit_name(match[2]) if match[2] else "mm"
    result = round(number * MM_PER_UNIT[unit], 9) if math.isfinite(number) else number
    if not math.isfinite(result):
        msg = f"expected a finite length, found {value!r}"
        raise ValueError(msg)
    return result


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet, width across and height up, mm."""

    name: str
    width: float
    height: float

    def turned(self) -> "Paper":
        """The same sheet with width and height exchanged."""
        return Paper(self.name, self.height, self.width)


PAPERS = {
    paper.name.lower(): paper
    for paper in (
        Paper("A0", 841, 1189),
        Paper("A1", 594, 841),
        Paper("A2", 420, 594),
        Paper("A3", 297, 420),
        Paper("A4", 210, 297),
        Paper("A5", 148, 210),
        Paper("Letter", 8.5 * MM_PER_IN, 11 * MM_PER_IN),
        Paper("Legal", 8.5 * MM_PER_IN, 14 * MM_PER_IN),
        Paper("Tabloid", 11 * MM_PER_IN, 17 * MM_PER_IN),
        Paper("ANSI-C", 17 * MM_PER_IN, 22 * MM_PER_IN),
        Paper("ANSI-D", 22 * MM_PER_IN, 34 * MM_PER_IN),
        Paper("ANSI-E", 34 * MM_PER_IN, 44 * MM_PER_IN),
    )
}
"""Named sheets, upright (ISO 216, ASME Y14.1)."""

SMALLEST_SHEET = 120.0
"""mm; a narrower sheet cannot hold a 100 mm bar with margins."""

LARGEST_SHEET = 5080.0
"""mm; PDF readers of common use stop at 14,400 units of 1/72 in = 5080 mm a side."""

_SIZE = re.compile(r"\s*([\d.]+)\s*(mm|in)?\s*[xX×]\s*([\d.]+)\s*(mm|in)?\s*")


def paper_named(text: str) -> Paper:
    """A sheet from its name ("A4", "letter", "ANSI C") or its size ("610x2000", "24in x 36in").

    Raises ValueError naming the known sheets, or the limits in mm.

    >>> paper_named("a4"), paper_named("24in x 36in")
    (Paper(name='A4', width=210, height=297), Paper(name='609.6x914.4', width=609.6, height=914.4))
    """
    key = text.strip().lower().replace(" ", "-").replace("_", "-")
    if key in PAPERS:
        return PAPERS[key]
    match = _SIZE.fullmatch(text)
    if match is None:
        names = ", ".join(paper.name for paper in PAPERS.values())
        msg = f"expected a paper ({names}) or a size such as 610x2000 (mm), found {text!r}"
        raise ValueError(msg)
    unit_x = match[2] or match[4] or "mm"
    unit_y = match[4] or unit_x
    width, height = length_mm(match[1] + unit_x), length_mm(match[3] + unit_y)
    for side in (width, height):
        if not SMALLEST_SHEET <= side <= LARGEST_SHEET:
            msg = (
                f"expected a paper between {SMALLEST_SHEET:g} and {LARGEST_SHEET:g} mm a side, "
                f"found {width:g} x {height:g} mm"
            )
            raise ValueError(msg)
    return Paper(f"{width:g}x{height:g}", width, height)


LETTERED = 10_000
"""Blocks of a part have this times the place of its letter in the alphabet added to 1, 2, 3, ..."""

ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def block_name(number: int, digits: int = 2) -> str:
    """A block's number as it is printed; blocks of a part have its letter before it.

    >>> block_name(3), block_name(11 * LETTERED + 3), block_name(11 * LETTERED + 3, digits=1)
    ('03', 'K03', 'K3')
    """
    letter, count = divmod(number, LETTERED)
    return f"{ALPHABET[letter - 1] if letter else ''}{count:0{digits}d}"


def number_runs(numbers: Sequence[int], digits: int = 2) -> str:
    """Runs of three or more drawn together: "01 to 05, 07"; blocks have two digits, cuts and billets one.

    >>> number_runs([7, 1, 2, 3, 8])
    '01 to 03, 07, 08'
    >>> number_runs([2, 10001, 10002, 10003])
    '02, A01 to A03'
    """
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    shortest = 3
    words = [[block_name(number, digits) for number in run] for run in runs]
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) >= shortest else ", ".join(run) for run in words)


# ---- figures as they are printed -------------------------------------------------------------------------------------


class PrintUnit(StrEnum):
    """The unit of all lengths that a person reads."""

    MM = "mm"
    IN = "in"


_PRINTED: ContextVar[PrintUnit] = ContextVar("printed", default=PrintUnit.MM)


def printed_unit() -> PrintUnit:
    """The unit in which lengths are printed now; mm unless a job says otherwise."""
    return _PRINTED.get()


def print_lengths(unit: PrintUnit) -> None:
    """Print all lengths in this unit from now on; no calculation depends on it."""
    _PRINTED.set(unit)


@contextlib.contextmanager
def print_lengths_in(unit: PrintUnit) -> Iterator[None]:
    """The same for a while."""
    token = _PRINTED.set(unit)
    try:
        yield
    finally:
        _PRINTED.reset(token)


def work_in(unit: PrintUnit, work: Callable[..., Result], *values: object) -> Result:
    """`work(*values)` with lengths printed in a unit: for another process, which does not know it."""
    with print_lengths_in(unit):
        return work(*values)


INCH_DECIMALS = 2
"""How many more decimals inches get than mm: 0.01 in is 0.25 mm."""


def bare_length(value: float, decimals: int = 1, *, shorten: bool = False) -> str:
    """A length without its unit; `decimals` are those of mm, and `shorten` leaves out zeros at the end.

    >>> bare_length(40.0), bare_length(40.0, shorten=True), bare_length(36.2911, 2)
    ('40.0', '40', '36.29')
    >>> with print_lengths_in(PrintUnit.IN):
    ...     bare_length(38.1), bare_length(38.1, shorten=True)
    ('1.500', '1.5')
    """
    if printed_unit() is PrintUnit.IN:
        value, decimals = value / MM_PER_IN, decimals + INCH_DECIMALS
    text = f"{value + 0.0:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if shorten and "." in text else text
    return text.removeprefix("-") if not text.strip("-0.") else text


def short_length(value: float) -> str:
    """A size without its unit, to a hundredth of a mm and without zeros at the end."""
    return bare_length(value, 2, shorten=True)


def length_text(value: float, decimals: int = 1, *, shorten: bool = False) -> str:
    """A length with its unit.

    >>> length_text(820.0), length_text(0.5, 2, shorten=True)
    ('820.0 mm', '0.5 mm')
    """
    return f"{bare_length(value, decimals, shorten=shorten)} {printed_unit()}"


def sizes_text(values: Iterable[float], decimals: int = 1, *, shorten: bool = False) -> str:
    """Sizes side by side with their unit.

    >>> sizes_text((1250.0, 600.0, 40.0), shorten=True)
    '1250 x 600 x 40 mm'
    """
    return " x ".join(bare_length(value, decimals, shorten=shorten) for value in values) + f" {printed_unit()}"


SIXTEENTH = MM_PER_IN / 16
"""mm."""

EXACT = 0.05
"""mm; a length this close to a sixteenth of an inch is that: nobody reads a rule more finely."""


def decimal_length(value: float) -> str:
    """A length as a scale is read, without its unit: mm with one decimal, or two if the second is not zero; inches with
    three.
    """
    return f"{value / MM_PER_IN:.3f}" if printed_unit() is PrintUnit.IN else f"{value:.2f}".removesuffix("0")


def rule_length(value: float) -> str:
    """A length that is set or cut by a rule, without its unit: as a decimal, and in inches as sixteenths too, with +
    where it is a little more and - where it is a little less.

    >>> rule_length(150.0), rule_length(36.29)
    ('150.0', '36.29')
    >>> with print_lengths_in(PrintUnit.IN):
    ...     rule_length(114.3), rule_length(110.0), rule_length(0.2)
    ('4.500 (4 1/2)', '4.331 (4 5/16+)', '0.008 (0+)')
    """
    if printed_unit() is PrintUnit.MM:
        return decimal_length(value)
    count = round(value / SIXTEENTH)
    rest = value - count * SIXTEENTH
    return f"{decimal_length(value)} ({_sixteenths(count)}{'' if abs(rest) <= EXACT else '+' if rest > 0 else '-'})"


def _sixteenths(count: int) -> str:
    """A number of sixteenths in inches: 72 -> "4 1/2"."""
    sign, count = "-" if count < 0 else "", abs(count)
    whole, part = divmod(count, 16)
    fraction = Fraction(part, 16)
    words = [str(whole)] if whole or not part else []
    return sign + " ".join([*words, *([f"{fraction.numerator}/{fraction.denominator}"] if part else [])])


LITRE = 1e6
"""mm3."""

SQUARE_CM = 1e2
"""mm2."""

SQUARE_METRE = 1e6
"""mm2."""

SQUARE_FOOT = (12 * MM_PER_IN) ** 2
"""mm2."""


def volume_unit() -> str:
    """Litres, or cubic inches."""
    return "cu in" if printed_unit() is PrintUnit.IN else "litres"


def bare_volume(value: float, decimals: int = 3) -> str:
    """A volume (mm3) without its unit; `decimals` are those of litres: a cubic inch is a 61st of one."""
    if printed_unit() is PrintUnit.IN:
        return f"{value / MM_PER_IN**3:.{max(0, decimals - 2)}f}"
    return f"{value / LITRE:.{decimals}f}"


def volume_text(value: float, decimals: int = 3) -> str:
    """A volume (mm3) with its unit.

    >>> volume_text(5_272_000.0)
    '5.272 litres'
    """
    return f"{bare_volume(value, decimals)} {volume_unit()}"


def area_units() -> tuple[str, str]:
    """The unit of small areas and that of large ones."""
    return ("sq in", "sq ft") if printed_unit() is PrintUnit.IN else ("cm2", "m2")


def bare_area(value: float, *, large: bool = False) -> str:
    """An area (mm2) without its unit, in that of small areas or in that of large ones."""
    if printed_unit() is PrintUnit.IN:
        return f"{value / SQUARE_FOOT:.2f}" if large else f"{value / MM_PER_IN**2:.0f}"
    return f"{value / SQUARE_METRE:.3f}" if large else f"{value / SQUARE_CM:.0f}"


_NUMBER = r"[-+]?\d+(?:\.\d+)?"
_BETWEEN = r"(?: x |, | to | and |/)"
_MM_TEXT = re.compile(rf"(?<![\w.])({_NUMBER}(?:{_BETWEEN}{_NUMBER})*) mm(?![\w2-9])")
_LITRE_TEXT = re.compile(rf"(?<![\w.])({_NUMBER}) litres?\b")


def large_area_text(value: float) -> str:
    """A large area, given in mm2, with its unit: m2 or sq ft."""
    return f"{bare_area(value, large=True)} {area_units()[1]}"


def in_printed_units(text: str) -> str:
    """A sentence with its lengths in mm and volumes in litres turned into the unit that is printed, with the decimals
    that these need. Sentences are made in mm where they arise; this turns them where they are read.

    >>> with print_lengths_in(PrintUnit.IN):
    ...     in_printed_units("Missing 0.25 mm of 820.0 x 95.8 mm; -2/+3 mm; 2 litres."), in_printed_units("100 mm2")
    ('Missing 0.0098 in of 32.283 x 3.772 in; -0.08/+0.12 in; 122 cu in.', '100 mm2')
    """
    if printed_unit() is PrintUnit.MM:
        return text

    def lengths(match: re.Match[str]) -> str:
        return re.sub(_NUMBER, lambda number: _in_inches(number[0]), match[1]) + " in"

    text = _MM_TEXT.sub(lengths, text)
    return _LITRE_TEXT.sub(
        lambda match: f"{float(match[1]) * LITRE / MM_PER_IN**3:.{_decimals(match[1])}f} cu in", text
    )


def _in_inches(number: str) -> str:
    if re.fullmatch(r"0\d+", number):  # the number of a block: "block 01 to 40 mm"
        return number
    decimals = len(number.partition(".")[2]) + INCH_DECIMALS
    sign = "+" if number.startswith("+") else ""
    return f"{sign}{float(number) / MM_PER_IN:.{decimals}f}"


def _decimals(litres: str) -> int:
    return max(0, len(litres.partition(".")[2]) - 2)
