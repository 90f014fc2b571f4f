"""Make the demo hulls that stand beside this script: `python models/make_models.py`.

All four are our own inventions, drawn as a few fair lines each and lofted from those; the numbers below are the design.

    skerrywing.stl   flying-boat hull with hard chines and a planing step    binary STL, mm, nose at x = 0, z up
    wickerby.obj     round-bilge launch, open deck, starboard half only      OBJ in inches, nose at x = 0, z up
    pelloway.glb     streamlined body of revolution                          GLB, metres, nose at +z, y up
    tandril.3mf      two slender floats and the wing that joins them         3MF, mm, three bodies, nose at x = 0, z up

A hull is a list of patches: grids of points (stations, rows, 3) on the starboard side. A row that shrinks to a point
(a stem, a tail tip) needs no care, for welding drops the triangles that have lost their area.
"""

import io
import json
import struct
import zipfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.interpolate import CubicSpline

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Mesh = tuple[Floats, Ints]

DECIMALS = 4
"""Digits kept of a coordinate in mm: finer than any foam can hold, coarse enough that every machine rounds alike."""

FLYING_BOAT_LENGTH = 820.0
STEP_X = 432.0
"""mm aft of the nose; the wall of the planing step lies in this plane."""
STEP_HEIGHT = 9.0
"""mm that the keel jumps up at the step."""
BOTTOM_ROWS = 8
SIDE_ROWS = 22
STRAKE = 0.055
"""How far round the side, from chine (0) to crown (1), the line runs that becomes the chine aft of the step."""

LAUNCH_LENGTH = 28.0
"""inches."""

BODY_LENGTH = 570.0
BODY_DIAMETER = 120.0
NACA_CLOSED = (0.2969, -0.1260, -0.3516, 0.2843, -0.1036)
"""Four-digit thickness form, coefficients of sqrt(x), x, x^2, x^3, x^4: NACA Report 460 (Jacobs, Ward, Pinkerton 1933).
The last one, -0.1015 in the report, is the usual -0.1036 that closes the tail to a point."""

FLOAT_LENGTH = 600.0
FLOAT_HALF_BREADTH = 30.0
FLOAT_OFFSET = 100.0
"""mm from the centre plane to the middle of each float; the whole is 2 x (100 + 30) = 260 mm wide."""


def fair(points: Sequence[tuple[float, float]], x: Floats) -> Floats:
    """The line through (x, value) points, read at x (n,); smooth in sqrt(x), so it can start square to the axis."""
    place, value = np.array(points, dtype=np.float64).T
    curve = CubicSpline(np.sqrt(place), value, bc_type="natural")
    return np.asarray(curve(np.sqrt(x)), dtype=np.float64)


def bezier(control: Sequence[tuple[Floats, Floats]], t: Floats) -> tuple[Floats, Floats]:
    """Cubic curves, one for each station: four controls ((n,), (n,)) and t (m,) or (n, m) -> y, z, each (n, m)."""
    weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3)
    y = sum(w * c[0][:, None] for w, c in zip(weights, control, strict=True))
    z = sum(w * c[1][:, None] for w, c in zip(weights, control, strict=True))
    return np.asarray(y), np.asarray(z)


def patch(x: Floats, y: Floats, z: Floats) -> Floats:
    """A grid of points (n, m, 3) from y, z (n, m) and the stations' x, (n,) or (n, m)."""
    return np.stack([np.broadcast_to(x[:, None] if x.ndim == 1 else x, y.shape), y, z], axis=-1)


def spread(start: float, end: float, count: int, power: float) -> Floats:
    """`count` + 1 places from start to end, closer together at the start where power > 1."""
    return start + (end - start) * np.linspace(0.0, 1.0, count + 1) ** power


def triangles_of(grid: Floats) -> Floats:
    """Two triangles for each cell of a grid (n, m, 3) -> (k, 3, 3); seen from outside, stations go left and rows up."""
    a, b, c, d = grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]
    pairs = np.stack([np.stack([a, c, b], axis=2), np.stack([a, d, c], axis=2)], axis=2)
    return pairs.reshape(-1, 3, 3)


