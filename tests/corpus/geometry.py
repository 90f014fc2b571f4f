"""Shapes that are no hull, shapes that look like none, and shapes whose surface is at fault."""

import numpy as np

from tests import closed_forms as zoo
from tests.corpus.case import WIGLEY, Case, accepted, hull, late, obj, refused, stl

KIND = "geometry"

BOX = (400.0, 80.0, 60.0)


def box(length: float = 400.0, breadth: float = 80.0, depth: float = 60.0, x: float = 0.0, y: float = 0.0) -> zoo.Mesh:
    """A box along x."""
    return zoo.box(length, breadth, depth, x, y)


def cases() -> list[Case]:
    """All of this kind."""
    return [*_no_bodies(), *_odd_bodies(), *_faulty_surfaces(), *_made()]


def _no_bodies() -> list[Case]:
    square = np.array([[0, 0, 0], [400, 0, 0], [400, 80, 0], [0, 80, 0.0]])
    corners = np.array([[0, 1, 2], [0, 2, 3]])
    chance = np.random.default_rng(7)
    soup = chance.uniform(0, 400, (1500, 3)), np.arange(1500).reshape(-1, 3)
    return [
        refused(KIND, "flat", "hull.stl", stl((square, corners)), "flat"),
        refused(KIND, "flat and askew", "hull.obj", obj((square @ _turn(30.0, 20.0), corners)), "flat"),
        refused(KIND, "one triangle", "hull.stl", stl((square, corners[:1])), "flat"),
        refused(KIND, "a line", "hull.stl", stl((square * [1, 0, 0], corners)), "volume"),
        refused(KIND, "a point", "hull.stl", stl((square * 0 + 5, corners)), "hull"),
        refused(KIND, "faces of one vertex", "hull.obj", b"v 1 2 3\nv 90 1 1\nv 1 90 1\nf 1 1 1\nf 2 2 3\n", "three different vertices"),
        refused(KIND, "soup of triangles", "hull.stl", stl(soup), "hull.stl"),
        refused(KIND, "every second corner in another's place", "hull.obj", late("hull.obj", lambda: obj(_exchanged(2))), "crosses itself some", "Export it again"),
        refused(KIND, "every tenth corner in another's place", "hull.obj", late("hull.obj", lambda: obj(_exchanged(10))), "crosses itself", "Export it again"),
        refused(KIND, "Moebius strip", "hull.stl", stl(_moebius()), "Moebius"),
        refused(KIND, "box flattened to a sheet both ways", "hull.stl", stl((box()[0] * [1, 1, 0], box()[1])), "flat"),
        refused(KIND, "scattered crumbs", "hull.stl", stl(_crumbs(3000, flipped=True)), "hull.stl"),
accepted(KIND, "bowl of two triangles", "hull.stl", stl((square + [[0, 0, 0], [0, 0, 9], [0, 0, 0], [0, 0, 3]], corners)), (400.0, 160.0, 9.0), "open deck closed", "--mirror none"),
    ]  # fmt: skip


