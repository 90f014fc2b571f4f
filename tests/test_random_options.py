"""A dozen commands with random options: each ends in its result or in one sentence (`make fuzz` runs a hundred)."""

from pathlib import Path

import pytest

from tests.fuzz.random_options import random_words, run


@pytest.mark.parametrize("seed", range(1001, 1013))
def test_random_options_end_with_a_documented_exit_code(seed: int, tmp_path: Path) -> None:
    """Exit code 0, 2 or 3, no traceback, no folder unless it is 0, and no minute of processor time."""
    outcome = run(random_words(seed), tmp_path)
    assert not outcome.fault, f"stationer {' '.join(outcome.words)}: {outcome.fault}"
