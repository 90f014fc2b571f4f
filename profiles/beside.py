"""A second process beside this one: it loads the drawing libraries while the hull is still being read, then takes its
share of templates and pages.

Work is handed over as a function and its values; what comes back is the same as if it had been called here. Large
arrays that nobody can write to, such as those of a surface, go over once and are known by number from then on. On a
machine with one core, or where no process can be started or it dies, the work is done here.
"""

import contextlib
import gc
import io
import os
import pickle
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator
from multiprocessing import get_context
from multiprocessing.connection import Connection
from queue import SimpleQueue
from typing import Any, Protocol, TypeVar

Result = TypeVar("Result")

LARGE = 1 << 16
"""Bytes from which an array is worth remembering."""


class Submit(Protocol):
    """Takes work over and returns a function that waits for its result; results are waited for in order."""

    def __call__(self, work: Callable[..., Result], *values: object) -> Callable[[], Result]:
        """Start `work(*values)`."""


def here(work: Callable[..., Result], *values: object) -> Callable[[], Result]:
    """The work done in this process, when its result is asked for."""
    return lambda: work(*values)


@contextlib.contextmanager
def second_process(prepare: Callable[[], object]) -> Iterator[Submit]:
    """Work done beside this process for as long as the context lasts; `prepare` is called there first of all."""
    if (os.cpu_count() or 1) < 2:  # noqa: PLR2004 - with one core there is nothing to gain
        yield here
        return
    spawn = get_context("spawn")
    ours, theirs = spawn.Pipe()
    process = spawn.Process(target=_serve, args=(theirs, prepare), daemon=True)
    try:
        process.start()
    except OSError:
        ours.close()
        theirs.close()
        yield here
        return
    theirs.close()
    line = _Line(ours)
    try:
        yield line.submit
    finally:
        process.kill()
        process.join()
        process.close()
        line.close()


class _Line:
    """Our end of the line to the other process; answers come in the order of the questions.

    Questions are sent by a thread: both ends sending at once through a full pipe would otherwise wait for each other.
    """

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._waiting: deque[dict[str, Any]] = deque()
        self._unsent: SimpleQueue[list[Any] | None] = SimpleQueue()
        self._known: dict[int, tuple[int, Any]] = {}
        self._sender = threading.Thread(target=self._send, daemon=True)
        self._sender.start()

    def submit(self, work: Callable[..., Result], *values: object) -> Callable[[], Result]:
        slot: dict[str, Any] = {}
        self._waiting.append(slot)
        question = io.BytesIO()
        packer = _Packer(question, self._known)
        packer.dump((work, values))
        labels = [(array.dtype.str, array.shape) for array in packer.fresh]
        self._unsent.put(
            [pickle.dumps(labels), question.getbuffer(), *(array.data.cast("B") for array in packer.fresh)]
        )
        return lambda: self._awaited(slot, work, values)

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

    def _awaited(self, slot: dict[str, Any], work: Callable[..., Result], values: tuple[object, ...]) -> Result:
        while not slot:
            try:
                answer = pickle.loads(self._connection.recv_bytes())  # noqa: S301 - from our own child over a pipe
            except (EOFError, OSError):
                return work(*values)
            self._waiting.popleft().update(answer)
        if "fault" in slot:
            raise slot["fault"]
        result: Result = slot["result"]
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


def _serve(connection: Connection, prepare: Callable[[], object]) -> None:
    """The other process: an interrupt is the first process's to answer; the end of the line is the end of the work."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    prepare()
    gc.disable()  # it lives for seconds, and what it makes is wanted until then
    known: list[Any] = []
    with contextlib.suppress(EOFError, OSError):
        while True:
            work, values = _question(connection, known)
            try:
                answer = {"result": work(*values)}
            except Exception as fault:  # noqa: BLE001 - whatever it is, it is raised again in the first process
                answer = {"fault": fault}
            connection.send_bytes(pickle.dumps(answer))
