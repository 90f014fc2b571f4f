"""Narrow holes and slits of a hull as things to do by hand later: place, size, direction.

Sections are cut where the mesh has sharp or tight inner corners, since no narrow place is without them; what has to be
filled there is followed along the hull and gathered into holes and slits.
"""

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely import MultiPolygon, Point, Polygon

from profiles.arrays import Floats, Ints
from profiles.errors import HullError
from profiles.hull.narrow import OVERLAP, close_narrow
from profiles.hull.sections import Side, section
from profiles.hull.surface import AT_ONCE, Surface, doubled_normals
from profiles.notes import Note, assumption, repair
from profiles.values import dataclass

INNER = 0.17
"""Sine of 10 degrees: an edge that rises so steeply over the tangent plane of its end is an inner corner."""

MOST_PLACES = 240
"""Sections cut to look for narrow places at most, picked evenly from those where there may be some."""

SPREAD = 30
"""Of them evenly along the hull, where there is any such corner."""

STEP = 1.0
"""mm between such sections along the hull."""

BESIDE = 0.02
"""mm; beside a corner of the mesh a section shows the hole that begins there."""

LARGE = 200_000
"""Faces; a mesh with more has inner corners enough that not every edge needs to be looked at."""

SHORT = 0.1
"""mm; what reaches less far along the hull than this is rounding at a corner."""

NOISE = 0.02
"""The same for corners that are only rounding or a scanner's noise."""

ASKEW = 0.27
"""Tangent of 15 degrees: a hole nearer to an axis than this goes straight."""

ROUND = 2.0
"""Middle size over the least: up to this a narrow place is a hole, beyond it a slit."""

TAPERS = 0.65
"""Of mouth times depth, the area of a narrow place: a channel fills all of it, a crease that runs out half."""

SEAM = 0.3
"""mm; what is narrower is a seam between parts of the model, closed and counted. A saw cuts wider."""

MOST_LISTED = 8
"""Holes and slits that the notes name one by one."""


@dataclass(frozen=True, slots=True)
class Later:
    """A hole or slit that no wire enters, mm in the hull frame."""

    low: tuple[float, float, float]
    high: tuple[float, float, float]
    mouth: tuple[float, float, float]
    """Where it comes to the surface; the middle of it where it does not."""
    width: float
    """How wide it is."""
    direction: str
    """Which way it goes in from its mouth: "straight down", "along the hull", ..."""
    tapers: bool = False
    """It runs out to nothing, as where a fin meets the hull at an acute angle."""

    @property
    def size(self) -> tuple[float, float, float]:
        """Along x, y and z."""
        x, y, z = (high - low for low, high in zip(self.low, self.high, strict=True))
        return x, y, z

    @property
    def kind(self) -> str:
        """What it is: a hole to drill, a slit to saw, a crease to cut with a knife."""
        least, middle, _ = sorted(self.size)
        if self.tapers:
            return "crease"
        return "hole" if middle <= ROUND * max(least, self.width) else "slit"

    @property
    def depth(self) -> float:
        """Mm of a hole."""
        x, y, z = self.size
        upright, across = self.direction in {"straight down", "straight up"}, "straight in" in self.direction
        return z if upright else y if across else max(x, y, z)

    @property
    def words(self) -> str:
        """What to do, where."""
        place = "x = {:.1f}, y = {:.1f}, z = {:.1f} mm".format(*self.mouth)
        _, middle, longest = sorted(self.size)
        if self.kind == "hole":
            return f"drill {self.width:.1f} mm at {place}, {self.direction}, {self.depth:.0f} mm deep"
        if self.kind == "crease":
            return f"cut the crease at {place}, {middle:.0f} x {longest:.0f} mm, {self.direction}, with a knife"
        return f"saw a slit {self.width:.1f} mm wide, {middle:.0f} x {longest:.0f} mm, at {place}, {self.direction}"


