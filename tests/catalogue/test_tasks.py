"""From the words of a call to its tasks: names, folders, and clashes that are found before anything starts."""

from pathlib import Path

import pytest

from profiles.catalogue.tasks import Words, make_tasks, refuse_root
from profiles.errors import FolderError, WordsError
from profiles.options import NAMES
from tests.catalogue.calls import content, make, small_hulls


def words(root: str | None = "made", **values: object) -> Words:
    return Words({("foam", key): value for key, value in values.items()}, NAMES, Path(root) if root else None)


def folders(sources: list[str], foams: list[str], root: str | None = "made") -> list[str]:
    return [task.folder.as_posix() for task in make_tasks([Path(name) for name in sources], foams, words(root))]


def test_each_file_is_made_with_each_foam_in_a_folder_named_after_both() -> None:
    """Two files and two foams are four tasks, in the order of the files."""
    assert folders(["a.stl", "b.obj.gz"], ["40", "1.5 in"]) == [
        "made/a-40",
        "made/a-1.5-in",
        "made/b-40",
        "made/b-1.5-in",
    ]


def test_with_one_foam_or_none_the_folder_is_named_after_the_file() -> None:
    """The same names as of a job that is made alone."""
    assert folders(["a.stl", "b.stl"], ["40"]) == folders(["a.stl", "b.stl"], []) == ["made/a", "made/b"]
    assert folders(["a.stl"], [], root=None) == ["output/a"]


def test_a_job_file_names_its_own_folder_unless_the_call_names_one(tmp_path: Path) -> None:
    """[output] folder is taken relative to the job file; --out goes before it."""
    file = tmp_path / "job.toml"
    file.write_text('[hull]\nfile = "a.stl"\n[output]\nfolder = "own"\n', encoding="utf-8")
    (own,) = make_tasks([file], ["40"], words(None))
    (other,) = make_tasks([file], ["40"], words("made"))
    assert (own.folder, other.folder) == (tmp_path / "own", Path("made/job"))


def test_a_job_file_that_is_at_fault_is_a_task_with_its_sentence(tmp_path: Path) -> None:
    """The other tasks are not stopped by it."""
    (tmp_path / "bad.toml").write_text("[hull", encoding="utf-8")
    bad, good = make_tasks([tmp_path / "bad.toml", Path("a.stl")], ["40"], words())
    assert (bad.fault_code, good.fault) == (3, "")
    assert "not valid TOML" in bad.fault


@pytest.mark.parametrize(
    "sources",
    [["a.stl", "a.obj"], ["a.stl", "in/a.stl"], ["a.stl", "a.stl"], ["Hull.stl", "hull.stl"], ["a.stl", "a.stl.gz"]],
)
def test_two_tasks_for_one_folder_are_refused(sources: list[str]) -> None:
    """Also where the names differ only in capitals, which many disks do not tell apart."""
    with pytest.raises(WordsError, match="would both be written to"):
        folders(sources, ["40"])


def test_one_foam_named_twice_is_refused() -> None:
    """Its two tasks would have one folder."""
    with pytest.raises(WordsError, match="would both be written to"):
        folders(["a.stl"], ["40", "40"])


def test_a_folder_inside_that_of_another_task_is_refused(tmp_path: Path) -> None:
    """A result never lies in a result."""
    inner = tmp_path / "inner.toml"
    inner.write_text('[hull]\nfile = "a.stl"\n[output]\nfolder = "outer/own/deep"\n', encoding="utf-8")
    outer = tmp_path / "other.toml"
    outer.write_text('[hull]\nfile = "a.stl"\n[output]\nfolder = "outer"\n', encoding="utf-8")
    with pytest.raises(WordsError, match="would lie inside"):
        make_tasks([inner, outer], ["40"], words(None))


def test_the_table_goes_into_no_tasks_folder_and_over_no_file(tmp_path: Path) -> None:
    """Neither is there anything to guess about."""
    tasks = make_tasks([Path("a.stl")], ["40"], words(str(tmp_path)))
    with pytest.raises(WordsError, match="where the table"):
        refuse_root(tmp_path / "a", tasks)
    (tmp_path / "file").touch()
    with pytest.raises(FolderError, match="is not a folder"):
        refuse_root(tmp_path / "file", tasks)


def test_options_at_fault_are_refused_before_anything_starts() -> None:
    """A thickness that cannot be stops all tasks, so it is no fault of one."""
    with pytest.raises(WordsError):
        make_tasks([Path("a.stl"), Path("b.stl")], ["40"], words(min_block="-3"))


def test_a_clash_ends_the_command_with_2_and_leaves_nothing(tmp_path: Path) -> None:
    """Even the task before it is not made."""
    first, _ = small_hulls(tmp_path, 2)
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / first.name).write_bytes(first.read_bytes())
    before = content(tmp_path)
    done = make(tmp_path, "box-1.stl", first.name, f"in/{first.name}", "--foam", "60", "-o", "made", code=2)
    assert "would both be written to made/box-0" in done.stderr
    assert content(tmp_path) == before
