"""Sheets of a tip: true size, the right way round, readable, and measured by the same proof as the faces."""

import functools
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon, affinity

from profiles.blocks.blocks import Block
from profiles.blocks.dividing import make_blocks
from profiles.blocks.outlines import box_around
from profiles.blocks.settings import BlockSettings
from profiles.blocks.stations import plan_stations
from profiles.blocks.tips import Profile, Tip, tip_of
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.shape import View
from profiles.hull.surface import surface_of
from profiles.paper.cards import SMALL_TEXT
from profiles.paper.cover import Heading
from profiles.paper.drawing import Role, Stroke
from profiles.paper.facesheet import PAD, TemplateTitle
from profiles.paper.gauges import FRAME
from profiles.paper.pages import lay_out
from profiles.paper.settings import PageSettings
from profiles.paper.template import MIRRORED, PROFILES, BlockTemplate, Kind
from profiles.paper.tipsheets import order_of_work, tip_templates
from profiles.units import paper_named
from tests import closed_forms as zoo

TITLE = TemplateTitle("stonefly", "AB12-CD34")

SKINNED = BlockSettings(skin=1.5, kerf=1.2, wire=0.4)

HULLS = {
    "spheroid": (zoo.spheroid(), 40.0, BlockSettings(), 0),
    "tail": (zoo.spheroid(), 40.0, BlockSettings(), -1),
    "tight": (zoo.spheroid(), 12.0, BlockSettings(box="each"), 0),
    "thin": (zoo.wigley(breadth=12), 33.0, BlockSettings(), 0),
    "twins": (zoo.twin_boxes(), 50.0, BlockSettings(), 0),
    "tube": (zoo.tube(), 50.0, BlockSettings(), 0),
    "skinned": (zoo.sears_haack(), 50.0, SKINNED, -1),
    "wedge": (zoo.wedge(), 50.0, BlockSettings(), 0),
    "tiny": (zoo.box(30, 8, 6), 15.0, BlockSettings(), 0),
    "slender": (zoo.sears_haack(200, 15), 20.0, BlockSettings(box="each"), -1),
    "knife": (zoo.wigley(), 50.0, SKINNED, 0),
    "large": (zoo.spheroid(500, 250), 200.0, BlockSettings(), 0),
}

WHOLE_GAUGES = sorted(HULLS.keys() - {"large"})
"""Hulls whose gauges are in two halves; those of the large one are in more parts, which `test_gauges` looks at."""


@functools.cache
def made(name: str) -> tuple[Block, Tip, tuple[BlockTemplate, ...]]:
    """A block, its tip and its sheets; built once. The box holds what the tip reaches, as it must."""
    (vertices, faces), foam, settings, which = HULLS[name]
    middle = vertices[:, 2].max() / 2 if vertices[:, 2].min() >= 0 else 0.0
    surface = surface_of(vertices - (0, 0, middle), faces)
    plan = plan_stations(length=float(vertices[:, 0].max()), foam=foam, min_block=min(10, foam))
    block = make_blocks(MeshShape(surface), plan, settings)[1][which]
    tip = tip_of(MeshShape(surface), block.span, allowances=settings.allowances)
    shapes = [tip.reach, *(face.outline.cut for face in block.faces if face.has_template)]
    block = replace(block, box=box_around(shapes, settings.allowance))
    return block, tip, tip_templates(block, tip, TITLE)


def as_line(stroke: Stroke) -> LineString:
    return LineString(np.vstack([stroke.points, stroke.points[:1]]) if stroke.closed else stroke.points)


def rings(template: BlockTemplate) -> list[Polygon]:
    """The closed cut lines about the datum, u right and v down."""
    return [Polygon(s.points - template.datum) for s in template.drawing.of_role(Role.CUT) if s.closed]


def named(name: str, word: str) -> BlockTemplate:
    return next(template for template in made(name)[2] if word in template.id)


def twice(tip: Tip) -> list[Profile]:
    """The profiles of the first templates: each is drawn as it is seen and mirrored."""
    return [profile for profile in tip.profiles if not profile.outline.cut.is_empty for _ in range(2)]


