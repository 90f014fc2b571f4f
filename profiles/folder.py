"""The output folder: whole or not at all, whatever stops the run.

    .stationer-KEY.new    the next content, beside the folder; it takes the folder's place in one step, content and all
    .stationer-KEY.old    the last content, for a moment, where the system knows no such step
    .stationer-KEY.lock   held while a run writes, so that two runs do not mix; the system drops it with the process

KEY stands for the folder's name. What a killed run leaves of these, the next run into the folder finishes or takes
away. A folder that holds anything but an earlier result is never replaced.
"""

import contextlib
import hashlib
import json
import os
import re
import shutil
import sys
import time
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from profiles import interrupts
from profiles.errors import FolderError
from profiles.exchange import exchanged

REPORT = "report.json"

OURS = {
    "templates.pdf",
    "blocks.csv",
    REPORT,
    "pages",
    "templates",
    "body.svg",
    "body.png",
    "built.stl",
    "job-book.pdf",
}
"""What a result consists of; anything else in the folder belongs to the user."""

_DRAWN = re.compile(r"(page-)?\d+[-a-z0-9.]*\.svg")
"""Names in pages and templates."""

PATIENCE = 20.0
"""s; how long a run waits for another that is writing into the same folder, which takes well under a second."""

AT_ONCE = 16
"""Files brought to the disk together: one after the other takes ten times as long, as each waits for the disk."""

_PAUSE = 0.02
"""s between two looks at the lock."""

CHECK_DISK = "Check the disk and the permissions, or choose another with --out."


def check_free(folder: Path) -> None:
    """Raises FolderError when the folder is not one that may be made or replaced.

    What a run that was killed left behind is finished or taken away first.
    """
    with _told(folder):
        with contextlib.suppress(FileNotFoundError):
            folder.lstat()  # a name that no folder can have, or one below a file
        place = _place(folder)
        if place.parent.is_dir() and any(os.path.lexists(path) for path in _beside(place)):
            with _locked(place):
                _tidied(place)
        _check_free(folder)


def _check_free(folder: Path) -> None:
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        message = f"{folder} is not a folder."
        raise FolderError(message, remedy="Choose another with --out.")
    strange = _strange(folder) if folder.exists() else []
    if strange:
        message = f"{folder} holds something that is not an earlier result: {', '.join(map(ascii, strange[:3]))}."
        raise FolderError(message, remedy="Choose an empty or new folder with --out.")


def _strange(folder: Path) -> list[str]:
    """What is in the folder and was not put there by us."""
    names = sorted(item.name for item in folder.iterdir())
    return names if names and REPORT not in names else _foreign(folder)


def _foreign(folder: Path) -> list[str]:
    """Names that no result of ours has."""
    strange = sorted(item.name for item in folder.iterdir() if item.name not in OURS)
    for inner in ("pages", "templates"):
        if (folder / inner).is_dir():
            drawn = sorted(item.name for item in (folder / inner).iterdir())
            strange += [f"{inner}/{name}" for name in drawn if not _DRAWN.fullmatch(name)]
    return strange


