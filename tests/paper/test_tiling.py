from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from profiles.errors import PaperError
from profiles.paper.drawing import Drawing, Label, Role, Stroke, freeze
from profiles.paper.template import Template
from profiles.paper.tiling import Tiling, choose_tiling, clip, join_marks, tile_drawings

ROOM = (120.0, 140.0)
OVERLAP = 10.0


def _line(stroke: Stroke) -> shapely.LineString:
    return shapely.LineString(np.vstack([stroke.points, stroke.points[: int(stroke.closed)]]))


def _cells(tiling: Tiling) -> list[tuple[int, int]]:
    return [(row, column) for row in range(len(tiling.rows)) for column in range(len(tiling.columns))]


@pytest.fixture(name="large")
def fixture_large(mixed: tuple[Template, ...]) -> Drawing:
    """A drawing that takes several sheets both ways."""
    return next(template.drawing for template in mixed if template.drawing.width > 2 * ROOM[0])


def test_windows_fit_overlap_and_cover(large: Drawing) -> None:
    """Windows are no larger than the room, overlap by exactly what was asked, and together show the whole sheet."""
    tiling = choose_tiling(large, ROOM, OVERLAP)
    for spans, room, length in ((tiling.columns, ROOM[0], large.width), (tiling.rows, ROOM[1], large.height)):
        assert spans[0][0] == 0.0
        assert spans[-1][1] == length
        assert all(last - first <= room + 1e-6 for first, last in spans)
        assert all(first[1] - second[0] == pytest.approx(OVERLAP, abs=1e-9) for first, second in pairwise(spans))


def test_what_fits_is_not_cut() -> None:
    """A drawing exactly as large as the room has one window."""
    assert choose_tiling(Drawing(*ROOM), ROOM, OVERLAP).sheets == 1
    assert choose_tiling(Drawing(ROOM[0] + 0.1, ROOM[1]), ROOM, OVERLAP).sheets == 2


@pytest.mark.parametrize("overlap", [0.0, 3.0, 60.0])
def test_an_impossible_overlap_is_refused_with_a_remedy(large: Drawing, overlap: float) -> None:
    """Too little overlap for a mark, or more than a third of the sheet, is an error that says what would do."""
    with pytest.raises(PaperError) as caught:
        choose_tiling(large, ROOM, overlap)
    assert caught.value.remedy


def test_tiles_put_together_are_the_template(large: Drawing) -> None:
    """The pieces of each stroke on all tiles cover it without a gap and add nothing to it."""
    tiling = choose_tiling(large, ROOM, OVERLAP)
    for stroke in large.strokes:
        pieces = [piece for cell in _cells(tiling) for piece in clip(stroke, tiling.window(*cell))]
        together = shapely.union_all([_line(piece) for piece in pieces])
        assert _line(stroke).difference(together.buffer(1e-7)).length == pytest.approx(0.0, abs=1e-6)
        assert together.difference(_line(stroke).buffer(1e-7)).length == pytest.approx(0.0, abs=1e-6)


COORDINATE = st.floats(-20.0, 120.0).map(lambda value: round(value, 2))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(COORDINATE, COORDINATE), min_size=3, max_size=12, unique=True), st.booleans())
def test_cells_share_out_the_length(points: list[tuple[float, float]], closed: bool) -> None:  # noqa: FBT001
    """Whatever the line, its lengths in the four quarters of the plane add up to its own (no overlap, no gap)."""
    stroke = Stroke(Role.CUT, freeze(points), closed=closed)
    middle = 50.0123
    spans = ((-100.0, middle), (middle, 200.0))
    pieces = [part for x in spans for y in spans for part in clip(stroke, (x[0], y[0], x[1], y[1]))]
    total = shapely.union_all([_line(piece) for piece in pieces]).length
    assert total == pytest.approx(_total(stroke), abs=0.01 * (2 * len(points) + 2))


def _total(stroke: Stroke) -> float:
    """Length of the polyline, parts that lie on one another counted once."""
    return float(shapely.union_all([shapely.LineString(pair) for pair in pairwise(_line(stroke).coords)]).length)


