"""The attitude in which a body comes to rest, and its righting arms.

A body of constant weight floats where its potential energy is least: where G lies as low above B as any turn allows,
with as much water displaced as it weighs at every turn. For a small turn the energy changes by the horizontal distance
of G and B, and this distance by BM less BG, the second moment of the waterplane over the volume less the height of G
above B (Barrass & Derrett, Ship Stability for Masters and Mates). So Newton's steps go down to rest from any attitude:

    steep or hollow energy         the step is shortened until the energy falls as it should
    saddle, top of a hill          it goes down the steepest way; exactly on top a nudge decides
    no righting at all (a ball)    every attitude is at rest
"""

import math
from collections.abc import Sequence

import numpy as np

from profiles.arrays import Floats
from profiles.body.immersed import Floater, Immersed
from profiles.body.waterplane import plane_up
from profiles.values import dataclass

STILL = 1e-9
"""Of the body's size: G and B so nearly above each other are at rest."""

FARTHEST = 0.4
"""Radians; the longest turn of one step: the waterplane of a farther one has another shape."""

NUDGE = 0.02
"""Radians, about a degree, to starboard: what a ripple does to a body that stands on edge."""

FALLS = 1e-4
"""Share of the expected fall of the energy that a step must have (Armijo's rule)."""

UNSEEN = 1e-12
"""Of the body's size: a fall of the energy that may be rounding."""

MOST_STEPS = 200

FLAT = 1e-9
"""Of the body's size: righting that is less than this is none."""


@dataclass(frozen=True, slots=True)
class Attitude:
    """A body at some attitude, with as much water displaced as it weighs."""

    up: Floats
    """(3,)."""
    under: Immersed
    away: Floats
    """(3,) mm, from B to G."""

    @property
    def energy(self) -> float:
        """Height of G above B, mm: the potential energy over the weight."""
        return float(self.up @ self.away)

    @property
    def lever(self) -> Floats:
        """(3,) mm, the horizontal part of the way from B to G."""
        return np.asarray(self.away - self.up * self.energy)

    def righting(self, axes: Floats) -> Floats:
        """(2, 2) mm: how the lever grows with a turn of one radian towards each of two directions (2, 3)."""
        stiff = axes @ self.under.waterplane.second @ axes.T / self.under.volume
        return np.asarray(stiff - self.energy * np.eye(2))


def attitude(floater: Floater, volume: float, cg: Floats, up: Floats, height: float | None = None) -> Attitude:
    """The body turned so that `up` (3,) is up, sunk until it displaces `volume` mm3; `cg` (3,) mm is G."""
    under = floater.sink(up, volume, height)
    return Attitude(up, under, cg - under.centre)


def come_to_rest(floater: Floater, volume: float, cg: Floats, up: Floats | None = None) -> Attitude:
    """Where a body set free comes to rest, first upright or with `up` (3,) up.

    `volume` mm3 is what it displaces, less than its whole volume, and `cg` (3,) mm is where its weight acts.
    """
    now = attitude(floater, volume, cg, np.array([0.0, 0.0, 1.0]) if up is None else up / np.linalg.norm(up))
    still = STILL * floater.size
    for _ in range(MOST_STEPS):
        axes = now.under.plane.axes
        slope = axes @ now.lever
        values, ways = np.linalg.eigh(now.righting(axes))
        at_rest = float(np.hypot(*slope)) <= still
        if at_rest and values[0] >= -FLAT * floater.size:
            break
        if at_rest:
            # Up to starboard: a body that falls over falls to port as readily, and one of the two is reported.
            way = ways[:, 0] * (-1.0 if ways[1, 0] > 0 else 1.0)
            now = attitude(floater, volume, cg, _turned(now.up, NUDGE * way @ axes), now.under.plane.height)
            continue
        step = -(ways.T @ slope) / np.maximum(np.abs(values), FLAT * floater.size)
        step = ways @ step * min(1.0, FARTHEST / float(np.hypot(*step)))
        after = _step_down(floater, volume, cg, now, step @ axes)
        if after is None:
            break
        now = after
    return now


def _step_down(floater: Floater, volume: float, cg: Floats, now: Attitude, step: Floats) -> Attitude | None:
    """The attitude after a step (3,) in radians, halved until the energy falls; None where it does not.

    Near rest the fall is lost in rounding; there the lever must become shorter.
    """
    expected = float(now.lever @ step)
    for _ in range(40):
        after = attitude(floater, volume, cg, _turned(now.up, step), now.under.plane.height)
        if abs(expected) < UNSEEN * floater.size:
            return after if np.linalg.norm(after.lever) < np.linalg.norm(now.lever) else None
        if after.energy <= now.energy + FALLS * expected:
            return after
        step, expected = step / 2, expected / 2
    return None


