"""The hull frame: axes, halves, openings, size, datum and volume, found from the shape and overridden by the user."""

import dataclasses
from functools import cache
from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point

from profiles.arrays import Floats
from profiles.errors import HullError, JobError
from profiles.hull.frame import Hull, place
from profiles.hull.repair import repair_mesh
from profiles.hull.sections import Side, section
from profiles.hull.settings import ReadSettings
from profiles.hull.surface import RawMesh, surface_of
from profiles.hull.trial_sections import datum_height, gauss_stations, section_volume
from profiles.notes import NoteKind
from profiles.setting import check_settings
from tests import closed_forms as zoo

LENGTH, BREADTH, DEPTH = 300.0, 60.0, 40.0


def raw(mesh: zoo.Mesh, up_hint: str | None = None) -> RawMesh:
    return RawMesh("body", "STL", np.asarray(mesh[0], dtype=np.float64), mesh[1], "mm", "assumed", up_hint)


def placed(mesh: zoo.Mesh, up_hint: str | None = None, **options: object) -> Hull:
    source = raw(mesh, up_hint)
    surface, notes = repair_mesh(source)
    return place(surface, source, ReadSettings(**options), notes)  # type: ignore[arg-type]


def notes_of(hull: Hull, kind: NoteKind) -> str:
    return " | ".join(note.text for note in hull.notes if note.kind is kind)


def _half_rings(rows: int, close: bool) -> zoo.Mesh:  # noqa: FBT001 - with or without the wall at y = 0
    x = LENGTH * np.linspace(0.0, 1.0, rows)
    fine = 1 - (1 - x / LENGTH) ** 2
    half, keel, sheer = BREADTH / 2 * fine, 8 * (1 - fine), DEPTH - 6 * (x / LENGTH)
    zero = np.zeros_like(x)
    outline = [(zero, keel), (0.8 * half, keel + 12), (half, sheer), (zero, sheer)]
    rings = np.stack([np.stack(point, axis=-1) for point in outline], axis=1)
    vertices, faces = zoo.welded(zoo.loft(x, rings))
    wall = (vertices[faces][:, :, 1] == 0).all(axis=1)
    return vertices, faces if close else faces[~wall]


def half_boat(*, walled: bool, rows: int = 16) -> zoo.Mesh:
    """The starboard half of `boat`, decked; the keel and the deck's middle lie at y = 0."""
    return _half_rings(rows, walled)


def boat(*, decked: bool = True, rows: int = 16) -> zoo.Mesh:
    """A hard-chine boat of our own: pointed bow at x = 0, transom at x = LENGTH, sheer rising forward."""
    vertices, faces = half_boat(walled=False, rows=rows)
    port = vertices * (1, -1, 1), faces[:, ::-1].copy()
    vertices, faces = zoo.welded(zoo.joined((vertices, faces), port))
    if decked:
        return vertices, faces
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    return vertices, faces[normal[:, 2] < 0.9 * np.linalg.norm(normal, axis=1)]


def rotations() -> list[Floats]:
    """The 24 turns that carry the axes into each other."""
    found = []
    for order, signs in product(permutations(range(3)), product((1.0, -1.0), repeat=3)):
        matrix = np.zeros((3, 3))
        matrix[range(3), order] = signs
        if np.linalg.det(matrix) > 0:
            found.append(matrix)
    return found


def turned(mesh: zoo.Mesh, matrix: Floats) -> zoo.Mesh:
    return mesh[0] @ matrix.T, mesh[1]


@cache
def the_boat() -> Hull:
    return placed(boat())


def areas(hull: Hull, count: int = 9) -> Floats:
    x = hull.length * (np.arange(count) + 0.5) / count
    return np.array([section(hull.surface, at, Side.AFT).region.area for at in x.tolist()])


