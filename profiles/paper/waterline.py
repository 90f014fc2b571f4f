"""The waterline on a template: inside the cut line, so that it stays on the card and is marked on the block."""

import numpy as np
import shapely

from profiles.body.waterplane import WaterPlane
from profiles.paper.drawing import Points, Role, Stroke, freeze
from profiles.paper.facesheet import FaceSheet, Sheet

SHORTEST = 1.0
"""mm; a shorter piece of the line is no help and is left out."""


def water_across(sheet: FaceSheet, water: WaterPlane | None) -> list[Stroke]:
    """The waterline on a face."""
    ends = water.line_across(sheet.face.x, _reach(sheet)) if water else None
    return [] if ends is None else _inside(sheet, np.array(ends))


def water_along(sheet: Sheet, water: WaterPlane | None, x_fore: float, x_aft: float) -> list[Stroke]:
    """The waterline on a side profile (x, z), where the water cuts the centre plane."""
    heights = [water.z_at(x) for x in (x_fore, x_aft)] if water else []
    known = [(x, z) for x, z in zip((x_fore, x_aft), heights, strict=False) if z is not None]
    return _inside(sheet, np.array(known)) if len(known) > 1 else []


def _reach(sheet: Sheet) -> float:
    return float(np.abs(sheet.box).sum())


def _inside(sheet: Sheet, ends: Points) -> list[Stroke]:
    line = shapely.LineString(sheet.to_sheet(ends))
    return [
        Stroke(Role.WATER, freeze(shapely.get_coordinates(part)))
        for part in shapely.get_parts(line.intersection(sheet.cut))
        if part.geom_type == "LineString" and part.length > SHORTEST
    ]
