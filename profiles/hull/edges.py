"""The table of edges: which faces meet at which edge, for repair, half hulls, openings and frame.

A half edge is one side of one face, numbered 3 * face + side, in the direction of the face. An edge is the set of half
edges between the same two vertices: one on a boundary, two on a clean surface, more where sheets meet.
"""

import numpy as np
import numpy.typing as npt

from profiles.arrays import Bools, Ints
from profiles.hull.surface import AT_ONCE
from profiles.values import dataclass

CLEAN = 2
"""Half edges of an edge inside a clean surface."""

MOST_PARTS = 64
"""Most parts in which half edges are sorted; a hull of 10 million triangles needs 32."""

LEAST_SHELL = 4
"""Faces of the smallest closed shell; two faces back to back are not a shell."""

SEAM = 0.005
"""Share of the hull's breadth, depth or middle size: open edges this close together are the two sides of a seam. It is
wider than any rounding and narrower than the rim of any opening."""

SEAM_NEIGHBOURS = 8
"""Nearest points compared with each point on an open edge in the search for seams."""


@dataclass(frozen=True, slots=True)
class EdgeTable:
    """All half edges, sorted so that those of one edge are neighbours."""

    tail: Ints
    """(3m,) vertex where a half edge starts."""
    head: Ints
    """(3m,) vertex where it ends."""
    order: Ints
    """(3m,) half edges, sorted by edge."""
    start: Ints
    """(e,) where in `order` the half edges of each edge begin."""
    count: Ints
    """(e,) how many half edges each edge has."""

    @property
    def boundary(self) -> Ints:
        """(k,) half edges that have no partner."""
        return np.sort(self.order[self.start[self.count == 1]])

    @property
    def crowded(self) -> Ints:
        """(k,) half edges of edges with more than two faces."""
        return self.order[np.repeat(self.count > CLEAN, self.count)]

    @property
    def pairs(self) -> tuple[Ints, Ints]:
        """(p,) and (p,) half edges: the two sides of every edge with exactly two faces."""
        first = self.start[self.count == CLEAN]
        return self.order[first], self.order[first + 1]

    @property
    def neighbours(self) -> tuple[Ints, Ints]:
        """(q,) and (q,) half edges that follow each other in one edge, also in crowded edges."""
        inner = np.ones(len(self.order), dtype=bool)
        inner[self.start] = False
        later = np.flatnonzero(inner)
        return self.order[later - 1], self.order[later]


def edge_table(faces: Ints, vertex_count: int) -> EdgeTable:
    """The half edges of faces (m, 3), grouped by edge; an empty mesh gives an empty table."""
    tail = np.ascontiguousarray(faces).reshape(-1)
    head = np.empty_like(tail)
    for side in range(3):
        head[side::3] = faces[:, side - 2]
    order, first = _sort_by_edge(tail, head, vertex_count)
    start = np.flatnonzero(first).astype(np.int64)
    count = np.diff(np.append(start, len(order))).astype(np.int64)
    return EdgeTable(tail, head, order, start, count)


def _sort_by_edge(tail: Ints, head: Ints, vertex_count: int) -> tuple[Ints, Bools]:
    """The half edges (h,) sorted by edge, then by number, and where a new edge begins.

    The number of a half edge is packed into the low bits of the edge's key, so one plain sort gives the order in a
    fraction of the time. Where both do not fit into 64 bits, edges are sorted in parts, by lower vertex.
    """
    bits = max(1, (len(tail) - 1).bit_length())
    at_once = (1 << (63 - bits)) // max(1, vertex_count)
    low = np.minimum(tail, head)
    if at_once >= vertex_count or at_once * MOST_PARTS < vertex_count:
        keys = low
        keys *= np.int64(vertex_count)
        keys += np.maximum(tail, head)
        if at_once >= vertex_count:
            return _sort_packed(keys, np.arange(len(tail), dtype=np.int64), bits)
        order = np.argsort(keys, kind="stable").astype(np.int64)
        return order, starts_of_runs(keys[order])
    parts = []
    for lowest in range(0, vertex_count, at_once):
        chosen = np.flatnonzero((low >= lowest) & (low < lowest + at_once))
        keys = (low[chosen] - lowest) * np.int64(vertex_count) + np.maximum(tail[chosen], head[chosen])
        parts.append(_sort_packed(keys, chosen, bits))
    return np.concatenate([order for order, _ in parts]), np.concatenate([first for _, first in parts])


def _sort_packed(key: Ints, number: Ints, bits: int) -> tuple[Ints, Bools]:
    """The numbers sorted by key, and where a new key begins. Overwrites `key`."""
    key <<= bits
    key |= number
    key.sort()
    order = key & ((1 << bits) - 1)
    key >>= bits
    return order, starts_of_runs(key)


def starts_of_runs(keys: npt.NDArray[np.generic]) -> Bools:
    """(k,) whether each of the sorted keys (k,) differs from the one before; True for the first."""
    first = np.ones(len(keys), dtype=bool)
    np.not_equal(keys[1:], keys[:-1], out=first[1:])
    return first


