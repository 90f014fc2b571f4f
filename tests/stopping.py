"""Runs that are stopped while they write, each forked off a small process of its own; for `test_writing_faults`.

    python -m tests.stopping steps FOLDER one|two      stopped before every dealing with the disk in turn
    python -m tests.stopping moments FOLDER 50         killed at so many moments

Prints what was found in the folder after each, as JSON; a folder that is not whole, or a trace that the next run does
not take away, ends it with an error.
"""

import json
import os
import shutil
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

from profiles.folder import check_free, exchange_names, write_whole

EVENTS = frozenset((
    "open", "os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.scandir", "os.listdir", "os.chmod", "shutil.rmtree",
    "ctypes.dlsym", "fcntl.flock",
))  # fmt: skip
"""What Python tells of every dealing with the disk before it happens (its audit events)."""

STOPPED = 9
"""Exit code of a run that was stopped."""


def content(mark: str, templates: int = 6, size: int = 2000) -> dict[str, bytes]:
    """A result whose every file tells which run it is from."""
    files = {f"templates/{n:02d}-fore.svg": mark.encode() * size for n in range(templates)}
    files |= {"pages/page-01.svg": mark.encode(), "templates.pdf": mark.encode() * 3 * size}
    return files | {"report.json": f'{{"fingerprint": "{mark}"}}'.encode()}


def held(place: Path) -> dict[str, bytes]:
    """What a folder holds."""
    return {str(path.relative_to(place)): path.read_bytes() for path in place.rglob("*") if path.is_file()}


def names(parent: Path) -> list[str]:
    """Everything beside the output folder, hidden things too."""
    return sorted(item.name for item in parent.iterdir())


def no_exchange(_first: Path, _second: Path) -> bool:
    """What a system says that cannot exchange two folders in one step."""
    return False


def forked(work: Callable[[], object]) -> int:
    """The number of a process that does the work and ends."""
    number = os.fork()
    if number:
        return number
    try:
        work()
    except BaseException:  # noqa: BLE001 - it must not come back into the process that it was forked off
        os._exit(1)
    os._exit(0)


def whole(out: Path, allowed: list[dict[str, bytes]], place: str) -> dict[str, bytes]:
    """What the folder holds, which is one of what is allowed; the next look at it leaves nothing beside it."""
    now = held(out)
    assert now in allowed, f"{place}: {sorted(now)} {names(out.parent)}"
    check_free(out)
    assert held(out) == now, place
    assert names(out.parent) == ["out"], f"{place}: {names(out.parent)}"
    return now


def steps(folder: Path, way: str) -> list[str]:
    """Stopped before its 1st, 2nd ... dealing with the disk, until a run comes to its end."""
    exchange = no_exchange if way == "two" else exchange_names
    out, seen = folder / "out", []
    for step in range(1, 400):
        shutil.rmtree(folder)
        folder.mkdir()
        write_whole(out, content("A"))

        def run(step: int = step) -> None:
            left = step

            def count(event: str, _arguments: object) -> None:
                nonlocal left
                left -= event in EVENTS
                if left == 0:
                    os._exit(STOPPED)

            sys.addaudithook(count)
            write_whole(out, content("B"), exchange=exchange)

        code = os.waitstatus_to_exitcode(os.waitpid(forked(run), 0)[1])
        assert code in (0, STOPPED), code
        away = not out.exists()
        if way == "two" and away:
            check_free(out)
        now = whole(out, [content("A"), content("B")], f"step {step}")
        seen.append("away" if away else "A" if now == content("A") else "B")
        write_whole(out, content("C"))
        assert held(out) == content("C")
        assert names(folder) == ["out"]
        if code == 0:
            break
    return seen


def moments(folder: Path, number: int) -> list[str]:
    """Killed at so many moments, from before its writing to after it."""
    size, templates = 200_000, 12
    out, seen = folder / "out", []
    old, new = content("A", templates, size), content("B", templates, size)
    write_whole(out, old)
    start = time.monotonic()
    os.waitpid(forked(lambda: write_whole(out, new)), 0)
    took = time.monotonic() - start
    for moment in range(number):
        write_whole(out, old)
        process = forked(lambda: write_whole(out, new))
        time.sleep(1.2 * moment / number * took)
        os.kill(process, signal.SIGKILL)
        os.waitpid(process, 0)
        seen.append("A" if whole(out, [old, new], f"moment {moment}") == old else "B")
    return seen


if __name__ == "__main__":
    _, kind, place, how = sys.argv
    print(json.dumps(steps(Path(place), how) if kind == "steps" else moments(Path(place), int(how))))  # noqa: T201
