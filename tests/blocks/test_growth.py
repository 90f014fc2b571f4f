"""Growth: outlines moved outwards until no foam is missing; and where a block must be divided."""

from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh
from shapely import MultiPolygon

from profiles.blocks.growth import CLOSE, GrownBlock, grow_block
from profiles.blocks.hull_sections import hull_cut, hull_inside
from profiles.blocks.outlines import offset_outline
from profiles.blocks.ruled import block_mesh, volume
from profiles.blocks.settings import Growth
from profiles.blocks.splits import TO, split_x
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.reading import read
from profiles.hull.sections import Side, section
from profiles.hull.surface import Surface, surface_of
from profiles.hull.surface_points import vertices_between
from tests import closed_forms as zoo

MODELS = Path(__file__).parents[2] / "models"


def cut_block(surface: Surface, x_fore: float, x_aft: float, growth: Growth = "block") -> GrownBlock:
    fore, aft = section(surface, x_fore, Side.AFT).region, section(surface, x_aft, Side.FORE).region
    cut = hull_cut(MeshShape(surface))
    inside = hull_inside(cut, x_fore, x_aft, fore, aft)
    points = vertices_between(surface, x_fore, x_aft)
    return grow_block(fore, aft, inside, growth=growth, cut=cut, points=points)


HULLS = {
    "spheroid": (zoo.spheroid(285.0, 60.0, 120, 96), (40.0, 80.0)),
    "sears-haack": (zoo.sears_haack(), (60.0, 100.0)),
    "wigley": (zoo.wigley(800.0, 160.0, 100.0, 80, 24), (120.0, 160.0)),
}


@pytest.mark.parametrize("name", HULLS)
def test_no_point_of_the_hull_lies_outside_after_growth(name: str) -> None:
    """Points of the hull's skin against the mesh of the grown block, by trimesh: none outside by more than 0.02 mm."""
    mesh, (x_fore, x_aft) = HULLS[name]
    surface = surface_of(*mesh)
    block = cut_block(surface, x_fore, x_aft)
    skin = trimesh.Trimesh(surface.vertices, surface.faces, process=False)
    points, _ = trimesh.sample.sample_surface(skin, 30000, seed=1)
    points = points[(points[:, 0] > x_fore + 0.1) & (points[:, 0] < x_aft - 0.1)][:1200]
    assert len(points) > 500
    body = trimesh.Trimesh(*block_mesh(block.block), process=False)
    outside = -np.asarray(trimesh.proximity.signed_distance(body, points))  # type: ignore[no-untyped-call]
    assert outside.max() < 0.02
    assert block.before.missing > 0.1


def test_growth_is_the_least_that_is_enough() -> None:
    """A little less leaves foam missing; on a round body it is the missing depth itself."""
    surface = surface_of(*zoo.spheroid(285.0, 60.0, 120, 96))
    block = cut_block(surface, 90.0, 130.0)
    assert block.deviation.missing == 0
    less = cut_block(surface, 90.0, 130.0, block.offset - 3 * CLOSE)
    assert less.deviation.missing > CLOSE
    assert block.offset == pytest.approx(block.before.missing, abs=3 * CLOSE)


def test_straight_block_does_not_grow() -> None:
    """Nothing is missing from a prism."""
    block = cut_block(surface_of(*zoo.box()), 20.0, 60.0)
    assert block.offset == 0
    assert block.sanding < 1e-6
    assert block.sanding_volume < 1e-3


def test_fixed_growth_is_to_be_sanded_off() -> None:
    """A box 60 x 40 grown by 1 mm all round: 1 mm and (62 x 42 - 60 x 40) x 40 mm3."""
    block = cut_block(surface_of(*zoo.box()), 20.0, 60.0, 1.0)
    assert block.offset == 1.0
    assert block.sanding == pytest.approx(np.sqrt(2), abs=1e-6)  # at the corners, which stay sharp
    assert block.sanding_volume == pytest.approx((62 * 42 - 60 * 40) * 40, rel=1e-6)
    assert volume(block.block) == pytest.approx(62 * 42 * 40)


def test_growth_none_leaves_the_outlines() -> None:
    """With 0 the faces are the hull's own and the missing foam is reported."""
    surface = surface_of(*zoo.spheroid(285.0, 60.0, 120, 96))
    block = cut_block(surface, 90.0, 130.0, 0.0)
    assert block.offset == 0
    assert block.fore.equals(section(surface, 90.0, Side.AFT).region)
    assert block.deviation is block.before
    assert block.deviation.missing > 0.3


def test_block_across_a_split_is_hopeless_and_left_as_it_is() -> None:
    """Where the outline divides inside a block no growth is sought."""
    surface = read(MODELS / "tandril.3mf").surface
    block = cut_block(surface, 150.0, 200.0)
    assert block.hopeless
    assert block.offset == 0


def test_hollows_become_smaller() -> None:
    """Growth adds material on both sides of a wall."""
    wall = MultiPolygon([shapely.Point(0, 0).buffer(30).difference(shapely.Point(0, 0).buffer(20))])
    more = offset_outline(wall, 1.0)
    assert more.area > wall.area
    assert shapely.Polygon(more.geoms[0].interiors[0]).area < shapely.Polygon(wall.geoms[0].interiors[0]).area


def test_place_of_a_split_is_found() -> None:
    """Two boxes joined by a bridge that ends at x = 50: one piece becomes two there, on the wall itself."""
    bridge = zoo.box(length=50, breadth=90, depth=30)
    surface = surface_of(*zoo.joined(zoo.twin_boxes(length=100), bridge))
    assert split_x(MeshShape(surface), 0.0, 100.0) == pytest.approx([50.0], abs=1e-6)


def test_place_where_a_piece_begins_is_found() -> None:
    """A spheroid beside a box begins at its pole, x = 30, and ends at x = 70; both to a tenth of a millimetre."""
    ball = zoo.spheroid(20.0, 15.0)
    beside = (ball[0] + (30.0, 80.0, 20.0), ball[1])
    surface = surface_of(*zoo.joined(zoo.box(), beside))
    assert split_x(MeshShape(surface), 0.0, 100.0) == pytest.approx([30.0, 70.0], abs=TO)


def test_outline_that_stays_whole_has_no_split() -> None:
    """Nothing changes along a Wigley hull."""
    assert split_x(MeshShape(surface_of(*zoo.wigley())), 100.0, 140.0) == []


def test_hollow_that_opens_is_found() -> None:
    """A box with a box-shaped void from x = 40 to 60."""
    void = zoo.turned_inside_out(zoo.box(20.0, 20.0, 10.0, x=40.0))
    void = (void[0] + (0.0, 0.0, 10.0), void[1])
    surface = surface_of(*zoo.joined(zoo.box(), void))
    assert split_x(MeshShape(surface), 0.0, 100.0) == pytest.approx([40.0, 60.0], abs=1e-6)
