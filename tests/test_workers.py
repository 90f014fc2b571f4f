"""Work in other processes: the same results in the same order, and no waiting for a process that is gone."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from multiprocessing import active_children
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from profiles.errors import HullError
from profiles.sharing import shared, start
from profiles.workers import workers

LARGE = 3_000_000
"""bytes; far more than a pipe holds."""

ROOT = Path(__file__).resolve().parents[1]

METHODS = ["fork", "spawn"] if hasattr(os, "fork") else ["spawn"]


def ready() -> None:
    """Nothing to load."""


def shouted(text: str) -> str:
    return text.upper()


def refused(text: str) -> str:
    raise HullError(text, remedy="Do otherwise.")


def gone() -> int:
    os._exit(9)


def owner() -> int:
    return os.getpid()


@pytest.fixture(params=METHODS)
def method(request: pytest.FixtureRequest) -> str:
    """Every way to start a process that this system has."""
    return str(request.param)


@pytest.fixture
def executor(method: str) -> Iterator[Executor]:
    """Two workers."""
    with workers(2, ready, method) as started:
        assert started is not None
        yield started


def test_work_is_done_in_another_process(executor: Executor) -> None:
    """The result comes from a process that is not this one."""
    assert executor.submit(owner).result() != os.getpid()


def test_large_questions_and_answers_do_not_wait_for_each_other(executor: Executor) -> None:
    """Several results, each larger than the pipe between the processes, arrive in order."""
    waiting = [start(executor, shouted, letter * LARGE) for letter in "abc"]
    assert [one.result()[:1] for one in waiting] == ["A", "B", "C"]


def test_faults_come_back_as_they_were(executor: Executor) -> None:
    """An error in a worker is raised here with its message and remedy."""
    with pytest.raises(HullError) as caught:
        start(executor, refused, "a hole").result()
    assert (caught.value.message, caught.value.remedy) == ("a hole", "Do otherwise.")


def owners(items: Sequence[int]) -> list[tuple[int, int]]:
    time.sleep(0.01)
    return [(item, os.getpid()) for item in items]


def refused_from_three(items: Sequence[int]) -> list[int]:
    for item in items:
        if item > 2:
            raise HullError(str(item))
    return list(items)


def test_shared_work_is_done_by_all_and_comes_in_order(executor: Executor) -> None:
    """Of forty items the first is worked on here and the last by a worker; results stand in the items' order."""
    executor.submit(ready).result()  # it is up
    done = shared(executor, owners, range(40))
    assert [item for item, _ in done] == list(range(40))
    assert done[0][1] == os.getpid()
    assert done[-1][1] != os.getpid()


@pytest.mark.parametrize("many", [0, 1, 2, 3])
def test_few_items_are_shared_too(many: int) -> None:
    """With hardly any work nothing is left out and nothing waited for in vain."""
    with workers(3, ready) as executor:
        assert [item for item, _ in shared(executor, owners, range(many))] == list(range(many))


def test_work_is_shared_with_any_executor() -> None:
    """Threads of the standard library give the same list as no executor."""
    with ThreadPoolExecutor(2) as threads:
        assert shared(threads, owners, range(9)) == shared(None, owners, range(9))


def test_of_several_faults_the_first_item_s_is_raised(executor: Executor) -> None:
    """Whoever works on which item, the fault is that of the first item that has one."""
    with pytest.raises(HullError, match=r"^3\b"):
        shared(executor, refused_from_three, range(30))


def test_shared_work_is_done_here_when_a_worker_dies(executor: Executor) -> None:
    """A worker that dies leaves its items, and those that wait, to this process."""
    lost = start(executor, gone)
    done = shared(executor, owners, range(60))
    assert [item for item, _ in done] == list(range(60))
    assert done[0][1] == os.getpid()
    assert lost.future is not None
    assert lost.future.exception() is not None


def test_work_after_the_death_of_a_worker_is_done_here(executor: Executor) -> None:
    """When workers are lost, later work does not wait for them."""
    lost = start(executor, gone)
    assert lost.future is not None
    assert lost.future.exception() is not None
    assert start(executor, owner).result() == os.getpid()


