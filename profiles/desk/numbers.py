"""Arrays as the page takes them: base64 of little-endian values with their type, the form plotly.js reads."""

import base64
from typing import Any

import numpy as np
import numpy.typing as npt

from profiles.arrays import Floats, Ints

Packed = dict[str, Any]


def pack(values: npt.ArrayLike, kind: str = "f4") -> Packed:
    """Numbers as `{"dtype", "bdata"}`; `kind` is f4 (0.1 micrometre at a metre) or i4.

    >>> pack([1, 2], "i4")
    {'dtype': 'i4', 'bdata': 'AQAAAAIAAAA='}
    """
    return {"dtype": kind, "bdata": base64.b64encode(np.asarray(values, dtype=f"<{kind}").tobytes()).decode()}


def pack_mesh(vertices: Floats, faces: Ints) -> Packed:
    """A mesh, vertices (n, 3) mm and faces (m, 3), as the coordinates and corners of a `mesh3d`."""
    corners = {name: pack(faces[:, axis], "i4") for axis, name in enumerate("ijk")}
    return {name: pack(vertices[:, axis]) for axis, name in enumerate("xyz")} | corners


def plain(value: float, digits: int = 4) -> float:
    """A figure with so many digits behind the point, 0.0001 mm unless given."""
    return round(float(value), digits) + 0.0