@pytest.mark.parametrize(("turn", "decked"), [(k, True) for k in range(24)] + [(k, False) for k in range(0, 24, 5)])
def test_boat_is_found_however_its_file_is_turned(turn: int, decked: bool) -> None:  # noqa: FBT001 - a parameter
    """Turned any of the 24 ways, a boat comes out with the same sections from bow to stern; it is no half."""
    matrix = rotations()[turn]
    hull = placed(turned(boat(decked=decked), matrix))
    assert (hull.length, hull.breadth, hull.depth) == pytest.approx((LENGTH, BREADTH, DEPTH), abs=1e-9)
    assert areas(hull) == pytest.approx(areas(the_boat()), rel=1e-9)
    assert "half" not in notes_of(hull, NoteKind.REPAIR)
    if not decked:
        # The open side tells which way up it is, so the frame's turn undoes the file's.
        aft, up = matrix[:, 0], matrix[:, 2]
        assert hull.axes.nose == ("low" if aft.sum() > 0 else "high")
        assert hull.axes.up == ("" if up.sum() > 0 else "-") + "xyz"[int(np.argmax(np.abs(up)))]


def test_frame_is_turned_never_mirrored() -> None:
    """A lopsided hull keeps its volume's sign and its starboard side, seen from aft with the deck up."""
    vertices, faces = boat()
    lump = zoo.box(20, 6, 6, x=200.0, y=30.0)
    mesh = zoo.joined((vertices, faces), (lump[0] + (0, 0, 20.0), lump[1]))
    for matrix in rotations()[::5]:
        up, aft = matrix[:, 2], matrix[:, 0]
        name = ("" if up.sum() > 0 else "-") + "xyz"[int(np.argmax(np.abs(up)))]
        hull = placed(
            turned(mesh, matrix),
            up=name,
            length_axis="xyz"[int(np.argmax(np.abs(aft)))],
            nose="low" if aft.sum() > 0 else "high",
        )
        lump_y = hull.surface.vertices[hull.surface.faces[hull.surface.body == 2]][..., 1]
        assert lump_y.min() > 20.0
        assert zoo.mesh_volume((hull.surface.vertices, hull.surface.faces)) > 0


@given(st.tuples(*[st.floats(-1e4, 1e4)] * 3))
@settings(max_examples=6, deadline=None)
def test_moving_the_body_in_its_file_changes_nothing(offset: tuple[float, float, float]) -> None:
    """A hull moved about in its file comes out in the same place, with the same datum and the same notes."""
    here, there = placed(boat()), placed((boat()[0] + offset, boat()[1]))
    assert there.surface.vertices == pytest.approx(here.surface.vertices, abs=1e-7)
    assert there.lowest == here.lowest
    assert there.volume == pytest.approx(here.volume, rel=1e-9)
    assert [note.text for note in there.notes] == [note.text for note in here.notes]


def test_frame_puts_the_foremost_point_the_centre_plane_and_the_datum_at_zero() -> None:
    """Least x is 0, y is the same to both sides, and the datum stands a whole number of mm above the lowest point."""
    hull = placed((boat()[0] + (5.0, 7.0, 9.0), boat()[1]))
    low, high = hull.surface.bounds
    assert low[0] == 0.0
    assert low[1] == -high[1]
    assert low[2] == pytest.approx(hull.lowest, abs=1e-12)
    assert hull.lowest == round(hull.lowest)
    inside = [section(hull.surface, x, Side.AFT).region.covers(Point(0.0, 0.0)) for x in (30.0, 150.0, 290.0)]
    assert all(inside)


def test_options_overrule_every_guess() -> None:
    """Length axis, up and nose are taken as given, and then nothing is guessed about them."""
    hull = placed(boat(), length_axis="y", up="-x", nose="high")
    assert (hull.axes.length_axis, hull.axes.up, hull.axes.nose) == ("y", "-x", "high")
    assert (hull.length, hull.breadth, hull.depth) == pytest.approx((BREADTH, DEPTH, LENGTH))
    assert "Override" not in notes_of(hull, NoteKind.ASSUMPTION)


