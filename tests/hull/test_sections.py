"""Sections: exact at every plane, from either side, and the same however the mesh is written down."""

import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold, Mesh

from profiles.errors import HullError
from profiles.hull.plugs import fill_to_plug
from profiles.hull.sections import Side, section
from profiles.hull.settings import CRACK
from profiles.hull.surface import SectionRules, Surface, surface_of, with_rules
from tests import closed_forms as zoo

BOTH = (Side.FORE, Side.AFT)


def area(surface: Surface, x: float, side: Side) -> float:
    return float(section(surface, x, side).region.area)


@pytest.mark.parametrize("x", [0.0, 13.0, 50.0, 100.0])
def test_box_has_its_end_faces_from_inside_and_nothing_from_outside(x: float) -> None:
    """A box shows its full section up to both end walls, and none beyond them."""
    surface = surface_of(*zoo.box())
    assert area(surface, x, Side.FORE) == pytest.approx(0.0 if x == 0 else 2400.0, rel=1e-12)
    assert area(surface, x, Side.AFT) == pytest.approx(0.0 if x == 100 else 2400.0, rel=1e-12)


def test_nothing_is_cut_beyond_the_body() -> None:
    """A plane beyond either end gives an empty region."""
    surface = surface_of(*zoo.box())
    assert all(section(surface, x, side).region.is_empty for x in (-1.0, 101.0) for side in BOTH)


@pytest.mark.parametrize("x", [0.0, 30.0, 55.0, 70.0, 100.0])
def test_limits_at_a_step_differ_by_exactly_the_step(x: float) -> None:
    """Just forward and just aft of a wall across the hull the two sections differ by the wall."""
    surface = surface_of(*zoo.stepped_box())
    fore, aft = zoo.stepped_box_areas(x)
    assert area(surface, x, Side.FORE) == pytest.approx(fore, abs=1e-9)
    assert area(surface, x, Side.AFT) == pytest.approx(aft, abs=1e-9)


@pytest.mark.parametrize("x", [0.0, 1e-9, 37.3, 100.0])
def test_wedge_area_grows_from_its_edge(x: float) -> None:
    """A wedge has a section in proportion to the distance from its edge, which itself has none."""
    assert area(surface_of(*zoo.wedge()), x, Side.FORE) == pytest.approx(float(zoo.wedge_area(x)), abs=1e-6)


def test_sections_through_rings_of_vertices_are_exact() -> None:
    """Planes placed exactly on vertices of a spheroid give the polygon of that ring."""
    rings = zoo.spheroid_rings()
    radius = np.sqrt(zoo.spheroid_area(rings) / np.pi)
    mesh = zoo.spheroid()
    surface = surface_of(*mesh)
    for x in np.unique(mesh[0][:, 0])[1:-1].tolist():
        exact = float(zoo.faceted_area(x, rings, radius, 48))
        for side in BOTH:
            assert area(surface, x, side) == pytest.approx(exact, rel=1e-8)  # the mesh is written to 1e-9 mm


def test_spheroid_sections_converge_with_order_two() -> None:
    """Refining the mesh of a spheroid brings its section to the closed form with order 2 (the ellipse's definition)."""
    x = 61.7
    off = []
    for fold in (1, 2, 4):
        surface = surface_of(*zoo.spheroid(rings=24 * fold, sides=48 * fold))
        off.append(abs(area(surface, x, Side.FORE) - float(zoo.spheroid_area(x))))
    orders = np.log2(np.array(off[:-1]) / np.array(off[1:]))
    assert np.all((orders > 1.8) & (orders < 2.2))


def test_volume_from_sections_converges_to_the_mesh_volume_with_order_two() -> None:
    """The trapezium rule over sections comes to the volume of a Wigley hull (Wigley 1942) with its own order, two."""
    mesh = zoo.wigley(stations=64, rows=32)
    surface = surface_of(*mesh)
    exact = zoo.mesh_volume(mesh)
    assert exact == pytest.approx(zoo.wigley_volume(), rel=2e-3)
    errors = []
    for intervals in (4, 8, 16):
        x = np.linspace(0.0, 400.0, intervals + 1)
        areas = [0.0, *(area(surface, float(place), Side.FORE) for place in x[1:-1]), 0.0]
        trapezium = float(np.trapezoid(areas, x))
        errors.append(abs(trapezium - exact))
    orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert np.all((orders > 1.7) & (orders < 2.3)), errors


