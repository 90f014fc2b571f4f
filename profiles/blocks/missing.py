"""Missing foam as a warning: a hollow in the finished body that sanding cannot remove."""

from collections.abc import Sequence

from profiles.blocks.blocks import Block, CutBlock
from profiles.notes import Note, warning
from profiles.units import number_runs

MISSED = 0.1
"""Depth in mm. A shallower hollow disappears under paint; a deeper one needs filler."""


def missing_foam(blocks: Sequence[Block], growth: float | None) -> tuple[Note, ...]:
    """One warning for all wire-cut blocks that lack more than MISSED, or none.

    `growth` is the job's: mm by which every outline is enlarged, None for as much as each block needs.
    """
    lacking = {
        block.span.number: block.grown.deviation
        for block in blocks
        if isinstance(block, CutBlock) and block.grown.deviation.missing > MISSED
    }
    if not lacking:
        return ()
    number, worst = max(lacking.items(), key=lambda item: item[1].missing)
    depth = f"{worst.missing:.2f} mm"
    if len(lacking) == 1:
        lack = f"Block {number:02d} lacks foam, up to {depth} deep."
    else:
        lack = f"Blocks {number_runs([*lacking])} lack foam, up to {depth} deep in block {number:02d}."
    remedy = (
        "Put a station inside with --break, or take thinner foam."
        if growth is None
        else "Use --growth block, which enlarges outlines as far as each block needs."
    )
    return (warning(f"{lack} {remedy}", worst.lowest.x),)
