"""Curves of a body afloat: righting arms over heel, and displacement over the waterline."""

from collections.abc import Callable, Sequence

import numpy as np

from profiles.body.flotation import Flotation
from profiles.paper.drawing import Area, Drawing, Label, Points, Role, Stroke, freeze, hairline, line
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.pictures.bodyview import EDGE, SMALL, TEXT, TITLE
from profiles.pictures.tints import GREY, PALE, round_value
from profiles.units import MM_PER_IN, PrintUnit, length_text, printed_unit
from profiles.values import dataclass

ROOM = (182.0, 80.0)
"""mm; width and height of a plot."""

MARGIN = 16.0
"""mm left of the axes, for the numbers of the vertical one."""

HEAD = 16.0
"""mm above the axes."""

FOOT = 11.0
"""mm below them."""

NUMBERS = 7
"""The most steps of an axis."""


@dataclass(frozen=True, slots=True)
class Axis:
    """An axis: what it shows, its ends, and the step of its numbers."""

    name: str
    low: float
    high: float
    step: float

    def share(self, value: Points) -> Points:
        """Where values lie along it, 0 to 1."""
        return np.asarray((value - self.low) / (self.high - self.low))


def axis_for(name: str, values: Sequence[float]) -> Axis:
    """An axis of whole steps that holds zero and all values."""
    low, high = min(0.0, *values), max(0.0, *values)
    if high - low <= 0:
        high = 1.0
    step = -9
    while (high - low) / round_value(step) > NUMBERS:
        step += 1
    size = round_value(step)
    return Axis(name, float(np.floor(low / size + 1e-9) * size), float(np.ceil(high / size - 1e-9) * size), size)


def righting_plot(name: str, flotation: Flotation, room: tuple[float, float] = ROOM) -> Drawing:
    """Righting arms from upright to keel up, with the slope that GM gives at the start."""
    arms = flotation.righting.arms
    points = np.array([(arm.heel, arm.arm / printed_mm()) for arm in arms])
    across = Axis("heel in degrees", 0.0, 180.0, 30.0)
    up = axis_for(f"righting arm in {printed_unit()}", points[:, 1].tolist())
    vanishing = flotation.righting.vanishing
    words = "no angle of vanishing stability" if vanishing is None else f"stability vanishes at {vanishing:.0f} degrees"
    largest = flotation.righting.largest
    text = f"largest {length_text(largest.arm)} at {largest.heel:g} degrees; {words}; free trim"
    marked = [] if vanishing is None else [(vanishing, 0.0)]
    return _plot(f"{name}: righting arms", text, (across, up), points, marked, room)


def displacement_plot(name: str, flotation: Flotation, lowest: float, room: tuple[float, float] = ROOM) -> Drawing:
    """What the body displaces upright, by the waterline above its lowest point (z `lowest` mm)."""
    heights = [(level.plane.height - lowest) / printed_mm() for level in flotation.levels]
    weights = [level.displacement for level in flotation.levels]
    points = np.array([(0.0, 0.0), *zip(heights, weights, strict=True)])
    across = axis_for(f"waterline in {printed_unit()} above the lowest point", points[:, 0].tolist())
    up = axis_for("displacement in g", points[:, 1].tolist())
    text = f"upright, in {flotation.kind} water of {flotation.density:.1f} kg/m3"
    at = np.interp(flotation.weight, points[:, 1], points[:, 0])
    marked = [(float(at), flotation.weight)] if flotation.weight <= points[-1, 1] else []
    if marked:
        text += f"; {flotation.weight:.0f} g at about {length_text(float(at) * printed_mm())}"
    return _plot(f"{name}: displacement", text, (across, up), points, marked, room)


def printed_mm() -> float:
    """Mm in the unit of all lengths that are read."""
    return MM_PER_IN if printed_unit() is PrintUnit.IN else 1.0


def _plot(
    title: str,
    text: str,
    axes: tuple[Axis, Axis],
    points: Points,
    marked: Sequence[tuple[float, float]],
    room: tuple[float, float],
) -> Drawing:
    """One curve over a grid, with some points marked by a small cross."""
    across, up = axes
    left, right, top, bottom = EDGE + MARGIN, room[0] - EDGE, HEAD, room[1] - FOOT

    def on_sheet(values: Points) -> Points:
        return np.column_stack(
            [left + across.share(values[:, 0]) * (right - left), bottom - up.share(values[:, 1]) * (bottom - top)]
        )

    areas, labels = _grid(axes, on_sheet)
    wide = room[0] - 2 * EDGE
    y = EDGE + CAP_HEIGHT * TITLE
    labels.append(Label(title, EDGE, y, TITLE * min(1.0, wide / text_width(title, TITLE, bold=True)), bold=True))
    labels.append(Label(text, EDGE, y + 1.6 * TEXT, TEXT * min(1.0, wide / text_width(text, TEXT))))
    labels.append(Label(up.name, left, top - 1.2, SMALL))
    labels.append(Label(across.name, right, room[1] - EDGE + 0.5, SMALL, "end"))
    zero = on_sheet(np.array([(across.low, 0.0), (across.high, 0.0)]))
    strokes = [line(Role.LABEL, tuple(zero[0]), tuple(zero[1])), Stroke(Role.BOX, freeze(on_sheet(points)))]
    for x, y in on_sheet(np.array(marked).reshape(-1, 2)).tolist():
        strokes += [line(Role.GAP, (x - 1.2, y), (x + 1.2, y)), line(Role.GAP, (x, y - 1.2), (x, y + 1.2))]
    return Drawing(*room, tuple(strokes), tuple(labels), tuple(areas))


def _grid(axes: tuple[Axis, Axis], on_sheet: Callable[[Points], Points]) -> tuple[list[Area], list[Label]]:
    """Pale lines at the steps of both axes, and their numbers."""
    across, up = axes
    areas, labels = [], []
    for k in range(round((across.high - across.low) / across.step) + 1):
        value = across.low + k * across.step
        (x, low), (_, high) = on_sheet(np.array([(value, up.low), (value, up.high)])).tolist()
        areas.append(hairline("grid", GREY if k == 0 else PALE, (x, low), (x, high), 0.12))
        labels.append(Label(f"{value:g}", x, low + 1.5 + CAP_HEIGHT * SMALL, SMALL, "middle"))
    for k in range(round((up.high - up.low) / up.step) + 1):
        value = up.low + k * up.step
        (start, y), (end, _) = on_sheet(np.array([(across.low, value), (across.high, value)])).tolist()
        areas.append(hairline("grid", PALE, (start, y), (end, y), 0.12))
        labels.append(Label(f"{round(value, 9):g}", start - 1.5, y + CAP_HEIGHT * SMALL / 2, SMALL, "end"))
    return areas, labels
