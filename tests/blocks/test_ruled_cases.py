"""The ruled block, case by case: flat and twisted patches, wires that turn, wires that cross, nothing at all."""

import numpy as np
import numpy.typing as npt
import pytest
import shapely
import trimesh
from shapely import Polygon, affinity

from profiles.blocks.ring_pairs import RingPair
from profiles.blocks.ruled import LACED, RuledBlock, areas, block_mesh, lace_ring, volume
from profiles.hull.surface import join_meshes
from tests import closed_forms as zoo
from tests.blocks.ruled_sections import section_of

CHINE = np.array([(0, -30), (40, -10), (45, 30), (-45, 30), (-40, -10)], dtype=np.float64)
SQUARE = np.array([(0, 0), (10, 0), (10, 10), (0, 10)], dtype=np.float64)


def matched(fore: npt.ArrayLike, aft: npt.ArrayLike, *, hollow: bool = False, part: int = 0) -> RingPair:
    """Two rings of as many knots, point by point."""
    rings = [np.array(ring, dtype=np.float64) for ring in (fore, aft)]
    alongs = [np.concatenate([[0.0], np.cumsum(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T))]) for ring in rings]
    return RingPair(rings[0], rings[1], alongs[0], alongs[1], hollow, part, (), 0.0, 0.0)


