"""Regions of sections filled to solid plugs: voids closed, and open shells closed straight across their sheer."""

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt
import shapely
from shapely import LineString, MultiPolygon, Polygon

from profiles.arrays import Floats

AREA_FLOOR = 1e-6
"""mm2; smaller regions are rounding of coordinates near 1000 mm (1e3 x 1e3 x 2^-52 x a few points), not shape."""

CLEAR = 0.01
"""Of its length: a line between two parts reaches so far into them."""

CLOSE = 0.05
"""Of a section's breadth: parts nearer to each other than this are one shell. Like the share of a wall that is thin."""

MOST_LINKS = 1000
"""Pairs of parts of a section that are close together. The planks of a shell make some dozens; lines between more of
them cut each other into thousands of pieces, and parts so many are no shell."""


def as_multi(geometry: shapely.Geometry) -> MultiPolygon:
    """The polygons of a geometry, without parts and hollows under AREA_FLOOR."""
    parts = [part for part in shapely.get_parts(geometry) if isinstance(part, Polygon) and part.area > AREA_FLOOR]
    return MultiPolygon([_without_specks(part) for part in parts])


def _without_specks(part: Polygon) -> Polygon:
    """The part without hollows under AREA_FLOOR: what rounding leaves where a sliver between two loops is dropped."""
    hollows = [ring for ring in part.interiors if Polygon(ring).area > AREA_FLOOR]
    return part if len(hollows) == len(part.interiors) else Polygon(part.exterior, hollows)


def fill_to_plug(region: MultiPolygon) -> MultiPolygon:
    """The region as a solid plug: voids filled, and each part closed straight across between the highest points of
    its port and starboard half (the sheer of an open shell). Parts without a hollow are unchanged.

    Parts that lie close together are closed as one: the planks of an open shell, whose seams leave gaps between them.
    """
    plugs = [plug for parts, links in _clusters(region) for plug in _plug(parts, links)]
    return as_multi(shapely.unary_union(plugs))


def filled_area(region: MultiPolygon) -> float:
    """Area, mm2, of the region as a solid plug."""
    if len(region.geoms) == 1 and region.covers(_sheer(shapely.get_coordinates(region.geoms[0].exterior))):
        return float(Polygon(region.geoms[0].exterior).area)
    return float(fill_to_plug(region).area)


def _clusters(region: MultiPolygon) -> Iterable[tuple[list[Polygon], list[LineString]]]:
    """The parts of a region that lie close together, and the shortest lines between them."""
    parts = list(region.geoms)
    if len(parts) < 2:  # noqa: PLR2004 - nothing to join
        return [(parts, [])] if parts else []
    low, _, high, _ = region.bounds
    pairs = shapely.STRtree(parts).query(parts, predicate="dwithin", distance=CLOSE * (high - low)).T
    if len(pairs) > 2 * MOST_LINKS + len(parts):  # each twice, and each part with itself
        return [([part], []) for part in parts]
    cluster = list(range(len(parts)))
    links: list[tuple[int, LineString]] = []
    for one, other in pairs[pairs[:, 0] < pairs[:, 1]].tolist():
        line = shapely.get_coordinates(shapely.shortest_line(parts[one], parts[other]))
        if (line[0] != line[1]).any():
            # A little too long: an end that rounding leaves just short of the part would not join it.
            links.append((one, LineString(line + CLEAR * np.array([-1, 1])[:, None] * (line[1] - line[0]))))
        cluster = [cluster[one] if label == cluster[other] else label for label in cluster]
    return [
        (
            [part for part, label in zip(parts, cluster, strict=True) if label == chosen],
            [line for part, line in links if cluster[part] == chosen],
        )
        for chosen in dict.fromkeys(cluster)
    ]


def _sheer(rim: Floats) -> LineString:
    """From the highest point of the port half of points (n, 2) to that of their starboard half."""
    middle = (rim[:, 0].min() + rim[:, 0].max()) / 2
    return LineString(
        [
            max(half.tolist(), key=lambda point: (point[1], abs(point[0] - middle)))
            for half in (rim[rim[:, 0] <= middle], rim[rim[:, 0] >= middle])
        ]
    )


def _plug(parts: list[Polygon], links: list[LineString]) -> Iterable[Polygon]:
    rims = [part.exterior for part in parts]
    lines = shapely.unary_union([*rims, *links, _sheer(shapely.get_coordinates(rims))])
    cells: npt.NDArray[np.object_] = shapely.get_parts(shapely.polygonize([*shapely.get_parts(lines)]))
    return [Polygon(cell.exterior) for cell in cells]
