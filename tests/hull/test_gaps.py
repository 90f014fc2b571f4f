"""Cracks and openings: what is closed unasked, what by --bridge, what the message says, and what is refused."""

import dataclasses
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest

from profiles.blocks.planning import plan
from profiles.blocks.settings import StationSettings
from profiles.errors import HullError
from profiles.hull.bridges import bridge_for
from profiles.hull.frame import Hull, place
from profiles.hull.gaps import Closing, bridge_all
from profiles.hull.reading import read
from profiles.hull.repair import repair_mesh
from profiles.hull.sections import Side, section
from profiles.hull.settings import ReadSettings
from profiles.hull.surface import RawMesh, SectionRules, with_rules
from profiles.notes import NoteKind
from tests import closed_forms as zoo
from tests.hull.test_sections_cases import Line, drawn_out

MESHES = Path(__file__).parents[2].parent / "shared" / "meshes"
FOAM = StationSettings(thickness=50.0)


def hull_of(mesh: zoo.Mesh, **options: object) -> Hull:
    raw = RawMesh("hull", "STL", *mesh, "mm", "option")
    surface, _ = repair_mesh(raw)
    return place(surface, raw, ReadSettings(length_axis="x", up="z", nose="low", mirror="none", **options))  # type: ignore[arg-type]


def notes_of(hull: Hull, kind: NoteKind) -> str:
    return " | ".join(note.sentence for note in hull.notes if note.kind is kind)


def cracked(width: float) -> zoo.Mesh:
    """A box of 300 x 60 x 40 mm in two shells, `width` mm apart along both sides and at both ends, 20 mm up."""
    lower, upper = zoo.box(300.0, depth=20.0 - width / 2), zoo.box(300.0, depth=20.0 - width / 2)
    lower = lower[0], lower[1][~(lower[0][lower[1]][:, :, 2] > 0).all(axis=1)]
    upper = upper[0] + (0, 0, 20.0 + width / 2), upper[1][~(upper[0][upper[1]][:, :, 2] == 0).all(axis=1)]
    return zoo.joined(lower, upper)


@pytest.mark.parametrize("width", [0.2, 0.85])
def test_crack_within_the_rule_is_closed_and_reported(width: float) -> None:
    """Up to the larger of 0.5 mm and 0.3 % of the length, 0.9 mm here; the sections are the sound box's."""
    hull = hull_of(cracked(width))
    assert section(hull.surface, 111.0, Side.FORE).region.area == pytest.approx(2400.0, rel=1e-9)
    assert f"Gap closed straight: {width:.2f} mm wide" in notes_of(hull, NoteKind.REPAIR)
    assert {opening.closing for opening in hull.openings} == {Closing.CRACK}
    assert plan(hull, FOAM).spans


@pytest.mark.parametrize("width", [0.95, 5.0, 20.0])
def test_wider_gap_is_refused_with_its_width_and_closed_by_the_option_that_the_message_names(width: float) -> None:
    """The message gives the widest gap and the least whole mm that close it; with those the box is whole."""
    hull = hull_of(cracked(width))
    with pytest.raises(HullError, match=f"{width:.2f} mm wide") as caught:
        plan(hull, FOAM)
    assert f"--bridge {bridge_for(width):g}" in caught.value.remedy
    closed = hull_of(cracked(width), bridge=bridge_for(width))
    assert section(closed.surface, 111.0, Side.FORE).region.area == pytest.approx(2400.0, rel=1e-9)
    assert closed.volume == pytest.approx(300 * 2400.0, rel=1e-6)
    assert plan(closed, FOAM).spans


@pytest.mark.parametrize("scale", [1.0, 10.0])
def test_the_rule_grows_with_the_length(scale: float) -> None:
    """0.8 mm on 300 mm is a crack, and 8 mm on 3000 mm is one too; 0.3 % of the length decides."""
    vertices, faces = cracked(0.8)
    assert plan(hull_of((vertices * scale, faces)), FOAM).spans


def holed(side: int) -> zoo.Mesh:
    """A box of 300 x 60 x 40 mm with a rectangular hole, 60 x 20 mm, in its starboard side (1) or its top (2)."""
    x, across, up = (0.0, 120.0, 180.0, 300.0), (-30.0, -10.0, 10.0, 30.0), (0.0, 10.0, 30.0, 40.0)
    vertices = np.array([(a, b, c) for a in x for b in across for c in up])
    faces = []
    for axis, end, turn in ((0, 0, 1), (0, 3, 0), (1, 0, 0), (1, 3, 1), (2, 0, 1), (2, 3, 0)):
        for i in range(3):
            for k in range(3):
                if axis == side and end == 3 and (i, k) == (1, 1):
                    continue
                corner = [
                    np.insert([i + a, k + b], axis, end) @ (16, 4, 1) for a, b in ((0, 0), (1, 0), (1, 1), (0, 1))
                ]
                quad = corner[::-1] if turn else corner
                faces += [(quad[0], quad[1], quad[2]), (quad[0], quad[2], quad[3])]
    return vertices, np.array(faces, dtype=np.int64)


def test_wing_root_opening_comes_out_as_a_flat_face() -> None:
    """A hole in a side is refused unasked and closed flat by --bridge: everywhere the box's section."""
    hull = hull_of(holed(1))
    (opening,) = hull.openings
    assert opening.closing is Closing.OPEN
    assert opening.widest.width == pytest.approx(20.0)
    assert opening.x == pytest.approx((120.0, 180.0), abs=0.5)
    assert "--bridge 21" in notes_of(hull, NoteKind.WARNING)
    closed = hull_of(holed(1), bridge=21.0)
    areas = [section(closed.surface, x, side).region.area for x in (60.0, 120.0, 150.0, 179.0) for side in Side]
    assert areas == pytest.approx([2400.0] * 8)


