"""The two halves of a section from keel to top, measured along the girth, and lines along the body on them.

Girth s is measured along the outline from the keel, positive on starboard, negative on port. A line along the body is
given in words and says where it lies on each section:

    keel, top        where the outline crosses the centre plane lowest, and highest
    chine, chine 2   the first, second corner from the keel
    deck edge        the last corner before the top
    girth 40         so far along the outline from the keel; also girth 1.5in, girth 50%
    z 12             at that height above the datum, for a waterline
    port chine       any of these on the port side
"""

import re
from collections.abc import Callable, Sequence

import numpy as np
import shapely

from profiles.arrays import Floats
from profiles.errors import HullError, JobError
from profiles.hull.sections import Side
from profiles.hull.shape import Shape
from profiles.units import length_mm
from profiles.values import dataclass

CORNER = 25.0
"""Degrees by which an outline turns at a chine: a round hull of sixteen facets turns by 22.5."""

ON_PLANE = 1e-7
"""mm; a point so near the centre plane lies on it."""

LEAST_GIRTH = 1e-9
"""mm; points nearer than this are one."""

WORDS = "keel, top, chine, deck edge, girth 40, girth 50%, z 12; port before it for the port side"


@dataclass(frozen=True, slots=True)
class Half:
    """Half an outline from keel to top: points (n, 2) y and z mm, and girth (n,) mm from the keel."""

    points: Floats
    girth: Floats

    @property
    def whole(self) -> float:
        """Girth from keel to top, mm."""
        return float(self.girth[-1])

    def at(self, girth: Floats) -> Floats:
        """Points (k, 2) at places along the girth (k,) mm."""
        return np.column_stack([np.interp(girth, self.girth, self.points[:, axis]) for axis in (0, 1)])

    def corners(self) -> Floats:
        """Girth (k,) of the corners between keel and top, mm."""
        steps = np.diff(self.points, axis=0)
        cross = steps[:-1, 0] * steps[1:, 1] - steps[:-1, 1] * steps[1:, 0]
        turn = np.degrees(np.abs(np.arctan2(cross, (steps[:-1] * steps[1:]).sum(axis=1))))
        found: Floats = self.girth[1:-1][turn > CORNER]
        return found


@dataclass(frozen=True, slots=True)
class Girth:
    """The outline of a section, as two halves."""

    x: float
    starboard: Half
    port: Half

    def at(self, girth: Floats) -> Floats:
        """Points (k, 2) y and z mm at girths (k,) mm from the keel, negative on port."""
        points: Floats = np.where((girth >= 0)[:, None], self.starboard.at(np.abs(girth)), self.port.at(np.abs(girth)))
        return points


def girth_of(shape: Shape, x: float, side: Side) -> Girth | None:
    """The halves of the section at x mm as the limit from one side; None where there is no area.

    The largest piece counts. Raises HullError where that does not cross the centre plane, or cannot be closed.
    """
    region = shape.section(x, side).region
    if region.is_empty:
        return None
    part = max(region.geoms, key=lambda part: part.area)
    ring = _with_crossings(shapely.get_coordinates(shapely.orient_polygons(part).exterior)[:-1])
    middle = np.flatnonzero(np.abs(ring[:, 0]) < ON_PLANE)
    if len(middle) < 2:  # noqa: PLR2004 - keel and top
        message = f"the section at x = {x:.1f} mm does not cross the centre plane, so it has no keel and no top"
        raise HullError(message, remedy="Lay out panels and markings where the body is on its centre plane.")
    keel, top = middle[np.argmin(ring[middle, 1])], middle[np.argmax(ring[middle, 1])]
    rolled = np.roll(ring, -keel, axis=0)
    count = (top - keel) % len(ring)
    port = np.vstack([rolled[count:], rolled[:1]])[::-1]
    return Girth(x, _half(rolled[: count + 1]), _half(port))


def _with_crossings(ring: Floats) -> Floats:
    """The ring with a point wherever it crosses the centre plane."""
    after = np.roll(ring, -1, axis=0)
    through = np.flatnonzero(ring[:, 0] * after[:, 0] < 0)
    share = ring[through, 0] / (ring[through, 0] - after[through, 0])
    heights = ring[through, 1] + share * (after[through, 1] - ring[through, 1])
    return np.insert(ring, through + 1, np.column_stack([np.zeros(len(through)), heights]), axis=0)


