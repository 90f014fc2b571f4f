"""A dozen commands with random options: each ends in its result or in one sentence (`make fuzz` runs a hundred)."""

from pathlib import Path

import pytest

from tests.fuzz.random_options import random_words, run

HANGS = 600.0
"""s; only what never ends takes longer, also where many tests run at once."""


@pytest.mark.parametrize("seed", range(1001, 1013))
def test_random_options_end_with_a_documented_exit_code(seed: int, tmp_path: Path) -> None:
    """Exit code 0, 2 or 3, no traceback, and no folder unless it is 0."""
    outcome = run(random_words(seed), tmp_path, HANGS)
    assert not outcome.fault, f"stationer {' '.join(outcome.words)}: {outcome.fault}"
