"""A bench: the process of one desk. It keeps the hull, draws the coarse picture, and forks for all that takes long.

    server --read, sketch, work, compare, stop--> bench --fork--> making, with a crew of its own
           <--answers, each with the number of its request--

The bench itself has one thread, so that it can be forked at any time; a fork has the hull without reading it again. A
fork is killed when a newer wish comes. Everything here works in the desk's own folder.
"""

import contextlib
import gc
import json
import os
import selectors
import signal
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import NoReturn

from profiles.build import plan_job, read_job
from profiles.desk.figures import ghost, note_rows
from profiles.desk.frames import HEAD, Message, lengths, packed, table_of
from profiles.desk.making import compare_rows, make, write_json
from profiles.desk.numbers import pack, pack_mesh, plain
from profiles.desk.sketch import Sketch, coarse_mesh, ghost_mesh, sketch_of
from profiles.desk.wishes import WishError, job_from
from profiles.errors import StationerError
from profiles.hull.frame import Hull
from profiles.hull.loading import printable_name
from profiles.job import Job
from profiles.report import hull_figures
from profiles.results import kerf_test_pdf, load_libraries
from profiles.units import print_lengths_in
from profiles.values import dataclass
from profiles.workers import MOST, cores, workers

STUCK = 'an error that Stationer does not know ("{}"). Try other settings, or report it with the file.'
"""What is said of a fault that no rule foresaw; the page and the other desks go on."""

LATER = 5
"""How much work that takes long gives way to the picture that the hand on the slider waits for (`os.nice`)."""

NO_MEMORY = "this job needs more memory than there is. Close other programs, or reduce the mesh."


@dataclass(slots=True)
class _Child:
    """A fork at work."""

    process: int
    answers: int
    """The end of its pipe that is read."""
    request: int


@dataclass(frozen=True, slots=True)
class _Model:
    """The hull of the desk."""

    hull: Hull
    sketch: Sketch


class Bench:
    """The hull of one desk, and what is done with it."""

    def __init__(self, requests: int, answers: int) -> None:
        self._requests, self._answers = requests, answers
        self._model: _Model | None = None
        self._children: dict[str, _Child] = {}
        self._selector = selectors.DefaultSelector()
        self._selector.register(requests, selectors.EVENT_READ, None)

    def run(self) -> None:
        """Answer requests until the server closes the pipe."""
        do: dict[str, Callable[[Message], None]] = {
            "read": self._read,
            "sketch": self._sketch,
            "kerf test": self._kerf_test,
            "work": lambda request: self._fork("work", request),
            "compare": lambda request: self._fork("compare", request),
            "stop": self._stop,
            "move": self._move,
        }
        while True:
            for key, _ in self._selector.select():
                if key.data is not None:
                    self._pass_on(key.data)
                    continue
                head = _take(self._requests, HEAD.size)
                if not head:
                    return
                request = table_of(_take(self._requests, lengths(head)[0]))
                do[request["do"]](request)

    def close(self) -> None:
        """End all forks."""
        for what in list(self._children):
            self._end(what)

    def _say(self, request: Message, message: Message, content: bytes = b"") -> None:
        _give(self._answers, packed({"request": request["request"]} | message, content))

    def _answer(self, request: Message, work: Callable[[], tuple[Message, bytes]]) -> None:
        """Answer with what the work gives, or with its fault."""
        try:
            message, content = work()
        except Exception as fault:  # noqa: BLE001 - a bench answers whatever happens
            self._say(request, {"fault": fault_of(fault, request)})
            return
        self._say(request, message, content)

    def _stop(self, request: Message) -> None:
        child = self._children.get(request["what"])
        if child is not None and child.request == request["number"]:
            self._end(request["what"])
        self._say(request, {})

    def _move(self, request: Message) -> None:
        os.chdir(request["folder"])
        self._say(request, {})

    # ---- here, at once ---------------------------------------------------------------------------------------------

    def _read(self, request: Message) -> None:
        self.close()
        self._model = None
        gc.collect()
        self._answer(request, lambda: self._read_hull(request))

    def _read_hull(self, request: Message) -> tuple[Message, bytes]:
        job = _job_of(request)
        with print_lengths_in(job.output.units):
            hull = read_job(job)
            title = _title_of(request["name"])
            if hull.name == _title_of(request["file"]):  # a table or a drawing may name itself
                hull = replace(hull, name=title)
            self._model = _Model(hull, sketch_of(hull))
            write_json(Path("ghost.json"), ghost(ghost_mesh(self._model.sketch)))
            Path("views.svg").write_bytes(_views(hull))
            figures = {"figures": hull_figures(hull), "notes": note_rows(hull.notes)}
        gc.freeze()  # what is there now is not looked through again, here or in a fork
        return figures, b""

    def _sketch(self, request: Message) -> None:
        self._answer(request, lambda: self._coarse(request))

    def _coarse(self, request: Message) -> tuple[Message, bytes]:
        job = _job_of(request)
        if self._model is None or job.foam.thickness is None:
            return {}, b""
        hull = self._model.hull
        quick = replace(job.foam, fit=None, as_measured=False, built=None, built_length=None)  # these take long
        stations = plan_job(replace(job, foam=quick), hull)
        mesh, numbers = coarse_mesh(self._model.sketch, stations.spans)
        picture = {
            "wish": request["wish"],
            "foam": plain(stations.foam),
            "length": plain(hull.length),
            "stations": [plain(x) for x in stations.stations],
            "blocks": [
                {
                    "number": span.number,
                    "x_fore": plain(span.x_fore),
                    "x_aft": plain(span.x_aft),
                    "thickness": plain(span.thickness),
                    "full": span.full,
                }
                for span in stations.spans
            ],
            "mesh": pack_mesh(*mesh),
            "triangle_blocks": pack(numbers, "i4"),
        }
        return {}, json.dumps(picture).encode()

    def _kerf_test(self, request: Message) -> None:
        self._answer(request, lambda: ({}, kerf_test_pdf(_job_of(request))))

    # ---- in a fork -------------------------------------------------------------------------------------------------

    def _fork(self, what: str, request: Message) -> None:
        self._end(what)
        model = self._model
        if model is None:
            self._say(request, {"fault": {"message": "There is no hull yet. Choose a file first.", "code": 3}})
            return
        reading, writing = os.pipe()
        process = os.fork()
        if not process:
            for pipe in (reading, self._requests, self._answers):
                os.close(pipe)
            _work_in_fork(what, request, model, writing)
        os.close(writing)
        self._children[what] = _Child(process, reading, request["request"])
        self._selector.register(reading, selectors.EVENT_READ, what)

    def _pass_on(self, what: str) -> None:
        """One message of a fork, to the server; where there is none, the fork has ended."""
        child = self._children.get(what)
        if child is None:
            return
        head = _take(child.answers, HEAD.size)
        if not head:
            self._end(what)
            self._say({"request": child.request}, {"ended": True})
            return
        table, content = lengths(head)
        message = table_of(_take(child.answers, table))
        self._say({"request": child.request}, message, _take(child.answers, content))

    def _end(self, what: str) -> None:
        """End a fork at once; its crew ends with it."""
        child = self._children.pop(what, None)
        if child is None:
            return
        self._selector.unregister(child.answers)
        os.close(child.answers)
        with contextlib.suppress(ProcessLookupError):
            os.kill(child.process, signal.SIGKILL)
        os.waitpid(child.process, 0)


