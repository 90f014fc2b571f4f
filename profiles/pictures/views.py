"""A small picture of the whole hull: side, plan and end view. It is reduced: for looking at, not for measuring.

The outlines are the extents of sections along the hull, so the picture shows what will be cut, repairs included.
"""

from collections.abc import Iterable, Sequence

import numpy as np
import shapely

from profiles.errors import HullError
from profiles.hull.bridges import Gap
from profiles.hull.frame import Hull, first_look
from profiles.hull.sections import Section, Side
from profiles.hull.shape import Shape
from profiles.paper.drawing import Drawing, Label, Points, Role, Stroke, freeze, line
from profiles.units import sizes_text
from profiles.values import dataclass

WIDE = 170.0
"""mm on the sheet for the length of the hull."""

TALLEST = 110.0
"""mm on the sheet for its breadth or depth: a hull as wide as it is long is drawn smaller."""

SAMPLES = 120
"""Sections along the hull: one for every 1.4 mm of the picture."""

MORE = 5
"""Times as many, where those miss an aerial or a mast."""

MISSED = 0.02
"""Of breadth and depth together: the picture may miss so much of them."""

RIBS = 12
"""Sections drawn in the end view."""

TEXT = 3.2
"""mm, font size."""

MARK = 1.2
"""mm on the sheet: a narrower gap is drawn as long as this, or nobody would see it."""

EDGE = 6.0
"""mm of space round the views."""


@dataclass(frozen=True, slots=True)
class Extents:
    """The extent of the hull at places along it."""

    x: Points
    """(n,) mm."""
    low: Points
    """(n, 2) least y and z."""
    high: Points
    """(n, 2) greatest y and z."""


def picture_of(hull: Hull) -> Drawing:
    """The three views of a hull with the gaps of its skin in red, those too that are still open."""
    gaps = [gap for opening in hull.openings for gap in opening.gaps if not gap.opening]
    return hull_views(hull.name, first_look(hull), hull.length, steps=hull.steps, gaps=gaps)


def hull_views(
    name: str,
    shape: Shape,
    length: float,
    steps: Sequence[float] = (),
    gaps: Sequence[Gap] = (),
) -> Drawing:
    """Side, plan and end view of a hull of `length` mm, nose to the left. `steps` are the x of walls across the hull,
    which get a section on either side; `gaps` are marked in red.

    Places where the section cannot be closed are left out of the picture.
    """
    sections = _sections_along(shape, length, steps)
    if not sections:
        return Drawing(
            WIDE + 2 * EDGE, 4 * EDGE, (), (Label(f"{name}: no section can be closed", EDGE, 2 * EDGE, TEXT),)
        )
    extents = _with_tips(shape, sections, length)
    (y_low, z_low), (y_high, z_high) = extents.low.min(axis=0).tolist(), extents.high.max(axis=0).tolist()
    scale = min(WIDE / length, TALLEST / max(y_high - y_low, z_high - z_low))
    strokes: list[Stroke] = []
    title = f"{name}   {sizes_text((length, y_high - y_low, z_high - z_low))}   drawn about 1:{1 / scale:.2g}"
    labels = [Label(title, EDGE, EDGE + 2, TEXT, bold=True)]
    top = EDGE + 10.0
    side_zero = (EDGE, top + z_high * scale)
    strokes += _profile(extents, 1, side_zero, scale, up=-1.0)
    strokes += _marks(gaps, side_zero, np.array([(scale, 0.0), (0.0, 0.0), (0.0, -scale)]))
    labels.append(Label("side, nose to the left", EDGE, top - 2.0, TEXT))
    top += (z_high - z_low) * scale + 12.0
    plan_zero = (EDGE, top - y_low * scale)
    strokes += _profile(extents, 0, plan_zero, scale, up=1.0)
    strokes += _marks(gaps, plan_zero, np.array([(scale, 0.0), (0.0, scale), (0.0, 0.0)]))
    labels.append(Label("plan, from above", EDGE, top - 2.0, TEXT))
    top += (y_high - y_low) * scale + 12.0
    end_zero = (EDGE - y_low * scale, top + z_high * scale)
    strokes += _ribs(sections, end_zero, scale)
    strokes += _marks(gaps, end_zero, np.array([(0.0, 0.0), (scale, 0.0), (0.0, -scale)]))
    labels.append(Label("end, from the tail: sections one inside the other", EDGE, top - 2.0, TEXT))
    return Drawing(WIDE + 2 * EDGE, top + (z_high - z_low) * scale + EDGE, tuple(strokes), tuple(labels))


