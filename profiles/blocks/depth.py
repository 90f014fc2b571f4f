"""Measure how deep points lie inside a ruled block: many points at once, each in its own section."""

import numpy as np

from profiles.arrays import Floats
from profiles.blocks.correspondence import RingPair
from profiles.blocks.ruled import RuledBlock
from profiles.blocks.wires import beside_wires


def depth_inside(block: RuledBlock, points: Floats) -> Floats:
    """Depth in mm (n,) of points (n, 3) inside the block, negative outside; measured in the point's own section.

    Points are in the hull frame and between the block's stations.
    """
    shares = (points[:, 0] - block.x_fore) / block.thickness
    best = np.full(len(points), np.inf)
    depth = np.full(len(points), -np.inf)
    for pair in block.rings:
        distance = _depth_in_ring(pair, points[:, 1], points[:, 2], shares)
        nearer = np.abs(distance) < best
        best[nearer] = np.abs(distance[nearer])
        depth[nearer] = -distance[nearer] if pair.hollow else distance[nearer]
    return depth


def _depth_in_ring(pair: RingPair, y: Floats, z: Floats, s: Floats) -> Floats:
    """Signed distance (n,) mm to a ring in the sections at shares s, positive inside it; y, z and s are (n,)."""
    return np.concatenate([np.zeros(0), *(beside.depth() for beside, _ in beside_wires(pair, y, z, s))])
