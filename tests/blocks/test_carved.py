"""Carved blocks: what two profiles leave and what the knife takes off, by closed forms and by manifold3d."""

import math

import numpy as np
import pytest
import shapely
import trimesh
from manifold3d import CrossSection, Manifold, Mesh64
from shapely import MultiPolygon, Polygon

from profiles.blocks import carved
from profiles.blocks.carved import TRUE, carved_solid, left_by_profiles, mesh_volume
from profiles.blocks.settings import Allowances
from profiles.blocks.stations import Span
from profiles.blocks.tips import Tip, tip_of
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.shape import View
from profiles.hull.silhouette import silhouette
from profiles.hull.surface import surface_of
from tests import closed_forms as zoo

CONE = zoo.revolved(np.array([0.0, 50.0]), np.array([0.0, 20.0]), 256)
"""A cone 50 mm long and 40 mm through, with its point forward."""

FORK = zoo.joined(
    zoo.box(60.0, 100.0, 20.0), zoo.box(60.0, 20.0, 20.0, x=60.0, y=-40.0), zoo.box(60.0, 20.0, 20.0, x=60.0, y=40.0)
)
"""A slab that goes on as two arms from x = 60 mm."""

BODIES = {
    "cone": (CONE, 0.0, 50.0),
    "nose of a spheroid": (zoo.spheroid(), 0.0, 40.0),
    "middle of a spheroid": (zoo.spheroid(), 60.0, 100.0),
    "knife edge": (zoo.wigley(), 0.0, 50.0),
    "two pieces": (zoo.twin_boxes(), 10.0, 50.0),
    "a step inside": (zoo.stepped_box(), 30.0, 70.0),
    "a hole along it": (zoo.tube(), 0.0, 40.0),
    "an edge across": (zoo.wedge(), 0.0, 40.0),
    "arms that begin inside": (FORK, 40.0, 90.0),
    "pointed tail": (zoo.sears_haack(), 350.0, 400.0),
}


def tip(mesh: zoo.Mesh, x_fore: float, x_aft: float, skin: float = 0.0, kerf: float = 0.0) -> Tip:
    surface = surface_of(*mesh)
    return tip_of(MeshShape(surface), Span(1, x_fore, x_aft, full=True), allowances=Allowances(skin=skin, kerf=kerf))


def manifold(mesh: tuple[zoo.Floats, zoo.Ints]) -> Manifold:
    vertices, faces = mesh
    return Manifold(Mesh64(np.array(vertices, order="C"), np.array(faces, dtype=np.uint64, order="C")))


def slab(mesh: zoo.Mesh, x_fore: float, x_aft: float) -> Manifold:
    """A body between two planes, by manifold3d; its bodies are united."""
    whole = Manifold()
    for body in trimesh.Trimesh(*mesh, process=False).split():
        whole += manifold((body.vertices, body.faces))
    return whole.trim_by_plane((1.0, 0.0, 0.0), x_fore).trim_by_plane((-1.0, 0.0, 0.0), -x_aft)


def drawn_out(shape: MultiPolygon, *, upright: bool) -> Manifold:
    """A profile as a prism of 400 mm across it, by manifold3d: (x, z) along y, or (x, y) along z."""
    rings = [
        shapely.get_coordinates(ring)[:-1]
        for part in shapely.orient_polygons(shape).geoms
        for ring in (part.exterior, *part.interiors)
    ]
    prism = CrossSection([*rings]).extrude(400.0).translate((0.0, 0.0, -200.0))
    # Columns of a 3 x 4 matrix: where x, the second axis and the extrusion go.
    rows = [[1, 0, 0, 0], [0, 0, 1, 0], [0, 1, 0, 0]] if upright else [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0]]
    return prism.transform(np.array(rows, dtype=np.float64))


def test_cone_tip_leaves_a_pyramid_to_carve() -> None:
    """Two triangles leave a square pyramid, (2 r)^2 h / 3; the cone is pi r^2 h / 3 of it (elementary geometry)."""
    made = tip(CONE, 0.0, 50.0)
    assert made.wired_volume == pytest.approx(40.0**2 * 50 / 3, rel=1e-6)
    assert made.volume == pytest.approx(math.pi * 20**2 * 50 / 3, rel=1e-3)
    assert made.carving_volume == pytest.approx((4 - math.pi) * 20**2 * 50 / 3, rel=3e-3)


def test_nose_of_a_spheroid_leaves_what_squares_leave_of_circles() -> None:
    """Every section is a circle in its square: 4 / pi - 1 of the spheroid's volume is carved off. The volume of a cap
    of height h is pi (b / a)^2 h^2 (3 a - h) / 3 (a sphere's, drawn out).
    """
    made = tip(zoo.spheroid(rings=96, sides=256), 0.0, 40.0)
    cap = math.pi * 0.5**2 * 40**2 * (300 - 40) / 3
    assert made.volume == pytest.approx(cap, rel=1.5e-3)
    assert made.carving_volume == pytest.approx((4 / math.pi - 1) * cap, rel=6e-3)


