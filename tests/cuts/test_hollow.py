"""Hollow blocks: walls square to the surface, volumes, marks, kerf, and an outside that stays as it was."""

import math
import re
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh

from profiles import (
    Body,
    CutSettings,
    Hollow,
    PageSettings,
    cut_into,
    lay_out,
)
from profiles.arrays import Floats
from profiles.blocks.blocks import CutBlock
from profiles.blocks.bodyfile import solid_of, volume_of
from profiles.cuts.hollow import voids_of
from profiles.errors import JobError
from profiles.layout import fingerprint_of
from profiles.notes import NoteKind
from profiles.paper.svg import drawing_svg
from tests import closed_forms as zoo
from tests.cuts.bodies import MODELS, body_of, hull_of


@pytest.fixture(scope="module")
def box(tmp_path_factory: pytest.TempPathFactory) -> Body:
    """200 x 100 x 60 mm in four blocks."""
    return body_of(hull_of(zoo.box(200.0, 100.0, 60.0), tmp_path_factory.mktemp("box")), kerf=1.2, wire=0.4)


def hollow(body: Body, **settings: object) -> Body:
    return cut_into(body, CutSettings(hollow=(Hollow(**settings),)))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def hollow_boat(boat: Body) -> Body:
    """The flying boat with walls of 12 mm and a bulkhead."""
    return hollow(boat, wall=12.0, bulkheads=(300.0,))


def taken(before: Body, after: Body) -> float:
    return sum((volume_of(b) or 0.0) - (volume_of(a) or 0.0) for b, a in zip(before.blocks, after.blocks, strict=True))


def test_wall_of_a_cone_is_thick_square_to_its_surface(tmp_path: Path) -> None:
    """A wall t of a cone of slope k takes t sqrt(1 + k^2) off the radius of a section, not t."""
    slope, wall = 0.4, 10.0
    hull = hull_of(zoo.frustum(30.0, 30.0 + 200 * slope, 200.0, sides=256), tmp_path)
    body = body_of(hull)
    voids, _ = voids_of(Hollow(wall=wall), "hollow", hull.shape, body.blocks, body.settings)
    assert [void.block for void in voids] == [2, 3]
    for void in voids:
        for region, x in zip(void.walls, (void.ruled.x_fore, void.ruled.x_aft), strict=True):
            radius = math.sqrt(region.area / math.pi)
            assert radius == pytest.approx(30.0 + slope * x - wall * math.sqrt(1 + slope**2), abs=0.05)
        assert void.thinnest == pytest.approx(wall, abs=0.1)


def test_hollow_of_a_box_is_a_box(box: Body) -> None:
    """Walls of 10 mm in 100 x 60 mm leave 80 x 40; the ends have walls, too, so the first and last block stay solid."""
    after = hollow(box, wall=10.0)
    assert [block.into is not None for block in after.blocks] == [False, True, True, False]
    assert taken(box, after) == pytest.approx(2 * 50 * 80 * 40, rel=1e-4)


def test_open_deck_and_floor_of_a_box(box: Body) -> None:
    """Under an open deck 80 mm between the walls go from the floor up to the deck, and no slit is needed."""
    after = hollow(box, wall=10.0, deck="open", floor=15.0)
    assert taken(box, after) == pytest.approx(2 * 50 * 80 * 45, rel=1e-3)
    block = after.blocks[1]
    assert not block.fore.into.slits
    assert not block.fore.outline.cut.geoms[0].interiors
    assert len({mark.number for mark in block.fore.marks}) == len(block.fore.marks)
    assert [mark.number for mark in block.fore.marks] == [mark.number for mark in block.aft.marks]


def test_volume_is_outer_less_inner(boat: Body, hollow_boat: Body) -> None:
    """What manifold3d leaves of the blocks is what they were less the ruled hollows by the prismoidal formula."""
    voids, _ = voids_of(Hollow(wall=12.0, bulkheads=(300.0,)), "hollow", boat.hull.shape, boat.blocks, boat.settings)
    after = hollow_boat
    inner = sum(void.volume for void in voids)
    assert inner > 1e6
    assert taken(boat, after) == pytest.approx(inner, rel=1e-3)
    for block in after.blocks:
        solid = solid_of(block)
        assert solid is None or trimesh.Trimesh(*solid, process=False).volume == pytest.approx(volume_of(block))


def test_wall_is_nowhere_thinner_than_asked_for(boat: Body) -> None:
    """Distances from the hollow to the hull's triangles, by trimesh: at least the wall, and just that on the faces."""
    wall = 10.0
    voids, _ = voids_of(
        Hollow(wall=wall, x_from=150.0, x_to=700.0), "hollow", boat.hull.shape, boat.blocks, boat.settings
    )
    source = trimesh.load_mesh(MODELS / "skerrywing.stl")
    shift = boat.hull.shape.bounds[0] - np.asarray(source.bounds[0])
    source.apply_translation(shift)
    thinnest, on_faces = [], []
    for void in voids[::3]:
        corners = void.solid[0]
        apart = np.abs(trimesh.proximity.closest_point(source, corners)[1])  # type: ignore[no-untyped-call]
        faces = np.isin(corners[:, 0], (void.ruled.x_fore, void.ruled.x_aft))
        thinnest.append(apart.min())
        on_faces.append(apart[faces].min())
    assert min(thinnest) >= wall - 0.1
    assert min(on_faces) == pytest.approx(wall, abs=0.1)


