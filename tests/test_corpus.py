"""Bad input: a clear message, its exit code, and nothing else; odd input: true sizes, every guess reported."""

import json
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from tests import closed_forms as zoo
from tests.corpus import table
from tests.corpus.case import Case, refused, stl
from tests.corpus.cases import all_cases
from tests.corpus.running import faults, run, set_up, snapshot

CASES = all_cases()


SAMPLE = 6
"""Of so many cases one is in the ordinary run; the others are marked slow."""


@pytest.mark.parametrize(
    "case",
    [pytest.param(case, id=case.id, marks=[pytest.mark.slow] if n % SAMPLE else []) for n, case in enumerate(CASES)],
)
def test_what_must_happen_happens_and_nothing_else(tmp_path: Path, case: Case) -> None:
    """Exit code, words, size, time and memory are as they must be; nothing but the output folder is touched."""
    before = set_up(case, tmp_path)
    outcome = run(case, tmp_path)
    assert not faults(case, outcome, tmp_path), outcome.err[-1000:] or outcome.out[-1000:]
    assert snapshot(tmp_path) == before


def test_corpus_covers_every_kind_and_is_large_enough() -> None:
    """Every kind has its cases, each with a name of its own."""
    kinds = Counter(case.kind for case in CASES)
    assert kinds.keys() == {
        "file structure", "numbers", "geometry", "containers", "job files", "printers", "boards",
        "hulls without a mesh",
    }  # fmt: skip
    assert min(kinds.values()) >= 20
    assert len({case.id for case in CASES}) == len(CASES)
    assert table.rows(CASES)[-1][-1] == str(len(CASES))


def test_a_fault_of_the_command_would_be_seen(tmp_path: Path) -> None:
    """A hull that is read where it should be refused, or a word that is not said, is found."""
    case = refused("file structure", "good", "hull.stl", stl(zoo.box(90, 60, 40)), "no such word")
    set_up(case, tmp_path)
    found = faults(case, run(case, tmp_path), tmp_path)
    assert "expected exit code 3, found 0" in found
    assert "'no such word' is not said" in found
    assert "an output folder was left behind" in found


def _made(name: str, folder: Path) -> tuple[zoo.Floats, zoo.Floats]:
    """Place and area of each template that the case of that name makes."""
    case = next(case for case in CASES if case.name == name)
    set_up(case, folder)
    figures = json.loads(run(case, folder).out)
    return (
        np.array([template["x"] for template in figures["templates"]]),
        np.array([template["finished_area"] for template in figures["templates"]]),
    )


def test_walls_on_station_planes_give_each_face_its_own_side(tmp_path: Path) -> None:
    """At a station in the plane of a step the two faces have the areas of its two sides (closed form)."""
    x, areas = _made("walls exactly on station planes", tmp_path)
    at_step = np.sort(areas[np.abs(x - 160) < 1e-6])
    assert at_step == pytest.approx([80 * 40, 80 * 60], rel=1e-6)
    assert areas[x < 159] == pytest.approx(80 * 60, rel=1e-6)
    assert areas[x > 161] == pytest.approx(80 * 40, rel=1e-6)


def test_a_hull_shorter_than_its_foam_is_one_block_of_its_own_size(tmp_path: Path) -> None:
    """A box of 30 mm in foam of 80 has two templates, both of its section (closed form)."""
    x, areas = _made("shorter than a block", tmp_path)
    assert x == pytest.approx([0, 30])
    assert areas == pytest.approx([80 * 60] * 2, rel=1e-6)
