"""Sheets of joints: the same outline on both sides, one mirrored, with pins that meet."""

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon

from profiles.hull.parts import Joint
from profiles.paper.drawing import Role
from profiles.paper.jointsheets import DOWEL, holes_of, joint_templates
from profiles.paper.template import Template

AREA = MultiPolygon([Polygon([(200, -30), (300, -20), (320, 0), (300, 45), (200, 30)])])
"""Of no symmetry, in the order (x, y) of a joint square to z."""

JOINT = Joint(("", "fin"), "z", 60.0, AREA)
TITLES = {"": "main body", "fin": "F fin"}


@pytest.fixture(scope="module")
def sheets() -> tuple[Template, ...]:
    """Both sheets of the joint."""
    return joint_templates([JOINT], TITLES, "AB12-CD34", 3.0)


def _outline(sheet: Template) -> Polygon:
    (stroke,) = sheet.drawing.of_role(Role.CUT)
    return Polygon(stroke.points - sheet.datum)


def _holes(sheet: Template) -> list[tuple[float, float]]:
    middles = [stroke.points.mean(axis=0) - sheet.datum for stroke in sheet.drawing.of_role(Role.PIN) if stroke.closed]
    return sorted({(round(float(x), 6), round(float(y), 6)) for x, y in middles})


def test_the_main_body_shows_the_joint_as_seen_from_above(sheets: tuple[Template, ...]) -> None:
    """Right-handed: looking down on a joint with x to the right, y to starboard is up the page for a viewer from z."""
    seen = shapely.transform(AREA, lambda points: points * (1, -1))
    assert _outline(sheets[0]).hausdorff_distance(seen) < 1e-3
    assert sheets[0].id == "joint 1, main body"


def test_face_to_face_the_two_sheets_cover_each_other(sheets: tuple[Template, ...]) -> None:
    """One is the mirror image of the other, outline and holes, to 0.001 mm."""
    turned = shapely.transform(_outline(sheets[1]), lambda points: points * (-1, 1))
    assert _outline(sheets[0]).hausdorff_distance(turned) < 1e-3
    mirrored = sorted((round(-x, 6), y) for x, y in _holes(sheets[1]))
    assert np.allclose(_holes(sheets[0]), mirrored, atol=1e-3)


def test_pins_and_dowels_lie_inside() -> None:
    """Two pins; a dowel only where 9 mm of foam are left round its hole."""
    holes = holes_of(JOINT, 3.0)
    assert len(holes.pins) == 2
    assert all(AREA.contains(shapely.Point(hole.y, hole.z).buffer(1.5)) for hole in holes.pins)
    room = AREA.buffer(-(DOWEL / 2 + 9.0))
    assert [room.covers(shapely.Point(hole.y, hole.z)) for hole in holes.pins] == [
        hole in holes.dowels for hole in holes.pins
    ]
    narrow = Joint(("", "fin"), "z", 60.0, MultiPolygon([shapely.box(0, 0, 80, 5)]))
    assert holes_of(narrow, 3.0).pins == ()


def test_the_name_stands_inside_the_line(sheets: tuple[Template, ...]) -> None:
    """When the scissors have passed, each side still says which joint, which part and which plan it is."""
    for sheet, part in zip(sheets, ("main body", "F fin"), strict=True):
        inside = [
            label.text
            for label in sheet.drawing.labels
            if _outline(sheet).covers(shapely.transform(label.footprint(), lambda p, s=sheet: p - s.datum))
        ]
        assert inside == [f"joint 1, {part}", "AB12-CD34"]


def test_a_skin_shows_the_foam_line_inside() -> None:
    """The foam ends a skin inside the finished outline."""
    (first, _) = joint_templates([JOINT], TITLES, "AB12-CD34", 3.0, skin=2.0)
    (foam,) = first.drawing.of_role(Role.FOAM)
    assert _outline(first).buffer(-1.9).covers(Polygon(foam.points - first.datum))
