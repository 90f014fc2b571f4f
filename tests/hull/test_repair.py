"""Mending: what is dropped, welded, turned and refused, against meshes whose volume is known in closed form."""

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from profiles.errors import HullError
from profiles.hull.edges import edge_table
from profiles.hull.repair import NEAR_MOST, choose_bodies, repair_mesh
from profiles.hull.surface import RawMesh, Surface
from tests import closed_forms as zoo

if TYPE_CHECKING:
    from profiles.arrays import Floats, Ints


def raw(mesh: zoo.Mesh) -> RawMesh:
    return RawMesh("body", "STL", np.asarray(mesh[0], dtype=np.float64), mesh[1], "mm", "assumed")


def volume(surface: Surface) -> float:
    return zoo.mesh_volume((surface.vertices, surface.faces))


def texts(mesh: zoo.Mesh) -> list[str]:
    return [note.text for note in repair_mesh(raw(mesh))[1]]


def open_box() -> zoo.Mesh:
    """A box without its top."""
    vertices, faces = zoo.box()
    top = (vertices[faces][:, :, 2] == 40.0).all(axis=1)
    return vertices, faces[~top]


def half_ellipsoid(rings: int = 24, sides: int = 48) -> zoo.Mesh:
    """The half of a spheroid of revolution with z >= 0, without a wall; rings have vertices at z = 0."""
    vertices, faces = zoo.spheroid(rings=rings, sides=sides)
    upper = (vertices[faces][:, :, 2] > -1e-9).all(axis=1)
    return vertices, faces[upper]


def spheroid_mesh_volume() -> float:
    """What the faceted spheroid holds, mm3: it lies inside the smooth one."""
    x = zoo.spheroid_rings()
    radius = 50.0 * np.sqrt(np.maximum(1 - (x / 100.0 - 1) ** 2, 0.0))
    return zoo.faceted_volume(x, radius, 48)


@pytest.mark.parametrize(
    ("mesh", "exact"),
    [
        (zoo.box(), zoo.box_volume()),
        (zoo.wedge(), zoo.wedge_volume()),
        (zoo.stepped_box(), zoo.stepped_box_volume()),
        (zoo.spheroid(), spheroid_mesh_volume()),
    ],
    ids=["box", "wedge", "stepped box", "spheroid"],
)
def test_soup_of_triangles_becomes_the_body_it_was(mesh: zoo.Mesh, exact: float) -> None:
    """Loose triangles are welded to a closed surface of the exact volume, and nothing is reported."""
    surface, notes = repair_mesh(raw(zoo.triangle_soup(mesh)))
    assert not notes
    assert len(surface.vertices) == len(mesh[0])
    assert len(edge_table(surface.faces, len(surface.vertices)).boundary) == 0
    assert volume(surface) == pytest.approx(exact, rel=1e-9)


def test_open_box_faces_outwards_by_its_capped_volume() -> None:
    """A box without a lid is measured as if it had one, and kept as it is."""
    surface, notes = repair_mesh(raw(open_box()))
    assert not notes
    assert np.array_equal(surface.faces, open_box()[1])


def test_open_half_turned_inside_out_is_turned_back() -> None:
    """Half an ellipsoid wound inwards, open at its equator, is turned outwards and reported."""
    surface, notes = repair_mesh(raw(zoo.turned_inside_out(half_ellipsoid())))
    # Faces of the equator plane add nothing to the volume about a point in that plane.
    whole = zoo.mesh_volume(zoo.spheroid())
    assert volume(surface) == pytest.approx(whole / 2, rel=1e-9)
    assert [note.text for note in notes] == ["turned the body, which was inside out"]


def test_mixed_winding_is_made_one() -> None:
    """Faces wound against their neighbours are turned, and the note counts them."""
    vertices, faces = zoo.spheroid()
    mixed = faces.copy()
    wrong = np.arange(0, len(faces), 5)
    mixed[wrong] = faces[wrong][:, ::-1]
    surface, notes = repair_mesh(raw((vertices, mixed)))
    assert volume(surface) == pytest.approx(zoo.mesh_volume(zoo.spheroid()), rel=1e-12)
    assert [note.text for note in notes] == [f"turned {len(wrong)} faces wound against the neighbours"]


