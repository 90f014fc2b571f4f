"""Settings for what is cut into a body: [[hollow]] and [[rods]] of a job."""

import re
from typing import Annotated, Literal

from profiles.errors import JobError
from profiles.setting import LONGEST, MAX_PLACES, Place, Setting, as_numbers, as_point, length_setting
from profiles.values import dataclass

_Point = tuple[float, float, float]

Name = Annotated[str, Setting("What it is called on templates; a number where it has none.", max_length=24)]

DIGITS = re.compile(r"(?:NACA\s*)?(\d)(\d)(\d\d)", re.IGNORECASE)
"""An aerofoil by four digits: camber, its place, thickness."""

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


WhereFrom = Literal["deck", "keel", "port", "starboard"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutout:
    """[[cutouts]]: a wing's saddle, a slot, or a tube at an angle; lengths in mm, angles in degrees. Raises JobError
    where the kind lacks something.
    """

    kind: Annotated[Literal["saddle", "slot", "tube"], Setting("What it is.")]
    name: Name = ""
    aerofoil: Annotated[
        str, Setting("Saddle: NACA digits such as 2412, or a file of two columns.", max_length=1000, reported=False)
    ] = ""
    chord: Annotated[float, length_setting("Saddle: the wing's chord.", minimum=0)] = 0.0
    x: Place = 0.0
    z: Place = 0.0
    """Of the leading edge, mm from the nose and above the datum."""
    incidence: Annotated[
        float, Setting("Saddle: degrees, leading edge up (0).", minimum=-30, maximum=30, lenient=True)
    ] = 0.0
    dihedral: Annotated[float, Setting("Saddle: degrees, tips up (0).", minimum=-45, maximum=45, lenient=True)] = 0.0
    skin: Annotated[float, length_setting("Saddle: skin over the aerofoil (0).", minimum=0, maximum=50)] = 0.0
    wall: Annotated[float, length_setting("Saddle: y of its side templates (the hull's sides).", minimum=0)] = 0.0
    side: Annotated[WhereFrom, Setting("Slot: from where it goes in (deck).")] = "deck"
    x_from: Annotated[float | None, _place("Slot: from here.", key="from")] = None
    x_to: Annotated[float | None, _place("Slot: to here.", key="to")] = None
    width: Annotated[float, length_setting("Slot: its width, as thick as the fin.", minimum=0)] = 0.0
    depth: Annotated[float, length_setting("Slot: depth from the highest point there.", minimum=0)] = 0.0
    middle: Place = 0.0
    """Slot: y of its middle, or z where it goes in from a side."""
    through: Annotated[bool, Setting("Slot: right through (no).")] = False
    diameter: Annotated[float, length_setting("Tube: outside diameter.", minimum=0, maximum=200)] = 0.0
    start: Annotated[_Point | None, Setting("Tube: one end: x, y, z.", parse=as_point)] = None
    end: Annotated[_Point | None, Setting("Tube: the other end: x, y, z.", parse=as_point)] = None

    def __post_init__(self) -> None:
        lacking = {
            "saddle": not (self.aerofoil and self.chord),
            "slot": self.x_from is None or self.x_to is None or not self.width or not (self.depth or self.through),
            "tube": not self.diameter or self.start is None or self.end is None or self.start == self.end,
        }
        if lacking.get(self.kind):
            msg = f"a {self.kind} needs {NEEDS[self.kind]}"
            raise JobError(msg)
        _check_order(self.x_from, self.x_to)


NEEDS = {
    "saddle": "aerofoil and chord",
    "slot": "from, to, width, and depth or through",
    "tube": "diameter, start and end, which differ",
}
"""What each kind of cutout cannot be without."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bay:
    """[[bays]]: room for battery, radio and servos, with a hatch; lengths in mm. Raises JobError for limits in wrong
    order.
    """

    name: Name = ""
    x_from: Annotated[float, _place("From here, from the nose.", key="from")]
    x_to: Annotated[float, _place("To here.", key="to")]
    width: Annotated[float, length_setting("Its width.", above=0)]
    depth: Annotated[float, length_setting("Depth from the highest point there.", minimum=0)] = 0.0
    side: Annotated[WhereFrom, Setting("From where it goes in (deck).")] = "deck"
    middle: Place = 0.0
    """y of its middle, or z where it goes in from a side."""
    radius: Annotated[float, length_setting("Radius of its corners (5).", minimum=0)] = 5.0
    through: Annotated[bool, Setting("Right through (no).")] = False
    hatch: Annotated[float, length_setting("Thickness of its hatch (none).", minimum=0, maximum=200)] = 0.0
    draught: Annotated[
        float, Setting("Degrees by which the hatch's edges lean in (10).", minimum=0, maximum=60, lenient=True)
    ] = 10.0
    """So that it drops in and sits tight (common practice)."""

    def __post_init__(self) -> None:
        if not (self.depth or self.through):
            msg = "a bay needs depth, or through = true"
            raise JobError(msg)
        _check_order(self.x_from, self.x_to)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """[[stands]]: cradles for the body; lengths in mm."""

    name: Name = ""
    at: Annotated[tuple[Place, ...], Setting("Places of the cradles.", lenient=True, min_length=1, max_length=20)]
    keel: Annotated[Literal["down", "up"], Setting("How the body lies in it (down).")] = "down"
    thickness: Annotated[float, length_setting("Of the board they are cut from (6).", above=0, maximum=100)] = 6.0
    height: Annotated[float, length_setting("From base plate to the body's lowest point (40).", minimum=0)] = 40.0
    depth: Annotated[float, length_setting("How deep the body lies in a cradle, at most (40).", above=0)] = 40.0
    clear: Annotated[float, length_setting("Room for felt between body and cradle (2).", minimum=0, maximum=50)] = 2.0


@dataclass(frozen=True, slots=True)
class CutSettings:
    """All that is cut into a body, and its stands."""

    hollow: tuple[Hollow, ...] = ()
    rods: tuple[Rod, ...] = ()
    cutouts: tuple[Cutout, ...] = ()
    bays: tuple[Bay, ...] = ()
    stands: tuple[Stand, ...] = ()

    @property
    def any(self) -> bool:
        """Whether there is anything to cut."""
        return bool(self.hollow or self.rods or self.cutouts or self.bays or self.stands)
