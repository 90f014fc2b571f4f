"""Where a hull's lines are drawn: stations, waterlines and buttocks, and the lines of its knuckles."""

import numpy as np

from profiles.arrays import Floats
from profiles.hull.frame import Hull
from profiles.hull.lofted_shape import LoftedShape
from profiles.values import dataclass

STATIONS, WATERLINES, BUTTOCKS = 11, 6, 3
"""Lines that are drawn where the hull's file gives none, or fewer than FEW."""

FEW = 3

KNUCKLE_POINTS = 200
"""Points along a knuckle."""


@dataclass(frozen=True, slots=True)
class LinePlaces:
    """Places of lines in the hull frame, mm, ascending."""

    stations: tuple[float, ...]
    """x."""
    waterlines: tuple[float, ...]
    """z."""
    buttocks: tuple[float, ...]
    """y."""
    knuckles: tuple[Floats, ...] = ()
    """Points (n, 3) along each."""


def line_places(hull: Hull) -> LinePlaces:
    """The lines that a table or drawing gives; even ones for a mesh, and where the file gives fewer than FEW."""
    low, high = hull.shape.bounds
    shape = hull.shape if isinstance(hull.shape, LoftedShape) else None
    given = shape.drawn if shape else ((), (), ())
    even = (
        np.linspace(low[0], high[0], STATIONS),
        np.linspace(low[2], high[2], WATERLINES + 1)[1:-1],
        np.linspace(0.0, high[1], BUTTOCKS + 2)[1:-1],
    )
    stations, waterlines, buttocks = (
        mine if len(mine) >= FEW else tuple(others.tolist()) for mine, others in zip(given, even, strict=True)
    )
    return LinePlaces(stations, waterlines, buttocks, _knuckles(shape) if shape else ())


def _knuckles(shape: LoftedShape) -> tuple[Floats, ...]:
    """The knuckles between keel and sheer."""
    inner = shape.places.borders[1:-1]
    if not len(inner):
        return ()
    places = np.union1d(np.linspace(shape.x[0], shape.x[-1], KNUCKLE_POINTS), shape.x)
    halves = np.array([shape.half(x)[inner] for x in places.tolist()])
    return tuple(np.column_stack([places, halves[:, n]]) for n in range(len(inner)))
