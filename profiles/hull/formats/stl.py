"""STL, binary and text, straight into arrays.

The structure of a file decides which of the two it is, not its first word: a binary file has 84 bytes and 50 for each
triangle. Normals and attribute bytes are not read: the order of the corners counts, and repair corrects it.
Reference: the STL file format as published by the Library of Congress, fdd000504 (binary) and fdd000505 (text).
"""

import re

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.errors import HullError
from profiles.hull.formats.content import (
    EXPORT_AGAIN,
    TRIPLE,
    Content,
    concatenate,
    normalize_line_ends,
    parse_numbers,
    split_lines,
)
from profiles.hull.limits import Limits, check_triangles
from profiles.hull.weld import weld
from profiles.notes import Note, warning

HEAD = 84
"""Bytes before the first record: 80 of free text and the count."""

RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
"""One triangle, 50 bytes."""


def is_binary(data: bytes) -> bool:
    """Whether the size is that of a binary STL with the stated count."""
    return len(data) >= HEAD and len(data) == HEAD + RECORD.itemsize * _count(data)


def looks_like_text(data: bytes) -> bool:
    """Whether the file begins like a text STL, without zero bytes."""
    head = data[:1024].removeprefix(b"\xef\xbb\xbf").lstrip().lower()
    return head.startswith((b"solid", b"facet")) and b"\0" not in head and (b"facet" in head or b"endsolid" in head)


def read(data: bytes, limits: Limits) -> Content:
    """Triangles of an STL file. The format repeats corners; those of a binary file that are equal bit for bit become
    one vertex here, while they have 32 bits.

    Raises HullError for a count that does not match the size or is over the limit, a facet without three corners, or
    a word that is not a number.
    """
    if is_binary(data):
        return _binary(data, limits, ())
    if looks_like_text(data):
        return _text(data, limits)
    return _odd_binary(data, limits)


def _count(data: bytes) -> int:
    return int.from_bytes(data[80:84], "little")


def _binary(data: bytes, limits: Limits, notes: tuple[Note, ...]) -> Content:
    check_triangles(_count(data), limits)
    records = np.frombuffer(data, dtype=RECORD, count=_count(data), offset=HEAD)
    corners = records["corners"].reshape(-1, 3)
    first, number = weld(corners)
    return Content(corners[first].astype(np.float64), number.reshape(-1, 3), notes=notes, welded=True)


def _soup(count: int) -> Ints:
    return np.arange(3 * count, dtype=np.int64).reshape(-1, 3)


def _odd_binary(data: bytes, limits: Limits) -> Content:
    """A binary file with extra bytes at its end; refused where count and size cannot both be right."""
    if len(data) < HEAD:
        msg = f"{len(data)} bytes are too few for an STL file (a binary one has at least {HEAD}), and it is not a text."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    count, rest = _count(data), len(data) - HEAD
    held, over = divmod(rest, RECORD.itemsize)
    spare = rest - RECORD.itemsize * count
    if count and over and 0 < spare <= rest // 2:
        text = f"{spare} bytes after the last of {count} triangles were not read."
        return _binary(data, limits, (warning(text),))
    msg = f"its header states {count} triangles; its size ({len(data)} bytes) holds {held}."
    raise HullError(msg, remedy=EXPORT_AGAIN)


_FACET = b"fvvve"
"""First letters of the lines that make one triangle: facet, three vertices, endfacet."""

_LINE = re.compile(rb"^[ \t]*(f|v|endf)(?:acet|ertex)\b([^\n]*)", re.IGNORECASE | re.MULTILINE)


def _text(data: bytes, limits: Limits) -> Content:
    text = normalize_line_ends(data)
    check_triangles(text.count(b"endfacet"), limits)  # in the usual form; others are counted as they are read
    kinds, parts = bytearray(), []
    for piece in split_lines(text):
        lines = _LINE.findall(piece)
        kinds += b"".join(kind[:1] for kind, _ in lines).lower()
        parts.append(parse_numbers(b"\n".join(rest for kind, rest in lines if kind in b"vV"), "the corners of a facet"))
        check_triangles(len(kinds) // len(_FACET), limits, "triangles or more")
    count = len(kinds) // len(_FACET)
    if kinds != _FACET * count:
        raise _broken_facet(text)
    values = concatenate(parts)
    if len(values) != 9 * count:
        raise _broken_corner(text)
    notes = () if b"endsolid" in text[-4096:].lower() else (_unfinished(count),)
    vertices: Floats = values.reshape(-1, 3)
    return Content(vertices, _soup(count), notes=notes)


def _unfinished(count: int) -> Note:
    return warning(f"The text ends after {count} triangles without 'endsolid': it may have been cut short.")


def _broken_facet(text: bytes) -> HullError:
    """The error for the first facet without exactly three corners and an end."""
    start = 0
    for number, match in enumerate(_LINE.finditer(text)):
        place = number % len(_FACET)
        start = start if place else match.start()
        if match[1][:1].lower() != _FACET[place : place + 1]:
            break
    line = text.count(b"\n", 0, start) + 1
    msg = f"the facet at line {line} does not have exactly three corners and an end."
    return HullError(msg, remedy=EXPORT_AGAIN)


def _broken_corner(text: bytes) -> HullError:
    """The error for the first corner without three coordinates."""
    match = next(m for m in _LINE.finditer(text) if m[1].lower() == b"v" and len(m[2].split()) != TRIPLE)
    line = text.count(b"\n", 0, match.start()) + 1
    msg = f"expected three coordinates at line {line}, found {match[2].strip()[:60].decode('utf-8', 'replace')!r}."
    return HullError(msg, remedy=EXPORT_AGAIN)
