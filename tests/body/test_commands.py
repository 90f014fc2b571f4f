"""`balance`, `float` and the job's [body], [[loads]] and [water] from the command line to the folder."""

import csv
import io
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from profiles.body.waterplane import WaterPlane
from profiles.build import build
from profiles.cli import commands
from profiles.errors import StationerError
from profiles.jobfile import load_job
from profiles.paper.drawing import Role
from profiles.results import render_build
from tests.hull import mesh_files

LENGTH, BREADTH, DEPTH = 400.0, 100.0, 60.0
"""mm; a bar whose figures can be worked by hand."""

JOB = """
[hull]
file = "bar.stl"
unit = "mm"
length_axis = "x"
up = "z"
nose = "low"
[foam]
thickness = 100
[body]
density = 40
glue = 0
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    place = tmp_path / "bar.stl"
    place.write_bytes(mesh_files.stl_binary(mesh_files.block((LENGTH, BREADTH, DEPTH))))
    file = tmp_path / "bar.toml"
    file.write_text(JOB, encoding="utf-8")
    return file


def run(*words: str | Path) -> tuple[int, str]:
    """Exit code, and what is printed or would be."""
    result = CliRunner().invoke(commands, [str(word) for word in words])
    if isinstance(result.exception, StationerError):
        return result.exception.exit_code, str(result.exception)
    return result.exit_code, result.output


def figures_of(*words: str | Path) -> dict[str, Any]:
    code, text = run(*words, "--json")
    assert code == 0, text
    figures: dict[str, Any] = json.loads(text)
    return figures


def test_balance(job: Path) -> None:
    """2.4 litres at 40 kg/m3 weigh 96 g."""
    body = figures_of("balance", job)["body"]
    assert body["weight_g"] == pytest.approx(96.0)
    assert body["cg_x_mm"] == pytest.approx(200.0)
    assert body["foam_volume_mm3"] == pytest.approx(2.4e6)
    code, text = run("balance", job)
    assert code == 0
    assert re.search(r"total\W+96\.0 g", text)


def test_a_hull_alone_is_enough(job: Path) -> None:
    """Without a thickness there are no blocks: the hull is weighed with a density, and a note says what is left out."""
    figures = figures_of("balance", job.with_suffix(".stl"), "--density", "25")
    assert figures["body"]["weight_g"] == pytest.approx(60.0)
    assert any("not counted without blocks" in note["text"] for note in figures["notes"])


def test_float_by_weight_and_at_a_waterline(job: Path) -> None:
    """96 g sink the bar 2.4 mm; at a waterline of 30 mm it displaces 1.2 litres, in salt water 1231 g."""
    water = figures_of("float", job)["water"]
    assert water["draught_mm"] == pytest.approx(96 / (LENGTH * BREADTH * 999.1026e-6), rel=1e-6)
    assert water["displaced_volume_mm3"] == pytest.approx(96 / 999.1026e-6, rel=1e-6)
    salt = figures_of("float", job, "--waterline", "30", "--water", "salt")["water"]
    assert salt["displacement_g"] == pytest.approx(1.2e6 * 1026.021e-6, rel=1e-6)
    assert salt["to_load_g"] == pytest.approx(salt["displacement_g"] - 96.0, rel=1e-6)
    assert salt["bm_across_mm"] == pytest.approx(BREADTH**2 / 12 / 30)


def test_the_original_beside_the_model(job: Path) -> None:
    """A model 1:12: lengths times 12, areas times 144, weights times 1728, speeds times the root of 12 (Froude)."""
    words = ("float", job, "--scale", "1:12", "--waterline", "2.5")
    water = figures_of(*words)["water"]
    full = water["full_size"]
    assert full["waterline_length_m"] == pytest.approx(water["waterline_length_mm"] * 12 / 1e3, rel=1e-5)
    assert full["wetted_area_m2"] == pytest.approx(water["wetted_area_mm2"] * 144 / 1e6, rel=1e-5)
    assert full["displacement_kg"] == pytest.approx(water["displacement_g"] * 1728 / 1e3, rel=1e-4)
    assert full["speed_of_original_over_model"] == pytest.approx(12**0.5, rel=1e-6)
    code, text = run(*words)
    assert code == 0
    assert "original" in text


def test_plot_and_csv(job: Path, tmp_path: Path) -> None:
    """Arms from 0 to 180 degrees as CSV; the plot is an SVG."""
    code, text = run("float", job, "--picture", tmp_path / "arms.svg", "--csv", tmp_path / "arms.csv")
    assert code == 0, text
    rows = list(csv.DictReader(io.StringIO((tmp_path / "arms.csv").read_text(encoding="utf-8"))))
    assert [float(row["heel_degrees"]) for row in rows] == [*range(0, 181, 5)]
    assert "righting arm in mm" in (tmp_path / "arms.svg").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("lines", "words", "code", "message"),
    [
        ("[water]\n", ["--waterline", "60"], 3, "covers the whole body"),
        ("[water]\n", ["--waterline", "0"], 2, "--waterline: expected greater than 0"),
        ("[water]\ndensity = nan\n", [], 3, "water.density"),
        ("[water]\nweight = 5000\n", [], 3, "it sinks"),
        ("[[loads]]\nname = 'anvil'\nweight = -3\nx = 5\n", [], 3, "loads.0.weight: expected greater than 0"),
        ("[[loads]]\nname = 'anvil'\nx = 5\n", [], 3, "loads.0.weight: missing"),
        ("[[loads]]\nname = 'anvil'\nweight = 3\nx = nan\n", [], 3, "loads.0.x: expected a finite length"),
        ("", ["--density", "0"], 2, "--density: expected greater than 0"),
        ("", ["--balance-at", "100"], 2, "--balance-at: balance and ballast go together"),
        ("", ["--gravity", "1,2"], 2, "--gravity: expected three lengths"),
    ],
)
def test_bad_input(job: Path, lines: str, words: list[str], code: int, message: str) -> None:
    """One clear sentence, and the documented exit code."""
    job.write_text(JOB + lines, encoding="utf-8")
    found, text = run("float", job, *words)
    assert (found, message in text) == (code, True), text
    assert "Traceback" not in text


LOADED = """[[loads]]
name = "battery"
weight = 700
x = 230
z = -28
[water]
"""


def test_make_draws_the_waterline(job: Path) -> None:
    """The waterline stands on each face, at the height of the water there, and the fingerprint knows it."""
    plain = build(load_job(job))
    job.write_text(JOB + LOADED, encoding="utf-8")
    made = build(load_job(job))
    assert made.figures is not None
    water = made.figures.marks.water
    assert isinstance(water, WaterPlane)
    assert abs(water.trim) > 0.1
    assert made.fingerprint != plain.fingerprint
    for template in made.layout.templates:
        (line,) = template.drawing.of_role(Role.WATER)
        height = template.datum[1] - line.points[:, 1]
        expected = water.z_at(template.source.x)
        assert expected is not None
        assert height == pytest.approx(np.full(2, expected), abs=1e-6)
        assert abs(line.points[1, 0] - line.points[0, 0]) == pytest.approx(BREADTH, abs=0.01)
    assert not any(template.drawing.of_role(Role.WATER) for template in plain.layout.templates)


def test_make_writes_curves_and_figures(job: Path) -> None:
    """The folder holds plots, tables and the keys `body` and `water`; without the sections it holds none of them."""
    extra = {"righting.svg", "righting.csv", "displacement.svg", "hydrostatics.csv"}
    job.write_text(JOB.split("[body]", maxsplit=1)[0], encoding="utf-8")
    plain = render_build(build(load_job(job)))
    assert not extra & set(plain.files)
    assert not {"body", "water"} & set(plain.figures)
    assert not {"body", "loads", "water"} & set(plain.figures["job"])
    job.write_text(JOB + LOADED, encoding="utf-8")
    full = render_build(build(load_job(job)))
    assert extra <= set(full.files)
    assert full.figures["water"]["displacement_g"] == pytest.approx(796.0)
    assert full.figures["job"]["loads"][0]["weight"] == 700
    assert full.files == render_build(build(load_job(job))).files


def test_every_key_carries_its_unit(job: Path) -> None:
    """Numbers of `body` and `water` are named with their unit, or are plain by their name."""
    plain = re.compile(r"(coefficient|boards_cost|scale|speed_of_original_over_model|plane_up)$")
    unit = re.compile(r"_(mm|mm2|mm3|g|kg|m|m2|m3|g_mm2|kg_m3|degrees|mm_per_100_g|g_mm_per_mm)$")
    figures = figures_of("float", job, "--scale", "1:2")

    def keys(tree: Any, name: str = "") -> list[str]:  # noqa: ANN401 - any JSON value
        if isinstance(tree, dict):
            return [key for inner, value in tree.items() for key in keys(value, inner)]
        if isinstance(tree, list):
            return [key for value in tree for key in keys(value, name)]
        return [name] if isinstance(tree, float | int) and not isinstance(tree, bool) else []

    stray = [key for key in keys([figures["body"], figures["water"]]) if not unit.search(key) and not plain.search(key)]
    assert not stray
