"""Round holes across the hull that are wider than a slit: to be bored later, and closed in the sections meanwhile.

A block is cut from face to face. A hole that goes in from the deck or the side and is gone before the next face is not
for the wire, however wide. It shows where its sections are narrow, at its foremost and aftermost edge. A square pit is
none: it begins and ends in walls across the hull, which get stations of their own.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
import shapely

from profiles.arrays import Floats
from profiles.errors import HullError
from profiles.hull.later import Later
from profiles.hull.sections import Side, section
from profiles.hull.surface import Surface

WIDEST = 40.0
"""mm; a wider hole is not bored but carved. Common practice: the largest hole saws of a home workshop."""

ALIKE = 0.1
"""Of its width: by so much the two edges of a hole may differ in place and depth."""

INNER, OUTER = 0.4, 0.55
"""Of its width: at so much beside the middle of a round hole it is open, or there is foam."""

FINEST = 0.02
"""mm; so exactly the ends of a hole are found."""

AIR = 0.5
"""mm round a hole, of which the closed section is made."""

Box = tuple[float, ...]


def join_bores(surface: Surface, found: Sequence[Later]) -> tuple[tuple[Later, ...], tuple[Box, ...]]:
    """Narrow places of a surface, ascending, with those that are two edges of one round hole as one; and the boxes of
    these holes: least x, y, z and greatest x, y, z, mm.
    """
    left = list(found)
    boxes = []
    for fore, aft in combinations(found, 2):
        if fore in left and aft in left and (bore := _bore(surface, fore, aft)):
            left = [later for later in left if later not in (fore, aft)] + [bore]
            boxes.append((*(at - AIR for at in bore.low), *(at + AIR for at in bore.high)))
    return tuple(sorted(left, key=lambda later: later.low)), tuple(boxes)


def _bore(surface: Surface, fore: Later, aft: Later) -> Later | None:
    """The round hole of which two narrow places are the edges, or None."""
    upright = fore.direction in {"straight down", "straight up"}
    if fore.direction != aft.direction or not fore.direction.startswith("straight"):
        return None
    if not 0 < aft.mouth[0] - fore.mouth[0] <= WIDEST or fore.high[0] > aft.low[0]:
        return None
    middle = np.array([fore.mouth, aft.mouth]).mean(axis=0)
    low, high = np.minimum(fore.low, aft.low), np.maximum(fore.high, aft.high)
    across, along = (1, 2) if upright else (2, 1)
    inside = middle.copy()
    inside[along] = (low[along] + high[along]) / 2
    low[0], high[0] = (_edge(surface, inside, float(end)) for end in (low[0] - AIR, high[0] + AIR))
    width = float(high[0] - low[0])
    middle[0] = inside[0] = (low[0] + high[0]) / 2
    off = max(abs(fore.mouth[across] - aft.mouth[across]), abs(fore.depth - aft.depth))
    beside = [inside + share * width * np.eye(3)[across] for share in (-OUTER, -INNER, 0.0, INNER, OUTER)]
    if off > ALIKE * width or [_is_foam(surface, at) for at in beside] != [True, False, False, False, True]:
        return None
    low[across], high[across] = middle[across] - width / 2, middle[across] + width / 2
    return replace(fore, low=_point(low), high=_point(high), mouth=_point(middle), width=width)


def _edge(surface: Surface, inside: Floats, end: float) -> float:
    """X mm of the edge of a hole between a point (3,) inside it and a place `end` outside."""
    x = inside.copy()
    within, outside = float(inside[0]), end
    while abs(outside - within) > FINEST:
        x[0] = (within + outside) / 2
        within, outside = (within, float(x[0])) if _is_foam(surface, x) else (float(x[0]), outside)
    return (within + outside) / 2


def _is_foam(surface: Surface, point: Floats) -> bool:
    try:
        region = section(surface, float(point[0]), Side.AFT).region
    except HullError:
        return False
    return bool(shapely.contains_xy(region, point[1], point[2]))


def _point(values: Floats) -> tuple[float, float, float]:
    x, y, z = values.tolist()
    return x, y, z
