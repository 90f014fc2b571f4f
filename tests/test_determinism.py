"""The same job gives the same bytes, whatever else is different about the run."""

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

JOB = ROOT / "models" / "pelloway.toml"

PROCESSES = "import sys; sys.argv += ['--workers', '{}']"
TWO_PROCESSES = PROCESSES.format(2)

SPAWNED = f"""
{PROCESSES.format(3)}
import threading, time
threading.Thread(target=time.sleep, args=(600,), daemon=True).start()
"""
"""With a second thread there is no fork."""

LOCALES = ("C", "C.UTF-8", "de_DE.UTF-8", "tr_TR.UTF-8", "ar_EG.UTF-8")
"""Among them one with decimal commas, one with another letter i, one with other digits."""


def made(folder: Path, *, before: str = TWO_PROCESSES, out: str = "out", **environment: str) -> dict[str, str]:
    """A digest of each file that the command makes in an empty folder."""
    folder.mkdir(parents=True)
    code = f"{before}\nimport sys\nsys.argv = ['stationer', *sys.argv[1:]]\nfrom profiles.cli import main\nmain()"
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code, "make", str(JOB), "--out", out],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(ROOT), "PYTHONHASHSEED": "0"} | environment,
        capture_output=True,
        text=True,
        encoding="utf-8",
        errors="replace",
        check=False,
    )
    assert done.returncode == 0, done.stderr
    place = folder / out
    return {
        str(path.relative_to(place)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(place.rglob("*"))
        if path.is_file()
    }


@pytest.fixture(scope="module")
def usual(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """What the command makes as it is usually run."""
    return made(tmp_path_factory.mktemp("usual") / "work")


@pytest.fixture(scope="module")
def locales(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with those of the locales that can be compiled here."""
    folder = tmp_path_factory.mktemp("locales")
    compiler = shutil.which("localedef")
    for name in LOCALES[2:] if compiler else ():
        language, encoding = name.split(".")
        command = [str(compiler), "-i", language, "-f", encoding, str(folder / name)]
        subprocess.run(command, check=False, capture_output=True)
    return folder


@pytest.mark.parametrize("seed", ["1", "4294967295"])
def test_hash_seed_changes_nothing(tmp_path: Path, usual: dict[str, str], seed: str) -> None:
    """The order of sets and dictionaries of text is nowhere in the results."""
    assert made(tmp_path / "work", PYTHONHASHSEED=seed) == usual


@pytest.mark.parametrize("before", [PROCESSES.format(1), PROCESSES.format(4), SPAWNED], ids=["1", "4", "spawned"])
def test_any_number_of_processes_makes_what_two_make(tmp_path: Path, usual: dict[str, str], before: str) -> None:
    """Work done by workers, forked or spawned, comes out as if it had been done in the first process."""
    assert made(tmp_path / "work", before=before) == usual


@pytest.mark.parametrize("name", LOCALES)
def test_locale_changes_nothing(tmp_path: Path, usual: dict[str, str], locales: Path, name: str) -> None:
    """Decimal commas, other digits and other letters of the user's language stay out of the files."""
    if name in LOCALES[2:] and not (locales / name).exists():
        pytest.skip(f"{name} cannot be had here")
    setting = "import locale; locale.setlocale(locale.LC_ALL, '')"
    path = {"LOCPATH": str(locales)} if name in LOCALES[2:] else {}
    assert made(tmp_path / "work", before=f"{TWO_PROCESSES}\n{setting}", LC_ALL=name, LANG=name, **path) == usual


def test_place_and_time_change_nothing(tmp_path: Path, usual: dict[str, str]) -> None:
    """Another working folder, name of the output folder, time zone, user and home make no difference."""
    other = made(
        tmp_path / "a longer name, with spaces" / "deep", out="elsewhere/made",
        TZ="Pacific/Kiritimati", HOME=str(tmp_path), USER="somebody", TMPDIR=str(tmp_path), SOURCE_DATE_EPOCH="1",
    )  # fmt: skip
    assert other == usual


def test_threads_of_the_libraries_change_nothing(tmp_path: Path, usual: dict[str, str]) -> None:
    """Sums come out the same with one thread of the linear algebra library as with several."""
    assert made(tmp_path / "work", OPENBLAS_NUM_THREADS="1", OMP_NUM_THREADS="1") == usual


def test_a_difference_would_be_seen(tmp_path: Path, usual: dict[str, str]) -> None:
    """Another number behind the fingerprint is found in the files."""
    before = f"{TWO_PROCESSES}\nimport profiles.layout as b\nb.PLAN_FORMAT += 1"
    assert made(tmp_path / "work", before=before) != usual
