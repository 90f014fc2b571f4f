"""Coverage-guided fuzzing of everything between a file and a hull: only a StationerError may come out.

    python tests/fuzz/fuzz_loaders.py -max_total_time=60

The first byte of an input chooses the format, and whether a frame is looked for too; the rest is the file. A 3MF input
is the model, packed here. Whatever libFuzzer takes may follow; a finding is written into the working folder.
"""

import sys
import tempfile
import warnings
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).parents[2]))

with atheris.instrument_imports(include=["profiles"]):
    from profiles.errors import StationerError
    from profiles.hull import frame
    from profiles.hull.formats.recognise import LINES
    from profiles.hull.limits import Limits
    from profiles.hull.loading import load
    from profiles.hull.reading import read
    from profiles.hull.repair import repair_mesh
    from profiles.hull.settings import ReadSettings

from tests.hull import mesh_files as files
from tests.hull.tables import SKIFF

SUFFIXES = (".stl", ".obj", ".ply", ".off", ".gltf", ".glb", ".dae", ".3mf", ".stl.gz", ".csv", ".svg")

SMALL = Limits(triangles=20_000, bytes=1 << 20)

MOST_FACES = 500
"""A larger mesh is loaded and repaired, and not cut: that would be slow and find nothing new."""

FRAMED = 128
"""From this first byte on the frame is looked for too, which takes ten times as long."""

ROOM = Path(tempfile.mkdtemp(prefix="fuzz-"))


DRAWING = """<svg width="200mm" height="200mm" viewBox="0 0 200 200"><line id="centre" x1="100" y1="0" x2="100" y2="9"/>
<path id="x0" d="M100 40L100 100"/><path data-x="90" d="M60 40C60 90 80 110 100 110S140 90 140 40"/>
<polyline id="s200" points="100,120 140,100 150,40"/><path id="x300" d="M100 120A50 80 0 0 0 150 40H100Z"/></svg>"""


def seeds() -> list[tuple[int, bytes]]:
    """(format, content): a block in every format."""
    block = files.block((800.0, 120.0, 60.0))
    nodes = [{"mesh": 0, "translation": [1.0, 0, 0]}]
    buffer = "data:application/octet-stream;base64,"
    import base64  # seeds alone need it
    import json

    document, binary = files.gltf_document(block, nodes, buffer)
    document["buffers"][0]["uri"] = buffer + base64.b64encode(binary).decode()
    model = files.model_3mf(
        f'<object id="1">{files.mesh_3mf(block)}</object>'
        '<object id="2"><components><component objectid="1" transform="1 0 0 0 1 0 0 0 1 5 5 5"/></components>'
        "</object>",
        '<item objectid="2"/><item objectid="1"/>',
        "inch",
    )
    return [
        (0, files.stl_binary(block)),
        (0, files.stl_text(block)),
        (1, files.obj_text(block)),
        (1, b"v 0 0 0\nv 1 0 0 1\nv 1 1 0\nv .5 .2 0\nf -4//1 -3 -2 -1 \\\n 1\nl 1 2\n"),
        (2, files.ply(block)),
        (2, files.ply(block, form="binary_little_endian")),
        (2, files.ply(block, form="binary_big_endian")),
        (3, files.off_text(block)),
        (4, json.dumps(document).encode()),
        (5, files.glb(block, nodes)),
        (6, files.collada(block, '<node><translate>1 2 3</translate><instance_geometry url="#g"/></node>')),
        (6, files.collada_polygons(block)),
        (7, model.encode()),
        (8, b"\x1f\x8b"),
        (9, SKIFF.strip().encode()),
        (10, DRAWING.encode()),
    ]


def one_input(data: bytes) -> None:
    """One file read as far as a hull."""
    if not data:
        return
    suffix = SUFFIXES[data[0] % len(SUFFIXES)]
    content = (
        files.three_mf("", "", parts={"3D/3dmodel.model": data[1:].decode("latin-1")}) if suffix == ".3mf" else data[1:]
    )
    path = ROOT_FILE.with_suffix(suffix)
    path.write_bytes(content)
    try:
        if suffix in LINES:
            read(path, ReadSettings(max_bytes=SMALL.bytes))
            return
        raw = load(path, limits=SMALL)
        surface, repairs = repair_mesh(raw)
        if data[0] >= FRAMED and len(surface.faces) <= MOST_FACES:
            frame.place(surface, raw, ReadSettings(), (*raw.notes, *repairs))
    except StationerError:
        pass
    finally:
        path.unlink(missing_ok=True)


ROOT_FILE = ROOM / "hull.x"


def main() -> None:
    """Fuzz until libFuzzer has had enough."""
    warnings.simplefilter("error")
    warnings.filterwarnings("ignore", message="Duplicate name", category=UserWarning, module="zipfile")
    start = ROOM / "seeds"
    start.mkdir()
    for number, (kind, content) in enumerate(seeds()):
        framed = FRAMED - FRAMED % len(SUFFIXES) + len(SUFFIXES) + kind
        (start / str(number)).write_bytes(bytes([kind]) + content)
        (start / f"{number}-framed").write_bytes(bytes([framed]) + content)
    limits = ["-timeout=300", "-rss_limit_mb=2048", "-max_len=8192"]
    atheris.Setup([sys.argv[0], *limits, *sys.argv[1:], str(start)], one_input)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
