"""Refuse outlines that cross themselves too often for a hull, before they cost minutes.

A damaged file may hold a closed surface with its corners in wrong places. Each section is then a tangle: n lines cut
each other into up to n x n pieces, and a hull has some hundred sections.
"""

import numpy as np
import numpy.typing as npt
import shapely

from profiles.arrays import Floats, Ints
from profiles.errors import TangledError

MOST_CROSSINGS = 500
"""Crossings in one outline. Hulls whose shells overlap have some ten. An outline of 8000 corners with this many takes
0.2 s, and a hull is cut at 41 places and more."""

MOST_PARTS = 1000
"""Parts of a section. A hull has some ten; to fill one of twenty thousand, as a damaged file may show, takes 10 s."""

REMEDY = "The file is damaged, or it is not a hull. Export it again, or check it in the modeller."

SAMPLED = 64
"""Segments sampled evenly before an outline is cut at its crossings."""

COMPARED = 4096
"""Segments that each sample is compared with, also spread evenly."""

BUSY = 0.1
"""Share of the segments that must be crossed often: one long edge across many short ones is not a tangle."""

CERTAIN = 4
"""Multiple of MOST_CROSSINGS from which the estimate by samples is certain enough."""

FEW_RINGS = 8
"""Rings, such as the walls of a hollow hull or the hulls of a catamaran. Up to this many simple rings are no tangle."""

FEW = 300
"""Segments; an outline with no more is cut straight away: at most 45 000 crossings, in a second or two."""


def refuse_tangle(rings: list[Floats], x: float) -> None:
    """Raise TangledError where a sample shows that the rings, (n, 2) mm, cross themselves far too often."""
    segment_count = sum(map(len, rings))
    if segment_count <= FEW or (
        len(rings) <= FEW_RINGS and all(shapely.is_valid(shapely.polygons(ring)) for ring in rings)
    ):
        return
    start = np.concatenate(rings)
    end = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    sampled, compared = _spread_evenly(segment_count, SAMPLED), _spread_evenly(segment_count, COMPARED)
    crossed = _count_crossings(start[sampled], end[sampled], start[compared], end[compared])
    least = np.quantile(crossed, 1 - BUSY, method="lower") * segment_count / len(compared)
    crossings = BUSY * segment_count * least / 2  # each is counted from both of its segments
    if crossings > CERTAIN * MOST_CROSSINGS:
        raise _tangled(x, f"some {int(crossings):,} times".replace(",", " "))


def refuse_crossings(pieces: npt.NDArray[np.object_], rings: int, x: float) -> None:
    """Raise TangledError where rings were cut into pieces at more than MOST_CROSSINGS places."""
    if len(pieces) - rings <= MOST_CROSSINGS:
        return
    ends = np.concatenate([shapely.get_coordinates(shapely.get_point(pieces, end)) for end in (0, -1)])
    # Where rings run together, their common corners are ends of pieces too, but of only two.
    _, meeting = np.unique(ends, axis=0, return_counts=True)
    crossings = np.count_nonzero(meeting > 2)  # noqa: PLR2004 - as above
    if crossings > MOST_CROSSINGS:
        raise _tangled(x, f"{crossings} times")


def refuse_parts(region: shapely.MultiPolygon, x: float) -> None:
    """Raise TangledError where a section falls into more than MOST_PARTS parts."""
    parts = len(region.geoms)
    if parts > MOST_PARTS:
        msg = f"the section at x = {x:.2f} mm falls into {parts} separate parts; a hull's has at most {MOST_PARTS}."
        raise TangledError(msg, remedy=REMEDY)


def _tangled(x: float, often: str) -> TangledError:
    return TangledError(
        f"the outline at x = {x:.2f} mm crosses itself {often}; the outline of a hull does so at most "
        f"{MOST_CROSSINGS} times.",
        remedy=REMEDY,
    )


def _spread_evenly(segment_count: int, most: int) -> Ints:
    return np.arange(min(segment_count, most)) * segment_count // min(segment_count, most)


def _count_crossings(start: Floats, end: Floats, others: Floats, other_ends: Floats) -> Ints:
    """(n,) how many of the other segments each segment (n, 2) to (n, 2) crosses; touching is not crossing."""
    a, b, c, d = start[:, None], end[:, None], others[None], other_ends[None]
    apart = (_side_of_line(a, b, c) * _side_of_line(a, b, d) < 0) & (
        _side_of_line(c, d, a) * _side_of_line(c, d, b) < 0
    )
    counts: Ints = np.count_nonzero(apart, axis=1)
    return counts


def _side_of_line(a: Floats, b: Floats, p: Floats) -> Floats:
    """1 or -1 for the side of the line a-b on which p lies, 0 on the line."""
    sides: Floats = np.sign(
        (b[..., 0] - a[..., 0]) * (p[..., 1] - a[..., 1]) - (b[..., 1] - a[..., 1]) * (p[..., 0] - a[..., 0])
    )
    return sides
