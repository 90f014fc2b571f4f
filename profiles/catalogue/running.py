"""Tasks given to an executor as fast as it takes them, and their outcomes as they come.

Any `concurrent.futures` executor will do: worker processes of this machine, or a Dask cluster. Only a few tasks are
under way at a time, so this process holds only a few results, however many tasks there are.
"""

from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, CancelledError, Executor, Future, wait
from contextlib import AbstractContextManager
from dataclasses import field, replace

from profiles import interrupts
from profiles.catalogue.making import OUT_OF_REACH, Failed, Kept, Laid, Order, Outcome, make_order
from profiles.catalogue.memory import Room
from profiles.catalogue.tasks import Task
from profiles.errors import ClusterError
from profiles.values import dataclass

POLL = 0.1
"""Seconds after which a waiting process looks for an interrupt."""

Prepare = Callable[[Task], Order | Failed | Kept]
"""The order for a task, or its outcome where that is known. Called when its turn comes: it may hold a file's bytes."""

LOST = (
    "The process that made this ended without a word, as it does when the machine runs out of memory. "
    "Reduce the mesh, or make it on a machine with more memory."
)


@dataclass(frozen=True, slots=True)
class Crew:
    """Who makes the tasks, and how many at a time."""

    start: Callable[[int], AbstractContextManager[Executor | None]]
    """Starts the executor with so many workers; None comes where no process can be started."""
    workers: int
    room: Room | None = None
    """Memory for all tasks under way; None where each worker has its own limit."""
    is_there: Callable[[], bool] = lambda: True
    """Whether the executor can still be reached."""
    replaces_workers: bool = False
    """Whether the executor itself gives the tasks of a lost worker to another."""

    @property
    def ahead(self) -> int:
        """Tasks under way at most; one for each worker more than it works on where results come over a network."""
        return self.workers * 2 if self.replaces_workers else self.workers + 1


def run_tasks(tasks: Iterable[Task], prepare: Prepare, crew: Crew) -> Generator[tuple[Task, Outcome]]:
    """Each task with its outcome, in the order in which they end.

    A task whose worker is lost, or for which its share of memory is too small, is made again with nothing beside it;
    the second time it has failed. Raises ClusterError where the executor is gone for good, and `interrupts.Stopped`
    where an interrupt came.
    """
    waiting, again = deque(tasks), deque[Task]()
    while waiting:
        with crew.start(crew.workers) as executor:
            yield from _Round(crew, executor, prepare).outcomes(waiting, again)
    while again:
        with crew.start(1) as executor:
            yield from _Round(crew, executor, prepare, alone=True).outcomes(again, deque())


@dataclass(slots=True)
class _Round:
    """Tasks made by one executor until all are done, or it has lost a worker."""

    crew: Crew
    executor: Executor | None
    prepare: Prepare
    alone: bool = False
    """One at a time, and with all the memory there is."""
    next: tuple[Task, Order] | None = None
    """The task that waits for memory."""
    broken: bool = False
    under_way: dict[Future[Outcome | Laid], tuple[Task, int]] = field(default_factory=dict)

    def outcomes(self, waiting: deque[Task], again: deque[Task]) -> Iterator[tuple[Task, Outcome]]:
        """Outcomes as they come; tasks that are to be made alone go to `again`."""
        while self.under_way or (not self.broken and (waiting or self.next)):
            yield from self._hand_out(waiting)
            interrupts.check()
            done, _ = wait(self.under_way, POLL, FIRST_COMPLETED)
            if not self.crew.is_there():
                raise _lost_cluster()
            for future in done:
                task, memory = self.under_way.pop(future)
                if self.crew.room:
                    self.crew.room.give_back(memory)
                outcome = self._outcome(future)
                if outcome is None:
                    again.append(task)
                else:
                    yield task, outcome
        if self.next:
            waiting.appendleft(self.next[0])

    def _hand_out(self, waiting: deque[Task]) -> Iterator[tuple[Task, Outcome]]:
        """Start as many tasks as the executor takes; those that cannot be started have their outcome."""
        most = 1 if self.alone else self.crew.ahead
        while not self.broken and (self.next or waiting) and len(self.under_way) < most:
            if self.next is None:
                task = waiting.popleft()
                order = self.prepare(task)
                if not isinstance(order, Order):
                    yield task, order
                    continue
                self.next = (task, replace(order, memory=None) if self.alone else order)
            task, order = self.next
            memory = order.memory or 0
            if self.crew.room and not self.crew.room.take(memory):
                return
            try:
                future = _submit(self.executor, order)
            except BrokenExecutor:
                self.broken = True
                if self.crew.room:
                    self.crew.room.give_back(memory)
                return
            self.next = None
            self.under_way[future] = (task, memory)

    def _outcome(self, future: Future[Outcome | Laid]) -> Outcome | None:
        """What became of a task; None where it is to be made again, alone."""
        try:
            outcome = future.result()
            outcome = outcome.take() if isinstance(outcome, Laid) else outcome
        except BrokenExecutor:
            self.broken = True
            return Failed(LOST, OUT_OF_REACH) if self.alone else None
        except CancelledError:
            raise _lost_cluster() from None
        except Exception as fault:  # noqa: BLE001 - one task must not stop the others
            words = " ".join(str(fault).split())[:300]
            return Failed(f"No worker could make this ({type(fault).__name__}: {words}).", OUT_OF_REACH)
        if isinstance(outcome, Failed) and outcome.short_of_memory and not self.alone and self.crew.room:
            return None
        return outcome


def _submit(executor: Executor | None, order: Order) -> Future[Outcome | Laid]:
    """The order under way; without an executor it is done here and now."""
    if executor is not None:
        return executor.submit(make_order, order)
    future: Future[Outcome | Laid] = Future()
    future.set_result(make_order(replace(order, memory=None, shelf=None)))
    return future


def _lost_cluster() -> ClusterError:
    return ClusterError("The scheduler is gone.", remedy="Start it again, and run the same command with --resume.")
