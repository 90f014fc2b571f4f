"""The features of a block: what stands on its body and cannot be cut together with it.

A fin, a mast, a rudder or a piece that begins, ends or divides inside a block belongs to no pair of outlines. What is
left of the block without them is its core. Seen along the hull the features cover an area, and this area belongs to
both outlines: the wire goes square through the block there, and the features are carved out of what it leaves.

    sections of the hull --opened by a radius--> core, and parts that stand on it
    parts that are not there in every section, or change in size --seen along the hull--> one area
    outline of a face = core of that face + area
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from profiles.arrays import Bools, Floats
from profiles.blocks.hull_sections import Cut
from profiles.blocks.outlines import as_multi
from profiles.values import dataclass

REACH = 2.0
"""mm; what opening takes away stays with the core if it reaches no farther beyond it."""

STEADY = 1.5
"""What opening takes away stays with the core if it is there in every section and its area changes by no more than this
factor: a chine, a keel, a fin that goes on."""

SPECK = 0.5
"""mm2; smaller parts and hollows are left out of the outlines."""

OVERLAP = 0.3
"""mm by which the area of features is larger than they are, so that those of neighbouring sections become one."""

CLEAR_OF_ALL = 0.5
"""mm; a feature that stands clear of the core by more than this in every section is a piece of its own."""

ROOT = 3.0
"""mm of the core that a feature which stands clear of a face's core is joined to."""

SEEN = 1.0
"""mm2; a part of one section and a part of the next belong together if they share more than this, seen along x."""

CLEAR = 0.02
"""mm; a tenth of OVERLAP, by which the area of features covers it again."""

GAP = 0.02
"""Share of the radius by which an opened section is enlarged before it is compared with the section: its arcs are
polygons, which lie inside them."""

Sections = Sequence[tuple[float, MultiPolygon]]
"""Share of the way from the fore to the aft face, and region (y, z) mm, ascending; the ends included."""


@dataclass(frozen=True, slots=True)
class Features:
    """The features of one block, found by opening its sections."""

    area: MultiPolygon
    """What they cover, seen along the hull, (y, z) mm."""
    radius: float
    """mm, that sections are opened by."""
    cores: tuple[MultiPolygon, ...] = ()
    """Of the sections that the features were found in, (y, z) mm."""

    def core_of(self, region: MultiPolygon) -> MultiPolygon:
        """A section of the hull (y, z) mm without its features."""
        core = _without(region, [part for part in _beyond(region, self.radius) if self._holds(part)])
        return MultiPolygon([part for part in core.geoms if not self._holds(part)])

    def core_cut(self, cut: Cut) -> Cut:
        """The same for sections at x in mm; None where the hull cannot be closed."""

        def core(x: float) -> MultiPolygon | None:
            region = cut(x)
            return None if region is None else self.core_of(region)

        return core

    def with_area(self, more: shapely.Geometry) -> "Features":
        """The same features covering more."""
        return replace(self, area=as_multi(self.area.union(more)))

    def join(self, core: MultiPolygon) -> MultiPolygon:
        """The core of a face (y, z) mm with the area of the features. A part of it that stands clear of this core but
        not of that of another section is joined to what is nearest. There are no other hollows than those of the core.
        """
        joined: shapely.Geometry = core
        for part in self.area.geoms:
            apart = part.distance(core)
            if apart and min(part.distance(other) for other in self.cores) < CLEAR_OF_ALL:
                near = core.intersection(part.buffer(apart + ROOT))
                joined = joined.union(shapely.convex_hull(shapely.union_all([part, near])))
            else:
                joined = joined.union(part)
        solid = shapely.union_all([Polygon(part.exterior) for part in as_multi(joined).geoms])
        hollows = [Polygon(ring) for part in core.geoms for ring in part.interiors]
        return tidy(solid.difference(shapely.union_all(hollows).difference(self.area)))

    def hold(self, points: Floats) -> Bools:
        """Which of the points (n, 2) mm lie in the area, or within ROOT of it."""
        near = self.area.buffer(ROOT)
        shapely.prepare(near)
        return np.asarray(shapely.intersects_xy(near, *points.T))

    def _holds(self, part: Polygon) -> bool:
        """Whether a part lies in the area but for its rim."""
        return bool(part.intersection(self.area).area > 0.5 * part.area)


