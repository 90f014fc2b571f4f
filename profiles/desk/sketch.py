"""The coarse picture of a body: straight blocks between its stations, quick enough to follow a slider.

    hull --sketch_of, once--> Sketch --coarse_mesh, at each move--> at most MOST_TRIANGLES triangles

A sketch holds sections of the hull at fixed places, each as rings of POINTS points that begin and turn alike. A
block takes the rings at its two stations from there, between two places in proportion. Where its two ends have other
numbers of pieces, the block is drawn as a prism of its middle section. Hollows are not drawn. It is a picture to look
at; blocks, figures and templates come from the stages.
"""

from collections.abc import Sequence

import numpy as np
from shapely import MultiPolygon, Polygon

from profiles.arrays import Floats, Ints
from profiles.blocks.stations import Span
from profiles.errors import HullError
from profiles.hull.frame import Hull
from profiles.hull.sections import Side
from profiles.hull.shape import Shape
from profiles.hull.surface import Mesh, join_meshes
from profiles.values import dataclass

MOST_TRIANGLES = 5000
"""What a software renderer redraws in well under a tenth of a second."""

PLACES = 96
"""Sections of a sketch: some 10 mm apart on a model of a metre."""

POINTS = 48
"""Points of a ring; divisible by four, as a ring has four quarters."""

LEAST_PIECE = 0.01
"""Share of the section's area; a smaller piece is not seen."""

MOST_PIECES = 6
"""Pieces of a section that are drawn."""

INSET = 0.002
"""Share of the length; the sections nearest to the ends, where a pointed hull has no area."""

Rings = tuple[Floats, ...]
"""One (POINTS, 2) array of y, z in mm for each piece of a section, the largest first."""


@dataclass(frozen=True, slots=True)
class Sketch:
    """Sections along a hull."""

    x: Floats
    """(n,) mm, ascending; a step is there twice."""
    rings: tuple[Rings, ...]
    """Of each place; none is empty."""


def sketch_of(hull: Hull) -> Sketch:
    """The sketch of a hull; places whose section is empty or cannot be closed are left out."""
    x, rings = [], []
    for place, side in _places(hull.length, hull.steps):
        section = _rings_at(hull.shape, place, side)
        if section:
            x.append(place)
            rings.append(section)
    return Sketch(np.array(x), tuple(rings))


def _places(length: float, steps: Sequence[float]) -> list[tuple[float, Side]]:
    """Closer together towards the ends, where outlines turn fastest; on either side of a step."""
    share = (1 - np.cos(np.linspace(0, np.pi, PLACES))) / 2
    inside = [(float(x), Side.FORE) for x in length * (INSET + (1 - 2 * INSET) * share)]
    ends = [(0.0, Side.AFT), (length, Side.FORE)]
    both = [(float(step), side) for step in steps for side in (Side.FORE, Side.AFT) if 0 < step < length]
    return sorted([*inside, *ends, *both], key=lambda at: (at[0], at[1] is Side.AFT))


def _rings_at(shape: Shape, x: float, side: Side) -> Rings:
    try:
        region = shape.section(x, side).region
    except HullError:
        return ()
    return rings_of(region)


def rings_of(region: MultiPolygon) -> Rings:
    """The outsides of a section's pieces as rings of POINTS points."""
    pieces = sorted(region.geoms, key=lambda piece: -piece.area)[:MOST_PIECES]
    least = LEAST_PIECE * region.area
    kept = [piece for piece in pieces if piece.area > least]
    return tuple(_ring(piece) for piece in sorted(kept, key=_place_of))


def _place_of(piece: Polygon) -> tuple[float, float]:
    """Pieces are drawn from port to starboard, and from below, so that those of two sections go together."""
    middle = piece.centroid
    return round(middle.y / 5), middle.x


