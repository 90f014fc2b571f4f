from pathlib import Path

import pytest

from profiles.paper.fonts import DEJAVU, UNITS_PER_EM
from profiles.paper.lettering import text_width

FOLDERS = ("/usr/share/fonts", "/usr/local/share/fonts", "/Library/Fonts", str(Path.home() / ".local/share/fonts"))


@pytest.mark.parametrize(("bold", "file"), [(False, "DejaVuSans.ttf"), (True, "DejaVuSans-Bold.ttf")])
def test_widths_are_those_of_the_font(*, bold: bool, file: str) -> None:
    """Every advance width in the table is the installed font's own (hmtx table, OpenType specification)."""
    font_file = next((path for folder in FOLDERS for path in Path(folder).rglob(file)), None)
    if font_file is None:
        pytest.skip(f"{DEJAVU.family} is not installed")
    tools = pytest.importorskip("fontTools.ttLib")
    with tools.TTFont(font_file) as font:
        assert font["head"].unitsPerEm == UNITS_PER_EM
        names, advances = font.getBestCmap(), font["hmtx"]
        assert DEJAVU.advances[bold] == {char: advances[names[ord(char)]][0] for char in DEJAVU.advances[bold]}


def test_an_unknown_letter_is_taken_for_a_wide_one() -> None:
    """A character outside the table never makes a label narrower than it is."""
    assert text_width("\u2030", 10.0) >= max(text_width(char, 10.0) for char in DEJAVU.advances[False])
