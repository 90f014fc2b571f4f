"""Memory: a bound known from the file, no more tasks at once than there is room for, and a limit that holds."""

import gzip
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from profiles.catalogue.memory import MIB, PER_BYTE, PER_CHARACTER, PER_TRIANGLE, WORK, Room, bound, free_memory
from profiles.hull.limits import MOST_BYTES, MOST_TRIANGLES
from tests.catalogue.calls import ROOT, environment

LINUX = pytest.mark.skipif(sys.platform != "linux", reason="only Linux keeps a process to it")


def of(file: Path) -> int:
    return bound(file, MOST_TRIANGLES, MOST_BYTES)


def test_the_bound_follows_from_the_size_of_the_file(tmp_path: Path) -> None:
    """So many bytes for each of the file, less for text, beside what any job takes."""
    mesh, text = tmp_path / "a.stl", tmp_path / "a.obj"
    for file in (mesh, text):
        file.write_bytes(bytes(1000))
    assert of(mesh) == WORK + 1000 * PER_BYTE
    assert of(text) == WORK + 1000 * PER_CHARACTER
    assert of(tmp_path / "missing.stl") == WORK


def test_the_bound_ends_with_the_triangles_that_are_allowed(tmp_path: Path) -> None:
    """A larger file is never read."""
    file = tmp_path / "a.stl"
    file.write_bytes(bytes(100_000))
    assert bound(file, 1000, MOST_BYTES) == WORK + 1000 * PER_TRIANGLE
    assert bound(file, MOST_TRIANGLES, 50_000) == WORK + 50_000 * PER_BYTE


def test_packed_files_count_by_what_they_hold(tmp_path: Path) -> None:
    """Packed by gzip it ends with the size of its content (RFC 1952); an archive lists the sizes of its files."""
    packed, archive = tmp_path / "a.stl.gz", tmp_path / "a.3mf"
    packed.write_bytes(gzip.compress(bytes(50_000)))
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as parts:
        parts.writestr("3D/3dmodel.model", bytes(70_000))
    assert of(packed) == WORK + 50_000 * PER_BYTE
    assert of(archive) == WORK + 70_000 * PER_BYTE


@pytest.mark.parametrize("content", [b"", b"\x1f\x8b", b"PK\x03\x04 no archive at all"])
@pytest.mark.parametrize("name", ["a.gz", "a.3mf"])
def test_a_file_that_is_damaged_has_a_bound_too(tmp_path: Path, name: str, content: bytes) -> None:
    """Its reader says what is wrong with it."""
    file = tmp_path / name
    file.write_bytes(content)
    assert of(file) >= WORK


def test_no_more_is_given_out_than_there_is() -> None:
    """A task waits until it fits; one that never fits gets all to itself."""
    room = Room(100)
    assert room.take(60)
    assert not room.take(50)
    assert room.take(40)
    room.give_back(60)
    room.give_back(40)
    assert room.take(1000)
    assert not room.take(1)


@LINUX
def test_free_memory_is_within_what_the_machine_has() -> None:
    """Compared with MemTotal of the system."""
    total = int(Path("/proc/meminfo").read_text(encoding="ascii").split()[1]) << 10
    assert 0 < free_memory() <= total


ALLOCATE = """
import sys
from profiles.catalogue.memory import limited
with limited(int(sys.argv[1])):
    try:
        bytearray(int(sys.argv[2]))
        print("there")
    except MemoryError:
        print("refused")
bytearray(int(sys.argv[2]))
print("free again")
"""


@LINUX
@pytest.mark.parametrize(("wanted", "answer"), [(50 * MIB, "there"), (200 * MIB, "refused")])
def test_a_limit_holds_and_ends(wanted: int, answer: str) -> None:
    """More than the limit is refused by the system, and given again afterwards."""
    done = subprocess.run(
        [sys.executable, "-c", ALLOCATE, str(100 * MIB), str(wanted)],
        capture_output=True, text=True, check=True, cwd=ROOT, env=environment(),
    )  # fmt: skip
    assert done.stdout.split("\n")[:2] == [answer, "free again"]
