"""What a user says about a hull file; what is left out is found from the file or from its shape."""

from typing import Annotated, Literal

from profiles.errors import JobError
from profiles.hull.limits import MOST_BYTES, MOST_TRIANGLES, Limits
from profiles.hull.turns import as_turn
from profiles.setting import LONGEST, Setting, as_scale, as_unit, length_setting
from profiles.values import dataclass

CRACK = 0.5
"""mm; the widest crack that sections always close. About the width of a pencil line: it is sanded away unseen."""

CRACK_SHARE = 0.003
"""Of the length: gaps up to this width are cracks, which are closed unasked."""

THIN = 5.0
"""mm; a wall of foam that is thinner tears at the wire. Common practice."""

THIN_SHARE = 0.05
"""Of the breadth: a wall thinner than this is the shell of a print or a drawing, not of a foam body."""

NARROWEST = 6.0
"""mm; a hot wire on its bow does not follow the wall of a narrower hole or slit. Common practice."""

MOST_BODIES = 1000
"""Bodies named one by one; more is another kind of file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadSettings:
    """How a hull file is read. Raises JobError for settings that contradict each other."""

    unit: Annotated[
        str | None,
        Setting("Unit of the hull file (mm, cm, m, in, ft); overrides the file.", "--unit", "UNIT", parse=as_unit),
    ] = None
    length: Annotated[
        float | None,
        length_setting("Scale the hull to this overall length.", "--length", above=0),
    ] = None
    """mm."""
    scale: Annotated[
        float | None, Setting("Scale the hull by this factor.", "--scale", "1:12", parse=as_scale, above=0, maximum=1e4)
    ] = None
    """Model over original: 1:12 is 1/12."""
    length_axis: Annotated[
        Literal["x", "y", "z"] | None, Setting("The file's axis along the hull.", "--length-axis")
    ] = None
    up: Annotated[
        Literal["x", "y", "z", "-x", "-y", "-z"] | None, Setting("The file's axis that points up.", "--up")
    ] = None
    nose: Annotated[
        Literal["low", "high"] | None, Setting("The end of the length axis where the nose is.", "--nose")
    ] = None
    turn: Annotated[
        str | None,
        Setting(
            "Turn the body about the file's axes, degrees; none: leave it askew.", "--turn", "z=10,y=-2", parse=as_turn
        ),
    ] = None
    """None: a body that stands askew is turned straight by its plane of symmetry."""
    mirror: Annotated[
        Literal["auto", "none", "x", "y", "z"],
        Setting("Mirror a half hull across this axis of the file.", "--mirror"),
    ] = "auto"
    solid: Annotated[
        bool | None,
        Setting(
            "Fill voids, shell and open top to a solid plug, or keep them (thin shells are filled).", "--solid/--as-is"
        ),
    ] = None
    """None: a shell thinner than `thinnest` is filled."""
    thinnest: Annotated[
        float | None,
        length_setting(
            f"Fill shells thinner than this to a plug ({THIN:g} or {THIN_SHARE:.0%} of the breadth).",
            "--thinnest",
            minimum=0,
        ),
    ] = None
    """mm; None: the larger of THIN and THIN_SHARE of the breadth."""
    bridge: Annotated[
        float | None,
        length_setting(
            f"Close gaps of the skin up to this width straight ({CRACK:g} or {CRACK_SHARE:.1%} of the length).",
            "--bridge",
            minimum=0,
        ),
    ] = None
    """mm; None: the larger of CRACK and CRACK_SHARE of the length."""
    narrowest: Annotated[
        float,
        length_setting(
            f"Close holes and slits narrower than this, to be made by hand later ({NARROWEST:g}).",
            "--narrowest",
            above=0,
        ),
    ] = NARROWEST
    """mm."""
    keep_holes: Annotated[
        bool, Setting("Keep narrow holes and slits in the templates.", "--keep-holes/--close-holes")
    ] = False
    bodies: Annotated[
        tuple[Annotated[int, Setting(minimum=1, maximum=10**6)], ...],
        Setting("Use only this body; repeat it for more.", "--body", "N", lenient=True, max_length=MOST_BODIES),
    ] = ()
    all_bodies: Annotated[bool, Setting("Keep small bodies that touch nothing else.", "--all-bodies/--main-bodies")] = (
        False
    )
    """False: those under 2 % of the largest body's volume are left out."""
    datum: Annotated[
        float | None,
        length_setting("Height of the datum above the hull's lowest point.", "--datum", minimum=-LONGEST),
    ] = None
    """mm."""
    max_triangles: Annotated[
        int,
        Setting(
            f"Refuse a file with more triangles ({MOST_TRIANGLES}).",
            "--max-triangles",
            "N",
            minimum=1,
            maximum=10**9,
            reported=False,
        ),
    ] = MOST_TRIANGLES
    max_bytes: Annotated[
        int,
        Setting("Refuse a larger file.", "--max-bytes", "N", minimum=1, maximum=10**12, reported=False),
    ] = MOST_BYTES

    def __post_init__(self) -> None:
        if self.length is not None and self.scale is not None:
            msg = "give either length or scale, not both"
            raise JobError(msg)
        if self.length_axis and self.up and self.up.removeprefix("-") == self.length_axis:
            msg = f"length_axis and up are both {self.length_axis}; they must differ"
            raise JobError(msg)

    @property
    def limits(self) -> Limits:
        """How much the file may come to."""
        return Limits(self.max_triangles, self.max_bytes)
