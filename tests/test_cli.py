"""The command: the whole job from words to files, and one clear message for everything that cannot be."""

import csv
import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pypdfium2
import pytest

from tests import closed_forms as zoo

ROOT = Path(__file__).parents[1]
MODELS = ROOT / "models"

Run = Callable[..., subprocess.CompletedProcess[str]]


def run_in(folder: Path, *words: str, code: int = 0, **more: str) -> subprocess.CompletedProcess[str]:
    """The command in a folder, which ends with an exit code and without a traceback."""
    environment = os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "200"} | more
    command = [sys.executable, "-W", "error", "-m", "profiles", *words]
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    return done


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """Runs the command in an empty folder."""

    def runner(*words: str, code: int = 0, **more: str) -> subprocess.CompletedProcess[str]:
        return run_in(tmp_path, *words, code=code, **more)

    return runner


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that `make` leaves for the demo job, in a folder of its own."""
    folder = tmp_path_factory.mktemp("demo")
    run_in(folder, "make", str(MODELS / "skerrywing.toml"), "--out", "made")
    return folder / "made"


def write_stl(path: Path, mesh: zoo.Mesh) -> None:
    """A binary STL."""
    record = np.zeros(len(mesh[1]), dtype=np.dtype([("normal", "<3f4"), ("corners", "<9f4"), ("more", "<u2")]))
    record["corners"] = mesh[0][mesh[1]].reshape(-1, 9)
    path.write_bytes(b" " * 80 + len(record).to_bytes(4, "little") + record.tobytes())


def test_make_leaves_what_the_contract_names(demo: Path) -> None:
    """PDF, pages, templates, cut list and report are there and agree with each other."""
    folder = demo
    report = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    assert sorted(item.name for item in folder.iterdir()) == [
        "blocks.csv", "body.png", "body.svg", "built.glb", "built.stl", "cards.dxf", "cards.svg", "job-book.pdf",
        "pages", "report.json", "templates", "templates.pdf",
    ]  # fmt: skip
    assert [item.name for item in folder.parent.iterdir()] == ["made"]
    with pypdfium2.PdfDocument(folder / "templates.pdf") as pdf:
        assert len(pdf) == len(report["pages"])
    for entry in (*report["pages"], *report["templates"]):
        assert re.search(r'<svg[^>]* width="[\d.]+mm"', (folder / entry["file"]).read_text(encoding="utf-8"))
    rows = list(csv.DictReader((folder / "blocks.csv").read_text(encoding="utf-8").splitlines()))
    assert [int(row["block"]) for row in rows] == [block["number"] for block in report["blocks"]]
    assert sum(block["thickness"] for block in report["blocks"]) == pytest.approx(report["hull"]["length"], abs=1e-4)
    assert 432 in [pytest.approx(station["x"], abs=1e-3) for station in report["stations"]]
    assert all(abs(check["expected"] - check["measured"]) <= 0.01 for check in report["checks"])
    paged = {page for template in report["templates"] for page in template["pages"]}
    assert paged <= {page["number"] for page in report["pages"]}
    promised = "schema name fingerprint hull stations blocks templates pages checks warnings"
    assert report.keys() >= set(promised.split())


def test_limits_at_the_planing_step_differ_by_exactly_the_step(demo: Path) -> None:
    """The block before the flying boat's step ends deeper than the next begins, by the wall in the mesh."""
    report = json.loads((demo / "report.json").read_text(encoding="utf-8"))
    at_step = [t for t in report["templates"] if abs(t["x"] - 432) < 1e-3]
    before, behind = (t["finished_area"] for t in sorted(at_step, key=lambda t: t["face"]))
    triangles = np.fromfile(MODELS / "skerrywing.stl", offset=84, dtype=np.dtype("<12f4, <u2"))["f0"].reshape(-1, 4, 3)
    corners = triangles[:, 1:].astype(np.float64)
    wall = corners[(corners[:, :, 0] == 432).all(axis=1)]
    edges = wall[:, 1:] - wall[:, :1]
    area = 0.5 * abs(np.cross(edges[:, 0], edges[:, 1])[:, 0].sum())
    assert area > 100
    assert before - behind == pytest.approx(area, rel=1e-6)


def test_same_job_gives_the_same_bytes_whatever_the_hash_seed_and_locale(run: Run, tmp_path: Path) -> None:
    """Two runs leave identical folders."""
    write_stl(tmp_path / "hull.stl", zoo.wigley())
    seen = []
    for seed, locale in (("1", "C"), ("77", "C.UTF-8")):
        run("make", "hull.stl", "--foam", "80", "--out", "made", PYTHONHASHSEED=seed, LC_ALL=locale)
        seen.append({str(p): p.read_bytes() for p in sorted((tmp_path / "made").rglob("*")) if p.is_file()})
    assert seen[0] == seen[1]


