"""The finished PDF, read back with another library and measured.

Nothing is rendered: page boxes and path coordinates are read from the file, and colours identify the lines. The
expected sizes come from the templates, not from what was drawn.
"""

import ctypes
from collections.abc import Iterable, Iterator, Sequence
from types import ModuleType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from profiles.errors import CheckError
from profiles.paper.bars import Bar
from profiles.paper.drawing import STYLES, Points, Role
from profiles.paper.pages import Page
from profiles.paper.sheets import Piece
from profiles.paper.template import Template
from profiles.paper.tiling import clip
from profiles.units import MM_PER_IN, PT_PER_MM
from profiles.values import dataclass

if TYPE_CHECKING:
    import pypdfium2

TOLERANCE = 0.01
"""mm; a tenth of what is visible on paper, ten times the rounding of the file format."""

NEAR = 0.1
"""mm; a line this far outside the window of its piece still belongs to it."""


@dataclass(frozen=True, slots=True)
class Check:
    """One measurement of the finished file: mm, or a plain count if the tolerance is 0."""

    name: str
    expected: float
    measured: float
    tolerance: float = TOLERANCE

    @property
    def off(self) -> float:
        """The error."""
        return abs(self.expected - self.measured)

    @property
    def holds(self) -> bool:
        """Whether the error is within the tolerance; NaN is not."""
        return self.off <= self.tolerance


