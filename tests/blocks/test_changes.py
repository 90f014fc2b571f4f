"""Stations by themselves, and blocks divided where they would leave too much to sand."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from profiles.blocks import changes
from profiles.blocks.body import Body, cut
from profiles.blocks.changes import CLOSEST, change_places, shape_stations
from profiles.blocks.dividing import THINNEST
from profiles.blocks.planning import plan
from profiles.blocks.settings import StationSettings
from profiles.hull.frame import Hull
from profiles.hull.mesh_shape import critical_places
from profiles.hull.reading import read
from profiles.hull.settings import ReadSettings
from tests import closed_forms as zoo
from tests.hull import mesh_files

MODELS = Path(__file__).resolve().parents[2] / "models"

KNOWN = ReadSettings(unit="mm", length_axis="x", up="z", nose="low")


@cache
def demo(name: str) -> Hull:
    return read(MODELS / name)


def fork(folder: Path) -> Hull:
    """A bar of 100 mm whose aft 60 mm are two prongs: x from 40 to 100, the slot 20 mm wide."""
    outline = [(0, -30), (100, -30), (100, -10), (40, -10), (40, 10), (100, 10), (100, 30), (0, 30)]
    low = np.array([(x, y, -15.0) for x, y in outline])
    high = low + [0, 0, 30.0]
    caps = [(0, 1, 2), (0, 2, 3), (0, 3, 4), (0, 4, 7), (4, 5, 6), (4, 6, 7)]
    n = len(outline)
    sides = [side for k in range(n) for side in ((k, (k + 1) % n, n + (k + 1) % n), (k, n + (k + 1) % n, n + k))]
    faces = np.array([*((a, c, b) for a, b, c in caps), *((a + n, b + n, c + n) for a, b, c in caps), *sides])
    file = folder / "fork.stl"
    file.write_bytes(mesh_files.stl_binary(np.vstack([low, high]), faces))
    return read(file, KNOWN)


def cut_at(hull: Hull, foam: float, **settings: float | bool | None) -> Body:
    wanted = StationSettings(thickness=foam, **settings)  # type: ignore[arg-type]
    return cut(hull, plan(hull, wanted))


def test_a_smooth_closed_hull_has_its_two_ends_as_critical_places(tmp_path: Path) -> None:
    """A spheroid has one peak and one pit along x and no saddle: its Euler characteristic is 2."""
    file = tmp_path / "spheroid.stl"
    file.write_bytes(mesh_files.stl_binary(*zoo.spheroid()))
    hull = read(file, KNOWN)
    assert critical_places(hull.surface) == pytest.approx([0.0, hull.length], abs=1e-3)
    assert change_places(hull) == ()


def test_a_fork_gets_a_station_where_it_divides(tmp_path: Path) -> None:
    """The place is the bottom of the slot, to a tenth of a millimetre, and every block is cut by a wire."""
    hull = fork(tmp_path)
    assert [station.x for station in shape_stations(hull, ())] == pytest.approx([40.0], abs=0.1)
    body = cut_at(hull, 50.0)
    assert len(body.cut_blocks) == len(body.blocks)
    assert max(block.grown.deviation.missing for block in body.cut_blocks) <= 0.01
    assert max(block.grown.sanding for block in body.cut_blocks) <= 0.05


def test_without_shape_stations_the_fork_is_cut_whole_and_its_slot_carved(tmp_path: Path) -> None:
    """A block across the bottom of the slot has one piece before and two behind; nothing is missing all the same."""
    body = cut_at(fork(tmp_path), 50.0, shape_stations=False)
    assert len(body.cut_blocks) == len(body.blocks)
    assert max(block.grown.deviation.missing for block in body.cut_blocks) <= 0.05
    # The slot is 20 mm wide and 30 mm high; 10 of its mm lie in the first block.
    assert sum(block.grown.deviation.carved_volume for block in body.cut_blocks) == pytest.approx(20 * 30 * 10, rel=0.1)


def test_changes_of_the_demo_catamaran_are_where_its_bridge_begins_and_ends() -> None:
    """Tandril's bridge stands between x = 175 and 425 of 600 mm; the note gives the option that leaves stations out."""
    hull = demo("tandril.3mf")
    share = np.array(change_places(hull)) / hull.length
    assert share == pytest.approx([0.2917, 0.7083], abs=1e-3)
    stations = plan(hull, StationSettings(thickness=50.0))
    assert any("--no-shape-stations" in note.text for note in stations.notes)


