"""Volume, surface, centroid and inertia, against closed forms and another library."""

import math

import numpy as np
import pytest
import shapely
import trimesh

from profiles.body.mass import combine, flat_mass, is_inside, point_mass, skin_mass, solid_mass
from tests import closed_forms as zoo
from tests.body.figures import Mesh, barge, rotation, vee

FINE = 400
"""Sides of a round body: its polygon has 4e-5 less area than the circle."""


def test_spheroid() -> None:
    """V 8.377580, S 21.478435 for semi-axes 2 and 1; inertia m/5 (2 b2) along and m/5 (a2 + b2) across."""
    mesh = zoo.spheroid(2.0, 1.0, 300, FINE)
    solid, skin = solid_mass(mesh), skin_mass(mesh)
    assert solid.amount == pytest.approx(8.377580, rel=1e-3)
    assert skin.amount == pytest.approx(21.478435, rel=1e-3)
    assert solid.centre == pytest.approx([2.0, 0.0, 0.0], abs=1e-9)
    assert np.diag(solid.inertia) / solid.amount == pytest.approx([0.4, 1.0, 1.0], rel=1e-3)


def test_sphere_shell() -> None:
    """A thin spherical shell has inertia 2/3 m r2 about every axis."""
    skin = skin_mass(zoo.spheroid(50.0, 50.0, 200, FINE))
    assert skin.amount == pytest.approx(4 * math.pi * 50**2, rel=1e-3)
    assert np.diag(skin.inertia) / skin.amount == pytest.approx(2 / 3 * 50**2, rel=1e-3)


def test_cone_frustum() -> None:
    """Radius 40 to 30 over 50: V 193731.547; centroid h (R2 + 2Rr + 3r2) / 4 (R2 + Rr + r2); surface and inertia."""
    fore, aft, high = 40.0, 30.0, 50.0
    mesh = zoo.frustum(fore, aft, high, FINE)
    solid = solid_mass(mesh)
    assert solid.amount == pytest.approx(193731.547, rel=1e-3)
    sums = fore**2 + fore * aft + aft**2
    assert solid.centre[0] == pytest.approx(high * (fore**2 + 2 * fore * aft + 3 * aft**2) / (4 * sums), rel=1e-3)
    slant = math.hypot(high, fore - aft)
    assert skin_mass(mesh).amount == pytest.approx(math.pi * ((fore + aft) * slant + fore**2 + aft**2), rel=1e-3)
    axial = 3 / 10 * solid.amount * (fore**5 - aft**5) / (fore**3 - aft**3)
    assert solid.inertia[0, 0] == pytest.approx(axial, rel=1e-3)


def test_the_error_of_a_round_body_falls_with_the_square_of_its_facets() -> None:
    """Twice as many sides and rings leave a quarter of the error of the volume."""
    exact = 4 / 3 * math.pi * 100 * 50**2
    errors = [exact - solid_mass(zoo.spheroid(100.0, 50.0, n, 2 * n)).amount for n in (40, 80, 160)]
    assert [errors[0] / errors[1], errors[1] / errors[2]] == pytest.approx([4.0, 4.0], rel=0.01)


@pytest.mark.parametrize("mesh", [barge(), vee(), zoo.wigley(), zoo.tube(), zoo.twin_boxes(), zoo.stepped_box()])
def test_another_library_agrees(mesh: Mesh) -> None:
    """Volume, centroid, inertia and surface by trimesh, also far from the origin and turned."""
    turn = rotation((1.0, 2.0, -1.0), 77.0)
    moved = (mesh[0] @ turn.T + (1000.0, -400.0, 77.0), mesh[1])
    other = trimesh.Trimesh(*moved, process=False)
    solid = solid_mass(moved)
    assert solid.amount == pytest.approx(other.volume, rel=1e-9)
    assert solid.centre == pytest.approx(other.center_mass, rel=1e-9)
    assert solid.inertia == pytest.approx(other.moment_inertia, rel=1e-6, abs=1e-6 * np.abs(solid.inertia).max())
    assert skin_mass(moved).amount == pytest.approx(other.area, rel=1e-9)
    upright = solid_mass(mesh)
    assert turn @ upright.inertia @ turn.T == pytest.approx(solid.inertia, abs=1e-6 * np.abs(solid.inertia).max())


def test_parts_add_up() -> None:
    """Two halves of a box, or the box less a box, weigh and turn as the whole does."""
    whole, fore, aft = solid_mass(zoo.box(100.0)), solid_mass(zoo.box(40.0)), solid_mass(zoo.box(60.0, x=40.0))
    both = combine([fore, aft])
    assert (both.amount, *both.centre) == pytest.approx((whole.amount, *whole.centre))
    assert both.inertia == pytest.approx(whole.inertia, abs=1e-3)
    assert combine([whole, aft.times(-1.0)]).inertia == pytest.approx(fore.inertia, abs=1e-3)


def test_points() -> None:
    """Two points of 1 and 3 balance at a quarter of the way; a dumbbell turns as m1 m2 / (m1 + m2) d2."""
    pair = combine([point_mass(1.0, (0.0, 0.0, 0.0)), point_mass(3.0, (8.0, 0.0, 0.0))])
    assert pair.centre == pytest.approx([6.0, 0.0, 0.0])
    assert np.diag(pair.inertia) == pytest.approx([0.0, 48.0, 48.0])


def test_flat_areas() -> None:
    """A rectangle with a hole: b h3 / 12 for each."""
    ring = shapely.MultiPolygon([shapely.box(-3, -2, 3, 2).difference(shapely.box(-1, -1, 1, 1))])
    flat = flat_mass(ring, 7.0)
    assert flat.amount == pytest.approx(20.0)
    assert flat.centre == pytest.approx([7.0, 0.0, 0.0])
    assert np.diag(flat.second) == pytest.approx([0.0, 4 * 6**3 / 12 - 2**4 / 12, 6 * 4**3 / 12 - 2**4 / 12])


def test_inside_and_outside() -> None:
    """The hollow of a tube is outside, its wall inside."""
    tube = zoo.tube(100.0, 60.0, 40.0)
    assert is_inside(tube, (50.0, 25.0, 0.0))
    assert not is_inside(tube, (50.0, 0.0, 0.0))
    assert not is_inside(tube, (-1.0, 25.0, 0.0))
