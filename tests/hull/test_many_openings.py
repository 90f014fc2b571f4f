"""Files so damaged that they hold thousands of openings or of loose bodies."""

import numpy as np
import pytest

from profiles.hull.loose import leave_out_loose
from profiles.hull.openings import find_rims
from profiles.hull.repair import repair_mesh
from profiles.hull.surface import RawMesh, surface_of
from tests import closed_forms as zoo


def test_hundreds_of_openings_are_listed_but_for_those_of_a_crack() -> None:
    """Hundreds of triangles of a spheroid are missing, and no opening looks back at another."""
    vertices, faces = zoo.spheroid(2500.0, 100.0, 400, 64)
    middle = np.flatnonzero(abs(vertices[faces][:, :, 0].mean(axis=1) - 2500.0) < 2000.0)
    missing = middle[::41]
    assert len(missing) > 500
    surface = surface_of(vertices, np.delete(faces, missing, axis=0))
    rims = find_rims(surface)
    assert len(rims) == len(missing)
    corners = vertices[faces[missing]]
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
    assert sorted(rim.area for rim in rims) == pytest.approx(sorted(area), rel=1e-9)


def test_two_halves_with_a_crack_between_them_have_no_opening_there() -> None:
    """The rims of a crack all round the body look at each other from 2 mm apart."""
    vertices, faces = zoo.spheroid(100.0, 50.0)
    aft = vertices[faces][:, :, 0].mean(axis=1) > 100.0
    halves = np.concatenate([vertices, vertices + (2.0, 0.0, 0.0)])
    surface = surface_of(halves, np.where(aft[:, None], faces + len(vertices), faces))
    assert find_rims(surface) == ()


def test_hundreds_of_loose_bodies_are_left_out_and_those_that_touch_stay() -> None:
    """Two rows of cubes of 0.5 mm: 300 over the box, and 300 that stand on it."""
    body = zoo.box(300.0, 60.0, 40.0)
    cube = zoo.box(0.5, 0.5, 0.5)
    places = [(0.9 * n, 20.0, height) for height in (40.0, 60.0) for n in range(1, 301)]
    small = [(cube[0] + place, cube[1]) for place in places]
    surface, _ = repair_mesh(RawMesh("hull", "STL", *zoo.joined(body, *small), "mm", "option"))
    kept, (note,) = leave_out_loose(surface)
    assert len(np.unique(kept.body)) == 301
    assert "300 small bodies" in note.text


def test_a_file_in_a_thousand_pieces_keeps_them_all_and_reports_it() -> None:
    """So many bodies are a damaged mesh."""
    cube = zoo.box(1.0, 1.0, 1.0)
    small = [(cube[0] + (400.0 + 2.0 * n, 0.0, 0.0), cube[1]) for n in range(1000)]
    surface, _ = repair_mesh(RawMesh("hull", "STL", *zoo.joined(zoo.box(), *small), "mm", "option"))
    kept, (note,) = leave_out_loose(surface)
    assert kept is surface
    assert "1001 bodies" in note.text