def test_other_foam_says_what_changed_and_that_old_prints_are_void(run: Run, tmp_path: Path) -> None:
    """Making the folder again with other foam names both fingerprints and the option."""
    write_stl(tmp_path / "hull.stl", zoo.wigley())
    run("make", "hull.stl", "--foam", "80")
    same = run("make", "hull.stl", "--foam", "80").stdout
    other = run("make", "hull.stl", "--foam", "100").stdout
    assert "no longer valid" not in same
    assert "no longer valid" in other
    assert "foam.thickness: 80.0 -> 100.0" in other


def test_paper_does_not_change_the_fingerprint(run: Run) -> None:
    """The same plan on other paper keeps its fingerprint, so that its templates may be mixed."""
    job = str(MODELS / "pelloway.toml")
    prints = {json.loads(run("make", job, "--paper", paper, "--json").stdout)["fingerprint"] for paper in ("A4", "A3")}
    assert len(prints) == 1


def test_plan_and_inspect_speak_json(run: Run) -> None:
    """Both give their figures to other programs, and write nothing."""
    plan = json.loads(run("plan", str(MODELS / "wickerby.toml"), "--json").stdout)
    assert plan["blocks"][0]["x_fore"] == 0
    assert plan["hull"]["unit"] == "in"
    hull = json.loads(run("inspect", str(MODELS / "tandril.3mf"), "--json").stdout)
    assert hull["bodies"] == 3


def test_boards_without_a_thickness_get_one_proposed_and_made(run: Run, tmp_path: Path) -> None:
    """With boards and no --foam the figures stand side by side, and the reported choice makes the folder."""
    write_stl(tmp_path / "hull.stl", zoo.wigley())
    boards = "[[boards]]\ncount = 2\nlength = 1250\nwidth = 600\nthickness = {}\n"
    job = '[hull]\nfile = "hull.stl"\nunit = "mm"\n[cutting]\nlayers = 1\n' + boards.format(80) + boards.format(100)
    (tmp_path / "hull.toml").write_text(job, encoding="utf-8")
    done = run("make", "hull.toml", "--out", "made").stdout
    assert "Blocks" in done
    chosen = re.search(r"Foam thickness (\d+) mm, because .*Override with --foam", done)
    assert chosen
    report = json.loads((tmp_path / "made/report.json").read_text(encoding="utf-8"))
    assert report["job"]["foam"]["thickness"] == float(chosen[1])
    assert {layer for billet in report["foam"]["billets"] for layer in billet["layers"]} <= {
        "board 1250 x 600 x 80",
        "board 1250 x 600 x 100",
    }


def test_foam_plans_boards_without_templates(run: Run, tmp_path: Path) -> None:
    """The foam alone: every block once, every cut counted in a fence setting, nothing written."""
    found = json.loads(run("foam", str(MODELS / "skerrywing.toml"), "--json").stdout)
    placed = [one["block"] for billet in found["foam"]["billets"] for one in billet["blocks"]]
    assert sorted(placed) == list(range(1, 22))
    cuts = sum(len(billet["cuts"]) for billet in found["foam"]["billets"])
    assert sum(one["cuts"] for one in found["foam"]["fences"]) == cuts
    assert list(tmp_path.iterdir()) == []
    output = run("foam", str(MODELS / "skerrywing.toml")).stdout
    assert "fence" in output
    assert "volts" not in output


def test_wire_needs_no_hull(run: Run) -> None:
    """AWG 26 of NiCr 80/20 resists 2.5711 ohm per foot (a wire maker's table) and takes 2.00 A at 300 degrees C (the
    maker's table of currents); cautions come with it.
    """
    figures = json.loads(run("wire", "--gauge-awg", "26", "--span", "600", "--json").stdout)
    assert figures["cold_ohm_per_foot"] == pytest.approx(2.5711, abs=5e-5)
    assert figures["current_amps"] == pytest.approx(2.00)
    output = run("wire", "--gauge-awg", "26").stdout
    assert "off and cold" in output
    assert "gauge" in run("wire", "--gauge-awg", "26", "--diameter", "0.4", code=2).stderr


def test_kerf_test_page_is_true_to_size(run: Run, tmp_path: Path) -> None:
    """The page is written where it is asked for and has the size of its paper: A4 is 595.28 x 841.89 pt (ISO 216)."""
    run("kerf-test", "--out", "kerf.pdf")
    with pypdfium2.PdfDocument(tmp_path / "kerf.pdf") as pdf:
        assert pdf[0].get_size() == pytest.approx((595.2756, 841.8898), abs=0.01)


def test_another_hull_in_the_same_folder_is_output(run: Run, tmp_path: Path) -> None:
    """When the folder held another hull, the sizes of both are reported."""
    write_stl(tmp_path / "hull.stl", zoo.wigley())
    run("make", "hull.stl", "--foam", "100", "--unit", "mm")
    output = run("make", "hull.stl", "--foam", "100", "--unit", "mm", "--scale", "1:2").stdout
    assert "litres -> hull, 200.00 x 20.00 x 12.50 mm" in output


