"""A hull in parts: complete, with the same outline on both sides of every joint, each turned its own way."""

from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh
from shapely import MultiPolygon
from shapely.affinity import affine_transform

from profiles import PartSettings, ReadSettings, StationSettings, cut, divide, plan, read
from profiles.errors import HullError
from profiles.hull.frame import Hull
from profiles.hull.parts import Division
from profiles.hull.sections import Side

MESHES = Path(__file__).parents[2].parent / "shared" / "meshes"


def _ball(length: float, breadth: float, depth: float, at: tuple[float, float, float]) -> manifold3d.Manifold:
    return manifold3d.Manifold.sphere(1, 64).scale((length / 2, breadth / 2, depth / 2)).translate(at)


def _box(length: float, breadth: float, depth: float, at: tuple[float, float, float]) -> manifold3d.Manifold:
    return manifold3d.Manifold.cube((length, breadth, depth), center=True).translate(at)


def _read(solid: manifold3d.Manifold, folder: Path, name: str) -> Hull:
    mesh = solid.to_mesh64()
    file = folder / f"{name}.stl"
    trimesh.Trimesh(mesh.vert_properties[:, :3], mesh.tri_verts).export(file)
    return read(file, ReadSettings(unit="mm", length_axis="x", up="z", nose="low", turn="none"))


@pytest.fixture(scope="module")
def yacht(tmp_path_factory: pytest.TempPathFactory) -> Hull:
    """A round hull of 600 mm with a fin keel and a bulb."""
    hull = _ball(600, 150, 90, (0, 0, 0)).trim_by_plane((0, 0, -1), -10)
    fin = _ball(110, 14, 400, (0, 0, 0)).trim_by_plane((0, 0, -1), 0).trim_by_plane((0, 0, 1), -160)
    return _read(hull + fin + _ball(180, 36, 36, (0, 0, -160)), tmp_path_factory.mktemp("yacht"), "yacht")


@pytest.fixture(scope="module")
def fuselage(tmp_path_factory: pytest.TempPathFactory) -> Hull:
    """A round fuselage of 700 mm with a fin and two wing stubs."""
    body = _ball(700, 90, 110, (0, 0, 0))
    fin = _box(90, 10, 150, (260, 0, 60))
    return _read(body + fin + _box(160, 240, 18, (-40, 0, 0)), tmp_path_factory.mktemp("fuselage"), "fuselage")


def _upper(hull: Hull, share: float) -> float:
    """Z of a place between the lowest and the highest point."""
    low, high = (float(corner[2]) for corner in hull.shape.bounds)
    return low + share * (high - low)


def _yacht_parts(hull: Hull) -> Division:
    bulb, root = _upper(hull, 34 / 233), _upper(hull, 0.62)
    keel = PartSettings(name="keel", region=f"below {root}", slices="upright")
    return divide(hull, [PartSettings(name="bulb", region=f"below {bulb}"), keel])


def _fuselage_parts(hull: Hull) -> Division:
    fin = PartSettings(name="fin", region=f"above {_upper(hull, 0.62)} and aft of 500", slices="upright")
    return divide(hull, [fin, PartSettings(name="stubs", region="beyond 46", slices="across")])


def _section_in_hull_frame(division: Division, name: str, axis: int, place: float, aside: float) -> MultiPolygon:
    """The joint as the part itself shows it: the slice of its surface in the hull's frame next to the plane."""
    part = next(part for part in division.parts if part.name == name)
    surface = part.hull.surface
    mesh = trimesh.Trimesh(part.to_hull(surface.vertices), surface.faces, process=False)
    normal = np.eye(3)[axis]
    path = mesh.section(plane_origin=normal * (place + aside), plane_normal=normal)
    assert path is not None
    order = [(axis + 1) % 3, (axis + 2) % 3]
    loops = [loop[:, order] for loop in path.discrete]
    regions = sorted((MultiPolygon([(loop, [])]) for loop in loops), key=lambda region: -region.area)
    whole = regions[0]
    for region in regions[1:]:
        whole = whole.symmetric_difference(region)
    return whole


@pytest.mark.parametrize("which", ["yacht", "fuselage"])
def test_parts_are_the_whole_hull(which: str, request: pytest.FixtureRequest) -> None:
    """Their volumes add up to that of the hull."""
    hull = request.getfixturevalue(which)
    division = _yacht_parts(hull) if which == "yacht" else _fuselage_parts(hull)
    volumes = [
        abs(trimesh.Trimesh(part.hull.surface.vertices, part.hull.surface.faces).volume) for part in division.parts
    ]
    whole = trimesh.Trimesh(hull.surface.vertices, hull.surface.faces).volume
    assert len(volumes) == (3 if which == "yacht" else 4)
    assert sum(volumes) == pytest.approx(whole, rel=1e-6)


