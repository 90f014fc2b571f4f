"""Work beside this process: the same results in the same order, and no waiting for a process that is gone."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from profiles.beside import here, second_process, shared
from profiles.errors import HullError

LARGE = 3_000_000
"""bytes; far more than a pipe holds."""


def ready() -> None:
    """Nothing to load."""


def shouted(text: str) -> str:
    return text.upper()


def refused(text: str) -> str:
    raise HullError(text, remedy="Do otherwise.")


def gone() -> int:
    os.kill(os.getpid(), signal.SIGKILL)
    return 0


def owner() -> int:
    return os.getpid()


@pytest.fixture(autouse=True)
def two_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 2)


def test_work_is_done_in_another_process() -> None:
    """The result comes from a process that is not this one."""
    with second_process(ready) as submit:
        assert submit(owner)() != os.getpid()


def test_large_questions_and_answers_do_not_wait_for_each_other() -> None:
    """Several results, each larger than the pipe between the processes, arrive in order."""
    with second_process(ready) as submit:
        waiting = [submit(shouted, letter * LARGE) for letter in "abc"]
        assert [result()[:1] for result in waiting] == ["A", "B", "C"]


def test_faults_come_back_as_they_were() -> None:
    """An error over there is raised here with its message and remedy."""
    with second_process(ready) as submit, pytest.raises(HullError) as caught:
        submit(refused, "a hole")()
    assert (caught.value.message, caught.value.remedy) == ("a hole", "Do otherwise.")


def owners(items: Sequence[int]) -> list[tuple[int, int]]:
    time.sleep(0.01)
    return [(item, os.getpid()) for item in items]


def refused_from_three(items: Sequence[int]) -> list[int]:
    for item in items:
        if item > 2:
            raise HullError(str(item))
    return list(items)


def test_shared_work_is_done_by_both_and_comes_in_order() -> None:
    """Of forty items the first is worked on here and the last over there, and results stand in the items' order."""
    with second_process(ready) as submit:
        submit(ready)()  # it is up
        done = shared(submit, owners, range(40))
    assert [item for item, _ in done] == list(range(40))
    assert done[0][1] == os.getpid()
    assert done[-1][1] != os.getpid()


@pytest.mark.parametrize("many", [0, 1, 2, 3])
def test_few_items_are_shared_too(many: int) -> None:
    """With hardly any work nothing is left out and nothing waited for in vain."""
    with second_process(ready) as submit:
        assert [item for item, _ in shared(submit, owners, range(many))] == list(range(many))
    assert [item for item, _ in shared(here, owners, range(many))] == list(range(many))


def test_of_several_faults_the_first_item_s_is_raised() -> None:
    """Whoever works on which item, the fault is that of the first item that has one."""
    with second_process(ready) as submit, pytest.raises(HullError, match=r"^3\b"):
        shared(submit, refused_from_three, range(30))


def test_shared_work_is_done_here_when_the_other_process_dies() -> None:
    """A process that is killed leaves its items to this one."""
    with second_process(ready) as submit:
        submit(gone)
        assert [owner for _, owner in shared(submit, owners, range(6))] == [os.getpid()] * 6


STARTED = """
import sys, threading, time
from profiles.beside import second_process
from tests.test_beside import owner, ready
if __name__ == "__main__":
    if sys.argv[1] == "threads":
        threading.Thread(target=time.sleep, args=(60,), daemon=True).start()
    with second_process(ready) as submit:
        print(submit(owner)(), flush=True)
        time.sleep(60)
"""


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="only Linux shows its processes there")
@pytest.mark.parametrize("how", ["alone", "threads"])
def test_the_other_process_ends_when_this_one_is_killed(how: str, tmp_path: Path) -> None:
    """Killed without a chance to clear up, neither a copied nor a newly started process is left behind."""
    script = tmp_path / "started.py"
    script.write_text(STARTED, encoding="utf-8")
    place = str(Path(__file__).resolve().parents[1])
    surroundings = os.environ | {"PYTHONPATH": place, "OPENBLAS_NUM_THREADS": "1"}
    with subprocess.Popen(
        [sys.executable, str(script), how], env=surroundings, cwd=place, stdout=subprocess.PIPE, text=True
    ) as first:
        assert first.stdout
        other = int(first.stdout.readline())
        assert other != first.pid
        words = Path(f"/proc/{other}/cmdline").read_bytes().split(b"\0")
        assert (b"--multiprocessing-fork" in words) == (how == "threads")
        first.kill()
    for _ in range(200):
        if not Path(f"/proc/{other}").exists() or "Z" in Path(f"/proc/{other}/stat").read_text(encoding="ascii"):
            return
        time.sleep(0.05)
    pytest.fail("the other process is still there")


def test_work_is_done_here_when_the_other_process_dies() -> None:
    """A process that is killed while it works leaves its work to this one."""
    with second_process(ready) as submit:
        dead = submit(gone)
        later = submit(shouted, "still")
        assert later() == "STILL"
        del dead


def test_leaving_with_work_under_way_is_quick_and_silent(capfd: pytest.CaptureFixture[str]) -> None:
    """An error in the first process ends the second one, with nothing said."""
    with pytest.raises(KeyError), second_process(ready) as submit:  # noqa: PT012 - work must be under way
        submit(shouted, "x" * LARGE)
        raise KeyError
    assert capfd.readouterr() == ("", "")


def test_on_one_core_the_work_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """With nothing to gain no process is started."""
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    with second_process(ready) as submit:
        assert submit(owner)() == os.getpid()
    assert here(owner)() == os.getpid()


def same_array(array: np.ndarray[Any, Any], other: np.ndarray[Any, Any]) -> bool:
    return array is other


def test_a_large_read_only_array_goes_over_once() -> None:
    """Given twice, also in another question, it is one array over there; what can be written to is sent anew."""
    array = np.arange(100_000)
    with second_process(ready) as submit:
        loose = submit(same_array, array, array.copy())
        array.setflags(write=False)
        total = submit(np.sum, array)
        assert not loose()
        assert submit(same_array, array, array)()
        assert total() == array.sum()
