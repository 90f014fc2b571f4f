"""Runs a case of the corpus and looks at everything that it may and may not do."""

import contextlib
import hashlib
import io
import json
import os
import re
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any, NoReturn
from unittest import mock

from profiles import cli
from tests.corpus.case import Case, laid_out

SECONDS = 10.0
"""s of a processor; a command over bad input that takes longer hangs."""

PATIENCE = 100.0
"""s on the clock, on a machine that has other things to do, after which it is ended."""

LONGEST_SAID = 4000
"""Signs of a message; nobody reads more."""

MOST_KIB = 2 << 20
"""KiB that it may take: 2 GB."""

ROOT = Path(__file__).parents[2]

SECRET = b"what lies outside is nobody's business"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a command did."""

    code: int
    out: str
    err: str
    seconds: float
    """Of a processor."""
    kib: int
    """Largest memory."""


def set_up(case: Case, folder: Path) -> dict[str, tuple[str, bytes]]:
    """The files of a case laid out in `work`, with `secret.bin` beside that; what lies there then."""
    work = folder / "work"
    work.mkdir()
    (folder / "tmp").mkdir()
    (folder / "secret.bin").write_bytes(SECRET)
    laid_out(case, work)
    return snapshot(folder)


def run(case: Case, folder: Path) -> Outcome:
    """The outcome of a case whose files are laid out."""
    return _alone(case, folder / "work") if case.alone else _here(case, folder / "work")


def _alone(case: Case, work: Path) -> Outcome:
    """In a process of its own, ended when it takes too long."""
    environment = os.environ | {"PYTHONPATH": str(ROOT), "TMPDIR": str(work.parent / "tmp"), "COLUMNS": "200"}
    command = [sys.executable, "-W", "error", "-c", _MEASURED, str(work.parent / "peak"), *case.words]
    with (work.parent / "out").open("w+b") as out, (work.parent / "err").open("w+b") as err:
        process = subprocess.Popen(command, cwd=work, env=environment, stdout=out, stderr=err, stdin=subprocess.DEVNULL)
        with _limit(PATIENCE):
            try:
                _, status, used = os.wait4(process.pid, 0)
            except _TooLongError:
                process.kill()
                _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        texts = []
        for stream in (out, err):
            stream.seek(0)
            texts.append(stream.read().decode("utf-8", "replace"))
    peak = work.parent / "peak"
    kib = int(peak.read_text(encoding="ascii")) if peak.exists() else 0
    for name in ("out", "err", "peak"):
        (work.parent / name).unlink(missing_ok=True)
    return Outcome(process.returncode, texts[0], texts[1], used.ru_utime + used.ru_stime, kib)


_MEASURED = """
import atexit, pathlib, runpy, sys
target = pathlib.Path(sys.argv.pop(1))
def peak():
    lines = pathlib.Path("/proc/self/status").read_text().splitlines()
    target.write_text(next(line for line in lines if line.startswith("VmHWM")).split()[1])
if pathlib.Path("/proc/self/status").exists():
    atexit.register(peak)
runpy.run_module("profiles", run_name="__main__", alter_sys=True)
"""
"""The command, which leaves its largest memory in a file. What the system tells of it counts the memory of the process
that started it."""


def _peak() -> int:
    """KiB, largest memory of this process since `_forget_peak`."""
    status = Path("/proc/self/status")
    if not status.exists():
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    line = next(line for line in status.read_text(encoding="ascii").splitlines() if line.startswith("VmHWM"))
    return int(line.split()[1])


def _forget_peak() -> None:
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")


class _TooLongError(Exception):
    """It hangs."""


@contextlib.contextmanager
def _limit(seconds: float) -> Iterator[None]:
    def ring(_signal: int, _frame: FrameType | None) -> NoReturn:
        raise _TooLongError

    before = signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def _here(case: Case, work: Path) -> Outcome:
    """In this process, which has the libraries loaded; with one core no second process is started."""
    out, err = (
        io.TextIOWrapper(io.BytesIO(), encoding="utf-8", errors="surrogateescape", newline="") for _ in range(2)
    )
    _forget_peak()
    start = time.process_time()
    code = 0
    patches = (
        mock.patch.object(sys, "argv", ["stationer", *case.words]),
        mock.patch.dict(os.environ, {"TMPDIR": str(work.parent / "tmp"), "COLUMNS": "200"}),
        mock.patch("os.cpu_count", return_value=1),
        mock.patch("tempfile.tempdir", str(work.parent / "tmp")),
    )
    with contextlib.ExitStack() as stack:
        for patch in patches:
            stack.enter_context(patch)
        stack.enter_context(contextlib.chdir(work))
        stack.enter_context(contextlib.redirect_stdout(out))
        stack.enter_context(contextlib.redirect_stderr(err))
        stack.enter_context(_limit(PATIENCE))
        try:
            cli.main()
        except _TooLongError:
            code = -1
        except SystemExit as left:
            code = left.code if isinstance(left.code, int) else 1 if left.code else 0
    seconds = time.process_time() - start
    texts = []
    for stream in (out, err):
        stream.flush()
        texts.append(stream.buffer.getvalue().decode("utf-8", "replace"))
    return Outcome(code, texts[0], texts[1], seconds, _peak())


def snapshot(folder: Path) -> dict[str, tuple[str, bytes]]:
    """Everything in a folder but the output folder: kind and a digest of the content by name."""
    seen: dict[str, tuple[str, bytes]] = {}
    for parent, folders, names in os.walk(folder):
        if Path(parent) == folder / "work" and "out" in folders:
            folders.remove("out")
        for name in (*folders, *names):
            path = Path(parent) / name
            if path.is_symlink():
                seen[str(path)] = ("link", os.fsencode(path.readlink()))
            elif path.is_file():
                seen[str(path)] = ("file", hashlib.sha256(path.read_bytes()).digest())
            else:
                seen[str(path)] = ("folder" if path.is_dir() else "other", b"")
    return seen


def faults(case: Case, outcome: Outcome, folder: Path) -> list[str]:
    """What is wrong with an outcome, in words; nothing when it is as it must be."""
    found = []
    if outcome.code != case.code:
        found.append(f"expected exit code {case.code}, found {outcome.code}")
    said = outcome.out + outcome.err if case.code == 0 else outcome.err
    found += [f"{words!r} is not said" for words in case.says if words.lower() not in said.lower()]
    if "Traceback" in said or "Warning" in outcome.err:
        found.append("it shows its insides")
    if outcome.seconds > SECONDS:
        found.append(f"it took {outcome.seconds:.1f} s")
    if outcome.kib > MOST_KIB:
        found.append(f"it took {outcome.kib / MOST_KIB * 2:.2f} GB")
    if case.code and (folder / "work" / "out").exists():
        found.append("an output folder was left behind")
    if len(outcome.err) > LONGEST_SAID:
        found.append(f"the message is {len(outcome.err):,} signs long")
    if case.code and not re.search(r"\S{3}", outcome.err):
        found.append("nothing was said")
    if SECRET.decode() in said:
        found.append("it tells what lies outside")
    if case.size and outcome.code == 0:
        found += _size_faults(case.size, json.loads(outcome.out))
    return found


def _size_faults(size: tuple[float, float, float], figures: dict[str, Any]) -> list[str]:
    hull = figures.get("hull", figures)
    found = (hull["length"], hull["breadth"], hull["depth"])
    near = all(
        abs(a - b) <= 1e-3 * max(size) * (abs(b - round(b)) > 0) + 0.02 for a, b in zip(found, size, strict=True)
    )
    return [] if near else [f"expected {size} mm, found {found}"]