@given(st.sets(st.integers(0, 11)))
@settings(max_examples=30, deadline=None)
def test_any_winding_of_a_box_is_mended(wrong: set[int]) -> None:
    """Whichever faces of a box are wound wrongly, the box comes out whole."""
    vertices, faces = zoo.box()
    mixed = faces.copy()
    for face in wrong:
        mixed[face] = faces[face][::-1]
    assert volume(repair_mesh(raw((vertices, mixed)))[0]) == pytest.approx(zoo.box_volume(), rel=1e-12)


def test_repeated_faces_are_dropped_whichever_way_they_are_wound() -> None:
    """A box whose faces come twice, and some a third time turned, is the box."""
    vertices, faces = zoo.box()
    surface, notes = repair_mesh(raw((vertices, np.concatenate([faces, faces, faces[:3, ::-1]]))))
    assert volume(surface) == pytest.approx(zoo.box_volume(), rel=1e-12)
    assert [note.text for note in notes] == ["dropped 15 repeated faces"]


def test_what_is_no_face_is_dropped_and_counted() -> None:
    """Faces with a vertex that is not a number, or with one vertex twice, are dropped and reported."""
    vertices, faces = zoo.box()
    broken = np.concatenate([vertices, [(np.nan, 0.0, 0.0)]])
    extra = np.array([(0, 1, len(vertices)), (2, 2, 3)])
    notes = texts((broken, np.concatenate([faces, extra])))
    assert notes == ["dropped 1 face with coordinates that are not numbers", "dropped 1 face with a repeated vertex"]


def test_negative_zero_is_zero() -> None:
    """Vertices that differ in the sign of zero alone are one."""
    vertices, faces = zoo.triangle_soup(zoo.box(breadth=60.0, x=0.0))
    flipped = np.where((vertices == 0) & (np.arange(len(vertices)) % 2 == 0)[:, None], -0.0, vertices)
    assert len(repair_mesh(raw((flipped, faces)))[0].vertices) == 8


def test_vertices_a_rounding_apart_are_welded_and_told() -> None:
    """Loose triangles whose corners miss each other by a rounding are sewn up; further apart they are no body."""
    rng = np.random.default_rng(3)
    vertices, faces = zoo.triangle_soup(zoo.box())
    near = vertices + rng.uniform(-1e-4, 1e-4, vertices.shape)
    surface, notes = repair_mesh(raw((near, faces)))
    assert len(surface.vertices) == 8
    assert len(notes) == 1
    assert notes[0].text.startswith("welded 28 vertex pairs less than 0.0006")
    with pytest.raises(HullError, match="only sheets"):
        repair_mesh(raw((vertices + rng.uniform(-1, 1, vertices.shape) * 10 * NEAR_MOST, faces)))


def moebius(turns: int = 24) -> zoo.Mesh:
    angle = 2 * np.pi * np.arange(turns) / turns
    rings = []
    for side in (-10.0, 10.0):
        out = 50 + side * np.cos(angle / 2)
        rings.append(np.column_stack([out * np.cos(angle), out * np.sin(angle), side * np.sin(angle / 2)]))
    a = np.arange(turns)
    b = (a + 1) % turns
    low, high = a, a + turns
    # After one turn the strip's edges have changed places.
    next_low, next_high = np.where(b == 0, turns, b), np.where(b == 0, 0, b + turns)
    faces = np.concatenate([np.column_stack([low, next_low, high]), np.column_stack([high, next_low, next_high])])
    return np.concatenate(rings), faces


def test_one_sided_strip_is_refused_with_its_place() -> None:
    """A Moebius strip has no inside and is refused."""
    with pytest.raises(HullError, match=r"Moebius.*near \(.*\) mm"):
        repair_mesh(raw(moebius()))


def test_flat_and_empty_surfaces_are_refused() -> None:
    """A flat plate, turned any way, and a file without one usable face are refused."""
    corners: Floats = np.array([(0.0, 0, 0), (100, 0, 30), (100, 50, 35), (0, 50, 5)])
    plate: Ints = np.array([(0, 1, 2), (0, 2, 3)])
    with pytest.raises(HullError, match="flat surface"):
        repair_mesh(raw((corners, plate)))
    with pytest.raises(HullError, match="none usable"):
        repair_mesh(raw((np.full((3, 3), np.nan), np.array([(0, 1, 2)]))))
    with pytest.raises(HullError, match="no face"):
        repair_mesh(raw((corners, np.array([(0, 0, 1)]))))


def inner(size: float = 20.0) -> zoo.Mesh:
    """A cube inside the zoo's box, clear of its walls."""
    vertices, faces = zoo.box(size, size, size, x=40.0)
    return vertices + (0, 0, 10.0), faces


