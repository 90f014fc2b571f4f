"""The cut lines of a block's two faces with equal numbers of points, in the order of the pairing.

Between two marks both hands go evenly. So each point of one face has its partner on the other, at the same share of the
way from mark to mark; both rings get the points of both. Rings keep their shape: a point is only ever added on a line.
"""

import numpy as np
import shapely

from profiles.arrays import Floats
from profiles.blocks.blocks import Block, Face
from profiles.blocks.boundary import rings_of
from profiles.paper.drawing import Points, freeze

SAME = 1e-9
"""Share of a stretch; two points nearer than this are one."""

ON_RING = 1e-6
"""mm; a mark that is further from every ring than this belongs to none, and the face is not paired."""


def card_rings(block: Block) -> tuple[tuple[Points, ...], tuple[Points, ...]]:
    """The rings (n, 2) mm of the cut outlines of both faces in the hull's (y, z), fore and aft.

    Paired rings come in the order of their marks, with equal numbers of points from the first mark on. Where the faces
    cannot be paired ring by ring, each has its own points.
    """
    fore, aft = (_marked_rings(face) for face in block.faces)
    if not fore or not aft or [list(numbers) for _, numbers in fore] != [list(numbers) for _, numbers in aft]:
        own = [tuple(freeze(_points(ring)) for ring in rings_of(face.outline.cut)) for face in block.faces]
        return own[0], own[1]
    pairs = [
        _pair(ring, other, np.array([*numbers.values()]), np.array([*others.values()]))
        for (ring, numbers), (other, others) in zip(fore, aft, strict=True)
    ]
    return tuple(first for first, _ in pairs), tuple(second for _, second in pairs)


def _points(ring: shapely.LinearRing) -> Floats:
    return np.asarray(shapely.get_coordinates(ring)[:-1])


def _marked_rings(face: Face) -> list[tuple[shapely.LinearRing, dict[int, float]]]:
    """The rings of a face in the order of their marks, each with the place of every mark along it, mm; none if a ring
    has no mark, a mark no ring, or marks do not follow one another along their ring.
    """
    rings = rings_of(face.outline.cut)
    if not rings or not face.marks:
        return []
    points = shapely.points([(mark.y, mark.z) for mark in face.marks])
    apart = shapely.distance(points[:, None], np.array(rings)[None])
    owners = apart.argmin(axis=1)
    if apart.min(axis=1).max() > ON_RING or len(set(owners.tolist())) < len(rings):
        return []
    result = []
    for number in dict.fromkeys(owners.tolist()):
        here = np.flatnonzero(owners == number)
        for ring in (rings[number], rings[number].reverse()):
            along = shapely.line_locate_point(ring, points[here])
            turned = (along - along[0]) % ring.length
            turned[ring.length - turned < ON_RING] = 0.0
            if (np.diff(turned) >= 0).all():
                break
        else:
            return []
        start = shapely.LinearRing(np.vstack([[ring.interpolate(along[0]).coords[0]], _after(ring, float(along[0]))]))
        result.append((start, {face.marks[k].number: float(at) for k, at in zip(here.tolist(), turned, strict=True)}))
    return result


def _after(ring: shapely.LinearRing, start: float) -> Floats:
    """The vertices of a ring in order from `start` mm along it."""
    points = _points(ring)
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    order = np.argsort((along - start) % ring.length, kind="stable")
    return points[order]


def _pair(ring: shapely.LinearRing, other: shapely.LinearRing, places: Floats, others: Floats) -> tuple[Points, Points]:
    """Both rings with the points of both, from stretch to stretch."""
    whole = np.append(places, ring.length), np.append(others, other.length)
    ways = [_along(line) for line in (ring, other)]
    found: tuple[list[Floats], list[Floats]] = ([], [])
    for k in range(len(places)):
        spans = [(marks[k], marks[k + 1]) for marks in whole]
        shares = [
            (way[(way > low) & (way < high)] - low) / (high - low)
            for way, (low, high) in zip(ways, spans, strict=True)
            if high > low
        ]
        share = np.unique(np.concatenate([[0.0], *shares]))
        share = share[np.concatenate([[True], np.diff(share) > SAME]) & (share < 1 - SAME)]
        for points, line, (low, high) in zip(found, (ring, other), spans, strict=True):
            points.append(shapely.get_coordinates(shapely.line_interpolate_point(line, low + share * (high - low))))
    return freeze(np.vstack(found[0])), freeze(np.vstack(found[1]))


def _along(ring: shapely.LinearRing) -> Floats:
    points = shapely.get_coordinates(ring)
    return np.asarray(np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1)))
