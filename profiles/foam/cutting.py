"""The values of a cutting plan: settings, billets, cuts, blocks, offcuts and the fence list.

Every billet is squared on two edges and cut lengthwise into strips. Strips are cut across into blanks. A blank that is
wider than its block is trimmed; one that is thicker, or holds several blocks, is sliced. Every cut goes from edge to
edge of its piece, against a fence that is set once for all cuts of the same stage and size.

Frame of a billet: x along its length, y across, z up through its thickness, mm; the origin is a corner of the uncut
foam. Squaring takes `trim` off at x = 0 and y = 0, so strips start at y = trim and blanks at x = trim.
"""

from enum import StrEnum
from typing import Annotated

from profiles.foam.layers import SAME_THICKNESS, BilletKind
from profiles.foam.stock import Board
from profiles.setting import Setting, length_setting
from profiles.values import dataclass


class Stage(StrEnum):
    """The kinds of cuts, in the order in which they are made."""

    DOWN = "cut down"
    """A board of a glued billet is cut to the size that all its layers share, or in two halves, before gluing."""
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


DEFAULT_KERF = 1.0
"""mm; a usual kerf of a hot wire (common practice)."""


@dataclass(frozen=True, slots=True)
class CuttingSettings:
    """How the foam is cut; lengths in mm."""

    kerf: Annotated[float | None, length_setting("Kerf of the fence's wire.", minimum=0, maximum=20)] = None
    """Width of foam that each cut melts; None: as for the templates, or DEFAULT_KERF if that is unknown."""
    trim: Annotated[
        float, length_setting("What squaring takes off a long and a short edge (5).", minimum=0, maximum=200)
    ] = 5.0
    """Width of foam that squaring takes off a long and a short edge, kerf included."""
    glue: Annotated[float, length_setting("Thickness of a glue line (0).", minimum=0, maximum=10)] = 0.0
    """Thickness of the glue between two layers."""
    max_layers: Annotated[int, Setting("Most boards in one billet (3).", key="layers", minimum=1, maximum=6)] = 3
    grain: Annotated[Grain, Setting("How a block may lie in a board (any).", lenient=True)] = Grain.ANY
    smallest_offcut: Annotated[
        float, length_setting("A leftover narrower than this is waste (80).", minimum=0, maximum=5000)
    ] = 80.0
    """A leftover whose shorter side is under this is waste."""
    effort: Annotated[int, Setting("Nodes of each search (2000).", minimum=0, maximum=1_000_000)] = 2000
    """Nodes that each run of the solver may search: a limit that is the same on every machine."""
    seconds: Annotated[
        float, Setting("Seconds for all searches, for safety (60).", above=0, maximum=3600, lenient=True)
    ] = 60.0
    """Time limit for all runs together, as a safeguard; the proof reports whether it was reached."""

    @property
    def effective_kerf(self) -> float:
        """Width of foam that each cut melts, mm."""
        return DEFAULT_KERF if self.kerf is None else self.kerf


@dataclass(frozen=True, slots=True)
class WantedBlock:
    """A squared block to be cut, mm; its height and width lie in the plane of the board."""

    number: int
    thickness: float
    height: float
    width: float
    odd: bool = False
    """It may be sliced out of thicker foam even where a board has its thickness; other blocks are not."""
    spare: float = 0.0
    """The part of its thickness that lies beyond the end of the hull, mm: it is cut to a size that a fence can be set
    to."""


@dataclass(frozen=True, slots=True)
class Box3:
    """A box in the billet's frame, mm: its low corner and its sizes."""

    x: float
    y: float
    z: float
    along: float
    across: float
    thick: float

    @property
    def volume(self) -> float:
        """Volume in mm3."""
        return self.along * self.across * self.thick


@dataclass(frozen=True, slots=True)
class Cut:
    """One straight cut from edge to edge of a piece."""

    number: int
    """Its place in the order of all cuts of the plan, from 1."""
    stage: Stage
    fence: float
    """Distance from the fence to the cut, mm: the size of the part that is kept; 0 if an edge is squared by eye."""
    piece: Box3
    """The piece before the cut."""
    slot: Box3
    """The foam that the cut melts: as wide as the kerf, or less at the end of the foam."""


@dataclass(frozen=True, slots=True)
class PlacedBlock:
    """A block at its place in a billet."""

    block: int
    """Number of the block."""
    place: Box3
    turned: bool
    """True if its width lies along the board's length; otherwise its height does."""
    strip: int
    """Number of its strip in the billet, from 1."""
    blank: int
    """Number of its blank in the strip, from 1; blocks sliced from one blank share it."""


@dataclass(frozen=True, slots=True)
class Offcut:
    """A leftover that is large enough to keep."""

    place: Box3
    layer: int | None = None
    """For a board that was cut down before gluing, its position in the billet's layers; None: part of the billet."""


@dataclass(frozen=True, slots=True)
class Billet:
    """A single board, or several glued flat on each other, and how it is cut."""

    number: int
    kind: BilletKind
    boards: tuple[Board, ...]
    """One for each layer."""
    cuts: tuple[Cut, ...]
    blocks: tuple[PlacedBlock, ...]
    offcuts: tuple[Offcut, ...]
    kerf_volume: float
    """Volume in mm3, as are the next two: boards + glue = blocks + offcuts + kerf + trim + waste."""
    trim_volume: float
    waste_volume: float
    """Leftovers too small to keep."""

    def is_full_thickness(self, place: Box3) -> bool:
        """Whether a block or an offcut is as thick as the billet."""
        return self.kind.thickness - place.thick <= SAME_THICKNESS

    def is_sliced(self, block: PlacedBlock) -> bool:
        """Whether the block is thinner than the billet."""
        return not self.is_full_thickness(block.place)


@dataclass(frozen=True, slots=True)
class FenceSetting:
    """One setting of the fence, and the number of cuts made with it."""

    stage: Stage
    fence: float
    cuts: int


@dataclass(frozen=True, slots=True)
class Proof:
    """How good the plan is: what its boards cost, and a proven lower bound."""

    cost: float
    """Price of the boards to be bought, or their area in mm2 if not all of them have a price; if nothing can be bought,
    that of the boards at hand."""
    bound: float
    """Proven: no plan by the rules of `foam.rules` (strips, then blanks; whole or halved boards glued) costs less."""
    method: str
    """"search": the solver searched all patterns. "bound": the bound is that of the relaxation. "by rule": only the
    heuristic was used."""
    cut_short: bool = False
    """True if a limit of effort or time was reached."""

    @property
    def gap(self) -> float:
        """Largest share of the cost that a better plan could save, 0 to 1; 0: this plan is proven to be the best."""
        return max(0.0, (self.cost - self.bound) / self.cost) if self.cost > 0 else 0.0


@dataclass(frozen=True, slots=True)
class Shortage:
    """Blocks that the foam at hand does not yield, and what to buy for them."""

    blocks: tuple[int, ...]
    """Their numbers."""
    reason: str
    """"no foam is 60 mm thick", "the block is larger than every board", "the boards are used up"."""
    buy: str
    """Such as "1 board of 1250 x 600 x 60 mm", or the smallest piece that would do."""


@dataclass(frozen=True, slots=True)
class CutPlan:
    """The whole plan, its billets in the order in which they are cut."""

    stock: tuple[Board, ...]
    settings: CuttingSettings
    billets: tuple[Billet, ...]
    fences: tuple[FenceSetting, ...]
    """In the order in which they are set."""
    shortages: tuple[Shortage, ...]
    proof: Proof
