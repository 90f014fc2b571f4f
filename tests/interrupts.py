"""Runs of the command that are interrupted, as Ctrl-C on a terminal interrupts all processes at once.

    python -m tests.interrupts 200           at so many random moments of the first second
    python -m tests.interrupts 200 --busy    the same while every core has other work

Prints how the runs ended; anything but one sentence, exit code 130 and nothing left behind ends it with an error.
"""

import argparse
import collections
import contextlib
import os
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]

FIRST = "profiles.interrupts"
"""What the entry module loads when it has begun to answer interrupts."""

RUN = f"""
import os, signal, sys
kind, count, *words = sys.argv[1:]
begun, left = False, int(count)
def look(event, values):
    global begun, left
    if not begun:
        begun = event == "import" and values[0] == {FIRST!r}
        if begun:
            os.write(1, b"\\n")
    elif event == kind:
        left -= 1
        if left == 0:
            os.killpg(0, signal.SIGINT)
if kind == "forked":
    os.register_at_fork(after_in_child=lambda: os.kill(os.getpid(), signal.SIGINT))
sys.addaudithook(look)
sys.argv = ["stationer", *words]
from profiles.entry import main
main()
"""
"""Says on standard output when the entry module has begun, and interrupts its whole group before a given event."""


@dataclass(frozen=True, slots=True)
class Ended:
    """How a run ended."""

    code: int
    said: str
    complained: str
    left: tuple[int, ...]
    """Processes of its group that are still there."""
    temporary: tuple[str, ...]
    """Names in the folder for temporary files."""

    @property
    def is_clean(self) -> bool:
        """Exit code 130, one sentence, nothing else said, nothing left."""
        sentence = "stationer: stopped; nothing was written\n"
        return (self.code, self.said, self.complained, self.left, self.temporary) == (130, "", sentence, (), ())


@contextlib.contextmanager
def interruptible() -> Iterator[None]:
    """Programs that are started here answer interrupts, also where this one was started to ignore them."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def ended(words: Sequence[str], event: tuple[str, int] = ("none", 1), after: float | None = None) -> Ended:
    """Run the command; interrupt it before the event has come so many times, or s after its entry module has begun."""
    with tempfile.TemporaryDirectory() as folder:
        kind, count = event
        with (
            interruptible(),
            subprocess.Popen(
                [sys.executable, "-c", RUN, kind, str(count), *words],
                cwd=ROOT,
                env=os.environ | {"TMPDIR": folder},
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
                start_new_session=True,  # a group of its own
            ) as run,
        ):
            assert run.stdout
            assert run.stdout.readline() == "\n"
            if after is not None:
                time.sleep(after)
                with contextlib.suppress(ProcessLookupError):
                    os.killpg(run.pid, signal.SIGINT)
            said, complained = run.communicate(timeout=120)
        temporary = tuple(sorted(item.name for item in Path(folder).iterdir()))
        return Ended(run.returncode, said, complained, tuple(members(run.pid)), temporary)


def members(group: int) -> list[int]:
    """Processes of a group, those left out that have ended; none where the system does not show them."""
    found = []
    for place in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            state, _, process_group, *_ = place.read_text(encoding="ascii", errors="replace").rpartition(")")[2].split()
            if int(process_group) == group and state not in "ZX":
                found.append(int(place.parent.name))
    return found


@contextlib.contextmanager
def burning(number: int) -> Iterator[None]:
    """So many processes that do nothing but use a core."""
    burners = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(number)]
    try:
        yield
    finally:
        for burner in burners:
            burner.kill()
            burner.wait()


def main() -> int:
    """Interrupt runs at random moments; 1 when one does not end as it should."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("runs", type=int)
    words.add_argument("--busy", action="store_true", help="every core has two other processes to run")
    words.add_argument("--seed", type=int, default=1)
    given = words.parse_args()
    chance = random.Random(given.seed)  # noqa: S311 - moments, not secrets
    counts: collections.Counter[str] = collections.Counter()
    with tempfile.TemporaryDirectory() as folder, burning(2 * (os.cpu_count() or 1) if given.busy else 0):
        for _ in range(given.runs):
            out = Path(folder) / "made"
            job = ["make", str(ROOT / "models/skerrywing.toml"), "--foam", "10", "--out", str(out)]
            run = ended(job, after=chance.random())
            clean = run.is_clean and not any(Path(folder).iterdir())
            counts["one sentence, 130, nothing left" if clean else f"not so: {run}"] += 1
    for outcome, number in counts.items():
        print(f"{number:5d}  {outcome}")  # noqa: T201
    return 0 if len(counts) == 1 and "nothing left" in next(iter(counts)) else 1


if __name__ == "__main__":
    sys.exit(main())