def find_later(surface: Surface, narrowest: float) -> tuple[Later, ...]:
    """The narrow places of a surface in the hull frame, from the nose aft; `narrowest` > 0 mm."""
    tracks: list[list[_Found]] = []
    previous: list[list[_Found]] = []
    places = _places(surface, narrowest)
    halfway = np.concatenate([places[:1], (places[1:] + places[:-1]) / 2, places[-1:]])
    for x, fore, aft in zip(places.tolist(), halfway[:-1].tolist(), halfway[1:].tolist(), strict=True):
        try:
            region = section(surface, x, Side.AFT).region
        except HullError:
            previous = []
            continue
        closed, fillings = close_narrow(region, narrowest)
        current = []
        for filling in fillings:
            near = (track for track in previous if track[-1].filling.distance(filling) < STEP)
            track = next(near, None) or []
            if not track:
                tracks.append(track)
            track.append(_Found((fore, x, aft), filling, closed))
            current.append(track)
        previous = current
    found = (_gather(track) for track in tracks)
    return tuple(sorted((later for later in found if later.size[0] > SHORT), key=lambda later: later.low))


@dataclass(frozen=True, slots=True)
class _Found:
    """A narrow place in one section."""

    x: tuple[float, float, float]
    """mm; halfway to the section before, its place, halfway to the next."""
    filling: Polygon
    closed: MultiPolygon
    """The section with all fillings."""


def _gather(track: Sequence[_Found]) -> Later:
    bounds = np.array([found.filling.bounds for found in track])
    (y_low, z_low), (y_high, z_high) = bounds[:, :2].min(axis=0).tolist(), bounds[:, 2:].max(axis=0).tolist()
    low, high = (track[0].x[0], y_low, z_low), (track[-1].x[2], y_high, z_high)
    size = [end - start for start, end in zip(low, high, strict=True)]
    main = max(track, key=lambda found: (round(found.filling.area, 6), -abs(found.x[1] - (low[0] + high[0]) / 2)))
    mouth, breadth = _mouth(main)
    middle = main.filling.representative_point()
    if max(size) == size[0] and sorted(size)[1] <= ROUND * _width(main.filling):
        direction = "along the hull"
    elif mouth is None:
        direction = "closed inside the hull"
    else:
        direction = _direction(mouth, main.filling)
    y, z = (middle.x, middle.y) if mouth is None else (mouth.x, mouth.y)
    depth = float(shapely.distance(shapely.points(main.filling.exterior.coords), main.closed.boundary).max())
    tapers = main.filling.area < TAPERS * breadth * depth
    return Later(low, high, (main.x[1], y, z), min(_width(main.filling), size[0]), direction, tapers)


def _mouth(found: _Found) -> tuple[Point | None, float]:
    """(y, z) mm of the middle of where a narrow place meets the edge of the section, None where it does not; and how
    wide it is there, mm.
    """
    edge = found.closed.boundary.buffer(2 * OVERLAP)
    lines = shapely.get_parts(shapely.line_merge(found.filling.exterior.intersection(edge)))
    lines = [line for line in lines if line.length > 0]
    if not lines:
        return None, 0.0
    longest = max(lines, key=lambda line: (round(line.length, 3), line.centroid.x))
    return longest.interpolate(0.5, normalized=True), float(longest.length)


def _direction(mouth: Point, filling: Polygon) -> str:
    """Which way a narrow place goes in from its mouth."""
    y, z = filling.centroid.x - mouth.x, filling.centroid.y - mouth.y
    upright, across = ("down" if z < 0 else "up"), ("in from starboard" if y < 0 else "in from port")
    way = upright if abs(z) >= abs(y) else across
    askew = min(abs(y), abs(z)) > ASKEW * max(abs(y), abs(z))
    return f"{'slanting' if askew else 'straight'} {way}"


def _width(filling: Polygon) -> float:
    """mm; the shorter side of the rectangle with the same area and edge, the diameter of a circle."""
    half, area = filling.length / 2, filling.area
    return float((half - math.sqrt(half**2 - 4 * area)) / 2 if half**2 > 4 * area else 2 * area / half)


