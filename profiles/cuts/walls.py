"""The inside of a wall: what of a section lies at least so deep under the surface, measured square to the surface.

A point lies t deep if a ball of radius t about it is inside the body. The plane at x + s cuts that ball in a disc of
radius sqrt(t^2 - s^2), so the points of the section at x that lie t deep are those whose discs are inside the
sections at all x + s: the sections are moved inwards by these radii and what they share is taken. It is the same body
that its parallel surface bounds, however the hull slopes along x.
"""

from dataclasses import field

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from profiles.arrays import Floats
from profiles.blocks.outlines import as_multi
from profiles.hull.sections import Side
from profiles.hull.shape import Shape
from profiles.values import dataclass

PLANES = 25
"""Planes by which a ball is cut: between two of them the radius of a wall of 10 mm is off by 0.02 mm at most."""

ROUND = 16
"""Segments of a quarter circle round a corner that is moved: within 0.012 mm at 10 mm."""

UNSEEN = 0.005
"""mm; points of an upper edge that keep it this near to the others are enough."""

SAME_PLACE = 6
"""Decimals of mm to which two planes are one."""


UPWARDS = 3.0
"""Times the wall by which a section goes on above an open deck: what a wall takes off there lies above the body."""


@dataclass(slots=True)
class Sections:
    """The sections of a shape, each taken once."""

    shape: Shape
    open_deck: float = 0.0
    """mm; where it is not 0, what lies less than this under the upper edge goes on straight up, without a deck."""
    known: dict[tuple[float, Side], MultiPolygon] = field(default_factory=dict)

    def at(self, x: float, side: Side) -> MultiPolygon:
        """The section (y, z) mm; empty beyond the ends."""
        key = round(x, SAME_PLACE), side
        if key not in self.known:
            region = self.shape.section(x, side).region
            self.known[key] = without_deck(region, self.open_deck) if self.open_deck else region
        return self.known[key]

    @property
    def added(self) -> float:
        """Mm by which sections are higher than those of the shape."""
        return UPWARDS * self.open_deck


def without_deck(region: MultiPolygon, reach: float) -> MultiPolygon:
    """A section (y, z) mm whose part less than `reach` mm under its upper edge is drawn out straight upwards."""
    if region.is_empty:
        return region
    y_low, _, y_high, top = region.bounds
    upper = region.intersection(shapely.box(y_low - 1, top - reach, y_high + 1, top + 1)).simplify(UNSEEN)
    drawn = []
    for part in as_multi(upper).geoms:
        ring = shapely.get_coordinates(part.exterior)
        ends = np.stack([ring[:-1], ring[1:]], axis=1)
        raised = ends[:, ::-1] + np.array((0.0, UPWARDS * reach))
        drawn += shapely.polygons(np.concatenate([ends, raised], axis=1)).tolist()
    return as_multi(shapely.union_all([region, *(shapely.make_valid(quad) for quad in drawn if quad.area > 0)]))


def deep_inside(sections: Sections, x: float, side: Side, thickness: float) -> MultiPolygon:
    """The part (y, z) mm of the section at x mm that lies `thickness` mm under the surface; empty near the ends."""
    angles = np.linspace(-np.pi / 2, np.pi / 2, PLANES)
    inside: MultiPolygon | Polygon = sections.at(x, side)
    for along, across in zip((thickness * np.sin(angles)).tolist(), (thickness * np.cos(angles)).tolist(), strict=True):
        place = side if abs(along) < 10**-SAME_PLACE else Side.FORE if along < 0 else Side.AFT
        region = sections.at(x + along, place)
        inside = inside.intersection(region.buffer(-across, quad_segs=ROUND))
        if inside.is_empty:
            return MultiPolygon()
    return as_multi(inside)


def depth_of(sections: Sections, x: float, points: Floats, reach: float) -> Floats:
    """How deep (n,) mm points (n, 2) of the plane at x lie under the surface, up to `reach` mm."""
    depth = np.full(len(points), reach)
    places = shapely.points(points)
    for along in np.linspace(-reach, reach, PLANES).tolist():
        region = sections.at(x + along, Side.FORE if along < 0 else Side.AFT)
        apart = np.where(shapely.covers(region, places), shapely.distance(region.boundary, places), 0.0)
        if region.is_empty:
            apart = np.zeros(len(points))
        depth = np.minimum(depth, np.hypot(along, apart))
    return np.asarray(depth)