def welded(corners: Floats, decimals: int = DECIMALS) -> Mesh:
    """One mesh from loose triangles (k, 3, 3): equal corners become one vertex, triangles without area go."""
    rounded = np.round(corners.reshape(-1, 3), decimals) + 0.0
    vertices, index = np.unique(rounded, axis=0, return_inverse=True)
    faces = index.reshape(-1, 3).astype(np.int64)
    distinct = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    used, index = np.unique(faces[distinct], return_inverse=True)
    return vertices[used], index.reshape(-1, 3).astype(np.int64)


def mirrored(patches: Sequence[Floats], decimals: int = DECIMALS) -> Mesh:
    """The whole body from the patches of its starboard half."""
    half = np.concatenate([triangles_of(grid) for grid in patches])
    return welded(np.concatenate([half, half[:, ::-1] * (1.0, -1.0, 1.0)]), decimals)


def flying_boat() -> Mesh:
    """A hull 820 mm long whose bottom jumps up by STEP_HEIGHT at x = STEP_X; mm."""
    fore = spread(0.0, STEP_X, 36, 1.6)
    aft = FLYING_BOAT_LENGTH - spread(0.0, FLYING_BOAT_LENGTH - STEP_X, 28, 1.25)[::-1]
    t_side = np.concatenate([[0.0], np.linspace(STRAKE, 1.0, SIDE_ROWS)])
    fore_keel = [(0, 80), (12, 59), (50, 35), (120, 13.5), (220, 3), (330, 0.3), (STEP_X, 0)]
    aft_keel = [(STEP_X, STEP_HEIGHT), (520, 18), (620, 34.5), (720, 65), (780, 95.5), (820, 126)]

    side_y, side_z = _flying_boat_side(fore, t_side)
    bottom_y, bottom_z = _flying_boat_bottom(fore, fair(fore_keel, fore), side_y[:, 0], side_z[:, 0])
    after_y, after_z = _flying_boat_side(aft, t_side[1:])
    run_y, run_z = _flying_boat_bottom(aft, fair(aft_keel, aft), after_y[:, 0], after_z[:, 0])
    wall = np.stack([patch(fore, bottom_y, bottom_z)[-1], patch(aft, run_y, run_z)[0]])
    return mirrored(
        [
            patch(fore, bottom_y, bottom_z),
            patch(fore, side_y, side_z),
            np.swapaxes(wall, 0, 1)[::-1],
            patch(aft, run_y, run_z),
            patch(aft, after_y, after_z),
        ]
    )


def _flying_boat_side(x: Floats, t: Floats) -> tuple[Floats, Floats]:
    """Topside and deck from the chine (t = 0) to the crown (t = 1): flared at the bow, rounded over above."""
    chine_y = fair(
        [(0, 0), (12, 15), (50, 29), (120, 40), (220, 46), (330, 47.5), (432, 46.5), (520, 42), (620, 32), (720, 18),
         (790, 5.5), (820, 0)], x
    )  # fmt: skip
    chine_z = fair(
        [(0, 80), (12, 75), (50, 64.5), (120, 46.5), (220, 30), (330, 22.5), (432, 21.5), (520, 27.5), (620, 44),
         (720, 76), (780, 104), (820, 126)], x
    )  # fmt: skip
    deck = fair(
        [(0, 80), (12, 94), (50, 109), (120, 124), (220, 135.5), (310, 138.5), (432, 137.5), (560, 134.8), (700, 131.2),
         (780, 128.2), (820, 126)], x
    )  # fmt: skip
    flare = 0.05 + 0.20 * np.exp(-(((x - 90.0) / 110.0) ** 2))
    rise = deck - chine_z
    control = [
        (chine_y, chine_z),
        (chine_y * (1.0 + flare), chine_z + 0.52 * rise),
        (chine_y * 0.86, deck),
        (np.zeros_like(x), deck),
    ]
    return bezier(control, t)


