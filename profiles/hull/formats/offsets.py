"""A table of offsets as CSV: stations across, lines of the hull down.

    name,       River skiff                    optional
    unit,       mm                             mm, cm, m, in, ft, or feet-inches-eighths: 1-4-3 is 1 ft 4 3/8 in
    station,    0,  1,  2,  3                  names of the stations, optional
    place,      0,  90, 180, 270               of each station, from any zero, ascending; columns behind may stay blank
    keel height, sheer height, sheer half-breadth, knuckle chine height, knuckle chine half-breadth
    waterline 20                               half-breadths at that height
    buttock 30                                 heights at that half-breadth
    stem place, stem height                    points of the stem one after the other, in any columns; stern alike.
                                               Any line may have a row "place": its points are then not at stations
    corners, corners keel                      x in the columns where all lines, or this one, have a corner

A cell is blank where the line does not pass the station. Every row has as many cells as the places. Rows that begin
with # are remarks. A spreadsheet in a language with decimal commas writes semicolons between cells; both are read.
"""

import csv
import io
import math
import re
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from profiles.arrays import Bools, Floats
from profiles.errors import HullError
from profiles.units import EIGHTHS, MM_PER_IN, MM_PER_UNIT, unit_name
from profiles.values import dataclass

MOST_CELLS = 200_000
"""A table for 100 stations and 100 waterlines has a twentieth of it."""

LEAST_STATIONS = 2

FURTHEST = 1e6
"""In any unit; no hull is as large."""

BLANKS = {"", "-", "\N{EN DASH}", "\N{EM DASH}"}
"""What stands in a cell that says nothing."""

WHOLE = ("keel", "sheer")
ENDS = ("stem", "stern")
MEASURES = ("place", "height", "half-breadth")

_LEVEL = re.compile(r"(waterline|buttock)\s+(\S.*)")
_LINE = re.compile(r"(keel|sheer|stem|stern|knuckle\s+\S.*?)\s+(place|height|half-breadth)")
_CORNERS = re.compile(r"corners?(?:\s+(keel|sheer|stem|stern|knuckle\s+\S.*))?")
_EIGHTHS = re.compile(r"(\d{1,3})-(\d{1,2})-(\d)([+-]?)")
_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?")

KNOWN = "name, unit, station, place, keel, sheer, stem, stern, knuckle NAME, waterline HEIGHT, buttock BREADTH, corners"


@dataclass(frozen=True, slots=True)
class Row:
    """One row of figures."""

    number: int
    """In the file, from 1."""
    line: str
    """ "keel", "sheer", "stem", "stern", "knuckle chine", "waterline", "buttock"."""
    measure: str
    """ "place", "height" or "half-breadth"."""
    level: float | None
    """mm: height of a waterline, half-breadth of a buttock."""
    values: Floats
    """(n,) mm, one for each station, or any number for a line with a row "place"; NaN where the cell is blank."""
    label: str
    """As it stands in the table."""


@dataclass(frozen=True, slots=True)
class OffsetTable:
    """A table of offsets in mm."""

    name: str | None
    unit: str
    """ "mm", "in" ..., or EIGHTHS."""
    declared: bool
    """The table names its unit."""
    stations: tuple[str, ...]
    """Names of the stations."""
    places: Floats
    """(n,) mm, ascending."""
    rows: tuple[Row, ...]
    corners: dict[str, Bools]
    """(n,) for each line that has corners; "" stands for all."""

    def find(self, line: str, measure: str) -> Row | None:
        """The row of a line, where the table has it."""
        return next((row for row in self.rows if row.line == line and row.measure == measure), None)

    def where(self, row: Row, column: int) -> str:
        """Words for a cell; columns of figures count from 0."""
        return f"row {row.number}, column {letters(column + 1)}"


def letters(column: int) -> str:
    """A column's name in a spreadsheet, counted from 0.

    >>> letters(0), letters(25), letters(26)
    ('A', 'Z', 'AA')
    """
    name = ""
    while column >= 0:
        column, rest = divmod(column, 26)
        name, column = chr(ord("A") + rest) + name, column - 1
    return name


