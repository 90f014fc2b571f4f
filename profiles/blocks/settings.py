"""Settings for dividing a hull into blocks, and for the blocks and their templates."""

from typing import Annotated, Literal

from profiles.blocks.kerf import kerf_from_test
from profiles.errors import JobError
from profiles.setting import MAX_PLACES, Place, Setting, as_length, length_setting
from profiles.values import dataclass

Growth = float | Literal["varying", "block"]
"""How outlines are enlarged: "varying" as far as each place needs, "block" evenly as far as each block needs, or by a
length in mm."""


ROUND_BOX = 5.0
"""mm; sizes of boxes are whole multiples of this, so that a fence is easy to set (common practice)."""


def as_growth(value: object) -> object:
    """The words varying and block stay, none -> 0, anything else is a length in mm. Raises ValueError.

    >>> as_growth(" Varying "), as_growth("none"), as_growth("0.5")
    ('varying', 0.0, 0.5)
    """
    word = value.strip().lower() if isinstance(value, str) else ""
    if word in {"varying", "block", "none"}:
        return 0.0 if word == "none" else word
    return as_length(value)


@dataclass(frozen=True, slots=True)
class Allowances:
    """The layers between the finished surface and the edge of the template, all mm."""

    skin: float = 0.0
    """Thickness of sheeting, cloth and filler that go over the foam."""
    kerf: float = 0.0
    """Width of the slot that the wire leaves in the foam."""
    wire: float = 0.0
    """Diameter of the wire."""

    @property
    def edge(self) -> float:
        """Foam surface to template edge, outwards, mm."""
        return (self.kerf - self.wire) / 2


def as_most(value: object) -> object:
    """The word none -> None, anything else is a length in mm. Raises ValueError.

    >>> as_most("none"), as_most("0.1in")
    (None, 2.54)
    """
    return None if isinstance(value, str) and value.strip().lower() == "none" else as_length(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class StationSettings:
    """Where a hull is divided; lengths in mm. Raises JobError for settings that contradict each other."""

    thickness: Annotated[float | None, length_setting("Thickness of the foam: 40, 1.5in.", "--foam", above=0)] = None
    """None: not known yet; it will be proposed from the boards at hand."""
    odd: Annotated[Literal["nose", "tail", "both"], Setting("Where odd blocks go (nose).", "--odd")] = "nose"
    """Blocks thinner than the foam."""
    min_block: Annotated[
        float,
        length_setting("Thinnest block; a neighbour shares a thinner rest (10).", "--min-block", minimum=0),
    ] = 10.0
    breaks: Annotated[
        tuple[Place, ...],
        Setting("A station here, from the nose; repeat it for more.", "--break", lenient=True, max_length=MAX_PLACES),
    ] = ()
    """mm aft of the foremost point."""
    shape_stations: Annotated[
        bool,
        Setting(
            "Put stations at steps and where pieces or hollows begin, end, split or join (yes).",
            "--shape-stations/--no-shape-stations",
        ),
    ] = True
    most: Annotated[
        float | None,
        Setting(
            "Divide blocks that would leave more than this to sand, or none (3).",
            "--most",
            "MM|none",
            parse=as_most,
            minimum=0.1,
            maximum=1000,
        ),
    ] = 3.0
    """mm; None: blocks stay as thick as the foam. Ignored where blocks are planned by `fit`."""
    fit: Annotated[
        float | None,
        length_setting(
            "Fewest blocks with at most this to sand, instead of full ones.", "--fit", minimum=0.01, maximum=100
        ),
    ] = None
    built: Annotated[
        int | None,
        Setting("So many blocks from the nose are glued and stay; with --built-length.", "--built", "N", minimum=1),
    ] = None
    built_length: Annotated[
        float | None,
        length_setting("What they measure from the nose; the rest is planned from there.", "--built-length", above=0),
    ] = None
    as_measured: Annotated[
        bool,
        Setting("Put stations where the faces of the measured boards will be (as named).", "--as-measured/--as-named"),
    ] = False

    def __post_init__(self) -> None:
        if isinstance(self.thickness, int | float) and self.min_block > self.thickness:  # text is refused by the stage
            msg = f"min_block ({self.min_block:g} mm) is thicker than the foam ({self.thickness:g} mm)"
            raise JobError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockSettings:
    """The layers between hull and template, and what is drawn; lengths in mm.

    Raises JobError for a kerf given twice.
    """

    skin: Annotated[
        float,
        length_setting("Thickness of sheeting, cloth and filler over the foam (0).", "--skin", minimum=0, maximum=100),
    ] = 0.0
    kerf: Annotated[
        float, length_setting("Width of the slot that the wire leaves (0).", "--kerf", minimum=0, maximum=20)
    ] = 0.0
    kerf_test: Annotated[
        float | None,
        length_setting(
            "What the test block of 100 mm measures, instead of --kerf.", "--kerf-test", above=0, maximum=200
        ),
    ] = None
    wire: Annotated[float, length_setting("Diameter of the wire (0).", "--wire", minimum=0, maximum=10)] = 0.0
    allowance: Annotated[
        float,
        length_setting("Least foam between outline and edge of the block (5).", "--allowance", minimum=0, maximum=500),
    ] = 5.0
    box_step: Annotated[
        float, length_setting("Block sizes are multiples of this (5).", "--box-step", above=0, maximum=100)
    ] = ROUND_BOX
    box: Annotated[
        Literal["auto", "common", "each"],
        Setting("One block size for all, or one for each where that takes far less foam (auto).", "--box"),
    ] = "auto"
    pin: Annotated[float, length_setting("Diameter of the pin holes (3).", "--pin", minimum=0.5, maximum=20)] = 3.0
    marks: Annotated[
        float | None,
        length_setting("Distance between numbered marks.", "--marks", minimum=5, maximum=10_000),
    ] = None
    """None: by the size of the outline."""
    growth: Annotated[
        Growth,
        Setting(
            "Enlarge outlines so that no foam is missing: as far as each place needs (varying), evenly as far as each "
            "block needs (block), not at all (none), or by this.",
            "--growth",
            "varying|block|none|MM",
            parse=as_growth,
            minimum=0,
            maximum=50,
        ),
    ] = "varying"
    missing: Annotated[
        float,
        length_setting(
            "Depth of missing foam that filler will hide; outlines grow less (0).", "--missing", minimum=0, maximum=5
        ),
    ] = 0.0
    gauges: Annotated[
        tuple[Place, ...],
        Setting(
            "A gauge for a carved block here, from the nose; repeat it for more.",
            "--gauge",
            lenient=True,
            max_length=MAX_PLACES,
        ),
    ] = ()
    """mm aft of the foremost point. Without any, two or three are proposed by the shape."""

    def __post_init__(self) -> None:
        if self.kerf and self.kerf_test is not None:
            msg = "give either kerf or kerf_test, not both"
            raise JobError(msg)

    @property
    def allowances(self) -> Allowances:
        """Skin, kerf and wire; the kerf as given, or from its test. Raises JobError for an impossible test."""
        kerf = self.kerf if self.kerf_test is None else kerf_from_test(self.kerf_test, self.wire)
        return Allowances(self.skin, kerf, self.wire)
