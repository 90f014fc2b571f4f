"""A job as values: the settings of every stage, and the file that the hull is read from. Lengths in mm."""

from dataclasses import replace
from typing import Annotated, get_args, get_origin, get_type_hints

from profiles.blocks.settings import BlockSettings, StationSettings
from profiles.foam.cutting import CuttingSettings
from profiles.foam.stock import Board
from profiles.foam.wire import WireSettings
from profiles.hull.settings import ReadSettings
from profiles.paper.settings import PageSettings
from profiles.setting import Setting
from profiles.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class HullSource(ReadSettings):
    """[hull]: the file, and how to read it."""

    file: Annotated[str, Setting("The hull file.", min_length=1, reported=False)]


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputSettings:
    """[output]: where to write the results."""

    folder: Annotated[
        str | None, Setting("Folder for the results (output/NAME).", "-o --out", "FOLDER", reported=False)
    ] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A whole job: the settings of every stage. Lengths in mm."""

    hull: HullSource
    foam: StationSettings = StationSettings()
    boards: tuple[Board, ...] = ()
    offcuts: tuple[Board, ...] = ()
    cutting: CuttingSettings = CuttingSettings()
    wire: WireSettings = WireSettings()
    template: BlockSettings = BlockSettings()
    paper: PageSettings = PageSettings()
    output: OutputSettings = OutputSettings()

    @property
    def stock(self) -> tuple[Board, ...]:
        """Boards and offcuts; an offcut without a count is a single piece."""
        return (*self.boards, *(replace(board, offcut=True, count=board.count or 1) for board in self.offcuts))


PARTS: dict[str, type] = {
    part: get_args(hint)[0] if get_origin(hint) is tuple else hint for part, hint in get_type_hints(Job).items()
}
"""The parts of a job file, and the settings class of each; of boards and offcuts there may be several."""
