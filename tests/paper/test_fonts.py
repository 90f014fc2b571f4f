"""The font of the pages: another sans serif is taken where DejaVu Sans is missing, and none other."""

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pypdfium2
import pytest

from profiles.paper.fonts import CHARACTERS, DEJAVU, UNITS_PER_EM, find_font, is_of_family, missing_requirements
from profiles.paper.lettering import TOWARDS, with_symbol

ROOT = Path(__file__).parents[2]
INSTALLED = Path("/usr/share/fonts/truetype/dejavu")
STYLES = {"Regular": "DejaVuSans.ttf", "Bold": "DejaVuSans-Bold.ttf"}
WIDER = 1.2
"""How much wider the letters of the made font stand than those of DejaVu Sans."""

HIDE = '<?xml version="1.0"?><fontconfig>{}<cachedir>{}</cachedir></fontconfig>'

ASK = """
import json
from profiles.paper.fonts import find_font, missing_requirements
from profiles.paper.lettering import TOWARDS, with_symbol
font = find_font()
advances = font and {str(bold): list(table.values()) for bold, table in font.advances.items()}
print(json.dumps([font and font.family, font and font.units_per_em, advances, missing_requirements("linux"),
                  with_symbol(TOWARDS, "UP")]))
"""

Python = Callable[..., subprocess.CompletedProcess[str]]


def _rename(source: Path, target: Path, family: str, style: str) -> None:
    """A copy of a font with another name, wider letters and no symbol for a direction."""
    tools = pytest.importorskip("fontTools.ttLib")
    with tools.TTFont(source) as font:
        advances = font["hmtx"]
        for glyph in font.getGlyphOrder():
            advance, bearing = advances[glyph]
            advances[glyph] = (round(advance * WIDER), bearing)
        words = {1: family, 2: style, 4: f"{family} {style}", 6: f"{family.replace(' ', '')}-{style}"}
        font["name"].names = [record for record in font["name"].names if record.nameID not in {16, 17}]
        for record in font["name"].names:
            record.string = words.get(record.nameID, "made for a test")
        for table in font["cmap"].tables:
            table.cmap.pop(ord(TOWARDS), None)
        font.save(target)


@pytest.fixture(scope="module")
def python(tmp_path_factory: pytest.TempPathFactory) -> Python:
    """Runs Python where only the named fonts are installed: "Noto Sans" (made here), "serif" or none."""
    if sys.platform != "linux" or not all((INSTALLED / file).exists() for file in STYLES.values()):
        pytest.skip("fonts are hidden by way of fontconfig, and made from DejaVu Sans")
    place = tmp_path_factory.mktemp("fonts")
    for name in ("Noto Sans", "Noto Sans Mono", "serif", "none"):
        (place / name).mkdir()
        text = HIDE.format(f"<dir>{place / name}</dir>", place / "cache")
        (place / f"{name}.conf").write_text(text, encoding="utf-8")
        if name.startswith("Noto"):
            for style, file in STYLES.items():
                _rename(INSTALLED / file, place / name / file, name, style)
    (place / "serif" / "serif.ttf").symlink_to(INSTALLED / "DejaVuSerif.ttf")

    def run(fonts: str, words: Sequence[str], folder: Path = place) -> subprocess.CompletedProcess[str]:
        environment = os.environ | {
            "PYTHONPATH": str(ROOT), "FONTCONFIG_FILE": str(place / f"{fonts}.conf"), "COLUMNS": "200",
        }  # fmt: skip
        command = [sys.executable, "-W", "error", *words]
        return subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)

    return run


def test_this_machine_has_the_library_and_the_font() -> None:
    """The machine that runs the tests makes its pages with DejaVu Sans, from the table and not by measure."""
    assert missing_requirements() == []
    assert find_font() is DEJAVU
    assert with_symbol(TOWARDS, "UP") == f"{TOWARDS} UP"


