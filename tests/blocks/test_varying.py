"""Growth that varies round the outlines: nothing missing, as little as possible to sand, an edge that can be cut."""

import functools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh
from scipy.optimize import linprog
from shapely import LinearRing

from profiles.arrays import Floats
from profiles.blocks.blocks import grow_between
from profiles.blocks.depth import depth_inside
from profiles.blocks.growth import PROMISED, GrownBlock
from profiles.blocks.hull_sections import hull_cut
from profiles.blocks.moved_rings import faces_of, handles_of, move_rings, refine
from profiles.blocks.ruled import block_mesh, volume
from profiles.blocks.settings import BlockSettings, Growth
from profiles.blocks.stations import Span
from profiles.blocks.varying import SLOPE
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.reading import read
from profiles.hull.sections import Side, section
from profiles.hull.settings import ReadSettings
from profiles.hull.surface import Surface, surface_of
from profiles.hull.surface_points import points_on_edges, points_on_faces
from tests import closed_forms as zoo

MODELS = Path(__file__).parents[2] / "models"


def grow(surface: Surface, x_fore: float, x_aft: float, growth: Growth = "varying", missing: float = 0.0) -> GrownBlock:
    finished = section(surface, x_fore, Side.AFT).region, section(surface, x_aft, Side.FORE).region
    settings = BlockSettings(growth=growth, missing=missing)
    return grow_between(
        MeshShape(surface), hull_cut(MeshShape(surface)), Span(1, x_fore, x_aft, full=True), finished, settings
    )


BLOCKS = {
    "spheroid": (zoo.spheroid(285.0, 60.0, 120, 96), 90.0, 130.0),
    "sears-haack": (zoo.sears_haack(), 60.0, 100.0),
    "wigley": (zoo.wigley(800.0, 160.0, 100.0, 80, 24), 120.0, 160.0),
    "coarse wigley": (zoo.wigley(800.0, 160.0, 100.0, 16, 6), 120.0, 160.0),
}


@functools.cache
def block_of(name: str, growth: Growth = "varying") -> tuple[Surface, GrownBlock]:
    mesh, x_fore, x_aft = BLOCKS[name]
    surface = surface_of(*mesh)
    return surface, grow(surface, x_fore, x_aft, growth)


def offsets_of(name: str) -> list[tuple[Floats, Floats]]:
    """For both faces: mm along the hull's outline of the points of the grown outline, and how far each lies outside."""
    _, x_fore, x_aft = BLOCKS[name]
    surface, block = block_of(name)
    found = []
    for x, side, face in ((x_fore, Side.AFT, block.fore), (x_aft, Side.FORE, block.aft)):
        ring = LinearRing(section(surface, x, side).region.geoms[0].exterior)
        grown = LinearRing(face.geoms[0].exterior)
        places = np.arange(0.0, grown.length, 0.5)
        points = [grown.interpolate(place) for place in places.tolist()]
        order = np.argsort([ring.project(point) for point in points])
        along, offset = (
            np.array([measure(point) for point in points])[order] for measure in (ring.project, ring.distance)
        )
        found.append((along, offset))
    return found


def test_straight_sided_prism_needs_no_growth() -> None:
    """A box between two stations is what the wire leaves: nothing to sand."""
    block = grow(surface_of(*zoo.box()), 20.0, 60.0)
    assert block.offset == 0
    assert block.sanding_volume < 1e-3


def test_cone_frustum_needs_no_growth() -> None:
    """A cone is ruled by straight lines."""
    block = grow(surface_of(*zoo.frustum()), 5.0, 45.0)
    assert block.offset == 0
    assert block.sanding_volume < 1


def test_loft_between_two_ellipses_grows_by_hardly_anything() -> None:
    """The pairing finds the lines that the body was made with to within 0.05 mm."""
    block = grow(surface_of(*zoo.ellipse_loft((60.0, 40.0), (50.0, 45.0))), 0.0, 50.0)
    assert block.offset < 0.05


