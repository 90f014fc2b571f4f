"""What two hands leave of each hull, by code of its own: `python tests/bench/hands_table.py [FILES] [--bound]`.

A block is made again from its templates alone: the hands go along both cut lines from mark to mark, evenly between
equal numbers. Of the solid that the wire leaves this way, and of random points on the hull's mesh, which no search
uses, the table says

    missing  mm; the most by which such a point lies outside the foam
    drift    mm along the outline, the most between these hands and the pairing that the program measured with
    ratio    the largest ratio of the two hands' speeds, where both move and either goes SHORT or more between two marks

beside what the program reports: blocks, those carved, mm and litres to sand, litres to carve. With --bound a linear
program of its own gives the least that could be left to sand with the pairing before growth: its offsets stand four
times as dense as the program's and may change from one to the next as they like.

Blocks that are made piece by piece have no bound. Demo jobs are taken as they are, meshes in ../shared at 900 mm in
foam of 50 mm.
"""

import argparse
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
from scipy.optimize import linprog

HERE = Path(__file__).resolve()
MODELS = HERE.parents[2] / "models"
SHARED = HERE.parents[3] / "shared" / "meshes"
sys.path.insert(0, str(HERE.parents[2]))

from profiles.arrays import Floats  # noqa: E402
from profiles.blocks.blocks import Block, CarvedBlock, CutBlock  # noqa: E402
from profiles.blocks.hull_sections import hull_cut, hull_inside  # noqa: E402
from profiles.blocks.pairing import pair_faces  # noqa: E402
from profiles.blocks.ring_pairs import RingPair  # noqa: E402
from profiles.build import read_job  # noqa: E402
from profiles.build import shape as shape_of  # noqa: E402
from profiles.errors import StationerError  # noqa: E402
from profiles.hull.frame import Hull  # noqa: E402
from profiles.hull.mesh_shape import MeshShape  # noqa: E402
from profiles.hull.sections import Side as Limit  # noqa: E402
from profiles.hull.shape import Shape  # noqa: E402
from profiles.job import Job  # noqa: E402
from profiles.jobfile import load_job  # noqa: E402
from tests.even_hands import HandRing, depth_in, hand_rings, lines_of  # noqa: E402

SHORT = 5.0
"""mm; on shorter ways no hand is slow for long."""

POINTS = 60_000
"""Random points on the whole hull."""

SECTIONS = 300
"""Random sections of a hull without a mesh."""

DENSE = 1.25
"""mm between the offsets of the bound."""

ENOUGH = 0.01
"""mm that may be missing: no more than the program lets go."""

BESIDE = 0.02
"""Share of a block's thickness at its faces where points are left to the faces: walls of the hull stand there."""


