"""Colours for a deviation: pale sand where there is none, towards deep violet where foam is missing, and towards earth
brown where there is extra foam.

The two arms differ along blue and yellow, which the common kinds of colour blindness do not affect, and missing foam is
the darker of two equal values, so that a grey print still distinguishes them. Steps are even in OKLab (Ottosson 2020),
where equal distances look equally large.
"""

import math

import numpy as np

from profiles.paper.drawing import Area, Label, Points, patch
from profiles.units import PrintUnit, bare_length, printed_unit, short_length
from profiles.values import dataclass

SAND = "#f4ecda"
LILAC, VIOLET = "#ece8fb", "#2a1a78"
PEACH, EARTH = "#ffead8", "#b4591a"
"""Each arm starts with a tint as light as the sand, so that its hue shows from the first step."""

LEVELS = 4
"""Tints of each arm besides the sand; nobody can match more of them to the legend."""

PALE = "#d9d9d9"
"""Grids: visible when looked for."""

GREY = "#9a9a9a"
"""Leaders and hatching: a little darker, because the eye has to follow them."""

LEAST_TOP = 0.5
"""mm; a scale that ends lower would colour what nobody can feel or sand."""

CELL = (13.0, 4.0)
"""mm; greatest width, and height, of a cell of the legend."""

LEGEND_TEXT = 2.5
"""mm."""

LEGEND_HEIGHT = CELL[1] + 2 * 1.4 * LEGEND_TEXT + 0.5
"""mm; the row of cells, the numbers below its joints, and the words below them."""

_TO_CONES = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
_TO_LAB = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)


def linear_rgb(colour: str) -> Points:
    """Red, green and blue of #rrggbb as amounts of light from 0 to 1 (IEC 61966-2-1)."""
    coded = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)  # noqa: PLR2004 - from the standard


def oklab(linear: Points) -> Points:
    """Lightness and the two colour axes, green to red and blue to yellow, of amounts of light."""
    lab: Points = _TO_LAB @ np.cbrt(_TO_CONES @ linear)
    return lab


def mix(start: str, end: str, share: float) -> str:
    """The colour at `share` of the way from `start` to `end` in OKLab."""
    lab = (1 - share) * oklab(linear_rgb(start)) + share * oklab(linear_rgb(end))
    linear = np.clip(np.linalg.solve(_TO_CONES, np.linalg.solve(_TO_LAB, lab) ** 3), 0.0, 1.0)
    coded = np.where(linear <= 0.0031308, linear * 12.92, 1.055 * linear ** (1 / 2.4) - 0.055)  # noqa: PLR2004 - as above
    return "#" + "".join(f"{round(255 * part):02x}" for part in coded.tolist())


@dataclass(frozen=True, slots=True)
class Tint:
    """One colour of the scale, and its class in SVG."""

    kind: str
    colour: str


EVEN = Tint("even", SAND)
MISSING = tuple(Tint(f"missing-{k}", mix(LILAC, VIOLET, k / LEVELS)) for k in range(1, LEVELS + 1))
EXTRA = tuple(Tint(f"extra-{k}", mix(PEACH, EARTH, k / LEVELS)) for k in range(1, LEVELS + 1))


@dataclass(frozen=True, slots=True)
class TintScale:
    """Which deviation has which tint: `bounds` are LEVELS + 1 rising values in mm where one tint ends and the next
    starts; what is above the last one has the last tint.
    """

    bounds: tuple[float, ...]

    def tint(self, missing: float, extra: float) -> Tint:
        """The tint of the larger of the two, both mm; of missing foam if they are equal."""
        arm = MISSING if missing >= extra else EXTRA
        level = sum(max(missing, extra) >= bound for bound in self.bounds[:-1])
        return arm[level - 1] if level else EVEN

    def legend(self, x: float, y: float, width: float) -> tuple[list[Area], list[Label]]:
        """The scale as a row of cells from (x, y), `width` wide, all mm: missing on the left, extra on the right."""
        tints = [*reversed(MISSING), EVEN, *EXTRA]
        cell = width / len(tints)
        areas = [patch(tint.kind, tint.colour, x + k * cell, y, cell, CELL[1]) for k, tint in enumerate(tints)]
        base = y + CELL[1] + 1.3 * LEGEND_TEXT
        joints = [
            *(f"-{_joint(value)}" for value in reversed(self.bounds)),
            *(f"+{_joint(value)}" for value in self.bounds),
        ]
        labels = [Label(text, x + k * cell, base, LEGEND_TEXT, "middle") for k, text in enumerate(joints)]
        under = base + 1.4 * LEGEND_TEXT
        labels.append(Label(f"foam missing, {printed_unit()}", x + LEVELS / 2 * cell, under, LEGEND_TEXT, "middle"))
        labels.append(
            Label(f"extra foam, {printed_unit()}", x + (1.5 * LEVELS + 1) * cell, under, LEGEND_TEXT, "middle")
        )
        return areas, labels


def _joint(value: float) -> str:
    """A bound of the scale as short as it can be: cells are narrow. Inches have three decimals and no leading zero."""
    return bare_length(value).removeprefix("0") if printed_unit() is PrintUnit.IN else short_length(value)


LEGEND_WIDTH = (2 * LEVELS + 1) * CELL[0]
"""mm; greatest width of the row of cells; the numbers at its ends stick out by half their width."""


def scale_to(largest: float) -> TintScale:
    """A scale up to the first of 1, 2, 5, 10, 20 ... mm that is not less than `largest` mm."""
    top = max(LEAST_TOP, largest)
    step = math.ceil(3 * math.log10(top) - 1)
    while round_value(step) < top * (1 - 1e-9):
        step += 1
    return TintScale(tuple(round_value(step - LEVELS + k) for k in range(LEVELS + 1)))


def round_value(step: int) -> float:
    """The series 1, 2, 5, 10, 20 ...: step 0 is 1, step -1 is 0.5."""
    decade, place = divmod(step, 3)
    return float(f"{(1, 2, 5)[place]}e{decade}")
