"""Trial sections along a hull show where it is full, hollow or stepped, its volume, and a datum that fits."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import MultiPolygon

from profiles.arrays import Floats
from profiles.errors import HullError, TangledError
from profiles.hull.bridges import Gap
from profiles.hull.plugs import filled_area
from profiles.hull.sections import Side, section
from profiles.hull.surface import Surface, doubled_normals
from profiles.hull.tangles import refuse_parts
from profiles.values import dataclass

STATIONS = 41
"""Places at which a hull is cut to find its nose and datum: every 2 or 3 % of its length, about 0.1 s."""

END = 0.002
"""Share of the length between an end and the first trial section: twice the rounding of a mesh's end."""

INTERVALS = 120
"""Intervals of the volume integral, with 2-point Gauss in each: exact where the area is a cubic in an interval."""

STEP = 0.02
"""Share of the largest section; a smaller wall across the hull is not a step."""

SQUARE_ON = 1e-9
"""1 - |cosine| below which a face is square to the length. Walls that are drawn flat are exactly square."""

STEPS_TRIED = 60
"""Walls tested, largest first. A mesh with more is stepped everywhere, such as one built of cubes."""

SHELL = 0.6
"""Area of a section over that of its filled outline; the hull is hollow where it is less."""

FLAT_TOP = 0.6
"""Breadth near the top over the greatest breadth; from this on the median section has a deck. A circle has 0.44."""

NEAR_TOP = 0.05
"""Share of the height: how far below the top that breadth is taken."""

EDGE = 1e-6
"""mm added before rounding to whole mm, so that a hull keeps its datum wherever it lies in its file."""


@dataclass(frozen=True, slots=True)
class TrialSection:
    """A hull cut at one place."""

    x: float
    region: MultiPolygon | None
    """(y, z) mm, or None where the section stays open."""
    solid_area: float
    """mm2 of the filled section; 0 where it stays open."""
    fault: str = ""
    bridges: tuple[Gap, ...] = ()
    """Gaps and openings that were closed."""


