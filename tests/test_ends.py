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

ROOT = Path(__file__).resolve().parents[1]
MAKE = [sys.executable, "-m", "profiles", "make", str(ROOT / "models/skerrywing.toml"), "--out"]

posix_only = pytest.mark.skipif(sys.platform == "win32", reason="signals and /dev are of POSIX")


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="only Linux shows when the second process is there")
@pytest.mark.parametrize("after", [0.0, 0.5, 1.0])
def test_an_interrupt_is_answered_in_one_line_and_leaves_nothing(after: float, tmp_path: Path) -> None:
    """Ctrl-C reaches both processes; one sentence and exit code 130 (128 + SIGINT, common practice), and no folder."""
    with subprocess.Popen(
        [*MAKE, str(tmp_path / "made")],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,  # so that the whole group can be interrupted, as a terminal does
    ) as done:
        children = Path(f"/proc/{done.pid}/task/{done.pid}/children")
        while done.poll() is None and not children.read_text(encoding="ascii"):
            time.sleep(0.02)
        time.sleep(after)
        if done.poll() is None:
            os.killpg(done.pid, signal.SIGINT)
        said, complained = done.communicate(timeout=60)
    if done.returncode == 0:
        pytest.skip("this machine is quicker than the interrupt")
    assert (done.returncode, said) == (130, "")
    assert complained.strip() == "stationer: stopped; nothing was written"
    assert not any(tmp_path.iterdir())


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
        (MemoryError(), 3, "takes more memory than there is"),
        (OSError(5, "Input/output error", "/somewhere"), 3, "Input/output error (/somewhere)"),
        (HullError("A hole."), 3, "A hole."),
        (KeyboardInterrupt(), 130, "stopped"),
    ],
)
def test_faults_from_anywhere_become_one_sentence(
    fault: BaseException, code: int, words: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever reading runs into, the user gets a sentence and an exit code."""

    def failing(_job: object) -> None:
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