def test_hollow_body_has_a_hole() -> None:
    """A pipe's section has its bore as a hole, and a plug has none."""
    surface = surface_of(*zoo.tube())
    region = section(surface, 40.0, Side.FORE).region
    assert region.area == pytest.approx(zoo.tube_area())
    assert len(region.geoms[0].interiors) == 1
    assert section(with_rules(surface, SectionRules(solid=True)), 40.0, Side.FORE).region.area == pytest.approx(60.0**2)


def test_overlapping_bodies_are_united() -> None:
    """Two boxes that overlap by half count once where they overlap."""
    mesh = zoo.joined(zoo.box(y=0.0), zoo.box(y=30.0))
    surface = surface_of(*mesh, body=np.repeat([1, 2], 12))
    assert area(surface, 50.0, Side.FORE) == pytest.approx(90.0 * 40.0)


def test_void_in_a_body_stays_hollow() -> None:
    """A shell wound inwards inside a body of the same number is a hollow."""
    inner = zoo.turned_inside_out(zoo.prism([(-5.0, 10.0), (5.0, 10.0), (5.0, 20.0), (-5.0, 20.0)], 20.0, 80.0))
    surface = surface_of(*zoo.joined(zoo.box(), inner))
    assert area(surface, 50.0, Side.FORE) == pytest.approx(2400.0 - 100.0)
    assert area(surface, 10.0, Side.FORE) == pytest.approx(2400.0)


def _open_box(missing: str) -> tuple[zoo.Floats, zoo.Ints]:
    vertices, faces = zoo.box()
    z = vertices[faces][:, :, 2]
    x = vertices[faces][:, :, 0]
    gone = (z == 40.0).all(axis=1) if missing == "top" else (x == 100.0).all(axis=1)
    return vertices, faces[~gone]


def _rim(faces: zoo.Ints) -> zoo.Ints:
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    single, count = np.unique(edges, axis=0, return_counts=True)
    rim = single[count == 1]
    return np.column_stack([rim, np.ones(len(rim), dtype=np.int64)])


def test_open_top_is_closed_straight_across_where_that_is_allowed() -> None:
    """A box without its top gives the full section when the rim is named as an opening."""
    vertices, faces = _open_box("top")
    surface = surface_of(vertices, faces, open_edges=_rim(faces))
    assert area(surface, 50.0, Side.FORE) == pytest.approx(2400.0)


def test_wide_hole_is_refused_with_its_place() -> None:
    """The same box with the rim not named is refused, and the message says where."""
    surface = surface_of(*_open_box("top"))
    with pytest.raises(HullError, match=r"x = 50\.00 mm .* open by 60\.00 mm"):
        section(surface, 50.0, Side.FORE)


