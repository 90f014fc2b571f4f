"""A job as values: the settings of every stage, and the file that the hull is read from. Lengths in mm."""

from dataclasses import replace
from types import NoneType
from typing import Annotated, Any, Literal, get_args, get_origin, get_type_hints

from profiles.blocks.settings import BlockSettings, StationSettings
from profiles.body.settings import BodySettings, Load, WaterSettings
from profiles.cuts.settings import Bay, Cutout, CutSettings, Hollow, Rod, Stand
from profiles.drafting.settings import DraftSettings, DrawingSettings, Marking, Panel
from profiles.foam.cutting import CuttingSettings
from profiles.foam.stock import Board
from profiles.foam.wire import WireSettings
from profiles.hull.part_settings import PartSettings
from profiles.hull.settings import ReadSettings
from profiles.paper.settings import PageSettings
from profiles.setting import MAX_PLACES, UNIONS, Place, Setting, length_setting
from profiles.units import PrintUnit
from profiles.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class HullSource(ReadSettings):
    """[hull]: the file, and how to read it."""

    file: Annotated[str, Setting("The hull file.", min_length=1, reported=False)]
    parts: Annotated[
        Literal["auto", "none"] | None,
        Setting(
            "Take the parts that are proposed (auto), or leave out those of the job (none).", "--parts", reported=False
        ),
    ] = None
    """None: the parts under [[parts]]. Not reported: the parts that were taken are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPart(PartSettings):
    """[[parts]]: a part that is cut off the hull, and how it is divided into blocks; what it leaves out is as for the
    main body. Lengths in mm.
    """

    thickness: Annotated[float | None, length_setting("Thickness of its foam.", key="foam", above=0)] = None
    odd: Annotated[Literal["nose", "tail", "both"] | None, Setting("Where odd blocks go.")] = None
    min_block: Annotated[float | None, length_setting("Thinnest block.", minimum=0)] = None
    breaks: Annotated[
        tuple[Place, ...], Setting("Stations of the part, from its nose.", lenient=True, max_length=MAX_PLACES)
    ] = ()
    """mm from where its slices begin."""

    def stations(self, main: StationSettings) -> StationSettings:
        """The settings for its stations, from those of the main body. Raises JobError where they contradict."""
        thickness = main.thickness if self.thickness is None else self.thickness
        least = main.min_block if self.min_block is None else self.min_block
        if self.min_block is None and thickness is not None:
            least = min(least, thickness)
        return replace(main, thickness=thickness, odd=self.odd or main.odd, min_block=least, breaks=self.breaks)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputSettings:
    """[output]: where to write the results, and in which unit."""

    folder: Annotated[
        str | None, Setting("Folder for the results (output/NAME).", "-o --out", "FOLDER", reported=False)
    ] = None
    units: Annotated[PrintUnit, Setting("Unit of all printed lengths: mm, or in (mm).", lenient=True)] = PrintUnit.MM


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
    hollow: tuple[Hollow, ...] = ()
    rods: tuple[Rod, ...] = ()
    cutouts: tuple[Cutout, ...] = ()
    bays: tuple[Bay, ...] = ()
    stands: tuple[Stand, ...] = ()
    body: BodySettings | None = None
    loads: tuple[Load, ...] = ()
    water: WaterSettings | None = None
    parts: tuple[JobPart, ...] = ()
    paper: PageSettings = PageSettings()
    drawings: DrawingSettings | None = None
    panels: tuple[Panel, ...] = ()
    markings: tuple[Marking, ...] = ()
    output: OutputSettings = OutputSettings()

    @property
    def stock(self) -> tuple[Board, ...]:
        """Boards and offcuts; an offcut without a count is a single piece."""
        return (*self.boards, *(replace(board, offcut=True, count=board.count or 1) for board in self.offcuts))

    @property
    def drafts(self) -> DraftSettings:
        """What is drawn at true size beside the templates."""
        return DraftSettings(self.drawings, self.panels, self.markings)

    @property
    def cuts(self) -> CutSettings:
        """What is cut into the body."""
        return CutSettings(self.hollow, self.rods, self.cutouts, self.bays, self.stands)

    @property
    def is_weighed(self) -> bool:
        """Whether the job asks for weight, balance or flotation."""
        return bool(self.body or self.loads or self.water)


_HINTS = get_type_hints(Job)

MANY = frozenset(part for part, hint in _HINTS.items() if get_origin(hint) is tuple)
"""Parts of a job file that it may have several of."""

OPTIONAL = frozenset(part for part, hint in _HINTS.items() if get_origin(hint) in UNIONS)
"""Parts that are None where a job file has none."""


def _settings_class(hint: Any) -> type:  # noqa: ANN401 - a type
    classes = [inner for inner in get_args(hint) if inner not in {NoneType, ...}]
    settings: type = classes[0] if classes else hint
    return settings


PARTS: dict[str, type] = {part: _settings_class(hint) for part, hint in _HINTS.items()}
"""The parts of a job file, and the settings class of each."""
