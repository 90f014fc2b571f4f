"""Surface + x + side of the plane -> Section, exact at every plane.

A plane x = X is never treated as touching a vertex. Each section is a limit from one side: for the limit from forward
(FORE) every vertex with x >= X counts as aft of the plane, for the limit from aft (AFT) only those with x > X do. Each
vertex is then clearly on one side, and no case needs code of its own:

    plane through a vertex or edge      the crossing is the vertex itself; segments without length vanish
    plane in a wall (coplanar faces)    the wall's faces are not cut; the two limits differ by the wall
    plane at the far end of a body      one limit is the end face, the other is empty
    plane beyond the body               empty

Segments are linked by the mesh edge they cross, never by rounded coordinates. Each runs with the solid on its left,
seen with y to the right and z up, so a region is where the winding number of all loops is positive: voids, nested and
self-overlapping shells need no code of their own either. In one dimension this is the perturbation that Edelsbrunner
and Muecke call simulation of simplicity (ACM Transactions on Graphics 9, 1990).
"""

from collections import defaultdict
from enum import StrEnum
from itertools import pairwise

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from profiles.arrays import Floats, Ints
from profiles.hull.bridges import Gap, close_chains, refuse_inside_out
from profiles.hull.narrow import close_boxes, close_narrow
from profiles.hull.plugs import AREA_FLOOR, as_multi, fill_to_plug
from profiles.hull.surface import SectionRules, Surface, edge_keys, faces_cut_by
from profiles.hull.tangles import refuse_crossings, refuse_tangle
from profiles.values import dataclass


class Side(StrEnum):
    """From which side of the plane the limit is taken."""

    FORE = "fore"
    """Just forward of the plane: what the block that ends there shows on its aft face."""
    AFT = "aft"
    """Just aft of the plane: what the block that begins there shows on its fore face."""


@dataclass(frozen=True, slots=True)
class Section:
    """The cut of the hull by a plane x = const., as the limit from one side."""

    x: float
    side: Side
    region: MultiPolygon
    """(y, z) mm; empty where there is no area."""
    bridges: tuple[Gap, ...] = ()
    """Cracks and openings that were closed straight."""
    sheets: int = 0
    """Walls without thickness that end on the hull's own skin and were left out."""

    @property
    def gaps(self) -> tuple[float, ...]:
        """Widths in mm of the cracks that were closed, ascending; openings are none."""
        return tuple(sorted(gap.width for gap in self.bridges if not gap.opening))


def section(surface: Surface, x: float, side: Side) -> Section:
    """The section of a surface at x mm, in (y, z) mm.

    Raises HullError where the outline stays open by more than the surface's rules allow and not across an opening that
    may be closed, and TangledError where it crosses itself all over.

    >>> from profiles import read
    >>> surface = read("models/skerrywing.stl").surface
    >>> before, behind = (section(surface, 400.0, side) for side in Side)
    >>> before.region.area == behind.region.area, before.gaps
    (True, ())
    """
    cut = _crossings(surface, x, side)
    sound = _sound_bodies(cut)
    if sound is not None:
        return Section(x, side, _filled(sound, surface.rules, x))
    sheets = 0
    regions: list[MultiPolygon] = []
    torn: list[_Nodes] = []
    chains: list[_Nodes] = []
    for segments in _by_body(cut):
        loops, open_chains, dropped = _link_segments(cut, segments)
        sheets += dropped
        if open_chains:
            torn += loops
            chains += open_chains
        else:
            regions.append(_region([cut.points[nodes] for nodes in loops], x))
    # Parts of one skin may count as several bodies, so the open chains of all bodies are closed together.
    closed, gaps = close_chains(surface, cut.keys, cut.points, chains, x)
    if closed:
        rings = [cut.points[nodes] for nodes in torn + closed]
        regions.append(_region(rings, x))
        turned = sum(swept_area(ring) for ring in rings) / 2
        refuse_inside_out(regions[-1].area, turned, gaps, surface.rules.crack, x)
    region = regions[0] if len(regions) == 1 else as_multi(shapely.unary_union(regions))
    return Section(x, side, _filled(region, surface.rules, x), gaps, sheets)


def _filled(region: MultiPolygon, rules: SectionRules, x: float) -> MultiPolygon:
    region = fill_to_plug(region) if rules.solid else region
    region = close_boxes(region, x, rules.bores)
    return close_narrow(region, rules.narrowest)[0] if rules.has_narrow(x) else region


@dataclass(frozen=True, slots=True)
class _Cut:
    """Where one plane crosses the mesh: a node for each crossed edge, a segment for each crossed face."""

    keys: Ints
    """(k,) the crossed edges."""
    points: Floats
    """(k, 2) where they are crossed, (y, z) mm."""
    start: Ints
    """(s,) node each segment starts from."""
    end: Ints
    body: Ints
    """(s,) the body of the segment's face."""


