"""From a task to the order that a worker gets when its turn comes: job, memory that it may take, hull file."""

import json
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from profiles.catalogue.making import OUT_OF_REACH, Failed, Kept, Order, origin_key, other_files
from profiles.catalogue.memory import MIB, PROCESS, bound
from profiles.catalogue.tasks import Task, Words, job_of
from profiles.catalogue.writing import is_made_from
from profiles.errors import ClusterError, StationerError
from profiles.folder import check_free, last_report
from profiles.job import Job
from profiles.units import Figures
from profiles.values import dataclass

PLAIN_GLTF = ".gltf"
"""Its buffers may lie in files of their own, which neither the key nor a cluster's worker would see."""


@dataclass(frozen=True, slots=True)
class Orders:
    """How orders are made."""

    words: Words
    resume: bool = False
    """Whether folders that hold their result already are kept."""
    sends_files: bool = False
    """Whether workers get the bytes of the hull file."""
    expected: Mapping[str, str] | None = None
    """The versions that workers must have."""
    memory: int | None = None
    """Bytes that a worker has, where it is not this machine's."""
    shelf: str | None = None
    """The folder where workers of this machine lay their results."""

    def of(self, task: Task) -> Order | Failed | Kept:
        """The order for a task, or its outcome where that is known before it is made."""
        if task.fault:
            return Failed(task.fault, task.fault_code)
        try:
            return self._of(task, job_of(task, self.words))
        except StationerError as fault:
            return Failed(str(fault), fault.exit_code)
        except OSError as fault:
            return Failed(f"{task.source} cannot be read: {fault.strerror or fault}.", OUT_OF_REACH)

    def _of(self, task: Task, job: Job) -> Order | Kept:
        check_free(task.folder)
        file = Path(job.hull.file)
        if self.resume and (figures := _figures_kept(task.folder, job, file)) is not None:
            return Kept(figures)
        most = bound(file, job.hull.max_triangles, job.hull.max_bytes)
        if self.memory is not None and most + PROCESS > self.memory:
            sizes = f"{(most + PROCESS) // MIB:,} MiB, and a worker has {self.memory // MIB:,} MiB"
            message = f"{file.name} may take {sizes}"
            raise ClusterError(message, remedy="Give workers more with --memory-limit.")
        content = _sent(file, job.hull.max_bytes) if self.sends_files else None
        if content is not None and _refers_to_files(file, content):
            message = f"{file.name} keeps its data in files of its own, which workers of a cluster do not see"
            raise ClusterError(message, remedy="Export it as .glb.")
        if self.sends_files and (others := other_files(job)):
            message = f"{task.source.name} needs {others[0].name}, which workers of a cluster do not see"
            raise ClusterError(message, remedy="Make this job without --cluster.")
        return Order(job, file.name, content, self.expected, most, self.shelf)


def _figures_kept(folder: Path, job: Job, file: Path) -> Figures | None:
    """The figures of the result in the folder, if that is what the job would make."""
    if file.suffix.lower() == PLAIN_GLTF or not folder.is_dir():
        return None
    with suppress(OSError):
        if file.stat().st_size <= job.hull.max_bytes and is_made_from(
            folder, origin_key(job, file.name, file.read_bytes())
        ):
            return last_report(folder)
    return None


def _sent(file: Path, most: int) -> bytes | None:
    """The bytes of the hull file. None for what is no file or too large: its reader says so in its own words."""
    return file.read_bytes() if file.is_file() and 0 < file.stat().st_size <= most else None


def _refers_to_files(file: Path, content: bytes) -> bool:
    if file.suffix.lower() != PLAIN_GLTF:
        return False
    with suppress(ValueError, LookupError, TypeError, AttributeError, RecursionError):
        return any(not str(buffer["uri"]).startswith("data:") for buffer in json.loads(content)["buffers"])
    return False