@pytest.mark.parametrize("which", ["yacht", "fuselage"])
def test_both_sides_of_a_joint_have_its_outline(which: str, request: pytest.FixtureRequest) -> None:
    """The two parts, cut by another library just beside the plane, show the joint to 0.001 mm."""
    hull = request.getfixturevalue(which)
    division = _yacht_parts(hull) if which == "yacht" else _fuselage_parts(hull)
    assert division.joints
    for joint in division.joints:
        for name, aside in zip(joint.parts, (-1e-5, 1e-5), strict=True):
            seen = _section_in_hull_frame(division, name, "xyz".index(joint.axis), joint.place, aside)
            seen = seen.intersection(joint.outline.buffer(1e-3))
            assert seen.hausdorff_distance(joint.outline) < 1e-3


def test_a_part_sliced_upright_stands_on_its_joint(yacht: Hull) -> None:
    """Its last section is the joint, with the hull's x as height, turned and not mirrored."""
    division = _yacht_parts(yacht)
    keel = division.parts[2]
    joint = next(joint for joint in division.joints if set(joint.parts) == {"", "keel"})
    shown = keel.hull.shape.section(keel.hull.length, Side.FORE).region
    # Joint in (x, y) of the hull -> y and z of the part: z is -x, moved.
    expected = affine_transform(joint.outline, [0, 1, -1, 0, 0, float(keel.offset[2])])
    assert shown.symmetric_difference(expected).area < 1e-6 * expected.area


def test_twins_beyond_a_breadth_have_a_joint_on_either_side(fuselage: Hull) -> None:
    """Two wing stubs are two joints, one the mirror image of the other."""
    joints = [j for j in _fuselage_parts(fuselage).joints if any("stubs" in name for name in j.parts)]
    assert sorted(joint.place for joint in joints) == [-46, 46]
    assert joints[0].outline.hausdorff_distance(joints[1].outline) < 1e-3


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ([("a", "above 1000")], "'a' is empty"),
        ([("a", "above -1000")], "take everything"),
        ([("a", "above 0"), ("a", "beyond 40")], "two parts are called 'a'"),
        ([("a", "fore of 2.5")], "only 2.50 mm thick along x"),
        ([("a", "over 20")], "part 'a': expected 'above MM'"),
    ],
)
def test_parts_that_cannot_be_are_refused(yacht: Hull, parts: list[tuple[str, str]], words: str) -> None:
    """One sentence says which part and what is wrong."""
    with pytest.raises(HullError, match=words):
        divide(yacht, [PartSettings(name=name, region=region) for name, region in parts])


def test_blocks_of_every_part_lack_no_foam(yacht: Hull) -> None:
    """Hull, bulb and a keel sliced upright are cut like any hull, and most of the blocks by wire."""
    for part in _yacht_parts(yacht).parts:
        body = cut(part.hull, plan(part.hull, StationSettings(thickness=40)))
        assert body.cut_blocks
        assert max(block.grown.deviation.missing for block in body.cut_blocks) <= 0.05


@pytest.mark.skipif(not MESHES.is_dir(), reason="the folder of real hulls is not there")
def test_a_real_cruiser_is_whole_in_parts() -> None:
    """House and hull have the volume of the cruiser, though its mesh is coarse and has walls in all directions."""
    hull = read(MESHES / "motor_cruiser.stl", ReadSettings(length=830))
    division = divide(hull, [PartSettings(name="house", region="above 0", slices="upright")])
    assert sum(part.hull.volume for part in division.parts) == pytest.approx(hull.volume, rel=1e-6)


def _union_volume(hull: Hull) -> float:
    """What the bodies of a hull fill together, by another library."""
    surface = hull.surface
    bodies = [surface.faces[surface.body == number] for number in np.unique(surface.body)]
    solids = []
    for faces in bodies:
        used, node = np.unique(faces, return_inverse=True)
        mesh = manifold3d.Mesh64(surface.vertices[used].copy(), node.reshape(-1, 3).astype(np.uint64))
        solids.append(manifold3d.Manifold(mesh))
    return float(manifold3d.Manifold.batch_boolean(solids, manifold3d.OpType.Add).volume())


def test_twin_hulls_are_cut_off_a_wing_by_planes_but_not_by_bodies() -> None:
    """Bodies that reach into each other would be made twice there; planes divide what both hold."""
    hull = read(Path(__file__).parents[2] / "models" / "tandril.3mf")
    with pytest.raises(HullError, match="reach into each other"):
        divide(hull, [PartSettings(name="float", region="body 2")])
    division = divide(hull, [PartSettings(name="floats", region="beyond 70")])
    assert sum(_union_volume(part.hull) for part in division.parts) == pytest.approx(_union_volume(hull), rel=1e-6)
