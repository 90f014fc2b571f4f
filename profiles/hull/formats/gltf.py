"""glTF and GLB through trimesh; the only room, with `step`, that knows it.

trimesh passes over what it does not know and reads some of it as zeros, so the document is looked through first.
Units are metres and y is up (glTF 2.0 specification, 3.4 "Coordinate system and units").
"""

import io
import json
import struct
import urllib.parse
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from profiles.errors import HullError
from profiles.hull.formats.content import EXPORT_AGAIN, LARGEST_UNPACKED, Content, Tally, joined, placed
from profiles.hull.surface import Floats, Ints
from profiles.notes import Note, warning
from profiles.units import MM_PER_UNIT

MAGIC = b"glTF"

_HEAD = 20
"""Bytes of a GLB before its JSON: mark, version, length, and the length and kind of the first chunk."""

_VERSION = 2

_HARMLESS = ("KHR_materials_", "KHR_texture_", "KHR_lights_", "EXT_texture_", "MSFT_texture_")
"""Beginnings of extension names that change how a body looks and not its shape."""

_TRIANGLES, _STRIP, _FAN = 4, 5, 6


class FolderFiles(Mapping[str, bytes]):
    """The files of one folder by their relative address, and nothing outside it."""

    def __init__(self, folder: Path) -> None:
        """Serve the files below `folder`."""
        self.folder = folder.resolve()

    def __getitem__(self, name: str) -> bytes:
        """Bytes of the file. Raises HullError for an address outside the folder or a file that is not there."""
        inner = (self.folder / urllib.parse.unquote(name)).resolve()
        if "://" in name or not inner.is_relative_to(self.folder):
            msg = f"it refers to {name!r}, which lies outside its own folder."
            raise HullError(msg, remedy="Put all its parts into one folder, or export it as .glb.")
        try:
            if inner.stat().st_size > LARGEST_UNPACKED:
                msg = f"its part {name!r} is larger than {LARGEST_UNPACKED >> 20} MiB."
                raise HullError(msg, remedy="Export it with fewer triangles.")
            return inner.read_bytes()
        except OSError as fault:
            msg = f"its part {name!r} cannot be read ({fault.strerror})."
            raise HullError(msg, remedy="Copy it beside the file, or export as .glb.") from fault

    def __iter__(self) -> Iterator[str]:
        """No names: a document says itself which files it needs."""
        return iter(())

    def __len__(self) -> int:
        """As many as `__iter__` gives."""
        return 0


def read(data: bytes, folder: Path) -> Content:
    """Triangles of the scene in metres. `folder` is where external buffers may lie.

    Raises HullError for a damaged file and for whatever would be read wrongly.
    """
    binary = data.startswith(MAGIC)
    notes = _looked_through(_document(data, binary=binary))
    vertices, faces = scene_triangles(data, "glb" if binary else "gltf", FolderFiles(folder))
    return Content(vertices, faces, unit="m", mm_per_unit=MM_PER_UNIT["m"], up="y", notes=notes)


def scene_triangles(data: bytes, kind: str, files: FolderFiles | None = None) -> tuple[Floats, Ints]:
    """All triangles of a glTF scene, every instance placed: vertices (n, 3), faces (m, 3)."""
    import trimesh  # noqa: PLC0415 - takes 0.8 s

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
    tally = Tally()
    for matrix, name in nodes:
        body = scene.geometry.get(name)
        if not isinstance(body, trimesh.Trimesh):
            continue
        vertices, faces = np.asarray(body.vertices, dtype=np.float64), np.asarray(body.faces, dtype=np.int64)
        tally.add(triangles=len(faces))
        parts.append(placed(vertices, faces, np.asarray(matrix, dtype=np.float64)))
    return joined(parts)


def _document(data: bytes, *, binary: bool) -> dict[str, Any]:
    """The JSON of the file."""
    if binary:
        if len(data) < _HEAD:
            msg = f"{len(data)} bytes are too few for a GLB file."
            raise HullError(msg, remedy=EXPORT_AGAIN)
        version, length, chunk = struct.unpack_from("<III", data, 4)
        if length > len(data):
            msg = f"its head states {length} bytes, {len(data)} are there."
            raise HullError(msg, remedy=EXPORT_AGAIN)
        if version != _VERSION:
            msg = f"expected glTF 2, found version {version}."
            raise HullError(msg, remedy="Export it as glTF 2.0.")
        data = data[_HEAD : _HEAD + chunk]
    try:
        document = json.loads(data)
    except (ValueError, RecursionError) as fault:
        msg = f"the glTF document is not well-formed JSON ({fault})."
        raise HullError(msg, remedy=EXPORT_AGAIN) from fault
    if not isinstance(document, dict) or "asset" not in document:
        msg = "it is a JSON text, but not a glTF document."
        raise HullError(msg, remedy="Give a mesh file.")
    return document


def _looked_through(document: dict[str, Any]) -> tuple[Note, ...]:
    """Refuse what would be read wrongly; tell what is left out."""
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


def _check_plain(primitive: dict[str, Any], accessors: list[dict[str, Any]]) -> None:
    for index in (primitive.get("attributes", {}).get("POSITION"), primitive.get("indices")):
        if not isinstance(index, int) or not 0 <= index < len(accessors):
            continue
        if "sparse" in accessors[index] or "bufferView" not in accessors[index]:
            msg = "it holds sparse or compressed arrays, which are not read."
            raise HullError(msg, remedy="Export it again without compression, or as STL.")
