"""The body of a hull without what stands on it: fins, keels, masts and wings do not count as fullness."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import MultiPolygon

from profiles.arrays import Floats
from profiles.hull.plugs import fill_to_plug
from profiles.hull.trial_sections import TrialSection
from profiles.values import dataclass

THICK = 0.5
"""Of the radius of the largest circle in the usual section: what is thinner than this diameter is no body."""

COARSE = 0.002
"""Of breadth and depth together: outlines are so coarse while fins are taken off them."""

END = 0.2
"""Of the length: so far from an end fins are those of that end."""


@dataclass(frozen=True, slots=True)
class Cores:
    """What trial sections show of the body."""

    x: Floats
    """(n,) mm."""
    areas: Floats
    """(n,) mm2 of the filled sections without fins."""
    fins: tuple[float, float]
    """Of all area near the low and the high end, what stands out above, below and beside the body there."""


def find_cores(trials: Sequence[TrialSection]) -> Cores:
    """The body in trial sections, at least one of them with area; neighbours stand in for those that stay open.

    A section is opened by a radius: what is thinner than its diameter goes.
    """
    known = [trial for trial in trials if trial.region is not None]
    plugs = [_coarse_plug(trial.region) for trial in known if trial.region is not None]
    radius = THICK * float(np.median([_inner_radius(plug) for plug in plugs if not plug.is_empty]))
    cores = shapely.buffer(shapely.buffer(plugs, -radius), radius)
    places = np.array([trial.x for trial in known])
    x = np.array([trial.x for trial in trials])
    near = int((places <= x[0] + END * (x[-1] - x[0])).sum()), int((places >= x[-1] - END * (x[-1] - x[0])).sum())
    fins = _outstanding(plugs, cores, near[0]), _outstanding(plugs[::-1], cores[::-1], near[1])
    return Cores(x, np.interp(x, places, shapely.area(cores)), fins)


def _outstanding(plugs: Sequence[shapely.Geometry], cores: Sequence[shapely.Geometry], count: int) -> float:
    """The share of the first `count` sections that lies outside the box of their cores, or of the first core aft."""
    total = float(sum(plug.area for plug in plugs[:count]))
    last = max(count, next(k for k, core in enumerate(cores) if not core.is_empty) + 1)
    box = shapely.box(*shapely.union_all(cores[:last]).bounds)
    return sum(float(plug.difference(box).area) for plug in plugs[:count]) / total if total else 0.0


def _coarse_plug(region: MultiPolygon) -> shapely.Geometry:
    if region.is_empty:
        return region
    coarse = region.simplify(_step(region))  # first, for most of the points go here
    return fill_to_plug(coarse if isinstance(coarse, MultiPolygon) else MultiPolygon([coarse]))


def _inner_radius(plug: shapely.Geometry) -> float:
    return float(shapely.maximum_inscribed_circle(plug, tolerance=_step(plug)).length)


def _step(shape: shapely.Geometry) -> float:
    y_low, z_low, y_high, z_high = shape.bounds
    return COARSE * float(y_high - y_low + z_high - z_low)
