"""The demo hulls and their jobs, written out for somebody who has the installed package only.

A wheel holds them in `demo_data` beside this module; in a checkout they are in `models`, beside the package.
"""

import os
import shutil
from pathlib import Path

from profiles.errors import FolderError
from profiles.values import dataclass

NAMES = ("skerrywing", "pelloway", "tandril", "wickerby", "dunnockle")
"""The demos, the one to begin with first."""

_INSTALLED = Path(__file__).parent / "demo_data"
_CHECKOUT = Path(__file__).parents[1] / "models"


@dataclass(frozen=True, slots=True)
class Demo:
    """One job that was written out."""

    job: Path
    about: str
    """What the hull is, in a sentence: the first line of the job file."""


def write_demos(folder: Path) -> tuple[Demo, ...]:
    """Write all demo hulls and jobs into a new or empty folder.

    Raises FolderError where the folder holds anything or cannot be written; nothing is left behind then.
    """
    try:
        if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
            message = f"{folder} is not a folder."
            raise FolderError(message, remedy="Choose a new folder.")
        if folder.exists() and any(folder.iterdir()):
            message = f"{folder} is not empty."
            raise FolderError(message, remedy="Choose a new folder.")
        _write(folder)
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        message = f"{ascii(str(folder))[1:-1]} cannot be written: {reason}."
        raise FolderError(message, remedy="Check the disk and the permissions, or choose another folder.") from None
    return tuple(Demo(folder / f"{name}.toml", about_demo(folder / f"{name}.toml")) for name in NAMES)


def demo_files(name: str) -> tuple[Path, Path]:
    """The job and the hull of a demo, where they lie. Raises FolderError where there are none with this name."""
    files = [path for path in _sources() if path.stem == name]
    if not files:
        message = f"there is no demo called {ascii(name)[1:41]}"
        raise FolderError(message, remedy=f"Choose one of {', '.join(NAMES)}.")
    job, hull = sorted(files, key=lambda path: path.suffix != ".toml")
    return job, hull


def about_demo(job: Path) -> str:
    """What the hull of a demo is, in a sentence: the first line of its job file."""
    return job.read_text(encoding="utf-8").splitlines()[0].removeprefix("#").strip()


def _sources() -> list[Path]:
    """The hull and the job of each demo."""
    home = _INSTALLED if _INSTALLED.is_dir() else _CHECKOUT
    files = [path for name in NAMES for path in sorted(home.glob(f"{name}.*")) if path.suffix not in {".png", ".svg"}]
    if len(files) != 2 * len(NAMES):
        message = f"The demo files are missing from {home}."
        raise FolderError(message, remedy="Install Stationer again.")
    return files


def _write(folder: Path) -> None:
    """All files in a new folder, which takes its name at the end, or in the empty one that is there."""
    sources = _sources()
    there = folder.is_dir()
    made = [path for path in (folder, *folder.parents) if not os.path.lexists(path)]
    # Complete under another name first: a full disk or an interrupt leaves no folder with half of the demos.
    fresh = (folder if there else folder.parent) / f".stationer-demo-{os.getpid()}"
    moved: list[Path] = []
    try:
        fresh.mkdir(parents=True)
        for source in sources:
            shutil.copyfile(source, fresh / source.name)
        if not there:
            fresh.rename(folder)
            return
        for source in sources:
            moved.append(folder / source.name)
            (fresh / source.name).rename(folder / source.name)
        fresh.rmdir()
    except BaseException:
        shutil.rmtree(fresh, ignore_errors=True)
        for path in moved:
            path.unlink(missing_ok=True)
        for path in made:
            if path.is_dir() and not any(path.iterdir()):
                path.rmdir()
        raise
