"""A surface: triangles in mm with everything that cutting them needs.

RawMesh   what a file holds, as loading.py hands it over: nothing welded, nothing repaired
Surface   welded, oriented triangles, numbered bodies, and the openings that may be closed straight
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from profiles.arrays import Bools, Floats, Ints
from profiles.hull.settings import CRACK
from profiles.notes import Note
from profiles.values import dataclass

Mesh = tuple[Floats, Ints]
"""Vertices (n, 3) mm and faces (m, 3), numbers of vertices, anticlockwise seen from outside."""


@dataclass(frozen=True, slots=True)
class RawMesh:
    """Triangles as a file gives them, in mm."""

    name: str
    """The file's stem, for titles and messages."""
    format: str
    """Short name of the format: "STL", "OBJ", ..."""
    vertices: Floats
    """(n, 3) mm, as in the file (model frame); may repeat, may hold NaN."""
    faces: Ints
    """(m, 3) indices into vertices."""
    unit: str
    """The unit that was applied: a key of `profiles.units.MM_PER_UNIT`."""
    unit_from: str
    """Where the unit came from: "file", "option" or "assumed"."""
    up_hint: str | None = None
    """The model axis that the format or file declares to be up ("x", "y", "z"), if it does."""
    notes: tuple[Note, ...] = ()
    welded: bool = False
    """Every vertex is given once, and each is used."""


@dataclass(frozen=True, slots=True)
class Order:
    """The faces of a surface sorted along x, so that a section finds its faces without testing all of them.

    Faces of about equal extent along x form a group, and each group is sorted by least x. A plane cuts only faces of a
    group that begin within its greatest extent forward of the plane, however long a few faces of other groups are.
    """

    faces: npt.NDArray[np.int32]
    """(m,) face numbers, group after group."""
    begin: npt.NDArray[np.float32]
    """(m,) mm; at most the least x of each face, ascending within a group."""
    starts: tuple[int, ...]
    """Where each group begins, and the end of the last."""
    reach: tuple[float, ...]
    """mm; the greatest extent along x in each group, with an allowance for rounding."""


@dataclass(frozen=True, slots=True)
class SectionRules:
    """What is done to every section of a surface."""

    solid: bool = False
    """Filled to a plug: voids filled, the open top closed straight across the sheer."""
    crack: float = CRACK
    """mm; gaps up to this width are closed straight even where the skin laps over itself there."""
    bridge: float = CRACK
    """mm; the widest gap that is closed straight. Openings in `Surface.open_edges` are closed however wide."""
    narrowest: float = 0.0
    """mm; holes and slits narrower than this are filled, at the places in `narrow`."""
    narrow: tuple[tuple[float, float], ...] = ()
    """x in mm of such places, from and to."""
    bores: tuple[tuple[float, ...], ...] = ()
    """Boxes of round holes that are filled, too: least x, y, z and greatest x, y, z, mm."""

    def has_narrow(self, x: float) -> bool:
        """Whether narrow places are filled at x mm."""
        return any(low <= x <= high for low, high in self.narrow)


@dataclass(frozen=True, slots=True)
class Surface:
    """Welded triangles, all bodies together. Build it with `surface_of`, which freezes the arrays."""

    vertices: Floats
    """(n, 3) mm."""
    faces: Ints
    """(m, 3); counter-clockwise seen from outside. Voids inside a body are wound the other way."""
    body: Ints
    """(m,) number of the body a face belongs to, from 1, largest first. A void has its body's number."""
    open_edges: Ints
    """(k, 3): low vertex, high vertex, opening number. Edges with one face that lie on an opening which may be closed
    straight across (an open deck, an open end). Edges with one face that are not listed are cracks."""
    rules: SectionRules
    x_low: Floats
    """(m,) least x of each face, mm."""
    x_high: Floats
    """(m,) greatest x of each face, mm."""

    bounds: tuple[Floats, Floats]
    """Least and greatest corner, each (3,) mm, of the vertices that faces use; NaN without faces."""
    whole: bool = False
    """Known to be one shell in which every edge has two faces; False where it is not, or was not tested."""
    order: Order | None = None
    """The faces sorted along x, after `sort_faces`."""


