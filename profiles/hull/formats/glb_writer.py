"""Solids -> GLB through trimesh, as `gltf` reads it back.

Units are metres, y is up and the front looks along z (glTF 2.0 specification, 3.4 "Coordinate system and units"). So
hull frame (x aft, y to starboard, z up) becomes (port, up, ahead):

    X = -y    Y = z    Z = -x
"""

import colorsys
from collections.abc import Mapping

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.units import MM_PER_UNIT

HUE_STEP = 0.618
"""Of the colour circle, from one solid to the next: the golden section, so that no two near each other look alike."""

SATURATION, BRIGHTNESS = 0.5, 0.95


def glb_bytes(solids: Mapping[str, tuple[Floats, Ints]]) -> bytes:
    """Named solids, vertices (n, 3) mm in the hull frame and faces (m, 3), as one GLB; each has a colour of its own."""
    import trimesh
    from trimesh.exchange.gltf import export_glb

    scene = trimesh.Scene()
    for number, (name, (vertices, faces)) in enumerate(solids.items()):
        hue = number * HUE_STEP % 1.0
        rgb = [round(255 * part) for part in colorsys.hsv_to_rgb(hue, SATURATION, BRIGHTNESS)]
        material = trimesh.visual.material.PBRMaterial(  # type: ignore[no-untyped-call]
            name=name, baseColorFactor=[*rgb, 255], metallicFactor=0.0, roughnessFactor=0.9
        )
        solid = trimesh.Trimesh(
            np.column_stack([-vertices[:, 1], vertices[:, 2], -vertices[:, 0]]) / MM_PER_UNIT["m"],
            faces,
            process=False,
            visual=trimesh.visual.TextureVisuals(material=material),  # type: ignore[no-untyped-call]
        )
        scene.add_geometry(solid, node_name=name, geom_name=name)
    return bytes(export_glb(scene, include_normals=False))  # type: ignore[no-untyped-call]
