"""Packed files and files that refer to others: what grows without end, reaches out of its folder, or states falsehoods."""

import base64
import gzip
import io
import json
import struct
import zipfile
from collections.abc import Callable
from typing import Any

import numpy as np

from tests.corpus.case import WIGLEY, Case, Making, accepted, hull, late, linked, refused, stl
from tests.hull import mesh_files as files

KIND = "containers"

BLOCK = files.block((400.0, 80.0, 60.0))
SIZE = (400.0, 80.0, 60.0)
MIB = 1 << 20


def _no(name: str, file: str, content: bytes | Making, *says: str, alone: bool = False) -> Case:
    return refused(KIND, name, file, content, *says, alone=alone)


def cases() -> list[Case]:
    """All of this kind."""
    return [*_gzip(), *_zip(), *_components(), *_xml(), *_gltf(), *_glb()]


def _members(piece: bytes, number: int) -> bytes:
    """A gzip file that unpacks to `number` times the piece, and whose end declares one of them."""
    return gzip.compress(piece) * number


def _gzip() -> list[Case]:
    data = stl(hull())
    packed = gzip.compress(data)
    facet = b"facet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\n"
    return [
        _no("gzip bomb of zeros", "hull.stl.gz", late("hull.stl.gz", lambda: _members(bytes(16 * MIB), 200)), "MiB", "--max-bytes", alone=True),
        _no("gzip bomb just under the limit", "hull.stl.gz", late("hull.stl.gz", lambda: _members(bytes(16 * MIB), 31)), "blanks", alone=True),
        _no("gzip bomb of vertices", "hull.obj.gz", late("hull.obj.gz", lambda: _members(b"v 1 2 3\n" * (2 * MIB), 31)), "vertices", "--max-triangles", alone=True),
        _no("gzip bomb of facets", "hull.stl.gz", late("hull.stl.gz", lambda: gzip.compress(b"solid x\n") + _members(facet * 100_000, 60)), "triangles", "--max-triangles", alone=True),
        _no("gzip that declares 4 GB", "hull.stl.gz", packed[:-4] + b"\xff\xff\xff\xff", "MiB", "--max-bytes"),
        _no("gzip that declares nothing", "hull.stl.gz", packed[:-4] + bytes(4), "unpacked"),
        _no("gzip with a false check sum", "hull.stl.gz", packed[:-8] + bytes(4) + packed[-4:], "unpacked"),
        _no("gzip cut short", "hull.stl.gz", packed[:-200], "unpacked"),
        _no("gzip of nothing", "hull.stl.gz", gzip.compress(b""), "empty"),
        _no("gzip in gzip", "hull.stl.gz", gzip.compress(packed), "gzip"),
        accepted(KIND, "gzip in two parts", "hull.stl.gz", gzip.compress(data[:500]) + gzip.compress(data[500:]), WIGLEY),
    ]  # fmt: skip


def _object(number: int = 1) -> str:
    return f'<object id="{number}">{files.mesh_3mf(BLOCK)}</object>'


def _package(resources: str, build: str = '<item objectid="1"/>', **more: Any) -> bytes:  # noqa: ANN401 - passed on
    return files.three_mf(resources, build, **more)


def _repacked(data: bytes, change: Callable[[zipfile.ZipInfo], None]) -> bytes:
    """The package with what its directory says of the model changed."""
    source = zipfile.ZipFile(io.BytesIO(data))
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for info in source.infolist():
            archive.writestr(info.filename, source.read(info))
        change(archive.getinfo("3D/3dmodel.model"))
    return target.getvalue()


def _declared(size: int) -> Callable[[zipfile.ZipInfo], None]:
    def change(info: zipfile.ZipInfo) -> None:
        info.file_size = size

    return change


def _encrypted(info: zipfile.ZipInfo) -> None:
    info.flag_bits |= 1


def _blanks() -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        archive.writestr("3D/3dmodel.model", b"<model>" + b" " * (200 * MIB))
    return target.getvalue()


def _many() -> bytes:
    parts: dict[str, str | bytes] = {f"{n}": "" for n in range(20_000)}
    return files.zipped(parts | {"3D/3dmodel.model": ""})