Number = TypeVar("Number", bound=np.generic)


def freeze(array: npt.ArrayLike, dtype: type[Number]) -> npt.NDArray[Number]:
    """A contiguous, read-only array of that dtype; the array itself where it is one already."""
    if isinstance(array, np.ndarray) and array.dtype == dtype and _is_frozen(array):
        return array
    result: npt.NDArray[Number] = np.array(array, dtype=dtype, order="C")
    result.setflags(write=False)
    return result


def _read_only(array: npt.NDArray[Number]) -> npt.NDArray[Number]:
    array.setflags(write=False)
    return array


def _is_frozen(array: npt.NDArray[Any]) -> bool:
    """Whether an array is one that `freeze` made: it owns its numbers, and they cannot change."""
    return array.flags.c_contiguous and array.flags.owndata and not array.flags.writeable


def surface_of(
    vertices: Floats,
    faces: Ints,
    body: Ints | None = None,
    open_edges: Ints | None = None,
    rules: SectionRules = SectionRules(),  # noqa: B008 - immutable
) -> Surface:
    """A surface from its arrays: vertices (n, 3) mm, faces (m, 3), body (m,) or one body, open_edges (k, 3) or none."""
    vertices = freeze(vertices, np.float64)
    faces = freeze(faces, np.int64)
    a, b, c = np.ascontiguousarray(vertices[:, 0]).take(faces.T)
    in_use = np.zeros(len(vertices), dtype=bool)
    in_use[faces.reshape(-1)] = True
    used = vertices if in_use.all() and len(faces) else vertices[in_use]
    used = used if len(used) else np.full((1, 3), np.nan)
    return Surface(
        vertices=vertices,
        faces=faces,
        body=freeze(np.ones(len(faces)) if body is None else body, np.int64),
        open_edges=freeze(np.zeros((0, 3)) if open_edges is None else open_edges, np.int64),
        rules=rules,
        x_low=freeze(np.minimum(np.minimum(a, b), c), np.float64),
        x_high=freeze(np.maximum(np.maximum(a, b), c), np.float64),
        bounds=(
            freeze([column.min() for column in used.T], np.float64),
            freeze([column.max() for column in used.T], np.float64),
        ),
    )


AT_ONCE = 1 << 14
"""Faces worked on together: intermediate results stay in the processor's cache and take little memory."""


def doubled_normals(vertices: Floats, faces: Ints) -> Iterator[tuple[slice, Floats, Floats]]:
    """For faces (m, 3), AT_ONCE at a time: their slice, first corners (3, k) mm, and normals (3, k) mm2, twice as
    long as the area.
    """
    columns = [np.ascontiguousarray(vertices[:, axis]) for axis in range(3)]
    for start in range(0, len(faces), AT_ONCE):
        part = slice(start, start + AT_ONCE)
        corners = faces[part].T
        (ax, bx, cx), (ay, by, cy), (az, bz, cz) = (column.take(corners) for column in columns)
        bx, by, bz, cx, cy, cz = bx - ax, by - ay, bz - az, cx - ax, cy - ay, cz - az
        yield part, np.array((ax, ay, az)), np.array((by * cz - bz * cy, bz * cx - bx * cz, bx * cy - by * cx))


def join_meshes(meshes: Sequence[Mesh]) -> Mesh:
    """Several meshes with one numbering of vertices, in their order; empty arrays for none."""
    if not meshes:
        return np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64)
    starts = np.cumsum([0, *(len(vertices) for vertices, _ in meshes)])
    shifted = [faces + start for (_, faces), start in zip(meshes, starts, strict=False)]
    return np.concatenate([vertices for vertices, _ in meshes]), np.concatenate(shifted)


def transform(surface: Surface, matrix: Floats, offset: Floats) -> Surface:
    """The surface with vertices matrix @ p + offset, (3, 3) and (3,). A matrix that mirrors reverses the faces, too."""
    vertices = surface.vertices @ matrix.T
    vertices += offset
    if np.array_equal(matrix, np.eye(3)) and not offset[0]:
        vertices.setflags(write=False)
        low, high = (freeze(corner + offset, np.float64) for corner in surface.bounds)
        return replace(surface, vertices=vertices, bounds=(low, high))
    faces = surface.faces if np.linalg.det(matrix) > 0 else surface.faces[:, ::-1]
    result = surface_of(vertices, faces, surface.body, surface.open_edges, surface.rules)
    return replace(result, whole=surface.whole)


