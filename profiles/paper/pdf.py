"""Pages as one PDF, drawings as PNG: drawn with cairo through cairosvg, joined by pikepdf."""

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
"""The first version with the viewer preference PrintScaling (ISO 32000-1, table 150)."""

SVG_MITRE = 4.0
"""The default of SVG for sharp corners (W3C SVG 1.1, stroke-miterlimit)."""


def load_libraries() -> None:
    """Load everything that `pages_pdf` needs, in a process that has nothing else to do yet."""
    if not missing_requirements():
        import pikepdf  # noqa: F401 - slow to import

        _surface()


def pages_pdf(pages: Sequence[Page], *, title: str = "") -> bytes:
    """All pages in one PDF whose page boxes are the paper, and which asks to be printed without scaling.

    It holds no date and no producer; the same pages give the same bytes. Raises StationerError with what to install
    when the cairo library or every font is missing.
    """
    check_requirements()
    import pikepdf  # slow to import

    bars = {id(page.bars): page.bar_drawing for page in pages}  # all pages of one size share their bars, drawn once
    pdf = pikepdf.Pdf.new()
    with _render([*(page.content for page in pages), *bars.values()]) as source:
        pdf.pages.extend(source.pages[: len(pages)])
        forms = [pdf.copy_foreign(leaf.as_form_xobject()) for leaf in source.pages[len(pages) :]]
    form_of = dict(zip(bars, forms, strict=True))
    for page, leaf in zip(pages, pdf.pages, strict=True):
        leaf.add_resource(form_of[id(page.bars)], pikepdf.Name.XObject, pikepdf.Name.Bars)
        leaf.contents_add(b"/Bars Do", prepend=True)
    return _finish(pdf, [page.content for page in pages], title or "Templates")


def drawings_pdf(drawings: Sequence[Drawing], *, title: str, bookmarks: Sequence[tuple[str, int]] = ()) -> bytes:
    """Drawings as one PDF, each a page of its own size; `bookmarks` are words and the page, from 1, that they lead to.

    It holds no date and no producer; the same drawings give the same bytes. Raises StationerError with what to install
    when the cairo library or every font is missing.
    """
    check_requirements()
    import pikepdf  # slow to import

    pdf = pikepdf.Pdf.new()
    with _render(drawings) as source:
        pdf.pages.extend(source.pages)
    with pdf.open_outline() as outline:
        outline.root.extend(pikepdf.OutlineItem(words, number - 1) for words, number in bookmarks)
    return _finish(pdf, drawings, title)


def _finish(pdf: "pikepdf.Pdf", drawings: Sequence[Drawing], title: str) -> bytes:
    """The PDF with the page boxes of its drawings, its title, and the request not to scale; without a date."""
    import pikepdf  # slow to import

    for drawing, leaf in zip(drawings, pdf.pages, strict=True):
        box = pikepdf.Array([0, 0, _to_points(drawing.width), _to_points(drawing.height)])
        leaf.mediabox = leaf.cropbox = leaf.trimbox = box
    pdf.Root.ViewerPreferences = pikepdf.Dictionary(PrintScaling=pikepdf.Name("/None"), DisplayDocTitle=True)
    pdf.docinfo["/Title"] = title
    out = io.BytesIO()
    pdf.save(out, min_version=PDF_VERSION, deterministic_id=True)
    return out.getvalue()


def _render(drawings: Sequence[Drawing]) -> "pikepdf.Pdf":
    """The drawings rendered by cairo, one page each."""
    import pikepdf  # slow to import

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
    """The surface on which cairosvg draws PDFs. Drawings go straight to it: writing them as SVG, parsing that and
    placing each letter takes several times as long.
    """
    import cairosvg.surface  # slow to import

    surface: type[cairosvg.surface.PDFSurface] = cairosvg.surface.PDFSurface
    return surface


def _draw(surface: Any, drawing: Drawing, scale: float) -> None:  # noqa: ANN401 - untyped library
    """Draw on a cairo surface, `scale` of its units to the mm; in the same order and as exactly as in SVG."""
    import cairocffi  # loads the C library

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
        _write(context, label)


def _trace(context: Any, points: Points, *, closed: bool) -> None:  # noqa: ANN401 - untyped library
    """Trace a path by direct calls of the C library, which keeps any error until the next checked call: checking after
    every point takes several times as long as drawing it.
    """
    from cairocffi import cairo  # loads the C library

    pen = context._pointer  # noqa: SLF001 - the library's documentation names it for such calls
    first, *others = np.round(points, 4).tolist()
    cairo.cairo_move_to(pen, *first)
    for point in others:
        cairo.cairo_line_to(pen, *point)
    if closed:
        context.close_path()


def _write(context: Any, label: Label) -> None:  # noqa: ANN401 - untyped library
    """Write a line of text in the current font, without kerning. Several spaces count as one, as in SVG (SVG 1.1,
    10.15).
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


def _to_points(mm: float) -> Decimal:
    """Millimetres in points with six decimals, as exact as the pages that cairo writes."""
    return Decimal(f"{mm * PT_PER_MM:.6f}").normalize()


def drawing_png(drawing: Drawing, dpi: float = 150.0) -> bytes:
    """The drawing as a PNG picture on white, `dpi` pixels to the inch; for looking at, not for measuring."""
    check_requirements()
    import cairocffi  # loads the C library

    pixels = (round(drawing.width / MM_PER_IN * dpi), round(drawing.height / MM_PER_IN * dpi))
    surface = cairocffi.ImageSurface(cairocffi.FORMAT_ARGB32, *pixels)
    context = cairocffi.Context(surface)
    context.set_source_rgb(1, 1, 1)
    context.paint()
    _draw(surface, drawing, min(pixels[0] / drawing.width, pixels[1] / drawing.height))
    out = io.BytesIO()
    surface.write_to_png(out)
    return out.getvalue()