def _ring(piece: Polygon) -> Floats:
    """Even points of the four quarters between the uppermost, starboard, lowest and port point."""
    line = np.asarray(piece.exterior.coords)[:-1]
    if _twice_area(line) < 0:
        line = line[::-1]
    middle = (line[:, 0].min() + line[:, 0].max()) / 2
    top = int(np.argmax(line[:, 1] - 1e-3 * np.abs(line[:, 0] - middle)))
    line = np.roll(line, -top, axis=0)
    low = int(np.argmin(line[:, 1] + 1e-3 * np.abs(line[:, 0] - middle)))
    low = min(max(low, 1), len(line) - 1)
    halves = [line[: low + 1], np.vstack([line[low:], line[:1]])]
    return np.vstack([_even(half, POINTS // 2) for half in halves])


def _even(line: Floats, count: int) -> Floats:
    """`count` points at even distances along an open line, its last point left out."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    places = np.linspace(0.0, along[-1], count + 1)[:-1]
    return np.column_stack([np.interp(places, along, line[:, axis]) for axis in (0, 1)])


def _twice_area(line: Floats) -> float:
    after = np.roll(line, -1, axis=0)
    return float((line[:, 0] * after[:, 1] - after[:, 0] * line[:, 1]).sum())


def rings_between(sketch: Sketch, x: float, side: Side) -> Rings:
    """The rings at a place: between two sections alike in proportion, else those of the nearer one."""
    last = len(sketch.x) - 1
    find = np.searchsorted(sketch.x, x, side="left" if side is Side.FORE else "right")
    after = min(int(find), last)
    before = max(after - 1, 0)
    if not sketch.x[before] <= x <= sketch.x[after] or before == after:
        return sketch.rings[after if x >= sketch.x[after] else before]
    span = float(sketch.x[after] - sketch.x[before])
    share = (x - float(sketch.x[before])) / span if span else 0.0
    one, other = sketch.rings[before], sketch.rings[after]
    if len(one) != len(other):
        return one if share < 1 / 2 else other
    return tuple((1 - share) * first + share * second for first, second in zip(one, other, strict=True))


def coarse_mesh(sketch: Sketch, spans: Sequence[Span]) -> tuple[Mesh, Ints]:
    """Straight blocks between stations as one mesh, vertices (n, 3) mm, and the block number of each triangle (m,)."""
    ends = [_ends(sketch, span) for span in spans]
    pieces = sum(len(fore) for fore, _ in ends)
    step = _thinning(pieces)
    meshes, numbers = [], []
    for span, (fore, aft) in zip(spans, ends, strict=True):
        for one, other in zip(fore, aft, strict=True):
            mesh = _prism(one[::step], other[::step], span)
            meshes.append(mesh)
            numbers.append(np.full(len(mesh[1]), span.number))
    return join_meshes(meshes), np.concatenate(numbers)


def _thinning(pieces: int) -> int:
    """Which of a ring's points are drawn, every first, second, ...: so many that all triangles are within the limit."""
    for step in (1, 2, 3, 4, 6, 8):
        if pieces * (4 * POINTS // step - 4) <= MOST_TRIANGLES:
            return step
    return 12


def _ends(sketch: Sketch, span: Span) -> tuple[Rings, Rings]:
    fore = rings_between(sketch, span.x_fore, Side.AFT)
    aft = rings_between(sketch, span.x_aft, Side.FORE)
    if len(fore) == len(aft):
        return fore, aft
    middle = rings_between(sketch, (span.x_fore + span.x_aft) / 2, Side.FORE)
    return middle, middle


def _prism(fore: Floats, aft: Floats, span: Span) -> Mesh:
    """A closed surface between two rings with as many points; its ends are fans."""
    count = len(fore)
    one, after = np.arange(count), np.roll(np.arange(count), -1)
    vertices = np.vstack(
        [np.column_stack([np.full(count, x), ring]) for x, ring in ((span.x_fore, fore), (span.x_aft, aft))]
    )
    sides = [np.column_stack([one, after, one + count]), np.column_stack([after, after + count, one + count])]
    fan = np.column_stack([np.zeros(count - 2, dtype=int), np.arange(1, count - 1), np.arange(2, count)])
    return vertices, np.vstack([*sides, fan[:, ::-1], fan + count])


def ghost_mesh(sketch: Sketch) -> Mesh:
    """The hull as a skin over the sections of a sketch, some 10,000 triangles, to be drawn pale over the blocks."""
    spans = [
        Span(number, float(fore), float(aft), full=False)
        for number, (fore, aft) in enumerate(zip(sketch.x[:-1], sketch.x[1:], strict=True), start=1)
        if aft > fore
    ]
    meshes = []
    for span in spans:
        for one, other in zip(*_ends(sketch, span), strict=True):
            vertices, faces = _prism(one, other, span)
            meshes.append((vertices, faces[: 2 * POINTS]))
    return join_meshes(meshes)
