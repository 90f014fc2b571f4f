"""Where a label can stand: inside a region where it fits, clear of lines and of other labels.

Free rectangles only; what stands in them is the caller's business. Rectangles are (x0, y0, x1, y1) in mm.
"""

from collections.abc import Sequence

import numpy as np
import shapely

from profiles.arrays import Bools
from profiles.paper.drawing import Points

Rect = tuple[float, float, float, float]

CLEAR = 0.6
"""mm kept free between a label and any line or other label."""

SEARCH_STEPS = 20
"""Places tried along each axis when a rectangle is looked for in a region: every 5 mm in an outline 100 mm wide."""

AT_ONCE = 48
"""Places looked at together: few enough to stop early, enough to be quick."""


class Occupied:
    """What is already on the sheet: lines, and rectangles given away. Grows while labels are placed.

    A level or upright line is a rectangle as well: that question is answered by comparing, which is quick.
    """

    def __init__(self, lines: Sequence[Points]) -> None:
        ends = np.repeat(np.arange(len(lines)), [len(points) for points in lines])
        self.lines = shapely.multilinestrings(shapely.linestrings(np.vstack(lines), indices=ends))
        shapely.prepare(self.lines)
        self._rects = _straight(lines)
        self._known = np.zeros((0, 4))

    def take(self, rect: Rect) -> None:
        """Mark a rectangle as used."""
        self._rects.append(rect)

    def off_labels(self, rects: Points) -> Bools:
        """Which of the rectangles (n, 4) touch no rectangle in use."""
        if not len(rects):
            return np.zeros(0, dtype=np.bool_)
        if len(self._known) < len(self._rects):
            self._known = np.vstack([self._known, self._rects[len(self._known) :]])
        (first, upper), (last, lower) = rects[:, :2].min(axis=0) - 2 * CLEAR, rects[:, 2:].max(axis=0) + 2 * CLEAR
        left, top, right, bottom = self._known.T
        near = self._known[(left < last) & (right > first) & (top < lower) & (bottom > upper)]
        x0, y0, x1, y1 = rects.T
        left, top, right, bottom = near.T[..., None]
        meets = (x1 + CLEAR > left) & (right + CLEAR > x0) & (y1 + CLEAR > top) & (bottom + CLEAR > y0)
        return np.asarray(~meets.any(axis=0))

    def off_lines(self, rects: Points) -> Bools:
        """Which of the rectangles (n, 4) touch no line."""
        x0, y0, x1, y1 = rects.T
        clear: Bools = ~shapely.intersects(self.lines, shapely.box(x0 - CLEAR, y0 - CLEAR, x1 + CLEAR, y1 + CLEAR))
        return clear

    def free(self, rects: Points) -> Bools:
        """Which of the rectangles (n, 4) touch neither a line nor a rectangle in use."""
        clear = self.off_labels(rects)
        clear[clear] = self.off_lines(rects[clear])
        return clear

    def first_free(self, rects: Points) -> int | None:
        """The number of the first of the rectangles (n, 4) that is free; None where none is."""
        clear = np.flatnonzero(self.off_labels(rects))
        for start in range(0, len(clear), AT_ONCE):
            tried = clear[start : start + AT_ONCE]
            off = self.off_lines(rects[tried])
            if off.any():
                return int(tried[np.argmax(off)])
        return None

    def is_off_labels(self, rect: Rect) -> bool:
        """Whether one rectangle touches no rectangle in use."""
        x0, y0, x1, y1 = rect
        right, bottom = x1 + CLEAR, y1 + CLEAR
        return all(
            right <= used[0] or used[2] + CLEAR <= x0 or bottom <= used[1] or used[3] + CLEAR <= y0
            for used in self._rects
        )

    def is_free(self, rect: Rect) -> bool:
        """Whether one rectangle touches neither a line nor a rectangle in use."""
        x0, y0, x1, y1 = rect
        if not self.is_off_labels(rect):
            return False
        return not shapely.intersects(self.lines, shapely.box(x0 - CLEAR, y0 - CLEAR, x1 + CLEAR, y1 + CLEAR))


def _straight(lines: Sequence[Points]) -> list[Rect]:
    """The level and the upright ones of the lines, as rectangles without width."""
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
) -> Rect | None:
    """A free rectangle of that size inside the region, `rim` mm clear of its edge if that can be, as near as can be to
    a point. None when there is no such place.
    """
    x0, y0, x1, y1 = region.bounds
    if width > x1 - x0 or height > y1 - y0:
        return None
    rects = _grid(region.bounds, width, height, near)
    rects = rects[occupied.off_labels(rects)]
    shapely.prepare(region)
    for across, down in ((0, 1), (2, 1), (0, 3), (2, 3)):  # corners first: a point is looked for quickly
        rects = rects[shapely.contains_xy(region, rects[:, across], rects[:, down])]
    if len(rects):
        rects = rects[shapely.contains_properly(region, shapely.box(*rects.T))]
        rects = rects[occupied.off_lines(rects)]
    if not len(rects):
        return None
    middles = rects[:, :2] + np.array((width, height)) / 2
    far = np.round(np.hypot(*(middles - near).T), 6)
    clear = shapely.contains_properly(region, shapely.box(*(rects + (-rim, -rim, rim, rim)).T))
    left, top, right, bottom = rects[np.lexsort((far, ~clear))[0]].tolist()
    return left, top, right, bottom


def _grid(bounds: Rect, width: float, height: float, near: tuple[float, float]) -> Points:
    """Rectangles (n, 4): one with its middle at `near`, and others spread over the bounds."""
    size = np.array((width, height))
    places = np.empty((1 + SEARCH_STEPS**2, 2))
    places[0] = np.array(near) - size / 2
    grid = places[1:].reshape(SEARCH_STEPS, SEARCH_STEPS, 2)
    grid[..., 0] = np.linspace(bounds[0], bounds[2] - width, SEARCH_STEPS)
    grid[..., 1] = np.linspace(bounds[1], bounds[3] - height, SEARCH_STEPS)[:, None]
    return np.hstack([places, places + size])
