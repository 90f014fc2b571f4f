"""A surface: triangles in mm with everything that cutting them needs; no file, no unit, no guess.

RawMesh   what a file holds, as loading.py hands it over: nothing welded, nothing mended
Surface   welded, oriented triangles, numbered bodies, and the openings that may be closed straight
"""

from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from profiles.notes import Note

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


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
    solid: bool
    """Sections are filled to a plug: voids filled, the open top closed straight across the sheer."""
    x_low: Floats
    """(m,) least x of each face, mm."""
    x_high: Floats
    """(m,) greatest x of each face, mm."""

    bounds: tuple[Floats, Floats]
    """Least and greatest corner, each (3,) mm, of the vertices that faces use; NaN without faces."""


Number = TypeVar("Number", bound=np.generic)


def frozen(array: npt.ArrayLike, dtype: type[Number]) -> npt.NDArray[Number]:
    """The array as a contiguous read-only one of that dtype."""
    result: npt.NDArray[Number] = np.array(array, dtype=dtype, order="C")
    result.setflags(write=False)
    return result


def surface_of(
    vertices: Floats, faces: Ints, body: Ints | None = None, open_edges: Ints | None = None, *, solid: bool = False
) -> Surface:
    """A surface from its arrays: vertices (n, 3) mm, faces (m, 3), body (m,) or one body, open_edges (k, 3) or none."""
    vertices = frozen(vertices, np.float64)
    faces = frozen(faces, np.int64)
    x = vertices[:, 0][faces] if len(faces) else np.zeros((0, 3))
    in_use = np.zeros(len(vertices), dtype=bool)
    in_use[faces.reshape(-1)] = True
    used = vertices[in_use] if in_use.any() else np.full((1, 3), np.nan)
    return Surface(
        vertices=vertices,
        faces=faces,
        body=frozen(np.ones(len(faces)) if body is None else body, np.int64),
        open_edges=frozen(np.zeros((0, 3)) if open_edges is None else open_edges, np.int64),
        solid=solid,
        x_low=frozen(x.min(axis=1), np.float64),
        x_high=frozen(x.max(axis=1), np.float64),
        bounds=(frozen(used.min(axis=0), np.float64), frozen(used.max(axis=0), np.float64)),
    )


def moved(surface: Surface, matrix: Floats, offset: Floats) -> Surface:
    """The surface with vertices p -> matrix @ p + offset, (3, 3) and (3,); a mirroring one turns the faces as well."""
    vertices = surface.vertices @ matrix.T + offset
    faces = surface.faces if np.linalg.det(matrix) > 0 else surface.faces[:, ::-1]
    return surface_of(vertices, faces, surface.body, surface.open_edges, solid=surface.solid)


def filled(surface: Surface) -> Surface:
    """The same surface, its sections filled to a solid plug."""
    return replace(surface, solid=True)


def edge_keys(pairs: Ints, vertex_count: int) -> Ints:
    """One integer for each undirected edge: pairs (..., 2) of vertex numbers -> (...,)."""
    low, high = pairs.min(axis=-1), pairs.max(axis=-1)
    keys: Ints = low * np.int64(vertex_count) + high
    return keys
