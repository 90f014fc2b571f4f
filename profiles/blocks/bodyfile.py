"""The wire-cut body as a file that other programs read."""

from collections.abc import Sequence

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.blocks.ruled import RuledBlock, built_body


def built_stl(blocks: Sequence[RuledBlock]) -> bytes:
    """Blocks one behind the other, as a binary STL file in mm."""
    return stl_bytes(*built_body(blocks))


def stl_bytes(vertices: Floats, faces: Ints) -> bytes:
    """Vertices (n, 3) mm and faces (m, 3) as a binary STL file; normals are left to the reader.

    Faces that lose their area when corners are rounded to the format's 32 bits are left out; the rest still closes.
    """
    corners = vertices.astype(np.float32)[faces]
    same = [(corners[:, one] == corners[:, one - 1]).all(axis=1) for one in range(3)]
    faces = faces[~np.any(same, axis=0)]
    records = np.zeros(len(faces), dtype=np.dtype([("normal", "<3f4"), ("corners", "<f4", (3, 3)), ("more", "<u2")]))
    records["corners"] = vertices[faces]
    return b"wire-cut blocks, mm".ljust(80) + len(faces).to_bytes(4, "little") + records.tobytes()
