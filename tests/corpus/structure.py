"""Files whose structure is at fault, or whose name is hostile."""

import gzip
import struct
from functools import cache

from tests import closed_forms as zoo
from tests.corpus.case import (
    WIGLEY,
    Case,
    accepted,
    foldered,
    hull,
    late,
    linked,
    obj,
    piped,
    refused,
    stl,
    stl_text,
)
from tests.hull import mesh_files

KIND = "file structure"

MIB = 1 << 20


@cache
def good() -> bytes:
    """A hull that is read."""
    return stl(hull())


def cases() -> list[Case]:
    """All of this kind."""
    return [*_binary(), *_text(), *_strangers(), *_no_files(), *_names(), *_ply(), *_obj_off()]


def _no(name: str, file: str, content: object, *says: str, alone: bool = False) -> Case:
    return refused(KIND, name, file, content, *says, alone=alone)  # type: ignore[arg-type]


def _yes(name: str, file: str, content: object, *says: str) -> Case:
    return accepted(KIND, name, file, content, WIGLEY, *says)  # type: ignore[arg-type]


def _binary() -> list[Case]:
    data = good()
    count = int.from_bytes(data[80:84], "little")

    def stated(number: int) -> bytes:
        return data[:80] + struct.pack("<I", number) + data[84:]

    return [
        _no("empty file", "hull.stl", b"", "hull.stl", "empty"),
        _no("nothing but blanks", "hull.stl", b" \n\t" * 50, "blanks"),
        _no("zeros", "hull.stl", bytes(500), "blanks"),
        _no("binary STL cut short", "hull.stl", data[:-70], f"states {count}", "holds"),
        _no("binary STL of 60 bytes", "hull.stl", b"hull" + data[84:140], "too few"),
        _no("count one too high", "hull.stl", stated(count + 1), f"states {count + 1}"),
        _no("count far too low", "hull.stl", stated(3), "states 3"),
        _no("count nothing", "hull.stl", stated(0), "states 0"),
        _no("count four billion", "hull.stl", stated(2**32 - 1), "4294967295"),
        _yes(
            "a few bytes too many", "hull.stl", data + b"the end", "7 bytes after the last", "--unit", "--up", "--nose"
        ),
    ]


def _text() -> list[Case]:
    text = stl_text(hull())
    lines = text.splitlines(keepends=True)
    commas = text.replace(b".", b",")
    return [
        _no("text STL cut inside a facet", "hull.stl", b"".join(lines[:-5]), "line", "three corners"),
        _yes("text STL without its end", "hull.stl", b"".join(lines[:-1]), "without 'endsolid'"),
        _no("facet of four corners", "hull.stl", b"".join([*lines[:4], *lines[3:]]), "line 2", "three corners"),
        _no("corner of two numbers", "hull.stl", text.replace(lines[3], b"      vertex 1 2\n", 1), "line 4"),
        _no("word for a number", "hull.stl", text.replace(lines[3], b"      vertex 1 two 3\n", 1), "'two'"),
        _no("decimal commas in STL", "hull.stl", commas, "decimal points"),
        _no("decimal commas in OBJ", "hull.obj", obj(hull()).replace(b".", b","), "decimal points"),
        _no("UTF-16 text STL", "hull.stl", text.decode().encode("utf-16"), "UTF-16", "UTF-8"),
        _no("UTF-16 without mark", "hull.obj", obj(hull()).decode().encode("utf-16-le"), "UTF-16"),
        _no("UTF-16 OBJ", "hull.obj", obj(hull()).decode().encode("utf-16"), "UTF-16"),
        _no("UTF-16 PLY", "hull.ply", mesh_files.ply(*_polygons()).decode().encode("utf-16"), "UTF-16"),
        _yes("BOM before a text STL", "hull.stl", b"\xef\xbb\xbf" + text),
        _yes("BOM before an OBJ", "hull.obj", b"\xef\xbb\xbf" + obj(hull())),
        _yes("BOM before a PLY", "hull.ply", b"\xef\xbb\xbf" + mesh_files.ply(*_polygons())),
        _yes("BOM before an OFF", "hull.off", b"\xef\xbb\xbf" + mesh_files.off_text(*_polygons())),
        _yes("carriage returns alone", "hull.stl", text.replace(b"\n", b"\r")),
        _no(
            "line of 20 MiB",
            "hull.obj",
            late("hull.obj", lambda: b"v 0 0 0\nf " + b"1 " * (10 * MIB)),
            "longer than",
            alone=True,
        ),
    ]


