"""Sheets at full size for cuts in the glued body: seen from a side or from above, with datum and stations.

port       u = x, v = z         nose to the left
starboard  u = -x, v = z        nose to the right
plan       u = x, v = y         nose to the left, starboard up
"""

from collections.abc import Sequence

import numpy as np
from shapely import MultiPolygon, Polygon

from profiles.arrays import Floats
from profiles.blocks.body import Body
from profiles.blocks.cut_into import CutSheet, SheetLine
from profiles.hull.shape import View
from profiles.units import length_text, short_length

AROUND = 15.0
"""mm of card round what is cut out of it."""

FAR = 60.0
"""mm; a datum line farther from what is cut out is replaced by one that is parallel to it."""

GRID = 10.0
"""mm; such a line is at a whole multiple of this."""


def sheet_of(
    body: Body, name: str, seen: str, rings: Sequence[Floats], words: Sequence[str], more: Sequence[SheetLine] = ()
) -> CutSheet:
    """The sheet of rings (n, 2) mm in (x, z), or (x, y) for "plan", with datum line, stations and the hull."""
    points = np.concatenate([*rings, *(np.array(line.points) for line in more)])
    (x0, low), (x1, high) = points.min(axis=0) - AROUND, points.max(axis=0) + AROUND
    turn = -1.0 if seen == "starboard" else 1.0
    datum = 0.0 if low - FAR < 0.0 < high + FAR else round(low / GRID) * GRID
    what = "centre plane" if seen == "plan" else "datum"
    side = "to starboard" if seen == "plan" else "above the datum"
    text = what if not datum else f"{length_text(datum)} {side}"
    low, high = min(low, datum), max(high, datum)
    lines = [SheetLine("datum", ((turn * x0, datum), (turn * x1, datum)), text)]
    numbers = {block.span.x_fore: f"{block.span.number - 1:02d}/{block.span.number:02d}" for block in body.blocks[1:]}
    for x in body.stations.stations:
        if x0 <= x <= x1:
            joint = f" ({numbers[x]})" if x in numbers else ""
            lines.append(SheetLine("mark", ((turn * x, low), (turn * x, high)), f"x {short_length(x)}{joint}"))
    lines += _hull_lines(body, x0, x1, low, high, turn, plan=seen == "plan")
    lines += [SheetLine(line.role, tuple((turn * u, v) for u, v in line.points), line.text) for line in more]
    outline = MultiPolygon([Polygon(ring * (turn, 1.0)) for ring in rings])
    return CutSheet(name, float(x0 + x1) / 2, outline, tuple(lines), tuple(words))


def _hull_lines(
    body: Body, x0: float, x1: float, low: float, high: float, turn: float, *, plan: bool
) -> list[SheetLine]:
    """The silhouette of the hull behind the card."""
    ends = body.hull.shape.bounds
    fore, aft = max(x0, float(ends[0][0]) + 1e-3), min(x1, float(ends[1][0]) - 1e-3)
    if aft <= fore:
        return []
    seen = body.hull.shape.silhouette(fore, aft, View.PLAN if plan else View.SIDE)
    clip = Polygon([(fore, low), (aft, low), (aft, high), (fore, high)])
    lines = []
    for part in seen.geoms:
        edge = part.exterior.intersection(clip.buffer(-1e-3))
        for piece in getattr(edge, "geoms", [edge]):
            if piece.geom_type == "LineString" and piece.length > 1.0:
                points = tuple((turn * float(u), float(v)) for u, v in np.array(piece.simplify(0.02).coords))
                lines.append(SheetLine("finished", points))
    return lines


def ring_of(polygon: Polygon) -> Floats:
    """The points (n, 2) of a polygon's outside, the first not repeated."""
    return np.array(polygon.exterior.coords)[:-1]
