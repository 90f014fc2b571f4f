"""Narrow holes and slits: filled in the sections, listed with place, size and direction, and kept on request."""

import math

import manifold3d
import numpy as np
import pytest
from shapely import MultiPolygon, Polygon, affinity, box

from profiles.hull.frame import Hull, place
from profiles.hull.narrow import close_narrow
from profiles.hull.repair import repair_mesh
from profiles.hull.sections import Side, section
from profiles.hull.settings import ReadSettings
from profiles.hull.surface import RawMesh
from profiles.notes import NoteKind
from tests import closed_forms as zoo

SOLID = zoo.box(300.0, 60.0, 40.0)


def cut_out(*tools: manifold3d.Manifold) -> zoo.Mesh:
    """The box of 300 x 60 x 40 mm less the tools, made by another library."""
    vertices, faces = SOLID
    body = manifold3d.Manifold(manifold3d.Mesh(vertices.astype(np.float32), faces.astype(np.uint32)))
    for tool in tools:
        body -= tool
    mesh = body.to_mesh()
    return np.asarray(mesh.vert_properties[:, :3], dtype=np.float64), np.asarray(mesh.tri_verts, dtype=np.int64)


def rod(diameter: float, length: float = 200.0) -> manifold3d.Manifold:
    """A round bar about z, from z = 0 up."""
    return manifold3d.Manifold.cylinder(length, diameter / 2, diameter / 2, 32)


def block(x: float, y: float, z: float) -> manifold3d.Manifold:
    """A box about the origin."""
    return manifold3d.Manifold.cube((x, y, z), center=True)


def hull_of(mesh: zoo.Mesh, **options: object) -> Hull:
    raw = RawMesh("hull", "STL", *mesh, "mm", "option")
    surface, _ = repair_mesh(raw)
    settings = ReadSettings(length_axis="x", up="z", nose="low", mirror="none", datum=0.0, **options)  # type: ignore[arg-type]
    return place(surface, raw, settings)


def areas(hull: Hull, *places: float) -> list[float]:
    return [section(hull.surface, x, side).region.area for x in places for side in Side]


@pytest.mark.parametrize("diameter", [0.8, 2.0, 5.5])
def test_tube_through_the_deck_is_filled_and_to_be_drilled(diameter: float) -> None:
    """Straight down at x = 200, y = 10 from the deck at z = 40, 25 mm deep; the box's sections are whole."""
    hull = hull_of(cut_out(rod(diameter).translate((200.0, 10.0, 15.0))))
    (later,) = hull.later
    assert later.kind == "hole"
    assert later.direction == "straight down"
    assert later.mouth == pytest.approx((200.0, 10.0, 40.0), abs=0.1)
    assert later.width == pytest.approx(diameter, rel=0.03)
    assert later.size[2] == pytest.approx(25.0, abs=0.1)
    assert areas(hull, 199.7, 200.0, 200.2, 100.0) == pytest.approx([2400.0] * 8, abs=0.2)


@pytest.mark.parametrize(
    ("turn", "at", "direction"),
    [
        ((180.0, 0.0, 0.0), (200.0, 10.0, 25.0), "straight up"),
        ((90.0, 0.0, 0.0), (200.0, 10.0, 20.0), "straight in from port"),
        ((-90.0, 0.0, 0.0), (200.0, -10.0, 20.0), "straight in from starboard"),
    ],
)
def test_direction_of_a_hole_is_the_way_the_drill_goes(
    turn: tuple[float, float, float], at: tuple[float, float, float], direction: str
) -> None:
    """A blind hole of 3 mm drilled from the keel, from port and from starboard."""
    hull = hull_of(cut_out(rod(3.0).rotate(turn).translate(at)))
    (later,) = hull.later
    assert later.kind == "hole"
    assert later.direction == direction


