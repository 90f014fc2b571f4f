"""Sections of the demo hulls against two independent slicers, with planes on vertices and walls too.

At a plane through vertices the reference is taken BESIDE mm to the side of the limit: no slicer says from which side it
looks at a coincident face.
"""

import functools
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh
from manifold3d import Manifold, Mesh64

from profiles.build import read_job
from profiles.hull.frame import Hull
from profiles.hull.sections import Side, section
from profiles.jobfile import load_job

MODELS = Path(__file__).parents[2] / "models"
CLOSED = ("skerrywing", "pelloway", "tandril")
BESIDE = 1e-7


@functools.cache
def hull(name: str) -> Hull:
    return read_job(load_job(MODELS / f"{name}.toml"))


@functools.cache
def solid(name: str) -> Manifold:
    """All bodies united by manifold3d, turned so that x is its height."""
    surface = hull(name).surface
    upright = surface.vertices[:, [1, 2, 0]]
    bodies = []
    for number in np.unique(surface.body):
        used, faces = np.unique(surface.faces[surface.body == number], return_inverse=True)
        bodies.append(Manifold(Mesh64(upright[used], faces.reshape(-1, 3).astype(np.uint64))))
    whole = bodies[0]
    for body in bodies[1:]:
        whole += body
    return whole


@functools.cache
def mesh(name: str, number: int) -> trimesh.Trimesh:
    surface = hull(name).surface
    return trimesh.Trimesh(surface.vertices, surface.faces[surface.body == number], process=False)


def by_trimesh(name: str, x: float) -> float:
    """The bodies cut one by one by trimesh and united by shapely."""
    polygons = []
    for number in np.unique(hull(name).surface.body):
        path = mesh(name, int(number)).section(plane_origin=(x, 0, 0), plane_normal=(1, 0, 0))
        polygons += [shapely.Polygon(curve[:, 1:]) for curve in ([] if path is None else path.discrete)]
    return float(shapely.unary_union(polygons).area)


def places(name: str) -> list[float]:
    """Places between vertices, rows of vertices, and the steps."""
    body = hull(name)
    rows = np.unique(body.surface.vertices[:, 0])
    on_rows = rows[np.linspace(3, len(rows) - 4, 12).astype(int)].tolist()
    return [*(body.length * share for share in (0.101, 0.333, 0.712)), *on_rows, *body.steps]


@pytest.mark.parametrize("name", CLOSED)
@pytest.mark.parametrize("side", list(Side))
def test_areas_agree_with_trimesh_and_manifold3d(name: str, side: Side) -> None:
    """Both general-purpose slicers give our area to 1e-6, from either side of rows of vertices and of the step."""
    for x in places(name):
        ours = section(hull(name).surface, x, side).region.area
        beside = x + (BESIDE if side is Side.AFT else -BESIDE)
        assert by_trimesh(name, beside) == pytest.approx(ours, rel=1e-6), x
        assert solid(name).slice(beside).area() == pytest.approx(ours, rel=1e-6), x


def test_open_launch_agrees_with_trimesh_closed_across_the_sheer() -> None:
    """The mirrored open launch has the area of trimesh's open curve closed by a straight line."""
    for x in places("wickerby"):
        ours = section(hull("wickerby").surface, x, Side.FORE).region.area
        cutter = trimesh.intersections.mesh_plane
        pieces = cutter(mesh("wickerby", 1), (1, 0, 0), (x - BESIDE, 0, 0))  # type: ignore[no-untyped-call]
        curve = shapely.line_merge(shapely.MultiLineString([piece[:, 1:].round(9) for piece in pieces]))
        assert isinstance(curve, shapely.LineString)
        assert shapely.Polygon(curve).area == pytest.approx(ours, rel=1e-6), x
