"""Any mesh file -> triangles in mm, in the file's own axes. Nothing is welded and nothing mended here.

The suffix says which format is meant, the content must agree. A unit comes from the option, else from the file, else mm
is assumed and told. The readers stand in `formats/`, one room for each.
"""

import gzip
import struct
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from profiles.errors import HullError, JobError
from profiles.hull.formats import collada, gltf, obj, ply, step, stl, threemf
from profiles.hull.formats.content import EXPORT_AGAIN, LARGEST_UNPACKED, Content, check_indices
from profiles.hull.formats.recognise import SUFFIXES, content_of
from profiles.hull.surface import Floats, Ints, RawMesh, frozen
from profiles.notes import Note, guess, warning
from profiles.units import MM_PER_IN, MM_PER_UNIT, unit_name

SMALLEST_PLAUSIBLE = 50.0
"""mm; a body shorter than this is hardly cut out of foam blocks."""

LARGEST_PLAUSIBLE = 6000.0
"""mm; a body longer than this is hardly cut out of foam blocks."""

SENSIBLE = (200.0, 3000.0)
"""mm; a unit that brings the longest side into this range is worth naming."""

LIKELY_UNITS = ("m", "in", "cm", "ft", "mm", "yd", "dm", "um")
"""The order in which units are tried when a size is implausible: what modelling programs mostly write comes first."""

_BLANKS = b"\0 \t\r\n"

_CHUNK = 1 << 20
"""Bytes unpacked at a time."""

_DAMAGE = (ValueError, LookupError, TypeError, AttributeError, ArithmeticError, MemoryError, RuntimeError, struct.error)
"""What arithmetic on damaged data may raise in a reader that did not foresee the damage."""


_READERS: dict[str, Callable[[bytes], Content]] = {
    "STL": stl.read,
    "OBJ": obj.read_obj,
    "PLY": ply.read,
    "OFF": obj.read_off,
    "3MF": threemf.read,
    "COLLADA": collada.read,
    "STEP": step.read,
}
"""The reader of each format; glTF also needs to know its folder."""


def load(path: Path, *, unit: str | None = None) -> RawMesh:
    """The triangles of a mesh file in mm, every node placed, with what was declared and what was assumed.

    `unit` is any word that `profiles.units.unit_name` knows and overrules the file's own. Raises HullError for whatever
    cannot be read and JobError for an unknown unit.
    """
    path = Path(path)
    option = _option(unit)
    form, zipped, stem = _named(path)
    data = _unzipped(path) if zipped else _bytes(path)
    try:
        with np.errstate(all="ignore"):  # absurd numbers become inf or nan, which mending drops and tells
            _check_content(data, form, stem, zipped=zipped)
            content = _read(data, form, path)
            applied = _applied(content, option)
            vertices = content.vertices * applied.mm
            extents = np.array([np.ptp(column) for column in _corners(vertices, content.faces).T])
    except HullError as fault:
        msg = f"{path.name}: {fault.message}"
        raise HullError(msg, remedy=fault.remedy) from fault
    return RawMesh(
        name=stem,
        format=form,
        vertices=frozen(vertices, np.float64),
        faces=frozen(content.faces, np.int64),
        unit=applied.unit,
        unit_from=applied.source,
        up_hint=content.up,
        notes=(*content.notes, *_unit_notes(extents, content, applied)),
    )


def _option(unit: str | None) -> str | None:
    try:
        return None if unit is None else unit_name(unit)
    except ValueError as fault:
        msg = f"unit: {fault}."
        raise JobError(msg, remedy="For example: --unit in.") from fault


def _named(path: Path) -> tuple[str, bool, str]:
    """Format, whether gzipped, and the stem, from the file's name."""
    name = path.name
    zipped = name.lower().endswith(".gz")
    inner = Path(name[: -len(".gz")] if zipped else name)
    form = SUFFIXES.get(inner.suffix.lower())
    if form is None:
        known = ", ".join(SUFFIXES)
        msg = f"{name}: expected a mesh file ({known}; each also with .gz), found the suffix {inner.suffix!r}."
        raise HullError(msg, remedy="Export the hull in one of these formats; STL will do.")
    return form, zipped, inner.stem


def _bytes(path: Path) -> bytes:
    try:
        if path.is_dir():
            msg = f"{path}: expected a mesh file, found a folder."
            raise HullError(msg, remedy="Name the file inside it.")
        size = path.stat().st_size
        if size > LARGEST_UNPACKED:
            raise _too_large(path)
        data = path.read_bytes()
    except FileNotFoundError as fault:
        msg = f"{path}: there is no such file."
        raise HullError(msg, remedy="Look at the name and the folder.") from fault
    except OSError as fault:
        msg = f"{path}: cannot be read ({fault.strerror})."
        raise HullError(msg, remedy="Look at the file's permissions.") from fault
    if not data:
        msg = f"{path.name}: the file is empty."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    return data


