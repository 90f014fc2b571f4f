"""The body that the wire leaves: no foam is missing, it is closed, and the report's figures are its own."""

import io
import json
import math
import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import trimesh
from manifold3d import Manifold, Mesh64
from scipy.spatial import cKDTree
from shapely import Polygon

from profiles.blocks.blocks import Block, CarvedBlock, CutBlock
from profiles.blocks.bodyfile import built_files, solid_of, stl_bytes, volume_of
from profiles.build import Build, build, read_job, shape
from profiles.hull.frame import Hull
from profiles.hull.loading import load
from profiles.hull.surface import join_meshes
from profiles.jobfile import Overrides, load_job
from profiles.notes import NoteKind
from profiles.paper.drawing import Role
from profiles.paper.template import Kind
from profiles.report import block_figures, report_figures
from profiles.units import Figures

ROOT = Path(__file__).resolve().parents[1]
MODELS = ROOT / "models"
SHARED = ROOT.parent / "shared/meshes"

Floats = npt.NDArray[np.float64]

DEMOS = ("skerrywing", "wickerby", "pelloway", "tandril")

REAL: dict[str, dict[tuple[str, str], Any]] = {
    "rc_yacht_core.stl": {
        ("hull", "unit"): "m",
        ("hull", "solid"): True,
        ("foam", "thickness"): "80",
        ("foam", "breaks"): ("386.1", "387.75", "421.1"),
    },
    "sail_drone_hull.stl": {
        ("hull", "unit"): "m",
        ("hull", "solid"): True,
        ("foam", "thickness"): "160",
        ("foam", "breaks"): ("1271.85", "1506.95", "2474.42", "2489.42"),
    },
    "auv_torpedo_body.stl": {
        ("hull", "length"): "800",
        ("hull", "solid"): True,
        ("foam", "thickness"): "60",
        ("foam", "breaks"): ("341.4",),
    },
}
"""Breaks are the steps and splits that the program itself names for these hulls."""

OUTSIDE = 0.05
"""mm; what is promised of every block."""

AT_STATION = 1e-3
"""mm; a point this near to a station may lie on the end face of either block: an STL rounds to 1e-4 mm at a metre."""


@dataclass(frozen=True, slots=True)
class Body:
    """A hull in blocks, without any drawing."""

    hull: Hull
    blocks: tuple[Block, ...]

    @property
    def cut(self) -> list[CutBlock]:
        """Blocks that are cut by both their templates."""
        return [block for block in self.blocks if isinstance(block, CutBlock)]

    @property
    def stl(self) -> bytes:
        """What built.stl holds."""
        return built_files(self.blocks)["built.stl"]


def body_of(source: Path, words: Overrides) -> Body:
    job = load_job(source, words)
    hull = read_job(job)
    return Body(hull, shape(job, hull).blocks)


@cache
def demo(name: str) -> Body:
    return body_of(MODELS / f"{name}.toml", {})


@cache
def drawn(growth: str) -> Build:
    """Pelloway, convex all over, in few blocks."""
    return build(
        load_job(
            MODELS / "pelloway.toml",
            {("foam", "thickness"): "95", ("foam", "most"): "none", ("template", "growth"): growth},
        )
    )


def corners_in(stl: bytes) -> Floats:
    """The triangles (n, 3, 3) mm of a binary STL."""
    records = np.frombuffer(stl[84:], dtype=np.dtype([("normal", "<3f4"), ("corners", "<f4", (3, 3)), ("more", "<u2")]))
    assert len(records) == int.from_bytes(stl[80:84], "little")
    return records["corners"].astype(np.float64)


def bodies_in(stl: bytes, blocks: Sequence[Block]) -> list[trimesh.Trimesh]:
    """The part of an STL that belongs to each block, in their order, equal corners merged."""
    counts = [len(corners_in(stl_bytes(*solid))) for block in blocks if (solid := solid_of(block))]
    assert len(counts) == len(blocks)
    corners = corners_in(stl)
    assert sum(counts) == len(corners)
    return [merged(part) for part in np.split(corners, np.cumsum(counts)[:-1])]


def merged(corners: Floats) -> trimesh.Trimesh:
    mesh = trimesh.Trimesh(corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3), process=False)
    mesh.merge_vertices()
    return mesh


def samples_on(hull: Hull, count: int) -> Floats:
    """Points (n, 3) mm on the hull's skin, by area; the same every time."""
    skin = trimesh.Trimesh(hull.surface.vertices, hull.surface.faces, process=False)
    points, _ = trimesh.sample.sample_surface(skin, count, seed=1)
    return np.asarray(points)


