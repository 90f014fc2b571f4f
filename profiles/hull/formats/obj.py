"""OBJ and OFF, the two plain texts of vertices and polygons. Vertices keep the file's numbering.

We read these formats ourselves because trimesh (5.2) counts relative numbers of an OBJ from the end of the file (two
bodies become the last one twice), cuts concave polygons of both formats into triangles outside them, and reads a
truncated OFF file as a smaller hull.

OBJ: `v` and `f` lines; relative (negative) numbers count back from the vertices read so far; texture and normal
numbers, groups, materials, lines and points are ignored. Reference: Wavefront Object Files, Appendix B1 (memory).
OFF: with or without colours and normals behind the coordinates. Reference: Geomview's OFF description (from memory).
"""

import re

import numpy as np

from profiles.arrays import Floats
from profiles.errors import HullError
from profiles.hull.formats.content import (
    EXPORT_AGAIN,
    TRIPLE,
    Content,
    normalize_line_ends,
    parse_integers,
    parse_numbers,
    split_lines,
)
from profiles.hull.formats.polygons import short_face_notes, triangulate
from profiles.hull.limits import Limits, check_triangles, check_vertices

_OBJ_LINE = re.compile(rb"^[ \t]*([vf])[ \t]+([^\n#]*)", re.MULTILINE)
_AFTER_SLASH = re.compile(rb"/\S*")
_FREE_FORM = re.compile(rb"^[ \t]*(curv|surf|cstype)\b", re.MULTILINE)


def read_obj(data: bytes, limits: Limits) -> Content:
    """Vertices and triangulated faces of an OBJ file.

    Raises HullError for bad numbers, numbers out of range, or more triangles than the limit.
    """
    text = normalize_line_ends(data)
    if b"\\" in text:
        text = re.sub(rb"\\[ \t]*\n", b" ", text)
    # Lines in the usual form are counted first, others as they are read.
    check_vertices(text.count(b"\nv "), limits)
    check_triangles(text.count(b"\nf "), limits, "faces")
    points, corners, counts = [np.zeros((0, 3))], [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=np.int64)]
    vertex_count = triangles = 0
    for piece in split_lines(text):
        lines = _OBJ_LINE.findall(piece)
        is_face = np.array([kind == b"f" for kind, _ in lines], dtype=bool)
        points.append(_triples([rest for kind, rest in lines if kind == b"v"]))
        rings = [_AFTER_SLASH.sub(b"", rest) for kind, rest in lines if kind == b"f"]
        counts.append(np.array([len(ring.split()) for ring in rings], dtype=np.int64))
        triangles += int(np.maximum(counts[-1] - 2, 0).sum())
        named = parse_integers(b" ".join(rings), "the faces")
        before = np.repeat(vertex_count + np.cumsum(~is_face)[is_face], counts[-1])
        corners.append(np.where(named < 0, named + before, named - 1))
        vertex_count += len(points[-1])
        check_vertices(vertex_count, limits)
        check_triangles(triangles, limits)
    vertices, sizes = np.concatenate(points), np.concatenate(counts)
    if not len(sizes) and _FREE_FORM.search(text):
        msg = "it holds free-form surfaces (curv, surf) and no faces."
        raise HullError(msg, remedy="Export it again as a polygon mesh.")
    faces = triangulate(vertices, np.concatenate(corners), sizes, first=1)
    return Content(vertices, faces, notes=short_face_notes(sizes))


def _triples(lines: list[bytes]) -> Floats:
    """(n, 3): the first three numbers of each line. A weight or a colour may follow."""
    if all(len(line.split()) == TRIPLE for line in lines):
        return parse_numbers(b"\n".join(lines), "vertices").reshape(-1, 3)
    words = [line.split()[:TRIPLE] for line in lines]
    short = next((number for number, triple in enumerate(words, start=1) if len(triple) < TRIPLE), None)
    if short is not None:
        msg = f"vertex {short} has fewer than three coordinates."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    return parse_numbers(b"\n".join(b" ".join(triple) for triple in words), "vertices").reshape(-1, 3)


_OFF_HEAD = re.compile(rb"\s*(?:ST)?C?N?(4?n?)(?:OFF|off)\b[ \t]*(BINARY)?")


_OFF_COUNTS = (2, 3)
"""Vertices, faces, and edges, which are often left out."""

_LONGEST_COUNTS = 200
"""Bytes read of the line with the counts."""


def read_off(data: bytes, limits: Limits) -> Content:
    """Vertices and triangulated faces of an OFF file.

    Raises HullError where it ends early, is of another kind, or states more than the limit.
    """
    text = normalize_line_ends(data)
    if b"#" in text:
        text = re.sub(rb"#[^\n]*", b"", text)
    head = _OFF_HEAD.match(text)
    if head is not None:
        if head[1] or head[2]:
            msg = "it is an OFF file of a kind that is not read (binary, or with more than three dimensions)."
            raise HullError(msg, remedy="Export it as a plain OFF text, or as STL.")
        text = text[head.end() :]
    vertex_count, polygons, start = _off_counts(text)
    check_vertices(vertex_count, limits)
    check_triangles(polygons, limits, "faces")
    vertices, rings = _off_lines(text[start:], vertex_count, polygons)
    counts = np.array([len(ring) for ring in rings], dtype=np.int64)
    check_triangles(int(np.maximum(counts - 2, 0).sum()), limits)
    corners = parse_integers(b" ".join(b" ".join(ring) for ring in rings), "the faces")
    return Content(vertices, triangulate(vertices, corners, counts), notes=short_face_notes(counts))


def _off_counts(text: bytes) -> tuple[int, int, int]:
    """The stated numbers of vertices and faces, and where the next line begins."""
    line = re.search(rb"\S[^\n]*", text)
    sizes = parse_integers(line[0][:_LONGEST_COUNTS] if line else b"", "the counts of an OFF file")
    if line is None or len(sizes) not in _OFF_COUNTS or (sizes < 0).any():
        msg = "expected the counts of vertices and faces after the word OFF."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    return int(sizes[0]), int(sizes[1]), line.end()


def _off_lines(text: bytes, vertex_count: int, polygons: int) -> tuple[Floats, list[list[bytes]]]:
    """The vertices (vertex_count, 3) and the corners of each polygon, from the lines after the counts."""
    points = [np.zeros((0, 3))]
    rings: list[list[bytes]] = []
    number = 0
    for piece in split_lines(text):
        lines = [line for line in piece.split(b"\n") if line.strip()]
        of_points = lines[: max(vertex_count - number, 0)]
        points.append(_triples(of_points))
        of_rings = lines[len(of_points) : len(of_points) + polygons - len(rings)]
        rings += [_off_ring(line, place) for place, line in enumerate(of_rings, start=len(rings) + 1)]
        number += len(lines)
        if number >= vertex_count + polygons:
            break
    if number < vertex_count + polygons:
        msg = f"its header states {vertex_count} vertices and {polygons} faces; {number} lines follow."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    return np.concatenate(points), rings


def _off_ring(line: bytes, number: int) -> list[bytes]:
    words = line.split()
    count = int(words[0]) if words[0].isdigit() else -1
    ring = words[1 : 1 + count]
    if count < 0 or len(ring) != count:
        msg = f"face {number} does not list as many corners as it states ({words[0].decode('utf-8', 'replace')})."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    return ring
