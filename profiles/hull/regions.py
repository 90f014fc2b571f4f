"""Regions of the hull frame, as words and as limits: which points of a hull belong to a part.

    above 60                       z over 60 mm
    below -20                      z under -20 mm
    beyond 45                      y over 45 mm to either side
    fore of 200, aft of 200        x under, or over, 200 mm
    body 2                         what belongs to body 2 of the file
    box 100:300 -40:40 60:120      x, y and z from and to

Several joined by "and" hold together: "above 60 and aft of 200".
"""

import math
import re
from dataclasses import replace
from typing import TYPE_CHECKING

from profiles.units import length_mm
from profiles.values import dataclass

if TYPE_CHECKING:
    from profiles.arrays import Bools, Floats, Ints

EVERYWHERE = (-math.inf, math.inf)


@dataclass(frozen=True, slots=True)
class Region:
    """Where a part lies: within limits along each axis, outside a breadth, in a body; the hull frame, mm."""

    x: tuple[float, float] = EVERYWHERE
    y: tuple[float, float] = EVERYWHERE
    z: tuple[float, float] = EVERYWHERE
    beyond: float = 0.0
    """Only points farther than this from the centre plane, to either side; 0 for all."""
    body: int | None = None
    """Only this body; None for all."""

    @property
    def planes(self) -> tuple[tuple[int, float], ...]:
        """Axis and place of every plane that bounds it."""
        sides = [(axis, place) for axis, limits in enumerate((self.x, self.y, self.z)) for place in limits]
        sides += [(1, -self.beyond), (1, self.beyond)] if self.beyond else []
        return tuple(side for side in sides if math.isfinite(side[1]))

    @property
    def sides(self) -> "tuple[tuple[str, Region], ...]":
        """The region, or where it is beyond a breadth its port and its starboard side, each with its word."""
        if not self.beyond:
            return (("", self),)
        port, starboard = (-math.inf, -self.beyond), (self.beyond, math.inf)
        return (
            ("port", replace(self, beyond=0.0, y=_both(self.y, port))),
            ("starboard", replace(self, beyond=0.0, y=_both(self.y, starboard))),
        )

    def holds(self, points: "Floats", bodies: "Ints") -> "Bools":
        """(n,) whether points (n, 3) mm of bodies (n,) are in it."""
        import numpy as np  # slow to import, and a job is read without it

        inside = np.ones(len(points), dtype=bool)
        for axis, (low, high) in enumerate((self.x, self.y, self.z)):
            inside &= (points[:, axis] > low) & (points[:, axis] < high)
        if self.beyond:
            inside &= np.abs(points[:, 1]) > self.beyond
        if self.body is not None:
            inside &= bodies == self.body
        return inside


_NUMBER = r"(-?[\d.]+(?:\s*(?:mm|cm|m|in|ft))?)"
_RANGE = rf"{_NUMBER}\s*:\s*{_NUMBER}"
_FORMS = {
    "above": re.compile(rf"above\s+{_NUMBER}"),
    "below": re.compile(rf"below\s+{_NUMBER}"),
    "beyond": re.compile(rf"beyond\s+{_NUMBER}"),
    "fore": re.compile(rf"fore\s+of\s+{_NUMBER}"),
    "aft": re.compile(rf"aft\s+of\s+{_NUMBER}"),
    "body": re.compile(r"body\s+(\d+)"),
    "box": re.compile(rf"box\s+{_RANGE}\s+{_RANGE}\s+{_RANGE}"),
}


def region_of(words: str) -> Region:
    """The region that words describe. Raises ValueError saying what was expected and what was found.

    >>> region_of("above 60 and aft of 20 cm")
    Region(x=(200.0, inf), y=(-inf, inf), z=(60.0, inf), beyond=0.0, body=None)
    """
    region = Region()
    for clause in re.split(r"\s+and\s+", words.strip().lower()):
        region = _narrow(region, clause)
    if any(low >= high for low, high in (region.x, region.y, region.z)):
        message = f"expected limits that leave room between them, found {words!r}"
        raise ValueError(message)
    return region


def _narrow(region: Region, clause: str) -> Region:
    matches = ((form, pattern.fullmatch(clause.strip())) for form, pattern in _FORMS.items())
    form, match = next(((form, match) for form, match in matches if match), ("", None))
    if match is None:
        message = (
            "expected 'above MM', 'below MM', 'beyond MM', 'fore of MM', 'aft of MM', 'body N' or "
            f"'box X:X Y:Y Z:Z', found {clause!r}"
        )
        raise ValueError(message)
    if form == "body":
        return replace(region, body=int(match[1]))
    sizes = [length_mm(text) for text in match.groups()]
    if form == "box":
        x, y, z = zip(sizes[::2], sizes[1::2], strict=True)
        return replace(region, x=_both(region.x, x), y=_both(region.y, y), z=_both(region.z, z))
    place = sizes[0]
    if form == "beyond":
        if place <= 0:
            message = f"expected a breadth above 0 in {clause!r}"
            raise ValueError(message)
        return replace(region, beyond=max(region.beyond, place))
    if form in {"above", "below"}:
        return replace(region, z=_both(region.z, (place, math.inf) if form == "above" else (-math.inf, place)))
    return replace(region, x=_both(region.x, (place, math.inf) if form == "aft" else (-math.inf, place)))


def _both(limits: tuple[float, float], more: tuple[float, float]) -> tuple[float, float]:
    return max(limits[0], more[0]), min(limits[1], more[1])
