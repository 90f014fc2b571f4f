"""Missing foam as a warning: a hollow in the finished body that sanding cannot remove."""

from collections.abc import Sequence

from profiles.blocks.blocks import Block, CutBlock
from profiles.blocks.growth import PROMISED
from profiles.blocks.settings import Growth
from profiles.notes import Note, warning
from profiles.units import block_name, number_runs

MISSED = 0.1
"""Depth in mm. A shallower hollow disappears under paint; a deeper one needs filler."""


def missing_foam(blocks: Sequence[Block], growth: Growth, allowed: float = 0.0) -> tuple[Note, ...]:
    """One warning for all wire-cut blocks that lack more than the job allows, `allowed` mm, and more than MISSED; or
    none. `growth` is the job's.
    """
    limit = max(MISSED, allowed + PROMISED)
    lacking = {
        block.span.number: block.grown.deviation
        for block in blocks
        if isinstance(block, CutBlock) and block.grown.deviation.missing > limit
    }
    if not lacking:
        return ()
    number, worst = max(lacking.items(), key=lambda item: item[1].missing)
    depth = f"{worst.missing:.2f} mm"
    if len(lacking) == 1:
        lack = f"Block {block_name(number)} lacks foam, up to {depth} deep."
    else:
        lack = f"Blocks {number_runs([*lacking])} lack foam, up to {depth} deep in block {block_name(number)}."
    remedy = (
        "Put a station inside with --break, or take thinner foam."
        if isinstance(growth, str)
        else "Use --growth varying, which enlarges outlines as far as each place needs."
    )
    return (warning(f"{lack} {remedy}", worst.lowest.x),)
