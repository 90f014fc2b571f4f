"""Whatever stops a run while it writes: the old output folder is whole or the new one is, and the next tidies up."""

import errno
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from profiles.errors import FolderError
from profiles.folder import Exchange, exchange_names, lock_file, write_whole
from tests.stopping import content, held, names, no_exchange

ROOT = Path(__file__).parents[1]

linux = pytest.mark.skipif(sys.platform != "linux", reason="looks at processes and disks as Linux has them")


def stopping(*words: str) -> list[str]:
    """What was found after each run that was stopped; see `tests/stopping.py`."""
    command = [sys.executable, "-m", "tests.stopping", *words]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, cwd=ROOT, env=environment, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    seen: list[str] = json.loads(done.stdout)
    return seen


@linux
def test_stopped_before_any_dealing_with_the_disk(tmp_path: Path) -> None:
    """Stopped before each of its dealings with the disk in turn, a run leaves the old folder or the new one, whole."""
    seen = stopping("steps", str(tmp_path), "one")
    assert len(seen) > 30
    assert "".join(seen).strip("A").strip("B") == ""
    assert set(seen) == {"A", "B"}


@linux
def test_stopped_where_the_system_knows_no_exchange(tmp_path: Path) -> None:
    """Then the old folder is away between two steps, and the next look at it brings it back."""
    seen = stopping("steps", str(tmp_path), "two")
    assert len(seen) > 30
    assert set(seen) == {"A", "away", "B"}
    assert 1 <= seen.count("away") <= 2


@linux
def test_killed_at_fifty_moments(tmp_path: Path) -> None:
    """Killed by the system at fifty moments, from before to after its writing, a run leaves one of the two whole."""
    seen = stopping("moments", str(tmp_path), "50")
    assert len(seen) == 50
    assert set(seen) == {"A", "B"}


@pytest.mark.slow
@linux
def test_the_command_killed_while_it_works_leaves_the_old_folder(tmp_path: Path) -> None:
    """`make` killed at four moments of its work leaves the last result as it was, and no trace that the next keeps."""
    job = ROOT / "models" / "pelloway.toml"
    command = [sys.executable, "-m", "profiles", "make", str(job), "--out", "out"]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}

    def make() -> "subprocess.Popen[bytes]":
        return subprocess.Popen(command, cwd=tmp_path, env=environment, stdout=subprocess.DEVNULL)

    start = time.monotonic()
    assert make().wait() == 0
    whole = time.monotonic() - start
    before = held(tmp_path / "out")
    for share in (0.2, 0.5, 0.8, 0.95):
        process = make()
        time.sleep(share * whole)
        process.kill()
        process.wait()
        assert held(tmp_path / "out") == before
    assert make().wait() == 0
    assert held(tmp_path / "out") == before
    assert names(tmp_path) == ["out"]


# ---- reported faults ---------------------------------------------------------------------------------------------


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[int, int, Exchange], tuple[list[int], Exchange]]]:
    """Makes one step of the disk fail, counted from 1; the list counts them, and the exchange is one of them."""

    def install(at: int, number: int, exchange: Exchange) -> tuple[list[int], Exchange]:
        count = [0]

        def wrapped(inner: Callable[..., Any]) -> Callable[..., Any]:
            def call(*values: Any, **more: Any) -> Any:  # noqa: ANN401 - whatever the inner one takes
                count[0] += 1
                if count[0] == at:
                    raise OSError(number, os.strerror(number))
                return inner(*values, **more)

            return call

        for owner, name in ((Path, "mkdir"), (Path, "write_bytes"), (Path, "rename"), (os, "fsync")):
            monkeypatch.setattr(owner, name, wrapped(getattr(owner, name)))
        return count, wrapped(exchange)

    yield install
    monkeypatch.undo()


@pytest.mark.parametrize(("number", "words"), [(errno.ENOSPC, "No space left"), (errno.EIO, "Input/output error")])
@pytest.mark.parametrize("exchange", [exchange_names, no_exchange])
def test_disk_fails_at_every_step(
    tmp_path: Path,
    failing: Callable[[int, int, Exchange], tuple[list[int], Exchange]],
    monkeypatch: pytest.MonkeyPatch,
    number: int,
    words: str,
    exchange: Exchange,
) -> None:
    """Full or broken at any step, exchange or not: the disk is named, the old folder is whole, nothing else is left."""
    out = tmp_path / "deep" / "er" / "out"
    for at in range(1, 100):
        for former in (None, content("A")):
            shutil.rmtree(tmp_path / "deep", ignore_errors=True)
            if former:
                write_whole(out, former)
            count, step = failing(at, number, exchange)
            fault: FolderError | None = None
            try:
                write_whole(out, content("B"), exchange=step)
            except FolderError as caught:
                fault = caught
            monkeypatch.undo()
            if fault is None:
                assert held(out) == content("B")
                assert count[0] < at
                continue
            assert words in str(fault)
            if former:
                assert held(out) in (former, content("B"))
                assert names(out.parent) == ["out"]
            else:
                assert names(tmp_path) in ([], ["deep"])
                assert not out.exists() or held(out) == content("B")
        if count[0] < at:
            break
    assert at > 20


