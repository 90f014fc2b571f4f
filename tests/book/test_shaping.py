"""The chapter on cutting a block to shape: its pictures are those of the job, to scale and in their place."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from profiles import StationSettings, cut, plan, read
from profiles.blocks.blocks import Block, CarvedBlock, CutBlock
from profiles.book.contents import BookContents
from profiles.book.pages import BookSettings, room_of
from profiles.book.shapes import Examples, examples_of
from profiles.book.shaping import shaping_chapter
from profiles.book.shapingviews import cradle_view, pair_view, tip_views, way_view, wire_view
from profiles.paper.drawing import Drawing, Role
from profiles.paper.flow import panel


@pytest.fixture(name="blocks", scope="module")
def fixture_blocks() -> tuple[Block, ...]:
    hull = read("models/skerrywing.stl")
    return tuple(cut(hull, plan(hull, StationSettings(thickness=58.0))).blocks)


@pytest.fixture(name="examples", scope="module")
def fixture_examples(blocks: tuple[Block, ...]) -> Examples:
    return examples_of(blocks)


def extents(drawing: Drawing, role: Role) -> tuple[float, float]:
    points = np.vstack([stroke.path for stroke in drawing.of_role(role)])
    low, high = points.min(axis=0), points.max(axis=0)
    return float(high[0] - low[0]), float(high[1] - low[1])


def scale_of(drawing: Drawing) -> float:
    title = " ".join(label.text for label in drawing.labels if label.bold)
    return float(title.split("1:")[1].split()[0])


def test_the_block_with_the_largest_face_is_shown(blocks: tuple[Block, ...], examples: Examples) -> None:
    """The wired example has the largest cut face of all wired blocks; the tip is the first carved block."""
    assert examples.wired is not None
    assert examples.tip is not None
    wired = [block for block in blocks if isinstance(block, CutBlock)]
    areas = {block.span.number: max(face.outline.cut.area for face in block.faces) for block in wired}
    assert areas[examples.wired.number] == pytest.approx(max(areas.values()))
    assert examples.tip.number == next(block.span.number for block in blocks if isinstance(block, CarvedBlock))


def test_pictures_are_to_scale(blocks: tuple[Block, ...], examples: Examples) -> None:
    """Box and outline are as large as those of the block, by the scale that the picture names."""
    assert examples.wired is not None
    block = next(block for block in blocks if block.span.number == examples.wired.number)
    left, low, right, high = block.fore.outline.cut.bounds
    for drawing in (pair_view(examples.wired), way_view(examples.wired)):
        ratio = scale_of(drawing)
        assert extents(drawing, Role.BOX) == pytest.approx((block.box.width / ratio, block.box.height / ratio))
        assert extents(drawing, Role.CUT) == pytest.approx(((right - left) / ratio, (high - low) / ratio), abs=0.05)
    wire = wire_view(examples.wired)
    assert extents(wire, Role.BOX)[0] == pytest.approx(block.span.thickness / scale_of(wire))


def test_datum_lines_are_measured_from_the_squared_edges(blocks: tuple[Block, ...], examples: Examples) -> None:
    """The four distances in the picture add up to the box, and the datum lines are drawn where they say."""
    assert examples.wired is not None
    drawing = pair_view(examples.wired)
    box = next(block.box for block in blocks if block.span.number == examples.wired.number)
    figures = [float(label.text) for label in drawing.labels if label.text.replace(".", "").isdigit()]
    assert figures == pytest.approx([box.y_high, -box.y_low, box.z_high, -box.z_low], abs=0.01)  # starboard is left
    level, upright = drawing.of_role(Role.DATUM)
    frame = np.vstack([stroke.path for stroke in drawing.of_role(Role.BOX)])
    ratio = scale_of(drawing)
    assert frame[:, 1].max() - level.path[0, 1] == pytest.approx(-box.z_low / ratio)
    assert upright.path[0, 0] - frame[:, 0].min() == pytest.approx(box.y_high / ratio)


def test_the_wire_leads_in_from_the_edge_to_the_first_mark(examples: Examples) -> None:
    """The first arrow begins on the box and ends at mark 1 on the outline; the second goes on from there."""
    assert examples.wired is not None
    drawing = way_view(examples.wired)
    shafts = [stroke.path for stroke in drawing.of_role(Role.CARVE) if len(stroke.path) == 2]
    box = np.vstack([stroke.path for stroke in drawing.of_role(Role.BOX)])
    outline = shapely.LinearRing(drawing.of_role(Role.CUT)[0].path)
    (start, end), (onwards, _) = shafts
    assert min(np.abs(start - box.min(axis=0)).min(), np.abs(start - box.max(axis=0)).min()) < 1e-9
    assert outline.distance(shapely.Point(end)) < 0.05
    assert onwards == pytest.approx(end)


def test_a_block_can_be_lifted_out_of_its_cradle(examples: Examples) -> None:
    """Above the edge of the lower shell the block is nowhere wider than at it."""
    assert examples.wired is not None
    drawing = cradle_view(examples.wired)
    hatched = [area for area in drawing.areas if area.kind == "shell"]
    level = min(float(ring[:, 1].min()) for area in hatched for ring in area.rings)
    path = drawing.of_role(Role.CUT)[0].path
    above, below = path[path[:, 1] < level - 0.1], path[path[:, 1] >= level - 0.1]
    assert above[:, 0].max() <= below[:, 0].max() + 0.06
    assert above[:, 0].min() >= below[:, 0].min() - 0.06


def test_a_tip_is_shown_from_both_sides(blocks: tuple[Block, ...], examples: Examples) -> None:
    """Side and plan, each as long as the block and as high or wide as its box."""
    assert examples.tip is not None
    block = next(block for block in blocks if block.span.number == examples.tip.number)
    for drawing, across in zip(tip_views(examples.tip), (block.box.height, block.box.width), strict=True):
        ratio = scale_of(drawing)
        assert extents(drawing, Role.BOX) == pytest.approx((block.span.thickness / ratio, across / ratio))


def test_the_chapter_with_pictures_stays_on_its_pages(tiny: BookContents, examples: Examples) -> None:
    """Nothing is wider than a page, with pictures and without, and only with them is there a picture."""
    room = room_of(BookSettings())
    for shown in (examples, Examples()):
        items = shaping_chapter(replace(tiny, examples=shown), room).leaves[0].items
        assert max(item.height for item in items) < room.upright[1] / 2
        drawing = panel(items, room.upright[0])
        assert max(label.extent()[2] for label in drawing.labels) <= room.upright[0] + 0.01
        assert bool(drawing.of_role(Role.PIN)) == (shown is examples)
