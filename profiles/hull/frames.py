"""Frames: half the outline of a hull at a station, from the keel up to the sheer, and where its knuckles are.

Tables and drawings both become frames. Knuckles cut a frame into strakes; a place on it is a strake and a share of that
strake's length. Places with the same strake and share belong together from frame to frame.
"""

from collections.abc import Sequence

import numpy as np

from profiles.arrays import Bools, Floats, Ints
from profiles.hull.fairing import FairLine, fair
from profiles.values import dataclass

FINE = 64
"""Points drawn between two of a table. In a bend of 10 mm radius points 10 mm apart then lie within 0.0003 mm of it."""

SAGITTA = 0.002
"""mm; the most that the chords between places may leave out. The promise between stations is 0.1 mm."""

LOOKED_AT = 8
"""Parts of a chord between which a frame is compared with it, so that no bend is overlooked."""

MOST = 1000
"""Places on a strake; a quarter of a circle of 500 mm radius needs 300."""

ROUNDS = 7
"""Times that places are put between places: 128 between two that are given."""

SAME = 1e-7
"""Shares of a strake that differ by less are one place."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Half of one section."""

    x: float
    """mm along the hull."""
    points: Floats
    """(m, 2) mm, half-breadth and height, from keel to sheer; two equal ones for an end in a point."""
    knots: Floats
    """(k,) mm along the outline: the places that are given and must be met exactly."""
    knuckles: Floats
    """(s - 1,) mm along the outline, where strakes meet; NaN where the knuckle is not known at this frame."""

    @property
    def along(self) -> Floats:
        """(m,) mm along the outline up to each of its points."""
        return measure_along(self.points)


def measure_along(points: Floats) -> Floats:
    """(m,) mm along a chain of points (m, k) up to each of them."""
    steps = np.sqrt((np.diff(points, axis=0) ** 2).sum(axis=1))
    return np.concatenate([[0.0], np.cumsum(steps)])


def fair_frame(x: float, points: Floats, sharp: Bools, knuckles: Sequence[int | None]) -> Frame:
    """The frame through points (n, 2) of a table, from keel to sheer; `sharp` (n,) marks corners, `knuckles` holds the
    number of each knuckle's point, or None.
    """
    if len(points) == 1:
        return Frame(x, np.repeat(points, 2, axis=0), np.zeros(0), np.zeros(len(knuckles)))
    outline = draw(fair(points, sharp))
    along = measure_along(outline)
    knots = along[::FINE]
    return Frame(x, outline, knots, np.array([np.nan if at is None else knots[at] for at in knuckles]))


def draw(line: FairLine) -> Floats:
    """A fair line as points, FINE for each of its pieces, and its last point."""
    shares = np.arange(FINE) / FINE
    pieces = [line.at(piece, shares) for piece in range(len(line.chords))]
    return np.concatenate([*pieces, line.points[-1:]])


@dataclass(frozen=True, slots=True)
class Places:
    """Places on every frame, in the order from keel to sheer."""

    strake: Ints
    """(p,) number of the strake, from 0."""
    share: Floats
    """(p,) from 0 to below 1 in each strake; the last place has 1."""

    @property
    def borders(self) -> Ints:
        """(s + 1,) the places of the keel, the knuckles and the sheer."""
        return np.append(np.flatnonzero(self.share == 0.0), len(self.share) - 1)


def complete_knuckles(frames: Sequence[Frame]) -> list[Floats]:
    """(s + 1,) mm along each frame: keel, knuckles, sheer.

    A knuckle that a frame lacks lies at the share of the outline that follows from the frames before and behind.
    """
    totals = np.array([frame.along[-1] for frame in frames])
    known = np.array([frame.knuckles for frame in frames]).reshape(len(frames), -1)
    x = np.array([frame.x for frame in frames])
    shares = known / np.where(totals > 0, totals, 1.0)[:, None]
    for column in shares.T:
        here = np.isfinite(column) & (totals > 0)
        column[~here] = np.interp(x[~here], x[here], column[here])
    shares = np.maximum.accumulate(shares, axis=1)
    ends = np.zeros((len(frames), 1)), np.ones((len(frames), 1))
    return list(np.hstack([ends[0], shares, ends[1]]) * totals[:, None])


def choose_places(frames: Sequence[Frame], borders: Sequence[Floats]) -> Places:
    """Places close enough for every frame: all that is given in any of them, and more where an outline bends."""
    strakes = [_shares(frames, borders, strake) for strake in range(len(borders[0]) - 1)]
    numbers = np.repeat(np.arange(len(strakes)), [len(shares) - 1 for shares in strakes])
    inner = np.concatenate([shares[:-1] for shares in strakes])
    return Places(np.append(numbers, numbers[-1]), np.append(inner, 1.0))


def _shares(frames: Sequence[Frame], borders: Sequence[Floats], strake: int) -> Floats:
    """Shares of one strake from 0 to 1."""
    given = [np.array([0.0, 1.0])]
    for frame, border in zip(frames, borders, strict=True):
        low, high = border[strake : strake + 2]
        if high > low:
            shares = (frame.knots - low) / (high - low)
            given.append(shares[(shares > SAME) & (shares < 1 - SAME)])
    shares = np.unique(np.concatenate(given))
    shares = shares[np.append(np.diff(shares) > SAME, True)]
    for _ in range(ROUNDS):
        bulges = [
            _bulge(frame, border[strake : strake + 2], shares) for frame, border in zip(frames, borders, strict=True)
        ]
        wanted = np.max(bulges, axis=0) > SAGITTA
        if not wanted.any() or len(shares) + wanted.sum() > MOST:
            break
        middles = (shares[1:] + shares[:-1]) / 2
        shares = np.sort(np.concatenate([shares, middles[wanted]]))
    return np.asarray(shares)


def _bulge(frame: Frame, border: Floats, shares: Floats) -> Floats:
    """How far a strake lies from the chords between shares (n,) of it: (n - 1,) mm."""
    ends = points_at(frame, border, shares)
    result = np.zeros(len(shares) - 1)
    for part in np.arange(1, LOOKED_AT) / LOOKED_AT:
        inner = points_at(frame, border, shares[:-1] + part * np.diff(shares))
        apart = inner - ends[:-1] - part * np.diff(ends, axis=0)
        np.maximum(result, np.sqrt((apart**2).sum(axis=1)), out=result)
    return result


def points_at(frame: Frame, border: Floats, shares: Floats) -> Floats:
    """Points (n, 2) mm of a frame at shares (n,) of the strake that lies between two borders (2,) mm along it."""
    return _points_along(frame, border[0] + shares * (border[1] - border[0]))


def frame_points(frame: Frame, border: Floats, places: Places) -> Floats:
    """(p, 2) mm: a frame at all places."""
    low, high = border[places.strake], border[places.strake + 1]
    return _points_along(frame, low + places.share * (high - low))


def _points_along(frame: Frame, lengths: Floats) -> Floats:
    """(n, 2) mm: points of a frame at lengths (n,) mm from its keel."""
    along = frame.along
    return np.column_stack([np.interp(lengths, along, column) for column in frame.points.T])
