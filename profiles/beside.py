"""A second process beside this one: it loads the drawing libraries while the hull is still being read, then takes its
share of blocks, templates and pages.

Work is handed over as a function and its values; what comes back is the same as if it had been called here. Large
arrays that nobody can write to, such as those of a surface, go over once and are known by number from then on. On a
machine with one core, or where no process can be started or it dies, the work is done here.

On Linux the second process is a copy of this one and has its libraries already, as long as this one has a single
thread: a copy of several would hold locks that nobody opens. Elsewhere it starts anew.
"""

import contextlib
import gc
import io
import os
import pickle
import signal
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from queue import SimpleQueue
from typing import TYPE_CHECKING, Any, Generic, Protocol, TypeVar

if TYPE_CHECKING:
    from multiprocessing.context import ForkContext, SpawnContext

Item = TypeVar("Item")
Result = TypeVar("Result")
Result_co = TypeVar("Result_co", covariant=True)

LOADING = 5.0
"""s that the other process is given to load its libraries in, when this one has no more use for it."""

LOOK = 0.005
"""s between two looks whether it has."""

LARGE = 1 << 16
"""Bytes from which an array is worth remembering."""


class Awaited(Protocol[Result_co]):
    """Work that has been handed over."""

    def __call__(self) -> Result_co:
        """Its result, waited for."""

    def ready(self) -> bool:
        """Whether the result is there."""


class Submit(Protocol):
    """Takes work over; results come in the order of the questions."""

    def __call__(self, work: Callable[..., Result], *values: object) -> Awaited[Result]:
        """Start `work(*values)`."""


@dataclass(frozen=True, slots=True)
class _Here(Generic[Result]):
    work: Callable[..., Result]
    values: tuple[object, ...]

    def __call__(self) -> Result:
        return self.work(*self.values)

    def ready(self) -> bool:
        return False


def here(work: Callable[..., Result], *values: object) -> Awaited[Result]:
    """The work done in this process, when its result is asked for."""
    return _Here(work, values)


RUN = 1
"""Items that go over at once: enough that asking costs little, few enough that both processes end together."""

AHEAD = 2
"""Runs that the other process has before it, so that it need not wait for the next."""


def shared(submit: Submit, work: Callable[[Sequence[Item]], Sequence[Result]], items: Sequence[Item]) -> list[Result]:
    """`work(items)`, which gives one result or several for each item in order: the first items are worked on here, the
    last in the other process, until the two meet. Who does how much depends on the machine, the result does not.
    """
    if submit is here:
        return list(work(items))
    first, last = 0, len(items)
    done: list[Result] = []
    waiting: list[Awaited[Sequence[Result]]] = []
    while first < last:
        while last - first > RUN and sum(not one.ready() for one in waiting) < AHEAD:
            waiting.append(submit(work, items[last - RUN : last]))
            last -= RUN
        done += work(items[first : first + 1])
        first += 1
    for one in reversed(waiting):
        done += one()
    return done


@contextlib.contextmanager
def second_process(prepare: Callable[[], object]) -> Iterator[Submit]:
    """Work done beside this process for as long as the context lasts; `prepare` is called there first of all."""
    if (os.cpu_count() or 1) < 2:  # noqa: PLR2004 - with one core there is nothing to gain
        yield here
        return
    copied = _single_thread()
    kind: ForkContext | SpawnContext = get_context("fork") if copied else get_context("spawn")
    ours, theirs = kind.Pipe()
    process = kind.Process(target=_serve, args=(theirs, prepare, ours if copied else None), daemon=True)
    try:
        process.start()
    except OSError:
        ours.close()
        theirs.close()
        yield here
        return
    theirs.close()
    line = _Line(ours)
    prepared = line.submit(_nothing)
    try:
        yield line.submit
    finally:
        # Killed while it loads its libraries, it could leave a file that one of them was writing.
        end = time.monotonic() + LOADING
        while not prepared.ready() and process.is_alive() and time.monotonic() < end:
            time.sleep(LOOK)
        process.kill()
        process.join()
        process.close()
        line.close()


def _nothing() -> None:
    """Done when everything before it is."""


def _single_thread() -> bool:
    """Whether this process can be copied: Linux tells how many threads it has, those of libraries too."""
    try:
        return sum(1 for _ in Path("/proc/self/task").iterdir()) == 1
    except OSError:
        return False


