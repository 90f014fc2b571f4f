"""The heavy line on a template where its block is carved."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from profiles.blocks.blocks import CutBlock
from profiles.blocks.dividing import make_blocks
from profiles.blocks.settings import BlockSettings
from profiles.blocks.stations import plan_stations
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.surface import surface_of
from profiles.paper.carving import INSIDE, carving_strokes, carving_words
from profiles.paper.drawing import Role
from profiles.paper.facesheet import FaceSheet, face_points, face_shape
from tests import closed_forms as zoo


def sheets() -> list[FaceSheet]:
    """Both faces of a block with a cabin that ends inside it: the wire goes on straight, and its end is carved."""
    mesh = zoo.joined(zoo.box(length=100, breadth=90, depth=30), zoo.box(length=50, breadth=20, depth=45))
    plan = replace(plan_stations(length=100, foam=60), most=3.0)
    _, blocks = make_blocks(MeshShape(surface_of(*mesh, body=None)), plan, BlockSettings())
    (block,) = (block for block in blocks if isinstance(block, CutBlock) and block.grown.deviation.carved)
    return [FaceSheet(block, face, face_shape(face.outline.cut, face.which)) for face in block.faces]


def test_the_heavy_line_runs_inside_the_outline_past_every_mark_that_is_carved() -> None:
    """It is as far inside as INSIDE says, and no carved mark is farther from it than a corner is."""
    for sheet in sheets():
        strokes = carving_strokes(sheet)
        assert strokes
        assert all(stroke.role is Role.CARVE for stroke in strokes)
        lines = shapely.union_all([shapely.linestrings(stroke.points) for stroke in strokes])
        assert sheet.cut.contains(lines)
        apart = shapely.distance(sheet.cut.boundary, shapely.points(shapely.get_coordinates(lines)))
        assert apart == pytest.approx(np.full(len(apart), INSIDE), abs=0.01)
        assert isinstance(sheet.block, CutBlock)
        carved = sheet.block.grown.deviation.carved
        marks = np.array([(mark.y, mark.z) for mark in sheet.face.marks if mark.number in carved])
        points = shapely.points(face_points(marks, sheet.face.which))
        assert shapely.distance(lines, points).max() <= 1.5 * INSIDE


def test_the_caption_says_where_and_how_deep() -> None:
    """In words, with the numbers of the marks."""
    (words,) = carving_words(sheets()[0])
    assert "carve at mark" in words
    assert "mm deep" in words


def test_a_block_that_is_only_sanded_has_no_heavy_line() -> None:
    """A prism leaves nothing."""
    plan = plan_stations(length=100, foam=50)
    _, blocks = make_blocks(MeshShape(surface_of(*zoo.box(length=100))), plan, BlockSettings())
    sheet = FaceSheet(blocks[0], blocks[0].fore, face_shape(blocks[0].fore.outline.cut, blocks[0].fore.which))
    assert carving_strokes(sheet) == []
    assert carving_words(sheet) == []