def outside(body: trimesh.Trimesh, points: Floats) -> Floats:
    """How far points (n, 3) mm lie outside a body, (n,) mm, below 0 if inside; by trimesh.

    Rays along y and z that both leave the body an odd number of times come from inside; they are quick, since few
    triangles lie along an axis. The others are measured, signed by a third ray.
    """
    crossings = []
    for way in np.eye(3)[1:]:
        _, rays = body.ray.intersects_id(points, np.tile(way, (len(points), 1)), multiple_hits=True)
        crossings.append(np.bincount(rays, minlength=len(points)))
    inside = (crossings[0] % 2 == 1) & (crossings[1] % 2 == 1)
    found = np.full(len(points), -np.inf)
    if not inside.all():
        found[~inside] = -np.asarray(trimesh.proximity.signed_distance(body, points[~inside]))  # type: ignore[no-untyped-call]
    return found


def farthest_outside(made: Body, points: Floats) -> tuple[float, int]:
    """How far the worst of the points lies outside the blocks, wire-cut and carved, mm, and how many points were
    looked at.
    """
    x = points[:, 0]
    worst = np.full(len(points), np.inf)
    for block, body in zip(made.blocks, bodies_in(made.stl, made.blocks), strict=True):
        fore, aft = block.span.x_fore, block.span.x_aft
        near = np.flatnonzero((x >= fore - AT_STATION) & (x <= aft + AT_STATION))
        worst[near] = np.minimum(worst[near], outside(body, points[near]))
    return float(worst.max()), len(worst)


@pytest.mark.parametrize("name", DEMOS)
def test_no_sample_of_a_demo_hull_lies_outside_the_built_body(name: str) -> None:
    """Of 25,000 points on the skin of each, none is outside by more than 0.05 mm, by trimesh."""
    worst, count = farthest_outside(demo(name), samples_on(demo(name).hull, 25_000))
    assert count > 15_000
    assert worst < OUTSIDE


@pytest.mark.slow
@pytest.mark.parametrize("name", REAL)
def test_no_sample_of_a_real_hull_lies_outside_the_built_body(name: str) -> None:
    """Nor of a yacht, a sailing drone and a torpedo that others drew."""
    if not (SHARED / name).exists():
        pytest.skip("no shared meshes")
    made = body_of(SHARED / name, REAL[name])
    worst, count = farthest_outside(made, samples_on(made.hull, 6000))
    assert count > 1000
    assert worst < OUTSIDE


@pytest.mark.filterwarnings("ignore:(divide by zero|invalid value):RuntimeWarning:trimesh")
def test_without_growth_samples_do_lie_outside() -> None:
    """The same check finds the foam that is missing between the templates of a convex body, as deep as reported."""
    made = body_of(MODELS / "pelloway.toml", {("template", "growth"): "none"})
    reported = max(block.grown.deviation.missing for block in made.cut)
    worst, _ = farthest_outside(made, samples_on(made.hull, 8000))
    assert reported > 0.5
    assert 0.85 * reported < worst < reported + OUTSIDE  # the figure is measured across, in the section


@pytest.mark.parametrize("name", DEMOS)
def test_built_body_is_closed_block_by_block(name: str) -> None:
    """Every block in built.stl is watertight and wound one way, and holds its reported volume, by trimesh."""
    made = demo(name)
    reported = [_figures(made)[block.span.number]["foam_volume"] for block in made.blocks]
    bodies = bodies_in(made.stl, made.blocks)
    assert [block.span.number for block, body in zip(made.blocks, bodies, strict=True) if not body.is_watertight] == []
    assert sum(len(body.faces) for body in bodies) == len(corners_in(made.stl))
    assert all(body.is_winding_consistent for body in bodies)
    assert [body.volume for body in bodies] == pytest.approx(
        reported, rel=3e-6
    )  # an STL rounds to 6e-8 of each coordinate
    assert sum(body.volume for body in bodies) == pytest.approx(sum(reported), rel=1e-6)


def _figures(made: Body) -> dict[int, Figures]:
    """Of blocks that are not drawn."""
    return {block.span.number: block_figures(block) for block in made.blocks}