def test_every_guess_names_what_overrules_it() -> None:
    """Axes, up and nose are reported with a reason and the option that changes them."""
    guesses = notes_of(placed(boat()), NoteKind.ASSUMPTION)
    for word in ("symmetric about y", "--length-axis", "--up -z", "--nose high", "cut off square"):
        assert word in guesses


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"length_axis": "x", "up": "-x"}, "are both x"),
        ({"length": 100.0, "scale": 0.5}, "not both"),
        ({"length": -1.0}, "above 0, found -1"),
        ({"length": float("nan")}, "above 0, found nan"),
        ({"up": "w", "nose": "left"}, "up: expected one of.*nose: expected one of"),
    ],
)
def test_contradictory_options_are_refused(options: dict[str, object], message: str) -> None:
    """Options that contradict each other or are out of range are refused by name."""
    with pytest.raises(JobError, match=message):
        check_settings(ReadSettings(**options))  # type: ignore[arg-type]


def test_half_mirrored_in_the_length_axis_is_refused() -> None:
    """The axis a half is mirrored in cannot be its length or its height."""
    with pytest.raises(JobError, match="mirrored in"):
        placed(half_boat(walled=True), mirror="y", up="y")


@pytest.mark.parametrize(("options", "length"), [({"length": 820.0}, 820.0), ({"scale": 1 / 12}, 25.0)])
def test_length_and_scale_set_the_size(options: dict[str, object], length: float) -> None:
    """A given length is the length overall; a scale multiplies; the volume goes with the cube."""
    hull = placed(boat(), None, **options)
    assert hull.length == pytest.approx(length, rel=1e-12)
    assert hull.volume == pytest.approx(the_boat().volume * (length / LENGTH) ** 3, rel=1e-9)


def test_up_hint_decides_where_the_shape_does_not() -> None:
    """A body of revolution along z stands as its format says, and as y is up by habit otherwise."""
    vertices, faces = zoo.sears_haack()
    upright = vertices[:, [1, 2, 0]], faces
    assert placed(upright, "x").axes.up == "x"
    assert placed(upright).axes.up == "y"
    assert placed(upright).axes.length_axis == "z"


@pytest.mark.parametrize("form", ["glTF", "COLLADA"])
def test_standard_of_the_format_goes_before_the_shape_and_a_contradiction_is_reported(form: str) -> None:
    """A boat open towards -z whose file says that z is up: it stays as the file has it, closed below, with a warning
    that names both ways; of another format the open deck decides.
    """
    vertices, faces = boat(decked=False)
    mesh = vertices * (1, -1, -1), faces
    declared = dataclasses.replace(raw(mesh, "z"), format=form)
    surface, _ = repair_mesh(declared)
    hull = place(surface, declared, ReadSettings())
    assert hull.axes.up == "z"
    assert "open bottom closed straight" in notes_of(hull, NoteKind.REPAIR)
    assert "--up -z" in notes_of(hull, NoteKind.WARNING)
    assert hull.volume == pytest.approx(placed(mesh).volume, rel=1e-6)
    assert placed(mesh, "z").axes.up == "-z"


def test_wings_do_not_pass_for_the_hull() -> None:
    """A flying wing is wider than long: its one plane of symmetry shows which axis is the length."""
    vertices, faces = zoo.spheroid(semi_length=200.0, radius=30.0)
    span, chord, thick = vertices[:, 0] - 200.0, vertices[:, 1], vertices[:, 2] / 5
    swept = np.column_stack([chord + 0.4 * np.abs(span), -span, thick + 0.1 * np.abs(span)])
    hull = placed((swept, faces))
    assert hull.axes.length_axis == "x"
    assert hull.breadth == pytest.approx(400.0)


def aeroplane() -> zoo.Mesh:
    """A fuselage from x = 0, cut off square like a cowl, to its slender tail, with wing, tailplane and a fin that
    stands aft of all; 450 x 500 mm.
    """
    x = np.linspace(0.0, 400.0, 21)
    radius = 30.0 - 24.0 * (x / 400.0) ** 2
    angle = 2 * np.pi * np.arange(32) / 32
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    body = zoo.loft(x, np.stack([r * ring for r in radius]))
    plates = ((60.0, 500.0, 8.0, 80.0, 20.0), (60.0, 200.0, 5.0, 330.0, 0.0), (110.0, 5.0, 90.0, 340.0, 0.0))
    parts = [(zoo.box(long, wide, high, x=at)[0] + (0.0, 0.0, up), zoo.box()[1]) for long, wide, high, at, up in plates]
    return zoo.joined(body, *parts)


