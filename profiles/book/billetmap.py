"""A billet from above on a sheet: the map from foam to paper, its margins and colours, and room for numbers.

x of the billet runs to the right and y down the page, so everything is measured from the upper left corner.
"""

import math
from collections.abc import Sequence

from profiles.foam.cutting import Billet, Box3
from profiles.paper.drawing import Area, Role, Stroke, patch, rectangle
from profiles.values import dataclass

LEFT, TOP, RIGHT, BOTTOM = 17.0, 6.0, 11.0, 7.0
"""Margins round the foam in mm: for the names of strips at the left, the numbers of long cuts at the right, those of
short edges above, and block numbers with leaders below."""

SIZES = 2.6
"""Font size in mm of the sizes of blocks, strips and offcuts."""

BLOCK, LEFTOVER, REST, SLOT = "#dde8f2", "#ffffff", "#e3e3e3", "#6b6b6b"
"""Colours of a block, an offcut to keep, foam that is waste, and the foam that a cut melts."""

Rect = tuple[float, float, float, float]
"""Left, top, right and bottom, mm on the sheet."""


@dataclass(frozen=True, slots=True)
class BilletMap:
    """The map from foam to sheet, seen from above."""

    ratio: float
    """mm of foam for 1 mm on paper."""
    zero: tuple[float, float] = (LEFT, TOP)
    """Place of the foam's upper left corner, mm on the sheet."""

    def rect(self, box: Box3) -> Rect:
        """The box on the sheet."""
        left, top = self.zero[0] + box.x / self.ratio, self.zero[1] + box.y / self.ratio
        return left, top, left + box.along / self.ratio, top + box.across / self.ratio

    def foam(self, billet: Billet) -> Rect:
        """The whole billet on the sheet."""
        return self.rect(Box3(0.0, 0.0, 0.0, billet.kind.length, billet.kind.width, billet.kind.thickness))


def outline(role: Role, rect: Rect) -> Stroke:
    """The edge of a rectangle."""
    return rectangle(role, rect[0], rect[1], rect[2] - rect[0], rect[3] - rect[1])


def fill(kind: str, colour: str, rect: Rect) -> Area:
    """A filled rectangle."""
    return patch(kind, colour, rect[0], rect[1], rect[2] - rect[0], rect[3] - rect[1])


def is_clear(rect: Rect, taken: Sequence[Rect]) -> bool:
    """Whether a rectangle overlaps none of the others."""
    left, top, right, bottom = rect
    return all(right <= other[0] or other[2] <= left or bottom <= other[1] or other[3] <= top for other in taken)


def spread(places: Sequence[float], pitch: float, low: float = -math.inf, high: float = math.inf) -> list[float]:
    """Move places apart as little as a least distance `pitch` needs. Groups stay centred on their original places,
    unless they would leave the range from `low` to `high`.
    """
    order = sorted(range(len(places)), key=lambda k: (places[k], k))
    groups: list[list[int]] = []
    centres: list[float] = []
    for k in order:
        groups.append([k])
        centres.append(places[k])
        while len(groups) > 1 and centres[-1] - centres[-2] < pitch * (len(groups[-1]) + len(groups[-2])) / 2:
            merged = groups.pop(-2) + groups.pop()
            centres[-2:] = [sum(places[j] - pitch * i for i, j in enumerate(merged)) / len(merged)]
            centres[-1] += pitch * (len(merged) - 1) / 2
            groups.append(merged)
    moved = [0.0] * len(places)
    for group, centre in zip(groups, centres, strict=True):
        for i, k in enumerate(group):
            moved[k] = centre + pitch * (i - (len(group) - 1) / 2)
    for i, k in enumerate(reversed(order)):
        moved[k] = min(moved[k], high - i * pitch)
    for i, k in enumerate(order):
        moved[k] = max(moved[k], low + i * pitch)
    return moved
