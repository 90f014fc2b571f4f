"""Tasks and their executor: nothing is lost, nothing holds up the others, and only a few are under way at a time."""

import contextlib
import os
from collections.abc import Iterator
from concurrent.futures import CancelledError, Executor, Future, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import pytest

from profiles.catalogue import running
from profiles.catalogue.making import Failed, Kept, Made, Order, Outcome
from profiles.catalogue.memory import Room
from profiles.catalogue.running import LOST, Crew, run_tasks
from profiles.catalogue.tasks import Task
from profiles.errors import ClusterError
from profiles.job import HullSource, Job
from profiles.workers import workers


def tasks(number: int) -> list[Task]:
    return [Task(Path(f"{n}.stl"), "40", Path(f"made/{n}")) for n in range(number)]


def order(task: Task) -> Order:
    return Order(Job(hull=HullSource(file=str(task.source))), task.source.name, memory=10)


def made(name: str) -> Made:
    return Made({"name": name.encode()}, {}, 0.0)


def good(given: Order) -> Outcome:
    return made(given.name)


def loses_its_process(given: Order) -> Outcome:
    """The second task ends the process that makes it."""
    if given.name == "1.stl":
        os._exit(9)
    return made(given.name)


def is_short(given: Order) -> Outcome:
    """The second task needs more than its share."""
    if given.name == "1.stl" and given.memory is not None:
        return Failed("too little", 3, short_of_memory=True)
    return made(given.name)


@contextlib.contextmanager
def threads(number: int) -> Iterator[Executor]:
    with ThreadPoolExecutor(number) as executor:
        yield executor


@contextlib.contextmanager
def processes(number: int) -> Iterator[Executor | None]:
    with workers(number, print) as executor:
        yield executor


@contextlib.contextmanager
def nobody(_number: int) -> Iterator[None]:
    yield None


def ends(crew: Crew, number: int = 6) -> dict[str, str]:
    """What became of each task: its own name, or the message of its failure."""
    outcomes = {}
    for task, outcome in run_tasks(tasks(number), order, crew):
        assert task.source.name not in outcomes
        outcomes[task.source.name] = (
            outcome.files["name"].decode() if isinstance(outcome, Made) else str(getattr(outcome, "message", ""))
        )
    return outcomes


ALL = {f"{n}.stl": f"{n}.stl" for n in range(6)}


@pytest.mark.parametrize("start", [threads, processes, nobody])
def test_every_task_has_its_outcome_once(monkeypatch: pytest.MonkeyPatch, start: Any) -> None:  # noqa: ANN401
    """With threads, with processes, and where no process can be started."""
    monkeypatch.setattr(running, "make_order", good)
    assert ends(Crew(start, 2)) == ALL


def test_a_task_that_ends_its_process_fails_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Those that were under way beside it are made again; it is tried once more, and then has a sentence."""
    monkeypatch.setattr(running, "make_order", loses_its_process)
    assert ends(Crew(processes, 2)) == ALL | {"1.stl": LOST}


def test_a_task_that_is_short_of_memory_is_made_again_with_all_there_is(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its share followed from its file alone."""
    monkeypatch.setattr(running, "make_order", is_short)
    assert ends(Crew(threads, 2, Room(100))) == ALL


class Watched(Executor):
    """An executor that counts what is under way, and does it when it is full."""

    def __init__(self, most: int) -> None:
        self.most, self.waiting, self.largest = most, list[tuple[Future[Outcome], Order]](), 0

    def submit(self, _work: Any, given: Any, /) -> Future[Any]:  # type: ignore[override]  # noqa: ANN401
        """Kept until enough are under way."""
        future: Future[Outcome] = Future()
        self.waiting.append((future, given))
        self.largest = max(self.largest, len(self.waiting))
        if len(self.waiting) == self.most:
            for waiting, one in self.waiting:
                waiting.set_result(made(one.name))
            self.waiting.clear()
        return future


@pytest.mark.parametrize(("size", "expected"), [(1000, 4), (25, 2), (5, 1)])
def test_no_more_tasks_are_under_way_than_workers_and_memory_take(size: int, expected: int) -> None:
    """Three workers and one task that lies ready, each task of ten bytes: as many as fit, and always one."""
    watched = Watched(expected)

    @contextlib.contextmanager
    def start(_number: int) -> Iterator[Executor]:
        yield watched

    outcomes = list(run_tasks(tasks(expected * 5), order, Crew(start, 3, Room(size))))
    assert (len(outcomes), watched.largest) == (expected * 5, expected)


def test_outcomes_that_are_known_before_are_not_made(monkeypatch: pytest.MonkeyPatch) -> None:
    """A task that cannot be, and one whose folder holds its result."""
    monkeypatch.setattr(running, "make_order", good)
    known: dict[str, Failed | Kept] = {"0.stl": Failed("no such file", 3), "2.stl": Kept({})}
    outcomes = run_tasks(tasks(3), lambda task: known.get(task.source.name) or order(task), Crew(threads, 2))
    assert {task.source.name: outcome for task, outcome in outcomes} == known | {"1.stl": made("1.stl")}


class Gone(Executor):
    """An executor whose futures end in an error."""

    def __init__(self, fault: BaseException) -> None:
        self.fault = fault

    def submit(self, _work: Any, /, *_values: Any, **_named: Any) -> Future[Any]:  # noqa: ANN401
        """Ended at once."""
        future: Future[Outcome] = Future()
        future.set_exception(self.fault)
        return future


@pytest.mark.parametrize("fault", [CancelledError(), None])
def test_a_lost_scheduler_ends_the_run_with_a_sentence(fault: BaseException | None) -> None:
    """Whether its futures are cancelled or it is seen to be gone."""

    @contextlib.contextmanager
    def start(_number: int) -> Iterator[Executor]:
        yield Gone(fault or RuntimeError("connection closed"))

    crew = Crew(start, 2, is_there=lambda: fault is not None)
    with pytest.raises(ClusterError, match=r"The scheduler is gone\."):
        list(run_tasks(tasks(3), order, crew))


def test_an_error_of_the_executor_fails_its_task_only() -> None:
    """Such as a task that Dask gives up because it lost several workers."""

    @contextlib.contextmanager
    def start(_number: int) -> Iterator[Executor]:
        yield Gone(ValueError("several workers died"))

    (message,) = {
        outcome.message for _, outcome in run_tasks(tasks(2), order, Crew(start, 2)) if isinstance(outcome, Failed)
    }
    assert message == "No worker could make this (ValueError: several workers died)."


def test_a_pool_that_takes_nothing_more_is_started_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """A worker that dies between two tasks costs nothing."""
    monkeypatch.setattr(running, "make_order", good)
    started = []

    class Broken(Executor):
        def submit(self, _work: Any, /, *_values: Any, **_named: Any) -> Future[Any]:  # noqa: ANN401
            raise BrokenProcessPool

    @contextlib.contextmanager
    def start(_number: int) -> Iterator[Executor]:
        started.append(1)
        if len(started) == 1:
            yield Broken()
        else:
            with ThreadPoolExecutor(2) as executor:
                yield executor

    assert ends(Crew(start, 2, Room(1000))) == ALL
    assert len(started) == 2
