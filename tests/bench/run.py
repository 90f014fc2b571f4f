"""Bench in one run on one machine: `python tests/bench/run.py [--full] [--turns 3] [--keep models/bench]`.

Three tables: slicing alone against other tools, the whole command against the plain script and the floor, and a rebuild
with another foam. Programs run as processes of their own, in turn, so that a machine that warms up or slows down is
fair to all; of each the best turn counts. Only ratios carry over to another machine. `--keep NAME` writes NAME.json and
NAME.svg; `--full` adds 5 million triangles and 320 stations.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1]))

from tests.bench.plot import Panel, bench_svg  # noqa: E402 - found by the line above
from tests.bench.whole import Run, commands, installed, measured, memory_of  # noqa: E402 - as above

TOOLS = ("stationer", "trimesh", "vtk", "manifold3d")
STATIONS = 20
"""Where triangles vary."""

SIZE = "100k"
"""Where stations vary."""

TRIANGLES = {"4k": 3948, "100k": 99748, "1M": 996700, "5M": 4999012}

Figures = dict[str, Any]


def main() -> int:
    """Run everything and print the tables; 1 when a program failed."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--full", action="store_true", help="5 million triangles and 320 stations too")
    words.add_argument("--turns", type=int, default=3)
    words.add_argument("--keep", type=Path, help="write the figures to NAME.json and the plot to NAME.svg")
    words.add_argument("--only", choices=("slicing", "whole", "rebuild"), help="one of the tables")
    words.add_argument("--write-hull", nargs=2, metavar=("SIZE", "FILE"), help=argparse.SUPPRESS)
    given = words.parse_args()
    if given.write_hull:
        _write_hull(*given.write_hull)
        return 0
    sizes = ["4k", "100k", "1M", *(["5M"] if given.full else [])]
    counts = [5, 20, 80, *([320] if given.full else [])]
    found: Figures = {"cores": os.cpu_count(), "python": sys.version.split()[0]}
    if given.only in (None, "slicing"):
        found["slicing"] = slicing(sizes, counts, given.turns)
        print(slicing_table(found["slicing"]))
    with tempfile.TemporaryDirectory() as folder:
        if given.only in (None, "whole"):
            found["whole"] = whole(sizes, given.turns, Path(folder))
            print(whole_table(found["whole"]))
        if given.only in (None, "rebuild"):
            found["rebuild"] = rebuild(sizes[1:3], given.turns, Path(folder))
            print(rebuild_table(found["rebuild"]))
    if given.keep:
        given.keep.with_suffix(".json").write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
        given.keep.with_suffix(".svg").write_text(bench_svg(panels(found), _head(found)), encoding="utf-8")
    return 1 if any(one["code"] for of_size in found.get("whole", {}).values() for one in of_size.values()) else 0


def _write_hull(size: str, file: str) -> None:
    """In a process of its own: Linux counts the memory of the parent into a child's peak, so this one stays small."""
    from tests.bench.hulls import bench_hull, write_stl

    write_stl(Path(file), bench_hull(size))


def _hull(size: str, folder: Path) -> Path:
    file = folder / f"hull-{size}.stl"
    if not file.exists():
        subprocess.run([sys.executable, __file__, "--write-hull", size, str(file)], check=True)
    return file


# ---- slicing ------------------------------------------------------------------------------------------------------


def slicing(sizes: list[str], counts: list[int], turns: int) -> Figures:
    """Size and stations, as "100k 20" -> tool -> its best figures."""
    found: Figures = {}
    for size, count in dict.fromkeys([*((size, STATIONS) for size in sizes), *((SIZE, count) for count in counts)]):
        best: dict[str, Figures] = {}
        for _ in range(turns):
            for tool in TOOLS:
                command = [sys.executable, str(HERE / "slicing.py"), tool, size, str(count)]
                own = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)
                if "missing" not in own and (tool not in best or own["wall"] < best[tool]["wall"]):
                    best[tool] = own
        found[f"{size} {count}"] = best
    return found


def slicing_table(found: Figures) -> str:
    """How many times as long as ours, which gives both limits, the others take for one."""
    lines = ["", "Slicing alone, ours with both limits at every station: how many times our time the others take"]
    lines.append(f"{'triangles':>10}{'stations':>10}" + "".join(f"{tool:>12}" for tool in TOOLS) + f"{'ours, ms':>12}")
    for key, best in found.items():
        size, count = key.split()
        ours = best["stationer"]["wall"]
        ratios = [f"{best[tool]['wall'] / ours:12.2f}" if tool in best else f"{'not there':>12}" for tool in TOOLS]
        lines.append(f"{size:>10}{count:>10}" + "".join(ratios) + f"{ours * 1e3:12.1f}")
    return "\n".join(lines)


# ---- the whole command ----------------------------------------------------------------------------------------------


