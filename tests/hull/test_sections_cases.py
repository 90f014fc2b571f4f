"""Sections, case by case: sheets, cracks, openings, overlaps, and what is reported of them."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
import shapely

from profiles.errors import HullError
from profiles.hull.bridges import MOST_CHAINS
from profiles.hull.plugs import AREA_FLOOR, fill_to_plug
from profiles.hull.sections import Section, Side, section, winding_numbers
from profiles.hull.settings import CRACK
from profiles.hull.surface import SectionRules, Surface, surface_of, with_rules
from tests import closed_forms as zoo

BOTH = (Side.FORE, Side.AFT)

Line = Sequence[tuple[float, float]]
"""(y, z) mm."""


def drawn_out(*lines: Line, body: Sequence[int] | None = None, opening: Sequence[tuple[float, float]] = ()) -> Surface:
    """Lines of (y, z) points drawn out from x = 0 to 100 without ends; points of one place are one vertex, and in each
    line the solid lies on the left. A line is closed where it ends as it begins. Points of `opening` end open edges.
    """
    places: dict[tuple[float, float], int] = {}
    faces, owner = [], []
    for number, line in enumerate(lines):
        index = [places.setdefault(point, len(places)) for point in line]
        for a, b in pairwise(index):
            faces += [(2 * a, 2 * b, 2 * b + 1), (2 * a, 2 * b + 1, 2 * a + 1)]
            owner += [body[number] if body else 1] * 2
    vertices = [(x, y, z) for y, z in places for x in (0.0, 100.0)]
    edges = [(2 * places[point], 2 * places[point] + 1, 1) for point in opening]
    return surface_of(
        np.array(vertices),
        np.array(faces),
        np.array(owner),
        np.array(edges, dtype=np.int64).reshape(-1, 3),
    )


def loop(*points: tuple[float, float]) -> Line:
    return [*points, points[0]]


BOX = loop((-30.0, 0.0), (30.0, 0.0), (30.0, 40.0), (-30.0, 40.0))


def at(surface: Surface, side: Side = Side.FORE, x: float = 37.0) -> Section:
    return section(surface, x, side)


def test_section_says_where_it_is() -> None:
    """Its place, its side, and that nothing was bridged or left out."""
    for side in BOTH:
        cut = at(drawn_out(BOX), side)
        assert (cut.x, cut.side, cut.gaps, cut.sheets) == (37.0, side, (), 0)
        assert cut.region.equals(shapely.MultiPolygon([shapely.box(-30, 0, 30, 40)]))


@pytest.mark.parametrize("sides", [3, 7])
def test_places_between_two_vertices_are_linear(sides: int) -> None:
    """A pyramid's section is its base scaled by the distance from its tip, corner by corner, a triangle too."""
    turn = 2 * np.pi * np.arange(sides) / sides
    ring = np.column_stack([np.full(sides, 100.0), 3 + 30 * np.cos(turn), 5 + 20 * np.sin(turn)])
    vertices = np.vstack([[(0.0, 1.0, -2.0)], ring])
    faces = [(0, 1 + (k + 1) % sides, 1 + k) for k in range(sides)]
    for share in (0.125, 0.5, 0.75):
        region = at(surface_of(vertices, np.array(faces)), x=100 * share).region
        wanted = shapely.Polygon((1 - share) * np.array((1.0, -2.0)) + share * ring[:, 1:])
        assert region.equals_exact(shapely.MultiPolygon([wanted]), 1e-12, normalize=True)