@pytest.mark.parametrize("name", DEMOS)
def test_blocks_that_two_templates_cannot_cut_are_told(name: str) -> None:
    """Where pieces join inside a block a warning names it and the place for a station; no other block is hopeless."""
    made = demo(name)
    unpaired = [block for block in made.cut if block.grown.pairing.unpaired]
    for block in unpaired:
        texts = [note.sentence for note in block.notes if note.kind is NoteKind.WARNING]
        assert any(text.startswith(f"Block {block.span.number:02d}") and "--break" in text for text in texts)
    hopeless = [block for block in made.cut if block.grown.hopeless]
    assert hopeless == unpaired


@pytest.mark.parametrize("name", DEMOS)
def test_places_of_the_largest_deviations_lie_in_their_block(name: str) -> None:
    """The lowest and the highest deviation stand within the block's reach and box, at a mark that both faces have."""
    made, figures = demo(name), _figures(demo(name))
    for block in made.cut:
        if block.grown.pairing.unpaired:
            continue
        marks = {mark.number for mark in block.fore.marks}
        assert marks == {mark.number for mark in block.aft.marks}
        for when in ("deviation", "before_growth"):
            reported = figures[block.span.number][when]
            assert when == "before_growth" or {one["number"] for one in reported["marks"]} <= marks
            assert min(one["lowest"] for one in reported["marks"]) == reported["lowest"]["value"]
            carved = (figures[block.span.number]["features"] or {"marks": []})["marks"] if when == "deviation" else []
            sanded = [one["highest"] for one in reported["marks"] if one["number"] not in carved]
            assert max(sanded) == reported["highest"]["value"]
            assert reported["missing"] == max(0.0, -reported["lowest"]["value"])
            assert reported["extra"] == max(0.0, reported["highest"]["value"])
            depth = 0.0 if not carved else figures[block.span.number]["features"]["depth"]
            assert reported["mean"] <= reported["rms"] <= max(reported["missing"], reported["extra"], depth) + 1e-6
            for place in (reported["lowest"], reported["highest"]):
                assert block.span.x_fore <= place["x"] + 1e-6
                assert place["x"] - 1e-6 <= block.span.x_aft
                assert block.box.y_low <= place["y"] <= block.box.y_low + block.box.width
                assert block.box.z_low <= place["z"] <= block.box.z_low + block.box.height
                assert when == "before_growth" or place["mark"] in marks


def both_ways(made: Build) -> list[Figures]:
    """The blocks of the report that are cut by two templates."""
    figures = report_figures(made, [])
    return [block for block in figures["blocks"] if not block["tip"]]


def test_without_growth_a_convex_hull_lacks_foam_in_every_block() -> None:
    """`none` leaves the outlines at the hull's own sections, where foam is then missing between them."""
    made = drawn("none")
    blocks = both_ways(made)
    assert len(blocks) >= 4
    for block in blocks:
        assert block["growth"] == 0
        assert block["deviation"] == block["before_growth"]
        assert block["deviation"]["missing"] > 0.5
    finished = [stroke for template in made.layout.templates for stroke in template.drawing.strokes]
    assert not any(stroke.role is Role.FOAM for stroke in finished)
    assert not any(
        "dashed line" in label.text for template in made.layout.templates for label in template.drawing.labels
    )


def test_growth_by_block_gives_each_block_its_own_and_none_lacks_foam() -> None:
    """Each block grows by what it lacks; so two faces that meet need not be alike."""
    blocks, before = both_ways(drawn("block")), both_ways(drawn("none"))
    for block, plain in zip(blocks, before, strict=True):
        assert block["deviation"]["missing"] <= 0.01
        assert block["before_growth"] == plain["deviation"]
        assert block["growth"] == pytest.approx(plain["deviation"]["missing"], abs=0.05)
        assert block["sanding"] == block["deviation"]["extra"]
    assert len({round(block["growth"], 2) for block in blocks}) > 1
    made = drawn("block")
    joints = [
        (fore.aft, aft.fore)
        for fore, aft in zip(made.body.blocks, made.body.blocks[1:], strict=False)
        if not isinstance(fore, CarvedBlock) and not isinstance(aft, CarvedBlock)
    ]
    for one, other in joints:
        assert one.outline.finished.symmetric_difference(other.outline.finished).area < 1e-3
    assert any(one.outline.cut.symmetric_difference(other.outline.cut).area > 1 for one, other in joints)


