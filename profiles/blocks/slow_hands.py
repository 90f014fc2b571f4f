"""A hand that is much slower than the other, or rests, as a warning: where the wire nearly stands still it burns a
hollow.
"""

from collections.abc import Sequence

from profiles.blocks.blocks import Block, CutBlock
from profiles.blocks.speeds import FASTEST
from profiles.notes import Note, warning
from profiles.units import block_name, number_runs

ABOUT = 1.05
"""A ratio that is larger by no more than this factor still counts as FASTEST."""


def slow_hands(blocks: Sequence[Block]) -> tuple[Note, ...]:
    """One warning for all wire-cut blocks whose hands differ in speed by more than FASTEST, and one for those where a
    hand rests; or none.
    """
    cut = [block for block in blocks if isinstance(block, CutBlock)]
    slow = [block for block in cut if block.hands.ratio > ABOUT * FASTEST]
    resting = [block for block in cut if block.hands.rests]
    notes = []
    if slow:
        worst = max(slow, key=lambda block: block.hands.ratio)
        most = "" if len(slow) == 1 else f" in block {block_name(worst.span.number)}"
        text = (
            f"One hand goes much faster than the other in {_names(slow)}: up to {worst.hands.ratio:.0f} to 1{most}. "
            "A wire that stands still burns a hollow: keep the slow hand moving"
        )
        notes.append(warning(text, worst.span.x_fore))
    if resting:
        text = (
            f"One hand waits between two marks that lie on each other while the other goes on, in {_names(resting)}. "
            "The wire burns a hollow where it waits: keep the other hand as fast as the wire cuts"
        )
        notes.append(warning(text, resting[0].span.x_fore))
    return tuple(notes)


def _names(blocks: Sequence[CutBlock]) -> str:
    numbers = [block.span.number for block in blocks]
    return f"block {block_name(numbers[0])}" if len(numbers) == 1 else f"blocks {number_runs(numbers)}"
