"""Pages as one PDF, drawings as PNG: through cairosvg, joined by pikepdf."""

import functools
import io
from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from profiles.errors import StationerError
from profiles.paper.drawing import Drawing
from profiles.paper.lettering import ADVANCES, FAMILY, UNITS_PER_EM
from profiles.paper.pages import Page
from profiles.paper.svg import drawing_svg
from profiles.units import MM_PER_IN, PT_PER_MM

if TYPE_CHECKING:
    import cairosvg.surface
    import pikepdf

CAIRO = "the cairo library (Debian: apt install libcairo2; macOS: brew install cairo)"
FONT = f"the font {FAMILY} (Debian: apt install fonts-dejavu-core)"

PDF_VERSION = "1.6"
"""The first whose readers know the viewer preference PrintScaling (ISO 32000-1, table 150)."""

SVG_MITRE = 4.0
"""SVG's own limit for sharp corners (W3C SVG 1.1, stroke-miterlimit)."""

SAME_WIDTH = 1e-3
"""em; a substitute font is further off than this in one of the letters tried."""


@functools.cache
def missing_requirements() -> list[str]:
    """What must be installed before pages can be made, each with how; empty when everything is there.

    The font is looked for by its measure: cairo puts another in its place without a word, so the advance widths of a
    few letters are compared with the table that labels are placed by.
    """
    try:
        import cairocffi  # noqa: PLC0415 - loads the C library
    except OSError:
        return [CAIRO]
    context = cairocffi.Context(cairocffi.PDFSurface(None, 100, 100))
    context.set_font_size(1000)
    for bold, table in ADVANCES.items():
        weight = cairocffi.FONT_WEIGHT_BOLD if bold else cairocffi.FONT_WEIGHT_NORMAL
        context.select_font_face(FAMILY, cairocffi.FONT_SLANT_NORMAL, weight)
        for letter in "MiQg0&":
            advance = context.text_extents(letter)[4] / 1000
            if abs(advance - table[letter] / UNITS_PER_EM) > SAME_WIDTH:
                return [FONT]
    return []


def load_libraries() -> None:
    """Load everything that `pages_pdf` needs, for a process that has nothing else to do yet."""
    if not missing_requirements():
        import pikepdf  # noqa: F401, PLC0415 - slow to import

        _surface()


def _check_requirements() -> None:
    missing = missing_requirements()
    if missing:
        msg = "Pages cannot be made on this machine."
        raise StationerError(msg, remedy=f"Install {' and '.join(missing)}.")


def pages_pdf(pages: Sequence[Page], *, title: str = "") -> bytes:
    """All pages in one PDF whose page boxes are the paper, and which asks to be printed without scaling.

    It holds no date and no producer; the same pages give the same bytes. Raises StationerError with what to install
    when the cairo library or the font is missing.
    """
    _check_requirements()
    import pikepdf  # noqa: PLC0415 - slow to import

    joined = pikepdf.Pdf.new()
    shared: dict[int, pikepdf.Object] = {}  # the bars of all pages are one object, and rendered once
    for page in pages:
        with _rendered(page.content) as source:
            joined.pages.append(source.pages[0])
        leaf = joined.pages[-1]
        if id(page.bars) not in shared:
            with _rendered(_bars_alone(page)) as source:
                shared[id(page.bars)] = joined.copy_foreign(source.pages[0].as_form_xobject())
        leaf.add_resource(shared[id(page.bars)], pikepdf.Name.XObject, pikepdf.Name.Bars)
        leaf.contents_add(b"/Bars Do", prepend=True)
        leaf.mediabox = leaf.cropbox = leaf.trimbox = pikepdf.Array([0, 0, *map(_points, _size(page))])
    joined.Root.ViewerPreferences = pikepdf.Dictionary(PrintScaling=pikepdf.Name("/None"), DisplayDocTitle=True)
    joined.docinfo["/Title"] = title or "Templates"
    out = io.BytesIO()
    joined.save(out, min_version=PDF_VERSION, deterministic_id=True)
    return out.getvalue()


def drawings_pdf(drawings: Sequence[Drawing], *, title: str, bookmarks: Sequence[tuple[str, int]] = ()) -> bytes:
    """Drawings as one PDF, each a page of its own size; `bookmarks` are words and the page, from 1, that they lead to.

    It holds no date and no producer; the same drawings give the same bytes. Raises StationerError with what to install
    when the cairo library or the font is missing.
    """
    _check_requirements()
    import pikepdf  # noqa: PLC0415 - slow to import

    joined = pikepdf.Pdf.new()
    for drawing in drawings:
        with _rendered(drawing) as source:
            joined.pages.append(source.pages[0])
        leaf = joined.pages[-1]
        size = (drawing.width, drawing.height)
        leaf.mediabox = leaf.cropbox = leaf.trimbox = pikepdf.Array([0, 0, *map(_points, size)])
    with joined.open_outline() as outline:
        outline.root.extend(pikepdf.OutlineItem(words, number - 1) for words, number in bookmarks)
    joined.Root.ViewerPreferences = pikepdf.Dictionary(PrintScaling=pikepdf.Name("/None"), DisplayDocTitle=True)
    joined.docinfo["/Title"] = title
    out = io.BytesIO()
    joined.save(out, min_version=PDF_VERSION, deterministic_id=True)
    return out.getvalue()


