"""Settings for what is cut into a body: [[hollow]] and [[rods]] of a job."""

from typing import Annotated, Literal

from profiles.errors import JobError
from profiles.setting import LONGEST, MAX_PLACES, Place, Setting, as_numbers, as_point, length_setting
from profiles.values import dataclass

_Point = tuple[float, float, float]

Name = Annotated[str, Setting("What it is called on templates; a number where it has none.", max_length=24)]

THIN_WALL = 8.0
"""mm; foam walls under this break in the hand (common practice)."""


def _place(text: str, key: str = "") -> Setting:
    return length_setting(text, key=key, minimum=-LONGEST)


def _check_order(low: float | None, high: float | None) -> None:
    if low is not None and high is not None and high <= low:
        msg = f"from ({low:g} mm) must be less than to ({high:g} mm)"
        raise JobError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hollow:
    """[[hollow]]: blocks that are hollowed by the wire; lengths in mm. Raises JobError for limits in wrong order."""

    name: Name = ""
    wall: Annotated[float, length_setting("Thickness of the wall, square to the surface.", above=0)]
    x_from: Annotated[float | None, _place("From here, from the nose (the nose).", key="from")] = None
    x_to: Annotated[float | None, _place("To here (the tail).", key="to")] = None
    """Whole blocks between the two are hollowed."""
    floor: Annotated[
        float | None, length_setting("Foam left above the lowest point of each face (as the wall).", minimum=0)
    ] = None
    deck: Annotated[
        Literal["closed", "open"], Setting("Whether the deck stays or is cut away above the hollow (closed).")
    ] = "closed"
    bulkheads: Annotated[
        tuple[Place, ...],
        Setting("Blocks at these places from the nose stay solid.", lenient=True, max_length=MAX_PLACES),
    ] = ()
    slit: Annotated[
        Literal["deck", "keel", "port", "starboard"],
        Setting("Side of the slit by which the wire goes in under a closed deck (deck)."),
    ] = "deck"

    def __post_init__(self) -> None:
        _check_order(self.x_from, self.x_to)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rod:
    """[[rods]]: a straight rod, tube or spar on which blocks are threaded; lengths in mm. Raises JobError for one end
    without the other, or ends in wrong order.
    """

    name: Name = ""
    diameter: Annotated[float, length_setting("Outside diameter.", above=0, maximum=200)]
    start: Annotated[_Point | None, Setting("Its fore end: x, y, z (proposed).", parse=as_point)] = None
    end: Annotated[_Point | None, Setting("Its aft end: x, y, z (proposed).", parse=as_point)] = None
    """mm from the nose, to starboard, above the datum."""
    blocks: Annotated[
        tuple[int, ...], Setting("Numbers of its blocks, where it is proposed (all).", parse=as_numbers)
    ] = ()
    clear: Annotated[float, length_setting("Least foam round it (6).", minimum=0.5, maximum=1000)] = 6.0
    """Common practice: a drill wanders by a few mm in a block of foam."""

    def __post_init__(self) -> None:
        if (self.start is None) != (self.end is None):
            msg = "start and end go together; leave out both, and a line is proposed"
            raise JobError(msg)
        if self.start and self.end:
            _check_order(self.start[0], self.end[0])
            if self.blocks:
                msg = "give either start and end, or blocks, not both"
                raise JobError(msg)


@dataclass(frozen=True, slots=True)
class CutSettings:
    """All that is cut into a body."""

    hollow: tuple[Hollow, ...] = ()
    rods: tuple[Rod, ...] = ()

    @property
    def any(self) -> bool:
        """Whether there is anything to cut."""
        return bool(self.hollow or self.rods)
