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

LOOK = 0.01
"""s between two looks at the memory of a program; a look itself takes as long, so runs with looks are not timed."""

FOAM = "40"
"""mm; 20 blocks of the hull to measure with."""


@dataclass(frozen=True, slots=True)
class Run:
    """One run of a program with all its processes."""

    wall: float
    """s."""
    cpu: float
    """s, user and system, of all its processes."""
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
    with log.open("wb") as sink:
        start = time.perf_counter()
        code = subprocess.run(
            command, stdout=sink, stderr=sink, cwd=HERE.parents[1], env=surroundings, check=False
        ).returncode
        wall = time.perf_counter() - start
    return Run(wall, _children_cpu() - before, code)


def memory_of(command: Sequence[str], log: Path, surroundings: Mapping[str, str]) -> float:
    """MB: the most that all processes of a command held at one time, what they share counted once.

    Where the system does not tell that, the peak of the greatest of them.
    """
    most = 0.0
    with log.open("wb") as sink:
        process = subprocess.Popen(command, stdout=sink, stderr=sink, cwd=HERE.parents[1], env=surroundings)
        done = threading.Event()
        waiting = threading.Thread(target=_wait, args=(process, done))
        waiting.start()
        while not done.wait(LOOK):
            most = max(most, sum(_held(one) for one in [process.pid, *_children(process.pid)]) / 1024)
        waiting.join()
    return most or resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / MAXRSS_PER_MB


def _wait(process: subprocess.Popen[bytes], done: threading.Event) -> None:
    process.wait()
    done.set()


def _children_cpu() -> float:
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return usage.ru_utime + usage.ru_stime


def _held(pid: int) -> int:
    """What a process holds, kB; of memory that several share, its part."""
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="ascii", errors="replace").splitlines()
    except OSError:
        return 0
    return next((int(line.split()[1]) for line in lines if line.startswith("Pss:")), 0)


def _children(pid: int) -> list[int]:
    try:
        words = Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii").split()
    except OSError:
        return []
    return [int(word) for word in words]