def _crossings(surface: Surface, x: float, side: Side) -> _Cut:
    cut = faces_cut_by(surface, x, aft=side is Side.AFT)
    faces = surface.faces[cut]
    vertex_x = surface.vertices[:, 0][faces]
    aft = vertex_x >= x if side is Side.FORE else vertex_x > x
    ends_aft = aft[:, (1, 2, 0)]
    rows = np.arange(len(faces))
    sides = np.concatenate([np.argmax(aft & ~ends_aft, axis=1), np.argmax(~aft & ends_aft, axis=1)])
    rows = np.concatenate([rows, rows])
    begin, finish = faces[rows, sides], faces[rows, (sides + 1) % 3]
    low, high = np.minimum(begin, finish), np.maximum(begin, finish)
    # The lower vertex first, so that a crossing is the same number for both faces of its edge.
    keys, first, node = np.unique(edge_keys(low, high, len(surface.vertices)), return_index=True, return_inverse=True)
    from_low, to_high = surface.vertices[low[first]], surface.vertices[high[first]]
    t = ((x - from_low[:, 0]) / (to_high[:, 0] - from_low[:, 0]))[:, None]
    points = (1 - t) * from_low[:, 1:] + t * to_high[:, 1:]
    return _Cut(keys, points, node[: len(faces)], node[len(faces) :], surface.body[cut])


def _by_body(cut: _Cut) -> list[Ints]:
    """Segment numbers, one array for each body, in the order of the bodies."""
    if (cut.body == cut.body[:1]).all():
        return [np.arange(len(cut.body))] if len(cut.body) else []
    return [np.flatnonzero(cut.body == body) for body in np.unique(cut.body)]


def _sound_bodies(cut: _Cut) -> MultiPolygon | None:
    """The region of several bodies whose outlines are one closed loop each that goes round some area and does not
    cross itself; else None. All are made at once, which for hundreds of bodies is many times quicker.
    """
    if (cut.body == cut.body[:1]).all():
        return None
    loops = _simple_loops(cut, np.arange(len(cut.body)))
    if loops is None:
        return None
    of_node = np.empty(len(cut.points), dtype=np.int64)
    of_node[cut.start] = cut.body
    if len(np.unique([of_node[loop[0]] for loop in loops])) < len(loops):
        return None
    rings = [_without_repeats(cut.points[loop]) for loop in loops]
    if min(map(len, rings)) < 3:  # noqa: PLR2004 - a triangle
        return None
    numbers = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    parts = shapely.polygons(shapely.linearrings(np.concatenate(rings), indices=numbers))
    if min(map(swept_area, rings)) <= 2 * AREA_FLOOR or not shapely.is_valid(parts).all():
        return None
    return as_multi(shapely.unary_union(parts))


_Nodes = list[int]
_Ways = dict[int, list[int]]


def _link_segments(cut: _Cut, segments: Ints) -> tuple[list[_Nodes], list[_Nodes], int]:
    """Closed loops and open chains of nodes, and how many sheets were left out.

    Where a node has several ways onward, a loop may take any of them: the winding numbers stay the same.
    """
    single = _simple_loops(cut, segments)
    if single is not None:
        return single, [], 0
    onward: _Ways = defaultdict(list)
    surplus: dict[int, int] = defaultdict(int)
    start = cut.start[segments].tolist()
    for a, b in zip(start, cut.end[segments].tolist(), strict=True):
        onward[a].append(b)
        surplus[a] += 1
        surplus[b] -= 1
    ends = {node: count for node, count in surplus.items() if count}
    sheets = _strip_sheets(cut, onward, ends) if ends else 0
    chains = [_walk(onward, node) for node, count in ends.items() for _ in range(count)]
    loops = []
    for node in start:
        while onward[node]:
            loops.append(_walk(onward, node)[:-1])
    return loops, chains, sheets


def _simple_loops(cut: _Cut, segments: Ints) -> list[_Nodes] | None:
    """The loops where one segment ends and one begins at every node, as on a sound surface; else None."""
    start, end = cut.start[segments], cut.end[segments]
    leaving, entering = (np.bincount(nodes, minlength=len(cut.points)) for nodes in (start, end))
    if leaving.max(initial=0) > 1 or not np.array_equal(leaving, entering):
        return None
    onward = np.zeros(len(cut.points), dtype=np.int64)
    onward[start] = end
    ways = onward.tolist()
    loops: list[_Nodes] = []
    seen: set[int] = set()
    for first in start.tolist():
        if first in seen:
            continue
        loop = [first]
        node = ways[first]
        while node != first:
            loop.append(node)
            node = ways[node]
        loops.append(loop)
        if len(loop) == len(start):
            break
        seen.update(loop)
    return loops


def _walk(onward: _Ways, node: int) -> _Nodes:
    path = [node]
    while onward.get(node):
        node = onward[node].pop()
        path.append(node)
    return path


