"""What a cutting plan says: billets, cuts, blocks, offcuts and the fence list.

Every billet is squared on two edges, then cut along into strips, then across into blanks, then a blank that is wider
than its block is trimmed, then a blank that is thicker than its block, or holds several, is sliced. Every cut goes from
edge to edge of the piece it is made in, against a fence that is set once for all cuts of that stage and size.

Frame of a billet: x along its length, y across, z up through its thickness, mm; the origin is the corner of the foam as
it comes. Squaring takes `trim` off at x = 0 and y = 0, so strips start at y = trim and blanks at x = trim.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from profiles.foam.layers import BilletKind
from profiles.foam.stock import Board
from profiles.setting import Setting, as_length


class Stage(StrEnum):
    """The kinds of cuts, in the order they are made."""

    DOWN = "cut down"
    """A board of a laminated billet cut to the size that all its layers share."""
    SQUARE = "square"
    STRIP = "strip"
    ACROSS = "across"
    TRIM = "trim"
    SLICE = "slice"


class Grain(StrEnum):
    """How a block may lie in a board."""

    ANY = "any"
    HEIGHT_ALONG = "height along"
    """The block's height along the board's length."""
    WIDTH_ALONG = "width along"


USUAL_KERF = 1.0
"""mm; what a hot wire usually leaves (common practice)."""


@dataclass(frozen=True, slots=True)
class CuttingSettings:
    """How the foam is cut; lengths in mm. Bad values are refused where the plan is made."""

    kerf: Annotated[float | None, Setting("Kerf of the fence's wire.", parse=as_length, least=0, most=20)] = None
    """Foam that each cut takes; None: as for the templates, or USUAL_KERF where that is not known."""
    trim: Annotated[
        float, Setting("What squaring takes off a long and a short edge (5).", parse=as_length, least=0, most=200)
    ] = 5.0
    """Foam that squaring takes off a long and a short edge, the kerf in it."""
    glue: Annotated[float, Setting("Thickness of a glue line (0).", parse=as_length, least=0, most=10)] = 0.0
    """Between layers."""
    most_layers: Annotated[int, Setting("Most boards in one billet (3).", key="layers", least=1, most=6)] = 3
    grain: Annotated[Grain, Setting("How a block may lie in a board (any).", loose=True)] = Grain.ANY
    smallest_offcut: Annotated[
        float, Setting("A rest narrower than this is waste (80).", parse=as_length, least=0, most=5000)
    ] = 80.0
    """A rest with a shorter side under this is waste."""
    effort: Annotated[int, Setting("Nodes of each search (2000).", least=0, most=1_000_000)] = 2000
    """Nodes of the search for each question put to the solver: a limit that is the same on every machine."""
    seconds: Annotated[float, Setting("Seconds for all searches, for safety (60).", above=0, most=3600, loose=True)] = (
        60.0
    )
    """Time limit for all searches, for safety; the proof reports whether a search reached it."""

    @property
    def slot(self) -> float:
        """Foam that each cut takes, mm."""
        return USUAL_KERF if self.kerf is None else self.kerf


@dataclass(frozen=True, slots=True)
class WantedBlock:
    """A block that is to be cut, mm; its height and width lie in the plane of the board."""

    number: int
    thickness: float
    height: float
    width: float


@dataclass(frozen=True, slots=True)
class Box3:
    """A box in the billet's frame, mm: low corner and sizes."""

    x: float
    y: float
    z: float
    along: float
    across: float
    thick: float

    @property
    def volume(self) -> float:
        """mm3."""
        return self.along * self.across * self.thick


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut: straight, from edge to edge of the piece `within`."""

    number: int
    """In the order to make them, counted through the whole plan."""
    stage: Stage
    fence: float
    """Distance of the fence from the cut: the size that is kept, mm; 0 where an edge is squared by eye."""
    within: Box3
    """The piece before the cut."""
    slot: Box3
    """The foam that the cut takes: as wide as the kerf, or less at the end of the foam."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A block in a billet."""

    block: int
    place: Box3
    turned: bool
    """True: its width lies along the board's length; otherwise its height does."""
    strip: int
    """Number of the strip in its billet, from 1."""
    blank: int
    """Number of the blank in its strip, from 1; blocks sliced from one blank share it."""


@dataclass(frozen=True, slots=True)
class Offcut:
    """Foam that is left and large enough to keep."""

    place: Box3
    layer: int | None = None
    """Of a board that was cut down before laminating: its place in the billet's layers; None: of the billet."""


@dataclass(frozen=True, slots=True)
class Billet:
    """One board, or several glued flat, and how it is cut."""

    number: int
    kind: BilletKind
    boards: tuple[Board, ...]
    """One for each layer of the kind."""
    cuts: tuple[Cut, ...]
    blocks: tuple[Placed, ...]
    offcuts: tuple[Offcut, ...]
    kerf_volume: float
    """mm3, and so on: foam volume = blocks + offcuts + kerf + trim + waste."""
    trim_volume: float
    waste_volume: float
    """Rests too small to keep, and the excess of thickness."""

    @property
    def glue_volume(self) -> float:
        """Of the glue lines, mm3: boards + glue = blocks + offcuts + kerf + trim + waste."""
        joined = self.kind.thickness - sum(board.thickness for board in self.boards)
        return self.kind.length * self.kind.width * joined if self.kind.glue_lines else 0.0


@dataclass(frozen=True, slots=True)
class FenceSetting:
    """One setting of the fence and how many cuts are made with it."""

    stage: Stage
    fence: float
    cuts: int


@dataclass(frozen=True, slots=True)
class Proof:
    """How good the plan is: the figure that is kept least, the least it can be, and what was found."""

    found: float
    """Boards, or where boards are to be bought, their volume in mm3."""
    bound: float
    """Proven: no plan of this kind (two stages, whole boards glued) needs less."""
    method: str
    """"search" where the solver proved it over all patterns, "bound" where a bound stands beside the best plan found,
    "by rule" where only the heuristic was used."""
    cut_short: bool = False
    """True where a limit of effort or time was reached."""

    @property
    def gap(self) -> float:
        """Share of the foam that could be saved at most, 0 to 1; 0 is proven to be the best."""
        return max(0.0, (self.found - self.bound) / self.found) if self.found > 0 else 0.0


@dataclass(frozen=True, slots=True)
class Lacking:
    """Blocks that the foam at hand does not give, and what to buy for them."""

    blocks: tuple[int, ...]
    reason: str
    """"no foam is 60 mm thick", "the block is larger than every board", "the boards are used up"."""
    buy: str
    """"1 board of 600 x 1250 x 60 mm", or a piece of such a size at least."""


@dataclass(frozen=True, slots=True)
class CutPlan:
    """All billets, from the first to be cut."""

    stock: tuple[Board, ...]
    settings: CuttingSettings
    billets: tuple[Billet, ...]
    fences: tuple[FenceSetting, ...]
    """In the order they are set."""
    lacking: tuple[Lacking, ...]
    proof: Proof
