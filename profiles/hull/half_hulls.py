"""Half hulls: identified by the flat side they are cut at, snapped to it and mirrored.

open half     the flat side is an edge: keel, stem and stern lie on the plane, no wall closes it
closed half   the flat side is a wall; it is taken away, or it would stand inside the whole hull

A flat sheer, a flat deck and a transom are flat sides too. Symmetry distinguishes them: a whole boat is symmetric
about its centre plane, so a body that is symmetric about another axis than the flat side's is whole.
"""

import numpy as np

from profiles.arrays import Bools, Floats, Ints
from profiles.errors import HullError
from profiles.hull.edges import EdgeTable, edge_table
from profiles.hull.surface import Surface, surface_of
from profiles.hull.symmetry import NEIGHBOURS, SYMMETRIC, Samples, asymmetry, distance
from profiles.notes import Note, assumption, repair
from profiles.values import dataclass

SNAP = 0.005
"""Of the whole breadth: how far the cut side may lie off its plane. Hand-drawn halves miss by 2 or 3 thousandths;
a boat's sheer or chine runs further off any plane than that."""

EXACT = 0.01
"""Of the snap distance: edges this close to the plane are snapped in any case; well above the rounding of float32."""

CAREFUL = 0.97
"""Share of the cut, by length, that shows how well it was drawn: edges over twice as far off are none
of it."""

WALL_COSINE = 0.97
"""Least |cosine| of a face's normal to the plane's for it to belong to the wall (14 degrees); skin stands across it."""

CUT_LENGTH = 0.7
"""Of the body's length that the cut must reach: a half is cut from stem to stern."""

CUT_SHARE = 0.12
"""Of all open edges, by length, that lie in the cut of an open half; the rest is sheer, transom and seams left open."""

WALL_SHARE = 0.6
"""Of the body's silhouette, seen square to the plane, that the wall of a closed half must cover; drawn well it
covers all of it."""

AXIAL = 0.9998
"""Cosine of 1 degree: what is turned less than this stands along the axes."""

ROUND = 0.8
"""Lesser spread over greater, squared: a rounder plan has no lengthwise axis to turn."""

LESS = 0.3
"""Asymmetry below this share of that across the flat side still speaks for a whole, carelessly built boat."""

AXES = "xyz"


@dataclass(frozen=True, slots=True)
class Half:
    """A body made whole."""

    surface: Surface
    axis: int
    """The model axis square to the centre plane."""
    plane: float
    """mm along that axis where the centre plane stands."""
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True)
class _FlatSide:
    """A flat side at one end of an axis."""

    axis: int
    end: str
    """"low" or "high"."""
    plane: float
    """mm."""
    strength: float
    """How much of the side is there: 1 is a whole cut."""


def mirror_half(surface: Surface, samples: Samples, skew: Floats, mirror: str, up_hint: str | None) -> Half | None:
    """The half hull mirrored, or None for a whole one; `samples` and their `asymmetry` (3,) are the surface's.

    mirror is "auto", "none", or the model axis ("x", "y", "z") square to the centre plane; its end is found.
    Raises HullError where an axis is asked for that has no flat side.
    """
    if mirror == "none":
        return None
    if mirror != "auto":
        axis = AXES.index(mirror)
        sides = [side for side in _flat_sides(surface, samples) if side.axis == axis]
        if not sides:
            low, high = surface.bounds
            msg = (
                f"expected a half hull with a flat side across {mirror}, found none at {mirror} = {low[axis]:.4g} or "
                f"{high[axis]:.4g} mm."
            )
            raise HullError(msg, remedy="Mirror across another axis, or use the hull as it is with --mirror none.")
        best = max(sides, key=lambda side: (round(side.strength, 2), -abs(side.plane)))
        return _mirror(surface, best, noted=False)
    side = _find_half(surface, samples, skew, up_hint)
    return None if side is None else _mirror(surface, side, noted=True)


# ---- identifying --------------------------------------------------------------------------------------------------


def _find_half(surface: Surface, samples: Samples, skew: Floats, up_hint: str | None) -> _FlatSide | None:
    sides = _flat_sides(surface, samples) if (skew >= SYMMETRIC).any() else []
    halves = [side for side in sides if _is_half(side, samples, skew, up_hint)]
    return max(halves, key=lambda side: (side.strength, side.axis == 1), default=None)