def _polygons() -> tuple[mesh_files.Floats, mesh_files.Polygons]:
    vertices, faces = hull()
    return vertices, faces.tolist()


def _strangers() -> list[Case]:
    package = mesh_files.three_mf(f'<object id="1">{mesh_files.mesh_3mf(*hull())}</object>', '<item objectid="1"/>')
    return [
        _no("PDF behind .stl", "hull.stl", b"%PDF-1.7\n" + bytes(300), "PDF document"),
        _no("PNG behind .obj", "hull.obj", b"\x89PNG\r\n\x1a\n" + bytes(300), "PNG picture"),
        _no("web page behind .stl", "hull.stl", b"<!DOCTYPE html>\n<html>sign in</html>", "web page"),
        _no("3MF behind .stl", "hull.stl", package, "3MF", "Rename it to hull.3mf"),
        _no("gzip behind .stl", "hull.stl", gzip.compress(good()), "gzip", ".gz"),
        _no("STL behind .stl.gz", "hull.stl.gz", good(), "gzip"),
        _no("zip behind .3mf", "hull.3mf", mesh_files.zipped({"letter.txt": "dear"}), "zip"),
        _no("OBJ behind .stl", "hull.stl", obj(hull()), "OBJ", "Rename it to hull.obj"),
        _no("job file behind .stl", "hull.stl", b'[hull]\nfile = "a.stl"\n', "hull.stl"),
        _no(
            "pointer to a file elsewhere", "hull.stl", b"version https://git-lfs.github.com/spec/v1\noid x\n", "pointer"
        ),
        _no("random bytes", "hull.stl", bytes((i * i * 7919 + i) % 251 for i in range(5000)), "states"),
        _no("random bytes behind .3mf", "hull.3mf", bytes((i * i * 7919) % 251 for i in range(5000)), "zip"),
        _no("random bytes behind .glb", "hull.glb", bytes((i * i * 7919) % 251 for i in range(5000)), "hull.glb"),
    ]


def _no_files() -> list[Case]:
    words = ("make", "--foam", "40", "--out", "out", "--", "hull.stl")
    return [
        Case(KIND, "no such file", {}, words, 3, ("no such file",)),
        _no("folder", "hull.stl", foldered("hull.stl"), "folder"),
        _no("link that leads nowhere", "hull.stl", linked("nothing.stl", "hull.stl"), "no such file"),
        _no("link to itself", "hull.stl", linked("hull.stl", "hull.stl"), "cannot be read"),
        _no("link to endless zeros", "hull.stl", linked("/dev/zero", "hull.stl"), "device", alone=True),
        _no("pipe", "hull.stl", piped("hull.stl"), "pipe", alone=True),
        Case(
            KIND, "link to a hull", {"real.stl": good(), "hull.stl": linked("real.stl", "hull.stl")},
            ("inspect", "--json", "hull.stl"), 0, (), WIGLEY,
        ),
        Case(KIND, "hull above the working folder", {"../hull.stl": good()}, ("inspect", "--json", "../hull.stl"), 0, (), WIGLEY),
        _no("no suffix", "hull", good(), "suffix"),
        _no("suffix of another trade", "hull.docx", good(), "suffix"),
    ]  # fmt: skip


def _names() -> list[Case]:
    return [
        _yes("line feed in the name", "hu\nll.stl", good()),
        _no("line feed in a refused name", "hu\nll.stl", b"", "hu�ll.stl"),
        _no("escape sequence in a refused name", "h\x1b[31mull.stl", b"", "h�[31mull.stl"),
        _yes("leading dash", "-foam.stl", good()),
        _yes("name in other scripts", "船体 корпус ⛵.stl", good()),
        _yes("name that turns the line round", "hull\u202e.stl", good()),
        _yes("name with marks of other languages", "[red]<b>&amp;'\"$(rm).stl", good()),
        _yes("name of 255 bytes", "h" * 251 + ".stl", good()),
        Case(
            KIND, "name of 300 bytes", {}, ("make", "--foam", "40", "--out", "out", "h" * 296 + ".stl"), 3,
            ("cannot be read", "too long"),
        ),
        _yes("dots in the name", "hull..1.5.stl", good()),
        _no("name in no encoding", b"h\xffll.stl".decode("utf-8", "surrogateescape"), good(), "unicode"),
        Case(
            KIND, "made under a hostile name", {"[b]\n<i>&\u202e\u0301.stl": stl(zoo.box(90, 60, 40))},
            ("make", "--foam", "50", "--out", "out", "--json", "[b]\n<i>&\u202e\u0301.stl"), 0, (), (90.0, 60.0, 40.0),
        ),
    ]  # fmt: skip