def is_one_shell(faces: Ints, vertex_count: int) -> bool:
    """Whether faces (m, 3) are one closed, consistently wound shell: every edge is run once in each direction, and all
    faces are connected. No face of such a shell repeats a vertex or another face.
    """
    ways = _edge_keys_each_way(faces, vertex_count)
    if ways is None:
        return False
    up, down, bits = ways
    up.sort()
    down.sort()
    above, below = (way & ((1 << bits) - 1) for way in (up, down))
    up >>= bits
    down >>= bits
    if not np.array_equal(up, down) or (up[1:] == up[:-1]).any():
        return False
    del ways, up, down
    return label_groups(above, below, len(faces))[0] == 1


def _edge_keys_each_way(faces: Ints, vertex_count: int) -> tuple[Ints, Ints, int] | None:
    """Half edges from a lower vertex to a higher one, and those in the other direction: the key of the edge, with the
    number of the face in the low bits, and the number of these bits. None where the two differ in number or the keys
    do not fit.
    """
    face_count, half = len(faces), 3 * len(faces) // 2
    bits = face_count.bit_length()
    spread = _key_spread(faces, vertex_count, 63 - bits)
    if face_count < LEAST_SHELL or face_count % 2 or vertex_count * spread > 1 << (63 - bits):
        return None
    ways = np.empty((2, half), dtype=np.int64)
    filled = [0, 0]
    for start in range(0, face_count, AT_ONCE):
        tail = np.ascontiguousarray(faces[start : start + AT_ONCE].T)
        step = tail[(1, 2, 0), :] - tail
        rises = step > 0
        key = tail + np.minimum(step, 0)
        key *= spread
        key += np.abs(step)
        key <<= bits
        key |= np.arange(start, start + key.shape[1])
        for way, chosen in enumerate((rises, ~rises)):
            chosen_keys = key[chosen]
            end = filled[way] + len(chosen_keys)
            if end > half:
                return None
            ways[way, filled[way] : end] = chosen_keys
            filled[way] = end
    return ways[0], ways[1], bits


def _key_spread(faces: Ints, vertex_count: int, bits: int) -> int:
    """One more than the largest difference between the vertex numbers of an edge. It is searched for only where the
    keys must be short to fit into so many bits: near vertices mostly have near numbers.
    """
    if vertex_count**2 <= 1 << bits or not len(faces):
        return vertex_count
    parts = (faces[start : start + AT_ONCE] for start in range(0, len(faces), AT_ONCE))
    return 1 + max(int((part.max(axis=1) - part.min(axis=1)).max()) for part in parts)


def label_groups(a: Ints, b: Ints, node_count: int) -> tuple[int, Ints]:
    """Connected groups of `node_count` nodes with links a[i]-b[i]: how many, and (node_count,) labels from 0.

    >>> count, labels = label_groups(np.array([0, 3]), np.array([1, 4]), 5)  # links 0-1 and 3-4
    >>> count, labels.tolist()
    (3, [0, 0, 1, 2, 2])
    """
    # In every round a node takes a lower label of a neighbour, and then labels are followed to their ends, so that the
    # number of rounds grows with the logarithm of the longest chain. scipy can do this, but takes longer to import.
    label = _label_runs(a, b, node_count)
    while True:
        root_a, root_b = label[a], label[b]
        apart = root_a != root_b
        if not apart.any():
            break
        a, b = a[apart], b[apart]
        root_a, root_b = root_a[apart], root_b[apart]
        # Of several links to lower roots any will do: the others are still apart in the next round.
        label[np.maximum(root_a, root_b)] = np.minimum(root_a, root_b)
        while not np.array_equal(shorter := label[label], label):
            label = shorter
    rank = np.cumsum(label == np.arange(node_count, dtype=label.dtype), dtype=np.int64)
    return int(rank[-1]) if node_count else 0, rank.take(label) - 1


def _label_runs(a: Ints, b: Ints, node_count: int) -> npt.NDArray[np.int32]:
    """(node_count,) the first node of each node's run, in which every node is linked to the next, as faces often are.
    This costs little and does most of the work.
    """
    to_next = np.zeros(node_count, dtype=bool)
    apart = b - a
    to_next[a[apart == 1]] = True
    to_next[b[apart == -1]] = True
    label = np.arange(node_count, dtype=np.int32)
    label[1:][to_next[:-1]] = 0
    return np.maximum.accumulate(label)


def label_chains(tail: Ints, head: Ints) -> tuple[int, Ints]:
    """Connected groups of loose edges tail[i]-head[i]: how many, and (k,) labels. Edges that branch are one group."""
    nodes, joined = np.unique(np.concatenate([tail, head]), return_inverse=True)
    half = len(tail)
    joined = joined.reshape(-1).astype(np.int64)
    count, labels = label_groups(joined[:half], joined[half:], len(nodes))
    return count, labels[joined[:half]]
