"""A grid of points on a surface laid flat with the least strain.

Each cell of the grid is four triangles, two for each diagonal, at half weight, so that no direction is preferred. A
conformal map (Levy and others 2002, "Least squares conformal maps") is exact for a surface that can be developed, and
a good start for others. From there the strain energy of an elastic sheet with Poisson's ratio 0 is minimised: the sum
over triangles of area times the square of Green's strain, by Gauss-Newton steps.
"""

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from profiles.arrays import Floats, Ints
from profiles.values import dataclass

STEPS = 40
"""Largest number of Gauss-Newton steps; a developable surface takes two or three, a gore of a sphere about six."""

SETTLED = 1e-10
"""Relative fall of the energy at which it rests: strains are then known to 1e-5 of themselves."""

FLAT_ENERGY = 1e-22
"""Of area times strain squared, by area: a strain of 1e-11 is rounding."""

DAMPING = 1e-10
"""Share of the mean diagonal that keeps the three rigid movements from being singular."""

SLIVER = 1e-3
"""A triangle with less than this of the mean area does not count for the largest stretch: beside a pointed end."""


@dataclass(frozen=True, slots=True)
class Flat:
    """A grid laid flat."""

    points: Floats
    """(rows, columns, 2) mm: the first axis runs about along the rows' course, the second follows anticlockwise."""
    stretch: float
    """Largest share by which the sheet is stretched when it goes onto the body."""
    squeeze: float
    """Largest share by which it is squeezed."""
    slits: tuple[Floats, ...] = ()
    """For each row that is cut open, its other side: (columns behind the middle, 2) mm."""