def _places(surface: Surface, narrowest: float) -> Floats:
    """(n,) mm ascending: where sections are cut."""
    x: Floats = np.unique(_inner_corners(surface, narrowest))
    if not len(x):
        return x
    low, high = surface.bounds
    lots = np.split(x, np.flatnonzero(np.diff(x) > STEP) + 1)
    beside = np.array([-BESIDE, BESIDE])
    inside = [np.linspace(lot[0], lot[-1], 3 + 2 * int((lot[-1] - lot[0]) / (2 * STEP))) for lot in lots]
    ends = [end + beside for lot in lots for end in (lot[0], lot[-1])]
    # What begins at a corner may run on for long without another.
    spread = np.linspace(low[0] + BESIDE, high[0] - BESIDE, SPREAD)
    result: Floats = np.unique(np.concatenate([spread, *inside, *ends]))
    result = result[(result > low[0]) & (result < high[0])]
    chosen: Ints = np.linspace(0, len(result) - 1, min(len(result), MOST_PLACES)).round().astype(np.int64)
    return np.asarray(result[np.unique(chosen)])


def _inner_corners(surface: Surface, narrowest: float) -> Floats:
    """(k,) mm: x of vertices over whose tangent plane an edge rises, steeply or within a tight curve.

    In a large mesh one side of each face is looked at, which is still two of the six edges that leave a vertex.
    """
    faces, count = surface.faces, len(surface.vertices)
    places = np.ascontiguousarray(surface.vertices.T)
    doubled = np.concatenate([normals for _, _, normals in doubled_normals(surface.vertices, faces)], axis=1)
    corners = np.ascontiguousarray(faces.T)
    normal = np.array([np.sum([np.bincount(corner, size, count) for corner in corners], axis=0) for size in doubled])
    normal /= np.maximum(np.sqrt((normal * normal).sum(axis=0)), np.finfo(float).tiny)
    found = np.zeros(count, dtype=bool)
    for start in range(0, len(faces), AT_ONCE):
        part = corners[:, start : start + AT_ONCE]
        number = np.arange(part.shape[1])
        for side in range(1 if len(faces) > LARGE else 3):
            # Another side of each next face: meshes are often made in rows in which every other face is alike.
            first = (number + side) % 3
            tail, head = part[first, number], part[(first + 1) % 3, number]
            along = places.take(head, axis=1) - places.take(tail, axis=1)
            rise = (normal.take(tail, axis=1) * along).sum(axis=0)
            length = np.sqrt((along * along).sum(axis=0))
            found[tail[rise > np.minimum(INNER, np.maximum(NOISE, length / narrowest)) * length]] = True
    return np.asarray(places[0][found])


def later_notes(found: Sequence[Later]) -> list[Note]:
    """What is to be done by hand later, one note for each of the first MOST_LISTED; seams are only counted."""
    seams = [later for later in found if later.width < SEAM]
    found = without_seams(found)
    notes = [
        assumption(
            f"later by hand: {later.words}. No wire enters it, so the templates are drawn without it; "
            "--keep-holes keeps it.",
            x=later.mouth[0],
        )
        for later in found[:MOST_LISTED]
    ]
    if len(found) > MOST_LISTED:
        notes.append(assumption(f"later by hand: {len(found) - MOST_LISTED} more holes and slits, see report.json"))
    if seams:
        what = "a seam" if len(seams) == 1 else f"{len(seams)} seams"
        place = max(seams, key=lambda later: later.size).mouth[0]
        notes.append(repair(f"closed {what} narrower than {SEAM:g} mm, the longest at x = {place:.1f} mm", x=place))
    return notes


def without_seams(found: Sequence[Later]) -> tuple[Later, ...]:
    """What is worth a tool."""
    return tuple(later for later in found if later.width >= SEAM)
