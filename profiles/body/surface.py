"""The closed surface of a hull, or of the foam under its skin, as triangles: what weight and flotation are taken from.

    a closed mesh, no skin        its own triangles: every figure is exact for the mesh
    anything else                 bands from section to section, flat where the section changes at once

`closed_surface` is the only way in, so a shape that is no mesh needs only its sections. The surface closes in the sense
of integrals: its faces share places, not always corners.
"""

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely
from shapely import MultiPolygon

from profiles.arrays import Floats, Ints
from profiles.blocks.carved import Place, bands_between, place_of
from profiles.blocks.outlines import as_multi, foam_surface
from profiles.errors import HullError
from profiles.hull.closed import closed_mesh
from profiles.hull.frame import Hull
from profiles.hull.sections import Side
from profiles.hull.surface import Mesh, join_meshes
from profiles.notes import Note, warning
from profiles.values import dataclass

SECTIONS = 160
"""Sections along a hull, closer together towards the ends; more stand where outlines do not pair."""

CLOSEST = 1 / 4000
"""Of the length: sections nearer together than this are not told apart where outlines do not pair."""

MOST_SECTIONS = 600
"""Where outlines of a rough mesh pair nowhere."""

MOST_OPEN = 0.5
"""Share of the sections that may stay open: what lies beside them goes straight across."""


@dataclass(frozen=True, slots=True)
class ClosedSurface:
    """A closed surface and where it comes from."""

    mesh: Mesh
    source: str
    """"mesh" or "sections"."""
    notes: tuple[Note, ...] = ()


def closed_surface(hull: Hull, skin: float = 0.0) -> ClosedSurface:
    """The surface of a hull, or of its foam under `skin` mm, in the hull frame.

    Raises HullError where hardly any section can be closed, or the skin leaves no foam.
    """
    mesh = None if skin else closed_mesh(hull)
    if mesh is not None:
        return ClosedSurface(mesh, "mesh")

    def section(x: float, side: Side) -> MultiPolygon:
        return foam_surface(hull.shape.section(x, side).region, skin)

    places, faults = _places(section, hull.length, hull.steps)
    if len(faults) > MOST_OPEN * (len(faults) + len(places)):
        raise faults[0]
    if not any(place.parts for place in places):
        what = f"the skin of {skin:g} mm leaves no foam" if skin else "no section of it has any area"
        message = f"{hull.name}: {what}"
        raise HullError(message, remedy="Give a thinner skin." if skin else "Look at the hull with stationer inspect.")
    notes = []
    if faults:
        text = f"{len(faults)} sections stay open and were passed over for weight and flotation. The first: {faults[0]}"
        notes.append(warning(text))
    return ClosedSurface(join_meshes([*_faces(places)]), "sections", tuple(notes))


Sections = Callable[[float, Side], MultiPolygon]


def _places(section: Sections, length: float, steps: Sequence[float]) -> tuple[list[Place], list[HullError]]:
    """Sections from end to end, of each step both, and the faults of those that stay open."""
    faults: list[HullError] = []

    def place(x: float, side: Side) -> Place | None:
        try:
            return place_of(x, section(x, side))
        except HullError as fault:
            faults.append(fault)
            return None

    inner = length / 2 * (1 - np.cos(np.linspace(0.0, np.pi, SECTIONS + 1)[1:-1]))
    at = [(0.0, Side.AFT), *((x, Side.FORE) for x in inner.tolist()), (length, Side.FORE)]
    at = sorted(at + [(x, side) for x in steps for side in Side], key=lambda item: (item[0], item[1] is Side.AFT))
    places = [known for x, side in dict.fromkeys(at) if (known := place(x, side)) is not None]
    waiting = deque(pairwise(places))
    while waiting and len(places) < MOST_SECTIONS:
        fore, aft = waiting.popleft()
        if aft.x - fore.x > CLOSEST * length and bands_between(fore, aft) is None and (fore.parts or aft.parts):
            middle = place((fore.x + aft.x) / 2, Side.FORE)
            if middle is not None:
                places.append(middle)
                waiting.extend([(fore, middle), (middle, aft)])
    return sorted(places, key=lambda known: known.x), faults


def _faces(places: Sequence[Place]) -> Iterator[Mesh]:
    """The surface: a band of triangles between outlines that pair; else both go straight to half-way."""
    yield _flat(places[0].x, MultiPolygon(), _region(places[0]))
    for fore, aft in pairwise(places):
        if aft.x > fore.x and (bands := bands_between(fore, aft)) is not None:
            for ring, band in zip(fore.rings, bands, strict=True):
                yield _band(fore.x, ring, aft.x, aft.rings[band.ring], band.fore, band.aft)
            continue
        middle = (fore.x + aft.x) / 2
        yield from _straight(fore, middle)
        yield _flat(middle, _region(fore), _region(aft))
        yield from _straight(replace(aft, x=middle), aft.x)
    yield _flat(places[-1].x, _region(places[-1]), MultiPolygon())


def _straight(place: Place, x_aft: float) -> Iterator[Mesh]:
    """The outlines of a section drawn out along the hull."""
    if x_aft > place.x:
        for ring in place.rings:
            numbers = np.repeat(np.arange(len(ring)), 2)
            yield _band(place.x, ring, x_aft, ring, numbers, np.roll(numbers, 1))


def _band(x_fore: float, fore: Floats, x_aft: float, aft: Floats, numbers: Ints, others: Ints) -> Mesh:
    """The triangles between two rings (k, 2) mm, from pairs of points in which one moves on at each step."""
    vertices = np.concatenate([_at(x_fore, fore), _at(x_aft, aft)])
    others = others + len(fore)
    following = np.roll(numbers, -1)
    third = np.where(following != numbers, following, np.roll(others, -1))
    return vertices, np.column_stack([numbers, third, others])


def _at(x: float, points: Floats) -> Floats:
    return np.column_stack([np.full(len(points), x), points])


def _region(place: Place) -> MultiPolygon:
    return MultiPolygon([(part[0], part[1:]) for part in place.parts])


def _flat(x: float, fore: MultiPolygon, aft: MultiPolygon) -> Mesh:
    """The faces across the hull where one section gives way to another at once."""
    meshes = []
    for region, turn in ((shapely.difference(fore, aft), 1), (shapely.difference(aft, fore), -1)):
        triangles = [
            triangle
            for part in as_multi(region).geoms
            for triangle in shapely.constrained_delaunay_triangles(part).geoms
        ]
        if triangles:
            points = shapely.get_coordinates(shapely.orient_polygons(triangles)).reshape(-1, 4, 2)[:, :3]
            faces = np.arange(3 * len(points)).reshape(-1, 3)[:, ::turn]
            meshes.append((_at(x, points.reshape(-1, 2)), faces))
    return join_meshes(meshes)