def _is_half(side: _FlatSide, samples: Samples, skew: Floats, up_hint: str | None) -> bool:
    axis, others = side.axis, [k for k in range(3) if k != side.axis]
    symmetric = [bool(skew[k] < SYMMETRIC or skew[k] < LESS * skew[axis]) for k in range(3)]
    if skew[axis] < SYMMETRIC:
        return False
    lengthways = max(range(3), key=lambda k: samples.spread[k])
    if axis == lengthways:
        # A transom; halves cut across their length need --mirror.
        return False
    third = next(k for k in others if k != lengthways)
    if not symmetric[third]:
        return not _stands_askew(samples, others)
    # Symmetric about another axis as well: a whole boat with a flat deck, or half of a round body. Where up points
    # settles it: decks are level, centre planes stand.
    if up_hint is not None:
        return AXES.index(up_hint) == third
    return third == AXES.index("z") and _is_half_round(samples, axis, third, side.plane)


def _stands_askew(samples: Samples, plane: list[int]) -> bool:
    """Whether a whole body lies on its flat side, turned away from the two axes of the file that span that side.

    It is symmetric about its own length then, which in half a boat separates keel and sheer.
    """
    points = samples.points - samples.centroid
    spread, ways = np.linalg.eigh(np.cov(points[:, plane].T))
    turn = np.eye(3)
    turn[np.ix_(plane, plane)] = ways.T
    if np.abs(ways).max() > AXIAL or spread[0] > ROUND * spread[1]:
        return False
    turned = Samples(points @ turn.T, samples.normals @ turn.T, samples.spacing)
    bounds = turned.points.min(axis=0), turned.points.max(axis=0)
    return bool(asymmetry(turned, bounds)[plane[0]] < SYMMETRIC)


def _is_half_round(samples: Samples, axis: int, third: int, plane: float) -> bool:
    """Whether mirroring gives a body of round or elliptic sections: it still fits itself turned by 45 degrees."""
    points = samples.points.copy()
    points[:, axis] -= plane
    points[:, third] -= (points[:, third].max() + points[:, third].min()) / 2
    skin = np.abs(samples.normals[:, axis]) < WALL_COSINE
    if 2 * skin.sum() <= NEIGHBOURS:
        return False
    reach = np.abs(points).max(axis=0)
    points[:, third] *= reach[axis] / max(reach[third], 1e-300)
    normals = samples.normals.copy()
    normals[:, third] *= max(reach[third], 1e-300) / reach[axis]
    normals /= np.maximum(np.linalg.norm(normals, axis=1), 1e-300)[:, None]
    whole = np.concatenate([points[skin], points[skin] * np.where(np.arange(3) == axis, -1, 1)])
    turned_normals = np.concatenate([normals[skin], normals[skin] * np.where(np.arange(3) == axis, -1, 1)])
    image = whole.copy()
    image[:, axis] = (whole[:, axis] - whole[:, third]) * np.sqrt(0.5)
    image[:, third] = (whole[:, axis] + whole[:, third]) * np.sqrt(0.5)
    off = distance(image, Samples(whole, turned_normals, samples.spacing))
    return off < SYMMETRIC * float(np.sqrt(whole[:, axis].std() * whole[:, third].std()))


def _flat_sides(surface: Surface, samples: Samples) -> list[_FlatSide]:
    """The flat sides at the ends of all three axes."""
    table = None if surface.whole else edge_table(surface.faces, len(surface.vertices))
    ends = [(axis, end) for axis in range(3) for end in ("low", "high")]
    shown = [0.0] * 3 if samples.silhouette is None else samples.silhouette.tolist()
    return [side for axis, end in ends if (side := _flat_side(surface, axis, end, shown[axis], table)) is not None]


def _flat_side(surface: Surface, axis: int, end: str, silhouette: float, table: EdgeTable | None) -> _FlatSide | None:
    """The flat side at one end of an axis along which the body shows `silhouette` mm2, if it has one there; no `table`
    for a body without open edges.
    """
    low, high = surface.bounds
    reach = float(high[axis] - low[axis])
    band = 2 * (2 * SNAP * reach)
    extreme = float(low[axis] if end == "low" else high[axis])
    near: Bools = np.abs(surface.vertices[:, axis] - extreme) <= band
    wall = _wall(surface, axis, near)
    if len(wall):
        wall_area = np.abs(_normals(surface, wall)[:, axis]) / 2
        if wall_area.sum() > WALL_SHARE * silhouette:
            heights = surface.vertices[surface.faces[wall]][:, :, axis].mean(axis=1)
            plane = _weighted_quantile(heights, wall_area, 0.5)
            return _FlatSide(axis, end, plane, float(wall_area.sum() / silhouette))
    return None if table is None else _flat_cut(surface, axis, end, near, table)


