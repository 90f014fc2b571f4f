"""3MF: a zip with XML models inside. Every build item is placed, components of components too.

We read it ourselves because trimesh (5.2) keeps only one of several items of an object with the same part number, and
where a component names one object of another part of the package, takes all of them.

Reference: 3MF Core Specification 1.2 (units 3.4, transforms 3.3, build 3.4) and Production Extension 1.1 (path).
"""

import io
import posixpath
import xml.etree.ElementTree as ET
import zipfile
import zlib
from array import array
from collections.abc import Iterator
from dataclasses import field

import numpy as np

from profiles.arrays import Floats
from profiles.errors import HullError
from profiles.hull.formats.content import (
    EXPORT_AGAIN,
    MOST_NODES,
    Content,
    Tally,
    check_indices,
    transform_part,
)
from profiles.hull.formats.safe_xml import read_into, root_of
from profiles.hull.limits import MIB, Limits, check_bytes, check_triangles, check_vertices
from profiles.hull.surface import Mesh, join_meshes
from profiles.notes import warning
from profiles.units import MM_PER_UNIT, unit_name
from profiles.values import dataclass

DEEPEST = 32
"""Levels of components inside components; more must be a circle."""

MOST_PARTS = 10_000
"""Files in a package."""

LARGEST_LIST = 4 * MIB
"""Bytes that the list of relations may have."""

_ENTRY = b"PK\x01\x02"
"""Start of each file's entry in the directory of a zip archive."""


@dataclass(frozen=True, slots=True)
class _Object:
    """One object of a model: a mesh, or other objects in their places."""

    mesh: Mesh | None
    components: tuple[tuple[str, str, Floats], ...]
    """(model part, object id, (4, 4) matrix) of each."""
    solid: bool


@dataclass(slots=True)
class _Package:
    archive: zipfile.ZipFile
    limits: Limits
    unpacked: int = 0
    """Bytes so far."""
    models: dict[str, dict[str, _Object]] = field(default_factory=dict)
    tally: Tally = field(default_factory=Tally)

    def read_pieces(self, name: str) -> Iterator[bytes]:
        """A file of the package, piece by piece. Its declared size is checked before anything is unpacked."""
        try:
            declared = self.archive.getinfo(name).file_size
            self.unpacked += declared
            check_bytes(self.unpacked, self.limits, "the package, unpacked,")
            with self.archive.open(name) as stream:
                while piece := stream.read(MIB):
                    yield piece
        except KeyError:
            msg = f"the package has no part '{name}'."
            raise HullError(msg, remedy=EXPORT_AGAIN) from None
        except (zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, EOFError, OSError) as fault:
            msg = f"the part '{name}' of the package cannot be unpacked ({fault})."
            raise HullError(msg, remedy=EXPORT_AGAIN) from fault

    def model(self, name: str) -> ET.Element:
        """The root of a model; its meshes are in `_Model.meshes`."""
        target = _Model(self.limits)
        root = read_into(target, self.read_pieces(name), "3MF model")
        self.models[name] = _objects(root, name, target.meshes)
        return root


_SHAPE = {"model", "resources", "object", "mesh", "components", "component", "build", "item"}
"""Elements that are kept as a tree; colours, textures and extensions are ignored."""


