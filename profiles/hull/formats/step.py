"""STEP through the optional package cascadio, which meshes the surfaces: GLB in metres, with the axes of the file."""

import contextlib
import os
import re
import sys
from collections.abc import Iterator
from importlib import import_module

from profiles.errors import HullError
from profiles.hull.formats.content import EXPORT_AGAIN, Content
from profiles.hull.formats.gltf import scene_triangles
from profiles.hull.limits import Limits
from profiles.units import MM_PER_UNIT

CHORD = 0.01
"""mm; greatest distance of a triangle from its curved surface: a tenth of what a hot wire holds."""

CHORD_ANGLE = 0.2
"""rad; keeps small fillets round."""

INSTALL = "Install it with: pip install 'stationer[step]'"

_INCH = re.compile(rb"CONVERSION_BASED_UNIT\s*\(\s*'(INCH|FOOT|YARD)'", re.IGNORECASE)
_METRIC = re.compile(rb"SI_UNIT\s*\(\s*(\.MILLI\.|\.CENTI\.|\.DECI\.|\.MICRO\.|\$)\s*,\s*\.METRE\.\s*\)", re.IGNORECASE)
_NAMES = {b".MILLI.": "mm", b".CENTI.": "cm", b".DECI.": "dm", b".MICRO.": "um", b"$": "m"}
_NAMES |= {b"INCH": "in", b"FOOT": "ft", b"YARD": "yd"}


def declared_unit(data: bytes) -> str:
    """The length unit of the file's numbers: a conversion unit before an SI unit, mm where neither is declared."""
    match = _INCH.search(data) or _METRIC.search(data)
    return _NAMES[match[1].upper()] if match else "mm"


def read(data: bytes, limits: Limits) -> Content:
    """Triangles of all bodies, in the file's own unit.

    Raises HullError where the converter is not installed, fails, or returns no surface.
    """
    try:
        converter = import_module("cascadio")
    except ImportError as fault:
        msg = "STEP files need the optional package cascadio, which is not installed."
        raise HullError(msg, remedy=INSTALL) from fault
    try:
        with _quiet():
            glb = converter.load(data, "step", tol_linear=CHORD, tol_angular=CHORD_ANGLE, use_parallel=False)
    except Exception as fault:  # a compiled library; what it raises is not documented
        msg = f"the STEP converter gave up ({fault})."
        raise HullError(msg, remedy="Export it as STL.") from fault
    if not glb:
        msg = "the STEP converter could not read it."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    unit = declared_unit(data)
    vertices, faces = scene_triangles(glb, "glb", limits)
    factor = MM_PER_UNIT[unit]
    return Content(vertices * (MM_PER_UNIT["m"] / factor), faces, unit=unit, mm_per_unit=factor)


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Silence the converter, which writes to the streams directly, past Python."""
    sys.stdout.flush()
    sys.stderr.flush()
    kept = [(stream, os.dup(stream)) for stream in (1, 2)]
    try:
        with open(os.devnull, "wb") as nothing:  # noqa: PTH123 - not a path of the user's
            for stream, _ in kept:
                os.dup2(nothing.fileno(), stream)
        yield
    finally:
        for stream, copy in kept:
            os.dup2(copy, stream)
            os.close(copy)
