"""Where a block is carved that a wire cuts: a heavy line inside the outline of each template, and words for it."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LinearRing
from shapely.ops import substring

from profiles.blocks.blocks import CutBlock
from profiles.blocks.boundary import rings_of
from profiles.paper.drawing import Points, Role, Stroke, freeze
from profiles.paper.facesheet import FaceSheet, face_points
from profiles.units import length_text, number_runs

INSIDE = 1.2
"""mm between the outline and the line beside it: the line stays on the card when this is cut out."""

REACH = 0.6
"""mm beyond INSIDE in which the line is looked for: where the outline turns it lies a little farther away."""

SHORTEST = 0.5
"""mm; shorter pieces of the line are left out."""


def carving_strokes(sheet: FaceSheet) -> list[Stroke]:
    """A line beside the outline at the marks where the block is carved."""
    carved = _carved_marks(sheet)
    if not carved:
        return []
    points = face_points(np.array([(mark.y, mark.z) for mark in sheet.face.marks]), sheet.face.which)
    rings = rings_of(sheet.cut)
    if not rings:
        return []
    apart = shapely.distance(shapely.points(points)[:, None], np.array(rings)[None])
    owner = apart.argmin(axis=1)
    stretches = []
    for number, ring in enumerate(rings):
        here = np.flatnonzero(owner == number)
        flags = [sheet.face.marks[n].number in carved for n in here.tolist()]
        stretches += _stretches(ring, points[here], flags)
    inner = shapely.boundary(sheet.cut.buffer(-INSIDE))
    near = shapely.union_all([stretch.buffer(INSIDE + REACH, cap_style="flat") for stretch in stretches])
    lines = shapely.get_parts(shapely.line_merge(shapely.union_all(inner.intersection(near))))
    return [
        Stroke(Role.CARVE, freeze(shapely.get_coordinates(part)))
        for part in lines
        if part.geom_type == "LineString" and part.length > SHORTEST
    ]


def carving_words(sheet: FaceSheet) -> list[str]:
    """What the heavy line means, if there is one."""
    block, carved = sheet.block, _carved_marks(sheet)
    if not carved or not isinstance(block, CutBlock):
        return []
    marks = f"mark{'' if len(carved) == 1 else 's'} {number_runs(sorted(carved), 1)}"
    return [f"heavy line: carve at {marks}, up to {length_text(block.grown.deviation.carved_depth, 0)} deep"]


def _carved_marks(sheet: FaceSheet) -> frozenset[int]:
    block = sheet.block
    return frozenset(block.grown.deviation.carved) if isinstance(block, CutBlock) else frozenset()


def _stretches(ring: LinearRing, points: Points, flags: Sequence[bool]) -> list[shapely.Geometry]:
    """The parts of a ring that are nearer along it to a flagged one of the points (k, 2) than to another."""
    if all(flags):
        return [ring] if flags else []
    along = shapely.line_locate_point(ring, shapely.points(points))
    order = np.argsort(along, kind="stable")
    places, length = along[order], ring.length
    ends = np.append(places, places[0] + length)
    middles = (ends[:-1] + ends[1:]) / 2
    stretches = []
    for n, mark in enumerate(order.tolist()):
        if flags[mark]:
            start, end = middles[n - 1] - (length if n == 0 else 0.0), middles[n]
            turns = [(start + turn * length, end + turn * length) for turn in (-1, 0, 1)]
            inside = [(max(low, 0.0), min(high, length)) for low, high in turns]
            stretches += [substring(ring, low, high) for low, high in inside if high > low]
    return stretches
