"""Planning by fit through the whole job: within the limit, within the foam, and never more blocks than need be."""

from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from profiles.blocks.blocks import Block, CarvedBlock, CutBlock
from profiles.blocks.body import Body
from profiles.build import read_job, shape
from profiles.hull.frame import Hull
from profiles.job import Job
from profiles.jobfile import load_job

MODELS = Path(__file__).resolve().parents[1] / "models"

FOAM = 58.0
LIMIT = 1.0
STEP = 432.0
"""mm; the planing step of the demo flying boat, where its job file asks for a station."""


def job(foam: float = FOAM, fit: float | None = None) -> Job:
    words = {("foam", "thickness"): foam, ("foam", "fit"): fit}
    return load_job(MODELS / "skerrywing.toml", words)


@cache
def hull() -> Hull:
    return read_job(job())


@cache
def planned(foam: float = FOAM, fit: float | None = None) -> tuple[Body, tuple[Block, ...]]:
    """The body, and its blocks."""
    body = shape(job(foam, fit), hull())
    return body, body.blocks


def largest(blocks: tuple[Block, ...]) -> float:
    """The largest deviation after growth outside tip blocks, mm."""
    return max(
        max(block.grown.deviation.extra, block.grown.deviation.missing)
        for block in blocks
        if isinstance(block, CutBlock)
    )


def test_no_block_is_over_the_limit_after_growth() -> None:
    """Made again block by block, all but the two carved ends stay within the millimetre asked for."""
    _, blocks = planned(fit=LIMIT)
    assert largest(blocks) <= LIMIT + 1e-9
    assert [block.span.number for block in blocks if isinstance(block, CarvedBlock)] == [1, len(blocks)]
    assert all(isinstance(block, CutBlock) for block in blocks[1:-1])


def test_blocks_keep_to_the_foam_the_thinnest_block_and_the_break() -> None:
    """Stations go from end to end with the step among them; no block is over 58 mm or under 10 mm."""
    made, _ = planned(fit=LIMIT)
    stations = made.stations.stations
    assert stations[0] == 0
    assert stations[-1] == pytest.approx(hull().length)
    assert any(abs(x - STEP) < 1e-6 for x in stations)
    thicknesses = [aft - fore for fore, aft in pairwise(stations)]
    assert max(thicknesses) <= FOAM + 1e-6
    assert min(thicknesses) >= 10 - 1e-6
    full = [span.full for span in made.stations.spans]
    assert full == [abs(thickness - FOAM) < 1e-6 for thickness in thicknesses]


def test_no_uniform_slicing_within_the_limit_takes_fewer_blocks() -> None:
    """Foams from 58 mm down, sliced throughout: those with fewer blocks than the fit are off by more than the limit."""
    _, blocks = planned(fit=LIMIT)
    for foam in (58.0, 50.0, 40.0):
        _, sliced = planned(foam)
        assert len(sliced) >= len(blocks)
        assert len(sliced) > len(blocks) or largest(sliced) > LIMIT


def test_fit_to_what_uniform_slicing_leaves_takes_no_more_blocks() -> None:
    """With the largest deviation of full blocks as the limit, the plan has no more blocks and no larger deviation."""
    _, sliced = planned()
    limit = largest(sliced)
    _, blocks = planned(fit=limit + 1e-6)
    assert len(blocks) <= len(sliced)
    assert largest(blocks) <= limit + 1e-6


def test_hull_whose_pieces_join_is_planned_by_fit_too() -> None:
    """Tandril, whose floats and wing join: it is not refused. Two blocks at most are carved, the faces at a change of
    pieces are those just before and just after it, and a warning names the blocks that even the thinnest leave over the
    limit, with their true deviation.
    """
    job = load_job(MODELS / "tandril.toml", {("foam", "fit"): LIMIT})
    body = shape(job, read_job(job))
    assert sum(isinstance(block, CarvedBlock) for block in body.blocks) <= 2
    assert sum(span.fore_inset > 0 for span in body.stations.spans) == 2
    off = {block.span.number: block.grown.deviation.extra for block in body.cut_blocks}
    over = [number for number, value in off.items() if value > LIMIT + 1e-9]
    words = " ".join(note.sentence for note in body.stations.notes if "No plan keeps" in note.sentence)
    assert bool(words) == bool(over)
    assert not over or f"up to {max(off.values()):.2f} mm off" in words
    assert all(body.blocks[number - 1].span.thickness <= 10 + 1e-6 for number in over)
