"""Measure how deep points lie inside a ruled block: many points at once, each in its own section.

Wires are grouped in runs, like the segments in `boundary`: the distance from a point to the middle wire of a run, in
the point's own section, shows which runs can be nearest.
"""

import numpy as np

from profiles.blocks.boundary import ONE_PLACE, RUN, Beside, lots, reach_of, reached, runs_of
from profiles.blocks.correspondence import RingPair
from profiles.blocks.ruled import RuledBlock
from profiles.hull.surface import Floats, Surface

MOST = 5000
"""Vertices measured in a block; if there are more, every second, third and so on. On a block of 40 mm with a girth of
400 mm they are less than 2 mm apart, and between them a hull of 100 mm radius bulges by 0.005 mm."""


def points_between(surface: Surface, x_fore: float, x_aft: float) -> Floats:
    """Vertices (n, 3) mm of a surface between two stations but not on them: all, or about MOST of them."""
    x = surface.vertices[:, 0]
    margin = 1e-6 * (x_aft - x_fore)
    inside = np.flatnonzero((x > x_fore + margin) & (x < x_aft - margin))
    return np.asarray(surface.vertices[inside[:: -(-len(inside) // MOST) or 1]])


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
    runs = runs_of(pair.fore)
    fore, aft = pair.fore.T[:, runs], pair.aft.T[:, runs]
    moved = aft - fore
    reach = np.maximum(reach_of(fore), reach_of(aft))
    # |p - (f + s m)|^2 expanded into a product of two matrices: one of the points, one of the runs.
    (f_y, f_z), (m_y, m_z) = fore[:, RUN // 2], moved[:, RUN // 2]
    squares = f_y**2 + f_z**2, -2 * f_y, -2 * f_z, 2 * (f_y * m_y + f_z * m_z), -2 * m_y, -2 * m_z, m_y**2 + m_z**2
    of_runs = np.stack([*squares, np.ones_like(f_y)])
    of_points = np.column_stack([np.ones_like(s), y, z, s, s * y, s * z, s * s, y * y + z * z])
    signed = [np.zeros(0)]
    for lot in lots(len(s), len(reach)):
        owner, run = reached(of_points[lot] @ of_runs, reach)
        share = s[lot].take(owner)
        at_y, at_z = (fore[axis].take(run, axis=1) + share * moved[axis].take(run, axis=1) for axis in (0, 1))
        way_y, way_z = at_y[1:] - at_y[:-1], at_z[1:] - at_z[:-1]
        length = np.sqrt(way_y * way_y + way_z * way_z)
        shrink = 1.0 / np.maximum(length, ONE_PLACE**2)
        to_y, to_z = y[lot].take(owner) - at_y[:-1], z[lot].take(owner) - at_z[:-1]
        signed.append(Beside(owner, to_y, to_z, way_y * shrink, way_z * shrink, length).depth())
    return np.concatenate(signed)
