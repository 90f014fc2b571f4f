"""Open edges -> openings that are closed straight across, and cracks that are not.

opening   the rim of an open deck or an open end: it faces up, or along the hull, or between the two
crack     any other open edge: two sides of one seam lying close together, or a hole in the skin. Sections bridge small
          gaps and refuse large ones.

Rims that branch or touch cause no trouble: an opening is a connected group of edges, not a loop.
"""

import math
from collections.abc import Sequence

import numpy as np

from profiles.arrays import Bools, Floats, Ints
from profiles.hull.edges import SEAM, SEAM_NEIGHBOURS, edge_table, label_chains
from profiles.hull.surface import Surface, surface_of
from profiles.notes import Note, repair
from profiles.values import dataclass

SLIT = 0.003
"""Area over rim length squared below which a group of edges is a slit (a circle has 0.08, a 20 : 1 rectangle 0.01)."""

UPWARD = 0.7
"""Least cosine between an opening's normal and the plane of up and aft: within 45 degrees of the centre plane."""

WIDE = 0.1
"""Of the least of breadth, depth and middle size, as for a seam: the widest crack that runs on into a rim."""

LONG = 0.3
"""Of the length: so long is such a crack. The two sides of a canoe's sheer come as close, but only near its ends."""

FACED = 0.5
"""Of the root of a rim's area: so near the middle of a rim lies that looks back at it over a crack."""

ALIKE = 2.0
"""Areas of two such rims: neither is more than this times the other."""

BOTTOM = 0.25
"""Of length times breadth: a body that is open below by so much, as cut off at its waterline, has no bottom there."""

DECK = 0.25
"""Of length times breadth: an opening of less area is a hatch, a canopy or a hole and makes no open boat."""

LOW = 0.25
"""Of the depth: a rim that lies lower than this and does not lie across an end is not a deck."""


@dataclass(frozen=True, slots=True)
class Rim:
    """A connected group of open edges that is not a seam."""

    edges: Ints
    """(k, 2) vertices, each edge in the direction its face runs."""
    normal: Floats
    """(3,) mm2: area vector of what would close the rim, pointing out of the hull."""
    low: Floats
    """(3,) mm, least corner."""
    high: Floats
    """(3,) mm, greatest corner."""

    @property
    def area(self) -> float:
        """mm2 of the rim's projection along its normal."""
        return float(np.linalg.norm(self.normal))


def find_rims(surface: Surface) -> tuple[Rim, ...]:
    """The rims of a surface in any frame, largest first; seams, slits and cracks all round the body left out."""
    table = edge_table(surface.faces, len(surface.vertices))
    sides = table.boundary
    if not len(sides):
        return ()
    edges = np.column_stack([table.tail[sides], table.head[sides]])
    low, high = surface.bounds
    tolerance = SEAM * float(np.sort(high - low)[:2].min())
    edges = edges[~_is_in_seam(surface.vertices, edges, tolerance)]
    if not len(edges):
        return ()
    crack = _long_crack(surface.vertices, edges, WIDE / SEAM * tolerance, float((high - low).max()))
    cracked, edges = edges[crack], edges[~crack]
    if not len(edges):
        return ()
    links = np.concatenate([edges, _gaps(surface.vertices, edges, tolerance), _across_crack(edges, cracked)])
    count, label = label_chains(links[:, 0], links[:, 1])
    label = label[: len(edges)]
    order = np.argsort(label, kind="stable")
    parts = np.split(edges[order], np.searchsorted(label[order], np.arange(1, count)))
    rims = [rim for part in parts if (rim := _rim(surface.vertices, part)) is not None]
    faced = _faced(rims)
    return tuple(sorted((rim for n, rim in enumerate(rims) if n not in faced), key=lambda rim: -rim.area))


def _faced(rims: Sequence[Rim]) -> set[int]:
    """Numbers of the rims that another one of about their size looks back at from close by: the two edges of a crack
    that runs all round the body.
    """
    if not rims:
        return set()
    normals, middles = (
        np.array(values) for values in zip(*((r.normal, (r.low + r.high) / 2) for r in rims), strict=True)
    )
    areas = np.linalg.norm(normals, axis=1)
    faced = set()
    for number, area in enumerate(areas):  # row by row: a damaged file may have thousands of rims
        alike = (areas < ALIKE * area) & (area < ALIKE * areas)
        near = np.linalg.norm(middles - middles[number], axis=1) < FACED * math.sqrt(area)
        if (alike & near & (normals @ normals[number] < -UPWARD * area * areas)).any():
            faced.add(number)
    return faced


def _long_crack(vertices: Floats, edges: Ints, width: float, length: float) -> Bools:
    """(k,) which open edges (k, 2) are those of a crack that runs along much of the body, as where two skins do not
    meet at the keel: a rim would take it for a part of the deck, and each skin would be closed by itself.
    """
    crack = np.zeros(len(edges), dtype=bool)
    beside = np.flatnonzero(_is_in_seam(vertices, edges, width))
    if not len(beside):
        return crack
    _, chain = label_chains(edges[beside, 0], edges[beside, 1])
    ends = vertices[edges[beside]]
    order = np.argsort(chain[: len(beside)], kind="stable")
    starts = np.flatnonzero(np.diff(chain[order], prepend=-1))
    reach = np.maximum.reduceat(ends.max(axis=1)[order], starts) - np.minimum.reduceat(ends.min(axis=1)[order], starts)
    is_long = reach.max(axis=1) > LONG * length
    crack[beside[is_long[chain[: len(beside)]]]] = True
    return crack