def test_canopy_opening_is_closed_across_its_rim() -> None:
    """A hole in the top is an opening that is closed straight across unasked, and listed with its size."""
    hull = hull_of(holed(2))
    assert section(hull.surface, 150.0, Side.FORE).region.area == pytest.approx(2400.0)
    assert [(o.closing, round(o.widest.width, 6)) for o in hull.openings] == [(Closing.STRAIGHT, 20.0)]


def test_openings_are_listed_by_size() -> None:
    """The widest first."""
    widths = [opening.widest.width for opening in hull_of(zoo.joined(holed(1), cracked(0.5))).openings]
    assert widths == sorted(widths, reverse=True)
    assert len(widths) > 1


@pytest.mark.parametrize("seed", range(20))
def test_bridges_have_the_least_length_in_all(seed: int) -> None:
    """Random stretches round a circle: the gaps sum to the least of all ways to join the ends, tried one by one."""
    random = np.random.default_rng(seed)
    count = int(random.integers(2, 6))
    cuts = np.sort(random.uniform(0.0, 2 * np.pi, 2 * count))
    lines: list[Line] = []
    for begin, end in cuts.reshape(-1, 2):
        turn = np.linspace(begin, end, 6)
        lines.append([(40 * float(np.cos(t)), 40 * float(np.sin(t))) for t in turn])
    surface = with_rules(drawn_out(*lines), SectionRules(bridge=200.0))
    gaps = section(surface, 37.0, Side.FORE).gaps
    ends, starts = np.array([line[-1] for line in lines]), np.array([line[0] for line in lines])
    apart = np.linalg.norm(ends[:, None] - starts[None], axis=2)
    least = min(sum(apart[k, way[k]] for k in range(count)) for way in permutations(range(count)))
    assert sum(gaps) == pytest.approx(least)


def test_short_piece_of_skin_between_two_cracks_is_not_closed_upon_itself() -> None:
    """A piece 1 mm long between cracks of 1.5 mm: its ends are nearer to each other than to their neighbours."""
    around: Line = [(-2.0, 40.0), (-30.0, 40.0), (-30.0, 0.0), (30.0, 0.0), (30.0, 40.0), (2.0, 40.0)]
    piece: Line = [(0.5, 40.0), (-0.5, 40.0)]
    surface = with_rules(drawn_out(around, piece), SectionRules(crack=2.0, bridge=2.0))
    cut = section(surface, 37.0, Side.FORE)
    assert cut.gaps == pytest.approx((1.5, 1.5))
    assert cut.region.area == pytest.approx(2400.0)


def test_bridge_goes_round_where_the_straight_way_would_cross_the_skin() -> None:
    """Two tongues in a trough: the nearest ends lie on the two sides of one tongue, and are not joined through it."""
    outer: Line = [(-30.0, 40.0), (-30.0, 0.0), (30.0, 0.0), (30.0, 40.0)]
    cut = section(with_rules(drawn_out(outer), SectionRules(bridge=100.0)), 37.0, Side.FORE)
    assert cut.region.area == pytest.approx(2400.0)


def test_bridge_that_turns_the_outline_inside_out_is_refused_with_the_place() -> None:
    """A figure of eight left open at one end: no straight bridge makes a simple outline of it."""
    eight: Line = [(-30.0, 0.0), (30.0, 40.0), (30.0, 0.0), (-30.0, 38.0)]
    with pytest.raises(HullError, match=r"x = 37\.00 mm .* a bridge would cross it"):
        section(with_rules(drawn_out(eight), SectionRules(bridge=100.0)), 37.0, Side.FORE)


def test_bridge_wider_than_the_hull_is_refused() -> None:
    """Wider than breadth and depth it would close anything over anything."""
    with pytest.raises(HullError, match="--bridge 63 is wider than the hull"):
        hull_of(cracked(0.2), bridge=63.0)


def test_first_look_closes_everything() -> None:
    """What is too wide for templates is still looked at, so that a picture can be drawn."""
    hull = hull_of(cracked(20.0))
    assert section(bridge_all(hull.surface), 111.0, Side.FORE).region.area == pytest.approx(2400.0)


@pytest.mark.parametrize(
    ("name", "words", "options"),
    [
        ("small_boat1.stl", "--bridge 176", {"bridge": 176.0}),
        ("small_boat1.dae", "--body 1", {"bodies": (1,)}),
        ("light_plane_body.dae", "--bridge 138", {"bridge": 138.0}),
    ],
)
def test_real_mesh_is_read_with_the_option_that_its_message_names(
    name: str, words: str, options: dict[str, object]
) -> None:
    """Three meshes that nobody here made: refused with an option that closes them, and whole with it."""
    if not (MESHES / name).exists():
        pytest.skip("the shared meshes are not here")
    settings = ReadSettings(length=900.0)
    with pytest.raises(HullError) as caught:
        plan(read(MESHES / name, settings), FOAM)
    assert words in caught.value.remedy
    hull = read(MESHES / name, dataclasses.replace(settings, **options))  # type: ignore[arg-type]
    assert all(opening.closing is not Closing.OPEN for opening in hull.openings)
    assert plan(hull, FOAM).spans
