"""The shapes of a few blocks, from which the pictures of how to cut one are drawn; plain values, in mm.

A `Face` lies in the frame in which it is seen from outside the block: u to the right, v up, from the datum cross.
"""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from profiles.arrays import Floats
from profiles.blocks.blocks import Block, CarvedBlock, CutBlock, Which
from profiles.blocks.blocks import Face as BlockFace
from profiles.hull.shape import View
from profiles.values import dataclass

Ring = Floats
"""(n, 2) closed, the first point not repeated."""

Corners = tuple[float, float, float, float]
"""Left, low, right, high."""


@dataclass(frozen=True, slots=True)
class FaceShape:
    """One face of a block as it is seen from outside."""

    name: str
    """"fore" or "aft"."""
    box: Corners
    rings: tuple[Ring, ...]
    """The lines to cut."""
    marks: tuple[tuple[int, float, float], ...]
    """(number, u, v)."""
    pins: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class WiredShape:
    """A block that a wire cuts along two templates."""

    number: int
    thickness: float
    fore: FaceShape
    aft: FaceShape
    carved: tuple[int, ...]
    """The marks at which it is carved afterwards."""


@dataclass(frozen=True, slots=True)
class TipShape:
    """A block that is carved: its profiles from the side and from above, the nose to the left."""

    number: int
    side: tuple[Ring, ...]
    plan: tuple[Ring, ...]
    side_box: Corners
    plan_box: Corners
    gauges: tuple[float, ...]
    """Places along the block from its fore face."""


@dataclass(frozen=True, slots=True)
class Examples:
    """One block of each kind, if the body has one."""

    wired: WiredShape | None = None
    """The one with the largest face."""
    feature: WiredShape | None = None
    """One that is carved where it is marked."""
    tip: TipShape | None = None


def examples_of(blocks: Sequence[Block]) -> Examples:
    """A block of each kind to show the work by."""
    wired = [
        block for block in blocks if isinstance(block, CutBlock) and all(face.has_template for face in block.faces)
    ]
    largest = max(wired, key=lambda block: (_area(block), -block.span.number), default=None)
    features = [block for block in wired if block.grown.deviation.carved]
    feature = max(features, key=lambda block: (len(block.grown.deviation.carved), -block.span.number), default=None)
    tips = [
        block
        for block in blocks
        if isinstance(block, CarvedBlock) and not any(profile.outline.cut.is_empty for profile in block.tip.profiles)
    ]
    return Examples(
        _wired_shape(largest) if largest else None,
        _wired_shape(feature) if feature else None,
        _tip_shape(tips[0]) if tips else None,
    )


def _area(block: CutBlock) -> float:
    return round(float(max(face.outline.cut.area for face in block.faces)), 6)


def _wired_shape(block: CutBlock) -> WiredShape:
    fore, aft = (_face_shape(block, face) for face in block.faces)
    carved = tuple(sorted(block.grown.deviation.carved))
    return WiredShape(block.span.number, block.span.thickness, fore, aft, carved)


def _face_shape(block: CutBlock, face: BlockFace) -> FaceShape:
    sign = -1.0 if face.which is Which.FORE else 1.0
    box = block.box
    left, right = sorted((sign * box.y_low, sign * box.y_high))
    rings = tuple(ring * (sign, 1.0) for ring in _rings(face.outline.cut))
    marks = tuple((mark.number, sign * mark.y, mark.z) for mark in face.marks)
    pins = tuple((sign * pin.y, pin.z) for pin in block.pins)
    return FaceShape(str(face.which), (left, box.z_low, right, box.z_high), rings, marks, pins)


def _tip_shape(block: CarvedBlock) -> TipShape:
    span, box = block.span, block.box
    rings = {profile.view: tuple(_rings(profile.outline.cut)) for profile in block.tip.profiles}
    shift = np.array([span.x_fore, 0.0])
    return TipShape(
        span.number,
        tuple(ring - shift for ring in rings[View.SIDE]),
        tuple((ring - shift) * (1.0, -1.0) for ring in rings[View.PLAN]),
        (0.0, box.z_low, span.thickness, box.z_high),
        (0.0, -box.y_high, span.thickness, -box.y_low),
        tuple(gauge.x - span.x_fore for gauge in block.tip.gauges),
    )


def _rings(shape: shapely.MultiPolygon) -> Iterator[Ring]:
    for part in shape.geoms:
        for ring in (part.exterior, *part.interiors):
            yield shapely.get_coordinates(ring.simplify(SIMPLER))[:-1]


SIMPLER = 0.05
"""mm; pictures are drawn a few times smaller than the blocks."""
