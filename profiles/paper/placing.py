"""Where a label can stand: inside a region, clear of lines and of other labels.

Rectangles are (x0, y0, x1, y1) in mm.
"""

from collections.abc import Sequence
from enum import Enum

import numpy as np
import numpy.typing as npt
import shapely

from profiles.arrays import Bools, Floats
from profiles.paper.drawing import Points

Rect = tuple[float, float, float, float]

Lines = npt.NDArray[np.object_]
"""shapely lines (n,)."""

CLEAR = 0.6
"""mm kept free between a label and any line or other label."""

SEARCH_STEPS = 20
"""Places tried along each axis in a search for room in a region: every 5 mm in an outline 100 mm wide."""

AT_ONCE = 48
"""Places tested together: few enough to stop early, enough to be fast."""


class Near:
    """Geometries that grow in number, and those of them that come near a rectangle: most are far from it."""

    def __init__(self) -> None:
        self._all: list[shapely.Geometry] = []
        self._bounds: list[Rect] = []
        self._owners: list[int] = []
        self._known = np.zeros((0, 4))  # the bounds as an array, brought up to date when it is needed

    def add(self, geometry: shapely.Geometry, owner: int = -1) -> None:
        """One more geometry, and whose it is."""
        self._all.append(geometry)
        self._bounds.append(geometry.bounds)
        self._owners.append(owner)

    def within(self, rect: Floats, reach: float, but: int | None = None) -> npt.NDArray[np.object_]:
        """The geometries (n,) whose bounds are within `reach` mm of a rectangle (4,), but not those of one owner."""
        if len(self._known) < len(self._bounds):
            self._known = np.vstack([self._known, self._bounds[len(self._known) :]])
        low, high = rect[:2] - reach, rect[2:] + reach
        near = ((self._known[:, :2] <= high) & (self._known[:, 2:] >= low)).all(axis=1)
        return np.array([self._all[k] for k in np.flatnonzero(near).tolist() if self._owners[k] != but], object)


class Over(Enum):
    """What a card may stand on."""

    NOTHING = 0
    DATUM = 1
    CROSS = 2
    """Datum lines, where they cross as well."""


class Occupied:
    """What is already on the sheet: lines, and the rectangles of labels. It grows while labels are placed.

    A horizontal or vertical line is also kept as a rectangle, because comparing rectangles is fast. `soft` lines are
    datum lines, all horizontal or vertical: a card may stand on one if there is no other place, and the line is
    interrupted there, but last of all where they cross.
    """

    def __init__(self, lines: Sequence[Points], soft: Sequence[Points] = (), cross: Sequence[Points] = ()) -> None:
        ends = np.repeat(np.arange(len(lines)), [len(points) for points in lines])
        self._lines = shapely.multilinestrings(shapely.linestrings(np.vstack(lines), indices=ends))
        shapely.prepare(self._lines)
        self._rects = _straight(lines)
        self._cross = _straight(cross)
        self._soft = [*_straight(soft), *self._cross]
        self._straight_lines = len(self._rects)
        self._known = np.zeros((0, 4))  # the same as an array, brought up to date when it is needed
        self._leaders = Near()

    def take(self, rect: Rect) -> None:
        """Add the rectangle of a label."""
        self._rects.append(rect)

    def take_line(self, line: shapely.LineString) -> None:
        """Add a line."""
        self._leaders.add(line)

    def off_labels(self, rects: Points, *, over: Over = Over.NOTHING) -> Bools:
        """Which of the rectangles (n, 4) touch no label and no straight line but what they may stand `over`."""
        if not len(rects):
            return np.zeros(0, dtype=np.bool_)
        if len(self._known) < len(self._rects):
            self._known = np.vstack([self._known, self._rects[len(self._known) :]])
        (first, upper), (last, lower) = rects[:, :2].min(axis=0) - 2 * CLEAR, rects[:, 2:].max(axis=0) + 2 * CLEAR
        soft = {Over.NOTHING: self._soft, Over.DATUM: self._cross, Over.CROSS: []}[over]
        known = np.vstack([self._known, soft]) if soft else self._known
        left, top, right, bottom = known.T
        near = known[(left < last) & (right > first) & (top < lower) & (bottom > upper)]
        x0, y0, x1, y1 = rects.T
        left, top, right, bottom = near.T[..., None]
        meets = (x1 + CLEAR > left) & (right + CLEAR > x0) & (y1 + CLEAR > top) & (bottom + CLEAR > y0)
        return np.asarray(~meets.any(axis=0))

    def off_lines(self, rects: Points) -> Bools:
        """Which of the rectangles (n, 4) touch no line."""
        x0, y0, x1, y1 = rects.T
        boxes = shapely.box(x0 - CLEAR, y0 - CLEAR, x1 + CLEAR, y1 + CLEAR)
        clear: Bools = ~shapely.intersects(self._lines, boxes)
        if not len(rects):
            return clear
        leaders = self._leaders.within(np.concatenate([rects[:, :2].min(axis=0), rects[:, 2:].max(axis=0)]), CLEAR)
        return np.asarray(clear & ~shapely.intersects(leaders[:, None], boxes).any(axis=0))

    def free(self, rects: Points) -> Bools:
        """Which of the rectangles (n, 4) touch neither a line nor a label."""
        clear = self.off_labels(rects)
        clear[clear] = self.off_lines(rects[clear])
        return clear

    def first_free(self, rects: Points) -> int | None:
        """The number of the first of the rectangles (n, 4) that is free; None if none is."""
        clear = np.flatnonzero(self.off_labels(rects))
        for start in range(0, len(clear), AT_ONCE):
            tried = clear[start : start + AT_ONCE]
            off = self.off_lines(rects[tried])
            if off.any():
                return int(tried[np.argmax(off)])
        return None

    def is_off_labels(self, rect: Rect) -> bool:
        """Whether one rectangle touches no label and no straight line."""
        x0, y0, x1, y1 = rect
        right, bottom = x1 + CLEAR, y1 + CLEAR
        return all(
            right <= used[0] or used[2] + CLEAR <= x0 or bottom <= used[1] or used[3] + CLEAR <= y0
            for used in (*self._rects, *self._soft)
        )

    def is_free(self, rect: Rect) -> bool:
        """Whether one rectangle touches neither a line nor a label."""
        return self.is_off_labels(rect) and bool(self.off_lines(np.array([rect]))[0])

    def crosses_no_label(self, lines: Lines) -> Bools:
        """Which of the lines cross no label."""
        boxes = shapely.box(*np.reshape(self._rects[self._straight_lines :], (-1, 4)).T)
        return np.asarray(~shapely.intersects(lines[:, None], boxes[None]).any(axis=1))