SHEETS: dict[str, tuple[list[Line], int]] = {
    "across": ([[(-30.0, 0.0), (30.0, 40.0)]], 1),
    "across, the other way": ([[(30.0, 40.0), (-30.0, 0.0)]], 1),
    "bent": ([[(30.0, 0.0), (-20.0, 30.0), (-30.0, 40.0)]], 1),
    "bent the other way": ([[(30.0, 0.0), (20.0, 10.0), (-30.0, 40.0)]], 1),
    "bent, backwards": ([[(-30.0, 40.0), (-20.0, 30.0), (30.0, 0.0)]], 1),
    "two": ([[(-30.0, 0.0), (30.0, 40.0)], [(-30.0, 0.0), (0.0, 5.0), (30.0, 40.0)]], 2),
    "two from one corner": ([[(-30.0, 0.0), (30.0, 40.0)], [(-30.0, 0.0), (5.0, 20.0), (-30.0, 40.0)]], 2),
    "two into one corner": ([[(30.0, 40.0), (-30.0, 0.0)], [(-30.0, 40.0), (5.0, 20.0), (-30.0, 0.0)]], 2),
    "beside the skin": ([[(-30.0, 40.0), (-29.0, 1.0), (-30.0, 0.0)]], 1),
    "against the skin": ([[(-30.0, 0.0), (-29.0, 1.0), (-30.0, 40.0)]], 1),
    "fin": ([[(-30.0, 0.0), (-5.0, 20.0)]], 1),
    "fin, the other way": ([[(-5.0, 20.0), (-30.0, 0.0)]], 1),
    "bent fin": ([[(30.0, 40.0), (10.0, 30.0), (12.0, 20.0), (0.0, 5.0)]], 1),
    "bent fin, the other way": ([[(0.0, 5.0), (12.0, 20.0), (10.0, 30.0), (30.0, 40.0)]], 1),
    "fins into one corner": ([[(0.0, 5.0), (12.0, 20.0), (30.0, 40.0)], [(5.0, 30.0), (10.0, 31.0), (30.0, 40.0)]], 2),
    "fins from one corner": ([[(30.0, 40.0), (12.0, 20.0), (0.0, 5.0)], [(30.0, 40.0), (10.0, 31.0), (5.0, 30.0)]], 2),
    "fin and sheet": ([[(30.0, 40.0), (12.0, 20.0), (0.0, 5.0)], [(30.0, 40.0), (-10.0, 31.0), (-30.0, 0.0)]], 2),
    "side by side": ([[(-30.0, 0.0), (-20.0, 20.0), (-30.0, 40.0)], [(30.0, 0.0), (20.0, 20.0), (30.0, 40.0)]], 2),
    "side by side, against": (
        [[(-30.0, 40.0), (-20.0, 20.0), (-30.0, 0.0)], [(30.0, 40.0), (20.0, 20.0), (30.0, 0.0)]],
        2,
    ),
}


@pytest.mark.parametrize("name", SHEETS)
@pytest.mark.parametrize("place", [(0.0, 0.0), (210.0, -75.0), (-64.0, 300.0)])
def test_sheets_inside_bound_no_foam(name: str, place: tuple[float, float]) -> None:
    """However walls without thickness run from skin to skin or end in the foam, the box is whole, wherever it lies, and
    they are counted.
    """
    sheets, count = SHEETS[name]
    cut = at(drawn_out(*([(y + place[0], z + place[1]) for y, z in line] for line in (BOX, *sheets))))
    assert cut.region.area == pytest.approx(2400.0)
    box = shapely.affinity.translate(shapely.box(-30, 0, 30, 40), *place)
    assert cut.region.symmetric_difference(box).area < 1e-9
    assert cut.sheets == count
    assert cut.gaps == ()


def test_sheets_of_all_bodies_are_counted() -> None:
    """Two boxes with a sheet in each tell of two."""
    other = [(y + 200, z) for y, z in BOX]
    sheets: list[Line] = [[(-30.0, 0.0), (30.0, 40.0)], [(170.0, 0.0), (230.0, 40.0)]]
    cut = at(drawn_out(BOX, sheets[0], other, sheets[1], body=(1, 1, 2, 2)))
    assert cut.sheets == 2
    assert cut.region.area == pytest.approx(4800.0)


def test_boxes_that_share_an_edge_are_both_there() -> None:
    """Where four faces meet on one edge the section has a point with two ways on."""
    beside = loop((30.0, 40.0), (50.0, 40.0), (50.0, 55.0), (30.0, 55.0))
    for lines in ((BOX, beside), (beside, BOX)):
        cut = at(drawn_out(*lines))
        assert cut.region.area == pytest.approx(2400.0 + 300.0)
        assert cut.sheets == 0


def test_skin_that_runs_through_one_place_three_times_is_followed() -> None:
    """Three wedges meet on one edge: a point with three ways on, and the area of the three together."""
    wedges = [loop((0.0, 0.0), (10.0, k), (10.0, k + 2.0)) for k in (-8.0, -1.0, 6.0)]
    cut = at(drawn_out(*wedges))
    assert cut.region.area == pytest.approx(3 * 10.0)
    assert len(cut.region.geoms) == 3


