"""The skin between two lines along the body laid flat: grids on the surface -> flat panels with their edges.

A panel is divided across at its own splits and at walls of the body, and lengthwise into strips of equal girth.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
import shapely

from profiles.arrays import Floats
from profiles.drafting.flatten import Flat, flatten
from profiles.drafting.girths import Girth, SkinLine, check_order, girth_of, skin_line
from profiles.drafting.settings import Panel
from profiles.errors import HullError, JobError
from profiles.hull.frame import Hull
from profiles.hull.sections import Side
from profiles.hull.shape import Shape
from profiles.values import dataclass

INSET = 1e-3
"""mm from a pointed end, where the section has an area."""

ROW_STEP = 3.0
"""mm between rows on the surface; a bend of 100 mm radius is then 0.01 % longer than its chords."""

MOST_ROWS, COLUMNS = 81, 25
"""Of the grid of a panel: rows at most, columns."""

THINNEST_ROW = 0.01
"""mm of x between two rows."""

PROBED = 5
"""Places of a row whose distance from the next row is looked at."""

EXACT = 5e-4
"""A panel that is stretched and squeezed by less lies flat: the chords of its rows are no more exact."""


@dataclass(frozen=True, slots=True)
class Edge:
    """A long edge of a flat panel."""

    line: str
    """The line along the body, or the share of a strip, that it shares with its neighbour."""
    on_body: float
    """mm along the edge on the surface."""
    flat: float
    """mm along the edge when flat."""


@dataclass(frozen=True, slots=True)
class FlatPanel:
    """A piece of skin laid flat, seen from outside, aft to the right and with the girth running down the sheet."""

    name: str
    panel: Panel
    side: str
    x: Floats
    """(rows,) mm: the station of each row."""
    points: Floats
    """(rows, columns, 2) mm."""
    cuts: tuple[int, ...]
    """Rows at which it is cut open from its last column to the middle one."""
    slits: tuple[Floats, ...]
    """The aft side of each of these, (columns behind the middle, 2) mm."""
    edges: tuple[Edge, Edge]
    stretch: float
    squeeze: float
    area_on_body: float
    """mm2."""

    @property
    def developable(self) -> bool:
        """Whether it lies flat without strain."""
        return max(self.stretch, self.squeeze) <= EXACT

    def row_at(self, x: float) -> Floats:
        """The line (columns, 2) of a station at x mm between two rows."""
        k = int(np.clip(np.searchsorted(self.x, x) - 1, 0, len(self.x) - 2))
        share = (x - self.x[k]) / (self.x[k + 1] - self.x[k])
        return np.asarray(self.points[k] + share * (self.points[k + 1] - self.points[k]))

    @property
    def outline(self) -> Floats:
        """(n, 2) mm: lower edge, aft end, upper edge with its darts, fore end."""
        grid, middle = self.points, self.points.shape[1] // 2
        aft, parts = len(grid), [grid[:, 0], grid[-1, 1:-1]]
        for row, slit in sorted(zip(self.cuts, self.slits, strict=True), key=lambda cut: -cut[0]):
            parts += [grid[aft - 1 : row : -1, -1], slit[::-1], grid[row, middle:-1]]
            aft = row + 1
        return np.concatenate([*parts, grid[aft - 1 :: -1, -1], grid[0, -2:0:-1]])


@dataclass(frozen=True, slots=True)
class _Piece:
    """What a strip is laid flat for."""

    name: str
    panel: Panel
    side: str
    skin: float
    """mm."""


def flat_panels(hull: Hull, panel: Panel, skin: float, stations: Sequence[float]) -> Iterator[FlatPanel]:
    """All pieces of a panel, over the middle of a skin of `skin` mm.

    Raises JobError for lines that cross, or that the body does not have, and for places beyond the body.
    """
    start = 0.0 if panel.start is None else panel.start
    end = hull.length if panel.end is None else panel.end
    if not 0 <= start < end <= hull.length + INSET:
        message = (
            f"the panel {panel.name} goes from x = {start:g} to {end:g} mm; the body from 0 to {hull.length:.1f} mm"
        )
        raise JobError(message, remedy="Give start and end in mm from the nose, start first.")
    walls = [x for x in (*panel.split, *hull.steps) if start + INSET < x < end - INSET]
    ranges = list(pairwise([start, *sorted(set(walls)), end]))
    sides = ("starboard", "port") if panel.side == "both" else (panel.side,)
    for side in sides:
        for number, (x_fore, x_aft) in enumerate(ranges, start=1):
            name = " ".join(
                filter(None, (panel.name, side if len(sides) > 1 else "", str(number) if len(ranges) > 1 else ""))
            )
            yield from _strips(hull, panel, side, name, (x_fore, x_aft), skin, stations)


def _strips(
    hull: Hull,
    panel: Panel,
    side: str,
    name: str,
    span: tuple[float, float],
    skin: float,
    stations: Sequence[float],
) -> Iterator[FlatPanel]:
    try:
        lines = [skin_line(words, port=side == "port") for words in (panel.lower, panel.upper)]
        girths = _rows(hull.shape, lines, span, [x for x in (*stations, *panel.split) if span[0] < x < span[1]])
    except JobError as fault:
        message = f"panel {panel.name}: {fault.message}"
        raise JobError(message, remedy=fault.remedy) from None
    places = np.array([[line.place(girth) for line in lines] for girth in girths])
    x = np.array([girth.x for girth in girths])
    turned = side == "port" and not any("port" in words for words in (panel.lower, panel.upper))
    if turned:  # on port, girth falls from keel to top
        lines, places = lines[::-1], places[:, ::-1]
    names = (lines[0].words, lines[1].words)
    check_order(places[:, 0].tolist(), places[:, 1].tolist(), x.tolist(), (panel.lower, panel.upper))
    for k in range(panel.strips):
        shares = np.linspace(k, k + 1, COLUMNS) / panel.strips
        along = places[:, :1] + (places[:, 1:] - places[:, :1]) * shares
        grid = np.stack(
            [np.column_stack([np.full(COLUMNS, g.x), g.at(row)]) for g, row in zip(girths, along, strict=True)]
        )
        ends = [names[j] if shares[-j] in {0.0, 1.0} else f"{names[0]} + {k + j}/{panel.strips}" for j in (0, 1)]
        label = f"{name} strip {k + 1}" if panel.strips > 1 else name
        yield _laid_flat(_Piece(label, panel, side, skin), x, grid, np.diff(along, axis=1), (ends[0], ends[1]))


def _laid_flat(piece: _Piece, x: Floats, surface: Floats, breadths: Floats, lines: tuple[str, str]) -> FlatPanel:
    """One strip laid flat over the middle of the skin."""
    chords = np.maximum(np.linalg.norm(np.diff(surface, axis=1), axis=2), 1e-12)
    longer = np.maximum(breadths / chords, 1.0)
    grid = surface - _outward(surface) * (piece.skin / 2) if piece.skin else surface
    widths = np.maximum(np.linalg.norm(np.diff(grid, axis=1), axis=2), 1e-9) * longer
    cuts = _dart_rows(piece.panel.darts, len(grid))
    flat: Flat = flatten(grid, widths, cuts)
    edges = []
    for column, line in ((0, lines[0]), (-1, lines[1])):
        lengths = [float(np.linalg.norm(np.diff(p[:, column], axis=0), axis=1).sum()) for p in (grid, flat.points)]
        edges.append(Edge(line, *lengths))
    steps = np.linalg.norm(np.diff(grid, axis=0), axis=2)
    area = float((steps[:, :-1] + steps[:, 1:]).ravel() @ (widths[:-1] + widths[1:]).ravel() / 4)
    return FlatPanel(
        piece.name,
        piece.panel,
        piece.side,
        x,
        flat.points,
        cuts,
        flat.slits,
        (edges[0], edges[1]),
        flat.stretch,
        flat.squeeze,
        area,
    )


def _dart_rows(darts: int, rows: int) -> tuple[int, ...]:
    """Rows evenly along a panel, none at its ends."""
    return tuple(sorted({int(row) for row in np.linspace(0, rows - 1, darts + 2)[1:-1].round()}))


def _outward(grid: Floats) -> Floats:
    """Unit normals (rows, columns, 3) of a grid: girth direction crossed with aft."""
    along = np.gradient(grid, axis=0, edge_order=2 if len(grid) > 2 else 1)  # noqa: PLR2004 - what a parabola needs
    around = np.gradient(grid, axis=1, edge_order=2)
    normal = np.cross(around, along)
    return np.asarray(normal / np.maximum(np.linalg.norm(normal, axis=2, keepdims=True), 1e-12))


def _rows(shape: Shape, lines: Sequence[SkinLine], span: tuple[float, float], stations: Sequence[float]) -> list[Girth]:
    """Sections close enough together, with one at every station inside. Raises JobError where there is none."""

    def look(x: float) -> Girth:
        try:
            girth = girth_of(shape, x, Side.FORE if x >= span[1] - INSET else Side.AFT)
            if girth is None and x in span:
                inner = x + INSET if x == span[0] else x - INSET
                girth = girth_of(shape, inner, Side.AFT if x == span[0] else Side.FORE)
        except HullError as fault:
            raise JobError(fault.message, remedy=fault.remedy) from None
        if girth is None:
            message = f"the body has no section at x = {x:.1f} mm"
            raise JobError(message, remedy="Begin and end the panel where the body is.")
        return girth

    known = {x: look(x) for x in (span[0], *stations, span[1])}
    fixed = len(known)
    while len(known) < max(MOST_ROWS, fixed):
        places = sorted(known)
        gaps = [(_apart(known[a], known[b], lines), a, b) for a, b in pairwise(places)]
        wide = [(a + b) / 2 for gap, a, b in sorted(gaps, reverse=True) if gap > ROW_STEP and b - a > 2 * THINNEST_ROW]
        if not wide:
            break
        known |= {x: look(x) for x in wide[: MOST_ROWS - len(known)]}
    return [known[x] for x in sorted(known)]


def _apart(fore: Girth, aft: Girth, lines: Sequence[SkinLine]) -> float:
    """Largest distance in mm between the two rows at some places across the panel."""
    shares = np.linspace(0.0, 1.0, PROBED)
    rows = []
    for girth in (fore, aft):
        low, high = (line.place(girth) for line in lines)
        rows.append(np.column_stack([np.full(PROBED, girth.x), girth.at(low + (high - low) * shares)]))
    return float(np.linalg.norm(rows[1] - rows[0], axis=1).max())


NARROW = 0.01
"""Share of its area that a panel may lose where it overlaps itself: at a pointed end, by rounding."""


def panel_area(panel: FlatPanel) -> shapely.Polygon:
    """The area of a flat panel, its seam allowance not included. Raises JobError where it overlaps itself."""
    area = shapely.Polygon(panel.outline)
    if area.is_valid:
        return area
    whole = max(shapely.get_parts(shapely.make_valid(area)).tolist(), key=lambda part: part.area)
    if not isinstance(whole, shapely.Polygon) or whole.area < (1 - NARROW) * panel.area_on_body:
        message = f"the panel {panel.name} overlaps itself when it is laid flat"
        raise JobError(message, remedy="Divide it with strips or split, or leave out its darts.")
    return whole
