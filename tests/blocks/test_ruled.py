"""The ruled block: volumes, meshes, and its deviation from the hull."""

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh
from shapely import MultiPolygon, Polygon, affinity

from profiles.arrays import Floats
from profiles.blocks.boundary import boundary_of
from profiles.blocks.correspondence import angle_path, pair_along
from profiles.blocks.depth import depth_inside
from profiles.blocks.deviation import Deviation, deviation_of
from profiles.blocks.hull_sections import Cut, hull_cut, hull_inside, lobatto
from profiles.blocks.landmarks import ring_of
from profiles.blocks.pairing import pair_faces
from profiles.blocks.ruled import RuledBlock, areas, block_mesh, volume
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.reading import read
from profiles.hull.sections import Side, section
from profiles.hull.surface import join_meshes, surface_of
from profiles.hull.surface_points import vertices_between
from tests import closed_forms as zoo
from tests.blocks.ruled_sections import section_of

MODELS = Path(__file__).parents[2] / "models"

CHINE = Polygon([(0, -30), (40, -10), (45, 30), (-45, 30), (-40, -10)])


def one(shape: Polygon) -> MultiPolygon:
    return MultiPolygon([shape])


def ellipse(y: float, z: float, sides: int = 3600) -> MultiPolygon:
    turn = 2 * np.pi * np.arange(sides) / sides
    return one(Polygon(np.column_stack([y * np.cos(turn), z * np.sin(turn)])))


def paired(fore: MultiPolygon, aft: MultiPolygon, thickness: float) -> RuledBlock:
    return RuledBlock(0.0, thickness, pair_faces(fore, aft).rings)


def along(fore: Floats, aft: Floats) -> Cut:
    """The hull ruled between two polygons of as many corners, exactly."""
    return lambda x: one(Polygon((1 - x) * fore + x * aft))


def measured(fore: MultiPolygon, aft: MultiPolygon, cut: Cut, x_fore: float = 0.0, x_aft: float = 1.0) -> Deviation:
    inside = hull_inside(cut, x_fore, x_aft, fore, aft)
    pairing = pair_faces(fore, aft, between=inside.between)
    block = RuledBlock(x_fore, x_aft, pairing.rings)
    return deviation_of(block, inside, (pairing.fore, pairing.aft), cut)[0]


def test_cone_frustum_has_its_volume() -> None:
    """R 40, r 30, h 50: 193731.547 mm3, by pi h (R^2 + R r + r^2) / 3 of any table of solids."""
    sides = 3600
    polygon = sides / 2 * math.sin(2 * math.pi / sides) / math.pi
    block = paired(ellipse(40, 40, sides), ellipse(30, 30, sides), 50.0)
    assert volume(block) / polygon == pytest.approx(193731.547, abs=1e-3)
    assert volume(block) / polygon == pytest.approx(zoo.frustum_volume(40, 30, 50), rel=1e-9)


def test_ellipse_to_ellipse_has_the_prismoidal_volume() -> None:
    """60 x 40 to 50 x 45, h 50, paired by parameter: 366519.143 mm3, by h (A0 + 4 Am + A1) / 6."""
    sides = 3600
    polygon = sides / 2 * math.sin(2 * math.pi / sides) / math.pi
    fore, aft = ellipse(60, 40, sides), ellipse(50, 45, sides)
    rings = [ring_of(shape.geoms[0].exterior, hollow=False, centre=0.0) for shape in (fore, aft)]
    by_vertex = np.column_stack([ring.along / ring.length for ring in rings])
    block = RuledBlock(0.0, 50.0, (pair_along(rings[0], rings[1], by_vertex),))
    assert volume(block) / polygon == pytest.approx(366519.143, abs=1e-3)
    middle = math.pi * 55 * 42.5
    assert volume(block) / polygon == pytest.approx(
        50 / 6 * math.pi * (60 * 40 + 50 * 45) + 50 / 6 * 4 * middle, rel=1e-9
    )


