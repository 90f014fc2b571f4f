"""The stages as README shows them, called from Python."""

import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import profiles
from profiles import (
    BlockSettings,
    PageSettings,
    ReadSettings,
    StationSettings,
    cut,
    lay_out,
    plan,
    read,
    render,
    supply,
)
from profiles.errors import JobError

ROOT = Path(__file__).resolve().parents[1]
SKERRYWING = ROOT / "models" / "skerrywing.stl"


def example() -> str:
    """The Python code of README's section."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    section = text.split("## From Python", 1)[1]
    return re.split(r"```", section)[1].removeprefix("python\n")


def test_the_example_in_the_readme_runs_and_prints_what_it_says() -> None:
    """Run as it stands, the example prints the lines that its comments give."""
    code = example()
    expected = re.findall(r"^# (\d.*)$", code, flags=re.MULTILINE)
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert len(expected) == 3
    assert done.stdout.splitlines() == expected


def test_every_public_name_is_there_and_listed() -> None:
    """Each name in __all__ can be had, and dir() shows it; other names are refused."""
    for name in profiles.__all__:
        assert getattr(profiles, name) is not None
    assert set(profiles.__all__) <= set(dir(profiles))
    with pytest.raises(AttributeError, match="no attribute 'slice'"):
        _ = profiles.slice


def test_importing_the_package_loads_no_library() -> None:
    """Stages load what they need when they are called."""
    code = "import sys, profiles; print({'numpy', 'shapely', 'pydantic', 'click'} & sys.modules.keys())"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"


def test_stages_lead_from_a_file_to_measured_pages() -> None:
    """A hull of 300 mm in foam of 60 mm: foam is planned for every block, and the finished PDF is handed over."""
    hull = read(SKERRYWING, ReadSettings(length=300))
    body = cut(hull, plan(hull, StationSettings(thickness=60)), BlockSettings(growth=0.0))
    foam = supply(body.blocks)
    assert {placed.block for billet in foam.cut.billets for placed in billet.blocks} == {
        block.span.number for block in body.blocks
    }
    files = render(lay_out(body, PageSettings()))
    assert files["templates.pdf"].startswith(b"%PDF")
    assert f"templates/{body.blocks[1].span.number:02d}-fore.svg" in files


def test_stages_refuse_settings_out_of_range_by_name() -> None:
    """Each stage names the setting and what was expected."""
    hull = read(SKERRYWING)
    with pytest.raises(JobError, match="thickness: expected a value above 0, found -1"):
        plan(hull, StationSettings(thickness=-1, min_block=-2))
    with pytest.raises(JobError, match="odd: expected one of nose, tail, both, found 'bow'"):
        plan(hull, StationSettings(thickness=40, odd="bow"))  # type: ignore[arg-type]
    with pytest.raises(JobError, match="no foam thickness"):
        plan(hull, StationSettings())
    with pytest.raises(JobError, match=r"pin: expected a value of 0\.5 or more"):
        cut(hull, plan(hull, StationSettings(thickness=400)), BlockSettings(pin=0.1))


def test_stages_refuse_settings_of_a_wrong_type_by_name() -> None:
    """Text is for job files and the command line; numbers of numpy, and lists, are taken."""
    hull = read(SKERRYWING)
    with pytest.raises(JobError, match="thickness: expected float or None, found '40'"):
        plan(hull, StationSettings(thickness="40"))  # type: ignore[arg-type]
    with pytest.raises(JobError, match="size: expected Paper, found 'A4'"):
        lay_out(cut(hull, plan(hull, StationSettings(thickness=400))), PageSettings(paper="A4"))  # type: ignore[arg-type]
    with pytest.raises(JobError, match="breaks: expected a tuple of float, found 100"):
        plan(hull, StationSettings(thickness=40, breaks=100))  # type: ignore[arg-type]
    with pytest.raises(JobError, match="growth: expected float or varying or block, found 'much'"):
        cut(hull, plan(hull, StationSettings(thickness=400)), BlockSettings(growth="much"))  # type: ignore[arg-type]
    stations = plan(hull, StationSettings(thickness=np.float32(40), breaks=[np.int64(100)]))  # type: ignore[arg-type]
    assert 100 in stations.stations