def cracked(*widths: float) -> Surface:
    """The box with a crack of each width (mm) in its top, from port to starboard, 12 mm apart."""
    lines: list[Line] = []
    begin = (-30.0, 40.0)
    way: list[tuple[float, float]] = [begin, (-30.0, 0.0), (30.0, 0.0), (30.0, 40.0)]
    for k, width in reversed(list(enumerate(widths))):
        y = -20.0 + 12.0 * k
        lines.append([*way, (y + width, 40.0)])
        way = [(y, 40.0)]
    return drawn_out(*lines, [*way, begin])


@pytest.mark.parametrize("widths", [(0.2,), (CRACK,), (0.3, 0.1), (0.05, 0.4, 0.45)])
def test_every_crack_is_bridged_and_told(widths: tuple[float, ...]) -> None:
    """The box is whole, and each crack's width is reported, the narrowest first."""
    cut = at(cracked(*widths))
    assert cut.region.area == pytest.approx(2400.0)
    assert cut.gaps == pytest.approx(sorted(widths), abs=1e-9)


def test_cracks_of_all_bodies_are_told() -> None:
    """A crack in either of two boxes."""
    ring = [(30.0, 40.0), (-30.0, 40.0), (-30.0, 0.0), (30.0, 0.0), (30.0, 39.8)]
    cut = at(drawn_out(ring, [(y + 200.0, z + (z == 39.8) * 0.1) for y, z in ring], body=(1, 2)))
    assert cut.gaps == pytest.approx((0.1, 0.2))
    assert cut.region.area == pytest.approx(4800.0, rel=1e-3)


def test_message_tells_the_widest_crack_and_a_place_where_the_outline_ends() -> None:
    """Of a narrow crack and a wide one the wide one's width and end are reported, the limit and what to do."""
    with pytest.raises(HullError) as caught:
        at(cracked(0.2, 7.25))
    text = str(caught.value)
    assert "x = 37.00 mm" in text
    assert "open by 7.25 mm" in text
    assert "y = -0.8, z = 40.0 mm" in text
    assert f"gaps up to {CRACK:g} mm" in text
    assert "--body" in caught.value.remedy


def test_message_tells_the_wider_of_two_holes() -> None:
    """The message states how far the end with the farthest neighbour is from it."""
    for widths in ((3.0, 5.5), (5.5, 3.0)):
        with pytest.raises(HullError, match=r"open by 5\.50 mm"):
            at(cracked(*widths))


@pytest.mark.parametrize(("above", "below"), [(0.2, 0.2), (0.1, 0.45), (0.45, 0.1)])
def test_nearest_ends_are_bridged_first(above: float, below: float) -> None:
    """A thin plate cracked through on both skins stays one: each skin is closed along itself, not to the other, though
    the plate is thinner than the wider crack.
    """
    right: Line = [(below, 39.7), (30.0, 39.7), (30.0, 40.0), (above, 40.0)]
    left: Line = [(0.0, 40.0), (-30.0, 40.0), (-30.0, 39.7), (0.0, 39.7)]
    for lines in ((right, left), (left, right)):
        cut = at(drawn_out(*lines))
        assert cut.gaps == pytest.approx(sorted((above, below)))
        assert cut.region.area == pytest.approx(60 * 0.3)
        assert len(cut.region.geoms) == 1


def test_opening_with_four_rims_is_closed_in_pairs() -> None:
    """Of a forked opening the plane meets four rims: foam is where the two troughs are, not over the ridge."""
    troughs: list[Line] = [
        [(-40.0, 30.0), (-40.0, 0.0), (-10.0, 0.0), (-10.0, 30.0)],
        [(15.0, 30.0), (15.0, 0.0), (40.0, 0.0), (40.0, 30.0)],
    ]
    for order in (troughs, troughs[::-1]):
        rims = [(y, 30.0) for y in (-40.0, -10.0, 15.0, 40.0)]
        cut = at(drawn_out(*order, opening=rims))
        assert cut.region.area == pytest.approx(30.0 * (30 + 25))
        assert cut.gaps == ()


def test_rims_are_neighbours_by_where_they_are_across_whatever_their_height() -> None:
    """Two troughs with rims of four heights, drawn to the same edges of one opening, starboard before port."""
    for order in (1, -1):
        troughs: list[Line] = [
            [(-40.0, 30.0), (-40.0, 0.0), (-10.0, 0.0), (-10.0, 50.0)],
            [(15.0, 20.0), (15.0, 0.0), (40.0, 0.0), (40.0, 40.0)],
        ]
        cut = at(drawn_out(*troughs[::order], opening=[line[k] for line in troughs for k in (0, -1)]))
        assert cut.region.area == pytest.approx(30 * 40.0 + 25 * 30.0)


