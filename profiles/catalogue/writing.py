"""What a catalogue leaves on the disk besides the folders of its jobs, and what it finds there again."""

import json
import os
from collections.abc import Iterable, Sequence
from pathlib import Path

from profiles.catalogue.making import ORIGIN
from profiles.catalogue.rows import COLUMNS, Row, catalogue_csv
from profiles.catalogue.webpage import MARK, catalogue_html
from profiles.errors import FolderError

CSV, HTML = "catalogue.csv", "catalogue.html"

BEGINNING = 200
"""Bytes of a file that show whether it is an earlier table."""


def refuse_strange_tables(root: Path) -> None:
    """Raise FolderError where a file of the table's name is not an earlier table."""
    for name, begins in ((CSV, ",".join(COLUMNS[:4])), (HTML, MARK)):
        file = root / name
        try:
            with file.open("rb") as stream:
                beginning = stream.read(BEGINNING)
        except FileNotFoundError:
            continue
        except OSError as fault:
            message = f"{file} cannot be replaced: {fault.strerror}"
            raise FolderError(message, remedy="Choose another folder with --out.") from None
        if begins.encode() not in beginning:
            message = f"{file} is not an earlier table of jobs"
            raise FolderError(message, remedy="Rename it, or choose another folder with --out.")


def write_tables(rows: Sequence[Row], root: Path, title: str) -> tuple[Path, Path]:
    """catalogue.html and catalogue.csv in the root, each whole or not at all. Raises FolderError."""
    page, table = root / HTML, root / CSV
    try:
        root.mkdir(parents=True, exist_ok=True)
        _replace(table, [catalogue_csv(rows, root)])
        _replace(page, catalogue_html(rows, root, title))
    except OSError as fault:
        message = f"{fault.filename or root} cannot be written: {fault.strerror}"
        raise FolderError(message, remedy="Check the disk. The folders of finished jobs are complete.") from None
    return page, table


def _replace(target: Path, pieces: Iterable[str]) -> None:
    fresh = target.with_name(f".{target.name}.new")
    try:
        with fresh.open("w", encoding="utf-8", newline="") as stream:
            stream.writelines(pieces)
            stream.flush()
            os.fsync(stream.fileno())
        fresh.replace(target)
    except BaseException:
        fresh.unlink(missing_ok=True)
        raise


def is_made_from(folder: Path, key: str) -> bool:
    """Whether the folder holds, whole, what a task of this key would make."""
    try:
        origin = json.loads((folder / ORIGIN).read_text(encoding="utf-8"))
        return origin["made_from"] == key and all(
            (folder / name).stat().st_size == size for name, size in origin["files"].items()
        )
    except (OSError, ValueError, LookupError, TypeError, AttributeError):
        return False
