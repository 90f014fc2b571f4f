"""Small mesh files written by hand, byte by byte, for the tests of loading.

Every writer takes vertices (n, 3) and faces (m, 3) in the numbers that shall stand in the file.
"""

import io
import itertools
import json
import zipfile
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Polygons = Sequence[Sequence[int]]

QUADS = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))
"""The six sides of a block whose corner 4x + 2y + z has x, y, z in {0, 1}; counter-clockwise from outside."""

FACES: Ints = np.array([(q[0], q[i], q[i + 1]) for q in QUADS for i in (1, 2)], dtype=np.int64)
"""The same as twelve triangles."""


def block(size: tuple[float, float, float], at: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Floats:
    """The eight corners (8, 3) of a block, numbered as QUADS and FACES say."""
    unit = np.array(list(itertools.product((0.0, 1.0), repeat=3)))
    corners: Floats = unit * np.array(size) + np.array(at)
    return corners


def stl_binary(vertices: Floats, faces: Ints = FACES, *, head: bytes = b"", count: int | None = None) -> bytes:
    """A binary STL; the normals are all wrong on purpose."""
    records = np.zeros(len(faces), dtype=[("n", "<f4", 3), ("p", "<f4", (3, 3)), ("a", "<u2")])
    records["n"] = (0.0, 0.0, -1.0)
    records["p"] = vertices[faces]
    stated = len(faces) if count is None else count
    return head.ljust(80, b" ")[:80] + stated.to_bytes(4, "little") + records.tobytes()


def stl_text(vertices: Floats, faces: Ints = FACES, *, name: str = "block", line_end: str = "\n") -> bytes:
    """A text STL; the normals are all wrong on purpose."""
    lines = [f"solid {name}"]
    for triangle in vertices[faces]:
        lines += ["  facet normal 0 0 -1", "    outer loop"]
        lines += [f"      vertex {x!r} {y!r} {z!r}" for x, y, z in triangle.tolist()]
        lines += ["    endloop", "  endfacet"]
    return line_end.join([*lines, f"endsolid {name}", ""]).encode()


def obj_text(vertices: Floats, polygons: Polygons = QUADS) -> bytes:
    """An OBJ with texture and normal numbers in its faces."""
    lines = [f"v {x!r} {y!r} {z!r}" for x, y, z in vertices.tolist()]
    lines += ["vt 0 0", "vn 0 0 1"]
    lines += ["f " + " ".join(f"{int(corner) + 1}/1/1" for corner in polygon) for polygon in polygons]
    return "\n".join(lines).encode()


def off_text(vertices: Floats, polygons: Polygons = QUADS, *, head: str = "OFF") -> bytes:
    """An OFF with a comment, and a colour behind each face."""
    lines = [head, "# a block", f"{len(vertices)} {len(polygons)} 0"]
    lines += [f"{x!r} {y!r} {z!r}" for x, y, z in vertices.tolist()]
    lines += [f"{len(polygon)} " + " ".join(str(int(c)) for c in polygon) + " 200 10 10" for polygon in polygons]
    return "\n".join(lines).encode()


def ply(vertices: Floats, polygons: Polygons = QUADS, *, form: str = "ascii") -> bytes:
    """A PLY with a colour per vertex and a flag per face: ascii, binary_little_endian or binary_big_endian."""
    head = [
        "ply", f"format {form} 1.0", "comment a block", f"element vertex {len(vertices)}",
        "property double x", "property double y", "property double z", "property uchar red",
        f"element face {len(polygons)}", "property list uchar int vertex_indices", "property uchar flag",
        "end_header", "",
    ]  # fmt: skip
    if form == "ascii":
        lines = [f"{x!r} {y!r} {z!r} 7" for x, y, z in vertices.tolist()]
        lines += [f"{len(p)} " + " ".join(str(int(c)) for c in p) + " 1" for p in polygons]
        return "\n".join([*head[:-1], *lines, ""]).encode()
    order = "<" if form == "binary_little_endian" else ">"
    body = b"".join(row.astype(f"{order}f8").tobytes() + b"\x07" for row in vertices)
    for polygon in polygons:
        body += bytes([len(polygon)]) + np.array(polygon, dtype=f"{order}i4").tobytes() + b"\x01"
    return "\n".join(head).encode() + body


def zipped(parts: dict[str, str | bytes]) -> bytes:
    """A zip archive of those parts."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return buffer.getvalue()


def mesh_3mf(vertices: Floats, faces: Ints = FACES) -> str:
    """The <mesh> of a 3MF object."""
    points = "".join(f'<vertex x="{x!r}" y="{y!r}" z="{z!r}"/>' for x, y, z in vertices.tolist())
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces.tolist())
    return f"<mesh><vertices>{points}</vertices><triangles>{triangles}</triangles></mesh>"


def model_3mf(resources: str, build: str, unit: str | None = None) -> str:
    """One model of a 3MF package."""
    space = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
    said = f' unit="{unit}"' if unit else ""
    model = f'<?xml version="1.0"?><model xmlns="{space}"{said}><resources>{resources}</resources>'
    return model + f"<build>{build}</build></model>"


def three_mf(
    resources: str, build: str, *, unit: str | None = None, part: str = "3D/3dmodel.model",
    parts: dict[str, str] | None = None,
) -> bytes:  # fmt: skip
    """A 3MF package with one root model, and other parts as given."""
    model = model_3mf(resources, build, unit)
    relation = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
    relations = '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    relations += f'<Relationship Id="r0" Type="{relation}" Target="/{part}"/></Relationships>'
    return zipped({"[Content_Types].xml": "<Types/>", "_rels/.rels": relations, part: model, **(parts or {})})


def collada(
    vertices: Floats, nodes: str, *, unit: str = '<unit name="meter" meter="1"/>', up: str = "Z_UP", more: str = "",
    primitive: str | None = None,
) -> bytes:  # fmt: skip
    """A COLLADA document with one geometry, "#g", of quads, and the nodes of its scene as given."""
    if primitive is None:
        corners = " ".join(f"{corner} 0" for quad in QUADS for corner in quad)
        primitive = (
            f'<polylist count="6"><input semantic="VERTEX" source="#v" offset="0"/>'
            f'<input semantic="NORMAL" source="#n" offset="1"/><vcount>4 4 4 4 4 4</vcount><p>{corners}</p></polylist>'
        )
    numbers = " ".join(repr(value) for value in vertices.ravel().tolist())
    up_axis = f"<up_axis>{up}</up_axis>" if up else ""
    return f"""<?xml version="1.0" encoding="utf-8"?>
<COLLADA xmlns="http://www.collada.org/2005/11/COLLADASchema" version="1.4.1">
<asset>{unit}{up_axis}</asset>
<library_geometries><geometry id="g"><mesh>
<source id="p"><float_array id="pa" count="{vertices.size}">{numbers}</float_array><technique_common>
<accessor source="#pa" count="{len(vertices)}" stride="3"><param name="X" type="float"/><param name="Y" type="float"/>
<param name="Z" type="float"/></accessor></technique_common></source>
<source id="n"><float_array id="na" count="3">0 0 1</float_array><technique_common>
<accessor source="#na" count="1" stride="3"/></technique_common></source>
<vertices id="v"><input semantic="POSITION" source="#p"/></vertices>{primitive}</mesh></geometry></library_geometries>
{more}<library_visual_scenes><visual_scene id="s">{nodes}</visual_scene></library_visual_scenes>
<scene><instance_visual_scene url="#s"/></scene></COLLADA>""".encode()


def collada_polygons(vertices: Floats, polygons: Polygons = QUADS) -> bytes:
    """A COLLADA document in mm with one geometry of polygons as given."""
    counts, corners = " ".join(str(len(p)) for p in polygons), " ".join(str(int(c)) for p in polygons for c in p)
    primitive = f'<polylist count="{len(polygons)}"><input semantic="VERTEX" source="#v" offset="0"/>'
    primitive += f"<vcount>{counts}</vcount><p>{corners}</p></polylist>"
    unit = '<unit name="millimeter" meter="0.001"/>'
    return collada(vertices, '<node><instance_geometry url="#g"/></node>', unit=unit, primitive=primitive)


def gltf_document(
    vertices: Floats, nodes: list[dict[str, Any]], uri: str | None = None, mode: int = 4, **more: object
) -> tuple[dict[str, Any], bytes]:
    """A glTF document with one mesh of twelve triangles, and its buffer; every node is a root."""
    points, indices = vertices.astype("<f4").tobytes(), FACES.astype("<u2").tobytes()
    buffer: dict[str, Any] = {"byteLength": len(points) + len(indices)}
    if uri:
        buffer["uri"] = uri
    low, high = vertices.min(axis=0).tolist(), vertices.max(axis=0).tolist()
    document = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": list(range(len(nodes)))}],
        "nodes": nodes,
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1, "mode": mode}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": len(vertices), "type": "VEC3", "min": low, "max": high},
            {"bufferView": 1, "componentType": 5123, "count": FACES.size, "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": len(points)},
            {"buffer": 0, "byteOffset": len(points), "byteLength": len(indices)},
        ],
        "buffers": [buffer],
        **more,
    }
    return document, points + indices


def glb(vertices: Floats, nodes: list[dict[str, Any]], *, mode: int = 4, **more: object) -> bytes:
    """The same as one binary file."""
    document, buffer = gltf_document(vertices, nodes, None, mode, **more)
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    buffer += b"\0" * (-len(buffer) % 4)
    body = len(text).to_bytes(4, "little") + b"JSON" + text + len(buffer).to_bytes(4, "little") + b"BIN\0" + buffer
    return b"glTF" + (2).to_bytes(4, "little") + (12 + len(body)).to_bytes(4, "little") + body