def test_inner_marks_pair_across_the_block(boat: Body, hollow_boat: Body) -> None:
    """Every number of a hollowed block is on both faces, on a cut line, and inner marks lie in the same direction."""
    after = hollow_boat
    for before, block in zip(boat.blocks, after.blocks, strict=True):
        if block.into is None:
            continue
        last = max(mark.number for mark in before.fore.marks)
        fore, aft = ([mark for mark in face.marks if mark.number > last] for face in block.faces)
        assert len(fore) > 3
        assert [mark.number for mark in fore] == [mark.number for mark in aft]
        for face, marks in zip(block.faces, (fore, aft), strict=True):
            inner = shapely.MultiLineString([ring for part in face.outline.cut.geoms for ring in part.interiors])
            assert max(inner.distance(shapely.Point(mark.y, mark.z)) for mark in marks) < 0.02
        for one, other in zip(fore, aft, strict=True):
            assert np.dot(one.inward, other.inward) > 0.5


def _ring_sizes(svg: str) -> list[Floats]:
    sizes = []
    for tag in re.findall(r"<path[^>]*>", svg):
        if 'class="cut"' in tag:
            (path,) = re.findall(r' d="([^"]*)"', tag)
            points = np.reshape([float(number) for number in re.findall(r"-?\d+\.?\d*", path)], (-1, 2))
            sizes.append(np.ptp(points, axis=0))
    return sizes


def test_kerf_has_the_other_sign_inside(box: Body) -> None:
    """Kerf 1.2 and wire 0.4 mm make the outline 0.4 mm larger all round, and the hollow on paper 0.4 mm smaller."""
    layout = lay_out(hollow(box, wall=10.0), PageSettings())
    template = next(template for template in layout.templates if template.id == "02 fore")
    outer, inner = sorted(_ring_sizes(drawing_svg(template.drawing, title="")), key=lambda size: -size[0])
    assert outer == pytest.approx([100.8, 60.8], abs=0.002)
    assert inner == pytest.approx([79.2, 39.2], abs=0.002)


def test_the_outside_stays_as_it_was(boat: Body, hollow_boat: Body) -> None:
    """A hollow never reads as missing foam: growth, deviation, boxes and outer lines are those without it."""
    after = hollow_boat
    assert sum(block.into is not None for block in after.blocks) > 10
    for before, block in zip(boat.blocks, after.blocks, strict=True):
        assert block.growth == before.growth
        assert block.box == before.box
        if isinstance(before, CutBlock) and isinstance(block, CutBlock):
            assert block.grown is before.grown
            assert block.sanding_volume == before.sanding_volume
        for face, old in zip(block.faces, before.faces, strict=True):
            shells, olds = ([part.exterior for part in each.outline.cut.geoms] for each in (face, old))
            assert all(one.equals(other) for one, other in zip(shells, olds, strict=True))
        if block.span.x_fore <= 300.0 < block.span.x_aft:
            assert block.into is None


def test_pins_keep_off_the_hollow(boat: Body) -> None:
    """A pin stands in foam on both faces."""
    for block in hollow(boat, wall=25.0, x_from=200.0, x_to=400.0).blocks:
        for face in block.faces:
            if face.has_template:
                assert all(face.outline.cut.covers(shapely.Point(pin.y, pin.z)) for pin in block.pins)


def test_templates_get_another_fingerprint(box: Body) -> None:
    """Templates of hollow and solid blocks must not be mixed."""
    prints = {fingerprint_of(each) for each in (box, hollow(box, wall=10.0), hollow(box, wall=11.0))}
    assert len(prints) == 3


def test_a_thin_wall_is_a_warning(box: Body) -> None:
    """Walls under 8 mm break in the hand."""
    warnings = [note.sentence for note in hollow(box, wall=5.0).notes if note.kind is NoteKind.WARNING]
    assert any("a wall of 5.0 mm breaks in the hand" in text for text in warnings)


@pytest.mark.parametrize(
    ("hollows", "words"),
    [
        ((Hollow(wall=40.0),), "a wall of 40.0 mm leaves no room for a hollow in any block"),
        ((Hollow(wall=10.0), Hollow(wall=12.0)), "blocks? 02, 03 are hollowed already"),
        ((Hollow(wall=10.0, name="a", x_to=100.0), Hollow(wall=12.0, name="a")), "two cuts are called 'a'"),
        ((Hollow(wall=-1.0),), "wall: expected a value above 0"),
    ],
)
def test_what_cannot_be_hollowed_is_refused(box: Body, hollows: tuple[Hollow, ...], words: str) -> None:
    """One sentence says what, where and what to do."""
    with pytest.raises(JobError, match=words):
        cut_into(box, CutSettings(hollow=hollows))
