"""Two rings and the sections between them -> which point of the one goes with which of the other.

    landmarks    keel, deck and corners that continue cut both rings into stretches, paired in order
    path         in each stretch a monotone line from (0, 0) to (1, 1): shares of the fore and the aft stretch
    knots        all vertices of both rings and all bends of the path, each with its partner on the other ring

A pairing by arc length round the whole ring, or by angle, replaces this where it comes nearer to the sections. An
asymmetric outline may also do without keel and deck as landmarks, and use its corners only.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely

from profiles.arrays import Floats
from profiles.blocks.boundary import ONE_PLACE, boundary_of_rings
from profiles.blocks.landmarks import (
    CORNER_STRAY,
    Between,
    Landmark,
    Ring,
    continued_corners,
    continued_corners_round,
    is_symmetric,
    point_at,
    start_ring_at,
)
from profiles.blocks.paths import AS_GOOD, BY_LENGTH, Targets, best_paths, squared_misses

AS_GREAT = 1.01
"""Pairings whose greatest distances differ by at most 1 % count as equal."""

FINE = 0.02
"""mm; a pairing that is this near everywhere needs no comparison with plainer ones: foam does not show less."""

THIN = 0.0005
"""mm; sections between the faces are simplified to this for the comparison of pairings: far below FINE."""

WIRES = 192
"""Wires of a whole ring on which pairings are compared."""


@dataclass(frozen=True, slots=True)
class RingPair:
    """Two rings with matched vertices: points of equal index are joined by the straight wire."""

    fore: Floats
    """(k, 2) mm, anticlockwise; holds every vertex of the fore ring."""
    aft: Floats
    """(k, 2) mm, the same for the aft ring."""
    along_fore: Floats
    """(k + 1,) mm along the fore ring, its whole length at the end."""
    along_aft: Floats
    hollow: bool
    part: int
    """Rings of one number belong to one part: its outside, then its hollows."""
    landmarks: tuple[Landmark, ...]
    """Where the stretches begin, ascending; the first is at (0, 0)."""
    paths: tuple[Floats, ...]
    """For each stretch (p, 2): shares of the fore and the aft stretch."""
    keel: float
    """mm along the fore ring."""
    deck: float
    """mm along the fore ring."""

    @property
    def from_keel(self) -> bool:
        """Whether keel and deck are landmarks; otherwise the rings begin at a corner."""
        return self.landmarks[0].kind == "keel"


def pair_rings(fore: Ring, aft: Ring, between: Between = (), *, part: int = 0) -> RingPair:
    """The pairing of two rings, given the rings of the sections between, each with its share of the way.

    Without sections, and where these show no preference, stretches are paired by arc length.
    """
    targets = [(share, boundary_of_rings([_simplify(ring)])) for share, ring in between]
    even = is_symmetric(fore) and is_symmetric(aft)
    mirrored = even and all(is_symmetric(ring) for _, ring in between)
    landmarks = _keel_landmarks(fore, aft, between)
    paths = best_paths(fore, aft, landmarks, targets, mirrored=mirrored)
    pairs = [insert_knots(fore, aft, landmarks, paths, part, (0.0, fore.deck))]
    if not even:
        pairs += _pair_by_corners(fore, aft, between, targets, part)
        if not targets:
            return pairs[-1]
    if not targets:
        return pairs[0]
    quality = [_quality(pair, between, targets) for pair in pairs]
    if quality[0][0] > FINE:
        enough = AS_GREAT * min(greatest for greatest, _ in quality) + FINE / 10
        for path in _near_enough(fore, aft, (BY_LENGTH, angle_path(fore, aft)), targets, enough):
            pairs.append(replace(pair_along(fore, aft, path), part=part))
            quality.append(_quality(pairs[-1], between, targets))
    return pairs[_best_index(quality)]


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


def _pair_by_corners(fore: Ring, aft: Ring, between: Between, targets: Targets, part: int) -> list[RingPair]:
    """The pairing by common corners alone, ignoring keel and deck; empty if there is none. Without sections between the
    faces, every corner must have a partner.
    """
    start = _start_at_corner(fore, aft, between)
    if start is None or not (targets or len(start[2]) - 1 == len(fore.corners) == len(aft.corners)):
        return []
    begun, partner, landmarks, turned = start
    paths = best_paths(begun, partner, landmarks, targets, mirrored=False)
    places = (-turned % fore.length, (fore.deck - turned) % fore.length)
    return [insert_knots(begun, partner, landmarks, paths, part, places)]


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
    """The pairing of two rings along a given path; the only landmark is where they begin. The path holds shares (p, 2)
    of both rings, monotone from (0, 0) to (1, 1), no two rows the same. None pairs by arc length.
    """
    ends = [Landmark(0.0, 0.0, "keel"), Landmark(fore.length, aft.length, "keel")]
    return insert_knots(fore, aft, ends, [BY_LENGTH if path is None else path], 0, (0.0, fore.deck))


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
    """The pairing along the paths of a guide, which pairs two rings of nearly the same shape. None where a corner that
    is a landmark of the guide has no counterpart.
    """
    if len(guide.paths) == 1 and guide.from_keel:
        return replace(pair_along(fore, aft, guide.paths[0]), part=guide.part)
    fore_places = _same_places(fore, guide.fore, guide.along_fore, [(mark.fore, mark.kind) for mark in guide.landmarks])
    aft_places = _same_places(aft, guide.aft, guide.along_aft, [(mark.aft, mark.kind) for mark in guide.landmarks])
    if fore_places is None or aft_places is None:
        return None
    turned = fore_places[0]
    keel, deck = -turned % fore.length, (fore.deck - turned) % fore.length
    landmarks = [
        Landmark((on_fore - turned) % fore.length, (on_aft - aft_places[0]) % aft.length, mark.kind)
        for on_fore, on_aft, mark in zip(fore_places, aft_places, guide.landmarks, strict=True)
    ]
    if any(after.fore <= mark.fore or after.aft <= mark.aft for mark, after in pairwise(landmarks)):
        return None
    landmarks.append(Landmark(fore.length, aft.length, landmarks[0].kind))
    begun = start_ring_at(fore, turned), start_ring_at(aft, aft_places[0])
    return insert_knots(*begun, landmarks, list(guide.paths), guide.part, (keel, deck))


def _same_places(ring: Ring, points: Floats, along: Floats, marks: Sequence[tuple[float, str]]) -> list[float] | None:
    """Places in mm along a ring that correspond to the landmarks `marks` of another ring of nearly the same shape, each
    given as mm along and kind. A corner becomes the nearest corner of the ring; None where that is too far away.
    """
    closed = np.vstack([points, points[:1]])
    corners = np.array([(corner.y, corner.z) for corner in ring.corners]).reshape(-1, 2)
    places = []
    for place, kind in marks:
        if kind != "corner":
            places.append(0.0 if kind == "keel" else ring.deck)
            continue
        apart = np.hypot(*(corners - [np.interp(place, along, closed[:, axis]) for axis in (0, 1)]).T)
        if not apart.size or apart.min() > CORNER_STRAY * ring.length:
            return None
        places.append(ring.corners[int(apart.argmin())].along)
    return places


def insert_knots(
    fore: Ring,
    aft: Ring,
    landmarks: Sequence[Landmark],
    paths: Sequence[Floats],
    part: int,
    keel_and_deck: tuple[float, float],
) -> RingPair:
    """The pair of rings with a knot at every vertex of either and at every bend of the paths."""
    alongs = [
        _knots(fore, aft, start, end, path)
        for start, end, path in zip(landmarks[:-1], landmarks[1:], paths, strict=True)
    ]
    along = np.concatenate([*alongs, [(fore.length, aft.length)]])
    points = [
        np.column_stack([np.interp(along[:-1, face], ring.along, ring.closed[:, axis]) for axis in (0, 1)])
        for face, ring in enumerate((fore, aft))
    ]
    return RingPair(
        fore=points[0],
        aft=points[1],
        along_fore=along[:, 0],
        along_aft=along[:, 1],
        hollow=fore.hollow,
        part=part,
        landmarks=tuple(landmarks[:-1]),
        paths=tuple(paths),
        keel=keel_and_deck[0],
        deck=keel_and_deck[1],
    )


def _knots(fore: Ring, aft: Ring, start: Landmark, end: Landmark, path: Floats) -> Floats:
    """(k, 2) places in mm along both rings of the knots of one stretch, without its end."""
    lengths = np.maximum([end.fore - start.fore, end.aft - start.aft], ONE_PLACE)
    begins = np.array([start.fore, start.aft])
    size = float(lengths.mean())
    sums = path.sum(axis=1)
    vertices = [
        ring.along[(ring.along > low + ONE_PLACE) & (ring.along < high - ONE_PLACE)]
        for ring, low, high in ((fore, start.fore, end.fore), (aft, start.aft, end.aft))
    ]
    shares = [
        (places_inside - begin) / length for places_inside, begin, length in zip(vertices, begins, lengths, strict=True)
    ]
    places = np.concatenate([sums[:-1], *(np.interp(shares[face], path[:, face], sums) for face in (0, 1))])
    owned = np.full((len(places), 2), -np.inf)
    first = len(sums) - 1
    owned[0] = begins
    owned[first : first + len(shares[0]), 0] = vertices[0]
    owned[first + len(shares[0]) :, 1] = vertices[1]
    order = np.argsort(places, kind="stable")
    places, owned = places[order], owned[order]
    fresh = np.flatnonzero(np.concatenate([[True], np.diff(places) > ONE_PLACE / size]))
    kept = np.maximum.reduceat(owned, fresh, axis=0)
    along = begins + lengths * np.column_stack([np.interp(places[fresh], sums, path[:, axis]) for axis in (0, 1)])
    closing = np.array([end.fore, end.aft])
    return np.column_stack([_merge_places(along[:, face], kept[:, face], closing[face]) for face in (0, 1)])


def _merge_places(along: Floats, owned: Floats, end: float) -> Floats:
    """Places along one ring, ascending, with those closer together than ONE_PLACE made equal: to the place `owned` by a
    vertex if there is one (-inf elsewhere), or to the `end` of the stretch.

    Rounding would otherwise leave edges of almost no length, and a vertex slightly beside the outline.
    """
    along = np.maximum.accumulate(np.where(np.isfinite(owned), owned, along))
    fresh = np.concatenate([[True], np.diff(along) > ONE_PLACE])
    first = np.flatnonzero(fresh)
    held = np.maximum.reduceat(owned, first)
    place = np.where(np.isfinite(held), held, along[first])
    place[place > end - ONE_PLACE] = end
    return np.asarray(place[np.cumsum(fresh) - 1])
