"""Two rings and the sections between them -> which point of the one goes with which of the other.

    landmarks    keel, deck and corners that continue cut both rings into stretches, paired in order
    path         in each stretch a monotone line from (0, 0) to (1, 1): shares of the fore and the aft stretch
    stops        the landmarks, and as many places between them as even hands need to keep to the path
    knots        all vertices of both rings, each with its partner on the other ring, evenly between the stops

A pairing by arc length round the whole ring, or by angle, replaces this where it comes nearer to the sections. An
asymmetric outline may also do without keel and deck as landmarks, and use its corners only.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely

from profiles.arrays import Floats
from profiles.blocks.boundary import boundary_of_rings
from profiles.blocks.hands import choose_stops
from profiles.blocks.landmarks import (
    CORNER_STRAY,
    Between,
    Landmark,
    Ring,
    continued_corners,
    continued_corners_round,
    is_symmetric,
    mirror_ring,
    point_at,
    start_ring_at,
)
from profiles.blocks.paths import AS_GOOD, BY_LENGTH, Targets, best_paths, squared_misses
from profiles.blocks.ring_pairs import RingPair, mirror_pair, pair_evenly
from profiles.values import dataclass

AS_GREAT = 1.01
"""Pairings whose greatest distances differ by at most 1 % count as equal."""

FINE = 0.02
"""mm; a pairing that is this near everywhere needs no comparison with plainer ones: foam does not show less."""

THIN = 0.0005
"""mm; sections between the faces are simplified to this for the comparison of pairings: far below FINE."""

EVEN = 1e-9
"""Share of the square of a ring's length; rounding makes an even ring lean by less."""

WIRES = 192
"""Wires of a whole ring on which pairings are compared."""


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A way to pair two rings, not yet bound to marks."""

    fore: Ring
    aft: Ring
    landmarks: Sequence[Landmark]
    """Ascending; the last is where the rings end."""
    paths: Sequence[Floats]
    """For each stretch between landmarks (p, 2): shares of the fore and the aft stretch."""
    keel_and_deck: tuple[float, float]
    """mm along the fore ring."""
    mirrored: bool = False
    """Whether port is the mirror image of starboard."""

    @property
    def places(self) -> Floats:
        """(p, 2) mm along both rings: all bends of the paths."""
        ends = np.array([(mark.fore, mark.aft) for mark in self.landmarks])
        along = [
            start + path[:-1] * (end - start) for path, (start, end) in zip(self.paths, pairwise(ends), strict=True)
        ]
        return np.concatenate([*along, ends[-1:]])

    def pair(self, part: int, targets: Targets) -> RingPair:
        """The pair of rings that hands follow from mark to mark, near to the paths."""
        landmarks, places = self.landmarks, self.places
        half = len(landmarks) // 2
        if self.mirrored and len(landmarks) % 2:
            middle = landmarks[half]
            starboard = places[places.sum(axis=1) <= middle.fore + middle.aft]
            stops = choose_stops(self.fore, self.aft, landmarks[: half + 1], starboard, targets)
            ends = self.fore.length, self.aft.length
            stops += [Landmark(ends[0] - stop.fore, ends[1] - stop.aft, stop.kind) for stop in stops[-2::-1]]
        else:
            stops = choose_stops(self.fore, self.aft, landmarks, places, targets)
        return pair_evenly(self.fore, self.aft, stops, part, self.keel_and_deck)


def pair_rings(fore: Ring, aft: Ring, between: Between = (), *, part: int = 0) -> RingPair:
    """The pairing of two rings, given the rings of the sections between, each with its share of the way.

    Without sections, and where these show no preference, stretches are paired by arc length. A mirror image is paired
    as the mirror image: of an outline and its image one is searched, whichever hull they belong to.
    """
    if sum(map(_lean, (fore, aft, *(ring for _, ring in between)))) < 0:
        mirrored = [(share, mirror_ring(ring)) for share, ring in between]
        return mirror_pair(_pair_rings(mirror_ring(fore), mirror_ring(aft), mirrored, part))
    return _pair_rings(fore, aft, between, part)


def _lean(ring: Ring) -> float:
    """Which side of its keel more of a ring is on: mm2, of opposite sign for its mirror image; 0 for an even one."""
    y = ring.closed[:, 0] - ring.points[0, 0]
    lean = float(np.dot(y[1:] + y[:-1], np.diff(ring.along)) / 2)
    return lean if abs(lean) > EVEN * ring.length**2 else 0.0


def _pair_rings(fore: Ring, aft: Ring, between: Between, part: int) -> RingPair:
    targets = [(share, boundary_of_rings([_simplify(ring)])) for share, ring in between]
    even = is_symmetric(fore) and is_symmetric(aft)
    mirrored = even and all(is_symmetric(ring) for _, ring in between)
    landmarks = _keel_landmarks(fore, aft, between)
    paths = best_paths(fore, aft, landmarks, targets, mirrored=mirrored)
    candidates = [_Candidate(fore, aft, landmarks, paths, (0.0, fore.deck), mirrored)]
    if not even:
        candidates += _pair_by_corners(fore, aft, between, targets)
    if not targets:
        return candidates[-1].pair(part, targets)
    pairs = [candidate.pair(part, targets) for candidate in candidates]
    quality = [_quality(pair, between, targets) for pair in pairs]
    if quality[0][0] > FINE:
        enough = AS_GREAT * min(greatest for greatest, _ in quality) + FINE / 10
        for path in _near_enough(fore, aft, (BY_LENGTH, angle_path(fore, aft)), targets, enough):
            pairs.append(_along_path(fore, aft, path).pair(part, targets))
            quality.append(_quality(pairs[-1], between, targets))
    return pairs[_best_index(quality)]


def _along_path(fore: Ring, aft: Ring, path: Floats) -> _Candidate:
    ends = [Landmark(0.0, 0.0, "keel"), Landmark(fore.length, aft.length, "keel")]
    return _Candidate(fore, aft, ends, [path], (0.0, fore.deck))


def _near_enough(fore: Ring, aft: Ring, paths: Sequence[Floats], targets: Targets, enough: float) -> list[Floats]:
    """Those paths round whole rings whose wires, apart from corners, lie within `enough` mm of all sections."""
    ends: tuple[list[Floats], list[Floats]] = ([], [])
    for path in paths:
        along = path * (fore.length, aft.length)
        sums = along.sum(axis=1)
        even = np.linspace(0.0, sums[-1], WIRES, endpoint=False)
        for face, ring in enumerate((fore, aft)):
            ends[face].append(point_at(ring, np.interp(even, sums, along[:, face])))
    _, worst = squared_misses(np.concatenate(ends[0]), np.concatenate(ends[1]), targets)
    return [path for path, squares in zip(paths, worst.reshape(-1, WIRES), strict=True) if squares.max() <= enough**2]


def _simplify(ring: Ring) -> Floats:
    """The ring's points (n, 2) without those within THIN of the line between their neighbours."""
    thin = shapely.simplify(shapely.linestrings(ring.closed), THIN, preserve_topology=False)
    points = shapely.get_coordinates(thin)[:-1]
    return points if len(points) > 2 else ring.points  # noqa: PLR2004 - a triangle


