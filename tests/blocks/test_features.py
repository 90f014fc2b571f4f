"""Features and pieces: what stands on a body, or begins, ends and splits inside a block."""

from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh
from shapely import MultiPolygon, Polygon

from profiles.arrays import Floats
from profiles.blocks.blocks import CutBlock
from profiles.blocks.body import Body, cut
from profiles.blocks.features import features_of
from profiles.blocks.joined_pairing import join_pairing
from profiles.blocks.pairing import pair_faces
from profiles.blocks.pieces import pieces_of
from profiles.blocks.planning import plan
from profiles.blocks.ruled import RuledBlock, block_mesh, section_of
from profiles.blocks.settings import StationSettings
from profiles.hull.reading import read
from profiles.hull.settings import ReadSettings

KNOWN = ReadSettings(unit="mm", length_axis="x", up="z", nose="low", all_bodies=True)


def body_of(mesh: trimesh.Trimesh, folder: Path, foam: float = 50.0) -> tuple[Body, Floats]:
    """The blocks of a mesh, and points on its surface that growth did not use."""
    file = folder / "hull.stl"
    mesh.export(file)
    hull = read(file, KNOWN)
    points = np.asarray(trimesh.sample.sample_surface(mesh, 20_000, seed=3)[0])
    points[:, 0] -= mesh.bounds[0][0]
    return cut(hull, plan(hull, StationSettings(thickness=foam))), points


def missing(body: Body, mesh_points: Floats) -> float:
    """Depth in mm by which points of the hull lie outside the ruled blocks, by trimesh's winding and distance."""
    worst = 0.0
    for block in body.blocks:
        assert isinstance(block, CutBlock)
        inside = mesh_points[
            (mesh_points[:, 0] > block.span.x_fore + 0.3) & (mesh_points[:, 0] < block.span.x_aft - 0.3)
        ]
        solid = trimesh.Trimesh(*block_mesh(block.grown.block), process=False)
        depth = trimesh.proximity.signed_distance(solid, inside)  # type: ignore[no-untyped-call]
        worst = max(worst, float(-depth.min()))
    return worst


def place(
    mesh: trimesh.Trimesh, angle: float, axis: tuple[float, float, float], by: tuple[float, float, float]
) -> trimesh.Trimesh:
    """The mesh turned about an axis by an angle in radians, then moved."""
    matrix = trimesh.transformations.rotation_matrix(angle, axis)  # type: ignore[no-untyped-call]
    mesh.apply_transform(matrix)
    mesh.apply_translation(by)
    return mesh


def spindle(radius: float = 30.0, length: float = 200.0) -> trimesh.Trimesh:
    """A rod along x from 0 to `length` mm."""
    return place(trimesh.creation.cylinder(radius, length, sections=64), np.pi / 2, (0, 1, 0), (length / 2, 0, 0))


def slab(*corners: tuple[float, float], thickness: float = 4.0) -> trimesh.Trimesh:
    """An upright fin: corners in x and z mm, so thick about y = 0."""
    flat = trimesh.creation.extrude_polygon(Polygon(corners), thickness)
    return place(flat, np.pi / 2, (1, 0, 0), (0, thickness / 2, 0))


def joined(*meshes: trimesh.Trimesh) -> trimesh.Trimesh:
    """Several bodies in one mesh."""
    whole = trimesh.util.concatenate(list(meshes))
    assert isinstance(whole, trimesh.Trimesh)
    return whole


def test_a_fin_with_slanted_edges_is_carved_on_blocks_that_a_wire_cuts(tmp_path: Path) -> None:
    """A rod of 60 mm with a fin from x = 62 to 138 mm whose edges slant by 45 degrees. The rod itself needs no sanding,
    and what is carved is no more than the fin's prism in each block.
    """
    fin = slab((62, 20), (138, 20), (138, 29), (108, 60), (92, 60), (62, 29))
    mesh = trimesh.boolean.union([spindle(), fin], engine="manifold")
    assert isinstance(mesh, trimesh.Trimesh)
    body, points = body_of(mesh, tmp_path)
    assert all(isinstance(block, CutBlock) for block in body.blocks)
    assert missing(body, points) <= 0.05
    assert max(block.grown.deviation.extra for block in body.cut_blocks) <= 0.5
    assert any(block.grown.deviation.carved for block in body.cut_blocks)
    carved = sum(block.grown.deviation.carved_volume for block in body.cut_blocks)
    prism = (138 - 62) * (60 - 30) * (4 + 2 * 0.6)
    assert 0 < carved < prism


