"""Tips: profiles are the hull's silhouettes, allowances lie where its surface is, gauges are its sections."""

import math

import numpy as np
import pytest
import shapely
from shapely import LineString, MultiPolygon

from profiles.blocks.outlines import outline_of
from profiles.blocks.settings import Allowances
from profiles.blocks.stations import Span
from profiles.blocks.tips import GAUGE_APART, profile_marks, tip_of
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.sections import Side, section
from profiles.hull.shape import View
from profiles.hull.silhouette import THIN, silhouette
from profiles.hull.surface import Surface, surface_of
from tests import closed_forms as zoo


def span(x_fore: float, x_aft: float, number: int = 1) -> Span:
    return Span(number, x_fore, x_aft, full=True)


def cone(length: float = 50.0, radius: float = 20.0) -> Surface:
    return surface_of(*zoo.revolved(np.array([0.0, length]), np.array([0.0, radius]), 64))


def reaches(profile: MultiPolygon, x: float) -> list[tuple[float, float]]:
    """Where the upright line at x lies in a profile, from below."""
    _, low, _, high = profile.bounds
    pieces = shapely.get_parts(profile.intersection(LineString([(x, low - 1), (x, high + 1)])))
    return sorted((piece.bounds[1], piece.bounds[3]) for piece in pieces if piece.length)


def ellipse_segment(x: float, semi_length: float, radius: float) -> float:
    """The area of an ellipse forward of x, measured from its foremost point; the circle's segment, drawn out."""
    along = 1 - x / semi_length
    return semi_length * radius * (math.acos(along) - along * math.sqrt(1 - along**2))


@pytest.mark.parametrize("view", View)
def test_profile_of_a_spheroid_is_the_ellipse_to_the_facets_of_the_mesh(view: View) -> None:
    """Its half height at x is b sqrt(1 - (x/a - 1)^2), short of it by no more than the mesh itself, which is a cone
    from ring to ring.
    """
    shape = silhouette(surface_of(*zoo.spheroid()), 0.0, 40.0, view)
    x = np.linspace(0.2, 39.8, 100)
    ellipse = np.sqrt(zoo.spheroid_area(x) / math.pi)
    rings = zoo.spheroid_rings()
    faceted = np.interp(x, rings, np.sqrt(zoo.spheroid_area(rings) / math.pi))
    high = np.array([reaches(shape, at)[0][1] for at in x.tolist()])
    assert np.abs(high - faceted).max() < 2 * THIN
    assert np.abs(high - ellipse).max() <= np.abs(faceted - ellipse).max() + 2 * THIN
    assert shape.bounds[0] == 0.0
    assert (np.abs(shapely.get_coordinates(shape)).sum(axis=1) < 1e-9).any(), "the tip itself is a corner"


def test_area_of_a_spheroids_profile_nears_the_ellipse_with_the_square_of_the_mesh() -> None:
    """Halving the rings' distance divides the error by four (chords in an arc; order 1.8 to 2.2)."""
    true = ellipse_segment(100.0, 100.0, 50.0)
    errors = [
        true - silhouette(surface_of(*zoo.spheroid(rings=rings)), 0.0, 100.0, View.SIDE).area for rings in (12, 24, 48)
    ]
    orders = np.log2(np.divide(errors[:-1], errors[1:]))
    assert min(errors) > 0
    assert orders == pytest.approx([2.0, 2.0], abs=0.2)


def test_profiles_of_a_wedge_are_a_triangle_and_a_rectangle() -> None:
    """The wedge grows from an edge at x = 0 to 60 x 40 at x = 100; its first half is 50 x 20 / 2 and 50 x 60."""
    tip = tip_of(MeshShape(surface_of(*zoo.wedge())), span(0, 50))
    assert tip.side.outline.cut.area == pytest.approx(500.0, abs=1e-9)
    assert tip.plan.outline.cut.area == pytest.approx(3000.0, abs=1e-9)
    assert tip.side.outline.cut.equals(shapely.Polygon([(0, 0), (50, 0), (50, 20)]))
    assert not tip.by_fore
    assert tip.x_large == 50.0


def test_profile_of_a_knife_edge_has_its_full_height_there() -> None:
    """The Wigley hull ends in an upright edge: its side profile is a rectangle to the very end."""
    tip = tip_of(MeshShape(surface_of(*zoo.wigley())), span(0, 40))
    assert tip.side.outline.cut.area == pytest.approx(40 * 25, abs=1e-6)
    assert tip.plan.outline.cut.bounds == pytest.approx((0, -7.2, 40, 7.2), abs=1e-9)