def points_on(hull: Hull, seed: int = 5) -> Floats:
    """Random points (n, 3) mm on the mesh, even by area; of a hull without one on random sections."""
    generator = np.random.default_rng(seed)
    if not isinstance(hull.shape, MeshShape):
        spots = []
        for x in np.sort(generator.uniform(0.0, hull.length, SECTIONS)).tolist():
            for line in lines_of(hull.shape.section(x, Limit.AFT).region):
                places = shapely.line_interpolate_point(line, generator.uniform(0.0, line.length, POINTS // SECTIONS))
                spots.append(np.insert(shapely.get_coordinates(places), 0, x, axis=1))
        return np.concatenate(spots)
    surface = hull.surface
    a, b, c = (surface.vertices[corner] for corner in surface.faces.T)
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    face = generator.choice(len(area), POINTS, p=area / area.sum())
    u, v = generator.random((2, POINTS))
    u, v = np.where(u + v > 1, 1 - u, u), np.where(u + v > 1, 1 - v, v)
    return np.asarray(a[face] + u[:, None] * (b - a)[face] + v[:, None] * (c - a)[face])


def ratio_of(rings: Sequence[HandRing]) -> float:
    """The largest ratio of speeds where both hands move."""
    ways = np.concatenate([np.array(ring.speeds) for ring in rings])
    ways = ways[(ways.max(axis=1) >= SHORT) & (ways.min(axis=1) > 1e-3)]
    return float((ways.max(axis=1) / ways.min(axis=1)).max(initial=1.0))


def drift_of(block: CutBlock) -> float:
    """Distance in mm between the pairing of a block and even hands between its marks, along the grown outlines."""
    worst = 0.0
    marks = [np.array([(mark.y, mark.z) for mark in face.marks]) for face in block.faces]
    for pair in block.grown.pairing.rings:
        lines = [shapely.LineString(np.vstack([ring, ring[:1]])) for ring in (pair.fore, pair.aft)]
        spots = [shapely.points(places) for places in marks]
        near = [shapely.distance(places, line) < 1e-3 for places, line in zip(spots, lines, strict=True)]
        chosen = near[0] & near[1]
        if chosen.sum() < 2:
            continue
        model = np.column_stack([pair.along_fore, pair.along_aft])
        stops = []
        for face, (line, places) in enumerate(zip(lines, spots, strict=True)):
            along = shapely.line_locate_point(line, places[chosen])
            steps = np.diff(np.append(along, along[0]))
            steps[steps < -1e-6] += model[-1, face]
            stops.append(along[0] + np.concatenate([[0.0], np.cumsum(steps)]))
        twice = np.vstack([model, model[1:] + model[-1]])
        even = np.linspace(stops[0][0] + stops[1][0], stops[0][-1] + stops[1][-1], 4000)
        hands = np.interp(even, stops[0] + stops[1], stops[0])
        pairing = np.interp(even, twice.sum(axis=1), twice[:, 0])
        worst = max(worst, float(np.abs(hands - pairing).max()))
    return worst


class Bound:
    """The linear program for one block, in litres: what must be sanded off at least, whatever the offsets."""

    def __init__(self, block: CutBlock, shape: Shape) -> None:
        """Pair the outlines as they are, before growth."""
        self.fore, self.aft = (face.outline.finished for face in block.faces)
        self.x, self.thickness = block.span.x_fore, block.span.x_aft - block.span.x_fore
        self.cut = hull_cut(shape)
        inside = hull_inside(self.cut, block.span.x_fore, block.span.x_aft, self.fore, self.aft)
        self.pairs = [_divide(pair) for pair in pair_faces(self.fore, self.aft, between=inside.between).rings]
        self.rings = [HandRing(pair.fore, pair.aft, []) for pair in self.pairs]
        places = shape.points_between(block.span.x_fore, block.span.x_aft)
        self.points = np.concatenate([places.search, places.control])
        self.count = 0
        self.offsets = []
        for pair in self.pairs:
            sides = []
            for ring, along in ((pair.fore, pair.along_fore), (pair.aft, pair.along_aft)):
                size = max(8, int(np.ceil(along[-1] / DENSE)))
                sides.append(Side(ring, along, self.count, size, -1 if pair.hollow else 1))
                self.count += size
            self.offsets.append(sides)

    def litres(self) -> float | None:
        """The bound; None where a section cannot be measured or nothing covers the hull."""
        extra = self._measure_sections()
        depth = depth_in(self.rings, self.points[:, 1:], (self.points[:, 0] - self.x) / self.thickness)
        lacking = np.flatnonzero(depth < -ENOUGH)
        if extra is None or not len(lacking):
            return None if extra is None else max(0.0, extra) / 1e6
        table = np.zeros((len(lacking), self.count))
        for row, n in enumerate(lacking.tolist()):
            for column, factor in self._moves(self.points[n]):
                table[row, column] += factor
        found = linprog(
            np.maximum(self._costs(), 1e-6),
            A_ub=-table,
            b_ub=depth[lacking] + ENOUGH,
            bounds=(0, 20),
            method="highs",
        )
        return None if found.fun is None else float(extra + found.fun) / 1e6

    def _measure_sections(self) -> float | None:
        """Foam beyond the hull less missing foam, mm3; points of the sections are added to those to be covered."""
        shares = (np.arange(40) + 0.5) / 40
        extra, spots = 0.0, []
        for share in shares.tolist():
            region = self.cut(self.x + share * self.thickness)
            if region is None:
                return None
            solid = shapely.MultiPolygon()
            for ring in self.rings:
                part = shapely.make_valid(shapely.Polygon((1 - share) * ring.fore + share * ring.aft))
                solid = solid.symmetric_difference(part)
            extra += (solid.area - region.area) * self.thickness / len(shares)
            for line in lines_of(region):
                points = shapely.get_coordinates(line.segmentize(2.5))
                spots.append(np.column_stack([np.full(len(points), self.x + share * self.thickness), points]))
        self.points = np.concatenate([self.points, *spots])
        return extra

    def _moves(self, point: Floats) -> Iterator[tuple[int, float]]:
        """By how much each offset moves the surface out beside a point (x, y, z)."""
        share = (point[0] - self.x) / self.thickness
        nearest = []
        for number, ring in enumerate(self.rings):
            here = (1 - share) * ring.fore + share * ring.aft
            way = np.roll(here, -1, axis=0) - here
            t = np.clip(((point[1:] - here) * way).sum(axis=1) / np.maximum((way**2).sum(axis=1), 1e-18), 0, 1)
            off = point[1:] - here - t[:, None] * way
            k = int((off**2).sum(axis=1).argmin())
            nearest.append((float(np.hypot(*off[k])), number, k, float(t[k]), off[k]))
        size, number, k, t_k, off_k = min(nearest, key=lambda one: one[0])
        for side, weight in zip(self.offsets[number], (1 - share, share), strict=True):
            place = side.along[k] + t_k * (side.along[k + 1] - side.along[k])
            turn = max(float(side.normal(place) @ off_k) / size, 0.3)
            for column, part in side.spread(place):
                yield column, weight * part * turn

    def _costs(self) -> Floats:
        """mm2 by which the volume grows with each offset, by the prismoidal formula."""
        cost = np.zeros(self.count)
        for pair, sides in zip(self.pairs, self.offsets, strict=True):
            for side, other in zip(sides, (pair.aft, pair.fore), strict=True):
                gradient = side.sign * (_outward(side.ring) / 6 + _outward(other) / 12) * self.thickness
                for k in range(len(side.ring)):
                    worth = float(gradient[k] @ side.normal(float(side.along[k])))
                    for column, part in side.spread(float(side.along[k])):
                        cost[column] += part * worth
        return cost


@dataclass(frozen=True)
class Side:
    """The offsets of one ring on one face: `size` of them, even along it, from column `first` on."""

    ring: Floats
    along: Floats
    first: int
    size: int
    sign: int
    """-1 for a hollow."""

    def spread(self, place: float) -> list[tuple[int, float]]:
        """The two columns that move a place, and by what share."""
        before, part = divmod(place / (self.along[-1] / self.size), 1.0)
        columns = (int(before) % self.size, (int(before) + 1) % self.size)
        return [(self.first + column, share) for column, share in zip(columns, (1 - part, part), strict=True)]

    def normal(self, place: float) -> Floats:
        """Out of the material, at a place in mm along the ring."""
        closed = np.vstack([self.ring, self.ring[:1]])
        beside = np.mod([place - 0.3, place + 0.3], self.along[-1])
        way = np.diff(np.column_stack([np.interp(beside, self.along, closed[:, axis]) for axis in (0, 1)]), axis=0)[0]
        return np.asarray(self.sign * np.array([way[1], -way[0]]) / max(np.hypot(*way), 1e-9))


def _divide(pair: RingPair) -> RingPair:
    """The pair with knots no farther apart than the offsets, so that each offset costs what it moves."""
    lines = [np.vstack([ring, ring[:1]]) for ring in (pair.fore, pair.aft)]
    alongs = pair.along_fore, pair.along_aft
    knots = np.arange(len(alongs[0]))
    pieces = np.ceil(np.maximum(*map(np.diff, alongs)) / DENSE).astype(int)
    share = np.concatenate([n + np.arange(count) / count for n, count in enumerate(pieces.tolist()) if count])
    rings = [np.column_stack([np.interp(share, knots, line[:, axis]) for axis in (0, 1)]) for line in lines]
    places = [np.append(np.interp(share, knots, along), along[-1]) for along in alongs]
    return replace(pair, fore=rings[0], aft=rings[1], along_fore=places[0], along_aft=places[1])


def _outward(ring: Floats) -> Floats:
    after, before = np.roll(ring, -1, axis=0), np.roll(ring, 1, axis=0)
    return np.column_stack([after[:, 1] - before[:, 1], before[:, 0] - after[:, 0]])


@dataclass
class Row:
    """Figures of a hull, or of one of its blocks; lengths in mm, volumes in litres."""

    missing: float = 0.0
    drift: float = 0.0
    ratio: float = 1.0
    to_sand: float = 0.0
    sanded: float = 0.0
    carved: float = 0.0
    bound: float = 0.0
    of_it: float = 0.0

    def add(self, other: "Row") -> None:
        """Greatest lengths, sums of volumes."""
        for name in ("missing", "drift", "ratio", "to_sand"):
            setattr(self, name, max(getattr(self, name), getattr(other, name)))
        for name in ("sanded", "carved", "bound", "of_it"):
            setattr(self, name, getattr(self, name) + getattr(other, name))

    def __str__(self) -> str:
        """One line of the table."""
        return (
            f"{self.missing:9.3f}{self.drift:8.2f}{self.ratio:8.1f}{self.to_sand:9.2f}{self.sanded:9.4f}"
            f"{self.carved:8.3f}{self.bound:8.4f}{self.of_it:9.4f}"
        )


def measure(block: Block, points: Floats, shape: Shape, *, bound: bool) -> Row:
    """The figures of one block."""
    if isinstance(block, CarvedBlock):
        return Row(carved=block.tip.carving_volume / 1e6)
    if not isinstance(block, CutBlock):
        return Row()
    rings = hand_rings(block)
    low, high = block.span.x_fore, block.span.x_aft
    margin = BESIDE * (high - low)
    here = points[(points[:, 0] > low + margin) & (points[:, 0] < high - margin)]
    depth = depth_in(rings, here[:, 1:], (here[:, 0] - low) / (high - low)) if len(here) else np.zeros(1)
    deviation = block.grown.deviation
    least = Bound(block, shape).litres() if bound and not block.grown.joined else None
    sanded = block.sanding_volume / 1e6
    return Row(
        missing=float(-depth.min()),
        drift=drift_of(block),
        ratio=ratio_of(rings),
        to_sand=deviation.extra,
        sanded=sanded,
        carved=deviation.carved_volume / 1e6,
        bound=least or 0.0,
        of_it=0.0 if least is None else sanded,
    )


def jobs(files: Sequence[Path]) -> Iterator[tuple[Path, Job]]:
    """The files, or the demos and all meshes, with their jobs."""
    every = files or [
        *sorted(MODELS.glob("*.toml")),
        *sorted(file for file in SHARED.glob("*.*") if file.suffix != ".md"),
    ]
    for file in every:
        size = {} if file.suffix == ".toml" else {("hull", "length"): 900.0, ("foam", "thickness"): 50.0}
        yield file, load_job(file, size)


def main() -> int:
    """Print the table."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("files", nargs="*", type=Path)
    words.add_argument("--bound", action="store_true", help="solve the linear program too")
    words.add_argument("--each", action="store_true", help="a line for each block")
    given = words.parse_args()
    print(f"{'':24}blocks carved  missing   drift   ratio  to sand   sanded  carved   bound    of it       s")
    for file, job in jobs(given.files):
        start = time.perf_counter()
        try:
            hull = read_job(job)
            body = shape_of(job, hull)
        except StationerError as fault:
            print(f"{file.name:24}left out: {fault.message[:90]}")
            continue
        seconds = time.perf_counter() - start
        points = points_on(hull)
        whole = Row()
        for block in body.blocks:
            row = measure(block, points, hull.shape, bound=given.bound)
            whole.add(row)
            if given.each:
                print(f"  {block.span.number:3} {block.span.x_fore:7.1f} {len(block.fore.marks):4} marks {'':7}{row}")
        carved = sum(isinstance(block, CarvedBlock) for block in body.blocks)
        print(f"{file.name:24}{len(body.blocks):6}{carved:7}{whole}{seconds:8.1f}", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