def test_a_fin_that_stands_clear_of_the_hull_is_a_piece_of_its_own(tmp_path: Path) -> None:
    """A slab beside a rod, from x = 50 to 150 mm: both pieces are prisms, and nothing is sanded or carved."""
    beside = slab((50, 45), (150, 45), (150, 75), (50, 75))
    body, points = body_of(joined(spindle(), beside), tmp_path)
    assert missing(body, points) <= 0.05
    assert all(isinstance(block, CutBlock) for block in body.blocks)
    assert sum(block.grown.to_remove for block in body.cut_blocks) < 100.0


def test_a_piece_that_begins_inside_a_block_is_cut_square_and_carved(tmp_path: Path) -> None:
    """A cone beside a rod begins in a point at x = 70 mm, without a station there."""
    cone = place(trimesh.creation.cone(10.0, 60.0, sections=48), -np.pi / 2, (0, 1, 0), (130, 0, 60))
    mesh = joined(spindle(), cone)
    file = tmp_path / "hull.stl"
    mesh.export(file)
    hull = read(file, KNOWN)
    body = cut(hull, plan(hull, StationSettings(thickness=50.0, shape_stations=False)))
    points = np.asarray(trimesh.sample.sample_surface(mesh, 20_000, seed=3)[0])
    assert all(isinstance(block, CutBlock) for block in body.blocks)
    assert missing(body, points) <= 0.05


def test_opening_finds_what_is_narrower_than_twice_the_radius() -> None:
    """A disc of 40 mm with a rib of 4 x 15 mm that is there in one of three sections only."""
    disc = MultiPolygon([Polygon(shapely.Point(0, 0).buffer(20, 32))])
    with_rib = MultiPolygon([disc.union(shapely.box(-2, 15, 2, 35))])
    sections = [(0.0, disc), (0.5, with_rib), (1.0, disc)]
    features = features_of(sections, 8.0)
    assert features is not None
    assert features.area.bounds[3] == pytest.approx(35.3, abs=0.01)
    assert features.core_of(with_rib).area == pytest.approx(disc.area, rel=0.01)
    assert features_of([(share, disc) for share in (0.0, 0.5, 1.0)], 8.0) is None


def test_a_steady_fin_stays_with_the_core() -> None:
    """A rib of the same size in every section is no feature: a wire cuts it."""
    disc = Polygon(shapely.Point(0, 0).buffer(20, 32))
    sections = [(share, MultiPolygon([disc.union(shapely.box(-2, 15, 2, 35))])) for share in (0.0, 0.5, 1.0)]
    assert features_of(sections, 8.0) is None
    assert features_of(sections, 8.0, keep_steady=False) is not None


def test_pieces_are_traced_through_the_sections() -> None:
    """Two squares that move by less than their size are two pieces, the larger first; a third lives in one section."""
    squares = [MultiPolygon([shapely.box(n, 0, n + 10, 10), shapely.box(30 + n, 0, 36 + n, 6)]) for n in range(3)]
    squares[1] = MultiPolygon([*squares[1].geoms, shapely.box(60, 0, 63, 3)])
    pieces = pieces_of([(n / 2, region) for n, region in enumerate(squares)])
    assert [piece.fore.area for piece in pieces] == [100.0, 36.0, 0.0]


def test_joined_outlines_keep_the_partners_of_their_core() -> None:
    """Two discs with a rib that both share: points of the discs keep their partners, the rib is its own partner."""
    rib = shapely.box(-2, 5, 2, 35)
    discs = [MultiPolygon([Polygon(shapely.Point(0, 0).buffer(radius, 32))]) for radius in (20, 18)]
    core = pair_faces(*discs)
    joined = [MultiPolygon([disc.union(rib)]) for disc in discs]
    rings = join_pairing(core.rings, *joined)
    assert rings is not None
    (pair,) = rings
    high = pair.fore[:, 1] > 21
    assert np.abs(pair.fore - pair.aft)[high].max() < 1e-9
    low = pair.fore[:, 1] < 10
    assert np.hypot(*(pair.fore - pair.aft)[low].T) == pytest.approx(np.full(low.sum(), 2.0), abs=0.02)
    block = RuledBlock(0.0, 50.0, rings)
    middle = MultiPolygon([Polygon(shapely.Point(0, 0).buffer(19, 32)).union(rib)])
    assert middle.difference(section_of(block, 0.5).buffer(0.05)).area < 0.01


def test_joined_outlines_with_other_parts_on_one_face_have_no_pairing() -> None:
    """Parts are counted on both faces."""
    one = MultiPolygon([shapely.box(0, 0, 10, 10)])
    two = MultiPolygon([*one.geoms, shapely.box(20, 0, 30, 10)])
    assert join_pairing((), one, two) is None
