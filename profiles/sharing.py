"""Work that an executor may do beside this process; without an executor it is done here.

The results are the same whoever works: an executor decides only how long they take. Any `concurrent.futures.Executor`
will do. Where it loses its workers, or cannot start one, the work is done here.
"""

import contextlib
from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future
from typing import Generic, TypeVar

from profiles.units import PrintUnit, printed_unit, work_in
from profiles.values import dataclass

Item = TypeVar("Item")
Result = TypeVar("Result")


@dataclass(frozen=True, slots=True)
class Started(Generic[Result]):
    """Work whose result is wanted later."""

    work: Callable[..., Result]
    values: tuple[object, ...]
    future: Future[Result] | None
    """None where this process does the work when the result is asked for."""

    def result(self) -> Result:
        """The result, waited for. Raises what the work raises."""
        if self.future is not None:
            with contextlib.suppress(BrokenExecutor):
                return self.future.result()
        return self.work(*self.values)

    def here(self) -> Result:
        """The result, from this process if nobody else has begun the work. Raises what the work raises."""
        return self.work(*self.values) if self.cancel() else self.result()

    def cancel(self) -> bool:
        """Whether nobody has begun it and nobody will."""
        return self.future is None or self.future.cancel()


def start(executor: Executor | None, work: Callable[..., Result], *values: object) -> Started[Result]:
    """Start `work(*values)`; without an executor it begins when its result is asked for."""
    future = None
    if executor is not None:
        with contextlib.suppress(BrokenExecutor, OSError):
            unit = printed_unit()
            if unit is PrintUnit.MM:
                future = executor.submit(work, *values)
            else:
                future = executor.submit(work_in, unit, work, *values)
    return Started(work, values, future)


def shared(
    executor: Executor | None, work: Callable[[Sequence[Item]], Sequence[Result]], items: Sequence[Item]
) -> list[Result]:
    """`work(items)`, which gives one result or several for each item in order.

    The executor begins with the last item, this process with the first, until they meet. Who does how much depends on
    the machine, the result does not. Of several faults the first item's is raised.

    >>> shared(None, lambda items: [item**2 for item in items], [1, 2, 3])
    [1, 4, 9]
    """
    if executor is None:
        return list(work(items))
    started = [start(executor, work, [item]) for item in reversed(items)][::-1]
    done: list[Result] = []
    try:
        for item, elsewhere in zip(items, started, strict=True):
            done += work([item]) if elsewhere.cancel() else elsewhere.result()
    finally:
        for elsewhere in started:
            elsewhere.cancel()
    return done
