"""Drawn sections -> the frames of a hull: halves from keel to sheer, their corners matched from station to station.

whole section    alike on both sides of the centre line: its right half is used, and a difference of the left reported
half section     on either side of the centre line; mirrored to starboard
edge             a line on the centre line: the end of the hull, such as a stem
deck             a straight top, drawn or not, is what closes a section anyway, and is left out
"""

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import shapely
from shapely import LinearRing, Polygon

from profiles.arrays import Bools, Floats
from profiles.errors import HullError
from profiles.hull.formats.section_drawing import DrawnPath, SectionDrawing
from profiles.hull.frames import Frame, measure_along
from profiles.hull.table_lines import Lines
from profiles.notes import Note, assumption, fact, warning
from profiles.values import dataclass

ALIKE = 0.02
"""Of the breadth: halves that differ by less are those of one whole section, drawn by hand."""

ON_CENTRE = 0.3
"""mm; nearer to the centre line an outline lies on it: the breadth of a pencil line."""

CUT = 1e-6
"""mm; what was cut along the centre line lies nearer to it."""

LOPSIDED = 0.3
"""mm; a greater difference between the halves of a section is reported."""

MOST_CORNERS = 12
"""Of a section; more are the joints of a curve that was drawn as straight pieces."""


def drawn_lines(drawing: SectionDrawing) -> Lines:
    """The frames of a drawing. Raises HullError for outlines that cross themselves or miss the centre line."""
    notes: list[Note] = []
    centre = _find_centre(drawing, notes)
    halves = [_half(path, centre, notes) for path in drawing.paths]
    if drawing.left_out:
        notes.append(fact(f"{drawing.left_out} shapes of the drawing have no place along the hull and were left out"))
    if drawing.pictures:
        notes.append(fact(f"{drawing.pictures} pictures of the drawing were left out and not opened"))
    shares = _match_corners(halves, notes)
    frames = []
    for half, known in zip(halves, shares, strict=True):
        along = measure_along(half.points)
        corners = along[half.corners]
        frames.append(Frame(half.x, half.points, corners, known * along[-1]))
    stations = tuple(half.x for half in halves)
    count = 0 if not shares else len(shares[0])
    return Lines(None, tuple(frames), (None,) * (count + 2), stations=stations, notes=tuple(notes))


@dataclass(frozen=True, slots=True)
class _Half:
    """Half a section from keel to sheer."""

    name: str
    x: float
    points: Floats
    """(n, 2) mm, half-breadth and height."""
    corners: Bools
    """(n,) whether there is a corner at a point; not at the ends."""


def _is_whole(path: DrawnPath) -> bool:
    """Whether an outline is alike on both sides of its middle."""
    low, high = path.points[:, 0].min(), path.points[:, 0].max()
    if high - low <= ON_CENTRE:
        return False
    line = shapely.LineString(path.points)
    mirrored = shapely.transform(line, lambda points: points * [-1, 1] + [low + high, 0.0])
    return bool(shapely.hausdorff_distance(line, mirrored) <= ALIKE * (high - low))


def _find_centre(drawing: SectionDrawing, notes: list[Note]) -> float:
    """Where it is, mm to the right: as drawn, or the middle of the whole sections, or where half sections begin."""
    if drawing.centre is not None:
        return drawing.centre
    whole = [path for path in drawing.paths if _is_whole(path)]
    middles = [(path.points[:, 0].min() + path.points[:, 0].max()) / 2 for path in whole]
    words = f"the middle of the {len(whole)} whole sections"
    if not middles:
        ends = [path.points[[0, -1]] for path in drawing.paths]
        middles = [pair[int(pair[1, 1] < pair[0, 1]), 0] for pair in ends]
        words = "where the half sections begin below"
    centre = float(np.median(middles))
    if np.ptp(middles) > 2 * ON_CENTRE:
        message = f"the drawing has no centre line, and its sections disagree about it by {np.ptp(middles):.1f} mm."
        raise HullError(message, remedy='Draw an upright line with id="centre".')
    notes.append(assumption(f'the centre line is {words}. Override with an upright line that has id="centre"'))
    return centre


def _half(path: DrawnPath, centre: float, notes: list[Note]) -> _Half:
    """Half of one outline. Raises HullError."""
    points = path.points - (centre, 0.0)
    left, right = -float(points[:, 0].min()), float(points[:, 0].max())
    if max(left, right) <= ON_CENTRE:
        ends = points[[points[:, 1].argmin(), points[:, 1].argmax()]] * (0.0, 1.0)
        return _Half(path.name, path.x, ends, np.zeros(2, dtype=bool))
    if min(left, right) > max(ON_CENTRE, ALIKE * max(left, right)):
        return _cut_whole(path, points, notes)
    points = points * (1.0 if right > left else -1.0, 1.0)
    corners = np.zeros(len(points), dtype=bool)
    corners[path.corners] = True
    if path.closed:
        points, corners = _open_at_centre(path, points[:-1], corners[:-1], ON_CENTRE)
    points = np.maximum(points, (0.0, -np.inf))
    if points[0, 1] > points[-1, 1]:
        points, corners = points[::-1], corners[::-1]
    for end in (0, -1):
        if points[end, 0] <= ON_CENTRE:
            points[end, 0] = 0.0
    return _without_deck(_Half(path.name, path.x, points, corners))


