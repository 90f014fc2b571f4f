"""One task made whole in the process that calls it, which writes nothing: files as bytes and a row of figures.

A worker keeps the hull that it read last: with another foam the same file is not read again.
"""

import contextlib
import gc
import hashlib
import importlib.metadata
import json
import pickle
import platform
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from profiles import __version__
from profiles.build import Build, build, build_or_propose, read_job
from profiles.catalogue.memory import limited
from profiles.cuts.settings import DIGITS
from profiles.errors import StationerError
from profiles.hull.frame import Hull
from profiles.job import Job
from profiles.layout import PLAN_FORMAT
from profiles.paper.fonts import cairo_library, font_in_use
from profiles.results import load_libraries, render_build
from profiles.units import Figures, PrintUnit, print_lengths_in
from profiles.values import dataclass

ORIGIN = "made-from.json"
"""A file beside the others that says what a folder was made from, so that --resume knows it again."""

LIBRARIES = ("numpy", "scipy", "shapely", "trimesh", "highspy", "svgwrite", "cairosvg", "cairocffi", "ezdxf", "pikepdf")
"""What the bytes of a result depend on, besides the program and the font."""

OWN_FAULT = 4
"""Exit code of a task that stumbles over a fault of this program: no result that it can vouch for."""

OUT_OF_REACH = 3
"""Exit code of a task for which there was too little memory, no worker or no disk."""


@dataclass(frozen=True, slots=True)
class Order:
    """A task as a worker gets it."""

    job: Job
    name: str
    """Of the hull file, for messages and pages."""
    content: bytes | None = None
    """Of the hull file, for a worker that may not see this machine's disk; None: it is read where `job` says."""
    expected: Mapping[str, str] | None = None
    """The versions that the worker must have; None: it is a process of this machine."""
    memory: int | None = None
    """Bytes that the task may take beyond what the worker holds; None: whatever there is."""
    shelf: str | None = None
    """A folder for results, where they are not to go through the pipe of a process pool; see `Laid`."""


@dataclass(frozen=True, slots=True)
class Made:
    """A result: the files of its folder, and its figures as report.json has them."""

    files: dict[str, bytes]
    figures: Figures
    seconds: float


@dataclass(frozen=True, slots=True)
class Failed:
    """Why there is no result."""

    message: str
    code: int
    seconds: float = 0.0
    short_of_memory: bool = False
    """Whether it is worth another try with more memory."""


@dataclass(frozen=True, slots=True)
class Kept:
    """The folder holds this result already."""

    figures: Figures


Outcome = Made | Failed | Kept


@dataclass(frozen=True, slots=True)
class Laid:
    """Where an outcome lies that was too large for a pipe.

    A process pool waits for ever for the rest of a message when the process that sends it is killed. A message as
    short as this one is written in one piece (PIPE_BUF of POSIX).
    """

    file: str

    def take(self) -> Outcome:
        """The outcome, taken away. Raises OSError."""
        file = Path(self.file)
        with file.open("rb") as stream:
            outcome: Outcome = pickle.load(stream)  # noqa: S301 - in a folder that only this user can enter
        file.unlink()
        return outcome


def prepare() -> None:
    """Everything loaded that a task needs, and kept out of the garbage collector's way."""
    load_libraries()
    font_in_use()
    gc.freeze()


def make_order(order: Order) -> Outcome | Laid:
    """The result of a task, or a sentence that says why there is none. Raises nothing."""
    outcome = _outcome(order)
    if order.shelf is None:
        return outcome
    try:
        with tempfile.NamedTemporaryFile(dir=order.shelf, delete=False) as stream:
            pickle.dump(outcome, stream, pickle.HIGHEST_PROTOCOL)
        return Laid(stream.name)
    except OSError as fault:
        message = f"The system refused a temporary file: {fault.strerror or fault}."
        return Failed(message, OUT_OF_REACH, outcome.seconds)


def _outcome(order: Order) -> Made | Failed:
    gc.enable()  # a worker lives for many tasks
    start = time.monotonic()
    try:
        with limited(order.memory), print_lengths_in(order.job.output.units):
            check_versions(order.expected)
            return _make(order, start)
    except StationerError as fault:
        message, code, short = str(fault), fault.exit_code, False
    except MemoryError:
        message, code, short = "This job needs more memory than there is. Reduce the mesh.", OUT_OF_REACH, True
    except OSError as fault:
        message, code, short = f"The system refused: {fault.strerror or fault}.", OUT_OF_REACH, False
    except Exception as fault:  # noqa: BLE001 - one task must not stop the others
        words = " ".join(str(fault).split())[:200]
        message = f"A fault of Stationer stopped this job ({type(fault).__name__}: {words}). Please report it."
        code, short = OWN_FAULT, False
    finally:
        gc.collect()
    return Failed(message, code, time.monotonic() - start, short)


