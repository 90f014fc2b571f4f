"""Marks and pairs of rings, case by case: spacing, numbers, kinds, parts and hollows, faces alone, guides."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
import shapely
from shapely import MultiPolygon, Polygon, affinity

from profiles.arrays import Floats
from profiles.blocks.correspondence import pair_along
from profiles.blocks.landmarks import ring_of
from profiles.blocks.pairing import (
    CLOSEST,
    MARKS_ROUND,
    Mark,
    MatchedLines,
    Pairing,
    lines_of_section,
    matching_line,
    number_rings,
    pair_faces,
    pair_faces_like,
    spread_sections,
)

HULL = Polygon([(0, -30), (40, -10), (45, 30), (-45, 30), (-40, -10)])
"""Keel, chines and deck edges as a hard-chine hull has them."""


def one(shape: Polygon) -> MultiPolygon:
    return MultiPolygon([shape])


def circle(radius: float, y: float = 0.0, z: float = 0.0) -> Polygon:
    """1440 sides; its keel, its deck and every quarter of a degree are vertices."""
    turn = 2 * np.pi * np.arange(1440) / 1440
    return Polygon(np.column_stack([y + radius * np.cos(turn), z + radius * np.sin(turn)]))


def square(y: float, z: float, side: float = 0.5) -> Polygon:
    return shapely.box(y - side / 2, z - side / 2, y + side / 2, z + side / 2)


def angles(marks: Sequence[Mark], y: float = 0.0, z: float = 0.0) -> list[float]:
    """Degrees from the keel up to starboard, 0 to 360."""
    found = [math.degrees(math.atan2(mark.y - y, z - mark.z)) % 360 for mark in marks]
    return [angle if angle < 360 - 1e-6 else 0.0 for angle in found]


@pytest.mark.parametrize(
    ("radius", "smaller", "spacing", "count"),
    [
        (60.0, 60.0, None, MARKS_ROUND),
        (60.0, 40.0, None, MARKS_ROUND),
        (40.0, 60.0, None, MARKS_ROUND),
        (60.0, 60.0, 20.0, 2 * 9),  # half a ring is 188.5 mm: nine steps of about 20
        (60.0, 60.0, 26.0, 2 * 7),  # 7.25 steps
        (60.0, 60.0, 24.4, 2 * 8),  # 7.7 steps
        (60.0, 16.0, None, 2 * 5),  # half of the smaller one is 50.3 mm: five marks 10 mm apart and not six of 8
        (16.0, 60.0, None, 2 * 5),
        (60.0, 2.0, None, 2),  # no room but for keel and deck
    ],
)
def test_marks_stand_in_even_steps(radius: float, smaller: float, spacing: float | None, count: int) -> None:
    """On circles marks stand at equal angles: as many as the spacing asks for, if the smaller face has room."""
    pairing = pair_faces(one(circle(radius)), one(circle(smaller)), spacing)
    for marks in (pairing.fore, pairing.aft):
        assert [mark.number for mark in marks] == list(range(1, count + 1))
        assert angles(marks) == pytest.approx([360 * k / count for k in range(count)], abs=1e-3)
        assert [mark.kind for mark in marks] == [
            "keel" if not k else "deck" if 2 * k == count else "even" for k in range(count)
        ]
    step = math.pi * smaller / (count / 2)
    assert step >= CLOSEST or count == 2


def test_inward_is_towards_the_middle_of_a_circle_and_away_from_that_of_a_hollow() -> None:
    """At every mark of a ring and of the hollow in it, to the fineness of the polygon."""
    face = one(Polygon(circle(60).exterior, [circle(25, 4.0, 3.0).exterior]))
    pairing = pair_faces(face, face)
    half = len(pairing.fore) // 2
    assert half >= 8
    for marks, middle, sign in ((pairing.fore[:half], (0.0, 0.0), -1), (pairing.fore[half:], (4.0, 3.0), 1)):
        for mark in marks:
            away = np.array([mark.y, mark.z]) - middle
            assert mark.inward == pytest.approx(tuple(sign * away / np.hypot(*away)), abs=5e-3)


@pytest.mark.parametrize("size", [100.0, 30.0, 3.0])
def test_inward_at_a_corner_halves_its_angle(size: float) -> None:
    """The corners of a square, large or tiny, point to its middle."""
    shape = one(square(0.0, 0.0, size))
    corners = [mark for mark in pair_faces(shape, shape).fore if mark.kind == "corner"]
    assert len(corners) == 4
    for mark in corners:
        assert mark.inward == pytest.approx((-math.copysign(0.5**0.5, mark.y), -math.copysign(0.5**0.5, mark.z)))


@pytest.mark.parametrize(("corner", "side"), [(1.5, 60.0), (0.5, 4.0)])
def test_inward_beside_a_corner_is_square_to_the_edge(corner: float, side: float) -> None:
    """A keel near a corner points straight up, on a large outline and on a tiny one."""
    shape = one(shapely.box(-corner, 0.0, side - corner, side))
    keel = pair_faces(shape, shape).fore[0]
    assert (keel.kind, keel.y, keel.z) == ("keel", 0.0, 0.0)
    assert keel.inward == pytest.approx((0.0, 1.0), abs=1e-12)


def test_part_that_leaves_the_centre_plane_keeps_to_its_own_middle() -> None:
    """Where one of its faces does not reach over the plane, keel and deck are in the middle of both."""
    for ends in ((circle(10, 6.0), circle(10, 20.0)), (circle(10, 20.0), circle(10, 6.0))):
        pairing = pair_faces(one(ends[0]), one(ends[1]))
        for marks, shape in ((pairing.fore, ends[0]), (pairing.aft, ends[1])):
            assert marks[0].kind == "keel"
            assert (marks[0].y, marks[0].z) == pytest.approx((shape.centroid.x, -10.0))


UNEVEN = Polygon([(-12, -18), (40, -10), (45, 30), (-30, 26), (-38, -4)], [circle(6, 12.0, 3.0).exterior])
"""Reaches over the centre plane, and is not even about it."""

ASIDE = affinity.translate(HULL, 90.0, 12.0)


@pytest.mark.parametrize("spacing", [None, 13.0])
@pytest.mark.parametrize("face", [one(HULL), one(UNEVEN), MultiPolygon([HULL, ASIDE]), MultiPolygon([ASIDE])], ids=str)
def test_face_alone_is_marked_as_beside_its_like(face: MultiPolygon, spacing: float | None) -> None:
    """Marks of a face without a partner are those of a prism's, on either face; there is no wire, and so no rings."""
    wanted = pair_faces(face, face, spacing).fore
    before, behind = pair_faces(face, MultiPolygon(), spacing), pair_faces(MultiPolygon(), face, spacing)
    assert _written(before.fore) == _written(behind.aft) == _written(wanted)
    assert before.aft == behind.fore == ()
    assert before.rings == behind.rings == ()
    assert before.unpaired == behind.unpaired == 0


