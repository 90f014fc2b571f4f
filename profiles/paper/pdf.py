"""Pages as one PDF, drawings as PNG: drawn by cairo as cairosvg draws, joined by pikepdf."""

import functools
import io
import math
from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import numpy as np

from profiles.paper.drawing import ANCHORS, STYLES, Drawing, Label, Points, Role
from profiles.paper.fonts import check_requirements, font_in_use, missing_requirements
from profiles.paper.pages import Page
from profiles.paper.svg import DRAWING_ORDER, RUN_TOGETHER
from profiles.units import MM_PER_IN, PT_PER_MM

if TYPE_CHECKING:
    import cairosvg.surface
    import pikepdf

PDF_VERSION = "1.6"
"""The first whose readers know the viewer preference PrintScaling (ISO 32000-1, table 150)."""

SVG_MITRE = 4.0
"""SVG's own limit for sharp corners (W3C SVG 1.1, stroke-miterlimit)."""


def load_libraries() -> None:
    """Load everything that `pages_pdf` needs, for a process that has nothing else to do yet."""
    if not missing_requirements():
        import pikepdf  # noqa: F401, PLC0415 - slow to import

        _surface()


def pages_pdf(pages: Sequence[Page], *, title: str = "") -> bytes:
    """All pages in one PDF whose page boxes are the paper, and which asks to be printed without scaling.

    It holds no date and no producer; the same pages give the same bytes. Raises StationerError with what to install
    when the cairo library or every font is missing.
    """
    check_requirements()
    import pikepdf  # noqa: PLC0415 - slow to import

    bars = {id(page.bars): _bars_alone(page) for page in pages}  # those of all pages are one object, drawn once
    joined = pikepdf.Pdf.new()
    with _rendered([*(page.content for page in pages), *bars.values()]) as source:
        joined.pages.extend(source.pages[: len(pages)])
        forms = [joined.copy_foreign(leaf.as_form_xobject()) for leaf in source.pages[len(pages) :]]
    form_of = dict(zip(bars, forms, strict=True))
    for page, leaf in zip(pages, joined.pages, strict=True):
        leaf.add_resource(form_of[id(page.bars)], pikepdf.Name.XObject, pikepdf.Name.Bars)
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
    when the cairo library or every font is missing.
    """
    check_requirements()
    import pikepdf  # noqa: PLC0415 - slow to import

    joined = pikepdf.Pdf.new()
    with _rendered(drawings) as source:
        joined.pages.extend(source.pages)
    for drawing, leaf in zip(drawings, joined.pages, strict=True):
        size = (drawing.width, drawing.height)
        leaf.mediabox = leaf.cropbox = leaf.trimbox = pikepdf.Array([0, 0, *map(_points, size)])
    with joined.open_outline() as outline:
        outline.root.extend(pikepdf.OutlineItem(words, number - 1) for words, number in bookmarks)
    joined.Root.ViewerPreferences = pikepdf.Dictionary(PrintScaling=pikepdf.Name("/None"), DisplayDocTitle=True)
    joined.docinfo["/Title"] = title
    out = io.BytesIO()
    joined.save(out, min_version=PDF_VERSION, deterministic_id=True)
    return out.getvalue()


def _rendered(drawings: Sequence[Drawing]) -> "pikepdf.Pdf":
    """The drawings as they come from cairo, each a page."""
    import pikepdf  # noqa: PLC0415 - slow to import

    out = io.BytesIO()
    surface = _surface().surface_class(out, 1, 1)
    for drawing in drawings:
        surface.set_size(drawing.width * PT_PER_MM, drawing.height * PT_PER_MM)
        _draw(surface, drawing, PT_PER_MM)
        surface.show_page()
    surface.finish()
    out.seek(0)
    return pikepdf.Pdf.open(out)


@functools.cache
def _surface() -> type["cairosvg.surface.PDFSurface"]:
    """What cairosvg draws PDFs on. Drawings go there as they are: they are strokes and lines of text, and to write them
    as SVG, to parse that and to set every letter by itself takes several times as long.
    """
    import cairosvg.surface  # noqa: PLC0415 - slow to import

    surface: type[cairosvg.surface.PDFSurface] = cairosvg.surface.PDFSurface
    return surface


def _draw(surface: Any, drawing: Drawing, scale: float) -> None:  # noqa: ANN401 - untyped library
    """A drawing on a cairo surface, `scale` of its units to the mm; in the order, and as exact, as in SVG."""
    import cairocffi  # noqa: PLC0415 - loads the C library

    context = cairocffi.Context(surface)
    context.scale(scale, scale)
    context.set_fill_rule(cairocffi.FILL_RULE_EVEN_ODD)
    for area in drawing.areas:
        for ring in area.rings:
            _trace(context, ring, closed=True)
        context.set_source_rgb(*_rgb(area.colour))
        context.fill()
    context.set_miter_limit(SVG_MITRE)
    for role in DRAWING_ORDER:
        strokes = drawing.of_role(role)
        if not strokes:
            continue
        style = STYLES[role]
        context.set_source_rgb(*_rgb(style.colour))
        context.set_line_width(style.width)
        context.set_dash(list(style.dash))
        for stroke in strokes:
            _trace(context, stroke.points, closed=stroke.closed)
            if role not in RUN_TOGETHER:
                context.stroke()
        if role in RUN_TOGETHER:
            context.stroke()
    context.set_source_rgb(*_rgb(STYLES[Role.LABEL].colour))
    family = font_in_use().family
    font: tuple[bool, float] | None = None
    for label in drawing.labels:
        if font != (label.bold, label.size):
            font = label.bold, label.size
            weight = cairocffi.FONT_WEIGHT_BOLD if label.bold else cairocffi.FONT_WEIGHT_NORMAL
            context.select_font_face(family, cairocffi.FONT_SLANT_NORMAL, weight)
            context.set_font_size(round(label.size, 4))
        _letter(context, label)


def _trace(context: Any, points: Points, *, closed: bool) -> None:  # noqa: ANN401 - untyped library
    """A path, given to the C library directly: it keeps an error until the next call that is looked after, and to look
    after every point takes several times as long as to draw it.
    """
    from cairocffi import cairo  # noqa: PLC0415 - loads the C library

    pen = context._pointer  # noqa: SLF001 - what the library's own description names for such calls
    (x, y), *others = np.round(points, 4).tolist()
    cairo.cairo_move_to(pen, x, y)
    for further_x, further_y in others:
        cairo.cairo_line_to(pen, further_x, further_y)
    if closed:
        context.close_path()


def _letter(context: Any, label: Label) -> None:  # noqa: ANN401 - untyped library
    """A line of text in the font that is set, as a whole: our labels have no kerning and no spacing of their own.
    Several blanks are one, as in SVG (SVG 1.1, 10.15).
    """
    share = ANCHORS[label.anchor]
    words = " ".join(label.text.split())
    left = share * context.text_extents(words)[4] if share else 0.0
    x, y = round(label.x, 4), round(label.y, 4)
    if not label.angle:
        context.move_to(x - left, y)
        context.show_text(words)
        return
    context.save()
    context.translate(x, y)
    context.rotate(math.radians(label.angle))
    context.move_to(-left, 0.0)
    context.show_text(words)
    context.restore()


def _rgb(colour: str) -> tuple[float, float, float]:
    """Shares of red, green and blue of #rrggbb."""
    red, green, blue = bytes.fromhex(colour[1:])
    return red / 255, green / 255, blue / 255


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
    check_requirements()
    import cairocffi  # noqa: PLC0415 - loads the C library

    pixels = (round(drawing.width / MM_PER_IN * dpi), round(drawing.height / MM_PER_IN * dpi))
    surface = cairocffi.ImageSurface(cairocffi.FORMAT_ARGB32, *pixels)
    context = cairocffi.Context(surface)
    context.set_source_rgb(1, 1, 1)
    context.paint()
    _draw(surface, drawing, min(pixels[0] / drawing.width, pixels[1] / drawing.height))
    out = io.BytesIO()
    surface.write_to_png(out)
    return out.getvalue()
