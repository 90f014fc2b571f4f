"""PLY, text and binary of either byte order, with polygons of mixed corner counts.

We read it ourselves because trimesh (5.2) refuses a binary PLY that mixes triangles and quads, as modellers write it,
reads a truncated text as a smaller hull, and cuts concave polygons into triangles outside them.

Reference: The PLY Polygon File Format, Stanford, 1994 (from memory).
"""

import struct
from dataclasses import field

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.errors import HullError
from profiles.hull.formats.content import (
    EXPORT_AGAIN,
    Content,
    concatenate,
    normalize_line_ends,
    parse_numbers,
    split_lines,
)
from profiles.hull.formats.polygons import short_face_notes, triangulate
from profiles.hull.limits import Limits, check_triangles, check_vertices
from profiles.notes import Note, warning
from profiles.values import dataclass

_TYPES = {
    "char": "i1", "int8": "i1", "uchar": "u1", "uint8": "u1",
    "short": "i2", "int16": "i2", "ushort": "u2", "uint16": "u2",
    "int": "i4", "int32": "i4", "uint": "u4", "uint32": "u4",
    "int64": "i8", "uint64": "u8",
    "float": "f4", "float32": "f4", "double": "f8", "float64": "f8",
}  # fmt: skip
"""Names of PLY's number types and their numpy names."""

_LONGEST_HEAD = 1 << 16
"""Bytes; a header lists a few elements and their properties."""

_LONGEST_COUNT = 16
"""Digits; a longer count cannot be right."""

_RING_NAMES = ("vertex_indices", "vertex_index")


@dataclass(frozen=True, slots=True)
class _Property:
    name: str
    kind: str
    """numpy name of the value's type, without byte order."""
    count_kind: str | None = None
    """For a list: numpy name of the type of its length."""


@dataclass(slots=True)
class _Element:
    name: str
    count: int
    properties: list[_Property] = field(default_factory=list)

    @property
    def wanted(self) -> tuple[str, ...]:
        """The properties that make the shape; others are ignored."""
        if self.name == "vertex":
            return ("x", "y", "z")
        lists = [prop.name for prop in self.properties if prop.count_kind] if self.name == "face" else []
        return next(((name,) for name in (*_RING_NAMES, *lists) if name in lists), ())

    @property
    def has_list(self) -> bool:
        return any(prop.count_kind for prop in self.properties)


@dataclass(slots=True)
class _Read:
    """The columns of one element that make the shape."""

    scalars: dict[str, Floats]
    """(count,) each."""
    rings: dict[str, tuple[Ints, Ints]]
    """For each list: all values one after the other, and the number in each row."""


def read(data: bytes, limits: Limits) -> Content:
    """Vertices and triangulated faces of a PLY file.

    Raises HullError where it ends early, has no vertices, or states more than the limit.
    """
    data = data.removeprefix(b"\xef\xbb\xbf")
    form, elements, start = _head(data)
    for element in elements:
        if element.name == "face":
            check_triangles(element.count, limits, "faces")
        else:
            check_vertices(element.count, limits)
    if form == "ascii":
        read_elements, spare = _text(data[start:], elements, limits)
    else:
        read_elements, spare = _binary(data, start, elements, "<" if form == "binary_little_endian" else ">", limits)
    vertex, face = read_elements.get("vertex"), read_elements.get("face")
    if vertex is None or any(axis not in vertex.scalars for axis in "xyz"):
        msg = "it has no vertices with x, y and z."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    vertices = np.column_stack([vertex.scalars[axis] for axis in "xyz"])
    if face is None and "tristrips" in read_elements:
        msg = "it holds triangle strips, which are not read."
        raise HullError(msg, remedy="Export it again with plain faces, or as STL.")
    if face is None or not face.rings:
        return Content(vertices, np.zeros((0, 3), dtype=np.int64))
    corners, counts = next(iter(face.rings.values()))
    check_triangles(int(np.maximum(counts - 2, 0).sum()), limits)
    return Content(vertices, triangulate(vertices, corners, counts), notes=_notes(counts, spare))


def _notes(counts: Ints, spare: int) -> tuple[Note, ...]:
    unread = (warning(f"{spare} bytes after the last element were not read."),) if spare else ()
    return (*short_face_notes(counts), *unread)


