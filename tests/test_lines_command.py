"""Hulls without a mesh on the command line: from an empty form to templates, and what is refused leaves nothing."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.hull.tables import SKIFF

ROOT = Path(__file__).parents[1]
SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="0 0 200 200">{}</svg>'
HALVES = '<path id="x0" d="M 100 150 L 140 90"/><path id="x80" d="M 100 150 L 150 90"/>'

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """Runs the command in an empty folder."""

    def runner(*words: str, code: int = 0) -> subprocess.CompletedProcess[str]:
        environment = os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "200"}
        command = [sys.executable, "-W", "error", "-m", "profiles", *words]
        done = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False)
        assert done.returncode == code, done.stderr
        assert "Traceback" not in done.stderr
        return done

    return runner


def test_make_of_a_table_leaves_templates_with_its_figures(run: Run, tmp_path: Path) -> None:
    """The template at the table's station 2, 160 mm from the nose, has the area of its polygon: the points
    (0, 8), (38, 26), (55, 84) give 2 (38 * 18 / 2 + (38 + 55) / 2 * 58) = 6078 mm2 (closed form).
    """
    (tmp_path / "skiff.csv").write_text(SKIFF.strip(), encoding="utf-8")
    run("make", "skiff.csv", "--foam", "80", "-o", "made")
    report = json.loads((tmp_path / "made/report.json").read_text(encoding="utf-8"))
    areas = [item["finished_area"] for item in report["templates"] if abs(item["x"] - 160) < 1e-6]
    assert len(areas) == 2
    assert areas == pytest.approx([6078.0, 6078.0], abs=0.1)
    assert (report["hull"]["format"], report["hull"]["triangles"]) == ("CSV", 0)


def test_inspect_says_what_a_table_is_and_draws_its_lines(run: Run, tmp_path: Path) -> None:
    """No triangles are counted; the lines plan is written beside the picture."""
    (tmp_path / "skiff.csv").write_text(SKIFF.strip(), encoding="utf-8")
    shown = run("inspect", "skiff.csv", "--lines", "plan.svg", "--picture", "views.svg").stdout
    assert "CSV, unit mm (file)" in shown
    assert "triangles" not in shown
    assert "body plan" in (tmp_path / "plan.svg").read_text(encoding="utf-8")
    assert (tmp_path / "views.svg").exists()


def test_a_form_is_written_and_never_over_a_filled_one(run: Run, tmp_path: Path) -> None:
    """A second time it is refused, and what is there stays."""
    for name in ("table.csv", "drawing.svg"):
        run("form", name, "--length", "2ft", "--stations", "5")
        before = (tmp_path / name).read_bytes()
        assert "is there already" in run("form", name, code=3).stderr
        assert (tmp_path / name).read_bytes() == before
    assert "place,0,152.4,304.8,457.2,609.6" in (tmp_path / "table.csv").read_text(encoding="utf-8")
    assert ".csv or .svg" in run("form", "table.txt", code=2).stderr
    assert "length above 0" in run("form", "other.csv", "--length", "0", code=2).stderr


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("hull.csv", SKIFF.replace("26, 20", "26, nan"), "row 8, column D: expected a number, found 'nan'"),
        ("hull.csv", SKIFF.replace("100,200", "200,100"), "row 4, column D: the stations are out of order"),
        ("hull.csv", SKIFF.replace("90, 84, ", "90, "), "row 6 (sheer height) has 6 cells, but row 4 (place) has 7"),
        ("hull.svg", SVG.format(HALVES).replace("mm", ""), "no width in mm"),
        ("hull.svg", SVG.format(f'<g transform="scale(2)">{HALVES}</g>'), "stands in transform 'scale(2)'"),
        ("hull.svg", SVG.format(f"{HALVES}<script/>"), "holds a script"),
        ("hull.svg", SVG.format(f'{HALVES}<image href="http://example.org/a.png"/>'), "holds a link"),
    ],
)
def test_bad_input_is_one_sentence_with_exit_code_3_and_leaves_nothing(
    run: Run, tmp_path: Path, name: str, text: str, words: str
) -> None:
    """What, where, what to do."""
    (tmp_path / name).write_text(text.strip(), encoding="utf-8")
    done = run("make", name, "--foam", "40", code=3)
    assert f"stationer: {name}: " in done.stderr
    assert words in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert [path.name for path in tmp_path.iterdir()] == [name]


@pytest.mark.slow
def test_plan_foam_and_compare_take_a_table(run: Run, tmp_path: Path) -> None:
    """Every command that reads a hull."""
    (tmp_path / "skiff.csv").write_text(SKIFF.strip(), encoding="utf-8")
    assert json.loads(run("plan", "skiff.csv", "--foam", "80", "--json").stdout)
    assert "blocks" in run("foam", "skiff.csv", "--foam", "80").stdout
    assert "80" in run("compare", "skiff.csv", "--foam", "80", "--foam", "140").stdout


@pytest.mark.slow
def test_two_numbers_of_workers_make_the_same_files_of_a_table(run: Run, tmp_path: Path) -> None:
    """The shape is packed for other processes without a loss."""
    (tmp_path / "skiff.csv").write_text(SKIFF.strip(), encoding="utf-8")
    made = []
    for workers in ("1", "2"):
        run("make", "skiff.csv", "--foam", "140", "-o", "made", "--workers", workers)
        made.append({path.name: path.read_bytes() for path in (tmp_path / "made").rglob("*") if path.is_file()})
    assert made[0] == made[1]
