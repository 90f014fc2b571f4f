"""The examples in docstrings run and give what they say."""

import doctest
import importlib
from pathlib import Path

import pytest

import profiles

ROOT = Path(__file__).resolve().parents[1]
MODULES = [
    ".".join(path.relative_to(ROOT).with_suffix("").parts)
    for path in sorted((ROOT / "profiles").rglob("*.py"))
    if ">>>" in path.read_text(encoding="utf-8")
]
STAGES = ("read", "plan", "cut", "supply", "lay_out", "render")


@pytest.mark.parametrize("name", MODULES)
def test_examples_run(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """From the folder of the checkout, as README's example."""
    monkeypatch.chdir(ROOT)
    done = doctest.testmod(importlib.import_module(name))
    assert done.attempted
    assert not done.failed


@pytest.mark.parametrize("stage", STAGES)
def test_every_stage_has_an_example(stage: str) -> None:
    """Each function of the data flow shows how it is called."""
    assert ">>>" in (getattr(profiles, stage).__doc__ or "")
