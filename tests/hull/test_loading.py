"""Loading: each format, its unit and its axes, and everything that is refused."""

import contextlib
import gzip
import json
import math
import random
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest

from profiles.errors import HullError, JobError
from profiles.hull.formats import content
from profiles.hull.formats.step import declared_unit
from profiles.hull.limits import Limits
from profiles.hull.loading import SENSIBLE, load
from profiles.hull.surface import RawMesh
from profiles.notes import NoteKind
from profiles.units import MM_PER_UNIT
from tests.hull import mesh_files as files
from tests.hull.step_files import step_block

if TYPE_CHECKING:
    from collections.abc import Callable

SIZE = (800.0, 120.0, 60.0)
AT = (5.0, -60.0, 10.0)
BLOCK = files.block(SIZE, AT)
VOLUME = math.prod(SIZE)
SHARED = Path(__file__).parents[2].parent / "shared" / "meshes"


def volume(mesh: RawMesh) -> float:
    """Signed volume by the divergence theorem; positive when the faces look outwards."""
    a, b, c = (mesh.vertices[mesh.faces[:, i]] for i in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def bounds(mesh: RawMesh) -> list[list[float]]:
    """Least and greatest corner of the vertices that faces use."""
    used = mesh.vertices[mesh.faces].reshape(-1, 3)
    return [used.min(axis=0).tolist(), used.max(axis=0).tolist()]


def texts(mesh: RawMesh, kind: NoteKind) -> str:
    """All notes of one kind, joined."""
    return " | ".join(note.text for note in mesh.notes if note.kind is kind)


def saved(folder: Path, name: str, data: bytes) -> Path:
    """The data as a file."""
    path = folder / name
    path.write_bytes(data)
    return path


def refused(path: Path, *words: str, unit: str | None = None) -> HullError:
    """The error with which loading refuses the file; it holds all the words, names the file and has a remedy."""
    with pytest.raises(HullError) as caught:
        load(path, unit=unit)
    text = str(caught.value)
    assert path.name in text
    assert caught.value.remedy
    for word in words:
        assert word in text
    return caught.value


PLAIN = {
    "hull.stl": files.stl_binary(BLOCK),
    "text.stl": files.stl_text(BLOCK),
    "hull.obj": files.obj_text(BLOCK),
    "hull.off": files.off_text(BLOCK),
    "text.ply": files.ply(BLOCK),
    "little.ply": files.ply(BLOCK, form="binary_little_endian"),
    "big.ply": files.ply(BLOCK, form="binary_big_endian"),
}
"""The same block, without a unit."""

DECLARED = {
    "hull.glb": (files.glb(BLOCK / 1000, [{"mesh": 0}]), "m", "y"),
    "hull.3mf": (
        files.three_mf(f'<object id="1">{files.mesh_3mf(BLOCK)}</object>', '<item objectid="1"/>'), "mm", "z",
    ),
    "hull.dae": (files.collada(BLOCK / 1000, '<node><instance_geometry url="#g"/></node>'), "m", "z"),
}  # fmt: skip
"""The same block, with a unit: file, unit, up."""


@pytest.mark.parametrize("zipped", [False, True])
@pytest.mark.parametrize("name", PLAIN)
def test_format_without_unit_is_read_in_mm(tmp_path: Path, name: str, *, zipped: bool) -> None:
    """Every format without a unit gives the block in mm, outside out, plain or gzipped, and tells that it guessed."""
    data = PLAIN[name]
    path = saved(tmp_path, name + ".gz" * zipped, gzip.compress(data) if zipped else data)
    mesh = load(path)
    assert bounds(mesh) == [list(AT), [a + s for a, s in zip(AT, SIZE, strict=True)]]
    assert volume(mesh) == pytest.approx(VOLUME, rel=1e-12)
    assert (mesh.unit, mesh.unit_from, mesh.up_hint) == ("mm", "assumed", None)
    assert mesh.name == Path(name).stem
    assert "800 x 120 x 60 mm (31.5 x 4.724 x 2.362 in)" in texts(mesh, NoteKind.ASSUMPTION)
    assert not texts(mesh, NoteKind.WARNING)


@pytest.mark.parametrize("zipped", [False, True])
@pytest.mark.parametrize("name", DECLARED)
def test_declared_unit_is_applied(tmp_path: Path, name: str, *, zipped: bool) -> None:
    """Every format with a unit gives the block in mm with the file's unit and up axis, and nothing is guessed."""
    data, unit, up = DECLARED[name]
    mesh = load(saved(tmp_path, name + ".gz" * zipped, gzip.compress(data) if zipped else data))
    assert np.allclose(bounds(mesh), np.array([AT, np.add(AT, SIZE)]), rtol=0, atol=1e-4)
    assert volume(mesh) == pytest.approx(VOLUME, rel=1e-6)
    assert (mesh.unit, mesh.unit_from, mesh.up_hint) == (unit, "file", up)
    assert mesh.notes == ()


@pytest.mark.parametrize("name", ["hull.obj", "hull.off", "text.ply", "little.ply"])
def test_vertices_keep_the_number_of_the_file(tmp_path: Path, name: str) -> None:
    """Formats that number their vertices keep that numbering."""
    mesh = load(saved(tmp_path, name, PLAIN[name]))
    assert np.array_equal(mesh.vertices, BLOCK)


def test_arrays_are_read_only(tmp_path: Path) -> None:
    """What loading returns cannot be changed by mistake."""
    mesh = load(saved(tmp_path, "hull.stl", PLAIN["hull.stl"]))
    assert not mesh.vertices.flags.writeable
    assert not mesh.faces.flags.writeable


@pytest.mark.parametrize("kind", ["stl", "obj", "ply", "off", "glb", "3mf"])
def test_another_library_writes_what_is_read(tmp_path: Path, kind: str) -> None:
    """Files written by trimesh come back with its bounds and volume (outside check: trimesh's own figures)."""
    trimesh = pytest.importorskip("trimesh")
    body = trimesh.creation.icosphere(subdivisions=2, radius=300.0)
    body.apply_scale((2.0, 0.5, 0.25))
    scale = 1000.0 if kind == "glb" else 1.0
    path = saved(tmp_path, f"hull.{kind}", b"")
    path.unlink()
    body.copy().apply_scale(1 / scale).export(path)
    mesh = load(path)
    assert len(mesh.faces) == len(body.faces)
    assert np.allclose(bounds(mesh), body.bounds, rtol=1e-6)
    assert volume(mesh) == pytest.approx(body.volume, rel=1e-6)


def test_binary_stl_equals_the_reader_of_another_library(tmp_path: Path) -> None:
    """Vertex for vertex the binary reader gives what trimesh reads (outside check: trimesh's STL reader)."""
    trimesh = pytest.importorskip("trimesh")
    corners = np.random.default_rng(3).normal(size=(600, 3)) * 400
    path = saved(tmp_path, "hull.stl", files.stl_binary(corners, np.arange(600).reshape(-1, 3)))
    other = trimesh.load_mesh(path, process=False)
    mesh = load(path)
    assert np.array_equal(mesh.vertices[mesh.faces], other.vertices[other.faces])


def test_binary_stl_does_not_import_the_slow_library(tmp_path: Path) -> None:
    """Reading an STL leaves trimesh alone, whose import alone takes most of a second."""
    path = saved(tmp_path, "hull.stl", PLAIN["hull.stl"])
    code = (
        "import sys; from pathlib import Path; from profiles.hull.loading import load; "
        f"load(Path({str(path)!r})); sys.exit('trimesh' in sys.modules)"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run([sys.executable, "-c", code], cwd=root, check=False, timeout=60)
    assert done.returncode == 0


def test_binary_stl_may_begin_with_solid(tmp_path: Path) -> None:
    """Structure decides: a binary file whose head begins with "solid" and "facet" is read as binary."""
    data = files.stl_binary(BLOCK, head=b"solid block facet normal")
    assert volume(load(saved(tmp_path, "hull.stl", data))) == pytest.approx(VOLUME)


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r", "\n\n  "])
@pytest.mark.parametrize("upper", [False, True])
def test_text_stl_with_odd_line_ends(tmp_path: Path, line_end: str, *, upper: bool) -> None:
    """CR, CR LF, blank lines and capitals make no difference to a text STL."""
    data = files.stl_text(BLOCK, line_end=line_end)
    mesh = load(saved(tmp_path, "hull.stl", data.upper() if upper else data))
    assert np.array_equal(mesh.vertices[mesh.faces], BLOCK[files.FACES])


def test_text_stl_with_mixed_line_ends_and_several_solids(tmp_path: Path) -> None:
    """Two solids with different line ends, one of them named like a keyword, are read as one mesh."""
    data = files.stl_text(BLOCK, name="vertex 1 2 3") + files.stl_text(np.add(BLOCK, (0, 300, 0)), line_end="\r")
    mesh = load(saved(tmp_path, "hull.stl", b"\xef\xbb\xbf" + data))
    assert len(mesh.faces) == 24
    assert volume(mesh) == pytest.approx(2 * VOLUME)


def test_text_stl_without_an_end_is_told(tmp_path: Path) -> None:
    """A text STL cut between two facets is read with a warning."""
    data = files.stl_text(BLOCK).rpartition(b"endsolid")[0]
    assert "cut short" in texts(load(saved(tmp_path, "hull.stl", data)), NoteKind.WARNING)


def test_text_stl_cut_inside_a_facet_is_refused_with_its_line(tmp_path: Path) -> None:
    """A text STL cut inside a facet is refused with the line at which that facet begins."""
    data = files.stl_text(BLOCK)
    lines = data.split(b"\n")[:12]
    refused(saved(tmp_path, "hull.stl", b"\n".join(lines)), "line 9", "three corners")


def test_text_stl_with_decimal_commas_is_refused(tmp_path: Path) -> None:
    """Decimal commas are named and not read as something else."""
    data = files.stl_text(BLOCK).replace(b".", b",")
    refused(saved(tmp_path, "hull.stl", data), "decimal points instead of commas")


def test_text_stl_with_a_short_corner_is_refused(tmp_path: Path) -> None:
    """A corner with two coordinates is refused with its line."""
    data = files.stl_text(BLOCK).replace(b"vertex 5.0 -60.0 10.0", b"vertex 5.0 -60.0", 1)
    refused(saved(tmp_path, "hull.stl", data), "line 4", "three coordinates")


def test_bytes_after_a_binary_stl_are_told(tmp_path: Path) -> None:
    """A few bytes after the last triangle are passed over with a note."""
    mesh = load(saved(tmp_path, "hull.stl", PLAIN["hull.stl"] + b"\r\n\r\n"))
    assert len(mesh.faces) == 12
    assert "4 bytes" in texts(mesh, NoteKind.WARNING)


@pytest.mark.parametrize(("stated", "cut"), [(11, 0), (13, 0), (12, 7), (12, 50), (2**31, 0)])
def test_stl_count_that_does_not_match_is_refused(tmp_path: Path, stated: int, cut: int) -> None:
    """A count that disagrees with the size is refused with both numbers."""
    data = files.stl_binary(BLOCK, count=stated)
    data = data[: len(data) - cut]
    refused(saved(tmp_path, "hull.stl", data), f"states {stated} triangles", f"({len(data)} bytes)")


def test_stl_cut_inside_its_head_is_refused(tmp_path: Path) -> None:
    """Fewer than 84 bytes are no STL."""
    refused(saved(tmp_path, "hull.stl", files.stl_binary(BLOCK, head=b"a block")[:60]), "60 bytes")


def test_obj_numbers_may_count_backwards(tmp_path: Path) -> None:
    """Negative numbers count back from the vertices read so far, not from the end of the file."""
    text = "v 0 0 0\nv 100 0 0\nv 0 100 0\nf -3 -2 -1\nv 0 0 500\nv 100 0 500\nv 0 100 500\nf -3 -2 \\\n -1 # end\n"
    mesh = load(saved(tmp_path, "hull.obj", text.replace("\n", "\r\n").encode()))
    assert mesh.faces.tolist() == [[0, 1, 2], [3, 4, 5]]


def test_obj_vertices_may_carry_a_weight_or_a_colour(tmp_path: Path) -> None:
    """What follows the three coordinates is passed over."""
    text = "v 0 0 0 1.0\nv 100 0 0 0.5 0.5 0.5\nv 0 100 0\nl 1 2\np 1\nf 1//1 2//1 3//1\nf 1 2\n"
    mesh = load(saved(tmp_path, "hull.obj", text.encode()))
    assert mesh.vertices.tolist() == [[0, 0, 0], [100, 0, 0], [0, 100, 0]]
    assert "1 faces with fewer than three corners" in texts(mesh, NoteKind.REPAIR)


@pytest.mark.parametrize("plane", [(0, 1, 2), (1, 2, 0), (2, 0, 1), (0, 2, 1), (1, 0, 2), (2, 1, 0)])
@pytest.mark.parametrize("form", ["obj", "off", "ply", "dae"])
def test_concave_polygons_are_triangulated_without_overlap(tmp_path: Path, plane: tuple[int, ...], form: str) -> None:
    """A U-shaped polygon gives triangles that all face one way and add up to its area (closed form)."""
    ring = [(0, 0), (300, 0), (300, 200), (200, 200), (200, 50), (100, 50), (100, 200), (0, 200)]
    points = np.zeros((8, 3))
    points[:, plane[0]], points[:, plane[1]], points[:, plane[2]] = *np.array(ring, dtype=float).T, 7.0
    writer = {"obj": files.obj_text, "off": files.off_text, "ply": files.ply, "dae": files.collada_polygons}[form]
    mesh = load(saved(tmp_path, f"hull.{form}", writer(points, [[*range(3, 8), 0, 1, 2], [0, 1, 2]])))
    a, b, c = (mesh.vertices[mesh.faces[:-1, i]] for i in range(3))
    areas = np.cross(b - a, c - a)[:, plane[2]] / 2
    assert len(mesh.faces) == 7
    assert (np.sign(areas) == np.sign(areas[0])).all()
    assert abs(areas.sum()) == pytest.approx(300 * 200 - 100 * 150)


@pytest.mark.parametrize("start", range(0, 9, 2))
def test_concave_polygon_with_a_repeated_corner(tmp_path: Path, start: int) -> None:
    """A corner that stands twice in a concave polygon does not fold it, whichever corner comes first (closed form)."""
    ring = [(0, 0), (300, 0), (300, 200), (200, 200), (200, 50), (200, 50), (100, 50), (100, 200), (0, 200)]
    points = np.column_stack((np.roll(ring, start, axis=0), np.zeros(9)))
    mesh = load(saved(tmp_path, "hull.obj", files.obj_text(points.astype(float), [range(9)])))
    a, b, c = (mesh.vertices[mesh.faces[:, i]] for i in range(3))
    areas = np.cross(b - a, c - a)[:, 2] / 2
    assert areas.min() >= 0
    assert areas.sum() == pytest.approx(300 * 200 - 100 * 150)


@pytest.mark.parametrize("form", ["ascii", "binary_little_endian", "binary_big_endian"])
def test_ply_with_mixed_polygons(tmp_path: Path, form: str) -> None:
    """Triangles and quads in one PLY make the closed block, in binary too."""
    polygons = [*files.QUADS[:3], *files.FACES[6:].tolist()]
    mesh = load(saved(tmp_path, "hull.ply", files.ply(BLOCK, polygons, form=form)))
    assert volume(mesh) == pytest.approx(VOLUME)


@pytest.mark.parametrize("form", ["ascii", "binary_little_endian"])
@pytest.mark.parametrize("polygons", [files.QUADS, [*files.QUADS[:5], *files.FACES[10:].tolist()]])
@pytest.mark.parametrize("cut", [9, 160])
def test_ply_that_ends_early_is_refused(tmp_path: Path, form: str, polygons: list[list[int]], cut: int) -> None:
    """A PLY that lacks some of what its head states is refused with the count that is there."""
    data = files.ply(BLOCK, polygons, form=form)
    refused(saved(tmp_path, "hull.ply", data[:-cut]), "ends early", f"states {len(polygons) if cut == 9 else ''}")


def test_bytes_after_a_binary_ply_are_told(tmp_path: Path) -> None:
    """Bytes after the last face, as some programs leave them, are passed over with a note."""
    data = files.ply(BLOCK, files.FACES.tolist(), form="binary_little_endian")
    mesh = load(saved(tmp_path, "hull.ply", data + b"\n"))
    assert volume(mesh) == pytest.approx(VOLUME)
    assert "1 bytes" in texts(mesh, NoteKind.WARNING)


def test_obj_bodies_may_each_count_backwards(tmp_path: Path) -> None:
    """Two bodies, each with relative numbers for its own vertices, stand side by side."""
    corners = [" ".join(str(corner - 8) for corner in quad) for quad in files.QUADS]
    text = ""
    for y in (0.0, 300.0):
        text += files.obj_text(np.add(BLOCK, (0, y, 0)), []).decode()
        text += "".join(f"\nf {ring}" for ring in corners) + "\n"
    mesh = load(saved(tmp_path, "hull.obj", text.encode()))
    assert volume(mesh) == pytest.approx(2 * VOLUME)
    assert bounds(mesh) == [list(AT), [805.0, 360.0, 70.0]]


def test_off_variants(tmp_path: Path) -> None:
    """Counts on the line of the word OFF, and the word COFF, make no difference."""
    data = files.off_text(BLOCK)
    assert volume(load(saved(tmp_path, "a.off", data.replace(b"OFF\n# a block\n", b"OFF ")))) == pytest.approx(VOLUME)
    assert volume(load(saved(tmp_path, "b.off", data.replace(b"OFF", b"COFF")))) == pytest.approx(VOLUME)
    refused(saved(tmp_path, "c.off", data[:-40]), "lines follow")
    refused(saved(tmp_path, "d.off", data.replace(b"OFF", b"OFF BINARY")), "binary")


# Units and sizes


@pytest.mark.parametrize(("word", "factor"), [("in", 25.4), ("Inches", 25.4), ("metres", 1000.0), ("cm", 10.0)])
def test_option_sets_the_unit(tmp_path: Path, word: str, factor: float) -> None:
    """`unit` scales a file without a unit and nothing is guessed (1 in = 25.4 mm, ISO 80000-3)."""
    mesh = load(saved(tmp_path, "hull.obj", files.obj_text(BLOCK / factor)), unit=word)
    assert bounds(mesh)[1] == pytest.approx(np.add(AT, SIZE).tolist())
    assert mesh.unit_from == "option"
    assert mesh.notes == ()


@pytest.mark.parametrize("name", DECLARED)
def test_option_overrules_the_file(tmp_path: Path, name: str) -> None:
    """`unit` reads the file's numbers in another unit, says so, and warns when that is implausible."""
    data, unit, _ = DECLARED[name]
    mesh = load(saved(tmp_path, name, data), unit="ft")
    size = 0.8 if unit == "m" else 800.0
    assert float(np.ptp(mesh.vertices[:, 0])) == pytest.approx(size * 304.8, rel=1e-6)
    assert (mesh.unit, mesh.unit_from) == ("ft", "option")
    assert f"The file says {unit}; ft was applied" in texts(mesh, NoteKind.WARNING)


def test_unknown_unit_is_refused(tmp_path: Path) -> None:
    """A word that is no unit is refused with those that are known."""
    with pytest.raises(JobError, match=r"mm, cm.*'furlong'"):
        load(saved(tmp_path, "hull.stl", PLAIN["hull.stl"]), unit="furlong")


@pytest.mark.parametrize(
    ("longest", "better"),
    [(0.8, "m"), (49.9, "in"), (2.0, "m"), (6001.0, "dm"), (12.0, "in"), (8.0, "in"), (7.0, "ft"), (7e5, "um")],
)
def test_implausible_size_names_a_better_unit(tmp_path: Path, longest: float, better: str) -> None:
    """Under 50 mm or over 6 m there is a warning with the unit that would make sense, or none if none would."""
    mesh = load(saved(tmp_path, "hull.obj", files.obj_text(files.block((longest, longest / 8, longest / 9)))))
    warned = texts(mesh, NoteKind.WARNING)
    assert "implausible" in warned
    low, high = SENSIBLE
    fits = low <= longest * MM_PER_UNIT[better] <= high
    assert (f"--unit {better}" in warned) == fits
    assert fits or "--length" in warned


@pytest.mark.parametrize("longest", [50.0, 6000.0])
def test_plausible_size_is_not_warned_about(tmp_path: Path, longest: float) -> None:
    """The limits themselves are plausible."""
    mesh = load(saved(tmp_path, "hull.obj", files.obj_text(files.block((longest, 10.0, 10.0)))))
    assert not texts(mesh, NoteKind.WARNING)


def test_implausible_declared_size_is_warned_about(tmp_path: Path) -> None:
    """A GLB whose numbers are mm though the format's are metres is warned about, with the unit that makes sense."""
    mesh = load(saved(tmp_path, "hull.glb", files.glb(BLOCK, [{"mesh": 0}])))
    assert bounds(mesh)[1][0] == pytest.approx(805_000)
    assert "--unit mm" in texts(mesh, NoteKind.WARNING)


@pytest.mark.parametrize(
    ("said", "short", "factor"),
    [(None, "mm", 1), ("micron", "um", 1e-3), ("millimeter", "mm", 1), ("centimeter", "cm", 10), ("inch", "in", 25.4),
     ("foot", "ft", 304.8), ("meter", "m", 1000)],
)  # fmt: skip
def test_units_of_3mf(tmp_path: Path, said: str | None, short: str, factor: float) -> None:
    """The six unit words of 3MF are applied, millimetre being the default (3MF Core Specification 1.2, 3.4)."""
    thing = f'<object id="1" type="model">{files.mesh_3mf(BLOCK / factor)}</object>'
    mesh = load(saved(tmp_path, "hull.3mf", files.three_mf(thing, '<item objectid="1"/>', unit=said)))
    assert mesh.unit == short
    assert bounds(mesh)[1] == pytest.approx(np.add(AT, SIZE).tolist())


@pytest.mark.parametrize(
    ("element", "short", "factor"),
    [("", "m", 1000), ('<unit name="inch" meter="0.0254"/>', "in", 25.4), ('<unit meter="0.01"/>', "cm", 10),
     ('<unit name="odd" meter="0.3"/>', "mm", 300)],
)  # fmt: skip
def test_units_of_collada(tmp_path: Path, element: str, short: str, factor: float) -> None:
    """The unit of COLLADA is applied, a metre being the default (COLLADA 1.4.1, <unit>); an unusual one is reported."""
    data = files.collada(BLOCK / factor, '<node><instance_geometry url="#g"/></node>', unit=element)
    mesh = load(saved(tmp_path, "hull.dae", data))
    assert (mesh.unit, mesh.unit_from) == (short, "file")
    assert bounds(mesh)[1] == pytest.approx(np.add(AT, SIZE).tolist())
    assert ("unusual unit" in texts(mesh, NoteKind.WARNING)) == (factor == 300)


# Scenes


@pytest.mark.parametrize(("up", "hint"), [("X_UP", "x"), ("Y_UP", "y"), ("Z_UP", "z"), ("", "y")])
def test_up_axis_of_collada_is_a_hint_only(tmp_path: Path, up: str, hint: str) -> None:
    """Vertices stay in the file's own axes and up_axis is handed on, Y_UP being the default (COLLADA 1.4.1)."""
    data = files.collada(BLOCK / 1000, '<node><instance_geometry url="#g"/></node>', up=up)
    mesh = load(saved(tmp_path, "hull.dae", data))
    assert mesh.up_hint == hint
    assert bounds(mesh)[1] == pytest.approx(np.add(AT, SIZE).tolist())


def test_collada_nodes_are_placed(tmp_path: Path) -> None:
    """Matrix, translate, rotate, scale, nested nodes and instances of nodes are all applied, in document order."""
    twin = '<node id="twin"><translate>0 0 2</translate><instance_geometry url="#g"/></node>'
    nodes = (
        '<node><translate>1 0 0</translate><rotate>0 0 1 90</rotate><scale>2 1 1</scale>'
        '<node><matrix>1 0 0 0 0 1 0 0 0 0 1 5 0 0 0 1</matrix><instance_geometry url="#g"/></node></node>'
        '<node><instance_node url="#twin"/></node>'
    )  # fmt: skip
    data = files.collada(files.block((1.0, 0.1, 0.2)), nodes, more=f"<library_nodes>{twin}</library_nodes>")
    mesh = load(saved(tmp_path, "hull.dae", data))
    first, second = mesh.vertices[mesh.faces[:12]].reshape(-1, 3), mesh.vertices[mesh.faces[12:]].reshape(-1, 3)
    assert np.allclose([first.min(axis=0), first.max(axis=0)], [[900, 0, 5000], [1000, 2000, 5200]], atol=1e-4)
    assert np.allclose([second.min(axis=0), second.max(axis=0)], [[0, 0, 2000], [1000, 100, 2200]], atol=1e-4)


def test_mirroring_transform_keeps_outside_out(tmp_path: Path) -> None:
    """A node that mirrors its body does not turn it inside out, in COLLADA, 3MF and glTF alike."""
    data = files.collada(BLOCK / 1000, '<node><scale>1 -1 1</scale><instance_geometry url="#g"/></node>')
    assert volume(load(saved(tmp_path, "hull.dae", data))) == pytest.approx(VOLUME)
    thing = f'<object id="1">{files.mesh_3mf(BLOCK)}</object>'
    data = files.three_mf(thing, '<item objectid="1" transform="1 0 0 0 -1 0 0 0 1 0 0 0"/>')
    assert volume(load(saved(tmp_path, "hull.3mf", data))) == pytest.approx(VOLUME)
    data = files.glb(BLOCK / 1000, [{"mesh": 0, "scale": [1, -1, 1]}])
    assert volume(load(saved(tmp_path, "hull.glb", data))) == pytest.approx(VOLUME, rel=1e-6)


@pytest.mark.parametrize(
    "primitive",
    [
        '<triangles><input semantic="VERTEX" source="#v" offset="0"/><p>0 1 2 1 3 2</p></triangles>',
        (
            '<triangles><input semantic="NORMAL" source="#n" offset="0"/>'
            '<input semantic="VERTEX" source="#v" offset="1"/>'
            "<p>0 0 0 1 0 2 0 1 0 3 0 2</p></triangles>"
        ),
        '<polygons><input semantic="VERTEX" source="#v" offset="0"/><p>0 1 3 2</p></polygons>',
        '<tristrips><input semantic="VERTEX" source="#v" offset="0"/><p>0 1 2 3</p></tristrips>',
        '<trifans><input semantic="VERTEX" source="#v" offset="0"/><p>0 1 3 2</p></trifans>',
        (
            '<lines><input semantic="VERTEX" source="#v" offset="0"/><p>0 1</p></lines>'
            '<triangles><input semantic="VERTEX" source="#v" offset="0"/><p>0 1 2 1 3 2</p></triangles>'
        ),
    ],
)
def test_primitives_of_collada(tmp_path: Path, primitive: str) -> None:
    """Triangles, polygons, strips and fans of one square give its area with one orientation; lines are passed over."""
    node = '<node><instance_geometry url="#g"/></node>'
    data = files.collada(files.block((0.3, 0.3, 0.3)), node, primitive=primitive)
    mesh = load(saved(tmp_path, "hull.dae", data))
    a, b, c = (mesh.vertices[mesh.faces[:, i]] for i in range(3))
    assert np.allclose(np.cross(b - a, c - a) / 2, [[-45_000, 0, 0]] * 2)


def test_looks_do_not_spoil_the_shape_of_collada(tmp_path: Path) -> None:
    """A material that is not in the file, and normals that are not there, do not lose the body."""
    bound = (
        '<node><instance_geometry url="#g"><bind_material><technique_common>'
        '<instance_material symbol="m" target="#none"/></technique_common></bind_material></instance_geometry>'
        '<instance_light url="#sun"/></node>'
    )
    data = files.collada(BLOCK / 1000, bound).replace(b">0 0 1<", b"><")
    assert volume(load(saved(tmp_path, "hull.dae", data))) == pytest.approx(VOLUME)


def test_collada_triangles_in_several_lists(tmp_path: Path) -> None:
    """Every list of corners of one set of triangles is read."""
    lists = "".join(f"<p>{a} {b} {c}</p>" for a, b, c in files.FACES.tolist())
    primitive = f'<triangles count="12"><input semantic="VERTEX" source="#v" offset="0"/>{lists}</triangles>'
    data = files.collada(BLOCK / 1000, '<node><instance_geometry url="#g"/></node>', primitive=primitive)
    assert volume(load(saved(tmp_path, "hull.dae", data))) == pytest.approx(VOLUME)


def test_collada_that_would_be_read_wrongly(tmp_path: Path) -> None:
    """Mixed positions and counts that do not add up are refused; holes, odd placings and splines are reported."""
    node = '<node><instance_geometry url="#g"/></node>'
    mixed = files.collada(BLOCK, node).replace(b'count="8" stride="3"', b'count="6" stride="4"')
    refused(saved(tmp_path, "a.dae", mixed), "stride 4")
    short = files.collada(BLOCK, node).replace(b"<vcount>4 4", b"<vcount>4 3")
    refused(saved(tmp_path, "b.dae", short), "24 corners", "23")
    lost = files.collada(BLOCK, '<node><instance_geometry url="#k"/></node>')
    refused(saved(tmp_path, "c.dae", lost), "not in the file", "#k")
    more = '<library_geometries><geometry id="s"><spline/></geometry></library_geometries>'
    odd = '<node><skew>9 1 0 0 0 1 0</skew><instance_geometry url="#g"/><instance_geometry url="#s"/></node>'
    warnings = texts(load(saved(tmp_path, "d.dae", files.collada(BLOCK / 1000, odd, more=more))), NoteKind.WARNING)
    assert "<skew>" in warnings
    assert "spline" in warnings
    hole = '<polygons><input semantic="VERTEX" source="#v" offset="0"/><p>0 1 3 2</p><ph><p>4 6 7 5</p></ph></polygons>'
    warnings = texts(
        load(saved(tmp_path, "e.dae", files.collada(BLOCK / 1000, node, primitive=hole))), NoteKind.WARNING
    )
    assert "holes" in warnings


def test_collada_skin_is_taken_in_its_rest_shape(tmp_path: Path) -> None:
    """A body that hangs on bones stands where its bind shape puts it, and that is reported."""
    numbers = '<source id="{0}"><{1}_array id="{0}a" count="{2}">{3}</{1}_array><technique_common>'
    numbers += '<accessor source="#{0}a" count="1" stride="{2}"><param name="{4}" type="{5}"/></accessor>'
    numbers += "</technique_common></source>"
    eye = "1 0 0 0 0 1 0 0 0 0 1 0 0 0 0 1"
    more = (
        '<library_controllers><controller id="c"><skin source="#g">'
        f"<bind_shape_matrix>{eye.replace('1 0 0 0 0', '1 0 0 2 0', 1)}</bind_shape_matrix>"
        + numbers.format("j", "Name", 1, "bone", "JOINT", "Name")
        + numbers.format("m", "float", 16, eye, "TRANSFORM", "float4x4")
        + numbers.format("w", "float", 1, "1", "WEIGHT", "float")
        + '<joints><input semantic="JOINT" source="#j"/><input semantic="INV_BIND_MATRIX" source="#m"/></joints>'
        '<vertex_weights count="8"><input semantic="JOINT" source="#j" offset="0"/>'
        '<input semantic="WEIGHT" source="#w" offset="1"/>'
        f"<vcount>{'1 ' * 8}</vcount><v>{'0 0 ' * 8}</v></vertex_weights>"
        "</skin></controller></library_controllers>"
    )
    data = files.collada(BLOCK / 1000, '<node><instance_controller url="#c"/></node>', more=more)
    mesh = load(saved(tmp_path, "hull.dae", data))
    assert np.allclose(bounds(mesh)[0], np.add(AT, (2000, 0, 0)), atol=1e-3)
    assert "rest shape" in texts(mesh, NoteKind.WARNING)


def test_collada_without_a_scene_is_told(tmp_path: Path) -> None:
    """Without a scene the geometries are taken as they lie, and that is reported."""
    data = files.collada(BLOCK / 1000, "")
    data = data[: data.index(b"<library_visual")] + b"</COLLADA>"
    mesh = load(saved(tmp_path, "hull.dae", data))
    assert volume(mesh) == pytest.approx(VOLUME)
    assert "no scene" in texts(mesh, NoteKind.ASSUMPTION)


def test_collada_node_that_contains_itself_is_refused(tmp_path: Path) -> None:
    """A circle of instances is refused, not followed."""
    data = files.collada(BLOCK, '<node id="a"><instance_node url="#a"/></node>')
    refused(saved(tmp_path, "hull.dae", data), "contains itself")


def test_3mf_items_and_components_are_placed(tmp_path: Path) -> None:
    """Each item of the build and each component stands where its transforms put it; the same part number may repeat."""
    things = (
        f'<object id="1">{files.mesh_3mf(files.block((100.0, 10.0, 20.0)))}</object>'
        '<object id="2"><components><component objectid="1" transform="0 1 0 -1 0 0 0 0 1 0 0 0"/>'
        '<component objectid="1"/></components></object>'
        '<object id="9" type="support"><mesh><vertices/><triangles/></mesh></object>'
    )
    build = (
        '<item objectid="2" partnumber="a" transform="1 0 0 0 1 0 0 0 1 0 0 500"/>'
        '<item objectid="1" partnumber="a"/><item objectid="1" partnumber="a" transform="2 0 0 0 2 0 0 0 2 0 0 0"/>'
        '<item objectid="9"/>'
    )
    mesh = load(saved(tmp_path, "hull.3mf", files.three_mf(things, build, part="3D/other.model")))
    parts = mesh.vertices[mesh.faces].reshape(4, -1, 3)
    expected = [([-10, 0, 500], [0, 100, 520]), ([0, 0, 500], [100, 10, 520]), ([0, 0, 0], [100, 10, 20]),
                ([0, 0, 0], [200, 20, 40])]  # fmt: skip
    for part, (low, high) in zip(parts, expected, strict=True):
        assert np.allclose([part.min(axis=0), part.max(axis=0)], [low, high])
    assert "1 support" in texts(mesh, NoteKind.WARNING)


def test_3mf_takes_one_object_of_another_part(tmp_path: Path) -> None:
    """A component names one object of another part of the package: that one alone is taken, also where numbers repeat.

    Source: 3MF Production Extension 1.1, "path"; numbers are unique within one part only.
    """
    sizes = {"a": [(100.0, 10.0, 20.0), (50.0, 10.0, 20.0)], "b": [(30.0, 10.0, 20.0), (20.0, 10.0, 20.0)]}
    parts = {}
    for name, pair in sizes.items():
        meshes = [files.mesh_3mf(files.block(size)) for size in pair]
        things = "".join(f'<object id="{i}">{mesh}</object>' for i, mesh in enumerate(meshes, start=1))
        parts[f"3D/Objects/{name}.model"] = files.model_3mf(things, "")
    path = 'xmlns:p="http://schemas.microsoft.com/3dmanufacturing/production/2015/06" p:path="/3D/Objects/'
    thing = (
        f'<object id="7"><components><component {path}a.model" objectid="1" transform="1 0 0 0 1 0 0 0 1 0 100 0"/>'
        f'<component {path}a.model" objectid="2" transform="1 0 0 0 1 0 0 0 1 0 200 0"/></components></object>'
    )
    build = f'<item objectid="7"/><item {path}b.model" objectid="1"/>'
    mesh = load(saved(tmp_path, "hull.3mf", files.three_mf(thing, build, parts=parts)))
    found = [points.reshape(-1, 3).max(axis=0).tolist() for points in mesh.vertices[mesh.faces].reshape(-1, 12, 3, 3)]
    assert found == [[100, 110, 20], [50, 210, 20], [30, 10, 20]]


def test_3mf_that_cannot_be_built_is_refused(tmp_path: Path) -> None:
    """A missing object, a circle, an unknown unit and a wrong index are each named."""
    thing = f'<object id="1">{files.mesh_3mf(BLOCK)}</object>'
    refused(saved(tmp_path, "a.3mf", files.three_mf(thing, '<item objectid="7"/>')), "'7'")
    circle = '<object id="1"><components><component objectid="1"/></components></object>'
    refused(saved(tmp_path, "b.3mf", files.three_mf(circle, '<item objectid="1"/>')), "contains itself")
    refused(saved(tmp_path, "c.3mf", files.three_mf(thing, '<item objectid="1"/>', unit="cubit")), "'cubit'")
    wrong = f'<object id="1">{files.mesh_3mf(BLOCK, files.FACES + 1)}</object>'
    refused(saved(tmp_path, "d.3mf", files.three_mf(wrong, '<item objectid="1"/>')), "vertex 8", "from 0 to 7")
    refused(saved(tmp_path, "e.3mf", files.three_mf(thing, "")), "no triangles")
    data = files.three_mf(thing, '<item objectid="1"/>')
    refused(saved(tmp_path, "f.3mf", data[:-30]), "zip package")


def test_gltf_nodes_are_placed(tmp_path: Path) -> None:
    """Nested nodes and instances of one mesh stand where their transforms put them (glTF 2.0, 5.25: T * R * S)."""
    half = math.sqrt(0.5)
    nodes = [
        {"translation": [1, 0, 0], "rotation": [0, 0, half, half], "scale": [2, 1, 1], "children": [2]},
        {"mesh": 0, "matrix": [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 2, 1]},
        {"mesh": 0, "translation": [0, 0, 5]},
    ]
    data = files.glb(files.block((1.0, 0.1, 0.2)), nodes, scenes=[{"nodes": [0, 1]}])
    mesh = load(saved(tmp_path, "hull.glb", data))
    parts = sorted((mesh.vertices[part].reshape(-1, 3) for part in mesh.faces.reshape(2, 12, 3)), key=lambda p: p[0, 2])
    assert np.allclose([parts[0].min(axis=0), parts[0].max(axis=0)], [[0, 0, 2000], [1000, 100, 2200]], atol=1e-3)
    assert np.allclose([parts[1].min(axis=0), parts[1].max(axis=0)], [[900, 0, 5000], [1000, 2000, 5200]], atol=1e-3)


def test_gltf_reads_buffers_in_its_own_folder_only(tmp_path: Path) -> None:
    """An external buffer beside the file is read; one outside its folder, or none, is refused."""
    folder = tmp_path / "inside"
    folder.mkdir()
    document, buffer = files.gltf_document(BLOCK / 1000, [{"mesh": 0}], uri="parts%20of%20it.bin")
    path = saved(folder, "hull.gltf", json.dumps(document).encode())
    refused(path, "parts%20of%20it.bin", "beside the file")
    saved(folder, "parts of it.bin", buffer)
    assert volume(load(path)) == pytest.approx(VOLUME, rel=1e-6)
    saved(tmp_path, "out.bin", buffer)
    for address in ("../out.bin", str(tmp_path / "out.bin"), "file:///etc/passwd", "https://example.org/a.bin"):
        document["buffers"][0]["uri"] = address
        refused(saved(folder, "hull.gltf", json.dumps(document).encode()), "outside its own folder")
    (folder / "link.bin").symlink_to(tmp_path / "out.bin")
    document["buffers"][0]["uri"] = "link.bin"
    refused(saved(folder, "hull.gltf", json.dumps(document).encode()), "outside its own folder")


def test_gltf_that_would_be_read_wrongly_is_refused(tmp_path: Path) -> None:
    """Compression, sparse arrays, fans and other versions are refused rather than read as something else."""
    nodes = [{"mesh": 0}]
    data = files.glb(BLOCK, nodes, extensionsRequired=["KHR_draco_mesh_compression"])
    refused(saved(tmp_path, "a.glb", data), "KHR_draco_mesh_compression")
    refused(saved(tmp_path, "b.glb", files.glb(BLOCK, nodes, mode=6)), "fans")
    refused(saved(tmp_path, "c.glb", files.glb(BLOCK, nodes, mode=1)), "no triangles")
    document, buffer = files.gltf_document(BLOCK, nodes, uri="d.bin")
    document["accessors"][0]["sparse"] = {"count": 1}
    saved(tmp_path, "d.bin", buffer)
    refused(saved(tmp_path, "d.gltf", json.dumps(document).encode()), "sparse")
    good = files.glb(BLOCK, nodes)
    refused(saved(tmp_path, "e.glb", good[:4] + b"\1" + good[5:]), "glTF 2")
    refused(saved(tmp_path, "f.glb", good[:-20]), f"the file has {len(good) - 20}")
    refused(saved(tmp_path, "g.glb", files.glb(BLOCK, [{"mesh": 3}])), "not in the file")


# STEP


@pytest.mark.parametrize(("unit", "factor"), [("mm", 1.0), ("m", 1000.0), ("in", 25.4)])
def test_step_is_read_in_its_own_unit(tmp_path: Path, unit: str, factor: float) -> None:
    """A STEP block in mm, m or in has its size in mm, its own axes, and the unit it declares."""
    pytest.importorskip("cascadio")
    data = step_block((SIZE[0] / factor, SIZE[1] / factor, SIZE[2] / factor), unit)
    mesh = load(saved(tmp_path, "hull.step", data))
    assert (mesh.unit, mesh.unit_from, mesh.up_hint) == (unit, "file", None)
    assert np.allclose(bounds(mesh), [[0, 0, 0], SIZE], rtol=0, atol=1e-3)
    assert volume(mesh) == pytest.approx(VOLUME, rel=1e-6)
    overridden = load(saved(tmp_path, "hull.stp", data), unit="cm")
    assert float(np.ptp(overridden.vertices[:, 0])) == pytest.approx(SIZE[0] / factor * 10, rel=1e-6)


def test_damaged_step_is_refused_quietly(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """A STEP file that the converter cannot read is refused, and nothing of the converter's own words is printed."""
    pytest.importorskip("cascadio")
    refused(saved(tmp_path, "hull.step", b"ISO-10303-21;\nrubbish"), "converter")
    assert capfd.readouterr() == ("", "")


def test_step_without_its_package_says_how_to_install_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the optional package the message says what to install."""
    monkeypatch.setitem(sys.modules, "cascadio", None)
    refused(saved(tmp_path, "hull.stp", step_block(SIZE, "mm")), "pip install 'stationer[step]'")


def test_unit_that_a_step_file_declares() -> None:
    """A conversion unit comes before the SI unit that it is defined by (ISO 10303-41, from memory)."""
    assert declared_unit(step_block(SIZE, "mm")) == "mm"
    assert declared_unit(step_block(SIZE, "m")) == "m"
    assert declared_unit(step_block(SIZE, "in")) == "in"


# Refusals


OTHERS = {
    "a PDF document": b"%PDF-1.7\n" + b"x" * 200,
    "a PNG picture": b"\x89PNG\r\n\x1a\n" + b"\0" * 200,
    "a JPEG picture": b"\xff\xd8\xff\xe0" + b"\0" * 200,
    "a zip archive": files.zipped({"hull.txt": "nothing"}),
    "gzip-compressed data": gzip.compress(PLAIN["hull.stl"]),
    "a web page": b"\n<!DOCTYPE html><html><body>Not found</body></html>",
    "an SVG drawing": b'<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg"/>',
    "a DXF drawing": b"0\r\nSECTION\r\n2\r\nHEADER\r\n",
    "git-lfs": b"version https://git-lfs.github.com/spec/v1\noid sha256:0\nsize 5\n",
}


@pytest.mark.parametrize("suffix", [".stl", ".obj", ".ply", ".off", ".glb", ".gltf", ".3mf", ".dae", ".step"])
@pytest.mark.parametrize("phrase", OTHERS)
def test_other_content_is_named(tmp_path: Path, suffix: str, phrase: str) -> None:
    """A file that is no mesh is refused with what it really is, whatever its suffix."""
    refused(saved(tmp_path, "hull" + suffix, OTHERS[phrase]), "its name says", phrase)


MESHES = {**{name: data for name, data in PLAIN.items() if name != "big.ply"},
          **{name: data for name, (data, _, _) in DECLARED.items()}}  # fmt: skip


@pytest.mark.parametrize("suffix", [".stl", ".obj", ".ply", ".off", ".glb", ".3mf", ".dae", ".step"])
@pytest.mark.parametrize("name", MESHES)
def test_another_mesh_format_is_named(tmp_path: Path, suffix: str, name: str) -> None:
    """A mesh behind the suffix of another format is refused, and the remedy gives the suffix it should have."""
    own = Path(name).suffix
    path = saved(tmp_path, "other" + suffix, MESHES[name])
    if own == suffix:
        load(path)
    else:
        assert f"Rename it to other{own}" in refused(path, "its name says").remedy


def test_unknown_suffix_lists_those_known(tmp_path: Path) -> None:
    """An unknown suffix is refused with the list of those that are read."""
    refused(saved(tmp_path, "hull.igs", b"x"), "'.igs'", ".stl", ".3mf", ".dae", ".step")
    refused(saved(tmp_path, "hull.gz", b"x"), ".gz")


def test_missing_empty_and_folder(tmp_path: Path) -> None:
    """A missing file, an empty one, one of blanks and a folder each have their own sentence."""
    refused(tmp_path / "hull.stl", "no such file")
    (tmp_path / "folder.stl").mkdir()
    refused(tmp_path / "folder.stl", "a folder")
    refused(saved(tmp_path, "a.stl", b""), "empty")
    refused(saved(tmp_path, "b.stl", b" \n" * 50), "blanks")
    refused(saved(tmp_path, "c.stl.gz", gzip.compress(b"")), "empty")


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("a.stl", files.stl_binary(BLOCK, files.FACES[:0])),
        ("b.stl", b"solid empty\nendsolid empty\n"),
        ("c.obj", files.obj_text(BLOCK, [])),
        ("d.obj", b"v 0 0 0\nv 1 0 0\nv 1 1 0\nl 1 2 3\n"),
        ("e.ply", files.ply(BLOCK, [])),
        ("f.ply", files.ply(BLOCK, [], form="binary_little_endian")),
        ("g.off", files.off_text(BLOCK, [])),
        ("h.dae", files.collada(BLOCK, "<node/>")),
        ("i.glb", files.glb(BLOCK, [{"name": "empty"}])),
    ],
)
def test_file_without_triangles_is_refused(tmp_path: Path, name: str, data: bytes) -> None:
    """Points, lines and empty scenes are no hull."""
    refused(saved(tmp_path, name, data), "no triangles")


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.obj", files.obj_text(BLOCK[:7]), ("vertex 8", "from 1 to 7")),
        ("b.obj", b"v 0 0 0\nv 100 0 0\nv 0 100 0\nf 1 2 0\n", ("vertex 0",)),
        ("c.off", files.off_text(BLOCK[:7]), ("vertex 7", "from 0 to 6")),
        ("d.ply", files.ply(BLOCK[:7]), ("vertex 7",)),
        ("e.ply", files.ply(BLOCK[:7], form="binary_big_endian"), ("vertex 7",)),
        ("f.glb", files.glb(BLOCK[:7], [{"mesh": 0}]), ("vertex 7",)),
        ("g.dae", files.collada(BLOCK[:7], '<node><instance_geometry url="#g"/></node>'), ("=7", "len=7")),
        ("h.obj", files.obj_text(BLOCK).replace(b"f 1/1/1", b"f 1.5"), ("whole numbers",)),
    ],
)
def test_index_out_of_range_is_refused(tmp_path: Path, name: str, data: bytes, words: tuple[str, ...]) -> None:
    """A face that names a vertex which is not there is refused with that number and those there are."""
    refused(saved(tmp_path, name, data), *words)


@pytest.mark.parametrize("name", ["hull.stl", "text.stl", "hull.obj", "text.ply", "hull.off"])
def test_non_finite_vertices_are_kept_unless_all_are(tmp_path: Path, name: str) -> None:
    """NaN in some corners stays for mending to tell; NaN everywhere is refused."""
    writers = {
        "hull.stl": files.stl_binary,
        "text.stl": files.stl_text,
        "hull.obj": files.obj_text,
        "text.ply": files.ply,
        "hull.off": files.off_text,
    }
    writer = cast("Callable[[files.Floats], bytes]", writers[name])
    some = BLOCK.copy()
    some[7] = (np.nan, np.inf, 0)
    mesh = load(saved(tmp_path, name, writer(some)))
    assert np.isnan(mesh.vertices).any()
    assert len(mesh.faces) == 12
    refused(saved(tmp_path, name, writer(np.full((8, 3), np.nan))), "finite")


def test_compressed_data_may_not_grow_without_end(tmp_path: Path) -> None:
    """What unpacks to more than the limit is refused by what it declares, or while it is read."""
    little = Limits(bytes=1 << 20)
    packed = gzip.compress(bytes(1 << 21))
    false = packed[:-4] + (1000).to_bytes(4, "little")
    package = files.three_mf(" " * (1 << 21), "")
    for name, data in (("a.stl.gz", packed), ("b.stl.gz", false), ("c.3mf", package)):
        with pytest.raises(HullError, match=r"1\.0 MiB are allowed"):
            load(saved(tmp_path, name, data), limits=little)


def test_more_triangles_than_the_limit_are_refused_by_what_the_file_states(tmp_path: Path) -> None:
    """Twelve triangles pass a limit of twelve and not one of eleven, in every format."""
    for name, data in MESHES.items():
        assert len(load(saved(tmp_path, name, data), limits=Limits(triangles=12)).faces) == 12
        with pytest.raises(HullError, match=r"11 triangles\)? are allowed"):
            load(saved(tmp_path, name, data), limits=Limits(triangles=11))


def test_damaged_gzip_is_refused(tmp_path: Path) -> None:
    """A .gz that is cut short, damaged or not gzip at all is refused."""
    data = gzip.compress(PLAIN["text.stl"])
    refused(saved(tmp_path, "a.stl.gz", data[:-20]), "unpacked")
    refused(saved(tmp_path, "b.stl.gz", data[:40] + bytes(10) + data[50:]), "unpacked")
    refused(saved(tmp_path, "c.stl.gz", PLAIN["hull.stl"]), "unpacked")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_document_types_are_refused(tmp_path: Path, encoding: str) -> None:
    """A document type declaration, the door to growing and reaching entities, is refused in any encoding."""
    text = files.collada(BLOCK, '<node><instance_geometry url="#g"/></node>').decode().replace('encoding="utf-8"', "")
    evil = text.replace("?>\n", '?>\n<!DOCTYPE COLLADA [<!ENTITY a "b">]>\n', 1)
    refused(saved(tmp_path, "hull.dae", evil.encode(encoding)), "document type")
    model = '<!DOCTYPE m [<!ENTITY a "b">]><model xmlns="m"/>'.encode(encoding)
    refused(saved(tmp_path, "hull.3mf", files.zipped({"3D/3dmodel.model": model})), "document type")


def test_instances_of_instances_are_limited(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A small file whose nested copies would be billions is refused, not unfolded."""
    monkeypatch.setattr(content, "MOST_NODES", 2000)
    things = f'<object id="0">{files.mesh_3mf(BLOCK)}</object>'
    for n in range(1, 31):
        twice = f'<component objectid="{n - 1}"/>' * 2
        things += f'<object id="{n}"><components>{twice}</components></object>'
    refused(saved(tmp_path, "hull.3mf", files.three_mf(things, '<item objectid="30"/>')), "every copy counted")


@pytest.mark.parametrize("name", MESHES)
def test_damage_is_refused_or_read_but_never_crashes(tmp_path: Path, name: str) -> None:
    """Cut or altered anywhere, a file is read or refused with a HullError, never with another error."""
    chance = random.Random(name)  # noqa: S311 - damage, not secrets
    data = MESHES[name]
    for _ in range(25):
        damaged = bytearray(data[: chance.randrange(1, len(data))] if chance.random() < 0.4 else data)
        for _ in range(chance.randrange(4)):
            damaged[chance.randrange(len(damaged))] = chance.randrange(256)
        path = saved(tmp_path, name, bytes(damaged))
        with contextlib.suppress(HullError):
            load(path)


# Meshes from elsewhere


REAL = {
    "rc_yacht_core.stl": (0.926291, 0.163951, 0.185139),
    "auv_torpedo_body.stl": (1.936040, 0.299582, 0.529500),
    "sail_drone_hull.stl": (2.499430, 0.958357, 0.591262),
    "small_boat1.stl": (3.630174, 7.855095, 1.744620),
    "fish_body.obj": (1.421417, 1.754572, 2.914495),
    "sail_drone_hull.dae": (2499.42, 949.926, 590.518),
    "small_boat1.dae": (2085.0767, 7855.0950, 2101.7034),
}
"""Overall size in the file's own unit as trimesh measures it; COLLADA in mm."""


@pytest.mark.parametrize("name", REAL)
def test_meshes_from_elsewhere(name: str) -> None:
    """Hulls that others made have the size that another library finds (outside check: trimesh)."""
    path = SHARED / name
    if not path.exists():
        pytest.skip("the shared meshes are not here")
    mesh = load(path)
    trimesh = pytest.importorskip("trimesh")
    other = trimesh.load_scene(path, process=False)
    factor = 1000.0 if mesh.format == "COLLADA" else 1.0
    low, high = bounds(mesh)
    assert np.allclose([low, high], other.bounds * factor, rtol=1e-6, atol=1e-6)
    assert np.allclose(np.subtract(high, low), REAL[name], rtol=1e-5)
    assert len(mesh.faces) == sum(len(body.faces) for body in other.geometry.values())
    if mesh.format == "COLLADA":
        assert (mesh.unit, mesh.unit_from, mesh.up_hint) == ("m", "file", "z")
    else:
        assert "implausible" in texts(mesh, NoteKind.WARNING)
