"""Work packed for another process, with large arrays laid out once where all processes read them.

Only arrays that nobody can write to are laid out, such as those of a surface: all others are packed with the work.
"""

import contextlib
import io
import mmap
import os
import pickle
from collections.abc import Callable
from dataclasses import field
from typing import TYPE_CHECKING, Any, Protocol

from profiles.values import dataclass

if TYPE_CHECKING:
    from multiprocessing.shared_memory import SharedMemory

LARGE = 1 << 16
"""Bytes from which an array is laid out for all."""

RESERVED = 1 << 32
"""Bytes reserved for arrays before a fork. They cost nothing until an array is laid there."""

NO_RESERVE = 0x4000
"""Linux, MAP_NORESERVE: no memory is promised to a mapping before it is used."""

Place = tuple[str, int, int]
"""Where an array is: the name of a memory segment ("" for the common one), start and end in bytes."""


class Shelf(Protocol):
    """Where arrays are laid out for all processes."""

    def place(self, array: Any) -> Place | None:  # noqa: ANN401 - numpy need not be loaded here
        """Where the array is, laid there if it was not; None where it does not fit."""

    def read(self, place: Place) -> memoryview:
        """The bytes of the array."""

    def clear(self) -> None:
        """All memory given back."""


@dataclass(frozen=True, slots=True)
class Work:
    """Work on its way to a process that reads the same shelf. It is packed when its turn comes."""

    shelf: Shelf
    work: Callable[..., Any]
    values: tuple[Any, ...]
    named: dict[str, Any]

    def __call__(self) -> Any:  # noqa: ANN401 - whatever the work gives
        """The work done in this process."""
        return self.work(*self.values, **self.named)

    def __reduce__(self) -> tuple[type["_Packed"], tuple[bytes]]:
        packed = io.BytesIO()
        _Pickler(packed, self.shelf).dump((self.work, self.values, self.named))
        return _Packed, (packed.getvalue(),)


def read_from(shelf: Shelf) -> None:
    """Work that arrives in this process finds its arrays on this shelf."""
    _here.shelf = shelf


@dataclass(slots=True)
class _Here:
    shelf: Shelf | None = None


_here = _Here()


@dataclass(frozen=True, slots=True)
class _Packed:
    """Work as it arrives."""

    content: bytes

    def __call__(self) -> Any:  # noqa: ANN401 - whatever the work gives
        work, values, named = _Unpickler(io.BytesIO(self.content)).load()
        return work(*values, **named)


Label = tuple[Place, str, tuple[int, ...]]
"""Place, type and shape of an array."""


class _Pickler(pickle.Pickler):
    """Writes the label of a large read-only array instead of the array."""

    def __init__(self, file: io.BytesIO, shelf: Shelf) -> None:
        super().__init__(file, pickle.HIGHEST_PROTOCOL)
        self._shelf = shelf

    def persistent_id(self, thing: Any) -> Label | None:  # noqa: ANN401 - anything at all
        if type(thing).__module__ != "numpy" or type(thing).__name__ != "ndarray":  # numpy need not be loaded here
            return None
        flags = thing.flags
        if flags.writeable or not (flags.c_contiguous and flags.owndata):
            return None
        if thing.nbytes < LARGE or thing.dtype.hasobject:
            return None
        place = self._shelf.place(thing)
        return None if place is None else (place, thing.dtype.str, thing.shape)


class _Unpickler(pickle.Unpickler):
    """Puts the arrays back in the places of their labels."""

    def persistent_load(self, label: Label) -> Any:  # noqa: ANN401 - an array
        import numpy as np  # loaded already, or needed now

        place, kind, shape = label
        if _here.shelf is None:
            message = "no shelf to read arrays from"
            raise pickle.UnpicklingError(message)
        array = np.frombuffer(_here.shelf.read(place), kind).reshape(shape)
        array.setflags(write=False)
        return array


class Mapped:
    """Memory reserved before a fork, which all forks see."""

    def __init__(self) -> None:
        self._known: dict[int, tuple[Any, Place]] = {}
        self._segment: mmap.mmap | None = None
        self._used = 0
        if hasattr(mmap, "MAP_ANONYMOUS"):
            with contextlib.suppress(OSError, ValueError):
                self._segment = mmap.mmap(-1, RESERVED, flags=mmap.MAP_SHARED | mmap.MAP_ANONYMOUS | NO_RESERVE)

    def place(self, array: Any) -> Place | None:  # noqa: ANN401 - as in the protocol
        """Where the array is, laid there if it was not; None where it does not fit."""
        if id(array) not in self._known:
            start, end = self._used, self._used + array.nbytes
            if self._segment is None or end > RESERVED:
                return None
            self._segment[start:end] = array.data.cast("B")
            self._used = -(-end // mmap.PAGESIZE) * mmap.PAGESIZE
            self._known[id(array)] = (array, ("", start, end))  # the array is kept, so that its id stays its own
        return self._known[id(array)][1]

    def read(self, place: Place) -> memoryview:
        """The bytes of the array."""
        _, start, end = place
        return memoryview(self._segment or b"")[start:end]

    def clear(self) -> None:
        """All memory given back."""
        self._known.clear()
        if self._segment:
            self._segment.close()


@dataclass(slots=True)
class Named:
    """A memory segment for each array, found by its name; for processes that are not forks."""

    known: dict[int, tuple[Any, Place]] = field(default_factory=dict)
    segments: dict[str, "SharedMemory"] = field(default_factory=dict)

    def place(self, array: Any) -> Place | None:  # noqa: ANN401 - as in the protocol
        """Where the array is, laid there if it was not; None where it does not fit."""
        from multiprocessing.shared_memory import SharedMemory  # a fork does without

        if id(array) not in self.known:
            if array.nbytes > _left():
                return None
            segment = SharedMemory(create=True, size=array.nbytes)
            self._view(segment)[: array.nbytes] = array.data.cast("B")
            self.segments[segment.name] = segment
            self.known[id(array)] = (array, (segment.name, 0, array.nbytes))
        return self.known[id(array)][1]

    def read(self, place: Place) -> memoryview:
        """The bytes of the array."""
        from multiprocessing.shared_memory import SharedMemory

        name, start, end = place
        if name not in self.segments:
            self.segments[name] = SharedMemory(name)
        return self._view(self.segments[name])[start:end]

    @staticmethod
    def _view(segment: "SharedMemory") -> memoryview:
        assert segment.buf is not None  # noqa: S101 - None once it is closed
        return segment.buf

    def clear(self) -> None:
        """All memory given back."""
        self.known.clear()
        for segment in self.segments.values():
            segment.close()
            segment.unlink()
        self.segments.clear()


def _left() -> int:
    """Bytes of shared memory left. Linux keeps it in a file system that can be small."""
    try:
        left = os.statvfs("/dev/shm")  # noqa: S108 - only asked how much is left
    except (OSError, AttributeError):
        return RESERVED
    return left.f_bavail * left.f_frsize
