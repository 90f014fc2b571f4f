"""What blocks are cut from: a Shape answers for the outlines, points and silhouettes of a body in the hull frame.

Stages after reading ask a Shape and nothing else, so a body need not be made of triangles. `mesh_shape.MeshShape` is a
Shape of triangles. Frame: x aft from the foremost point, y to starboard, z up, mm.
"""

from collections.abc import Callable, Mapping
from enum import StrEnum
from typing import Any, Protocol

import numpy.typing as npt
from shapely import MultiPolygon

from profiles.arrays import Bools, Floats
from profiles.hull.sections import Section, Side
from profiles.values import dataclass


class View(StrEnum):
    """From where a silhouette is seen."""

    SIDE = "side"
    """From port: (x, z)."""
    PLAN = "plan"
    """From above: (x, y)."""


@dataclass(frozen=True, slots=True)
class SpanPoints:
    """Points on the surface of a body between two stations, none on a station."""

    search: Floats
    """(n, 3) mm; growth is found with these."""
    control: Floats
    """(m, 3) mm; growth is confirmed with these, which are others."""

    def keep(self, chosen: Callable[[Floats], Bools]) -> "SpanPoints":
        """The points for which `chosen` answers True; it is asked with (k, 3) mm and answers (k,)."""
        return SpanPoints(self.search[chosen(self.search)], self.control[chosen(self.control)])


@dataclass(frozen=True, slots=True)
class Definition:
    """All that determines a shape: two shapes with equal definitions give equal templates."""

    values: Mapping[str, Any]
    """By name, as JSON can hold them; the names are part of the definition."""
    arrays: tuple[npt.NDArray[Any], ...]
    """In a fixed order."""


class Shape(Protocol):
    """A body that sections, points and silhouettes are taken from; frozen, and packed for other processes."""

    @property
    def bounds(self) -> tuple[Floats, Floats]:
        """Least and greatest corner, each (3,) mm."""

    def section(self, x: float, side: Side) -> Section:
        """The section at x mm as the limit from one side; empty where there is no area.

        Raises HullError where the outline cannot be closed.
        """

    def points_between(self, x_fore: float, x_aft: float) -> SpanPoints:
        """Points on the surface between two stations in mm, as dense as the shape needs."""

    def silhouette(self, x_fore: float, x_aft: float, view: View) -> MultiPolygon:
        """The body between two stations in mm as seen along y (x, z) or z (x, y); empty where there is none.

        Walls at the stations themselves are not between them.
        """

    def critical_places(self) -> Floats | None:
        """(k,) mm ascending: x of all places where pieces or hollows of the section may begin, end, split or join.

        None where they are not known: the body is then searched in even steps.
        """

    def wall_between(self, x_fore: float, x_aft: float) -> float | None:
        """X mm of the first face square across the body from x_fore to x_aft, both included; None without one."""

    def tip_points(self, x: float) -> Floats:
        """(n, 2) mm, y and z of points of the surface at x: those of the point or edge in which the body ends there."""

    def definition(self) -> Definition:
        """All that determines the shape."""