def test_missing_foam_of_a_spheroid_before_growth_is_the_sagitta() -> None:
    """Amidships, where the meridian's radius is a^2 / b: r - sqrt(r^2 - c^2 / 4), nearly h^2 / 8R."""
    radius = 285.0**2 / 60.0
    block = grow(surface_of(*zoo.spheroid(285.0, 60.0, 400, 96)), 265.0, 305.0)
    assert block.before.missing == pytest.approx(radius - np.sqrt(radius**2 - 40.0**2 / 4), rel=0.02)
    assert block.before.missing == pytest.approx(40.0**2 / (8 * radius), rel=0.02)


@pytest.mark.parametrize("name", BLOCKS)
def test_no_sample_of_the_skin_lies_outside(name: str) -> None:
    """Points by area on the hull's skin, which the search did not use, against the block's mesh, by trimesh."""
    _, x_fore, x_aft = BLOCKS[name]
    surface, block = block_of(name)
    skin = trimesh.Trimesh(surface.vertices, surface.faces, process=False)
    points, _ = trimesh.sample.sample_surface(skin, 30000, seed=1)
    points = points[(points[:, 0] > x_fore + 0.1) & (points[:, 0] < x_aft - 0.1)][:1000]
    assert len(points) > 500
    body = trimesh.Trimesh(*block_mesh(block.block), process=False)
    assert -trimesh.proximity.signed_distance(body, points).min() < PROMISED  # type: ignore[no-untyped-call]
    assert block.before.missing > 0.1


@pytest.mark.parametrize("name", BLOCKS)
def test_varying_growth_leaves_less_to_sand_than_even_growth(name: str) -> None:
    """Volume, where bodies of revolution gain nothing, and to a twentieth the largest depth."""
    varying, even = block_of(name)[1], block_of(name, "block")[1]
    assert varying.sanding_volume <= (0.9 if "wigley" in name else 1.01) * even.sanding_volume
    assert varying.sanding <= 1.05 * even.sanding + 0.05


@pytest.mark.parametrize("name", ["wigley", "sears-haack", "spheroid"])
def test_offset_changes_by_no_more_than_a_tenth_along_the_outline(name: str) -> None:
    """Between places 10 mm apart on the hull's outline the grown one comes nearer or goes off by 1 mm at most."""
    for along, offset in offsets_of(name):
        apart = np.interp(along + 10.0, along, offset) - offset
        assert np.abs(apart[along < along[-1] - 10.0]).max() <= 10.0 * SLOPE + 0.05


def at_places(ring: Floats, along: Floats, places: Floats) -> Floats:
    """Points (k, 2) mm of a ring (n, 2) at mm along it."""
    return np.column_stack([np.interp(places, along, np.append(ring[:, axis], ring[0, axis])) for axis in (0, 1)])


def bound(surface: Surface, plain: GrownBlock, dense: int = 4) -> float:
    """mm3: the least volume by which any offsets along the pairing of a block can cover points of the hull to 0.02 mm,
    to first order: a linear program with handles `dense` times as close, no limit of slope and no smoothing.
    """
    (pair,) = plain.block.rings
    step = 5.0 / dense
    sums = pair.along_fore + pair.along_aft
    even = np.linspace(0, sums[-1], 3000, endpoint=False)
    normals, places, wires = [], [], []
    for ring, along in ((pair.fore, pair.along_fore), (pair.aft, pair.along_aft)):
        knots = at_places(ring, along, np.arange(0, along[-1], step))
        way = np.roll(knots, -1, axis=0) - np.roll(knots, 1, axis=0)
        normals.append(np.column_stack([way[:, 1], -way[:, 0]]) / np.hypot(way[:, 0], way[:, 1])[:, None])
        places.append(np.interp(even, sums, along))
        wires.append(at_places(ring, along, places[-1]))
    x_fore, thickness = plain.block.x_fore, plain.block.thickness
    points = np.vstack([on(surface, x_fore, x_fore + thickness) for on in (points_on_edges, points_on_faces)])
    lack = -depth_inside(plain.block, points)
    points, lack = points[lack > 0.02], lack[lack > 0.02]
    rows = np.zeros((len(points), sum(map(len, normals))))
    for row, (x, *point) in zip(rows, points.tolist(), strict=True):
        share = (x - x_fore) / thickness
        away = point - ((1 - share) * wires[0] + share * wires[1])
        nearest = int((away**2).sum(axis=1).argmin())
        out = away[nearest] / np.hypot(*away[nearest])
        for face, part in enumerate((1 - share, share)):
            at, count, first = places[face][nearest] / step, len(normals[face]), face * len(normals[0])
            for knot, weight in ((int(at) % count, 1 - at % 1), ((int(at) + 1) % count, at % 1)):
                row[first + knot] += part * weight * (normals[face][knot] @ out)
    cost = np.full(rows.shape[1], thickness * step / 2)
    answer = linprog(cost, A_ub=-rows, b_ub=0.02 - lack, bounds=(0, None), method="highs")
    assert answer.fun is not None
    return answer.fun


