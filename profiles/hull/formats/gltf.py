"""glTF and GLB through trimesh; only this module, `glb_writer` and `step` import it.

trimesh ignores what it does not know, reads some of it as zeros, and allocates memory for any size that a document
states. So we check the document first, sizes included, and give trimesh only what makes the shape.
Units are metres and y is up (glTF 2.0 specification, 3.4 "Coordinate system and units").
"""

import io
import json
import stat
import struct
import urllib.parse
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.errors import HullError
from profiles.hull.formats.content import EXPORT_AGAIN, MOST_NODES, Content, Tally, transform_part
from profiles.hull.limits import Limits, check_bytes, check_triangles, check_vertices
from profiles.hull.surface import join_meshes
from profiles.notes import Note, warning
from profiles.units import MM_PER_UNIT

MAGIC = b"glTF"

_HEAD = 20
"""Bytes of a GLB before its JSON: magic number, version, length, and length and kind of the first chunk."""

_VERSION = 2

_JSON = int.from_bytes(b"JSON", "little")
"""Kind of a GLB's first chunk."""

_HARMLESS = ("KHR_materials_", "KHR_texture_", "KHR_lights_", "EXT_texture_", "MSFT_texture_")
"""Prefixes of extensions that change the looks of a body and not its shape."""

_TRIANGLES, _STRIP, _FAN = 4, 5, 6

MOST_WORDS = 4_000_000
"""Values in a document, at some 100 bytes each. Arrays are in its buffers and not counted."""

_NODE_KEYS = ("children", "mesh", "matrix", "translation", "rotation", "scale")
"""Keys of a node that affect the shape."""


class FolderFiles(Mapping[str, bytes]):
    """The files of one folder by their relative address, and nothing outside it."""

    def __init__(self, folder: Path, limits: Limits) -> None:
        """Serve files below `folder`, up to the limit on bytes in total."""
        self.folder = folder.resolve()
        self.limits = limits
        self.served = 0

    def __getitem__(self, name: str) -> bytes:
        """Bytes of the file. Raises HullError for an address outside the folder or a file that is not there."""
        try:
            inner = (self.folder / urllib.parse.unquote(name)).resolve()
            if "://" in name or not inner.is_relative_to(self.folder):
                msg = f"it refers to {name[:80]!r}, which lies outside its own folder."
                raise HullError(msg, remedy="Put all its parts into one folder, or export it as .glb.")
            status = inner.stat()
            if not stat.S_ISREG(status.st_mode):
                msg = f"its part {name[:80]!r} is not a file."
                raise HullError(msg, remedy="Export it as .glb.")
            self.served += status.st_size
            check_bytes(self.served, self.limits, "all its parts together")
            return inner.read_bytes()
        except (OSError, ValueError) as fault:
            msg = f"its part {name[:80]!r} cannot be read ({getattr(fault, 'strerror', None) or fault})."
            raise HullError(msg, remedy="Copy it beside the file, or export as .glb.") from fault

    def __iter__(self) -> Iterator[str]:
        """No names: the document says which files it needs."""
        return iter(())

    def __len__(self) -> int:
        """0, as `__iter__` gives none."""
        return 0


def read(data: bytes, folder: Path, limits: Limits) -> Content:
    """Triangles of the scene in metres; `folder` may hold external buffers.

    Raises HullError for a damaged file, for what would be misread, and for more than the limits.
    """
    binary = data.startswith(MAGIC)
    document = _document(data, binary=binary)
    notes = _check_document(document)
    lean = json.dumps(_shape_only(document, limits)).encode()
    files = FolderFiles(folder, limits)
    vertices, faces = scene_triangles(_glb(lean, data) if binary else lean, "glb" if binary else "gltf", limits, files)
    return Content(vertices, faces, unit="m", mm_per_unit=MM_PER_UNIT["m"], up="y", notes=notes)


def _glb(document: bytes, data: bytes) -> bytes:
    """The GLB with its JSON document replaced."""
    document += b" " * (-len(document) % 4)
    (chunk,) = struct.unpack_from("<I", data, 12)
    rest = data[_HEAD + chunk : struct.unpack_from("<I", data, 8)[0]]
    return (
        struct.pack("<4sIIII", MAGIC, _VERSION, _HEAD + len(document) + len(rest), len(document), _JSON)
        + document
        + rest
    )


