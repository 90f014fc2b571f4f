"""Any mesh file -> triangles in mm, in the file's own axes. Nothing is welded and nothing repaired here.

The suffix says which format is meant, the content must agree. A unit comes from the option, else from the file, else mm
is assumed and reported. The readers stand in `formats/`, one module for each.
"""

import gzip
import io
import stat
import struct
import zlib
from collections.abc import Callable, Iterator
from importlib import import_module
from pathlib import Path

import numpy as np
import numpy.typing as npt

from profiles.arrays import Floats, Ints
from profiles.errors import HullError, JobError
from profiles.hull.formats.content import EXPORT_AGAIN, Content, check_indices
from profiles.hull.formats.recognise import LINES, SUFFIXES, content_of, is_utf16
from profiles.hull.formats.stl import is_binary
from profiles.hull.limits import Limits, check_bytes, check_triangles, check_vertices
from profiles.hull.surface import Number, RawMesh
from profiles.notes import Note, assumption, warning
from profiles.units import MM_PER_IN, MM_PER_UNIT, unit_name
from profiles.values import dataclass

SMALLEST_PLAUSIBLE = 50.0
"""mm; a body shorter than this is hardly cut out of foam blocks."""

LARGEST_PLAUSIBLE = 6000.0
"""mm; a body longer than this is hardly cut out of foam blocks."""

SENSIBLE = (200.0, 3000.0)
"""mm; a unit that brings the longest side into this range is worth naming."""

FURTHEST = 1e9
"""mm; 1000 km from the origin no hull stands, whatever its unit."""

SHORTEST = 1e-4
"""mm; no hull is shorter, whatever its unit."""

COARSE = 0.02
"""mm; coordinates in smaller steps than this are as good as any that a wire follows."""

SPOILT = 1e-3
"""Of the longest side: steps of this size are a shape of stairs."""

LIKELY_UNITS = ("m", "in", "cm", "ft", "mm", "yd", "dm", "um")
"""The order in which units are tried when a size is implausible: what modelling programs mostly write comes first."""

_PLAIN_TEXTS = {"STL", "OBJ", "PLY", "OFF"}
"""Formats that may be a text of numbers; XML and JSON say themselves how they are written."""

_BLANKS = b"\0 \t\r\n"

_CHUNK = 1 << 20
"""Bytes unpacked at a time."""

_DAMAGE = (ValueError, LookupError, TypeError, AttributeError, ArithmeticError, RuntimeError, struct.error)
"""What arithmetic on damaged data may raise in a reader that did not foresee the damage."""


_READERS = {
    "STL": ("stl", "read"),
    "OBJ": ("obj", "read_obj"),
    "PLY": ("ply", "read"),
    "OFF": ("obj", "read_off"),
    "3MF": ("threemf", "read"),
    "COLLADA": ("collada", "read"),
    "STEP": ("step", "read"),
    "glTF": ("gltf", "read"),
}
"""Module and function of each format's reader; a module is loaded when a file asks for it."""


def load(
    path: Path,
    *,
    unit: str | None = None,
    sized: bool = False,
    limits: Limits = Limits(),  # noqa: B008 - immutable
) -> RawMesh:
    """The triangles of a mesh file in mm, every node placed, with what was declared and what was assumed.

    `unit` is any word that `profiles.units.unit_name` knows and overrides the file's own. `sized` says that the hull
    gets another size later, so that the file's own may be anything. Raises HullError for whatever
    cannot be read, or is over the limits, and JobError for an unknown unit.
    """
    path = Path(path)
    option = _unit_option(unit)
    form, zipped, stem = _parse_name(path)
    try:
        data = _gunzip(path, limits) if zipped else _read_bytes(path, limits)
        with np.errstate(all="ignore"):  # absurd numbers become inf or nan, which `repair` drops and reports
            _check_content(data, form, stem, zipped=zipped)
            content = _read(data, form, path, limits)
            del data
            check_triangles(len(content.faces), limits)
            check_vertices(len(content.vertices), limits)
            applied = _apply_unit(content, option)
            vertices = content.vertices if applied.mm == 1.0 else content.vertices * applied.mm
            low, high = _bounds(vertices, content.faces)
            notes = (
                *content.notes,
                *_unit_notes(high - low, content, applied, sized=sized),
                *_rounding_notes(vertices, low, high),
            )
    except HullError as fault:
        msg = f"{printable_name(path.name)}: {fault.message}"
        raise HullError(msg, remedy=fault.remedy) from fault
    return RawMesh(
        name=printable_name(stem),
        format=form,
        vertices=_make_read_only(vertices, np.float64),
        faces=_make_read_only(content.faces, np.int64),
        unit=applied.unit,
        unit_from=applied.source,
        up_hint=content.up,
        notes=notes,
        welded=content.welded,
    )


