"""The job file: every option, all faults at once, and the command line on top."""

from pathlib import Path
from typing import Any

import pytest

from profiles.errors import JobError, WordsError
from profiles.jobfaults import checked_job
from profiles.jobfile import _make_job as make_plainly
from profiles.jobfile import load_job


def job_file(folder: Path, text: str) -> Path:
    path = folder / "hull.toml"
    path.write_text(text, encoding="utf-8")
    return path


WHOLE = """
[hull]
file = "hull.stl"
unit = "in"
scale = "1:12"
length_axis = "x"
up = "-z"
nose = "high"
mirror = "none"
solid = true
bodies = [1, 3]
datum = 20
[foam]
thickness = "1.5in"
odd = "both"
min_block = 12
breaks = [233.5, "10in"]
[template]
skin = 1
kerf = 1.2
wire = 0.4
allowance = 6
box = "each"
pin = 2
marks = 30
[paper]
size = "610x2000"
margin = 5
overlap = 12
orientation = "portrait"
bar_across = 99.6
bar_up = 100.2
[output]
folder = "made"
"""


def test_every_option_is_read(tmp_path: Path) -> None:
    """A whole job file comes through in mm, its file names beside it."""
    job = load_job(job_file(tmp_path, WHOLE))
    assert job.hull.file == str(tmp_path / "hull.stl")
    assert job.hull.scale == pytest.approx(1 / 12)
    assert job.foam.thickness == pytest.approx(38.1)
    assert job.foam.breaks == pytest.approx((233.5, 254.0))
    assert (job.paper.paper.width, job.paper.paper.height) == (610, 2000)
    assert job.output.folder == str(tmp_path / "made")


def test_all_faults_are_told_at_once_with_their_path(tmp_path: Path) -> None:
    """Unknown keys, wrong types and values out of range come in one message."""
    text = """
    [hull]
    file = "hull.stl"
    colour = "red"
    length = "3,5"
    [foam]
    thickness = -1
    odd = 3
    breaks = [1, "q"]
    [paper]
    size = "A9"
    [extra]
    """
    with pytest.raises(JobError) as caught:
        load_job(job_file(tmp_path, text))
    message = str(caught.value)
    for place in ("hull.colour", "hull.length", "foam.thickness", "foam.odd", "foam.breaks.1", "paper.size", "extra"):
        assert f"hull.toml: {place}:" in message, place
    assert message.startswith("7 faults")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[hull]\nfile = "a.stl"\nlength = 1\nscale = 2', "either length or scale"),
        ('[hull]\nfile = "a.stl"\nlength_axis = "z"\nup = "-z"', "must differ"),
        ('[hull]\nfile = "a.stl"\n[foam]\nthickness = 5', "thicker than the foam"),
        ("[hull]", "hull.file: missing"),
        ("hull = 3", "hull: expected"),
        ("[hull", "not valid TOML"),
        ('[hull]\nfile = "a.stl"\nbodies = [0]', "greater than or equal to 1"),
    ],
)
def test_contradictions_are_refused(tmp_path: Path, text: str, words: str) -> None:
    """What cannot be together is said to be so."""
    with pytest.raises(JobError, match=words):
        load_job(job_file(tmp_path, text))


def test_command_line_overrules_the_file(tmp_path: Path) -> None:
    """A word of the command line replaces the file's value, and a size the other kind of size."""
    words = {("foam", "thickness"): "58", ("hull", "length"): "820", ("foam", "odd"): None, ("hull", "bodies"): ()}
    job = load_job(job_file(tmp_path, WHOLE), words)
    assert job.foam.thickness == 58
    assert (job.hull.length, job.hull.scale) == (820, None)
    assert job.foam.odd == "both"
    assert job.hull.bodies == (1, 3)


def test_faults_of_the_command_line_name_the_option() -> None:
    """A wrong word is reported under the option it was given to, with exit code 2."""
    with pytest.raises(WordsError, match="--foam: expected a length") as caught:
        load_job(Path("hull.stl"), {("foam", "thickness"): "thick"}, {("foam", "thickness"): "--foam"})
    assert caught.value.exit_code == 2


def test_hull_file_alone_is_a_job_with_defaults() -> None:
    """Without a job file everything but the hull has a default."""
    job = load_job(Path("some/hull.stl"))
    assert job.hull.file == "some/hull.stl"
    assert job.foam.thickness is None
    assert job.paper.paper.name == "A4"


def test_missing_and_unreadable_job_files(tmp_path: Path) -> None:
    """A job file that is not there, not text or far too long is refused in words."""
    with pytest.raises(JobError, match="there is no job file"):
        load_job(tmp_path / "none.toml")
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(JobError, match="UTF-8"):
        load_job(binary)
    binary.write_bytes(b"#" * 2_000_000)
    with pytest.raises(JobError, match="page of text"):
        load_job(binary)
    with pytest.raises(JobError, match="cannot be read"):
        load_job(_folder(tmp_path / "folder.toml"))


def _folder(path: Path) -> Path:
    path.mkdir()
    return path


@pytest.mark.parametrize(
    "tree",
    [
        {"hull": {"file": "a.stl"}},
        {
            "hull": {"file": "a.stl", "length": 800, "bodies": [2, 1]},
            "foam": {"thickness": "2in", "breaks": ["3 cm", 40]},
        },
        {"hull": {"file": "a.stl", "scale": "1:12"}, "foam": {"most": "none", "fit": 1}, "paper": {"size": "a3"}},
        {"hull": {"file": "a.stl", "scale": 2}, "foam": {"most": 2}, "template": {"growth": 1, "gauges": []}},
        {"hull": {"file": "a.stl"}, "template": {"growth": "block", "kerf_test": 97}, "wire": {"temperature": 250}},
        {
            "hull": {"file": "a.stl"},
            "boards": [{"length": 1250, "width": 600, "thickness": 40, "price": 9, "tolerance": 0.5}],
            "offcuts": [{"length": "30 cm", "width": 200, "thickness": 50, "tolerance": [0.2, 1]}],
            "cutting": {"grain": "height along", "effort": 10, "seconds": 5},
        },
    ],
)
def test_a_job_is_the_same_when_pydantic_checks_it(tree: dict[str, Any]) -> None:
    """The plain check gives what pydantic gives, values of the same types."""
    assert repr(make_plainly(tree)) == repr(checked_job(tree, Path("a.toml"), {}, {}))


@pytest.mark.parametrize(
    ("part", "key", "value"),
    [
        ("hull", "length", -1),
        ("hull", "length", True),
        ("hull", "bodies", [0]),
        ("hull", "bodies", 3),
        ("hull", "file", ""),
        ("hull", "solid", "yes"),
        ("foam", "thickness", "thick"),
        ("foam", "breaks", [1.0] * 501),
        ("foam", "breaks", ["x"]),
        ("foam", "odd", "middle"),
        ("foam", "thick", 3),
        ("template", "growth", "much"),
        ("template", "pin", 0.1),
        ("cutting", "grain", "diagonal"),
        ("cutting", "effort", 2.5),
        ("paper", "size", "A9"),
        ("sheets", "size", "A4"),
    ],
)
def test_the_plain_check_leaves_every_fault_to_pydantic(part: str, key: str, value: object) -> None:
    """Whatever pydantic refuses, the plain check refuses too."""
    tree: dict[str, Any] = {"hull": {"file": "a.stl"}}
    tree.setdefault(part, {})[key] = value
    with pytest.raises(JobError):
        checked_job(tree, Path("a.toml"), {}, {})
    with pytest.raises((JobError, ValueError, TypeError, LookupError, AttributeError)):
        make_plainly(tree)