def scene_triangles(data: bytes, kind: str, limits: Limits, files: FolderFiles | None = None) -> tuple[Floats, Ints]:
    """All triangles of a glTF scene, every instance in its place: vertices (n, 3), faces (m, 3)."""
    import trimesh  # takes 0.8 s

    try:
        scene: Any = trimesh.load_scene(
            io.BytesIO(data), file_type=kind, resolver=files, process=False, skip_materials=True
        )
        nodes = [scene.graph[node] for node in scene.graph.nodes_geometry]
    except HullError:
        raise
    except Exception as fault:  # the library raises whatever its parsers stumble over
        msg = f"the glTF data cannot be understood ({type(fault).__name__}: {fault})."
        raise HullError(msg, remedy=EXPORT_AGAIN) from fault
    parts: list[tuple[Floats, Ints]] = []
    tally = Tally(limits)
    for matrix, name in nodes:
        body = scene.geometry.get(name)
        if not isinstance(body, trimesh.Trimesh):
            continue
        vertices, faces = np.asarray(body.vertices, dtype=np.float64), np.asarray(body.faces, dtype=np.int64)
        tally.add(triangles=len(faces))
        parts.append(transform_part(vertices, faces, np.asarray(matrix, dtype=np.float64)))
    return join_meshes(parts)


def _document(data: bytes, *, binary: bool) -> dict[str, Any]:
    """The JSON of the file."""
    if binary:
        if len(data) < _HEAD:
            msg = f"{len(data)} bytes are too few for a GLB file."
            raise HullError(msg, remedy=EXPORT_AGAIN)
        version, length, chunk = struct.unpack_from("<III", data, 4)
        if length > len(data):
            msg = f"its header states {length} bytes; the file has {len(data)}."
            raise HullError(msg, remedy=EXPORT_AGAIN)
        if version != _VERSION:
            msg = f"expected glTF 2, found version {version}."
            raise HullError(msg, remedy="Export it as glTF 2.0.")
        data = data[_HEAD : _HEAD + chunk]
    words = sum(map(data.count, (b"[", b"{", b",", b":")))
    if words > MOST_WORDS:
        msg = f"the glTF document has {words:,} values, more than the {MOST_WORDS:,} that are read."
        raise HullError(msg, remedy="Export only the hull, as .glb.")
    try:
        document = json.loads(data)
    except (ValueError, RecursionError) as fault:
        msg = f"the glTF document is not well-formed JSON ({fault})."
        raise HullError(msg, remedy=EXPORT_AGAIN) from fault
    if not isinstance(document, dict) or "asset" not in document:
        msg = "it is a JSON text, but not a glTF document."
        raise HullError(msg, remedy="Give a mesh file.")
    return document


def _check_document(document: dict[str, Any]) -> tuple[Note, ...]:
    """Refuse what would be misread; report what is left out."""
    strange = [name for name in document.get("extensionsRequired", []) if not str(name).startswith(_HARMLESS)]
    if strange:
        msg = f"it needs {', '.join(map(str, strange))}, which is not read."
        raise HullError(msg, remedy="Export it without compression, or as STL.")
    notes = []
    accessors = document.get("accessors", [])
    modes = set()
    for mesh in document.get("meshes", []):
        for primitive in mesh.get("primitives", []):
            modes.add(primitive.get("mode", _TRIANGLES))
            _check_plain(primitive, accessors)
    if _FAN in modes:
        msg = "it holds triangle fans, which are not read."
        raise HullError(msg, remedy="Export it again with plain triangles.")
    if modes and modes - {_TRIANGLES, _STRIP} and modes & {_TRIANGLES, _STRIP}:
        notes.append(warning("Lines and points in the file were left out."))
    shown = [node["mesh"] for node in document.get("nodes", []) if "mesh" in node]
    if any(not 0 <= index < len(document.get("meshes", [])) for index in shown):
        msg = "a node shows a mesh that is not in the file."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    if shown and not document.get("scenes"):
        msg = "it has meshes but no scene that shows them."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    if any("skin" in node for node in document.get("nodes", [])):
        notes.append(warning("A part is moved by bones; it was taken in its rest shape."))
    return tuple(notes)