def _written(marks: Sequence[Mark]) -> list[tuple[int, str, tuple[float, ...]]]:
    return [
        (mark.number, mark.kind, tuple(round(value, 6) + 0.0 for value in (mark.y, mark.z, *mark.inward)))
        for mark in marks
    ]


def test_keel_and_deck_lie_on_the_centre_plane_or_on_the_middle_of_what_lies_aside() -> None:
    """An uneven ring over the centre plane is crossed at y = 0, its hollow and a float aside on their own middles."""
    crossing = UNEVEN.exterior.intersection(shapely.LineString([(0, -100), (0, 100)]))
    z_keel, z_deck = sorted(point.y for point in crossing.geoms)
    marks = [mark for mark in pair_faces(one(UNEVEN), MultiPolygon()).fore if mark.kind in {"keel", "deck"}]
    assert [mark.kind for mark in marks] == ["keel", "deck"] * 2
    wanted = [(0.0, z_keel), (0.0, z_deck), (12.0, -3.0), (12.0, 9.0)]
    assert np.allclose([(mark.y, mark.z) for mark in marks], wanted)
    aside = [(mark.y, mark.z) for mark in pair_faces(one(ASIDE), MultiPolygon()).fore if mark.kind in {"keel", "deck"}]
    assert np.allclose(aside, [(90.0, -18.0), (90.0, 42.0)])


