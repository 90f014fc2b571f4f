"""Files as they arrive: in time, whole, and under names that are ours."""

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path

import pytest

from profiles.desk import uploads
from profiles.desk.uploads import UploadError, name_of, receive

HULL = name_of("hull.stl")


async def chunks(*parts: bytes, pause: float = 0.0) -> AsyncIterator[bytes]:
    for part in parts:
        await asyncio.sleep(pause)
        yield part


def test_a_file_is_stored_as_it_came(tmp_path: Path) -> None:
    """All its bytes, and their number."""
    target = tmp_path / "upload-1.stl"
    assert asyncio.run(receive(chunks(b"ab", b"", b"c"), target, HULL)) == 3
    assert target.read_bytes() == b"abc"


@pytest.mark.parametrize(("limit", "value"), [("STALL", 0.05), ("LONGEST", 0.3)])
def test_a_slow_upload_is_given_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limit: str, value: float) -> None:
    """One that stalls, and one that drips without end; what has arrived is removed."""
    monkeypatch.setattr(uploads, limit, value)
    slow = chunks(*[b"x"] * 1000, pause=1.0 if limit == "STALL" else 0.01)
    with pytest.raises(UploadError, match=r"^hull\.stl did not arrive in time\. Drop it again\.$") as fault:
        asyncio.run(receive(slow, tmp_path / "upload-1.stl", HULL))
    assert fault.value.status == 408
    assert [*tmp_path.iterdir()] == []


@pytest.mark.parametrize(
    ("parts", "status"), [((), 400), ((b"",), 400), ((b"x" * 11,), 413), ((b"x" * 6, b"x" * 6), 413)]
)
def test_empty_and_large_files_leave_nothing(tmp_path: Path, parts: tuple[bytes, ...], status: int) -> None:
    """An empty file, and one that is larger than it may be, at once or in the end."""
    with pytest.raises(UploadError) as fault:
        asyncio.run(receive(chunks(*parts), tmp_path / "upload-1.stl", HULL, most=10))
    assert fault.value.status == status
    assert [*tmp_path.iterdir()] == []


def test_a_full_disk_is_a_sentence(tmp_path: Path) -> None:
    """What the system says, and what to do."""
    with pytest.raises(UploadError, match=r"^hull\.stl cannot be stored: .*\. Check the disk\.$") as fault:
        asyncio.run(receive(chunks(b"x"), tmp_path / "nowhere" / "upload-1.stl", HULL))
    assert fault.value.status == 507


@pytest.mark.parametrize(
    ("given", "shown", "ending"),
    [
        ("hull.stl", "hull.stl", ".stl"),
        ("My Hull.STL.gz", "My Hull.STL.gz", ".stl.gz"),
        ("C:\\boats\\hull.obj", "hull.obj", ".obj"),
        ("../../hull.3mf", "hull.3mf", ".3mf"),
        ("job.toml", "job.toml", ".toml"),
        ("ru\u202emoc.ply", "rumoc.ply", ".ply"),
    ],
)
def test_names(given: str, shown: str, ending: str) -> None:
    """The name without folders and without what turns text round, and the ending that says how it is read."""
    name = name_of(given)
    assert (name.shown, name.ending) == (shown, ending)
