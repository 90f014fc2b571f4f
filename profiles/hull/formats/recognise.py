"""Recognise a file by its content: the formats that are read, and others that get a mesh suffix by mistake."""

import re

from profiles.hull.formats.stl import is_binary, looks_like_text

SUFFIXES = {
    ".stl": "STL",
    ".obj": "OBJ",
    ".ply": "PLY",
    ".off": "OFF",
    ".glb": "glTF",
    ".gltf": "glTF",
    ".3mf": "3MF",
    ".dae": "COLLADA",
    ".step": "STEP",
    ".stp": "STEP",
}
"""Every suffix of a mesh that is read, and the name of its format. Each may be followed by .gz."""

LINES = {".csv": "CSV", ".svg": "SVG"}
"""Hulls without a mesh: tables of offsets, and drawings of sections."""


def is_lines(name: str) -> bool:
    """Whether a file with this name holds lines and not a mesh."""
    return name.lower().removesuffix(".gz").endswith(tuple(LINES))


_BEGINNINGS = (
    (b"%PDF", "a PDF document"),
    (b"\x89PNG\r\n\x1a\n", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"II*\0", "a TIFF picture"),
    (b"MM\0*", "a TIFF picture"),
    (b"\x1f\x8b", "gzip-compressed data (its name should end in .gz)"),
    (b"BZh", "bzip2-compressed data"),
    (b"\xfd7zXZ\0", "xz-compressed data"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"Rar!", "a RAR archive"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an office document or a native CAD file"),
    (b"BLENDER", "a .blend scene of a modelling program"),
    (b"Kaydara FBX Binary", "an FBX scene"),
    (b"; FBX", "an FBX scene"),
    (b"3D Geometry File Format ", "a .3dm model"),
    (b"#VRML", "a VRML world"),
    (b"AC10", "a DWG drawing"),
    (b"AutoCAD Binary DXF", "a DXF drawing"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
    (b"version https://git-lfs", "a pointer to a file kept elsewhere (git-lfs), not the file itself"),
)
"""First bytes of files that are not meshes, and their names in messages."""


_LOOKED_AT = 1 << 16
"""Bytes of a text that are looked at; the faces of a large OBJ stand further on."""


def is_utf16(data: bytes) -> bool:
    """Whether a text has two bytes for each character, by its byte order mark or by zeros in its beginning."""
    head = data[:64]
    pairs = len(head) // 2
    zeros = max(head[0::2].count(0), head[1::2].count(0))
    signs = sum(0 < byte < 128 for byte in head)  # noqa: PLR2004 - ASCII
    return data.startswith((b"\xff\xfe", b"\xfe\xff")) or (pairs > 3 and zeros == pairs and signs == pairs)  # noqa: PLR2004


def content_of(data: bytes) -> tuple[str | None, str]:
    """The format that the content shows and a phrase for it.

    ("OBJ", "OBJ") for a format that is read; (None, "a PDF document") for another that is known; (None, "") for what
    shows nothing. OBJ has no signature and is identified by its lines.
    """
    if is_binary(data):
        return "STL", "binary STL"
    for beginning, phrase in _BEGINNINGS:
        if data.startswith(beginning):
            return None, phrase
    if data.startswith(b"glTF"):
        return "glTF", "GLB"
    if data.startswith(b"PK\x03\x04"):
        return ("3MF", "3MF") if b"3dmodel" in data.lower() or b".model" in data else (None, "a zip archive")
    if looks_like_text(data):
        return "STL", "text STL"
    return _text_content(data[:_LOOKED_AT], whole=len(data) <= _LOOKED_AT)


_DAE_ROOT = re.compile(rb"<(?:\w+:)?COLLADA\b")
_XML_ROOTS = ((b"<!doctype html", "a web page"), (b"<html", "a web page"), (b"<svg", "an SVG drawing"))
_TEXT_BEGINNINGS: tuple[tuple[re.Pattern[bytes], str | None, str], ...] = (
    (re.compile(rb"<"), "COLLADA", "COLLADA"),
    (re.compile(rb"ISO-10303-21"), "STEP", "STEP"),
    (re.compile(rb"ply\s"), "PLY", "PLY"),
    (re.compile(rb"(ST)?C?N?4?n?OFF\b"), "OFF", "OFF"),
    (re.compile(rb"\{.*\"(asset|meshes|accessors)\"", re.DOTALL), "glTF", "glTF"),
    (re.compile(rb"(999\n.*\n\s*)?0\n\s*SECTION"), None, "a DXF drawing"),
    (re.compile(rb".{72}S\s{0,6}1\b"), None, "an IGES model"),
)
_OBJ_VERTEX = re.compile(rb"^[ \t]*v([ \t]+[-+\d.eE]+){3}", re.MULTILINE)
_OBJ_FACE = re.compile(rb"^[ \t]*f[ \t]+-?\d+", re.MULTILINE)


def _text_content(head: bytes, *, whole: bool) -> tuple[str | None, str]:
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        head = head.decode("utf-16", "replace").encode()
    head = head.removeprefix(b"\xef\xbb\xbf").lstrip().replace(b"\r", b"\n")
    lower = head[:4096].lower()
    if head.startswith(b"<") and not _DAE_ROOT.search(head):
        return None, next((phrase for mark, phrase in _XML_ROOTS if mark in lower), "an XML text of another kind")
    for pattern, form, phrase in _TEXT_BEGINNINGS:
        if pattern.match(head):
            return form, phrase
    if _OBJ_VERTEX.search(head) and (_OBJ_FACE.search(head) or not whole):
        return "OBJ", "OBJ"
    return None, ""
