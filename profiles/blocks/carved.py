"""What wire and knife make of a carved block: the foam that two profiles leave, and the hull that is carved out of it.

    side and plan profile --left_by_profiles--> volume in mm3 that the wire leaves
    sections between the stations --carved_solid--> closed surface of what the knife leaves

The knife leaves the hull itself between the two stations, or with a skin the foam under it, within TRUE. The surface
goes from section to section, and sections stand as close as that takes.

    the outlines of two sections pair one to one                  a band of triangles from each to the next
    pieces or hollows begin, end, split or join between them      both sections end flat, within CLOSEST of each other
    an end of the block has no area (a point, an edge)            the first section within CLOSEST of it is flat
    a section cannot be closed or has no area                     nothing stands there
"""

import math
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import islice, pairwise

import numpy as np
import shapely
from shapely import LinearRing, MultiLineString, MultiPolygon, Polygon

from profiles.arrays import Floats, Ints
from profiles.blocks.outlines import as_multi
from profiles.blocks.ruled import cap
from profiles.hull.surface import Mesh, join_meshes
from profiles.values import dataclass

Sections = Callable[[float], MultiPolygon]
"""x in mm -> the section of the foam there, (y, z) mm, which may be empty."""

TRUE = 0.05
"""mm; how far the surface may lie from a section of the hull: what is promised of any block."""

SPARE = 0.01
"""mm; outlines leave out points that lie no farther than this from the line between their neighbours."""

CLOSEST = 0.02
"""mm; sections nearer together than this are not told apart: a wall or a change of pieces lies between them."""

SLIT = 0.005
"""mm between two solids of one block: far below what is promised, and far above the rounding of a file at a metre."""

FIRST = 10.0
"""mm between the first sections; there is another half-way, so that what is thinner than 5 mm may be passed over."""

SHARP = 15.0
"""Degrees; points that turn by more are joined to such points of the next section: chines, keels, edges of a wall."""

MOST_SECTIONS = 300
"""In one block. A smooth end of a hull takes 20 to 40; only a mesh with very many pieces meets this."""

SPECK = 0.01
"""mm2; smaller pieces and hollows of a section are left out, as in profiles."""


def left_by_profiles(side: MultiPolygon, plan: MultiPolygon) -> float:
    """Volume in mm3 inside both profiles, (x, z) and (x, y) mm: what is left of a block cut along one and the other.

    Its sections are rectangles whose sides change evenly between the corners of the profiles, so Gauss's rule with two
    points is exact from corner to corner.
    """
    corners = np.unique(np.concatenate([shapely.get_coordinates(shape)[:, 0] for shape in (side, plan)]))
    half = np.diff(corners) / 2
    middle = corners[:-1] + half
    places = np.concatenate([middle - half / math.sqrt(3), middle + half / math.sqrt(3)])
    return float((_covered(side, places) * _covered(plan, places)) @ np.tile(half, 2))


def _covered(shape: MultiPolygon, places: Floats) -> Floats:
    """How much (k,) mm of the lines across a shape lies in it, at places (k,) mm along the first axis."""
    total = np.zeros(len(places))
    for part in shapely.orient_polygons(shape).geoms:
        for ring in (part.exterior, *part.interiors):
            points = shapely.get_coordinates(ring)
            start, end = points[:-1].T, points[1:].T
            number, edge = np.nonzero(
                (np.minimum(start[0], end[0]) < places[:, None]) & (places[:, None] < np.maximum(start[0], end[0]))
            )
            share = (places[number] - start[0][edge]) / (end[0] - start[0])[edge]
            across = start[1][edge] + share * (end[1] - start[1])[edge]
            # Material is on the left: below an edge that runs back, above one that runs forward along the axis.
            total += np.bincount(number, np.sign(start[0] - end[0])[edge] * across, len(places))
    return total


def mesh_volume(mesh: Mesh) -> float:
    """Volume in mm3 that a closed mesh holds: the sum of tetrahedra over its faces."""
    vertices, faces = mesh
    if not len(faces):
        return 0.0
    one, two, three = np.moveaxis((vertices - vertices.mean(axis=0))[faces], 1, 0)
    return float(np.einsum("ij,ij->", np.cross(one, two), three) / 6)


@dataclass(frozen=True, slots=True)
class Place:
    """A section and its outlines."""

    x: float
    """mm."""
    parts: tuple[tuple[Floats, ...], ...]
    """Of each piece its outside and its hollows, (k, 2) mm each, material on the left, not closed."""

    @property
    def rings(self) -> tuple[Floats, ...]:
        """All outlines, piece by piece."""
        return tuple(ring for part in self.parts for ring in part)


