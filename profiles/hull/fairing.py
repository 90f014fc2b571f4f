"""Points -> a fair line through them, as a loftsman bends a batten: smooth between corners, straight where they are.

corner          the line breaks there and begins again
straight run    three points in line, unless the line bends to one side before them and to the other behind: that
                is a line that changes its bend in passing. A straight run stays straight, and what joins it leaves
                in its direction
the rest        cubic splines over the lengths of the chords, with continuous curvature; free ends are "not a knot".
                Such a spline is as near to a smooth curve as the fourth power of the spacing (M. S. Floater,
                "Chordal cubic spline interpolation is fourth-order accurate", IMA J. Numer. Anal. 26, 2006)
overshoot       a coordinate that rises from point to point rises between them, too: where the spline does not, its
                slopes at both ends are cut to three times the smaller of the two chords' (C. de Boor, B. Swartz,
                "Piecewise monotone interpolation", J. Approx. Theory 21, 1977). Nowhere else is it touched
"""

import itertools

import numpy as np

from profiles.arrays import Bools, Floats
from profiles.values import dataclass

STRAIGHT = 1e-6
"""Radians; chords that turn by less are in line. A parallel middle body repeats its figures, so it does not turn at
all; figures rounded to 0.01 mm turn by more."""

FLAT = 1e-9
"""mm for each mm; a spline that falls by less where it should rise is rounding."""


@dataclass(frozen=True, slots=True)
class FairLine:
    """Cubic pieces between points, each given by its ends and by the slopes there."""

    points: Floats
    """(n, k) mm."""
    chords: Floats
    """(n - 1,) mm: the length of each chord, over which a piece runs."""
    start: Floats
    """(n - 1, k) mm for each mm: the slope in which a piece begins."""
    end: Floats
    """(n - 1, k): that in which it ends."""

    def at(self, piece: int, share: Floats) -> Floats:
        """Points (m, k) mm of one piece, at shares (m,) of its chord from 0 to 1."""
        return hermite(
            share[:, None],
            self.chords[piece],
            (self.points[piece], self.points[piece + 1]),
            (self.start[piece], self.end[piece]),
        )

    def at_first(self, value: float) -> Floats:
        """The point (k,) mm whose first coordinate is `value`; the nearest end where it lies beyond the ends.

        The first coordinate must ascend from point to point.
        """
        place = self.points[:, 0]
        piece = int(np.clip(place.searchsorted(value, "right") - 1, 0, len(self.chords) - 1))
        ends = (place[piece : piece + 1], place[piece + 1 : piece + 2])
        slopes = (self.start[piece, :1], self.end[piece, :1])
        share = solve_hermite(min(max(value, place[0]), place[-1]), self.chords[piece : piece + 1], ends, slopes)
        point: Floats = self.at(piece, share)[0]
        return point


def hermite(share: Floats, chord: Floats, ends: tuple[Floats, Floats], slopes: tuple[Floats, Floats]) -> Floats:
    """Points of cubic pieces at shares of their chords; all arrays of shapes that numpy brings together."""
    rest = 1 - share
    kept: Floats = ends[0] * (rest * rest * (1 + 2 * share)) + ends[1] * (share * share * (1 + 2 * rest))
    bent: Floats = chord * share * rest * (slopes[0] * rest - slopes[1] * share)
    return kept + bent


HALVINGS = 12
NEWTON_STEPS = 4
"""A share within 2^-12 has, after four of Newton's steps, all the digits that there are."""


def solve_hermite(value: float, chord: Floats, ends: tuple[Floats, Floats], slopes: tuple[Floats, Floats]) -> Floats:
    """The shares (m,) at which ascending cubic pieces, all arrays (m,), reach `value`; 0 or 1 for those beyond it."""
    low, high = np.zeros_like(ends[0]), np.ones_like(ends[0])
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        short = hermite(middle, chord, ends, slopes) < value
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    share = (low + high) / 2
    for _ in range(NEWTON_STEPS):
        lacking = value - hermite(share, chord, ends, slopes)
        slope = _slope(share, (ends[1] - ends[0]) / chord, slopes) * chord
        step = np.divide(lacking, slope, out=np.zeros_like(share), where=slope > FLAT * chord)
        share = np.clip(share + step, low, high)
    share[ends[0] >= value] = 0.0
    share[ends[1] <= value] = 1.0
    return share