def _rendered(drawing: Drawing) -> "pikepdf.Pdf":
    import pikepdf  # noqa: PLC0415 - slow to import

    return pikepdf.Pdf.open(io.BytesIO(_surface().convert(drawing_svg(drawing).encode())))


@functools.cache
def _surface() -> type["cairosvg.surface.PDFSurface"]:
    """Make cairosvg's PDF surface, with two short cuts for what most of a page consists of.

    A line of text is set as a whole: cairosvg sets every letter by itself, and twice. Our labels have no kerning,
    spacing or paths, and stand at the same place either way. And a stroke of straight lines goes to cairo as it is,
    without a parser that is made for curves, markers and units. Together they take two thirds off the time of a page.
    """
    import cairocffi  # noqa: PLC0415 - loads the C library
    import cairosvg.surface  # noqa: PLC0415 - slow to import
    from cairosvg.helpers import transform  # noqa: PLC0415 - slow to import

    class _Plain(cairosvg.surface.PDFSurface):  # type: ignore[misc]  # untyped library
        def draw(self, node: Any) -> None:  # noqa: ANN401 - untyped library
            if node.tag == "path" and node.get("fill") == "none":
                self.stroked(node)
            elif node.tag == "text":
                self.lettered(node)
            else:
                super().draw(node)

        def stroked(self, node: Any) -> None:  # noqa: ANN401 - untyped library
            context = self.context
            context.save()
            for run in node["d"].split("M")[1:]:
                (x, y), *others = (point.split() for point in run.removesuffix("Z").split("L"))
                context.move_to(float(x), float(y))
                for further_x, further_y in others:
                    context.line_to(float(further_x), float(further_y))
                if run.endswith("Z"):
                    context.close_path()
            context.set_source_rgba(*self.map_color(node["stroke"]))
            context.set_line_width(float(node["stroke-width"]))
            context.set_dash([float(length) for length in node.get("stroke-dasharray", "").split()])
            context.set_miter_limit(SVG_MITRE)
            context.stroke()
            context.restore()

        def lettered(self, node: Any) -> None:  # noqa: ANN401 - untyped library
            context = self.context
            context.save()
            transform(self, node.get("transform"))
            bold = node.get("font-weight") == "bold"
            weight = cairocffi.FONT_WEIGHT_BOLD if bold else cairocffi.FONT_WEIGHT_NORMAL
            context.select_font_face(node["font-family"], cairocffi.FONT_SLANT_NORMAL, weight)
            context.set_font_size(float(node["font-size"]))
            context.set_source_rgba(*self.map_color(node["fill"]))
            share = {"start": 0.0, "middle": 0.5, "end": 1.0}[node.get("text-anchor", "start")]
            left = share * context.text_extents(node.text)[4] if share else 0.0
            context.move_to(float(node["x"]) - left, float(node["y"]))
            context.show_text(node.text)
            context.restore()

    return _Plain


def _bars_alone(page: Page) -> Drawing:
    strokes = [stroke for bar in page.bars for stroke in bar.strokes]
    labels = [label for bar in page.bars for label in bar.labels]
    return Drawing(page.paper.width, page.paper.height, tuple(strokes), tuple(labels))


def _size(page: Page) -> tuple[float, float]:
    return page.paper.width, page.paper.height


def _points(mm: float) -> Decimal:
    """Millimetres in points with six decimals, as exact as the page that cairo writes."""
    return Decimal(f"{mm * PT_PER_MM:.6f}").normalize()


def drawing_png(drawing: Drawing, dpi: float = 150.0) -> bytes:
    """The drawing as a picture on white, `dpi` pixels to the inch; for looking at, not for measuring."""
    _check_requirements()
    import cairosvg  # noqa: PLC0415 - slow to import

    pixels = (round(drawing.width / MM_PER_IN * dpi), round(drawing.height / MM_PER_IN * dpi))
    picture: bytes = cairosvg.svg2png(
        bytestring=drawing_svg(drawing).encode(),
        output_width=pixels[0],
        output_height=pixels[1],
        background_color="#ffffff",
    )
    return picture