def _head(data: bytes) -> tuple[str, list[_Element], int]:
    """The format ("ascii", ...), the elements, and where the data begin."""
    end = data.find(b"end_header", 0, _LONGEST_HEAD)
    if not data.startswith(b"ply") or end < 0:
        msg = "its header does not run from 'ply' to 'end_header'."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    head = data[:end]
    line_end = b"\r\n" if b"\r\n" in head else b"\r" if b"\r" in head else b"\n"
    start = data.find(line_end, end) + len(line_end)
    if start < end:
        start = len(data)
    form, elements = "", []
    for line in head.decode("latin-1").splitlines():
        match line.split():
            case ["format", word, *_]:
                form = word
            case ["element", name, count] if count.isdecimal() and len(count) < _LONGEST_COUNT:
                elements.append(_Element(name, int(count)))
            case ["property", "list", count_kind, kind, name] if elements and {count_kind, kind} <= _TYPES.keys():
                elements[-1].properties.append(_Property(name, _TYPES[kind], _TYPES[count_kind]))
            case ["property", kind, name] if elements and kind in _TYPES:
                elements[-1].properties.append(_Property(name, _TYPES[kind]))
            case [] | ["ply"] | ["comment" | "obj_info", *_]:
                pass
            case _:
                msg = f"its header has a line that cannot be read: {line.strip()[:60]!r}."
                raise HullError(msg, remedy=EXPORT_AGAIN)
    if form not in {"ascii", "binary_little_endian", "binary_big_endian"}:
        msg = f"expected the format ascii, binary_little_endian or binary_big_endian, found {form!r}."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    return form, elements, start


def _ends_early(element: _Element, found: int) -> HullError:
    msg = f"it ends early: its header states {element.count} of '{element.name}'; the file has {found}."
    return HullError(msg, remedy=EXPORT_AGAIN)


