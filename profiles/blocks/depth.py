"""Measure how deep points lie inside a ruled block: many points at once, each in its own section."""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.blocks.ring_pairs import RingPair
from profiles.blocks.ruled import RuledBlock
from profiles.blocks.wires import pairs_near_wires


def depth_inside(block: RuledBlock, points: Floats) -> Floats:
    """Depth in mm (n,) of points (n, 3) inside the block, negative outside; measured in the point's own section.

    Points are in the hull frame and between the block's stations.
    """
    shares = (points[:, 0] - block.x_fore) / block.thickness
    best = np.full(len(points), np.inf)
    depth = np.full(len(points), -np.inf)
    for pair, near in zip(block.rings, _points_near(block.rings, points[:, 1:]), strict=True):
        distance = _depth_in_ring(pair, points[near, 1], points[near, 2], shares[near])
        nearer = np.abs(distance) < best[near]
        chosen = near[nearer]
        best[chosen] = np.abs(distance[nearer])
        depth[chosen] = -distance[nearer] if pair.hollow else distance[nearer]
    return depth


FEW_RINGS = 4
"""A block of more rings sorts points by boxes first, so that the work does not grow by the square of the rings."""


def _points_near(rings: Sequence[RingPair], points: Floats) -> Iterator[Ints]:
    """For each ring the points (n, 2) mm that may have it nearest, by their numbers: those no farther from its box than
    from the farthest corner of some other box, cell by cell. At every share a ring lies in the box of its two faces.
    """
    if len(rings) <= FEW_RINGS or not len(points):
        yield from [np.arange(len(points))] * len(rings)
        return
    low, high = (np.array([edge(pair) for pair in rings]) for edge in (_low, _high))
    cell, order = _cells(points, 2 * math.isqrt(len(rings)))
    ends = np.flatnonzero(np.diff(cell[order], append=-1)) + 1
    starts = np.concatenate([[0], ends[:-1]])
    members = [order[start:end] for start, end in zip(starts.tolist(), ends.tolist(), strict=True)]
    cell_low, cell_high = (
        np.array([edge(points[numbers], axis=0) for numbers in members]) for edge in (np.min, np.max)
    )
    # (rings, cells) mm: between the nearest points of the boxes of a ring and a cell, and between the farthest.
    apart = np.maximum(np.maximum(low[:, None] - cell_high, cell_low - high[:, None]), 0.0)
    across = np.maximum(high[:, None] - cell_low, cell_high - low[:, None])
    near = np.hypot(apart[..., 0], apart[..., 1]) <= np.hypot(across[..., 0], across[..., 1]).min(axis=0)
    for of_ring in near:
        yield np.concatenate([np.zeros(0, dtype=np.int64), *(members[cell] for cell in np.flatnonzero(of_ring))])


def _low(pair: RingPair) -> Floats:
    return np.asarray(np.minimum(pair.fore.min(axis=0), pair.aft.min(axis=0)))


def _high(pair: RingPair) -> Floats:
    return np.asarray(np.maximum(pair.fore.max(axis=0), pair.aft.max(axis=0)))


def _cells(points: Floats, count: int) -> tuple[Ints, Ints]:
    """The number of the cell that each of the points (n, 2) lies in, of `count` each way, and their order by it."""
    low = points.min(axis=0)
    size = np.maximum(points.max(axis=0) - low, 1e-9) / count
    column, row = np.minimum(((points - low) / size).astype(np.int64), count - 1).T
    cell = column * count + row
    return cell, np.argsort(cell, kind="stable")


def _depth_in_ring(pair: RingPair, y: Floats, z: Floats, s: Floats) -> Floats:
    """Signed distance (n,) mm to a ring in the sections at shares s, positive inside it; y, z and s are (n,)."""
    return np.concatenate([np.zeros(0), *(pairs.depth() for pairs, _ in pairs_near_wires(pair, y, z, s))])