@pytest.mark.parametrize("inside_out", [False, True])
def test_void_stays_a_void_and_belongs_to_its_body(inside_out: bool) -> None:  # noqa: FBT001 - a parameter of the test
    """A shell wound inwards inside another is a void of that body, also where the whole file is inside out."""
    mesh = zoo.joined(zoo.box(), zoo.turned_inside_out(inner()))
    surface, notes = repair_mesh(raw(zoo.turned_inside_out(mesh) if inside_out else mesh))
    assert np.unique(surface.body).tolist() == [1]
    assert volume(surface) == pytest.approx(zoo.box_volume() - 20.0**3, rel=1e-12)
    assert len(notes) == int(inside_out)


def test_nested_shell_wound_outwards_is_a_body_of_its_own() -> None:
    """A shell inside another and wound the same way is no void."""
    surface, notes = repair_mesh(raw(zoo.joined(zoo.box(), inner())))
    assert np.unique(surface.body).tolist() == [1, 2]
    assert not notes


def test_island_in_a_void_is_solid() -> None:
    """A body that floats in another one's void keeps its own number and its outward winding."""
    small = inner(8.0)
    mesh = zoo.joined(zoo.box(), zoo.turned_inside_out(inner()), (small[0] + (6.0, 0.0, 6.0), small[1]))
    surface, _ = repair_mesh(raw(mesh))
    assert np.unique(surface.body).tolist() == [1, 2]
    assert volume(surface) == pytest.approx(zoo.box_volume() - 20.0**3 + 8.0**3, rel=1e-12)


def test_bodies_are_numbered_by_size_and_turned_one_by_one() -> None:
    """The larger of two bodies is number 1 wherever it stands in the file; the one that is inside out is turned."""
    small = zoo.turned_inside_out(zoo.box(10, 10, 10, x=200.0))
    surface, notes = repair_mesh(raw(zoo.joined(small, zoo.box())))
    assert surface.body.tolist() == [2] * 12 + [1] * 12
    assert volume(surface) == pytest.approx(zoo.box_volume() + 1000.0, rel=1e-12)
    assert [note.text for note in notes] == ["turned body 2 of 2, which was inside out"]


def test_bodies_are_chosen_by_number() -> None:
    """Chosen bodies are all that is left, under their old number; an unknown number lists what there is."""
    surface, _ = repair_mesh(raw(zoo.joined(zoo.box(10, 10, 10, x=200.0), zoo.box())))
    chosen = choose_bodies(surface, (2,))
    assert volume(chosen) == pytest.approx(1000.0, rel=1e-12)
    assert chosen.body.tolist() == [2] * 12
    assert choose_bodies(surface, ()) is surface
    with pytest.raises(HullError, match=r"found 3; .*body 1 \(100 x 60 x 40 mm\), body 2 \(10 x 10 x 10 mm\)"):
        choose_bodies(surface, (1, 3))


def test_bulkhead_without_thickness_is_left_in_place() -> None:
    """A sheet that shares edges with the hull neither stops the mending nor turns any part of the hull."""
    vertices, faces = zoo.stepped_box()
    halfway = np.isclose(vertices[:, 0], np.median(vertices[:, 0]))
    ring = np.flatnonzero(halfway)
    sheet = np.array([(ring[0], ring[1], ring[2])])
    surface, _ = repair_mesh(raw((vertices, np.concatenate([faces, sheet]))))
    assert len(surface.faces) == len(faces) + 1
    assert zoo.mesh_volume((surface.vertices, surface.faces[: len(faces)])) == pytest.approx(zoo.stepped_box_volume())


def test_skin_never_sewn_along_its_keel_is_one_body() -> None:
    """Port and starboard half of a skin that only lie along each other belong to one body."""
    gap = np.array([(0.0, -0.05, 0.0)])
    halves = [zoo.box(breadth=30.0, y=side * 15.0) for side in (-1, 1)]
    skins = []
    for (points, triangles), side in zip(halves, (-1, 1), strict=True):
        corners = points[triangles]
        wall = (corners[:, :, 1] == 0).all(axis=1) | (corners[:, :, 2] == 40.0).all(axis=1)
        skins.append((points + side * -gap, triangles[~wall]))
    surface, _ = repair_mesh(raw(zoo.joined(*skins)))
    assert np.unique(surface.body).tolist() == [1]