def load_bytes(path: Path, limits: Limits) -> tuple[str, str, bytes]:
    """Format, name and content of a table of offsets or a drawing. Raises HullError where it cannot be read."""
    form, zipped, stem = _parse_name(path)
    return form, printable_name(stem), _gunzip(path, limits) if zipped else _read_bytes(path, limits)


LONGEST_SHOWN = 80
"""Signs of a file's name that are shown; a longer one is cut in its middle."""


def printable_name(name: str) -> str:
    """A file's name as it may stand in a title or a message: in one line, with nothing that moves a cursor."""
    clean = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in name)
    half = LONGEST_SHOWN // 2
    return clean if len(clean) <= LONGEST_SHOWN else f"{clean[: half - 1]}\N{HORIZONTAL ELLIPSIS}{clean[-half:]}"


def _make_read_only(array: npt.NDArray[Number], dtype: type[Number]) -> npt.NDArray[Number]:
    """The array itself, read-only, as nobody else holds it; a copy only where its type or order is another."""
    result: npt.NDArray[Number] = np.ascontiguousarray(array, dtype=dtype)
    result.setflags(write=False)
    return result


def _unit_option(unit: str | None) -> str | None:
    try:
        return None if unit is None else unit_name(unit)
    except ValueError as fault:
        msg = f"unit: {fault}."
        raise JobError(msg, remedy="For example: --unit in.") from fault


def _parse_name(path: Path) -> tuple[str, bool, str]:
    """Format, whether gzipped, and the stem, from the file's name."""
    name = path.name
    zipped = name.lower().endswith(".gz")
    inner = Path(name[: -len(".gz")] if zipped else name)
    form = (SUFFIXES | LINES).get(inner.suffix.lower())
    if form is None:
        known = ", ".join(SUFFIXES | LINES)
        suffix = inner.suffix[:20]
        msg = (
            f"{printable_name(name)}: expected a hull file ({known}; each also with .gz), found the suffix {suffix!r}."
        )
        raise HullError(msg, remedy="Export the hull in one of these formats; STL will do.")
    return form, zipped, inner.stem


def _check_file(path: Path, limits: Limits) -> None:
    """Refuse what is not a file, what is empty, and what is too large, before any of it is read."""
    try:
        status = path.stat()
    except FileNotFoundError as fault:
        msg = "there is no such file."
        raise HullError(msg, remedy="Check the name and the folder.") from fault
    except (OSError, ValueError) as fault:
        msg = f"cannot be read ({getattr(fault, 'strerror', None) or fault})."
        raise HullError(msg, remedy="Check the name, the folder and the permissions.") from fault
    if stat.S_ISDIR(status.st_mode):
        msg = "expected a mesh file, found a folder."
        raise HullError(msg, remedy="Name the file inside it.")
    if not stat.S_ISREG(status.st_mode):
        msg = "expected a file, found a device, pipe or socket."
        raise HullError(msg, remedy="Save the hull as a file first.")
    if not status.st_size:
        msg = "the file is empty."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    check_bytes(status.st_size, limits)


def _read_bytes(path: Path, limits: Limits) -> bytes:
    _check_file(path, limits)
    try:
        return path.read_bytes()
    except OSError as fault:
        msg = f"cannot be read ({fault.strerror})."
        raise HullError(msg, remedy="Check the file's permissions.") from fault


def _gunzip(path: Path, limits: Limits) -> bytes:
    """The content of a .gz file. The size that its end declares is checked first, and what comes out as it comes."""
    packed = _read_bytes(path, limits)
    check_bytes(int.from_bytes(packed[-4:], "little"), limits, "unpacked it")
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(packed)) as stream:
            unpacked = io.BytesIO()
            while piece := stream.read(_CHUNK):
                unpacked.write(piece)
                check_bytes(unpacked.tell(), limits, "unpacked it")
    except (OSError, EOFError, zlib.error) as fault:
        msg = f"expected gzip-compressed data, which could not be unpacked ({fault})."
        raise HullError(msg, remedy="Unpack it with another program, or export it again.") from fault
    if not unpacked.tell():
        msg = "the compressed file is empty."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    return unpacked.getvalue()


def _check_content(data: bytes, form: str, stem: str, *, zipped: bool) -> None:
    """Refuse a file whose content is clearly another format than its suffix says."""
    if not is_binary(data) and _is_blank(data):
        msg = "the file holds nothing but blanks."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    if form in _PLAIN_TEXTS and is_utf16(data) and not is_binary(data):
        msg = "it is a text in UTF-16, with two bytes for each character."
        raise HullError(msg, remedy="Save it as UTF-8 in a text editor, or export it again.")
    actual, phrase = content_of(data)
    if actual == form or not phrase or (form == "OBJ" and actual is None and b"\nv " in data):
        return
    msg = f"its name says {form}, but it is {phrase}."
    if actual is None:
        raise HullError(msg, remedy="Give the hull as a mesh file.")
    suffix = next(suffix for suffix, name in SUFFIXES.items() if name == actual)
    raise HullError(msg, remedy=f"Rename it to {stem}{suffix}{'.gz' * zipped}.")