def extents_along(shape: Shape, length: float, steps: Sequence[float] = ()) -> Extents | None:
    """The extent of a hull of `length` mm at places along it, on either side of `steps`; None when no section can be
    closed.
    """
    sections = _sections_along(shape, length, steps)
    return _with_tips(shape, sections, length) if sections else None


def _sections_along(shape: Shape, length: float, steps: Sequence[float]) -> list[Section]:
    """The sections of the picture: more where the usual ones miss what is short and stands out far."""
    sections = list(_sections(shape, _places(length, steps, SAMPLES)))
    if not sections:
        return []
    y_low, z_low, y_high, z_high = shapely.total_bounds([cut.region for cut in sections]).tolist()
    size = float(np.ptp(np.stack(shape.bounds)[:, 1:], axis=0).sum())
    if size - (y_high - y_low + z_high - z_low) <= MISSED * size:
        return sections
    return list(_sections(shape, _places(length, steps, MORE * SAMPLES)))


def _places(length: float, steps: Sequence[float], samples: int) -> list[tuple[float, Side]]:
    """Places of the sections: closer together towards the ends, where the outline turns fastest."""
    inner = length / 2 * (1 - np.cos(np.linspace(0.0, np.pi, samples + 1)[1:-1]))
    places = [(0.0, Side.AFT), *((float(x), Side.FORE) for x in inner), (length, Side.FORE)]
    return sorted(places + [(x, side) for x in steps for side in Side], key=lambda at: (at[0], at[1] is Side.AFT))


def _with_tips(shape: Shape, sections: Sequence[Section], length: float) -> Extents:
    """The extents of the sections, and of the points in which a pointed end has no section."""
    x = [cut.x for cut in sections]
    bounds = [cut.region.bounds for cut in sections]
    for end, place in ((length, len(x)), (0.0, 0)):  # the tail first: after the nose its place would be another
        tip = shape.tip_points(end)
        if len(tip) and end not in x:
            x.insert(place, end)
            bounds.insert(place, (*tip.min(axis=0).tolist(), *tip.max(axis=0).tolist()))
    table = np.array(bounds)
    return Extents(np.array(x), table[:, :2], table[:, 2:])


def _sections(shape: Shape, places: Iterable[tuple[float, Side]]) -> Iterable[Section]:
    for x, side in places:
        try:
            cut = shape.section(x, side)
        except HullError:
            continue
        if not cut.region.is_empty:
            yield cut


def _marks(gaps: Sequence[Gap], zero: tuple[float, float], view: Points) -> list[Stroke]:
    """A short line over each gap; `view` (3, 2) takes (x, y, z) mm to the sheet. Narrow gaps are drawn MARK mm long."""
    strokes = []
    for gap in gaps:
        a, b = (np.array([gap.x, *end]) @ view + zero for end in (gap.start, gap.end))
        longer = max(0.0, MARK - float(np.hypot(*(b - a)))) / 2
        way = (b - a) / np.hypot(*(b - a)) if np.any(a != b) else np.array([0.0, 1.0])
        strokes.append(line(Role.GAP, tuple(a - longer * way), tuple(b + longer * way)))
    return strokes


def _profile(extents: Extents, axis: int, zero: tuple[float, float], scale: float, *, up: float) -> list[Stroke]:
    """One long view as a closed outline, with the datum line."""
    x = np.concatenate([extents.x, extents.x[::-1]]) * scale
    across = np.concatenate([extents.low[:, axis], extents.high[::-1, axis]]) * scale * up
    outline = Stroke(Role.CUT, freeze(np.column_stack([x + zero[0], across + zero[1]])), closed=True)
    end = zero[0] + float(extents.x[-1]) * scale
    return [outline, line(Role.DATUM, (zero[0] - 3, zero[1]), (end + 3, zero[1]))]


def _ribs(sections: Sequence[Section], zero: tuple[float, float], scale: float) -> list[Stroke]:
    places = np.linspace(0, len(sections) - 1, RIBS).round().astype(int).tolist()
    chosen = [sections[n] for n in dict.fromkeys(places)]
    strokes = []
    for cut in chosen:
        for part in cut.region.geoms:
            for ring in (part.exterior, *part.interiors):
                points = shapely.get_coordinates(ring)[:-1] * (scale, -scale) + zero
                strokes.append(Stroke(Role.LABEL, freeze(points), closed=True))
    y_low, _, y_high, _ = shapely.total_bounds([cut.region for cut in chosen]).tolist()
    return [*strokes, line(Role.DATUM, (zero[0] + y_low * scale, zero[1]), (zero[0] + y_high * scale, zero[1]))]