def test_a_clipped_ring_has_no_seam() -> None:
    """A closed stroke cut by one window edge is one open piece, not two that meet where it happened to begin."""
    turn = np.linspace(0.0, 2 * np.pi, 60, endpoint=False)
    ring = Stroke(Role.CUT, freeze(np.column_stack([50 + 30 * np.cos(turn), 50 + 30 * np.sin(turn)])), closed=True)
    (piece,) = clip(ring, (50.0, 0.0, 100.0, 100.0))
    assert not piece.closed
    assert clip(ring, (0.0, 0.0, 100.0, 100.0)) == (ring,)
    assert clip(ring, (90.0, 0.0, 100.0, 100.0)) == ()
    assert clip(ring, (80.0, 0.0, 100.0, 100.0)) == ()


def test_every_label_is_whole_on_one_sheet_and_only_one(large: Drawing) -> None:
    """Each label is shown once, unmoved, to a tile whose window holds all of it."""
    tiling = choose_tiling(large, ROOM, OVERLAP)
    tiles = tile_drawings(large, tiling)
    for label in large.labels:
        holders = [cell for cell, tile in tiles.items() if label in tile.labels]
        assert len(holders) == 1
        assert shapely.box(*tiling.window(*holders[0])).buffer(1e-5).covers(label.footprint())


def test_a_label_longer_than_a_sheet_is_moved_into_one_and_set_smaller() -> None:
    """Text that no window can hold is not cut but fitted."""
    drawing = Drawing(300.0, 60.0, labels=(Label("a label longer than any sheet " * 4, 5.0, 30.0, 4.0),))
    tiling = choose_tiling(drawing, ROOM, OVERLAP)
    shown = [
        (cell, label)
        for cell, tile in tile_drawings(drawing, tiling).items()
        for label in tile.labels
        if label.text.startswith("a label")
    ]
    ((cell, label),) = shown
    assert shapely.box(*tiling.window(*cell)).buffer(1e-5).covers(label.footprint())


def test_join_marks_meet(large: Drawing) -> None:
    """A mark is at the same place of the template on both sheets, in the overlap, and every seam has two at least."""
    tiling = choose_tiling(large, ROOM, OVERLAP)
    tiles = tile_drawings(large, tiling)
    marks = join_marks(large, tiling)
    assert len({mark.name for mark in marks}) == len(marks)
    for mark in marks:
        crosses = [
            {tuple(map(tuple, stroke.points.round(9))) for stroke in tiles[cell].of_role(Role.JOIN)}
            for cell in (mark.before, mark.after)
        ]
        centred = [
            {line for line in lines if np.allclose(np.mean(line, axis=0), (mark.x, mark.y))} for lines in crosses
        ]
        assert centred[0] == centred[1]
        assert len(centred[0]) == 3
        for cell in (mark.before, mark.after):
            window = shapely.box(*tiling.window(*cell)).buffer(1e-6)
            assert all(window.covers(shapely.LineString(line)) for line in centred[0])
            assert sum(label.text == mark.name for label in tiles[cell].labels) == 1
    seams = {(mark.before, mark.after) for mark in marks}
    rows, columns = len(tiling.rows), len(tiling.columns)
    assert len(seams) == rows * (columns - 1) + columns * (rows - 1)
    assert all(sum((mark.before, mark.after) == seam for mark in marks) >= 2 for seam in seams)


def test_marks_and_labels_keep_apart(large: Drawing) -> None:
    """On no tile does one text touch another, or a join mark touch any text but its name."""
    for tile in tile_drawings(large, choose_tiling(large, ROOM, OVERLAP)).values():
        prints = [label.footprint() for label in tile.labels]
        assert not any(a.intersects(b) for k, a in enumerate(prints) for b in prints[k + 1 :])
        joins = shapely.union_all([_line(stroke) for stroke in tile.of_role(Role.JOIN)])
        texts = [label.footprint() for label in tile.labels if label in large.labels]
        assert not any(joins.intersects(shape) for shape in texts)
