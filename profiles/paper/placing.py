"""Where a label can stand: inside a region where it fits, clear of lines and of other labels.

Free rectangles only; what stands in them is the caller's business. Rectangles are (x0, y0, x1, y1) in mm.
"""

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt
import shapely

Rect = tuple[float, float, float, float]

CLEAR = 0.6
"""mm kept free between a label and any line or other label."""

SEARCH_STEPS = 20
"""Places tried along each axis when a rectangle is looked for in a region: every 5 mm in an outline 100 mm wide."""


AT_ONCE = 48
"""Places looked at together: few enough to stop early, enough to be quick."""


class Occupied:
    """What is already on the sheet: lines, and rectangles given away. Grows while labels are placed."""

    def __init__(self, lines: Iterable[shapely.LineString]) -> None:
        self.lines = shapely.MultiLineString(list(lines))
        shapely.prepare(self.lines)
        self._rects = np.empty((0, 4))

    def take(self, rect: Rect) -> None:
        """Mark a rectangle as used."""
        self._rects = np.vstack([self._rects, rect])

    def off_labels(self, rects: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
        """Which of the rectangles (n, 4) touch no rectangle in use."""
        used, asked = self._rects[None], rects[:, None]
        beyond = (asked[..., 2:] + CLEAR <= used[..., :2]) | (used[..., 2:] + CLEAR <= asked[..., :2])
        return np.asarray(beyond.any(axis=-1).all(axis=-1))

    def off_lines(self, rects: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
        """Which of the rectangles (n, 4) touch no line."""
        x0, y0, x1, y1 = rects.T
        clear: npt.NDArray[np.bool_] = ~shapely.intersects(
            self.lines, shapely.box(x0 - CLEAR, y0 - CLEAR, x1 + CLEAR, y1 + CLEAR)
        )
        return clear

    def free(self, rects: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
        """Which of the rectangles (n, 4) touch neither a line nor a rectangle in use."""
        clear = self.off_labels(rects)
        clear[clear] = self.off_lines(rects[clear])
        return clear


def room_for(
    region: shapely.Polygon,
    width: float,
    height: float,
    occupied: Occupied,
    near: tuple[float, float],
    *,
    rim: float = 0.0,
) -> Rect | None:
    """A free rectangle of that size inside the region, `rim` mm clear of its edge, as near as can be to a point.

    The region's edge must be among the occupied lines. None when there is no such place.
    """
    x0, y0, x1, y1 = region.bounds
    size = np.array((width, height))
    if (size > (x1 - x0 - 2 * rim, y1 - y0 - 2 * rim)).any():
        return None
    columns, rows = np.linspace(x0, x1 - width, SEARCH_STEPS), np.linspace(y0, y1 - height, SEARCH_STEPS)
    grid = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)
    grid = np.concatenate([[np.array(near) - size / 2], grid])
    middles = grid + size / 2
    grid = grid[np.argsort(np.round(np.hypot(*(middles - near).T), 6), kind="stable")]
    shapely.prepare(region)
    grid = grid[shapely.contains_xy(region, *(grid + size / 2).T)]
    edge = region.boundary
    shapely.prepare(edge)
    for start in range(0, len(grid), AT_ONCE):
        rects = np.hstack([grid[start : start + AT_ONCE], grid[start : start + AT_ONCE] + size])
        free = occupied.free(rects)
        free[free] = ~shapely.intersects(edge, shapely.box(*(rects[free] + (-rim, -rim, rim, rim)).T))
        if free.any():
            left, top, right, bottom = rects[int(np.argmax(free))].tolist()
            return left, top, right, bottom
    return None
