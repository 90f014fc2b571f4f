"""Raw triangles -> a welded surface, every shell closed and numbered; all changes are reported.

The order matters: first what cannot be a face at all, then welding, then repeats, then winding, then which shells are
bodies and which are voids. Everything stays in the model frame; `half_hulls` and `openings` deal with half hulls and
open decks, `bodies` with the bodies.
"""

from dataclasses import replace

import numpy as np

from profiles.arrays import Bools, Floats, Ints
from profiles.errors import HullError
from profiles.hull.bodies import BODIES_LISTED, flip_faces, orient_bodies
from profiles.hull.edges import CLEAN, EdgeTable, edge_table, is_one_shell, label_groups
from profiles.hull.surface import RawMesh, Surface, doubled_normals, surface_of
from profiles.hull.weld import STIR, weld
from profiles.notes import Note, repair

NEAR_RELATIVE = 5e-6
"""Of the body's diagonal: half a unit in the sixth digit, which is what many writers keep of a coordinate."""

NEAR_MOST = 0.01
"""mm; vertices further apart are never welded: narrower gaps cannot be cut in foam, wider ones may be
meant."""

CLEAR_OF_ZERO = 1e-5
"""Volume over area^1.5 above which a closed shell surely holds volume: ten times what a sheet may (`bodies.SHEET`)."""

FLAT = 1e-6
"""Thickness over size below which a surface is flat: the rounding of float32 coordinates, which STL keeps, tenfold."""


def repair_mesh(raw: RawMesh) -> tuple[Surface, tuple[Note, ...]]:
    """The raw triangles as a surface in the model frame (mm), and what was repaired on the way.

    Cases: faces with a vertex that is not a number, with a repeated vertex, or given twice are dropped and reported;
    identical vertices are welded, nearly identical ones only where edges are open; mixed winding is made one; shells
    that are inside out are turned, voids keep their winding; edges of more than two faces are left as they are.

    Raises HullError where nothing is left, the surface is flat, or a patch has only one side (a Moebius strip).
    """
    notes: list[Note] = []
    faces = _finite_faces(raw, notes)
    if raw.welded and faces is raw.faces:
        vertices = raw.vertices + 0.0
    else:
        vertices, faces = _weld_vertices(raw.vertices, faces)
    if is_one_shell(faces, len(vertices)):
        _refuse_flat(vertices, faces)
        patch, table = np.zeros(len(faces), dtype=np.int64), None
    else:
        vertices, faces, patch, table = _repair_faces(vertices, faces, notes)
    whole = table is None or bool((table.count == CLEAN).all() and not patch.any())
    orientation = _orientation(vertices, faces) if whole else 0
    if orientation:
        body = np.ones(len(faces), dtype=np.int64)
        if orientation < 0:
            faces = np.ascontiguousarray(faces[:, ::-1])
            notes.append(repair("turned the body, which was inside out"))
    else:
        faces, body = orient_bodies(vertices, faces, patch, table or edge_table(faces, len(vertices)), notes)
    return replace(surface_of(vertices, faces, body), whole=whole), tuple(notes)


def _repair_faces(vertices: Floats, faces: Ints, notes: list[Note]) -> tuple[Floats, Ints, Ints, EdgeTable]:
    """Welded faces without repeats, sewn where that closes them, wound one way in each patch (m,); and their edges."""
    faces = _drop_bad_faces(faces, len(vertices), notes)
    vertices, faces, table = _sew_open_edges(vertices, faces, notes)
    _refuse_flat(vertices, faces)
    patch, turned = _consistent_winding(vertices, faces, table)
    faces = flip_faces(faces, turned)
    if turned.any():
        notes.append(repair(f"turned {_count(int(turned.sum()), 'face')} wound against the neighbours"))
        table = edge_table(faces, len(vertices))
    return vertices, faces, patch, table


def _orientation(vertices: Floats, faces: Ints) -> int:
    """+1 for a single closed shell that is wound outwards, -1 for one wound inwards; 0 where its volume is too near to
    zero to decide, which `bodies.orient_bodies` does then.
    """
    middle = ((vertices.min(axis=0) + vertices.max(axis=0)) / 2)[:, None]
    total, sides = 0.0, 0.0
    for _, corner, normal in doubled_normals(vertices, faces):
        total += float(np.einsum("ij,ij->", corner - middle, normal))
        sides += float(np.abs(normal).sum())
    # The sum of sides is at least the area, and the total six times the volume of the body.
    return 0 if abs(total) <= 6 * CLEAR_OF_ZERO * (sides / 2) ** 1.5 else 1 if total > 0 else -1


