"""How fast the two hands go along a path, beside each other.

A wire that nearly stands still at one end burns a hollow there. So neither hand should be much slower than the other
(common practice: about 3 to 1). With u the ways of both hands together and v their difference, that is a limit on how
steep v is over u.
"""

import numpy as np

from profiles.arrays import Floats

FASTEST = 3.0
"""Largest ratio of the hands' speeds that is aimed at (common practice)."""

STEEPEST = (FASTEST - 1) / (FASTEST + 1)
"""The same as a slope of v over u."""

BURNS = 5.0
"""mm; on shorter ways no hand is slow for long enough to burn a hollow."""

RESTS = 0.1
"""mm; a hand that goes no farther while the other goes BURNS or more is at rest: it is half the width of a tick's line,
and no hand moves so little on purpose."""

STEPS = 192
"""Of a path that is bent."""


def limit_speeds(places: Floats) -> Floats:
    """A path near to `places` (p, 2) mm along both rings, on which hands keep within FASTEST, or within the ratio of
    both ways from end to end where that is larger. A path on which they do so already, over BURNS, stays as it is.
    """
    total = float((places[-1] - places[0]).sum())
    steepest = max(STEEPEST, abs(float(np.diff(places[-1] - places[0])[0])) / max(total, 1e-9)) + 1e-9
    rough = _differences(places, max(1, int(total / (2 * BURNS))))
    if (np.abs(np.diff(rough)) <= steepest * total / (len(rough) - 1)).all():
        return places
    v = _differences(places, STEPS)
    u = np.linspace(0.0, total, STEPS + 1)
    rise = steepest * u
    # The lowest line of that slope above the path and the highest below it; the middle is no steeper, nor is it where
    # both ends then hold it back.
    above = np.maximum(np.maximum.accumulate(v + rise) - rise, np.maximum.accumulate((v - rise)[::-1])[::-1] + rise)
    below = np.minimum(np.minimum.accumulate(v - rise) + rise, np.minimum.accumulate((v + rise)[::-1])[::-1] - rise)
    low, high = (np.stack([v[0] + sign * rise, v[-1] + sign * (rise[-1] - rise)]) for sign in (-1, 1))
    v = np.clip((above + below) / 2, low.max(axis=0), high.min(axis=0))
    bent = np.column_stack([u - v, u + v]) / 2
    bent += places[0] - bent[0]
    bent[-1] = places[-1]
    return np.asarray(np.maximum.accumulate(bent, axis=0))


def _differences(places: Floats, steps: int) -> Floats:
    """(steps + 1,) mm, the way on the aft ring less that on the fore ring, at even steps of both together."""
    way = places - places[0]
    sums = way.sum(axis=1)
    return np.asarray(np.interp(np.linspace(0.0, sums[-1], steps + 1), sums, way[:, 1] - way[:, 0]))
