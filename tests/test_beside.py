"""Work beside this process: the same results in the same order, and no waiting for a process that is gone."""

import os
import signal
from typing import Any

import numpy as np
import pytest

from profiles.beside import here, second_process
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
