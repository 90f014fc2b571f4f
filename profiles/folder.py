"""The output folder: whole or not at all, whatever stops the run.

    .stationer-KEY.new    the next content, beside the folder; it takes the folder's place in one step
    .stationer-KEY.old    the last content, for a moment, where the system cannot exchange two folders in one step
    .stationer-KEY.lock   held while a run writes, so that two runs do not mix; the system drops it with the process

KEY stands for the folder's name. If a killed run leaves any of these behind, the next run into the folder finishes
them or removes them. A folder that holds anything but an earlier result is never replaced.

Linux exchanges two folders in one step. Elsewhere the old folder is renamed first, and for a moment there is none under
its name; a run that is killed then is put right by the next one. Windows has no lock: two runs into one folder at the
same time are the user's own risk there.
"""

import contextlib
import ctypes
import errno
import hashlib
import json
import os
import re
import shutil
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from profiles import interrupts
from profiles.errors import FolderError

REPORT = "report.json"

OURS = {
    "templates.pdf",
    "blocks.csv",
    REPORT,
    "pages",
    "templates",
    "body.svg",
    "body.png",
    "built.glb",
    "built.stl",
    "cards.dxf",
    "cards.svg",
    "job-book.pdf",
    *(f"{stem}.{ending}" for stem in ("drawings", "panels", "markings", "cutouts") for ending in ("pdf", "svg", "dxf")),
    "made-from.json",
    *("righting.svg", "righting.csv", "displacement.svg", "hydrostatics.csv"),
}
"""What a result consists of; anything else in the folder belongs to the user."""

Exchange = Callable[[Path, Path], bool]
"""Exchanges the names of two folders in one step; False, with nothing done, where that is not possible."""

_DRAWN = re.compile(r"(page-)?[A-Z]?\d+[-a-z0-9.]*\.(svg|dxf)")
"""Names in pages and templates."""

PATIENCE = 20.0
"""Seconds that a run waits for another that writes into the same folder, which takes well under a second."""

AT_ONCE = 16
"""Files flushed to the disk together: one after the other takes ten times as long, because each waits for the disk."""

_PAUSE = 0.02
"""Seconds between two tries to get the lock."""

CHECK_DISK = "Check the disk and the permissions, or choose another with --out."


_PORTS = [f"{port}{number}" for port in ("COM", "LPT") for number in range(1, 10)]

WINDOWS_NAMES = frozenset(("CON", "PRN", "AUX", "NUL", *_PORTS))
"""Names of devices, which no file or folder can have on Windows, with any ending."""

WINDOWS_CHARACTERS = frozenset('<>:"|?*')


def check_name(folder: Path, platform: str = sys.platform) -> None:
    """Raise FolderError for a path with a name that Windows does not allow, on Windows."""
    if platform != "win32":
        return
    for name in folder.parts[1:] if folder.anchor else folder.parts:
        device = name.split(".")[0].rstrip(" ").upper() in WINDOWS_NAMES
        ending = name not in {".", ".."} and name.endswith((" ", "."))
        if device or ending or WINDOWS_CHARACTERS & set(name) or not name.isprintable():
            message = f"Windows does not allow {name!a} as the name of a folder."
            raise FolderError(message, remedy="Choose another with --out.")


def check_free(folder: Path) -> None:
    """Raise FolderError when the folder is not one that may be made or replaced.

    If a killed run left anything behind, it is finished or removed first.
    """
    check_name(folder)
    with _report_faults(folder):
        with contextlib.suppress(FileNotFoundError):
            folder.lstat()  # a name that no folder can have, or one below a file
        place = _place(folder)
        if place.parent.is_dir() and any(os.path.lexists(path) for path in _beside(place)):
            with _lock(place, PATIENCE):
                _tidy(place)
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
    """Names in the folder that are not from a result of ours."""
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


def write_whole(
    folder: Path, files: Mapping[str, bytes], *, exchange: Exchange | None = None, patience: float = PATIENCE
) -> None:
    """Write the files (relative name -> bytes) as the whole content of the folder, or leave all as it was.

    Killed at any moment, either the old content is there whole or the new one is. `exchange` is how two folders
    exchange their names, the system's own way by default; `patience` is the wait for another run in s. Raises
    FolderError.
    """
    check_name(folder)
    with _report_faults(folder), _make_parents(folder), _lock(_place(folder), patience):
        place = _place(folder)
        fresh, old, _ = _beside(place)
        _tidy(place)
        _check_free(folder)
        try:
            _write(fresh, files)
            _take_place(fresh, old, place, exchange or exchange_names)
        except BaseException:
            with contextlib.suppress(OSError):
                _tidy(place)
            raise
        for former in (fresh, old):
            _remove(former)


@contextlib.contextmanager
def _report_faults(folder: Path) -> Iterator[None]:
    """Turn an error of the system into FolderError."""
    try:
        yield
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        message = f"{ascii(str(folder))[1:-1]} cannot be written: {reason}."
        raise FolderError(message, remedy=CHECK_DISK) from None


@contextlib.contextmanager
def _make_parents(folder: Path) -> Iterator[None]:
    """Make the folders above; when anything fails, remove those that were not there before."""
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
    """The folder by its parent's real path, so that it has exactly one name."""
    if folder.name in ("", ".."):
        return folder.resolve()
    return folder.parent.resolve() / folder.name


