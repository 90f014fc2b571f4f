"""Whole programs as processes of their own: what they take in time, processor time and memory."""

import os
import resource
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent

MAXRSS_PER_MB = 1024**2 if sys.platform == "darwin" else 1024
"""`ru_maxrss` counts bytes on macOS and kB elsewhere."""

LOOK = 0.02
"""s between two looks at the processes that a program has started."""

FOAM = "40"
"""mm; 20 blocks of the hull to measure with."""


@dataclass(frozen=True, slots=True)
class Run:
    """One run of a program with all its processes."""

    wall: float
    """s."""
    cpu: float
    """s, user and system, of all its processes."""
    memory: float
    """MB: the sum of each of its processes' own peak, which is no less than the peak of their sum. Where the system has
    no /proc, the greatest of them."""
    code: int


def commands(hull: Path) -> dict[str, Callable[[Path], list[str]]]:
    """What is run, by name: each makes its words from the folder it may write."""
    python = sys.executable
    words = [str(hull), "--foam", FOAM, "--out"]
    floor = f"import numpy, shapely; open({str(hull)!r}, 'rb').read()"
    return {
        "floor": lambda _: [python, "-c", floor],
        "plain script": lambda out: [python, str(HERE / "plain_script.py"), *words, str(out)],
        "stationer make": lambda out: [python, "-m", "profiles", "make", *words, str(out)],
    }


def installed(cache: Path) -> dict[str, str]:
    """Surroundings in which modules are compiled once, into the folder `cache`, as they are where a program has been
    installed. A first run of each program fills it.
    """
    rest = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return rest | {"PYTHONPYCACHEPREFIX": str(cache)}


def measured(command: Sequence[str], log: Path, surroundings: Mapping[str, str]) -> Run:
    """Run a command to its end; what it says goes to `log`."""
    before = _children_cpu()
    peaks: dict[int, int] = {}
    with log.open("wb") as sink:
        start = time.perf_counter()
        process = subprocess.Popen(command, stdout=sink, stderr=sink, cwd=HERE.parents[1], env=surroundings)
        done = threading.Event()
        watch = threading.Thread(target=_watch, args=(process.pid, peaks, done))
        watch.start()
        _, status, usage = os.wait4(process.pid, 0)
        wall = time.perf_counter() - start
        done.set()
        watch.join()
    process.returncode = os.waitstatus_to_exitcode(status)
    memory = max(usage.ru_maxrss / MAXRSS_PER_MB, sum(peaks.values()) / 1024)
    return Run(wall, _children_cpu() - before, memory, process.returncode)


def _children_cpu() -> float:
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return usage.ru_utime + usage.ru_stime


def _watch(pid: int, peaks: dict[int, int], done: threading.Event) -> None:
    """Keeps the peak, kB, of a process and of those it has started, for as long as they live."""
    while not done.wait(LOOK):
        for one in [pid, *_children(pid)]:
            try:
                status = Path(f"/proc/{one}/status").read_text(encoding="ascii", errors="replace")
            except OSError:
                continue
            for line in status.splitlines():
                if line.startswith("VmHWM:"):
                    peaks[one] = int(line.split()[1])


def _children(pid: int) -> list[int]:
    try:
        words = Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii").split()
    except OSError:
        return []
    return [int(word) for word in words]