@pytest.mark.parametrize("name", sorted(HULLS))
def test_no_label_stands_on_another_or_on_a_line(name: str) -> None:
    """Every label of every sheet is clear of all cut lines, boxes, datum lines, marks and other labels."""
    for template in made(name)[2]:
        texts = [label.text for label in template.drawing.labels]
        rects = np.array([label.footprint().bounds for label in template.drawing.labels])
        low = np.maximum(rects[:, None, :2], rects[None, :, :2])
        high = np.minimum(rects[:, None, 2:], rects[None, :, 2:])
        shared = np.prod(np.clip(high - low, 0, None), axis=-1)
        np.fill_diagonal(shared, 0)
        first, second = np.unravel_index(np.argmax(shared), shared.shape)
        assert shared.max() < 1e-6, f"{template.id}: {texts[first]} on {texts[second]}"
        lines = shapely.box(*(rects + (0.05, 0.05, -0.05, -0.05)).T)
        figures = shapely.box(*(rects + (0.05, 0.75, -0.05, -0.75)).T)  # marks are placed by the height of figures
        for stroke in template.drawing.strokes:
            thin = stroke.role in {Role.MARK, Role.DATUM}
            hit = np.flatnonzero(shapely.intersects(figures if thin else lines, as_line(stroke)))
            assert not len(hit), f"{template.id}: {texts[hit[0]]} on {stroke.role}"


@pytest.mark.parametrize("name", sorted(HULLS))
def test_everything_lies_on_the_sheet_and_is_large_enough_to_read(name: str) -> None:
    """Nothing reaches over the template's own sheet, and no lettering is smaller than that of small pieces."""
    for template in made(name)[2]:
        corners = [np.reshape(label.footprint().bounds, (2, 2)) for label in template.drawing.labels]
        points = np.vstack([*corners, *(stroke.points for stroke in template.drawing.strokes)])
        assert points.min() >= 0
        assert (points.max(axis=0) <= (template.drawing.width, template.drawing.height)).all()
        assert all(label.size >= min(SMALL_TEXT) for label in template.drawing.labels)


@pytest.mark.parametrize("name", sorted(HULLS))
def test_profiles_are_drawn_at_full_size_within_the_box(name: str) -> None:
    """The cut lines are the profile's own rings; where no kerf is added they lie within the block's box."""
    block, tip, _ = made(name)
    for profile, template in zip(twice(tip), made(name)[2], strict=False):
        drawn = rings(template)
        assert len(drawn) == sum(1 + len(part.interiors) for part in profile.outline.cut.geoms)
        wanted = shapely.transform(profile.outline.cut, lambda points: (points - (made(name)[1].x_large, 0)) * (1, -1))
        if template.source.kind in MIRRORED:
            wanted = affinity.scale(wanted, -1.0, origin=(0, 0))
        assert shapely.union_all(drawn).symmetric_difference(wanted).area < 1e-6
        (box,) = template.drawing.of_role(Role.BOX)
        width, height = np.ptp(box.points, axis=0).tolist()
        across = block.box.height if profile.view is View.SIDE else block.box.width
        assert (width, height) == pytest.approx((block.span.thickness, across))
        assert Polygon(box.points - template.datum).buffer(1.0).covers(shapely.union_all(drawn))


def test_the_nose_lies_to_the_left_and_up_or_starboard_at_the_top() -> None:
    """The wedge has its edge at its lower side at the nose: both sheets have it on the left, the side sheet below."""
    side, plan = named("wedge", "side"), named("wedge", "plan")
    (triangle,), (rectangle,) = rings(side), rings(plan)
    tip = min(triangle.exterior.coords)
    assert tip == pytest.approx((-50.0, 20.0))
    assert triangle.bounds == pytest.approx((-50, 0, 0, 20))
    assert rectangle.bounds == pytest.approx((-50, -30, 0, 30))
    for template in (side, plan):
        arrow = next(
            stroke.points
            for stroke in template.drawing.of_role(Role.LABEL)
            if len(stroke.points) == 2 and np.ptp(stroke.points[:, 1]) == 0 and np.ptp(stroke.points[:, 0]) > 10
        )
        assert arrow[0, 0] > arrow[1, 0]