@dataclass(frozen=True, slots=True)
class Band:
    """Pairs of points, in order round an outline of one section and one of the next: in each step one moves on."""

    ring: int
    """Number of the outline of the next section."""
    fore: Ints
    """(k,) points of the outline of the first section."""
    aft: Ints
    """(k,) points of that of the next."""


def carved_solid(sections: Sections, x_fore: float, x_aft: float) -> Mesh:
    """The closed surface of what the knife leaves between two stations, x in mm; in several solids where pieces or
    hollows begin or end. No faces where no section has area.
    """
    count = max(1, math.ceil((x_aft - x_fore) / FIRST))
    places = [place_of(x, sections(x)) for x in np.linspace(x_fore, x_aft, count + 1).tolist()]
    waiting = deque(pairwise(places))
    while waiting and len(places) < MOST_SECTIONS:
        fore, aft = waiting.popleft()
        middle = place_of((fore.x + aft.x) / 2, sections((fore.x + aft.x) / 2))
        places.append(middle)
        if middle.x - fore.x > CLOSEST / 2 and not _is_between(middle, fore, aft):
            waiting.extend([(fore, middle), (middle, aft)])
    return join_meshes([*_solids(sorted(places, key=lambda place: place.x))])


def place_of(x: float, region: MultiPolygon) -> Place:
    """A section (y, z) mm at x mm without the points that do not show, and without specks."""
    thin = as_multi(shapely.simplify(region, SPARE))
    if len(thin.geoms) != len(region.geoms) or not thin.is_valid:
        thin = region
    parts = []
    for part in shapely.orient_polygons(thin).geoms:
        if part.area > SPECK:
            rings = [part.exterior, *(ring for ring in part.interiors if Polygon(ring).area > SPECK)]
            parts.append(tuple(shapely.get_coordinates(ring)[:-1] for ring in rings))
    return Place(x, tuple(parts))


def _is_between(middle: Place, fore: Place, aft: Place) -> bool:
    """Whether a section is what the bands from fore to aft have half-way. Those to and from the section itself are then
    four times as true where the hull is smooth, and no worse where it is not.
    """
    if not (middle.parts or fore.parts or aft.parts):
        return True
    bands = bands_between(fore, aft)
    if bands is None or bands_between(fore, middle) is None:
        return False
    halfway = [
        (ring[band.fore] + aft.rings[band.ring][band.aft]) / 2 for ring, band in zip(fore.rings, bands, strict=True)
    ]
    lines = [MultiLineString([LinearRing(ring) for ring in rings]) for rings in (halfway, middle.rings)]
    return bool(shapely.hausdorff_distance(*lines) <= TRUE - SPARE)


def bands_between(fore: Place, aft: Place) -> list[Band] | None:
    """A band from each outline of a section to one of the next; None where they do not pair one to one."""
    if not fore.parts or len(fore.parts) != len(aft.parts):
        return None
    partners = _partners([part[0] for part in fore.parts], [part[0] for part in aft.parts])
    if partners is None:
        return None
    starts = np.cumsum([0, *(len(part) for part in aft.parts)])
    bands = []
    for part, number in zip(fore.parts, partners, strict=True):
        partner = aft.parts[number]
        hollows = _partners(part[1:], partner[1:])
        if hollows is None:
            return None
        for ring, other in zip(part, (0, *(1 + hollow for hollow in hollows)), strict=True):
            bands.append(_band(ring, partner[other], int(starts[number]) + other))
    return bands


def _partners(fore: Sequence[Floats], aft: Sequence[Floats]) -> list[int] | None:
    """For each ring of the one the only ring of the other that it overlaps; None where any has none or several."""
    if len(fore) == len(aft) == 0:
        return []
    over = shapely.intersects(
        np.array([Polygon(ring) for ring in fore])[:, None], np.array([Polygon(ring) for ring in aft])[None, :]
    )
    if over.shape[0] != over.shape[1] or not ((over.sum(axis=0) == 1).all() and (over.sum(axis=1) == 1).all()):
        return None
    return [int(number) for number in over.argmax(axis=1)]