class _Model:
    """Builds the tree of what makes the shape, with vertices and triangles as numbers beside it."""

    def __init__(self, limits: Limits) -> None:
        self.limits = limits
        self.tree = ET.TreeBuilder()
        self.meshes: list[Mesh] = []
        """In the order of the <mesh> elements."""
        self.elements = 0
        self.in_mesh = False
        self.points, self.corners = array("d"), array("q")

    def start(self, tag: str, attrs: dict[str, str]) -> None:
        """Keep an element or its numbers."""
        name = tag.rpartition("}")[2]
        if name == "vertex" and self.in_mesh:
            self.points.extend(
                [float(attrs.get("x", "nan")), float(attrs.get("y", "nan")), float(attrs.get("z", "nan"))]
            )
        elif name == "triangle" and self.in_mesh:
            self.corners.extend([int(attrs.get("v1", "-1")), int(attrs.get("v2", "-1")), int(attrs.get("v3", "-1"))])
        elif name in _SHAPE:
            self.elements += 1
            if self.elements > MOST_NODES or (self.in_mesh and name == "mesh"):
                msg = f"expected objects of one mesh or of components, found <{name}> after {self.elements} elements."
                raise HullError(msg, remedy="Export only the hull.")
            self.tree.start(tag, attrs)
            self.in_mesh |= name == "mesh"

    def end(self, tag: str) -> None:
        """Close an element; store a finished mesh."""
        name = tag.rpartition("}")[2]
        if name == "triangle":
            check_triangles(len(self.corners) // 3, self.limits, "triangles or more")
        elif name == "vertex":
            check_vertices(len(self.points) // 3, self.limits)
        elif name in _SHAPE:
            self.tree.end(tag)
            if name == "mesh":
                self._store_mesh()

    def _store_mesh(self) -> None:
        points = np.array(self.points, dtype=np.float64).reshape(-1, 3)
        triangles = np.array(self.corners, dtype=np.int64).reshape(-1, 3)
        check_indices(triangles, len(points))
        self.meshes.append((points, triangles))
        self.points, self.corners, self.in_mesh = array("d"), array("q"), False

    def close(self) -> ET.Element:
        """The root element. Raises HullError where there is no model."""
        if not self.elements:
            msg = "it holds no 3MF model, only XML of another kind."
            raise HullError(msg, remedy=EXPORT_AGAIN)
        return self.tree.close()


def read(data: bytes, limits: Limits) -> Content:
    """Triangles of every item to be built, with the model's unit.

    Raises HullError for a package without a model, a missing object, an unknown unit, or more than the limits.
    """
    if data.count(_ENTRY) > MOST_PARTS:
        msg = f"it is a zip package of more than {MOST_PARTS} files."
        raise HullError(msg, remedy="Export only the hull.")
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except (zipfile.BadZipFile, NotImplementedError, ValueError, OSError) as fault:
        msg = f"it is not a whole zip package ({fault})."
        raise HullError(msg, remedy=EXPORT_AGAIN) from fault
    package = _Package(archive, limits, tally=Tally(limits))
    name = _root_model(package)
    root = package.model(name)
    try:
        unit = unit_name(root.get("unit", "millimeter"))
    except ValueError as fault:
        msg = f"{fault} in the 3MF model."
        raise HullError(msg, remedy="Give the unit yourself: --unit mm.") from fault
    parts: list[Mesh] = []
    totals: dict[tuple[str, str], int] = {}
    wanted = 0
    skipped = 0
    for item in root.iterfind("{*}build/{*}item"):
        part_name, number = _part_of(item, name), item.get("objectid", "")
        if not _find_object(package, part_name, number).solid:
            skipped += 1
            continue
        wanted += _count_triangles(package, part_name, number, totals, 0)
        check_triangles(wanted, limits, "triangles, every copy counted")
        parts.extend(_collect_parts(package, part_name, number, _matrix(item)))
    left_out = warning(f"{skipped} support or other objects that are not part of the body were left out.")
    vertices, faces = join_meshes(parts)
    notes = (left_out,) if skipped else ()
    return Content(vertices, faces, unit=unit, mm_per_unit=MM_PER_UNIT[unit], up="z", notes=notes)


def _root_model(package: _Package) -> str:
    """The part that the package's relations name as its model, or else the likeliest."""
    names = package.archive.namelist()
    if "_rels/.rels" in names:
        check_bytes(
            package.archive.getinfo("_rels/.rels").file_size, Limits(bytes=LARGEST_LIST), "the list of relations"
        )
        relations = root_of(b"".join(package.read_pieces("_rels/.rels")), "list of relations")
        for relation in relations.iterfind("{*}Relationship"):
            target = relation.get("Target", "").lstrip("/")
            if relation.get("Type", "").lower().endswith("/3dmodel") and target in names:
                return target
    models = [name for name in names if name.lower().endswith(".model")]
    if not models:
        msg = "it is a zip package without a 3MF model in it."
        raise HullError(msg, remedy="Unpack it and give the mesh file inside, if there is one.")
    return min(models, key=lambda name: (name.lower() != "3d/3dmodel.model", name))


def _part_of(element: ET.Element, here: str) -> str:
    path = next((value for key, value in element.attrib.items() if key.endswith("}path")), None)
    return posixpath.normpath(path.lstrip("/")) if path else here


def _matrix(element: ET.Element) -> Floats:
    """(4, 4) for column vectors from twelve numbers for row vectors."""
    words = element.get("transform", "").split()
    matrix = np.eye(4)
    if not words:
        return matrix
    rows = np.array([float(word) for word in words])
    if rows.shape != (12,):
        msg = f"expected twelve numbers in a transform, found {len(words)}."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    matrix[:3, :] = rows.reshape(4, 3).T
    return matrix


def _objects(root: ET.Element, here: str, meshes: list[Mesh]) -> dict[str, _Object]:
    """The objects of a model by id; `meshes` are those of its <mesh> elements, in the order of the text."""
    of_element = dict(zip(root.iterfind(".//{*}mesh"), meshes, strict=True))
    return {
        item.get("id", ""): _Object(
            mesh=None if (mesh := item.find("{*}mesh")) is None else of_element[mesh],
            components=tuple(
                (_part_of(component, here), component.get("objectid", ""), _matrix(component))
                for component in item.iterfind("{*}components/{*}component")
            ),
            solid=item.get("type", "model") not in {"support", "solidsupport", "other"},
        )
        for item in root.iterfind("{*}resources/{*}object")
    }


def _find_object(package: _Package, part_name: str, number: str) -> _Object:
    if part_name not in package.models:
        package.model(part_name)
    if number not in package.models[part_name]:
        msg = f"the object {number!r} is to be built but is not in '{part_name}'."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    return package.models[part_name][number]


def _count_triangles(
    package: _Package, part_name: str, number: str, totals: dict[tuple[str, str], int], depth: int
) -> int:
    """Triangles of an object with all that it contains; an empty object counts as one."""
    if depth > DEEPEST:
        msg = f"the object {number!r} contains itself."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    key = part_name, number
    if key not in totals:
        item = _find_object(package, part_name, number)
        inner = sum(_count_triangles(package, other, name, totals, depth + 1) for other, name, _ in item.components)
        totals[key] = max(1, inner + (len(item.mesh[1]) if item.mesh else 0))
    return totals[key]


def _collect_parts(package: _Package, part_name: str, number: str, matrix: Floats) -> list[Mesh]:
    item = _find_object(package, part_name, number)
    package.tally.add(triangles=len(item.mesh[1]) if item.mesh else 0)
    parts = [transform_part(*item.mesh, matrix)] if item.mesh else []
    for other_part, other, inner in item.components:
        parts.extend(_collect_parts(package, other_part, other, matrix @ inner))
    return parts