def _odd_bodies() -> list[Case]:
    cylinder = zoo.revolved(np.array([0.0, 0, 20, 20]), np.array([0.0, 200, 200, 0]), 96)
    needle = box(1000, 0.4, 0.4)
    vertices, faces = hull()
    return [
        Case(KIND, "box with one corner 8 km away", {"hull.stl": stl(_spiked(7.9e6))}, ("make", "--foam", "40", "--out", "out", "hull.stl"), 3, ("hull",)),
        accepted(KIND, "cube", "hull.stl", stl(box(100, 100, 100)), (100.0, 100.0, 100.0), "--length-axis", "--up", "--nose"),
        accepted(KIND, "disc", "hull.stl", stl(cylinder), (400.0, 20.0, 400.0), "--length-axis"),
        accepted(KIND, "needle", "hull.stl", stl(needle), (1000.0, 0.4, 0.4), "--up"),
        accepted(KIND, "ring", "hull.stl", stl(_torus()), (300.0, 300.0, 60.0), "--length-axis"),
        accepted(KIND, "pipe", "hull.stl", stl(zoo.tube(400, 60, 40)), (400.0, 60.0, 60.0), "hollow", "--solid"),
        accepted(KIND, "turned off the axes", "hull.stl", stl((vertices @ _turn(25.0, 0.0), faces)), WIGLEY, "turned straight", "--turn none"),
        accepted(KIND, "upside down", "hull.stl", stl((vertices * [1, -1, -1], faces)), WIGLEY, "--up"),
        accepted(KIND, "length along z", "hull.stl", stl((vertices[:, [1, 2, 0]], faces)), WIGLEY, "length along z"),
        accepted(KIND, "300 bodies", "hull.stl", stl(zoo.joined(*(box(1.0, 50, 40, 1.5 * n) for n in range(300)))), (449.5, 50.0, 40.0)),
        accepted(KIND, "two hulls", "hull.stl", stl(zoo.joined(box(400, 40, 60, 0, -60), box(400, 40, 60, 0, 60))), (400.0, 160.0, 60.0)),
        accepted(KIND, "body inside another", "hull.stl", stl(zoo.joined(box(), _lifted(box(300, 40, 30, 50), 15)) ), BOX),
        accepted(KIND, "void inside a body", "hull.stl", stl(zoo.joined(box(), zoo.turned_inside_out(_lifted(box(300, 40, 30, 50), 15)))), BOX, '"voids": 1'),
        accepted(KIND, "box in a box in a box", "hull.stl", stl(zoo.joined(box(), zoo.turned_inside_out(_lifted(box(360, 60, 50, 20), 5)), _lifted(box(300, 40, 30, 50), 15))), BOX),
        accepted(KIND, "bodies that cross", "hull.stl", stl(zoo.joined(box(250, 80, 60), box(250, 80, 60, 150))), BOX),
        accepted(KIND, "bodies that touch along an edge", "hull.stl", stl(zoo.joined(box(400, 40, 30, 0, -20), _lifted(box(400, 40, 30, 0, 20), 30))), BOX, more=("--length-axis", "x")),
        accepted(KIND, "bodies that share a wall", "hull.stl", stl(zoo.joined(box(200, 80, 60), box(200, 80, 60, 200))), BOX),
    ]  # fmt: skip


