"""COLLADA through pycollada: every geometry of the scene in the place its nodes give it, in the file's unit and axes.

trimesh reads COLLADA through the same library, but cuts concave polygons into overlapping triangles, and drops a
geometry without a word when the library raises any error, even for a missing material. So we call pycollada directly:
first we strip the document to what makes the shape, then every error is a refusal. Numbers are float32: 0.0002 mm in
3 m. Unit and up axis are returned; loading applies the unit.
Reference: COLLADA 1.4.1 specification, Khronos Group (asset 5-19, defaults of `unit` and `up_axis`).
"""

import io
import warnings
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import field
from typing import Any

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.errors import HullError
from profiles.hull.formats.content import EXPORT_AGAIN, TRIPLE, Content, Tally, transform_part
from profiles.hull.formats.polygons import triangulate
from profiles.hull.formats.safe_xml import root_of
from profiles.hull.limits import Limits, check_bytes
from profiles.hull.surface import join_meshes
from profiles.notes import Note, assumption, warning
from profiles.units import MM_PER_UNIT
from profiles.values import dataclass

SAME_UNIT = 1e-6
"""Relative; a unit this near to a named one gets its name (0.0254 m may be written with few digits)."""

SHARE = 8
"""A COLLADA text may have the limit on bytes divided by this: some six copies exist while it is read."""

_POLYGONS = {"triangles", "tristrips", "trifans", "polylist", "polygons"}

_SHAPE = {
    "COLLADA": {"library_geometries", "library_controllers", "library_nodes", "library_visual_scenes", "scene"},
    "node": {
        *("node", "instance_node", "instance_geometry", "instance_controller"),
        *("matrix", "translate", "rotate", "scale", "skew", "lookat"),
    },
    "instance_geometry": set(),
    "instance_controller": set(),
    "mesh": {"source", "vertices", *_POLYGONS},
}
"""What is kept inside these elements. Looks, lights, cameras, lines and animation cannot spoil the shape then."""


@dataclass(slots=True)
class _Scene:
    parts: list[tuple[Floats, Ints]] = field(default_factory=list)
    tally: Tally = field(default_factory=Tally)
    notes: dict[str, Note] = field(default_factory=dict)
    """Notes by their subject, so that each is reported once."""


def read(data: bytes, limits: Limits) -> Content:
    """Triangles of the scene.

    Raises HullError for bad XML, references to missing elements, numbers out of range, and more than the limits.
    """
    check_bytes(len(data), limits, "the COLLADA text", SHARE)
    root = root_of(data, "COLLADA text")
    if _name(root) != "COLLADA":
        msg = f"expected a COLLADA document, found <{_name(root)}>."
        raise HullError(msg, remedy="Give a mesh file.")
    scene_parts = _Scene(tally=Tally(limits))
    unit, mm_per_unit = _unit(root, scene_parts)
    up = (root.findtext("{*}asset/{*}up_axis") or "Y_UP").strip()[:1].lower()
    _strip(root, scene_parts)
    for element in _roots(_parsed(root), scene_parts):
        _collect_parts(scene_parts, element, np.eye(4))
    vertices, faces = join_meshes(scene_parts.parts)
    up = up if up in "xyz" else "y"
    return Content(vertices, faces, unit=unit, mm_per_unit=mm_per_unit, up=up, notes=tuple(scene_parts.notes.values()))


def _name(element: ET.Element) -> str:
    return element.tag.rpartition("}")[2]


def _unit(root: ET.Element, scene_parts: _Scene) -> tuple[str, float]:
    """Name and mm of the unit: a metre where none is given, as the specification says."""
    element = root.find("{*}asset/{*}unit")
    text = "1" if element is None else element.get("meter", "1")
    factor = 1000.0 * float(text)
    if not (np.isfinite(factor) and factor > 0):
        msg = f"expected a positive length as the unit, found meter={text!r}."
        raise HullError(msg, remedy="Give the unit yourself: --unit mm.")
    for unit, size in MM_PER_UNIT.items():
        if abs(factor - size) <= SAME_UNIT * size:
            return unit, size
    scene_parts.notes["unit"] = warning(f"The file has an unusual unit: 1 unit = {factor:.9g} mm. It was applied.")
    return "mm", factor


def _strip(root: ET.Element, scene_parts: _Scene) -> None:
    """Remove from the document what does not make the shape, and what the library would misread; report the latter.

    The library ignores holes in polygons, misreads <lookat>, reads only the first of several lists of triangles, and
    refuses a geometry that is not a mesh.
    """
    shapeless = {f"#{item.get('id')}" for item in root.iter() if _name(item) == "geometry" and not _has_mesh(item)}
    for element in list(root.iter()):
        kept = _SHAPE.get(_name(element))
        for child in () if kept is None else list(element):
            name = _name(child)
            if name in {"skew", "lookat"}:
                scene_parts.notes[name] = warning(
                    f"A node is placed by <{name}>, which is not read. Check where it lies."
                )
            elif name == "instance_geometry" and child.get("url") in shapeless:
                scene_parts.notes["spline"] = warning(
                    "A geometry without triangles (a spline or a convex hull) was left out."
                )
            elif name in (kept or ()):
                continue
            element.remove(child)
        if _name(element) == "mesh":
            _strip_mesh(element, scene_parts)


