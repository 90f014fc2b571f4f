"""Rods: holes on one straight line, ellipses where they must be, and lines proposed well inside."""

import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from profiles import Body, CutSettings, PageSettings, Rod, cut_into, lay_out
from profiles.blocks.bodyfile import volume_of
from profiles.errors import JobError
from profiles.paper.drawing import Role
from profiles.paper.template import Kind
from tests import closed_forms as zoo
from tests.cuts.bodies import body_of, hull_of


def thread(body: Body, *rods: Rod) -> Body:
    return cut_into(body, CutSettings(rods=rods))


START, END = (120.0, -6.0, -20.0), (560.0, 12.0, 10.0)
SLANTED = Rod(diameter=8.0, start=START, end=END)


def test_holes_on_paper_lie_on_one_straight_line(boat: Body) -> None:
    """The middles of the holes, measured on the templates from the datum cross, lie on the given line to 0.01 mm."""
    layout = lay_out(thread(boat, SLANTED), PageSettings())
    (x0, y0, z0), (x1, y1, z1) = START, END
    count = 0
    for template in layout.templates:
        holes = [stroke for stroke in template.drawing.of_role(Role.ROD) if stroke.closed]
        for hole in holes:
            u, v = shapely.Polygon(hole.points).centroid.coords[0]
            y = (u - template.datum[0]) * (-1 if template.source.kind is Kind.FORE else 1)
            z = template.datum[1] - v
            share = (template.source.x - x0) / (x1 - x0)
            assert (y, z) == pytest.approx((y0 + share * (y1 - y0), z0 + share * (z1 - z0)), abs=0.01)
            count += 1
    assert count == 2 * 11


def test_a_slanted_rod_makes_an_ellipse(boat: Body) -> None:
    """Its axes are d across and d / cos(angle to the length) along the slope."""
    after = thread(boat, SLANTED)
    slope = math.hypot(18.0 / 440.0, 30.0 / 440.0)
    hole = after.blocks[6].fore.into.holes[0]
    points = shapely.get_coordinates(hole.outline) - np.array(hole.centre)
    radii = np.hypot(*points.T)
    assert radii.min() == pytest.approx(4.0, abs=0.002)
    assert radii.max() == pytest.approx(4.0 * math.sqrt(1 + slope**2), abs=0.002)
    along = points[radii.argmax()]
    assert abs(along @ (18.0, 30.0)) == pytest.approx(float(np.linalg.norm(along)) * math.hypot(18.0, 30.0), rel=1e-6)


def test_a_square_rod_takes_a_cylinder(tmp_path: Path) -> None:
    """6 mm through 200 mm of a box take pi 3^2 200 mm3, but for the corners of the polygon (0.05 %)."""
    before = body_of(hull_of(zoo.box(200.0, 100.0, 60.0), tmp_path))
    after = thread(before, Rod(diameter=6.0))
    lost = sum((volume_of(b) or 0.0) - (volume_of(a) or 0.0) for b, a in zip(before.blocks, after.blocks, strict=True))
    assert lost == pytest.approx(math.pi * 9 * 200, rel=1e-3)
    centres = {hole.centre for block in after.blocks for face in block.faces for hole in face.into.holes}
    assert len(centres) == 1


def test_a_proposed_rod_is_well_inside_every_outline(boat: Body) -> None:
    """Foam of 6 mm stays round the hole on every face, and nothing else changes."""
    after = thread(boat, Rod(diameter=6.0))
    holes = [(face, hole) for block in after.blocks for face in block.faces for hole in face.into.holes]
    assert len(holes) > 30
    assert min(face.outline.foam.boundary.distance(hole.outline) for face, hole in holes) >= 6.0 - 0.02
    assert all(new.growth == old.growth for new, old in zip(after.blocks, boat.blocks, strict=True))
    (row,) = [row for row in (after.cuts.rows if after.cuts else ()) if row.kind == "rod"]
    assert row.name == "rod 1"


def test_two_rods_overlap_where_one_line_is_not_inside(tmp_path: Path) -> None:
    """A body that steps up by more than a straight rod can follow gets two, which share the block of the step."""
    low = zoo.box(200.0, 60.0, 30.0)
    mid = zoo.box(100.0, 60.0, 100.0, 200.0)
    high = zoo.box(200.0, 60.0, 30.0, 300.0)
    high = (high[0] + np.array((0.0, 0.0, 70.0)), high[1])
    body = body_of(hull_of(zoo.joined(low, mid, high), tmp_path))
    after = thread(body, Rod(diameter=6.0))
    names = [{hole.name for face in block.faces for hole in face.into.holes} for block in after.blocks]
    assert {"rod 1a"} in names
    assert {"rod 1b"} in names
    assert {"rod 1a", "rod 1b"} in names
    assert all(names)


def test_pins_keep_off_a_rod(boat: Body) -> None:
    """No pin hole runs into the hole of a rod."""
    for block in thread(boat, Rod(diameter=12.0)).blocks:
        for face in block.faces:
            for pin in block.pins:
                assert all(hole.outline.distance(shapely.Point(pin.y, pin.z)) > 1.5 for hole in face.into.holes)


@pytest.mark.parametrize(
    ("rods", "words"),
    [
        ((Rod(diameter=6.0, start=(100, 0, 200), end=(300, 0, 0)),), "rod 1 leaves the hull at x = 102.0 mm"),
        ((Rod(diameter=6.0, start=(100, 0, 0), end=(900, 0, 0)),), "rod 1 leaves the hull|the hull ends at"),
        ((Rod(diameter=6.0, blocks=(3, 40)),), "rod 1: there is no block 40"),
        ((Rod(diameter=120.0),), "rod 1: no block has room"),
        (
            (
                Rod(diameter=6.0, start=(120, 0, 0), end=(300, 0, 0)),
                Rod(diameter=6.0, start=(120, 0, 2), end=(300, 0, -2)),
            ),
            "rod 1 and rod 2 cross in blocks",
        ),
    ],
)
def test_a_rod_that_cannot_be_is_refused(boat: Body, rods: tuple[Rod, ...], words: str) -> None:
    """One sentence says which, where and what to do."""
    with pytest.raises(JobError, match=words):
        thread(boat, *rods)


def test_ends_of_a_rod_go_together() -> None:
    """A start without an end, or an end before the start, is refused with the job."""
    with pytest.raises(JobError, match="start and end go together"):
        Rod(diameter=6.0, start=(0.0, 0.0, 0.0))
    with pytest.raises(JobError, match="must be less than"):
        Rod(diameter=6.0, start=(50.0, 0.0, 0.0), end=(20.0, 0.0, 0.0))


def test_a_drill_guide_has_the_angle_of_the_rod(boat: Body) -> None:
    """One card for the slope up and one for that to the side; none for a rod that goes in square."""
    cuts = thread(boat, SLANTED).cuts
    assert cuts is not None
    slopes = {}
    for sheet in cuts.sheets:
        (u0, v0), (u1, v1) = next(line for line in sheet.lines if line.role == "rod").points
        slopes[sheet.name] = (v1 - v0) / (u1 - u0)
    assert slopes == pytest.approx({"rod 1 drill guide": 30 / 440, "rod 1 drill guide from above": 18 / 440})
    level = thread(boat, Rod(diameter=6.0, start=(120.0, 0.0, 0.0), end=(300.0, 0.0, 0.0))).cuts
    assert level is not None
    assert not level.sheets