def whole(sizes: list[str], turns: int, folder: Path) -> Figures:
    """Size -> program -> its best time and processor time, each by itself, and the memory of one run more."""
    found: Figures = {}
    surroundings = installed(folder / "bytecode")
    for command in commands(_hull(sizes[0], folder)).values():
        measured(command(folder / "first"), folder / "log.txt", surroundings)
    for size in sizes:
        runs: dict[str, list[Run]] = {}
        hull = _hull(size, folder)
        for turn in range(turns):
            for number, (name, command) in enumerate(commands(hull).items()):
                log = folder / "log.txt"
                run = measured(command(folder / f"out-{size}-{turn}-{number}"), log, surroundings)
                runs.setdefault(name, []).append(run)
                if run.code != 0 and turn == 0:
                    print(f"{name}: {log.read_text(encoding='utf-8', errors='replace').strip()[-600:]}")
        memory = {
            name: memory_of(command(folder / f"memory-{size}-{number}"), folder / "log.txt", surroundings)
            for number, (name, command) in enumerate(commands(hull).items())
        }
        found[size] = {
            name: {
                "wall": min(run.wall for run in own),
                "cpu": min(run.cpu for run in own),
                "memory": memory[name],
                "code": max(abs(run.code) for run in own),
            }
            for name, own in runs.items()
        }
    return found


def whole_table(found: Figures) -> str:
    """Ratios to the plain script."""
    lines = ["", "The whole command, 20 blocks: ratios to the plain script"]
    lines.append(f"{'triangles':>10}  {'':16}{'time':>8}{'cpu':>8}{'memory':>8}{'s':>10}{'MB':>8}")
    for size, of_size in found.items():
        plain = of_size["plain script"]
        for name, own in of_size.items():
            ratios = "".join(f"{own[key] / plain[key]:8.2f}" for key in ("wall", "cpu", "memory"))
            failed = "   FAILED" if own["code"] else ""
            lines.append(f"{size:>10}  {name:16}{ratios}{own['wall']:10.2f}{own['memory']:8.0f}{failed}")
    return "\n".join(lines)


# ---- rebuild ------------------------------------------------------------------------------------------------------


def rebuild(sizes: list[str], turns: int, folder: Path) -> Figures:
    """Size -> the best of each part of a first build and of one with another foam."""
    found: Figures = {}
    for size in sizes:
        command = [sys.executable, str(HERE / "rebuild.py"), str(_hull(size, folder))]
        every = [json.loads(subprocess.run(command, check=True, capture_output=True).stdout) for _ in range(turns)]
        found[size] = {part: min(own[part] for own in every) for part in every[0]}
    return found


def rebuild_table(found: Figures) -> str:
    """Shares of the first build."""
    lines = ["", "Another foam with the hull kept, one process: shares of the first build (read + build + files)"]
    lines.append(f"{'triangles':>10}{'read':>8}{'build':>8}{'files':>8}{'again':>8}{'files':>8}{'rebuild':>10}")
    for size, own in found.items():
        first = own["read"] + own["build"] + own["files"]
        parts = [own[part] / first for part in ("read", "build", "files", "again", "files_again")]
        again = (own["again"] + own["files_again"]) / first
        lines.append(f"{size:>10}" + "".join(f"{part:8.2f}" for part in parts) + f"{again:10.2f}")
    return "\n".join(lines)


# ---- plot ---------------------------------------------------------------------------------------------------------


def _head(found: Figures) -> str:
    return f"Time, both axes in powers of ten; {found['cores']} cores, Python {found['python']}"


def panels(found: Figures) -> list[Panel]:
    """What there is to plot; the unit of time is what our own slicing takes at 100k triangles and 20 stations, and for
    the whole command what the plain script takes there.
    """
    result = []
    if "slicing" in found:
        cut = found["slicing"]
        unit = cut[f"{SIZE} {STATIONS}"]["stationer"]["wall"]
        by_size = [key for key in cut if key.endswith(f" {STATIONS}")]
        by_count = sorted((key for key in cut if key.startswith(f"{SIZE} ")), key=lambda key: int(key.split()[1]))
        for title, across, keys, place in (
            (
                f"slicing, {STATIONS} stations",
                "triangles",
                by_size,
                {key: TRIANGLES[key.split()[0]] for key in by_size},
            ),
            (f"slicing, {SIZE} triangles", "stations", by_count, {key: int(key.split()[1]) for key in by_count}),
        ):
            lines = {
                tool: [(place[key], cut[key][tool]["wall"] / unit) for key in keys]
                for tool in TOOLS
                if all(tool in cut[key] for key in keys)
            }
            ticks = [(place[key], key.split()[0 if across == "triangles" else 1]) for key in keys]
            result.append(Panel(title, across, "time, stationer at 100k and 20 = 1", lines, ticks))
    if "whole" in found:
        all_of = found["whole"]
        unit = all_of[SIZE]["plain script"]["wall"]
        lines = {
            name: [(TRIANGLES[size], own[name]["wall"] / unit) for size, own in all_of.items()]
            for name in ("plain script", "stationer make")
        }
        ticks = [(TRIANGLES[size], size) for size in all_of]
        result.append(
            Panel("the whole command, 20 blocks", "triangles", "time, plain script at 100k = 1", lines, ticks)
        )
    return result


if __name__ == "__main__":
    sys.exit(main())
