"""Outlines: the order of allowances, the block box, and pins that go through."""

import math

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon

from profiles.blocks.outlines import PIN_EDGE, box_around, outline_of, pins_for
from profiles.blocks.settings import Allowances


def disc(radius: float, y: float = 0.0, z: float = 0.0) -> MultiPolygon:
    return MultiPolygon([shapely.Point(y, z).buffer(radius, quad_segs=64)])


RING = MultiPolygon([disc(50).geoms[0].difference(disc(20).geoms[0])])


def radii(shape: MultiPolygon) -> tuple[float, float]:
    """Outer and inner radius of a ring from its areas."""
    part = shape.geoms[0]
    outer = math.sqrt(Polygon(part.exterior).area / math.pi)
    inner = math.sqrt(Polygon(part.interiors[0]).area / math.pi)
    return outer, inner


def test_without_allowances_the_cut_outline_is_the_finished_one() -> None:
    """Nothing is moved until allowances are set."""
    assert outline_of(RING, Allowances()).cut.equals_exact(RING, 0)


def test_template_edge_lies_outside_the_foam_by_half_kerf_less_half_wire() -> None:
    """With 1.4 mm kerf and 0.4 mm wire the edge is 0.5 mm out, and 0.5 mm into a hollow (geometry of a wire that rides
    on the template and melts its kerf evenly).
    """
    outer, inner = radii(outline_of(RING, Allowances(kerf=1.4, wire=0.4)).cut)
    base_outer, base_inner = radii(RING)
    assert outer - base_outer == pytest.approx(0.5, abs=2e-3)
    assert base_inner - inner == pytest.approx(0.5, abs=2e-3)


def test_wire_cut_over_the_template_leaves_the_foam_surface() -> None:
    """A wire rolled round the template melts back to just the foam surface: template + wire radius - half the kerf."""
    allowances = Allowances(skin=2.0, kerf=1.4, wire=0.4)
    cut = outline_of(disc(50), allowances).cut
    path = cut.buffer(allowances.wire / 2, quad_segs=64)
    foam = path.buffer(-allowances.kerf / 2, quad_segs=64)
    assert math.sqrt(foam.area / math.pi) == pytest.approx(48.0, abs=5e-3)


def test_skin_covers_the_outside_only() -> None:
    """Sheeting goes over the hull, not into a hollow inside it."""
    outer, inner = radii(outline_of(RING, Allowances(skin=3.0)).cut)
    base_outer, base_inner = radii(RING)
    assert outer == pytest.approx(base_outer - 3.0, abs=2e-3)
    assert inner == pytest.approx(base_inner, abs=1e-9)


def test_corners_stay_sharp() -> None:
    """A square grown by half a millimetre is still a square."""
    square = MultiPolygon([shapely.box(0, 0, 100, 60)])
    cut = outline_of(square, Allowances(kerf=1.0)).cut
    assert cut.equals(MultiPolygon([shapely.box(-0.5, -0.5, 100.5, 60.5)]))


def test_skin_thicker_than_the_hull_leaves_nothing() -> None:
    """An outline that the skin uses up is empty, not an error."""
    assert outline_of(disc(2.5), Allowances(skin=3)).cut.is_empty


def test_box_of_an_outline_99_by_138_5() -> None:
    """An outline 138.5 mm tall and 99 mm wide gets a box between 145 x 105 and 155 x 115 (common practice)."""
    box = box_around([shapely.box(-49.5, -60, 49.5, 78.5)], 5.0)
    assert (box.height, box.width) == (150, 110)


@given(st.floats(-200, 200), st.floats(-200, 200), st.floats(1, 400), st.floats(1, 400), st.floats(0, 30))
def test_box_holds_the_outline_with_its_allowance(
    y: float, z: float, wide: float, high: float, allowance: float
) -> None:
    """Every box is a multiple of 5 mm, leaves the allowance on all sides, and is no more than 5 mm too large."""
    box = box_around([shapely.box(y, z, y + wide, z + high)], allowance)
    for low, size, box_low, box_size in ((y, wide, box.y_low, box.width), (z, high, box.z_low, box.height)):
        assert box_size % 5 == pytest.approx(0, abs=1e-9)
        assert box_size - size - 2 * allowance < 5 + 1e-6
        assert low - box_low >= allowance - 1e-6
        assert box_low + box_size - low - size >= allowance - 1e-6


@pytest.mark.parametrize(
    ("fore", "aft", "count"),
    [
        (disc(40), disc(55), 2),
        (disc(40, z=30), disc(45, z=10), 2),
        (MultiPolygon([*disc(25, y=-80).geoms, *disc(25, y=80).geoms]),) * 2 + (4,),
        (disc(5), disc(40), 0),
        (disc(10, y=-30), disc(10, y=30), 0),
    ],
)
def test_pins_lie_inside_both_faces_clear_of_every_edge(fore: MultiPolygon, aft: MultiPolygon, count: int) -> None:
    """Two pins for each shared piece, PIN_EDGE of material round the hole on both faces; none where it is small."""
    pins = pins_for([fore, aft], 3.0)
    assert len(pins) == count
    for pin in pins:
        hole = shapely.Point(pin.y, pin.z).buffer(1.5 + PIN_EDGE - 0.05)
        assert fore.contains(hole)
        assert aft.contains(hole)


def test_pins_are_on_whole_millimetres_of_the_centre_line_where_that_works() -> None:
    """Pins are placed where a rule finds them: on the centre or datum line at whole mm."""
    pins = pins_for([disc(40.3, z=3.3)], 3.0)
    assert all(pin.y == 0 and pin.z == round(pin.z) for pin in pins)
