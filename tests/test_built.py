"""When something goes wrong at the bench: some sheets again, and a body of which a part is glued already."""

import json
import os
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pypdfium2
import pytest

from profiles.build import build, plan_job, read_job, shape
from profiles.errors import JobError
from profiles.hull.sections import Side
from profiles.job import Job
from profiles.jobfile import load_job
from profiles.layout import fingerprint_of, lay_out

ROOT = Path(__file__).parents[1]
JOB = ROOT / "models" / "pelloway.toml"


@pytest.fixture(name="job", scope="module")
def fixture_job() -> Job:
    return load_job(JOB)


def run(*words: object, code: int = 0) -> str:
    """What the command says, on either output."""
    command = [sys.executable, "-W", "error", "-m", "profiles", *map(str, words)]
    environment = os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "200"}
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    return done.stdout + done.stderr


def test_sheets_of_some_blocks_are_made_again(tmp_path: Path) -> None:
    """The same templates to the byte, the same fingerprint, no others, beside the folder of the whole job."""
    run("make", JOB, "-o", tmp_path / "whole")
    whole = {path.name: path.read_bytes() for path in (tmp_path / "whole" / "templates").iterdir()}
    report = json.loads((tmp_path / "whole" / "report.json").read_text())
    said = run("make", JOB, "-o", tmp_path / "whole", "--blocks", "7, 3")
    again = tmp_path / "whole-blocks-3-7"
    templates = {path.name: path.read_bytes() for path in (again / "templates").iterdir()}
    assert {name.rpartition(".")[0] for name in templates} == {"03-aft", "03-fore", "07-aft", "07-fore"}
    assert all(whole[name] == content for name, content in templates.items() if name.endswith(".svg"))
    assert report["fingerprint"] in said
    with pypdfium2.PdfDocument(again / "templates.pdf") as document:
        assert len(document) < len(report["pages"])
    assert sorted(path.name for path in again.iterdir()) == ["pages", "templates", "templates.pdf"]
    assert json.loads((tmp_path / "whole" / "report.json").read_text()) == report


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (("--blocks", "3,99"), 3, "there is no block 99; the plan has blocks 01 to 15"),
        (("--blocks", "three"), 2, "--blocks: expected numbers of blocks such as 7,9, found 'three'"),
        (("--blocks", "0"), 2, "found '0'"),
        (("--built", "4"), 3, "--built is given alone"),
        (("--built-length", "140"), 3, "--built-length is given alone"),
        (("--built", "40", "--built-length", "140"), 3, "the plan has 15 blocks, so at most 14 can be glued"),
        (("--built", "0", "--built-length", "140"), 2, "--built"),
        (("--built", "4", "--built-length", "400"), 3, "the first 4 blocks are 145.0 mm long by their plan"),
    ],
)
def test_what_cannot_be_is_refused(tmp_path: Path, words: tuple[str, ...], code: int, message: str) -> None:
    """One sentence that says what and where; nothing is written."""
    assert message in run("make", JOB, "-o", tmp_path / "made", *words, code=code)
    assert not list(tmp_path.iterdir())


def test_the_rest_is_planned_from_the_glued_part(job: Job) -> None:
    """Four blocks measure 147.5 mm instead of 145: block 05 begins there, by the section there, and all ends as before.

    Both fingerprints are named, and that of the glued part is the one that its templates carry.
    """
    hull = read_job(job)
    before = shape(job, hull)
    foam = replace(job.foam, built=4, built_length=147.5)
    body = shape(replace(job, foam=foam), hull)
    spans = body.stations.spans
    assert [span.number for span in spans] == list(range(5, 5 + len(spans)))
    assert (spans[0].x_fore, spans[-1].x_aft) == pytest.approx((147.5, hull.length))
    assert all(fore.x_aft == aft.x_fore for fore, aft in pairwise(spans))
    there = hull.shape.section(147.5, Side.AFT).region
    assert body.blocks[0].fore.outline.finished.area == pytest.approx(there.area, rel=1e-6)
    note = next(note.sentence for note in body.notes if "are glued" in note.sentence)
    assert fingerprint_of(before) in note
    assert fingerprint_of(body) in note
    assert fingerprint_of(before) != fingerprint_of(body)
    assert lay_out(body).fingerprint == fingerprint_of(body)


def test_a_part_as_long_as_planned_changes_no_block_after_it(job: Job) -> None:
    """The rest of a body whose glued part is as planned has the stations of the whole plan."""
    hull = read_job(job)
    whole = plan_job(replace(job, foam=replace(job.foam, odd="tail")), hull)
    foam = replace(job.foam, odd="tail", built=3, built_length=whole.stations[3])
    body = shape(replace(job, foam=foam), hull)
    assert body.stations.stations == pytest.approx(whole.stations[3:])


def test_foam_and_book_are_those_of_the_rest(job: Job) -> None:
    """Only blocks that are not glued yet get foam, templates and a step of assembly, the first onto the glued part."""
    from profiles.book.assembly import steps_of
    from profiles.bookfacts import book_contents

    made = build(replace(job, foam=replace(job.foam, built=4, built_length=147.5)))
    numbers = {block.block for billet in made.foam.cut.billets for block in billet.blocks}
    assert numbers == {block.span.number for block in made.body.blocks}
    assert min(numbers) == 5
    assert {template.source.block for template in made.layout.templates} == numbers
    steps = steps_of(book_contents(made).blocks)
    assert (steps[0].block, steps[0].onto) == (5, 4)
    assert steps[0].at == pytest.approx(147.5)


def test_weight_wants_the_whole_body(job: Job, tmp_path: Path) -> None:
    """A job that asks for the weight refuses a part."""
    file = tmp_path / "job.toml"
    file.write_text(JOB.read_text().replace("pelloway.glb", str(JOB.with_name("pelloway.glb"))) + "\n[body]\n")
    weighed = load_job(file, {("foam", "built"): 4, ("foam", "built_length"): 147.5})
    with pytest.raises(JobError, match="weighed"):
        shape(weighed, read_job(job))
