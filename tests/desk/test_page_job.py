"""From a hull that is dropped to a PDF that is taken away, in a real browser."""

import subprocess
import sys
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.desk.browsing import (
    ROOT,
    ball,
    body_ready,
    choose_demo,
    download,
    drop_file,
    files_ready,
    hull_ready,
    type_in,
)

if TYPE_CHECKING:
    from playwright.sync_api import Page


def made_by_command(job: Path, out: Path) -> Path:
    """The folder that the command line makes of a job."""
    subprocess.run(
        [sys.executable, "-m", "profiles", "make", str(job), "--out", str(out)],
        check=True,
        cwd=ROOT,
        capture_output=True,
    )
    return out


def test_a_dropped_hull_gives_the_same_pdf_as_the_command_line(page: "Page", tmp_path: Path) -> None:
    """The oracle is the command line: with the job that the page gives away it writes the same bytes."""
    hull = ball(tmp_path)
    drop_file(page, hull)
    hull_ready(page, hull.name)
    type_in(page, "#thickness", "30")
    files_ready(page)
    job = download(page, "job.toml", tmp_path)
    desk_pdf = download(page, "templates.pdf", tmp_path)
    fingerprint = page.locator("#fingerprint").inner_text()
    folder = made_by_command(job, tmp_path / "made")
    assert desk_pdf.read_bytes() == (folder / "templates.pdf").read_bytes()
    assert f'"fingerprint": "{fingerprint}"' in (folder / "report.json").read_text()


@pytest.mark.slow
def test_everything_in_one_holds_what_the_command_writes(page: "Page", tmp_path: Path) -> None:
    """Every file of the command's folder is in the archive, with the same bytes."""
    hull = ball(tmp_path, subdivisions=3)
    page.set_input_files("#hull-file", hull)
    hull_ready(page, hull.name)
    type_in(page, "#thickness", "50")
    files_ready(page)
    job = download(page, "job.toml", tmp_path)
    archive = download(page, "everything.zip", tmp_path)
    folder = made_by_command(job, tmp_path / "made")
    with zipfile.ZipFile(archive) as packed:
        names = {
            name.split("/", 1)[-1] if name.split("/", 1)[0] == hull.stem else name: name for name in packed.namelist()
        }
        wanted = [path.relative_to(folder).as_posix() for path in sorted(folder.rglob("*")) if path.is_file()]
        assert [name for name in wanted if name not in names] == []
        assert [name for name in wanted if packed.read(names[name]) != (folder / name).read_bytes()] == []


@pytest.mark.slow
def test_bars_that_are_off_give_a_corrected_pdf(page: "Page", tmp_path: Path) -> None:
    """Both measures go into the job, and the PDF is that of the command line with them."""
    hull = ball(tmp_path, subdivisions=3)
    drop_file(page, hull)
    hull_ready(page, hull.name)
    type_in(page, "#thickness", "50")
    files_ready(page)
    plain = download(page, "templates.pdf", tmp_path).read_bytes()
    type_in(page, "#printing [data-field='paper.bar_across'] input", "99.2")
    type_in(page, "#printing [data-field='paper.bar_up'] input", "100.4")
    page.wait_for_selector("html[data-files=stale]", state="attached")
    files_ready(page)
    corrected = download(page, "templates.pdf", tmp_path).read_bytes()
    job = download(page, "job.toml", tmp_path)
    folder = made_by_command(job, tmp_path / "made")
    assert corrected != plain
    assert corrected == (folder / "templates.pdf").read_bytes()
    assert "bar_across = 99.2" in job.read_text()
    assert "bar_up = 100.4" in job.read_text()


@pytest.mark.slow
def test_a_job_file_and_its_hull_come_in_either_order(page: "Page", tmp_path: Path) -> None:
    """The page says which hull the job needs, and takes its settings."""
    hull = ball(tmp_path, "airship.stl", subdivisions=3)
    job = tmp_path / "airship.toml"
    job.write_text('[hull]\nfile = "airship.stl"\nunit = "mm"\n\n[foam]\nthickness = 45\n')
    drop_file(page, job)
    page.wait_for_selector("#state-words:has-text('airship.stl')")
    drop_file(page, hull)
    body_ready(page)
    assert page.input_value("#thickness") == "45"


@pytest.mark.slow
def test_every_demo_becomes_files(page: "Page") -> None:
    """Each of the demo hulls goes all the way by one button."""
    for name in ("skerrywing", "tandril", "wickerby", "pelloway", "dunnockle"):
        choose_demo(page, name)
        page.wait_for_selector(f"[data-hull^='{name}']")
        files_ready(page)
        assert page.locator("[data-file='templates.pdf']").count() == 1
