"""The surface of the water in the frame of the hull."""

import math

import numpy as np

from profiles.arrays import Floats
from profiles.values import dataclass

STEEP = 0.05
"""Least cosine at which a line of the water across a section, or heights along the hull, mean anything: 87 degrees."""


@dataclass(frozen=True, slots=True)
class WaterPlane:
    """Water is where up . p < height, in the hull frame: x aft, y to starboard, z up from the datum."""

    up: tuple[float, float, float]
    """Unit vector."""
    height: float
    """mm."""

    @property
    def axes(self) -> Floats:
        """(2, 3) directions in the plane: aft, and to starboard; where the hull stands on end, down instead of aft."""
        up = np.array(self.up)
        forward = np.eye(3)[0 if abs(up[0]) < 1 - 1e-9 else 2]
        along = forward - up * (forward @ up)
        along = along / np.linalg.norm(along)
        return np.stack([along, np.cross(up, along)])

    @property
    def heel(self) -> float:
        """Degrees to starboard, -180 to 180."""
        return math.degrees(math.atan2(-self.up[1], self.up[2])) + 0.0

    @property
    def trim(self) -> float:
        """Degrees by the bow: the nose is down where positive."""
        return math.degrees(math.asin(max(-1.0, min(1.0, self.up[0])))) + 0.0

    def z_at(self, x: float, y: float = 0.0) -> float | None:
        """Height z in mm of the water at x and y mm; None where the hull lies on its side or stands on end."""
        if abs(self.up[2]) < STEEP:
            return None
        return (self.height - self.up[0] * x - self.up[1] * y) / self.up[2]

    def line_across(self, x: float, reach: float) -> tuple[tuple[float, float], tuple[float, float]] | None:
        """The waterline in the plane of a section at x mm as two points (y, z) mm, `reach` mm to either side of the
        point that is nearest to the datum; None where the hull stands on end.
        """
        _, y, z = self.up
        size = math.hypot(y, z)
        if size < STEEP:
            return None
        away = (self.height - self.up[0] * x) / size
        middle, along = (y / size * away, z / size * away), (z / size * reach, -y / size * reach)
        return (middle[0] - along[0], middle[1] - along[1]), (middle[0] + along[0], middle[1] + along[1])


@dataclass(frozen=True, slots=True)
class BodyMarks:
    """What templates and pictures show of weight and flotation, in the hull frame; nothing where it is not known."""

    water: WaterPlane | None = None
    gravity: tuple[float, float, float] | None = None
    """The centre of gravity, mm."""


def level(height: float) -> WaterPlane:
    """Water at a height z in mm of an upright hull on an even keel."""
    return WaterPlane((0.0, 0.0, 1.0), height)


def plane_up(heel: float, trim: float) -> Floats:
    """(3,) up in the hull frame for degrees of heel to starboard and of trim by the bow.

    >>> plane_up(0.0, 0.0).tolist()
    [0.0, 0.0, 1.0]
    """
    phi, theta = math.radians(heel), math.radians(trim)
    return np.array([math.sin(theta), -math.sin(phi) * math.cos(theta), math.cos(phi) * math.cos(theta)]) + 0.0
