"""A job with parts, from its words to its files: each part by itself, the boards shared, the blocks of all by name."""

import json
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh

from profiles.blocks.body import Body
from profiles.blocks.bodyfile import placed_solid
from profiles.build import build, read_job, shape
from profiles.errors import JobError, StationerError
from profiles.job import Job
from profiles.jobfile import load_job
from profiles.joining import joint_rows
from profiles.options import parse_parts
from profiles.parting import letters_of
from profiles.report import blocks_csv, report_figures
from profiles.results import render_build

PARTS = ("fin: above 30 and aft of 250, upright, foam 25", "wings: beyond 40, across, foam 30")


def _box(size: tuple[float, float, float], middle: tuple[float, float, float]) -> manifold3d.Manifold:
    return manifold3d.Manifold.cube(size, center=True).translate(middle)


@pytest.fixture(scope="module")
def hull_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A hull of boxes, so that every figure has a closed form: 400 x 80 x 60 mm, a fin 60 x 12 x 100 mm that stands on
    it at x = 300, and two wings 100 x 90 x 16 mm at x = 150.
    """
    solid = _box((400, 80, 60), (200, 0, 0)) + _box((60, 12, 130), (300, 0, 65)) + _box((100, 260, 16), (150, 0, 0))
    mesh = solid.to_mesh64()
    file = tmp_path_factory.mktemp("boxes") / "linnet.stl"
    trimesh.Trimesh(mesh.vert_properties[:, :3], mesh.tri_verts).export(file)
    return file


@cache
def _job(file: Path, parts: tuple[str, ...] = PARTS, thickness: float = 50.0) -> Job:
    words = {
        ("hull", "unit"): "mm",
        ("hull", "length_axis"): "x",
        ("hull", "up"): "z",
        ("hull", "nose"): "low",
        ("foam", "thickness"): thickness,
        ("parts", ""): parse_parts(parts),
    }
    return load_job(file, words)


def _place(job: Job) -> str:
    """The fin's root in the hull's own frame, whose datum the program chooses."""
    hull = read_job(job)
    return f"{hull.lowest + 60:.3f}"


@pytest.fixture(scope="module")
def job(hull_file: Path) -> Job:
    """Parts at the places where the boxes meet."""
    height = _place(_job(hull_file))
    return _job(hull_file, (f"fin: above {height} and aft of 250, upright, foam 25", PARTS[1]))


@pytest.fixture(scope="module")
def body(job: Job) -> Body:
    """The job's blocks."""
    return shape(job, read_job(job))


def test_the_solids_of_all_parts_are_the_hull_again(job: Job, body: Body) -> None:
    """Placed in the hull they add up to it, by another library: boxes leave nothing to sand. Closed form."""
    solids = [placed_solid(block, body.places) for block in body.blocks]
    made = [
        manifold3d.Manifold(manifold3d.Mesh64(vertices, faces.astype(np.uint64)))
        for vertices, faces in (solid for solid in solids if solid)
    ]
    volume = 400 * 80 * 60 + 60 * 12 * 100 + 2 * 100 * 90 * 16
    assert sum(solid.volume() for solid in made) == pytest.approx(volume, rel=1e-6)
    assert manifold3d.Manifold.batch_boolean(made, manifold3d.OpType.Add).volume() == pytest.approx(volume, rel=1e-6)
    assert read_job(job).volume == pytest.approx(volume, rel=1e-6)


def test_each_part_has_its_own_foam_and_direction(body: Body) -> None:
    """The hull is 8 blocks of 50 mm, the fin 4 of 25 mm in height, each wing 3 of 30 mm across."""
    thicknesses = {piece.title: [block.span.thickness for block in piece.blocks] for piece in body.parts}
    assert thicknesses["F fin"] == pytest.approx([25] * 4)
    assert thicknesses["W wings port"] == thicknesses["S wings starboard"] == pytest.approx([30] * 3)
    assert sum(thicknesses["main body"]) == pytest.approx(400)


def test_a_mirrored_twin_has_the_stations_and_boxes_of_the_other(body: Body) -> None:
    """Planned once: same stations, same box, mirrored."""
    port, starboard = body.parts[2:]
    assert (port.part and port.part.twin, starboard.part and starboard.part.twin) == ("", "wings port")
    assert port.stations.stations == starboard.stations.stations
    for one, other in zip(port.blocks, starboard.blocks, strict=True):
        assert (one.box.y_low, one.box.y_high) == pytest.approx((-other.box.y_high, -other.box.y_low))


def test_blocks_of_parts_have_a_letter_everywhere(job: Job, body: Body) -> None:
    """In the list of blocks, in the report, on templates, and in the one cutting plan for all."""
    made = build(job, body)
    names = [line.split(",")[0] for line in blocks_csv(made).splitlines()[1:]]
    assert names[-10:] == [*(f"F{n:02d}" for n in range(1, 5)), "W01", "W02", "W03", "S01", "S02", "S03"]
    figures = report_figures(made, ())
    assert [block["name"] for block in figures["blocks"]] == names
    assert [part["letter"] for part in figures["parts"]] == ["", "F", "W", "S"]
    assert sorted(joint["area"] for joint in figures["joints"]) == pytest.approx([60 * 12, 100 * 16, 100 * 16])
    assert "F03 fore" in [template.id for template in made.layout.templates]
    planned = {block.block for billet in made.foam.cut.billets for block in billet.blocks}
    assert planned == {block.span.number for block in body.blocks}


