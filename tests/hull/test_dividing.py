"""Surfaces divided by planes: closed, complete, and equal to what another library cuts."""

import itertools

import manifold3d
import numpy as np
import pytest
import trimesh

from profiles.errors import HullError
from profiles.hull.dividing import REST, divide_surface
from profiles.hull.edges import CLEAN, edge_table
from profiles.hull.regions import region_of
from profiles.hull.surface import Surface, surface_of
from profiles.hull.trial_sections import mesh_volume


def _surface(mesh: trimesh.Trimesh) -> Surface:
    return surface_of(np.asarray(mesh.vertices), np.asarray(mesh.faces))


def _ball(radius: float = 50.0) -> Surface:
    return _surface(trimesh.creation.icosphere(subdivisions=3, radius=radius))


def _solid(surface: Surface) -> manifold3d.Manifold:
    return manifold3d.Manifold(manifold3d.Mesh64(np.array(surface.vertices), np.array(surface.faces, dtype=np.uint64)))


def _closed(surface: Surface) -> bool:
    return bool((edge_table(surface.faces, len(surface.vertices)).count == CLEAN).all())


REGIONS = (
    ("above 12.3",),
    ("beyond 20", "below -10"),
    ("fore of -5", "above 3 and aft of 17"),
    ("box -20:20 -15:15 -10:60", "above 0"),
    ("above 0", "fore of 0", "beyond 25"),
)


@pytest.mark.parametrize("words", REGIONS)
def test_all_parts_are_closed_and_their_volumes_add_up(words: tuple[str, ...]) -> None:
    """Every part is a closed surface, and together they are the body."""
    ball = _ball()
    parts, _ = divide_surface(ball, [region_of(text) for text in words])
    assert all(_closed(part) for part in parts.values())
    total = sum(mesh_volume(part) for part in parts.values())
    assert total == pytest.approx(mesh_volume(ball), rel=1e-12)


@pytest.mark.parametrize("height", [-31.7, 0.0, 12.3, 25.0])
def test_a_cut_by_one_plane_is_that_of_another_library(height: float) -> None:
    """Volume and area of the upper part are those that manifold3d leaves."""
    ball = _ball()
    parts, _ = divide_surface(ball, [region_of(f"above {height}")])
    solid = _solid(ball)
    upper, lower = solid.split_by_plane((0, 0, 1), height)
    for part, other in ((parts[0], upper), (parts[REST], lower)):
        mesh = trimesh.Trimesh(part.vertices, part.faces, process=False)
        assert mesh.volume == pytest.approx(other.volume(), rel=1e-9)
        assert mesh.area == pytest.approx(other.surface_area(), rel=1e-9)


def test_a_box_cut_out_is_that_of_another_library() -> None:
    """A box of six planes holds what the two bodies share."""
    ball = _ball()
    parts, _ = divide_surface(ball, [region_of("box -20:35 -15:15 5:60")])
    solid = _solid(ball)
    box = manifold3d.Manifold.cube((55, 30, 55)).translate((-20, -15, 5))
    assert mesh_volume(parts[0]) == pytest.approx((solid ^ box).volume(), rel=1e-9)
    assert mesh_volume(parts[REST]) == pytest.approx((solid - box).volume(), rel=1e-9)


def test_the_order_of_parts_decides_who_has_what_both_hold() -> None:
    """What two regions hold belongs to the first, and nothing is lost."""
    ball = _ball()
    words = ("above 0", "fore of 0", "beyond 25")
    for order in itertools.permutations(words):
        parts, _ = divide_surface(ball, [region_of(text) for text in order])
        alone, _ = divide_surface(ball, [region_of(order[0])])
        assert mesh_volume(parts[0]) == pytest.approx(mesh_volume(alone[0]), rel=1e-12)
        assert sum(mesh_volume(part) for part in parts.values()) == pytest.approx(mesh_volume(ball), rel=1e-12)


def test_a_plane_in_a_wall_gives_the_wall_to_the_foam_behind_it() -> None:
    """A box on a box, cut exactly at the step: the cap is only what both share."""
    step = manifold3d.Manifold.cube((100, 60, 20)) + manifold3d.Manifold.cube((40, 20, 50)).translate((30, 20, 0))
    mesh = step.to_mesh64()
    surface = surface_of(mesh.vert_properties[:, :3], mesh.tri_verts.astype(np.int64))
    parts, caps = divide_surface(surface, [region_of("above 20")])
    assert mesh_volume(parts[0]) == pytest.approx(40 * 20 * 30, rel=1e-12)
    assert mesh_volume(parts[REST]) == pytest.approx(100 * 60 * 20, rel=1e-12)
    assert sum(cap.area.area for cap in caps) == pytest.approx(40 * 20, rel=1e-12)
    assert all(_closed(part) for part in parts.values())


@pytest.mark.parametrize(
    "words", ["over 3", "above", "above x", "beyond 0", "body two", "box 1:2 3:4", "above 5 and below 2", ""]
)
def test_words_that_describe_no_region_are_refused(words: str) -> None:
    """The message says what was expected or what is wrong."""
    with pytest.raises(ValueError, match="expected"):
        region_of(words)


def test_a_place_where_the_skin_is_torn_is_named_in_the_frame_of_the_hull() -> None:
    """A ball that lacks a patch cannot be divided through it, and the message says at which height."""
    ball = _ball()
    torn = surface_of(ball.vertices, ball.faces[ball.vertices[ball.faces][:, :, 0].max(axis=1) < 40])
    with pytest.raises(HullError, match="divided at z = 5 mm"):
        divide_surface(torn, [region_of("above 5")])