def test_twin_hulls_show_two_pieces_from_above_and_one_from_the_side() -> None:
    """The plan of two boxes 20 wide and 80 apart is two rectangles."""
    tip = tip_of(MeshShape(surface_of(*zoo.twin_boxes())), span(0, 50))
    assert [len(profile.outline.cut.geoms) for profile in tip.profiles] == [1, 2]
    assert tip.plan.outline.cut.area == pytest.approx(2 * 20 * 50, abs=1e-6)
    assert tip.reach.bounds == pytest.approx((-50, 0, 50, 30), abs=1e-9)


MESHES = {
    "spheroid": zoo.spheroid(),
    "wigley": zoo.wigley(),
    "twins": zoo.twin_boxes(),
    "stepped": zoo.stepped_box(),
    "tube": zoo.tube(),
    "sears_haack": zoo.sears_haack(),
}


@pytest.mark.parametrize("name", sorted(MESHES))
@pytest.mark.parametrize("view", View)
def test_profile_at_x_reaches_as_far_as_the_section_there(name: str, view: View) -> None:
    """Shadow and section are made in different ways and agree at every x, piece by piece."""
    surface = surface_of(*MESHES[name])
    x_low, x_high = surface.bounds[0][0], surface.bounds[1][0]
    x_fore, x_aft = float(0.6 * x_low + 0.4 * x_high), float(x_high)
    shape = silhouette(surface, x_fore, x_aft, view)
    axis = 1 if view is View.SIDE else 0
    for x in np.linspace(x_fore, x_aft, 10)[1:-1].tolist():
        parts = section(surface, x, Side.AFT).region.geoms
        stretches = shapely.union_all([LineString([(0, p.bounds[axis]), (0, p.bounds[axis + 2])]) for p in parts])
        wanted = sorted((one.bounds[1], one.bounds[3]) for one in shapely.get_parts(stretches))
        assert np.allclose(reaches(shape, x), wanted, rtol=0, atol=2 * THIN)


def test_profile_of_the_tail_is_that_of_the_nose_turned_round() -> None:
    """A spheroid is the same from both ends."""
    surface = surface_of(*zoo.spheroid())
    nose, tail = tip_of(MeshShape(surface), span(0, 40)), tip_of(MeshShape(surface), span(160, 200, 5))
    turned = shapely.transform(tail.side.outline.cut, lambda points: (200, 0) + points * (-1, 1))
    assert turned.symmetric_difference(nose.side.outline.cut).area < 1e-6
    assert tail.by_fore
    assert [200 - gauge.x for gauge in reversed(tail.gauges)] == [gauge.x for gauge in nose.gauges]


def test_skin_draws_the_point_of_a_cone_back_by_its_thickness_over_the_sine() -> None:
    """A cone of half angle t under a skin s is the same cone, s / sin t further aft (geometry)."""
    skin = 1.5
    slope = 20.0 / 50.0
    tip = tip_of(MeshShape(cone()), span(0, 50), allowances=Allowances(skin=skin))
    assert tip.side.outline.finished.bounds[0] == 0.0
    assert tip.side.outline.cut.bounds[0] == pytest.approx(skin * math.hypot(1, slope) / slope, abs=0.01)


@pytest.mark.parametrize("allowances", [Allowances(skin=1.5), Allowances(kerf=1.4, wire=0.4)])
def test_cut_profile_ends_at_the_station_beside_the_outline_of_the_face(allowances: Allowances) -> None:
    """No allowance is taken off the station's own edge. A profile's allowance is square to the surface as it is seen, a
    face's lies in its own plane: at a slope t they differ by the allowance x (1 / cos t - 1) at most.
    """
    surface = cone()
    tip = tip_of(MeshShape(surface), span(0, 30), allowances=allowances)
    face = outline_of(section(surface, 30.0, Side.FORE).region, allowances).cut
    cut = tip.side.outline.cut
    points = shapely.get_coordinates(cut)
    at_face = points[np.isclose(points[:, 0], 30.0, rtol=0, atol=1e-9), 1]
    slant = (allowances.skin + allowances.edge) * (math.hypot(1, 0.4) - 1)
    assert cut.bounds[2] == pytest.approx(30.0, abs=1e-9)
    assert (at_face.min(), at_face.max()) == pytest.approx((face.bounds[1], face.bounds[3]), abs=slant + 2e-3)


def test_walls_at_both_ends_keep_the_profile_as_long_as_the_block() -> None:
    """A box under a skin is lower by twice the skin and no shorter."""
    tip = tip_of(MeshShape(surface_of(*zoo.box(100, 60, 40))), span(0, 50), allowances=Allowances(skin=2.0))
    x_low, z_low, x_high, z_high = tip.side.outline.cut.bounds
    assert (x_low, x_high) == pytest.approx((0, 50), abs=1e-9)
    assert z_high - z_low == pytest.approx(36.0, abs=1e-9)


