"""Twelve jobs with 1, 2 and 4 workers, forked and spawned: which files differ, also from those of another checkout.

    python tests/bench/same_files.py [OTHER_CHECKOUT]

The other checkout, such as a worktree of an earlier commit, works with one process. Takes some minutes.
"""

import hashlib
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

MODELS = ROOT / "models"

JOBS: dict[str, list[str]] = {
    "skerrywing": ["skerrywing.toml"],
    "tandril": ["tandril.toml"],
    "pelloway": ["pelloway.toml"],
    "wickerby": ["wickerby.toml"],
    "thin foam with skin and kerf": [
        "skerrywing.stl",
        "--foam",
        "25",
        "--skin",
        "1.5",
        "--kerf",
        "1.2",
        "--wire",
        "0.4",
    ],
    "even growth, own boxes": ["skerrywing.stl", "--foam", "58", "--growth", "block", "--box", "each"],
    "no growth, no division": ["tandril.3mf", "--foam", "60", "--growth", "none", "--most", "none"],
    "fewest blocks": ["pelloway.toml", "--fit", "1.5"],
    "odd blocks at the tail": ["pelloway.glb", "--length", "300", "--foam", "30", "--odd", "tail"],
    "scaled, Letter, marks": ["wickerby.toml", "--paper", "letter", "--marks", "20", "--foam", "2in"],
    "breaks and gauges": ["skerrywing.toml", "--break", "100", "--break", "700", "--gauge", "10"],
    "no stations by shape": ["tandril.toml", "--no-shape-stations", "--foam", "40"],
}

WAYS = [(number, method) for number in (1, 2, 4) for method in ("fork", "spawn")]

RUN = """
import sys, threading, time
if sys.argv.pop(1) == "spawn":  # with a second thread there is no fork
    threading.Thread(target=time.sleep, args=(3600,), daemon=True).start()
from profiles.cli import main
main()
"""


def files_of(checkout: Path, words: list[str], number: int, method: str) -> dict[str, str]:
    """A digest of each file that `stationer make` of a checkout leaves."""
    with tempfile.TemporaryDirectory() as folder:
        source, *options = words
        command = ["make", str(MODELS / source), *options, "--out", "out", "--workers", str(number)]
        done = subprocess.run(
            [sys.executable, "-c", RUN, method, *command],
            cwd=folder,
            env={"PYTHONPATH": str(checkout), "PATH": "/usr/bin:/bin"},
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            return {f"refused: {done.stderr.strip()}": ""}
        out = Path(folder) / "out"
        return {
            str(path.relative_to(out)): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in out.rglob("*")
            if path.is_file()
        }


def difference(one: dict[str, str], other: dict[str, str]) -> str:
    """The files that differ, those of a folder counted together."""
    names = [name for name in sorted(one.keys() | other.keys()) if one.get(name) != other.get(name)]
    counts = Counter(name.split("/")[0] for name in names)
    return ", ".join(f"{name} ({count})" if count > 1 else name for name, count in counts.items()) or "none"


def main() -> None:
    """Print a line for each job: files, and what differs."""
    other = Path(sys.argv[1]).resolve() if len(sys.argv) > 1 else None
    for name, words in JOBS.items():
        runs = [files_of(ROOT, words, number, method) for number, method in WAYS]
        apart = [
            f"{number} {method}: {difference(runs[0], run)}"
            for (number, method), run in zip(WAYS, runs, strict=True)
            if run != runs[0]
        ]
        print(f"{name}: {len(runs[0])} files; other workers: {'; '.join(apart) or 'none differ'}", end="", flush=True)
        before = files_of(other, words, 1, "fork") if other else None
        print(f"; other checkout: {difference(before, runs[0])}" if before is not None else "", flush=True)


if __name__ == "__main__":
    main()