def test_hole_along_the_hull_is_found_between_its_ends() -> None:
    """A shaft tube of 4 mm from the stern to x = 120."""
    hull = hull_of(cut_out(rod(4.0, 250.0).rotate((0.0, 90.0, 0.0)).translate((120.0, 0.0, 20.0))))
    (later,) = hull.later
    assert (later.kind, later.direction) == ("hole", "along the hull")
    assert later.low[0] == pytest.approx(120.0, abs=0.1)
    assert later.high[0] == pytest.approx(300.0, abs=0.1)
    assert later.width == pytest.approx(4.0, rel=0.03)
    assert areas(hull, 130.0, 222.0) == pytest.approx([2400.0] * 4, abs=0.2)


@pytest.mark.parametrize("width", [0.5, 2.0])
def test_slit_is_filled_and_to_be_sawn(width: float) -> None:
    """A slit 100 mm long and 15 mm deep in the deck."""
    hull = hull_of(cut_out(block(100.0, width, 30.0).translate((150.0, 5.0, 40.0))))
    (later,) = hull.later
    assert later.kind == "slit"
    assert later.width == pytest.approx(width, rel=0.03)
    assert later.size == pytest.approx((100.0, width, 15.0), abs=0.2)
    assert areas(hull, 110.0, 150.0) == pytest.approx([2400.0] * 4, abs=0.5)


def test_crease_is_cut_with_a_knife() -> None:
    """A V of 4 mm at the deck that runs out 12 mm below is neither drilled nor sawn."""
    wedge = manifold3d.CrossSection([[(0.0, -12.0), (2.0, 0.1), (-2.0, 0.1)]]).extrude(80.0)
    hull = hull_of(cut_out(wedge.rotate((90.0, 0.0, 90.0)).translate((100.0, 5.0, 40.0))))
    (later,) = hull.later
    assert later.kind == "crease"
    assert "cut the crease at x = " in later.words
    assert areas(hull, 110.0, 150.0) == pytest.approx([2400.0] * 4, abs=0.5)


@pytest.mark.parametrize(("diameter", "depth"), [(10.0, 25.0), (20.0, 20.0), (32.0, 12.0)])
def test_blind_hole_is_bored_however_wide(diameter: float, depth: float) -> None:
    """No wire enters it from a template's edge: the sections are whole, and another hollow as wide stays."""
    bays = [block(302.0, 10.0, 20.0).translate((150.0, y, 0.0)) for y in (-20.0, 20.0)]  # 10 mm deep, end to end
    hull = hull_of(cut_out(rod(diameter).translate((150.0, 0.0, 40.0 - depth)), *bays))
    (later,) = hull.later
    assert (later.kind, later.direction) == ("hole", "straight down")
    assert later.width == pytest.approx(diameter, rel=0.02)
    assert later.depth == pytest.approx(depth, abs=0.1)
    assert later.mouth == pytest.approx((150.0, 0.0, 40.0), abs=0.5)
    assert f"drill {later.width:.1f} mm" in later.words
    assert areas(hull, 150.0 - 0.48 * diameter, 150.0) == pytest.approx([2400.0 - 200.0] * 4, abs=0.5)


def test_square_pit_is_cut_between_stations_of_its_own() -> None:
    """A well of 25 x 25 mm begins and ends in walls across the hull: it is not bored."""
    hull = hull_of(cut_out(block(25.0, 25.0, 30.0).translate((150.0, 0.0, 40.0))))
    assert hull.later == ()
    assert areas(hull, 150.0) == pytest.approx([2400.0 - 25.0 * 15.0] * 2)


def test_seams_are_closed_and_counted() -> None:
    """Two slits of 0.2 mm between parts of a model are no work for a saw."""
    slits = [block(60.0, 0.2, 30.0).translate((150.0, y, 40.0)) for y in (-10.0, 12.0)]
    hull = hull_of(cut_out(*slits))
    assert hull.later == ()
    assert any("closed 2 seams narrower than 0.3 mm" in note.text for note in hull.notes)
    assert areas(hull, 130.0, 150.0) == pytest.approx([2400.0] * 4, abs=0.5)


