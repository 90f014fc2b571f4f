"""A hull cut into blocks, as one value."""

import math
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

from profiles.blocks.blocks import Block, CutBlock, make_blocks
from profiles.blocks.missing import missing_foam
from profiles.blocks.settings import BlockSettings
from profiles.blocks.stations import SAME_PLACE, StationPlan, divide_spans
from profiles.hull.frame import Hull
from profiles.notes import Note, assumption
from profiles.setting import check_settings


@dataclass(frozen=True, slots=True)
class Body:
    """A hull with its stations and blocks."""

    hull: Hull
    stations: StationPlan
    blocks: tuple[Block, ...]
    """From the nose."""
    settings: BlockSettings
    """That the blocks were made with."""

    @property
    def cut_blocks(self) -> tuple[CutBlock, ...]:
        """The blocks that a wire cuts along both templates."""
        return tuple(block for block in self.blocks if isinstance(block, CutBlock))

    @property
    def notes(self) -> tuple[Note, ...]:
        """All notes, in the order of the work."""
        shape = (note for block in self.blocks for note in block.notes)
        missing = missing_foam(self.blocks, self.settings.growth, self.settings.missing)
        return (*self.hull.notes, *self.stations.notes, *shape, *missing)


THINNEST = 5.0
"""mm; a block is not divided into thinner pieces than this: they bend under the wire (common practice)."""

MOST_PIECES = 4
"""Of one block at a time; where more seem needed, the shape and not the thickness is the reason."""

ROUNDS = 3
"""Times at most that blocks are divided. What a block leaves falls by the square of its thickness where the hull is
smooth, so one division is enough; the others are for what the square law does not foresee.
"""


def divide_to_sand_less(body: Body, most: float, executor: Executor | None = None) -> Body:
    """The body with those blocks divided that leave more than `most` mm to sand anywhere, as far as THINNEST allows.

    Raises what `cut` raises.
    """
    undivided = body.stations
    stretches: list[tuple[float, float]] = []
    for _ in range(ROUNDS):
        parts = {block.span.number: _pieces(block, most) for block in body.cut_blocks}
        wanted = {number: count for number, count in parts.items() if count > 1}
        if not wanted:
            break
        spans = (block.span for block in body.cut_blocks if block.span.number in wanted)
        stretches = _join_stretches([*stretches, *((span.x_fore, span.x_aft) for span in spans)])
        # By place, since the numbers of the blocks change with each division.
        places = ", ".join(f"{fore:.0f} to {aft:.0f}" for fore, aft in stretches)
        text = (
            f"Blocks would leave more than {most:g} mm to sand at x = {places} mm: divided into thinner ones. "
            "Override with --most none"
        )
        plan = replace(body.stations, notes=undivided.notes)
        body = cut(body.hull, divide_spans(plan, wanted, assumption(text)), body.settings, executor)
    return body


def _join_stretches(stretches: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Stretches (from, to) mm, ascending, those that meet or overlap as one."""
    joined: list[tuple[float, float]] = []
    for fore, aft in sorted(stretches):
        if joined and fore <= joined[-1][1] + SAME_PLACE:
            joined[-1] = joined[-1][0], max(aft, joined[-1][1])
        else:
            joined.append((fore, aft))
    return joined


def _pieces(block: CutBlock, most: float) -> int:
    """Into how many pieces a block is divided, by the square law, and 1 where it stays as it is."""
    wanted = math.ceil(math.sqrt(block.grown.sanding / most)) if block.grown.sanding > most else 1
    return min(wanted, MOST_PIECES, max(1, int(block.span.thickness / THINNEST)))


def cut(
    hull: Hull,
    stations: StationPlan,
    settings: BlockSettings = BlockSettings(),
    executor: Executor | None = None,
) -> Body:
    """The blocks of a plan: outlines, pairing, growth, marks, boxes; `executor` does some of the work.

    Raises JobError for settings that cannot be, HullError where a section cannot be closed.

    >>> from profiles import BlockSettings, StationSettings, cut, plan, read
    >>> hull = read("models/skerrywing.stl")
    >>> body = cut(hull, plan(hull, StationSettings(thickness=58)), BlockSettings(growth=0.0))
    >>> block = body.blocks[1]
    >>> block.fore.id, block.span.thickness, (block.box.width, block.box.height)
    ('02 fore', 58.0, (110.0, 150.0))
    >>> block.grown.deviation.missing > 0.5  # mm, without growth
    True
    """
    check_settings(settings)
    return Body(hull, stations, make_blocks(hull.shape, stations, settings, executor), settings)
