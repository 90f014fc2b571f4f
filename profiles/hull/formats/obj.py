"""OBJ and OFF, the two plain texts of vertices and polygons. Vertices keep the file's numbering.

Read here because trimesh (5.2) counts relative numbers of an OBJ from the end of the file, so that two bodies come out
as the last one twice, cuts concave polygons of both formats into triangles that lie outside them, and reads an OFF that
was cut short as a smaller hull.

OBJ: `v` and `f` lines; relative (negative) numbers count back from the vertices read so far; texture and normal
numbers, groups, materials, lines and points are passed over. Reference: Wavefront Object Files, Appendix B1 (memory).
OFF: with or without colours and normals behind the coordinates. Reference: Geomview's OFF description (from memory).
"""

import re

import numpy as np

from profiles.errors import HullError
from profiles.hull.formats.content import EXPORT_AGAIN, TRIPLE, Content, lines_joined, numbers, whole_numbers
from profiles.hull.formats.polygons import triangulated
from profiles.hull.surface import Floats, Ints
from profiles.notes import Note, mend

_OBJ_LINE = re.compile(rb"^[ \t]*([vf])[ \t]+([^\n#]*)", re.MULTILINE)
_AFTER_SLASH = re.compile(rb"/\S*")
_FREE_FORM = re.compile(rb"^[ \t]*(curv|surf|cstype)\b", re.MULTILINE)


def read_obj(data: bytes) -> Content:
    """Vertices and triangulated faces of an OBJ file. Raises HullError for bad numbers or numbers out of range."""
    text = re.sub(rb"\\[ \t]*\n", b" ", lines_joined(data))
    lines = _OBJ_LINE.findall(text)
    is_face = np.array([kind == b"f" for kind, _ in lines], dtype=bool)
    vertices = _triples([rest for kind, rest in lines if kind == b"v"], "vertices")
    rings = [_AFTER_SLASH.sub(b"", rest) for kind, rest in lines if kind == b"f"]
    if not rings and _FREE_FORM.search(text):
        msg = "it holds free-form surfaces (curv, surf) and no faces."
        raise HullError(msg, remedy="Export it again as a polygon mesh.")
    counts = np.array([len(ring.split()) for ring in rings], dtype=np.int64)
    corners = whole_numbers(b" ".join(rings), "the faces")
    before = np.repeat(np.cumsum(~is_face)[is_face], counts)
    corners = np.where(corners < 0, corners + before, corners - 1)
    faces = triangulated(vertices, corners, counts, first=1)
    return Content(vertices, faces, notes=_short_faces(counts))


def _triples(lines: list[bytes], what: str) -> Floats:
    """(n, 3): the first three numbers of each line; a weight or a colour may follow."""
    if all(len(line.split()) == TRIPLE for line in lines):
        return numbers(b"\n".join(lines), what).reshape(-1, 3)
    words = [line.split()[:TRIPLE] for line in lines]
    short = next((number for number, triple in enumerate(words, start=1) if len(triple) < TRIPLE), None)
    if short is not None:
        msg = f"vertex {short} has fewer than three coordinates."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    return numbers(b"\n".join(b" ".join(triple) for triple in words), what).reshape(-1, 3)


def _short_faces(counts: Ints) -> tuple[Note, ...]:
    short = int((counts < TRIPLE).sum())
    return (mend(f"{short} faces with fewer than three corners were left out."),) if short else ()


_OFF_HEAD = re.compile(rb"\s*(?:ST)?C?N?(4?n?)(?:OFF|off)\b[ \t]*(BINARY)?")


_OFF_COUNTS = (2, 3)
"""Vertices, faces, and edges, which are often left out."""


def read_off(data: bytes) -> Content:
    """Vertices and triangulated faces of an OFF file. Raises HullError where it ends early or is of another kind."""
    text = re.sub(rb"#[^\n]*", b"", lines_joined(data))
    head = _OFF_HEAD.match(text)
    if head is not None:
        if head[1] or head[2]:
            msg = "it is an OFF file of a kind that is not read (binary, or with more than three dimensions)."
            raise HullError(msg, remedy="Export it as a plain OFF text, or as STL.")
        text = text[head.end() :]
    lines = [line for line in text.split(b"\n") if line.strip()]
    sizes = whole_numbers(lines[0] if lines else b"", "the counts of an OFF file")
    if len(sizes) not in _OFF_COUNTS or (sizes < 0).any():
        msg = "expected the counts of vertices and faces after the word OFF."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    many, polygons = int(sizes[0]), int(sizes[1])
    if len(lines) < 1 + many + polygons:
        msg = f"its head states {many} vertices and {polygons} faces, {len(lines) - 1} lines follow."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    vertices = _triples(lines[1 : 1 + many], "vertices")
    rings = [_off_ring(line, number) for number, line in enumerate(lines[1 + many : 1 + many + polygons], start=1)]
    counts = np.array([len(ring) for ring in rings], dtype=np.int64)
    corners = whole_numbers(b" ".join(b" ".join(ring) for ring in rings), "the faces")
    return Content(vertices, triangulated(vertices, corners, counts), notes=_short_faces(counts))


def _off_ring(line: bytes, number: int) -> list[bytes]:
    words = line.split()
    many = int(words[0]) if words[0].isdigit() else -1
    ring = words[1 : 1 + many]
    if many < 0 or len(ring) != many:
        msg = f"face {number} does not list as many corners as it states ({words[0].decode('utf-8', 'replace')})."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    return ring