def test_circle_to_square_by_angle_has_the_prismoidal_volume() -> None:
    """Unit circle to a square of side 2 by angle: middle area 3.548145, V/h 3.555696, by the prismoidal formula."""
    circle, square = ellipse(1, 1, 7200), one(shapely.box(-1, -1, 1, 1))
    rings = [ring_of(shape.geoms[0].exterior, hollow=False, centre=0.0) for shape in (circle, square)]
    angle = np.linspace(0.0, 2 * np.pi, 28801)
    on_square = np.column_stack([np.sin(angle), -np.cos(angle)])
    on_square /= np.abs(on_square).max(axis=1, keepdims=True)
    share = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(on_square, axis=0), axis=1))]) / 8
    pair = pair_along(rings[0], rings[1], np.column_stack([angle / (2 * np.pi), share / share[-1]]))
    block = RuledBlock(0.0, 1.0, (pair,))
    assert areas(block, np.array([0.5]))[0] == pytest.approx(3.548145, abs=1e-6)
    assert volume(block) == pytest.approx(3.555696, abs=1e-6)


@pytest.mark.parametrize("turn", [0.0, 12.0])
def test_mesh_of_a_block_is_closed_and_holds_the_prismoidal_volume(turn: float) -> None:
    """Hollow, tapered and twisted: trimesh finds every edge twice, all faces outwards and the same volume."""
    hollow = Polygon(CHINE.exterior, [shapely.Point(4, 5).buffer(14).exterior])
    aft = affinity.rotate(affinity.scale(hollow, 0.7, 0.8, origin=(0, 0)), turn, origin=(0, 0))
    block = paired(one(hollow), one(aft), 40.0)
    mesh = trimesh.Trimesh(*block_mesh(block), process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(volume(block), rel=1e-9)
    assert section_of(block, 0.3).area == pytest.approx(areas(block, np.array([0.3]))[0], rel=1e-9)


def test_joined_blocks_are_closed_and_their_volume_is_the_sum() -> None:
    """Three blocks of a Wigley hull in one mesh, their volumes added."""
    surface = surface_of(*zoo.wigley())
    blocks = []
    for x in (80.0, 120.0, 160.0):
        fore, aft = section(surface, x, Side.AFT).region, section(surface, x + 40, Side.FORE).region
        blocks.append(RuledBlock(x, x + 40, pair_faces(fore, aft).rings))
    mesh = trimesh.Trimesh(*join_meshes([block_mesh(block) for block in blocks]), process=False)
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(sum(map(volume, blocks)), rel=1e-6)


TWIST = np.array(affinity.rotate(affinity.scale(CHINE, 0.8, 0.7), 14, origin=(0, 0)).exterior.coords)[:-1]
TAPER = np.array(affinity.scale(CHINE, 0.6, 0.9, origin=(3, 4)).exterior.coords)[:-1]
CHINE_POINTS = np.array(CHINE.exterior.coords)[:-1]
SQUARE = np.array(shapely.box(-30, -30, 30, 30).exterior.coords)[:-1]
TURNED = np.array(affinity.rotate(shapely.box(-25, -25, 25, 25), 20, origin=(0, 0)).exterior.coords)[:-1]
ANGLES = 2 * np.pi * np.arange(64) / 64
ROUND = 40 * np.column_stack([np.cos(ANGLES), np.sin(ANGLES)])


@pytest.mark.parametrize(
    ("fore", "aft"),
    [
        (CHINE_POINTS, TWIST),
        (CHINE_POINTS, TAPER),
        (SQUARE, TURNED),
        (ROUND, 0.75 * ROUND),
    ],
    ids=["twisted", "tapered", "turned square", "frustum"],
)
def test_hull_that_is_ruled_between_its_stations_is_rebuilt(fore: Floats, aft: Floats) -> None:
    """Corners go with corners and edges with edges: deviation below 1e-6 mm."""
    found = measured(one(Polygon(fore)), one(Polygon(aft)), along(fore, aft))
    assert max(found.missing, found.extra) < 1e-6


def test_hull_whose_lines_no_even_hands_follow_is_rebuilt_as_well_as_marks_allow() -> None:
    """From a circle to an ellipse the way on the one is no fixed share of the way on the other: with a mark here and
    there hands stay within 0.02 mm, less than foam shows.
    """
    ellipse = ROUND * (0.5, 0.9)
    found = measured(one(Polygon(ROUND)), one(Polygon(ellipse)), along(ROUND, ellipse))
    assert max(found.missing, found.extra) < 0.02


def test_triangulated_hard_chine_hull_with_straight_lines_is_rebuilt() -> None:
    """A twisted panel cut into two triangles is ruled too, by wires that turn about its corners."""
    fore, aft = CHINE_POINTS, CHINE_POINTS * (0.5, 0.8) + (0.0, 6.0)
    mesh = zoo.loft(np.array([0.0, 60.0]), np.stack([fore, aft]))
    cut = hull_cut(MeshShape(surface_of(*mesh)))
    found = measured(one(Polygon(fore)), one(Polygon(aft)), cut, 0.0, 60.0)
    assert max(found.missing, found.extra) < 1e-6


def round_cut(radius_at: Callable[[float], float], sides: int = 720) -> Cut:
    def cut(x: float) -> MultiPolygon:
        return ellipse(radius_at(x), radius_at(x), sides)

    return cut


def spheroid_radius(x: float) -> float:
    """Semi-axes 285 and 60 mm."""
    return 60.0 * math.sqrt(max(0.0, 1 - (x / 285 - 1) ** 2))


def spheroid_gap(x_fore: float, x_aft: float) -> float:
    """Greatest distance of the meridian from its chord, across. With u = x/a - 1 and r = b sqrt(1 - u^2) it lies where
    r' equals the chord's slope m: u = -k / sqrt(1 + k^2), k = m a / b.
    """
    fore, aft = spheroid_radius(x_fore), spheroid_radius(x_aft)
    slope = (aft - fore) / (x_aft - x_fore)
    k = slope * 285 / 60
    x = 285 * (1 - k / math.sqrt(1 + k * k))
    return spheroid_radius(x) - fore - slope * (x - x_fore)


@pytest.mark.parametrize("x_fore", [10.0, 50.0, 130.0, 265.0, 490.0])
def test_deviation_of_a_spheroid_is_the_meridians_from_its_chord(x_fore: float) -> None:
    """570 x 120 in blocks of 40: missing foam is the closed form to 1 %, at its place; nothing is extra."""
    x_aft = x_fore + 40
    cut = round_cut(spheroid_radius)
    ends = [ellipse(spheroid_radius(x), spheroid_radius(x), 720) for x in (x_fore, x_aft)]
    found = measured(ends[0], ends[1], cut, x_fore, x_aft)
    assert found.missing == pytest.approx(spheroid_gap(x_fore, x_aft), rel=0.01)
    assert found.extra < 1e-3
    assert math.hypot(found.lowest.y, found.lowest.z) == pytest.approx(spheroid_radius(found.lowest.x), rel=1e-3)


@pytest.mark.parametrize(("radius", "chord", "sagitta"), [(100.0, 20.0, 0.501256), (300.0, 25.0, 0.260530)])
def test_deviation_is_the_sagitta(radius: float, chord: float, sagitta: float) -> None:
    """A meridian that is an arc: s = r - sqrt(r^2 - c^2/4), 0.501256 for r 100 c 20 and 0.260530 for r 300 c 25."""

    def arc(x: float) -> float:
        return 30.0 + math.sqrt(radius**2 - (x - chord / 2) ** 2) - radius

    ends = [ellipse(arc(x), arc(x), 720) for x in (0.0, chord)]
    found = measured(ends[0], ends[1], round_cut(arc), 0.0, chord)
    assert found.missing == pytest.approx(sagitta, rel=1e-3)


def test_deviation_falls_with_the_square_of_the_thickness() -> None:
    """Halving the blocks of a smooth hull quarters the deviation: order 1.9 to 2.1."""
    cut = round_cut(spheroid_radius)
    found = []
    for thickness in (60.0, 30.0, 15.0):
        ends = [
            ellipse(spheroid_radius(x), spheroid_radius(x), 720) for x in (150 - thickness / 2, 150 + thickness / 2)
        ]
        found.append(measured(ends[0], ends[1], cut, 150 - thickness / 2, 150 + thickness / 2).missing)
    orders = np.log2(np.array(found[:-1]) / np.array(found[1:]))
    assert np.all((orders > 1.9) & (orders < 2.1)), orders


def chines(region: MultiPolygon) -> Floats:
    """Both chine points (2, 2) of a section of the flying boat: its sharp convex corners low down."""
    ring = ring_of(region.geoms[0].exterior, hollow=False, centre=0.0)
    found = np.array([(corner.y, corner.z) for corner in ring.corners if corner.turn > 25 and corner.z < -30])
    assert len(found) == 2
    return found


@pytest.mark.parametrize("x_fore", [152.0, 232.0, 312.0, 472.0, 552.0])
def test_wire_stays_on_the_chine(x_fore: float) -> None:
    """On the flying-boat hull the block misses the chine by no more than the chine itself leaves the straight line, but
    for 0.005 mm; where it is straight, that is all.
    """
    surface = read(MODELS / "skerrywing.stl").surface
    fore, aft = section(surface, x_fore, Side.AFT).region, section(surface, x_fore + 40, Side.FORE).region
    inside = hull_inside(hull_cut(MeshShape(surface)), x_fore, x_fore + 40, fore, aft)
    block = RuledBlock(x_fore, x_fore + 40, pair_faces(fore, aft, between=inside.between).rings)
    for share, region in inside.between:
        bend = np.linalg.norm((1 - share) * chines(fore) + share * chines(aft) - chines(region), axis=1)
        missed = shapely.distance(shapely.boundary(section_of(block, share)), shapely.points(chines(region)))
        assert np.all(missed < bend + 0.005)


def test_deviation_is_signed_and_has_a_place() -> None:
    """A hull hollow along its length leaves extra foam, one that bulges misses some; both by the same amount."""

    def waist(sign: float) -> Cut:
        return round_cut(lambda x: 40.0 + sign * 0.01 * x * (20 - x))

    ends = ellipse(40, 40, 720)
    block = RuledBlock(0.0, 20.0, pair_faces(ends, ends).rings)
    marks = pair_faces(ends, ends)
    extra, missing = (
        deviation_of(block, hull_inside(waist(sign), 0.0, 20.0, ends, ends), (marks.fore, marks.aft))[0]
        for sign in (-1, 1)
    )
    assert extra.extra == pytest.approx(1.0, rel=1e-3)
    assert missing.missing == pytest.approx(1.0, rel=1e-3)
    assert extra.missing < 1e-6
    assert extra.highest.x == pytest.approx(10, abs=0.5)
    assert extra.highest.mark in {mark.number for mark in extra.by_mark}
    assert extra.extra_volume == pytest.approx(2 * math.pi * 40 * 20 * 2 / 3, rel=0.03)
    assert missing.missing_volume == pytest.approx(2 * math.pi * 40 * 20 * 2 / 3, rel=0.03)


def test_sections_that_cannot_be_closed_are_counted() -> None:
    """A section without a region is left out and reported."""
    ends = ellipse(40, 40, 72)

    def cut(x: float) -> MultiPolygon | None:
        return None if x < 10 else ends

    inside = hull_inside(cut, 0.0, 20.0, ends, ends)
    found, _ = deviation_of(RuledBlock(0.0, 20.0, pair_faces(ends, ends).rings), inside)
    assert found.unmeasured > 0
    assert found.missing < 1e-6


def test_lobatto_integrates_polynomials_exactly() -> None:
    """Seven points are exact up to degree 11 (Abramowitz and Stegun 25.4.32)."""
    places, weights = lobatto(7)
    assert weights @ places**11 == pytest.approx(1 / 12, rel=1e-12)


def test_distances_are_those_of_the_whole_boundary() -> None:
    """Against shapely, near and far from a hull with a hollow."""
    region = one(Polygon(CHINE.exterior, [shapely.Point(4, 5).buffer(14).exterior]))
    points = np.random.default_rng(5).uniform(-60, 60, (3000, 2))
    exact = shapely.distance(region.boundary, shapely.points(points))
    assert np.abs(boundary_of(region).distance(points) - exact).max() < 1e-5


def test_cover_is_the_depth_in_the_points_own_section() -> None:
    """Vertices of a Wigley hull against the sections of the block, one by one."""
    surface = surface_of(*zoo.wigley())
    fore, aft = section(surface, 95.0, Side.AFT).region, section(surface, 135.0, Side.FORE).region
    block = RuledBlock(95.0, 135.0, pair_faces(fore, aft).rings)
    points = vertices_between(surface, 95.0, 135.0)[::3]
    exact = []
    for x, y, z in points.tolist():
        region = section_of(block, (x - 95) / 40)
        point = shapely.Point(y, z)
        exact.append(region.boundary.distance(point) * (1 if region.contains(point) else -1))
    assert np.abs(depth_inside(block, points) - exact).max() < 1e-6


def test_angles_of_a_star_shaped_outline_run_evenly() -> None:
    """By angle a circle is paired with a larger one share by share."""
    rings = [ring_of(ellipse(r, r, 360).geoms[0].exterior, hollow=False, centre=0.0) for r in (20, 30)]
    path = angle_path(rings[0], rings[1])
    assert np.abs(path[:, 0] - path[:, 1]).max() < 1e-6
