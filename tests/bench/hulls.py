"""Hulls to measure with: a mathematical hull form in as many triangles as asked for, as arrays and as binary STL."""

from pathlib import Path

import numpy as np
import numpy.typing as npt

from tests.closed_forms import Mesh, wigley

LENGTH, BREADTH, DRAUGHT = 800.0, 160.0, 100.0
"""mm."""

GRIDS = {"4k": (79, 12), "100k": (399, 62), "1M": (1249, 199), "5M": (2799, 446)}
"""Name -> steps along the hull and up its side. An odd number of steps, so that no station but the ends falls on a row
of vertices, where every tool but one is free to choose what it shows."""

RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def bench_hull(size: str) -> Mesh:
    """Vertices (n, 3) mm, rounded to 32 bits as a file holds them, and faces (m, 3)."""
    vertices, faces = wigley(LENGTH, BREADTH, DRAUGHT, *GRIDS[size])
    return vertices.astype(np.float32).astype(np.float64), faces


def write_stl(file: Path, mesh: Mesh) -> None:
    """A binary STL file; normals are left at zero, which the format allows."""
    vertices, faces = mesh
    record = np.zeros(len(faces), dtype=RECORD)
    record["corners"] = vertices[faces]
    file.write_bytes(b"bench hull".ljust(80) + len(faces).to_bytes(4, "little") + bytes(record.tobytes()))


def stations(count: int) -> npt.NDArray[np.float64]:
    """`count` places, mm, evenly inside the hull."""
    return np.asarray(np.arange(1, count + 1) * (LENGTH / (count + 1)), dtype=np.float64)