@pytest.mark.parametrize("name", BODIES)
def test_carved_solid_is_the_hull_between_its_stations(name: str) -> None:
    """Watertight by trimesh, and by manifold3d nowhere farther from the slab of the hull than is promised: what one has
    and the other has not is less than a layer of TRUE over half of the surface, and volumes agree to 0.15 %.
    """
    mesh, x_fore, x_aft = BODIES[name]
    made = tip(mesh, x_fore, x_aft)
    solid = trimesh.Trimesh(*made.solid, process=False)
    assert solid.is_watertight
    assert solid.is_winding_consistent
    hull, foam = slab(mesh, x_fore, x_aft), manifold(made.solid)
    assert made.volume == pytest.approx(hull.volume(), rel=1.5e-3)
    assert made.volume == pytest.approx(foam.volume(), rel=1e-9)
    assert (hull - foam).volume() + (foam - hull).volume() < TRUE / 2 * hull.surface_area()


@pytest.mark.parametrize("name", BODIES)
def test_volume_left_by_two_profiles_is_that_of_two_prisms(name: str) -> None:
    """By manifold3d: each profile drawn out across itself, and what both have."""
    mesh, x_fore, x_aft = BODIES[name]
    surface = surface_of(*mesh)
    side, plan = (silhouette(surface, x_fore, x_aft, view) for view in View)
    both = drawn_out(side, upright=True) ^ drawn_out(plan, upright=False)
    assert left_by_profiles(side, plan) == pytest.approx(both.volume(), rel=1e-9)


def test_profile_with_a_hole_leaves_nothing_in_it() -> None:
    """A plate 40 x 40 with a hole of 20 x 20 in plan, 10 mm high: 12,000 mm3, either way."""
    side = MultiPolygon([shapely.box(0, 0, 40, 10)])
    plan = MultiPolygon([Polygon(shapely.box(0, 0, 40, 40).exterior, [shapely.box(10, 10, 30, 30).exterior])])
    assert left_by_profiles(side, plan) == pytest.approx(12_000)
    assert left_by_profiles(plan, side) == pytest.approx(12_000)


def test_nothing_is_left_of_nothing() -> None:
    """Empty profiles, profiles beside each other and sections without area."""
    empty, fore, aft = MultiPolygon(), MultiPolygon([shapely.box(0, 0, 9, 9)]), MultiPolygon([shapely.box(9, 0, 18, 9)])
    assert left_by_profiles(empty, empty) == left_by_profiles(fore, empty) == left_by_profiles(fore, aft) == 0.0
    solid = carved_solid(lambda _: empty, 0.0, 40.0)
    assert solid[1].shape == (0, 3)
    assert mesh_volume(solid) == 0.0


def test_skin_is_taken_off_what_the_wire_and_the_knife_leave() -> None:
    """A prism of 60 x 40 under a skin of 3 mm is 54 x 34, whichever way it is made: nothing is carved off."""
    made = tip(zoo.box(), 20.0, 60.0, skin=3.0, kerf=1.5)
    assert made.wired_volume == pytest.approx(54 * 34 * 40, rel=1e-9)
    assert made.volume == pytest.approx(54 * 34 * 40, rel=1e-9)
    assert made.carving_volume == pytest.approx(0.0, abs=1e-6)


def test_round_tail_under_a_skin_is_thinner_by_it() -> None:
    """A round bar of 80 mm under 5 mm: pi 35^2 for each mm, and squares of 70 mm from the wire."""
    bar = zoo.revolved(np.array([0.0, 100.0]), np.array([40.0, 40.0]), 256)
    made = tip(bar, 20.0, 60.0, skin=5.0)
    assert made.volume == pytest.approx(math.pi * 35**2 * 40, rel=5e-4)
    assert made.carving_volume == pytest.approx((4 - math.pi) * 35**2 * 40, rel=2e-3)


def test_faces_of_a_carved_block_lie_at_its_stations() -> None:
    """The solid of a block with two faces reaches from one to the other exactly."""
    vertices, _ = tip(zoo.spheroid(), 60.0, 100.0).solid
    assert np.ptp(vertices[:, 0]) == 40.0
    assert vertices[:, 0].min() == 60.0


def test_number_of_sections_is_limited(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sections that never come near to each other end the search, and the solid is closed all the same."""
    monkeypatch.setattr(carved, "MOST_SECTIONS", 60)
    seen = []

    def restless(x: float) -> MultiPolygon:
        seen.append(x)
        side = 10 + 5 * math.sin(1e6 * x)
        return MultiPolygon([shapely.box(0, 0, side, side), shapely.box(40, 0, 40 + side, side)][: 1 + len(seen) % 2])

    solid = trimesh.Trimesh(*carved_solid(restless, 0.0, 40.0), process=False)
    assert len(seen) == 60
    assert solid.is_watertight


def test_halving_the_tolerance_brings_the_volume_nearer(monkeypatch: pytest.MonkeyPatch) -> None:
    """From 0.4 to 0.05 mm the error against manifold3d's slab of a spheroid falls at least fivefold, with more
    sections.
    """
    mesh = zoo.spheroid(rings=200, sides=96)
    true = slab(mesh, 0.0, 40.0).volume()
    errors, counts = [], []
    for distance in (0.4, 0.05):
        monkeypatch.setattr(carved, "TRUE", distance)
        monkeypatch.setattr(carved, "SPARE", distance / 5)
        made = tip(mesh, 0.0, 40.0)
        errors.append(abs(made.volume - true))
        counts.append(len({*made.solid[0][:, 0].tolist()}))
    assert errors[0] > 5 * errors[1]
    assert counts[0] < counts[1]