@pytest.mark.parametrize("suffix", ["svg", "png"])
def test_inspect_draws_a_picture(run: Run, tmp_path: Path, suffix: str) -> None:
    """Side, plan and end view come as SVG or PNG."""
    run("inspect", str(MODELS / "skerrywing.toml"), "--picture", f"hull.{suffix}")
    begin = (tmp_path / f"hull.{suffix}").read_bytes()[:100]
    assert begin.startswith(b"\x89PNG" if suffix == "png" else b"<")


def test_guesses_are_output_with_the_option_that_overrules_them(run: Run, tmp_path: Path) -> None:
    """A file without a unit, axes or nose says what was taken and how to say otherwise."""
    write_stl(tmp_path / "hull.stl", zoo.wedge())
    output = run("inspect", "hull.stl").stdout
    for option in ("--unit", "--up", "--nose"):
        assert option in output


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (("make", "hull.stl"), 3, "no foam thickness"),
        (("make", "hull.stl", "--foam", "thick"), 2, "--foam: expected a length"),
        (("make", "hull.stl", "--foam", "-4"), 2, "--foam"),
        (("make", "hull.stl", "--foam", "40", "--up", "w"), 2, "--up"),
        (("make", "hull.stl", "--foam", "40", "--paper", "A9"), 2, "--paper: expected a paper"),
        (("make", "hull.stl", "--foam", "40", "--min-block", "50"), 2, "thicker than the foam"),
        (("make", "hull.stl", "--foam", "40", "--break", "5000"), 3, "outside the hull"),
        (("make", "hull.stl", "--foam", "40", "--out", "full"), 3, "not an earlier result"),
        (("make", "nothing.stl", "--foam", "40"), 3, "nothing.stl"),
        (("make", "nothing.toml", "--foam", "40"), 3, "no job file"),
        (("make", "."), 3, ""),
        (("make", "text.stl", "--foam", "40"), 3, "text.stl"),
        (("plan", "hull.stl", "--foam", "40", "--length", "300", "--scale", "1:2"), 2, "not both"),
        (("inspect", "hull.stl", "--picture", "hull.gif"), 2, "--picture"),
        (("inspect", "hull.stl", "--body", "7"), 3, "7"),
        (("make", "hull.stl", "--foam", "40", "--kerf-test", "60"), 3, "kerf would be 40.00 mm"),
        (("wire", "--alloy", "gold"), 2, "gold"),
        (("wire", "--temperature", "5000"), 2, "--temperature"),
        (("kerf-test", "--out", "full"), 3, "full"),
        (("carve", "hull.stl"), 2, "carve"),
        ((), 2, ""),
    ],
)
def test_wrong_words_and_bad_hulls_get_one_message_and_their_exit_code(
    run: Run, tmp_path: Path, words: tuple[str, ...], code: int, message: str
) -> None:
    """What cannot be done is said in words, with the exit code of its kind, and nothing is left behind."""
    write_stl(tmp_path / "hull.stl", zoo.wedge())
    (tmp_path / "text.stl").write_text("this is a letter, not a hull", encoding="utf-8")
    (tmp_path / "full").mkdir()
    (tmp_path / "full/letter.txt").touch()
    before = sorted(str(path) for path in tmp_path.rglob("*"))
    done = run(*words, code=code)
    assert message in done.stderr
    assert sorted(str(path) for path in tmp_path.rglob("*")) == before


def test_pipes_get_no_colour_and_no_progress(run: Run) -> None:
    """Plain text comes out of a pipe, and nothing on standard error."""
    done = run("plan", str(MODELS / "skerrywing.toml"))
    assert "\x1b" not in done.stdout + done.stderr
    assert done.stderr == ""


@pytest.mark.parametrize("command", ["plan", "foam"])
def test_figures_are_the_same_from_one_process_and_from_two(run: Run, tmp_path: Path, command: str) -> None:
    """Workers make a plan come sooner and leave it as it is."""
    write_stl(tmp_path / "hull.stl", zoo.wigley())
    alone, shared = (
        run(command, "hull.stl", "--foam", "80", "--json", "--workers", number).stdout for number in ("1", "2")
    )
    assert json.loads(alone) == json.loads(shared)


def test_help_names_every_command_and_loads_nothing_heavy(run: Run) -> None:
    """--help answers from the command line alone."""
    assert all(word in run("--help").stdout for word in ("inspect", "plan", "make", "foam", "wire", "kerf-test"))
    probe = "import sys, profiles.cli; print(sorted(sys.modules.keys() & {'numpy', 'shapely', 'pydantic', 'rich'}))"
    done = subprocess.run(
        [sys.executable, "-c", probe],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "[]"