def _straight(lines: Sequence[Points]) -> list[Rect]:
    """The horizontal and vertical ones of the lines, as rectangles without width."""
    ends = np.reshape([points for points in lines if len(points) == 2], (-1, 2, 2))  # noqa: PLR2004 - from end to end
    ends = ends[(ends[:, 0] == ends[:, 1]).any(axis=1)]
    return [
        (x0, y0, x1, y1)
        for (x0, y0), (x1, y1) in zip(ends.min(axis=1).tolist(), ends.max(axis=1).tolist(), strict=True)
    ]


def room_for(
    region: shapely.Polygon,
    width: float,
    height: float,
    occupied: Occupied,
    near: tuple[float, float],
    *,
    rim: float = 0.0,
    over: Over = Over.NOTHING,
) -> Rect | None:
    """A free rectangle of that size inside the region, nearest to a point, and `rim` mm from the region's edge if
    possible; it may stand `over` soft lines. None if there is no place for it.
    """
    x0, y0, x1, y1 = region.bounds
    if width > x1 - x0 or height > y1 - y0:
        return None
    rects = _grid(region.bounds, width, height, near)
    rects = rects[occupied.off_labels(rects, over=over)]
    shapely.prepare(region)
    for across, down in ((0, 1), (2, 1), (0, 3), (2, 3)):  # corners first, because testing points is fast
        rects = rects[shapely.contains_xy(region, rects[:, across], rects[:, down])]
    if len(rects):
        rects = rects[shapely.contains_properly(region, shapely.box(*rects.T))]
        rects = rects[occupied.off_lines(rects)]
    if not len(rects):
        return None
    middles = rects[:, :2] + np.array((width, height)) / 2
    distances = np.round(np.hypot(*(middles - near).T), 6)
    clear = shapely.contains_properly(region, shapely.box(*(rects + (-rim, -rim, rim, rim)).T))
    left, top, right, bottom = rects[np.lexsort((distances, ~clear))[0]].tolist()
    return left, top, right, bottom


def _grid(bounds: Rect, width: float, height: float, near: tuple[float, float]) -> Points:
    """Rectangles (n, 4): one centred at `near`, and a grid of others over the bounds."""
    size = np.array((width, height))
    places = np.empty((1 + SEARCH_STEPS**2, 2))
    places[0] = np.array(near) - size / 2
    grid = places[1:].reshape(SEARCH_STEPS, SEARCH_STEPS, 2)
    grid[..., 0] = np.linspace(bounds[0], bounds[2] - width, SEARCH_STEPS)
    grid[..., 1] = np.linspace(bounds[1], bounds[3] - height, SEARCH_STEPS)[:, None]
    return np.hstack([places, places + size])
