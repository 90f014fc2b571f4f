"""Find the wires nearest to points inside a ruled block, each point in its own section.

Wires are grouped into runs like the pieces in `boundary`. The distance from a point to the middle wire of a run, in the
section of the point, shows which runs can be nearest.
"""

from collections.abc import Iterator

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.blocks.boundary import ONE_PLACE, RUN, NearPairs, batches, near_pairs, reach_of, runs_of
from profiles.blocks.ring_pairs import RingPair
from profiles.values import dataclass

EVERY = 4
"""Every so many wires one is compared with points, to sort them by their places round a ring."""

ON_WIRE = 1e-4
"""mm; nearer to the surface of the block, the direction from it to a point is not reliable."""


@dataclass(frozen=True, slots=True)
class Nearest:
    """The places on the ruled surface nearest to points."""

    piece: Ints
    """(k,) number of the knot before."""
    share: Floats
    """(k,) share of the way from there to the next knot."""
    outward: Floats
    """(k, 2) unit vectors in the section, out of the material: from the surface to points outside."""


def pairs_near_wires(pair: RingPair, y: Floats, z: Floats, s: Floats) -> Iterator[tuple[NearPairs, Ints]]:
    """For points y, z (n,) mm in the sections at shares s (n,), in batches: all pieces that may be nearest, and the run
    of each column.
    """
    runs = runs_of(pair.fore)
    fore, aft = pair.fore.T[:, runs], pair.aft.T[:, runs]
    moved = aft - fore
    reach = np.maximum(reach_of(fore), reach_of(aft))
    of_runs = _of_wires(fore[:, RUN // 2], moved[:, RUN // 2])
    of_points = _of_points(y, z, s)
    for batch in batches(len(s), len(reach)):
        owner, run = near_pairs(of_points[batch] @ of_runs, reach)
        share = s[batch].take(owner)
        at_y, at_z = (fore[axis].take(run, axis=1) + share * moved[axis].take(run, axis=1) for axis in (0, 1))
        way_y, way_z = at_y[1:] - at_y[:-1], at_z[1:] - at_z[:-1]
        length = np.sqrt(way_y * way_y + way_z * way_z)
        shrink = 1.0 / np.maximum(length, ONE_PLACE**2)
        to_y, to_z = y[batch].take(owner) - at_y[:-1], z[batch].take(owner) - at_z[:-1]
        yield NearPairs(owner, to_y, to_z, way_y * shrink, way_z * shrink, length), run


def _of_wires(fore: Floats, moved: Floats) -> Floats:
    """(8, r): the factors of |p - (f + s m)|^2 that depend on the wires, when it is expanded into a matrix product."""
    (f_y, f_z), (m_y, m_z) = fore, moved
    squares = f_y**2 + f_z**2, -2 * f_y, -2 * f_z, 2 * (f_y * m_y + f_z * m_z), -2 * m_y, -2 * m_z, m_y**2 + m_z**2
    return np.stack([*squares, np.ones_like(f_y)])


def _of_points(y: Floats, z: Floats, s: Floats) -> Floats:
    """(n, 8): its factors that depend on the points."""
    return np.column_stack([np.ones_like(s), y, z, s, s * y, s * z, s * s, y * y + z * z])


def nearest_wires(pair: RingPair, points: Floats, shares: Floats) -> Nearest:
    """The places on the ruled surface of a ring nearest to points (k, 2) mm outside the block, in the sections at
    `shares` (k,).
    """
    batches = [
        _nearest(pairs, run, hollow=pair.hollow)
        for pairs, run in pairs_near_wires(pair, points[:, 0], points[:, 1], shares)
    ]
    piece, share, outward = (np.concatenate(part) for part in zip(*batches, strict=True))
    return Nearest(np.minimum(piece, len(pair.fore) - 1), share, outward)


def _nearest(pairs: NearPairs, run: Ints, *, hollow: bool) -> tuple[Ints, Floats, Floats]:
    along = np.clip(pairs.to_y * pairs.way_y + pairs.to_z * pairs.way_z, 0.0, pairs.length)
    off_y, off_z = pairs.to_y - along * pairs.way_y, pairs.to_z - along * pairs.way_z
    squares = off_y**2 + off_z**2
    column = np.lexsort((squares.min(axis=0), pairs.owner))
    column = column[np.flatnonzero(np.diff(pairs.owner[column], prepend=-1))]
    row = squares[:, column].argmin(axis=0)
    at = row, column
    off = np.column_stack([off_y[at], off_z[at]])
    size = np.sqrt(squares[at])
    square_to = np.column_stack([pairs.way_z[at], -pairs.way_y[at]]) * (-1 if hollow else 1)
    outward = np.where((size > ON_WIRE)[:, None], off / np.maximum(size, ON_WIRE)[:, None], square_to)
    share = along[at] / np.maximum(pairs.length[at], ONE_PLACE**2)
    return run[column] * RUN + row, share, outward


def sort_round(rings: tuple[RingPair, ...], points: Floats, shares: Floats) -> tuple[Ints, Ints]:
    """For points (k, 2) mm in the sections at `shares` (k,): the nearest ring, and a number that is the same for points
    beside the same few wires.
    """
    best = np.full(len(points), np.inf)
    ring = np.zeros(len(points), dtype=np.int64)
    place = np.zeros(len(points), dtype=np.int64)
    of_points = _of_points(points[:, 0], points[:, 1], shares)
    first = 0
    for number, pair in enumerate(rings):
        fore, aft = pair.fore[::EVERY].T, pair.aft[::EVERY].T
        of_wires = _of_wires(fore, aft - fore)
        for batch in batches(len(points), fore.shape[1]):
            squares = of_points[batch] @ of_wires
            nearest = squares.argmin(axis=1)
            least = squares[np.arange(len(nearest)), nearest]
            nearer = batch.start + np.flatnonzero(least < best[batch])
            best[nearer], ring[nearer] = least[nearer - batch.start], number
            place[nearer] = first + nearest[nearer - batch.start]
        first += fore.shape[1]
    return ring, place