def _turned(up: Floats, step: Floats) -> Floats:
    """The direction up (3,) turned towards a tangent (3,) by its length in radians."""
    angle = float(np.linalg.norm(step))
    turned = up * math.cos(angle) + step * (math.sin(angle) / angle if angle else 0.0)
    return np.asarray(turned / np.linalg.norm(turned))


@dataclass(frozen=True, slots=True)
class Arm:
    """The righting arm at an angle of heel."""

    heel: float
    """Degrees to starboard."""
    arm: float
    """mm; negative where it heels further."""
    trim: float
    """Degrees by the bow, as the body trims by itself."""


@dataclass(frozen=True, slots=True)
class Righting:
    """Righting arms from upright to keel up, and what they say."""

    arms: tuple[Arm, ...]
    vanishing: float | None
    """Degrees at which the arm becomes negative, beyond the first angle at which it is positive; None if it never does.
    """
    zero: float
    """mm; smaller arms are none."""

    @property
    def stable(self) -> bool:
        """Whether it rights itself from the first angle beyond upright."""
        return self.arms[1].arm > 0 and not self.indifferent

    @property
    def indifferent(self) -> bool:
        """Whether it stays at any angle of heel, as a round body does."""
        return all(abs(arm.arm) <= self.zero for arm in self.arms)

    @property
    def ever(self) -> bool:
        """Whether it rights itself from any angle."""
        return self.largest.arm > self.zero

    @property
    def largest(self) -> Arm:
        """The largest arm."""
        return max(self.arms, key=lambda arm: arm.arm)


HEELS = tuple(float(angle) for angle in range(0, 181, 5))
"""Degrees."""

EXACT = 0.01
"""Degrees; the angle of vanishing stability is not sought more closely."""

ZERO = 1e-4
"""Of the body's size: a smaller arm turns nothing that floats; facets of a round body give as much."""


def righting_arms(
    floater: Floater, volume: float, cg: Floats, heels: Sequence[float] = HEELS, trim: float = 0.0
) -> Righting:
    """Righting arms at angles of heel in degrees, ascending, with constant displacement and free trim; `trim` in
    degrees by the bow is a first guess.
    """
    arms: list[Arm] = []
    height = None
    for heel in heels:
        arm, height = _arm_at(floater, volume, cg, heel, arms[-1].trim if arms else trim, height)
        arms.append(arm)
    return Righting(tuple(arms), _vanishing_angle(floater, volume, cg, arms), ZERO * floater.size)


def _vanishing_angle(floater: Floater, volume: float, cg: Floats, arms: Sequence[Arm]) -> float | None:
    zero = ZERO * floater.size
    first = next((k for k, arm in enumerate(arms) if k and arm.arm > zero), len(arms))
    after = next((k for k in range(first, len(arms)) if arms[k].arm < -zero), None)
    if after is None:
        return None
    before = max(k for k in range(after) if arms[k].arm > zero)
    return _vanishing(floater, volume, cg, arms[before], arms[after])


def _vanishing(floater: Floater, volume: float, cg: Floats, before: Arm, after: Arm) -> float:
    """Where the arm becomes zero between two angles, by halving."""
    while after.heel - before.heel > EXACT:
        middle, _ = _arm_at(floater, volume, cg, (before.heel + after.heel) / 2, before.trim)
        before, after = (middle, after) if middle.arm > 0 else (before, middle)
    return (before.heel + after.heel) / 2


def _arm_at(
    floater: Floater, volume: float, cg: Floats, heel: float, trim: float, height: float | None = None
) -> tuple[Arm, float]:
    """The arm at an angle of heel, and the height of the water: the trim is free and goes to where energy is least."""
    phi = math.radians(heel)
    across = np.array([0.0, math.cos(phi), math.sin(phi)])
    now = attitude(floater, volume, cg, plane_up(heel, trim), height)
    for _ in range(MOST_STEPS):
        along = np.cross(across, now.up)
        slope = float(along @ now.lever)
        if abs(slope) <= STILL * floater.size:
            break
        stiff = float(now.righting(np.stack([along, across]))[0, 0])
        step = -slope / max(abs(stiff), FLAT * floater.size)
        step = max(-FARTHEST, min(FARTHEST, step))
        after = _step_down(floater, volume, cg, now, step * along)
        if after is None:
            break
        now = after
    trim = math.degrees(math.atan2(now.up[0], float(now.up @ np.array([0.0, -math.sin(phi), math.cos(phi)]))))
    return Arm(heel, float(-now.away @ across) + 0.0, trim + 0.0), now.under.plane.height
