"""Drawings of the whole body at true size: outlines, frames, stations, and the finished files."""

import math
from functools import cache
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import shapely

from profiles import BlockSettings, BodyMarks, PageSettings, StationSettings, cut, plan, read
from profiles.blocks.body import Body
from profiles.body.waterplane import level
from profiles.drafting.drafts import draft
from profiles.drafting.draftsheet import EDGE
from profiles.drafting.settings import DraftSettings, DrawingSettings, DrawingView
from profiles.errors import CheckError
from profiles.layout import heading_of
from profiles.paper.drawing import Role
from profiles.paper.template import Template
from profiles.results import draft_files
from profiles.units import paper_named

MODELS = Path(__file__).parents[2] / "models"


@cache
def body() -> Body:
    """The demo flying boat in blocks of 58 mm."""
    hull = read(str(MODELS / "skerrywing.stl"))
    return cut(hull, plan(hull, StationSettings(thickness=58, breaks=(432.0,))), BlockSettings(growth=0.0))


@cache
def drawn(marks: BodyMarks | None = None) -> tuple[Template, ...]:
    """The templates of all views."""
    settings = DraftSettings(DrawingSettings())
    return draft(body(), settings, PageSettings(), heading_of(body()), marks or BodyMarks()).sets[0].templates


def outline(template: Template) -> shapely.Geometry:
    """The area within all cut lines but the frame, moved to the datum of the view."""
    rings = [
        shapely.Polygon(stroke.points - np.array(template.datum)) for stroke in template.drawing.of_role(Role.CUT)[:-1]
    ]
    return shapely.union_all(rings)


@pytest.mark.parametrize(
    ("view", "axes"),
    [("side", ((1.0, 0.0), (0.0, 0.0), (0.0, -1.0))), ("plan", ((1.0, 0.0), (0.0, -1.0), (0.0, 0.0)))],
)
def test_silhouettes_are_those_of_another_library(view: str, axes: tuple[tuple[float, float], ...]) -> None:
    """Side and plan view cover what manifold3d's projection of the same triangles covers, to 0.01 % of the area."""
    surface = body().hull.surface
    turned = surface.vertices @ np.column_stack([np.array(axes), np.ones(3) - np.abs(axes).sum(axis=1)])
    faces = (
        surface.faces
        if np.linalg.det(np.column_stack([axes, 1 - np.abs(axes).sum(axis=1)])) > 0
        else surface.faces[:, ::-1]
    )
    solid = manifold3d.Manifold(manifold3d.Mesh64(np.ascontiguousarray(turned), faces.astype(np.uint64)))
    assert solid.volume() == pytest.approx(body().hull.volume, rel=1e-6)
    expected = shapely.union_all([shapely.Polygon(ring) for ring in solid.project().to_polygons()])
    template = next(template for template in drawn() if template.id == f"drawing {view}")
    ours = outline(template)
    assert ours.symmetric_difference(expected).area < 1e-4 * expected.area
    assert ours.hausdorff_distance(expected) < 0.05


def test_a_frame_is_as_large_as_it_says() -> None:
    """The words below a drawing give the size of the rectangle round it in whole mm, and all lies inside."""
    for template in drawn():
        frame = template.drawing.of_role(Role.CUT)[-1].points
        wide, high = np.ptp(frame, axis=0)
        assert any(label.text == f"Frame {wide:.0f} x {high:.0f} mm: measure it." for label in template.drawing.labels)
        assert (wide, high) == (round(wide), round(high))
        points = np.vstack([stroke.points for stroke in template.drawing.strokes])
        assert points.min() >= EDGE
        for label in template.drawing.labels:
            left, top, right, below = label.extent()
            assert left >= EDGE
            assert top >= EDGE
            assert right <= EDGE + wide
            assert below <= EDGE + high


def test_stations_stand_square_on_the_board_at_their_places() -> None:
    """A line across the building board for every station, and a rectangle for every block from one to the next."""
    board = next(template for template in drawn() if template.id == "drawing board")
    x0 = board.datum[0]
    lines = [stroke.points[:, 0] - x0 for stroke in board.drawing.of_role(Role.LABEL) if len(stroke.points) == 2]
    square = {round(float(line[0]), 6) for line in lines if line[0] == line[1]}
    assert {round(x, 6) for x in body().stations.stations} <= square
    blocks = board.drawing.of_role(Role.CUT)[:-1]
    assert [(stroke.points[0, 0] - x0, stroke.points[1, 0] - x0) for stroke in blocks] == pytest.approx(
        np.array([(block.span.x_fore, block.span.x_aft) for block in body().blocks])
    )


def test_waterline_and_balance_are_where_they_are_known() -> None:
    """The side view has the waterline at its height and a cross at the centre of gravity."""
    marks = BodyMarks(level(-12.5), (310.0, 0.0, 21.0))
    side = drawn(marks)[0]
    (water,) = side.drawing.of_role(Role.WATER)
    assert water.points[:, 1] - side.datum[1] == pytest.approx(12.5)
    crosses = [stroke.points.mean(axis=0) - side.datum for stroke in side.drawing.of_role(Role.LABEL)]
    assert sum(math.dist(middle, (310.0, -21.0)) < 1e-9 for middle in crosses) >= 2
    assert not drawn()[0].drawing.of_role(Role.WATER)


@pytest.mark.parametrize(("paper", "most"), [("A4", 20), ("610x2000", 1)])
def test_finished_drawings_measure_what_they_should(paper: str, most: int) -> None:
    """In tiles or whole on a roll, every line is within 0.01 mm; the files are the three that are named."""
    settings = DraftSettings(DrawingSettings(paper=paper_named(paper)))
    group = draft(body(), settings, PageSettings(), heading_of(body())).sets[0]
    files, checks = draft_files(group, "drawings")
    assert len(group.pages) <= most
    assert sorted(files) == ["drawings.dxf", "drawings.pdf", "drawings.svg"]
    assert max(check.off for check in checks) <= 0.01
    assert sum(check.name.endswith("width") for check in checks) > 20


def test_a_drawing_of_a_wrong_size_is_refused() -> None:
    """Pages drawn for one body do not pass as those of another."""
    settings = DraftSettings(DrawingSettings(views=(DrawingView.SIDE, DrawingView.PLAN)))
    group = draft(body(), settings, PageSettings(), heading_of(body())).sets[0]
    side, other = group.templates
    swapped = type(group)("drawings", (Template(side.id, other.drawing, other.datum), other), group.pages)
    with pytest.raises(CheckError):
        draft_files(swapped, "drawings")