def _faulty_surfaces() -> list[Case]:
    vertices, faces = hull()
    half = faces.copy()
    half[::2] = half[::2, ::-1]
    twice = np.concatenate([faces, faces])
    both = np.concatenate([faces, faces[:, ::-1]])
    ring = "f " + " ".join(str(n + 1) for n in range(5000))
    rim = np.column_stack([np.cos(np.arange(5000) * 2 * np.pi / 5000), np.sin(np.arange(5000) * 2 * np.pi / 5000)])
    many = _prism_text(rim * [40, 30], ring)
    return [
        accepted(KIND, "half the faces flipped", "hull.stl", stl((vertices, half)), WIGLEY, "wound against"),
        accepted(KIND, "inside out", "hull.stl", stl((vertices, faces[:, ::-1])), WIGLEY, "inside out"),
        accepted(KIND, "every face twice", "hull.stl", stl((vertices, twice)), WIGLEY, "repeated faces"),
        accepted(KIND, "every face twice and both ways", "hull.stl", stl((vertices, both)), WIGLEY, "repeated faces"),
        accepted(KIND, "narrow crack", "hull.obj", obj(_cracked(0.001)), BOX, "welded"),
        accepted(KIND, "crack of a tenth", "hull.obj", obj(_cracked(0.1)), (400.1, 80.0, 60.0)),
        accepted(KIND, "gaping crack", "hull.obj", obj(_cracked(9.0)), (409.0, 80.0, 60.0)),
        accepted(KIND, "T-junctions", "hull.obj", obj(_t_junctions()), BOX),
        accepted(KIND, "one face missing", "hull.stl", stl((vertices, np.delete(faces, len(faces) // 3, axis=0))), WIGLEY),
        refused(KIND, "side missing", "hull.stl", stl((box()[0], box()[1][[0, 1, 2, 3]])), "hull.stl"),
        accepted(KIND, "bulkhead without thickness", "hull.obj", obj(zoo.joined(box(), _sheet(200.0))), BOX),
        accepted(KIND, "slivers", "hull.obj", obj(_slivers()), BOX),
        accepted(KIND, "ends of 5000 corners", "hull.obj", many, (300.0, 80.0, 60.0)),
        accepted(KIND, "20,000 triangles about one vertex", "hull.stl", stl(_fan(10_000)), (300.0, 100.0, 100.0)),
        accepted(KIND, "open deck", "hull.stl", stl((box()[0], _without_top(box()))), BOX, "open deck closed"),
        accepted(KIND, "half a hull", "hull.stl", stl(_half()), (400.0, 80.0, 50.0), "mirrored", "--mirror none"),
    ]  # fmt: skip


def _made() -> list[Case]:
    """Templates are made of these; their areas are compared with the closed form by `test_corpus`."""
    step = zoo.stepped_box(400, 80, 60, 160.0, 20.0)
    words = ("make", "--json", "--foam", "40", "--out", "out", "hull.stl")
    thick = ("make", "--json", "--foam", "80", "--out", "out", "hull.stl")
    short = ("make", "--json", "--foam", "80", "--length-axis", "x", "--up", "z", "--out", "out", "hull.stl")
    return [
        Case(KIND, "walls exactly on station planes", {"hull.stl": stl(step)}, words, 0, ('"x": 160',), BOX),
        Case(KIND, "bodies that end on station planes", {"hull.stl": stl(zoo.joined(box(160, 80, 60), box(240, 80, 60, 160)))}, thick, 0, (), BOX),
        Case(KIND, "shorter than a block", {"hull.stl": stl(box(30, 80, 60))}, short, 0, (), (30.0, 80.0, 60.0)),
        Case(KIND, "as long as a block", {"hull.stl": stl(box(80, 60, 50))}, thick, 0, (), (80.0, 60.0, 50.0)),
        Case(KIND, "disc made", {"hull.stl": stl(zoo.revolved(np.array([0.0, 0, 20, 20]), np.array([0.0, 60, 60, 0]), 64))}, thick, 0, (), (120.0, 20.0, 120.0)),
        Case(KIND, "needle made", {"hull.stl": stl(box(200, 0.4, 0.4))}, thick, 3, ("picture",)),
    ]  # fmt: skip


def _spiked(far: float) -> zoo.Mesh:
    vertices, faces = box()
    vertices = vertices.copy()
    vertices[np.argmax(vertices.sum(axis=1)), 1] = far
    return vertices, faces


def _turn(about_z: float, about_x: float) -> zoo.Floats:
    c, s = np.cos(np.radians(about_z)), np.sin(np.radians(about_z))
    d, t = np.cos(np.radians(about_x)), np.sin(np.radians(about_x))
    turned: zoo.Floats = np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]]) @ np.array([[1, 0, 0], [0, d, t], [0, -t, d]])
    return turned


def _lifted(mesh: zoo.Mesh, z: float) -> zoo.Mesh:
    return mesh[0] + [0, 0, z], mesh[1]


def _exchanged(each: int) -> zoo.Mesh:
    """A closed body of 40 000 triangles of which one corner in so many stands where another should."""
    vertices, faces = zoo.spheroid(300.0, 60.0, 100, 200)
    vertices = vertices.copy()
    moved = np.arange(0, len(vertices), each)
    vertices[moved] = vertices[np.random.default_rng(5).permutation(moved)]
    return vertices, faces


def _moebius(parts: int = 60) -> zoo.Mesh:
    angle = np.arange(parts) * 2 * np.pi / parts
    middle = np.column_stack([200 * np.cos(angle), 200 * np.sin(angle), 0 * angle])
    way = np.column_stack([np.cos(angle / 2) * np.cos(angle), np.cos(angle / 2) * np.sin(angle), np.sin(angle / 2)])
    points = np.concatenate([middle - 40 * way, middle + 40 * way])
    faces = []
    for n in range(parts):
        low, high = n, n + parts
        after_low, after_high = (n + 1, n + 1 + parts) if n + 1 < parts else (parts, 0)
        faces += [(low, after_low, high), (high, after_low, after_high)]
    return points, np.array(faces)


def _torus(large: float = 120.0, small: float = 30.0, parts: int = 60, sides: int = 24) -> zoo.Mesh:
    u, v = np.meshgrid(np.arange(parts) * 2 * np.pi / parts, np.arange(sides) * 2 * np.pi / sides, indexing="ij")
    reach = large + small * np.cos(v)
    points = np.stack([reach * np.cos(u), reach * np.sin(u), small * np.sin(v)], axis=-1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(parts), np.arange(sides), indexing="ij")
    a, b = i * sides + j, (i + 1) % parts * sides + j
    c, d = (i + 1) % parts * sides + (j + 1) % sides, i * sides + (j + 1) % sides
    return points, np.stack([a, b, c, a, c, d], axis=-1).reshape(-1, 3)


def _crumbs(number: int, *, flipped: bool) -> zoo.Mesh:
    """Tetrahedra of 1 mm, far from each other, every other one inside out."""
    chance = np.random.default_rng(3)
    corner = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1.0]])
    faces = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
    parts = []
    for n, place in enumerate(chance.uniform(0, 4000, (number, 3))):
        parts.append((corner + place, faces[:, ::-1] if flipped and n % 2 else faces))
    return zoo.joined(*parts)


