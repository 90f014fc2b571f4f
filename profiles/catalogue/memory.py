"""How much memory a job may take, known from its file before it starts, and how much there is.

The bound is what the largest jobs took for each byte of their unpacked file (`tests/bench/memory_table.py`), with room
to spare, and never more than the most triangles that are allowed. On Linux a worker keeps to it: the system refuses it
more. A task that needs more, for very many sheets for example, is made again with nothing beside it.
"""

import contextlib
import os
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path

from profiles.values import dataclass

MIB = 1 << 20

WORK = 400 * MIB
"""Bytes for blocks, templates and pages, whatever the file."""

PER_BYTE = 40
"""Bytes for each byte of a binary mesh. A triangle takes up to 490 bytes in memory and 18 in the leanest file."""

PER_CHARACTER = 15
"""The same for a mesh in text, whose leanest triangle has 40 characters."""

PER_TRIANGLE = 800
"""Bytes for each triangle; 490 were measured at most. More triangles than allowed are never read."""

PROCESS = 200 * MIB
"""Bytes of a worker with all libraries loaded and nothing to do."""

SHARE = 0.8
"""Of the free memory that tasks may take; the rest is for this process and for other programs."""

TEXT_SUFFIXES = frozenset((".obj", ".off", ".dae", ".csv", ".svg", ".gltf", ".step", ".stp"))
"""Hull files that are always text."""


def bound(file: Path, most_triangles: int, most_bytes: int) -> int:
    """Bytes that a job of this hull file may take. A file that is not there takes no more than any job."""
    size = min(_unpacked_size(file), most_bytes)
    factor = PER_CHARACTER if file.suffix.lower() in TEXT_SUFFIXES else PER_BYTE
    return WORK + min(size * factor, most_triangles * PER_TRIANGLE)


def _unpacked_size(file: Path) -> int:
    """Bytes of the file when it is unpacked, as it declares; one that lies gets no more memory for it."""
    with contextlib.suppress(OSError, zipfile.BadZipFile, ValueError, NotImplementedError):
        size = file.stat().st_size if file.is_file() else 0
        suffix = file.suffix.lower()
        if suffix == ".gz" and size >= GZIP_LEAST:
            with file.open("rb") as stream:
                stream.seek(-4, os.SEEK_END)
                return max(size, int.from_bytes(stream.read(4), "little"))
        if suffix == ".3mf":
            with zipfile.ZipFile(file) as archive:
                return max(size, sum(entry.file_size for entry in archive.infolist()))
        return size
    return 0


GZIP_LEAST = 18
"""Bytes of head and tail of a gzip file, whose last four are its unpacked size (RFC 1952)."""


def free_memory() -> int:
    """Bytes that this machine can still give, within the limit of its container if it has one."""
    free = [_meminfo(), *_container_rest()]
    known = [size for size in free if size is not None]
    return max(0, min(known)) if known else ASSUMED


ASSUMED = 4 << 30
"""Bytes where the system does not say."""


def _meminfo() -> int | None:
    with contextlib.suppress(OSError, StopIteration, ValueError):
        lines = Path("/proc/meminfo").read_text(encoding="ascii").splitlines()
        return int(next(line for line in lines if line.startswith("MemAvailable")).split()[1]) << 10
    with contextlib.suppress(AttributeError, ValueError, OSError):
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") // 2
    return None


def _container_rest() -> Iterator[int]:
    """What the control group of this process leaves (cgroup v2)."""
    with contextlib.suppress(OSError, ValueError):
        group = Path("/sys/fs/cgroup")
        limit = (group / "memory.max").read_text(encoding="ascii").strip()
        if limit != "max":
            yield int(limit) - int((group / "memory.current").read_text(encoding="ascii"))


@dataclass(slots=True)
class Room:
    """Memory for tasks, given out before they start and taken back when they end."""

    size: int
    taken: int = 0
    tasks: int = 0

    def take(self, wanted: int) -> bool:
        """Whether there is room; a task that has all to itself always gets it."""
        if self.tasks and self.taken + wanted > self.size:
            return False
        self.taken += wanted
        self.tasks += 1
        return True

    def give_back(self, wanted: int) -> None:
        """The task has ended."""
        self.taken -= wanted
        self.tasks -= 1


def room_for(workers: int) -> Room:
    """The memory that tasks may take in so many worker processes of this machine."""
    return Room(int(SHARE * free_memory()) - workers * PROCESS)


@contextlib.contextmanager
def limited(most: int | None) -> Iterator[None]:
    """While this lasts, this process gets at most so many bytes more than it has; on Linux only."""
    if most is None or sys.platform != "linux":
        yield
        return
    import resource  # not on every system

    held = _data_held()
    before = resource.getrlimit(resource.RLIMIT_DATA)
    if held is None:
        yield
        return
    ceiling = held + most if before[1] == resource.RLIM_INFINITY else min(held + most, before[1])
    resource.setrlimit(resource.RLIMIT_DATA, (ceiling, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_DATA, before)


def _data_held() -> int | None:
    """Bytes that count against RLIMIT_DATA now."""
    with contextlib.suppress(OSError, StopIteration, ValueError):
        lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
        return int(next(line for line in lines if line.startswith("VmData")).split()[1]) << 10
    return None