def read_offsets(data: bytes, unit: str | None = None) -> OffsetTable:
    """The table in a CSV file; `unit`, a key of MM_PER_UNIT, overrides the one that it names.

    Raises HullError naming row and column for whatever cannot be understood.
    """
    lines, comma = _split(data)
    head = dict(_head(lines))
    declared = "unit" in head
    word = unit or _unit(head.get("unit"))
    cells = _Cells(word, comma)
    number, places = next(((number, line) for number, line in lines if _label(line) == "place"), (0, []))
    if not places:
        message = "the table has no row that begins with 'place', which says where the stations are."
        raise HullError(message, remedy="stationer form table.csv writes a table to fill in.")
    width = len(places)
    values = cells.row(number, places)
    known = np.flatnonzero(~np.isnan(values))
    values = values[: int(known[-1]) + 1 if len(known) else 0]
    _check_places(number, values)
    rows, corners = [], {}
    for at, line in lines:
        label = _label(line)
        if label in {"name", "unit", "place"} or not label:
            continue
        _check_width(at, line, width, number)
        if label == "station":
            continue
        if match := _CORNERS.fullmatch(label):
            corners[" ".join((match[1] or "").split())] = np.array([cell.strip() not in BLANKS for cell in line[1:]])
            continue
        rows.append(_row(at, line, label, cells))
    _refuse_twins(rows)
    rows = list(_at_stations(rows, len(values)))
    names = next((line for _, line in lines if _label(line) == "station"), ["", *map(str, range(width - 1))])
    stations = tuple(name.strip() for name in names[1:])
    return OffsetTable(
        head.get("name", (0, ""))[1] or None, word, declared or unit is not None, stations, values, tuple(rows), corners
    )


_Line = tuple[int, list[str]]


def _split(data: bytes) -> tuple[list[_Line], bool]:
    """The rows with their numbers, without remarks and empty ones, and whether decimals have a comma."""
    try:
        text = data.decode("utf-16" if data[:2] in {b"\xff\xfe", b"\xfe\xff"} else "utf-8-sig")
    except UnicodeDecodeError as fault:
        message = f"expected a text in UTF-8, found byte {fault.object[fault.start]:#x} at {fault.start}."
        raise HullError(message, remedy="Save the table as CSV in UTF-8.") from None
    sample = text.partition("\nplace")[2][:10_000] or text[:10_000]
    mark = max((";", "\t", ","), key=lambda sign: sample.count(sign) * (1 if sign == "," else 2))
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=mark))
    except csv.Error as fault:
        message = f"the table cannot be split into cells ({fault})."
        raise HullError(message, remedy="Save it again as CSV.") from None
    if sum(map(len, rows)) > MOST_CELLS:
        message = f"the table has more than {MOST_CELLS:,} cells."
        raise HullError(message, remedy="Keep only the table of offsets.")
    kept = [
        (number, row)
        for number, row in enumerate(rows, 1)
        if any(map(str.strip, row)) and not row[0].lstrip().startswith("#")
    ]
    return kept, mark != ","


def _label(line: list[str]) -> str:
    words = " ".join(line[0].lower().replace("half breadth", "half-breadth").split())
    return re.sub(r"^wl\b", "waterline", words)


def _head(lines: list[_Line]) -> Iterator[tuple[str, tuple[int, str]]]:
    """Name and unit: row and text."""
    for number, line in lines:
        label = _label(line)
        if label in {"name", "unit"}:
            yield label, (number, line[1].strip() if len(line) > 1 else "")


def _unit(given: tuple[int, str] | None) -> str:
    if given is None:
        return "mm"
    number, word = given
    if word.lower() == EIGHTHS:
        return EIGHTHS
    try:
        return unit_name(word)
    except ValueError:
        known = ", ".join((*MM_PER_UNIT, EIGHTHS))
        message = f"row {number}, column B: expected a unit ({known}), found {word!r}."
        raise HullError(message, remedy="For example: unit,mm.") from None


