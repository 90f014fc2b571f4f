"""Slicing alone, one tool in a process of its own: `python slicing.py TOOL SIZE STATIONS` prints its figures as JSON.

Every tool gets the same welded triangles in its own form, made again before the clock starts in every turn, so that
nothing is kept from one to the next. What each gives:

    stationer   regions with their hollows, both limits at every station: twice as many sections; from a surface whose
                faces are in order along the hull, as every hull that has been read has them
    trimesh     2-D paths, one limit
    vtk         polylines, one limit (vtkCutter over all stations at once, then vtkStripper)
    manifold3d  regions, one limit; it turns the body so that its own axis of slicing lies along the hull
"""

import argparse
import json
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench.hulls import bench_hull, stations
from tests.closed_forms import Mesh

TURNS = 3
"""Turns of the clock in one process; the best counts."""

Turn = Callable[[], Any]
"""Everything from the ready body to the sections."""

MAXRSS_PER_MB = 1024**2 if sys.platform == "darwin" else 1024


def _stationer(mesh: Mesh, places: list[float]) -> Turn:
    from profiles.hull.sections import Side, section
    from profiles.hull.surface import sort_faces, surface_of

    surface = sort_faces(surface_of(*mesh))
    return lambda: [section(surface, x, side) for x in places for side in Side]


def _trimesh(mesh: Mesh, places: list[float]) -> Turn:
    import trimesh

    body = trimesh.Trimesh(*mesh, process=False)
    heights = np.array(places)
    return lambda: body.section_multiplane(plane_origin=[0, 0, 0], plane_normal=[1, 0, 0], heights=heights)


def _vtk(mesh: Mesh, places: list[float]) -> Turn:
    from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPlane, vtkPolyData
    from vtkmodules.vtkFiltersCore import vtkCutter, vtkStripper

    vertices, faces = mesh
    points, cells, body = vtkPoints(), vtkCellArray(), vtkPolyData()
    points.SetData(numpy_to_vtk(vertices, deep=1))
    starts = np.arange(0, faces.size + 1, 3, dtype=np.int64)
    cells.SetData(numpy_to_vtkIdTypeArray(starts, deep=1), numpy_to_vtkIdTypeArray(faces.ravel(), deep=1))
    body.SetPoints(points)
    body.SetPolys(cells)

    def turn() -> Any:  # noqa: ANN401 - untyped library
        plane, cutter, stripper = vtkPlane(), vtkCutter(), vtkStripper()
        plane.SetOrigin(0, 0, 0)
        plane.SetNormal(1, 0, 0)
        cutter.SetCutFunction(plane)
        cutter.SetInputData(body)
        for number, x in enumerate(places):
            cutter.SetValue(number, x)
        stripper.SetInputConnection(cutter.GetOutputPort())
        stripper.JoinContiguousSegmentsOn()
        stripper.SetMaximumLength(10**6)
        stripper.Update()
        return [None] * stripper.GetOutput().GetNumberOfLines()

    return turn


def _manifold3d(mesh: Mesh, places: list[float]) -> Turn:
    import manifold3d

    vertices, faces = mesh
    upright = np.roll(vertices, -1, axis=1).astype(np.float32)
    body = manifold3d.Manifold(manifold3d.Mesh(upright, faces.astype(np.uint32)))
    return lambda: [body.slice(x) for x in places]


TOOLS: dict[str, Callable[[Mesh, list[float]], Turn]] = {
    "stationer": _stationer,
    "trimesh": _trimesh,
    "vtk": _vtk,
    "manifold3d": _manifold3d,
}


def main() -> None:
    """Time one tool and print what it took."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("tool", choices=TOOLS)
    words.add_argument("size")
    words.add_argument("stations", type=int)
    given = words.parse_args()
    mesh, places = bench_hull(given.size), stations(given.stations).tolist()
    wall, cpu, found = [], [], 0
    for _ in range(TURNS):
        try:
            turn = TOOLS[given.tool](mesh, places)
        except ImportError:
            print(json.dumps({"missing": given.tool}))
            return
        start, busy = time.perf_counter(), time.process_time()
        found = len(turn())
        wall.append(time.perf_counter() - start)
        cpu.append(time.process_time() - busy)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / MAXRSS_PER_MB
    print(json.dumps({"wall": min(wall), "cpu": min(cpu), "sections": found, "memory": peak}))


if __name__ == "__main__":
    main()