def test_wider_hole_is_cut_and_narrow_ones_on_request() -> None:
    """A trunk of 8 x 60 mm through the hull is no slit; with --narrowest 10 it is; --keep-holes keeps a tube."""
    trunk = cut_out(block(60.0, 8.0, 100.0).translate((150.0, 0.0, 20.0)))
    assert hull_of(trunk).later == ()
    assert areas(hull_of(trunk), 150.0) == pytest.approx([2400.0 - 320.0] * 2)
    assert areas(hull_of(trunk, narrowest=10.0), 150.0) == pytest.approx([2400.0] * 2, abs=0.5)
    tube = cut_out(rod(2.0).translate((200.0, 10.0, 15.0)))
    kept = hull_of(tube, keep_holes=True)
    assert kept.later == ()
    assert areas(kept, 200.0) == pytest.approx([2400.0 - 50.0] * 2, rel=1e-3)


def test_each_hole_is_reported_with_the_option_that_keeps_it() -> None:
    """Place, size, direction and --keep-holes stand in one sentence."""
    hull = hull_of(cut_out(rod(2.0).translate((200.0, 10.0, 15.0))))
    (note,) = [note for note in hull.notes if "later by hand" in note.text]
    assert note.kind is NoteKind.ASSUMPTION
    assert "drill 2.0 mm at x = 200.0, y = 10.0, z = 40.0 mm, straight down, 25 mm deep" in note.text
    assert "--keep-holes" in note.text


@pytest.mark.parametrize("mesh", [SOLID, zoo.stepped_box(), zoo.wigley(), zoo.spheroid(), zoo.tube(300.0, 60.0, 30.0)])
def test_bodies_without_narrow_places_have_none(mesh: zoo.Mesh) -> None:
    """Steps, ridges, points and a wide pipe."""
    assert hull_of(mesh).later == ()


@pytest.mark.parametrize("angle", range(0, 90, 15))
def test_corners_and_wide_hollows_stay_exactly(angle: int) -> None:
    """An L with a hollow of 10 mm and a notch of 7 mm, turned: nothing is filled, nothing moves."""
    shape = box(0, 0, 60, 20).union(box(0, 0, 20, 60)) - box(5, 30, 15, 50) - box(40, 10, 47, 20)
    region = MultiPolygon([affinity.rotate(shape, angle, origin=(0, 0))])
    closed, fillings = close_narrow(region, 6.0)
    assert fillings == ()
    assert closed is region


@pytest.mark.parametrize("width", [0.5, 3.0, 5.9])
def test_filling_is_the_slot_itself(width: float) -> None:
    """A slot of `width` x 25 mm in a square: filled to the square, and the filling has its area."""
    region = MultiPolygon([Polygon(box(0, 0, 60, 60) - box(30, 35, 30 + width, 60))])
    closed, fillings = close_narrow(region, 6.0)
    assert closed.symmetric_difference(box(0, 0, 60, 60)).area < 0.3
    assert math.fsum(filling.area for filling in fillings) == pytest.approx(25 * width)


def test_section_with_two_edges_in_one_line_is_closed_without_a_complaint() -> None:
    """A roof whose eaves go on in the line of its floor: GEOS divides by zero there, which once was a warning."""
    eaves = [
        (-137.93328014655168, -0.12),
        (0, 20.56999202198276),
        (137.93328014655174, -0.12),
        (139.7292863931121, -0.12),
    ]
    region = MultiPolygon([Polygon([*eaves, (0, -0.12)])])
    closed, fillings = close_narrow(region, 6.0)
    assert closed.symmetric_difference(region).area == pytest.approx(0.0, abs=1e-6)
    assert not fillings


def test_crumb_in_a_tiny_hollow_leaves_one_sound_part() -> None:
    """A frame around a crumb, beside a slit of 2 mm: slit and tiny hollow are filled, and nothing lies in another."""
    hollow, slit, crumb = box(10, 10, 10.6, 10.6), box(30, -1, 32, 30), box(10.2, 10.2, 10.4, 10.4)
    region = MultiPolygon([box(0, 0, 60, 40).difference(hollow).difference(slit), crumb])
    closed, fillings = close_narrow(region, 6.0)
    assert closed.is_valid
    assert len(closed.geoms) == 1
    assert closed.area == pytest.approx(60 * 40, abs=0.5)
    assert fillings
