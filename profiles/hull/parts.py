"""The stage `divide`: a hull -> its parts, each a hull of its own, turned so that its slices stand along x.

A hull goes through `dividing.divide_surface` to surfaces, and each surface through a turn to a `Part`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
import shapely
from shapely import MultiPolygon

from profiles.arrays import Floats
from profiles.errors import HullError
from profiles.hull.bodies import body_count
from profiles.hull.dividing import REST, SNAP, Cap, divide_surface
from profiles.hull.frame import Hull, void_count, volume_and_steps
from profiles.hull.gaps import bridge_all
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.part_settings import PartSettings, Slices
from profiles.hull.plugs import as_multi
from profiles.hull.regions import Region, region_of
from profiles.hull.surface import Surface, sort_faces, transform, with_rules
from profiles.hull.trial_sections import cut_trial_sections
from profiles.setting import check_settings
from profiles.values import dataclass

TURNS: dict[str, Floats] = {
    "along": np.eye(3),
    "across": np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]),
    "upright": np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]]),
}
"""Hull frame -> frame of the part; rotations, so nothing is mirrored."""

TO_PORT = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
"""The same for slices across a part on the port side: they count outwards, as those of its twin to starboard."""

OFF_CENTRE = 0.1
"""Of a part's size across or up; a datum nearer to its edge, or outside it, moves to its middle."""

SAME_TWIN = 0.02
"""mm; extents of two twins differ by no more than this, a tenth of a line on paper."""

SAME_VOLUME = 1e-3
"""Relative difference of the volumes of two twins; meshes of mirror images need not have the same triangles."""

THINNEST = 3.0
"""mm; a part less thick than this is a sheet that a wire cannot cut and a hand breaks (common practice)."""

OVERLAP = 0.002
"""Of the hull's volume: more in several parts is no rounding, since volumes by sections agree far better."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a hull, with where it came from."""

    name: str
    """Empty for the main body."""
    slices: Slices
    hull: Hull
    """In the part's own frame: x along the slices from the first, z up or, where slices are upright, forward."""
    turn: Floats
    """(3, 3): point of the part = turn @ point of the hull + offset."""
    offset: Floats
    """(3,) mm."""
    words: str = ""
    """What belongs to it; empty for the main body."""
    twin: str = ""
    """The part before it whose mirror image it is; empty without one."""

    def to_hull(self, points: Floats) -> Floats:
        """Points (n, 3) mm of the part's frame in the frame of the whole hull."""
        return (points - self.offset) @ self.turn


@dataclass(frozen=True, slots=True)
class Joint:
    """The flat area where two parts are glued together."""

    parts: tuple[str, str]
    """Names; first the one on the side of lesser coordinates, empty for the main body."""
    axis: Literal["x", "y", "z"]
    """The plane stands square to this axis of the hull frame."""
    place: float
    """mm, hull frame."""
    outline: MultiPolygon
    """mm, hull frame, in the two other axes in the order (y, z), (z, x) or (x, y)."""


@dataclass(frozen=True, slots=True)
class Division:
    """A hull in parts."""

    parts: tuple[Part, ...]
    """The main body first, then in the order of the settings."""
    joints: tuple[Joint, ...]


def divide(hull: Hull, settings: Sequence[PartSettings]) -> Division:
    """The parts of a hull and the joints between them; what no part holds is the main body.

    Places are in mm in the frame of the hull. A point that several parts hold belongs to the first. Together the parts
    are the hull, and both sides of a joint have the same outline. Raises JobError for settings out of range, HullError
    for a hull that is not made of triangles, and for parts that are empty, everything, too thin, or named alike.

    >>> from profiles import PartSettings, divide, read
    >>> hull = read("models/skerrywing.stl")
    >>> division = divide(hull, [PartSettings(name="top", region="above 20", slices="upright")])
    >>> [part.name for part in division.parts], division.joints[0].parts
    (['', 'top'], ('', 'top'))
    """
    check_settings(*settings)
    names = [part.name for part in settings]
    for name in names:
        if names.count(name) > 1:
            message = f"two parts are called {name!r}"
            raise HullError(message, remedy="Give each part a name of its own.")
    if not isinstance(hull.shape, MeshShape):
        message = f"{hull.name} is not made of triangles, so it cannot be divided into parts"
        raise HullError(message, remedy="Save it as a mesh (STL) in your modeller, or leave out the parts.")
    pieces = [(part, side, region) for part in settings for side, region in _region(part).sides]
    surfaces, caps = divide_surface(hull.surface, [region for _, _, region in pieces])
    for part in settings:
        if not any(pieces[number][0] is part for number in surfaces if number != REST):
            message = f"part {part.name!r} is empty: nothing of the hull lies {part.region}"
            raise HullError(message, remedy=f"The hull reaches {_reach(hull)}.")
    if REST not in surfaces:
        message = "the parts take everything, and nothing is left for the main body"
        raise HullError(message, remedy="Leave out one of the parts.")
    parts = [_part(hull, surfaces[REST], PartSettings(name="main body", region="", slices="along"), main=True)]
    called = {REST: ""}
    for number, (part, side, _) in enumerate(pieces):
        if number in surfaces:
            called[number] = f"{part.name} {side}".strip()
            parts.append(_part(hull, surfaces[number], replace(part, name=called[number])))
    if any(region.body is not None for _, _, region in pieces):
        _refuse_overlap(hull, parts)
    return Division(_with_twins(parts), _joints(caps, called))