def _flying_boat_bottom(x: Floats, keel: Floats, chine_y: Floats, chine_z: Floats) -> tuple[Floats, Floats]:
    """Bottom from keel to chine, hollow towards the chine, most so at the bow."""
    rise = chine_z - keel
    hollow = 0.07 + 0.12 * np.exp(-(((x - 70.0) / 120.0) ** 2))
    control = [
        (np.zeros_like(x), keel),
        (chine_y / 3, keel + (1 / 3 + 0.6 * hollow) * rise),
        (chine_y * 2 / 3, keel + (2 / 3 + hollow) * rise),
        (chine_y, chine_z),
    ]
    return bezier(control, np.linspace(0.0, 1.0, BOTTOM_ROWS + 1))


def launch() -> Mesh:
    """The starboard half of an open launch with a raked transom, open along the sheer and the centre line; inches."""
    length = LAUNCH_LENGTH
    x = spread(0.0, length, 52, 1.6)
    keel = fair(
        [(0, 5.6), (0.35, 3.9), (1.1, 2.15), (2.4, 0.95), (4.5, 0.28), (8, 0.03), (12, 0), (17, 0.14), (22, 0.56),
         (28, 1.4)], x
    )  # fmt: skip
    sheer_z = fair([(0, 5.6), (3, 5.2), (8, 4.7), (14, 4.4), (20, 4.35), (28, 4.65)], x)
    sheer_y = fair([(0, 0), (1, 0.92), (3, 2.05), (7, 3.35), (12, 4.15), (17, 4.3), (23, 3.85), (28, 3.05)], x)
    full = 0.5 - 0.5 * np.cos(np.pi * np.clip(x / (0.62 * length), 0.0, 1.0))
    depth = sheer_z - keel
    control = [
        (np.zeros_like(x), keel),
        (sheer_y * (0.22 + 0.62 * full), keel + depth * (0.22 - 0.17 * full)),
        (sheer_y * (0.52 + 0.52 * full), keel + depth * (0.62 - 0.34 * full)),
        (sheer_y, sheer_z),
    ]
    y, z = bezier(control, np.linspace(0.0, 1.0, 25))
    rake = 0.24 * np.clip((x - 0.5 * length) / (0.5 * length), 0.0, 1.0) ** 2
    x_raked = x[:, None] + rake[:, None] * (z - sheer_z[-1])
    skin = patch(x_raked, y, z)
    transom = np.stack([skin[-1], skin[-1] * (1.0, 0.0, 1.0)])
    return welded(np.concatenate([triangles_of(skin), triangles_of(transom)]))


def streamlined_radius(x: Floats) -> Floats:
    """Radius (n,) mm at x (n,) mm aft of the nose: the four-digit form, its thickest place BODY_DIAMETER across."""
    s = np.clip(x / BODY_LENGTH, 0.0, 1.0)
    powers = np.stack([np.sqrt(s), s, s**2, s**3, s**4])
    return np.asarray(5 * BODY_DIAMETER * (np.array(NACA_CLOSED) @ powers))


def streamlined_body(sides: int = 48, stations: int = 84) -> Mesh:
    """A body of revolution about z, round nose at the greatest z and pointed tail at z = 0; mm."""
    aft = 0.5 * BODY_LENGTH * (1 - np.cos(np.linspace(0.0, np.pi, stations + 1)))
    radius = streamlined_radius(aft)
    radius[[0, -1]] = 0.0
    turn = np.linspace(0.0, 2 * np.pi, sides + 1)
    turn[-1] = 0.0
    along = np.broadcast_to((BODY_LENGTH - aft)[:, None], (stations + 1, sides + 1))
    grid = np.stack([radius[:, None] * np.cos(turn), radius[:, None] * np.sin(turn), along], axis=-1)
    return welded(triangles_of(grid[::-1]))