def _make(order: Order, start: float) -> Made:
    with _hull_file(order) as file:
        job = replace(order.job, hull=replace(order.job.hull, file=str(file)))
        content = file.read_bytes() if file.is_file() and file.stat().st_size <= job.hull.max_bytes else b""
        key = origin_key(job, order.name, content)
        results = render_build(_build(job, (key_of_content(content), str(job.hull), job.output.units)))
    origin = {"made_from": key, "files": {name: len(data) for name, data in sorted(results.files.items())}}
    files = results.files | {ORIGIN: (json.dumps(origin, indent=1) + "\n").encode()}
    return Made(files, results.figures, time.monotonic() - start)


@contextmanager
def _hull_file(order: Order) -> Iterator[Path]:
    """The hull file on this machine's disk, under its own name."""
    if order.content is None:
        yield Path(order.job.hull.file)
        return
    with tempfile.TemporaryDirectory(prefix="stationer-") as folder:
        file = Path(folder) / order.name
        file.write_bytes(order.content)
        yield file


# ---- the hull that was read last ---------------------------------------------------------------------------------

HullKey = tuple[str, str, PrintUnit]

_last: dict[HullKey, Hull] = {}
"""At most one hull."""


def _build(job: Job, key: HullKey) -> Build:
    if job.foam.thickness is None or key not in _last:
        _last.clear()
    if job.foam.thickness is None:
        return build_or_propose(job)[0]
    if key not in _last:
        _last[key] = read_job(job)
    return build(job, hull=_last[key])


# ---- what a result was made from ---------------------------------------------------------------------------------


def key_of_content(content: bytes) -> str:
    """SHA-256 of a file."""
    return hashlib.sha256(content).hexdigest()


def origin_key(job: Job, name: str, content: bytes) -> str:
    """What a result is made from, as 64 characters: hull file, settings, program, libraries and font.

    Known without reading the hull. Two tasks with one key give the same bytes.
    """
    settings = replace(job, hull=replace(job.hull, file=name), output=replace(job.output, folder=None))
    digest = hashlib.sha256(json.dumps([repr(settings), versions()], sort_keys=True).encode())
    digest.update(content)
    for file in other_files(job):
        with contextlib.suppress(OSError):
            digest.update(hashlib.sha256(file.read_bytes()).digest())
    return digest.hexdigest()


def other_files(job: Job) -> list[Path]:
    """Files that a job needs besides its hull: artwork and aerofoils."""
    aerofoils = [cutout.aerofoil.strip() for cutout in job.cutouts]
    named = [marking.file for marking in job.markings]
    named += [words for words in aerofoils if words and not DIGITS.fullmatch(words)]
    return [Path(name) for name in named if Path(name).is_file()]


def versions() -> dict[str, str]:
    """Versions of all that the bytes of a result depend on, by name."""
    if not _versions:
        from shapely import geos_version_string  # slow to import, and loaded by now

        cairo = cairo_library()
        _versions.update({name: importlib.metadata.version(name) for name in LIBRARIES})
        _versions["stationer"] = f"{__version__}, plan {PLAN_FORMAT}"
        _versions["geos"] = geos_version_string
        _versions["cairo"] = "none" if cairo is None else cairo.cairo_version_string()
        _versions["font"] = font_in_use().family
        _versions["python"] = ".".join(platform.python_version_tuple()[:2])
        _versions["machine"] = platform.machine()
    return dict(_versions)


_versions: dict[str, str] = {}


def different_versions(here: Mapping[str, str], there: Mapping[str, str]) -> str:
    """What differs, in words: "numpy 2.1 (here 2.0)"; empty where nothing does."""
    names = sorted(here.keys() | there.keys())
    return ", ".join(
        f"{name} {there.get(name, 'missing')} (here {here.get(name, 'missing')})"
        for name in names
        if here.get(name) != there.get(name)
    )


def check_versions(expected: Mapping[str, str] | None) -> None:
    """Raise StationerError in a worker whose results would not be the same bytes."""
    difference = "" if expected is None else different_versions(expected, versions())
    if difference:
        message = f"the worker {platform.node()} has other versions: {difference}"
        raise StationerError(message, remedy="Install the same on all machines.")