def test_another_sans_serif_is_measured(python: Python) -> None:
    """Without DejaVu Sans the next known font is taken, with the widths of its own letters, a fifth wider here."""
    family, units, advances, missing, words = json.loads(python("Noto Sans", ["-c", ASK]).stdout)
    assert (family, missing) == ("Noto Sans", [])
    assert words == "UP"
    for bold, table in DEJAVU.advances.items():
        for character, advance in zip(CHARACTERS, advances[str(bold)], strict=True):
            expected = WIDER * table[character] / UNITS_PER_EM
            assert advance / units == pytest.approx(expected, abs=1.1e-3), character


@pytest.mark.parametrize("fonts", ["Noto Sans Mono", "serif", "none"])
def test_no_other_kind_of_font_is_taken(python: Python, fonts: str) -> None:
    """Where only a serif, a typewriter font or none is installed, the message says what to install."""
    family, _, _, missing, _ = json.loads(python(fonts, ["-c", ASK]).stdout)
    assert family is None
    assert "fonts-dejavu-core" in missing[0]
    assert "Liberation Sans" in missing[0]


def test_without_a_font_nothing_is_made(python: Python, tmp_path: Path) -> None:
    """The command ends with code 3 and one sentence, and leaves nothing behind."""
    done = python("none", ["-m", "profiles", "make", str(ROOT / "models/pelloway.toml"), "--out", "made"], tmp_path)
    assert done.returncode == 3
    assert "Install the font DejaVu Sans" in done.stderr
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.fixture(scope="module")
def folders(python: Python, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """A demo made twice with the other font."""
    made = []
    for k in range(2):
        folder = tmp_path_factory.mktemp(f"run{k}")
        job = str(ROOT / "models/pelloway.toml")
        done = python("Noto Sans", ["-m", "profiles", "make", job, "--out", "made"], folder)
        assert done.returncode == 0, done.stderr
        assert "The font Noto Sans, because DejaVu Sans is not installed" in done.stdout
        made.append(folder / "made")
    return made


def test_report_names_version_and_font(folders: list[Path]) -> None:
    """Both stand in report.json, with the note."""
    report = json.loads((folders[0] / "report.json").read_text(encoding="utf-8"))
    assert report["font"] == "Noto Sans"
    assert report["program"].startswith("stationer ")
    assert any("DejaVu Sans is not installed" in note["text"] for note in report["notes"])


def test_the_same_font_gives_the_same_bytes(folders: list[Path]) -> None:
    """Two runs with the other font give the same files."""
    first, second = (
        {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.rglob("*.*")}
        for folder in folders
    )
    assert first == second


@pytest.mark.parametrize("file", ["templates.pdf", "job-book.pdf"])
def test_wider_letters_neither_overlap_nor_leave_the_page(folders: list[Path], file: str) -> None:
    """No letter of a page lies over another one or beyond the paper, as measured in the PDF."""
    with pypdfium2.PdfDocument(folders[0] / file) as document:
        for page in document:
            text = page.get_textpage()
            boxes = np.array([text.get_charbox(k) for k in range(text.count_chars())])
            boxes = boxes[(boxes[:, 2] > boxes[:, 0]) & (boxes[:, 3] > boxes[:, 1])]
            assert len(boxes)
            width, height = page.get_size()
            assert boxes.min() >= 0
            assert boxes[:, 2].max() <= width
            assert boxes[:, 3].max() <= height
            low = np.maximum(boxes[:, None, :2], boxes[None, :, :2])
            high = np.minimum(boxes[:, None, 2:], boxes[None, :, 2:])
            assert not np.triu(((high - low) > OVERLAP).all(axis=2), 1).any()


OVERLAP = 0.3
"""pt; rounding of the boxes."""


@pytest.mark.parametrize(
    ("name", "family", "same"),
    [
        ("ArialMT", "Arial", True),
        ("Helvetica", "Helvetica", True),
        ("LiberationSans", "Liberation Sans", True),
        ("NotoSans-Regular", "Noto Sans", True),
        ("NotoSansMono-Regular", "Noto Sans", False),
        ("Arial-BoldMT", "Arial", False),
        ("DejaVuSerif", "Arial", False),
        ("", "Arial", False),
    ],
)
def test_fonts_are_identified_by_their_own_names(name: str, family: str, *, same: bool) -> None:
    """The name inside the PDF says whether the font is the one that was asked for or another in its place."""
    assert is_of_family(name, family) is same