def slender_float() -> Mesh:
    """One float about its own centre plane: knife stem with a raked foot, rounded bilge, cambered deck, transom; mm."""
    length = FLOAT_LENGTH
    x = spread(0.0, length, 40, 1.3)
    keel = fair([(0, 9), (30, 4.4), (90, 1.3), (180, 0.1), (250, 0), (330, 1.6), (450, 7.5), (540, 15.5), (600, 23)], x)
    breadth = fair([(0, 0), (25, 5.2), (80, 14.5), (160, 24), (260, 29.4), (330, 30), (450, 27.6), (600, 21)], x)
    breadth *= FLOAT_HALF_BREADTH / breadth.max()
    gunwale = fair([(0, 66), (60, 61), (160, 56), (300, 53), (450, 53), (600, 56)], x)
    deck = gunwale + 0.28 * breadth
    full = np.clip(x / 260.0, 0.0, 1.0)
    depth = gunwale - keel
    bottom = [
        (np.zeros_like(x), keel),
        (breadth * (0.35 + 0.45 * full), keel + depth * (0.12 - 0.10 * full)),
        (breadth * (0.80 + 0.20 * full), keel + depth * (0.55 - 0.17 * full)),
        (breadth, gunwale),
    ]
    top = [
        (breadth, gunwale),
        (breadth * 0.98, gunwale + 0.62 * (deck - gunwale)),
        (breadth * 0.55, deck),
        (np.zeros_like(x), deck),
    ]
    y_low, z_low = bezier(bottom, np.linspace(0.0, 1.0, 13))
    y_top, z_top = bezier(top, np.linspace(0.0, 1.0, 9))
    y, z = np.hstack([y_low, y_top[:, 1:]]), np.hstack([z_low, z_top[:, 1:]])
    rake = 0.22 * np.clip(1.0 - x / 160.0, 0.0, 1.0) ** 2
    skin = patch(x[:, None] + rake[:, None] * (deck[0] - z), y, z)
    transom = np.stack([skin[-1], skin[-1] * (1.0, 0.0, 1.0)])
    return mirrored([skin, transom])


def bridge_wing() -> Mesh:
    """The arched wing between the floats, 250 mm long; its ends lie deep inside them; mm."""
    leading, chord, thickness = 175.0, 250.0, 17.0
    around = np.linspace(0.0, np.pi, 25)
    s = 0.5 * (1 - np.cos(around))
    powers = np.stack([np.sqrt(s), s, s**2, s**3, s**4])
    half = 5 * thickness * (np.array(NACA_CLOSED) @ powers)
    half[[0, -1]] = 0.0
    x = leading + chord * np.concatenate([s, s[-2::-1]])
    up = np.concatenate([-half, half[-2::-1]])
    y = FLOAT_OFFSET * np.linspace(0.0, 1.0, 13)
    arch = 46.0 + 20.0 * np.cos(0.5 * np.pi * y / FLOAT_OFFSET) ** 2
    grid = np.stack(
        [np.broadcast_to(x, (13, len(x))), np.broadcast_to(y[:, None], (13, len(x))), arch[:, None] + up], axis=-1
    )
    tip = grid[-1]
    middle = tip.copy()
    middle[:, 2] = arch[-1]
    return mirrored([grid[::-1], np.stack([middle, tip])])


def twin_floats() -> tuple[list[tuple[str, Mesh]], list[tuple[str, Floats]]]:
    """The bodies by name, and where each is put: (name, shift (3,) mm). The float is there once and is put twice."""
    bodies = [("float", slender_float()), ("wing", bridge_wing())]
    places = [
        ("float", np.array([0.0, -FLOAT_OFFSET, 0.0])),
        ("float", np.array([0.0, FLOAT_OFFSET, 0.0])),
        ("wing", np.zeros(3)),
    ]
    return bodies, places


def stl_bytes(mesh: Mesh, title: str) -> bytes:
    """Binary STL, with the outward normal of every triangle."""
    corners = mesh[0][mesh[1]]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), np.finfo(np.float64).tiny)
    record = np.zeros(len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])
    record["normal"] = np.round(normal, 5) + 0.0
    record["corners"] = corners
    return title.encode("ascii").ljust(80)[:80] + struct.pack("<I", len(corners)) + record.tobytes()


def obj_text(mesh: Mesh, title: str) -> str:
    """OBJ with one group; the format has no unit, so the job file must say it."""
    lines = [f"# {title}", "g hull"]
    lines += [f"v {x:.{DECIMALS}f} {y:.{DECIMALS}f} {z:.{DECIMALS}f}" for x, y, z in mesh[0].tolist()]
    lines += [f"f {a} {b} {c}" for a, b, c in (mesh[1] + 1).tolist()]
    return "\n".join(lines) + "\n"