def _region(part: PartSettings) -> Region:
    try:
        return region_of(part.region)
    except ValueError as fault:
        message = f"part {part.name!r}: {fault}"
        raise HullError(message, remedy="Correct the region of the part.") from None


def _with_twins(parts: Sequence[Part]) -> tuple[Part, ...]:
    """The parts, each that is the mirror image of one before it with that one's name."""
    result: list[Part] = []
    for part in parts:
        twin = next((other.name for other in result[1:] if not other.twin and _are_twins(other, part)), "")
        result.append(replace(part, twin=twin))
    return tuple(result)


def _are_twins(first: Part, second: Part) -> bool:
    """Whether one is the mirror image of the other in the hull's centre plane, as far as sizes, places and volumes
    show.
    """
    if first.slices != second.slices or abs(first.hull.volume / second.hull.volume - 1) > SAME_VOLUME:
        return False
    (low, high), (other_low, other_high) = (
        _bounds(part.to_hull(part.hull.surface.vertices)) for part in (first, second)
    )
    mirrored = np.stack([other_low, other_high]) * (1.0, -1.0, 1.0)
    apart = low[1] >= 0 or high[1] <= 0
    return apart and float(np.abs(np.stack([low, high]) - np.sort(mirrored, axis=0)).max()) <= SAME_TWIN


def _bounds(points: Floats) -> tuple[Floats, Floats]:
    return points.min(axis=0), points.max(axis=0)


def _refuse_overlap(hull: Hull, parts: Sequence[Part]) -> None:
    """Raise HullError for bodies that reach into each other: where both are, foam would be made twice."""
    twice = sum(part.hull.volume for part in parts) - hull.volume
    if twice > OVERLAP * hull.volume:
        message = f"bodies reach into each other: {twice / 1e6:.4f} litres of the hull would belong to two parts"
        raise HullError(message, remedy="Divide there by a plane, such as beyond 70, instead of by a body.")


def _reach(hull: Hull) -> str:
    low, high = hull.shape.bounds
    sides = zip("xyz", low.tolist(), high.tolist(), strict=True)
    return ", ".join(f"from {axis} = {least:.1f} to {most:.1f}" for axis, least, most in sides) + " mm"


def _part(hull: Hull, surface: Surface, settings: PartSettings, *, main: bool = False) -> Part:
    name, slices = "" if main else settings.name, settings.slices
    low, high = surface.bounds
    turn = TO_PORT if slices == "across" and low[1] + high[1] < 0 and high[1] <= SNAP else TURNS[slices]
    extent = (high - low).tolist()
    words = "the main body" if main else f"part {name!r}"
    if min(extent) < THINNEST:
        message = f"{words} is only {min(extent):.2f} mm thick along {'xyz'[int(np.argmin(extent))]}"
        raise HullError(message, remedy=f"Move its planes so that at least {THINNEST:g} mm are left.")
    offset = _offset(np.stack([low, high]) @ turn.T)
    turned = sort_faces(_with_narrow(transform(surface, turn, offset), slices, float(offset[0])))
    low, high = turned.bounds
    trials = cut_trial_sections(bridge_all(turned))
    volume, volume_from, steps = volume_and_steps(bridge_all(turned), trials)
    length, breadth, depth = (high - low).tolist()
    own = replace(
        hull,
        name=f"{hull.name} {name}".strip(),
        shape=MeshShape(turned),
        length=length,
        breadth=breadth,
        depth=depth,
        lowest=float(low[2]),
        body_count=body_count(turned),
        void_count=void_count(turned),
        triangles=len(turned.faces),
        volume=volume,
        volume_from=volume_from,
        steps=steps,
        openings=(),
        later=(),
        notes=(),
    )
    return Part(name, slices, own, turn, offset, settings.region)


def _offset(corners: Floats) -> Floats:
    """What brings a turned part to its own frame: x from 0, and y and z such that the datum is well inside it."""
    low, high = np.sort(corners, axis=0)
    offset = np.array([-float(low[0]), 0.0, 0.0])
    for axis in (1, 2):
        margin = OFF_CENTRE * (high[axis] - low[axis])
        if not low[axis] + margin <= 0 <= high[axis] - margin:
            offset[axis] = -float(low[axis] + high[axis]) / 2
    return offset


def _with_narrow(surface: Surface, slices: Slices, shift: float) -> Surface:
    """Narrow places moved with the part; they were searched along the hull, so a part turned otherwise has none."""
    rules = surface.rules
    places = tuple((low + shift, high + shift) for low, high in rules.narrow) if slices == "along" else ()
    return with_rules(surface, replace(rules, narrow=places))


def _joints(caps: Sequence[Cap], called: Mapping[int, str]) -> tuple[Joint, ...]:
    """The caps of two parts in one plane as one area; `called` are the names of the regions."""
    groups: dict[tuple[int, float, int, int], list[MultiPolygon]] = {}
    for cap in caps:
        groups.setdefault((cap.axis, cap.place, cap.low, cap.high), []).append(cap.area)
    axes: tuple[Literal["x", "y", "z"], ...] = ("x", "y", "z")
    return tuple(
        Joint((called[low], called[high]), axes[axis], place, as_multi(shapely.unary_union(areas)))
        for (axis, place, low, high), areas in groups.items()
    )