def test_rings_know_their_part_and_whether_they_are_hollow() -> None:
    """Of two parts with a hollow each, rings come part by part, the outside first."""
    plate = [
        Polygon(square(y, 0.0, side).exterior, [square(y, 1.0, side / 3).exterior]) for y, side in ((-50, 40), (50, 36))
    ]
    pairing = pair_faces(MultiPolygon(plate), MultiPolygon(plate[::-1]))
    assert [(pair.part, pair.hollow) for pair in pairing.rings] == [(0, False), (0, True), (1, False), (1, True)]
    assert [pair.fore.mean(axis=0)[0] < 0 for pair in pairing.rings] == [True, True, False, False]
    assert pairing.unpaired == 0
    assert [mark.number for mark in pairing.fore] == list(range(1, len(pairing.fore) + 1))


def test_hollows_without_a_partner_are_counted() -> None:
    """Three hollows against one leave two alone; with a part that has no partner either that makes three."""
    three = Polygon(square(0, 0, 90).exterior, [square(y, 0, 8).exterior for y in (-30, 0, 30)])
    single = Polygon(square(0, 0, 90).exterior, [square(28, 0, 8).exterior])
    pairing = pair_faces(one(three), one(single))
    assert pairing.unpaired == 2
    assert [pair.hollow for pair in pairing.rings] == [False, True]
    assert pairing.rings[1].fore[:, 0].min() == 26.0
    assert pair_faces(one(single), MultiPolygon([three, square(200, 0, 20)])).unpaired == 3


def test_at_most_five_sections_between_are_looked_at_spread_over_the_block() -> None:
    """Of many, those nearest to each sixth of the way, in order, whatever order they come in."""
    shape = one(HULL)
    shares = [round(0.05 * k, 2) for k in range(-4, 31)]
    mixed = np.random.default_rng(3).permutation(shares).tolist()
    assert [share for share, _ in spread_sections([(share, shape) for share in mixed])] == [0.15, 0.35, 0.5, 0.65, 0.85]


def test_few_sections_between_are_all_looked_at_in_order() -> None:
    """Five stay five, however they lie; empty ones and those at the faces or beyond them say nothing."""
    shapes = [one(square(n, 0.0)) for n in range(5)]
    lie = list(zip((0.9, 0.1, 0.2, 0.2, 0.3), shapes, strict=True))
    beyond = [(share, one(HULL)) for share in (0.0, 1.0, -0.5, 1.5)]
    found = spread_sections([beyond[0], *lie, *beyond[1:], (0.5, MultiPolygon())])
    assert found == [lie[1], lie[2], lie[3], lie[4], lie[0]]


@pytest.mark.parametrize("hollow", [False, True])
def test_line_of_a_section_between_is_the_one_on_the_straight_way(hollow: bool) -> None:  # noqa: FBT001 - a case
    """A part or hollow whose middle goes from (10, 4) to (30, -8) is at (15, 1) after a quarter of the way."""
    way = MatchedLines(square(10, 4).exterior, square(30, -8).exterior, 0, hollow=hollow)
    small = [square(y, z) for y in range(-39, 61, 2) for z in range(-39, 41, 2)]
    region = one(Polygon(square(0, 0, 200).exterior, [n.exterior for n in small])) if hollow else MultiPolygon(small)
    line = matching_line(way, lines_of_section(0.25, region))
    assert line is not None
    assert line.bounds == square(15, 1).bounds


