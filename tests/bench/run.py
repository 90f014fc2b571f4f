"""Time a whole build against the plain script: `python tests/bench/run.py [--runs 5]`.

A closed hull of about 100,000 triangles, 20 blocks. Both programs run as processes of their own, in turn, so that a
machine that warms up or slows down is fair to both; the medians are compared. The floor is what neither can undercut:
starting the interpreter and reading the bytes of the file.
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent

LENGTH = 800.0
BLOCKS = 20
FOAM = LENGTH / BLOCKS
STATIONS, ROWS = 399, 62
"""Just under 100,000 triangles; with 399 steps no station plane but the ends falls on a row of vertices."""

MAXRSS_PER_MB = 1024**2 if sys.platform == "darwin" else 1024
"""`ru_maxrss` counts bytes on macOS and kB elsewhere."""


@dataclass(frozen=True, slots=True)
class Run:
    """One process: wall time in s, greatest resident memory in MB, and its exit code."""

    seconds: float
    memory: float
    code: int


def write_hull(file: Path) -> None:
    """Write the hull as a binary STL file; normals are left at zero, which the format allows.

    It runs in a process of its own: Linux counts the memory of the parent into a child's peak, so this one stays small.
    """
    sys.path.insert(0, str(HERE.parents[1]))
    import numpy as np  # noqa: PLC0415

    from tests.closed_forms import wigley  # noqa: PLC0415

    vertices, faces = wigley(LENGTH, 160.0, 100.0, STATIONS, ROWS)
    record = np.zeros(len(faces), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])
    record["corners"] = vertices[faces]
    file.write_bytes(b"bench hull".ljust(80) + len(faces).to_bytes(4, "little") + bytes(record.tobytes()))


def measured(command: Sequence[str], log: Path) -> Run:
    """Run a command to its end; what it says goes to `log`."""
    with log.open("wb") as sink:
        start = time.perf_counter()
        process = subprocess.Popen(command, stdout=sink, stderr=sink, cwd=HERE.parents[1])
        _, status, usage = os.wait4(process.pid, 0)
        seconds = time.perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    return Run(seconds, usage.ru_maxrss / MAXRSS_PER_MB, process.returncode)


def commands(hull: Path) -> dict[str, Callable[[Path], list[str]]]:
    """What is run, by name: each makes its words from the folder it may write."""
    python = sys.executable
    plain = str(HERE / "plain_script.py")
    foam = f"{FOAM:g}"
    return {
        "floor: interpreter + bytes": lambda _: [python, "-c", f"open({str(hull)!r}, 'rb').read()"],
        "stationer --help": lambda _: [python, "-m", "profiles", "--help"],
        "plain script": lambda out: [python, plain, str(hull), "--foam", foam, "--out", str(out)],
        "stationer make": lambda out: [
            python, "-m", "profiles", "make", str(hull), "--foam", foam, "--out", str(out)
        ],
    }  # fmt: skip


def table(results: dict[str, list[Run]]) -> str:
    """Medians, spread and ratio as lines of text; the ratio is to the plain script."""
    median = {name: statistics.median(run.seconds for run in runs) for name, runs in results.items()}
    lines = [f"{'':28}{'median s':>10}{'least s':>10}{'most s':>10}{'peak MB':>10}{'ratio':>8}"]
    for name, runs in results.items():
        seconds = [run.seconds for run in runs]
        memory = statistics.median(run.memory for run in runs)
        ratio = median[name] / median["plain script"]
        failed = "" if all(run.code == 0 for run in runs) else f"   FAILED, exit code {runs[-1].code}"
        lines.append(
            f"{name:28}{median[name]:10.3f}{min(seconds):10.3f}{max(seconds):10.3f}{memory:10.0f}{ratio:8.2f}{failed}"
        )
    return "\n".join(lines)


def main() -> int:
    """Make the hull, run everything in turn and print the table; 1 when a program failed."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--runs", type=int, default=5)
    words.add_argument("--write-hull", type=Path, help="only write the hull to this file")
    given = words.parse_args()
    if given.write_hull:
        write_hull(given.write_hull)
        return 0
    runs = given.runs
    with tempfile.TemporaryDirectory() as folder:
        room = Path(folder)
        hull = room / "bench-hull.stl"
        subprocess.run([sys.executable, __file__, "--write-hull", str(hull)], check=True)
        triangles = (hull.stat().st_size - 84) // 50
        print(f"{triangles} triangles, {BLOCKS} blocks of {FOAM:g} mm, {runs} runs each in turn")
        results: dict[str, list[Run]] = {}
        for turn in range(runs):
            for number, (name, command) in enumerate(commands(hull).items()):
                log = room / "log.txt"
                run = measured(command(room / f"out-{turn}-{number}"), log)
                results.setdefault(name, []).append(run)
                if run.code != 0 and turn == 0:
                    print(f"{name}: {log.read_text(encoding='utf-8', errors='replace').strip()[-600:]}")
    print(table(results))
    return 0 if all(run.code == 0 for of_one in results.values() for run in of_one) else 1


if __name__ == "__main__":
    sys.exit(main())
