"""The bars that are measured before anything is cut: one across the page, one up the page.

A bar is two rulers back to back: millimetres on one side, inches on the other, the builder's in front. Each ruler
is a single polyline, a comb of graduations, so that its extent in the finished file is exactly its length.
"""

from dataclasses import replace

import numpy as np

from profiles.paper.correction import Correction
from profiles.paper.drawing import Label, Points, Role, Stroke, freeze
from profiles.paper.lettering import CAP_HEIGHT, DESCENT
from profiles.units import MM_PER_IN, PT_PER_MM, PrintUnit, printed_unit
from profiles.values import dataclass

SNAP = 1 / 8 / PT_PER_MM
"""mm; cairo keeps path coordinates in 1/256 pt and writes three decimals. The start of a bar on a multiple of 1/8 pt is
exact in both, so only its far end is rounded: by at most 1/512 pt and 0.0005 pt, together 0.0025 pt."""

SHORT = (100, 4)
LONG = (150, 6)
"""Length in whole millimetres and whole inches of the two sizes of bar."""

GAP = 0.8
"""mm between the two rulers of a bar, so that the end of each is visible."""

NUMBER_SIZE = 2.2
"""mm; capitals of 1.6 mm are read with the rule held against them. A bar must leave room for templates."""

NUMBER_CLEAR = 0.4
"""mm between the longest graduation and its number."""

GRADUATION = (1.0, 1.6, 2.3)
"""mm; length of a fine, a medium and a numbered graduation."""

DEPTH = GAP + 2 * (GRADUATION[2] + NUMBER_CLEAR + (CAP_HEIGHT + DESCENT) * NUMBER_SIZE)
"""mm that a bar takes across its length, numbers included."""


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar on a page: across it or up it, its nominal lengths, and what is drawn."""

    across: bool
    millimetres: int
    inches: int
    strokes: tuple[Stroke, Stroke]
    """The millimetre comb and the inch comb."""
    labels: tuple[Label, ...]

    @property
    def name(self) -> str:
        """Its direction: "across" or "up"."""
        return "across" if self.across else "up"

    @property
    def longest(self) -> float:
        """mm; the length of the longer of its two rulers."""
        return bar_length((self.millimetres, self.inches))

    def correct(self, correction: Correction) -> "Bar":
        """The bar with the printer correction, starting on the grid of the file format."""
        combs = [correction.points(stroke.points) for stroke in self.strokes]
        axis = 0 if self.across else 1
        start = float(combs[0][0][axis])
        shift = np.zeros(2)
        shift[axis] = round(start / SNAP) * SNAP - start
        first, second = (
            replace(stroke, points=freeze(comb + shift)) for stroke, comb in zip(self.strokes, combs, strict=True)
        )
        return replace(self, strokes=(first, second), labels=tuple(correction.label(label) for label in self.labels))


def bar_length(size: tuple[int, int]) -> float:
    """The longer of a bar's two rulers, mm: 4 in are more than 100 mm."""
    return max(float(size[0]), size[1] * MM_PER_IN)


def scale_bar(x: float, y: float, size: tuple[int, int], *, across: bool) -> Bar:
    """A bar that starts at (x, y) mm, half way between its two rulers, and runs to the right or up the page.

    The ruler in the unit of the builder's figures is in front: above (across) or to the left (up). `size` is SHORT or
    LONG.
    """
    front = -1.0 if printed_unit() is PrintUnit.IN else 1.0
    millimetres, inches = size
    fine = [_mm_graduation(k) for k in range(millimetres + 1)]
    sixteenths = [_inch_graduation(k) for k in range(16 * inches + 1)]
    combs = (_comb(fine, 1.0, front), _comb(sixteenths, MM_PER_IN / 16, -front))
    numbers = [(float(k), "0 mm" if k == 0 else str(k), front) for k in range(0, millimetres + 1, 10)]
    numbers += [(k * MM_PER_IN, "0 in" if k == 0 else str(k), -front) for k in range(inches + 1)]
    ends = (millimetres, inches * MM_PER_IN)
    labels = [_number(along, text, side, ends) for along, text, side in numbers]
    strokes = tuple(Stroke(Role.BAR, freeze(_place(comb, x, y, across=across))) for comb in combs)
    turned = []
    for label in labels:
        at = _place(np.array([[label.x, label.y]]), x, y, across=across)[0]
        turned.append(replace(label, x=float(at[0]), y=float(at[1]), angle=0.0 if across else -90.0))
    return Bar(across, millimetres, inches, (strokes[0], strokes[1]), tuple(turned))


def _mm_graduation(k: int) -> float:
    return GRADUATION[2] if k % 10 == 0 else GRADUATION[1] if k % 5 == 0 else GRADUATION[0]


def _inch_graduation(k: int) -> float:
    return GRADUATION[2] if k % 16 == 0 else GRADUATION[1] if k % 4 == 0 else GRADUATION[0] if k % 2 == 0 else 0.7


def _comb(graduations: list[float], step: float, side: float) -> Points:
    """The base line with its graduations as one polyline: out and back at each; y down, side +1 upwards."""
    base = -side * GAP / 2
    points: list[tuple[float, float]] = []
    for k, length in enumerate(graduations):
        tip = base - side * length
        points += [(k * step, base), (k * step, tip), (k * step, base)]
    return np.array(points[1:-1])


def _number(along: float, text: str, side: float, ends: tuple[float, float]) -> Label:
    """A number at its graduation; the first and the last stay within the length of the bar."""
    clear = GAP / 2 + GRADUATION[2] + NUMBER_CLEAR
    y = -clear if side > 0 else clear + CAP_HEIGHT * NUMBER_SIZE
    anchor = "start" if along == 0 else "end" if along in ends else "middle"
    return Label(text, along, y, NUMBER_SIZE, anchor)


def _place(points: Points, x: float, y: float, *, across: bool) -> Points:
    """Bar coordinates -> page; the bar up the page is the one across turned left by 90 degrees."""
    if across:
        return np.column_stack([points[:, 0] + x, points[:, 1] + y])
    return np.column_stack([points[:, 1] + x, y - points[:, 0]])