def _ply() -> list[Case]:
    text = mesh_files.ply(*_polygons())
    binary = mesh_files.ply(*_polygons(), form="binary_little_endian")
    vertices, faces = hull()
    stated = f"element vertex {len(vertices)}".encode()
    return [
        _no("PLY without end of head", "hull.ply", text.replace(b"end_header", b"end_heads"), "end_header"),
        _no("PLY of minus one vertex", "hull.ply", text.replace(stated, b"element vertex -1"), "element vertex -1"),
        _no("PLY of a quadrillion vertices", "hull.ply", binary.replace(stated, b"element vertex 1" + b"0" * 14), "vertices"),
        _no("PLY of a quadrillion other things", "hull.ply", binary.replace(b"element face", b"element edge 1" + b"0" * 14 + b"\nelement face"), "vertices"),
        _no("PLY of numbers that do not exist", "hull.ply", text.replace(b"property uchar red", b"property quad red"), "quad"),
        _no("PLY without z", "hull.ply", text.replace(b"double z", b"double w"), "x, y and z"),
        _no("text PLY cut short", "hull.ply", text[: 2 * len(text) // 3], "ends early"),
        _no("binary PLY cut short", "hull.ply", binary[: 2 * len(binary) // 3], "ends early"),
        _no("PLY of one face too many", "hull.ply", binary.replace(f"face {len(faces)}".encode(), f"face {len(faces) + 1}".encode()), "ends early"),
        _no("PLY of triangle strips", "hull.ply", text.replace(b"element face", b"element tristrips"), "strips"),
        _no("PLY list of minus one corner", "hull.ply", mesh_files.ply(*_polygons()).replace(b"3 0 ", b"-1 0 ", 1), "ends early"),
    ]  # fmt: skip


def _obj_off() -> list[Case]:
    text = obj(hull())
    many = len(hull()[0])
    off = mesh_files.off_text(*_polygons())
    counts = f"{many} {len(hull()[1])} 0".encode()
    return [
        _no("OBJ that names vertex 0", "hull.obj", text + b"\nf 0 1 2\n", "vertex 0"),
        _no("OBJ that names a vertex too far", "hull.obj", text + f"\nf 1 2 {many + 1}\n".encode(), f"vertex {many + 1}"),
        _no("OBJ that names a vertex too far back", "hull.obj", text + f"\nf 1 2 {-many - 1}\n".encode(), "vertex"),
        _no("OBJ that names half a vertex", "hull.obj", text + b"\nf 1 2 2.5\n", "whole numbers"),
        _no("OBJ of points", "hull.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", "no triangles"),
        _no("OBJ of free-form surfaces", "hull.obj", b"v 0 0 0\ncstype bezier\ndeg 3 3\nsurf 0 1 0 1 1\n", "free-form"),
        _no("OBJ vertex of two numbers", "hull.obj", text + b"\nv 1 2\n", "fewer than three"),
        _yes("OBJ with faces of two corners", "hull.obj", text + b"\nf 1 2\n", "fewer than three corners"),
        _no("OFF that ends early", "hull.off", off[: len(off) // 2], "lines follow"),
        _no("OFF of a billion faces", "hull.off", off.replace(counts, b"8 1000000000 0"), "1,000,000,000"),
        _no("OFF of minus one vertex", "hull.off", off.replace(counts, b"-1 12 0"), "counts"),
        _no("binary OFF", "hull.off", b"OFF BINARY\n" + bytes(200), "binary"),
        _no("OFF face with corners missing", "hull.off", off.replace(b"\n3 ", b"\n90 ", 1), "corners"),
    ]  # fmt: skip