def test_gauge_is_the_section_of_the_foam() -> None:
    """The skin is taken off it and the kerf is not: it is held to the foam."""
    surface = surface_of(*zoo.spheroid())
    tip = tip_of(MeshShape(surface), span(0, 40), [12.5], allowances=Allowances(skin=1.0, kerf=3.0))
    there = section(surface, 12.5, Side.AFT).region
    (gauge,) = tip.gauges
    assert gauge.outline.finished.equals_exact(there, 0)
    assert gauge.outline.cut.within(outline_of(there, Allowances(skin=1.0)).cut.buffer(1e-6))  # square to the surface
    assert tip_of(MeshShape(surface), span(0, 40), [12.5]).gauges[0].outline.cut.equals_exact(there, 0)


def test_gauges_of_a_cone_are_proposed_at_a_quarter_half_and_three_quarters_of_its_base() -> None:
    """A cone's area grows with the square of x: 25, 35.36 and 43.30 of 50 mm, to the next half mm."""
    assert [gauge.x for gauge in tip_of(MeshShape(cone()), span(0, 50)).gauges] == [25.0, 35.5, 43.5]


def test_gauges_stand_apart_and_clear_of_the_faces() -> None:
    """In a thin tip fewer are proposed, and one at least."""
    surface = surface_of(*zoo.spheroid())
    for thickness in (8.0, 10.0, 16.0, 40.0):
        places = [gauge.x for gauge in tip_of(MeshShape(surface), span(0, thickness)).gauges]
        assert places
        if len(places) > 1:
            assert min(np.diff([0.0, *places, thickness])) >= GAUGE_APART


def test_gauges_asked_for_elsewhere_are_left_to_other_blocks() -> None:
    """Of one list for the whole hull a tip takes what lies inside it; with nothing there it proposes."""
    surface = cone()
    tip = tip_of(MeshShape(surface), span(0, 50), [60.0, 20.0, 50.0, 10.0])
    assert [gauge.x for gauge in tip.gauges] == [10.0, 20.0]
    assert len(tip_of(MeshShape(surface), span(0, 50), [60.0]).gauges) == 3


def test_a_gauge_without_foam_is_told_and_left_out() -> None:
    """A skin thicker than the section leaves nothing to hold a gauge to."""
    tip = tip_of(MeshShape(cone()), span(0, 50), [2.0, 40.0], allowances=Allowances(skin=3.0))
    assert [gauge.x for gauge in tip.gauges] == [40.0]
    assert any("no gauge at x = 2 mm" in note.sentence for note in tip.notes)


def test_a_skin_that_uses_up_a_profile_is_told() -> None:
    """A plate thinner than two skins has no side profile left."""
    tip = tip_of(MeshShape(surface_of(*zoo.box(100, 60, 3))), span(0, 50), allowances=Allowances(skin=2.0))
    assert tip.side.outline.cut.is_empty
    assert tip.reach.is_empty
    assert any("side profile" in note.sentence for note in tip.notes)


def test_marks_go_from_the_face_round_the_tip_and_back() -> None:
    """The first and last stand where the wire goes in and out, one is at the tip, none on the face between; all lie on
    the cut line and point into the material.
    """
    tip = tip_of(MeshShape(surface_of(*zoo.spheroid())), span(0, 40))
    marks = tip.side.marks
    assert [mark.number for mark in marks] == list(range(1, len(marks) + 1))
    assert (marks[0].y, marks[-1].y) == pytest.approx((40.0, 40.0))
    assert [(mark.y, mark.z) for mark in marks if mark.kind == "tip"] == [pytest.approx((0.0, 0.0), abs=1e-9)]
    assert all(mark.y < 39.9 for mark in marks[1:-1])
    cut = tip.side.outline.cut
    for mark in marks:
        assert cut.boundary.distance(shapely.Point(mark.y, mark.z)) < 1e-6
        assert math.hypot(*mark.inward) == pytest.approx(1.0)
        assert cut.contains(shapely.Point(mark.y + 0.05 * mark.inward[0], mark.z + 0.05 * mark.inward[1]))


def test_marks_of_a_ring_that_meets_no_face_come_round_once() -> None:
    """No two marks stand on each other where it closes."""
    marks = profile_marks(MultiPolygon([shapely.Point(0, 0).buffer(30)]), ())
    points = np.array([(mark.y, mark.z) for mark in marks])
    apart = np.linalg.norm(points[:, None] - points[None], axis=-1) + np.diag(np.full(len(points), 99.0))
    assert len(points) > 4
    assert apart.min() > 5