def _slope(share: Floats, secant: Floats, slopes: tuple[Floats, Floats]) -> Floats:
    """Slope of cubic pieces at shares of their chords."""
    rest = 1 - share
    result: Floats = slopes[0] * rest * (1 - 3 * share) + 6 * secant * share * rest + slopes[1] * share * (1 - 3 * rest)
    return result


def fair(points: Floats, corners: Bools | None = None) -> FairLine:
    """The fair line through points (n, k) mm, no two neighbours in one place, with corners where `corners` (n,) is set.

    Two points make a straight line; three that bend make a parabola.
    """
    sharp = np.zeros(len(points), dtype=bool) if corners is None else corners
    steps = np.diff(points, axis=0)
    chords = np.sqrt((steps**2).sum(axis=1))
    ways = steps / chords[:, None]
    straight = _straight(ways, sharp)
    start, end = ways.copy(), ways.copy()
    along = np.concatenate([[0.0], np.cumsum(chords)])
    breaks = sharp[1:-1] | straight[1:] | straight[:-1]
    for first, last in _pieces(breaks):
        if straight[first]:
            continue
        before = ways[first - 1] if first and not sharp[first] else None
        after = ways[last] if last < len(ways) and not sharp[last] else None
        slopes = _slopes(along[first : last + 1], points[first : last + 1], before, after)
        start[first:last], end[first:last] = slopes[:-1], slopes[1:]
    return FairLine(points, chords, start, end)


def _straight(ways: Floats, sharp: Bools) -> Bools:
    """(n - 1,): whether each chord is part of a straight run; `ways` (n - 1, k) are their directions."""
    straight = np.zeros(len(ways), dtype=bool)
    turns = np.diff(ways, axis=0)
    level = (turns**2).sum(axis=1) < STRAIGHT**2
    for knot in np.flatnonzero(level & ~sharp[1:-1]):
        around = [turns[n] for n in (knot - 1, knot + 1) if 0 <= n < len(turns) and not sharp[n + 1] and not level[n]]
        if len(around) < 2 or around[0] @ around[1] > 0:  # noqa: PLR2004 - a bend on either side
            straight[knot : knot + 2] = True
    return straight


def _pieces(breaks: Bools) -> list[tuple[int, int]]:
    """First and last point of each piece between breaks, given for the inner points of a line."""
    ends = [0, *(np.flatnonzero(breaks) + 1).tolist(), len(breaks) + 1]
    return list(itertools.pairwise(ends))


def _slopes(along: Floats, points: Floats, before: Floats | None, after: Floats | None) -> Floats:
    """(m, k) slopes of the spline through the points (m, k) of a piece, limited where it overshoots; `before` and
    `after` (k,) are the directions of straight runs that it joins.
    """
    from scipy.interpolate import CubicSpline  # slow to import, and no mesh needs it

    ends = tuple("not-a-knot" if way is None else (1, way) for way in (before, after))
    slopes: Floats = CubicSpline(along, points, bc_type=ends)(along, 1)  # type: ignore[arg-type]
    secants = np.diff(points, axis=0) / np.diff(along)[:, None]
    early = secants[0] if before is None else before
    late = secants[-1] if after is None else after
    around = np.concatenate([early[None], secants, late[None]])
    signs = np.sign(np.where(np.abs(around) > FLAT, around, 0.0))
    three = np.stack([signs[:-2], signs[1:-1], signs[2:]])
    rises = np.sign(three.sum(axis=0))
    one_way = three.min(axis=0) * three.max(axis=0) >= 0
    lowest = _lowest_slope(secants * rises, slopes[:-1] * rises, slopes[1:] * rises)
    bent = np.abs(slopes[:-1]) + np.abs(slopes[1:]) > FLAT
    over = one_way & np.where(rises != 0, lowest < -FLAT, bent)
    most = 3 * np.minimum(np.abs(around[:-1]), np.abs(around[1:]))
    for piece, axis in zip(*np.nonzero(over), strict=True):
        for knot in (piece, piece + 1):
            way = rises[piece, axis]
            slopes[knot, axis] = way * min(max(way * slopes[knot, axis], 0.0), most[knot, axis])
    return slopes


def _lowest_slope(secant: Floats, start: Floats, end: Floats) -> Floats:
    """The least slope within cubic pieces, all arrays of one shape."""
    bend = start + end - 2 * secant
    share = np.divide(2 * start + end - 3 * secant, 3 * bend, out=np.zeros_like(bend), where=np.abs(bend) > FLAT)
    inner = _slope(np.clip(share, 0.0, 1.0), secant, (start, end))
    return np.minimum(np.minimum(start, end), inner)
