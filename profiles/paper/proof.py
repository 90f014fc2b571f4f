"""The finished PDF, read back with another library and measured.

Nothing is rendered: page boxes and path coordinates are read from the file, and colours identify the lines. The
expected sizes come from the templates, not from what was drawn.
"""

import ctypes
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
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

MATCH = 2.0
"""mm; the edges of a measured line are together no further than this from those of the line it is taken for."""


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
            checks += _cut_checks(page, by_id, cuts)
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


def _cut_checks(page: Page, templates: Mapping[str, Template], cuts: Sequence[_Box]) -> list[Check]:
    """Size and place of every cut line of the templates on a page, beside the nearest line in the file; a line too
    many is one that a builder would cut too.
    """
    wanted = [
        (piece.short_name, box)
        for piece in page.pieces
        for box in _expected_boxes(page, piece, templates[piece.template_id])
    ]
    pairs = _match([box for _, box in wanted], cuts)
    counts = Counter(name for name, _ in wanted)
    counted: Counter[str] = Counter()
    checks: list[Check] = []
    lost: Counter[str] = Counter()
    for (name, box), measured in zip(wanted, pairs, strict=True):
        counted[name] += 1
        if measured is None:
            lost[name] += 1
            continue
        part = name if counts[name] == 1 else f"{name} line {counted[name]}"
        checks += [
            Check(f"{part} width", box.width, measured.width),
            Check(f"{part} height", box.height, measured.height),
            Check(f"{part} left edge", box.left, measured.left),
            Check(f"{part} top edge", box.top, measured.top),
        ]
    checks += [Check(f"{name} cut lines", counts[name], counts[name] - lost[name], 0.0) for name in counts]
    stray = len(cuts) - sum(measured is not None for measured in pairs)
    return [*checks, Check(f"page {page.number} cut lines outside any template", 0, stray, 0.0)]


def _expected_boxes(page: Page, piece: Piece, template: Template) -> Iterator[_Box]:
    """The extents on the page of every cut line of the template in the window of the piece."""
    for stroke in template.drawing.of_role(Role.CUT):
        for part in clip(stroke, piece.window):
            yield _box(page.correction.points(piece.to_page(part.points)))


def _match(expected: Sequence[_Box], measured: Sequence[_Box]) -> list[_Box | None]:
    """For each expected line the measured one nearest to it, the nearest pairs first; their order in the file may
    differ. None where no line is left within MATCH.
    """
    result: list[_Box | None] = [None] * len(expected)
    if not expected or not measured:
        return result
    apart = np.abs(np.array(expected)[:, None] - np.array(measured)[None]).sum(axis=2)
    rows, columns = np.nonzero(apart <= MATCH)
    free = set(range(len(measured)))
    for k in np.argsort(apart[rows, columns], kind="stable").tolist():
        row, column = int(rows[k]), int(columns[k])
        if result[row] is None and column in free:
            free.remove(column)
            result[row] = measured[column]
    return result


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
