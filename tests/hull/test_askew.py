"""Bodies that stand askew in their file are turned straight; sound ones never; --turn goes before."""

import re

import numpy as np
import pytest

from profiles.arrays import Floats
from profiles.errors import JobError
from profiles.hull.frame import Hull, place
from profiles.hull.repair import repair_mesh
from profiles.hull.settings import ReadSettings
from profiles.hull.surface import RawMesh
from profiles.hull.turns import as_turn
from profiles.notes import NoteKind
from profiles.setting import check_settings
from tests import closed_forms as zoo
from tests.hull.test_frame import areas, boat


def about(axis: int, degrees: float) -> Floats:
    """(3, 3): a turn about an axis of the file, anticlockwise seen from its end."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    result = np.eye(3)
    first, second = (axis + 1) % 3, (axis + 2) % 3
    result[first, first], result[first, second], result[second, first], result[second, second] = c, -s, s, c
    return result


def placed(mesh: zoo.Mesh, **options: object) -> Hull:
    raw = RawMesh("body", "STL", *mesh, "mm", "option")
    surface, _ = repair_mesh(raw)
    return place(surface, raw, ReadSettings(mirror="none", **options))  # type: ignore[arg-type]


def notes_of(hull: Hull) -> str:
    return " | ".join(note.text for note in hull.notes)


@pytest.mark.parametrize("yaw", [0.0, 3.0, -10.0, 40.0])
@pytest.mark.parametrize("roll", [0.0, 3.0, -10.0])
def test_yaw_and_roll_are_taken_out(yaw: float, roll: float) -> None:
    """A boat rolled about its length and then yawed comes out with the size and areas of the straight one."""
    vertices, faces = boat()
    straight = placed((vertices, faces))
    hull = placed((vertices @ (about(2, yaw) @ about(0, roll)).T, faces))
    assert ("turned straight" in notes_of(hull)) == bool(yaw or roll)
    assert (hull.length, hull.breadth, hull.depth) == pytest.approx(
        (straight.length, straight.breadth, straight.depth), abs=0.02
    )
    assert areas(hull) == pytest.approx(areas(straight), rel=1e-3)


@pytest.mark.parametrize("pitch", [3.0, 10.0])
def test_pitch_is_left_unless_turned_by_hand(pitch: float) -> None:
    """The plane of symmetry says nothing about pitch; --turn takes it out."""
    vertices, faces = boat()
    straight, pitched = placed((vertices, faces)), (vertices @ about(1, pitch).T, faces)
    assert "turned" not in notes_of(placed(pitched))
    hull = placed(pitched, turn=f"y={-pitch}")
    assert "as asked" in notes_of(hull)
    assert (hull.length, hull.depth) == pytest.approx((straight.length, straight.depth), abs=1e-6)
    assert areas(hull) == pytest.approx(areas(straight), rel=1e-9)


@pytest.mark.parametrize("turned", [np.eye(3), about(2, 180.0), about(2, 90.0), about(0, 180.0)])
@pytest.mark.parametrize("pitch", [-10.0, 6.0, 10.0])
def test_option_proposed_for_a_pitched_body_levels_it(pitch: float, turned: Floats) -> None:
    """A body as high at both ends and level along its middle; however it stands in its file, and yawed as well."""
    vertices, faces = zoo.spheroid(200.0, 30.0)
    mesh = vertices * (1.0, 1.5, 1.0), faces
    level = placed(mesh)
    assert "level" not in notes_of(level)
    askew = mesh[0] @ (turned @ about(2, 7.0) @ about(1, pitch)).T, faces
    option = re.search(r"--turn (.*?)\.$", next(note.text for note in placed(askew).notes if "level" in note.text))
    assert option
    hull = placed(askew, turn=option[1])
    assert (hull.length, hull.breadth, hull.depth) == pytest.approx((level.length, level.breadth, level.depth), abs=0.4)


def test_plane_of_symmetry_goes_before_the_principal_axis() -> None:
    """A boat with a long low house on one side of its deck is yawed and rolled; its skin's axis is off its plane."""
    house = zoo.box(60.0, 4.0, 3.0)[0] + (120.0, 8.0, 30.0), zoo.box()[1]
    vertices, faces = zoo.joined(boat(), house)
    straight = placed((vertices, faces), turn="none")
    hull = placed((vertices @ (about(2, 10.0) @ about(0, 8.0)).T, faces))
    assert "turned straight" in notes_of(hull)
    # By its principal axis it would come out 0.028 mm longer.
    assert (hull.length, hull.breadth) == pytest.approx((straight.length, straight.breadth), abs=0.015)


def test_turn_none_leaves_a_body_askew_with_a_warning() -> None:
    """The override that the note names."""
    vertices, faces = boat()
    mesh = vertices @ about(2, 10.0).T, faces
    assert "--turn none" in notes_of(placed(mesh))
    hull = placed(mesh, turn="none")
    assert "turned" not in notes_of(hull)
    assert any("askew" in note.text for note in hull.notes if note.kind is NoteKind.WARNING)


def test_turns_follow_each_other_as_written() -> None:
    """About z and then about x, undone in the other order."""
    vertices, faces = boat()
    mesh = vertices @ (about(2, 20.0) @ about(0, 7.0)).T, faces
    assert areas(placed(mesh, turn="z=-20, x=-7")) == pytest.approx(areas(placed((vertices, faces))), rel=1e-9)


@pytest.mark.parametrize("mesh", [boat(), boat(decked=False), zoo.wigley(), zoo.box(300.0), zoo.stepped_box()])
def test_sound_bodies_are_never_turned(mesh: zoo.Mesh) -> None:
    """Nor is one that is lopsided by a deckhouse on one side."""
    assert "turned straight" not in notes_of(placed(mesh))
    lopsided = zoo.joined(mesh, (zoo.box(30.0, 8.0, 10.0)[0] + (100.0, 12.0, 30.0), zoo.box()[1]))
    assert "turned straight" not in notes_of(placed(lopsided))


@pytest.mark.parametrize("text", ["z=90", "x=-120", "w=3", "z:3", "", "z=nan", "z=1e400", "none,z=2", "z=3 x=2"])
def test_nonsense_turns_are_refused(text: str) -> None:
    """Each with one clear sentence."""
    with pytest.raises(ValueError, match="expected turns"):
        as_turn(text)


def test_turns_made_in_python_are_checked() -> None:
    """A number is no turn."""
    with pytest.raises(JobError):
        check_settings(ReadSettings(turn=90))  # type: ignore[arg-type]
