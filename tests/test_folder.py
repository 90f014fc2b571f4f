"""The output folder appears whole or not at all, and never takes the place of the user's own things."""

import os
from pathlib import Path

import pytest

from profiles.errors import FolderError
from profiles.folder import check_name, last_report, write_whole

FILES = {"templates.pdf": b"%PDF", "pages/page-01.svg": b"<svg/>", "report.json": b'{"fingerprint": "A"}'}


def test_writes_everything_and_nothing_beside_it(tmp_path: Path) -> None:
    """All files arrive, and no temporary folder stays."""
    write_whole(tmp_path / "out", FILES)
    assert {str(p.relative_to(tmp_path / "out")) for p in (tmp_path / "out").rglob("*") if p.is_file()} == set(FILES)
    assert [item.name for item in tmp_path.iterdir()] == ["out"]
    assert last_report(tmp_path / "out") == {"fingerprint": "A"}


def test_replaces_a_former_result_as_a_whole(tmp_path: Path) -> None:
    """Files of the last result that the new one has not are gone."""
    write_whole(tmp_path / "out", FILES | {"pages/page-02.svg": b""})
    write_whole(tmp_path / "out", FILES | {"report.json": b"{}"})
    assert not (tmp_path / "out/pages/page-02.svg").exists()
    assert last_report(tmp_path / "out") == {}


@pytest.mark.parametrize("name", ["letter.txt", "pages"])
def test_leaves_a_folder_of_the_users_alone(tmp_path: Path, name: str) -> None:
    """A folder with anything else in it, or without a report, is not ours to replace."""
    (tmp_path / "out" / name).mkdir(parents=True)
    with pytest.raises(FolderError, match="not an earlier result"):
        write_whole(tmp_path / "out", FILES)
    assert [item.name for item in (tmp_path / "out").iterdir()] == [name]


def test_a_file_or_link_in_the_way_is_refused(tmp_path: Path) -> None:
    """Neither a file nor a link is replaced by a folder."""
    (tmp_path / "file").touch()
    (tmp_path / "link").symlink_to(tmp_path)
    for name in ("file", "link"):
        with pytest.raises(FolderError, match="is not a folder"):
            write_whole(tmp_path / name, FILES)


def test_failure_while_writing_leaves_the_old_result(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk is full the old folder is still whole, and nothing else is left."""
    write_whole(tmp_path / "out", FILES)

    def full(_path: Path, _content: bytes) -> int:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(FolderError, match="No space left"):
        write_whole(tmp_path / "out", FILES)
    assert [item.name for item in tmp_path.iterdir()] == ["out"]
    assert last_report(tmp_path / "out") == {"fingerprint": "A"}


FORBIDDEN = ["nul", "out/CON.d", "com1", "out/LPT9.old", "out ", "out.", "a:b/out", "what?", "a\tb"]


@pytest.mark.parametrize("path", FORBIDDEN)
def test_names_that_windows_does_not_allow_are_refused_there(path: str) -> None:
    """A device, a name with a dot or a space at its end, and a special character are named in one message."""
    with pytest.raises(FolderError, match="Windows does not allow"):
        check_name(Path(path), "win32")
    check_name(Path(path), "linux")


@pytest.mark.parametrize("path", ["out", "../console", "out/com10", "/made/of foam", "./nullity.d"])
def test_usual_names_are_allowed_on_windows(path: str) -> None:
    """Names that only begin like a device, and paths with dots that mean folders, are allowed."""
    check_name(Path(path), "win32")
