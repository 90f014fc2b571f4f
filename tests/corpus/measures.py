"""Numbers that are none, that are too large or too small, or that are in another unit."""

import numpy as np

from tests import closed_forms as zoo
from tests.corpus.case import WIGLEY, Case, accepted, hull, obj, refused, stl, stl_text

KIND = "numbers"


def _spoilt(value: float, *, vertex: int | None = None) -> zoo.Mesh:
    """The hull with a number in one vertex, or in all."""
    vertices, faces = hull()
    vertices = vertices.copy()
    if vertex is None:
        vertices[:] = value
    else:
        vertices[vertex, 1] = value
    return vertices, faces


def _moved(offset: tuple[float, float, float]) -> zoo.Mesh:
    vertices, faces = hull()
    return vertices + np.array(offset), faces


def _scaled(factor: float) -> zoo.Mesh:
    vertices, faces = hull()
    return vertices * factor, faces


def cases() -> list[Case]:
    """All of this kind."""
    middle = len(hull()[0]) // 2
    text = obj(hull())
    line = text.split(b"\n", 1)[0]
    number = line.split()[1]

    def worded(word: bytes) -> bytes:
        return text.replace(line, line.replace(number, word, 1), 1)

    with np.errstate(over="ignore"):
        huge = stl(_spoilt(1e30, vertex=middle))
    return [
        refused(KIND, "NaN everywhere", "hull.stl", stl(_spoilt(np.nan)), "finite"),
        refused(KIND, "infinity everywhere", "hull.stl", stl(_spoilt(np.inf)), "finite"),
        accepted(KIND, "NaN in one vertex", "hull.stl", stl(_spoilt(np.nan, vertex=middle)), WIGLEY, "not numbers"),
        accepted(KIND, "infinity in one vertex", "hull.obj", obj(_spoilt(np.inf, vertex=middle)), WIGLEY, "not numbers"),
        refused(KIND, "1e30 in one vertex", "hull.stl", huge, "1e+30", "damaged"),
        refused(KIND, "1e30 everywhere", "hull.stl", stl(_scaled(1e30 / 400)), "1e+30"),
        refused(KIND, "1e300 in text", "hull.obj", obj(_scaled(1e300)), "e+302"),
        refused(KIND, "1e999 in text", "hull.obj", worded(b"1e999").replace(b"\nv ", b"\nv 1e999 "), "finite"),
        refused(KIND, "denormals", "hull.obj", obj(_scaled(1e-320)), "expected a hull"),
        refused(KIND, "denormals of 32 bits", "hull.stl", stl(_scaled(1e-43)), "expected a hull"),
        refused(KIND, "a nanometre", "hull.obj", obj(_scaled(1e-9)), "expected a hull"),
        accepted(KIND, "far from the origin in 64 bits", "hull.obj", obj(_moved((3e7, -4e7, 2e7))), WIGLEY),
        accepted(KIND, "far from the origin in 32 bits", "hull.stl", stl(_moved((3e5, 0, 0))), WIGLEY, "far from the origin"),
        refused(KIND, "lost far from the origin", "hull.stl", stl(_moved((3e8, 1e8, 0))), "far from the origin", "Move it"),
        accepted(KIND, "metres read as mm", "hull.stl", stl(_scaled(1e-3)), (0.4, 0.04, 0.025), "implausible", "--unit m"),
        accepted(KIND, "metres", "hull.stl", stl(_scaled(1e-3)), WIGLEY, more=("--unit", "m")),
        accepted(KIND, "inches", "hull.stl", stl(_scaled(1 / 25.4)), WIGLEY, more=("--unit", "in")),
        accepted(KIND, "micrometres read as mm", "hull.stl", stl(_scaled(1e3)), (4e5, 4e4, 2.5e4), "implausible", "--unit um"),
        accepted(KIND, "any size brought to a length", "hull.stl", stl(_scaled(0.037)), WIGLEY, more=("--length", "400")),
        Case(KIND, "unit that is none", {"hull.stl": stl(hull())}, ("inspect", "hull.stl", "--unit", "furlong"), 2, ("--unit", "mm, cm")),
        refused(KIND, "hexadecimal", "hull.obj", worded(b"0x10"), "'0x10'"),
        refused(KIND, "underscores", "hull.obj", worded(b"1_0"), "'1_0'"),
        refused(KIND, "exponent of another language", "hull.obj", worded(b"1d2"), "'1d2'"),
        refused(KIND, "not-a-number of another language", "hull.stl", stl_text(hull()).replace(b"vertex", b"vertex 1.#QNAN", 1), "1.#QNAN"),
        refused(KIND, "two numbers grown together", "hull.obj", worded(b"1.5-2.5"), "'1.5-2.5'"),
        refused(KIND, "digits of another script", "hull.obj", worded("١٢".encode()), "number"),
    ]  # fmt: skip