@pytest.mark.parametrize("way", [1, -1])
def test_fins_show_the_tail_and_do_not_count_as_fullness(way: int) -> None:
    """The cowl is the nose, though it is cut off square and the fin is not."""
    vertices, faces = aeroplane()
    hull = placed((vertices * (way, way, 1), faces))
    assert hull.axes.nose == ("low" if way > 0 else "high")
    assert "fins stand at the other end" in notes_of(hull, NoteKind.ASSUMPTION)


def test_canopy_makes_no_open_boat() -> None:
    """A small opening on top leaves a torpedo's flattened nose a nose; a boat's transom of that size is its stern."""
    x = np.linspace(0.0, 400.0, 41)
    radius = 30.0 * np.sqrt(1 - np.maximum(0.0, (x - 120.0) / 280.0) ** 2) * np.minimum(1.0, 0.45 + x / 100)
    vertices, faces = zoo.revolved(x, radius, 32)
    middle = vertices[faces].mean(axis=1)
    hole = (np.abs(middle[:, 0] - 160.0) < 40) & (middle[:, 2] > 24)
    hull = placed((vertices, faces[~hole]))
    assert hull.openings
    assert hull.axes.nose == "low"
    assert "fuller end" in notes_of(hull, NoteKind.ASSUMPTION)


def test_lopsided_body_is_warned_about() -> None:
    """A body without a plane of symmetry keeps its longest axis, with a warning."""
    vertices, faces = zoo.sears_haack()
    leaning = vertices.copy()
    leaning[:, 1] += 0.9 * vertices[:, 2] * vertices[:, 0] / LENGTH
    hull = placed((leaning, faces))
    assert hull.axes.length_axis == "x"
    assert "not symmetric about y" in notes_of(hull, NoteKind.WARNING)


@pytest.mark.parametrize("walled", [True, False], ids=["walled", "open"])
@pytest.mark.parametrize("turn", range(0, 24, 5))
def test_half_is_identified_however_its_file_is_turned(turn: int, walled: bool) -> None:  # noqa: FBT001 - a parameter
    """Half a boat, with or without a wall at its centre plane, comes out as the whole boat."""
    hull = placed(turned(half_boat(walled=walled), rotations()[turn]))
    assert hull.breadth == pytest.approx(BREADTH)
    assert areas(hull) == pytest.approx(areas(the_boat()), rel=1e-9)
    assert hull.volume == pytest.approx(the_boat().volume, rel=1e-9)
    assert hull.volume_from == "mesh"
    assert "half hull mirrored" in notes_of(hull, NoteKind.REPAIR)
    assert "--mirror none" in notes_of(hull, NoteKind.ASSUMPTION)


def test_cut_side_a_little_off_its_plane_is_snapped_and_told() -> None:
    """A half whose keel strays by a thousandth of the breadth is mirrored without a crack, the distance reported."""
    vertices, faces = half_boat(walled=False)
    strayed = vertices.copy()
    keel = vertices[:, 1] == 0
    strayed[keel, 1] = 0.06 * np.sin(7 * vertices[keel, 0])
    hull = placed((strayed, faces))
    assert hull.volume_from == "mesh"
    assert "mm off the centre plane snapped" in notes_of(hull, NoteKind.REPAIR)
    across = hull.surface.vertices[:, 1]
    assert (across == 0).sum() == keel.sum()
    assert hull.volume == pytest.approx(the_boat().volume, rel=2e-3)


def test_half_may_be_left_a_half() -> None:
    """With mirror none a walled half is used as it is."""
    hull = placed(half_boat(walled=True), mirror="none")
    assert hull.breadth == pytest.approx(BREADTH / 2)


def test_mirror_across_an_axis_without_a_flat_side_is_refused() -> None:
    """Asked to mirror where nothing is flat, the message says where it looked."""
    with pytest.raises(HullError, match="flat side across y, found none"):
        placed(zoo.sears_haack(), mirror="y")


