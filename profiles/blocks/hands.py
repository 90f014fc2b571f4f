"""What two hands can do: go evenly between marks, neither of them much slower than the other.

The search for a pairing knows no marks, and its paths may bend anywhere. Here marks are chosen along a path so that
hands that go evenly between them keep to the sections of the hull as well as the path does. On a flat that needs no
marks, for any pairing fits there. Where the wire stands nearly still it burns a hollow; a path that leads it so is bent
until neither hand is more than FASTEST times as fast as the other, if that costs no more than WORTH.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from profiles.arrays import Bools, Floats
from profiles.blocks.boundary import ONE_PLACE
from profiles.blocks.landmarks import Landmark, Ring, point_at
from profiles.blocks.paths import Targets, squared_misses

AS_TRUE = 0.01
"""mm; by so much even hands may be farther from a section than the path ..."""

AS_GOOD = 0.5
"""... is there, or than this share of the farthest that it is between the same two marks."""

ROOM = 4.0
"""mm on either face from a mark that hands need to the next: closer numbers stand on leaders."""

RESTS = 10.0
"""mm that the other hand goes while one rests; a shorter rest is a stair in a path that was searched on a grid."""

WIRES = 24
"""Wires that are looked at between two marks."""


def choose_stops(
    fore: Ring, aft: Ring, landmarks: Sequence[Landmark], places: Floats, targets: Targets
) -> list[Landmark]:
    """The landmarks, and those places between them that even hands need to keep to the path.

    `places` (p, 2) mm along both rings is the path, through all landmarks, of which the last is where it ends;
    `targets` are the hull's sections. Where the path is worse than even hands, it is not followed.
    """
    if not targets or len(places) == len(landmarks):
        return list(landmarks)
    sums = places.sum(axis=1)
    done: list[Landmark] = []
    todo = list(pairwise(_with_rests(landmarks, places)))
    while todo:
        ends = np.array([[(stop.fore, stop.aft) for stop in stretch] for stretch in todo])
        start, run = ends[:, 0, None], (ends[:, 1] - ends[:, 0])[:, None]
        even = start + (np.arange(WIRES)[None, :, None] + 0.5) / WIRES * run
        led = np.column_stack([np.interp(even.sum(axis=2).ravel(), sums, places[:, face]) for face in (0, 1)])
        misses = _misses(fore, aft, np.concatenate([even.reshape(-1, 2), led]), targets).reshape(2, len(todo), WIRES)
        led = led.reshape(even.shape)
        excess = misses[0] - np.maximum(AS_GOOD * misses[1].max(axis=1, keepdims=True), misses[1]) - AS_TRUE
        roomy = np.minimum(led - ends[:, :1], ends[:, 1:] - led).min(axis=2) >= ROOM
        split = (excess.max(axis=1) > 0) & roomy.any(axis=1)
        done += [stretch[0] for stretch, again in zip(todo, split.tolist(), strict=True) if not again]
        todo = [half for n in np.flatnonzero(split).tolist() for half in _halves(todo[n], led[n], excess[n], roomy[n])]
    ascending = sorted(done, key=lambda stop: (stop.fore + stop.aft, stop.fore))
    return [*ascending, landmarks[-1]]


def _with_rests(landmarks: Sequence[Landmark], places: Floats) -> list[Landmark]:
    """The landmarks, and where on the path a hand begins and ends to rest while the other goes on."""
    runs = np.diff(places, axis=0)
    rests = np.flatnonzero((runs.min(axis=1) <= ONE_PLACE) & (runs.max(axis=1) >= RESTS))
    known = {(mark.fore, mark.aft) for mark in landmarks}
    ends = {(float(on_fore), float(on_aft)) for on_fore, on_aft in places[np.union1d(rests, rests + 1)]}
    added = [Landmark(on_fore, on_aft, "even") for on_fore, on_aft in ends - known]
    return sorted([*landmarks, *added], key=lambda stop: (stop.fore + stop.aft, stop.fore))


def _misses(fore: Ring, aft: Ring, wires: Floats, targets: Targets) -> Floats:
    """The greatest distance in mm (n,) of wires, given by mm along both rings (n, 2), from the sections."""
    _, worst = squared_misses(point_at(fore, wires[:, 0]), point_at(aft, wires[:, 1]), targets)
    return np.asarray(np.sqrt(worst))


def _halves(
    stretch: tuple[Landmark, Landmark], led: Floats, excess: Floats, roomy: Bools
) -> tuple[tuple[Landmark, Landmark], tuple[Landmark, Landmark]]:
    """A stretch divided where even hands miss the sections most, as near to there as there is room."""
    worst = int(excess.argmax())
    free = np.flatnonzero(roomy)
    place = led[free[np.abs(free - worst).argmin()]]
    stop = Landmark(float(place[0]), float(place[1]), "even")
    return (stretch[0], stop), (stop, stretch[1])
