"""A template: a drawing at full size, and what it is made from.

Template        a drawing with its datum cross; pages and the proof need nothing more
BoxFrame        the block's box, which a page shows where there is room for it
Source          the face, profile or gauge of a block that a template shows
BlockTemplate   a template of a block, with its source
"""

from dataclasses import field
from enum import StrEnum

from shapely import MultiPolygon

from profiles.hull.shape import View
from profiles.paper.drawing import Drawing, Label, Points
from profiles.units import block_name
from profiles.values import dataclass


class Kind(StrEnum):
    """Which part of a block a template shows."""

    FORE = "fore"
    AFT = "aft"
    SIDE_PORT = "side port"
    """The side profile of a carved block, seen from port."""
    SIDE_STBD = "side stbd"
    """The same seen from starboard: the template of the other side."""
    PLAN_TOP = "plan top"
    """Its plan profile, seen from above."""
    PLAN_BOTTOM = "plan bottom"
    """The same seen from below."""
    GAUGE = "gauge"
    """A hollow gauge that it is carved to."""
    CHECK = "check"
    """A hollow gauge of the finished surface."""


PROFILES = {
    View.SIDE: (Kind.SIDE_PORT, Kind.SIDE_STBD),
    View.PLAN: (Kind.PLAN_TOP, Kind.PLAN_BOTTOM),
}
"""The two templates of a profile: as it is seen, and its mirror image for the opposite side of the block."""

MIRRORED = frozenset(mirrored for _, mirrored in PROFILES.values())


@dataclass(frozen=True, slots=True)
class Source:
    """What the template of a block is made from."""

    block: int
    """The number of the block, from 1 at the nose."""
    kind: Kind
    x: float
    """mm aft of the foremost point; for a profile, of the block's large face."""
    number: int = 0
    """The number of a gauge, from 1 at the fore face, or of a check from the nose; 0 for a face or a profile."""
    piece: str = ""
    """Which part of a gauge it is: "upper"; empty for a whole one."""

    @property
    def part(self) -> str:
        """The part of the block: "fore", or "gauge 3"."""
        return " ".join(filter(None, (self.kind, str(self.number or ""), self.piece)))

    @property
    def label(self) -> str:
        """The part of the block, of a gauge with its place: "fore", or "gauge 3 x 41.5"."""
        return f"{self.part} x {self.x:g}" if self.number else self.part

    @property
    def id(self) -> str:
        """Block and part, unique in a plan: "03 fore", or "03 gauge 3 x 41.5"."""
        return f"{block_name(self.block)} {self.label}"

    def name(self, letter: str = "") -> str:
        """What is written on the card, with the letter of one of several pieces: "03b fore", or "03 gauge 3"."""
        return f"{block_name(self.block)}{letter} {self.part}"


@dataclass(frozen=True, slots=True)
class BoxFrame:
    """The block's box on the sheet of a template: left, top, right, bottom, mm; its lines with sides and sizes; and the
    words for its place that stand on a page without it.
    """

    rect: tuple[float, float, float, float]
    drawing: Drawing
    dimensions: tuple[Label, ...] = ()


@dataclass(frozen=True, slots=True)
class Template:
    """A drawing at full size.

    `drawing` has its own sheet, just large enough for everything drawn; `datum` is where the datum cross (y = 0 and the
    datum height) is on that sheet, mm. `core` is what pages must show of it, in its place on that sheet; without a core
    that is all of it. `frame` is the block's box, which pages may show.
    """

    id: str
    drawing: Drawing
    datum: tuple[float, float]
    core: Drawing | None = None
    frame: BoxFrame | None = None
    rings: tuple[Points, ...] = field(default=(), kw_only=True)
    """The cut lines of a face through every point of the outline, on the template's sheet; the two faces of a block
    have equal numbers of points, in the order of the pairing. Empty: as drawn.
    """

    @property
    def boxed(self) -> Drawing:
        """What a page shows with the block's box."""
        shown = self.core or self.drawing
        return shown.overlay(self.frame.drawing) if self.frame else shown

    @property
    def bare(self) -> Drawing:
        """What a page shows without the block's box: instead, words for where its edges are."""
        shown = self.core or self.drawing
        return shown.with_more(labels=self.frame.dimensions) if self.frame else shown


@dataclass(frozen=True, slots=True)
class BlockTemplate(Template):
    """The template of a face, profile or gauge of a block."""

    source: Source = field(kw_only=True)

    section: MultiPolygon | None = field(default=None, kw_only=True)
    """The section (y, z) mm that a check is a gauge of; None for what a block itself shows."""

    @property
    def file_stem(self) -> str:
        """The name of its own SVG file: "03-fore"."""
        return self.id.replace(" ", "-")