def _cut_whole(path: DrawnPath, points: Floats, notes: list[Note]) -> _Half:
    """The right half of a whole section. Raises HullError where the outline crosses itself."""
    whole = Polygon(points)
    if not whole.is_valid:
        message = f"the outline {path.name} crosses itself."
        raise HullError(message, remedy="Draw a section as one line round the hull.")
    y_low, z_low, y_high, z_high = whole.bounds
    right = whole.intersection(shapely.box(0.0, z_low - 1, y_high + 1, z_high + 1))
    left = shapely.transform(whole.intersection(shapely.box(y_low - 1, z_low - 1, 0.0, z_high + 1)), _mirror)
    apart = float(shapely.hausdorff_distance(right.boundary, left.boundary))
    if apart > LOPSIDED:
        text = f"the halves of the section {path.name} differ by up to {apart:.1f} mm; its right half is used"
        notes.append(warning(text, x=path.x))
    if not isinstance(right, Polygon):
        message = f"the outline {path.name} crosses the centre line more than twice."
        raise HullError(message, remedy="Draw half a section where the hull has several pieces.")
    ring = shapely.get_coordinates(shapely.normalize(right).exterior)[:-1]
    marked = points[path.corners]
    near = np.abs(ring[:, None] - marked[None]).max(axis=2, initial=0.0) if len(marked) else np.ones((len(ring), 1))
    chain, corners = _open_at_centre(path, ring, near.min(axis=1) < CUT, CUT)
    if chain[0, 1] > chain[-1, 1]:
        chain, corners = chain[::-1], corners[::-1]
    return _without_deck(_Half(path.name, path.x, chain, corners))


def _mirror(points: Floats) -> Floats:
    return points * [-1, 1]


def _open_at_centre(path: DrawnPath, ring: Floats, corners: Bools, near: float) -> tuple[Floats, Bools]:
    """A closed half without its edge along the centre line, to `near` mm, from one end to the other.

    Raises HullError where it has none.
    """
    on_it = ring[:, 0] <= near
    off = np.flatnonzero(~on_it)
    if on_it.sum() < 2 or not len(off):  # noqa: PLR2004 - both ends of an edge
        message = f"the outline {path.name} is closed and does not run along the centre line."
        raise HullError(message, remedy="Draw half a section open, from keel to sheer, or along the centre line.")
    start = int(off[np.flatnonzero(np.diff(np.append(off[-1] - len(ring), off)) > 1)[0]])
    order = (start - 1 + np.arange(len(ring) + 1)) % len(ring)
    order = order[: int(np.flatnonzero(~on_it[order[:-1]])[-1]) + 2]
    chain, marked = ring[order].copy(), corners[order].copy()
    chain[[0, -1], 0] = 0.0
    marked[[0, -1]] = False
    return chain, marked


def _without_deck(half: _Half) -> _Half:
    """The half without a flat top that was drawn to the centre line, and without points that are given twice."""
    points, corners = half.points, half.corners.copy()
    kept = np.append(True, np.abs(np.diff(points, axis=0)).max(axis=1) > 1e-9)  # noqa: PLR2004 - the first; mm
    points, corners = points[kept], corners[kept]
    level = np.flatnonzero(np.abs(points[:, 1] - points[-1, 1]) > ON_CENTRE)
    top = int(level[-1]) + 1 if len(level) else 0
    flat = points[-1, 0] == 0.0 and 0 < top < len(points) - 1
    if flat and corners[top] and (np.diff(points[top:, 0]) < 0).all():
        points, corners = points[: top + 1], corners[: top + 1]
    if not LinearRing(np.concatenate([points, [[-1.0, points[-1, 1]], [-1.0, points[0, 1]]]])).is_simple:
        message = f"the outline {half.name} crosses itself."
        raise HullError(message, remedy="Draw a section as one line from keel to sheer.")
    corners[[0, -1]] = False
    return _Half(half.name, half.x, points, corners)


def _match_corners(halves: Sequence[_Half], notes: list[Note]) -> list[Floats]:
    """For each half the shares (k,) of its length at which each of the k knuckles of the hull lies; NaN where it has
    none. Where some halves have fewer corners than others, each corner goes to the knuckle that it is nearest to.
    """
    shares = []
    for half in halves:
        along = measure_along(half.points)
        shares.append(along[half.corners] / along[-1])
    most = max(map(len, shares))
    if most > MOST_CORNERS:
        name = next(half.name for half, share in zip(halves, shares, strict=True) if len(share) == most)
        message = f"the outline {name} has {most} corners."
        raise HullError(message, remedy="Draw its curves as curves; straight pieces make a corner at every joint.")
    x = np.array([half.x for half in halves])
    full = np.array([len(share) == most for share in shares])
    table = np.array([share for share in shares if len(share) == most])
    result, fewer = [], []
    for half, share in zip(halves, shares, strict=True):
        if len(share) == most:
            result.append(share)
            continue
        usual = np.array([np.interp(half.x, x[full], column) for column in table.T])
        best = min(
            combinations(range(most), len(share)), key=lambda chosen: float(np.abs(usual[list(chosen)] - share).sum())
        )
        known = np.full(most, np.nan)
        known[list(best)] = share
        result.append(known)
        if half.points[:, 0].max() > 0:
            fewer.append(half.name)
    if fewer:
        text = f"corners of {', '.join(fewer)} belong to the nearest of {most} knuckles; the others are smooth there"
        notes.append(assumption(text))
    return result
