"""Where a label can stand: inside a region where it fits, clear of lines and of other labels.

Free rectangles only; what stands in them is the caller's business. Rectangles are (x0, y0, x1, y1) in mm.
"""

from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt
import shapely

Rect = tuple[float, float, float, float]

CLEAR = 0.6
"""mm kept free between a label and any line or other label."""

SEARCH_STEPS = 24
"""Places tried along each axis when a rectangle is looked for in a region: every 4 mm in an outline 100 mm wide."""


class Occupied:
    """What is already on the sheet: lines, and rectangles given away. Grows while labels are placed."""

    def __init__(self, lines: Iterable[shapely.Geometry]) -> None:
        self.lines = shapely.unary_union(list(lines))
        shapely.prepare(self.lines)
        self._rects: list[Rect] = []

    def take(self, rect: Rect) -> None:
        """Mark a rectangle as used."""
        self._rects.append(rect)

    def free(self, rects: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
        """Which of the rectangles (n, 4) touch neither a line nor a rectangle in use."""
        x0, y0, x1, y1 = rects.T
        clear = ~shapely.intersects(self.lines, shapely.box(x0 - CLEAR, y0 - CLEAR, x1 + CLEAR, y1 + CLEAR))
        if self._rects:
            used = np.array(self._rects)[None]
            r = rects[:, None]
            apart = (
                (r[..., 2] + CLEAR <= used[..., 0])
                | (used[..., 2] + CLEAR <= r[..., 0])
                | (r[..., 3] + CLEAR <= used[..., 1])
                | (used[..., 3] + CLEAR <= r[..., 1])
            )
            clear &= apart.all(axis=1)
        result: npt.NDArray[np.bool_] = clear
        return result

    def first_free(self, candidates: Sequence[Rect]) -> Rect | None:
        """The first of the candidates that is free."""
        found = np.flatnonzero(self.free(np.array(candidates)))
        return candidates[int(found[0])] if len(found) else None


def room_for(
    region: shapely.Polygon, width: float, height: float, occupied: Occupied, near: tuple[float, float]
) -> Rect | None:
    """A free rectangle of that size wholly inside the region, as near as can be to a point; None when there is none."""
    x0, y0, x1, y1 = region.bounds
    if x1 - x0 < width or y1 - y0 < height:
        return None
    xs = np.linspace(x0, x1 - width, SEARCH_STEPS)
    ys = np.linspace(y0, y1 - height, SEARCH_STEPS)
    grid = np.array([(x, y) for y in ys for x in xs] + [(near[0] - width / 2, near[1] - height / 2)])
    away = np.hypot(grid[:, 0] + width / 2 - near[0], grid[:, 1] + height / 2 - near[1])
    grid = grid[np.argsort(np.round(away, 6), kind="stable")]
    shapely.prepare(region)
    boxes = shapely.box(grid[:, 0], grid[:, 1], grid[:, 0] + width, grid[:, 1] + height)
    inside = grid[shapely.contains_properly(region, boxes)]
    if not len(inside):
        return None
    rects = np.column_stack([inside, inside + np.array((width, height))])
    found = np.flatnonzero(occupied.free(rects))
    if not len(found):
        return None
    left, top, right, bottom = rects[found[0]].tolist()
    return (left, top, right, bottom)
