"""Small loose things in a file are left out and listed; what touches the hull, or is large, stays."""

from pathlib import Path

import numpy as np
import pytest

from profiles.hull.frame import Hull
from profiles.hull.reading import read
from profiles.hull.settings import ReadSettings
from tests import closed_forms as zoo
from tests.hull.mesh_files import stl_binary

HULL = zoo.box(300.0, 60.0, 40.0)


def moved(mesh: zoo.Mesh, x: float, y: float, z: float) -> zoo.Mesh:
    return mesh[0] + (x, y, z), mesh[1]


def hull_of(folder: Path, *meshes: zoo.Mesh, **options: object) -> Hull:
    path = folder / "hull.stl"
    path.write_bytes(stl_binary(*zoo.joined(*meshes)))
    return read(path, ReadSettings(unit="mm", length_axis="x", up="z", mirror="none", **options))  # type: ignore[arg-type]


def is_left_out(hull: Hull) -> bool:
    return any("left out" in note.text and "--all-bodies" in note.text for note in hull.notes)


FITTING = zoo.box(10.0, 10.0, 10.0)


@pytest.mark.parametrize("place", [(100.0, 0.0, 45.0), (100.0, 60.0, 10.0), (-30.0, 0.0, 10.0), (100.0, 0.0, 40.5)])
def test_small_body_apart_from_the_hull_is_left_out_and_listed(
    tmp_path: Path, place: tuple[float, float, float]
) -> None:
    """A cube of 10 mm over the deck, beside the hull and before it; the hull's size and volume are its own."""
    hull = hull_of(tmp_path, HULL, moved(FITTING, *place))
    assert is_left_out(hull)
    assert (hull.length, hull.depth, hull.body_count) == (300.0, 40.0, 1)
    assert hull.volume == pytest.approx(300 * 2400.0)
    kept = hull_of(tmp_path, HULL, moved(FITTING, *place), all_bodies=True)
    assert not is_left_out(kept)
    assert kept.body_count == 2


@pytest.mark.parametrize("place", [(100.0, 0.0, 40.0), (100.0, 0.0, 35.0), (100.0, 0.0, 10.0), (300.0, 0.0, 20.0)])
def test_small_body_that_touches_or_lies_in_the_hull_stays(tmp_path: Path, place: tuple[float, float, float]) -> None:
    """On the deck, half sunk, wholly inside, and against the transom."""
    assert not is_left_out(hull_of(tmp_path, HULL, moved(FITTING, *place)))


def test_small_body_on_another_that_stays_stays_too(tmp_path: Path) -> None:
    """A mast of cubes, one on the other: only what stands clear of all of them is left out."""
    mast = [moved(FITTING, 100.0 + n, 0.0, 40.0 + 10.0 * n) for n in range(4)]
    hull = hull_of(tmp_path, HULL, *mast, moved(FITTING, 100.0, 0.0, 90.0))
    assert hull.body_count == 5
    assert hull.depth == pytest.approx(80.0)


def test_large_body_apart_stays(tmp_path: Path) -> None:
    """Two hulls side by side, and a third a thirtieth of their size."""
    twin = [
        moved(HULL, 0.0, -60.0, 0.0),
        moved(HULL, 0.0, 60.0, 0.0),
        moved(zoo.box(100.0, 20.0, 12.0), 0.0, 0.0, 20.0),
    ]
    assert not is_left_out(hull_of(tmp_path, *twin))


def test_many_corners_of_the_hull_against_a_large_face_of_a_small_body(tmp_path: Path) -> None:
    """A plate, two triangles a side, on the tip of a pyramid: it touches though none of its corners is near."""
    ring = np.array([(-30.0, 0.0), (30.0, 0.0), (30.0, 40.0), (-30.0, 40.0)])
    x = np.array([0.0, 300.0, 330.0])
    pyramid = zoo.loft(x, np.stack([ring, ring, 0 * ring + (0.0, 20.0)]))
    plate = moved(zoo.box(1.0, 100.0, 100.0), 330.0, 0.0, -30.0)
    assert not is_left_out(hull_of(tmp_path, pyramid, plate))