def half_round(axis: int) -> zoo.Mesh:
    """Half of a spheroid along x, walled at the plane through its axis; the wall faces -y (1) or -z (2)."""
    vertices, faces = zoo.spheroid(semi_length=200.0, radius=30.0)
    upper = faces[(vertices[faces][:, :, axis] > -1e-9).all(axis=1)]
    table: dict[tuple[int, int], None] = {}
    for face in upper.tolist():
        for a, b in zip(face, face[1:] + face[:1], strict=True):
            if (b, a) in table:
                del table[(b, a)]
            else:
                table[(a, b)] = None
    centre = len(vertices)
    wall = np.array([(b, a, centre) for a, b in table])
    middle = np.array([[200.0, 0.0, 0.0]])
    return np.concatenate([vertices, middle]), np.concatenate([upper, wall])


def test_half_round_body_with_its_flat_side_level_is_whole_and_standing_is_a_half() -> None:
    """Where symmetry alone cannot tell, decks are level and centre planes stand."""
    assert placed(half_round(2)).breadth == pytest.approx(60.0, rel=1e-3)
    assert "half" not in notes_of(placed(half_round(2)), NoteKind.REPAIR)
    assert "half hull mirrored" in notes_of(placed(half_round(1)), NoteKind.REPAIR)
    assert "half" not in notes_of(placed(half_round(1), "y"), NoteKind.REPAIR)


def test_open_deck_is_closed_straight_across_and_told() -> None:
    """A boat without a deck has the sections and the volume of the same boat with a flat one."""
    hull = placed(boat(decked=False))
    assert areas(hull) == pytest.approx(areas(the_boat()), rel=1e-9)
    assert hull.volume_from == "sections"
    assert hull.volume == pytest.approx(the_boat().volume, rel=1e-6)
    assert "open deck closed straight across the sheer from x = 0.0 to 300.0 mm" in notes_of(hull, NoteKind.REPAIR)


def test_open_end_is_closed() -> None:
    """A tube open at one end is cut like a bar closed there."""
    vertices, faces = zoo.frustum(length=300.0)
    end = (vertices[faces][:, :, 0] == 300.0).all(axis=1)
    hull = placed((vertices, faces[~end]))
    assert "open end closed" in notes_of(hull, NoteKind.REPAIR)
    assert areas(hull) == pytest.approx(areas(placed((vertices, faces))), rel=1e-9)


def test_hole_in_the_bottom_is_no_opening() -> None:
    """A hole that faces down is left to the sections, which refuse it."""
    vertices, faces = boat()
    bottom = vertices[faces].mean(axis=1)
    hole = (np.abs(bottom[:, 0] - 150) < 12) & (bottom[:, 2] < 20)
    hull = placed((vertices, faces[~hole]))
    assert "closed" not in notes_of(hull, NoteKind.REPAIR)
    assert "too wide to be closed" in notes_of(hull, NoteKind.WARNING)


@pytest.mark.parametrize("x", [8.0, 150.0, 285.0])
def test_hole_in_the_side_is_no_opening(x: float) -> None:
    """A hole in one side, amidships or near an end, is not closed straight across."""
    vertices, faces = boat(rows=31)
    middles = vertices[faces].mean(axis=1)
    hole = (np.abs(middles[:, 0] - x) < 6) & (middles[:, 1] > 0) & (middles[:, 2] > 22) & (middles[:, 2] < 32)
    assert hole.any()
    assert "closed" not in notes_of(placed((vertices, faces[~hole]), mirror="none"), NoteKind.REPAIR)


@pytest.mark.parametrize("up", [0.0, 0.1, 0.3, 3.3, 1e3 / 7, 2e3 / 7])
def test_datum_halfway_between_two_mm_does_not_depend_on_where_the_body_stands(up: float) -> None:
    """The middle of a box 41 mm deep is 20.5 mm up and rounds to 21, wherever its file puts it."""
    vertices, faces = zoo.box(depth=41.0)
    assert placed((vertices + (0, 0, up), faces), length_axis="x", up="z").lowest == -21.0
    assert datum_height((), 0.0, 41.0 - 1e-12) == 21.0


