"""The meshes that other tests lean on are closed and have the volumes their formulas give.

Published values: shared/references/README.md, "Bodies with exact answers".
"""

import numpy as np
import pytest
import trimesh

from tests import closed_forms as forms

RINGS = np.array([0.0, 20.0, 50.0])
RADII = np.array([40.0, 36.0, 30.0])

FLAT = {
    "box": (forms.box(), forms.box_volume()),
    "wedge": (forms.wedge(), forms.wedge_volume()),
    "stepped box": (forms.stepped_box(), forms.stepped_box_volume()),
    "twin boxes": (forms.twin_boxes(), 2 * 100.0 * 20.0 * 30.0),
    "tube": (forms.tube(), 100.0 * forms.tube_area()),
    "revolved": (forms.revolved(RINGS, RADII, 12), forms.faceted_volume(RINGS, RADII, 12)),
}
ROUND = {
    "spheroid": (forms.spheroid, forms.spheroid_volume()),
    "sears_haack": (forms.sears_haack, forms.sears_haack_volume()),
}


@pytest.mark.parametrize("name", FLAT)
def test_flat_bodies_have_exact_volume(name: str) -> None:
    """A body with flat faces has the volume of its formula to rounding."""
    mesh, volume = FLAT[name]
    assert forms.mesh_volume(mesh) == pytest.approx(volume, rel=1e-10)


@pytest.mark.parametrize(
    "mesh",
    [*(mesh for mesh, _ in FLAT.values()), forms.spheroid(), forms.sears_haack(), forms.wigley()],
    ids=[*FLAT, "spheroid", "sears_haack", "wigley"],
)
def test_meshes_are_closed(mesh: forms.Mesh) -> None:
    """Every mesh is watertight and wound one way."""
    solid = trimesh.Trimesh(*mesh, process=False)
    assert solid.is_watertight
    assert solid.is_winding_consistent
    assert solid.area_faces.min() > 0


@pytest.mark.parametrize("name", ROUND)
def test_round_bodies_converge_with_order_two(name: str) -> None:
    """Doubling rings and sides brings a round body's volume four times closer to its closed form."""
    make, volume = ROUND[name]
    coarse, fine = (volume - forms.mesh_volume(make(rings=n, sides=n)) for n in (48, 96))
    assert np.log2(coarse / fine) == pytest.approx(2.0, abs=0.1)


def test_wigley_converges_with_order_two() -> None:
    """The Wigley mesh comes four times closer to 4LBT/9 when its steps are halved."""
    coarse, fine = (forms.wigley_volume() - forms.mesh_volume(forms.wigley(stations=n, rows=n)) for n in (24, 48))
    assert np.log2(coarse / fine) == pytest.approx(2.0, abs=0.05)


def test_published_values() -> None:
    """The formulas give the published figures of the frustum, the spheroid, Sears-Haack and Wigley."""
    assert forms.frustum_volume(40, 30, 50) == pytest.approx(193731.547, abs=5e-4)
    assert forms.spheroid_volume(2, 1) == pytest.approx(8.377580, abs=5e-7)
    assert float(forms.sears_haack_radius(0.25, 1, 1)) == pytest.approx(0.805927, abs=5e-7)
    assert forms.wigley_volume(1, 1, 1) == pytest.approx(4 / 9)
