"""Solids -> GLB (glTF 2.0), as `gltf` reads it back. Written here: loading a library for it takes longer than all else.

Units are metres, y is up and the front looks along z (glTF 2.0 specification, 3.4 "Coordinate system and units"). So
hull frame (x aft, y to starboard, z up) becomes (port, up, ahead):

    X = -y    Y = z    Z = -x
"""

import colorsys
import json
import struct
from collections.abc import Mapping
from typing import Any

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.units import MM_PER_UNIT

HUE_STEP = 0.618
"""Of the colour circle, from one solid to the next: the golden section, so that no two near each other look alike."""

SATURATION, BRIGHTNESS = 0.5, 0.95

FLOAT, UNSIGNED_INT = 5126, 5125
"""Types of the numbers of an accessor (3.6.2.2)."""

VERTEX_BUFFER, INDEX_BUFFER = 34962, 34963
"""What a part of the buffer is for (5.11.5)."""


def glb_bytes(solids: Mapping[str, tuple[Floats, Ints]]) -> bytes:
    """Named solids, vertices (n, 3) mm in the hull frame and faces (m, 3), as one GLB; each has a colour of its own."""
    buffer = bytearray()
    views: list[dict[str, Any]] = []
    accessors: list[dict[str, Any]] = []
    meshes, materials = [], []

    def add(numbers: bytes, target: int, **accessor: object) -> int:
        views.append({"buffer": 0, "byteOffset": len(buffer), "byteLength": len(numbers), "target": target})
        accessors.append({"bufferView": len(views) - 1, **accessor})
        buffer.extend(numbers)  # all numbers have four bytes, so every part begins at a multiple of four
        return len(accessors) - 1

    for number, (name, (vertices, faces)) in enumerate(solids.items()):
        corners = np.column_stack([-vertices[:, 1], vertices[:, 2], -vertices[:, 0]]) / MM_PER_UNIT["m"]
        corners = corners.astype("<f4")
        low, high = (corner.tolist() for corner in (corners.min(axis=0), corners.max(axis=0)))
        position = add(
            corners.tobytes(), VERTEX_BUFFER, componentType=FLOAT, count=len(corners), type="VEC3", min=low, max=high
        )
        indices = faces.astype("<u4").tobytes()
        index = add(indices, INDEX_BUFFER, componentType=UNSIGNED_INT, count=faces.size, type="SCALAR")
        primitive = {"attributes": {"POSITION": position}, "indices": index, "material": number}
        meshes.append({"name": name, "primitives": [primitive]})
        colour = [round(part, 3) for part in colorsys.hsv_to_rgb(number * HUE_STEP % 1.0, SATURATION, BRIGHTNESS)]
        look = {"baseColorFactor": [*colour, 1.0], "metallicFactor": 0.0, "roughnessFactor": 0.9}
        materials.append({"name": name, "pbrMetallicRoughness": look})
    nodes = [{"name": name, "mesh": number} for number, name in enumerate(solids)]
    tree = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": list(range(len(nodes)))}],
        "nodes": nodes,
        "meshes": meshes,
        "materials": materials,
        "accessors": accessors,
        "bufferViews": views,
        "buffers": [{"byteLength": len(buffer)}],
    }
    chunks = _chunk(b"JSON", json.dumps(tree, separators=(",", ":")).encode(), b" ") + _chunk(b"BIN\0", bytes(buffer))
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def _chunk(kind: bytes, content: bytes, filler: bytes = b"\0") -> bytes:
    """A part of a GLB file, filled up to a multiple of four bytes (4.4.3)."""
    content += filler * (-len(content) % 4)
    return struct.pack("<I4s", len(content), kind) + content