@pytest.mark.parametrize("name", ["wigley", "spheroid"])
def test_volume_is_near_that_of_another_linear_program(name: str) -> None:
    """One written for this test, four times as dense, without limits on slope and bends, adds at most a third less."""
    surface, block = block_of(name)
    plain = block_of(name, 0.0)[1]
    grown = volume(block.block) - volume(plain.block)
    least = bound(surface, plain)
    assert 0.6 * grown < least < 1.02 * grown


def test_filler_that_may_be_needed_lets_outlines_grow_less() -> None:
    """With 0.15 mm allowed so much is missing, no more, and there is less to sand."""
    surface, block = block_of("wigley")
    less = grow(surface, 120.0, 160.0, missing=0.15)
    assert 0.1 < less.deviation.missing < 0.15 + PROMISED
    assert less.sanding_volume < block.sanding_volume


def test_same_block_gives_the_same_offsets() -> None:
    """Byte by byte."""
    mesh, x_fore, x_aft = BLOCKS["wigley"]
    first, second = (grow(surface_of(*mesh), x_fore, x_aft) for _ in range(2))
    assert first.block.rings[0].fore.tobytes() == second.block.rings[0].fore.tobytes()
    assert first.block.rings[0].aft.tobytes() == second.block.rings[0].aft.tobytes()


@pytest.mark.parametrize("change", ["moved", "mirrored"])
def test_where_a_hull_stands_and_its_side_do_not_matter(change: str) -> None:
    """Moved by whole mm, or mirrored, a hull grows by the same volume."""
    (vertices, faces), x_fore, x_aft = BLOCKS["sears-haack"]
    block = block_of("sears-haack")[1]
    if change == "moved":
        other = grow(surface_of(vertices + (0.0, 0.0, 30.0), faces), x_fore, x_aft)
    else:
        other = grow(surface_of(vertices * (1.0, -1.0, 1.0), faces[:, ::-1]), x_fore, x_aft)
    assert other.sanding_volume == pytest.approx(block.sanding_volume, rel=0.02)


def test_evenly_moved_ring_is_an_even_offset() -> None:
    """The same offset at every handle moves a rectangle's sides square to themselves: corners stay sharp."""
    block = grow(surface_of(*zoo.box()), 20.0, 60.0, 0.0)
    pair = refine(block.block.rings[0])
    rings = (pair.fore, pair.along_fore), (pair.aft, pair.along_aft)
    handles = [handles_of(ring, along, hollow=False) for ring, along in rings]
    moved = move_rings(pair, handles, [np.full(len(own.along), 1.0) for own in handles])
    faces = faces_of([moved])
    assert faces is not None
    assert faces[0].equals_exact(faces[0].envelope, 1e-9) or faces[0].area == pytest.approx(62 * 42)
    assert moved.along_fore[-1] == pytest.approx(2 * (62 + 42))


def test_rings_that_would_cross_themselves_are_refused() -> None:
    """A ring turned inside out at one place is no outline."""
    block = grow(surface_of(*zoo.box()), 20.0, 60.0, 0.0)
    (pair,) = block.block.rings
    crossed = pair.fore.copy()
    crossed[0] = crossed[2] + (crossed[2] - crossed[0])
    assert faces_of([replace(pair, fore=crossed)]) is None


def test_demo_hull_has_little_to_sand() -> None:
    """A block of the flying boat: at most a third of what even growth leaves."""
    surface = read(MODELS / "skerrywing.stl", ReadSettings(unit="mm")).surface
    low = float(surface.bounds[0][0])
    varying, even = (grow(surface, low + 192.0, low + 232.0, growth) for growth in ("varying", "block"))
    assert 3 * varying.sanding_volume < even.sanding_volume
