"""Private temporary folders: one for a running desk server, gone at its end, or at the next start after a kill.

TMP/stationer-desk-XXXX/     only its owner may look into it
    lock                     locked as long as the server lives, whatever ends it
    desk-1/ desk-2/ ...      what a bench works in
"""

import contextlib
import os
import shutil
import stat
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

PREFIX = "stationer-desk-"
LOCK = "lock"

GRACE = 60.0
"""s; a folder without a lock may belong to a server that is just starting."""


@contextlib.contextmanager
def private_folder() -> Iterator[Path]:
    """A folder that only this user can read, removed at the end; those of killed servers are removed first."""
    remove_left_behind()
    folder = Path(tempfile.mkdtemp(prefix=PREFIX))
    lock = os.open(folder / LOCK, os.O_CREAT | os.O_RDWR, 0o600)
    _take_lock(lock)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        os.close(lock)


def remove_left_behind(within: Path | None = None) -> int:
    """Remove the folders of servers that are no more; returns how many there were."""
    removed = 0
    for folder in (within or Path(tempfile.gettempdir())).glob(f"{PREFIX}*"):
        if _is_abandoned(folder):
            shutil.rmtree(folder, ignore_errors=True)
            removed += 1
    return removed


def _is_abandoned(folder: Path) -> bool:
    """Whether it is ours and nobody holds its lock."""
    try:
        facts = folder.lstat()
        if not stat.S_ISDIR(facts.st_mode) or (hasattr(os, "getuid") and facts.st_uid != os.getuid()):
            return False
        lock = os.open(folder / LOCK, os.O_RDWR | getattr(os, "O_NOFOLLOW", 0))
    except FileNotFoundError:
        return time.time() - facts.st_mtime > GRACE
    except OSError:
        return False
    try:
        return _take_lock(lock)
    finally:
        os.close(lock)


def _take_lock(lock: int) -> bool:
    """Whether nobody else has it; the system gives it back when the process ends."""
    import fcntl  # not on Windows, where no desk is opened

    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