def test_line_of_a_section_between_is_the_nearer_of_two_the_only_one_or_none() -> None:
    """Two lines leave a choice, one does not, and a hollow may be closed there."""
    way = MatchedLines(square(10, 4).exterior, square(30, 4).exterior, 0, hollow=False)
    bore = MatchedLines(way.fore, way.aft, 0, hollow=True)
    for near in ([square(80, 4), square(21, 4)], [square(21, 4), square(80, 4)]):
        line = matching_line(way, lines_of_section(0.5, MultiPolygon(near)))
        assert line is not None
        assert line.bounds == square(21, 4).bounds
    only = matching_line(way, lines_of_section(0.5, one(square(80, 4))))
    assert only is not None
    assert only.bounds == square(80, 4).bounds
    assert matching_line(bore, lines_of_section(0.5, one(square(20, 4, 50)))) is None
    assert matching_line(way, lines_of_section(0.5, MultiPolygon())) is None


def test_twins_are_paired_as_each_alone() -> None:
    """Sections between hold both hulls; each follows its own chine."""
    moved = Polygon([(0, -30), (15, -26), (45, 30), (-45, 30), (-15, -26)])
    ends = [np.array(shape.exterior.coords) for shape in (HULL, moved)]
    ways = [(share, Polygon((1 - share) * ends[0] + share * ends[1])) for share in (0.25, 0.5, 0.75)]

    def both(shape: Polygon) -> MultiPolygon:
        return MultiPolygon([affinity.translate(shape, -100.0, 20.0), affinity.translate(shape, 100.0, -20.0)])

    def aside(shape: Polygon) -> MultiPolygon:
        return one(affinity.translate(shape, 100.0, -20.0))

    twins = pair_faces(both(HULL), both(moved), between=[(share, both(shape)) for share, shape in ways])
    single = pair_faces(aside(HULL), aside(moved), between=[(share, aside(shape)) for share, shape in ways])
    (ring,) = [pair for pair in twins.rings if pair.fore[:, 0].min() > 0]
    assert np.allclose(ring.fore, single.rings[0].fore)
    assert np.allclose(ring.aft, single.rings[0].aft)
    assert sum(mark.kind == "corner" for mark in single.fore) == 4


TWISTED = affinity.rotate(affinity.scale(HULL, 0.8, 0.7, origin=(0, 0)), 14, origin=(0, 0))


def ruled(fore: Polygon, aft: Polygon) -> list[tuple[float, MultiPolygon]]:
    """Sections of a hull whose corners run straight from face to face."""
    ends = [np.array(shape.exterior.coords) for shape in (fore, aft)]
    return [(share, one(Polygon((1 - share) * ends[0] + share * ends[1]))) for share in (0.2, 0.5, 0.8)]


def enlarge(shape: Polygon, by: float) -> MultiPolygon:
    return one(shape.buffer(by, join_style="mitre"))


@pytest.mark.parametrize("spacing", [None, 13.0])
def test_outlines_near_those_of_a_guide_are_led_by_it(spacing: float | None) -> None:
    """To lead is to pair with the guide and nothing between; the guide's own outlines come out as they were."""
    first = pair_faces(one(HULL), one(TWISTED), spacing, ruled(HULL, TWISTED))
    same = pair_faces_like(first.rings, one(HULL), one(TWISTED), spacing)
    assert same is not None
    assert _written(same.fore) == _written(first.fore)
    assert _written(same.aft) == _written(first.aft)
    led = pair_faces_like(first.rings, enlarge(HULL, 1.0), enlarge(TWISTED, 1.0), spacing)
    wanted = pair_faces(enlarge(HULL, 1.0), enlarge(TWISTED, 1.0), spacing, guide=first.rings)
    assert led is not None
    assert (led.fore, led.aft, led.unpaired) == (wanted.fore, wanted.aft, 0)
    assert len(led.rings) == 1
    assert np.array_equal(led.rings[0].aft, wanted.rings[0].aft)