@dataclass(frozen=True, slots=True)
class _Cells:
    """How cells are read."""

    unit: str
    comma: bool

    def row(self, number: int, line: list[str]) -> Floats:
        """(n,) mm of a row's figures; NaN for blank cells."""
        return np.array(
            [self.cell(cell.strip(), f"row {number}, column {letters(n)}") for n, cell in enumerate(line[1:], 1)]
        )

    def cell(self, text: str, where: str) -> float:
        """One figure in mm. Raises HullError."""
        if text in BLANKS:
            return math.nan
        plain = text.replace(",", ".") if self.comma else text
        if self.unit == EIGHTHS and text != "0":
            match = _EIGHTHS.fullmatch(text)
            if match is None or int(match[2]) > 11 or int(match[3]) > 7:  # noqa: PLR2004 - inches in a foot, eighths
                message = f"{where}: expected feet-inches-eighths such as 1-4-3, found {text[:40]!r}."
                raise HullError(message, remedy="If a spreadsheet made a date of it, format the cells as text.")
            sixteenth = {"+": 1, "-": -1, "": 0}[match[4]]
            return (12 * int(match[1]) + int(match[2]) + int(match[3]) / 8 + sixteenth / 16) * MM_PER_IN
        if _NUMBER.fullmatch(plain) is None or not math.isfinite(float(plain)):
            remedy = "Leave the cell blank where the line does not pass the station."
            if _EIGHTHS.fullmatch(text):
                remedy = f"If these are feet, inches and eighths, say so: unit,{EIGHTHS}."
            message = f"{where}: expected a number, found {text[:40]!r}."
            raise HullError(message, remedy=remedy)
        if abs(float(plain)) > FURTHEST:
            message = f"{where}: {text[:40]} is larger than any hull."
            raise HullError(message, remedy="Check the figure.")
        # Rounded as other lengths are, so that 1.1 in is 27.94 mm.
        return round(float(plain) * MM_PER_UNIT.get(self.unit, 1.0), 9)


def _check_places(number: int, values: Floats) -> None:
    """Raises HullError for too few stations, blank places, and stations out of order."""
    if len(values) < LEAST_STATIONS:
        message = f"row {number}: expected the places of at least {LEAST_STATIONS} stations, found {len(values)}."
        raise HullError(message, remedy="Give one in each column.")
    for column, value in enumerate(values):
        if math.isnan(value):
            message = f"row {number}, column {letters(column + 1)}: the station has no place."
            raise HullError(message, remedy="Give its distance along the hull, or take the column out.")
        if column and value <= values[column - 1]:
            message = (
                f"row {number}, column {letters(column + 1)}: the stations are out of order, {value:g} mm after "
                f"{values[column - 1]:g} mm."
            )
            raise HullError(message, remedy="Sort the columns by their places, from one end of the hull to the other.")


def _check_width(number: int, line: list[str], width: int, first: int) -> None:
    if len(line) != width:
        cells = f"{len(line)} cell{'s' * (len(line) > 1)}"
        message = f"row {number} ({line[0].strip()[:40]}) has {cells}, but row {first} (place) has {width}."
        raise HullError(message, remedy="Give every row as many cells; leave blank those that the line does not pass.")


def _row(number: int, line: list[str], label: str, cells: _Cells) -> Row:
    """A row of figures by its label. Raises HullError."""
    level, words = None, line[0].strip()
    if match := _LEVEL.fullmatch(label):
        name, measure = match[1], "half-breadth" if match[1] == "waterline" else "height"
        level = cells.cell(line[0].strip().split(maxsplit=1)[1], f"row {number}, column A")
    elif match := _LINE.fullmatch(label):
        name, measure = match[1], match[2]
    else:
        message = f"row {number}, column A: expected one of {KNOWN}, found {words[:40]!r}."
        raise HullError(message, remedy="A line has rows such as 'sheer height' and 'sheer half-breadth'.")
    values = cells.row(number, line)
    negative = np.flatnonzero(values < 0)
    if measure == "half-breadth" and len(negative):
        where = f"row {number}, column {letters(int(negative[0]) + 1)}"
        message = f"{where}: a half-breadth cannot be below zero, found {line[negative[0] + 1].strip()}."
        raise HullError(message, remedy="Half-breadths are distances from the centre plane.")
    return Row(number, name, measure, level, values, words)


def _at_stations(rows: list[Row], stations: int) -> Iterator[Row]:
    """The rows; those of figures at stations have one for each. Raises HullError for a figure without a station."""
    placed = {row.line for row in rows if row.measure == "place"}
    for row in rows:
        if row.line in placed:
            yield row
            continue
        beyond = np.flatnonzero(~np.isnan(row.values[stations:]))
        if len(beyond):
            where = f"row {row.number}, column {letters(stations + int(beyond[0]) + 1)}"
            message = f"{where}: there is a figure, but no station: its column has no place."
            raise HullError(
                message, remedy="Give the place in the row that begins with 'place', or take the figure out."
            )
        yield replace(row, values=row.values[:stations])


def _refuse_twins(rows: list[Row]) -> None:
    seen: dict[tuple[str, str, float | None], Row] = {}
    for row in rows:
        key = (row.line, row.measure, row.level)
        if key in seen:
            message = f"rows {seen[key].number} and {row.number} are both '{row.label}'."
            raise HullError(message, remedy="Take one of them out, or give each knuckle a name.")
        seen[key] = row
