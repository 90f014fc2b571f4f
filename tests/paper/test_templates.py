"""Templates: the right size, the right way round, and readable: nothing stands on anything else."""

import functools

import numpy as np
import pytest
import shapely
from shapely import LineString

from profiles.blocks.blocks import Block, Which
from profiles.blocks.dividing import make_blocks
from profiles.blocks.settings import BlockSettings
from profiles.blocks.stations import plan_stations
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.surface import surface_of
from profiles.paper.cards import SMALL_TEXT
from profiles.paper.cover import Heading
from profiles.paper.drawing import Role, Stroke
from profiles.paper.facesheet import UNSEEN, TemplateTitle, face_points
from profiles.paper.facetemplates import template_of
from profiles.paper.pages import lay_out
from profiles.paper.settings import PageSettings
from profiles.paper.template import BlockTemplate
from tests import closed_forms as zoo

TITLE = TemplateTitle("stonefly", "AB12-CD34")


def blocks_of(mesh: zoo.Mesh, foam: float, settings: BlockSettings | None = None) -> tuple[Block, ...]:
    vertices, faces = mesh
    middle = vertices[:, 2].max() / 2 if vertices[:, 2].min() >= 0 else 0.0
    length = float(vertices[:, 0].max())
    plan = plan_stations(length=length, foam=foam, min_block=min(10, foam))
    return make_blocks(MeshShape(surface_of(vertices - (0, 0, middle), faces)), plan, settings or BlockSettings())[1]


def all_templates(blocks: tuple[Block, ...]) -> list[BlockTemplate]:
    return [template_of(block, face, 3.0, TITLE) for block in blocks for face in block.faces if face.has_template]


HULLS = {
    "spheroid": (zoo.spheroid(), 40.0, BlockSettings()),
    "tight": (zoo.spheroid(), 12.0, BlockSettings(box="each")),
    "thin": (zoo.wigley(breadth=12), 33.0, BlockSettings()),
    "twins": (zoo.twin_boxes(), 50.0, BlockSettings()),
    "tube": (zoo.tube(), 50.0, BlockSettings()),
    "skinned": (zoo.sears_haack(), 50.0, BlockSettings(skin=1.5, kerf=1.2, wire=0.4)),
    "tiny": (zoo.box(30, 8, 6), 15.0, BlockSettings()),
}


@functools.cache
def made(name: str) -> tuple[tuple[Block, ...], list[BlockTemplate]]:
    """The blocks and templates of one of the hulls above; built once."""
    blocks = blocks_of(*HULLS[name])
    return blocks, all_templates(blocks)


def as_line(stroke: Stroke) -> LineString:
    return LineString(np.vstack([stroke.points, stroke.points[:1]]) if stroke.closed else stroke.points)


@pytest.mark.parametrize("name", sorted(HULLS))
def test_no_label_stands_on_another_or_on_an_outline(name: str) -> None:
    """Every label of every template is clear of all outlines, boxes, pins and other labels."""
    for template in made(name)[1]:
        texts = [label.text for label in template.drawing.labels]
        rects = np.array([label.footprint().bounds for label in template.drawing.labels])
        low = np.maximum(rects[:, None, :2], rects[None, :, :2])
        high = np.minimum(rects[:, None, 2:], rects[None, :, 2:])
        shared = np.prod(np.clip(high - low, 0, None), axis=-1)
        np.fill_diagonal(shared, 0)
        first, second = np.unravel_index(np.argmax(shared), shared.shape)
        assert shared.max() < 1e-6, f"{template.id}: {texts[first]} on {texts[second]}"
        lines = [s for s in template.drawing.strokes if s.role in {Role.CUT, Role.FINISHED, Role.BOX, Role.PIN}]
        shrunk = shapely.box(*(rects + (0.05, 0.05, -0.05, -0.05)).T)
        for stroke in lines:
            hit = np.flatnonzero(shapely.intersects(shrunk, as_line(stroke)))
            assert not len(hit), f"{template.id}: {texts[hit[0]]} on {stroke.role}"


@pytest.mark.parametrize("name", sorted(HULLS))
def test_everything_lies_on_the_sheet_and_is_large_enough_to_read(name: str) -> None:
    """Nothing reaches over the template's own sheet, and no lettering is smaller than that of small pieces."""
    for template in made(name)[1]:
        corners = [np.reshape(label.footprint().bounds, (2, 2)) for label in template.drawing.labels]
        points = np.vstack([*corners, *(stroke.points for stroke in template.drawing.strokes)])
        assert points.min() >= 0
        assert (points.max(axis=0) <= (template.drawing.width, template.drawing.height)).all()
        assert all(label.size >= min(SMALL_TEXT) for label in template.drawing.labels)


@pytest.mark.parametrize("name", sorted(HULLS))
def test_cut_outline_has_the_size_and_area_of_the_face(name: str) -> None:
    """Scale is 1: the drawn outline has the size and area of the outline but for points that do not show."""
    blocks, templates = made(name)
    faces = {face.id: face for block in blocks for face in block.faces}
    for template in templates:
        rings = [shapely.Polygon(stroke.points) for stroke in template.drawing.of_role(Role.CUT)]
        drawn = shapely.unary_union(rings).bounds
        cut = faces[template.id].outline.cut
        y_low, z_low, y_high, z_high = cut.bounds
        assert (drawn[2] - drawn[0], drawn[3] - drawn[1]) == pytest.approx((y_high - y_low, z_high - z_low), abs=UNSEEN)
        assert sum(ring.area for ring in rings if ring.area) >= cut.area - UNSEEN * cut.length