@pytest.mark.parametrize("name", ["wedge", "skinned", "tail", "twins"])
def test_the_two_templates_of_a_profile_are_mirror_images_with_the_same_numbers(name: str) -> None:
    """Laid on the two sides of the block with the print outwards they have the same outline, and a number is opposite
    itself; the arrow to the nose points the other way.
    """
    seen, mirrored = made(name)[2][:2]
    for first, second in zip(rings(seen), rings(mirrored), strict=True):
        assert np.allclose(np.array(first.exterior.coords) * (-1.0, 1.0), second.exterior.coords)
    ticks = [
        {tuple((stroke.points[0] - template.datum).round(6) * (across, 1.0)) for stroke in marks}
        for template, across in ((seen, 1.0), (mirrored, -1.0))
        if (marks := template.drawing.of_role(Role.MARK))
    ]
    starts = shapely.MultiPoint(sorted(ticks[0]))
    assert len(ticks[0]) > 3
    assert shapely.distance(starts, shapely.points(sorted(ticks[1]))).max() < 8.0  # leaders start at the tips of ticks
    wanted = {str(mark.number) for mark in made(name)[1].side.marks}
    for template in (seen, mirrored):
        texts = [label.text for label in template.drawing.labels]
        assert wanted <= {number for text in texts for number in text.split(" to ")}


@pytest.mark.parametrize("name", ["spheroid", "tail", "tight", "tiny", "large"])
def test_words_stand_on_the_side_they_name(name: str) -> None:
    """NOSE is left of TAIL, and seen from above STBD is above PORT, however small the box."""
    at = {label.text: label for label in named(name, "plan").drawing.labels if label.text.isupper()}
    corners = [
        label for label in named(name, "plan").drawing.labels if label.text in {"NOSE", "TAIL"} and not label.bold
    ]
    nose, tail = sorted(corners, key=lambda label: label.text)
    assert nose.extent()[0] < tail.extent()[0]
    assert at["STBD"].y < at["PORT"].y


def test_starboard_is_up_on_the_plan() -> None:
    """A hull with its one box to starboard has it above the datum on the sheet."""
    surface = surface_of(*zoo.box(100, 20, 30, y=40))
    plan = plan_stations(length=100, foam=50)
    block = make_blocks(MeshShape(surface), plan, BlockSettings())[1][0]
    template = tip_templates(block, tip_of(MeshShape(surface), block.span), TITLE)[2]
    (ring,) = rings(template)
    assert ring.bounds == pytest.approx((-50, -50, 0, -30))


@pytest.mark.parametrize("name", WHOLE_GAUGES)
def test_every_piece_carries_its_id_the_nose_and_the_fingerprint(name: str) -> None:
    """Each piece of a profile has its id and NOSE, on it or on a leader; both halves of a gauge have theirs."""
    _, tip, templates = made(name)
    for template in templates:
        texts = [label.text for label in template.drawing.labels]
        number, kind = f"{tip.span.number:02d}", template.source.kind
        if kind is Kind.GAUGE:
            names = [f"{number} gauge {template.source.number} {half}" for half in ("upper", "lower")]
        else:
            pieces = len(next(profile for profile in tip.profiles if kind in PROFILES[profile.view]).outline.cut.geoms)
            names = [f"{number}{letter} {kind}" for letter in (["a", "b"] if pieces > 1 else [""])]
            assert all(line in " ".join(texts) for line in order_of_work(tip))
        for wanted in names:
            assert any(text.startswith(wanted) for text in texts), f"{template.id}: {wanted}"
        assert sum("NOSE" in text for text in texts) >= len(names)
        assert sum(TITLE.fingerprint in text for text in texts) >= len(names) + 1


@pytest.mark.parametrize("name", sorted(HULLS))
def test_marks_are_numbered_as_the_profile_has_them(name: str) -> None:
    """Every number from 1 on stands on the sheet."""
    _, tip, templates = made(name)
    for profile, template in zip(twice(tip), templates, strict=False):
        numbers = {int(label.text) for label in template.drawing.labels if label.text.isdigit()}
        assert set(range(1, len(profile.marks) + 1)) <= numbers


@pytest.mark.parametrize("name", sorted(HULLS))
def test_numbers_of_gauges_stand_at_their_lines(name: str) -> None:
    """Each number in the box stands on its own gauge's line, which leaves it free, off the cards; others over it."""
    _, tip, templates = made(name)
    for profile, template in zip(twice(tip), templates, strict=False):
        (box,) = (shapely.box(*as_line(s).bounds) for s in template.drawing.of_role(Role.BOX))
        cards = shapely.union_all([Polygon(s.points) for s in template.drawing.of_role(Role.CUT)])
        for gauge in tip.gauges:
            text = f"gauge {gauge.number}, x {gauge.x:g}"
            (label,) = (label for label in template.drawing.labels if label.text == text)
            spot = label.footprint()
            if box.intersects(spot):
                at = template.datum[0] + (gauge.x - tip.x_large) * (-1 if template.source.kind in MIRRORED else 1)
                assert spot.bounds[0] < at < spot.bounds[2]
                assert box.covers(spot)
                assert cards.distance(spot) > 7.9, profile.view
            else:
                assert spot.bounds[3] <= box.bounds[1]


