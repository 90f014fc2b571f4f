import io
import sys
from collections.abc import Iterator
from dataclasses import replace

import cairosvg
import numpy as np
import numpy.typing as npt
import pikepdf
import pypdfium2
import pytest
import shapely

from profiles.errors import StationerError
from profiles.paper import pdf
from profiles.paper.cover import Heading
from profiles.paper.fonts import missing_requirements
from profiles.paper.pages import Page, lay_out
from profiles.paper.settings import PageSettings
from profiles.paper.svg import drawing_svg
from profiles.paper.template import Template
from profiles.units import PAPERS, paper_named

ISO_216 = {"A0": (841, 1189), "A1": (594, 841), "A2": (420, 594), "A3": (297, 420), "A4": (210, 297), "A5": (148, 210)}
"""Trimmed sizes in mm, ISO 216:2007, table 1."""

INCHES = {
    "Letter": (8.5, 11),
    "Legal": (8.5, 14),
    "Tabloid": (11, 17),
    "ANSI-C": (17, 22),
    "ANSI-D": (22, 34),
    "ANSI-E": (34, 44),
}
"""Letter, Tabloid and ANSI C to E: ASME Y14.1, sizes A to E; Legal: common practice."""

EXPECTED = {name.lower(): (w * 72 / 25.4, h * 72 / 25.4) for name, (w, h) in ISO_216.items()}
EXPECTED |= {name.lower(): (w * 72.0, h * 72.0) for name, (w, h) in INCHES.items()}
"""Points; the default unit is 1/72 in (ISO 32000-1, 8.3.2.3)."""


def _pages(paper: str, heading: Heading, *templates: Template, **options: float) -> tuple[Page, ...]:
    return lay_out(templates, PageSettings(paper_named(paper), orientation="portrait", **options), heading)  # type: ignore[arg-type]


def test_a4_is_as_published() -> None:
    """A4 is 595.2756 x 841.8898 pt (210 x 297 mm, ISO 216, at 72 pt to 25.4 mm)."""
    assert EXPECTED["a4"] == pytest.approx((595.2756, 841.8898), abs=5e-5)
    assert set(EXPECTED) == set(PAPERS)


@pytest.mark.parametrize("paper", [*PAPERS, "610x2000", "120x300"])
def test_page_boxes_are_the_paper(heading: Heading, paper: str) -> None:
    """Media, crop and trim box are the sheet to 0.0001 pt."""
    sheet = paper_named(paper)
    expected = EXPECTED.get(paper, (sheet.width * 72 / 25.4, sheet.height * 72 / 25.4))
    with pikepdf.open(io.BytesIO(pdf.pages_pdf(_pages(paper, heading)))) as document:
        for leaf in document.pages:
            for box in (leaf.MediaBox, leaf.CropBox, leaf.TrimBox):
                assert [float(edge) for edge in box] == pytest.approx([0, 0, *expected], abs=1e-4)


def _ruler_extents(document: pikepdf.Pdf) -> Iterator[tuple[float, float]]:
    """Width and height in pt of the paths in the bars' form, read from its operators."""
    (form,) = document.pages[0].Resources.XObject.values()
    points: list[tuple[float, float]] = []
    for step in pikepdf.parse_content_stream(form):
        if str(step.operator) in {"m", "l"}:
            points.append((float(step.operands[0]), float(step.operands[1])))
        elif str(step.operator) == "S":
            across, down = zip(*points, strict=True)
            yield max(across) - min(across), max(down) - min(down)
            points = []


@pytest.mark.parametrize("paper", [*PAPERS, "610x2000", "120x300"])
def test_bars_are_exact(heading: Heading, paper: str) -> None:
    """100 mm is 283.465 pt and 4 in is 288 pt, in both directions, each within 0.003 pt."""
    with pikepdf.open(io.BytesIO(pdf.pages_pdf(_pages(paper, heading)))) as document:
        lengths = sorted(max(extent) for extent in _ruler_extents(document))
    long, short = {425.1969, 432.0}, {283.4646, 288.0}
    assert len(lengths) == 4
    for length in lengths:
        assert min(abs(length - figure) for figure in long | short) <= 0.003
    assert paper != "a4" or lengths == pytest.approx([283.4646, 288.0, 425.1969, 432.0], abs=0.003)


def test_a_hundred_millimetres(heading: Heading) -> None:
    """On a narrow sheet the short bars are 283.465 pt and 288 pt within 0.003 pt (ISO 32000-1, 8.3.2.3)."""
    with pikepdf.open(io.BytesIO(pdf.pages_pdf(_pages("120x160", heading)))) as document:
        lengths = sorted(max(extent) for extent in _ruler_extents(document))
    assert lengths == pytest.approx([283.465, 283.465, 288.0, 288.0], abs=0.003)


def test_the_file_asks_not_to_be_scaled(heading: Heading) -> None:
    """PrintScaling is None, in a version that knows it (ISO 32000-1, table 150), and the title is the job's."""
    with pikepdf.open(io.BytesIO(pdf.pages_pdf(_pages("a4", heading), title="Launch"))) as document:
        assert document.Root.ViewerPreferences.PrintScaling == "/None"
        assert document.pdf_version >= "1.6"
        assert dict(document.docinfo) == {"/Title": "Launch"}


