"""The foam from the job file to the folder: boards, proposal, measured thickness, block list."""

import csv
import json
import re
from pathlib import Path

import pytest

from profiles.bookfacts import book_contents
from profiles.build import Build, build, foam_settings, read_job, shape, supply_job
from profiles.errors import JobError
from profiles.foam.figures import origins
from profiles.foam.supply import available_boards, cutting_settings
from profiles.jobfile import load_job
from profiles.proposing import propose_thickness, thicknesses
from profiles.report import blocks_csv, report_figures
from profiles.units import number_runs
from tests.hull import mesh_files

LENGTH, BREADTH, DEPTH = 570.0, 140.0, 105.0
"""mm; a plain bar, so that every figure can be worked by hand."""


@pytest.fixture
def bar(tmp_path: Path) -> Path:
    """A bar of 570 x 140 x 105 mm as a hull file; its box with 5 mm of allowance is 150 x 115 mm."""
    place = tmp_path / "bar.stl"
    place.write_bytes(mesh_files.stl_binary(mesh_files.block((LENGTH, BREADTH, DEPTH))))
    return place


def job_file(bar: Path, text: str) -> Path:
    place = bar.parent / "bar.toml"
    head = '[hull]\nfile = "bar.stl"\nunit = "mm"\nlength_axis = "x"\nup = "z"\nnose = "low"\n'
    place.write_text(head + text, encoding="utf-8")
    return place


BOARDS_20 = "[[boards]]\ncount = 2\nlength = 1200\nwidth = 600\nthickness = 20\n"


def made(bar: Path, text: str, **foam: object) -> Build:
    words = {("foam", key): value for key, value in foam.items()}
    return build(load_job(job_file(bar, text), words))


def test_two_boards_of_20_make_the_billet_for_40(bar: Path) -> None:
    """Common practice: 570 mm out of one 600 x 1200 x 20 board, halved, is one 40 mm billet; strips are cut first, then
    blocks across, one setting each. Four of 150 just fill the 600 mm: edges are taken as square and the slot as none.
    """
    text = BOARDS_20 + "[cutting]\nkerf = 0\ntrim = 0\n"
    result = made(bar, text, thickness=40, min_block=20)
    (billet,) = result.foam.cut.billets
    assert [board.thickness for board in billet.boards] == [20, 20]
    assert {placed.block for placed in billet.blocks} == {block.span.number for block in result.body.blocks}
    settings = [(str(fence.stage), fence.fence) for fence in result.foam.cut.fences]
    assert [fence for fence in settings if fence[0] in {"strip", "across"}] == [("strip", 150.0), ("across", 115.0)]
    assert not result.foam.cut.shortages


def test_block_list_says_where_each_block_comes_from(bar: Path) -> None:
    """blocks.csv has layers, billet, strip, blank and volumes for every block; volumes follow from its sizes."""
    result = made(bar, BOARDS_20, thickness=40)
    rows = list(csv.DictReader(blocks_csv(result).splitlines()))
    assert len(rows) == len(result.body.blocks)
    for row in rows:
        assert row["billet"] == "1"
        assert int(row["strip"]) >= 1
        size = float(row["thickness_mm"]) * float(row["height_mm"]) * float(row["width_mm"])
        assert float(row["box_litres"]) == pytest.approx(size / 1e6, abs=1e-4)
        assert float(row["waste_litres"]) == pytest.approx(
            float(row["box_litres"]) - float(row["body_litres"]), abs=2e-4
        )
    body = sum(float(row["body_litres"]) for row in rows)
    assert body == pytest.approx(LENGTH * BREADTH * DEPTH / 1e6, rel=1e-3)


def test_report_holds_the_foam_and_its_volumes_balance(bar: Path) -> None:
    """Boards = blocks + offcuts + kerf + trim + waste, as figures in the report."""
    result = made(bar, BOARDS_20, thickness=40)
    figures = json.loads(json.dumps(report_figures(result, ())))
    volumes = figures["foam"]["volumes"]
    parts = sum(volumes[key] for key in ("blocks", "offcuts", "kerf", "trim", "waste"))
    assert parts == pytest.approx(volumes["boards"], rel=1e-9)
    assert figures["wire"]["current_amps"] > 0


def test_measured_boards_move_the_stations(bar: Path) -> None:
    """With as_measured the stations stand where the glued faces of 2 x 19.7 mm will be; the rest goes to the nose."""
    text = BOARDS_20 + "measured = 19.7\n"
    named = made(bar, text, thickness=40)
    moved = made(bar, text, thickness=40, as_measured=True)
    assert named.body.stations.stations[-2] == pytest.approx(LENGTH - 40)
    assert moved.body.stations.stations[-2] == pytest.approx(LENGTH - 39.4)
    assert all(block.span.thickness <= 39.4 + 1e-9 for block in moved.body.blocks)
    assert moved.foam.accuracy is not None
    assert moved.foam.accuracy.end.known == pytest.approx(0, abs=1e-9)
    assert named.foam.accuracy is not None
    full = sum(block.span.full for block in named.body.blocks)
    assert named.foam.accuracy.end.known == pytest.approx(-0.6 * full)


