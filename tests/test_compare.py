"""Foams and limits side by side by the command: figures as JSON, a picture, and one message for wrong words."""

import dataclasses
import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from profiles.blocks.body import Body, cut
from profiles.blocks.planning import plan
from profiles.blocks.settings import StationSettings
from profiles.blocks.stations import divide_span
from profiles.comparing import Row, more_blocks
from profiles.hull.reading import read
from profiles.hull.settings import ReadSettings
from tests import closed_forms as zoo

ROOT = Path(__file__).resolve().parents[1]


def write_hull(folder: Path, mesh: zoo.Mesh | None = None) -> None:
    """A mesh, or a Wigley hull 400 mm long, as a binary STL."""
    mesh = mesh or zoo.wigley(stations=20, rows=8)
    record = np.zeros(len(mesh[1]), dtype=np.dtype([("normal", "<3f4"), ("corners", "<9f4"), ("more", "<u2")]))
    record["corners"] = mesh[0][mesh[1]].reshape(-1, 9)
    (folder / "hull.stl").write_bytes(b" " * 80 + len(record).to_bytes(4, "little") + record.tobytes())


def body_of(folder: Path, mesh: zoo.Mesh, **settings: float | None) -> Body:
    write_hull(folder, mesh)
    hull = read(folder / "hull.stl", ReadSettings(length_axis="x", up="z", nose="low", unit="mm"))
    return cut(hull, plan(hull, StationSettings(**settings)))  # type: ignore[arg-type]


def run_in(folder: Path, *words: str, code: int = 0) -> subprocess.CompletedProcess[str]:
    environment = os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "200"}
    command = [sys.executable, "-W", "error", "-m", "profiles", "compare", *words]
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    return done


def test_each_foam_and_limit_gets_a_row_and_the_picture_is_written(tmp_path: Path) -> None:
    """Two foams, with and without a limit: four rows in that order, each with every figure, and an SVG."""
    write_hull(tmp_path)
    words = ("hull.stl", "--foam", "80", "--foam", "60", "--fit", "1.5", "--json", "-o", "plot/side.svg")
    answer = json.loads(run_in(tmp_path, *words).stdout)
    rows = answer["rows"]
    assert [(row["foam"], row["fit"]) for row in rows] == [(80, None), (80, 1.5), (60, None), (60, 1.5)]
    assert all(list(row) == [field.name for field in dataclasses.fields(Row)] for row in rows)
    plain, fitted, *_ = rows
    assert plain["blocks"] == 5
    assert plain["odd"] == 0
    assert fitted["extra"] <= 1.5
    for row in rows:
        assert row["tips"] == 2
        assert row["missing"] <= 0.0101
        assert row["templates"] >= 2 * (row["blocks"] - 1)
        assert row["foam_volume"] > zoo.wigley_volume() > row["sanding_volume"] > 0
        assert row["glue_area"] > 0
        assert row["carving_volume"] > 0
        assert row["more_extra"] <= row["extra"]
        assert (row["more_blocks"] == 0) == (row["more_extra"] == row["extra"])
    assert len({row["fingerprint"] for row in rows}) > 1
    picture = (tmp_path / "plot/side.svg").read_text(encoding="utf-8")
    assert picture.startswith("<")
    assert all(row["label"] in picture for row in rows)


def test_a_table_and_a_png_come_without_json(tmp_path: Path) -> None:
    """Inches do as well; the table names each foam and the picture is a PNG."""
    write_hull(tmp_path)
    output = run_in(tmp_path, "hull.stl", "--foam", "4in", "-o", "side.png").stdout
    assert "foam 101.6" in output
    assert "side.png" in output
    assert (tmp_path / "side.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ((), "at least one foam thickness"),
        (("--foam", "0"), "--foam"),
        (("--foam", "-40"), "--foam"),
        (("--foam", "40", "--foam", "thick"), "--foam: expected a length"),
        (("--foam", "40", "--fit", "0"), "--fit"),
        (("--foam", "40", "--fit", "close"), "--fit: expected a length"),
        (("--foam", "40", "--growth", "some"), "--growth"),
    ],
)
def test_wrong_words_get_one_message_and_leave_nothing(tmp_path: Path, words: tuple[str, ...], message: str) -> None:
    """What cannot be compared is said in words with exit code 2, and no file is written."""
    write_hull(tmp_path)
    done = run_in(tmp_path, "hull.stl", *words, code=2)
    assert message in done.stderr
    assert done.stdout == ""
    assert [item.name for item in tmp_path.iterdir()] == ["hull.stl"]


def test_what_more_blocks_bring_is_what_they_bring(tmp_path: Path) -> None:
    """The blocks of a Wigley hull that leave most to sand, divided and made again: as much is left as was announced,
    and halves leave less than half (a quarter by the square law, h^2 / 8R).
    """
    body = body_of(tmp_path, zoo.wigley(stations=40, rows=12), thickness=80, most=None)
    count, left = more_blocks(body)
    assert 1 <= count <= 3
    worst = sorted(body.cut_blocks, key=lambda block: -block.grown.sanding)
    halved = {block.span.number for block in worst[:count]}
    spans = [part for span in body.stations.spans for part in divide_span(span, 1 + (span.number in halved))]
    numbered = tuple(replace(span, number=number) for number, span in enumerate(spans, start=1))
    stations = (0.0, *(span.x_aft for span in spans))
    divided = cut(body.hull, replace(body.stations, spans=numbered, stations=stations))
    assert max(block.grown.sanding for block in divided.cut_blocks) == pytest.approx(left, rel=1e-6)
    assert left <= 0.75 * worst[0].grown.sanding
    halves = [block for block in divided.cut_blocks if block.span.thickness < 79]
    assert max(block.grown.sanding for block in halves) < 0.5 * worst[0].grown.sanding


def test_nothing_is_announced_where_more_blocks_bring_nothing(tmp_path: Path) -> None:
    """A straight-sided prism leaves nothing to sand; and blocks under 10 mm are not halved."""
    assert more_blocks(body_of(tmp_path, zoo.box(200.0), thickness=50))[0] == 0
    thin = body_of(tmp_path, zoo.wigley(length=60.0, stations=12, rows=8), thickness=9, min_block=5, most=None)
    assert more_blocks(thin)[0] == 0
