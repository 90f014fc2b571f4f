"""From file to hull: real meshes that nobody here made, and what each comes out as."""

from pathlib import Path

import pytest

from profiles.errors import HullError
from profiles.hull.frame import Hull
from profiles.hull.reading import read
from profiles.hull.sections import Side, section
from profiles.hull.settings import ReadSettings
from profiles.notes import NoteKind

MESHES = Path(__file__).parents[2].parent / "shared" / "meshes"

REAL = {
    "rc_yacht_core.stl": ("x", "z", "high", 926.3),
    "sail_drone_hull.stl": ("x", "z", "high", 2499.4),
    "sail_drone_hull.dae": ("x", "z", "high", 2499.4),
    "small_boat1.stl": ("y", "z", "low", 7855.1),
    "small_boat1.dae": ("y", "z", "low", 7855.1),
    "auv_torpedo_body.stl": ("x", "z", "high", 1936.0),
    "fish_body.obj": ("z", "y", "high", 2914.5),
}
"""Length axis, up, nose and length (mm, drawn in metres), looked up in pictures of each mesh."""


def real(name: str, **options: object) -> Hull:
    path = MESHES / name
    if not path.exists():
        pytest.skip("the shared meshes are not here")
    return read(path, ReadSettings(unit="m", **options))  # type: ignore[arg-type]


def notes_of(hull: Hull, kind: NoteKind) -> str:
    return " | ".join(note.text for note in hull.notes if note.kind is kind)


@pytest.mark.parametrize("name", REAL)
def test_axes_of_real_meshes_are_found(name: str) -> None:
    """Length, up and nose of real meshes come out as a person sees them."""
    hull = real(name)
    found = (hull.axes.length_axis, hull.axes.up, hull.axes.nose)
    assert (*found, round(hull.length, 1)) == REAL[name]
    assert hull.surface.bounds[0][0] == pytest.approx(0.0, abs=1e-9)


def test_yacht_keeps_its_two_voids() -> None:
    """The voids of the model yacht's core are voids of its one body, and its volume is the mesh's."""
    hull = real("rc_yacht_core.stl")
    assert (hull.body_count, hull.void_count, hull.volume_from) == (1, 2, "mesh")
    assert all(note.kind is not NoteKind.REPAIR for note in hull.notes)


def test_repeated_faces_of_the_torpedo_are_dropped() -> None:
    """Two thirds of the torpedo's faces are repeats; the rest is closed along its whole length."""
    hull = real("auv_torpedo_body.stl")
    assert "dropped 2574 repeated faces" in notes_of(hull, NoteKind.REPAIR)
    assert hull.body_count == 17
    assert "left out one small body" in notes_of(hull, NoteKind.ASSUMPTION)
    assert "stay open" not in notes_of(hull, NoteKind.WARNING)


def test_inside_out_boat_is_turned_and_its_deck_closed() -> None:
    """The boat drawn inside out and without a deck is turned, and closed from sheer to sheer."""
    repairs = notes_of(real("small_boat1.stl"), NoteKind.REPAIR)
    assert "inside out" in repairs
    assert "open deck closed straight across the sheer" in repairs


def test_half_boat_is_mirrored() -> None:
    """The half boat, whose cut side strays from the centre plane, is mirrored and the largest snap is reported."""
    hull = real("small_boat1.dae", bodies=(1,))
    assert hull.breadth == pytest.approx(3629.6, abs=1.0)
    assert "half hull mirrored at x = -265.2 mm: edges up to" in notes_of(hull, NoteKind.REPAIR)


def test_drone_hull_is_a_shell_and_can_be_filled() -> None:
    """The open-top drone hull is reported as hollow; filled, its sections are as wide as its outside."""
    hull, plug = real("sail_drone_hull.stl", solid=False), real("sail_drone_hull.stl")
    assert "--solid" in notes_of(hull, NoteKind.WARNING)
    assert plug.volume > 5 * hull.volume
    middle = section(plug.surface, plug.length / 2, Side.AFT).region
    assert middle.bounds[2] - middle.bounds[0] == pytest.approx(plug.breadth, rel=0.1)


def test_unknown_body_lists_what_there_is() -> None:
    """Asked for a body that is not there, the message lists those that are."""
    with pytest.raises(HullError, match=r"body 1 .* mm"):
        real("auv_torpedo_body.stl", bodies=(99,))


@pytest.mark.parametrize("shift", [1, 4, 13])
def test_records_out_of_step_are_refused_at_once(tmp_path: Path, shift: int) -> None:
    """An STL that lost a few bytes near its beginning is a heap of triangles; it is refused by what is seen there."""
    content = (Path(__file__).parents[2] / "models" / "skerrywing.stl").read_bytes()
    path = tmp_path / "torn.stl"
    path.write_bytes(content[:2000] + content[2000 + shift :] + bytes(shift))
    with pytest.raises(HullError):
        read(path, ReadSettings(unit="mm"))