def test_fore_face_shows_starboard_left_and_aft_face_right() -> None:
    """A face is seen from outside its block; up is up on both (y to starboard, z up, the page's v down)."""
    starboard_up = np.array([(10.0, 5.0)])
    assert face_points(starboard_up, Which.FORE).tolist() == [[-10.0, -5.0]]
    assert face_points(starboard_up, Which.AFT).tolist() == [[10.0, -5.0]]


def test_two_faces_of_a_block_lie_on_each_other_when_put_back_to_back() -> None:
    """Datum, pins and box of the fore template are those of the aft one seen from behind."""
    block = blocks_of(zoo.wigley(), 100.0)[1]
    fore, aft = (template_of(block, face, 3.0, TITLE) for face in block.faces)
    for role in (Role.PIN, Role.BOX):
        first = np.vstack([s.points for s in fore.drawing.of_role(role)]) - fore.datum
        second = np.vstack([s.points for s in aft.drawing.of_role(role)]) - aft.datum
        turned = first * (-1.0, 1.0)
        assert np.allclose(turned.min(axis=0), second.min(axis=0))
        assert np.allclose(turned.max(axis=0), second.max(axis=0))


@pytest.mark.parametrize("name", sorted(HULLS))
def test_every_piece_carries_its_id_and_the_fingerprint(name: str) -> None:
    """Each piece has its id, an arrow up and the fingerprint, on it or on a leader; several pieces have letters."""
    blocks, templates = made(name)
    faces = {face.id: face for block in blocks for face in block.faces}
    for template in templates:
        pieces = len(faces[template.id].outline.cut.geoms)
        texts = [label.text for label in template.drawing.labels]
        letters = [""] if pieces == 1 else ["a", "b", "c"][:pieces]
        number, face = f"{template.source.block:02d}", template.source.part
        for letter in letters:
            assert any(text.startswith(f"{number}{letter} {face}") for text in texts), template.id
        assert " ".join(texts).replace("- ", "-").count(TITLE.fingerprint) >= pieces + 1


def test_marks_of_a_block_carry_the_same_numbers_on_both_templates() -> None:
    """What the two hands call out is on both templates."""
    block = blocks_of(zoo.wigley(), 100.0)[1]
    numbers = [
        sorted(int(label.text) for label in template_of(block, face, 3.0, TITLE).drawing.labels if label.text.isdigit())
        for face in block.faces
    ]
    marks = len(block.fore.marks)
    assert [n for n in numbers[0] if n <= marks] == list(range(1, marks + 1))
    assert numbers[0] == numbers[1]


@pytest.mark.parametrize("growth", ["block", 0.0, 0.8])
@pytest.mark.parametrize(("skin", "kerf"), [(0.0, 0.0), (1.5, 0.0), (0.0, 1.0), (1.5, 1.0)])
def test_the_three_lines_are_where_they_differ(skin: float, kerf: float, growth: float | str) -> None:
    """On a prism 60 x 40 mm the lines are squares: finished, less the skin, and with growth and half the kerf on it."""
    settings = BlockSettings(skin=skin, kerf=kerf, growth=growth)  # type: ignore[arg-type]
    template = all_templates(blocks_of(zoo.box(80, 60, 40), 40.0, settings))[0]
    added = kerf / 2 + (growth if isinstance(growth, float) else 0.0)  # a prism needs no growth

    def sizes(role: Role) -> list[float]:
        return sorted(
            float(size)
            for stroke in template.drawing.of_role(role)
            if stroke.closed
            for size in np.ptp(stroke.points, 0)
        )

    assert sizes(Role.CUT) == pytest.approx([40 - 2 * skin + 2 * added, 60 - 2 * skin + 2 * added], abs=0.02)
    assert sizes(Role.FOAM) == pytest.approx([40 - 2 * skin, 60 - 2 * skin] if added else [], abs=0.02)
    assert sizes(Role.FINISHED) == pytest.approx([40, 60] if skin else [], abs=0.02)


@pytest.mark.parametrize("skin", [0.0, 1.5])
def test_caption_says_how_far_to_sand(skin: float) -> None:
    """The dashed line is the surface of the foam, with a skin too; the dotted line is named where it is drawn."""
    settings = BlockSettings(skin=skin)
    blocks = blocks_of(zoo.spheroid(), 40.0, settings)
    grown = [block for block in blocks if block.growth[1] > 0.01]
    assert grown
    title = TemplateTitle("stonefly", "AB12-CD34", settings.allowances)
    for block in grown:
        offset = f"{block.growth[1]:.2f} mm oversize"
        texts = [label.text for label in template_of(block, block.aft, 3.0, title).drawing.labels]
        assert any(f"{offset}: sand to the dashed line" in text for text in texts)
        assert any("dotted line: finished surface" in text for text in texts) == bool(skin)
        assert any("skin 1.5 mm" in text for text in texts) == bool(skin)


def test_a_smaller_piece_carries_a_short_name_that_the_cover_explains() -> None:
    """A bar of 11 x 11 mm with pin holes carries the block's number and F or A, and the first page explains it."""
    templates = all_templates(blocks_of(zoo.box(80, 11, 11), 40.0))
    for template in templates:
        piece = shapely.Polygon(template.drawing.of_role(Role.CUT)[0].points)
        inside = [label.text for label in template.drawing.labels if piece.covers(label.footprint())]
        assert f"{template.source.block}{template.source.kind[0].upper()}" in inside
    pages = lay_out(templates, PageSettings(), Heading("stonefly", "15 mm", "AB12-CD34"))
    words = " ".join(label.text for label in pages[0].drawing.labels)
    assert "too small for its name" in words