@pytest.mark.parametrize("name", ["alone", "threads"])
@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="only Linux shows its processes there")
def test_workers_end_when_this_process_is_killed(name: str, tmp_path: Path) -> None:
    """Killed without a chance to tidy up, this process leaves neither a fork nor a new interpreter behind."""
    script = tmp_path / "started.py"
    script.write_text(STARTED, encoding="utf-8")
    surroundings = os.environ | {"PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    with subprocess.Popen(
        [sys.executable, str(script), name], env=surroundings, cwd=ROOT, stdout=subprocess.PIPE, text=True
    ) as first:
        assert first.stdout
        others = [int(word) for word in first.stdout.readline().split()]
        assert first.pid not in others
        for other in others:
            words = Path(f"/proc/{other}/cmdline").read_bytes().split(b"\0")
            assert (b"--multiprocessing-fork" in words) == (name == "threads")
        first.kill()
    for _ in range(400):
        if not any(alive(other) for other in others):
            return
        time.sleep(0.05)
    pytest.fail("a worker is still there")


STARTED = """
import sys, threading, time
from multiprocessing import active_children
from profiles.workers import workers
from tests.test_workers import owner, ready
if __name__ == "__main__":
    if sys.argv[1] == "threads":
        threading.Thread(target=time.sleep, args=(60,), daemon=True).start()
    with workers(3, ready) as executor:
        executor.submit(owner).result()
        print(*(child.pid for child in active_children()), flush=True)
        time.sleep(60)
"""


def alive(process: int) -> bool:
    """Whether it is there and more than a name in the system's table."""
    try:
        return "Z" not in Path(f"/proc/{process}/stat").read_text(encoding="ascii").rsplit(")")[-1].split()[0]
    except OSError:
        return False


def test_leaving_with_work_under_way_is_silent(method: str, capfd: pytest.CaptureFixture[str]) -> None:
    """An error in this process ends the workers, with nothing said and no process left."""
    before = set(active_children())
    with pytest.raises(KeyError), workers(2, ready, method) as executor:  # noqa: PT012 - work must be under way
        start(executor, shouted, "x" * LARGE)
        raise KeyError
    assert set(active_children()) == before
    assert capfd.readouterr() == ("", "")


def test_no_worker_is_started_for_one_process() -> None:
    """With nothing to gain the work is done here."""
    before = set(active_children())
    with workers(0, ready) as executor:
        assert executor is None
        assert set(active_children()) == before
        assert start(executor, owner).result() == os.getpid()


def same_array(array: np.ndarray[Any, Any], other: np.ndarray[Any, Any]) -> bool:
    return array.ctypes.data == other.ctypes.data


def is_total(array: np.ndarray[Any, Any], total: int) -> bool:
    return not array.flags.writeable and int(array.sum()) == total


def test_a_large_read_only_array_is_laid_out_once(executor: Executor) -> None:
    """Given twice it is one array in a worker; what can be written to goes over with each piece of work."""
    array = np.arange(100_000)
    fixed = array.copy()
    fixed.setflags(write=False)
    assert not start(executor, same_array, array.copy(), array).result()
    assert start(executor, same_array, fixed, fixed).result()
    assert start(executor, is_total, fixed, int(array.sum())).result()


def mask_of(pid: int, name: str) -> int:
    """A set of signals as Linux shows it."""
    lines = Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1], 16) for line in lines if line.startswith(f"{name}:"))


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="only Linux shows which signals wait")
def test_a_worker_never_sees_an_interrupt(executor: Executor) -> None:
    """An interrupt that reaches a worker, as Ctrl-C on a terminal does, neither ends it nor waits in it."""
    worker = executor.submit(owner).result()
    bit = 1 << (signal.SIGINT - 1)
    assert (mask_of(worker, "SigIgn") | mask_of(worker, "SigBlk")) & bit
    os.kill(worker, signal.SIGINT)
    assert executor.submit(shouted, "still").result() == "STILL"
    assert not mask_of(os.getpid(), "SigBlk") & bit