@pytest.mark.parametrize(("width", "sound"), [(0.9 * CRACK, True), (1.1 * CRACK, False)])
def test_narrow_crack_is_bridged_and_told(width: float, sound: bool) -> None:  # noqa: FBT001 - the outcome of a case
    """Cracks up to CRACK are bridged and reported, wider ones refused."""
    vertices, faces = zoo.box()
    vertices = np.vstack([vertices, vertices + (0.0, 0.0, -width)])
    top = (zoo.box()[0][faces][:, :, 2] == 40.0).all(axis=1)
    faces = faces.copy()
    faces[~top] += np.where(vertices[faces[~top], 2] == 40.0, len(vertices) // 2, 0)
    surface = surface_of(vertices, faces)
    if not sound:
        with pytest.raises(HullError, match="gaps up to"):
            section(surface, 50.0, Side.FORE)
        return
    cut = section(surface, 50.0, Side.FORE)
    assert cut.gaps == pytest.approx((width, width))
    assert cut.region.area == pytest.approx(2400.0)


def test_wall_without_thickness_is_left_out_and_told() -> None:
    """A lengthwise sheet inside a box that shares its edges bounds no foam."""
    vertices, faces = zoo.box()
    corners = [
        int(np.flatnonzero((vertices == corner).all(axis=1))[0])
        for corner in ((0, -30, 0), (100, -30, 0), (100, 30, 40), (0, 30, 40))
    ]
    sheet = np.array([[corners[0], corners[1], corners[2]], [corners[0], corners[2], corners[3]]])
    cut = section(surface_of(vertices, np.concatenate([faces, sheet])), 50.0, Side.FORE)
    assert cut.region.area == pytest.approx(2400.0)
    assert cut.sheets == 1


def test_plug_of_a_shell_is_closed_from_sheer_to_sheer() -> None:
    """A thin U is filled up to the straight line between its two tops."""
    shell = shapely.Polygon([(-30, 40), (-30, 0), (30, 0), (30, 40), (28, 40), (28, 2), (-28, 2), (-28, 40)])
    plug = fill_to_plug(shapely.MultiPolygon([shell]))
    assert plug.area == pytest.approx(60 * 40)
    assert fill_to_plug(plug).equals_exact(plug, 1e-9, normalize=True)


SHAPES = {
    "spheroid": zoo.spheroid(rings=10, sides=14),
    "stepped": zoo.stepped_box(),
    "tube": zoo.tube(),
    "wigley": zoo.wigley(stations=8, rows=5),
    "twins": zoo.twin_boxes(),
}


@settings(max_examples=40, deadline=None)
@given(
    name=st.sampled_from(sorted(SHAPES)),
    shift=st.tuples(*[st.integers(-1000, 1000)] * 3),
    share=st.sampled_from([0.0, 0.25, 0.5, 0.55, 0.8, 1.0]),
    side=st.sampled_from(BOTH),
    seed=st.integers(0, 2**16),
)
def test_writing_the_mesh_down_otherwise_changes_nothing(
    name: str, shift: tuple[int, int, int], share: float, side: Side, seed: int
) -> None:
    """Translating, renumbering and refining a hull, or mirroring it in its centre plane, leaves section areas alone."""
    vertices, faces = SHAPES[name]
    x = round(share * float(vertices[:, 0].max()), 6)
    expected = area(surface_of(vertices, faces), x, side)
    rng = np.random.default_rng(seed)
    order = rng.permutation(len(vertices))
    renumbered = np.empty_like(order)
    renumbered[order] = np.arange(len(order))
    shuffled = np.roll(rng.permutation(renumbered[faces]), rng.integers(3), axis=1)
    mirrored = vertices * (1.0, -1.0, 1.0)
    variants = {
        "translated": (surface_of(vertices + shift, faces), x + shift[0]),
        "renumbered": (surface_of(vertices[order], shuffled), x),
        "refined": (surface_of(*_refined(vertices, faces)), x),
        "mirrored": (surface_of(mirrored, faces[:, ::-1]), x),
    }
    for what, (surface, place) in variants.items():
        assert area(surface, place, side) == pytest.approx(expected, rel=1e-9, abs=1e-6), what


def _refined(vertices: zoo.Floats, faces: zoo.Ints) -> tuple[zoo.Floats, zoo.Ints]:
    points, triangles = trimesh.remesh.subdivide(vertices, faces)  # type: ignore[no-untyped-call]
    return np.asarray(points), np.asarray(triangles)


@pytest.mark.parametrize("name", sorted(SHAPES))
@pytest.mark.parametrize("share", [0.123, 0.5, 0.77])
def test_areas_agree_with_two_independent_slicers(name: str, share: float) -> None:
    """Trimesh's section and manifold3d's slice give the same area to 1e-6 (general-purpose reference libraries)."""
    vertices, faces = SHAPES[name]
    x = share * float(vertices[:, 0].max()) + 1e-4
    ours = area(surface_of(vertices, faces), x, Side.FORE)
    path = trimesh.Trimesh(vertices, faces, process=False).section(plane_normal=(1, 0, 0), plane_origin=(x, 0, 0))
    assert path is not None
    assert path.to_2D()[0].area == pytest.approx(ours, rel=1e-6)
    upright = vertices[:, [1, 2, 0]].astype(np.float32)  # a cyclic change of axes: x becomes the slicer's height
    solid = Manifold(Mesh(upright, faces.astype(np.uint32)))
    assert solid.slice(x).area() == pytest.approx(ours, rel=1e-4 if x < 1 else 2e-6)
