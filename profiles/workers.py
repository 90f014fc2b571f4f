"""Worker processes as a `concurrent.futures` executor: as many as asked for, ended with their context.

On Linux, workers are forked where this process has a single thread: they have its libraries already. A fork of several
threads would hold locks that nobody opens, so elsewhere workers start as new interpreters ("spawn").

Large arrays that nobody can write to, such as those of a surface, are laid out once where every worker reads them. All
else goes over with each piece of work.
"""

import contextlib
import gc
import os
import signal
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from functools import partial
from multiprocessing import active_children, get_context
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any, TypeVar

from profiles import interrupts
from profiles.handover import Mapped, Named, Shelf, Work, read_from
from profiles.values import dataclass

Result = TypeVar("Result")

LOADING = 5.0
"""s that a worker is given to load its libraries in before it is killed: killed earlier, it could leave a file that one
of them was writing."""

MOST = 16
"""Processes that work unless more are asked for: what cannot be shared takes as long as a few blocks."""

AHEAD = 1
"""Pieces of work that lie ready beside those in work, so that no worker waits for its next."""


def cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextlib.contextmanager
def workers(number: int, prepare: Callable[[], object], method: str | None = None) -> Iterator[Executor | None]:
    """An executor of `number` processes; `prepare` is called first of all in each. None with fewer than one, or where
    none can be started. `method` is "fork" or "spawn", chosen by the system unless given.

    Interrupts are this process's to answer: workers never see them, and they end with it, however it ends.
    """
    if number < 1:
        yield None
        return
    crew = _Crew(number, prepare, method or ("fork" if _single_thread() else "spawn"))
    with interrupts.before_end(crew.stop):
        try:
            yield crew if crew.begin() else None
        finally:
            crew.stop()
            crew.shutdown()


def _single_thread() -> bool:
    """Whether this process can be forked: Linux shows how many threads it has, those of libraries too."""
    try:
        return sum(1 for _ in Path("/proc/self/task").iterdir()) == 1
    except OSError:
        return False


class _Crew(Executor):
    """A process pool whose large arrays go over once, and whose processes end at once."""

    def __init__(self, number: int, prepare: Callable[[], object], method: str) -> None:
        context = get_context(method)
        forked = method == "fork"
        self._number = number
        self._others = set(active_children())
        self._shelf: Shelf = Mapped() if forked else Named()
        leash, self._leash = context.Pipe(duplex=False)
        begin = _Beginning(prepare, leash, *((self._leash, self._shelf) if forked else (None, None)))
        self._pool = ProcessPoolExecutor(number, mp_context=context, initializer=begin)
        self._lock = threading.RLock()
        self._waiting: deque[tuple[Future[Any], Work]] = deque()
        self._under_way = 0

    def begin(self) -> bool:
        """Whether the processes have been started: a fork starts all at once, "spawn" one for each piece of work."""
        try:
            with _kept_from_workers():
                for _ in range(self._number):
                    self._pool.submit(_nothing)
        except OSError:
            return False
        return True

    def submit(self, work: Callable[..., Result], /, *values: Any, **named: Any) -> Future[Result]:  # noqa: ANN401
        """As any executor does."""
        future: Future[Result] = Future()
        self._waiting.append((future, Work(self._shelf, work, values, named)))
        self._hand_over()
        return future

    def _hand_over(self) -> None:
        """Work goes to the pool when a worker is about to need it; until then it can be cancelled.

        The pool itself takes more than it has workers for, and in Python 3.11 it never answers if a worker dies while
        work is cancelled.
        """
        with self._lock:
            while self._waiting and self._under_way < self._number + AHEAD:
                future, work = self._waiting.popleft()
                if not future.set_running_or_notify_cancel():
                    continue
                self._under_way += 1
                try:
                    given: Future[Any] = self._pool.submit(work)
                except RuntimeError as lost:  # broken, or shut down
                    self._under_way -= 1
                    future.set_exception(lost if isinstance(lost, BrokenExecutor) else BrokenExecutor(str(lost)))
                    continue
                given.add_done_callback(partial(self._answered, future))

    def _answered(self, future: Future[Any], given: Future[Any]) -> None:
        fault = given.exception()
        if fault is None:
            future.set_result(given.result())
        else:
            future.set_exception(fault)
        with self._lock:
            self._under_way -= 1
        self._hand_over()

    def stop(self) -> None:
        """End the processes, whatever they do. Takes no lock, so it can be called in the middle of anything."""
        own = [process for process in active_children() if process not in self._others]
        for process in own:
            process.terminate()
        _ended(own, LOADING)
        for process in own:
            process.kill()
        _ended(own, LOADING)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = True) -> None:  # noqa: FBT001, FBT002 - the base's
        """As any executor does; nothing that is under way is waited for."""
        if cancel_futures:
            with self._lock:
                while self._waiting:
                    self._waiting.popleft()[0].cancel()
        self._leash.close()
        self._pool.shutdown(wait)
        self._shelf.clear()


def _ended(processes: list[BaseProcess], patience: float) -> None:
    """Wait until all have ended, for so many seconds at most."""
    end = time.monotonic() + patience
    for process in processes:
        process.join(max(0.0, end - time.monotonic()))


@contextlib.contextmanager
def _kept_from_workers() -> Iterator[None]:
    """A process that is started here does not get to see an interrupt, nor SIGTERM before it is ready for it."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


# ---- in a worker ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Beginning:
    """What a worker does first. It ends when the first process ends: nobody then holds the other end of the leash."""

    prepare: Callable[[], object]
    leash: Connection
    copied: Connection | None
    """The first process's end of the leash, in a fork."""
    shelf: Shelf | None
    """Arrays laid out, in a fork."""

    def __call__(self) -> None:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        if self.copied:
            self.copied.close()
        read_from(self.shelf or Named())
        threading.Thread(target=self._watch, daemon=True).start()
        self.prepare()
        gc.disable()  # it lives for seconds, and what it makes is wanted until then
        if hasattr(signal, "pthread_sigmask"):
            signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGTERM})

    def _watch(self) -> None:
        with contextlib.suppress(EOFError, OSError):
            self.leash.recv_bytes()
        os._exit(1)


def _nothing() -> None:
    """Work that only needs a process."""
