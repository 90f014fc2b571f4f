"""A guide for a drill: a card that stands on a face and shows at which angle a rod goes in."""

import math

import shapely
from shapely import MultiPolygon

from profiles.blocks.cut_into import CutSheet, SheetLine
from profiles.cuts.rods import Line
from profiles.units import length_text

LENGTH, HALF = 80.0, 25.0
"""mm; long enough to sight a drill along, and small enough for card."""

SQUARE = 0.05
"""Degrees; a hand drills no truer, so a rod that slopes less goes in square."""

VIEWS = (("", 1, "the upright line", "UP"), (" from above", 0, "the level line", "STARBOARD"))
"""By direction of the slope: what the name of the card ends in, the axis, what it stands along, what is up on it."""


def drill_guides(line: Line) -> list[CutSheet]:
    """A card for the slope up, and one for that to the side; none where the rod goes in square to the faces."""
    sheets = []
    for name, axis, along, head in VIEWS:
        slope = line.slope[axis]
        degrees = math.degrees(math.atan(slope))
        if abs(degrees) < SQUARE:
            continue
        half = HALF + abs(slope) * LENGTH / 2
        rise = slope * LENGTH / 2
        card = MultiPolygon([shapely.box(0.0, -half, LENGTH, half)])
        lines = (
            SheetLine("rod", ((0.0, -rise), (LENGTH, rise)), "axis"),
            SheetLine("datum", ((0.0, 0.0), (LENGTH, 0.0)), "square to the face"),
        )
        words = (
            f"drill guide for {line.name}, {length_text(line.diameter)}: {abs(degrees):.2f} degrees; {head} is up",
            f"Stand its left edge on the aft face of a block along {along} of the hole, nose to the left,",
            "and sight the drill along the axis.",
        )
        sheets.append(CutSheet(f"{line.name} drill guide{name}", line.start[0], card, lines, words))
    return sheets
