"""The hull inside a block: its sections between two stations, made once for all who measure them.

They are at the Gauss-Lobatto points: both ends, and points between them that are denser towards the ends. With the
weights of the rule, m sections give the exact volume of a body whose area is a polynomial of degree up to 2 m - 3.
"""

from collections.abc import Callable
from functools import cache

import numpy as np
import shapely
from shapely import MultiPolygon

from profiles.arrays import Bools, Floats, Ints
from profiles.blocks.boundary import Boundary, boundary_of, rings_of, simplify_region
from profiles.errors import HullError
from profiles.hull.sections import Side
from profiles.hull.shape import Shape
from profiles.values import dataclass

INSIDE = 5
"""Default number of sections inside a block. With the search for the worst place it gives the largest deviation of a
smooth hull to 1 %."""

OTHERS = 2
"""Extra sections that confirm growth, in addition to those that determine it."""

ROUND = 160
"""Even places round a ring where deviation is measured: every 2.5 mm on a 400 mm ring. Kinks come on top."""

KINK_DEGREES = 8.0
"""Degrees; at vertices that turn by more deviation is measured too, since it is greatest there."""

Cut = Callable[[float], MultiPolygon | None]
"""x in mm -> the hull's section there, (y, z) mm; None where it cannot be closed."""


@dataclass(frozen=True, slots=True)
class InsideSection:
    """One section of the hull inside a block, ready for measurements."""

    share: float
    """Share of the way from the fore to the aft face."""
    region: MultiPolygon
    """(y, z) mm, never empty."""
    boundary: Boundary
    places: Floats
    """(k, 2) mm, points on the boundary: even steps and kinks."""
    even: Bools
    """(k,) which of the places are even steps."""
    weight: float
    """Weight in integrals along the block; 0 for a section that was added to find an extreme."""


@dataclass(frozen=True, slots=True)
class Inside:
    """The hull between two stations."""

    x_fore: float
    """mm."""
    x_aft: float
    """mm."""
    sections: tuple[InsideSection, ...]
    """Ordered by share; the two faces come first and last if they have area."""
    unmeasured: int
    """Number of sections left out because they have no area or stay open."""

    @property
    def thickness(self) -> float:
        """Thickness of the block in mm."""
        return self.x_aft - self.x_fore

    @property
    def volume(self) -> float:
        """Volume in mm3 of the hull between the stations, integrated over the sections."""
        return float(self.thickness * sum(section.weight * section.region.area for section in self.sections))

    def points(self, section: InsideSection) -> Floats:
        """The places of a section in space, (k, 3) mm."""
        x = np.full(len(section.places), self.x_fore + section.share * self.thickness)
        return np.column_stack([x, section.places])

    @property
    def between(self) -> tuple[tuple[float, MultiPolygon], ...]:
        """Share and region of the sections, without the ends."""
        return tuple((section.share, section.region) for section in self.sections if 0.0 < section.share < 1.0)


def hull_cut(shape: Shape) -> Cut:
    """A function that cuts a shape and simplifies its sections, each once; at a wall the limit from forward."""

    @cache
    def cut(x: float) -> MultiPolygon | None:
        try:
            return simplify_region(shape.section(x, Side.FORE).region)
        except HullError:
            return None

    return cut


def hull_inside(
    cut: Cut, x_fore: float, x_aft: float, fore: MultiPolygon, aft: MultiPolygon, count: int = INSIDE
) -> Inside:
    """The hull between two stations, by `count` sections inside. `fore` and `aft` are the limits at its ends."""
    shares, weights = lobatto(count + 2)
    regions = [
        simplify_region(fore),
        *(cut(x_fore + share * (x_aft - x_fore)) for share in shares[1:-1].tolist()),
        simplify_region(aft),
    ]
    closed = np.array([region is not None for region in regions])
    weights = weights / weights[closed].sum()
    sections = tuple(
        _inside_section(share, region, weight)
        for share, region, weight in zip(shares.tolist(), regions, weights.tolist(), strict=True)
        if region is not None and not region.is_empty
    )
    inner = sum(0.0 < section.share < 1.0 for section in sections)
    return Inside(x_fore, x_aft, sections, count - inner)


