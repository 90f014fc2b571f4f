"""A table of offsets -> the frames of a hull and its lines along the centre plane, the sheer and the knuckles.

keel, stem, stern    one line in the centre plane. Up to its foremost point a stem is the keel's continuation, above
                     that of the sheer; so a raked, an upright and a backward-raked stem need no special case
frame                from the keel through waterlines, buttocks and knuckles, in the order of their heights, to the
                     sheer. Without a row for keel or sheer it begins with its lowest, ends with its highest figure
knuckle              blank where there is none: the strakes beside it go on, and nothing is sharp. One that ends in the
                     centre plane goes on along keel and stem
"""

from collections.abc import Sequence
from dataclasses import field

import numpy as np

from profiles.arrays import Floats
from profiles.errors import HullError
from profiles.hull.fairing import FairLine, fair
from profiles.hull.formats.offsets import OffsetTable, Row, letters
from profiles.hull.frames import Frame, fair_frame
from profiles.notes import Note
from profiles.values import dataclass

NEAR = 1e-6
"""mm; figures that differ by less are one. A table has three or four digits."""

AGREE = 0.001
"""mm; two rows may differ by this about one point."""


@dataclass(frozen=True, slots=True)
class Lines:
    """What a hull without a mesh is made from; x as in its file, mm."""

    name: str | None
    frames: tuple[Frame, ...]
    """In the order of their x, two at least."""
    borders: tuple[Floats | None, ...]
    """Keel, knuckles, sheer: points (n, 4) mm, the last column 1 at corners; None where the frames say all."""
    corners: tuple[float, ...] = ()
    """x in mm where all lines break."""
    stations: tuple[float, ...] = ()
    """x in mm."""
    waterlines: tuple[float, ...] = ()
    """Heights in mm."""
    buttocks: tuple[float, ...] = ()
    """Half-breadths in mm."""
    notes: tuple[Note, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class _End:
    """Stem or stern: points (n, 4) mm from its outermost point down to the keel and up to the sheer."""

    down: Floats
    up: Floats


def table_lines(table: OffsetTable) -> Lines:
    """The frames and lines of a table. Raises HullError naming the rows that contradict each other."""
    ends = [_end(table, name, sign) for name, sign in (("stem", 1.0), ("stern", -1.0))]
    keel = _join(table, "keel", [end.down if end else None for end in ends])
    sheer = _join(table, "sheer", [end.up if end else None for end in ends])
    names = list(dict.fromkeys(row.line for row in table.rows if row.line.startswith("knuckle")))
    knuckles = {name: _points(table, name) for name in names}
    free = {name for name in names if table.find(name, "place")}
    fixed = tuple(None if line is None else fair(line[:, :3], line[:, 3] != 0) for line in (keel, sheer))
    own = {name: fair(knuckles[name][:, :3], knuckles[name][:, 3] != 0) for name in free if len(knuckles[name]) > 1}
    stations = [_Station(table, column, fixed, knuckles, own) for column in range(len(table.places))]
    names = _order_knuckles(table, stations, names)
    frames = [frame for station in stations if (frame := station.frame(names)) is not None]
    for end, place in zip(ends, (0, -1), strict=True):
        if end and (not frames or abs(frames[place].x - end.down[0, 0]) > NEAR):
            on_keel = [name in own and bool(own[name].points[place, 1] <= NEAR) for name in names]
            frames.insert(len(frames) if place else 0, _end_frame(end, on_keel))
    if len(frames) < 2:  # noqa: PLR2004 - a body lies between two
        message = "expected figures for at least two stations, found none to make frames of."
        raise HullError(message, remedy="Fill in heights of keel and sheer, and half-breadths of waterlines.")
    lines = [knuckles[name] if name in own or name in table.corners else None for name in names]
    outer = [_needed(table, line, name, ends) for line, name in ((keel, "keel"), (sheer, "sheer"))]
    return Lines(
        table.name,
        tuple(frames),
        (outer[0], *lines, outer[1]),
        tuple(table.places[table.corners[""][: len(table.places)]].tolist()) if "" in table.corners else (),
        tuple(table.places.tolist()),
        tuple(sorted(row.level for row in table.rows if row.line == "waterline" and row.level is not None)),
        tuple(sorted(row.level for row in table.rows if row.line == "buttock" and row.level is not None)),
    )


def _needed(table: OffsetTable, line: Floats | None, name: str, ends: Sequence[_End | None]) -> Floats | None:
    """The line, where it has more than the frames show: points between stations or corners."""
    return line if any(ends) or name in table.corners else None


def _points(table: OffsetTable, name: str) -> Floats:
    """(n, 4) mm: the points of a line, in the order of their columns; a half-breadth that is not given is 0.

    Raises HullError where a row is missing, or a point has one figure and lacks the other.
    """
    rows = [table.find(name, measure) for measure in ("place", "half-breadth", "height")]
    place, breadth, height = rows
    given = next(row for row in rows if row is not None)
    if height is None or (breadth is None and name not in {"keel", "stem", "stern"}):
        measure = "height" if height is None else "half-breadth"
        message = f"row {given.number} ({given.label}) needs a row '{name} {measure}' beside it."
        raise HullError(message, remedy="Add it; a line in space has both.")
    x = table.places if place is None else place.values
    y = np.where(np.isnan(height.values), np.nan, 0.0) if breadth is None else breadth.values
    marks = table.corners.get(name, np.zeros(len(x), dtype=bool))[: len(x)]
    points = np.column_stack([x, y, height.values, marks])
    known = ~np.isnan(points[:, :3]) if place is not None else ~np.isnan(points[:, 1:3])
    half = np.flatnonzero(known.any(axis=1) & ~known.all(axis=1))
    if len(half):
        column = int(half[0])
        lacking = next(row for row in rows if row is not None and np.isnan(row.values[column]))
        message = f"{table.where(lacking, column)}: {name} has no {lacking.measure} here, but another figure."
        raise HullError(message, remedy="Give both, or leave both blank.")
    complete: Floats = points[known.all(axis=1)]
    return complete


def _end(table: OffsetTable, name: str, sign: float) -> _End | None:
    """Stem (sign 1) or stern (-1) in two branches. Raises HullError where a branch turns back."""
    rows = [row for row in table.rows if row.line == name]
    if not rows:
        return None
    if table.find(name, "place") is None:
        message = f"row {rows[0].number} ({rows[0].label}) needs a row '{name} place' beside it."
        raise HullError(message, remedy="It says how far along the hull each of these points is.")
    for other in ("keel height", "sheer height"):
        if table.find(*other.split()) is None:
            message = f"row {rows[0].number} ({rows[0].label}): a {name} needs a row '{other}' to join."
            raise HullError(message, remedy="Add heights of keel and sheer at the stations.")
    points = _points(table, name)
    if not len(points):
        return None
    points = points if points[0, 2] >= points[-1, 2] else points[::-1]
    outermost = np.flatnonzero(sign * points[:, 0] <= (sign * points[:, 0]).min() + NEAR)
    up, down = points[: outermost[0] + 1][::-1], points[outermost[-1] :]
    for branch in (up, down):
        if (np.diff(sign * branch[:, 0]) <= 0).any():
            message = (
                f"row {rows[0].number} ({rows[0].label}): the {name} goes back on its way from the outermost point."
            )
            raise HullError(message, remedy="Give its points in their order, from the top to the keel.")
    return _End(down, up)


def _join(table: OffsetTable, name: str, branches: Sequence[Floats | None]) -> Floats | None:
    """(n, 4) mm: keel or sheer with its branches of stem and stern, ascending in x; None where there is no row."""
    if table.find(name, "height") is None and table.find(name, "half-breadth") is None:
        return None
    points = np.concatenate([_points(table, name), *(branch for branch in branches if branch is not None)])
    points = points[np.argsort(points[:, 0], kind="stable")]
    if not len(points):
        return None
    same = np.diff(points[:, 0]) <= NEAR
    apart = np.abs(np.diff(points[:, 1:3], axis=0)).max(axis=1, initial=0.0)
    if (same & (apart > AGREE)).any():
        at = int(np.flatnonzero(same & (apart > AGREE))[0])
        (_, y, z, _), (x, v, w, _) = points[at : at + 2].tolist()
        message = f"{name} and stem or stern contradict each other at {x:g} mm: ({y:g}, {z:g}) and ({v:g}, {w:g}) mm."
        raise HullError(message, remedy="Both must have the same half-breadth and height where they meet.")
    corner = points[:, 3].copy()
    corner[1:][same] = np.maximum(corner[1:][same], corner[:-1][same])
    points = np.column_stack([points[:, :3], corner])
    kept = points[np.append(True, ~same)]
    return kept if len(kept) > 1 else None


class _Station:
    """The points of one station, gathered from all rows."""

    def __init__(
        self,
        table: OffsetTable,
        column: int,
        fixed: Sequence[FairLine | None],
        knuckles: dict[str, Floats],
        own: dict[str, FairLine],
    ) -> None:
        self.table, self.column, self.x = table, column, float(table.places[column])
        self.low, self.high = (_at(line, self.x) for line in fixed)
        self.knuckles: dict[str, Floats] = {}
        for name, points in knuckles.items():
            line = own.get(name)
            here = points[np.abs(points[:, 0] - self.x) <= NEAR]
            point = _at(line, self.x) if line is not None else here[0, 1:3] if len(here) else None
            if point is None and line is not None and line.points[0 if self.x < points[0, 0] else -1, 1] <= NEAR:
                point = self.low
            if point is not None:
                self.knuckles[name] = point
        levels = [row for row in table.rows if row.level is not None and not np.isnan(row.values[column])]
        self.points = [point for row in levels if (point := self._point(row)) is not None]

    def _point(self, row: Row) -> Floats | None:
        """(2,) mm: half-breadth and height of a waterline or buttock here; None for a zero beyond keel or sheer.

        Raises HullError for a figure that lies beyond them.
        """
        value = float(row.values[self.column])
        breadth, height = (value, row.level) if row.line == "waterline" else (row.level, value)
        point = np.array([breadth, height], dtype=float)
        for end, sign, name in ((self.low, 1.0, "keel"), (self.high, -1.0, "sheer")):
            if end is None or sign * (point[1] - end[1]) >= -NEAR:
                continue
            if row.line == "waterline" and value <= NEAR:
                return None
            side = "below the keel" if name == "keel" else "above the sheer"
            message = (
                f"{self.table.where(row, self.column)}: {row.label} stands {side}, which is at {end[1]:g} mm here."
            )
            raise HullError(message, remedy="Leave the cell blank where the line does not pass the station.")
        return point

    def frame(self, names: Sequence[str]) -> Frame | None:
        """The frame with its knuckles in the order of their names; None for a station without figures."""
        marked = [(point, name) for name, point in self.knuckles.items()] + [(point, "") for point in self.points]
        marked.sort(key=lambda item: (round(float(item[0][1]), 6), float(item[0][0])))
        ends = [[(end, "")] if end is not None else [] for end in (self.low, self.high)]
        points: list[Floats] = []
        sharp: list[bool] = []
        places: dict[str, int] = {}
        for point, name in [*ends[0], *marked, *ends[1]]:
            if points and np.abs(point - points[-1]).max() <= NEAR:
                sharp[-1] |= bool(name)
            else:
                points.append(point)
                sharp.append(bool(name))
            if name:
                places[name] = len(points) - 1
        if not points:
            return None
        return fair_frame(self.x, np.array(points), np.array(sharp), [places.get(name) for name in names])


def _at(line: FairLine | None, x: float) -> Floats | None:
    """(2,) mm: half-breadth and height of a line at x, or None beyond its ends."""
    if line is None or not line.points[0, 0] - NEAR <= x <= line.points[-1, 0] + NEAR:
        return None
    return line.at_first(x)[1:]


def _order_knuckles(table: OffsetTable, stations: Sequence[_Station], names: Sequence[str]) -> list[str]:
    """The knuckles from keel to sheer. Raises HullError where two change places on their way."""

    def height(name: str) -> tuple[float, float]:
        points = np.array([station.knuckles[name] for station in stations if name in station.knuckles])
        return (float(points[:, 1].mean()), float(points[:, 0].mean())) if len(points) else (0.0, 0.0)

    order = sorted((name for name in names if any(name in station.knuckles for station in stations)), key=height)
    for station in stations:
        here = [station.knuckles[name] for name in order if name in station.knuckles]
        below = [n for n in range(1, len(here)) if here[n][1] < here[n - 1][1] - NEAR]
        if below:
            crossed = [name for name in order if name in station.knuckles][below[0] - 1 : below[0] + 1]
            where = f"column {letters(station.column + 1)} (station {table.stations[station.column]})"
            message = f"{where}: {crossed[0]} and {crossed[1]} cross."
            raise HullError(message, remedy="A knuckle stays above the one below it; exchange the figures.")
    return order


def _end_frame(end: _End, on_keel: Sequence[bool]) -> Frame:
    """The outermost edge or point of stem or stern; `on_keel` tells the knuckles that have ended there."""
    points = np.unique(np.array([end.down[0, 1:3], end.up[0, 1:3]]), axis=0)
    points = points[np.argsort(points[:, 1], kind="stable")]
    return fair_frame(
        float(end.down[0, 0]), points, np.zeros(len(points), dtype=bool), [0 if ended else None for ended in on_keel]
    )
