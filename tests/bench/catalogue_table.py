"""A catalogue against a shell loop over the same jobs, by turns in one run; and the memory of the process that writes.

python tests/bench/catalogue_table.py             40 jobs: five demo hulls at two scales with four foams
python tests/bench/catalogue_table.py 10 3        10 of them, three rounds
python tests/bench/catalogue_table.py memory 200  memory of the first process while so many small jobs are made

Seconds on the clock say something only on a machine with nothing else to do. Seconds of processors say how much work
either way is, whatever else runs.
"""

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.catalogue.calls import command, demo_jobs, environment, small_hulls

FOAMS = (40, 50, 60, 80)
PROCESSES = "2"


@dataclass(frozen=True, slots=True)
class Spent:
    """Seconds for all jobs."""

    clock: float
    processors: float


def spent(commands: list[list[str]], folder: Path) -> Spent:
    """What the commands take one after the other."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    for words in commands:
        subprocess.run(words, cwd=folder, env=environment(), stdout=subprocess.DEVNULL, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Spent(time.monotonic() - start, used)


def compare(jobs: int, rounds: int) -> None:
    """Print the ratios of each round and their medians."""
    clock, processors = [], []
    print(f"{jobs} jobs, {PROCESSES} processes, load {os.getloadavg()[0]:.1f}")
    print("round  loop: clock  processors   catalogue: clock  processors   ratio: clock  processors")
    for number in range(rounds):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            files = demo_jobs(folder)[: min(10, jobs)]
            foams = FOAMS[: -(-jobs // len(files))]
            loop = [
                command("make", file, "--foam", str(foam), "-o", f"loop/{file.stem}-{foam}", "--workers", PROCESSES)
                for file in files
                for foam in foams
            ]
            words = [word for foam in foams for word in ("--foam", str(foam))]
            catalogue = [command("make", *files, *words, "-o", "catalogue", "--workers", PROCESSES)]
            # By turns first, so that what grows or falls during the run favours neither.
            first, second = (loop, catalogue) if number % 2 == 0 else (catalogue, loop)
            one, other = spent(first, folder), spent(second, folder)
            looped, made = (one, other) if number % 2 == 0 else (other, one)
        clock.append(looped.clock / made.clock)
        processors.append(looped.processors / made.processors)
        print(
            f"{number + 1:5d}  {looped.clock:11.1f}  {looped.processors:10.1f}   {made.clock:16.1f}  "
            f"{made.processors:10.1f}   {clock[-1]:12.2f}  {processors[-1]:10.2f}",
            flush=True,
        )
    print(f"median ratio: clock {statistics.median(clock):.2f}, processors {statistics.median(processors):.2f}")


def watch_memory(jobs: int) -> None:
    """Print the memory of the process that writes, at every tenth of the jobs."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = small_hulls(folder, jobs)
        words = command("make", *files, "--foam", "60", "-o", "made", "--workers", PROCESSES)
        with subprocess.Popen(words, cwd=folder, env=environment(), stdout=subprocess.DEVNULL) as run:
            next_tenth = 1
            print("jobs done  MiB")
            while run.poll() is None:
                done = len(list((folder / "made").glob("[!.]*/report.json")))
                if done * 10 >= next_tenth * jobs:
                    print(f"{done:9d}  {_resident(run.pid):.1f}", flush=True)
                    next_tenth = done * 10 // jobs + 1
                time.sleep(0.2)


def _resident(process: int) -> float:
    lines = Path(f"/proc/{process}/status").read_text(encoding="ascii").splitlines()
    line = next((line for line in lines if line.startswith("VmRSS")), "VmRSS: 0 kB")
    return int(line.split()[1]) / 1024


def main(words: list[str]) -> None:
    """As the words say."""
    if words and words[0] == "memory":
        watch_memory(int(words[1]))
    else:
        compare(int(words[0]) if words else 40, int(words[1]) if len(words) > 1 else 1)


if __name__ == "__main__":
    main(sys.argv[1:])