def _cracked(width: float) -> zoo.Mesh:
    """A box of two halves, each open where they meet, so far apart."""
    fore, aft = box(200), box(200, x=200 + width)
    parts = []
    for (vertices, faces), wall in ((fore, 200.0), (aft, 200.0 + width)):
        parts.append((vertices, faces[~(vertices[faces][:, :, 0] == wall).all(axis=1)]))
    return zoo.joined(*parts)


def _t_junctions() -> zoo.Mesh:
    """A box whose top is made of more triangles than its sides know of."""
    vertices, faces = box()
    low, high = vertices.min(axis=0), vertices.max(axis=0)
    sides = faces[~(vertices[faces][:, :, 2] == high[2]).all(axis=1)]
    x = np.array([low[0], 77.0, 200.5, high[0]])
    top = np.array([(a, y, high[2]) for a in x for y in (low[1], high[1])])
    strip = [(2 * n, 2 * n + 2, 2 * n + 3) for n in range(3)] + [(2 * n, 2 * n + 3, 2 * n + 1) for n in range(3)]
    return zoo.joined((vertices, sides), (top, np.array(strip)))


def _sheet(x: float) -> zoo.Mesh:
    return np.array([[x, -40, 0], [x, 40, 0], [x, 40, 60], [x, -40, 60.0]]), np.array([[0, 1, 2], [0, 2, 3]])


def _slivers() -> zoo.Mesh:
    """A box with vertices a millionth apart along its edges."""
    x = np.sort(np.concatenate([np.linspace(0, 400, 20), np.linspace(0, 400, 20)[1:-1] + 1e-6]))
    ring = np.array([(-40.0, 0.0), (40.0, 0.0), (40.0, 60.0), (-40.0, 60.0)])
    return zoo.loft(x, np.repeat(ring[None], len(x), axis=0))


def _fan(sides: int) -> zoo.Mesh:
    return zoo.revolved(np.array([0.0, 300.0, 300.0]), np.array([0.0, 50.0, 0.0]), sides)


def _without_top(mesh: zoo.Mesh) -> zoo.Ints:
    vertices, faces = mesh
    kept: zoo.Ints = faces[~(vertices[faces][:, :, 2] == vertices[:, 2].max()).all(axis=1)]
    return kept


def _half() -> zoo.Mesh:
    """Half a boat-like body, open along its centre plane."""
    x = np.linspace(0, 400, 21)
    width = 40 * np.sqrt(np.clip(1 - (x / 400 - 0.4) ** 2 / 0.37, 0.02, 1))
    rings = np.array([[(0.0, 0.0), (w * 0.8, 12.0), (w, 50.0), (0.0, 50.0)] for w in width * 40 / width.max()])
    vertices, faces = zoo.loft(x, rings)
    flat = (vertices[faces][:, :, 1] == 0).all(axis=1)
    return vertices, faces[~flat]


def _prism_text(rim: zoo.Floats, ring: str) -> bytes:
    """An OBJ of a prism whose ends are one polygon each."""
    many = len(rim)
    lines = [f"v {x!r} {y!r} {z!r}" for x in (0.0, 300.0) for y, z in rim.tolist()]
    lines += [f"f {n + 1} {(n + 1) % many + 1} {(n + 1) % many + many + 1} {n + many + 1}" for n in range(many)]
    lines += ["f " + " ".join(reversed(ring.split()[1:])), "f " + " ".join(str(n + many + 1) for n in range(many))]
    return "\n".join(lines).encode()