def _band(fore: Floats, aft: Floats, ring: int) -> Band:
    """Points of two rings joined by where those of the fore one lie beside the aft one, corners with corners."""
    line = LinearRing(aft)
    length = line.length
    corners = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(aft, axis=0).T))])
    beside = shapely.line_locate_point(line, shapely.points(fore))
    sharp, others = _sharp(fore), _sharp(aft)
    if len(sharp) and len(others):
        apart = np.hypot(*(fore[sharp][:, None] - aft[others][None, :]).transpose(2, 0, 1))
        nearest = apart.argmin(axis=1)
        mutual = apart.argmin(axis=0)[nearest] == np.arange(len(sharp))
        sharp, others = sharp[mutual], others[nearest[mutual]]
        beside[sharp] = corners[others]
    steps = np.diff(beside, append=beside[0])
    steps = (steps + length / 2) % length - length / 2
    if not math.isclose(steps.sum(), length, rel_tol=1e-6):
        # They do not lie once round it. Then by length, from the same place.
        steps = np.hypot(*np.diff(fore, axis=0, append=fore[:1]).T)
        steps *= length / steps.sum()
    moves_fore = np.concatenate([[0.0], np.cumsum(steps)])
    pinned = np.zeros(len(moves_fore), dtype=bool)
    pinned[[0, *sharp, -1]] = True
    moves_fore = np.clip(
        np.maximum.accumulate(moves_fore),
        np.maximum.accumulate(np.where(pinned, moves_fore, 0.0)),
        np.minimum.accumulate(np.where(pinned, moves_fore, length)[::-1])[::-1],
    )[1:]
    moves_aft = (corners - beside[0]) % length
    start = int(moves_aft.argmin())
    order = np.argsort(np.concatenate([moves_fore, np.roll(moves_aft, -start)]), kind="stable")
    is_aft = np.concatenate([[False], order >= len(fore)])[:-1]
    is_fore = np.concatenate([[False], order < len(fore)])[:-1]
    return Band(ring, np.cumsum(is_fore) % len(fore), (start - 1 + np.cumsum(is_aft)) % len(aft))


def _sharp(ring: Floats) -> Ints:
    """Numbers of the points of a ring that turn by more than SHARP."""
    out = np.roll(ring, -1, axis=0) - ring
    into = np.roll(out, 1, axis=0)
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    return np.flatnonzero(np.abs(np.arctan2(cross, (into * out).sum(axis=1))) > math.radians(SHARP))


def _solids(places: Sequence[Place]) -> Iterator[Mesh]:
    """The closed surface of each solid. Where outlines do not pair, that before and that behind end half-way, with a
    slit between them: faces that touched would be one to a reader that merges corners.
    """
    bands = [bands_between(fore, aft) for fore, aft in pairwise(places)]
    starts = [0, *(number for number, band in enumerate(bands, start=1) if band is None), len(places)]
    for start, end in pairwise(starts):
        run = list(places[start:end])
        if run[0].parts:
            low = (places[start - 1].x + run[0].x + SLIT) / 2 if start else run[0].x
            high = (run[-1].x + places[end].x - SLIT) / 2 if end < len(places) else run[-1].x
            run = [replace(run[0], x=low), *run[1:-1], replace(run[-1], x=high)]
            joins = bands[start : end - 1] if end - start > 1 else [bands_between(*run)]
            yield _solid(run, [join for join in joins if join is not None])


def _solid(places: Sequence[Place], bands: Sequence[Sequence[Band]]) -> Mesh:
    """A band of triangles for each outline from section to section, and both ends flat."""
    rings = [(place.x, ring) for place in places for ring in place.rings]
    vertices = np.concatenate([np.column_stack([np.full(len(ring), x), ring]) for x, ring in rings])
    starts = np.cumsum([0, *(len(ring) for _, ring in rings)]).tolist()
    count = len(rings) // len(places)
    faces = []
    for number, joins in enumerate(bands):
        for ring, band in enumerate(joins):
            fore = starts[number * count + ring] + band.fore
            aft = starts[(number + 1) * count + band.ring] + band.aft
            moved = np.roll(fore, -1) != fore
            third = np.where(moved, np.roll(fore, -1), np.roll(aft, -1))
            faces.append(np.column_stack([fore, third, aft]))
    for place, before, turn in ((places[0], 0, -1), (places[-1], len(rings) - count, 1)):
        numbers = iter(range(before, before + count))
        for part in place.parts:
            flat = cap(vertices, [np.arange(starts[n], starts[n + 1]) for n in islice(numbers, len(part))])
            faces.append(flat[:, ::turn])
    return vertices, np.concatenate(faces)