def checked(block: RuledBlock) -> trimesh.Trimesh:
    """The block's mesh; trimesh finds it closed, wound outwards, and as large as the prismoidal formula says."""
    mesh = trimesh.Trimesh(*block_mesh(block), process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(volume(block), rel=1e-9)
    return mesh


@pytest.mark.parametrize("place", [(0.0, 0.0), (130.0, -70.0)])
def test_flat_patches_are_two_triangles_each(place: tuple[float, float]) -> None:
    """A frustum of a pyramid over five corners has ten triangles on its sides and three on each end, wherever it lies,
    and the volume of one: h (A + B + sqrt(A B)) / 3 (Euclid XII, of any table of solids).
    """
    block = RuledBlock(5.0, 35.0, (matched(CHINE + place, 0.6 * CHINE + place),))
    mesh = checked(block)
    assert len(mesh.faces) == 10 + 3 + 3
    assert len(mesh.vertices) == 10
    base = Polygon(CHINE).area
    assert mesh.volume == pytest.approx(30 * base * (1 + 0.36 + 0.6) / 3, rel=1e-12)


@pytest.mark.parametrize("place", [(0.0, 0.0), (130.0, -70.0)])
def test_twisted_patches_have_a_vertex_in_their_middle(place: tuple[float, float]) -> None:
    """Turned by 14 degrees each patch has four triangles about a vertex half-way, which lies on the middle section."""
    turned = np.array(affinity.rotate(Polygon(CHINE), 14, origin=(0, 0)).exterior.coords)[:-1]
    block = RuledBlock(5.0, 35.0, (matched(CHINE + place, turned + place),))
    mesh = checked(block)
    assert len(mesh.faces) == 20 + 3 + 3
    middles = mesh.vertices[np.isclose(mesh.vertices[:, 0], 20.0), 1:]
    section = 0.5 * (CHINE + turned) + place
    wanted = 0.5 * (section + np.roll(section, -1, axis=0))
    assert np.abs(middles[:, None] - wanted).sum(axis=2).min(axis=0).max() < 1e-9
    assert len(middles) == len(wanted)


TRIANGLE = np.array([(0, 0), (12, 0), (5, 9)], dtype=np.float64)


@pytest.mark.parametrize("begin", range(4))
@pytest.mark.parametrize("swapped", [False, True])
def test_wire_that_turns_at_a_knot_sweeps_one_triangle(begin: int, swapped: bool) -> None:  # noqa: FBT001 - a case
    """From a triangle to a square a wire stands still at one end: one triangle there, no vertex twice, and the same
    solid at whichever knot the rings begin, and seen from the other face.
    """
    fore, aft = np.roll(TRIANGLE[[0, 1, 2, 2]], begin, axis=0), np.roll(SQUARE, begin, axis=0)
    block = RuledBlock(0.0, 20.0, (matched(aft, fore) if swapped else matched(fore, aft),))
    mesh = checked(block)
    twisted = int(np.count_nonzero(np.isclose(mesh.vertices[:, 0], 10.0)))
    assert len(mesh.vertices) == 3 + 4 + twisted
    assert len(mesh.faces) == 4 * twisted + 2 * (3 - twisted) + 1 + 1 + 2
    assert mesh.area_faces.min() > 1e-3
    # The section half-way has the corners ((0, 0), (11, 0), (7.5, 9.5), (2.5, 9.5)): its area by Gauss's formula.
    half = (11 * 9.5 + 7.5 * 9.5 - 2.5 * 9.5) / 2
    assert mesh.volume == pytest.approx(20 * (54 + 4 * half + 100) / 6, rel=1e-12)


@pytest.mark.parametrize("begin", range(5))
def test_knot_given_twice_on_both_faces_counts_once(begin: int) -> None:
    """A knot that is repeated on both rings adds no vertex and no face."""
    twice = np.array([0, 1, 1, 2, 3])
    fore, aft = np.roll(SQUARE[twice], begin, axis=0), np.roll(0.5 * SQUARE[twice], begin, axis=0)
    mesh = checked(RuledBlock(0.0, 20.0, (matched(fore, aft),)))
    assert len(mesh.vertices) == 8
    assert len(mesh.faces) == 12


@pytest.mark.parametrize(("share", "area"), [(0.25, 75.0), (0.75, 125 / 3), (1.0, 50.0)])
def test_section_where_wires_cross_is_what_is_left_after_mending(share: float, area: float) -> None:
    """Two knots that change places: a trapezium until they meet, then two triangles of similar shape."""
    changed = SQUARE[[0, 1, 3, 2]]
    region = section_of(RuledBlock(0.0, 20.0, (matched(SQUARE, changed),)), share)
    assert region.is_valid
    assert region.area == pytest.approx(area)
    assert len(region.geoms) == (1 if share < 0.5 else 2)


def test_section_of_parts_that_overlap_is_their_union() -> None:
    """Two parts that are apart on both faces and cross on the way count once where they overlap."""
    parts = matched(SQUARE, SQUARE + (20.0, 0.0)), matched(SQUARE + (15.0, 0.0), SQUARE - (5.0, 0.0), part=1)
    block = RuledBlock(0.0, 20.0, parts)
    assert [section_of(block, share).area for share in (0.0, 0.25, 1.0)] == pytest.approx([200.0, 150.0, 200.0])
    assert section_of(block, 0.25).is_valid


def test_hollows_belong_to_their_own_part() -> None:
    """Each of two parts has its own hollow, in the section, in the area and in the mesh."""
    bore = 0.5 * SQUARE + (2.5, 2.5)
    rings = []
    for part, place in enumerate([(0.0, 0.0), (40.0, 3.0)]):
        rings.append(matched(SQUARE + place, SQUARE + place, part=part))
        rings.append(matched(bore + place, 0.8 * bore + place, hollow=True, part=part))
    block = RuledBlock(0.0, 20.0, tuple(rings))
    region = section_of(block, 0.0)
    assert [len(part.interiors) for part in region.geoms] == [1, 1]
    shares = np.array([0.0, 1.0])
    assert areas(block, shares) == pytest.approx([2 * 75.0, 2 * (100 - 16)])
    mesh = checked(block)
    assert mesh.volume == pytest.approx(2 * (20 * 100 - 20 * (25 + 16 + 20) / 3), rel=1e-12)
    assert mesh.body_count == 2


def test_nothing_has_an_empty_mesh() -> None:
    """A tip block alone, and no blocks at all, give no vertices and no faces, of the usual kinds."""
    tip = RuledBlock(0.0, 40.0, ())
    for vertices, faces in (block_mesh(tip), join_meshes([])):
        assert vertices.shape == faces.shape == (0, 3)
        assert vertices.dtype == np.float64
        assert faces.dtype == np.int64
    assert volume(tip) == 0.0
    assert section_of(tip, 0.5).is_empty


def test_blocks_of_different_outlines_stay_in_their_places() -> None:
    """No face of a built body reaches over more than one block, and the volume is that of the prisms together."""
    shapes = [SQUARE, CHINE, TRIANGLE]
    blocks = [RuledBlock(10.0 * n, 10.0 * (n + 1), (matched(shape, shape, part=n),)) for n, shape in enumerate(shapes)]
    vertices, faces = join_meshes([block_mesh(block) for block in blocks])
    assert faces.dtype == np.int64
    assert faces.min() == 0
    assert np.ptp(vertices[faces][..., 0], axis=1).max() == 10.0
    assert zoo.mesh_volume((vertices, faces)) == pytest.approx(10 * sum(Polygon(shape).area for shape in shapes))
    mesh = trimesh.Trimesh(vertices, faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent


def star(seed: int) -> npt.NDArray[np.float64]:
    """An anticlockwise ring seen whole from its middle, with bays as deep as they come out; no two heights equal."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(3, 15))
    turn = np.sort(2 * np.pi * (np.arange(count) + rng.uniform(0.0, 0.8, count)) / count)
    return np.asarray(
        rng.uniform(12.0, 40.0, count)[:, None] * np.column_stack([np.cos(turn), np.sin(turn)]) + (7.0, -5.0)
    )


def test_lacing_is_a_triangulation_or_nothing() -> None:
    """Of rings with bays and without: two triangles less than corners, all anticlockwise, together the ring itself."""
    found = 0
    for seed in range(120):
        ring = star(seed)
        for angle in LACED:
            faces = lace_ring(ring, angle)
            if faces is None:
                continue
            found += 1
            assert faces.shape == (len(ring) - 2, 3)
            cells = [Polygon(ring[face]) for face in faces]
            assert all(cell.exterior.is_ccw for cell in cells)
            assert shapely.union_all(cells).symmetric_difference(Polygon(ring)).area < 1e-9
            assert sum(cell.area for cell in cells) == pytest.approx(Polygon(ring).area)
    assert 100 < found < len(LACED) * 120


def test_rings_without_bays_are_laced_whatever_the_direction() -> None:
    """Points on a flattened circle begun at any of them, and a tiny one."""
    for count in range(3, 20):
        turn = 2 * np.pi * (np.arange(count) + 0.123) / count
        for begin in range(count):
            ring = np.roll(np.column_stack([40 * np.cos(turn), 9 * np.sin(turn)]), begin, axis=0)
            for angle in LACED:
                faces, tiny = lace_ring(ring, angle), lace_ring(ring / 1000, angle)
                assert faces is not None
                assert tiny is not None
                assert np.array_equal(np.unique(faces), np.arange(count))
                assert np.array_equal(faces, tiny)


def test_ring_that_turns_back_is_not_laced() -> None:
    """A bay that is open to the side leaves no two sides that rise all the way."""
    bay = np.array([(0, 0), (30, 1), (31, 30), (20, 29), (19, 9), (10, 10), (11, 31), (1, 32)], dtype=np.float64)
    assert lace_ring(bay, 0.1) is None
    assert lace_ring(bay, np.pi / 2 + 0.1) is None
    block = RuledBlock(0.0, 10.0, (matched(bay, bay),))
    assert checked(block).volume == pytest.approx(10 * Polygon(bay).area)


@pytest.mark.parametrize("seed", range(0, 60, 4))
def test_prism_over_any_ring_is_closed(seed: int) -> None:
    """Its ends are the ring, however they are cut into triangles."""
    ring = star(seed)
    mesh = checked(RuledBlock(3.0, 13.0, (matched(ring, ring),)))
    assert mesh.volume == pytest.approx(10 * Polygon(ring).area)
    assert len(mesh.faces) == 2 * len(ring) + 2 * (len(ring) - 2)
