"""What is taken away from the desk is what the command line makes, byte for byte."""

import io
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.desk.running import MODELS, ROOT, serving

SETTINGS = {
    "foam": {"thickness": 58.0, "odd": "tail"},
    "template": {"skin": 1.5, "kerf": 1.2, "wire": 0.4},
    "paper": {"bar_across": 99.6},
}


def make(folder: Path, *words: str) -> dict[str, bytes]:
    """The files of `stationer make`."""
    command = [sys.executable, "-m", "profiles", "make", *words, "--out", str(folder)]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    subprocess.run(command, cwd=folder.parent, env=environment, check=True, capture_output=True)
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_files_are_those_of_the_command_line(tmp_path: Path) -> None:
    """A dropped mesh, settings, and the ZIP; then the job file out of it on the command line."""
    (tmp_path / "tmp").mkdir()
    with serving(tmp_path / "tmp") as client:
        desk = client.enter().desk()
        assert client.drop(desk, MODELS / "skerrywing.stl").status_code == 202
        assert client.wait_ready(desk)["hull"]["state"] == "ready"
        assert client.wish(desk, SETTINGS).json()["coarse"]
        assert client.wait(desk, "done", "failed")["work"]["state"] == "done"
        listed = client.http.get(f"{desk}/files").json()
        fingerprint = client.http.get(f"{desk}/body").json()["fingerprint"]
        files = {file["name"]: client.http.get(file["url"]).content for file in listed["files"]}
        with zipfile.ZipFile(io.BytesIO(files["everything.zip"])) as archive:
            everything = {name: archive.read(name) for name in archive.namelist()}
            assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert client.http.get(f"{desk}/job.toml").content == everything["job.toml"]
    job = tmp_path / "job.toml"
    job.write_bytes(everything.pop("job.toml"))
    (tmp_path / "skerrywing.stl").write_bytes((MODELS / "skerrywing.stl").read_bytes())
    made = make(tmp_path / "made", str(job))
    assert made.keys() == everything.keys()
    assert [name for name in made if made[name] != everything[name]] == []
    assert files["templates.pdf"] == made["templates.pdf"]
    assert files["job-book.pdf"] == made["job-book.pdf"]
    assert fingerprint.encode() in made["report.json"]
    assert listed["fingerprint"] == fingerprint


@pytest.mark.parametrize("name", ["pelloway", pytest.param("dunnockle", marks=pytest.mark.slow)])
def test_demos_are_those_of_the_command_line(tmp_path: Path, name: str) -> None:
    """A demo by its name gives what its job file gives."""
    (tmp_path / "tmp").mkdir()
    with serving(tmp_path / "tmp") as client:
        desk = client.enter().desk()
        assert client.http.put(f"{desk}/demo", json={"name": name}).status_code == 202
        assert client.wait(desk, "done", "failed")["work"]["state"] == "done"
        listed = client.http.get(f"{desk}/files").json()["files"]
        files = {file["name"]: client.http.get(file["url"]).content for file in listed}
    made = make(tmp_path / "made", str(MODELS / f"{name}.toml"))
    both = made.keys() & files.keys()
    assert {"templates.pdf", "job-book.pdf", "cards.dxf", "report.json"} <= both
    assert [name for name in both if made[name] != files[name]] == []
