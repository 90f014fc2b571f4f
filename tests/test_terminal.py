"""What the terminal shows: the result first, then warnings, then the next step, whole words at 80 columns."""

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests import closed_forms as zoo
from tests.corpus.case import stl

ROOT = Path(__file__).parents[1]
MODELS = ROOT / "models"
YELLOW = "\x1b[1;33m"
GROWN = ("--growth", "block")
BARE = ("--growth", "none")

Show = Callable[..., str]


@pytest.fixture
def show(tmp_path: Path) -> Show:
    """Runs the command in an empty folder, as on a terminal of 80 columns, and returns what it prints."""

    def runner(*words: str) -> str:
        return run_in(tmp_path, *words)

    return runner


def run_in(folder: Path, *words: str) -> str:
    """What the command prints in a folder, on a terminal of 80 columns."""
    environment = os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "80", "FORCE_COLOR": "1", "TERM": "xterm"}
    environment.pop("NO_COLOR", None)
    command = [sys.executable, "-W", "error", "-m", "profiles", *words]
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def plain(text: str) -> str:
    """The text without colours."""
    return re.sub(r"\x1b\[[\d;]*m", "", text)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> str:
    """What `make` shows of the demo, without colours."""
    return plain(run_in(tmp_path_factory.mktemp("made"), "make", str(MODELS / "skerrywing.toml"), "-o", "made"))


def test_make_shows_result_then_assumptions_then_the_next_step(made: str) -> None:
    """The first line counts templates and pages, the last one names the file to print."""
    shown = made
    assert shown.splitlines()[0].startswith("skerrywing: 54 templates on 18 pages of A4, fingerprint ")
    places = [shown.index(word) for word in ("21 blocks", "Foam:", "Assumed:", "Next: print made/templates.pdf")]
    assert places == sorted(places)


def test_no_line_is_wider_than_the_terminal(show: Show, made: str) -> None:
    """At 80 columns every line of make, and every table of compare, fits, and no table breaks a word."""
    shown = made + plain(show("compare", str(MODELS / "pelloway.toml"), "--foam", "50", "--foam", "60", "--fit", "2.5"))
    assert max(map(len, shown.splitlines())) <= 80
    for heading in ("blocks", "templates", "enlarged", "to sand", "without", "waste"):
        assert heading in shown
    assert shown.count("│ foam 60, fit 2.5 ") == 3


def test_missing_foam_is_a_warning_in_colour(show: Show, tmp_path: Path) -> None:
    """Outlines that are not enlarged leave a hollow of more than 0.1 mm, said in yellow; enlarged ones leave none."""
    (tmp_path / "hull.stl").write_bytes(stl(zoo.wigley()))
    bare = show("make", "hull.stl", "--foam", "80", *BARE, "-o", "made")
    warned = re.search(re.escape(f"{YELLOW}Warning:") + r"\S* Blocks[^.]*lack\s+foam,\s+up\s+to\s+([\d.]+)\s+mm", bare)
    assert warned
    assert float(warned[1]) > 0.1
    assert "Enough foam" not in bare
    grown = show("make", "hull.stl", "--foam", "80", *GROWN, "-o", "made")
    assert "lack" not in grown
    assert "Enough foam everywhere." in grown


def test_missing_foam_stands_in_report_and_plan_too(show: Show, tmp_path: Path) -> None:
    """The command plan gives every warning that make gives, word for word."""
    (tmp_path / "hull.stl").write_bytes(stl(zoo.wigley()))
    made = json.loads(show("make", "hull.stl", "--foam", "80", *BARE, "-o", "made", "--json"))["warnings"]
    planned = json.loads(show("plan", "hull.stl", "--foam", "80", *BARE, "--json"))["warnings"]
    assert planned == made
    assert any("lack foam" in sentence for sentence in made)


def test_a_pointed_bow_is_a_note(show: Show) -> None:
    """A hull that ends in a point gets a note and no warning."""
    shown = plain(show("plan", str(MODELS / "skerrywing.toml")))
    assert re.search(r"Note: 01 fore, 21 aft: the hull\s+comes to a point", shown)
    assert "Warning" not in shown


@pytest.mark.parametrize("size", [("--length", "830"), ("--scale", "1:10")])
def test_an_implausible_size_is_silent_once_a_size_is_given(show: Show, tmp_path: Path, size: tuple[str, str]) -> None:
    """A hull of 8.3 m is warned of, unless an option sets its size."""
    (tmp_path / "hull.stl").write_bytes(stl(zoo.wigley(8300, 800, 500)))
    assert "implausible" in show("inspect", "hull.stl")
    assert "implausible" not in show("inspect", "hull.stl", *size)


def test_board_errors_are_said_as_what_they_mean(show: Show, tmp_path: Path) -> None:
    """Of a box of 400 mm in 5 blocks of 80 mm: half a millimetre a board is 2.5 mm; measured boards need no advice."""
    (tmp_path / "hull.stl").write_bytes(stl(zoo.box(400)))
    board = (
        '[hull]\nfile = "hull.stl"\n[foam]\nthickness = 80\n[[boards]]\nlength = 1200\nwidth = 600\nthickness = 80\n'
    )
    (tmp_path / "named.toml").write_text(board, encoding="utf-8")
    (tmp_path / "measured.toml").write_text(board + "measured = 80.4\n", encoding="utf-8")
    named, measured = (" ".join(plain(show("foam", f"{job}.toml")).split()) for job in ("named", "measured"))
    assert "If your boards are 0.5 mm thicker than named, the body gets 2.5 mm longer." in named
    assert "If your boards" not in measured
    assert "make the body 2.0 mm longer than planned." in measured


def test_every_command_that_writes_one_thing_takes_o(show: Show) -> None:
    """-o is the short form of --out for make, compare and kerf-test."""
    for command in ("make", "compare", "kerf-test"):
        assert "-o, --out" in show(command, "--help")
