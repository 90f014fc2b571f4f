"""A hull cut into blocks, as one value."""

from concurrent.futures import Executor

from profiles.arrays import Floats
from profiles.blocks.blocks import Block, CutBlock
from profiles.blocks.cut_into import Cuts
from profiles.blocks.dividing import make_blocks
from profiles.blocks.missing import missing_foam
from profiles.blocks.settings import BlockSettings
from profiles.blocks.slow_hands import slow_hands
from profiles.blocks.stations import StationPlan
from profiles.hull.frame import Hull
from profiles.hull.parts import Joint, Part
from profiles.notes import Note
from profiles.setting import check_settings
from profiles.units import LETTERED, block_name
from profiles.values import dataclass


@dataclass(frozen=True, slots=True)
class Body:
    """A hull with its stations and blocks."""

    hull: Hull
    stations: StationPlan
    blocks: tuple[Block, ...]
    """From the nose."""
    settings: BlockSettings
    """That the blocks were made with."""
    cuts: Cuts | None = None
    """What is cut into the blocks besides their outside."""
    part: Part | None = None
    """The part of a divided hull that it is; None where it is all of it."""
    parts: "tuple[Body, ...]" = ()
    """The bodies of a divided hull, each in its own frame, the main body first; empty where it is in one piece.
    `blocks` are then those of all parts, and `stations` says where the main body is divided."""
    joints: tuple[Joint, ...] = ()
    """Between the parts."""

    @property
    def cut_blocks(self) -> tuple[CutBlock, ...]:
        """The blocks that a wire cuts along both templates."""
        return tuple(block for block in self.blocks if isinstance(block, CutBlock))

    @property
    def bodies(self) -> "tuple[Body, ...]":
        """Its parts, or itself where it is in one piece: whatever has one frame and one row of blocks."""
        return self.parts or (self,)

    @property
    def places(self) -> dict[int, tuple[Floats, Floats]]:
        """How the parts lie in the hull: place of the letter in the alphabet -> (turn, offset) as in `Part`."""
        return {
            body.blocks[0].span.number // LETTERED: (body.part.turn, body.part.offset)
            for body in self.bodies
            if body.part
        }

    @property
    def name(self) -> str:
        """The name of the part; empty for the main body, and where the hull is not divided."""
        return self.part.name if self.part else ""

    @property
    def letter(self) -> str:
        """What stands before the numbers of its blocks."""
        return block_name(self.blocks[0].span.number).rstrip("0123456789")

    @property
    def title(self) -> str:
        """What it is called in tables: "main body", or "K keel"."""
        return f"{self.letter} {self.name}" if self.name else "main body"

    @property
    def notes(self) -> tuple[Note, ...]:
        """All notes, in the order of the work."""
        shape = (note for block in self.blocks for note in block.notes)
        missing = missing_foam(self.blocks, self.settings.growth, self.settings.missing)
        cuts = self.cuts.notes if self.cuts else ()
        return (*self.hull.notes, *self.stations.notes, *shape, *missing, *slow_hands(self.blocks), *cuts)


def cut(
    hull: Hull,
    stations: StationPlan,
    settings: BlockSettings = BlockSettings(),
    executor: Executor | None = None,
) -> Body:
    """The blocks of a plan: outlines, pairing, growth, marks, boxes; `executor` does some of the work.

    Blocks that would leave too much to sand, or could only be carved, are divided where that helps; the stations of the
    body are then more than those of the plan. Raises JobError for settings that cannot be, HullError where a section
    cannot be closed.

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
    stations, blocks = make_blocks(hull.shape, stations, settings, executor)
    return Body(hull, stations, blocks, settings)
