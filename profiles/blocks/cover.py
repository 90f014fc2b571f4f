"""How deep points lie inside a ruled block: many points at once, each measured in its own section.

Sections at a few levels tell which wire is nearest; from there the wires beside it are tried, at the point's own share
of the way, until none is nearer.
"""

import numpy as np
from scipy.spatial import cKDTree

from profiles.blocks.correspondence import RingPair
from profiles.blocks.ruled import RuledBlock, lines_at
from profiles.hull.surface import Floats, Ints, Surface

LEVELS = 9
"""Sections that tell where to begin looking."""

BESIDE = 6
"""Wires looked at to either side, in each round."""

ROUNDS = 6
"""Rounds at most; nearly all points need one."""


def points_between(surface: Surface, x_fore: float, x_aft: float) -> Floats:
    """The vertices (n, 3) mm of a surface that lie between two stations, not on them."""
    x = surface.vertices[:, 0]
    margin = 1e-6 * (x_aft - x_fore)
    return surface.vertices[(x > x_fore + margin) & (x < x_aft - margin)]


def cover(block: RuledBlock, points: Floats) -> Floats:
    """Mm by which each of the points (n, 3), in the hull frame and between the stations, lies inside the block, (n,);
    negative outside. Measured within the point's own section.
    """
    shares = (points[:, 0] - block.x_fore) / block.thickness
    best = np.full(len(points), np.inf)
    depth = np.full(len(points), -np.inf)
    for pair in block.rings:
        own = _inside_ring(pair, points[:, 1:], shares)
        nearer = np.abs(own) < best
        best[nearer] = np.abs(own[nearer])
        depth[nearer] = -own[nearer] if pair.hollow else own[nearer]
    return depth


def _inside_ring(pair: RingPair, points: Floats, shares: Floats) -> Floats:
    """Signed distance (n,) mm to a ring, positive inside it."""
    moving = np.any((pair.fore != np.roll(pair.fore, 1, axis=0)) | (pair.aft != np.roll(pair.aft, 1, axis=0)), axis=1)
    fore, aft = pair.fore[moving], pair.aft[moving]
    near = _nearest_knot(pair, moving, points, shares)
    signed = np.zeros(len(points))
    waiting = np.arange(len(points))
    for _ in range(ROUNDS):
        found, place = _beside(fore, aft, near[waiting], points[waiting], shares[waiting])
        signed[waiting] = found
        at_edge = (place == 0) | (place == 2 * BESIDE)
        near[waiting] = (near[waiting] + place - BESIDE) % len(fore)
        waiting = waiting[at_edge]
        if not len(waiting):
            break
    return signed


def _nearest_knot(pair: RingPair, moving: Floats, points: Floats, shares: Floats) -> Ints:
    near = np.zeros(len(points), dtype=np.int64)
    level = np.clip((shares * LEVELS).astype(np.int64), 0, LEVELS - 1)
    for n in np.unique(level).tolist():
        own = level == n
        tree = cKDTree(lines_at(pair, (n + 0.5) / LEVELS)[moving], balanced_tree=False, compact_nodes=False)
        near[own] = tree.query(points[own])[1]
    return near


def _beside(fore: Floats, aft: Floats, near: Ints, points: Floats, shares: Floats) -> tuple[Floats, Ints]:
    """Signed distance to the nearest of the pieces beside a knot, and which of them it is."""
    pieces = (near[:, None] + np.arange(-BESIDE, BESIDE + 1)) % len(fore)
    following = (pieces + 1) % len(fore)
    share = shares[:, None, None]
    start = (1 - share) * fore[pieces] + share * aft[pieces]
    way = (1 - share) * fore[following] + share * aft[following] - start
    to = points[:, None] - start
    length = np.maximum(np.einsum("ijk,ijk->ij", way, way), 1e-30)
    rest = to - np.clip(np.einsum("ijk,ijk->ij", to, way) / length, 0.0, 1.0)[..., None] * way
    apart = np.sqrt(np.einsum("ijk,ijk->ij", rest, rest))
    aside = (way[..., 0] * to[..., 1] - way[..., 1] * to[..., 0]) / np.sqrt(length)
    # At a corner two pieces are equally near; the one that the point lies farther beside tells the side.
    least = apart.min(axis=1, keepdims=True)
    place = np.where(apart <= least + 1e-9, np.abs(aside), -1.0).argmax(axis=1)
    rows = np.arange(len(near))
    return np.copysign(apart[rows, place], aside[rows, place]), apart.argmin(axis=1)