def test_three_rims_of_an_opening_leave_one_open() -> None:
    """An odd rim has no neighbour: the chain that ends there is a hole."""
    lines: list[Line] = [[(-40.0, 30.0), (-40.0, 0.0), (-10.0, 0.0), (-10.0, 30.0)], [(15.0, 30.0), (15.0, 0.0)]]
    with pytest.raises(HullError, match="stays open"):
        at(drawn_out(*lines, opening=[(-40.0, 30.0), (-10.0, 30.0), (15.0, 30.0)]))


def test_rims_of_an_opening_are_found_by_their_edges_however_vertices_are_numbered() -> None:
    """An opening whose rim edges are named high number first, or in another order, is the same one."""
    trough: Line = [(-40.0, 30.0), (-40.0, 0.0), (10.0, 0.0), (10.0, 30.0)]
    surface = drawn_out(trough, opening=[(10.0, 30.0), (-40.0, 30.0)])
    edges = surface.open_edges[:, [1, 0, 2]]
    turned = surface_of(surface.vertices, surface.faces, surface.body, edges)
    assert at(surface).region.area == at(turned).region.area == pytest.approx(1500.0)


def test_opening_on_one_end_only_is_no_opening() -> None:
    """A chain with one end on a rim and the other in a hole stays open."""
    trough: Line = [(-40.0, 30.0), (-40.0, 0.0), (10.0, 0.0), (10.0, 30.0)]
    with pytest.raises(HullError, match=r"open by 50\.00 mm"):
        at(drawn_out(trough, opening=[(-40.0, 30.0)]))


def test_opening_that_looks_down_is_closed_as_well() -> None:
    """A trough upside down, as a canopy is, is closed across its mouth."""
    trough: Line = [(10.0, -30.0), (10.0, 0.0), (-40.0, 0.0), (-40.0, -30.0)]
    cut = at(drawn_out(trough, opening=[(10.0, -30.0), (-40.0, -30.0)]))
    assert cut.region.area == pytest.approx(1500.0)


def test_crack_beside_an_opening_is_bridged_too() -> None:
    """An open deck and a crack in the bottom, in one section, whichever side is written down first."""
    lines: list[Line] = [[(-40.0, 30.0), (-40.0, 0.0), (0.0, 0.0)], [(0.25, 0.0), (10.0, 0.0), (10.0, 30.0)]]
    for order in (lines, lines[::-1]):
        cut = at(drawn_out(*order, opening=[(10.0, 30.0), (-40.0, 30.0)]))
        assert cut.gaps == pytest.approx((0.25,))
        assert cut.region.area == pytest.approx(1500.0)


INNER = loop((-10.0, 10.0), (10.0, 10.0), (10.0, 20.0), (-10.0, 20.0))


@pytest.mark.parametrize(
    ("lines", "area"),
    [
        ([BOX, INNER], 2400.0),  # nested shells of one body: solid all through
        ([BOX, INNER[::-1]], 2200.0),  # a void
        ([BOX, BOX], 2400.0),  # every face twice
        ([BOX, [(y + 20, z + 30) for y, z in BOX]], 4800.0 - 40 * 10),  # overlapping
        ([BOX[::-1]], 0.0),  # inside out: no foam anywhere
        ([loop((0.0, 0.0), (20.0, 0.0), (0.0, 20.0), (20.0, 20.0))], 100.0),  # an eight: one half turns backwards
        ([loop((0.0, 0.0), (1.9e-3, 0.0), (0.0, 1e-3))], 0.0),  # a sliver under AREA_FLOOR
        ([loop((0.0, 0.0), (2.1e-3, 0.0), (0.0, 1e-3))], 1.05e-6),  # and one just over it
        ([loop((0.0, 0.0), (9.0, 0.0))], 0.0),  # a fold without area
    ],
    ids=["nested", "void", "twice", "overlap", "inside out", "eight", "sliver", "no sliver", "fold"],
)
def test_foam_is_where_loops_turn_round_it(lines: list[Line], area: float) -> None:
    """The winding number of all loops of a body together decides."""
    region = at(drawn_out(*lines)).region
    assert region.is_valid
    assert region.area == pytest.approx(area, rel=1e-9, abs=1e-12)