def lock_file(folder: Path) -> Path:
    """The file that a run holds locked while it writes into the folder."""
    return _beside(_place(folder))[2]


def _beside(place: Path) -> tuple[Path, Path, Path]:
    """New content, old content, lock. The key is short, so that a long name stays within what a system allows."""
    key = hashlib.sha256(os.fsencode(place.name)).hexdigest()[:12]
    fresh, old, lock = (place.parent / f".stationer-{key}.{end}" for end in ("new", "old", "lock"))
    return fresh, old, lock


def _tidy(place: Path) -> None:
    """Finish or undo what a killed run left behind: it held the lock, which is ours now."""
    fresh, old, _ = _beside(place)
    if old.is_dir() and not os.path.lexists(place):
        old.rename(place)
    for left in (fresh, old):
        _remove(left)


def _remove(left: Path) -> None:
    """Remove a folder of ours. One that holds anything else stays: somebody put it into the output folder."""
    if left.is_dir() and not left.is_symlink() and not _foreign(left):
        shutil.rmtree(left, ignore_errors=True)


# ---- writing ----------------------------------------------------------------------------------------------------


def _write(fresh: Path, files: Mapping[str, bytes]) -> None:
    """Make a new folder with the files in it, and wait until all of it is on the disk."""
    fresh.mkdir()
    inner = [fresh / name for name in files]
    for parent in dict.fromkeys(path.parent for path in inner):
        parent.mkdir(exist_ok=True)
    for name, content in files.items():
        interrupts.check()
        (fresh / name).write_bytes(content)
    with ThreadPoolExecutor(AT_ONCE) as pool:
        for waiting in [pool.submit(_flush, path) for path in [*inner, *dict.fromkeys(path.parent for path in inner)]]:
            interrupts.check()
            waiting.result()
    interrupts.check()


def _flush(path: Path) -> None:
    """Wait until a file or folder is on the disk."""
    if sys.platform == "win32" and path.is_dir():
        return  # a folder cannot be opened there
    handle = os.open(path, os.O_RDWR if sys.platform == "win32" else os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _take_place(fresh: Path, old: Path, place: Path, exchange: Exchange) -> None:
    """Give the new content the folder's name. What someone put into the folder meanwhile is kept."""
    if not os.path.lexists(place):
        fresh.rename(place)
    elif exchange(fresh, place):
        strange = _strange(fresh)
        if strange and exchange(fresh, place):
            raise _came_meanwhile(place, strange)
    else:
        # Looked for before the folder is away, so that it is away for as short as possible. What comes in between stays
        # in the old folder, which is then not removed.
        strange = _strange(place)
        if strange:
            raise _came_meanwhile(place, strange)
        place.rename(old)
        try:
            fresh.rename(place)
        except BaseException:
            old.rename(place)
            raise
    _flush(place.parent)


def _came_meanwhile(place: Path, strange: Sequence[str]) -> FolderError:
    message = f"{place} holds something that was not there before: {', '.join(map(ascii, strange[:3]))}."
    return FolderError(message, remedy="Take it out, or choose another folder with --out.")


_WORKING_FOLDER = -100
"""AT_FDCWD: names count from the working folder."""

_RENAME_EXCHANGE = 2
"""RENAME_EXCHANGE."""

_NOT_POSSIBLE = {errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EPERM}
"""Errors of a system or a disk that cannot exchange two folders."""


def exchange_names(first: Path, second: Path) -> bool:
    """Exchange the names of two folders in one step; False, with nothing done, where that is not possible.

    Linux has this since 3.15 as renameat2(2) with RENAME_EXCHANGE; Python has no name for it. Raises OSError where the
    system can do it and failed.
    """
    if sys.platform != "linux":
        return False
    try:
        call = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return False
    if call(_WORKING_FOLDER, os.fsencode(first), _WORKING_FOLDER, os.fsencode(second), _RENAME_EXCHANGE) == 0:
        return True
    fault = ctypes.get_errno()
    if fault in _NOT_POSSIBLE:
        return False
    raise OSError(fault, os.strerror(fault), str(second))


# ---- one run at a time ------------------------------------------------------------------------------------------


@contextlib.contextmanager
def _lock(place: Path, patience: float) -> Iterator[None]:
    """Only one run at a time. Raises FolderError when another run does not end within `patience` s."""
    if sys.platform == "win32":
        yield
        return
    import fcntl  # not on every system

    lock = lock_file(place)
    end = time.monotonic() + patience
    while True:
        handle = os.open(lock, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW, 0o666)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(handle)
            if time.monotonic() > end:
                message = f"Another run has been writing into {place} for {patience:g} s."
                raise FolderError(message, remedy="Wait for it, stop it, or choose another with --out.") from None
            interrupts.check()
            time.sleep(_PAUSE)
            continue
        except OSError:
            break  # a file system without locks
        if _is_there(handle, lock):
            break
        os.close(handle)  # the run before us removed the file between our two steps
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            lock.unlink()
        os.close(handle)


def _is_there(handle: int, lock: Path) -> bool:
    """Whether the lock that we hold is the file that other runs find."""
    try:
        state = lock.stat()
    except FileNotFoundError:
        return False
    return (state.st_dev, state.st_ino) == (os.fstat(handle).st_dev, os.fstat(handle).st_ino)
