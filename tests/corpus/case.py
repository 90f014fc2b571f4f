"""What a case of the corpus is, and how its files come to be."""

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from tests import closed_forms as zoo
from tests.hull import mesh_files

Making = Callable[[Path], None]
"""Makes something in a folder that bytes alone cannot say: a link, a pipe."""

Content = bytes | Making


@dataclass(frozen=True, slots=True)
class Case:
    """A command over some files, and what must come of it."""

    kind: str
    name: str
    files: Mapping[str, Content]
    """Name below the working folder (".." may lead out of it) -> what it holds."""
    words: tuple[str, ...]
    code: int = 3
    says: tuple[str, ...] = ()
    """What the message, or where it is accepted the output, must hold."""
    size: tuple[float, float, float] | None = None
    """mm, length, breadth and depth of what is accepted."""
    alone: bool = False
    """Whether it might take the machine along, and runs in a process of its own."""

    @property
    def id(self) -> str:
        """For pytest."""
        return f"{self.kind}: {self.name}"


def refused(kind: str, name: str, file: str, content: Content, *says: str, alone: bool = False) -> Case:
    """A hull file that `make` must refuse with exit code 3."""
    return Case(kind, name, {file: content}, ("make", "--foam", "40", "--out", "out", "--", file), 3, says, alone=alone)


def accepted(
    kind: str,
    name: str,
    file: str,
    content: Content,
    size: tuple[float, float, float],
    *says: str,
    more: tuple[str, ...] = (),
) -> Case:
    """A hull file that `inspect` must read in its true size, and report everything that was guessed or repaired."""
    return Case(kind, name, {file: content}, ("inspect", "--json", *more, "--", file), 0, says, size)


WIGLEY = (400.0, 40.0, 25.0)
"""mm; size of the hull that stands where any hull will do."""


def hull() -> zoo.Mesh:
    """That hull."""
    return zoo.welded(zoo.wigley())


def stl(mesh: zoo.Mesh) -> bytes:
    """A binary STL."""
    return mesh_files.stl_binary(*mesh)


def stl_text(mesh: zoo.Mesh) -> bytes:
    """A text STL."""
    return mesh_files.stl_text(*mesh)


def obj(mesh: zoo.Mesh) -> bytes:
    """An OBJ with every digit."""
    return mesh_files.obj_text(mesh[0], mesh[1].tolist())


def linked(target: str, name: str) -> Making:
    """A link."""
    return lambda folder: (folder / name).symlink_to(target)


def piped(name: str) -> Making:
    """A pipe that nobody writes into."""
    return lambda folder: os.mkfifo(folder / name)


def late(name: str, content: Callable[[], bytes]) -> Making:
    """A file whose making takes a while, made only when it is needed."""

    def make(folder: Path) -> None:
        (folder / name).write_bytes(content())

    return make


def foldered(name: str) -> Making:
    """A folder where a file is expected."""
    return lambda folder: (folder / name).mkdir()


def laid_out(case: Case, folder: Path) -> None:
    """The files of a case in a folder."""
    for name, content in case.files.items():
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        if isinstance(content, bytes):
            target.write_bytes(content)
        else:
            content(folder)