def _zip() -> list[Case]:
    good = _package(_object())
    outside = _package(_object(), part="../../../../tmp/3dmodel.model")
    bent = "<Relationships><Relationship Type='x/3dmodel' Target='../../../secret.bin'/></Relationships>"
    return [
        accepted(KIND, "3MF", "hull.3mf", good, SIZE),
        _no("zip bomb, declared", "hull.3mf", _repacked(good, _declared(40_000 * MIB)), "MiB", "--max-bytes"),
        _no("zip that declares too little", "hull.3mf", _repacked(good, _declared(100)), "unpacked"),
        accepted(KIND, "zip that declares too much", "hull.3mf", _repacked(good, _declared(5 * MIB)), SIZE),
        _no("zip bomb of blanks", "hull.3mf", late("hull.3mf", _blanks), "XML", alone=True),
        _no("zip of 20,000 files", "hull.3mf", late("hull.3mf", _many), "10000 files"),
        _no("zip cut short", "hull.3mf", good[:-40], "zip"),
        _no("zip with a password", "hull.3mf", _repacked(good, _encrypted), "unpacked"),
        accepted(KIND, "zip that would write above its folder", "hull.3mf", outside, SIZE),
        accepted(KIND, "relation to a file outside", "hull.3mf", files.zipped({"_rels/.rels": bent, "3D/3dmodel.model": files.model_3mf(_object(), '<item objectid="1"/>')}), SIZE),
        _no("zip without a model", "hull.3mf", files.zipped({"3D/other.xml": "<a/>", "x.model.txt": ""}), "without a 3MF model"),
        _no("model of another kind", "hull.3mf", files.zipped({"3D/3dmodel.model": "<svg/>"}), "no 3MF model"),
    ]  # fmt: skip


def _doubled(times: int) -> str:
    things = _object(0)
    for n in range(1, times):
        twice = f'<component objectid="{n - 1}"/>' * 2
        things += f'<object id="{n}"><components>{twice}</components></object>'
    return things


def _components() -> list[Case]:
    inside = '<object id="1"><components><component objectid="2"/></components></object>'
    back = '<object id="2"><components><component objectid="1"/></components></object>'
    flat = '<item objectid="1" transform="1 0 0 0 1 0 0 0 0 0 0 0"/>'
    mirrored = '<item objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/>'
    return [
        _no("component that is itself", "hull.3mf", _package(inside.replace('"2"', '"1"')), "contains itself"),
        _no("components in a circle", "hull.3mf", _package(inside + back), "contains itself"),
        _no("component that is not there", "hull.3mf", _package(inside), "'2'"),
        _no("copies of copies", "hull.3mf", _package(_doubled(40), '<item objectid="30"/>'), "copy", alone=True),
        _no("corner out of range", "hull.3mf", _package(_object().replace('v1="4"', 'v1="8"', 1)), "vertex 8"),
        _no("corner that is a word", "hull.3mf", _package(_object().replace('v1="4"', 'v1="x"', 1)), "XML"),
        _no("unit of another world", "hull.3mf", _package(_object(), unit="parsec"), "parsec", "--unit"),
        _no("transform of eleven numbers", "hull.3mf", _package(_object(), flat.replace("1 0 0 0 1", "1 0 0 1", 1)), "twelve"),
        _no("transform that flattens", "hull.3mf", _package(_object(), flat), "flat"),
        _no("transform of NaN", "hull.3mf", _package(_object(), flat.replace("1 0", "nan 0", 1)), "finite"),
        accepted(KIND, "transform that mirrors", "hull.3mf", _package(_object(), mirrored), SIZE),
        accepted(KIND, "inches in 3MF", "hull.3mf", files.three_mf(f'<object id="1">{files.mesh_3mf(BLOCK / 25.4)}</object>', '<item objectid="1"/>', unit="inch"), SIZE),
    ]  # fmt: skip


