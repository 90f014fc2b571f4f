"""Patches of surface -> bodies, turned outwards, numbered, their voids identified.

patch    faces joined over edges of exactly two faces; has one winding
body     patches joined over any edge, or lying along each other with open edges; has one number, from 1, largest first
void     a patch inside another one and wound the other way; has the number of the body it lies in
sheet    a patch that holds no volume, such as a bulkhead without thickness; left as it is
"""

import numpy as np

from profiles.arrays import Bools, Floats, Ints
from profiles.errors import HullError
from profiles.hull.edges import SEAM, SEAM_NEIGHBOURS, EdgeTable, label_chains, label_groups
from profiles.hull.surface import Surface
from profiles.notes import Note, repair
from profiles.values import dataclass

SHEET = 1e-6
"""Volume over area^1.5 below which a patch holds no volume (a sphere has 0.094, a plate of 1 : 1000 about 0.0004)."""

INSIDE = 0.5
"""Share of the whole solid angle from which a point counts as inside: half, for shells that may be open on top."""

BODIES_LISTED = 12
"""How many bodies a message lists: more than that does not help."""


CRUMBS = 50
"""Bodies from which on the surface may not be one hull at all."""

CRUMBLED = 1e-4
"""Of the box they stand in: so little volume in so many bodies means crumbs, or a lattice that no wire cuts."""


def body_count(surface: Surface) -> int:
    """How many bodies a surface has."""
    return 1 if surface.whole else len(np.unique(surface.body))


def refuse_crumbs(surface: Surface) -> None:
    """Raises HullError for many small bodies scattered over a large box, as a scanner leaves them."""
    count = body_count(surface)
    if count < CRUMBS:
        return
    low, high = surface.bounds
    a, b, c = (surface.vertices[surface.faces[:, k]] - (low + high) / 2 for k in range(3))
    volume = abs(float(np.einsum("ij,ij->", a, np.cross(b, c)))) / 6
    if volume < CRUMBLED * float(np.prod(high - low)):
        size = " x ".join(f"{side:.4g}" for side in high - low)
        msg = f"expected a hull, found {count} bodies of {volume / 1e6:.3g} litres in all, scattered over {size} mm."
        raise HullError(msg, remedy="Delete the small pieces, or choose the bodies to cut with --body.")


def flip_faces(faces: Ints, which: Bools) -> Ints:
    """Faces (m, 3), those of which (m,) wound the other way."""
    result = faces.copy()
    result[which] = faces[which][:, ::-1]
    return result


@dataclass(frozen=True, slots=True)
class _Patches:
    """What is known of each patch."""

    of_face: Ints
    """(m,) patch of each face."""
    volume: Floats
    """(p,) mm3, signed; open boundaries closed by fans to their centroids."""
    low: Floats
    """(p, 3) mm, least corner."""
    high: Floats
    """(p, 3) mm, greatest corner."""


def _measure_patches(vertices: Floats, faces: Ints, patch: Ints, table: EdgeTable) -> _Patches:
    count = int(patch.max()) + 1
    order = np.argsort(patch, kind="stable")
    first = np.searchsorted(patch[order], np.arange(count))
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    low = np.minimum.reduceat(np.minimum(np.minimum(a, b), c)[order], first, axis=0)
    high = np.maximum.reduceat(np.maximum(np.maximum(a, b), c)[order], first, axis=0)
    # Each patch is measured from its own middle: far from the origin the sum would be lost in rounding.
    middle = (low + high) / 2
    normal = np.cross(b - a, c - a)
    sixfold = np.einsum("ij,ij->i", a - middle[patch], normal)
    volume = np.asarray(np.bincount(patch, sixfold, minlength=count), dtype=np.float64)
    area = np.bincount(patch, np.sqrt(np.einsum("ij,ij->i", normal, normal)) / 2, minlength=count)
    open_sides = np.concatenate([table.boundary, table.crowded])
    if len(open_sides):
        volume = volume + _fan_volumes(vertices, middle, patch, table, open_sides)
    volume = volume / 6
    return _Patches(patch, np.where(np.abs(volume) > SHEET * area**1.5, volume, 0.0), low, high)