@pytest.mark.parametrize("thickness", [1.0, 2.0, 4.0])
def test_thin_shell_is_filled_and_reported(thickness: float) -> None:
    """A square pipe of 60 mm comes out as the full bar, and its wall's thickness is named; --as-is keeps the pipe."""
    pipe = zoo.tube(400.0, 60.0, 60.0 - 2 * thickness)
    hull = placed(pipe)
    assert f"a shell about {thickness:.1f} mm thick, thinner than 5 mm" in notes_of(hull, NoteKind.ASSUMPTION)
    assert "--as-is" in notes_of(hull, NoteKind.ASSUMPTION)
    assert hull.volume == pytest.approx(400 * 60.0**2, rel=1e-9)
    kept = placed(pipe, solid=False)
    assert kept.volume == pytest.approx(400 * zoo.tube_area(60.0, 60.0 - 2 * thickness), rel=1e-9)
    assert "--solid" in notes_of(kept, NoteKind.WARNING)


@pytest.mark.parametrize(("thinnest", "area"), [(None, zoo.tube_area(60.0, 40.0)), (10.1, 60.0**2)])
def test_thick_shell_is_kept_unless_the_limit_says_otherwise(thinnest: float | None, area: float) -> None:
    """A wall of 10 mm in a breadth of 60 mm can be cut; `thinnest` decides where it is given."""
    assert placed(zoo.tube(400.0, 60.0, 40.0), thinnest=thinnest).volume == pytest.approx(400 * area, rel=1e-9)


def test_hollow_hull_is_warned_about_and_filled_on_request() -> None:
    """A hollow hull is reported as one; with solid its volume is that of its outside."""
    outer, cavity = boat(), zoo.turned_inside_out(boat())
    inside = cavity[0] * (0.9, 0.85, 0.85) + (20.0, 0.0, 4.0)
    mesh = zoo.joined(outer, (inside, cavity[1]))
    hull, plug = placed(mesh, solid=False), placed(mesh, solid=True)
    assert "--solid" in notes_of(hull, NoteKind.WARNING)
    assert hull.void_count == 1
    assert plug.volume == pytest.approx(placed(outer).volume, rel=1e-6)
    assert "--solid" not in notes_of(plug, NoteKind.WARNING)


def test_steps_are_listed_and_ends_are_not() -> None:
    """A wall across the hull where the section changes is listed at its x; the end walls are not."""
    hull = placed(zoo.stepped_box(), length_axis="x", up="z", nose="low")
    areas_at = [[section(hull.surface, x, side).region.area for side in Side] for x in hull.steps]
    assert len(hull.steps) == 1
    assert areas_at[0][0] != pytest.approx(areas_at[0][1])
    assert placed(zoo.box()).steps == ()


def test_datum_of_twin_hulls_is_half_their_depth() -> None:
    """Where nothing lies on the centre plane the datum is half the depth."""
    assert placed(zoo.twin_boxes(), length_axis="x", up="z").lowest == -15.0


def test_datum_may_be_given() -> None:
    """A given datum is mm above the lowest point, inside the hull or not."""
    hull = placed(boat(), datum=-10.0)
    assert hull.lowest == 10.0
    assert hull.surface.bounds[0][2] == pytest.approx(10.0)


def test_section_volume_is_exact_for_cubic_area_curves() -> None:
    """Two-point Gauss integrates areas that go with the square of x exactly, and joints fall on the steps."""
    vertices, faces = zoo.frustum(sides=12)
    exact = zoo.mesh_volume((vertices, faces))
    assert section_volume(surface_of(vertices, faces)) == pytest.approx(exact, rel=1e-12)
    x, weights = gauss_stations(0.0, 100.0, (33.3,))
    assert weights @ x**3 == pytest.approx(100.0**4 / 4, rel=1e-12)
    assert weights[x < 33.3].sum() == pytest.approx(33.3, rel=1e-12)


def test_overlapping_bodies_are_counted_once() -> None:
    """Two boxes that overlap hold the volume of their union, taken from sections."""
    hull = placed(zoo.joined(zoo.box(), zoo.box(x=50.0)), length_axis="x", up="z")
    assert hull.volume_from == "sections"
    assert hull.volume == pytest.approx(1.5 * zoo.box_volume(), rel=1e-9)
    assert hull.body_count == 2