def _xml() -> list[Case]:
    text = files.collada(BLOCK / 1000, '<node><instance_geometry url="#g"/></node>').decode()
    head, body = text.split("\n", 1)
    laughs = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 12))
    bomb = f'{head}<!DOCTYPE COLLADA [<!ENTITY l0 "ha">{laughs}]>{body.replace("<unit", "<author>&l11;</author><unit")}'
    outside = f'{head}<!DOCTYPE COLLADA [<!ENTITY x SYSTEM "../secret.bin">]>{body.replace("Z_UP", "&x;")}'
    web = f'{head}<!DOCTYPE COLLADA SYSTEM "http://localhost:9/a.dtd">{body}'
    model = (
        f'<!DOCTYPE m [<!ENTITY l0 "ha">{laughs}]>' + files.model_3mf(_object(), '<item objectid="1"/>').split("?>")[1]
    )
    deep = "<COLLADA>" + "<node>" * 200_000 + "</node>" * 200_000 + "</COLLADA>"
    circle = '<node id="a"><instance_node url="#a"/><instance_geometry url="#g"/></node>'
    counted = text.replace(f'count="{BLOCK.size}"', 'count="99999999999"')
    stride = text.replace('stride="3"><param name="X"', 'stride="999999999"><param name="X"')
    tags = (head + "\n<COLLADA>").encode()
    elsewhere = text.replace('url="#g"', 'url="../secret.bin#g"')
    return [
        accepted(KIND, "COLLADA", "hull.dae", text.encode(), SIZE),
        _no("entities that grow, in COLLADA", "hull.dae", bomb.encode(), "document type"),
        _no("entities that grow, in 3MF", "hull.3mf", files.zipped({"3D/3dmodel.model": model}), "document type"),
        _no("entity from another file", "hull.dae", outside.encode(), "document type"),
        _no("document type from the net", "hull.dae", web.encode(), "document type"),
        _no("geometry from another file", "hull.dae", elsewhere.encode(), "hull.dae"),
        _no("200,000 nodes deep", "hull.dae", deep.encode(), "hull.dae", alone=True),
        _no("three million tags", "hull.dae", late("hull.dae", lambda: tags + b"<p/>" * 3_000_000), "tags", alone=True),
        _no("node inside itself", "hull.dae", text.replace('<node><instance_geometry url="#g"/></node>', circle).encode(), "itself"),
        accepted(KIND, "COLLADA that counts falsely", "hull.dae", counted.encode(), SIZE),
        _no("COLLADA with a false stride", "hull.dae", stride.encode(), "stride"),
        _no("COLLADA without end", "hull.dae", text[:-60].encode(), "XML"),
        _no("unit of minus one metre", "hull.dae", text.replace('meter="1"', 'meter="-1"').encode(), "positive length"),
        _no("unit of no metre", "hull.dae", text.replace('meter="1"', 'meter="nan"').encode(), "positive length"),
    ]  # fmt: skip


def _document(uri: str | None = None, **more: object) -> tuple[dict[str, Any], bytes]:
    document, buffer = files.gltf_document(BLOCK / 1000, [{"mesh": 0}], uri, **more)  # type: ignore[arg-type]
    return document, buffer


def _inline() -> dict[str, Any]:
    document, buffer = _document()
    document["buffers"][0]["uri"] = "data:application/octet-stream;base64," + base64.b64encode(buffer).decode()
    return document


def _changed(change: Callable[[dict[str, Any]], object]) -> bytes:
    document = _inline()
    change(document)
    return json.dumps(document).encode()


def _named(uri: str) -> bytes:
    return json.dumps(_document(uri)[0]).encode()


def _upright(size: tuple[float, float, float]) -> tuple[float, float, float]:
    """In glTF y points up: breadth and depth change places."""
    return size[0], size[2], size[1]