def _best_index(quality: Sequence[tuple[float, float]]) -> int:
    """Index of the least greatest distance; of equally good ones the least mean square; of equal ones the first."""
    least = min(greatest for greatest, _ in quality)
    near = [n for n, (greatest, _) in enumerate(quality) if greatest <= AS_GREAT * least + FINE / 10]
    lowest = min(quality[n][1] for n in near)
    return next(n for n in near if quality[n][1] <= AS_GOOD * lowest + (FINE / 10) ** 2)


def _pair_by_corners(fore: Ring, aft: Ring, between: Between, targets: Targets) -> list[_Candidate]:
    """The pairing by common corners alone, ignoring keel and deck; empty if there is none. Without sections between the
    faces, every corner must have a partner.
    """
    start = _start_at_corner(fore, aft, between)
    if start is None or not (targets or len(start[2]) - 1 == len(fore.corners) == len(aft.corners)):
        return []
    begun, partner, landmarks, turned = start
    paths = best_paths(begun, partner, landmarks, targets, mirrored=False)
    return [_Candidate(begun, partner, landmarks, paths, (-turned % fore.length, (fore.deck - turned) % fore.length))]


def _quality(pair: RingPair, between: Between, targets: Targets) -> tuple[float, float]:
    """Greatest and mean square distance, mm and mm2, of the wires from the sections; corners of the sections count too,
    by their distance from the ruled surface.
    """
    sums = pair.along_fore + pair.along_aft
    even = np.linspace(0.0, sums[-1], WIRES, endpoint=False)
    closed = [np.vstack([ring, ring[:1]]) for ring in (pair.fore, pair.aft)]
    wires = [np.column_stack([np.interp(even, sums, ring[:, axis]) for axis in (0, 1)]) for ring in closed]
    mean, worst = squared_misses(wires[0], wires[1], targets)
    greatest = float(worst.max())
    for share, ring in between:
        if ring.corners:
            line = shapely.linestrings((1 - share) * closed[0] + share * closed[1])
            corners = shapely.points([(corner.y, corner.z) for corner in ring.corners])
            greatest = max(greatest, float((shapely.distance(line, corners) ** 2).max()))
    return float(np.sqrt(greatest)), float(mean.mean())


def angle_path(fore: Ring, aft: Ring) -> Floats:
    """Shares (p, 2) of both rings at equal angles from their beginning, each seen from its centroid. Where an outline
    folds back, its angle stays constant.
    """
    share = np.linspace(0.0, 1.0, 721)
    path = np.column_stack([np.interp(share, _angles(ring, share), share) for ring in (fore, aft)])
    path[0], path[-1] = 0.0, 1.0
    fresh = np.concatenate([[True], np.diff(path.sum(axis=1)) > 0])
    return np.asarray(path[fresh])