def test_stations_keep_clear_of_breaks_and_ends() -> None:
    """A break within CLOSEST of a step stands for it, and no two stations are nearer to each other."""
    hull = demo("skerrywing.stl")
    (step,) = hull.steps
    assert [station.x for station in shape_stations(hull, ())] == [step]
    assert shape_stations(hull, (step + CLOSEST / 2,)) == ()


def stepped(folder: Path, *steps: tuple[float, float]) -> Hull:
    """A round bar of 120 mm, 20 mm thick at first; from each x mm on it is thicker, up to a diameter in mm."""
    x, radius = [0.0], [10.0]
    for place, diameter in steps:
        x += [place, place]
        radius += [radius[-1], diameter / 2]
    file = folder / "stepped.stl"
    bar = zoo.revolved(np.array([*x, 120.0]), np.array([*radius, radius[-1]]), 48)
    file.write_bytes(mesh_files.stl_binary(*bar))
    return read(file, KNOWN)


@pytest.mark.parametrize(
    ("steps", "wanted"),
    [
        (((40.0, 30.0), (42.0, 60.0)), [42.0]),  # 2 mm apart: the larger step, an area of 2121 mm2 against 393
        (((40.0, 60.0), (42.0, 70.0)), [40.0]),  # likewise: 2513 mm2 against 1021
        (((40.0, 30.0), (45.0, 60.0)), [40.0, 45.0]),  # 5 mm apart: both, with a block of 5 mm between them
        (((40.0, 30.0), (80.0, 60.0)), [40.0, 80.0]),  # 40 mm apart nothing is weighed
    ],
)
def test_places_near_to_each_other_are_weighed(
    tmp_path: Path, steps: tuple[tuple[float, float], ...], wanted: list[float]
) -> None:
    """By the area of the step, pi (D^2 - d^2) / 4; no block is thinner than 3 mm."""
    hull = stepped(tmp_path, *steps)
    assert len(hull.steps) == len(steps)
    assert [station.x for station in shape_stations(hull, (), 10.0)] == pytest.approx(wanted, abs=0.01)
    spans = plan(hull, StationSettings(thickness=50.0)).spans
    assert min(span.thickness for span in spans) >= CLOSEST


@pytest.mark.parametrize(("x", "wanted"), [(45.0, [40.0]), (80.0, [40.0, 80.0])])
def test_slight_change_beside_a_large_one_gets_no_block_of_its_own(
    x: float, wanted: list[float], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A change of pieces that takes no area, 5 mm behind a step of 2513 mm2: a block of 5 mm for it alone is not worth
    its templates. 40 mm behind the step it has its station.
    """
    hull = stepped(tmp_path, (40.0, 60.0))
    monkeypatch.setattr(changes, "change_places", lambda _: (x,))
    assert [station.x for station in shape_stations(hull, (), 10.0)] == pytest.approx(wanted, abs=0.01)


def test_a_step_as_station_leaves_less_to_sand_than_a_block_across_it() -> None:
    """With the station both limits at the step are faces; without it the wire runs across."""
    hull = demo("skerrywing.stl")
    with_station, without = cut_at(hull, 40.0, most=None), cut_at(hull, 40.0, most=None, shape_stations=False)
    most = [max(block.grown.sanding for block in body.cut_blocks) for body in (with_station, without)]
    assert most[0] < 2.0
    assert most[1] > 2.5 * most[0]


def test_blocks_are_divided_until_no_more_than_asked_is_left_to_sand() -> None:
    """Foam of 58 mm leaves over 2 mm on the flying boat; with a limit of 1.5 mm the blocks concerned become thinner."""
    whole = cut_at(demo("skerrywing.stl"), 58.0, most=None)
    assert max(block.grown.sanding for block in whole.cut_blocks) > 1.5
    body = cut_at(demo("skerrywing.stl"), 58.0, most=1.5)
    assert max(block.grown.sanding for block in body.cut_blocks) <= 1.5
    assert len(whole.blocks) < len(body.blocks) <= 2 * len(whole.blocks)
    assert [block.span.number for block in body.blocks] == list(range(1, len(body.blocks) + 1))
    assert sum(block.span.thickness for block in body.blocks) == pytest.approx(body.hull.length)
    assert min(block.span.thickness for block in body.cut_blocks) >= THINNEST
    (note,) = [note.text for note in body.stations.notes if "--most none" in note.text]
    thin = [span.number for span in body.stations.spans if span.x_fore not in whole.stations.stations]
    assert all(f"{number:02d}" in note for number in (thin[0], thin[-1]))


def test_a_limit_that_is_kept_changes_nothing() -> None:
    """No block is divided without need."""
    hull = demo("skerrywing.stl")
    assert cut_at(hull, 40.0).stations.stations == plan(hull, StationSettings(thickness=40.0)).stations
