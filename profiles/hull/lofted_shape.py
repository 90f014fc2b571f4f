"""A Shape between frames: fair lines run along the hull through places that belong together on all frames.

    section at a station       the frame itself, to what its chords leave out (`frames.SAGITTA`)
    section between stations   where the lines pass it; keel, knuckles and sheer lie on their own lines, which may have
                               points between stations (a stem), and what is between them is moved along evenly
    ends                       a point, an upright edge (a stem), or a flat (a transom), as the last frames are
    deck                       straight across from sheer to sheer; a keel of some breadth is flat below

Sections are computed at every x, not taken from a mesh, so nothing depends on how finely one was made.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from profiles.arrays import Bools, Floats
from profiles.errors import HullError
from profiles.hull.fairing import FairLine, fair, hermite, solve_hermite
from profiles.hull.frames import Frame, Places, choose_places, complete_knuckles, frame_points, measure_along
from profiles.hull.plugs import AREA_FLOOR
from profiles.hull.sections import Section, Side
from profiles.hull.shape import Definition, SpanPoints, View
from profiles.values import dataclass

CENTRE = 1e-6
"""mm; nearer to the centre plane a point lies on it. Far above rounding at 10 m."""

NEEDLESS = 0.0005
"""mm; points nearer than this to the line between their neighbours are left out of a section, so that a table is met to
half of the 0.001 mm that is promised."""

ACROSS = 1.5
"""mm between points of a section that growth is measured with, and ALONG between these sections."""

ALONG = 2.0

MOST_ALONG = 40
"""Sections in a block that growth is measured with; as many again confirm it."""

SEEN = 1.0
"""mm between the sections that a silhouette is drawn through."""

MOST_SEEN = 600

SEARCHED = 200
"""Sections along the hull that are looked through for its greatest breadth and height."""


@dataclass(frozen=True, slots=True)
class LoftedShape:
    """A body between frames, in the hull frame."""

    x: Floats
    """(n,) mm of the frames, ascending."""
    points: Floats
    """(n, p, 3) mm: each frame at all places, from keel to sheer; y is the half-breadth."""
    start: Floats
    """(n - 1, p, 3): the slopes in which the lines through the places leave a frame, and `end` those in which they
    reach the next."""
    end: Floats
    chords: Floats
    """(n - 1, p) mm: lengths of the lines' chords."""
    places: Places
    borders: tuple[FairLine | None, ...]
    """The lines of keel, knuckles and sheer, (x, y, z); None where only the frames show it."""
    bounds: tuple[Floats, Floats]
    """Least and greatest corner, each (3,) mm."""
    drawn: tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]] = ((), (), ())
    """mm: the stations, waterlines (heights) and buttocks (half-breadths) that the file gives, for its lines plan."""

    def half(self, x: float) -> Floats:
        """(p, 2) mm: half-breadths and heights of the section at x, from keel to sheer."""
        result = self._between_frames(x)
        moves = self._moves(x, result)
        strake, share = self.places.strake, self.places.share[:, None]
        result = np.asarray(result + moves[strake] * (1 - share) + moves[strake + 1] * share)
        half: Floats = np.maximum(result, (0.0, -np.inf))
        borders = self.places.borders
        for first, last in zip(borders[:-1].tolist(), borders[1:].tolist(), strict=True):
            if np.abs(half[last] - half[first]).max() <= CENTRE:  # a strake that has ended, as at a stem
                half[first:last] = half[last]
        return half

    def _moves(self, x: float, half: Floats) -> Floats:
        """(s + 1, 2) mm: from keel, knuckles and sheer of a half (p, 2) to their own lines at x.

        A knuckle without a line moves with its neighbours, by its share of the outline, and so keeps its order.
        """
        places = self.places.borders
        moves = np.zeros((len(places), 2))
        fixed = {0, len(places) - 1}
        for number in range(len(places)):
            line = self._line_at(number, x)
            if line is not None:
                moves[number] = line.at_first(x)[1:] - half[places[number]]
                fixed.add(number)
        free = [number for number in range(len(places)) if number not in fixed]
        if free and moves.any():
            along, known = measure_along(half)[places], sorted(fixed)
            for axis in range(2):
                moves[free, axis] = np.interp(along[free], along[known], moves[known, axis])
        return moves

    def _line_at(self, number: int, x: float) -> FairLine | None:
        """The line that a border follows at x: its own, or beyond an end in the centre plane that of the keel."""
        line = self.borders[number]
        if line is None:
            return None
        if line.points[0, 0] <= x <= line.points[-1, 0]:
            return line
        end = line.points[0 if x < line.points[0, 0] else -1]
        return self._line_at(0, x) if number and end[1] <= CENTRE else None

    def _between_frames(self, x: float) -> Floats:
        """(p, 2) mm: where the lines through the places pass x."""
        span = int(np.clip(self.x.searchsorted(x, "right") - 1, 0, len(self.x) - 2))
        ends, slopes, chord = self.points[span : span + 2], (self.start[span], self.end[span]), self.chords[span]
        if x <= self.x[span] or x >= self.x[span + 1]:
            frame = ends[0] if x <= self.x[span] else ends[1]
            return np.array(frame[:, 1:])
        along = (ends[0][:, 0], ends[1][:, 0]), (slopes[0][:, 0], slopes[1][:, 0])
        share = solve_hermite(x, chord, *along)[:, None]
        across = (ends[0][:, 1:], ends[1][:, 1:]), (slopes[0][:, 1:], slopes[1][:, 1:])
        return hermite(share, chord[:, None], *across)

    def section(self, x: float, side: Side) -> Section:
        """The section at x mm; beyond the ends, and forward of the first frame or aft of the last, it is empty.

        Raises HullError where the outline crosses itself.
        """
        first, last = self.x[[0, -1]]
        outside = x < first or x > last or (x == first and side is Side.FORE) or (x == last and side is Side.AFT)
        return Section(x, side, MultiPolygon() if outside else close_half(self.half(x), x))

    def points_between(self, x_fore: float, x_aft: float) -> SpanPoints:
        """Points of sections between two stations, on its knuckles, on the deck and a flat keel; every other section
        confirms growth.
        """
        low, high = max(x_fore, self.x[0]), min(x_aft, self.x[-1])
        number = 2 * int(np.clip(np.ceil((high - low) / ALONG), 4, MOST_ALONG)) + 1
        places = low + (np.arange(number) + 0.5) / number * (high - low)
        rings = [self._ring(x) for x in places.tolist()] if high > low else [np.zeros((0, 3))] * 2
        return SpanPoints(np.concatenate(rings[::2]), np.concatenate(rings[1::2]))

    def _ring(self, x: float) -> Floats:
        """(m, 3) mm: points round the section at x about ACROSS apart, and on its knuckles."""
        half = self.half(x)
        steps = np.sqrt((np.diff(half, axis=0) ** 2).sum(axis=1))
        every = np.floor(np.concatenate([[0.0], np.cumsum(steps)]) / ACROSS)
        kept = np.append(np.diff(every) > 0, True)
        kept[self.places.borders] = True
        half = half[kept]
        flats = [half[end] * np.array([[0.0, 1.0], [0.5, 1.0]]) for end in (0, -1)]
        half = np.concatenate([half, *flats])
        round_it = np.concatenate([half, half * [-1, 1]])
        return np.column_stack([np.full(len(round_it), x), round_it])

    def silhouette(self, x_fore: float, x_aft: float, view: View) -> MultiPolygon:
        """The body between two stations: the extents of its sections."""
        low, high = max(x_fore, self.x[0]), min(x_aft, self.x[-1])
        if low >= high:
            return MultiPolygon()
        inner = self.x[(self.x > low) & (self.x < high)]
        number = int(np.clip(np.ceil((high - low) / SEEN), 24, MOST_SEEN))
        places = np.union1d(np.linspace(low, high, number + 1), inner)
        halves = [self.half(x) for x in places.tolist()]
        if view is View.SIDE:
            above = [half[:, 1].max() for half in halves]
            below = [half[:, 1].min() for half in halves]
        else:
            above = [half[:, 0].max() for half in halves]
            below = [-value for value in above]
        outline = np.concatenate([np.column_stack([places, below]), np.column_stack([places, above])[::-1]])
        parts = shapely.get_parts(shapely.make_valid(Polygon(outline)))
        return MultiPolygon([part for part in parts if isinstance(part, Polygon) and part.area > AREA_FLOOR])

    def critical_places(self) -> Floats | None:
        """The two ends: between them an outline from keel to sheer is one piece. None where a frame comes back to the
        centre plane on its way, so that its section may fall apart.
        """
        closed = self.points[:, :, 1] <= CENTRE
        if any(_parted(frame) for frame in closed):
            return None
        return np.array(self.x[[0, -1]])

    def wall_between(self, x_fore: float, x_aft: float) -> float | None:
        """X mm of an end that is flat and lies between the two places; None without one."""
        for end, side in ((float(self.x[0]), Side.AFT), (float(self.x[-1]), Side.FORE)):
            if x_fore - CENTRE <= end <= x_aft + CENTRE and not self.section(end, side).region.is_empty:
                return end
        return None

    def tip_points(self, x: float) -> Floats:
        """(n, 2) mm, y and z of the points of the end that is at x."""
        if x not in self.x[[0, -1]]:
            return np.zeros((0, 2))
        half = self.half(x)
        return np.concatenate([half, half * [-1, 1]])

    def definition(self) -> Definition:
        """The lines along the hull, which determine everything."""
        lines = [line for line in self.borders if line is not None]
        arrays = [array for line in lines for array in (line.points, line.start, line.end)]
        mine = (self.x, self.points, self.start, self.end, self.places.strake, self.places.share)
        return Definition({"lines": [line is not None for line in self.borders]}, (*mine, *arrays))