def features_of(sections: Sections, radius: float, *, keep_steady: bool = True) -> Features | None:
    """The features of a block that opening its sections by `radius` mm shows, or None. What is there in every section,
    about as large in all, stays with the core unless `keep_steady` is False.
    """
    beyond = [_beyond(region, radius) for _, region in sections]
    features: list[Polygon] = []
    cores = []
    for track in trace(beyond):
        if not (keep_steady and _is_steady(track, len(sections))):
            features += [part for _, part in track]
    taken = {id(part) for part in features}
    for (_, region), parts in zip(sections, beyond, strict=True):
        cores.append([*_without(region, [part for part in parts if id(part) in taken]).geoms])
    kept = [MultiPolygon() for _ in sections]
    for piece in trace(cores):
        if [number for number, _ in piece] == [*range(len(sections))]:
            kept = [MultiPolygon([*core.geoms, part]) for core, (_, part) in zip(kept, piece, strict=True)]
        else:
            features += [part for _, part in piece]
    area = as_multi(shapely.union_all(features).buffer(OVERLAP)) if features else MultiPolygon()
    return None if area.is_empty else Features(area, radius, tuple(kept))


def tidy(shape: shapely.Geometry) -> MultiPolygon:
    """The parts of a shape (y, z) mm without specks."""
    return MultiPolygon(
        [
            Polygon(part.exterior, [ring for ring in part.interiors if Polygon(ring).area > SPECK])
            for part in as_multi(shape if shape.is_valid else shapely.make_valid(shape)).geoms
            if part.area > SPECK
        ]
    )


def _without(region: MultiPolygon, parts: Sequence[Polygon]) -> MultiPolygon:
    """A section less parts of it, and less CLEAR round them: lines that nearly coincide would leave slivers."""
    return tidy(region.difference(shapely.union_all(shapely.buffer(parts, CLEAR)))) if parts else region


def _beyond(region: MultiPolygon, radius: float) -> list[Polygon]:
    """The parts of a section that opening takes away and that reach beyond what is left."""
    opened = region.buffer(-radius).buffer(radius)
    if opened.is_empty:
        return [*region.geoms]
    return [
        part
        for part in as_multi(region.difference(opened.buffer(GAP * radius))).geoms
        if part.area > SPECK and shapely.distance(shapely.points(shapely.get_coordinates(part)), opened).max() > REACH
    ]


def trace(parts: Sequence[Sequence[Polygon]]) -> list[list[tuple[int, Polygon]]]:
    """The parts of all sections by what belongs together: each with its section's number, ascending."""
    nodes = [(number, part) for number, here in enumerate(parts) for part in here]
    label = [*range(len(nodes))]

    def root(n: int) -> int:
        while label[n] != n:
            n = label[n]
        return n

    for i, (number, part) in enumerate(nodes):
        for j in range(i + 1, len(nodes)):
            if nodes[j][0] > number + 1:
                break
            if nodes[j][0] == number + 1 and part.intersection(nodes[j][1]).area > SEEN:
                label[root(j)] = root(i)
    groups: dict[int, list[tuple[int, Polygon]]] = {}
    for i, node in enumerate(nodes):
        groups.setdefault(root(i), []).append(node)
    return [*groups.values()]


def _is_steady(track: Sequence[tuple[int, Polygon]], count: int) -> bool:
    """Whether a part is there once in each of `count` sections, about as large in all."""
    areas = [part.area for _, part in track]
    return [number for number, _ in track] == [*range(count)] and max(areas) < STEADY * min(areas)
