"""The bars that are measured before anything is cut: one across the page, one up the page.

A bar is two rulers back to back: millimetres on one side, inches on the other. Each ruler is a single polyline, a comb
of divisions, so that its extent in the finished file is its length and nothing else.
"""

from dataclasses import dataclass, replace

import numpy as np

from profiles.paper.correction import Correction
from profiles.paper.drawing import Label, Points, Role, Stroke, freeze
from profiles.paper.lettering import CAP_HEIGHT, DESCENT
from profiles.units import MM_PER_IN, PT_PER_MM

SNAP = 1 / 8 / PT_PER_MM
"""mm; cairo keeps path coordinates in 1/256 pt and writes three decimals. A bar that begins on a multiple of 1/8 pt has
its beginning exact in both, so only its far end is rounded: by 1/512 pt and 0.0005 pt at most, together 0.0025 pt."""

SHORT = (100, 4)
LONG = (150, 6)
"""Whole millimetres and whole inches of the two bars there are."""

GAP = 1.0
"""mm between the two rulers of a bar, so that the end of each is seen."""

NUMBER_SIZE = 2.5
"""mm; capitals of 1.8 mm can be read at arm's length."""

NUMBER_CLEAR = 0.6
"""mm between the longest division and its number."""

DIVISION = (1.3, 2.1, 3.0)
"""mm; length of a fine, a middle and a numbered division."""

DEPTH = GAP + 2 * (DIVISION[2] + NUMBER_CLEAR + (CAP_HEIGHT + DESCENT) * NUMBER_SIZE)
"""mm that a bar takes across its length, numbers included."""


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar on a page: `across` or up, its nominal lengths, and what is drawn."""

    across: bool
    millimetres: int
    inches: int
    strokes: tuple[Stroke, Stroke]
    """The millimetre comb and the inch comb."""
    labels: tuple[Label, ...]

    @property
    def name(self) -> str:
        """The word for its direction: "across" or "up"."""
        return "across" if self.across else "up"

    @property
    def longest(self) -> float:
        """mm; the length of the longer of its two rulers."""
        return bar_length((self.millimetres, self.inches))

    def corrected(self, correction: Correction) -> "Bar":
        """The bar as the printer needs it, beginning on the grid of the file format."""
        combs = [correction.points(stroke.points) for stroke in self.strokes]
        axis = 0 if self.across else 1
        begin = float(combs[0][0][axis])
        move = np.zeros(2)
        move[axis] = round(begin / SNAP) * SNAP - begin
        first, second = (
            replace(stroke, points=freeze(comb + move)) for stroke, comb in zip(self.strokes, combs, strict=True)
        )
        return replace(self, strokes=(first, second), labels=tuple(correction.label(label) for label in self.labels))


def bar_length(size: tuple[int, int]) -> float:
    """The longer of a bar's two rulers, mm: 4 in are more than 100 mm."""
    return max(float(size[0]), size[1] * MM_PER_IN)


def scale_bar(x: float, y: float, size: tuple[int, int], *, across: bool) -> Bar:
    """A bar that begins at (x, y) mm, half way between its two rulers, and runs to the right or up the page.

    Millimetres stand above (across) or to the left (up); size is `SHORT` or `LONG`.
    """
    millimetres, inches = size
    fine = [_mm_division(k) for k in range(millimetres + 1)]
    sixteenths = [_inch_division(k) for k in range(16 * inches + 1)]
    combs = (_comb(fine, 1.0, 1.0), _comb(sixteenths, MM_PER_IN / 16, -1.0))
    numbers = [(float(k), "0 mm" if k == 0 else str(k), 1.0) for k in range(0, millimetres + 1, 10)]
    numbers += [(k * MM_PER_IN, "0 in" if k == 0 else str(k), -1.0) for k in range(inches + 1)]
    ends = (millimetres, inches * MM_PER_IN)
    labels = [_number(along, text, side, ends) for along, text, side in numbers]
    strokes = tuple(Stroke(Role.BAR, freeze(_placed(comb, x, y, across=across))) for comb in combs)
    placed = []
    for label in labels:
        at = _placed(np.array([[label.x, label.y]]), x, y, across=across)[0]
        placed.append(replace(label, x=float(at[0]), y=float(at[1]), angle=0.0 if across else -90.0))
    return Bar(across, millimetres, inches, (strokes[0], strokes[1]), tuple(placed))


def _mm_division(k: int) -> float:
    return DIVISION[2] if k % 10 == 0 else DIVISION[1] if k % 5 == 0 else DIVISION[0]


def _inch_division(k: int) -> float:
    return DIVISION[2] if k % 16 == 0 else DIVISION[1] if k % 4 == 0 else DIVISION[0] if k % 2 == 0 else 0.7


def _comb(divisions: list[float], step: float, side: float) -> Points:
    """The base line with its divisions as one polyline: out and back at each; y down, side +1 upwards."""
    base = -side * GAP / 2
    points: list[tuple[float, float]] = []
    for k, length in enumerate(divisions):
        tip = base - side * length
        points += [(k * step, base), (k * step, tip), (k * step, base)]
    return np.array(points[1:-1])


def _number(along: float, text: str, side: float, ends: tuple[float, float]) -> Label:
    """A number at its division; the first and the last stay within the length of the bar."""
    clear = GAP / 2 + DIVISION[2] + NUMBER_CLEAR
    y = -clear if side > 0 else clear + CAP_HEIGHT * NUMBER_SIZE
    anchor = "start" if along == 0 else "end" if along in ends else "middle"
    return Label(text, along, y, NUMBER_SIZE, anchor)


def _placed(points: Points, x: float, y: float, *, across: bool) -> Points:
    """Bar coordinates to the page; an upright bar is the lying one turned by a quarter to the left."""
    if across:
        return np.column_stack([points[:, 0] + x, points[:, 1] + y])
    return np.column_stack([points[:, 1] + x, y - points[:, 0]])