def _is_blank(data: bytes) -> bool:
    pieces = (data[start : start + _CHUNK] for start in range(0, len(data), _CHUNK))
    return not any(piece.translate(None, _BLANKS) for piece in pieces)


def _read(data: bytes, form: str, path: Path, limits: Limits) -> Content:
    module, name = _READERS[form]
    reader: Callable[..., Content] = getattr(import_module(f"profiles.hull.formats.{module}"), name)
    try:
        return reader(data, path.parent, limits) if form == "glTF" else reader(data, limits)
    except MemoryError as fault:
        msg = f"reading its {form} data takes more memory than there is."
        remedy = "End other programs or thin out the mesh; if the file is small, it is damaged: export it again."
        raise HullError(msg, remedy=remedy) from fault
    except _DAMAGE as fault:
        msg = f"the {form} data cannot be understood ({type(fault).__name__}: {fault})."
        raise HullError(msg, remedy=EXPORT_AGAIN) from fault


def _bounds(vertices: Floats, faces: Ints) -> tuple[Floats, Floats]:
    """Least and greatest corner, each (3,), of all triangles that are finite.

    Raises HullError where there is none, for an index out of range, and for a size that no unit can explain.
    """
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
    used[faces if whole.all() else faces[whole]] = True
    columns = [column if used.all() else column[used] for column in vertices.T]
    low, high = np.array([column.min() for column in columns]), np.array([column.max() for column in columns])
    furthest = float(np.abs([low, high]).max())
    longest = float((high - low).max())
    if furthest > FURTHEST or longest < SHORTEST:
        msg = f"expected a hull, found one {longest:.3g} mm long, up to {furthest:.3g} mm from the origin."
        raise HullError(msg, remedy="Check for damaged numbers, give the unit with --unit, or export it again.")
    return low, high


def _rounding_notes(vertices: Floats, low: Floats, high: Floats) -> Iterator[Note]:
    """What coordinates kept in 32 bits lose where the body stands far from the origin; a guess from their digits.

    Raises HullError where nothing true is left of the shape.
    """
    step = float(np.abs([low, high]).max()) * float(np.finfo(np.float32).eps)
    if step <= COARSE or not all(np.array_equal(column, column.astype(np.float32)) for column in vertices.T):
        return
    place = ", ".join(f"{middle:.4g}" for middle in (low + high) / 2)
    words = (
        f"the hull stands at ({place}) mm, so far from the origin that its coordinates come in steps of {step:.2g} mm"
    )
    remedy = "Move it to the origin in the program that drew it and export it again."
    if step > SPOILT * float((high - low).max()):
        msg = f"{words}, and its shape is lost in them."
        raise HullError(msg, remedy=remedy)
    yield warning(f"{words[0].upper()}{words[1:]}. {remedy}")


@dataclass(frozen=True, slots=True)
class _Applied:
    """The unit that was applied."""

    unit: str
    mm: float
    """mm in one unit of the file."""
    source: str
    """"file", "option" or "assumed"."""


def _apply_unit(content: Content, option: str | None) -> _Applied:
    if option is not None:
        return _Applied(option, MM_PER_UNIT[option], "option")
    if content.unit is not None and content.mm_per_unit is not None:
        return _Applied(content.unit, content.mm_per_unit, "file")
    return _Applied("mm", 1.0, "assumed")


def _unit_notes(extents: Floats, content: Content, applied: _Applied, *, sized: bool) -> Iterator[Note]:
    size = size_words(extents)
    if applied.source == "assumed":
        yield assumption(f"The file names no unit and was read in mm: {size}. Override with --unit in (or cm, m ...).")
    elif applied.source == "option" and content.unit not in (None, applied.unit):
        yield warning(f"The file says {content.unit}; {applied.unit} was applied as asked: {size}.")
    longest = float(extents.max())
    if sized or SMALLEST_PLAUSIBLE <= longest <= LARGEST_PLAUSIBLE:
        return
    better = _likely_unit(longest / applied.mm, applied.unit)
    way = (
        f"In {better} it would be {longest / applied.mm * MM_PER_UNIT[better]:.5g} mm: --unit {better}"
        if better
        else "Set the size with --length or --scale"
    )
    yield warning(f"A longest side of {longest:.5g} mm is implausible for a body cut out of foam ({size}). {way}.")


def size_words(extents: Floats) -> str:
    """Length, breadth and height (3,) mm in words."""
    metric = " x ".join(f"{side:.5g}" for side in extents)
    inches = " x ".join(f"{side / MM_PER_IN:.4g}" for side in extents)
    return f"{metric} mm ({inches} in)"


def _likely_unit(longest: float, applied: str) -> str | None:
    """The first likely unit that makes `longest` (units of the file) sensible."""
    low, high = SENSIBLE
    return next((u for u in LIKELY_UNITS if u != applied and low <= longest * MM_PER_UNIT[u] <= high), None)