@linux
@pytest.mark.skipif(os.geteuid() != 0, reason="only root may mount a small disk")
def test_a_really_full_disk(tmp_path: Path) -> None:
    """On a disk of 64 KiB a result of 100 KiB is refused, and the small one that was there stays."""
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "none", tmp_path], check=False).returncode:  # noqa: S607
        pytest.skip("no disk can be mounted here")
    try:
        small = {"report.json": b"{}", "templates.pdf": b"A"}
        write_whole(tmp_path / "out", small)
        with pytest.raises(FolderError, match="No space left"):
            write_whole(tmp_path / "out", content("B", 6, 10_000))
        assert held(tmp_path / "out") == small
        assert names(tmp_path) == ["out"]
    finally:
        subprocess.run(["umount", tmp_path], check=True)  # noqa: S607


@linux
def test_a_folder_without_permission_is_named(tmp_path: Path) -> None:
    """Where the user may not write the folder is named, and nothing is left."""
    shut = tmp_path / "shut"
    shut.mkdir(mode=0o555)
    text = (
        f"import sys\nsys.path.insert(0, {str(ROOT)!r})\nfrom pathlib import Path\n"
        "from profiles.folder import write_whole\n"
        f"{_nobody()}\nwrite_whole(Path({str(shut / 'out')!r}), {{'report.json': b''}})"
    )
    tmp_path.chmod(0o755)
    done = subprocess.run([sys.executable, "-c", text], check=False, capture_output=True, text=True)
    assert "FolderError" in done.stderr
    assert "Permission denied" in done.stderr
    assert list(shut.iterdir()) == []


def _nobody() -> str:
    """Root may write anywhere, so that it becomes somebody else first."""
    return (
        "import os\nif os.geteuid() == 0:\n    import fcntl, ctypes, concurrent.futures, shutil\n    os.seteuid(65534)"
    )


# ---- two runs at once ---------------------------------------------------------------------------------------------


@linux
def test_two_runs_into_one_folder_do_not_mix(tmp_path: Path) -> None:
    """Four processes write one folder over and over; at every look it holds one run's files and no other's."""
    out = tmp_path / "out"
    write_whole(out, content("B"))
    text = (
        f"import sys\nsys.path.insert(0, {str(ROOT)!r})\nfrom pathlib import Path\n"
        "from profiles.folder import write_whole\nfrom tests.stopping import content\n"
        f"for _ in range(12):\n    write_whole(Path({str(out)!r}), content(sys.argv[1]))\n"
    )
    processes = [subprocess.Popen([sys.executable, "-c", text, mark]) for mark in "CDEF"]
    looks = 0
    while any(process.poll() is None for process in processes):
        handle = os.open(out, os.O_RDONLY)
        try:  # by its handle it stays one folder, even when another takes its name
            marks = {
                Path(f"/proc/self/fd/{handle}/{name}").read_bytes()[:1]
                for name in ("templates.pdf", "pages/page-01.svg")
            }
            assert len(marks) == 1
            looks += 1
        except FileNotFoundError:
            pass  # it was the old one, which is being taken away
        finally:
            os.close(handle)
    assert [process.wait() for process in processes] == [0, 0, 0, 0]
    assert looks > 20
    assert held(out) in [content(mark) for mark in "CDEF"]
    assert names(tmp_path) == ["out"]


@linux
def test_a_run_waits_for_another_and_says_so_when_it_does_not_end(tmp_path: Path) -> None:
    """While another run holds the folder, this one says so after a while; a lock that nobody holds stops nobody."""
    import fcntl  # not on every system

    out = tmp_path / "out"
    lock = lock_file(out)
    lock.touch()
    write_whole(out, content("A"))
    assert names(tmp_path) == ["out"]
    with lock.open("w") as stream:
        fcntl.flock(stream, fcntl.LOCK_EX)
        with pytest.raises(FolderError, match="Another run"):
            write_whole(out, content("B"), patience=0.1)
    assert held(out) == content("A")
    write_whole(out, content("B"))
    assert names(tmp_path) == ["out"]


@pytest.mark.parametrize("exchange", [exchange_names, no_exchange])
def test_what_the_user_puts_in_meanwhile_is_kept(tmp_path: Path, exchange: Exchange) -> None:
    """A letter that comes into the folder while the new content is written stays there, and the run is refused."""
    out = tmp_path / "out"
    write_whole(out, content("A"))

    def late(first: Path, second: Path) -> bool:
        if not any((place / "letter.txt").exists() for place in (first, second)):
            (out / "letter.txt").write_text("dear", encoding="utf-8")
        return exchange(first, second)

    with pytest.raises(FolderError, match=r"letter\.txt"):
        write_whole(out, content("B"), exchange=late)
    assert held(out) == content("A") | {"letter.txt": b"dear"}
    assert names(tmp_path) == ["out"]
