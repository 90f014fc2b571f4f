"""From the words of a call to its tasks: each file with each foam, and the folder that each will write.

Folders are known before anything starts, so that no two tasks write into the same one.
"""

import os
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from profiles.errors import FolderError, StationerError, WordsError
from profiles.job import Job
from profiles.jobfile import Overrides, load_job
from profiles.values import dataclass

JOB_SUFFIX = ".toml"
OUTPUT = Path("output")
"""Where results go that nobody gave a folder."""

FOLDER_KEY = ("output", "folder")
FOAM_KEY = ("foam", "thickness")


@dataclass(frozen=True, slots=True)
class Words:
    """What all tasks of a call share."""

    overrides: Overrides
    """Options of the command line but for foam and folder: (part, key) of the job -> value."""
    options: Mapping[tuple[str, str], str]
    """(part, key) of the job -> the option as it is typed, for messages."""
    root: Path | None
    """The folder that all results go into, if one was named."""


@dataclass(frozen=True, slots=True)
class Task:
    """One file with one foam."""

    source: Path
    foam: str | None
    """The thickness as it was typed; None where the file names it."""
    folder: Path
    """Where the result goes."""
    fault: str = ""
    """Why nothing can be made of it, where that is known already."""
    fault_code: int = 0

    @property
    def name(self) -> str:
        """What the task is called in the table."""
        return self.folder.name


def stem(source: Path) -> str:
    """The file's name without its suffixes: "hull.stl.gz" -> "hull"."""
    name = source.name.removesuffix(".gz").removesuffix(".GZ")
    return Path(name).stem or "hull"


def result_folder(folder: Path, blocks: Sequence[int]) -> Path:
    """The folder of a job: for the sheets of some blocks one beside it, so that the whole job stays as it is."""
    return folder.with_name(f"{folder.name}-blocks-{'-'.join(map(str, blocks))}") if blocks else folder


def job_of(task: Task, words: Words) -> Job:
    """The job of a task. Raises JobError and WordsError, all faults at once."""
    return _load(task.source, task.foam, words)


def _load(source: Path, foam: str | None, words: Words) -> Job:
    overrides = dict(words.overrides)
    if foam is not None:
        overrides[FOAM_KEY] = foam
    return load_job(source, overrides, words.options)


def make_tasks(sources: Sequence[Path], foams: Sequence[str], words: Words) -> list[Task]:
    """The tasks in order: the first file with every foam, then the next.

    A job file that cannot be read is a task with its fault. Raises WordsError where the options themselves are at fault
    or two tasks would write into the same folder.
    """
    blocks = _load(Path("hull.stl"), foams[0] if foams else None, words).paper.blocks
    tasks = [task for source in sources for task in _tasks_of(source, foams, words, blocks)]
    refuse_clashes(tasks)
    return tasks


def _tasks_of(source: Path, foams: Sequence[str], words: Words, blocks: Sequence[int]) -> Iterator[Task]:
    every: Sequence[str | None] = foams or [None]
    for foam in every:
        fault, code, folder = "", 0, None
        if source.suffix.lower() == JOB_SUFFIX:
            try:
                job = _load(source, foam, words)
                folder, blocks = job.output.folder, job.paper.blocks
            except StationerError as found:
                fault, code = str(found), found.exit_code
        place = Path(folder) if folder and words.root is None else (words.root or OUTPUT) / stem(source)
        if len(foams) > 1:
            place = place.with_name(f"{place.name}-{_as_name(foam or '')}")
        yield Task(source, foam, result_folder(place, blocks), fault, code)


def _as_name(foam: str) -> str:
    """A thickness as part of a folder's name: "1.5 in" -> "1.5-in"."""
    return re.sub(r"[^\w.]+", "-", foam.strip()).strip("-")


MOST_CLASHES = 5
"""Clashes that a message names."""


def refuse_clashes(tasks: Sequence[Task]) -> None:
    """Raise WordsError where two tasks have one folder, or the folder of one lies in that of another.

    Names that differ only in capitals count as equal, since many disks see it so.
    """
    places: dict[str, Task] = {}
    clashes = []
    for task in tasks:
        place = _place(task.folder)
        if place in places:
            clashes.append(f"{places[place].source} and {task.source} would both be written to {task.folder}")
        places.setdefault(place, task)
    for place, task in places.items():
        above = next((other for other in _parents(place) if other in places), None)
        if above is not None:
            clashes.append(f"{task.folder} would lie inside {places[above].folder}")
    if clashes:
        more = [f"and {len(clashes) - MOST_CLASHES} more"] if len(clashes) > MOST_CLASHES else []
        message = "; ".join([*clashes[:MOST_CLASHES], *more])
        raise WordsError(message, remedy="Rename a file, or make these in calls of their own with another --out.")


def _place(folder: Path) -> str:
    return str(folder.parent.resolve() / folder.name).casefold()


def _parents(place: str) -> Iterator[str]:
    """The folders above one."""
    while (above := os.path.dirname(place)) != place:  # noqa: PTH120 - text, a hundred thousand times
        yield above
        place = above


def refuse_root(root: Path, tasks: Sequence[Task]) -> None:
    """Raise FolderError where the table of all cannot be written into the root, WordsError where it is a task's own."""
    if root.exists() and not root.is_dir():
        message = f"{root} is not a folder."
        raise FolderError(message, remedy="Choose another with --out.")
    place = str(root.resolve()).casefold()
    own = next((task for task in tasks if _place(task.folder) == place), None)
    if own is not None:
        message = f"{own.source} would be written to {own.folder}, where the table of all jobs goes"
        raise WordsError(message, remedy="Choose another folder for the table with --out.")