def last_report(folder: Path) -> dict[str, Any] | None:
    """The report of the result that the folder holds now, if it holds one that can be read."""
    try:
        report = json.loads((folder / REPORT).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return None
    return report if isinstance(report, dict) else None


def write_whole(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write the files (relative name -> bytes) as the whole content of the folder, or leave all as it was.

    Killed at any moment, the old content is there whole or the new one is. Raises FolderError.
    """
    with _told(folder), _parents(folder), _locked(_place(folder)):
        place = _place(folder)
        fresh, old, _ = _beside(place)
        _tidied(place)
        _check_free(folder)
        try:
            _written(fresh, files)
            _take_place(fresh, old, place)
        except BaseException:
            _taken_away(fresh)
            raise
        for former in (fresh, old):
            _taken_away(former)


@contextlib.contextmanager
def _told(folder: Path) -> Iterator[None]:
    """Faults of the system in words."""
    try:
        yield
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        message = f"{ascii(str(folder))[1:-1]} cannot be written: {reason}."
        raise FolderError(message, remedy=CHECK_DISK) from None


@contextlib.contextmanager
def _parents(folder: Path) -> Iterator[None]:
    """The folders above it made; those that were not there before go again when anything fails."""
    missing = [path for path in folder.parents if not os.path.lexists(path)]
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        yield
    except BaseException:
        with contextlib.suppress(OSError):
            for path in missing:
                path.rmdir()
        raise


def _place(folder: Path) -> Path:
    """The folder by its parent's real path, so that it has a name and one only."""
    if folder.name in ("", ".."):
        return folder.resolve()
    return folder.parent.resolve() / folder.name


def _beside(place: Path) -> tuple[Path, Path, Path]:
    """New content, old content, lock. The key is short, so that a long name stays within what a system allows."""
    key = hashlib.sha256(os.fsencode(place.name)).hexdigest()[:12]
    fresh, old, lock = (place.parent / f".stationer-{key}.{end}" for end in ("new", "old", "lock"))
    return fresh, old, lock


def _tidied(place: Path) -> None:
    """Finish or undo what a run left that was killed: it held the lock, which is ours now."""
    fresh, old, _ = _beside(place)
    if old.is_dir() and not os.path.lexists(place):
        old.rename(place)
    for left in (fresh, old):
        _taken_away(left)


def _taken_away(left: Path) -> None:
    """Remove a folder of ours. One that holds anything else stays: somebody put that into the output folder."""
    if left.is_dir() and not left.is_symlink() and not _foreign(left):
        shutil.rmtree(left, ignore_errors=True)


# ---- writing ----------------------------------------------------------------------------------------------------


def _written(fresh: Path, files: Mapping[str, bytes]) -> None:
    """A new folder with the files in it, all of it on the disk and not only on its way there."""
    fresh.mkdir()
    inner = [fresh / name for name in files]
    for parent in dict.fromkeys(path.parent for path in inner):
        parent.mkdir(exist_ok=True)
    for name, content in files.items():
        interrupts.check()
        (fresh / name).write_bytes(content)
    with ThreadPoolExecutor(AT_ONCE) as pool:
        for waiting in [
            pool.submit(_on_disk, path) for path in [*inner, *dict.fromkeys(path.parent for path in inner)]
        ]:
            interrupts.check()
            waiting.result()
    interrupts.check()


def _on_disk(path: Path) -> None:
    if sys.platform == "win32" and path.is_dir():
        return  # a folder cannot be opened there
    handle = os.open(path, os.O_RDWR if sys.platform == "win32" else os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _take_place(fresh: Path, old: Path, place: Path) -> None:
    """The new content under the folder's name. What someone put into the folder meanwhile is not thrown away."""
    if not os.path.lexists(place):
        fresh.rename(place)
    elif exchanged(fresh, place):
        strange = _strange(fresh)
        if strange and exchanged(fresh, place):
            message = f"{place} holds something that was not there before: {', '.join(map(ascii, strange[:3]))}."
            raise FolderError(message, remedy="Take it out, or choose another folder with --out.")
    else:
        place.rename(old)
        try:
            fresh.rename(place)
        except OSError:
            old.rename(place)
            raise
    _on_disk(place.parent)


# ---- one run at a time ------------------------------------------------------------------------------------------


@contextlib.contextmanager
def _locked(place: Path) -> Iterator[None]:
    """Only one run at a time. Raises FolderError when another does not come to its end."""
    if sys.platform == "win32":
        yield
        return
    import fcntl  # noqa: PLC0415 - not on every system

    lock = _beside(place)[2]
    end = time.monotonic() + PATIENCE
    while True:
        handle = os.open(lock, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW, 0o666)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(handle)
            if time.monotonic() > end:
                message = f"another run has been writing into {place} for {PATIENCE:g} s."
                raise FolderError(message, remedy="Wait for it, end it, or choose another with --out.") from None
            interrupts.check()
            time.sleep(_PAUSE)
            continue
        except OSError:
            break  # a file system without locks
        if _is_there(handle, lock):
            break
        os.close(handle)  # the run before us took it away between our two steps
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            lock.unlink()
        os.close(handle)


def _is_there(handle: int, lock: Path) -> bool:
    """Whether the lock that we hold is the one that others will find."""
    try:
        found = lock.stat()
    except FileNotFoundError:
        return False
    return (found.st_dev, found.st_ino) == (os.fstat(handle).st_dev, os.fstat(handle).st_ino)
