"""Gauges of the finished surface and part gauges: measured from their SVG by svgelements against the section."""

import io
from dataclasses import replace

import numpy as np
import pytest
import shapely
import svgelements
from shapely import MultiPolygon, Polygon, affinity

from profiles import BlockSettings, PageSettings, StationSettings, cut, lay_out, plan, read
from profiles.blocks.stations import Span
from profiles.blocks.tips import tip_of
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.sections import Side
from profiles.hull.surface import surface_of
from profiles.layout import Layout
from profiles.paper.facesheet import TemplateTitle
from profiles.paper.gauges import LARGEST, check_templates, gauge_templates
from profiles.paper.svg import drawing_svg
from profiles.paper.template import BlockTemplate, Kind
from tests import closed_forms as zoo

TRUE = 0.02
"""mm; outlines are drawn through points within 0.01 mm of all others."""

TITLE = TemplateTitle("stonefly", "AB12-CD34")


def cards(templates: list[BlockTemplate]) -> list[Polygon]:
    """The cards of templates from their SVG, about the datum, u right and v down."""
    found = []
    for template in templates:
        svg = svgelements.SVG.parse(io.StringIO(drawing_svg(template.drawing)), ppi=25.4, reify=True)
        rings = [
            shapely.LinearRing([(point.x, point.y) for point in path.as_points()])
            for path in svg.elements()
            if isinstance(path, svgelements.Path) and path.values.get("class") == "cut"
        ]
        area = shapely.build_area(shapely.GeometryCollection(rings))
        found += [
            shapely.transform(part, lambda points, t=template: points - t.datum) for part in shapely.get_parts(area)
        ]
    return found


def fits(gauges: list[Polygon], section: MultiPolygon) -> None:
    """The gauges lie against the section all round: no foam in a card, and no gap along the edge."""
    shape = shapely.transform(section, lambda points: points * (1.0, -1.0))
    whole = shapely.union_all(gauges)
    assert whole.intersection(shape).area <= TRUE * shape.length
    edge = shapely.points(shapely.get_coordinates(shape.boundary.segmentize(1.0)))
    assert shapely.distance(edge, whole).max() <= TRUE


@pytest.fixture(name="layout", scope="module")
def fixture_layout() -> Layout:
    hull = read("models/skerrywing.stl")
    body = cut(hull, plan(hull, StationSettings(thickness=58)), BlockSettings(skin=1.5))
    return lay_out(body, PageSettings(check=(100.0,)))


def test_checks_stand_every_so_many_mm_in_two_halves_that_fit_the_finished_surface(layout: Layout) -> None:
    """820 mm checked every 100 mm: eight places, an upper and a lower half each, of the hull and not of the foam."""
    hull = read("models/skerrywing.stl")
    checks = [template for template in layout.templates if template.source.kind is Kind.CHECK]
    assert sorted({template.source.x for template in checks}) == [100.0 * k for k in range(1, 9)]
    for x in (100.0, 400.0, 800.0):
        halves = [template for template in checks if template.source.x == x]
        assert [template.source.piece for template in halves] == ["upper", "lower"]
        fits(cards(halves), hull.shape.section(x, Side.AFT).region)


def test_every_half_says_which_it_is_inside_its_line(layout: Layout) -> None:
    """Number, half, place, nose and plan."""
    for template in layout.templates:
        if template.source.kind is Kind.CHECK:
            (card,) = cards([template])
            inside = " ".join(
                label.text
                for label in template.drawing.labels
                if card.covers(affinity.translate(label.footprint(), -template.datum[0], -template.datum[1]))
            )
            source = template.source
            assert f"{source.block:02d} check {source.number} {source.piece}" in inside
            assert layout.fingerprint in inside


def test_checks_are_on_the_pages_and_change_no_plan(layout: Layout) -> None:
    """They are nested like the others, and the plan keeps its number."""
    hull = read("models/skerrywing.stl")
    body = cut(hull, plan(hull, StationSettings(thickness=58)), BlockSettings(skin=1.5))
    without = lay_out(body)
    assert without.fingerprint == layout.fingerprint
    shown = {piece.template_id for page in layout.pages for piece in page.pieces}
    assert {template.id for template in layout.templates} == shown
    assert len(layout.templates) == len(without.templates) + 16


@pytest.mark.parametrize(
    ("check", "places"),
    [((), ()), ((250.0,), (250.0, 500.0, 750.0)), ((250.0, 10.0, 250.0), (10.0, 250.0)), ((500.0,), (500.0,))],
)
def test_one_length_is_a_spacing_and_several_are_places(check: tuple[float, ...], places: tuple[float, ...]) -> None:
    """A body of 1000 mm has no check at its end."""
    assert PageSettings(check=check).check_places(1000.0) == places


def test_a_place_without_hull_is_reported() -> None:
    """Beyond the tail there is nothing to check; a gap in the hull is a warning."""
    hull = read("models/skerrywing.stl")
    body = cut(hull, plan(hull, StationSettings(thickness=58)))
    assert check_templates(hull.shape, [900.0], body.blocks, TITLE) == ([], [])
    first = body.blocks[0]
    early = replace(first, span=replace(first.span, x_fore=-10.0))
    templates, (note,) = check_templates(hull.shape, [-5.0], [early], TITLE)
    assert not templates
    assert "x = -5" in note.text


def test_a_gauge_that_no_sheet_holds_is_drawn_in_parts_that_fit_one() -> None:
    """A section of 260 mm: four parts, none larger than a sheet, together against the whole outline."""
    surface = surface_of(*zoo.spheroid(500, 200))
    tip = tip_of(MeshShape(surface), Span(1, 0.0, 200.0, full=True), [120.0])
    (gauge,) = tip.gauges
    templates = list(gauge_templates(tip, gauge, TITLE))
    assert [template.source.piece for template in templates] == ["upper a", "upper b", "lower a", "lower b"]
    parts = cards(templates)
    for part in parts:
        wide, high = sorted((part.bounds[2] - part.bounds[0], part.bounds[3] - part.bounds[1]))
        assert wide <= LARGEST[0]
        assert high <= LARGEST[1]
    fits(parts, gauge.outline.cut)
    assert np.ptp(shapely.get_coordinates(gauge.outline.cut)[:, 0]) > 250.0