def _flat_cut(surface: Surface, axis: int, end: str, near: Bools, table: EdgeTable) -> _FlatSide | None:
    """The flat side that open edges lie in, whose vertices `near` (n,) marks, if they are long enough."""
    across = [k for k in range(3) if k != axis]
    long = float((surface.bounds[1] - surface.bounds[0])[across].max())
    sides = table.boundary
    a, b = surface.vertices[table.tail[sides]], surface.vertices[table.head[sides]]
    length = np.linalg.norm(b - a, axis=1)
    cut = near[table.tail[sides]] & near[table.head[sides]]
    if not cut.any():
        return None
    ends = np.concatenate([a[cut], b[cut]])[:, across]
    spanned = float(np.ptp(ends, axis=0).max()) / long
    share = float(length[cut].sum() / length.sum())
    if spanned < CUT_LENGTH or share < CUT_SHARE:
        return None
    plane = _weighted_quantile((a[cut, axis] + b[cut, axis]) / 2, length[cut], 0.5)
    return _FlatSide(axis, end, plane, share)


def _wall(surface: Surface, axis: int, near: Bools) -> Ints:
    """(w,) ascending, the faces that lie in the flat side: all corners near its plane, and facing along the axis."""
    candidates = np.flatnonzero(near[surface.faces[:, 0]])
    close = candidates[near[surface.faces[candidates, 1:]].all(axis=1)]
    if not len(close):
        return close
    normals = _normals(surface, close)
    facing: Bools = np.abs(normals[:, axis]) >= WALL_COSINE * np.linalg.norm(normals, axis=1)
    return close[facing]


def _normals(surface: Surface, which: Ints) -> Floats:
    """(k, 3) normals of some faces, twice as long as their area, mm2."""
    a, b, c = (surface.vertices[surface.faces[which, corner]] for corner in range(3))
    return np.cross(b - a, c - a)


def _weighted_quantile(values: Floats, weights: Floats, share: float) -> float:
    order = np.argsort(values, kind="stable")
    total = np.cumsum(weights[order])
    return float(values[order[np.searchsorted(total, total[-1] * share)]])


# ---- mirroring --------------------------------------------------------------------------------------------------


def _mirror(surface: Surface, side: _FlatSide, *, noted: bool) -> Half:
    axis, plane = side.axis, side.plane
    low, high = surface.bounds
    tolerance = SNAP * 2 * float(high[axis] - low[axis])
    wall = _wall(surface, axis, np.abs(surface.vertices[:, axis] - plane) <= tolerance)
    faces, body = np.delete(surface.faces, wall, axis=0), np.delete(surface.body, wall)
    rim = _rim(surface.vertices, faces, axis, plane, tolerance)
    vertices = surface.vertices.copy()
    moved = float(np.abs(vertices[rim, axis] - plane).max(initial=0.0))
    vertices[rim, axis] = plane
    image = vertices.copy()
    image[:, axis] = 2 * plane - image[:, axis]
    twin = np.arange(len(vertices), dtype=np.int64) + len(vertices)
    twin[rim] = rim
    both = np.concatenate([faces, twin[faces][:, ::-1]])
    used, renumbered = np.unique(both, return_inverse=True)
    whole = surface_of(
        np.concatenate([vertices, image])[used],
        renumbered.reshape(-1, 3),
        np.concatenate([body, body]),
        rules=surface.rules,
    )
    return Half(whole, axis, plane, _notes_of_mirroring(side, len(wall), moved, noted=noted))


def _rim(vertices: Floats, faces: Ints, axis: int, plane: float, tolerance: float) -> Ints:
    """The vertices of the open edges that lie on the plane."""
    table = edge_table(faces, len(vertices))
    sides = table.boundary
    off_a = np.abs(vertices[table.tail[sides], axis] - plane)
    off_b = np.abs(vertices[table.head[sides], axis] - plane)
    off = np.maximum(off_a, off_b)
    near = np.flatnonzero(off <= tolerance)
    if not len(near):
        return np.zeros(0, dtype=np.int64)
    length = np.linalg.norm(vertices[table.tail[sides[near]]] - vertices[table.head[sides[near]]], axis=1)
    usual = 2 * _weighted_quantile(off[near], length, CAREFUL)
    cut = sides[off <= min(max(usual, EXACT * tolerance), tolerance)]
    return np.unique(np.concatenate([table.tail[cut], table.head[cut]]))


def _notes_of_mirroring(side: _FlatSide, walls: int, moved: float, *, noted: bool) -> tuple[Note, ...]:
    name = AXES[side.axis]
    notes = []
    if noted:
        notes.append(
            assumption(
                f"this is half a hull: its {side.end} end in {name} is flat, and its symmetry shows that a half is "
                f"missing. It was mirrored across {name}. Override with --mirror none."
            )
        )
    taken = f", {walls} faces of its wall removed" if walls else ""
    snapped = (
        f"edges up to {moved:.3g} mm off the centre plane snapped to it" if moved else "its edge lies on the plane"
    )
    notes.append(repair(f"half hull mirrored at {name} = {side.plane:.4g} mm: {snapped}{taken}"))
    return tuple(notes)