def _parted(on_centre: Bools) -> bool:
    """Whether places (p,) on the centre plane lie between places that do not."""
    off = np.flatnonzero(~on_centre)
    return len(off) > 0 and bool(on_centre[off[0] : off[-1]].any())


def close_half(half: Floats, x: float) -> MultiPolygon:
    """The whole section, (y, z) mm, of a half (p, 2) from keel to sheer; empty where it has no area.

    What lies on the centre plane, as above a skeg, is no area. Raises HullError where the outline crosses itself.
    """
    off = np.flatnonzero(half[:, 0] > CENTRE)
    if not len(off):
        return MultiPolygon()
    half = half[max(off[0] - 1, 0) : off[-1] + 2]
    port = half[half[:, 0] > CENTRE] if _parted(half[:, 0] <= CENTRE) else half
    if len(port) == len(half):
        outline = Polygon(np.concatenate([half, half[::-1] * [-1, 1]]))
        region = shapely.simplify(_without_repeats(outline), NEEDLESS)
        if region.is_valid and isinstance(region, Polygon):
            return MultiPolygon([region] if region.area > 2 * AREA_FLOOR else [])
    ends = np.array([[0.0, half[0, 1]]]), np.array([[0.0, half[-1, 1]]])
    flat = shapely.make_valid(Polygon(np.concatenate([ends[0], half, ends[1]])))
    whole = shapely.union_all([flat, shapely.transform(flat, lambda points: points * [-1, 1])])
    parts = [part for part in shapely.get_parts(whole) if isinstance(part, Polygon) and part.area > 2 * AREA_FLOOR]
    filled = sum(part.area for part in parts)
    if abs(filled - abs(_swept(half))) > max(CROSSED * filled, LOOP):
        message = f"the section at x = {x:.1f} crosses itself."
        raise HullError(message, remedy="Check the stations before and behind it, and the order of their lines.")
    return MultiPolygon(parts)


