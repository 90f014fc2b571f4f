"""Blocks -> the body as it comes from wire and knife, as files that other programs read.

    wire-cut block   the solid that the wire leaves, before it is sanded
    carved block     the hull between its stations, as the knife leaves it (`carved`)

With a skin both are the foam under it, and what is cut into a block is left out of it. Every block is a closed surface
of its own: where two meet, both their faces are there, as in the body that is glued together.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.blocks.blocks import Block, CarvedBlock, CutBlock
from profiles.blocks.ruled import block_mesh, volume
from profiles.hull.formats.glb_writer import glb_bytes
from profiles.hull.surface import Mesh, join_meshes
from profiles.units import LETTERED, block_name


def solid_of(block: Block) -> Mesh | None:
    """The closed surface of a block, vertices (n, 3) mm in the hull frame; None where no foam is left of it."""
    if block.into is not None:
        return block.into.left
    if isinstance(block, CutBlock):
        return block_mesh(block.foam)
    if isinstance(block, CarvedBlock) and len(block.tip.solid[1]):
        return block.tip.solid
    return None


def volume_of(block: Block) -> float | None:
    """What wire and knife leave of a block, mm3; None where neither face has an outline and nothing is cut."""
    if block.into is not None:
        return block.into.volume
    if isinstance(block, CutBlock):
        return volume(block.foam)
    return block.tip.volume if isinstance(block, CarvedBlock) else None


Places = Mapping[int, tuple[Floats, Floats]]
"""How parts lie in the hull, as `Body.places` says."""

IN_PLACE: Places = {}
"""For blocks of a hull in one piece."""


def placed_solid(block: Block, places: Places) -> Mesh | None:
    """The closed surface of a block in the frame of the whole hull."""
    solid, place = solid_of(block), places.get(block.span.number // LETTERED)
    if solid is None or place is None:
        return solid
    turn, offset = place
    return (solid[0] - offset) @ turn, solid[1]


def built_files(blocks: Sequence[Block], places: Places = IN_PLACE) -> dict[str, bytes]:
    """Blocks where they are in the hull, by file name: a binary STL file in mm, and a GLB file in which each is a mesh
    "block 07" with a colour of its own. Empty where no foam is left of any block.
    """
    placed = ((block.span.number, placed_solid(block, places)) for block in blocks)
    solids = {f"block {block_name(number)}": solid for number, solid in placed if solid}
    if not solids:
        return {}
    return {"built.stl": stl_bytes(*join_meshes([*solids.values()])), "built.glb": glb_bytes(solids)}


def stl_bytes(vertices: Floats, faces: Ints) -> bytes:
    """Vertices (n, 3) mm and faces (m, 3) as a binary STL file; normals are left to the reader.

    Faces that lose their area when corners are rounded to the format's 32 bits are left out; the rest still closes.
    """
    corners = vertices.astype(np.float32)[faces]
    same = [(corners[:, one] == corners[:, one - 1]).all(axis=1) for one in range(3)]
    faces = faces[~np.any(same, axis=0)]
    records = np.zeros(len(faces), dtype=np.dtype([("normal", "<3f4"), ("corners", "<f4", (3, 3)), ("more", "<u2")]))
    records["corners"] = vertices[faces]
    return b"foam blocks as cut and carved, mm".ljust(80) + len(faces).to_bytes(4, "little") + records.tobytes()
