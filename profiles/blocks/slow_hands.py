"""A hand that is much slower than the other, as a warning: where the wire nearly stands still it burns a hollow."""

from collections.abc import Sequence

from profiles.blocks.blocks import Block, CutBlock
from profiles.blocks.speeds import FASTEST
from profiles.notes import Note, warning
from profiles.units import block_name, number_runs

ABOUT = 1.05
"""A ratio that is larger by no more than this factor still counts as FASTEST."""


def slow_hands(blocks: Sequence[Block]) -> tuple[Note, ...]:
    """One warning for all wire-cut blocks whose hands differ in speed by more than FASTEST; or none."""
    ratios = {
        block.span.number: block.hands.ratio
        for block in blocks
        if isinstance(block, CutBlock) and block.hands.ratio > ABOUT * FASTEST
    }
    if not ratios:
        return ()
    number, ratio = max(ratios.items(), key=lambda item: item[1])
    where = f"block {block_name(number)}" if len(ratios) == 1 else f"blocks {number_runs([*ratios])}"
    most = "" if len(ratios) == 1 else f" in block {block_name(number)}"
    text = (
        f"One hand goes much faster than the other in {where}: up to {ratio:.0f} to 1{most}. "
        "A wire that stands still burns a hollow: keep the slow hand moving"
    )
    x = next(block.span.x_fore for block in blocks if block.span.number == number)
    return (warning(text, x),)
