"""The table of a catalogue: a row for each task, from the figures of its report.json, as CSV."""

import csv
import io
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from enum import StrEnum
from pathlib import Path
from typing import Any

from profiles.units import Figures
from profiles.values import dataclass

SEVERITY = (0, 2, 3, 4, 130)
"""Exit codes, the worst last."""

LITRE = 1e6
"""mm3."""


class State(StrEnum):
    """What became of a task."""

    MADE = "made"
    KEPT = "kept"
    """Its folder holds the same result already."""
    FAILED = "failed"
    LEFT = "left"
    """Not begun, or not ended, because the run ended first."""


@dataclass(frozen=True, slots=True)
class Row:
    """One task and what became of it. Lengths mm, volumes mm3."""

    name: str
    source: str
    foam: float | None
    """None where nothing was made."""
    folder: str
    """Empty where nothing was made."""
    state: State
    code: int = 0
    seconds: float | None = None
    """That its making took; None where it was not made in this run."""
    fingerprint: str = ""
    length: float | None = None
    """Of the hull."""
    blocks: int | None = None
    sheets: int | None = None
    sanding: float | None = None
    """The most to sand off."""
    sanding_volume: float | None = None
    carving_volume: float | None = None
    warnings: tuple[str, ...] = ()
    message: str = ""
    """Why nothing was made."""


def printable(text: str) -> str:
    """A name as it may stand in a table: without what moves a cursor or is no character."""
    return "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)


def row_of(name: str, source: Path, folder: Path, figures: Mapping[str, Any], seconds: float | None) -> Row:
    """The row of a result by the figures of its report. Raises LookupError or TypeError for another file's figures."""
    blocks = figures["blocks"]
    return Row(
        name=printable(name),
        source=printable(str(source)),
        foam=figures["job"]["foam"]["thickness"],
        folder=str(folder),
        state=State.KEPT if seconds is None else State.MADE,
        seconds=seconds,
        fingerprint=figures["fingerprint"],
        length=figures["hull"]["length"],
        blocks=len(blocks),
        sheets=len(figures["pages"]),
        sanding=max((block["sanding"] or 0.0 for block in blocks), default=0.0),
        sanding_volume=sum(block["sanding_volume"] or 0.0 for block in blocks),
        carving_volume=sum(block["carving_volume"] or 0.0 for block in blocks),
        warnings=tuple(figures["warnings"]),
    )


def failed_row(name: str, source: Path, state: State, message: str, code: int, seconds: float | None = None) -> Row:
    """The row of a task of which nothing was made, and why."""
    names = (printable(name), printable(str(source)))
    return Row(*names, None, "", state, code, seconds, message=printable(message))


def row_figures(row: Row) -> Figures:
    """A row for other programs."""
    return asdict(row) | {"folder": printable(row.folder)}


def worst_code(rows: Iterable[Row]) -> int:
    """The exit code of all together: the most severe of any."""
    return max((row.code for row in rows), key=SEVERITY.index, default=0)


def count(rows: Iterable[Row], *states: State) -> int:
    """How many tasks came to one of these ends."""
    return sum(row.state in states for row in rows)


COLUMNS = (
    *("job", "hull_file", "state", "exit_code", "folder", "fingerprint", "foam_mm", "length_mm", "blocks", "sheets"),
    *("most_to_sand_mm", "to_sand_litres", "to_carve_litres", "seconds", "warnings", "words"),
)
"""Columns of catalogue.csv; `words` are the warnings, or the reason why nothing was made."""


def catalogue_csv(rows: Sequence[Row], root: Path) -> str:
    """All rows as CSV, always in mm and litres; folders as they are seen from `root`."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow(
            [
                row.name,
                row.source,
                row.state,
                row.code,
                printable(seen_from(root, row.folder)),
                row.fingerprint,
                _number(row.foam, 2),
                _number(row.length, 2),
                _number(row.blocks, 0),
                _number(row.sheets, 0),
                _number(row.sanding, 2),
                _number(row.sanding_volume, 4, LITRE),
                _number(row.carving_volume, 4, LITRE),
                _number(row.seconds, 2),
                len(row.warnings),
                row.message or " ".join(row.warnings),
            ]
        )
    return text.getvalue()


def _number(value: float | None, decimals: int, unit: float = 1.0) -> str:
    return "" if value is None else f"{value / unit:.{decimals}f}"


def seen_from(root: Path, folder: str) -> str:
    """The folder as it is named from the root, with slashes; where it lies on another drive, its whole name."""
    if not folder:
        return ""
    place = Path(folder).resolve()
    try:
        return Path(os.path.relpath(place, root.resolve())).as_posix()
    except ValueError:
        return place.as_posix()
