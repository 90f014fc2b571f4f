"""Tables and rules of assembly: nothing overflows, heads come again, every joint is made once."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from profiles.book.assembly import steps_of
from profiles.book.contents import BookContents
from profiles.book.foam import between_blocks
from profiles.book.tables import LINE, Column, in_halves, side_by_side, table_items
from profiles.paper.drawing import Label
from profiles.paper.flow import Item, deal, panel

COLUMNS = (Column("block"), Column("thick", "end"), Column("what it is made of", wraps=True))


def _rows(count: int, text: str = "a board and another board") -> list[list[str]]:
    return [[f"{k:02d}", f"{k * 1.5:.1f}", text] for k in range(1, count + 1)]


@pytest.mark.parametrize("width", [45.0, 60.0, 120.0])
@pytest.mark.parametrize("text", ["short", "a very long name of a board that no one would give it", "x" * 60])
def test_cells_keep_inside_the_table(width: float, text: str) -> None:
    """A cell that is too long wraps, so that no label reaches over the table's width or into its neighbour."""
    drawing = panel(table_items(COLUMNS, _rows(3, text), width), width)
    for label in drawing.labels:
        left, _, right, _ = label.extent()
        assert left >= -1e-6
        assert right <= width + 1e-6


def test_numbers_stand_right() -> None:
    """Cells of a column that is aligned at its end have one right edge."""
    drawing = panel(table_items(COLUMNS, _rows(12), 120.0), 120.0)
    rights = {round(label.x, 6) for label in drawing.labels if label.anchor == "end"}
    assert len(rights) == 1


def test_the_head_comes_again_after_a_break() -> None:
    """A table that breaks has its head on every page, and each row once."""
    pages = deal(table_items(COLUMNS, _rows(30), 120.0), 60.0)
    assert len(pages) > 2
    texts = [[label.text for item in page for label in item.labels] for page in pages]
    assert all(page[0] == "block" for page in texts)
    assert [text for page in texts for text in page if text.isdigit()] == [f"{k:02d}" for k in range(1, 31)]
    assert all(sum(item.height for item in page) <= 60.0 + 2 * LINE for page in pages)


def test_a_flow_begins_below_what_is_on_the_page() -> None:
    """What fits below 40 mm of 60 comes first; what does not, and what is kept with it, goes to the next page."""
    line = Item(10.0, labels=(Label("text", 0.0, 3.0, 3.0),))
    held = replace(line, keep=True)
    assert [len(page) for page in deal([line] * 4, 60.0, 40.0)] == [2, 2]
    assert [len(page) for page in deal([line, held, line], 60.0, 40.0)] == [1, 2]
    assert [len(page) for page in deal([held, held, line], 60.0, 40.0)] == [0, 3]
    assert [len(page) for page in deal([line] * 4, 60.0)] == [4]


def test_tables_side_by_side_hold_every_row() -> None:
    """Set abreast a table keeps its rows, read across, and fits the width."""
    drawing = panel(side_by_side(COLUMNS[:2], [row[:2] for row in _rows(11)], 120.0), 120.0)
    assert sorted(label.text for label in drawing.labels if label.text.isdigit()) == [f"{k:02d}" for k in range(1, 12)]
    assert max(label.extent()[2] for label in drawing.labels) <= 120.0


def test_halves_are_read_down() -> None:
    """The first half stands left of the second; without room there are no halves."""
    found = in_halves(COLUMNS, _rows(7), 200.0, 40.0)
    assert found
    (item,) = found
    first = [label for label in item.labels if label.text in {"01", "05"}]
    assert first[0].y == first[1].y
    assert first[0].x < first[1].x
    assert in_halves(COLUMNS, _rows(7), 100.0, 40.0) is None
    assert in_halves(COLUMNS, _rows(7), 200.0, 20.0) is None


def test_every_joint_is_made_once(large: BookContents) -> None:
    """Each block comes once, next to what stands already, and at the end the whole length stands together."""
    steps = steps_of(large.blocks)
    standing = [steps[0].block]
    for step in steps[1:]:
        assert step.onto in standing
        assert abs(step.block - (step.onto or 0)) == 1
        standing.append(step.block)
    assert sorted(standing) == [block.number for block in large.blocks]
    assert (steps[-1].x_fore, steps[-1].x_aft) == (large.stations[0], large.stations[-1])
    first = next(block for block in large.blocks if block.number == steps[0].block)
    assert first.aft_area == max(block.aft_area for block in large.blocks)


def test_the_glue_area_between_blocks(hand: Callable[..., BookContents]) -> None:
    """Between blocks of one size there are n - 1 joints of the smaller face."""
    contents = hand(2)
    assert between_blocks(contents) == pytest.approx(5 * 0.7 * 200.0 * 150.0)
