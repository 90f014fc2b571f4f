"""What every format's reader returns, and the tools that the readers share.

A reader refuses with a HullError that says what is wrong and where in the file; `loading.load` adds the file's name.
"""

import re
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import field

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.errors import HullError
from profiles.hull.limits import MIB, Limits, check_triangles
from profiles.notes import Note
from profiles.values import dataclass

MOST_NODES = 20_000
"""Nodes or components visited. By instances of instances a small file can name any number."""

PIECE = 16 * MIB
"""Bytes of text split at a time: as Python objects its lines need some thirty times as much."""

TRIPLE = 3
"""Coordinates of a point, and corners of a triangle."""

EXPORT_AGAIN = "Export the file again; it may have been cut short or damaged on its way."


@dataclass(frozen=True, slots=True)
class Content:
    """Triangles as the file gives them, in the file's unit and axes, with every node in its place."""

    vertices: Floats
    """(n, 3) in units of the file."""
    faces: Ints
    """(m, 3) indices into vertices."""
    unit: str | None = None
    """The unit that the file or its format declares, a key of `profiles.units.MM_PER_UNIT`; None where it has none."""
    mm_per_unit: float | None = None
    """mm in one unit of the file, where it declares one (it need not be that of a named unit)."""
    up: str | None = None
    """The axis that the file or its format declares to be up: "x", "y", "z"."""
    notes: tuple[Note, ...] = ()
    welded: bool = False
    """Every vertex is given once, and each is used."""


def parse_numbers(text: bytes, what: str) -> Floats:
    """All numbers of a text separated by white space, as float64 (n,). "nan" and "inf" are numbers.

    Raises HullError naming the first word that is not a number.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("error", DeprecationWarning)
        try:
            return np.fromstring(text, dtype=np.float64, sep=" ") if text.strip() else np.zeros(0)
        except (ValueError, DeprecationWarning):
            pass
    words = text.split()
    return np.array([_number(word, what) for word in words], dtype=np.float64)


def _number(word: bytes, what: str) -> float:
    try:
        return float(word.replace(b"_", b"not part of a number, though Python accepts it"))
    except ValueError:
        shown = word[:40].decode("utf-8", "replace")
        comma = re.fullmatch(rb"[-+]?\d*,\d+([eE][-+]?\d+)?", word)
        remedy = "Export it with decimal points instead of commas." if comma else EXPORT_AGAIN
        msg = f"expected a number in {what}, found {shown!r}."
        raise HullError(msg, remedy=remedy) from None


def parse_integers(text: bytes, what: str) -> Ints:
    """All whole numbers of a text as int64 (n,). Raises HullError for anything else."""
    values = parse_numbers(text, what)
    rounded = np.where(np.isfinite(values), values, 0.5)
    if (rounded != np.floor(rounded)).any() or (np.abs(rounded) > 2**53).any():
        msg = f"expected whole numbers in {what}, found {values[rounded != np.floor(rounded)][:1]}."
        raise HullError(msg, remedy=EXPORT_AGAIN)
    return rounded.astype(np.int64)


def normalize_line_ends(data: bytes) -> bytes:
    """The text with every kind of line end (CR LF, CR, LF) as LF, and without a byte order mark."""
    return data.removeprefix(b"\xef\xbb\xbf").replace(b"\r\n", b"\n").replace(b"\r", b"\n")


def split_lines(text: bytes) -> Iterator[bytes]:
    """A text in pieces of whole lines. Raises HullError for a line longer than PIECE."""
    start = 0
    while start < len(text):
        end = min(start + PIECE, len(text))
        if end < len(text):
            end = text.rfind(b"\n", start, end) + 1
        if end == 0:
            line = text.count(b"\n", 0, start) + 1
            msg = f"line {line} is longer than {PIECE // MIB} MiB."
            raise HullError(msg, remedy=EXPORT_AGAIN)
        yield text[start:end]
        start = end


def concatenate(parts: Sequence[Floats]) -> Floats:
    """Several lists of numbers as one; an empty list for none."""
    return np.concatenate(parts) if parts else np.zeros(0)


def transform_part(vertices: Floats, faces: Ints, matrix: Floats) -> tuple[Floats, Ints]:
    """A part moved by a (4, 4) matrix for column vectors. A matrix that mirrors reverses the faces: outside stays
    outside.
    """
    moved = vertices @ matrix[:3, :3].T + matrix[:3, 3]
    return moved, faces[:, ::-1] if np.linalg.det(matrix[:3, :3]) < 0 else faces


@dataclass(slots=True)
class Tally:
    """Count nodes and triangles, instances of instances included, and refuse too many."""

    limits: Limits = field(default_factory=Limits)
    nodes: int = 0
    triangles: int = 0

    def add(self, *, triangles: int = 0) -> None:
        """Count one more node with its triangles. Raises HullError above either limit."""
        self.nodes += 1
        self.triangles += triangles
        if self.nodes > MOST_NODES:
            msg = f"its parts and their copies come to more than {MOST_NODES} nodes."
            raise HullError(msg, remedy="Export only the hull.")
        check_triangles(self.triangles, self.limits, "triangles or more, every copy counted")


def check_indices(faces: Ints, vertex_count: int, *, first: int = 0) -> None:
    """Refuse a face that names a vertex which is not there; `first` is the number of the format's first vertex."""
    wrong = (faces < 0) | (faces >= vertex_count)
    if not wrong.any():
        return
    number = int(np.nonzero(wrong.reshape(len(faces), -1).any(axis=1))[0][0])
    value = int(faces[wrong][0]) + first
    last = vertex_count - 1 + first
    msg = f"triangle {number + 1} names vertex {value}, but the vertices are numbered from {first} to {last}."
    raise HullError(msg, remedy=EXPORT_AGAIN)