def test_guide_does_not_lead_where_lines_or_corners_are_gone() -> None:
    """A hollow that has closed, and a chine that has been rounded off, leave nothing to follow."""
    bored = [Polygon(shape.exterior, [circle(5, 2.0, 3.0).exterior]) for shape in (HULL, TWISTED)]
    first = pair_faces(one(bored[0]), one(bored[1]), between=ruled(HULL, TWISTED))
    assert len(first.rings) == 2
    assert pair_faces_like(first.rings, one(bored[0]), one(HULL)) is None
    again = pair_faces_like(first.rings, one(bored[0]), one(bored[1]))
    assert again is not None
    assert len(again.rings) == 2
    assert pair_faces_like(first.rings[:1], one(circle(40)), one(TWISTED)) is None


def test_part_that_is_gone_is_told_where_a_guide_leads() -> None:
    """What has no partner is counted as in a pairing without a guide."""
    first = pair_faces(one(HULL), one(TWISTED), between=ruled(HULL, TWISTED))
    both = MultiPolygon([HULL, affinity.translate(HULL, 150.0)])
    led = pair_faces_like(first.rings, both, one(TWISTED))
    assert led is not None
    assert led.unpaired == 1


def turned(points: npt.ArrayLike) -> Floats:
    """Where the corners of HULL are in TWISTED: 0.8 and 0.7 times as far out, and turned by 14 degrees."""
    angle = math.radians(14)
    matrix = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    return np.asarray(points * np.array([0.8, 0.7]) @ matrix.T)


@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize("spacing", [None, 13.0, 400.0])
def test_marks_of_a_twisted_hull_lie_on_its_straight_lines(spacing: float | None, backwards: bool) -> None:  # noqa: FBT001
    """TWISTED is an affine image of HULL, and the hull between them runs straight: each mark goes to its image, the
    first is the fore face's keel, and the others follow once round the outline.
    """
    ends = (TWISTED, HULL) if backwards else (HULL, TWISTED)
    pairing = pair_faces(one(ends[0]), one(ends[1]), spacing, ruled(*ends))
    fore, aft = (np.array([(mark.y, mark.z) for mark in marks]) for marks in (pairing.fore, pairing.aft))
    small, large = (fore, aft) if backwards else (aft, fore)
    assert np.abs(turned(large) - small).max() < 1e-6
    kinds = [mark.kind for mark in pairing.fore]
    assert [mark.kind for mark in pairing.aft] == kinds
    assert [kind for kind in kinds if kind != "even"] == ["keel", "corner", "corner", "deck", "corner", "corner"]
    outline = ends[0].exterior
    crossing = sorted(point.y for point in outline.intersection(shapely.LineString([(0, -99), (0, 99)])).geoms)
    assert fore[0] == pytest.approx((0.0, crossing[0]))
    assert fore[kinds.index("deck")] == pytest.approx((0.0, crossing[1]))
    ring = shapely.LinearRing(outline.coords)
    begin = ring.project(shapely.Point(fore[0]))
    places = (np.array([ring.project(shapely.Point(place)) for place in fore]) - begin) % ring.length
    places = places if ring.is_ccw else (ring.length - places) % ring.length
    places[0] = 0.0
    assert np.all(np.diff(places) > 1.0)
    if spacing == 400.0:
        assert "even" not in kinds


@pytest.mark.parametrize(
    ("backwards", "spacing", "kinds"),
    [
        (
            False,
            13.0,
            "keeceeceedeeceecee",
        ),  # keel to chine 44.7 mm: 3.4 steps; to the deck edge 40.3: 3.1; to the deck 45
        (False, None, "keececeedeececee"),  # a sixteenth of 260 mm is 16.3: 2.8 steps, 2.5, 2.8
        (True, None, "keececedeecece"),  # from the smaller face's keel and deck 51.3 mm, 40.3, 38.5, 51.5, 40.3, 38.1
    ],
)
def test_even_steps_of_a_twisted_hull_are_as_long_as_asked(backwards: bool, spacing: float | None, kinds: str) -> None:  # noqa: FBT001
    """Between two landmarks as many steps as come nearest to the spacing, by the lengths on the longer face."""
    ends = (TWISTED, HULL) if backwards else (HULL, TWISTED)
    pairing = pair_faces(one(ends[0]), one(ends[1]), spacing, ruled(*ends))
    assert "".join(mark.kind[0] for mark in pairing.fore) == kinds