def _gltf() -> list[Case]:
    buffer = _document()[1]
    words = ("make", "--foam", "40", "--out", "out", "--", "hull.gltf")
    chain = [{"children": [n + 1]} for n in range(5000)] + [{"mesh": 0}]
    refs = {
        "buffer above its folder": "../secret.bin",
        "buffer above its folder, in signs": "%2e%2e/secret.bin",
        "buffer by its whole path": "/etc/hostname",
        "buffer by address of a file": "file:///etc/hostname",
        "buffer from the net": "http://localhost:9/x.bin",
        "buffer that is not there": "gone.bin",
        "buffer whose name cannot be": "a%00b.bin",
        "buffer that is the folder": ".",
    }
    return [
        accepted(KIND, "glTF", "hull.gltf", json.dumps(_inline()).encode(), _upright(SIZE)),
        *(Case(KIND, name, {"hull.gltf": _named(uri)}, words, 3, (uri[:6] if "%00" not in uri else "cannot be read",)) for name, uri in refs.items()),
        Case(KIND, "buffer behind a link", {"hull.gltf": _named("part.bin"), "part.bin": linked("../secret.bin", "part.bin")}, words, 3, ("outside",)),
        Case(KIND, "buffer beside it", {"hull.gltf": _named("part.bin"), "part.bin": buffer}, ("inspect", "--json", "hull.gltf"), 0, (), _upright(SIZE)),
        Case(KIND, "buffer cut short", {"hull.gltf": _named("part.bin"), "part.bin": buffer[:-9]}, words, 3, ("glTF",)),
        _no("nodes in a circle", "hull.gltf", _changed(lambda d: d.update(nodes=[{"children": [1]}, {"children": [0], "mesh": 0}])), "tree"),
        _no("node that is its own child", "hull.gltf", _changed(lambda d: d.update(nodes=[{"children": [0], "mesh": 0}])), "tree"),
        _no("node of two parents", "hull.gltf", _changed(lambda d: d.update(nodes=[{"children": [2]}, {"children": [2]}, {"mesh": 0}])), "tree"),
        accepted(KIND, "chain of 5000 nodes", "hull.gltf", _changed(lambda d: d.update(nodes=chain, scenes=[{"nodes": [0]}])), _upright(SIZE)),
        _no("array of ten billion numbers", "hull.gltf", _changed(lambda d: d["accessors"][0].update(count=10**10)), "10,000,000,000"),
        _no("array of minus one", "hull.gltf", _changed(lambda d: d["accessors"][0].update(count=-1)), "-1"),
        accepted(KIND, "array that nobody uses, of ten billion numbers", "hull.gltf", _changed(lambda d: d["accessors"].append({"count": 10**10, "componentType": 5126, "type": "MAT4"})), _upright(SIZE)),
        _no("array that is not there", "hull.gltf", _changed(lambda d: d["meshes"][0]["primitives"][0].update(indices=9)), "array 9"),
        _no("view beyond its buffer", "hull.gltf", _changed(lambda d: d["bufferViews"][0].update(byteLength=10**12)), "glTF"),
        _no("view with a stride of nothing", "hull.gltf", _changed(lambda d: d["bufferViews"][0].update(byteStride=0)), "glTF"),
        _no("mesh that is not there", "hull.gltf", _changed(lambda d: d["nodes"][0].update(mesh=7)), "not in the file"),
        _no("extension that is needed", "hull.gltf", _changed(lambda d: d.update(extensionsRequired=["KHR_draco_mesh_compression"])), "draco"),
        _no("brackets 100,000 deep", "hull.gltf", b'{"asset": ' + b"[" * 100_000, "JSON"),
        _no("ten million brackets", "hull.gltf", late("hull.gltf", lambda: b'{"asset": [' + b"[]," * 5_000_000 + b"0]}"), "values", alone=True),
        _no("JSON of another kind", "hull.gltf", b'{"hull": "a boat"}', "not a glTF"),
    ]  # fmt: skip


def _glb() -> list[Case]:
    data = files.glb(BLOCK / 1000, [{"mesh": 0}])
    return [
        _no("GLB that states more bytes than it has", "hull.glb", data[:8] + struct.pack("<I", 2**31) + data[12:], "2147483648"),
        _no("GLB with a chunk too long", "hull.glb", data[:12] + struct.pack("<I", 2**31) + data[16:], "hull.glb"),
        _no("GLB of version 1", "hull.glb", data[:4] + struct.pack("<I", 1) + data[8:], "version 1"),
        _no("GLB cut short", "hull.glb", data[: len(data) // 2], "the file has"),
        _no("GLB of 12 bytes", "hull.glb", data[:12], "too few"),
        _no("GLB with indices too high", "hull.glb", files.glb(BLOCK[:7] / 1000, [{"mesh": 0}]), "vertex 7"),
        _no("GLB of NaN", "hull.glb", files.glb(BLOCK * np.nan, [{"mesh": 0}]).replace(b"NaN", b"0.0"), "finite"),
        _no("GLB of 90,000 copies", "hull.glb", late("hull.glb", lambda: files.glb(BLOCK / 1000, [{"mesh": 0}] * 90_000, scenes=[{"nodes": list(range(90_000))}])), "20000", alone=True),
    ]  # fmt: skip
