"""Text to millimetres, once, at the edge; and the sizes of paper.

Sources: 1 in = 25.4 mm exactly (CSS Values and Units, W3C; ISO 80000-3 note); A sizes ISO 216; Letter,
Legal, Tabloid and ANSI sizes ASME Y14.1; the point is 1/72 in (ISO 32000-1).
"""

import math
import re
from collections.abc import Sequence
from typing import Any

from profiles.values import dataclass

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


def number_runs(numbers: Sequence[int], digits: int = 2) -> str:
    """Runs of three or more drawn together: "01 to 05, 07"; blocks have two digits, cuts and billets one.

    >>> number_runs([7, 1, 2, 3, 8])
    '01 to 03, 07, 08'
    """
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    shortest = 3
    words = [[f"{number:0{digits}d}" for number in run] for run in runs]
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) >= shortest else ", ".join(run) for run in words)
