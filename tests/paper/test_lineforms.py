"""Empty forms: what they hold, and that they are read once they are filled in."""

import re
from pathlib import Path

import pytest

from profiles import read
from profiles.errors import HullError
from profiles.hull.formats.offsets import read_offsets
from profiles.paper.lineforms import FormSizes, empty_drawing, empty_table
from profiles.units import EIGHTHS


def fill_in(table: str, rows: dict[str, str]) -> str:
    """The table with a figure in every cell of some rows."""
    lines = table.splitlines()
    for number, line in enumerate(lines):
        label, *cells = line.split(",")
        if label in rows:
            lines[number] = ",".join([label, *(rows[label] for _ in cells)])
    return "\n".join(lines)


def test_a_filled_table_is_read(tmp_path: Path) -> None:
    """A box of 900 x 100 x 40 mm: keel at 0, sheer at 40, one waterline that has its breadth."""
    figures = {"keel height": "0", "sheer height": "40", "sheer half-breadth": "50", "waterline 15": "50"}
    (tmp_path / "box.csv").write_text(fill_in(empty_table(FormSizes()), figures), encoding="utf-8")
    hull = read(tmp_path / "box.csv")
    assert (hull.length, hull.breadth, hull.depth) == pytest.approx((900, 100, 40))


def test_a_table_in_eighths_holds_the_nearest_eighth() -> None:
    """900 mm in 11 stations: 90 mm are 3.543 in, so 0-3-4."""
    table = read_offsets(empty_table(FormSizes(), EIGHTHS).encode())
    assert table.places[1] == pytest.approx(3.5 * 25.4)
    assert table.places == pytest.approx([90 * n for n in range(11)], abs=25.4 / 16 + 1e-9)


def test_an_empty_table_says_what_to_fill_in(tmp_path: Path) -> None:
    """It is no hull yet."""
    (tmp_path / "empty.csv").write_text(empty_table(FormSizes()), encoding="utf-8")
    with pytest.raises(HullError, match="figures for at least two stations") as fault:
        read(tmp_path / "empty.csv")
    assert "Fill in" in fault.value.remedy


def test_a_drawing_with_paths_in_its_groups_is_read(tmp_path: Path) -> None:
    """A triangle 60 mm broad and 40 mm deep at every station, drawn in the group of its station: 1200 mm2 by 900 mm."""
    text = empty_drawing(FormSizes())
    centre = float(re.findall(r'id="centre"[^>]* x1="([\d.]+)"', text)[0])
    path = f'<path d="M {centre} 100 L {centre + 30} 60"/>'
    filled = re.sub(r'(<g [^>]*id="x[\d.]+"[^>]*?) ?/>', rf"\1>{path}</g>", text)
    assert filled.count(path) == 11
    (tmp_path / "wedge.svg").write_text(filled, encoding="utf-8")
    hull = read(tmp_path / "wedge.svg")
    assert hull.volume == pytest.approx(1200 * 900, rel=1e-6)
    assert not [note for note in hull.notes if "left out" in note.text]


def test_an_empty_drawing_says_what_to_draw(tmp_path: Path) -> None:
    """Its grid and its words are no sections, and are not counted as left out."""
    (tmp_path / "empty.svg").write_text(empty_drawing(FormSizes()), encoding="utf-8")
    with pytest.raises(HullError, match=r"two stations or more, found 0\.") as fault:
        read(tmp_path / "empty.svg")
    assert "data-x" in fault.value.remedy