def test_every_joint_is_printed_for_both_parts_and_glued_outwards(job: Job, body: Body) -> None:
    """Its sheets measure what they should in the finished pages; each part is glued to one that is there already."""
    made = build(job, body)
    sheets = [template.id for template in made.layout.joints]
    assert len(sheets) == 2 * len(body.joints) == 6
    results = render_build(made)
    assert all(check.holds for check in results.checks)
    assert {sheet for sheet in sheets if any(check.name.startswith(sheet) for check in results.checks)} == {*sheets}
    rows = joint_rows(made)
    there = {"main body"}
    for row in rows:
        assert row.onto in there
        there.add(row.part)
    assert there == {piece.title for piece in body.parts}
    assert [row.area for row in rows] == pytest.approx([1600, 1600, 720])  # the larger parts first
    assert all(row.pages for row in rows)


def test_words_and_tables_give_the_same_parts(hull_file: Path, tmp_path: Path) -> None:
    """`--part` and `[[parts]]` say the same."""
    text = f"""
hull.file = "{hull_file}"
foam.thickness = 50
[[parts]]
name = "fin"
region = "above 30 and aft of 250"
slice = "upright"
foam = 25
[[parts]]
name = "wings"
region = "beyond 40"
slice = "across"
foam = 30
"""
    (tmp_path / "job.toml").write_text(text)
    assert load_job(tmp_path / "job.toml").parts == _job(hull_file).parts


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        (("fin: above 900",), "part 'fin' is empty"),
        (("all: above -900",), "the parts take everything"),
        (("fin: above 40", "fin: below -20"), "two parts are called 'fin'"),
        (("a: above 40", "b: above 38"), "part 'b' is only 2.00 mm thick along z"),
        (("tip: above 95",), "part 'tip': its foam is 50 mm thick, but the part measures only"),
        (("wings: beyond 40, foam 300",), "its foam is 300 mm thick"),
    ],
)
def test_parts_that_cannot_be_built_are_refused(hull_file: Path, parts: tuple[str, ...], words: str) -> None:
    """One sentence: which part, what is wrong, what to do."""
    job = _job(hull_file, tuple(f"{part}, upright" if "tip" in part else part for part in parts))
    with pytest.raises(StationerError, match=words) as fault:
        shape(job, read_job(job))
    assert fault.value.exit_code == 3
    assert len(str(fault.value).split(". ")) <= 2


def test_two_parts_with_one_name_in_a_job_file_are_refused(hull_file: Path, tmp_path: Path) -> None:
    """As in the list that Python gives."""
    part = '[[parts]]\nname = "fin"\nregion = "above 40"\n'
    (tmp_path / "job.toml").write_text(f'hull.file = "{hull_file}"\nfoam.thickness = 50\n{part}{part}')
    job = load_job(tmp_path / "job.toml")
    with pytest.raises(StationerError, match="two parts are called 'fin'"):
        shape(job, read_job(job))


@pytest.mark.parametrize(("key", "value"), [("built", 2), ("as_measured", True)])
def test_what_is_for_one_body_is_refused(hull_file: Path, key: str, value: object) -> None:
    """A glued front end and measured boards belong to one row of blocks."""
    words = {("foam", "thickness"): 50.0, ("foam", key): value, ("parts", ""): parse_parts(PARTS)}
    job = load_job(hull_file, words)
    with pytest.raises(JobError, match="hull in one piece"):
        shape(job, read_job(job))


@pytest.mark.parametrize("text", ["fin", "fin: ", ": above 3", "fin: above 3, sideways", "fin: above 3, foam"])
def test_a_part_that_is_typed_wrong_is_refused(text: str, hull_file: Path) -> None:
    """Exit code 2, and an example."""
    command = [sys.executable, "-m", "profiles", "plan", str(hull_file), "--foam", "50", "--part", text]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "expected" in done.stderr
    assert "Traceback" not in done.stderr


def test_letters_are_the_first_of_the_name_that_is_free() -> None:
    """I and O are left out, since they read as digits."""
    assert letters_of(["fin", "float", "oar", "in"]) == ["F", "L", "A", "N"]
    with pytest.raises(JobError, match="more than there are letters"):
        letters_of([f"part {n}" for n in range(25)])


def test_the_command_writes_all_parts_into_one_folder(hull_file: Path, tmp_path: Path) -> None:
    """With exit code 0, and again into the same folder; --blocks takes names of parts."""
    command = [sys.executable, "-m", "profiles", "make", str(hull_file), "--foam", "50", "--up", "z", "--nose", "low"]
    command += ["--length-axis", "x", *(word for part in PARTS for word in ("--part", part)), "--out", "out"]
    for more in ([], [], ["--blocks", "W02"]):
        done = subprocess.run([*command, *more], cwd=tmp_path, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
    report = json.loads((tmp_path / "out/report.json").read_text())
    assert len(report["parts"]) == 4
    assert (tmp_path / "out/templates/W02-fore.svg").exists()
    assert [file.name for file in sorted((tmp_path / "out-blocks-230002/templates").glob("*.svg"))] == [
        "W02-aft.svg",
        "W02-fore.svg",
    ]


def test_proposed_parts_are_taken_or_left_out_as_asked(hull_file: Path) -> None:
    """Auto takes fin and wings and reports the words for them; none leaves out what the job has."""
    job = _job(hull_file, (), 25.0)
    body = shape(replace(job, hull=replace(job.hull, parts="auto")), read_job(job))
    assert [piece.title for piece in body.parts] == ["main body", "S sides port", "D sides starboard", "T top"]
    assert any("--part 'sides: beyond 40" in note.text for note in body.hull.notes)
    job = _job(hull_file)
    assert shape(replace(job, hull=replace(job.hull, parts="none")), read_job(job)).parts == ()