def cut_trial_sections(surface: Surface) -> tuple[TrialSection, ...]:
    """STATIONS sections of a hull, from END to END of its length.

    Raises HullError where not a single one closes, TangledError at the first that crosses itself all over.
    """
    low, high = surface.bounds
    length = float(high[0] - low[0])
    places = low[0] + length * np.linspace(END, 1 - END, STATIONS)
    result, faults = [], []
    for x in places.tolist():
        try:
            cut = section(surface, x, Side.AFT)
        except TangledError:
            raise
        except HullError as fault:
            faults.append(fault)
            result.append(TrialSection(x, None, 0.0, fault.message))
        else:
            refuse_parts(cut.region, x)
            result.append(TrialSection(x, cut.region, filled_area(cut.region), bridges=cut.bridges))
    if len(faults) == STATIONS:
        raise faults[STATIONS // 2]
    if not any(trial.solid_area > 0 for trial in result):
        msg = f"expected a body with volume, found no area in any of {STATIONS} sections along {length:.4g} mm."
        raise HullError(msg, remedy="Export the hull as a closed body, or as its whole outer skin.")
    return tuple(result)


def reverse_trial_sections(trials: Sequence[TrialSection], length: float) -> tuple[TrialSection, ...]:
    """The trial sections of the hull turned end for end about its upright axis."""
    return tuple(
        TrialSection(
            length - trial.x,
            None if trial.region is None else shapely.transform(trial.region, lambda points: points * [-1, 1]),
            trial.solid_area,
            trial.fault,
            tuple(_turn_gap(gap, length) for gap in trial.bridges),
        )
        for trial in reversed(trials)
    )


def _turn_gap(gap: Gap, length: float) -> Gap:
    (y, z), (v, w) = gap.start, gap.end
    return replace(gap, x=length - gap.x, start=(-y, z), end=(-v, w))


def is_shell(trials: Sequence[TrialSection]) -> float | None:
    """The median share of their outline that hollow sections fill; None where fewer than a quarter are hollow."""
    filled = [trial for trial in trials if trial.region is not None and trial.solid_area > 0]
    shares = [trial.region.area / trial.solid_area for trial in filled if trial.region is not None]
    hollow = [share for share in shares if share < SHELL]
    return float(np.median(hollow)) if 4 * len(hollow) >= len(shares) else None


def wall_thickness(trials: Sequence[TrialSection]) -> float:
    """The usual thickness in mm of the walls of hollow sections, from their areas and the lengths of their outlines."""
    regions = [
        trial.region
        for trial in trials
        if trial.region is not None and 0 < trial.region.area < SHELL * trial.solid_area
    ]
    return float(np.median([2 * region.area / region.length for region in regions]))


def is_flat_topped(trials: Sequence[TrialSection]) -> bool:
    """Whether the section of median area is broad just below its top, as below a deck."""
    cut = sorted(
        (trial for trial in trials if trial.region is not None and trial.solid_area > 0),
        key=lambda trial: trial.solid_area,
    )
    region = cut[len(cut) // 2].region
    if region is None or region.is_empty:
        return False
    y_low, z_low, y_high, z_high = region.bounds
    z = z_high - NEAR_TOP * (z_high - z_low)
    top = region.intersection(shapely.LineString([(y_low - 1, z), (y_high + 1, z)]))
    if top.is_empty:
        return False
    return bool(top.bounds[2] - top.bounds[0] > FLAT_TOP * (y_high - y_low))


def datum_height(trials: Sequence[TrialSection], lowest: float, depth: float) -> float:
    """Height above the lowest point, in whole mm, that lies inside most sections on the centre plane.

    It is the middle of the best stretch, or half the depth where nothing is on the centre plane, as between twin hulls.
    """
    spans = [span for trial in trials if trial.region is not None for span in _on_centre(trial.region)]
    if not spans:
        return _round_to_mm(depth / 2)
    ends = np.array(sorted({end for span in spans for end in span}))
    middles = (ends[1:] + ends[:-1]) / 2
    bottoms, tops = np.array(spans).T
    inside = ((bottoms[None] < middles[:, None]) & (tops[None] > middles[:, None])).sum(axis=1)
    best = np.flatnonzero(inside == inside.max())
    # Equally good stretches that touch count as one.
    runs = np.split(best, np.flatnonzero(np.diff(best) > 1) + 1)
    run = max(runs, key=lambda run: (round(float(ends[run[-1] + 1] - ends[run[0]]), 6), -int(run[0])))
    bottom, top = float(ends[run[0]]) - lowest, float(ends[run[-1] + 1]) - lowest
    rounded = _round_to_mm((bottom + top) / 2)
    return rounded if bottom < rounded < top else (bottom + top) / 2


def _on_centre(region: MultiPolygon) -> list[tuple[float, float]]:
    """The stretches (low z, high z) of the line y = 0 that lie in a region."""
    if region.is_empty:
        return []
    _, low, _, high = region.bounds
    line = region.intersection(shapely.LineString([(0.0, low - 1), (0.0, high + 1)]))
    parts = [part for part in shapely.get_parts(line) if part.geom_type == "LineString"]
    return [(part.bounds[1], part.bounds[3]) for part in parts if part.bounds[3] > part.bounds[1]]


def _round_to_mm(value: float) -> float:
    return float(math.floor(value + 0.5 + EDGE))


def mesh_volume(surface: Surface) -> float:
    """Volume, mm3, enclosed by a closed surface, by the divergence theorem, measured from its middle."""
    low, high = surface.bounds
    middle = ((low + high) / 2)[:, None]
    normals = doubled_normals(surface.vertices, surface.faces)
    # A scalar product of the linear algebra library would start threads, which wait longer than they work.
    return sum(float(np.einsum("ij,ij->", corner - middle, normal)) for _, corner, normal in normals) / 6


def section_volume(surface: Surface, steps: Sequence[float] = ()) -> float:
    """Volume of a hull in mm3 from its sections: 2-point Gauss over INTERVALS intervals, which end at the steps.

    Neighbours stand in for a section that stays open.
    """
    low, high = surface.bounds
    x, weights = gauss_stations(float(low[0]), float(high[0]), steps)
    areas = np.full(len(x), np.nan)
    for index, at in enumerate(x.tolist()):
        try:
            areas[index] = section(surface, at, Side.AFT).region.area
        except HullError:
            continue
    known = np.isfinite(areas)
    if not known.any():
        return 0.0
    return float(weights @ np.interp(x, x[known], areas[known]))


def gauss_stations(low: float, high: float, steps: Sequence[float]) -> tuple[Floats, Floats]:
    """(n,) mm and (n,) mm: places and weights of a composite 2-point Gauss rule with joints at the steps."""
    joints = np.array([low, *sorted(step for step in steps if low < step < high), high])
    shares = np.maximum(1, np.round(INTERVALS * np.diff(joints) / (high - low)).astype(int))
    parts = [np.linspace(a, b, n + 1).tolist() for a, b, n in zip(joints[:-1], joints[1:], shares, strict=True)]
    edges = np.array(sorted({edge for part in parts for edge in part}))
    middle, half = (edges[1:] + edges[:-1]) / 2, np.diff(edges) / 2
    x = np.stack([middle - half / math.sqrt(3), middle + half / math.sqrt(3)], axis=1).reshape(-1)
    return x, np.repeat(half, 2)


def steps_along(surface: Surface, largest: float) -> tuple[float, ...]:
    """Places in mm of walls across the hull where the sections before and behind differ by more than STEP.

    `largest` is the area of the largest section, mm2. The two ends of the hull are not steps.
    """
    low, high = surface.bounds
    length = float(high[0] - low[0])
    level = surface.x_high - surface.x_low <= SQUARE_ON * length
    level &= (surface.x_low > low[0] + END * length) & (surface.x_high < high[0] - END * length)
    flat = np.flatnonzero(level)
    a, b, c = (surface.vertices[surface.faces[flat, k]] for k in range(3))
    normal = np.cross(b - a, c - a) / 2
    size = np.linalg.norm(normal, axis=1)
    square_on = np.abs(normal[:, 0]) >= (1 - SQUARE_ON) * size
    flat, size = flat[square_on], size[square_on]
    if not len(flat):
        return ()
    ascending = np.argsort(surface.x_low[flat], kind="stable")
    x, size = surface.x_low[flat[ascending]], size[ascending]
    wall = np.concatenate([[0], np.cumsum(np.diff(x) > SQUARE_ON * length)])
    area = np.bincount(wall, size)
    place = x[np.searchsorted(wall, np.arange(len(area)))]
    big = np.flatnonzero(area > STEP * largest)
    tried = big[np.argsort(-area[big], kind="stable")][:STEPS_TRIED]
    return tuple(sorted(float(at) for at in place[tried] if _differs(surface, float(at), STEP * largest)))


def _differs(surface: Surface, x: float, least: float) -> bool:
    try:
        fore, aft = (section(surface, x, side).region for side in (Side.FORE, Side.AFT))
    except HullError:
        return True
    return bool(fore.symmetric_difference(aft).area > least)