def test_slivers_beside_foam_are_dropped() -> None:
    """A second loop smaller than AREA_FLOOR leaves no part of its own."""
    sliver = loop((100.0, 0.0), (100.0 + AREA_FLOOR, 0.0), (100.0, 1.0))
    assert len(at(drawn_out(BOX, sliver)).region.geoms) == 1
    piece = loop((100.0, 0.0), (100.0 + 3 * AREA_FLOOR, 0.0), (100.0, 1.0))
    assert len(at(drawn_out(BOX, piece)).region.geoms) == 2


def test_winding_number_agrees_with_the_turn_of_the_line_of_sight() -> None:
    """Against the sum of angles seen from each point, for a ring that crosses itself, run either way."""
    rng = np.random.default_rng(8)
    ring = rng.integers(-9, 9, (25, 2)).astype(np.float64)
    points = rng.uniform(-10, 10, (400, 2))
    away = np.vstack([ring, ring[:1]])[None] - points[:, None]
    angle = np.arctan2(away[..., 1], away[..., 0])
    step = np.diff(angle, axis=1)
    turned = (np.mod(step + np.pi, 2 * np.pi) - np.pi).sum(axis=1) / (2 * np.pi)
    assert np.array_equal(winding_numbers(ring, np.roll(ring, -1, axis=0), points), np.round(turned))
    assert np.array_equal(winding_numbers(np.roll(ring, -1, axis=0), ring, points), -np.round(turned))
    assert np.ptp(np.round(turned)) >= 3
    level = np.column_stack([rng.uniform(-10, 10, 60), ring[:, 1].repeat(3)[:60]])
    rest = level[shapely.distance(shapely.LineString(away[0] + points[0]), shapely.points(level)) > 1e-9]
    near = winding_numbers(ring, np.roll(ring, -1, axis=0), rest + (0.0, 1e-9))
    assert np.array_equal(winding_numbers(ring, np.roll(ring, -1, axis=0), rest), near)


def test_plug_takes_each_part_by_itself() -> None:
    """Two open shells side by side are filled each to its own sheer, and a closed part stays as it is."""
    shell = shapely.Polygon([(-30, 40), (-30, 0), (30, 0), (30, 36), (28, 36), (28, 2), (-28, 2), (-28, 40)])
    solid = shapely.box(-50, 60, 50, 70)
    other = shapely.affinity.translate(shell, 100.0)
    plug = fill_to_plug(shapely.MultiPolygon([shell, other, solid]))
    assert [part.area for part in plug.geoms] == pytest.approx([60 * (36 + 40) / 2 + 2 / 15] * 2 + [1000.0])


def test_plug_fills_a_leaning_shell_straight_between_its_highest_points() -> None:
    """The sheer goes from the highest point to port to the highest to starboard; of two as high, the outer one."""
    shell = shapely.Polygon([(-20, 30), (-10, 0), (30, 0), (40, 30), (36, 30), (28, 3), (-8, 3), (-16, 30)])
    plug = fill_to_plug(shapely.MultiPolygon([shell]))
    assert plug.area == pytest.approx(30 * (40 + 60) / 2)
    assert shapely.MultiPolygon([shapely.Polygon([(-20, 30), (-10, 0), (30, 0), (40, 30)])]).equals(plug)


def test_plug_of_an_even_shell_is_even() -> None:
    """With a ridge on the centre plane, higher than the sheer, port is still the mirror image of starboard."""
    half = [(-2, 48), (-2, 3), (-28, 3), (-28, 30), (-30, 30), (-30, 0)]
    shell = shapely.Polygon([(0, 50), *half, *((-y, z) for y, z in half[::-1])])
    plug = fill_to_plug(shapely.MultiPolygon([shell]))
    mirrored = shapely.affinity.scale(plug, -1.0, 1.0, origin=(0, 0))
    assert plug.symmetric_difference(mirrored).area < 1e-9


@pytest.mark.parametrize("begin", range(8))
@pytest.mark.parametrize("step", [1, -1])
def test_plug_goes_to_the_outer_of_two_points_as_high(begin: int, step: int) -> None:
    """A wall with a level top is filled to its outer edge, wherever its outline begins and which way it runs."""
    outline = [(70, 40), (70, 0), (130, 0), (130, 36), (128, 36), (128, 2), (72, 2), (72, 40)]
    shell = shapely.Polygon((outline[begin:] + outline[:begin])[::step])
    # The straight line from (70, 40) to (130, 36) runs under the corner at (72, 40), which stays.
    assert fill_to_plug(shapely.MultiPolygon([shell])).area == pytest.approx(60 * 38 + 2 / 15)