GROUPS_OF_EXTENT = 16
"""At most. The group of shortest faces holds all below 2^-15 of the longest extent."""


def sort_faces(surface: Surface) -> Surface:
    """The surface with its faces sorted along x, which makes sections quick."""
    if not len(surface.faces):
        return surface
    extent = surface.x_high - surface.x_low
    longest = float(extent.max())
    # frexp gives the power of two just above the extent, and 0 for zero.
    least = int(np.frexp(longest)[1]) - GROUPS_OF_EXTENT + 1
    group = np.where(extent > 0, np.maximum(np.frexp(extent)[1], least) - least, 0)
    begin = np.nextafter(surface.x_low.astype(np.float32), np.float32(-np.inf))
    order = _sort_in_groups(group, begin)
    sizes = np.bincount(group, minlength=GROUPS_OF_EXTENT)
    known = np.flatnonzero(sizes)
    reach = [float(extent[group == number].max()) for number in known]
    slack = 4 * float(np.finfo(np.float32).eps * np.abs(begin).max())
    along = Order(
        faces=order,
        begin=_read_only(begin[order]),
        starts=(0, *np.cumsum(sizes[known]).tolist()),
        reach=tuple(extent + slack for extent in reach),
    )
    return replace(surface, order=along)


def _sort_in_groups(group: npt.NDArray[np.int32], begin: npt.NDArray[np.float32]) -> npt.NDArray[np.int32]:
    """(m,) faces by group, then by where they begin, then by number: one sort of packed keys."""
    bits = begin.view(np.uint32)
    # The bits of positive floats ascend with their values; those of negative floats descend.
    ascending = np.where(bits >> np.uint32(31), ~bits, bits | np.uint32(1 << 31)).astype(np.uint64)
    ascending |= group.astype(np.uint64) << np.uint64(32)
    number_bits = 64 - 36
    ascending <<= np.uint64(number_bits)
    ascending |= np.arange(len(group), dtype=np.uint64)
    ascending.sort()
    return _read_only((ascending & np.uint64((1 << number_bits) - 1)).astype(np.int32))


def faces_cut_by(surface: Surface, x: float, *, aft: bool) -> Ints:
    """(t,) ascending, the faces that the plane at x mm cuts: taken just aft of it, or just forward."""
    if surface.order is None:
        return np.flatnonzero(_cut_by(surface.x_low, surface.x_high, x, aft=aft))
    near_faces = []
    for start, end, reach in zip(surface.order.starts[:-1], surface.order.starts[1:], surface.order.reach, strict=True):
        begin = surface.order.begin[start:end]
        # In 32 bits like `begin`; otherwise numpy would convert all of `begin` first.
        ends = np.nextafter(np.array((x - reach, x), dtype=np.float32), np.array((-np.inf, np.inf), dtype=np.float32))
        first, last = begin.searchsorted(ends).tolist()
        near_faces.append(surface.order.faces[start + first : start + last])
    near = np.sort(np.concatenate(near_faces))
    return near[_cut_by(surface.x_low[near], surface.x_high[near], x, aft=aft)].astype(np.int64)


def _cut_by(low: Floats, high: Floats, x: float, *, aft: bool) -> Bools:
    cut: Bools = (low <= x) & (high > x) if aft else (low < x) & (high >= x)
    return cut


def with_rules(surface: Surface, rules: SectionRules) -> Surface:
    """The same surface with other rules for its sections."""
    return replace(surface, rules=rules)


def edge_keys(a: Ints, b: Ints, vertex_count: int) -> Ints:
    """One integer for each undirected edge between two vertices, (k,) and (k,) numbers -> (k,)."""
    keys: Ints = np.minimum(a, b) * np.int64(vertex_count) + np.maximum(a, b)
    return keys