def _angles(ring: Ring, share: Floats) -> Floats:
    """Share of a whole turn at shares of the ring, never falling."""
    centre = shapely.get_coordinates(shapely.centroid(shapely.polygons(ring.closed)))[0]
    away = point_at(ring, share * ring.length) - centre
    turned = np.unwrap(np.arctan2(away[:, 1], away[:, 0]))
    return np.clip(np.maximum.accumulate(turned - turned[0]) / (2 * np.pi), 0.0, 1.0)


def pair_along(fore: Ring, aft: Ring, path: Floats | None = None) -> RingPair:
    """The pairing of two rings along a given path; there is a stop at each of its bends. The path holds shares (p, 2)
    of both rings, monotone from (0, 0) to (1, 1), no two rows the same. None pairs by arc length.
    """
    places = (BY_LENGTH if path is None else path) * (fore.length, aft.length)
    kinds = ["keel", *["even"] * (len(places) - 2), "keel"]
    stops = [Landmark(on_fore, on_aft, kind) for (on_fore, on_aft), kind in zip(places.tolist(), kinds, strict=True)]
    return pair_evenly(fore, aft, stops, 0, (0.0, fore.deck))


def _keel_landmarks(fore: Ring, aft: Ring, between: Between) -> list[Landmark]:
    return [
        Landmark(0.0, 0.0, "keel"),
        *continued_corners(fore, aft, between),
        Landmark(fore.length, aft.length, "keel"),
    ]


def _start_at_corner(fore: Ring, aft: Ring, between: Between) -> tuple[Ring, Ring, list[Landmark], float] | None:
    """Both rings starting at their first common corner, the landmarks, and the fore ring's shift in mm."""
    corners = continued_corners_round(fore, aft, between)
    if not corners:
        return None
    first = corners[0]
    moved = [Landmark(mark.fore - first.fore, (mark.aft - first.aft) % aft.length, mark.kind) for mark in corners]
    closing = Landmark(fore.length, aft.length, "corner")
    return start_ring_at(fore, first.fore), start_ring_at(aft, first.aft), [*moved, closing], first.fore


def led_rings(fore: Ring, aft: Ring, guide: RingPair) -> RingPair | None:
    """The pairing along the stops of a guide, which pairs two rings of nearly the same shape. None where a corner that
    is a stop of the guide has no counterpart.
    """
    fore_places = _same_places(fore, guide.fore, guide.along_fore, [(stop.fore, stop.kind) for stop in guide.stops])
    aft_places = _same_places(aft, guide.aft, guide.along_aft, [(stop.aft, stop.kind) for stop in guide.stops])
    if fore_places is None or aft_places is None:
        return None
    turned = fore_places[0]
    keel, deck = -turned % fore.length, (fore.deck - turned) % fore.length
    stops = [Landmark(0.0, 0.0, guide.stops[0].kind)]
    for on_fore, on_aft, stop in zip(fore_places[1:], aft_places[1:], guide.stops[1:], strict=True):
        after = Landmark((on_fore - turned) % fore.length, (on_aft - aft_places[0]) % aft.length, stop.kind)
        if after.fore >= stops[-1].fore and after.aft >= stops[-1].aft:
            stops.append(after)
        elif stop.kind != "even":
            return None
    stops.append(Landmark(fore.length, aft.length, stops[0].kind))
    return pair_evenly(start_ring_at(fore, turned), start_ring_at(aft, aft_places[0]), stops, guide.part, (keel, deck))


def _same_places(ring: Ring, points: Floats, along: Floats, stops: Sequence[tuple[float, str]]) -> list[float] | None:
    """Places in mm along a ring that correspond to the stops of another ring of nearly the same shape, each given as mm
    along and kind. A corner becomes the nearest corner of the ring; None where that is too far away.
    """
    closed = np.vstack([points, points[:1]])
    spots = np.column_stack([np.interp([place for place, _ in stops], along, closed[:, axis]) for axis in (0, 1)])
    nearest = shapely.line_locate_point(shapely.linestrings(ring.closed), shapely.points(spots)).tolist()
    corners = np.array([(corner.y, corner.z) for corner in ring.corners]).reshape(-1, 2)
    places = []
    for spot, near, (_, kind) in zip(spots, nearest, stops, strict=True):
        if kind == "corner":
            apart = np.hypot(*(corners - spot).T)
            if not apart.size or apart.min() > CORNER_STRAY * ring.length:
                return None
            near = ring.corners[int(apart.argmin())].along  # noqa: PLW2901 - a corner goes to a corner
        places.append(0.0 if kind == "keel" else ring.deck if kind == "deck" else near)
    return places