class _Box(NamedTuple):
    """Extents on the page, mm, y down."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.bottom - self.top


def load_reader() -> None:
    """Load the library that reads PDFs, while other processes still render."""
    import pypdfium2  # noqa: F401 - slow to import


def measure(pdf: bytes, pages: Sequence[Page], templates: Iterable[Template]) -> tuple[Check, ...]:
    """Every measurement of a finished PDF beside what the pages and templates ask for.

    Page count and print scaling; size and rotation of every page; both rulers of both bars on every page; number, size
    and place of the cut lines of every template or tile.
    """
    import pypdfium2  # slow to import

    raw = pypdfium2.raw
    by_id = {template.id: template for template in templates}
    document = pypdfium2.PdfDocument(pdf)
    try:
        checks = [
            Check("number of pages", len(pages), len(document), 0.0),
            Check("print scaling left to the printer", 0, int(raw.FPDF_VIEWERREF_GetPrintScaling(document.raw)), 0.0),
        ]
        for k, page in enumerate(pages[: len(document)]):
            leaf = document[k]
            checks += _page_checks(page, leaf)
            paths = list(_paths(raw, leaf.raw, page.paper.height))
            checks += _bar_checks(page, [box for role, box in paths if role is Role.BAR])
            cuts = [box for role, box in paths if role is Role.CUT]
            for piece in page.pieces:
                checks += _piece_checks(page, piece, by_id[piece.template_id], cuts)
            checks.append(_stray_check(page, cuts))
    finally:
        document.close()
    return tuple(checks)


def refuse_if_off(checks: Iterable[Check]) -> None:
    """Raise CheckError naming the worst measurement if any is outside its tolerance."""
    measured = tuple(checks)
    wrong = [check for check in measured if not check.holds]
    if wrong:
        worst = max(wrong, key=lambda check: (check.tolerance == 0, check.off))
        msg = (
            f"The finished pages were measured and {len(wrong)} of {len(measured)} sizes are wrong. The worst: "
            f"{worst.name}, expected {worst.expected:.4f}, measured {worst.measured:.4f}."
        )
        raise CheckError(msg, remedy="Nothing was kept. Report this with the job and the hull file.")


def _page_checks(page: Page, leaf: "pypdfium2.PdfPage") -> list[Check]:
    """Media, crop and trim box must all be the paper; the one with the largest error counts."""
    boxes = (leaf.get_mediabox(), leaf.get_cropbox(), leaf.get_trimbox())
    sizes = [(box[2] - box[0], box[3] - box[1]) for box in boxes]
    paper = (page.paper.width, page.paper.height)
    checks = []
    for axis, word in enumerate(("width", "height")):
        measured = max((size[axis] / PT_PER_MM for size in sizes), key=lambda mm: abs(mm - paper[axis]))
        checks.append(Check(f"page {page.number} {word}", paper[axis], measured))
    checks.append(Check(f"page {page.number} rotation", 0, leaf.get_rotation(), 0.0))
    return checks


def _bar_checks(page: Page, boxes: Sequence[_Box]) -> list[Check]:
    """Both rulers of both bars: the paths in the colour of bars that are longer across, and longer up the page."""
    checks = []
    lengths = {
        True: sorted(box.width for box in boxes if box.width > box.height),
        False: sorted(box.height for box in boxes if box.width <= box.height),
    }
    for bar in page.bars:
        factor = page.correction.x if bar.across else page.correction.y
        names = [f"page {page.number} bar {bar.name}", f"page {page.number} bar {bar.name}, inches"]
        expected = [length * factor for length in _ruler_lengths(bar)]
        measured = lengths[bar.across]
        if len(measured) != len(expected):
            checks.append(Check(f"page {page.number} rulers {bar.name}", len(expected), len(measured), 0.0))
            continue
        checks += [Check(*figures) for figures in zip(names, expected, measured, strict=True)]
    return checks


def _ruler_lengths(bar: Bar) -> tuple[float, float]:
    """The millimetre ruler is the shorter of the two in both sizes of bar."""
    return float(bar.millimetres), bar.inches * MM_PER_IN


def _piece_checks(page: Page, piece: Piece, template: Template, cuts: Sequence[_Box]) -> list[Check]:
    expected = list(_expected_boxes(page, piece, template))
    measured = [box for box in cuts if _belongs(page, piece, box)]
    name = piece.short_name
    checks = [Check(f"{name} cut lines", len(expected), len(measured), 0.0)]
    if len(expected) != len(measured):
        return checks
    for number, (wanted, actual) in enumerate(_match(expected, measured), start=1):
        part = name if len(expected) == 1 else f"{name} line {number}"
        checks += [
            Check(f"{part} width", wanted.width, actual.width),
            Check(f"{part} height", wanted.height, actual.height),
            Check(f"{part} left edge", wanted.left, actual.left),
            Check(f"{part} top edge", wanted.top, actual.top),
        ]
    return checks


def _expected_boxes(page: Page, piece: Piece, template: Template) -> Iterator[_Box]:
    """The extents on the page of every cut line of the template in the window of the piece."""
    shift = np.subtract(piece.at, piece.window[:2])
    for stroke in template.drawing.of_role(Role.CUT):
        for part in clip(stroke, piece.window):
            yield _box(page.correction.points(part.points + shift))


def _belongs(page: Page, piece: Piece, box: _Box) -> bool:
    x0, y0, x1, y1 = piece.window
    left, top = page.correction.point(*piece.at)
    right, bottom = page.correction.point(piece.at[0] + x1 - x0, piece.at[1] + y1 - y0)
    across, down = (box.left + box.right) / 2, (box.top + box.bottom) / 2
    return left - NEAR <= across <= right + NEAR and top - NEAR <= down <= bottom + NEAR


def _stray_check(page: Page, cuts: Sequence[_Box]) -> Check:
    """Cut lines that belong to no template: a builder would cut them too."""
    stray = [box for box in cuts if not any(_belongs(page, piece, box) for piece in page.pieces)]
    return Check(f"page {page.number} cut lines outside any template", 0, len(stray), 0.0)


def _match(expected: Sequence[_Box], measured: Sequence[_Box]) -> Iterator[tuple[_Box, _Box]]:
    """Each expected line with the nearest measured one that is left; their order in the file may differ."""
    rest = list(measured)
    for wanted in expected:
        nearest = min(rest, key=lambda box: _distance(wanted, box))
        rest.remove(nearest)
        yield wanted, nearest


def _distance(box: _Box, other: _Box) -> float:
    return sum(abs(a - b) for a, b in zip(box, other, strict=True))


def _box(points: Points) -> _Box:
    return _Box(*points.min(axis=0).tolist(), *points.max(axis=0).tolist())


_COLOURS = {STYLES[role].colour: role for role in (Role.CUT, Role.BAR)}


def _paths(raw: ModuleType, leaf: object, height: float) -> Iterator[tuple[Role, _Box]]:
    """Every path in a colour of cut lines or bars, on the page or in a form on it, as (role, extents in mm)."""
    count = raw.FPDFPage_CountObjects(leaf)
    for role, corners in _walk(raw, [raw.FPDFPage_GetObject(leaf, k) for k in range(count)], np.eye(3)):
        mm = corners / PT_PER_MM
        yield role, _box(np.column_stack([mm[:, 0], height - mm[:, 1]]))


def _walk(raw: ModuleType, objects: Iterable[object], outer: Points) -> Iterator[tuple[Role, Points]]:
    for item in objects:
        kind = raw.FPDFPageObj_GetType(item)
        if kind == raw.FPDF_PAGEOBJ_FORM:
            inside = [raw.FPDFFormObj_GetObject(item, k) for k in range(raw.FPDFFormObj_CountObjects(item))]
            yield from _walk(raw, inside, _matrix(raw, item) @ outer)
        elif kind == raw.FPDF_PAGEOBJ_PATH:
            role = _COLOURS.get(_stroke_colour(raw, item))
            if role is not None:
                matrix = _matrix(raw, item) @ outer
                yield role, (_corners(raw, item) @ matrix)[:, :2]


def _matrix(raw: ModuleType, item: object) -> Points:
    """The matrix of an object for row vectors (x, y, 1), as in ISO 32000-1, 8.3.3."""
    m = raw.FS_MATRIX()
    raw.FPDFPageObj_GetMatrix(item, m)
    return np.array([[m.a, m.b, 0.0], [m.c, m.d, 0.0], [m.e, m.f, 1.0]])


def _stroke_colour(raw: ModuleType, item: object) -> str:
    """The colour as #rrggbb; empty if the path is not stroked."""
    fill, stroked = ctypes.c_int(), ctypes.c_int()
    if not raw.FPDFPath_GetDrawMode(item, fill, stroked) or not stroked.value:
        return ""
    red, green, blue, alpha = (ctypes.c_uint() for _ in range(4))
    raw.FPDFPageObj_GetStrokeColor(item, red, green, blue, alpha)
    return f"#{red.value:02x}{green.value:02x}{blue.value:02x}"


def _corners(raw: ModuleType, item: object) -> Points:
    """All four corners (x, y, 1) of the extents of a path, before its matrix.

    The library returns the extents of what it would paint, so line width and matrix are first removed from the path in
    memory. Pages are scaled and moved; a page that is turned as well would measure too large and be refused.
    """
    raw.FPDFPath_SetDrawMode(item, raw.FPDF_FILLMODE_NONE, 0)
    raw.FPDFPageObj_SetMatrix(item, raw.FS_MATRIX(1, 0, 0, 1, 0, 0))
    left, bottom, right, top = (ctypes.c_float() for _ in range(4))
    raw.FPDFPageObj_GetBounds(item, left, bottom, right, top)
    return np.array([(x.value, y.value, 1.0) for x in (left, right) for y in (bottom, top)])
