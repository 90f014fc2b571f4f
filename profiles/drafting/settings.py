"""Settings for drawings at true size, panels and markings: [drawings], [[panels]] and [[markings]] of a job."""

from enum import StrEnum
from typing import Annotated, Literal

from profiles.errors import JobError
from profiles.setting import LONGEST, Length, Place, Setting, as_paper, length_setting
from profiles.units import Paper
from profiles.values import dataclass


class DrawingView(StrEnum):
    """A drawing of the whole body."""

    SIDE = "side"
    """From port, nose to the left."""
    PLAN = "plan"
    """From above, nose to the left, starboard up."""
    SECTIONS = "sections"
    """All outlines one inside the other, seen from the tail."""
    BOARD = "board"
    """The lines of a building board: base line, stations, footprints of the blocks."""


def as_views(value: object) -> object:
    """Names of drawings in a list, or in text between commas, without repeats. Raises ValueError.

    >>> as_views("side, board")
    (<DrawingView.SIDE: 'side'>, <DrawingView.BOARD: 'board'>)
    """
    items = value if isinstance(value, list | tuple) else [value]
    words = [word.lower() for item in items for word in str(item).replace(",", " ").split()]
    known = [str(view) for view in DrawingView]
    wrong = next((word for word in words if word not in known), None)
    if wrong is not None or not words:
        message = f"expected drawings out of {', '.join(known)}, found {wrong or ''!r}"
        raise ValueError(message)
    return tuple(DrawingView(word) for word in dict.fromkeys(words))


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawingSettings:
    """[drawings]: which drawings of the whole body to make at true size, and on which paper."""

    views: Annotated[
        tuple[DrawingView, ...],
        Setting(
            "Drawings at true size: side, plan, sections, board.",
            "--drawings",
            "side,plan",
            parse=as_views,
            lenient=True,
        ),
    ] = tuple(DrawingView)
    paper: Annotated[
        Paper | None,
        Setting(
            "Paper for drawings, panels and markings; a roll as 610x2000 (as the templates).",
            "--drawing-paper",
            "SIZE",
            parse=as_paper,
        ),
    ] = None


MarkedSide = Literal["starboard", "port", "top", "bottom"]
"""The side that a marking is seen from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Marking:
    """[[markings]]: the user's own artwork on the skin. Raises JobError for settings that contradict each other."""

    file: Annotated[str, Setting("The artwork: an SVG with its size in mm.", min_length=1, reported=False)]
    name: Annotated[str, Setting("What to call it.", min_length=1, max_length=40)]
    side: Annotated[MarkedSide, Setting("The side that it is seen from.")] = "starboard"
    x: Annotated[float, length_setting("The middle of the artwork, from the nose.", minimum=-LONGEST)]
    y: Place = 0.0
    """mm to starboard, of the middle; for artwork on top or bottom."""
    z: Place = 0.0
    """mm above the datum, of the middle; for artwork on starboard or port."""
    width: Annotated[float | None, length_setting("Width of the artwork (as drawn).", above=0)] = None
    turn: Annotated[
        float, Setting("Turned anticlockwise, in degrees (0).", minimum=-360, maximum=360, lenient=True)
    ] = 0.0
    mirror: Annotated[bool, Setting("Mirrored, left to right (no).")] = False
    other_side: Annotated[
        Literal["none", "same", "mirrored"],
        Setting("On the other side too: so that it reads the same, or mirrored (none)."),
    ] = "none"

    def __post_init__(self) -> None:
        if self.side in {"starboard", "port"} and self.y:
            message = f"the marking {self.name} is on the {self.side} side, where x and z give its place, not y"
            raise JobError(message)
        if self.side in {"top", "bottom"} and self.z:
            message = f"the marking {self.name} is on the {self.side}, where x and y give its place, not z"
            raise JobError(message)
        if self.side in {"top", "bottom"} and self.other_side != "none":
            message = f"the marking {self.name}: other_side is for starboard and port"
            raise JobError(message)


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """[[panels]]: a piece of the skin laid flat, between two lines along the body and two stations."""

    name: Annotated[str, Setting("What to call it.", min_length=1, max_length=40)]
    lower: Annotated[
        str, Setting("The line along the body where it begins: keel, chine, girth 40, z 10.", key="from", min_length=1)
    ]
    upper: Annotated[str, Setting("The line where it ends: deck edge, top.", key="to", min_length=1)]
    start: Annotated[float | None, length_setting("Where it begins, from the nose (the nose).", minimum=-LONGEST)] = (
        None
    )
    end: Annotated[float | None, length_setting("Where it ends, from the nose (the tail).", minimum=-LONGEST)] = None
    side: Annotated[
        Literal["starboard", "port", "both"], Setting("On which side it lies; both makes two panels (starboard).")
    ] = "starboard"
    split: Annotated[
        tuple[Length, ...], Setting("Where it is divided across, from the nose.", lenient=True, max_length=100)
    ] = ()
    """mm."""
    strips: Annotated[int, Setting("Strips that it is divided into lengthwise (1).", minimum=1, maximum=100)] = 1
    darts: Annotated[int, Setting("Darts from its upper edge to half its breadth (0).", minimum=0, maximum=100)] = 0
    seam: Annotated[float, length_setting("Seam allowance outside the edges (0).", minimum=0, maximum=100)] = 0.0
    grain: Annotated[Literal["along", "across"], Setting("Direction of the grain or warp (along).")] = "along"
    cloth: Annotated[float | None, length_setting("Width of the cloth, to cut it into lengths.", above=0)] = None
    overlap: Annotated[float, length_setting("Overlap of two widths of cloth (20).", minimum=0, maximum=500)] = 20.0
    """mm (common practice: 10 to 50 on models)."""


@dataclass(frozen=True, slots=True)
class DraftSettings:
    """All that is drawn beside the templates."""

    drawings: DrawingSettings | None = None
    panels: tuple[Panel, ...] = ()
    markings: tuple[Marking, ...] = ()

    @property
    def any(self) -> bool:
        """Whether anything is asked for."""
        return bool(self.drawings or self.panels or self.markings)
