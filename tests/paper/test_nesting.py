"""Nesting: what shares a sheet and where it lies, compared with shapely on the exact shapes."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from profiles.paper.nesting import ANY_TURN, CELL, UPRIGHT, Nest, Place, Shape, nest, turn_points, turned_size

ROOM = (180.0, 260.0)
GAP = 3.0


def _triangle(width: float, height: float) -> Shape:
    return Shape((0.0, 0.0, width, height), shapely.Polygon([(0, 0), (width, 0), (0, height)]))


def _block(width: float, height: float, turns: tuple[int, ...] = ANY_TURN) -> Shape:
    return Shape((0.0, 0.0, width, height), shapely.box(0, 0, width, height), None, turns)


def _moved(part: shapely.Geometry, shape: Shape, place: Place) -> shapely.Geometry:
    """A part of a shape in its place on the sheet."""
    return shapely.transform(part, lambda points: turn_points(points, shape.window, place.turn) + (place.x, place.y))


def _placed(shapes: list[Shape], found: Nest) -> dict[int, list[shapely.Geometry]]:
    """The footprints on each sheet, in their places."""
    sheets: dict[int, list[shapely.Geometry]] = {}
    for shape, place in zip(shapes, found.places, strict=True):
        sheets.setdefault(place.sheet, []).append(_moved(shape.footprint, shape, place))
    return sheets


@settings(deadline=None, max_examples=30)
@given(st.lists(st.tuples(st.floats(5, 170), st.floats(5, 170), st.booleans()), min_size=1, max_size=12))
def test_shapes_stay_in_the_room_and_the_gap_apart(sizes: list[tuple[float, float, bool]]) -> None:
    """Whatever the shapes, none leaves the sheet and no two come nearer than the gap."""
    shapes = [_triangle(width, height) if leaning else _block(width, height) for width, height, leaning in sizes]
    for prints in _placed(shapes, nest(shapes, ROOM, GAP)).values():
        room = shapely.box(0, 0, *ROOM).buffer(1e-5)
        assert all(room.covers(shape) for shape in prints)
        assert all(a.distance(b) >= GAP - 1e-5 for k, a in enumerate(prints) for b in prints[k + 1 :])


@pytest.mark.parametrize("turn", ANY_TURN)
def test_a_turn_is_clockwise(turn: int) -> None:
    """Quarter turns agree with shapely's rotation; y is down, so clockwise on the sheet is a positive angle."""
    window = (10.0, 20.0, 50.0, 90.0)
    points = np.array([(10.0, 20.0), (50.0, 20.0), (33.0, 71.0)])
    turned = affinity.rotate(shapely.MultiPoint([*points, (50.0, 90.0)]), 90 * turn, origin=(0, 0))
    box = affinity.rotate(shapely.box(*window), 90 * turn, origin=(0, 0)).bounds
    expected = shapely.get_coordinates(turned)[:3] - box[:2]
    assert turn_points(points, window, turn) == pytest.approx(expected, abs=1e-9)
    assert turned_size((40.0, 70.0), turn) == pytest.approx((box[2] - box[0], box[3] - box[1]))


def test_triangles_lie_head_to_tail() -> None:
    """Two triangles of half a sheet each share one, which their rectangles could not."""
    shapes = [_triangle(160.0, 240.0)] * 2
    found = nest(shapes, ROOM, GAP)
    assert found.sheets == 1
    assert {place.turn for place in found.places} in ({0, 2}, {1, 3})


def test_what_fits_only_on_end_is_turned() -> None:
    """A profile of 38 x 235 mm stands upright on a sheet that is narrower than it is long."""
    (place,) = nest([_block(235.0, 38.0)], ROOM, GAP).places
    assert place.turn % 2 == 1


def test_what_must_stay_upright_does() -> None:
    """Text is not turned, and comes first on the first sheet."""
    shapes = [_block(100.0, 30.0), _block(170.0, 200.0, UPRIGHT), _block(40.0, 100.0)]
    places = nest(shapes, ROOM, GAP).places
    assert (places[1].sheet, places[1].turn) == (0, 0)
    assert max(places[1].x, places[1].y) < CELL


def test_claims_may_cross_claims_but_no_footprint() -> None:
    """The boxes of two small outlines overlap where neither outline is; each keeps the other outline off its lines."""
    box = shapely.box(0, 0, 150, 200)
    shape = Shape((0.0, 0.0, 150.0, 200.0), shapely.Point(75, 100).buffer(12), box.boundary)
    found = nest([shape] * 2, ROOM, GAP)
    assert found.sheets == 1
    moved = [[_moved(part, shape, place) for part in (shape.footprint, box.boundary)] for place in found.places]
    (first, first_box), (second, second_box) = moved
    assert first.distance(second) >= GAP
    assert min(first.distance(second_box), second.distance(first_box)) >= GAP - 1e-5
    assert nest([Shape(shape.window, box)] * 2, ROOM, GAP).sheets == 2


def test_a_small_shape_lies_in_the_hollow_of_a_large_one() -> None:
    """A frame keeps others out of its material only."""
    frame = shapely.box(0, 0, 170, 250).difference(shapely.box(20, 20, 150, 230))
    shapes = [Shape((0.0, 0.0, 170.0, 250.0), frame), _block(100.0, 100.0)]
    assert nest(shapes, ROOM, GAP).sheets == 1


def test_one_more_is_added_only_where_there_is_room() -> None:
    """A filled nest takes a small shape in what is left and refuses a large one."""
    found = nest([_block(180.0, 150.0)], ROOM, GAP)
    assert found.add(_block(180.0, 150.0)) is None
    place = found.add(_block(150.0, 90.0, UPRIGHT))
    assert place is not None
    assert place.y >= 150.0 + GAP - 1e-6


def test_nothing_needs_no_sheet() -> None:
    """No shapes, no sheets."""
    assert nest([], ROOM, GAP).sheets == 0
