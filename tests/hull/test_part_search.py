"""Parts proposed from the shape: where boxes of known places meet, and none where nothing jumps."""

from pathlib import Path

import manifold3d
import pytest
import trimesh

from profiles import ReadSettings, read
from profiles.hull.frame import Hull
from profiles.hull.part_search import proposed_parts
from profiles.hull.regions import region_of


def _read(solid: manifold3d.Manifold, file: Path) -> Hull:
    mesh = solid.to_mesh64()
    trimesh.Trimesh(mesh.vert_properties[:, :3], mesh.tri_verts).export(file)
    return read(file, ReadSettings(unit="mm", length_axis="x", up="z", nose="low", turn="none"))


def _box(size: tuple[float, float, float], middle: tuple[float, float, float]) -> manifold3d.Manifold:
    return manifold3d.Manifold.cube(size, center=True).translate(middle)


def test_a_fin_and_wings_are_found_where_they_meet_the_body(tmp_path: Path) -> None:
    """Roots of a fin (60 mm up, x 270 to 330) and of wings (40 mm beside the middle): closed form."""
    solid = _box((400, 80, 60), (200, 0, 0)) + _box((60, 12, 130), (300, 0, 65)) + _box((100, 260, 16), (150, 0, 0))
    hull = _read(solid, tmp_path / "linnet.stl")
    wings, fin = proposed_parts(hull, 30)
    assert wings.name == "sides"
    assert region_of(wings.region).beyond == pytest.approx(40, abs=0.3)
    assert fin.name == "top"
    assert fin.slices != "across"  # it is thinner than the foam that way
    region = region_of(fin.region)
    assert region.z[0] - hull.lowest == pytest.approx(60, abs=0.3)
    assert region.x == pytest.approx((269, 331), abs=0.3)  # 1 mm beside it


def test_a_keel_is_found_below(tmp_path: Path) -> None:
    """A keel of 100 mm under a box 50 mm deep."""
    solid = _box((400, 90, 50), (200, 0, 25)) + _box((80, 14, 110), (200, 0, -45))
    hull = _read(solid, tmp_path / "dabchick.stl")
    (keel,) = proposed_parts(hull, 30)
    assert keel.name == "keel"
    assert region_of(keel.region).z[1] - hull.lowest == pytest.approx(100, abs=0.3)


def test_a_smooth_body_is_left_in_one_piece(tmp_path: Path) -> None:
    """An ellipsoid has no jump."""
    ball = manifold3d.Manifold.sphere(1, 64).scale((250, 60, 45))
    assert proposed_parts(_read(ball, tmp_path / "egg.stl"), 30) == ()