def test_plug_of_nothing_is_nothing() -> None:
    """No foam, no plug."""
    assert fill_to_plug(shapely.MultiPolygon()).is_empty


def test_solid_hull_has_its_sections_filled() -> None:
    """Voids are gone where the hull is to be a plug, and only there."""
    surface = drawn_out(BOX, INNER[::-1])
    assert at(surface).region.area == pytest.approx(2200.0)
    assert at(with_rules(surface, SectionRules(solid=True))).region.area == pytest.approx(2400.0)


def test_several_bodies_are_united_and_numbered_as_they_like() -> None:
    """Bodies that overlap count once, whatever their numbers, and however their faces are mixed."""
    lines = [BOX, [(y + 20, z + 30) for y, z in BOX], [(y + 300, z) for y, z in BOX]]
    surface = drawn_out(*lines, body=(7, 2, 9))
    order = np.random.default_rng(2).permutation(len(surface.faces))
    mixed = surface_of(surface.vertices, surface.faces[order], surface.body[order])
    for one in (surface, mixed):
        region = at(one).region
        assert region.area == pytest.approx(3 * 2400.0 - 400.0)
        assert len(region.geoms) == 2


def test_no_corner_is_there_twice_where_the_plane_runs_through_vertices() -> None:
    """Through a ring of 24 vertices, where several edges are crossed in one place, the outline has 24 corners."""
    mesh = zoo.sears_haack(rings=20, sides=24)
    for x in np.unique(mesh[0][:, 0])[[3, 10, 15]].tolist():
        for side in BOTH:
            (part,) = at(surface_of(*mesh), side, x).region.geoms
            assert len(part.exterior.coords) == 24 + 1


def test_demo_bodies_have_the_areas_of_their_closed_forms() -> None:
    """Sears-Haack (1941) bodies: the polygon's area at the radius between two rings, from either side."""
    mesh = zoo.sears_haack(rings=20, sides=24)
    rings = np.unique(mesh[0][:, 0])
    radius = np.array([np.hypot(*mesh[0][mesh[0][:, 0] == x, 1:].T).max() for x in rings])
    surface = surface_of(*mesh)
    for x in (*rings[1:-1].tolist(), 33.3, 251.7):
        for side in BOTH:
            assert at(surface, side, x).region.area == pytest.approx(
                float(zoo.faceted_area(x, rings, radius, 24)), rel=1e-8
            )


def test_heap_of_loose_faces_is_told_by_the_number_of_its_pieces() -> None:
    """One piece more than MOST_CHAINS is no skin with holes; as many are still looked at one by one."""
    pieces: list[Line] = [[(3.0 * k, 0.0), (3.0 * k + 1.0, 0.0)] for k in range(MOST_CHAINS + 1)]
    with pytest.raises(HullError, match=rf"x = 37\.00 mm is torn into {MOST_CHAINS + 1} pieces") as caught:
        at(drawn_out(*pieces))
    assert "Repair the mesh" in caught.value.remedy
    with pytest.raises(HullError, match=r"open by 1\.00 mm"):
        at(drawn_out(*pieces[:-1]))


@pytest.mark.parametrize("gap", [0.0, 0.001, 0.4, 6.0])
def test_shell_in_planks_is_filled_as_one_plug(gap: float) -> None:
    """A bottom and two sides of 160 x 80 mm, a seam open between: straight across the sheer, less only the seams."""
    bottom = shapely.box(-80, 0, 80, 10)
    sides = [shapely.box(y, 10 + gap, y + 10, 80) for y in (-80, 70)]
    plug = fill_to_plug(shapely.MultiPolygon([bottom, *sides] if gap else [shapely.union_all([bottom, *sides])]))
    assert plug.area == pytest.approx(160 * 80 - 2 * 10 * gap, abs=1e-6 + 2 * 10 * gap)
    assert plug.covers(shapely.box(-69, 11, 69, 79))


def test_hulls_apart_are_filled_one_by_one() -> None:
    """Between the two open hulls of a catamaran nothing is filled."""
    hull = shapely.box(0, 0, 40, 50).difference(shapely.box(5, 5, 35, 60))
    twins = shapely.MultiPolygon([shapely.affinity.translate(hull, y) for y in (-100, 60)])
    assert fill_to_plug(twins).area == pytest.approx(2 * 40 * 50)