@pytest.mark.parametrize("name", ["spheroid", "tail", "wedge"])
def test_a_high_box_has_everything_in_it_or_beside_it(name: str) -> None:
    """Where the common box of a hull leaves room over the tip, side and plan sheets are no higher than the box."""
    block, tip, _ = made(name)
    roomy = replace(block, box=box_around([tip.reach], 45.0))
    for template in tip_templates(roomy, tip, TITLE)[:4]:
        (box,) = template.drawing.of_role(Role.BOX)
        assert template.drawing.height == pytest.approx(np.ptp(box.points[:, 1]) + 2 * PAD)
        assert template.drawing.width < np.ptp(box.points[:, 0]) + 105


@pytest.mark.parametrize("name", WHOLE_GAUGES)
def test_gauge_is_a_frame_round_the_section_parted_to_both_sides(name: str) -> None:
    """Its closed cut lines are the frame and the outer lines of the section; the open ones part the frame in two."""
    _, tip, templates = made(name)
    gauges = [template for template in templates if template.source.kind is Kind.GAUGE]
    assert len(gauges) == len(tip.gauges) > 0
    for gauge, template in zip(tip.gauges, gauges, strict=True):
        frame, *hollow = rings(template)
        section = [Polygon(part.exterior) for part in gauge.outline.cut.geoms]
        assert sum(ring.area for ring in hollow) == pytest.approx(sum(part.area for part in section), abs=1e-6)
        assert len(hollow) == len(section)
        left, top, right, bottom = shapely.total_bounds(hollow).tolist()
        assert frame.bounds == pytest.approx((left - FRAME, top - FRAME, right + FRAME, bottom + FRAME))
        joins = [LineString(s.points - template.datum) for s in template.drawing.of_role(Role.CUT) if not s.closed]
        card = frame.difference(shapely.union_all(hollow))
        parted = card.difference(shapely.union_all([join.buffer(1e-4) for join in joins]))
        assert len(shapely.get_parts(parted)) == 2
        assert template.id == f"{tip.span.number:02d} gauge {gauge.number} x {gauge.x:g}"


def test_a_round_gauge_is_parted_where_it_is_widest() -> None:
    """Across the middle of a circle, so that both halves come off the foam straight."""
    template = named("spheroid", "gauge 2")
    joins = [s.points - template.datum for s in template.drawing.of_role(Role.CUT) if not s.closed]
    assert np.vstack(joins)[:, 1] == pytest.approx(np.zeros(4), abs=1e-9)


def test_gauge_is_seen_from_the_small_end() -> None:
    """It is slipped on from there: the nose is towards the builder at the nose and away at the tail."""
    for name, words in (("spheroid", "NOSE to you"), ("tail", "NOSE away")):
        assert any(words in label.text for label in named(name, "gauge 1").drawing.labels)


def test_surfaces_are_drawn_beside_the_cut_line_of_a_profile_when_they_differ() -> None:
    """With a skin the hull's own silhouette is there too, and with a kerf the surface of the foam."""
    for role in (Role.FOAM, Role.FINISHED):
        assert named("skinned", "side").drawing.of_role(role)
        assert not named("spheroid", "side").drawing.of_role(role)


def test_the_finished_pages_measure_true() -> None:
    """The proof finds every cut line of tip sheets at its place and size, the open ones too, on one page or tiled."""
    from profiles.paper.fonts import missing_requirements
    from profiles.paper.pdf import pages_pdf  # needs the cairo library
    from profiles.paper.proof import measure

    if missing_requirements():
        pytest.skip("no cairo library or font")
    templates = [*made("twins")[2], *made("tail")[2], *(t for t in made("large")[2] if "gauge" not in t.id)]
    templates = [replace(template, id=f"{k:02d} {template.id}") for k, template in enumerate(templates)]
    pages = lay_out(templates, PageSettings(paper_named("A4")), Heading("stonefly", "40 mm", "AB12-CD34"))
    checks = measure(pages_pdf(pages), pages, templates)
    assert any(piece.rows * piece.columns > 1 for page in pages for piece in page.pieces)
    assert not [check for check in checks if not check.holds]
