"""The settings of the pages."""

import math
from typing import Annotated, Literal

from profiles.setting import MAX_PLACES, Place, Setting, as_numbers, as_paper, length_setting
from profiles.units import Paper, paper_named
from profiles.values import dataclass

A4 = paper_named("A4")

CARD = paper_named("560x710")
"""22 x 28 in, a usual size of card in the trade."""

CLOSEST = 5.0
"""mm; checks are no closer together than this."""

CLOSE = 1e-9
"""Of a step; a body that ends this close to a check has none at its end."""

MOST_SHEETS = 2000
"""A job with more sheets of paper is most often a mistake, usually of the unit."""


@dataclass(frozen=True, slots=True)
class PageSettings:
    """The paper, and the lengths of the 100 mm bars as printed; lengths in mm."""

    paper: Annotated[
        Paper,
        Setting("A0 to A5, Letter, Legal, Tabloid, ANSI-C to E, 610x2000 (A4).", "--paper", "SIZE", "size", as_paper),
    ] = A4
    margin: Annotated[
        float, length_setting("Margin that the printer leaves empty (8).", "--margin", minimum=0, maximum=100)
    ] = 8.0
    overlap: Annotated[
        float,
        length_setting("Overlap of the pages of a large template (10).", "--overlap", minimum=2, maximum=50),
    ] = 10.0
    orientation: Annotated[
        Literal["auto", "portrait", "landscape"], Setting("Direction of all sheets (auto: upright).", "--orientation")
    ] = "auto"
    bar_across: Annotated[
        float,
        length_setting("What the 100 mm bar across measures on your print.", "--bar-across", minimum=90, maximum=110),
    ] = 100.0
    bar_up: Annotated[
        float,
        length_setting("What the 100 mm bar up the page measures on your print.", "--bar-up", minimum=90, maximum=110),
    ] = 100.0
    draw_box: Annotated[
        bool,
        Setting("Draw the box of every block on the pages, whatever paper that takes (no).", "--draw-box/--leave-box"),
    ] = False

    card: Annotated[
        Paper, Setting("Card that all pieces are nested on in cards.dxf (560x710).", "--card", "SIZE", "", as_paper)
    ] = CARD
    check: Annotated[
        tuple[Place, ...],
        Setting(
            "Gauges of the finished surface every so many mm, or repeated: at these places.",
            "--check",
            lenient=True,
            max_length=MAX_PLACES,
        ),
    ] = ()
    """One length is a spacing; several are places, mm aft of the foremost point."""
    max_sheets: Annotated[
        int,
        Setting("Refuse jobs of more sheets than this (2000).", "--max-sheets", "N", minimum=1, maximum=1_000_000),
    ] = MOST_SHEETS

    blocks: Annotated[
        tuple[int, ...],
        Setting("Only the sheets of these blocks.", "--blocks", "7,9", parse=as_numbers, lenient=True, reported=False),
    ] = ()
    """Numbers of blocks whose sheets are laid out again; none: all sheets."""

    def check_places(self, length: float) -> tuple[float, ...]:
        """Where a body of that length in mm is checked, mm aft of the foremost point, ascending."""
        if len(self.check) != 1:
            return tuple(sorted(set(self.check)))
        (step,) = self.check
        count = math.ceil(length / step - CLOSE) - 1 if step >= CLOSEST else 0
        return tuple(step * k for k in range(1, count + 1))

    @property
    def orientations(self) -> tuple[Paper, ...]:
        """The paper as it may be used: portrait, landscape, or both."""
        paper = self.paper
        upright = paper if paper.width <= paper.height else paper.turned()
        both = {"portrait": (upright,), "landscape": (upright.turned(),)}.get(
            self.orientation, (upright, upright.turned())
        )
        return both[:1] if upright.width == upright.height else both

    @property
    def correct_x(self) -> float:
        """The scale factor across the page."""
        return 100.0 / self.bar_across

    @property
    def correct_y(self) -> float:
        """The scale factor up the page."""
        return 100.0 / self.bar_up