def _fan_volumes(vertices: Floats, middle: Floats, patch: Ints, table: EdgeTable, sides: Ints) -> Floats:
    """Six times the volume, for each patch, of fans that close its open sides towards each loop's centroid."""
    owner = patch[sides // 3]
    tail, head = table.tail[sides], table.head[sides]
    _, loop = label_chains(owner * np.int64(len(vertices)) + tail, owner * np.int64(len(vertices)) + head)
    a, b = vertices[tail] - middle[owner], vertices[head] - middle[owner]
    number = np.bincount(loop)
    centre = np.column_stack([np.bincount(loop, (a[:, k] + b[:, k]) / 2) / number for k in range(3)])
    wedge = np.einsum("ij,ij->i", b, np.cross(a, centre[loop]))
    return np.asarray(np.bincount(owner, wedge, minlength=len(middle)), dtype=np.float64)


def orient_bodies(vertices: Floats, faces: Ints, patch: Ints, table: EdgeTable, notes: list[Note]) -> tuple[Ints, Ints]:
    """Faces (m, 3) turned outwards and the body number (m,) of each; voids stay wound inwards; notes list what turns.

    patch (m,) numbers the patches of consistently wound faces. Raises HullError where none of them holds volume.
    """
    patches = _measure_patches(vertices, faces, patch, table)
    container = _containers(vertices, faces, patches)
    count = len(patches.volume)
    root = np.arange(count)
    for _ in range(count):
        above = np.where(container[root] >= 0, container[root], root)
        if np.array_equal(above, root):
            break
        root = above
    flip = patches.volume[root] < 0
    flip &= patches.volume != 0
    final = np.where(flip, -patches.volume, patches.volume)
    a, b = table.neighbours
    beside_a, beside_b = _patches_along_seams(vertices, patches, table)
    links_a = np.concatenate([patches.of_face[a // 3], beside_a])
    links_b = np.concatenate([patches.of_face[b // 3], beside_b])
    _, joined = label_groups(links_a, links_b, count)
    home = np.where((final < 0) & (container >= 0), joined[container], joined)
    size = np.bincount(home, np.where(final > 0, final, 0.0), minlength=count)
    first_face = np.full(count, len(faces))
    np.minimum.at(first_face, home[patches.of_face], np.arange(len(faces)))
    present = np.unique(home)
    ranked = present[np.lexsort([first_face[present], -size[present]])]
    number = np.zeros(count, dtype=np.int64)
    number[ranked] = np.arange(1, len(ranked) + 1)
    body = number[home][patches.of_face]
    if not (final != 0).any():
        msg = "expected a body with volume, found only sheets that hold none."
        raise HullError(msg, remedy="Export the hull as a closed body, or as its whole outer skin.")
    _note_turned(np.unique(number[home][flip]), len(ranked), notes)
    return flip_faces(faces, flip[patches.of_face]), body


def _patches_along_seams(vertices: Floats, patches: _Patches, table: EdgeTable) -> tuple[Ints, Ints]:
    """Pairs of patches whose open edges lie along each other: the halves of a skin that was never sewn are one body."""
    sides = table.boundary
    loose, where = np.unique(table.tail[sides], return_index=True)
    owner = patches.of_face[sides[where] // 3]
    if len(np.unique(owner)) < 2:  # noqa: PLR2004 - a seam has two sides
        return owner[:0], owner[:0]
    from scipy.spatial import cKDTree  # slow to import and seldom needed

    points = vertices[loose]
    # Only which body a patch belongs to depends on this; whether the seam closes is for the sections to say.
    tolerance = SEAM * float(np.sort(np.ptp(vertices, axis=0))[1])
    _, near = cKDTree(points).query(points, k=min(SEAM_NEIGHBOURS, len(points)), distance_upper_bound=tolerance)
    known = near < len(points)
    other = owner[np.where(known, near, 0)]
    patch_here = np.broadcast_to(owner[:, None], other.shape)
    seam = known & (other != patch_here)
    return patch_here[seam], other[seam]


def _note_turned(turned: Ints, total: int, notes: list[Note]) -> None:
    if not len(turned):
        return
    if total == 1:
        notes.append(repair("turned the body, which was inside out"))
    elif len(turned) == total:
        notes.append(repair(f"turned all {total} bodies, which were inside out"))
    else:
        shown = ", ".join(str(number) for number in turned[:BODIES_LISTED])
        more = " and more" if len(turned) > BODIES_LISTED else ""
        notes.append(repair(f"turned body {shown}{more} of {total}, which was inside out"))


def _containers(vertices: Floats, faces: Ints, patches: _Patches) -> Ints:
    """(p,) the smallest patch each patch lies inside, or -1; looked for only where their windings differ."""
    volume, low, high = patches.volume, patches.low, patches.high
    result = np.full(len(volume), -1, dtype=np.int64)
    if not ((volume < 0).any() and (volume > 0).any()):
        return result
    order = np.argsort(patches.of_face, kind="stable")
    bound = np.searchsorted(patches.of_face[order], np.arange(len(volume) + 1))
    for inner in np.flatnonzero(volume):
        around = (low <= low[inner]).all(axis=1) & (high >= high[inner]).all(axis=1)
        around &= np.abs(volume) > abs(volume[inner])
        if not (around & (volume * volume[inner] < 0)).any():
            continue
        points = _extreme_points(vertices[faces[order[bound[inner] : bound[inner + 1]]]])
        candidates = np.flatnonzero(around)
        for outer in candidates[np.argsort(np.abs(volume[candidates]))]:
            shell = vertices[faces[order[bound[outer] : bound[outer + 1]]]]
            if (np.abs(winding_about(points, shell)) > INSIDE).all():
                result[inner] = outer
                break
    return result


def _extreme_points(corners: Floats) -> Floats:
    """Up to (6, 3) mm: the middles of the faces that lie furthest out each way."""
    middles = corners.mean(axis=1)
    return np.asarray(middles[np.unique([pick(middles[:, k]) for k in range(3) for pick in (np.argmin, np.argmax)])])


def winding_about(points: Floats, corners: Floats) -> Floats:
    """(n,) how often the triangles (m, 3, 3) go round each point (n, 3): 1 inside a closed shell wound outwards.

    Solid angle of a triangle after A. van Oosterom and J. Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125.
    """
    result = np.zeros(len(points))
    for index, point in enumerate(points):
        a, b, c = (corners[:, k] - point for k in range(3))
        la, lb, lc = (np.linalg.norm(side, axis=1) for side in (a, b, c))
        top = np.einsum("ij,ij->i", a, np.cross(b, c))
        dot_ab, dot_bc, dot_ca = (np.einsum("ij,ij->i", p, q) for p, q in ((a, b), (b, c), (c, a)))
        result[index] = np.arctan2(top, la * lb * lc + dot_ab * lc + dot_bc * la + dot_ca * lb).sum() / (2 * np.pi)
    return result
