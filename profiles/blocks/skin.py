"""The foam under the skin: a hull less a layer taken off square to its surface, as a section of what is left.

Where the surface runs aslant to a section, the layer shows thicker there than it is: a cone whose side rises by the
angle a loses skin / cos(a) of its radius. So the foam at x is what lies at least `skin` mm from all outside. In planes:
a point is in it if it lies in every section d mm forward and aft of it, at least sqrt(skin^2 - d^2) mm from the edge.

No skin is taken off a wall, a face square to x: the block's own face lies there, and stations keep their places. So the
sections that are asked for end at a wall.
"""

import contextlib
import math
from collections.abc import Iterator

import numpy as np
import shapely
from shapely import LinearRing, MultiPolygon, Polygon

from profiles.arrays import Floats
from profiles.blocks.moved_rings import handles_of
from profiles.blocks.outlines import as_multi, foam_surface, offset_outline
from profiles.errors import HullError
from profiles.hull.sections import Section, Side
from profiles.hull.shape import Shape
from profiles.values import dataclass

TURNS = np.radians(np.arange(-84.0, 85.0, 12.0))
"""Directions of the surface that are asked for, from square to x to almost along it. Between two of them the layer is
at most 1 - cos(6 degrees) = 0.55 % too thin: 0.008 mm of 1.5 mm."""

ROUGH = TURNS[::2]
"""The same for solids that are only drawn and weighed: at most 2.2 % too thin."""

BESIDE = 1e-4
"""mm; a wall this close to the section asked for is the block's own face."""

SAME = 1e-9
"""mm; outlines this close are the same."""

DENSE = 2.0
"""mm; outlines that are moved have a point at least this often."""

LEAST_SHARE = 0.3
"""Of the area under a skin in the section alone; where less is left, the body ends here, and there is no slope to
follow."""


@dataclass(frozen=True, slots=True)
class Skin:
    """What a skin leaves of a section, (y, z) mm."""

    flat: MultiPolygon
    """Taken off in the section alone."""
    square: MultiPolygon
    """Taken off square to the surface; never more than `flat`."""

    @property
    def excess(self) -> float:
        """The area in mm2 between the two."""
        return float(self.flat.area - self.square.area)

    def applied(self, outline: MultiPolygon, skin: float) -> MultiPolygon:
        """An outline of the same section that was enlarged, less the skin at the same places: as much as `square` is
        within `flat`, the outline is moved in as well.
        """
        inner = foam_surface(outline, skin)
        if self.excess <= 0 or inner.is_empty:
            return inner
        if inner.equals_exact(self.flat, SAME):
            return self.square
        moved = as_multi(shapely.make_valid(MultiPolygon([self._moved(part) for part in inner.geoms])))
        kept = as_multi(moved.intersection(inner))
        return kept if len(kept.geoms) == len(inner.geoms) else inner

    def _moved(self, part: Polygon) -> Polygon:
        ring = shapely.get_coordinates(LinearRing(shapely.orient_polygons(part).exterior).segmentize(DENSE))[:-1]
        if len(ring) < 3:  # noqa: PLR2004 - no area
            return part
        way = np.diff(ring, axis=0, append=ring[:1])
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*way.T))])
        handles = handles_of(ring, along, hollow=False)
        return Polygon(ring + handles.moves(along[:-1], -self._depths(ring, along, handles.along)), part.interiors)

    def _depths(self, ring: Floats, along: Floats, places: Floats) -> Floats:
        """How far (g,) mm the outline is moved in at places along it: as far as the two part at the nearest point."""
        points = np.column_stack([np.interp(places, along, np.append(ring[:, k], ring[0, k])) for k in (0, 1)])
        edge = shapely.boundary(self.flat)
        nearest = shapely.get_coordinates(shapely.shortest_line(edge, shapely.points(points)))[::2]
        at = shapely.points(nearest)
        depths = shapely.distance(at, shapely.boundary(self.square))
        return np.where(shapely.covers(self.square, at), 0.0, depths)


def skin_on(shape: Shape, section: Section, skin: float, turns: Floats = TURNS) -> Skin:
    """What `skin` mm leave of a section of a shape, asked for in some directions (n,) of the surface in radians.

    A section that cannot be closed is passed over. At a wall the slope is that of the body `skin` mm inside. Where the
    body ends within the skin, the layer is taken off in the section alone.
    """
    flat = foam_surface(section.region, skin)
    if not skin or flat.is_empty:
        return Skin(flat, flat)
    walls = _walls(shape, section, skin)
    square = flat
    if walls.own and not walls.other:
        with contextlib.suppress(HullError):
            within = shape.section(section.x + (skin if section.side is Side.AFT else -skin), section.side)
            square = skin_on(shape, within, skin, turns).applied(section.region, skin)
    for x, side in walls.places(section.x + skin * np.sin(turns), section.x):
        try:
            region = shape.section(x, side).region
        except HullError:
            continue
        shells = MultiPolygon([Polygon(part.exterior) for part in region.geoms])
        depth = math.sqrt(max(skin**2 - (x - section.x) ** 2, 0.0))
        left = as_multi(square.intersection(offset_outline(shells, -depth)))
        if left.area < LEAST_SHARE * flat.area or len(left.geoms) != len(flat.geoms):
            return Skin(flat, flat)
        square = left
    return Skin(flat, square)


@dataclass(frozen=True, slots=True)
class _Walls:
    """How far from a section others may be asked for, mm."""

    low: float
    high: float
    own: bool
    """Whether a wall is at the section itself, where its block ends."""
    other: bool
    """Whether another wall is within the skin, on the side of the material."""

    def places(self, wanted: Floats, x: float) -> Iterator[tuple[float, Side]]:
        """Those of the places (n,) mm that may be asked for, each from the side that is nearer to x."""
        for place in np.unique(np.clip(wanted, self.low, self.high)).tolist():
            if place < x - BESIDE:
                yield place, Side.AFT
            elif place > x + BESIDE:
                yield place, Side.FORE


def _walls(shape: Shape, section: Section, skin: float) -> _Walls:
    x, aft = section.x, section.side is Side.AFT  # an aft section has its material aft of x: a wall at x is in front
    ends = [float(end[0]) for end in shape.bounds]
    front = _last_wall(shape, x - skin, x + BESIDE if aft else x - 2 * BESIDE)
    back = shape.wall_between(x + 2 * BESIDE if aft else x - BESIDE, x + skin)
    low = max(ends[0], x - skin if front is None else min(front, x))
    high = min(ends[1], x + skin if back is None else max(back, x))
    own, other = (front, back) if aft else (back, front)
    return _Walls(low, high, own is not None and abs(own - x) <= BESIDE, other is not None)


def _last_wall(shape: Shape, low: float, high: float) -> float | None:
    """X mm of the last wall between two places; None without one."""
    found = None
    while low <= high and (wall := shape.wall_between(low, high)) is not None:
        found, low = wall, max(low, wall) + 2 * BESIDE
    return found
