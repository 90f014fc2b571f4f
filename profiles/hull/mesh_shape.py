"""A Shape of triangles: what blocks ask a repaired surface in the hull frame."""

from dataclasses import asdict

import numpy as np
from shapely import MultiPolygon

from profiles.arrays import Floats
from profiles.hull.sections import Section, Side, section
from profiles.hull.shape import Definition, SpanPoints, View
from profiles.hull.silhouette import silhouette
from profiles.hull.surface import SectionRules, Surface
from profiles.hull.surface_points import points_on_edges, points_on_faces, vertices_between
from profiles.values import dataclass

LEVEL = 1e-6
"""mm; a face of less extent along x stands square across the body. Far above rounding at 10 m."""


@dataclass(frozen=True, slots=True)
class MeshShape:
    """A Shape whose answers come from the triangles of a surface."""

    surface: Surface

    @property
    def bounds(self) -> tuple[Floats, Floats]:
        """Least and greatest corner, each (3,) mm."""
        return self.surface.bounds

    def section(self, x: float, side: Side) -> Section:
        """The section at x mm; see `sections.section`."""
        return section(self.surface, x, side)

    def points_between(self, x_fore: float, x_aft: float) -> SpanPoints:
        """Vertices, and points along edges and on faces: every other one of these confirms growth."""
        spread = [on(self.surface, x_fore, x_aft) for on in (points_on_edges, points_on_faces)]
        vertices = vertices_between(self.surface, x_fore, x_aft)
        return SpanPoints(
            np.concatenate([vertices, *(points[::2] for points in spread)]),
            np.concatenate([points[1::2] for points in spread]),
        )

    def silhouette(self, x_fore: float, x_aft: float, view: View) -> MultiPolygon:
        """The surface between two stations as seen from one side; see `silhouette.silhouette`."""
        return silhouette(self.surface, x_fore, x_aft, view)

    def critical_places(self) -> Floats | None:
        """See `critical_places`; None with several bodies, which may also meet between vertices."""
        several = self.surface.body.min(initial=1) != self.surface.body.max(initial=1)
        return None if several else critical_places(self.surface)

    def wall_between(self, x_fore: float, x_aft: float) -> float | None:
        """X mm of the first level face from x_fore to x_aft, to LEVEL."""
        low, high = self.surface.x_low, self.surface.x_high
        walls = low[(low >= x_fore - LEVEL) & (high <= x_aft + LEVEL) & (high - low < LEVEL)]
        return float(walls[0]) if len(walls) else None

    def tip_points(self, x: float) -> Floats:
        """(n, 2) mm, y and z of the vertices at x."""
        vertices = self.surface.vertices
        return np.asarray(vertices[vertices[:, 0] == x][:, 1:])

    def definition(self) -> Definition:
        """The triangles, their bodies and openings, and the rules for sections; those with their default are left out,
        so that a new rule does not change the definition of other shapes.
        """
        surface, usual = self.surface, asdict(SectionRules())
        rules = {name: value for name, value in asdict(surface.rules).items() if value != usual[name]}
        arrays = (surface.vertices, surface.faces, surface.body, surface.open_edges)
        return Definition({"solid": surface.rules.solid, **rules}, arrays)


def critical_places(surface: Surface) -> Floats:
    """X (k,) mm ascending of the vertices where the mesh has a peak, a pit or a saddle along x.

    Around an ordinary vertex the neighbours lie forward of it on one side and aft on the other, so exactly two of its
    faces reach from forward to aft. Vertices at one x count in the order of their numbers, so that none are level.
    (Morse theory; Banchoff 1967, "Critical points and curvature for embedded polyhedra".)
    """
    by_rank = np.argsort(surface.vertices[:, 0], kind="stable")
    rank = np.empty(len(by_rank), dtype=np.int64)
    rank[by_rank] = np.arange(len(by_rank))
    a, b, c = rank.take(surface.faces.T)
    middle = np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c))
    count = np.bincount(middle, minlength=len(rank))
    used = np.zeros(len(rank), dtype=bool)
    for corner in (a, b, c):
        used[corner] = True
    return np.unique(surface.vertices[by_rank[used & (count != 2)], 0])  # noqa: PLR2004 - see above
