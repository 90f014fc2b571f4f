"""The output folder: whole or not at all.

Files are written into a new folder beside the old one, which takes its place by renaming. A folder that holds anything
but a former result is never replaced.
"""

import json
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from profiles.errors import FolderError

REPORT = "report.json"

OURS = {"templates.pdf", "blocks.csv", REPORT, "pages", "templates", "body.svg", "body.png", "built.stl"}
"""What a result consists of; anything else in the folder belongs to the user."""


def check_free(folder: Path) -> None:
    """Raises FolderError when the folder is not one that may be made or replaced."""
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        message = f"{folder} is not a folder"
        raise FolderError(message, remedy="Choose another with --out.")
    names = sorted(item.name for item in folder.iterdir()) if folder.exists() else []
    strange = [name for name in names if name not in OURS]
    if names and REPORT not in names:
        strange = names
    if strange:
        message = f"{folder} holds something that is not a former result: {', '.join(strange[:3])}"
        raise FolderError(message, remedy="Choose an empty or new folder with --out.")


def last_report(folder: Path) -> dict[str, Any] | None:
    """The report of the result that the folder holds now, if it holds one that can be read."""
    try:
        report = json.loads((folder / REPORT).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return report if isinstance(report, dict) else None


def write_whole(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write the files (relative name -> bytes) as the whole content of the folder, or leave all as it was.

    Raises FolderError.
    """
    check_free(folder)
    fresh: Path | None = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
        for name, content in files.items():
            target = fresh / name
            target.parent.mkdir(exist_ok=True)
            target.write_bytes(content)
        fresh.chmod(0o777 & ~_umask())
        _take_place(fresh, folder)
    except OSError as fault:
        message = f"{folder} cannot be written: {fault.strerror or fault}"
        raise FolderError(message, remedy="Check the disk and the permissions, or choose another with --out.") from None
    finally:
        if fresh is not None:
            shutil.rmtree(fresh, ignore_errors=True)


def _take_place(fresh: Path, folder: Path) -> None:
    if not folder.exists():
        fresh.rename(folder)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
    try:
        folder.rename(old / "old")
        try:
            fresh.rename(folder)
        except OSError:
            (old / "old").rename(folder)
            raise
    finally:
        shutil.rmtree(old, ignore_errors=True)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