def choose_bodies(surface: Surface, numbers: tuple[int, ...]) -> Surface:
    """The surface with only the bodies of these numbers, which they keep; no numbers means all.

    Raises HullError listing the bodies and their sizes where a number does not exist.
    """
    if not numbers:
        return surface
    known = np.unique(surface.body)
    missing = sorted(set(numbers) - set(known.tolist()))
    if missing:
        wanted = ", ".join(str(number) for number in missing)
        msg = f"expected bodies among 1 to {known.max()}, found {wanted}; the file has: {_list_bodies(surface)}."
        raise HullError(msg, remedy="Choose one or more of these with --body.")
    kept = np.isin(surface.body, list(numbers))
    used, faces = np.unique(surface.faces[kept], return_inverse=True)
    return surface_of(surface.vertices[used], faces.reshape(-1, 3), surface.body[kept], rules=surface.rules)


def _list_bodies(surface: Surface) -> str:
    known = np.unique(surface.body)
    lines = []
    for number in known[:BODIES_LISTED]:
        points = surface.vertices[surface.faces[surface.body == number]].reshape(-1, 3)
        size = np.ptp(points, axis=0)
        lines.append(f"body {number} ({size[0]:.4g} x {size[1]:.4g} x {size[2]:.4g} mm)")
    more = f" and {len(known) - BODIES_LISTED} smaller ones" if len(known) > BODIES_LISTED else ""
    return ", ".join(lines) + more


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


# ---- what cannot be a face --------------------------------------------------------------------------------------


def _finite_faces(raw: RawMesh, notes: list[Note]) -> Ints:
    """The faces whose three vertices are numbers."""
    good_vertex = np.logical_and.reduce([np.isfinite(raw.vertices[:, axis]) for axis in range(3)])
    if good_vertex.all() and len(raw.faces):
        return raw.faces
    good: Bools = good_vertex[raw.faces].all(axis=1)
    if not good.any():
        msg = f"expected a surface of triangles, found none in {raw.name} ({len(raw.faces)} faces, none usable)."
        raise HullError(msg, remedy="Export the hull as a mesh again.")
    dropped = int((~good).sum())
    if dropped:
        notes.append(repair(f"dropped {_count(dropped, 'face')} with coordinates that are not numbers"))
    kept: Ints = raw.faces[good]
    return kept


def _weld_vertices(vertices: Floats, faces: Ints) -> tuple[Floats, Ints]:
    """Identical vertices made one, in order of first use, and unused ones left out."""
    used = np.zeros(len(vertices), dtype=bool)
    used[faces.reshape(-1)] = True
    kept = np.flatnonzero(used)
    points = vertices if len(kept) == len(vertices) else vertices[kept]
    first, rank = weld(points)
    if len(first) == len(vertices):
        return vertices + 0.0, faces
    renumbered = np.zeros(len(vertices), dtype=np.int64)
    renumbered[kept] = rank
    return points[first] + 0.0, renumbered[faces]


def _drop_bad_faces(faces: Ints, vertex_count: int, notes: list[Note]) -> Ints:
    """Faces with three different vertices, each set of three once, whichever way it is wound."""
    a, b, c = faces[:, 0], faces[:, 1], faces[:, 2]
    proper = (a != b) & (b != c) & (c != a)
    collapsed = int((~proper).sum())
    if collapsed:
        notes.append(repair(f"dropped {_count(collapsed, 'face')} with a repeated vertex"))
    faces = faces[proper] if collapsed else faces
    low, middle, high = _sort_corners(faces)
    if not _may_repeat(low, middle, high):
        return faces
    pair = _pair_number(low, middle, vertex_count)
    _, first = np.unique(pair * np.int64(vertex_count) + high, return_index=True)
    repeated = len(faces) - len(first)
    if repeated:
        notes.append(repair(f"dropped {_count(repeated, 'repeated face')}"))
        faces = faces[np.sort(first)]
    return faces


def _sort_corners(faces: Ints) -> tuple[Ints, Ints, Ints]:
    """The three vertices of each face in ascending order, (m,) each."""
    a, b, c = (np.ascontiguousarray(faces[:, corner]) for corner in range(3))
    first, last = np.minimum(a, b), np.maximum(a, b)
    return np.minimum(first, c), np.maximum(first, np.minimum(last, c)), np.maximum(last, c)


def _may_repeat(*columns: Ints) -> bool:
    """Whether any two rows may be equal; where not, they all differ for sure. Equal rows have equal keys."""
    keys = sum(column.view(np.uint64) * np.uint64(factor) for column, factor in zip(columns, STIR[0], strict=True))
    keys = np.sort(keys)
    return bool((keys[1:] == keys[:-1]).any())


