"""The demo hulls come with the program, from a checkout and from a wheel."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from profiles.demos import NAMES, write_demos
from profiles.errors import FolderError

ROOT = Path(__file__).parents[1]
MODELS = ROOT / "models"


def stationer(home: Path, cwd: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """The command with the package in `home`."""
    environment = os.environ | {"PYTHONPATH": str(home), "COLUMNS": "200"}
    command = [sys.executable, "-W", "error", "-m", "profiles", *words]
    return subprocess.run(command, cwd=cwd, env=environment, capture_output=True, text=True, check=False)


def test_demo_writes_hulls_and_jobs_and_says_what_to_run(tmp_path: Path) -> None:
    """Each job gets a line about it and a command that works."""
    done = stationer(ROOT, tmp_path, "demo", "my demos")
    assert done.returncode == 0, done.stderr
    commands = re.findall(r"stationer make '(.*\.toml)'", done.stdout)
    assert commands == [str(Path("my demos") / f"{name}.toml") for name in NAMES]
    assert "a flying-boat hull, 820 mm long" in done.stdout
    for job in commands:
        inspected = stationer(ROOT, tmp_path, "inspect", job)
        assert inspected.returncode == 0, inspected.stderr


def test_an_empty_folder_will_do(tmp_path: Path) -> None:
    """Into a folder that is there and empty go the same eight files as into a new one."""
    (tmp_path / "there").mkdir()
    write_demos(tmp_path / "there")
    write_demos(tmp_path / "new/deep")
    there, new = (
        {path.name: path.read_bytes() for path in folder.iterdir()}
        for folder in (tmp_path / "there", tmp_path / "new/deep")
    )
    assert there == new == {name: (MODELS / name).read_bytes() for name in there}
    assert len(there) == 2 * len(NAMES)


def test_a_folder_with_anything_in_it_is_refused(tmp_path: Path) -> None:
    """One message, exit code 3, and the folder stays as it was."""
    (tmp_path / "full").mkdir()
    (tmp_path / "full/letter.txt").touch()
    done = stationer(ROOT, tmp_path, "demo", "full")
    assert done.returncode == 3
    assert done.stderr == "stationer: full is not empty. Choose a new folder.\n"
    assert [path.name for path in tmp_path.rglob("*")] == ["full", "letter.txt"]


@pytest.mark.parametrize("there", [False, True])
def test_a_full_disk_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, there: bool) -> None:
    """When the third file cannot be written, no file and no folder is left of the two before it."""
    folder = tmp_path / "deep/demos"
    if there:
        folder.mkdir(parents=True)
    before = sorted(tmp_path.rglob("*"))
    written = []

    def copy(source: Path, target: Path) -> None:
        written.append(target)
        if len(written) > 2:
            raise OSError(28, "No space left on device")
        target.write_bytes(source.read_bytes())

    monkeypatch.setattr("shutil.copyfile", copy)
    with pytest.raises(FolderError, match="No space left"):
        write_demos(folder)
    assert len(written) == 3
    assert sorted(tmp_path.rglob("*")) == before


def test_a_wheel_holds_the_demos(tmp_path: Path) -> None:
    """A wheel is built and installed alone, and its command writes the demos without this repository."""
    pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check"]
    build = [*pip, "wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", str(tmp_path / "wheel"), str(ROOT)]
    subprocess.run(build, check=True, capture_output=True)
    (wheel,) = (tmp_path / "wheel").glob("*.whl")
    home = tmp_path / "home"
    install = [*pip, "install", "--no-deps", "--no-index", "--target", str(home), str(wheel)]
    subprocess.run(install, check=True, capture_output=True)
    done = stationer(home, tmp_path, "demo", "made")
    assert done.returncode == 0, done.stderr
    names = sorted(path.name for path in (tmp_path / "made").iterdir())
    assert names == sorted(path.name for path in (home / "profiles/demo_data").iterdir())
    assert all((tmp_path / "made" / name).read_bytes() == (MODELS / name).read_bytes() for name in names)
    assert stationer(home, tmp_path, "inspect", "made/skerrywing.toml").returncode == 0


def test_the_shell_completes_commands_and_options(tmp_path: Path) -> None:
    """The line that the README gives makes bash complete: "ma" is make, and --pap is --paper."""
    command = str(Path(sys.executable).parent / "stationer")
    words = {"stationer ma": (1, "make"), "stationer make --pap": (2, "--paper")}
    for typed, (place, whole) in words.items():
        asked = {"_STATIONER_COMPLETE": "bash_complete", "COMP_WORDS": typed, "COMP_CWORD": str(place)}
        environment = os.environ | {"PYTHONPATH": str(ROOT)} | asked
        done = subprocess.run([command], cwd=tmp_path, env=environment, capture_output=True, text=True, check=True)
        assert done.stdout.split() == [f"plain,{whole}"]
    assert "_STATIONER_COMPLETE=bash_source stationer" in (ROOT / "README.md").read_text(encoding="utf-8")