def _half(points: Floats) -> Half:
    steps = np.hypot(*np.diff(points, axis=0).T)
    keep = np.concatenate([[True], steps > LEAST_GIRTH])
    return Half(points[keep], np.concatenate([[0.0], np.cumsum(steps)])[keep])


@dataclass(frozen=True, slots=True)
class SkinLine:
    """A line along the body."""

    words: str
    kind: str
    port: bool = False
    value: float = 0.0
    """mm, or a share of the half girth, or the number of a chine."""

    def place(self, girth: Girth) -> float:
        """Girth of the line on a section, mm. Raises JobError where the section does not have it."""
        half = girth.port if self.port else girth.starboard
        place = _PLACES[self.kind](half, self.value)
        if place is None:
            message = f"there is no {self.words!r} on the section at x = {girth.x:.1f} mm"
            raise JobError(message, remedy=f"Begin or end the panel elsewhere, or name another line: {WORDS}.")
        return -place if self.port else place


def _corner(half: Half, number: float) -> float | None:
    corners = half.corners()
    return float(corners[int(number) - 1]) if len(corners) >= number else None


def _deck_edge(half: Half, _value: float) -> float | None:
    corners = half.corners()
    return float(corners[-1]) if len(corners) else None


def _along(half: Half, value: float) -> float | None:
    return value if 0 <= value <= half.whole else None


def _height(half: Half, z: float) -> float | None:
    """The first place from the keel at that height."""
    heights = half.points[:, 1] - z
    above = np.flatnonzero((heights[:-1] <= 0) & (heights[1:] >= 0))
    if not len(above):
        return None
    k = above[0]
    rise = heights[k + 1] - heights[k]
    share = -heights[k] / rise if rise > 0 else 0.0
    return float(half.girth[k] + share * (half.girth[k + 1] - half.girth[k]))


_PLACES: dict[str, Callable[[Half, float], float | None]] = {
    "keel": lambda _half, _value: 0.0,
    "top": lambda half, _value: half.whole,
    "chine": _corner,
    "deck edge": _deck_edge,
    "girth": _along,
    "share": lambda half, value: value * half.whole,
    "z": _height,
}


def skin_line(words: str, *, port: bool = False) -> SkinLine:
    """The line along the body that words name; `port` for the mirrored panel. Raises JobError.

    >>> skin_line("Port chine 2"), skin_line("girth 50%").value
    (SkinLine(words='port chine 2', kind='chine', port=True, value=2.0), 0.5)
    """
    text = " ".join(words.lower().split())
    on_port = text.startswith("port ")
    name = text.removeprefix("port ").removeprefix("starboard ")
    side = on_port != port
    shown = f"port {name}" if side and name not in {"keel", "top"} else name
    if name in {"keel", "top", "deck edge"}:
        return SkinLine(shown, name, side)
    chine = re.fullmatch(r"chine(?: ([1-9]\d?))?", name)
    if chine:
        return SkinLine(shown, "chine", side, float(chine[1] or 1))
    share = re.fullmatch(r"girth (\d+(?:\.\d+)?) ?%", name)
    if share and float(share[1]) <= 100:  # noqa: PLR2004 - per cent
        return SkinLine(shown, "share", side, float(share[1]) / 100)
    length = re.fullmatch(r"(girth|z) (.+)", name)
    if length:
        try:
            return SkinLine(shown, length[1], side, length_mm(_plain(length[2])))
        except ValueError:
            pass
    message = f"expected a line along the body such as {WORDS}; found {words!r}"
    raise JobError(message)


def _plain(text: str) -> str | float:
    return float(text) if re.fullmatch(r"-?\d+(\.\d+)?", text) else text


def check_order(lower: Sequence[float], upper: Sequence[float], x: Sequence[float], names: tuple[str, str]) -> None:
    """Raise JobError where two lines cross or meet along the body: the second must lie above the first, mm of girth."""
    wrong = [place for place, a, b in zip(x, lower, upper, strict=True) if b <= a]
    if wrong:
        message = f"the lines {names[0]!r} and {names[1]!r} cross or meet at x = {wrong[0]:.1f} mm"
        raise JobError(message, remedy="Name the lower one under from and the upper one under to, and keep them apart.")
