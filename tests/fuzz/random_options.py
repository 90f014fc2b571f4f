"""Random commands with random options, right and wrong, over the demo hulls and real ones: `python random_options.py`.

Each ends with exit code 0, 2 or 3, without a traceback, within LONGEST seconds on its core, and leaves a folder only
with code 0.
A seed gives the same commands on every machine.
"""

import argparse
import os
import random
import resource
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
MODELS = ROOT / "models"
MESHES = ROOT.parent / "shared" / "meshes"

LONGEST = 60.0
"""Seconds of processor time that one command on one core may take."""

HANGS = 900.0
"""s; what takes longer than this by the clock, on a machine that has other work as well, never ends."""

DEMOS = ("skerrywing.stl", "wickerby.obj", "pelloway.glb", "tandril.3mf", "skerrywing.toml", "pelloway.toml")

COMMANDS = ("inspect", "plan", "make", "make", "make", "foam", "compare")

CHOICES: dict[str, tuple[str, ...]] = {
    "--length": ("300", "450", "20in", "0", "-5", "x"),
    "--unit": ("mm", "cm", "furlong"),
    "--up": ("z", "-z", "y", "w"),
    "--nose": ("low", "high"),
    "--mirror": ("auto", "none", "y"),
    "--body": ("1", "2", "99"),
    "--datum": ("0", "12", "1e9"),
}
PLANNING: dict[str, tuple[str, ...]] = {
    "--odd": ("nose", "tail", "both"),
    "--min-block": ("0", "5", "20", "500"),
    "--break": ("50", "120.5", "-1", "299"),
    "--most": ("2", "10", "none", "0"),
    "--growth": ("varying", "block", "none", "1.5", "99"),
}
FOAM: dict[str, tuple[str, ...]] = {"--foam": ("40", "55", "2in", "0", "1e7", "thick")}
TEMPLATE: dict[str, tuple[str, ...]] = {
    "--skin": ("0", "1.5", "90"),
    "--kerf": ("0", "1.2", "-1"),
    "--wire": ("0.4", "20"),
    "--allowance": ("0", "8"),
    "--box": ("auto", "common", "each"),
    "--pin": ("2", "5"),
    "--marks": ("10", "60"),
}
PAPER: dict[str, tuple[str, ...]] = {
    "--paper": ("A4", "A3", "Letter", "610x2000", "50x50", "A9"),
    "--margin": ("5", "90"),
    "--overlap": ("10", "50"),
    "--bar-across": ("99.4", "120"),
    "--orientation": ("portrait", "landscape"),
    "--max-sheets": ("1", "500"),
}
TAKEN = {
    "inspect": (CHOICES,),
    "plan": (CHOICES, FOAM, PLANNING),
    "make": (CHOICES, FOAM, PLANNING, TEMPLATE, PAPER),
    "foam": (CHOICES, FOAM, PLANNING, TEMPLATE),
    "compare": (CHOICES, FOAM, PLANNING, TEMPLATE),
}


@dataclass(frozen=True, slots=True)
class Outcome:
    """One command and how it ended."""

    words: tuple[str, ...]
    code: int | None
    """None where it did not end."""
    fault: str
    """What was wrong with it; empty where nothing was."""


def hulls() -> list[Path]:
    """The hull and job files, demo and real."""
    real = sorted(path for path in MESHES.iterdir() if path.suffix != ".md") if MESHES.is_dir() else []
    return [*(MODELS / name for name in DEMOS), *real]


def random_words(seed: int) -> tuple[str, ...]:
    """A command with its hull and options."""
    chance = random.Random(seed)  # noqa: S311 - not for secrets
    command = chance.choice(COMMANDS)
    words = [command, str(chance.choice(hulls()))]
    if command != "inspect" and chance.random() < 0.9:
        words += ["--foam", chance.choice(("50", "60", "75"))]
    if chance.random() < 0.7:
        words += ["--length", "400"]
    options = [item for group in TAKEN[command] for item in group.items()]
    for option, values in chance.sample(options, chance.randint(0, 4)):
        words += [option, chance.choice(values)]
    return tuple(words)


def run(words: tuple[str, ...], folder: Path) -> Outcome:
    """Run a command in an empty folder, on one core so that its processor time is that of the clock."""
    environment = os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "80"}
    out = [] if words[0] in {"inspect", "plan", "foam"} else ["-o", "made" if words[0] == "make" else "made.svg"]
    workers = [] if words[0] == "inspect" else ["--workers", "1"]
    command = [sys.executable, "-m", "profiles", *words, *out, *workers]
    before = _seconds_of_children()
    try:
        done = subprocess.run(
            command, cwd=folder, env=environment, capture_output=True, text=True, timeout=HANGS, check=False
        )
    except subprocess.TimeoutExpired:
        return Outcome(words, None, f"does not end within {HANGS:g} s")
    left = sorted(path.name for path in folder.iterdir())
    seconds = _seconds_of_children() - before
    fault = f"takes {seconds:.0f} s of processor time" if seconds > LONGEST else ""
    if done.returncode not in {0, 2, 3}:
        fault = f"exit {done.returncode}: {done.stderr.strip()[-300:]}"
    elif "Traceback" in done.stderr:
        fault = done.stderr.strip()[-300:]
    elif done.returncode and left:
        fault = f"exit {done.returncode}, but it left {', '.join(left)}"
    return Outcome(words, done.returncode, fault)


def _seconds_of_children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main() -> None:
    """Run `--jobs` commands and print those that end wrongly."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    wanted = parser.parse_args()
    faults, codes = 0, dict.fromkeys((0, 2, 3), 0)
    for seed in range(wanted.seed, wanted.seed + wanted.jobs):
        with tempfile.TemporaryDirectory() as folder:
            outcome = run(random_words(seed), Path(folder))
        if outcome.fault:
            faults += 1
            print(f"seed {seed}: stationer {' '.join(outcome.words)}\n  {outcome.fault}")
        elif outcome.code is not None:
            codes[outcome.code] += 1
    print(f"{wanted.jobs} jobs, exit codes {codes}, {faults} faults")
    sys.exit(bool(faults))


if __name__ == "__main__":
    main()
