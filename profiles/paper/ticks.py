"""The numbered marks of a template: a tick in from the edge, and its number at the tick or at the end of a leader.

A number is placed where nobody can take it for the number of another mark: clear of all lines and labels, and further
from every other tick and leader than from its own. It stays on the card if the card has room for it and its leader.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import field

import numpy as np
import shapely
from shapely import LineString, MultiPolygon

from profiles.arrays import Bools, Floats, Ints
from profiles.blocks.boundary import rings_of
from profiles.blocks.pairing import Mark
from profiles.paper.drawing import Label, Points, Role, Stroke, freeze
from profiles.paper.facesheet import TEXT, Sheet
from profiles.paper.lettering import text_width
from profiles.paper.placing import Lines, Near, Occupied, Rect
from profiles.units import number_runs
from profiles.values import dataclass

TICK = 2.5
"""mm; how far an even mark reaches in from the edge."""

LANDMARK_TICK = 4.5
"""mm; the same for keel, deck and corners."""

NAMED, SLIM = 14.0, 24.0
"""mm; a piece that holds a circle of 15 mm carries its name, as do many smaller ones. Where no circle of the second
width has room, ticks are shorter in proportion, so that there is room for the name."""

LEAST_TICK = 0.05
"""mm; a tick that would cross another is shortened, but not to nothing: its leader starts at its tip."""

CROSSING_SHARE = 0.6
"""Such a tick ends at this share of the distance to the crossing."""

AT_TICK = np.array([0.7])
INSIDE = np.array([1.0, 2.5, 4.0, 6.0, 8.0, 11.0, 14.0, 18.0])
OUTSIDE = np.arange(2.0, 60.0, 2.0)
"""mm between a number and where its leader starts that are tried: from the tip of the tick, without a leader and with
one; then from the edge outwards."""

TURNS = np.radians([0.0, 20.0, -20.0, 40.0, -40.0, 60.0, -60.0, 80.0, -80.0])
"""Directions of a number that are tried, measured from that of the tick."""

TURN_COST = 4.0
"""mm of leader that a turn of a radian is worth: straight leaders look tidier than short ones."""

NUMBER_CLEAR = 1.3
"""mm between a number and the ticks and leaders of other marks: twice its distance from its own."""

LEADER_CLEAR = 0.8
"""mm between a leader and the numbers of other marks, and between two leaders once they have parted."""

PARTED = 1.5
"""mm from its start after which a leader keeps clear of others: the starts of close marks cannot."""

OFF_EDGE = 0.05
"""mm from its start after which a tick or a leader must not touch the cut line that it starts on."""

ONE_PLACE = 0.2
"""mm; marks this close look like one, since a line is 0.25 mm wide: a hand rests there."""

AIR = 0.4
"""mm between a leader and its number."""

LINE_AIR = 0.2
"""mm kept free above and below a number beyond what any label keeps: it is placed by the height of its digits."""

AT_ONCE = 12, 100
"""Leaders tested together: few at first, since mostly one of them is clear; then many, since mostly none is."""


@dataclass(frozen=True, slots=True)
class Ticks:
    """The ticks of a template in the frame of its sheet; marks at one place share a tick."""

    lines: Points
    """(n, 2, 2) mm, from the edge inwards."""
    texts: tuple[str, ...]
    """The number of each, or the numbers: "8 to 10"."""
    pieces: Ints
    """(n,) the piece of the template that each is on."""


def ticks_of(sheet: Sheet, marks: Sequence[Mark]) -> Ticks:
    """The ticks of marks: longer at landmarks, shorter where two would cross or one would leave its piece."""
    starts = sheet.to_sheet(np.reshape([(mark.y, mark.z) for mark in marks], (-1, 2)))
    lengths = np.array([TICK if mark.kind == "even" else LANDMARK_TICK for mark in marks])
    inward = sheet.to_sheet(np.reshape([mark.inward for mark in marks], (-1, 2))) - sheet.to_sheet(np.zeros((1, 2)))
    rings, pieces = _rings_at(sheet.cut, starts)
    groups = _group_by_place(starts, rings)
    chosen = [max(group, key=lambda k: lengths[k]) for group in groups]
    lengths = lengths * _slimness(sheet.cut)[pieces] if len(pieces) else lengths
    starts, lengths, pieces = starts[chosen], lengths[chosen], pieces[chosen]
    runs = inward[chosen] * lengths[:, None]
    share = np.minimum(_uncrossed_share(starts, runs), _inside_share(sheet.cut, pieces, starts, runs))
    runs *= np.maximum(share, LEAST_TICK / lengths)[:, None]
    texts = tuple(number_runs([marks[k].number for k in group], digits=1) for group in groups)
    return Ticks(np.stack([starts, starts + runs], axis=1), texts, pieces)


def _slimness(cut: MultiPolygon) -> Floats:
    """The share (pieces,) of their length that ticks have on each piece: 1 but on slim ones that must carry a name."""
    widths = np.array([2 * shapely.maximum_inscribed_circle(piece, tolerance=0.5).length for piece in cut.geoms])
    return np.where(widths > NAMED, np.minimum(1.0, widths / SLIM), 1.0)


def _rings_at(cut: MultiPolygon, points: Points) -> tuple[Ints, Ints]:
    """The ring (n,) nearest to each of the points (n, 2), and the piece (n,) that it belongs to, numbered from 0."""
    rings = rings_of(cut)
    if len(rings) <= 1:
        return np.zeros(len(points), np.int64), np.zeros(len(points), np.int64)
    nearest = shapely.distance(shapely.points(points)[:, None], np.array(rings)[None]).argmin(axis=1)
    pieces = np.repeat(np.arange(len(cut.geoms)), [1 + len(piece.interiors) for piece in cut.geoms])
    return nearest, pieces[nearest]


def _group_by_place(points: Points, rings: Ints) -> list[list[int]]:
    """The numbers of points (n, 2) that follow one another on a ring within ONE_PLACE of the first of their group."""
    groups: list[list[int]] = []
    for k, ring in enumerate(rings.tolist()):
        if groups and rings[groups[-1][0]] == ring and math.dist(points[groups[-1][0]], points[k]) <= ONE_PLACE:
            groups[-1].append(k)
        else:
            groups.append([k])
    for ring in np.unique(rings).tolist():
        first, *_, last = [group for group in groups if rings[group[0]] == ring] * 2
        if first is not last and math.dist(points[first[0]], points[last[-1]]) <= ONE_PLACE:
            groups.remove(last)
            first += last
    return groups


def _inside_share(cut: MultiPolygon, pieces: Ints, starts: Points, runs: Points) -> Floats:
    """The share (n,) of each tick that stays well inside its piece: 1, or half of the way to the far edge."""
    share = np.ones(len(starts))
    if cut.is_empty or not len(starts):
        return share
    parts = np.array(cut.geoms)[pieces]
    shapely.prepare(parts)
    lines = _shorten_start(np.stack([starts, starts + runs], axis=1), OFF_EDGE)
    for k in np.flatnonzero(~shapely.covers(parts, lines)).tolist():
        crossings = shapely.get_coordinates(shapely.intersection(parts[k].boundary, lines[k]))
        if len(crossings):
            share[k] = np.linalg.norm(crossings - starts[k], axis=1).min() / 2 / np.linalg.norm(runs[k])
    return share


def _uncrossed_share(starts: Points, runs: Points) -> Floats:
    """The share (n,) of each segment that crosses no other: 1, or CROSSING_SHARE of the way to the first crossing."""
    between = starts[None] - starts[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):  # parallel ticks do not cross
        turn = _cross(runs[:, None], runs[None])
        along, along_other = _cross(between, runs[None]) / turn, _cross(between, runs[:, None]) / turn
    crosses = (along > 0) & (along < 1) & (along_other > 0) & (along_other < 1)
    return np.asarray(np.min(np.where(crosses, CROSSING_SHARE * along, 1.0), axis=1, initial=1.0))


def _cross(first: Points, second: Points) -> Floats:
    return np.asarray(first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0])


def draw_marks(sheet: Sheet, occupied: Occupied, ticks: Ticks) -> None:
    """The ticks of all marks with their numbers: first those with room at the tick, then the others on leaders.

    The ticks must be among the lines of `occupied`.
    """
    if not ticks.texts:
        return
    sheet.strokes += [Stroke(Role.MARK, freeze(tick)) for tick in ticks.lines]
    writer = _Writer(sheet, occupied, ticks)
    waiting = [k for k, places in enumerate(writer.places_at_ticks()) if not writer.write_at_tick(k, places)]
    for k in waiting:
        writer.write_on_leader(k)


@dataclass
class _Writer:
    """The marks of a template while their numbers are written."""

    sheet: Sheet
    occupied: Occupied
    ticks: Ticks
    lines: Near = field(default_factory=Near)
    """Ticks, then leaders, with the number of the tick that each belongs to."""
    numbers: Near = field(default_factory=Near)
    """What the numbers written so far cover."""

    def __post_init__(self) -> None:
        """Every tick is a line of its own."""
        for k, line in enumerate(shapely.linestrings(self.ticks.lines)):
            self.lines.add(line, k)
        self.parts = np.array(self.sheet.cut.geoms)
        shapely.prepare(self.parts)
        pins = [LineString(stroke.points) for stroke in self.sheet.strokes if stroke.role is Role.PIN]
        self.fixed = shapely.union_all([self.sheet.cut.boundary, *pins])
        shapely.prepare(self.fixed)
        runs = self.ticks.lines[:, 1] - self.ticks.lines[:, 0]
        self.inward = runs / np.linalg.norm(runs, axis=1)[:, None]
        self.sizes = np.array([(text_width(text, TEXT), 0.76 * TEXT) for text in self.ticks.texts])

    def places_at_ticks(self) -> list[list[Sequence[float]]]:
        """For each tick the rectangles there that are on its piece and clear of all lines, best first."""
        rects, _ = _places(self.ticks.lines[:, 1], self.inward, self.sizes, AT_TICK)
        flat = rects.reshape(-1, 4)
        clear = _contains(np.repeat(self.parts[self.ticks.pieces], rects.shape[1]), flat)
        clear[clear] = self.occupied.off_lines(flat[clear])
        return [places[free].tolist() for places, free in zip(rects, clear.reshape(rects.shape[:2]), strict=True)]

    def write_at_tick(self, k: int, places: Sequence[Sequence[float]]) -> bool:
        """Write the number in the first of the places that is clear; return whether there is one."""
        for left, top, right, bottom in places:
            rect = left, top, right, bottom
            if self.occupied.is_off_labels(rect) and self._off_other_marks(k, np.array([rect]))[0]:
                self._write(k, rect)
                return True
        return False

    def write_on_leader(self, k: int) -> None:
        """Write the number on the card if a leader leads to a clear place there, else outside.

        If no leader is clear, one leads outside over cut lines but over no label: across a thin piece, or outwards.
        """
        start, tip = self.ticks.lines[k]
        for origin, towards, distances, inside, strict in (
            (tip, self.inward[k], INSIDE, True, True),
            (start, -self.inward[k], OUTSIDE, False, True),
            (start, self.inward[k], OUTSIDE, False, False),
            (start, -self.inward[k], OUTSIDE, False, False),
        ):
            places, ends = _places(origin[None], towards[None], self.sizes[k : k + 1], distances)
            rects, leaders = places[0], np.stack(np.broadcast_arrays(origin, ends[0]), axis=1)
            choice = next(self._clear_choices(k, rects, leaders, inside=inside, strict=strict), None)
            if choice is not None:
                break
        else:
            choice = self.occupied.first_free(rects)
            if choice is None:  # rather on a slanting line than on a word or on the datum
                choice = int(np.argmax(self.occupied.off_labels(rects)))
        self.sheet.strokes.append(Stroke(Role.MARK, freeze(leaders[choice])))
        leader = LineString(leaders[choice])
        self.lines.add(leader, k)
        self.occupied.take_line(leader)
        left, top, right, bottom = rects[choice].tolist()
        self._write(k, (left, top, right, bottom))

    def _write(self, k: int, rect: Rect) -> None:
        left, top, right, bottom = rect
        self.occupied.take((left, top - LINE_AIR, right, bottom + LINE_AIR))
        self.numbers.add(shapely.box(*rect))
        self.sheet.labels.append(
            Label(self.ticks.texts[k], (left + right) / 2, bottom - 0.02 * TEXT, TEXT, anchor="middle")
        )

    def _clear_choices(self, k: int, rects: Points, leaders: Points, *, inside: bool, strict: bool) -> Iterator[int]:
        """The numbers of those rectangles (n, 4) that are clear and whose leaders (n, 2, 2) are too.

        They are inside the piece of the mark or outside all pieces. If not `strict`, leaders may cross cut lines.
        """
        clear = self.occupied.off_labels(rects)
        if inside:
            clear &= _contains(self.parts[self.ticks.pieces[k]], rects)
        else:
            clear &= ~_contains(self.sheet.cut, rects)
        candidates = np.flatnonzero(clear)
        for tried in np.split(candidates, range(AT_ONCE[0], len(candidates), AT_ONCE[1])):
            some = tried[self.occupied.off_lines(rects[tried])]
            some = some[self._off_other_marks(k, rects[some])]
            some = some[self._are_leaders_clear(k, leaders[some], strict=strict)]
            yield from some[self.occupied.crosses_no_label(_shorten_start(leaders[some], 0.0))].tolist()

    def _others(self, k: int, around: Floats) -> Lines:
        """The ticks and leaders of other marks that come near the rectangle `around` (4,)."""
        return self.lines.within(around, NUMBER_CLEAR, but=k)

    def _off_other_marks(self, k: int, rects: Points) -> Bools:
        """Which of the rectangles (n, 4) are far enough from all ticks and leaders but those of mark k."""
        others = self._others(k, _around(rects.reshape(-1, 2)))
        near = shapely.dwithin(shapely.box(*rects.T)[:, None], others[None], NUMBER_CLEAR)
        return np.asarray(~near.any(axis=1))

    def _are_leaders_clear(self, k: int, leaders: Points, *, strict: bool) -> Bools:
        """Which of the leaders (n, 2, 2) of mark k are clear of other marks, and if `strict` of cut lines and pins."""
        if not len(leaders):
            return np.zeros(0, np.bool_)
        lines, off_edge, parted = (_shorten_start(leaders, by) for by in (0.0, OFF_EDGE, PARTED))
        around = _around(leaders.reshape(-1, 2))
        others = self._others(k, around)[None]
        crosses = _cross_each_other(leaders, others[0]) | shapely.dwithin(parted[:, None], others, LEADER_CLEAR)
        clear = ~crosses.any(axis=1)
        if strict:
            clear &= ~shapely.intersects(off_edge, self.fixed)
        numbers = self.numbers.within(around, LEADER_CLEAR)[None]
        return np.asarray(clear & ~shapely.dwithin(lines[:, None], numbers, LEADER_CLEAR).any(axis=1))


def _cross_each_other(segments: Points, lines: Lines) -> Bools:
    """Which of the segments (n, 2, 2) cross which of the straight lines (m,) between the ends of both."""
    first, second = segments[:, None], shapely.get_coordinates(lines).reshape(1, -1, 2, 2)
    along, across = first[..., 1, :] - first[..., 0, :], second[..., 1, :] - second[..., 0, :]
    apart = second[..., 0, :] - first[..., 0, :]
    sides = _cross(along, apart) * _cross(along, apart + across)
    other_sides = _cross(across, apart) * _cross(across, apart - along)
    return np.asarray((sides < 0) & (other_sides < 0))


def _around(points: Points) -> Floats:
    """The rectangle (4,) around points (n, 2)."""
    return np.concatenate([points.min(axis=0), points.max(axis=0)]) if len(points) else np.zeros(4)


def _contains(shape: shapely.Geometry, rects: Points) -> Bools:
    """Whether the shape, or each of the shapes (n,), contains the middles of the rectangles (n, 4)."""
    return np.asarray(shapely.contains_xy(shape, *((rects[:, :2] + rects[:, 2:]) / 2).T))


def _shorten_start(segments: Points, by: float) -> Lines:
    """The segments (n, 2, 2) as lines, without their first `by` mm."""
    starts, runs = segments[:, 0], segments[:, 1] - segments[:, 0]
    share = np.minimum(by / np.maximum(np.linalg.norm(runs, axis=1), 1e-9), 1.0)
    lines: Lines = shapely.linestrings(np.stack([starts + runs * share[:, None], segments[:, 1]], axis=1))
    return lines


def _places(origins: Points, towards: Points, sizes: Points, distances: Floats) -> tuple[Floats, Floats]:
    """Rectangles (n, places, 4) of the sizes (n, 2) at all distances and turns from the origins (n, 2), and the ends of
    leaders to them (n, places, 2), all mm; the nearest and straightest first.
    """
    turns, reaches = (array.ravel() for array in np.meshgrid(TURNS, distances))
    order = np.argsort(reaches + TURN_COST * np.abs(turns), kind="stable")
    turns, reaches = turns[order], reaches[order, None]
    across = np.column_stack([-towards[:, 1], towards[:, 0]])
    ways = np.cos(turns)[:, None] * towards[:, None] + np.sin(turns)[:, None] * across[:, None]
    half = sizes[:, None] / 2
    support = np.min(half / np.maximum(np.abs(ways), 1e-9), axis=-1, keepdims=True)  # from the middle to the edge
    centres = origins[:, None] + ways * (reaches + support)
    ends = origins[:, None] + ways * np.maximum(reaches - AIR, 0.1)
    return np.concatenate([centres - half, centres + half], axis=-1), ends