CROSSED = 1e-4
"""Of a section's area: more than this lies in loops where the outline crosses itself."""


LOOP = 0.02
"""mm2; smaller loops are where rounding makes neighbouring lines of a nearly pointed end cross: a prick of 0.1 mm."""


def _swept(half: Floats) -> float:
    """Area in mm2 that the outline sweeps with both halves; loops the other way round count against it."""
    y, z = half.T
    return float(np.sum((y[1:] + y[:-1]) * np.diff(z)))


def _without_repeats(outline: Polygon) -> Polygon:
    return Polygon(shapely.get_coordinates(shapely.remove_repeated_points(outline.exterior, CENTRE)))


def loft(frames: Sequence[Frame], borders: Sequence[Floats | None], corners: Sequence[float] = ()) -> LoftedShape:
    """The body between frames in the order of their x, all with the same knuckles.

    `borders` are points (n, 3) of the lines of keel, knuckles and sheer, with the x of a corner repeated in a fourth
    column that is not 0, or None where there are none but the frames'. At `corners`, x in mm, all lines break.
    """
    along = complete_knuckles(frames)
    places = choose_places(frames, along)
    x = np.array([frame.x for frame in frames])
    points = np.stack(
        [
            np.column_stack([np.full(len(places.share), frame.x), frame_points(frame, border, places)])
            for frame, border in zip(frames, along, strict=True)
        ]
    )
    sharp = np.isin(x, corners)
    lines = [fair(points[:, place], sharp) for place in range(points.shape[1])]
    own = tuple(None if line is None else fair(line[:, :3], line[:, 3] != 0) for line in borders)
    start, end, chords = (
        np.stack([getattr(line, name) for line in lines], axis=1) for name in ("start", "end", "chords")
    )
    shape = LoftedShape(x, points, start, end, chords, places, own, (points[0, 0], points[0, 0]))
    return _with_bounds(shape)


def _with_bounds(shape: LoftedShape) -> LoftedShape:
    places = np.union1d(np.linspace(shape.x[0], shape.x[-1], SEARCHED + 1), shape.x)
    halves = np.array([shape.half(x) for x in places.tolist()])
    broad, low, high = halves[..., 0].max(), halves[..., 1].min(), halves[..., 1].max()
    return replace(shape, bounds=(np.array([shape.x[0], -broad, low]), np.array([shape.x[-1], broad, high])))