def _work_in_fork(what: str, request: Message, model: _Model, answers: int) -> NoReturn:
    """The work of a fork, which ends with it."""

    def say(message: Message) -> None:
        _give(answers, packed(message))

    os.nice(LATER)
    try:
        job = _job_of(request)
        with workers(min(cores(), MOST) - 1, _nothing) as executor:
            if what == "work":
                make(job, model.hull, Path(request["folder"]), request["job"], say, executor)
            else:
                rows = compare_rows(job, model.hull, request["foams"], request["fits"], executor)
                say({"rows": rows})
        say({"done": True})
    except BaseException as fault:  # noqa: BLE001 - the fork must not go on as a second bench
        with contextlib.suppress(OSError):
            say({"fault": fault_of(fault, request)})
    os._exit(0)


def _nothing() -> None:
    """All libraries are there."""


def _job_of(request: Message) -> Job:
    return job_from(request["settings"], request["file"], request["name"])


def _title_of(name: str) -> str:
    """The name of a hull by its file, as the command line has it."""
    plain_name = name[:-3] if name.lower().endswith(".gz") else name
    return printable_name(Path(plain_name).stem)


def _views(hull: Hull) -> bytes:
    from profiles.paper.svg import drawing_svg
    from profiles.pictures.views import picture_of

    return drawing_svg(picture_of(hull), title=hull.name).encode()


def fault_of(fault: BaseException, request: Message) -> Message:
    """A fault as the page shows it: the sentence of the command line, with the file's name as the user knows it."""
    if isinstance(fault, WishError):
        faults = [{"part": one.part, "key": one.key, "message": one.message} for one in fault.faults]
        return {"message": str(fault), "code": fault.exit_code, "faults": faults}
    if isinstance(fault, StationerError):
        file, name = request.get("file") or "\0", request.get("name") or ""
        words = str(fault)
        begin = words if words.startswith(file) else words[:1].upper() + words[1:]
        return {"message": begin.replace(file, name), "code": fault.exit_code}
    if isinstance(fault, MemoryError):
        return {"message": NO_MEMORY.capitalize(), "code": 3}
    kind = f"{type(fault).__name__}: {fault}"[:200]
    return {"message": f"This job met {STUCK.format(kind)}", "code": 3}


def _take(pipe: int, count: int) -> bytes:
    """So many bytes of a pipe; none where it is closed."""
    taken = bytearray()
    while len(taken) < count:
        some = os.read(pipe, count - len(taken))
        if not some:
            return b""
        taken += some
    return bytes(taken)


def _give(pipe: int, content: bytes) -> None:
    """All bytes into a pipe."""
    view = memoryview(content)
    while view:
        view = view[os.write(pipe, view) :]


def main() -> None:
    """The process: libraries first, then requests from standard input until it is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server's to answer
    requests, answers = os.dup(0), os.dup(1)
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    os.dup2(2, 1)  # a library that prints does not spoil a message
    load_libraries()
    bench = Bench(requests, answers)
    try:
        bench.run()
    except BrokenPipeError:
        pass
    finally:
        bench.close()


if __name__ == "__main__":
    main()
