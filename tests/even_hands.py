"""A block made again from its templates alone: hands that go along both cut lines, evenly between equal marks.

Nothing of the program's own model of a block is used, so this says what two people get who follow the marks.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely import LinearRing, MultiPolygon

from profiles.arrays import Floats
from profiles.blocks.blocks import Block, CarvedBlock, CutBlock

Points = np.ndarray[Any, np.dtype[np.object_]]
"""Points of shapely."""


@dataclass(frozen=True)
class HandRing:
    """One closed line on both faces, as the hands follow it."""

    fore: Floats
    """(k, 2) mm; the wires' ends."""
    aft: Floats
    speeds: list[tuple[float, float]]
    """mm that the hand goes on the fore and the aft face from each mark to the next."""


def lines_of(region: MultiPolygon) -> list[LinearRing]:
    """The closed lines of a region."""
    return [ring for part in region.geoms for ring in (part.exterior, *part.interiors)]


def hand_rings(block: CutBlock) -> list[HandRing]:
    """The lines of a block's templates, with wires where even hands hold them."""
    faces = []
    for face in block.faces:
        lines = lines_of(face.outline.cut)
        places = shapely.points([(mark.y, mark.z) for mark in face.marks])
        faces.append((lines, shapely.distance(places[:, None], np.array(lines)[None]).argmin(axis=1), places))
    rings = []
    for number in range(len(faces[0][0])):
        chosen = np.flatnonzero(faces[0][1] == number)
        (other,) = set(faces[1][1][chosen].tolist())
        rings.append(_even(faces[0][0][number], faces[1][0][other], faces[0][2][chosen], faces[1][2][chosen]))
    return rings


def _even(fore: LinearRing, aft: LinearRing, fore_marks: Points, aft_marks: Points) -> HandRing:
    ways = []
    for line, marks in ((fore, fore_marks), (aft, aft_marks)):
        turned = shapely.orient_polygons(shapely.Polygon(line)).exterior
        along = shapely.line_locate_point(turned, marks)
        steps = np.diff(np.append(along, along[0]))
        steps[steps < -1e-6] += turned.length
        if abs(steps.sum() - turned.length) > 1e-3:
            msg = f"marks do not go once round: {steps.sum()} of {turned.length}"
            raise SystemExit(msg)
        ways.append((turned, along, np.maximum(steps, 0.0)))
    ends: tuple[list[Floats], list[Floats]] = ([], [])
    for n in range(len(fore_marks)):
        shares = {*np.linspace(0.0, 1.0, 17)[:-1].tolist()}
        for line, along, steps in ways:
            corners = shapely.line_locate_point(line, shapely.points(shapely.get_coordinates(line)))
            beyond = np.mod(corners - along[n], line.length)
            shares |= set((beyond[beyond < steps[n]] / steps[n]).tolist()) if steps[n] > 0 else set()
        for face, (line, along, steps) in enumerate(ways):
            at = np.mod(along[n] + np.array(sorted(shares)) * steps[n], line.length)
            ends[face].append(shapely.get_coordinates(shapely.line_interpolate_point(line, at)))
    speeds = list(zip(ways[0][2].tolist(), ways[1][2].tolist(), strict=True))
    return HandRing(np.concatenate(ends[0]), np.concatenate(ends[1]), speeds)


def depth_in(rings: Sequence[HandRing], points: Floats, shares: Floats) -> Floats:
    """Depth in mm by which points (n, 2) in the sections at shares (n,) lie inside what the wires leave."""
    result = np.empty(len(points))
    for first in range(0, len(points), 400):
        p, s = points[first : first + 400, None], shares[first : first + 400, None, None]
        least, inside = np.full(len(p), np.inf), np.zeros(len(p), bool)
        for ring in rings:
            a = (1 - s) * ring.fore + s * ring.aft
            b = np.roll(a, -1, axis=1)
            way, to = b - a, p - a
            t = np.clip((to * way).sum(axis=2) / np.maximum((way**2).sum(axis=2), 1e-18), 0, 1)
            least = np.minimum(least, np.sqrt(((to - t[..., None] * way) ** 2).sum(axis=2)).min(axis=1))
            over = (a[..., 1] > p[..., 1]) != (b[..., 1] > p[..., 1])
            with np.errstate(divide="ignore", invalid="ignore"):
                cross = a[..., 0] + (p[..., 1] - a[..., 1]) / way[..., 1] * way[..., 0]
            inside ^= (over & (cross > p[..., 0])).sum(axis=1) % 2 == 1
        result[first : first + 400] = np.where(inside, least, -least)
    return result


def depth_in_block(block: Block, points: Floats) -> Floats:
    """Depth in mm by which points (n, 3) lie inside the foam that is left before anything is sanded or carved: what
    the wire leaves along the marks, or inside both profiles of a carved block; there a point inside counts as 0.
    """
    if isinstance(block, CutBlock):
        shares = (points[:, 0] - block.span.x_fore) / block.span.thickness
        return depth_in(hand_rings(block), points[:, 1:], shares)
    assert isinstance(block, CarvedBlock)
    depths = [
        -shapely.distance(shapely.points(points[:, [0, axis]]), profile.outline.cut)
        for profile, axis in ((block.tip.side, 2), (block.tip.plan, 1))
    ]
    return np.asarray(np.minimum(*depths))


def worst_missing(blocks: Sequence[Block], points: Floats, beside: float = 0.3) -> float:
    """Depth in mm by which the worst of the points (n, 3) lies outside its block, but for those near to a face."""
    worst = 0.0
    for block in blocks:
        low, high = block.span.x_fore + beside, block.span.x_aft - beside
        here = points[(points[:, 0] > low) & (points[:, 0] < high)]
        if len(here):
            worst = max(worst, -float(depth_in_block(block, here).min()))
    return worst
