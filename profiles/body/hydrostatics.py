"""Figures of a body at a plane of water: displacement, form, stability.

Terms and formulas as in Barrass & Derrett, Ship Stability for Masters and Mates: BM = I/V, GM = KM - KG, block
coefficient V/(L B T), waterplane coefficient A/(L B), midship coefficient Am/(B T), prismatic coefficient V/(Am L).
L and B are those of the waterplane, T is the greatest depth under water, and Am is the largest section under water.
"""

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.body.immersed import Floater, Immersed
from profiles.body.waterplane import STEEP, WaterPlane
from profiles.hull.surface import Mesh
from profiles.values import dataclass

SECTIONS = (101, 21, 21)
"""Places at which the area under water is taken to find the largest, then closer together round the largest so far. Of
the first the middle of the body is one.
"""


@dataclass(frozen=True, slots=True)
class Hydrostatics:
    """A body at a plane of water. Lengths mm, areas mm2, volumes mm3, weights g; None where there is no such figure."""

    plane: WaterPlane
    volume: float
    displacement: float
    """g."""
    wetted: float
    waterplane: float
    """Area."""
    draught: float
    """Greatest depth under water."""
    draught_fore: float | None
    """Height of the water above the lowest point of the hull, at the fore end of the waterline."""
    draught_aft: float | None
    length: float
    """Of the waterplane."""
    beam: float
    """Of the waterplane."""
    ends: tuple[float, float]
    """X of the fore and aft end of the waterline."""
    lcb: float
    """X of the centre of buoyancy."""
    tcb: float
    """Y of it."""
    vcb: float
    """Height of it above the lowest point of the hull."""
    lcf: float
    """X of the middle of the waterplane."""
    bm_across: float
    bm_along: float
    above_b: float
    """Height of the centre of gravity above that of buoyancy, BG, at right angles to the water."""
    block: float | None
    prismatic: float | None
    midship: float | None
    waterplane_share: float | None
    """Waterplane coefficient."""
    sinkage: float
    """mm that 100 g more sink it."""
    trim_moment: float
    """g mm that trim it by 1 mm between the ends of the waterline; negative where it has no stability along."""

    @property
    def gm_across(self) -> float:
        """Metacentric height, mm."""
        return self.bm_across - self.above_b

    @property
    def gm_along(self) -> float:
        """Metacentric height along the hull, mm."""
        return self.bm_along - self.above_b

    @property
    def km_across(self) -> float:
        """Metacentre above the lowest point, mm, for a hull on an even keel."""
        return self.vcb + self.bm_across

    @property
    def km_along(self) -> float:
        """Metacentre along the hull above the lowest point, mm, for a hull on an even keel."""
        return self.vcb + self.bm_along


def hydrostatics(floater: Floater, under: Immersed, cg: Floats, lowest: float, density: float) -> Hydrostatics:
    """All figures of a body that is partly under water.

    `cg` (3,) mm is the centre of gravity, `lowest` the z in mm of the lowest point, `density` of the water in g/mm3.
    """
    plane, area, volume = under.plane, under.waterplane, under.volume
    axes, up = plane.axes, np.array(plane.up)
    second = axes @ area.second @ axes.T / volume
    line = under.start @ axes.T
    (fore, left), (aft, right) = line.min(axis=0).tolist(), line.max(axis=0).tolist()
    length, beam = aft - fore, right - left
    x = under.start[:, 0]
    ends = float(x.min()), float(x.max())
    draught = plane.height - floater.reach(up)[0]
    draughts = [None if (z := plane.z_at(end)) is None else z - lowest for end in ends]
    displacement = volume * density
    above_b = float(up @ (cg - under.centre))
    largest = largest_section(floater.mesh, plane)
    return Hydrostatics(
        plane=plane,
        volume=volume,
        displacement=displacement,
        wetted=under.wetted,
        waterplane=area.amount,
        draught=draught,
        draught_fore=draughts[0],
        draught_aft=draughts[1],
        length=length,
        beam=beam,
        ends=ends,
        lcb=float(under.centre[0]),
        tcb=float(under.centre[1]),
        vcb=float(under.centre[2]) - lowest,
        lcf=float(area.centre[0]),
        bm_across=float(second[1, 1]),
        bm_along=float(second[0, 0]),
        above_b=above_b,
        block=_share(volume, length * beam * draught),
        prismatic=None if largest is None else _share(volume, largest * length),
        midship=None if largest is None else _share(largest, beam * draught),
        waterplane_share=_share(area.amount, length * beam),
        sinkage=100.0 / (density * area.amount) if area.amount else float("inf"),
        trim_moment=displacement * (float(second[0, 0]) - above_b) / length if length else 0.0,
    )