def test_fixed_growth_moves_every_outline_by_it() -> None:
    """A growth of 3.5 mm is that of all blocks, and the cut line lies as far outside the hull's own section."""
    made = drawn("3.5")
    assert {block["growth"] for block in both_ways(made)} == {3.5}
    for block in made.body.blocks:
        for face in block.faces if not isinstance(block, CarvedBlock) else ():
            assert face.outline.cut.contains(face.outline.finished.buffer(3.499))
            assert face.outline.finished.buffer(3.6).contains(face.outline.cut)


@pytest.mark.parametrize("growth", ["varying", "block", "3.5"])
def test_grown_templates_say_so_and_show_the_line_to_sand_to(growth: str) -> None:
    """By how much it is cut too large stands on each face's template, and the finished outline is there, dashed."""
    made = drawn(growth)
    faces = {face.id: block for block in made.body.blocks for face in block.faces if isinstance(block, CutBlock)}
    shown = [template for template in made.layout.templates if template.id in faces]
    assert len(shown) == len(faces)
    for template in shown:
        block = faces[template.id]
        enlarged = block.growth[template.source.kind is Kind.AFT]
        reported = f"up to {enlarged:.2f} mm oversize: sand to the dashed line"
        assert any(reported in label.text for label in template.drawing.labels)
        assert any(stroke.role is Role.FOAM for stroke in template.drawing.strokes)


def test_built_glb_is_read_back_the_same_by_our_own_reader(tmp_path: Path) -> None:
    """In metres, y up, the nose along +z (glTF 2.0 specification, 3.4): each corner comes back to a 32-bit number."""
    made = demo("tandril")
    (tmp_path / "built.glb").write_bytes(built_files(made.blocks)["built.glb"])
    raw = load(tmp_path / "built.glb")
    vertices, faces = join_meshes([solid for block in made.blocks if (solid := solid_of(block))])
    assert raw.unit == "m"
    assert raw.up_hint == "y"
    triangles = vertices[faces].reshape(-1, 9)
    read = (raw.vertices[:, [2, 0, 1]] * (-1, -1, 1))[raw.faces].reshape(-1, 9)
    assert len(read) == len(triangles)
    for ours, theirs in ((triangles, read), (read, triangles)):  # solids come in another order
        assert np.max(cKDTree(ours).query(theirs)[0]) < 3e-4


def test_built_glb_has_a_closed_solid_and_a_colour_for_each_block() -> None:
    """By trimesh: a mesh for each block under its name, of its volume in m3, and no colour twice."""
    made = demo("pelloway")
    scene = trimesh.load_scene(io.BytesIO(built_files(made.blocks)["built.glb"]), file_type="glb")
    assert list(scene.geometry) == [f"block {block.span.number:02d}" for block in made.blocks]
    assert all(mesh.is_watertight for mesh in scene.geometry.values())
    volumes = [mesh.volume * 1e9 for mesh in scene.geometry.values()]
    assert volumes == pytest.approx([volume_of(block) for block in made.blocks], rel=1e-4)
    colours = {tuple(mesh.visual.material.baseColorFactor) for mesh in scene.geometry.values()}
    assert len(colours) == len(made.blocks)


def test_built_files_are_the_same_bytes_every_time() -> None:
    """Nothing in them depends on the run."""
    made = demo("pelloway")
    assert built_files(made.blocks) == built_files(made.blocks)


def solid(vertices: Floats, faces: npt.NDArray[np.int64]) -> Manifold:
    return Manifold(Mesh64(np.array(vertices, order="C"), np.array(faces, dtype=np.uint64, order="C")))


@pytest.mark.parametrize("growth", ["varying", "block"])
def test_litres_to_sand_and_to_carve_are_what_comes_off(growth: str) -> None:
    """By manifold3d: each block less the hull is what is sanded off, to 6 % or 50 mm3 and 1.5 % in total; the hull
    between the stations of a carved block is what the knife leaves, to 0.1 %.
    """
    made = body_of(MODELS / "pelloway.toml", {("template", "growth"): growth})
    hull = solid(made.hull.surface.vertices, made.hull.surface.faces)
    sanded = []
    for block in made.blocks:
        foam = solid_of(block)
        assert foam
        if isinstance(block, CutBlock):
            sanded.append((solid(*foam) - hull).volume())
            assert block.sanding_volume == pytest.approx(sanded[-1], rel=0.06, abs=50)
        elif isinstance(block, CarvedBlock):
            slab = hull.trim_by_plane((1, 0, 0), block.span.x_fore).trim_by_plane((-1, 0, 0), -block.span.x_aft)
            assert block.tip.volume == pytest.approx(slab.volume(), rel=1e-3)
            assert (solid(*foam) - hull).volume() < 1e-3 * slab.volume()
    assert sum(block.sanding_volume for block in made.cut) == pytest.approx(sum(sanded), rel=0.015)


