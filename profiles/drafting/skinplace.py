"""Where what is seen square from one side lies on the skin: a height or breadth at x -> girth and point.

Girth is measured along the section from the line that the middle of a marking follows, upwards as it is seen.
"""

from itertools import pairwise

import numpy as np

from profiles.arrays import Floats
from profiles.drafting.girths import Girth, Half, girth_of
from profiles.hull.sections import Side
from profiles.hull.shape import Shape
from profiles.values import dataclass

STEP = 2.0
"""mm between sections that markings are laid on; between them girths run straight, which leaves out STEP^2 / 8 of the
bend along the body: 0.0025 mm at a radius of 200 mm."""

LEVEL = 1e-9
"""mm; a piece of outline of less height counts as level."""

ACROSS = 5
"""Places between the lowest and the highest girth at which the length along the body is looked at."""


@dataclass(frozen=True, slots=True)
class SeenSection:
    """One section as it is seen from a side."""

    girth: Girth
    side: str

    def place(self, seen: float) -> tuple[float, Floats] | None:
        """Girth in mm, upwards as seen, and point (y, z), of what is seen at that height or breadth; None off it."""
        if self.side in {"starboard", "port"}:
            half = self.girth.starboard if self.side == "starboard" else self.girth.port
            return _outermost(half, half.points[:, 1], np.abs(half.points[:, 0]), seen)
        half = self.girth.starboard if seen >= 0 else self.girth.port
        height = half.points[:, 1] if self.side == "top" else -half.points[:, 1]
        found = _outermost(half, np.abs(half.points[:, 0]), height, abs(seen))
        if found is None:
            return None
        from_middle = half.whole - found[0] if self.side == "top" else found[0]
        return (from_middle if seen >= 0 else -from_middle), found[1]

    def point(self, girth: float) -> Floats:
        """The point (3,) mm at a girth as `place` gives it."""
        if self.side == "starboard":
            half = self.girth.starboard
        elif self.side == "port":
            half = self.girth.port
        else:
            half = self.girth.starboard if girth >= 0 else self.girth.port
        along = abs(girth) if self.side != "top" else half.whole - abs(girth)
        y, z = half.at(np.array([along]))[0]
        return np.array([self.girth.x, y, z])


def _outermost(half: Half, seen: Floats, outwards: Floats, at: float) -> tuple[float, Floats] | None:
    """Girth and point where a half outline has that height (or breadth): the place that lies farthest outwards."""
    low, high = seen[:-1], seen[1:]
    crossed = np.flatnonzero((np.minimum(low, high) <= at) & (at <= np.maximum(low, high)))
    if not len(crossed):
        return None
    rise = high[crossed] - low[crossed]
    level = np.abs(rise) < LEVEL
    share = np.where(level, 0.5, (at - low[crossed]) / np.where(level, 1.0, rise))
    best = np.argmax(outwards[crossed] + share * (outwards[crossed + 1] - outwards[crossed]))
    k, part = crossed[best], share[best]
    girth = half.girth[k] + part * (half.girth[k + 1] - half.girth[k])
    return float(girth), half.points[k] + part * (half.points[k + 1] - half.points[k])


@dataclass(frozen=True, slots=True)
class SeenSpan:
    """The sections between two stations, close together, each as the limit from inside the span."""

    x: Floats
    sections: tuple[SeenSection, ...]
    middle: float
    """Height or breadth that the middle of the marking has, mm."""

    def laid(self, x: float, seen: float) -> float | None:
        """Girth in mm from the middle line at x mm of what is seen at that height; None off the body."""
        k = int(np.clip(np.searchsorted(self.x, x) - 1, 0, len(self.x) - 2))
        share = (x - self.x[k]) / (self.x[k + 1] - self.x[k])
        girths = []
        for section in self.sections[k : k + 2]:
            places = section.place(seen), section.place(self.middle)
            if places[0] is None or places[1] is None:
                return None
            girths.append(places[0][0] - places[1][0])
        return float(girths[0] + share * (girths[1] - girths[0]))

    def lengthwise(self, low: float, high: float) -> float:
        """Largest share by which the skin is longer than x along lines of equal girth, low to high mm away."""
        rows = []
        for section in self.sections:
            middle = section.place(self.middle)
            if middle is not None:
                rows.append(np.array([section.point(middle[0] + part) for part in np.linspace(low, high, ACROSS)]))
        longest = 0.0
        for fore, aft in pairwise(rows):
            step = aft - fore
            longest = max(longest, float((np.linalg.norm(step, axis=1) / step[:, 0]).max()) - 1)
        return longest


def seen_span(shape: Shape, side: str, middle: float, x_fore: float, x_aft: float) -> SeenSpan | None:
    """Sections from x_fore to x_aft mm; None where the body has none there. Raises HullError."""
    count = max(2, int(np.ceil((x_aft - x_fore) / STEP)) + 1)
    places = np.linspace(x_fore, x_aft, count)
    found = [girth_of(shape, float(x), Side.FORE if k == count - 1 else Side.AFT) for k, x in enumerate(places)]
    kept = [girth for girth in found if girth is not None]
    if len(kept) < 2:  # noqa: PLR2004 - ends of a piece
        return None
    return SeenSpan(np.array([girth.x for girth in kept]), tuple(SeenSection(girth, side) for girth in kept), middle)
