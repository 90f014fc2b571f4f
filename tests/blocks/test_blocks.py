"""Blocks: two faces with a limit each, boxes, and the notes about them."""

import math

import numpy as np
import pytest

from profiles.blocks.dividing import make_blocks
from profiles.blocks.settings import BlockSettings
from profiles.blocks.stations import plan_stations
from profiles.errors import JobError
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.surface import surface_of
from tests import closed_forms as zoo


def test_faces_at_a_step_differ_by_the_step() -> None:
    """The block before the step ends deep, the block behind it begins shallow."""
    plan = plan_stations(length=100, foam=40, breaks=(55,))
    blocks = make_blocks(MeshShape(surface_of(*zoo.stepped_box())), plan, BlockSettings())[1]
    before = next(block for block in blocks if block.span.x_aft == 55)
    behind = next(block for block in blocks if block.span.x_fore == 55)
    assert before.aft.outline.cut.area - behind.fore.outline.cut.area == pytest.approx(60 * 9)


def test_pointed_tip_has_no_template_and_says_so() -> None:
    """Both ends of a spheroid are points: no template there, one warning each."""
    plan = plan_stations(length=200, foam=40)
    blocks = make_blocks(MeshShape(surface_of(*zoo.spheroid())), plan, BlockSettings())[1]
    assert [face.id for block in blocks for face in block.faces if not face.has_template] == ["01 fore", "05 aft"]
    assert sum("comes to a point" in note.text for block in blocks for note in block.notes) == 2


def test_common_box_is_one_and_each_box_fits_its_block() -> None:
    """One box holds all blocks by default; `each` never needs more foam."""
    plan = plan_stations(length=200, foam=40)
    surface = surface_of(*zoo.spheroid())
    common = make_blocks(MeshShape(surface), plan, BlockSettings())[1]
    each = make_blocks(MeshShape(surface), plan, BlockSettings(box="each"))[1]
    assert len({(block.box.width, block.box.height) for block in common}) == 1
    assert all(a.box.width <= b.box.width for a, b in zip(each, common, strict=True))
    assert each[0].box.width < common[0].box.width


def test_block_that_holds_the_whole_body_is_refused() -> None:
    """A spheroid thinner than one block has no face to cut by."""
    plan = plan_stations(length=200, foam=300)
    with pytest.raises(JobError, match="no station of the plan"):
        make_blocks(MeshShape(surface_of(*zoo.spheroid())), plan, BlockSettings())


def test_skin_that_uses_up_an_outline_is_told() -> None:
    """A face smaller than its skin has no template and says why."""
    plan = plan_stations(length=200, foam=40, breaks=(1,), min_block=0)
    blocks = make_blocks(MeshShape(surface_of(*zoo.spheroid())), plan, BlockSettings(skin=12))[1]
    assert any("skin uses up" in note.text for note in blocks[0].notes)


def test_outline_that_splits_inside_a_block_is_told() -> None:
    """A block that begins as one piece and ends as two asks for a station."""
    bridge = zoo.box(length=50, breadth=90, depth=30)
    mesh = zoo.joined(zoo.twin_boxes(length=100), bridge)
    blocks = make_blocks(MeshShape(surface_of(*mesh, body=None)), plan_stations(length=100, foam=60), BlockSettings())[
        1
    ]
    assert any("different numbers of pieces" in note.text for block in blocks for note in block.notes)


def test_cambered_end_is_taken_as_the_wall_it_is() -> None:
    """A transom that bulges by 0.05 mm still gets its template, and a note states where the outline was taken."""
    mesh = zoo.revolved(np.array([0.0, 50.0, 99.95, 100.0]), np.array([0.0, 30.0, 20.0, 0.0]), 48)
    blocks = make_blocks(MeshShape(surface_of(*mesh)), plan_stations(length=100, foam=50), BlockSettings())[1]
    aft = blocks[-1].aft
    assert aft.outline.cut.area == pytest.approx(math.pi * 20**2, rel=0.01)
    assert any("slightly curved wall" in note.text for note in blocks[-1].notes)
    assert not blocks[0].fore.has_template
