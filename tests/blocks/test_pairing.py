"""Marks: equal numbers at corresponding places on both faces."""

import math

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon, affinity

from profiles.blocks.pairing import CLOSEST, pair_faces

HULL = Polygon([(0, -30), (40, -10), (45, 30), (-45, 30), (-40, -10)])
"""Keel, chines and deck edges as a hard-chine hull has them."""


def one(shape: Polygon) -> MultiPolygon:
    return MultiPolygon([shape])


def test_both_faces_have_the_same_numbers_in_the_same_order() -> None:
    """Numbers run from 1 at the keel up to starboard, over the deck and down to port."""
    pairing = pair_faces(one(HULL), one(affinity.scale(HULL, 0.8, 0.7, origin=(0, 0))))
    assert [mark.number for mark in pairing.fore] == list(range(1, len(pairing.fore) + 1))
    assert [mark.number for mark in pairing.aft] == [mark.number for mark in pairing.fore]
    assert pairing.fore[0].kind == "keel"
    assert pairing.fore[0].y == 0
    assert pairing.fore[1].y > 0


def test_corners_are_paired_with_corners() -> None:
    """Every chine and deck edge carries a mark on both faces, whatever the scale between them."""
    smaller = Polygon([(0, -20), (25, -8), (30, 25), (-30, 25), (-25, -8)])
    pairing = pair_faces(one(HULL), one(smaller))
    corners = [(f, a) for f, a in zip(pairing.fore, pairing.aft, strict=True) if f.kind == "corner"]
    assert [(f.y, f.z) for f, _ in corners] == [(40, -10), (45, 30), (-45, 30), (-40, -10)]
    assert [(a.y, a.z) for _, a in corners] == [(25, -8), (30, 25), (-30, 25), (-25, -8)]


def test_deck_is_a_landmark() -> None:
    """The highest crossing of the centre plane is marked on both faces."""
    pairing = pair_faces(one(HULL), one(HULL))
    (deck,) = [mark for mark in pairing.fore if mark.kind == "deck"]
    assert (deck.y, deck.z) == pytest.approx((0, 30))


def test_equal_faces_have_marks_at_equal_places() -> None:
    """A prism is paired straight along."""
    pairing = pair_faces(one(HULL), one(HULL))
    assert [(m.y, m.z) for m in pairing.fore] == [(m.y, m.z) for m in pairing.aft]


def test_marks_lie_on_the_outline_and_their_inward_vector_points_into_the_material() -> None:
    """A step along the inward vector is inside, the mark itself on the edge; in a hollow too."""
    ring = one(Polygon(shapely.Point(0, 0).buffer(60).exterior, [shapely.Point(5, 0).buffer(25).exterior]))
    pairing = pair_faces(ring, ring)
    for mark in pairing.fore:
        here = shapely.Point(mark.y, mark.z)
        assert ring.boundary.distance(here) < 0.02
        assert ring.contains(shapely.Point(mark.y + mark.inward[0], mark.z + mark.inward[1]))
        assert math.hypot(*mark.inward) == pytest.approx(1)


def test_writing_the_ring_from_another_vertex_or_the_other_way_round_changes_nothing() -> None:
    """Marks do not depend on where an outline begins or which way it runs."""
    expected = pair_faces(one(HULL), one(HULL)).fore
    points = np.array(HULL.exterior.coords)[:-1]
    for turned in (np.roll(points, 2, axis=0), points[::-1]):
        again = pair_faces(one(Polygon(turned)), one(HULL)).fore
        assert np.allclose([(m.y, m.z) for m in again], [(m.y, m.z) for m in expected])


def test_parts_are_paired_by_where_they_are() -> None:
    """Twin hulls keep port with port; a part without a partner is counted."""
    port, starboard = affinity.translate(HULL, -100), affinity.translate(HULL, 100)
    both = MultiPolygon([port, starboard])
    pairing = pair_faces(both, MultiPolygon([starboard, port]))
    assert all(abs(f.y - a.y) < 1e-9 for f, a in zip(pairing.fore, pairing.aft, strict=True))
    assert pairing.unpaired == 0
    assert pair_faces(both, one(port)).unpaired == 1


def test_small_faces_carry_fewer_marks() -> None:
    """Even marks never come closer than CLOSEST on the smaller face."""
    small = affinity.scale(HULL, 0.2, 0.2, origin=(0, 0))
    pairing = pair_faces(one(HULL), one(small))
    places = np.array([(m.y, m.z) for m in pairing.aft])
    kinds = [m.kind for m in pairing.aft]
    steps = np.linalg.norm(np.diff(places, axis=0), axis=1)
    assert all(step > CLOSEST * 0.7 for step, kind in zip(steps, kinds[1:], strict=True) if kind == "even")


def test_face_without_a_partner_has_its_own_marks() -> None:
    """Where the other face is a point, the one face is still numbered."""
    pairing = pair_faces(MultiPolygon(), one(HULL))
    assert pairing.fore == ()
    assert len(pairing.aft) > 6