def flatten(points: Floats, breadths: Floats, cuts: Sequence[int] = ()) -> Flat:
    """A grid (rows, columns, 3) mm laid flat; `breadths` (rows, columns - 1) mm are the true girths between
    neighbouring points of a row, which are longer than chords. The rows `cuts` are cut open from the last column as far
    as the middle one.
    """
    rows, columns = points.shape[:2]
    triangles, rest = _triangles(points, breadths)
    triangles = _cut_open(triangles, rows, columns, cuts)
    area = np.abs(np.linalg.det(rest)) / 2
    inverse: Floats = np.asarray(np.linalg.inv(rest), dtype=np.float64)
    start = _conformal(triangles, inverse, area, points, rows * columns + len(cuts) * (columns - columns // 2 - 1))
    flat = _relax(start, triangles, inverse, area)
    strains = np.asarray(np.linalg.svd(_gradients(flat, triangles, inverse), compute_uv=False), dtype=np.float64)
    counted = strains[area > SLIVER * area.mean()]
    flat = _straight(flat, rows, columns)
    grid, more = flat[: rows * columns].reshape(rows, columns, 2), flat[rows * columns :]
    slits = tuple(more.reshape(len(cuts), -1, 2)) if cuts else ()
    return Flat(grid, float(1 / counted.min() - 1), float(max(0.0, 1 - 1 / counted.max())), slits)


def _cut_open(triangles: Ints, rows: int, columns: int, cuts: Sequence[int]) -> Ints:
    """The triangles with new points for the aft side of each row that is cut open, behind the others."""
    opened, behind = triangles.copy(), columns // 2 + 1
    cell_row = triangles.min(axis=1) // columns
    for k, row in enumerate(cuts):
        first, new = row * columns + behind, rows * columns + k * (columns - behind)
        moved = (triangles >= first) & (triangles < (row + 1) * columns) & (cell_row >= row)[:, None]
        opened[moved] += new - first
    return opened


def _triangles(points: Floats, breadths: Floats) -> tuple[Ints, Floats]:
    """Corners (t, 3) of the triangles, anticlockwise with rows along and columns up, and the two sides of each from its
    first corner when it lies flat by itself (t, 2, 2), as columns.
    """
    rows, columns = points.shape[:2]
    number = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = number[:-1, :-1].ravel(), number[1:, :-1].ravel(), number[1:, 1:].ravel(), number[:-1, 1:].ravel()
    flat = points.reshape(-1, 3)
    chord = np.linalg.norm(np.diff(points, axis=1), axis=2)
    near, far = breadths[:-1].ravel(), breadths[1:].ravel()
    more = (breadths**2 - chord**2) / 2
    bulge = (more[:-1] + more[1:]).ravel()  # a diagonal across bent cells is longer, as the girth is

    def apart(p: Ints, q: Ints, extra: float | Floats = 0.0) -> Floats:
        return np.asarray(np.sqrt(((flat[p] - flat[q]) ** 2).sum(axis=1) + extra))

    low, high, up, down = apart(a, b), apart(d, c), apart(a, c, bulge), apart(b, d, bulge)
    sides = [(a, b, c, low, up, far), (a, c, d, up, near, high), (a, b, d, low, near, down), (b, c, d, far, down, high)]
    corners = np.concatenate([np.column_stack(side[:3]) for side in sides])
    first, second, third = (np.concatenate([side[k] for side in sides]) for k in (3, 4, 5))
    cosine = (first**2 + second**2 - third**2) / (2 * first * second)
    cosine = np.clip(cosine, -1 + 1e-12, 1 - 1e-12)  # a triangle without area keeps a little
    rest = np.zeros((len(corners), 2, 2))
    rest[:, 0, 0] = first
    rest[:, 0, 1], rest[:, 1, 1] = second * cosine, second * np.sqrt(1 - cosine**2)
    return corners, rest


def _gradients(flat: Floats, triangles: Ints, inverse: Floats) -> Floats:
    """How each triangle (t, 2, 2) is deformed."""
    p, q, r = (flat[triangles[:, k]] for k in range(3))
    return np.asarray(np.stack([q - p, r - p], axis=2) @ inverse)


def _shape_slopes(inverse: Floats) -> Floats:
    """(t, 3, 2): how the deformation follows from the three corners."""
    return np.concatenate([-inverse.sum(axis=1, keepdims=True), inverse], axis=1)


def _conformal(triangles: Ints, inverse: Floats, area: Floats, points: Floats, count: int) -> Floats:
    """Flat points (n, 2) of the least squares conformal map with two far corners held, scaled to the true area."""
    from scipy import sparse  # slow to import
    from scipy.sparse.linalg import spsolve

    slopes = _shape_slopes(inverse) * np.sqrt(area)[:, None, None]
    many = len(triangles)
    row = np.repeat(np.arange(many), 3)
    corner = triangles.ravel()
    along, up = slopes[..., 0].ravel(), slopes[..., 1].ravel()
    # du/dx = dv/dy and du/dy = -dv/dx
    values = np.concatenate([along, -up, up, along])
    rows = np.concatenate([row, row, row + many, row + many])
    columns = np.concatenate([corner, corner + count, corner, corner + count])
    matrix = sparse.csr_matrix((values, (rows, columns)), shape=(2 * many, 2 * count))
    middle = points.shape[1] // 2
    ends = [middle, (points.shape[0] - 1) * points.shape[1] + middle]
    length = float(np.linalg.norm(np.diff(points[:, middle], axis=0), axis=1).sum())
    held = np.array([*ends, *(end + count for end in ends)])
    free = np.setdiff1d(np.arange(2 * count), held)
    placed = np.array([0.0, length, 0.0, 0.0])
    system, right = matrix[:, free], -(matrix[:, held] @ placed)
    found = np.empty(2 * count)
    found[held], found[free] = placed, spsolve((system.T @ system).tocsc(), system.T @ right)
    flat = found.reshape(2, count).T
    ratio = area.sum() / max(_signed_area(flat, triangles), 1e-12)
    return np.asarray(flat * np.sqrt(ratio))


def _signed_area(flat: Floats, triangles: Ints) -> float:
    p, q, r = (flat[triangles[:, k]] for k in range(3))
    return float(((q - p)[:, 0] * (r - p)[:, 1] - (q - p)[:, 1] * (r - p)[:, 0]).sum() / 2)


def _relax(flat: Floats, triangles: Ints, inverse: Floats, area: Floats) -> Floats:
    """Flat points (n, 2) at the least strain energy."""
    from scipy import sparse  # slow to import
    from scipy.sparse.linalg import spsolve

    slopes, weight = _shape_slopes(inverse), np.sqrt(area)
    count = len(flat)
    unknowns = np.stack([triangles, triangles + count], axis=2).reshape(len(triangles), 6)
    rows = np.repeat(np.arange(3 * len(triangles)), 6)
    columns = np.repeat(unknowns, 3, axis=0).ravel()
    strain = _strains(triangles, inverse, weight)
    residual = strain(flat)
    energy = float(residual @ residual)
    for _ in range(STEPS):
        if energy <= FLAT_ENERGY * area.sum():
            break
        gradient = _gradients(flat, triangles, inverse)
        values = _derivatives(gradient, slopes) * weight[:, None, None]
        matrix = sparse.csr_matrix((values.ravel(), (rows, columns)), shape=(3 * len(triangles), 2 * count))
        normal = (matrix.T @ matrix).tocsc()
        normal = normal + sparse.identity(2 * count, format="csc") * (DAMPING * normal.diagonal().mean())
        step = np.asarray(spsolve(normal, -(matrix.T @ residual)), dtype=np.float64).reshape(2, count).T
        share, better = 1.0, False
        while share > 1e-4 and not better:  # noqa: PLR2004 - no way down
            moved = flat + share * step
            tried = strain(moved)
            better, share = float(tried @ tried) < energy, share / 2
        if not better:
            break
        fall = energy - float(tried @ tried)
        flat, residual, energy = moved, tried, energy - fall
        if fall <= SETTLED * energy:
            break
    return flat


def _strains(triangles: Ints, inverse: Floats, weight: Floats) -> Callable[[Floats], Floats]:
    def strain(flat: Floats) -> Floats:
        """Green's strain of all triangles (3 t,), weighted: along, across, and the shear counted twice."""
        deformed = _gradients(flat, triangles, inverse)
        product = np.swapaxes(deformed, 1, 2) @ deformed
        parts = np.stack(
            [(product[:, 0, 0] - 1) / 2, (product[:, 1, 1] - 1) / 2, product[:, 0, 1] / np.sqrt(2)], axis=1
        )
        return np.asarray((parts * weight[:, None]).ravel())

    return strain


def _derivatives(gradient: Floats, slopes: Floats) -> Floats:
    """(t, 3, 6): how the three strains of a triangle follow from x and y of its corners."""
    along, up = gradient[:, None, :, 0], gradient[:, None, :, 1]  # (t, 1, 2)
    first, second = slopes[..., 0, None], slopes[..., 1, None]  # (t, 3, 1)
    parts = [first * along, second * up, (first * up + second * along) / np.sqrt(2)]
    return np.stack([part.reshape(len(gradient), 6) for part in parts], axis=1)


def _straight(flat: Floats, rows: int, columns: int) -> Floats:
    """Points (n, 2), a grid first, turned so that its middle line runs along x and moved so that extents begin at 0."""
    middle = flat[: rows * columns].reshape(rows, columns, 2)[:, columns // 2]
    way = middle[-1] - middle[0]
    way = way / max(float(np.hypot(*way)), 1e-12)
    turned = flat @ np.array([[way[0], -way[1]], [way[1], way[0]]])
    moved: npt.NDArray[np.float64] = turned - turned.min(axis=0)
    return moved