def glb_bytes(mesh: Mesh, name: str) -> bytes:
    """Binary glTF 2.0: one mesh, metres, y up."""
    metres = (mesh[0] / 1000.0).astype("<f4")
    index = mesh[1].astype("<u2")
    body = index.tobytes() + b"\0" * (-index.nbytes % 4) + metres.tobytes()
    tree = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0, "name": name}],
        "meshes": [{"name": name, "primitives": [{"attributes": {"POSITION": 1}, "indices": 0}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5123, "count": index.size, "type": "SCALAR"},
            {
                "bufferView": 1,
                "componentType": 5126,
                "count": len(metres),
                "type": "VEC3",
                "min": [float(value) for value in metres.min(axis=0)],
                "max": [float(value) for value in metres.max(axis=0)],
            },
        ],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": index.nbytes, "target": 34963},
            {"buffer": 0, "byteOffset": len(body) - metres.nbytes, "byteLength": metres.nbytes, "target": 34962},
        ],
        "buffers": [{"byteLength": len(body)}],
    }
    text = json.dumps(tree, separators=(",", ":")).encode("ascii")
    text += b" " * (-len(text) % 4)
    chunks = struct.pack("<I4s", len(text), b"JSON") + text + struct.pack("<I4s", len(body), b"BIN\0") + body
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def threemf_bytes(bodies: Sequence[tuple[str, Mesh]], places: Sequence[tuple[str, Floats]]) -> bytes:
    """3MF in millimetres: every body once as an object, and a build item for every place."""
    core = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
    package = "http://schemas.openxmlformats.org/package/2006"
    head = '<?xml version="1.0" encoding="UTF-8"?>\n'
    lines = [f'{head}<model unit="millimeter" xml:lang="en" xmlns="{core}">', "<resources>"]
    number = {name: place for place, (name, _) in enumerate(bodies, start=1)}
    for name, (vertices, faces) in bodies:
        lines.append(f'<object id="{number[name]}" name="{name}" type="model"><mesh><vertices>')
        lines += [f'<vertex x="{x:.4f}" y="{y:.4f}" z="{z:.4f}"/>' for x, y, z in vertices.tolist()]
        lines.append("</vertices><triangles>")
        lines += [f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces.tolist()]
        lines.append("</triangles></mesh></object>")
    lines += ["</resources>", "<build>"]
    for name, (dx, dy, dz) in places:
        lines.append(f'<item objectid="{number[name]}" transform="1 0 0 0 1 0 0 0 1 {dx:g} {dy:g} {dz:g}"/>')
    lines += ["</build>", "</model>", ""]
    types = (
        f'{head}<Types xmlns="{package}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>\n'
    )
    links = (
        f'{head}<Relationships xmlns="{package}/relationships"><Relationship Id="rel0" Target="/3D/3dmodel.model" '
        'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>\n'
    )
    parts = {"[Content_Types].xml": types, "_rels/.rels": links, "3D/3dmodel.model": "\n".join(lines)}
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name, text in parts.items():
            # The date is the oldest a zip can hold: the same hull gives the same bytes on any day.
            archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), text, zipfile.ZIP_DEFLATED, 9)
    return buffer.getvalue()


def files() -> dict[str, bytes]:
    """Every demo hull: file name -> content."""
    title = "a demo hull of our own invention"
    return {
        "skerrywing.stl": stl_bytes(flying_boat(), f"skerrywing, flying-boat hull: {title}"),
        "wickerby.obj": obj_text(launch(), f"wickerby, open launch, starboard half: {title}").encode("ascii"),
        "pelloway.glb": glb_bytes(streamlined_body(), "pelloway"),
        "tandril.3mf": threemf_bytes(*twin_floats()),
    }


def main() -> None:
    """Write the hulls beside this script."""
    for name, content in files().items():
        (Path(__file__).parent / name).write_bytes(content)


if __name__ == "__main__":
    main()