def led_by(path: Sequence[tuple[float, float]], radius: float, spacing: float = 400.0) -> Pairing:
    """Two equal circles paired along a path: shares of the fore ring and of the aft one, from keel to keel."""
    ring = ring_of(circle(radius).exterior, hollow=False, centre=0.0)
    guide = pair_along(ring, ring, np.array([(0.0, 0.0), *path, (1.0, 1.0)]))
    return pair_faces(one(circle(radius)), one(circle(radius)), spacing, guide=(guide,))


def off_the_wires(pairing: Pairing) -> float:
    """mm, the greatest distance of a mark's two points from a wire, both faces together."""
    (pair,) = pairing.rings
    wires = np.hstack([pair.fore, pair.aft])
    begin, way = wires, np.roll(wires, -1, axis=0) - wires
    found = []
    for fore, aft in zip(pairing.fore, pairing.aft, strict=True):
        away = np.array([fore.y, fore.z, aft.y, aft.z]) - begin
        share = np.clip((away * way).sum(axis=1) / np.maximum((way * way).sum(axis=1), 1e-12), 0.0, 1.0)
        found.append(np.linalg.norm(away - share[:, None] * way, axis=1).min())
    return float(max(found))


def test_path_round_the_whole_ring_has_keel_and_deck_marked_on_it() -> None:
    """Where a pairing has no landmarks but its beginning, the fore face's keel and deck are marked all the same."""
    pairing = led_by([(0.25, 0.25), (0.5, 0.52), (0.75, 0.77)], 60.0, 20.0)
    assert off_the_wires(pairing) < 1e-6
    kinds = [mark.kind for mark in pairing.fore]
    assert [kinds[0], kinds.count("deck"), kinds.count("keel")] == ["keel", 1, 1]
    deck = kinds.index("deck")
    assert angles([pairing.fore[0], pairing.fore[deck]]) == pytest.approx([0.0, 180.0])
    assert angles([pairing.aft[0], pairing.aft[deck]]) == pytest.approx([0.0, 360 * 0.52], abs=1e-3)
    assert [mark.kind for mark in pairing.aft] == kinds


@pytest.mark.parametrize("bend", [(0.1, 0.2), (0.3, 0.22), (0.45, 0.3), (0.02, 0.2)])
def test_bend_of_a_pairing_has_a_mark(bend: tuple[float, float]) -> None:
    """Hands that are led round a bend have a mark there, and none beside it."""
    pairing = led_by([bend, (0.5, 0.5)], 60.0)
    assert [mark.kind for mark in pairing.fore] == ["keel", "even", "deck"]
    for share, marks in zip(bend, (pairing.fore, pairing.aft), strict=True):
        assert angles(marks)[1] == pytest.approx(360 * share, abs=1e-2)
    assert off_the_wires(pairing) < 1e-6


@pytest.mark.parametrize("apart", [-0.2, 0.0, 0.2])
def test_keel_and_deck_at_one_place_give_one_keel(apart: float) -> None:
    """On a ring as thin as a line both poles may fall on one stop; the marks still begin at the keel."""
    (pair,) = pair_faces(one(HULL), one(HULL)).rings
    corner = pair.stops[1].fore
    corners = tuple(replace(stop, kind="corner") for stop in pair.stops)
    thin = replace(pair, stops=corners, keel=corner, deck=corner + apart)
    marks = number_rings([thin]).fore
    assert marks[0].kind == "keel"
    assert [mark.kind for mark in marks].count("keel") == 1