def add_section(inside: Inside, cut: Cut, share: float) -> Inside:
    """`inside` with one more section, if the hull has one at this share."""
    region = cut(inside.x_fore + share * inside.thickness)
    if region is None or region.is_empty:
        return inside
    sections = sorted((*inside.sections, _inside_section(share, region, 0.0)), key=lambda section: section.share)
    return Inside(inside.x_fore, inside.x_aft, tuple(sections), inside.unmeasured)


def control_points(inside: Inside, cut: Cut) -> Floats:
    """Points (k, 3) mm that confirm growth: round all sections and round OTHERS more, half-way in the widest gaps."""
    shares = np.array([section.share for section in inside.sections])
    widest = np.argsort(-np.diff(shares), kind="stable")[:OTHERS]
    regions = [(section.share, section.region) for section in inside.sections]
    for share in np.sort((shares[widest] + shares[widest + 1]) / 2).tolist():
        region = cut(inside.x_fore + share * inside.thickness)
        if region is not None:
            regions.append((share, region))
    points = [np.zeros((0, 3))]
    for share, region in regions:
        for ring in rings_of(region):
            places = _confirming_places(shapely.get_coordinates(ring))
            points.append(np.column_stack([np.full(len(places), inside.x_fore + share * inside.thickness), places]))
    return np.concatenate(points)


def _confirming_places(ring: Floats) -> Floats:
    """Places (k, 2) mm round a ring (n + 1, 2): its vertices and the middles between them; of more than 2 x ROUND
    vertices only some, and those that turn more than KINK_DEGREES.
    """
    if len(ring) <= 2 * ROUND:
        return np.concatenate([ring[1:], (ring[1:] + ring[:-1]) / 2])
    return np.concatenate([ring[1 :: len(ring) // ROUND], ring[find_kinks(ring[:-1])]])


@cache
def lobatto(count: int) -> tuple[Floats, Floats]:
    """Places and weights of the Gauss-Lobatto rule with `count` points on [0, 1] (Abramowitz and Stegun 25.4.32).

    >>> places, weights = lobatto(3)  # Simpson's rule
    >>> places.tolist(), (6 * weights).round(9).tolist()
    ([0.0, 0.5, 1.0], [1.0, 4.0, 1.0])
    """
    legendre = np.polynomial.Legendre.basis(count - 1)
    inner = np.sort(np.real(legendre.deriv().roots()))
    inner = (inner - inner[::-1]) / 2
    places = np.concatenate([[-1.0], inner, [1.0]])
    weights = 2 / (count * (count - 1) * legendre(places) ** 2)
    return (places + 1) / 2, weights / 2


def _inside_section(share: float, region: MultiPolygon, weight: float) -> InsideSection:
    places = [_sample_places(shapely.get_coordinates(ring)[:-1]) for ring in rings_of(region)]
    even = np.concatenate([np.arange(len(ring_places)) < ROUND for ring_places in places])
    return InsideSection(share, region, boundary_of(region), np.concatenate(places), even, weight)


def _sample_places(ring: Floats) -> Floats:
    """(k, 2) mm: ROUND even places round a ring (n, 2), then its kinks."""
    closed = np.vstack([ring, ring[:1]])
    way = np.diff(closed, axis=0)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(way[:, 0], way[:, 1]))])
    even = np.linspace(0.0, along[-1], ROUND, endpoint=False)
    places = np.column_stack([np.interp(even, along, closed[:, axis]) for axis in (0, 1)])
    return np.vstack([places, ring[find_kinks(ring)]])


def find_kinks(ring: Floats) -> Ints:
    """Numbers of the vertices of a ring (n, 2) that turn more than KINK_DEGREES."""
    out = np.roll(ring, -1, axis=0) - ring
    into = np.roll(out, 1, axis=0)
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    turn = np.abs(np.arctan2(cross, (into * out).sum(axis=1)))
    return np.flatnonzero(turn > np.radians(KINK_DEGREES))
