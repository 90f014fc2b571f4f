"""The demo hulls are what their script makes and what their job files say."""

import importlib.util
import io
import sys
import xml.etree.ElementTree as ET
import zipfile
from functools import cache
from pathlib import Path
from types import ModuleType

import numpy as np
import numpy.typing as npt
import pytest
import trimesh

from profiles.jobfile import load_job

MODELS = Path(__file__).resolve().parents[1] / "models"
NAMES = ("skerrywing.stl", "wickerby.obj", "pelloway.glb", "tandril.3mf")
JOBS = tuple(Path(name).with_suffix(".toml").name for name in NAMES)

SAME = 2e-4
"""Units of the file in mm; a coordinate that another machine rounds the other way differs by 1e-4."""

Floats = npt.NDArray[np.float64]


@cache
def script() -> ModuleType:
    """The script that makes the hulls, loaded from its file: models/ is no package."""
    spec = importlib.util.spec_from_file_location("make_models", MODELS / "make_models.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["make_models"] = module
    spec.loader.exec_module(module)
    return module


def bodies(name: str, content: bytes | None = None) -> list[trimesh.Trimesh]:
    """The bodies of a demo file, each where it is put, equal vertices merged; the committed file if no content."""
    data = (MODELS / name).read_bytes() if content is None else content
    scene = trimesh.load_scene(io.BytesIO(data), file_type=Path(name).suffix[1:])
    found = [
        trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
        for mesh in scene.dump()
        if isinstance(mesh, trimesh.Trimesh)
    ]
    for mesh in found:
        mesh.merge_vertices()
    return found


def rounded_rows(points: Floats) -> set[tuple[float, ...]]:
    """Points as a set, so that order does not matter."""
    return set(map(tuple, (np.round(points, 3) + 0.0).tolist()))


@pytest.mark.parametrize("name", NAMES)
def test_committed_file_is_what_the_script_makes(name: str) -> None:
    """Every committed hull has, triangle by triangle, the corners that the script makes today."""
    tolerance = SAME / 1000 if name.endswith(".glb") else SAME
    for kept, made in zip(bodies(name), bodies(name, script().files()[name]), strict=True):
        assert kept.triangles.shape == made.triangles.shape
        np.testing.assert_allclose(kept.triangles, made.triangles, rtol=0, atol=tolerance)


def test_script_gives_the_same_bytes_again() -> None:
    """Nothing in a file depends on the day or on chance."""
    assert script().files() == script().files()


@pytest.mark.parametrize("name", NAMES)
def test_files_are_small(name: str) -> None:
    """No demo hull weighs more than 400 kB."""
    assert (MODELS / name).stat().st_size < 400_000


@pytest.mark.parametrize("name", ["skerrywing.stl", "pelloway.glb", "tandril.3mf"])
def test_closed_hulls_are_closed_and_face_outwards(name: str) -> None:
    """Every body of the closed hulls is watertight, wound one way and outwards."""
    for mesh in bodies(name):
        assert mesh.is_watertight
        assert mesh.is_winding_consistent
        assert mesh.euler_number == 2
        assert mesh.volume > 0


@pytest.mark.parametrize(("name", "count"), [("skerrywing.stl", 1), ("pelloway.glb", 1), ("tandril.3mf", 3)])
def test_hulls_have_the_bodies_they_claim(name: str, count: int) -> None:
    """The twin-hull float is three bodies, the others one."""
    assert len(bodies(name)) == count


@pytest.mark.parametrize(
    ("name", "size", "tolerance"),
    [
        ("skerrywing.stl", (820.0, 95.776, 138.584), 0.01),
        ("wickerby.obj", (28.0, 4.325, 5.603), 0.001),
        ("pelloway.glb", (0.120, 0.120, 0.570), 2e-5),
        ("tandril.3mf", (600.0, 260.0, 74.6), 0.1),
    ],
)
def test_overall_sizes(name: str, size: tuple[float, ...], tolerance: float) -> None:
    """The overall size is the claimed one in the file's own unit: mm, inches, metres, mm."""
    points = np.concatenate([mesh.vertices for mesh in bodies(name)])
    np.testing.assert_allclose(np.ptp(points, axis=0), size, rtol=0, atol=tolerance)


@pytest.mark.parametrize("name", ["skerrywing.stl", "tandril.3mf"])
def test_hulls_are_symmetric(name: str) -> None:
    """Mirroring at the centre plane gives the same vertices."""
    points = np.concatenate([mesh.vertices for mesh in bodies(name)])
    assert rounded_rows(points) == rounded_rows(points * (1, -1, 1))


def test_3mf_says_its_unit() -> None:
    """The 3MF model element carries unit="millimeter"."""
    with zipfile.ZipFile(MODELS / "tandril.3mf") as archive:
        root = ET.fromstring(archive.read("3D/3dmodel.model"))  # noqa: S314 - our own file
    assert root.get("unit") == "millimeter"


def test_step_is_a_wall_in_one_plane() -> None:
    """The step wall lies exactly in x = 432, and the keel jumps there by exactly the step height."""
    (mesh,) = bodies("skerrywing.stl")
    on_step = (mesh.triangles[:, :, 0] == script().STEP_X).all(axis=1)
    assert on_step.sum() > 20
    assert (mesh.face_normals[on_step, 0] > 0.999999).all()
    corners = mesh.triangles[on_step].reshape(-1, 3)
    keel = np.unique(corners[corners[:, 1] == 0.0, 2])
    np.testing.assert_array_equal(keel, [0.0, script().STEP_HEIGHT])


def test_step_wall_is_what_the_two_sections_differ_by() -> None:
    """Section areas close before and close behind the step differ by the area of the wall."""
    (mesh,) = bodies("skerrywing.stl")
    wall = mesh.area_faces[(mesh.triangles[:, :, 0] == script().STEP_X).all(axis=1)].sum()
    near = 1e-3
    areas = []
    for x in (script().STEP_X - near, script().STEP_X + near):
        path = mesh.section(plane_origin=[x, 0, 0], plane_normal=[1, 0, 0])
        assert path is not None
        areas.append(path.to_2D()[0].area)
    # Area changes by less than 30 mm2 for a mm of length here, so 2e-3 mm apart leaves 0.06 mm2.
    assert wall > 500
    assert areas[0] - areas[1] == pytest.approx(wall, abs=0.06)


def test_chine_is_one_row_of_edges() -> None:
    """Forward of the step the sharp edges off the centre line form one chain, one edge from station to station."""
    (mesh,) = bodies("skerrywing.stl")
    sharp = mesh.face_adjacency_edges[mesh.face_adjacency_angles > np.radians(22)]
    ends = mesh.vertices[sharp]
    chine = ends[
        (ends[:, :, 1] > 1).all(axis=1) & (ends[:, :, 0].min(axis=1) >= 30) & (ends[:, :, 0].max(axis=1) <= 432)
    ]
    chine = chine[np.ptp(chine[:, :, 0], axis=1) > 0]
    starts, stops = np.sort(chine[:, :, 0].min(axis=1)), np.sort(chine[:, :, 0].max(axis=1))
    assert len(chine) > 20
    np.testing.assert_array_equal(starts[1:], stops[:-1])
    assert stops[-1] == script().STEP_X


def test_launch_is_one_half_with_an_open_deck() -> None:
    """The launch lies on one side of y = 0 and is open only along the centre line and the sheer."""
    (mesh,) = bodies("wickerby.obj")
    assert mesh.vertices[:, 1].min() == 0.0
    edges, count = np.unique(mesh.edges_sorted, axis=0, return_counts=True)
    rims = mesh.vertices[edges[count == 1]]
    on_centre = (rims[:, :, 1] == 0.0).all(axis=1)
    assert count.max() == 2
    assert on_centre.any()
    sheer = rims[~on_centre]
    assert sheer[:, :, 2].min() > 4.3
    assert np.ptp(sheer[:, :, 0]) == pytest.approx(28.0, abs=1e-3)


def test_launch_transom_is_flat_and_raked() -> None:
    """The transom of the launch lies in one plane that leans aft."""
    (mesh,) = bodies("wickerby.obj")
    after = mesh.face_normals[(mesh.face_normals[:, 0] > 0.9)]
    assert len(after) > 10
    assert (after @ after[0]).min() > 1 - 1e-5
    assert after[0, 2] < -0.2


def test_streamlined_body_has_the_published_profile_area() -> None:
    """The profile encloses 0.680883 t c, the closed-tail value of the thickness form of NACA Report 460."""
    make = script()
    # In s = sqrt(x) the form is a polynomial of degree 9 with its dx, so 8 Gauss points are exact.
    node, weight = np.polynomial.legendre.leggauss(8)
    s = (node + 1) / 2
    radius = make.streamlined_radius(make.BODY_LENGTH * s**2)
    area = 2 * (radius * weight / 2 * 2 * s * make.BODY_LENGTH).sum()
    assert area / (make.BODY_LENGTH * make.BODY_DIAMETER) == pytest.approx(0.680883, abs=1e-6)


def test_streamlined_body_follows_its_formula() -> None:
    """Every vertex of the GLB lies on the formula's radius, in metres, to what 32 bits can hold."""
    (mesh,) = bodies("pelloway.glb")
    aft = script().BODY_LENGTH - mesh.vertices[:, 2] * 1000
    radius = np.hypot(mesh.vertices[:, 0], mesh.vertices[:, 1]) * 1000
    inner = (aft > 1) & (aft < 569)
    np.testing.assert_allclose(radius[inner], script().streamlined_radius(aft[inner]), rtol=0, atol=5e-4)


def test_wing_ends_inside_the_floats() -> None:
    """Both ends of the wing lie inside a float, so that the three bodies unite into one."""
    port, wing, starboard = sorted(bodies("tandril.3mf"), key=lambda mesh: float(mesh.centroid[1]))
    for float_, side in ((port, -1), (starboard, 1)):
        end = wing.vertices[wing.vertices[:, 1] * side > 99.9]
        assert len(end) > 20
        facets = float_.convex_hull
        assert ((end - facets.triangles_center[:, None]) * facets.face_normals[:, None]).sum(axis=2).max() < 0


@pytest.mark.parametrize("name", JOBS)
def test_job_files_are_sound(name: str) -> None:
    """Every job file is read without a fault, sets a foam thickness, and its hull file lies beside it."""
    job = load_job(MODELS / name)
    assert job.foam.thickness is not None
    assert Path(job.hull.file).is_file()


def test_flying_boat_breaks_at_its_step() -> None:
    """The flying boat's job has a break where the hull has its step."""
    assert load_job(MODELS / "skerrywing.toml").foam.breaks == (script().STEP_X,)