def test_the_same_pages_give_the_same_bytes(mixed: tuple[Template, ...], heading: Heading) -> None:
    """Two runs give one file, with neither a date nor the name of a program in it."""
    first, second = (pdf.pages_pdf(_pages("a4", heading, *mixed)) for _ in range(2))
    assert first == second
    assert b"CreationDate" not in first
    assert b"Producer" not in first


def test_pages_show_their_text(mixed: tuple[Template, ...], heading: Heading) -> None:
    """The warning and the page number can be read from every page of the file."""
    document = pypdfium2.PdfDocument(pdf.pages_pdf(_pages("a4", heading, *mixed)))
    try:
        for number, leaf in enumerate(document, start=1):
            text = leaf.get_textpage().get_text_range()
            assert "Measure both bars" in text
            assert f"page {number} of {len(document)}" in text
    finally:
        document.close()


def test_letters_lie_where_labels_were_placed(mixed: tuple[Template, ...], heading: Heading) -> None:
    """Every letter of the file, read back by another library, lies within the footprint that kept its label free."""
    pages = _pages("a4", heading, *mixed)
    document = pypdfium2.PdfDocument(pdf.pages_pdf(pages))
    try:
        for page, leaf in zip(pages, document, strict=True):
            ground = shapely.union_all([label.footprint().buffer(0.05) for label in page.drawing.labels])
            shapely.prepare(ground)
            text = leaf.get_textpage()
            boxes = [text.get_charbox(k) for k in range(text.count_chars()) if text.get_text_range(k, 1).strip()]
            letters = sum(len("".join(label.text.split())) for label in page.drawing.labels)
            assert len(boxes) == letters
            for left, bottom, right, top in boxes:
                mm = (left, page.paper.height * 72 / 25.4 - top, right, page.paper.height * 72 / 25.4 - bottom)
                assert ground.covers(shapely.box(*(edge * 25.4 / 72 for edge in mm)))
    finally:
        document.close()


def test_a_picture_has_the_size_asked_for(mixed: tuple[Template, ...], heading: Heading) -> None:
    """At 100 dots to the inch A4 is 827 x 1169 dots."""
    picture = pdf.drawing_png(_pages("a4", heading, *mixed)[0].drawing, dpi=100)
    assert picture[:8] == b"\x89PNG\r\n\x1a\n"
    assert (int.from_bytes(picture[16:20]), int.from_bytes(picture[20:24])) == (827, 1169)


def test_a_missing_library_is_named_with_its_remedy(monkeypatch: pytest.MonkeyPatch, heading: Heading) -> None:
    """Without the cairo library the error names the package to install."""

    class _Absent:
        def find_spec(self, name: str, *_: object) -> None:
            if name == "cairocffi":
                msg = 'no library called "cairo-2" was found'
                raise OSError(msg)

    monkeypatch.delitem(sys.modules, "cairocffi", raising=False)
    monkeypatch.setattr(sys, "meta_path", [_Absent(), *sys.meta_path])
    with pytest.raises(StationerError, match="cannot be made") as caught:
        pdf.pages_pdf(_pages("a4", heading))
    assert "libcairo2" in caught.value.remedy
    assert "brew install cairo" in missing_requirements("darwin")[0]
    assert "CAIROCFFI_DLL_DIRECTORIES" in missing_requirements("win32")[0]


def _pixels(document: bytes, page: int = 0) -> npt.NDArray[np.float64]:
    """A page of a PDF in grey, ten pixels to the mm, 0 black to 1 white."""
    bitmap = pypdfium2.PdfDocument(document)[page].render(scale=254 / 72, grayscale=True)
    return np.asarray(bitmap.to_numpy(), dtype=np.float64).squeeze() / 255


def test_what_is_printed_is_what_is_written(heading: Heading, mixed: tuple[Template, ...]) -> None:
    """Lines of each page's SVG, rendered by cairosvg itself, are where the PDF has them: at ten pixels to the mm no
    spot of 0.5 mm differs by a tenth of black, while lines that are 0.3 mm off are seen. Letters are as dark in every
    3 mm.
    """
    pages = _pages("a4", heading, *mixed)
    bare = [replace(page, content=replace(page.content, labels=())) for page in pages]
    across, up = (replace(bar, labels=()) for bar in pages[0].bars)
    bare = [replace(page, bars=(across, up)) for page in bare]
    for some, spot in ((bare, 5), (pages, 30)):
        printed = pdf.pages_pdf(some)
        for number, page in enumerate(some):
            written = _pixels(cairosvg.svg2pdf(bytestring=drawing_svg(page.drawing).encode()))
            assert _farthest(_pixels(printed, number), written, spot) < 0.1, page.file_stem
    moved = drawing_svg(bare[-1].drawing.translate(0.3, 0.0))
    off = _pixels(cairosvg.svg2pdf(bytestring=moved.encode()))
    assert _farthest(_pixels(pdf.pages_pdf(bare), len(bare) - 1), off, 5) > 0.2


def _farthest(first: npt.NDArray[np.float64], second: npt.NDArray[np.float64], spot: int) -> float:
    """The greatest difference of the mean of spots of so many pixels in a square."""
    assert np.abs(np.subtract(first.shape, second.shape)).max() <= 1
    high, wide = (min(sizes) // spot * spot for sizes in zip(first.shape, second.shape, strict=True))
    apart = first[:high, :wide] - second[:high, :wide]
    return float(np.abs(apart.reshape(high // spot, spot, wide // spot, spot).mean(axis=(1, 3))).max())
