"""Calls of the command with many jobs, small hulls for them, and a Dask cluster on this machine."""

import contextlib
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests import closed_forms as zoo

ROOT = Path(__file__).resolve().parents[2]

PATIENCE = 900.0
"""s that anything may take on a busy machine."""


def write_stl(path: Path, mesh: zoo.Mesh) -> Path:
    """A binary STL."""
    record = np.zeros(len(mesh[1]), dtype=np.dtype([("normal", "<3f4"), ("corners", "<9f4"), ("more", "<u2")]))
    record["corners"] = mesh[0][mesh[1]].reshape(-1, 9)
    path.write_bytes(b" " * 80 + len(record).to_bytes(4, "little") + record.tobytes())
    return path


def small_hulls(folder: Path, number: int) -> list[Path]:
    """So many boxes, each of another length; a job of one takes well under a second."""
    return [write_stl(folder / f"box-{n}.stl", zoo.box(100 + n, 60, 40)) for n in range(number)]


def demo_jobs(folder: Path) -> list[Path]:
    """The five demo hulls at two scales, as job files."""
    jobs = []
    for demo in ("skerrywing.stl", "wickerby.obj", "pelloway.glb", "tandril.3mf", "dunnockle.csv"):
        for length in (160, 200):
            job = folder / f"{demo.split('.')[0]}-{length}.toml"
            job.write_text(f'[hull]\nfile = "{ROOT / "models" / demo}"\nlength = {length}\n', encoding="utf-8")
            jobs.append(job)
    return jobs


FOAMS = ("--foam", "40", "--foam", "50", "--foam", "60", "--foam", "80")


def environment() -> dict[str, str]:
    """That of a run of this copy."""
    return os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "200"}


def command(*words: str | Path) -> list[str]:
    """The command as it is run."""
    return [sys.executable, "-W", "error", "-m", "profiles", *map(str, words)]


def make(folder: Path, *words: str | Path, code: int = 0) -> subprocess.CompletedProcess[str]:
    """`make` in a folder, which ends with an exit code and without a traceback."""
    done = subprocess.run(
        command("make", *words), cwd=folder, env=environment(), capture_output=True, text=True, check=False
    )
    assert done.returncode == code, (done.returncode, done.stdout, done.stderr)
    assert "Traceback" not in done.stderr
    return done


def content(folder: Path) -> dict[str, bytes]:
    """Every file of the jobs in a folder, by its name there; the tables hold seconds and are left out."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.name.startswith("catalogue.")
    }


@dataclass(frozen=True, slots=True)
class Cluster:
    """A scheduler and its workers, each a process of this machine."""

    address: str
    scheduler: subprocess.Popen[bytes]
    workers: tuple[subprocess.Popen[bytes], ...]


@contextlib.contextmanager
def cluster(folder: Path, workers: int = 2, *words: str, security: Sequence[str] = ()) -> Iterator[Cluster]:
    """A Dask cluster of workers with one thread each; `words` are for workers, `security` for all."""
    address_file, log = folder / "scheduler.json", folder / "cluster.log"
    base = [sys.executable, "-m", "dask"]
    local = ["--no-dashboard", "--scheduler-file", str(address_file), *security]
    started: list[subprocess.Popen[bytes]] = []
    with log.open("wb") as stream:

        def start(*more: str) -> subprocess.Popen[bytes]:
            process = subprocess.Popen(
                [*base, *more], cwd=folder, env=environment(), stdout=stream, stderr=subprocess.STDOUT
            )
            started.append(process)
            return process

        try:
            scheduler = start("scheduler", "--host", "127.0.0.1", "--port", "0", *local)
            _wait_for(address_file.exists, scheduler, log)
            settings = ["--nthreads", "1", "--no-nanny", "--local-directory", str(folder / "dask"), *words]
            crew = [start("worker", *settings, *local) for _ in range(workers)]
            for process in crew:
                _wait_for(lambda: log.read_bytes().count(b"Registered to:") >= workers, process, log)
            address = next(line for line in log.read_text().splitlines() if "Scheduler at:" in line).split()[-1]
            yield Cluster(address, scheduler, tuple(crew))
        finally:
            for process in started:
                process.kill()
            for process in started:
                process.wait()


def _wait_for(there: Callable[[], bool], process: subprocess.Popen[bytes], log: Path) -> None:
    end = time.monotonic() + PATIENCE
    while not there():
        assert process.poll() is None, log.read_text()
        assert time.monotonic() < end, log.read_text()
        time.sleep(0.1)


def wait_for_results(folder: Path, number: int, run: subprocess.Popen[str]) -> None:
    """Until so many jobs have their folder in this one."""
    end = time.monotonic() + PATIENCE
    while len(list(folder.glob("[!.]*/report.json"))) < number:  # with a dot it is still being written
        assert run.poll() is None, run.communicate()
        assert time.monotonic() < end
        time.sleep(0.02)


def start_make(folder: Path, *words: str | Path) -> "subprocess.Popen[str]":
    """`make` under way, in a process group of its own, with the folder `tmp` for temporary files."""
    (folder / "tmp").mkdir()
    own = environment() | {"TMPDIR": str(folder / "tmp")}
    pipe = subprocess.PIPE
    return subprocess.Popen(
        command("make", *words), cwd=folder, env=own, stdout=pipe, stderr=pipe, text=True, start_new_session=True
    )


def check_whole(folder: Path) -> list[str]:
    """Names of the results in a folder, each of which has all its files in their sizes, with nothing else there."""
    names = []
    for result in sorted(folder.iterdir()):
        if result.is_file():
            assert result.name in {"catalogue.csv", "catalogue.html"}
            continue
        origin = json.loads((result / "made-from.json").read_text(encoding="utf-8"))
        found = {
            path.relative_to(result).as_posix(): path.stat().st_size for path in result.rglob("*") if path.is_file()
        }
        del found["made-from.json"]
        assert found == origin["files"]
        names.append(result.name)
    return names