def test_built_body_under_a_skin_is_the_foam_under_it() -> None:
    """Pelloway under 2 mm: each block loses the ring between two parallel outlines, s L - pi s^2 for each mm (Steiner's
    formula for convex outlines), which is longer where the surface slopes, by the secant of the slope of a round body;
    what is to be sanded hardly changes, since only the way round becomes shorter.
    """
    bare = body_of(MODELS / "pelloway.toml", {("template", "growth"): "block"})
    clad = body_of(MODELS / "pelloway.toml", {("template", "growth"): "block", ("template", "skin"): "2"})
    for outer, inner in zip(bare.cut, clad.cut, strict=True):
        finished, foam = volume_of(outer), volume_of(inner)
        assert finished is not None
        assert foam is not None
        around = (outer.grown.fore.length + outer.grown.aft.length) / 2
        slope = (outer.grown.fore.length - outer.grown.aft.length) / (2 * math.pi * outer.span.thickness)
        ring = 2 * around * math.hypot(1.0, slope) - math.pi * 2**2
        assert finished - foam == pytest.approx(ring * outer.span.thickness, rel=0.02)
        assert inner.sanding_volume == pytest.approx(outer.sanding_volume, rel=0.25, abs=20)
    assert clad.blocks[0].tip.volume < bare.blocks[0].tip.volume  # type: ignore[attr-defined]
    for block, body in zip(clad.blocks, bodies_in(clad.stl, clad.blocks), strict=True):
        assert body.is_watertight, block.span.number


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the command leaves of Pelloway in few blocks, with a gauge asked for in the nose."""
    place = tmp_path_factory.mktemp("made")
    words = ["make", str(MODELS / "pelloway.toml"), "--foam", "95", "--gauge", "30", "--out", "made"]
    command = [sys.executable, "-W", "error", "-m", "profiles", *words]
    subprocess.run(command, cwd=place, env=os.environ | {"PYTHONPATH": str(ROOT)}, check=True, capture_output=True)
    return place / "made"


def report_in(folder: Path) -> Figures:
    figures: Figures = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    return figures


def test_volume_of_the_file_is_the_sum_told_in_the_report(folder: Path) -> None:
    """built.stl read by trimesh against the foam volumes of all blocks, to a millionth."""
    mesh = trimesh.load_mesh(io.BytesIO((folder / "built.stl").read_bytes()), file_type="stl")
    reported = [block["foam_volume"] for block in report_in(folder)["blocks"]]
    assert len(reported) >= 6
    assert mesh.volume == pytest.approx(sum(reported), rel=1e-6)


def test_tips_are_told_and_carved_by_profiles_and_gauges(folder: Path) -> None:
    """The pointed ends of the body are tips, with a side, a plan and at least one gauge as files of their own."""
    report = report_in(folder)
    tips = [block for block in report["blocks"] if block["tip"]]
    assert [block["number"] for block in tips] == [1, len(report["blocks"])]
    templates = {template["id"]: template for template in report["templates"]}
    for block in tips:
        number = f"{block['number']:02d}"
        names = {f"{number} {name}" for name in ("side port", "side stbd", "plan top", "plan bottom")}
        assert names <= set(block["templates"])
        assert any(templates[name]["face"].startswith("gauge") for name in block["templates"])
        for name in block["templates"]:
            template = templates[name]
            assert template["block"] == block["number"]
            assert template["cut_area"] > 100
            assert template["pages"]
            assert (folder / template["file"]).is_file()
        assert block["foam_volume"] > block["carving_volume"] > 0
        assert block["deviation"] is None


def test_a_gauge_stands_where_it_is_asked_for(folder: Path) -> None:
    """`--gauge 30` gives the nose one gauge, at 30 mm; its area is that of the hull's section there, by trimesh."""
    gauges = [one for one in report_in(folder)["templates"] if one["block"] == 1 and one["face"].startswith("gauge")]
    (gauge,) = gauges
    assert gauge["x"] == 30
    surface = demo("pelloway").hull.surface
    path = trimesh.Trimesh(surface.vertices, surface.faces).section(plane_origin=(30, 0, 0), plane_normal=(1, 0, 0))
    assert path is not None
    (ring,) = path.discrete
    assert gauge["finished_area"] == pytest.approx(Polygon(ring[:, 1:]).area, rel=1e-6)
