"""3MF: a zip with XML models inside; every build item placed, components inside components too.

Read here because trimesh (5.2) keeps one alone of several items of an object that share a part number, and takes every
object of another part of the package where a component names one of them.

Reference: 3MF Core Specification 1.2 (units 3.4, transforms 3.3, build 3.4) and Production Extension 1.1 (path).
"""

import io
import posixpath
import xml.etree.ElementTree as ET
import zipfile
import zlib
from dataclasses import dataclass, field

import numpy as np

from profiles.errors import HullError
from profiles.hull.formats.content import EXPORT_AGAIN, LARGEST_UNPACKED, Content, Tally, check_indices, joined, placed
from profiles.hull.formats.xml_guard import root_of
from profiles.hull.surface import Floats, Ints
from profiles.notes import warning
from profiles.units import MM_PER_UNIT, unit_name

DEEPEST = 32
"""Components inside components; more is a circle."""

Part = tuple[Floats, Ints]


@dataclass(frozen=True, slots=True)
class _Thing:
    """One object of a model: a mesh or a set of placed others."""

    mesh: Part | None
    components: tuple[tuple[str, str, Floats], ...]
    """(model part, object id, (4, 4) matrix) of each."""
    solid: bool


@dataclass(slots=True)
class _Package:
    archive: zipfile.ZipFile
    left: int = field(default_factory=lambda: LARGEST_UNPACKED)
    """Bytes that may still be unpacked."""
    models: dict[str, dict[str, _Thing]] = field(default_factory=dict)
    tally: Tally = field(default_factory=Tally)

    def unpacked(self, name: str) -> bytes:
        try:
            with self.archive.open(name) as stream:
                data = stream.read(self.left + 1)
        except KeyError:
            msg = f"the package has no part '{name}'."
            raise HullError(msg, remedy=EXPORT_AGAIN) from None
        except (zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, EOFError, OSError) as fault:
            msg = f"the part '{name}' of the package cannot be unpacked ({fault})."
            raise HullError(msg, remedy=EXPORT_AGAIN) from fault
        self.left -= len(data)
        if self.left < 0:
            msg = f"the package unpacks to more than {LARGEST_UNPACKED >> 20} MiB."
            raise HullError(msg, remedy="Export it with fewer triangles.")
        return data


def read(data: bytes) -> Content:
    """Triangles of every item to be built, with the model's unit.

    Raises HullError for a package without a model, a missing object, or an unknown unit.
    """
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except (zipfile.BadZipFile, NotImplementedError, ValueError, OSError) as fault:
        msg = f"it is not a whole zip package ({fault})."
        raise HullError(msg, remedy=EXPORT_AGAIN) from fault
    package = _Package(archive)
    name = _root_model(package)
    root = root_of(package.unpacked(name), "3MF model")
    package.models[name] = _things(root, name)
    try:
        unit = unit_name(root.get("unit", "millimeter"))
    except ValueError as fault:
        msg = f"{fault} in the 3MF model."
        raise HullError(msg, remedy="Give the unit yourself: --unit mm.") from fault
    parts: list[Part] = []
    skipped = 0
    for item in root.iterfind("{*}build/{*}item"):
        part_name, number = _part_of(item, name), item.get("objectid", "")
        if not _thing(package, part_name, number).solid:
            skipped += 1
            continue
        parts.extend(_gathered(package, part_name, number, _matrix(item), 0))
    left_out = warning(f"{skipped} support or other objects that are no part of the body were left out.")
    vertices, faces = joined(parts)
    notes = (left_out,) if skipped else ()
    return Content(vertices, faces, unit=unit, mm_per_unit=MM_PER_UNIT[unit], up="z", notes=notes)


def _root_model(package: _Package) -> str:
    """The part that the package's relations name as its model, or the only one there is."""
    names = package.archive.namelist()
    if "_rels/.rels" in names:
        relations = root_of(package.unpacked("_rels/.rels"), "list of relations")
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


def _things(root: ET.Element, here: str) -> dict[str, _Thing]:
    return {
        thing.get("id", ""): _Thing(
            mesh=_mesh(thing),
            components=tuple(
                (_part_of(component, here), component.get("objectid", ""), _matrix(component))
                for component in thing.iterfind("{*}components/{*}component")
            ),
            solid=thing.get("type", "model") not in {"support", "solidsupport", "other"},
        )
        for thing in root.iterfind("{*}resources/{*}object")
    }


def _mesh(thing: ET.Element) -> Part | None:
    mesh = thing.find("{*}mesh")
    if mesh is None:
        return None
    vertices = [[float(v.get(axis, "nan")) for axis in "xyz"] for v in mesh.iterfind("{*}vertices/{*}vertex")]
    faces = [[int(t.get(key, "-1")) for key in ("v1", "v2", "v3")] for t in mesh.iterfind("{*}triangles/{*}triangle")]
    points = np.array(vertices, dtype=np.float64).reshape(-1, 3)
    triangles = np.array(faces, dtype=np.int64).reshape(-1, 3)
    check_indices(triangles, len(points))
    return points, triangles


def _thing(package: _Package, part_name: str, number: str) -> _Thing:
    if part_name not in package.models:
        package.models[part_name] = _things(root_of(package.unpacked(part_name), "3MF model"), part_name)
    if number not in package.models[part_name]:
        msg = f"the object {number!r} is to be built but is not in '{part_name}'."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    return package.models[part_name][number]


def _gathered(package: _Package, part_name: str, number: str, matrix: Floats, depth: int) -> list[Part]:
    if depth > DEEPEST:
        msg = f"the object {number!r} contains itself."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    thing = _thing(package, part_name, number)
    package.tally.add(triangles=len(thing.mesh[1]) if thing.mesh else 0)
    parts = [placed(*thing.mesh, matrix)] if thing.mesh else []
    for other_part, other, inner in thing.components:
        parts.extend(_gathered(package, other_part, other, matrix @ inner, depth + 1))
    return parts