def _pair_number(low: Ints, high: Ints, vertex_count: int) -> Ints:
    """A number below 2^42 or so for each pair, equal where the pairs are, so that a third vertex can be packed in."""
    key = low * np.int64(vertex_count) + high
    if vertex_count < 2**21:
        return key
    rank: Ints = np.unique(key, return_inverse=True)[1].reshape(-1).astype(np.int64)
    return rank


def _sew_open_edges(vertices: Floats, faces: Ints, notes: list[Note]) -> tuple[Floats, Ints, EdgeTable]:
    """Vertices of open edges welded where they are nearly the same, if that closes any edge; the edges too."""
    table = edge_table(faces, len(vertices))
    boundary = table.boundary
    if not len(boundary):
        return vertices, faces, table
    from scipy.spatial import cKDTree  # slow to import and seldom needed

    loose = np.unique(np.concatenate([table.tail[boundary], table.head[boundary]]))
    points = vertices[loose]
    tolerance = min(NEAR_RELATIVE * float(np.linalg.norm(np.ptp(vertices, axis=0))), NEAR_MOST)
    near = cKDTree(points).query_pairs(tolerance, output_type="ndarray")
    if not len(near):
        return vertices, faces, table
    _, label = label_groups(near[:, 0].astype(np.int64), near[:, 1].astype(np.int64), len(loose))
    _, first = np.unique(label, return_index=True)
    target = np.arange(len(vertices), dtype=np.int64)
    target[loose] = loose[first][label]
    drop_notes: list[Note] = []
    sewn = _drop_bad_faces(target[faces], len(vertices), drop_notes)
    if len(edge_table(sewn, len(vertices)).boundary) >= len(boundary):
        return vertices, faces, table
    notes.append(repair(f"welded {_count(len(loose) - len(first), 'vertex pair')} less than {tolerance:.2g} mm apart"))
    notes.extend(drop_notes)
    used, renumbered = np.unique(sewn, return_inverse=True)
    faces = renumbered.reshape(-1, 3).astype(np.int64)
    return vertices[used], faces, edge_table(faces, len(used))


def _refuse_flat(vertices: Floats, faces: Ints) -> None:
    points = vertices
    if len(faces):
        centred = points - points.mean(axis=0)
        spread = np.linalg.eigvalsh(centred.T @ centred)
        if spread[0] > FLAT**2 * spread[2]:
            return
        size = np.ptp(points, axis=0)
        where = f"found a flat surface of {size[0]:.4g} x {size[1]:.4g} x {size[2]:.4g} mm."
    else:
        where = "found no face with three different vertices."
    msg = f"expected a body with volume, {where}"
    raise HullError(msg, remedy="Export the hull as a closed body, or as its whole outer skin.")


# ---- winding ----------------------------------------------------------------------------------------------------


def _consistent_winding(vertices: Floats, faces: Ints, table: EdgeTable) -> tuple[Ints, Bools]:
    """The patch of each face (m,) and the faces to turn (m,) so that each patch is wound one way.

    Where winding is mixed the faces are doubled: one copy as given, one turned, linked where they agree. A patch falls
    into two halves, of which the one that leaves more area as given is taken; a one-sided patch stays in one piece.
    """
    a, b = table.pairs
    against = table.tail[a] == table.tail[b]
    face_a, face_b, count = a // 3, b // 3, len(faces)
    if not against.any():
        _, patch = label_groups(face_a, face_b, count)
        return patch, np.zeros(count, dtype=bool)
    flip = against.astype(np.int64)
    ends_a = np.concatenate([2 * face_a, 2 * face_a + 1])
    ends_b = np.concatenate([2 * face_b + flip, 2 * face_b + 1 - flip])
    _, label = label_groups(ends_a, ends_b, 2 * count)
    as_given, as_turned = label[0::2], label[1::2]
    one_sided = np.flatnonzero(as_given == as_turned)
    if len(one_sided):
        x, y, z = vertices[faces[one_sided[0]]].mean(axis=0)
        msg = (
            f"expected a surface with an inside and an outside, found a one-sided strip (Moebius) near "
            f"({x:.4g}, {y:.4g}, {z:.4g}) mm in the file's axes."
        )
        raise HullError(msg, remedy="Repair the surface there in the program that drew it.")
    _, patch = np.unique(np.minimum(as_given, as_turned), return_inverse=True)
    patch = patch.reshape(-1).astype(np.int64)
    other = as_given > as_turned
    balance = np.bincount(patch, np.where(other, 1.0, -1.0) * _areas(vertices, faces))
    return patch, other != (balance > 0)[patch]


def _areas(vertices: Floats, faces: Ints) -> Floats:
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    return np.asarray(np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2)
