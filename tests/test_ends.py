"""How the command ends when it is not left in peace: interrupted, without memory, without a place for its words."""

import gc
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from profiles import build, cli
from profiles.errors import HullError
from tests.interrupts import ended

ROOT = Path(__file__).resolve().parents[1]
MAKE = [sys.executable, "-m", "profiles", "make", str(ROOT / "models/skerrywing.toml"), "--out"]

groups_only = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="only Linux shows a group's processes")
posix_only = pytest.mark.skipif(sys.platform == "win32", reason="signals and /dev are of POSIX")


def job(folder: Path) -> list[str]:
    """A job that takes some seconds: more blocks than anybody would cut."""
    return ["make", MAKE[4], "--foam", "10", "--out", str(folder / "made")]


@posix_only
@pytest.mark.parametrize("words", [[], ["--json"]])
def test_a_reader_that_has_enough_is_no_fault(words: list[str], tmp_path: Path) -> None:
    """Piped into a program that reads one line, or none, the command ends silently with exit code 0."""
    reading, writing = os.pipe()
    os.close(reading)
    command = [*MAKE[:3], "inspect", MAKE[4], *words]
    with os.fdopen(writing, "wb") as pipe:
        done = subprocess.run(
            command, cwd=tmp_path, env=_here(), stdout=pipe, stderr=subprocess.PIPE, text=True, check=False
        )
    assert (done.returncode, done.stderr) == (0, "")


@groups_only
@pytest.mark.parametrize("count", [1, 30, 100, 300, 600])
def test_an_interrupt_while_anything_is_loaded_is_answered_in_one_sentence(count: int, tmp_path: Path) -> None:
    """Ctrl-C before any import, the first behind the entry module's first line included: exit code 130 (128 + SIGINT,
    common practice), nothing written, no process left.
    """
    done = ended(job(tmp_path), event=("import", count))
    assert done.is_clean, done
    assert not any(tmp_path.iterdir())


@groups_only
@pytest.mark.parametrize("after", [0.0, 0.1, 0.25, 0.45, 0.7, 0.95])
def test_an_interrupt_at_any_moment_is_answered_in_one_sentence(after: float, tmp_path: Path) -> None:
    """Ctrl-C while the hull is read, blocks are made or pages are laid out, in several processes."""
    done = ended([*job(tmp_path), "--workers", "3"], after=after)
    assert done.is_clean, done
    assert not any(tmp_path.iterdir())


@groups_only
def test_an_interrupt_that_only_a_worker_gets_is_not_noticed(tmp_path: Path) -> None:
    """In the very first moment of a fork, before any of its own code runs."""
    done = ended([*MAKE[3:], str(tmp_path / "made"), "--json"], event=("forked", 1))
    assert (done.code, done.complained, done.left) == (0, "", ())
    assert (tmp_path / "made/templates.pdf").is_file()


@groups_only
@pytest.mark.parametrize("event", ["os.mkdir", "fcntl.flock"])
def test_an_interrupt_while_the_folder_is_written_leaves_nothing(event: str, tmp_path: Path) -> None:
    """What has been written is taken away before the sentence is said."""
    done = ended([*MAKE[3:], str(tmp_path / "made")], event=(event, 1))
    assert done.is_clean, done
    assert not any(tmp_path.iterdir())


@groups_only
def test_an_interrupt_when_the_folder_is_there_does_not_deny_it(tmp_path: Path) -> None:
    """From the step that gives the new folder its name, the sentence says that it is there, and it is whole."""
    out = tmp_path / "made"
    done = ended([*MAKE[3:], str(out)], event=("os.rename", 1))
    assert (done.code, done.said, done.left) == (130, "", ())
    assert done.complained == f"stationer: stopped; {out} is written and complete\n"
    assert {"templates.pdf", "report.json", "job-book.pdf"} <= {item.name for item in out.iterdir()}
    assert [item.name for item in tmp_path.iterdir()] == ["made"]


def test_to_load_the_package_changes_no_answer_to_a_signal() -> None:
    """Only the command's entry decides what an interrupt does; all modules can be loaded by another program."""
    probe = (
        "import pkgutil, signal, importlib, profiles\n"
        "before = [signal.getsignal(one) for one in signal.valid_signals()]\n"
        "for one in pkgutil.walk_packages(profiles.__path__, 'profiles.'):\n"
        "    if not one.name.endswith('__main__'): importlib.import_module(one.name)\n"
        "print(before == [signal.getsignal(one) for one in signal.valid_signals()])"
    )
    done = subprocess.run([sys.executable, "-c", probe], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "True"


@posix_only
def test_an_interrupt_that_a_shell_has_put_aside_stays_aside(tmp_path: Path) -> None:
    """Started with interrupts ignored, as a script's background job is, the command goes on."""
    shell = "trap '' INT; exec \"$@\""
    with subprocess.Popen(
        ["/bin/sh", "-c", shell, "sh", *MAKE, str(tmp_path / "made"), "--json"],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        start_new_session=True,
    ) as run:
        for _ in range(10):
            time.sleep(0.05)
            if run.poll() is None:
                os.killpg(run.pid, signal.SIGINT)
        assert run.wait(120) == 0


@posix_only
def test_with_standard_output_closed_the_templates_are_made_all_the_same(tmp_path: Path) -> None:
    """Started without a standard output, as some schedulers do, the command has nobody to talk to and still works."""
    words = " ".join(f"'{word}'" for word in [*MAKE, str(tmp_path / "made")])
    done = subprocess.run(["/bin/sh", "-c", f"{words} >&-"], cwd=ROOT, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "made/templates.pdf").is_file()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the device that is always full is of Linux")
@pytest.mark.parametrize("words", [[], ["--json"]])
def test_a_full_disk_under_standard_output_is_told_in_one_line(words: list[str], tmp_path: Path) -> None:
    """What is printed cannot be written: one sentence, exit code 3."""
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        command = [*MAKE[:3], "inspect", MAKE[4], *words]
        done = subprocess.run(
            command, cwd=tmp_path, env=_here(), stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
    assert done.returncode == 3
    assert done.stderr.startswith("stationer: the system refused: No space left on device")
    assert done.stderr.count("\n") == 1


def _here() -> dict[str, str]:
    return os.environ | {"PYTHONPATH": str(ROOT)}


@pytest.fixture
def collected() -> Iterator[None]:
    """The command ends its process's search for cycles; this process goes on."""
    yield
    gc.unfreeze()
    gc.enable()


@pytest.mark.usefixtures("collected")
@pytest.mark.parametrize(
    ("fault", "code", "words"),
    [
        (MemoryError(), 3, "needs more memory than there is"),
        (OSError(5, "Input/output error", "/somewhere"), 3, "Input/output error (/somewhere)"),
        (HullError("A hole."), 3, "A hole."),
        (KeyboardInterrupt(), 130, "stopped"),
    ],
)
def test_faults_from_anywhere_become_one_sentence(
    fault: BaseException, code: int, words: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever reading runs into, the user gets a sentence and an exit code."""

    def failing(*_job: object) -> None:
        raise fault

    monkeypatch.setattr(build, "read", failing)
    monkeypatch.setattr(sys, "argv", ["stationer", "inspect", str(ROOT / "models/skerrywing.stl")])
    monkeypatch.setattr(sys, "stdout", sys.stdout)  # it is put back
    with pytest.raises(SystemExit) as ended:
        cli.main()
    complained = capsys.readouterr().err.strip()
    assert ended.value.code == code
    assert words in complained
    assert complained.startswith("stationer: ")
    assert complained.count("\n") == 0