class _Line:
    """Our end of the line to the other process; answers come in the order of the questions.

    Questions are sent by a thread: both ends sending at once through a full pipe would otherwise wait for each other.
    """

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._waiting: deque[_Answer[Any]] = deque()
        self._unsent: SimpleQueue[list[Any] | None] = SimpleQueue()
        self._known: dict[int, tuple[int, Any]] = {}
        self._sender = threading.Thread(target=self._send, daemon=True)
        self._sender.start()

    def submit(self, work: Callable[..., Result], *values: object) -> Awaited[Result]:
        answer = _Answer(self, work, values)
        self._waiting.append(answer)
        question = io.BytesIO()
        packer = _Packer(question, self._known)
        packer.dump((work, values))
        labels = [(array.dtype.str, array.shape) for array in packer.fresh]
        self._unsent.put(
            [pickle.dumps(labels), question.getbuffer(), *(array.data.cast("B") for array in packer.fresh)]
        )
        return answer

    def close(self) -> None:
        """When the other process is gone: a question that is still being sent fails."""
        self._unsent.put(None)
        self._sender.join()
        self._connection.close()

    def _send(self) -> None:
        with contextlib.suppress(OSError):
            while (parts := self._unsent.get()) is not None:
                for part in parts:
                    self._connection.send_bytes(part)

    def receive(self, *, wait: bool) -> bool:
        """Take the next answer over, if there is one; False where none will come."""
        try:
            if not wait and not self._connection.poll():
                return False
            answer = pickle.loads(self._connection.recv_bytes())  # noqa: S301 - from our own child over a pipe
        except (EOFError, OSError):
            return False
        self._waiting.popleft().slot.update(answer)
        return True


class _Answer(Generic[Result]):
    """One piece of work that the other process has; where that has died it is done here."""

    def __init__(self, line: _Line, work: Callable[..., Result], values: tuple[object, ...]) -> None:
        self.slot: dict[str, Any] = {}
        self._line, self._work, self._values = line, work, values

    def ready(self) -> bool:
        while not self.slot and self._line.receive(wait=False):
            pass
        return bool(self.slot)

    def __call__(self) -> Result:
        while not self.slot:
            if not self._line.receive(wait=True):
                return self._work(*self._values)
        if "fault" in self.slot:
            raise self.slot["fault"]
        result: Result = self.slot["result"]
        return result


class _Packer(pickle.Pickler):
    """Writes the number of a large read-only array in its place; `fresh` are those that the other side has not got.

    `known` gives the number of an array by its id, and keeps the array, so that its id stays its own.
    """

    def __init__(self, file: io.BytesIO, known: dict[int, tuple[int, Any]]) -> None:
        super().__init__(file)
        self._known = known
        self.fresh: list[Any] = []

    def persistent_id(self, thing: Any) -> int | None:  # noqa: ANN401 - anything at all
        if type(thing).__module__ != "numpy" or type(thing).__name__ != "ndarray":  # numpy need not be loaded here
            return None
        flags = thing.flags
        if (
            flags.writeable
            or not (flags.c_contiguous and flags.owndata)
            or thing.nbytes < LARGE
            or thing.dtype.hasobject
        ):
            return None
        if id(thing) not in self._known:
            self._known[id(thing)] = (len(self._known), thing)
            self.fresh.append(thing)
        return self._known[id(thing)][0]


class _Unpacker(pickle.Unpickler):
    """Puts the arrays back in the places of their numbers."""

    def __init__(self, file: io.BytesIO, known: list[Any]) -> None:
        super().__init__(file)
        self._known = known

    def persistent_load(self, number: int) -> Any:  # noqa: ANN401 - an array
        return self._known[number]


def _question(connection: Connection, known: list[Any]) -> tuple[Callable[..., Any], tuple[Any, ...]]:
    """The next piece of work; the arrays that come with it for the first time are added to `known`."""
    labels, packed = pickle.loads(connection.recv_bytes()), connection.recv_bytes()  # noqa: S301 - from our own parent
    if labels:
        import numpy as np  # noqa: PLC0415 - loaded already, or needed now

        known += [np.frombuffer(connection.recv_bytes(), dtype).reshape(shape) for dtype, shape in labels]
    work, values = _Unpacker(io.BytesIO(packed), known).load()
    return work, values


def _serve(connection: Connection, prepare: Callable[[], object], copied: Connection | None) -> None:
    """The other process: an interrupt is the first process's to answer; the end of the line is the end of the work.

    `copied` is the first process's end of the line where this one is its copy; the line ends only when all copies of
    that end are closed.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if copied:
        copied.close()
    prepare()
    gc.disable()  # it lives for seconds, and what it makes is wanted until then
    answers: SimpleQueue[bytes] = SimpleQueue()
    threading.Thread(target=_answer, args=(connection, answers), daemon=True).start()
    known: list[Any] = []
    with contextlib.suppress(EOFError, OSError):
        while True:
            work, values = _question(connection, known)
            try:
                answer = {"result": work(*values)}
            except Exception as fault:  # noqa: BLE001 - whatever it is, it is raised again in the first process
                answer = {"fault": fault}
            answers.put(pickle.dumps(answer))


def _answer(connection: Connection, answers: "SimpleQueue[bytes]") -> None:
    """Sends answers, so that the next work need not wait until the first process has taken a large one."""
    with contextlib.suppress(OSError):
        while True:
            connection.send_bytes(answers.get())
