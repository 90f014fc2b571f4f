"""Tubes at an angle: for a propeller shaft, a rudder stock, a cable. Any direction; cut in the glued body."""

import math

import numpy as np

from profiles.arrays import Floats
from profiles.blocks.body import Body
from profiles.blocks.cut_into import CutRow, CutSheet, SheetLine
from profiles.cuts.settings import Cutout
from profiles.cuts.sheets import sheet_of
from profiles.cuts.solids import tube
from profiles.hull.surface import Mesh
from profiles.units import length_text, short_length

SIDES = 96
"""Corners of a tube: within 0.005 mm of one of 20 mm."""

FLAT = 1e-6
"""mm; a tube whose ends differ by less sideways runs along a plane of the hull."""


def tube_solid(cutout: Cutout) -> Mesh:
    """The cylinder from end to end."""
    start, end = np.array(cutout.start), np.array(cutout.end)
    way = (end - start) / np.linalg.norm(end - start)
    across = np.cross(way, np.eye(3)[int(np.argmin(np.abs(way)))])
    across /= np.linalg.norm(across)
    other = np.cross(way, across)
    turn = 2 * np.pi * np.arange(SIDES) / SIDES
    ring = (np.outer(np.cos(turn), across) + np.outer(np.sin(turn), other)) * cutout.diameter / 2
    return tube(start + ring, end + ring)


def tube_sheets(cutout: Cutout, name: str, body: Body) -> list[CutSheet]:
    """The tube seen from port, and from above where it runs to one side: axis and both edges at their true angle."""
    start, end = np.array(cutout.start), np.array(cutout.end)
    sheets = []
    for seen, axes in (("port", [0, 2]), ("plan", [0, 1])):
        line = np.array([start[axes], end[axes]])
        run = line[1] - line[0]
        aside = abs(end[1] - start[1]) > FLAT
        if np.linalg.norm(run) <= FLAT or (seen == "plan" and not aside):
            continue
        words = [
            f"tube {short_length(cutout.diameter)}, {length_text(math.dist(start, end))} from end to end",
            f"{_degrees(run):.1f} degrees to the length of the hull, seen from {VIEWS[seen]}",
            "Hold the card beside the body by datum and stations, and sight the drill along it.",
        ]
        axis = SheetLine("rod", tuple((float(u), float(v)) for u, v in line), "axis")
        name_of = name if seen == "port" else f"{name} from above"
        sheets.append(sheet_of(body, name_of, seen, [_edges(line, cutout.diameter / 2)], words, [axis]))
    return sheets


VIEWS = {"port": "port", "plan": "above"}
"""How a sheet is seen, in words."""


def _degrees(run: Floats) -> float:
    """The angle of a line to the length of the hull, at most 90 degrees."""
    return math.degrees(math.atan2(abs(float(run[1])), abs(float(run[0]))))


def _edges(line: Floats, radius: float) -> Floats:
    """The rectangle (4, 2) round an axis (2, 2)."""
    run = line[1] - line[0]
    aside = np.array((-run[1], run[0])) * (radius / float(np.linalg.norm(run)))
    return np.array([line[0] - aside, line[1] - aside, line[1] + aside, line[0] + aside])


def tube_row(cutout: Cutout, name: str) -> CutRow:
    """The tube as the book lists it."""
    ends = " to ".join(", ".join(short_length(at) for at in end or ()) for end in (cutout.start, cutout.end))
    return CutRow(
        name,
        "tube",
        f"x, y, z {ends}",
        f"{length_text(cutout.diameter)}",
        "glued body: sharpened tube or long drill turned by hand, sighted along its template",
    )