def _strip_sheets(cut: _Cut, onward: _Ways, ends: dict[int, int]) -> int:
    """Remove walls without thickness, and return how many: chains that begin or end where the skin runs on, at a mesh
    edge with more than two faces. Of the ways between their ends the one that bounds least is the wall. Updates `ends`.
    """
    count = 0
    back = _reverse_ways(onward)
    for sign in (1, -1):
        ways, against = (onward, back) if sign > 0 else (back, onward)
        for node in list(ends):
            while ends[node] * sign > 0 and against.get(node):
                candidates = (_path_to_end(ways, node, step, ends, sign) for step in dict.fromkeys(ways[node]))
                paths = [path for path in candidates if ends.get(path[-1], 0) * sign < 0]
                if not paths:
                    break
                wall = min(paths, key=lambda path: swept_area(cut.points[path]) * sign)
                for a, b in pairwise(wall[::sign]):
                    onward[a].remove(b)
                    back[b].remove(a)
                ends[wall[0]] -= sign
                ends[wall[-1]] += sign
                count += 1
    return count


def _reverse_ways(onward: _Ways) -> _Ways:
    back: _Ways = defaultdict(list)
    for a, targets in onward.items():
        for b in targets:
            back[b].append(a)
    return back


def _path_to_end(ways: _Ways, node: int, step: int, ends: dict[int, int], sign: int) -> _Nodes:
    """The path from a node through `step` to the first node where chains of the other sign end."""
    path = [node, step]
    seen = {node, step}
    while ends.get(step, 0) * sign >= 0:
        further = [target for target in ways.get(step, []) if target not in seen]
        if not further:
            break
        step = further[0]
        seen.add(step)
        path.append(step)
    return path


def swept_area(points: Floats) -> float:
    """Twice the area that a path or ring (n, 2) sweeps about its first point; positive anticlockwise."""
    y, z = (points - points[0]).T
    return float(np.dot(y[:-1], z[1:]) - np.dot(z[:-1], y[1:]))


def _region(loops: list[Floats], x: float) -> MultiPolygon:
    """The region where loops (n, 2) mm have a positive winding number, without slivers under AREA_FLOOR."""
    rings = [loop for loop in map(_without_repeats, loops) if len(loop) >= 3]  # noqa: PLR2004 - a triangle
    if len(rings) == 1:
        only = Polygon(rings[0])
        if only.is_valid:
            return MultiPolygon([only]) if swept_area(rings[0]) > 2 * AREA_FLOOR else MultiPolygon()
    if not rings:
        return MultiPolygon()
    refuse_tangle(rings, x)
    lines = shapely.unary_union([shapely.LinearRing(ring) for ring in rings])
    refuse_crossings(shapely.get_parts(lines), len(rings), x)
    cells = [cell for cell in shapely.get_parts(shapely.polygonize([lines])) if cell.area > AREA_FLOOR]
    if not cells:
        return MultiPolygon()
    start, end = np.concatenate(rings), np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    winding = winding_numbers(start, end, shapely.get_coordinates([cell.point_on_surface() for cell in cells]))
    kept = [cell for cell, turns in zip(cells, winding, strict=True) if turns > 0]
    return as_multi(shapely.unary_union(kept))


def _without_repeats(loop: Floats) -> Floats:
    fresh = np.ones(len(loop), dtype=bool)
    if len(loop):
        before = np.concatenate([loop[-1:], loop[:-1]])
        fresh = (loop[:, 0] != before[:, 0]) | (loop[:, 1] != before[:, 1])
    return loop if fresh.all() else loop[fresh]


def winding_numbers(start: Floats, end: Floats, points: Floats) -> Ints:
    """How often closed lines of segments `start` to `end` (n, 2) turn round each of the points (p, 2).

    It is the number of signed crossings with the ray from the point along the first axis.

    Points are sorted by the second axis, so that each segment is compared only with those between its ends.

    >>> ring = np.array([[0.0, 0.0], [2.0, 0.0], [1.0, 2.0]])  # anticlockwise
    >>> winding_numbers(ring, np.roll(ring, -1, axis=0), np.array([[1.0, 1.0], [3.0, 1.0]])).tolist()
    [1, 0]
    """
    by_height = np.argsort(points[:, 1], kind="stable")
    first, last = np.sort(np.searchsorted(points[by_height, 1], np.stack([start[:, 1], end[:, 1]])), axis=0)
    count = last - first
    segment = np.repeat(np.arange(len(start)), count)
    point = by_height[np.arange(len(segment)) + np.repeat(first - (np.cumsum(count) - count), count)]
    a, b, p = start[segment], end[segment], points[point]
    side = (b[:, 0] - a[:, 0]) * (p[:, 1] - a[:, 1]) - (p[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    rising = b[:, 1] > a[:, 1]
    up, down = (
        np.bincount(point[chosen], minlength=len(points)) for chosen in (rising & (side > 0), ~rising & (side < 0))
    )
    turns: Ints = up - down
    return turns