def _text(body: bytes, elements: list[_Element], limits: Limits) -> tuple[dict[str, _Read], int]:
    values = _text_numbers(body, sum(_most_numbers(element, limits) for element in elements))
    place = 0
    result: dict[str, _Read] = {}
    for element in elements:
        if element.has_list:
            result[element.name], place = _text_lists(values, place, element)
            continue
        width = len(element.properties)
        block = values[place : place + element.count * width]
        if len(block) < element.count * width:
            raise _ends_early(element, len(block) // max(width, 1))
        table = block.reshape(element.count, width)
        columns = {prop.name: table[:, i] for i, prop in enumerate(element.properties) if prop.name in element.wanted}
        result[element.name] = _Read(columns, {})
        place += len(block)
    return result, 0


def _most_numbers(element: _Element, limits: Limits) -> int:
    """The most numbers an element may have. A polygon of n triangles has n + 2 corners and a count."""
    lists = sum(prop.count_kind is not None for prop in element.properties)
    return element.count * (len(element.properties) + 2 * lists) + 3 * lists * limits.triangles


def _text_numbers(body: bytes, most: int) -> Floats:
    """All numbers of the text. Raises HullError for more than the header allows."""
    parts, total = [], 0
    for piece in split_lines(normalize_line_ends(body)):
        parts.append(parse_numbers(piece, "the PLY data"))
        total += len(parts[-1])
        if total > most:
            msg = f"it holds more than the {most:,} numbers that its header allows."
            raise HullError(msg, remedy=EXPORT_AGAIN)
    return concatenate(parts)


def _text_lists(values: Floats, place: int, element: _Element) -> tuple[_Read, int]:
    lists: dict[str, tuple[list[Floats], list[int]]] = {name: ([], []) for name in _wanted_lists(element)}
    for row in range(element.count):
        for prop in element.properties:
            if place >= len(values):
                raise _ends_early(element, row)
            if prop.count_kind is None:
                place += 1
                continue
            count = int(values[place])
            ring = values[place + 1 : place + 1 + count]
            if count < 0 or len(ring) < count:
                raise _ends_early(element, row)
            if prop.name in lists:
                lists[prop.name][0].append(ring)
                lists[prop.name][1].append(count)
            place += 1 + count
    rings = {name: (_flat(parts), np.array(counts, dtype=np.int64)) for name, (parts, counts) in lists.items()}
    return _Read({}, rings), place


def _wanted_lists(element: _Element) -> list[str]:
    return [prop.name for prop in element.properties if prop.count_kind and prop.name in element.wanted]


def _flat(parts: list[Floats]) -> Ints:
    """All lists of one property as one array of whole numbers."""
    values = np.concatenate(parts) if parts else np.zeros(0)
    if not np.all(np.isfinite(values) & (values == np.floor(values))):
        msg = "expected whole numbers in the lists of a PLY face."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    return values.astype(np.int64)


def _binary(
    body: bytes, place: int, elements: list[_Element], order: str, limits: Limits
) -> tuple[dict[str, _Read], int]:
    result: dict[str, _Read] = {}
    for element in elements:
        even = _even_rows(body, place, element, order, limits)
        result[element.name], place = even or _uneven_lists(body, place, element, order)
    return result, len(body) - place


def _even_rows(body: bytes, place: int, element: _Element, order: str, limits: Limits) -> tuple[_Read, int] | None:
    """All rows at once, where every row's lists are as long as the first row's; None where they differ."""
    if not element.count or not element.properties:
        return _Read({prop.name: np.zeros(element.count) for prop in element.properties}, {}), place
    fields: list[tuple[str, str, tuple[int]]] = []
    lengths: dict[int, int] = {}
    offset = place
    for i, prop in enumerate(element.properties):
        if prop.count_kind:
            kind = np.dtype(order + prop.count_kind)
            if offset + kind.itemsize > len(body):
                return None
            lengths[i] = int(np.frombuffer(body, dtype=kind, count=1, offset=offset)[0])
            fields.append((f"n{i}", order + prop.count_kind, (1,)))
            offset += kind.itemsize
        fields.append((f"p{i}", order + prop.kind, (lengths.get(i, 1),)))
        offset += np.dtype(prop.kind).itemsize * lengths.get(i, 1)
    if lengths and offset > len(body):
        return None
    dtype = np.dtype(fields)
    end = place + element.count * dtype.itemsize
    if end > len(body):
        if lengths:
            return None
        raise _ends_early(element, (len(body) - place) // dtype.itemsize)
    rows = np.frombuffer(body, dtype=dtype, count=element.count, offset=place)
    if any((rows[f"n{i}"] != length).any() for i, length in lengths.items()):
        return None
    wanted = [(i, prop.name) for i, prop in enumerate(element.properties) if prop.name in element.wanted]
    in_use = [lengths[i] for i, _ in wanted if i in lengths]
    check_triangles(element.count * max((length - 2 for length in in_use), default=0), limits)
    scalars = {name: rows[f"p{i}"].ravel().astype(np.float64) for i, name in wanted if i not in lengths}
    rings = {
        name: (rows[f"p{i}"].astype(np.int64).ravel(), np.full(element.count, lengths[i]))
        for i, name in wanted
        if i in lengths
    }
    return _Read(scalars, rings), end


def _uneven_lists(body: bytes, place: int, element: _Element, order: str) -> tuple[_Read, int]:
    """Row by row, for lists of different lengths."""
    lists: dict[str, tuple[list[Floats], list[int]]] = {name: ([], []) for name in _wanted_lists(element)}
    kinds = [
        (prop, np.dtype(order + prop.kind), struct.Struct(order + np.dtype(prop.count_kind or "u1").char))
        for prop in element.properties
    ]
    for row in range(element.count):
        for prop, kind, counter in kinds:
            if prop.count_kind is None:
                place += kind.itemsize
                continue
            if place + counter.size > len(body):
                raise _ends_early(element, row)
            count = int(counter.unpack_from(body, place)[0])
            place += counter.size
            if count < 0 or place + count * kind.itemsize > len(body):
                raise _ends_early(element, row)
            if prop.name in lists:
                lists[prop.name][0].append(np.frombuffer(body, dtype=kind, count=count, offset=place))
                lists[prop.name][1].append(count)
            place += count * kind.itemsize
    rings = {name: (_flat(parts), np.array(counts, dtype=np.int64)) for name, (parts, counts) in lists.items()}
    return _Read({}, rings), place