def _too_large(path: Path) -> HullError:
    msg = f"{path.name}: more than {LARGEST_UNPACKED >> 20} MiB of data."
    return HullError(msg, remedy="Export it with fewer triangles.")


def _unzipped(path: Path) -> bytes:
    """The content of a .gz file, up to the limit."""
    _bytes(path)
    try:
        with gzip.open(path, "rb") as stream:
            pieces = []
            size = 0
            while piece := stream.read(_CHUNK):
                pieces.append(piece)
                size += len(piece)
                if size > LARGEST_UNPACKED:
                    raise _too_large(path)
    except (OSError, EOFError, zlib.error) as fault:
        msg = f"{path.name}: expected gzip-compressed data, which could not be unpacked ({fault})."
        raise HullError(msg, remedy="Unpack it with another program, or export it again.") from fault
    if not pieces:
        msg = f"{path.name}: the compressed file is empty."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    return b"".join(pieces)


def _check_content(data: bytes, form: str, stem: str, *, zipped: bool) -> None:
    """Refuse a file whose content is recognisably another format than its suffix says."""
    if not data[:4096].strip(_BLANKS) and not data.strip(_BLANKS) and not stl.is_binary(data):
        msg = "the file holds nothing but blanks."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    found, phrase = content_of(data)
    if found == form or not phrase or (form == "OBJ" and found is None and b"\nv " in data):
        return
    msg = f"its name says {form}, but it is {phrase}."
    if found is None:
        raise HullError(msg, remedy="Give the hull as a mesh file.")
    suffix = next(suffix for suffix, name in SUFFIXES.items() if name == found)
    raise HullError(msg, remedy=f"Rename it to {stem}{suffix}{'.gz' * zipped}.")


def _read(data: bytes, form: str, path: Path) -> Content:
    try:
        return gltf.read(data, path.parent) if form == "glTF" else _READERS[form](data)
    except _DAMAGE as fault:
        msg = f"the {form} data cannot be understood ({type(fault).__name__}: {fault})."
        raise HullError(msg, remedy=EXPORT_AGAIN) from fault


def _corners(vertices: Floats, faces: Ints) -> Floats:
    """The vertices (n, 3) of all finite triangles. Raises HullError where there is none, or an index out of range."""
    if not len(faces):
        rest = f"only {len(vertices)} points" if len(vertices) else "nothing to cut"
        msg = f"it has no triangles, {rest}."
        raise HullError(msg, remedy="Export the hull as a surface mesh, with faces.")
    check_indices(faces, len(vertices))
    finite = np.logical_and.reduce([np.isfinite(column) for column in vertices.T])
    whole = np.logical_and.reduce([finite[column] for column in faces.T])
    if not whole.any():
        msg = "no triangle has three corners with finite coordinates."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    used = np.zeros(len(vertices), dtype=bool)
    used[faces[whole]] = True
    return vertices[used]


@dataclass(frozen=True, slots=True)
class _Applied:
    """The unit that was applied."""

    unit: str
    mm: float
    """mm in one unit of the file."""
    source: str
    """"file", "option" or "assumed"."""


def _applied(content: Content, option: str | None) -> _Applied:
    if option is not None:
        return _Applied(option, MM_PER_UNIT[option], "option")
    if content.unit is not None and content.mm_per_unit is not None:
        return _Applied(content.unit, content.mm_per_unit, "file")
    return _Applied("mm", 1.0, "assumed")


def _unit_notes(extents: Floats, content: Content, applied: _Applied) -> Iterator[Note]:
    size = _size(extents)
    if applied.source == "assumed":
        yield guess(f"The file names no unit and was read in mm: {size}. Another unit: --unit in (or cm, m ...).")
    elif applied.source == "option" and content.unit not in (None, applied.unit):
        yield warning(f"The file says {content.unit}; {applied.unit} was applied as asked: {size}.")
    longest = float(extents.max())
    if SMALLEST_PLAUSIBLE <= longest <= LARGEST_PLAUSIBLE:
        return
    better = _likely_unit(longest / applied.mm, applied.unit)
    way = (
        f"in {better} it would be {longest / applied.mm * MM_PER_UNIT[better]:.5g} mm: --unit {better}"
        if better
        else "set the size with --length or --scale"
    )
    yield warning(f"A longest side of {longest:.5g} mm is implausible for a body cut out of foam ({size}); {way}.")


def _size(extents: Floats) -> str:
    metric = " x ".join(f"{side:.5g}" for side in extents)
    inches = " x ".join(f"{side / MM_PER_IN:.4g}" for side in extents)
    return f"{metric} mm ({inches} in)"


def _likely_unit(longest: float, applied: str) -> str | None:
    """The first likely unit that makes `longest` (units of the file) sensible."""
    low, high = SENSIBLE
    return next((u for u in LIKELY_UNITS if u != applied and low <= longest * MM_PER_UNIT[u] <= high), None)