def _across_crack(edges: Ints, cracked: Ints) -> Ints:
    """(g, 2) vertices where a long crack, of edges `cracked` (c, 2), leaves the rims, each with the first: the rims on
    its two sides are one.
    """
    ends = np.intersect1d(edges, cracked)
    joints: Ints = np.column_stack([np.broadcast_to(ends[:1], len(ends)), ends]).astype(np.int64)
    return joints


def _gaps(vertices: Floats, edges: Ints, tolerance: float) -> Ints:
    """(g, 2) ends of rims that lie within the tolerance: where a seam runs out into the rim, the rim goes on beyond."""
    nodes, degree = np.unique(edges, return_counts=True)
    ends = nodes[degree == 1]
    if not len(ends):
        return np.zeros((0, 2), dtype=np.int64)
    from scipy.spatial import cKDTree  # slow to import and seldom needed

    close = cKDTree(vertices[ends]).query_pairs(tolerance, output_type="ndarray").reshape(-1, 2)
    joints: Ints = ends[close]
    return joints


def _rim(vertices: Floats, edges: Ints) -> Rim | None:
    a, b = vertices[edges[:, 0]], vertices[edges[:, 1]]
    middle = (a + b).mean(axis=0) / 2
    # What closes the rim runs along each edge the other way round.
    normal = np.cross(b - middle, a - middle).sum(axis=0) / 2
    length = float(np.linalg.norm(b - a, axis=1).sum())
    if np.linalg.norm(normal) < SLIT * length**2:
        return None
    points = np.concatenate([a, b])
    return Rim(edges, normal, points.min(axis=0), points.max(axis=0))


def _is_in_seam(vertices: Floats, edges: Ints, tolerance: float) -> Bools:
    """(k,) whether an edge has another one close beside it that runs the opposite way."""
    from scipy.spatial import cKDTree  # slow to import and seldom needed

    a, b = vertices[edges[:, 0]], vertices[edges[:, 1]]
    length = np.linalg.norm(b - a, axis=1)
    # Points along long edges, or a short edge would not be seen beside the middle of a long one.
    pieces = np.clip(np.ceil(length / max(8 * tolerance, float(length.sum()) / 4000)), 1, 500).astype(np.int64)
    owner = np.repeat(np.arange(len(edges)), pieces)
    within = np.arange(len(owner)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    along = ((within + 0.5) / pieces[owner])[:, None]
    points = a[owner] * (1 - along) + b[owner] * along
    way = (b - a) / np.maximum(length, np.finfo(float).tiny)[:, None]
    reach = tolerance + float((length / pieces).max()) / 2
    _, near = cKDTree(points).query(points, k=min(SEAM_NEIGHBOURS, len(points)), distance_upper_bound=reach)
    near = near.reshape(len(points), -1)
    known = near < len(points)
    other = owner[np.where(known, near, 0)]
    offset = points[:, None] - a[other]
    run = np.clip(np.einsum("ijk,ijk->ij", offset, way[other]), 0, length[other])
    apart = np.linalg.norm(offset - run[..., None] * way[other], axis=2)
    against = np.einsum("ijk,ijk->ij", way[owner][:, None] * np.ones_like(offset), way[other]) < -0.5  # noqa: PLR2004
    beside = (known & (other != owner[:, None]) & against & (apart <= tolerance)).any(axis=1)
    seam: Bools = np.bincount(owner, beside, minlength=len(edges)) > pieces / 2
    return seam


def mark_openings(surface: Surface) -> tuple[Surface, tuple[Note, ...]]:
    """The surface, in the hull frame, with its openings numbered from 1 in `open_edges`; each one is reported."""
    low, high = surface.bounds
    notes: list[Note] = []
    listed: list[Ints] = []
    for rim in find_rims(surface):
        place = _place(rim, low, high)
        if not place:
            continue
        listed.append(np.column_stack([np.sort(rim.edges, axis=1), np.full(len(rim.edges), len(listed) + 1)]))
        start, end = rim.low[0], rim.high[0]
        where = f"from x = {start:.1f} to {end:.1f} mm" if end - start > 0.05 else f"at x = {start:.1f} mm"  # noqa: PLR2004
        across = "the sheer" if place == "deck" else "the rim"
        notes.append(repair(f"open {place} closed straight across {across} {where}", x=float(start)))
    if not listed:
        return surface, ()
    return (
        surface_of(surface.vertices, surface.faces, surface.body, np.concatenate(listed), surface.rules),
        tuple(notes),
    )


def has_open_deck(surface: Surface) -> bool:
    """Whether a surface in the hull frame with its openings listed is open on top or below, over much of its length."""
    if not len(surface.open_edges):
        return False
    low, high = surface.bounds
    plan = float((high - low)[0] * (high - low)[1])
    large = (rim for rim in find_rims(surface) if rim.area > DECK * plan)
    return any(_place(rim, low, high) in {"deck", "bottom"} for rim in large)


def _place(rim: Rim, low: Floats, high: Floats) -> str:
    """Deck, end or bottom, or nothing for a hole that may not be closed."""
    aft, across, up = rim.normal / rim.area
    plan = float((high - low)[0] * (high - low)[1])
    if up < -UPWARD and rim.area > BOTTOM * plan:
        return "bottom"
    if abs(across) > UPWARD or up < -UPWARD:
        return ""
    if abs(aft) > abs(up):
        at_end = min(abs(rim.low[0] - low[0]), abs(high[0] - rim.high[0])) < LOW * (high[0] - low[0])
        return "end" if at_end else ""
    return "deck" if up > 0 and (rim.low[2] + rim.high[2]) / 2 > low[2] + LOW * (high[2] - low[2]) else ""
