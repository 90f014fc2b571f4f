"""Skin is taken off square to the surface: closed forms for cone, sphere and cylinder."""

import math

import numpy as np
import pytest
import shapely
from shapely import affinity

from profiles.blocks.blocks import Block
from profiles.blocks.dividing import make_blocks
from profiles.blocks.settings import BlockSettings
from profiles.blocks.skin import skin_on
from profiles.blocks.stations import plan_stations
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.sections import Side
from profiles.hull.surface import surface_of
from tests import closed_forms as zoo

SKIN = 1.5

SIDES = 360
"""Of the polygons that stand for circles: they are within 0.003 mm of a circle of 60 mm."""

CLOSE = 0.015
"""mm; the layer may be 0.55 % too thin between two directions asked for, and the polygon is within its circle."""


def shape_of(mesh: zoo.Mesh) -> MeshShape:
    return MeshShape(surface_of(*mesh))


def blocks_of(mesh: zoo.Mesh, length: float, settings: BlockSettings, foam: float = 50.0) -> tuple[Block, ...]:
    return make_blocks(shape_of(mesh), plan_stations(length=length, foam=foam, min_block=10.0), settings)[1]


def radii(outline: shapely.Geometry) -> tuple[float, float]:
    """The least and the greatest radius of an outline."""
    radius = np.hypot(*shapely.get_coordinates(outline).T)
    inner = shapely.Point(0, 0).distance(outline.boundary)
    return float(min(inner, radius.min())), float(radius.max())


@pytest.mark.parametrize(("fore", "aft"), [(20.0, 60.0), (60.0, 20.0), (20.0, 140.0)])
def test_finished_radius_of_a_cone_is_right_at_every_station(fore: float, aft: float) -> None:
    """A cone loses skin / cos(a) of its radius, so that a skin of the given thickness makes it up again."""
    length = 200.0
    slope = math.atan((aft - fore) / length)
    blocks = blocks_of(zoo.frustum(fore, aft, length, SIDES), length, BlockSettings(skin=SKIN))
    assert len(blocks) == 4
    for block in blocks:
        for face in block.faces:
            finished = fore + (aft - fore) * face.x / length
            least, most = radii(face.outline.cut)
            assert least + SKIN / math.cos(slope) == pytest.approx(finished, abs=CLOSE), face.id
            assert most + SKIN / math.cos(slope) == pytest.approx(finished, abs=CLOSE), face.id


def test_flat_skin_would_miss_the_radius_of_the_cone() -> None:
    """The check can fail: taken off in the section alone, the skin of the steepest cone is 0.25 mm too thick."""
    shape = shape_of(zoo.frustum(20.0, 140.0, 200.0, SIDES))
    flat = skin_on(shape, shape.section(100.0, Side.AFT), SKIN).flat
    assert radii(flat)[1] + SKIN / math.cos(math.atan(0.6)) == pytest.approx(80.0 + 0.249, abs=CLOSE)


@pytest.mark.parametrize("x", [5.0, 12.0, 30.0, 50.0, 81.0, 95.0])
def test_under_its_skin_a_sphere_is_a_smaller_sphere(x: float) -> None:
    """At x from its pole the section of the smaller sphere has radius sqrt((R - skin)^2 - (R - x)^2)."""
    radius = 50.0
    turn = np.linspace(0.0, math.pi, 400)
    mesh = zoo.revolved(radius - radius * np.cos(turn), radius * np.sin(turn).clip(0.0), SIDES)
    shape = shape_of(mesh)
    least, most = radii(skin_on(shape, shape.section(x, Side.AFT), SKIN).square)
    wanted = math.sqrt((radius - SKIN) ** 2 - (radius - x) ** 2)
    steepness = radius / wanted  # an error of the layer shows as much larger in the section
    assert (least, most) == pytest.approx((wanted, wanted), abs=CLOSE * steepness)


def test_skin_on_a_cylinder_is_the_same_either_way() -> None:
    """Its surface runs along x, so nothing more is taken off, at its flat ends either."""
    shape = shape_of(zoo.frustum(40.0, 40.0, 100.0, SIDES))
    for x, side in ((0.0, Side.AFT), (50.0, Side.AFT), (100.0, Side.FORE)):
        skin = skin_on(shape, shape.section(x, side), SKIN)
        assert skin.excess == pytest.approx(0.0, abs=1e-6)


def test_a_step_does_not_thin_the_larger_side() -> None:
    """The wall of a step is a face of its block, and no skin is taken off it: both sides keep their own outline."""
    mesh = zoo.stepped_box()
    shape = shape_of(mesh)
    wall = float(np.median(np.unique(mesh[0][:, 0])))
    for x, side in ((wall, Side.FORE), (wall, Side.AFT), (wall - 0.5, Side.AFT), (wall + 0.5, Side.FORE)):
        skin = skin_on(shape, shape.section(x, side), SKIN)
        assert skin.excess == pytest.approx(0.0, abs=1e-6)


def test_grown_outlines_lose_the_skin_at_the_same_places() -> None:
    """An outline 0.4 mm outside that of a cone loses as much as the cone does."""
    shape = shape_of(zoo.frustum(20.0, 60.0, 60.0, SIDES))
    section = shape.section(30.0, Side.AFT)
    skin = skin_on(shape, section, SKIN)
    grown = affinity.scale(section.region, 1.01, 1.01, origin=(0, 0))
    least, most = radii(skin.applied(grown, SKIN))
    wanted = 40.4 - SKIN / math.cos(math.atan(40 / 60))
    assert (least, most) == pytest.approx((wanted, wanted), abs=2 * CLOSE)


def test_skin_and_kerf_of_a_cone_are_drawn_where_the_closed_form_has_them() -> None:
    """Finished surface, foam surface and cut line of a face: r, r - skin / cos(a), and half the kerf less half the wire
    outside the latter.
    """
    settings = BlockSettings(skin=SKIN, kerf=1.2, wire=0.4)
    face = blocks_of(zoo.frustum(20.0, 60.0, 200.0, SIDES), 200.0, settings)[1].aft
    foam = 40.0 - SKIN / math.cos(math.atan(0.2))
    assert radii(face.outline.finished) == pytest.approx((40.0, 40.0), abs=CLOSE)
    assert radii(face.outline.foam) == pytest.approx((foam, foam), abs=CLOSE)
    assert radii(face.outline.cut) == pytest.approx((foam + 0.4, foam + 0.4), abs=CLOSE)