def _has_mesh(geometry: ET.Element) -> bool:
    return geometry.find("{*}mesh") is not None


def _strip_mesh(mesh: ET.Element, scene_parts: _Scene) -> None:
    """Keep only positions, so that nothing about the looks can be a reason to refuse the shape."""
    positions = mesh.find("{*}vertices/{*}input[@semantic='POSITION']")
    source = "" if positions is None else positions.get("source", "")
    for child in list(mesh):
        name = _name(child)
        if name == "vertices":
            child[:] = [item for item in child if item is positions]
        elif name in _POLYGONS:
            _strip_polygons(mesh, child, source, scene_parts)
        elif f"#{child.get('id')}" == source:
            _check_layout(child)
        else:
            mesh.remove(child)


def _strip_polygons(mesh: ET.Element, polygons: ET.Element, source: str, scene_parts: _Scene) -> None:
    """Inputs other than positions keep their offset, but become colours that point to the positions: these are not
    checked.
    """
    for item in polygons.iterfind("{*}input"):
        if item.get("semantic") != "VERTEX":
            item.attrib.update(semantic="COLOR", source=source)
    if polygons.find("{*}ph") is not None:
        scene_parts.notes["holes"] = warning("Polygons with holes were left out; triangulate them before export.")
    rows = polygons.findall("{*}p")
    if not any((row.text or "").strip() for row in rows):
        mesh.remove(polygons)
    elif _name(polygons) == "triangles":
        rows[0].text = " ".join(row.text or "" for row in rows)


def _check_layout(source: ET.Element) -> None:
    """Refuse positions mixed with other numbers, which the library would misread."""
    accessor = source.find("{*}technique_common/{*}accessor")
    if accessor is not None and (accessor.get("offset", "0"), accessor.get("stride", "1")) != ("0", str(TRIPLE)):
        msg = f"its positions are mixed with other numbers (stride {accessor.get('stride', '1')}), which is not read."
        raise HullError(msg, remedy="Export it again from another program, or as STL.")


def _parsed(root: ET.Element) -> Any:  # noqa: ANN401 - the library has no types
    """The document as pycollada reads it, with any complaint of it as a HullError."""
    import collada  # only COLLADA needs it

    try:
        with warnings.catch_warnings():
            warnings.filterwarnings("error", "string or file could not be read", DeprecationWarning)
            return collada.Collada(io.BytesIO(ET.tostring(root)))
    except collada.DaeBrokenRefError as fault:
        msg = f"something it refers to is not in the file, or a node contains itself ({fault.msg})."
        raise HullError(msg, remedy="Export everything into one file.") from fault
    except Exception as fault:  # the library raises whatever its parsers stumble over
        msg = f"the COLLADA data cannot be understood ({fault})."
        raise HullError(msg, remedy=EXPORT_AGAIN) from fault


def _roots(document: Any, scene_parts: _Scene) -> Iterator[Any]:  # noqa: ANN401 - the library has no types
    """The top nodes: those of the scene, of the first scene if none is named, or else every geometry as it lies."""
    scene = document.scene
    if scene is None and len(document.scenes):
        scene = document.scenes[0]
        if len(document.scenes) > 1:
            scene_parts.notes["scene"] = assumption("The file does not say which scene is meant; the first was taken.")
    if scene is not None:
        yield from scene.nodes
        return
    scene_parts.notes["scene"] = assumption("The file has no scene; every geometry was taken as it lies.")
    yield from document.geometries


def _collect_parts(scene_parts: _Scene, element: Any, matrix: Floats) -> None:  # noqa: ANN401 - the library has no types
    """Collect the triangles of a node or geometry, in the frame that `matrix` gives."""
    scene_parts.tally.add()
    match type(element).__name__:
        case "Node" | "NodeNode":
            for child in element.children:
                _collect_parts(scene_parts, child, matrix @ element.matrix)
        case "GeometryNode":
            _collect_parts(scene_parts, element.geometry, matrix)
        case "ControllerNode":
            scene_parts.notes["rest"] = warning("A part is moved by bones or morphing; it was taken in its rest shape.")
            _collect_parts(scene_parts, element.controller, matrix)
        case "Skin":
            _collect_parts(scene_parts, element.geometry, matrix @ element.bind_shape_matrix)
        case "Morph":
            _collect_parts(scene_parts, element.source_geometry, matrix)
        case "Geometry":
            for primitive in element.primitives:
                vertices, faces = _triangles(primitive)
                scene_parts.tally.add(triangles=len(faces))
                scene_parts.parts.append(transform_part(vertices, faces, matrix))


def _triangles(primitive: Any) -> tuple[Floats, Ints]:  # noqa: ANN401 - the library has no types
    """Vertices and triangles of one primitive."""
    corners = np.asarray(primitive.vertex_index, dtype=np.int64).ravel()
    counts = np.asarray(getattr(primitive, "vcounts", np.full(len(corners) // TRIPLE, TRIPLE)), dtype=np.int64)
    if counts.sum() != len(corners) or (counts < 0).any():
        msg = f"a list of polygons has {len(corners)} corners, its counts ask for {counts.sum()}."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    vertices = np.asarray(primitive.vertex, dtype=np.float64)
    return vertices, triangulate(vertices, corners, counts)
