"""Jobs in inches: what a person reads is in inches, what is made is the same."""

import json
import math
import os
import re
import subprocess
import sys
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from profiles.errors import WordsError
from profiles.jobfile import load_job
from profiles.pictures.tints import LEGEND_WIDTH, scale_to
from profiles.units import PrintUnit, bare_length, in_printed_units, print_lengths_in, rule_length

ROOT = Path(__file__).parents[1]
HULL = ROOT / "models" / "pelloway.glb"
METRIC = re.compile(r"\d mm\b|\bmm from|litres|\bcm2\b|\bm2\b")


@given(value=st.floats(min_value=0.5, max_value=3000.0))
def test_sixteenths_are_the_nearest_ones(value: float) -> None:
    """The fraction read back is within a thirty-second of an inch, and the sign says on which side the length lies."""
    with print_lengths_in(PrintUnit.IN):
        decimal, words, sign = re.fullmatch(r"([\d.]+) \(([\d /]+)([+-]?)\)", rule_length(value)).groups()  # type: ignore[union-attr]
    read = sum(Fraction(word) for word in words.split())
    assert read.denominator in {1, 2, 4, 8, 16}
    assert abs(value / 25.4 - read) <= Fraction(1, 32) + 1e-9
    assert float(decimal) == pytest.approx(value / 25.4, abs=0.0005)
    difference = value - float(read) * 25.4
    assert sign == ("" if abs(difference) <= 0.05 else "+" if difference > 0 else "-")


@given(value=st.floats(min_value=-500.0, max_value=3000.0), decimals=st.integers(0, 3))
def test_inches_are_as_exact_as_millimetres(value: float, decimals: int) -> None:
    """A length printed in inches is no farther off than the same printed in mm, and never says -0."""
    with print_lengths_in(PrintUnit.IN):
        text = bare_length(value, decimals)
    assert abs(float(text) * 25.4 - value) <= 0.5 * 10**-decimals
    assert not re.fullmatch(r"-0\.?0*", text)


@pytest.mark.parametrize(
    ("sentence", "inches"),
    [
        ("A hull of 820.0 x 95.8 mm.", "A hull of 32.283 x 3.772 in."),
        ("block 01 40 mm; blocks 02 to 40 mm", "block 01 1.57 in; blocks 02 to 1.57 in"),
        ("from x = 0.0 to 711.2 mm", "from x = 0.000 to 28.000 in"),
        ("likely -2.0/+3.0 mm", "likely -0.079/+0.118 in"),
        ("0.018 litres", "1.1 cu in"),
        ("AWG 26: 0.404 mm", "AWG 26: 0.01591 in"),
        ("mmm 3mm 2 mm2", "mmm 3mm 2 mm2"),
    ],
)
def test_sentences_are_turned_where_they_are_read(sentence: str, inches: str) -> None:
    """Every length with its unit is turned, in ranges and products too, but no number of a block; in mm nothing is."""
    assert in_printed_units(sentence) == sentence
    with print_lengths_in(PrintUnit.IN):
        assert in_printed_units(sentence) == inches


def run(*words: object) -> str:
    """What the command says."""
    environment = os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "200"}
    command = [sys.executable, "-W", "error", "-m", "profiles", *map(str, words)]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def pdf_text(path: Path) -> str:
    with pypdfium2.PdfDocument(path) as document:
        return "\n".join(page.get_textpage().get_text_range() for page in document)


@pytest.fixture(name="made", scope="module")
def fixture_made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    folder = tmp_path_factory.mktemp("inches") / "out"
    return folder, run("make", HULL, "--foam", "1.5in", "--inches", "--workers", "1", "-o", folder)


def test_everything_that_is_read_is_in_inches(made: tuple[Path, str]) -> None:
    """Terminal, book and block list have no length in mm; on the pages only the bars and what is said of them have."""
    folder, shown = made
    book = pdf_text(folder / "job-book.pdf")
    assert not METRIC.findall(shown)
    assert not METRIC.findall(book)
    assert "Lengths are in inches" in book
    pages = [line for line in pdf_text(folder / "templates.pdf").splitlines() if METRIC.search(line)]
    assert all(
        "100 mm" in line or "0.3 mm" in line or re.fullmatch(r"[\d ]*(0 in[\d ]*)?0 mm[\d ]*(0 in[\d ]*)?", line)
        for line in pages
    ), pages
    header, first = (folder / "blocks.csv").read_text().splitlines()[:2]
    assert header.startswith("block,thickness_in,height_in,width_in,full,x_fore_in,x_aft_in,")
    assert header.endswith("box_cu_in,body_cu_in,waste_cu_in,cut_into")
    height, width = (float(size) for size in first.split(",")[2:4])
    assert (height * 4 % 1, width * 4 % 1) == (0, 0)  # boxes are cut by a rule: quarters of an inch


def test_paper_boards_and_report_of_a_job_in_inches(made: tuple[Path, str]) -> None:
    """Letter unless a paper is given, boards as sold in inches, and a report in mm as ever."""
    folder, _ = made
    report = json.loads((folder / "report.json").read_text())
    assert {page["paper"] for page in report["pages"]} == {"Letter"}
    assert [board["thickness"] for board in report["foam"]["stock"]] == [38.1, 38.1]
    assert report["hull"]["length"] == pytest.approx(570.0)
    assert report["job"]["output"]["units"] == "in"
    assert load_job(HULL, {("output", "units"): "in", ("paper", "size"): "A3"}).paper.paper.name == "A3"


def test_inches_change_no_template(tmp_path: Path, made: tuple[Path, str]) -> None:
    """The same boxes in mm and in inches give the same fingerprint; two processes write the same bytes as one."""
    folder, _ = made
    words = ("--foam", "1.5in", "--box-step", "0.25in", "--paper", "Letter")
    metric = run("make", HULL, *words, "-o", tmp_path / "mm", "--json")
    assert json.loads(metric)["fingerprint"] == json.loads((folder / "report.json").read_text())["fingerprint"]
    run("make", HULL, "--foam", "1.5in", "--inches", "--workers", "2", "-o", tmp_path / "in")
    for file in sorted(path for path in folder.rglob("*") if path.is_file()):
        assert (tmp_path / "in" / file.relative_to(folder)).read_bytes() == file.read_bytes(), file.name


def test_a_unit_that_nobody_prints_is_refused() -> None:
    """Lengths are printed in mm or in, and the message says so."""
    with pytest.raises(WordsError, match="units: expected 'mm' or 'in', found 'ft'"):
        load_job(HULL, {("output", "units"): "ft"})


def test_a_length_is_not_turned_twice() -> None:
    """Inches stay inches."""
    with print_lengths_in(PrintUnit.IN):
        text = in_printed_units("40 mm")
        assert in_printed_units(text) == text
        assert math.isclose(float(text.split()[0]), 40 / 25.4, abs_tol=0.01)


@pytest.mark.parametrize("unit", list(PrintUnit))
@pytest.mark.parametrize("largest", [0.5, 2.0, 20.0])
def test_numbers_of_the_legend_do_not_touch(unit: PrintUnit, largest: float) -> None:
    """The scale of deviation keeps its numbers apart in mm and in inches, as wide as it is on a page."""
    with print_lengths_in(unit):
        _, labels = scale_to(largest).legend(0.0, 0.0, LEGEND_WIDTH)
    places = sorted(label.extent()[::2] for label in labels if label.text[0] in "+-")
    assert all(right > left for (_, left), (right, _) in pairwise(places))