def _shape_only(document: dict[str, Any], limits: Limits) -> dict[str, Any]:
    """The document reduced to the shape.

    Raises HullError for a circle of nodes, and for arrays or copies of them above the limits.
    """
    accessors, nodes, meshes = ([*document.get(key, [])] for key in ("accessors", "nodes", "meshes"))
    _check_tree(nodes)
    kept: dict[int, int] = {}
    lean = [
        {
            "primitives": [
                _lean_primitive(primitive, accessors, kept, limits) for primitive in mesh.get("primitives", [])
            ]
        }
        for mesh in meshes
    ]
    counts = [sum(_triangles_of(primitive, accessors) for primitive in mesh.get("primitives", [])) for mesh in meshes]
    shown = sum(counts[node["mesh"]] for node in nodes if "mesh" in node)
    check_triangles(max(shown, sum(counts)), limits, "triangles, every copy counted")
    return {key: document[key] for key in ("asset", "scene", "scenes", "buffers", "bufferViews") if key in document} | {
        "accessors": [accessors[old] for old in kept],
        "meshes": lean,
        "nodes": [{key: node[key] for key in _NODE_KEYS if key in node} for node in nodes],
    }


def _check_tree(nodes: list[dict[str, Any]]) -> None:
    """Every node has at most one parent and none is below itself (glTF 2.0, 3.5.3)."""
    children = [child for node in nodes for child in node.get("children", [])]
    below = set(children)
    reached = [number for number in range(len(nodes)) if number not in below]
    for number in reached:  # grows during the loop
        reached += nodes[number].get("children", [])
        if len(reached) > len(nodes):
            break
    if len(reached) != len(nodes) or len(below) != len(children) or len(nodes) > MOST_NODES:
        msg = f"its {len(nodes)} nodes do not hang together as trees of at most {MOST_NODES}."
        raise HullError(msg, remedy=EXPORT_AGAIN)


def _lean_primitive(
    primitive: dict[str, Any], accessors: list[dict[str, Any]], kept: dict[int, int], limits: Limits
) -> dict[str, Any]:
    """A primitive with nothing but corners. `kept` maps the used accessors to their new numbers."""
    lean: dict[str, Any] = {"mode": primitive.get("mode", _TRIANGLES), "attributes": {}}
    position = primitive.get("attributes", {}).get("POSITION")
    for number, into, key in ((position, lean["attributes"], "POSITION"), (primitive.get("indices"), lean, "indices")):
        if number is None:
            continue
        if not isinstance(number, int) or not 0 <= number < len(accessors):
            msg = f"a mesh names the array {number!r}; there are {len(accessors)}."
            raise HullError(msg, remedy=EXPORT_AGAIN)
        count = accessors[number].get("count")
        if not isinstance(count, int) or count < 0:
            msg = f"an array states a count of {count!r}."
            raise HullError(msg, remedy=EXPORT_AGAIN)
        check_vertices(count, limits)
        into[key] = kept.setdefault(number, len(kept))
    check_vertices(sum(accessors[number]["count"] for number in kept) // 2, limits)
    return lean


def _triangles_of(primitive: dict[str, Any], accessors: list[dict[str, Any]]) -> int:
    """Triangles that a checked primitive states."""
    number = primitive.get("indices", primitive.get("attributes", {}).get("POSITION"))
    count: int = 0 if number is None else accessors[number]["count"]
    return count // 3 if primitive.get("mode", _TRIANGLES) == _TRIANGLES else count


def _check_plain(primitive: dict[str, Any], accessors: list[dict[str, Any]]) -> None:
    for index in (primitive.get("attributes", {}).get("POSITION"), primitive.get("indices")):
        if not isinstance(index, int) or not 0 <= index < len(accessors):
            continue
        if "sparse" in accessors[index] or "bufferView" not in accessors[index]:
            msg = "it holds sparse or compressed arrays, which are not read."
            raise HullError(msg, remedy="Export it again without compression, or as STL.")