def test_measured_boards_and_fit_go_together(bar: Path) -> None:
    """With both, full blocks are as thick as two measured boards of 19.7 mm, none is thicker, and the length has no
    known error.
    """
    words = {("foam", "thickness"): 40, ("foam", "fit"): 1, ("foam", "as_measured"): True}
    job = load_job(job_file(bar, BOARDS_20 + "measured = 19.7\n"), words)
    hull = read_job(job)
    body = shape(job, hull)
    assert max(span.thickness for span in body.stations.spans) == pytest.approx(39.4)
    assert {span.full for span in body.stations.spans if abs(span.thickness - 39.4) < 1e-6} == {True}
    assert max(block.grown.deviation.extra for block in body.cut_blocks) <= 1
    assert any("--most is ignored" in note.sentence for note in body.stations.notes)
    accuracy = supply_job(job, body).accuracy
    assert accuracy is not None
    assert accuracy.end.known == pytest.approx(0, abs=1e-9)


def test_boards_alone_get_a_thickness_proposed(bar: Path) -> None:
    """Without a thickness the boards' own and laminated ones are tried; the fewest joints that fit are proposed."""
    job = load_job(job_file(bar, BOARDS_20 + "[[offcuts]]\nlength = 700\nwidth = 400\nthickness = 30\n"))
    proposal = propose_thickness(job, read_job(job))
    assert [variant.row.foam for variant in proposal.tried] == [20, 30, 40, 50, 70]
    assert proposal.choice.row.lacking == 0
    fitting = [variant.row for variant in proposal.tried if not variant.row.lacking]
    assert proposal.choice.row.blocks + proposal.choice.row.glue_lines == min(
        row.blocks + row.glue_lines for row in fitting
    )


def test_thicknesses_mix_no_foams_and_count_boards(bar: Path) -> None:
    """Layers of one billet are of one foam, and no more boards are glued than there are."""
    text = (
        "[[boards]]\ncount = 1\nlength = 1200\nwidth = 600\nthickness = 20\nfoam = 'XPS'\n"
        "[[boards]]\ncount = 3\nlength = 1200\nwidth = 600\nthickness = 30\nfoam = 'EPS'\n"
    )
    job = load_job(job_file(bar, text))
    assert thicknesses(available_boards(foam_settings(job)), job.cutting, LENGTH) == [20, 30, 60, 90]


def test_assumed_boards_are_reported(bar: Path) -> None:
    """A job without boards gets a shopping list, and the assumption comes with what overrides it."""
    result = made(bar, "", thickness=40)
    assert any("[[boards]]" in note.sentence for note in result.notes)
    assert all(board.count is None for billet in result.foam.cut.billets for board in billet.boards)


def test_lacking_foam_is_named_with_what_to_buy(bar: Path) -> None:
    """One small offcut does not do: the blocks without foam are warned of, and what to buy."""
    result = made(bar, "[[offcuts]]\nlength = 400\nwidth = 200\nthickness = 40\n", thickness=40)
    assert result.foam.cut.shortages
    assert any("No foam for block" in note.sentence and "Buy" in note.sentence for note in result.notes)
    given = origins(result.foam.cut)
    lacking = {number for shortage in result.foam.cut.shortages for number in shortage.blocks}
    assert given.keys() | lacking == {block.span.number for block in result.body.blocks}
    assert not given.keys() & lacking


def test_kerf_test_sets_the_kerf(bar: Path) -> None:
    """A test block of 98.9 mm cut with a 0.4 mm wire says a kerf of 1.5 mm (100 + 0.4 - 98.9)."""
    job = load_job(job_file(bar, "[template]\nkerf_test = 98.9\nwire = 0.4\n"))
    assert cutting_settings(foam_settings(job)).effective_kerf == pytest.approx(1.5)


def test_runs_of_numbers_are_drawn_together() -> None:
    """Numbers are written as runs where there are three or more."""
    assert number_runs([7, 1, 2, 3, 10, 9]) == "01 to 03, 07, 09, 10"


VOLTS = re.compile(r"(\d+(?:\.\d+)?) ?V\b")


def test_job_book_and_report_name_no_supply_above_48_volts(bar: Path) -> None:
    """AWG 38 over 2 m would need 137 V: book, report and warnings say which wire or span does, and no such voltage."""
    result = made(bar, BOARDS_20 + "[wire]\ngauge = 38\nspan = 2000\n", thickness=40)
    facts = book_contents(result).facts
    sentence = "take AWG 27 (0.361 mm) or thicker, or keep the span to 690 mm or less."
    assert any(note.text.endswith(sentence) for note in result.notes)
    assert any(words.endswith(sentence) for words in facts.wire_cautions)
    printed = " ".join([*(f"{row.label} {row.value} {row.note}" for row in facts.wire), *facts.wire_cautions])
    report = report_figures(result, [])
    assert report["wire"]["supply_volts"] is None
    assert report["wire"]["voltage_volts"] is None
    volts = [float(number) for number in VOLTS.findall(printed + json.dumps(report))]
    assert volts
    assert max(volts) <= 48


@pytest.mark.parametrize("volts", ["48.5", "120", "230", "1e9"])
def test_a_job_with_a_supply_above_48_volts_is_refused(bar: Path, volts: str) -> None:
    """The job is refused before anything is read, with the caution and without its own figure."""
    with pytest.raises(JobError, match=r"more than 48 V, which can kill.* never the mains") as raised:
        load_job(job_file(bar, f"[wire]\nsupply = {volts}\n"))
    assert set(VOLTS.findall(str(raised.value))) == {"48"}
