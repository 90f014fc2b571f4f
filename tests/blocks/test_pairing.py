"""Marks: equal numbers at corresponding places on both faces."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Point, Polygon, affinity

from profiles.arrays import Floats
from profiles.blocks.pairing import CLOSEST, pair_faces
from profiles.blocks.ring_pairs import RingPair

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


@pytest.mark.parametrize("share", [0.4, 0.5, 0.7])
def test_small_faces_carry_fewer_marks(share: float) -> None:
    """Along the smaller outline no even mark comes closer than CLOSEST to its neighbours."""
    small = affinity.scale(HULL, share, share, origin=(0, 0))
    pairing = pair_faces(one(HULL), one(small))
    along = [small.exterior.project(Point(mark.y, mark.z)) for mark in pairing.aft]
    kinds = [mark.kind for mark in pairing.aft]
    steps = [
        min((end - start) % small.length, (start - end) % small.length) for start, end in pairwise([*along, along[0]])
    ]
    beside_even = [step for step, ends in zip(steps, pairwise([*kinds, kinds[0]]), strict=True) if "even" in ends]
    assert beside_even
    assert min(beside_even) >= CLOSEST - 1e-9


def test_face_without_a_partner_has_its_own_marks() -> None:
    """Where the other face is a point, the one face is still numbered."""
    pairing = pair_faces(MultiPolygon(), one(HULL))
    assert pairing.fore == ()
    assert len(pairing.aft) > 6


TWISTED = affinity.rotate(affinity.scale(HULL, 0.8, 0.7, origin=(0, 0)), 14, origin=(0, 0))


def ruled(fore: Polygon, aft: Polygon, share: float) -> MultiPolygon:
    """The section of a hull whose corners run straight from face to face."""
    ends = [np.array(shape.exterior.coords) for shape in (fore, aft)]
    return one(Polygon((1 - share) * ends[0] + share * ends[1]))


def between(fore: Polygon, aft: Polygon) -> list[tuple[float, MultiPolygon]]:
    return [(share, ruled(fore, aft, share)) for share in (0.2, 0.5, 0.8)]


def the_ring(fore: MultiPolygon, aft: MultiPolygon, sections: list[tuple[float, MultiPolygon]]) -> RingPair:
    (pair,) = pair_faces(fore, aft, between=sections).rings
    return pair


BLOB = Polygon(np.array(shapely.Point(0, 0).buffer(40, quad_segs=9).exterior.coords) * (1.0, 0.6) + (0.0, 5.0))


@pytest.mark.parametrize(("fore", "aft"), [(HULL, TWISTED), (HULL, BLOB), (BLOB, TWISTED)], ids=["ab", "ac", "ca"])
def test_every_vertex_of_both_outlines_is_a_knot_and_no_two_wires_cross(fore: Polygon, aft: Polygon) -> None:
    """Both outlines are met exactly, and going round the one never goes back on the other."""
    pair = the_ring(one(fore), one(aft), [(0.5, one(fore))])
    for outline, ring in ((fore, pair.fore), (aft, pair.aft)):
        knots = {tuple(point) for point in ring.tolist()}
        assert all(tuple(point) in knots for point in np.array(outline.exterior.coords).tolist())
        assert Polygon(ring).symmetric_difference(outline).area < 1e-9
    assert np.all(np.diff(pair.along_fore) >= 0)
    assert np.all(np.diff(pair.along_aft) >= 0)
    assert len(pair.fore) == len(pair.aft) == len(pair.along_fore) - 1


def test_corners_that_turn_with_the_hull_stay_together() -> None:
    """A twisted section keeps corner on corner though keel and deck no longer lie on the same wire."""
    pair = the_ring(one(HULL), one(TWISTED), between(HULL, TWISTED))
    for corner, partner in zip(HULL.exterior.coords, TWISTED.exterior.coords, strict=True):
        apart = np.hypot(*(pair.fore - corner).T) + np.hypot(*(pair.aft - partner).T)
        assert apart.min() < 1e-9


def test_chine_that_moves_far_is_followed_by_the_sections_between() -> None:
    """Without sections the corner moves too far to be believed; with them it is seen to continue."""
    moved = Polygon([(0, -30), (15, -26), (45, 30), (-45, 30), (-15, -26)])
    alone = pair_faces(one(HULL), one(moved))
    seen = pair_faces(one(HULL), one(moved), between=between(HULL, moved))
    assert sum(mark.kind == "corner" for mark in alone.fore) < 4
    assert [(m.y, m.z) for m in seen.fore if m.kind == "corner"] == [(40, -10), (45, 30), (-45, 30), (-40, -10)]
    assert [(m.y, m.z) for m in seen.aft if m.kind == "corner"] == [(15, -26), (45, 30), (-45, 30), (-15, -26)]


def test_even_hull_is_paired_evenly() -> None:
    """Port is the mirror image of starboard, to the last knot."""
    bulged = [(0.5, one(shapely.transform(HULL, lambda p: p * (1.0, 1.1))))]
    pair = the_ring(one(HULL), one(BLOB), bulged)
    port = np.column_stack([-pair.fore[::-1, 0], pair.fore[::-1, 1], -pair.aft[::-1, 0], pair.aft[::-1, 1]])
    starboard = np.column_stack([pair.fore, pair.aft])
    apart = np.linalg.norm(starboard[:, None] - port, axis=-1).min(axis=1)
    assert apart.max() < 0.05


WIDE = Polygon([(0, -40), (90, -38), (100, 40), (-100, 40), (-90, -38)])
LOW = Polygon([(0, -40), (100, -20), (50, 40), (-50, 40), (-100, -20)])
WAIST = Polygon([(0, -40), (94, -30), (75, 40), (-75, 40), (-94, -30)])
BENT = Polygon([(0, -40), (94, -30), (60, 10), (-60, 10), (-94, -30)])


@pytest.mark.parametrize("spacing", [None, 400.0])
@pytest.mark.parametrize("waist", [WAIST, BENT], ids=["waist", "bent"])
@pytest.mark.parametrize(("fore", "aft"), [(WIDE, LOW), (HULL, BLOB), (BLOB, TWISTED)], ids=["wide", "blob", "twist"])
def test_pairing_is_what_even_hands_do_between_the_marks(
    fore: Polygon, aft: Polygon, waist: Polygon, spacing: float | None
) -> None:
    """By shapely along both outlines: each knot is at the same share of the way between two marks on both faces."""
    pairing = pair_faces(one(fore), one(aft), spacing, [(0.5, one(waist))])
    (pair,) = pairing.rings
    ends = pair.along_fore[-1], pair.along_aft[-1]
    marks = np.column_stack(
        [
            _places([(mark.y, mark.z) for mark in marks], ring)
            for marks, ring in ((pairing.fore, pair.fore), (pairing.aft, pair.aft))
        ]
    )
    hands = shapely.LineString([*marks, marks[0] + ends])
    knots = np.column_stack([_places(ring.tolist(), ring) for ring in (pair.fore, pair.aft)])
    turns = [knots + turn * np.array(ends) for turn in (-1, 0, 1)]
    apart = np.min([shapely.distance(shapely.points(turned), hands) for turned in turns], axis=0)
    assert apart.max() < 1e-6


def _places(points: list[tuple[float, float]], ring: Floats) -> Floats:
    """Mm along a ring, from the first of the points on, to each of those that follow one another round it."""
    line = shapely.LinearRing(ring)
    steps = np.diff(shapely.line_locate_point(line, shapely.points(points)))
    steps[steps < -1e-6] += line.length
    start = float(shapely.line_locate_point(line, shapely.Point(points[0])))
    return start + np.concatenate([[0.0], np.cumsum(steps)])


def test_guide_is_followed() -> None:
    """Outlines a little larger are paired along the paths found before."""
    sections = between(HULL, TWISTED)
    first = pair_faces(one(HULL), one(TWISTED), between=sections)
    larger = [one(shape).buffer(1, join_style="mitre") for shape in (HULL, TWISTED)]
    outlines = [one(shape) for shape in larger]
    again = pair_faces(outlines[0], outlines[1], between=sections, guide=first.rings)
    assert len(again.rings) == 1
    before, after = (pairing.rings[0] for pairing in (first, again))
    assert [stop.kind for stop in after.stops] == [stop.kind for stop in before.stops]
    for stop, moved in zip(before.places, after.places, strict=True):
        for face, (ring, other) in enumerate(((before.fore, after.fore), (before.aft, after.aft))):
            spot, new = (
                shapely.line_interpolate_point(shapely.LinearRing(r), p[face])
                for r, p in ((ring, stop), (other, moved))
            )
            assert spot.distance(new) < 1.6  # a corner moves by its mitre