def _share(part: float, whole: float) -> float | None:
    return part / whole if whole > 0 else None


def largest_section(mesh: Mesh, plane: WaterPlane) -> float | None:
    """Area in mm2 of the largest section across the hull that is under water; None where the hull stands on end."""
    _, y, z = plane.up
    if np.hypot(y, z) < STEEP:
        return None
    x = mesh[0][:, 0]
    low, high = float(x.min()), float(x.max())
    largest = 0.0
    for count in SECTIONS:
        places = np.linspace(low, high, count)
        areas = sections_under_water(mesh, plane, places)
        best = int(areas.argmax())
        largest = max(largest, float(areas[best]))
        low, high = float(places[max(best - 1, 0)]), float(places[min(best + 1, count - 1)])
    return largest


def sections_under_water(mesh: Mesh, plane: WaterPlane, places: Floats) -> Floats:
    """Areas (k,) mm2 under water of sections at x (k,) mm, each as the limit from forward.

    In each section u runs along the water and s up from it. The area under water is the integral of s du along the
    outline where s is negative: along the waterline itself, which closes it, s is zero. So pieces of the outline are
    added in any order.
    """
    vertices, faces = mesh
    x = vertices[:, 0]
    _, y, z = plane.up
    size = float(np.hypot(y, z))
    u = (z * vertices[:, 1] - y * vertices[:, 2]) / size
    s = (y * vertices[:, 1] + z * vertices[:, 2] - (plane.height - plane.up[0] * x)) / size
    corners = x[faces]
    first = np.searchsorted(places, corners.min(axis=1), side="right")
    count = np.searchsorted(places, corners.max(axis=1), side="right") - first
    count[s[faces].min(axis=1) >= 0] = 0  # a face with no corner under water adds nothing
    # Each face once for every place that cuts it.
    cut = np.repeat(faces, count, axis=0)
    number = np.repeat(first - np.cumsum(count) + count, count) + np.arange(len(cut))
    return np.abs(np.bincount(number, _areas_below(x, u, s, cut, places[number]), len(places)))


def _areas_below(x: Floats, u: Floats, s: Floats, faces: Ints, places: Floats) -> Floats:
    """(k,) the integral of s du over the piece that a plane at x of `places` (k,) cuts out of each of the faces (k, 3),
    where s is negative.
    """
    aft = x[faces] >= places[:, None]
    alone_aft = aft.sum(axis=1) == 1
    first = np.argmax(aft == alone_aft[:, None], axis=1)
    rows = np.arange(len(faces))
    a, b, c = (faces[rows, (first + turn) % 3] for turn in range(3))
    ends = []
    for other in (b, c):
        share = (x[a] - places) / (x[a] - x[other])
        ends.append((u[a] + share * (u[other] - u[a]), s[a] + share * (s[other] - s[a])))
    turn = np.where(alone_aft, 1.0, -1.0)
    (u0, s0), (u1, s1) = ends
    rise = s1 - s0
    with np.errstate(divide="ignore", invalid="ignore"):
        at = np.clip(np.where(rise != 0, -s0 / rise, 0.0), 0.0, 1.0)
    wet0, wet1 = np.minimum(s0, 0.0), np.minimum(s1, 0.0)
    share = np.where(s0 < 0, np.where(s1 < 0, 1.0, at), np.where(s1 < 0, 1.0 - at, 0.0))
    return np.asarray(turn * (u1 - u0) * share * (wet0 + wet1) / 2)
