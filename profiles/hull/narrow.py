"""What no hot wire can enter from a template's edge: narrow holes and slits, closed in the sections and done later.

A hole or slit is narrow where no circle of the least width fits into it. Closing a section by half that width, with
corners kept sharp, fills exactly such places: the region is grown until they are gone, and shrunk again. All other
corners, hollows and curves come back as they were, and only what was filled is taken from the result.
"""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

SHARP = 8.0
"""Mitre limit: corners down to 2 asin(1/8) = 14 degrees come back sharp."""

DEEP = 1 / 3
"""Of the least width: a notch less deep than this is sanded into the edge as it is, and no channel."""

OVERLAP = 0.005
"""mm; by so much fillings overlap the region, so that rounding leaves no seam between them."""

SPECK = 0.5
"""mm2; smaller fillings, and hollows left by rounding, can't be seen."""

STRAIGHT = 1e-6
"""Of a part's area: a part that falls so little short of its convex hull has nothing to fill."""


def close_narrow(region: MultiPolygon, narrowest: float) -> tuple[MultiPolygon, tuple[Polygon, ...]]:
    """A section with its narrow places filled, and the fillings; (y, z) mm, `narrowest` > 0 mm.

    Cases: an empty or convex section comes back as it is; narrow gaps between two parts make them one; a narrow hollow
    is filled whole, a hollow with a wide part keeps that part.
    """
    if _is_plain(region):
        return region, ()
    half = narrowest / 2
    shrunk = _offset(_offset(region, half), -half)
    edge = shrunk.boundary
    fillings = tuple(part for part in _polygons(shrunk.difference(region)) if _is_channel(part, edge, DEEP * narrowest))
    if not fillings:
        return region, ()
    joined = shapely.union_all([region, *(_offset(filling, OVERLAP) for filling in fillings)])
    # A part may lie in a speck of a hollow that is filled here: the union makes them one.
    whole = shapely.union_all([_without_specks(part) for part in _polygons(joined)])
    return MultiPolygon(_polygons(whole)), fillings


def _offset(shape: shapely.Geometry, by: float) -> shapely.Geometry:
    """A shape moved outwards by so many mm, or inwards."""
    # GEOS divides by zero where two edges lie in one line, and notices; numpy passes that on as a warning.
    with np.errstate(divide="ignore", invalid="ignore"):
        return shapely.buffer(shape, by, join_style="mitre", mitre_limit=SHARP)


def close_boxes(region: MultiPolygon, x: float, boxes: Sequence[tuple[float, ...]]) -> MultiPolygon:
    """A section (y, z) mm at x mm with the holes in some boxes closed, straight across between what is left of the
    section in each. A box is its least x, y and z and its greatest.
    """
    for x_low, y_low, z_low, x_high, y_high, z_high in boxes:
        if x_low <= x <= x_high:
            walls = region.intersection(shapely.box(y_low, z_low, y_high, z_high))
            region = MultiPolygon(_polygons(shapely.union(region, walls.convex_hull)))
    return region


def _is_plain(region: MultiPolygon) -> bool:
    if len(region.geoms) != 1:
        return bool(region.is_empty)
    (part,) = region.geoms
    return bool(not part.interiors and part.convex_hull.area - part.area < STRAIGHT * part.area)


def _is_channel(part: Polygon, edge: shapely.Geometry, deep: float) -> bool:
    """Whether a filling goes so deep below the edges of the closed region, or is a hole inside it."""
    if part.area < SPECK:
        return False
    depth: float = shapely.distance(shapely.points(part.exterior.coords), edge).max()
    return bool(depth > deep)


def _polygons(shape: shapely.Geometry) -> list[Polygon]:
    return [part for part in shapely.get_parts(shape) if isinstance(part, Polygon) and not part.is_empty]


def _without_specks(part: Polygon) -> Polygon:
    return Polygon(part.exterior, [ring for ring in part.interiors if Polygon(ring).area > SPECK])
