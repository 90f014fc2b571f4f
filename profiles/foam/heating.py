"""A round wire: its gauge, its resistance, and the current that heats it. Every quantity has its unit in its name.

Resistance and Ohm's law are exact. The current for a temperature comes from a wire maker's table for a straight wire in
free air; in foam the wire gives off more heat and runs cooler, so the current is a starting point.
"""

import bisect
import math
from collections.abc import Sequence

from profiles.errors import JobError
from profiles.foam.alloys import ALLOYS, TABLE_AMPS, TABLE_CELSIUS, Alloy
from profiles.units import MM_PER_IN
from profiles.values import dataclass

SAME_DIAMETER = 1e-6
"""mm; a diameter this close to that of a gauge is that gauge."""

GAUGES_BEYOND = 2
"""Number of gauges for which the table of currents is extrapolated at either end."""

THICKEST_GAUGE, THINNEST_GAUGE = min(TABLE_AMPS) - GAUGES_BEYOND, max(TABLE_AMPS) + GAUGES_BEYOND
"""AWG; the ends of the extrapolated table."""


def find_alloy(text: str) -> Alloy:
    """The alloy with this name. Raises JobError with the known names.

    >>> find_alloy("nichrome 80").name
    'NiCr 80/20'
    >>> find_alloy("304").name
    'stainless 304'
    """
    word = "".join(character for character in text.lower() if character.isalnum())
    for alloy in ALLOYS:
        if word in (*alloy.words, alloy.name.lower().replace(" ", "").replace("/", "")):
            return alloy
    known = ", ".join(alloy.name for alloy in ALLOYS)
    msg = f"The wire's alloy is {text!r}, expected one of {known}."
    raise JobError(msg, remedy="Read the label of the reel; the word nichrome alone does not say which one it is.")


def diameter_of_awg_mm(gauge: int) -> float:
    """0.005 in x 92^((36 - gauge) / 39), in mm, rounded to 0.1 mil as tables of bare wire print it (ASTM B258).

    >>> round(diameter_of_awg_mm(36), 4), round(diameter_of_awg_mm(26), 5)
    (0.127, 0.40386)
    """
    return float(round(50 * 92 ** ((36 - gauge) / 39))) * 1e-4 * MM_PER_IN


def awg_of(diameter_mm: float) -> int | None:
    """The gauge of this diameter; None for a diameter between gauges.

    >>> awg_of(0.127), awg_of(0.13)
    (36, None)
    """
    gauge = round(36 - 39 * math.log(diameter_mm / (0.005 * MM_PER_IN), 92))
    return gauge if abs(diameter_of_awg_mm(gauge) - diameter_mm) < SAME_DIAMETER else None


def ohm_per_metre(resistivity_ohm_m: float, diameter_mm: float) -> float:
    """Resistivity divided by the area of a round wire.

    >>> round(ohm_per_metre(1.08e-6, 0.4), 2)
    8.59
    """
    return resistivity_ohm_m / (math.pi / 4 * (diameter_mm / 1000) ** 2)


def resistance_factor(alloy: Alloy, celsius: float) -> float:
    """Resistance at a temperature divided by that at 20 degrees C, interpolated linearly in the alloy's table.

    >>> round(resistance_factor(find_alloy("NiCr 80/20"), 350.0), 4)
    1.0215
    """
    return _interpolate([at for at, _ in alloy.factors], [factor for _, factor in alloy.factors], celsius)


@dataclass(frozen=True, slots=True)
class HotWire:
    """A wire at a temperature in free air, for each mm of its length."""

    cold_ohm_per_mm: float
    hot_ohm_per_mm: float
    amps: float

    @property
    def volts_per_mm(self) -> float:
        """Ohm's law, U = I R."""
        return self.amps * self.hot_ohm_per_mm

    @property
    def watts_per_mm(self) -> float:
        """P = I^2 R."""
        return self.amps**2 * self.hot_ohm_per_mm


def heat_wire(alloy: Alloy, diameter_mm: float, celsius: float) -> HotWire:
    """The resistance of a wire, and the current that keeps it at a temperature.

    >>> wire = heat_wire(find_alloy("NiCr 80/20"), diameter_of_awg_mm(26), 300.0)
    >>> round(wire.amps, 2), round(600 * wire.volts_per_mm, 2)
    (2.0, 10.3)
    """
    cold = ohm_per_metre(alloy.resistivity_ohm_m, diameter_mm) / 1000
    return HotWire(cold, cold * resistance_factor(alloy, celsius), current_amps(alloy, diameter_mm, celsius))


def current_amps(alloy: Alloy, diameter_mm: float, celsius: float) -> float:
    """The current that keeps a wire at a temperature in free air.

    An alloy outside the table gets the power per length of a NiCr 80/20 wire of the same diameter and temperature: I^2
    times the hot resistivity is the same.

    >>> round(current_amps(find_alloy("NiCr 80/20"), diameter_of_awg_mm(26), 300.0), 2)
    2.0
    """
    amps = _table_amps(diameter_mm, celsius)
    if alloy.in_table:
        return amps
    hot, nickel_hot = (metal.resistivity_ohm_m * resistance_factor(metal, celsius) for metal in (alloy, ALLOYS[0]))
    return amps * math.sqrt(nickel_hot / hot)


def _table_amps(diameter_mm: float, celsius: float) -> float:
    """The current from the table; beyond its ends it is extrapolated from the last two entries.

    Current goes roughly with a power of the diameter, and heat loss grows faster than temperature. So the logarithm of
    the current is interpolated, linearly in the temperature and in the logarithm of the diameter.
    """
    gauges = sorted(TABLE_AMPS, reverse=True)
    at_celsius = [_interpolate(TABLE_CELSIUS, [math.log(amps) for amps in TABLE_AMPS[g]], celsius) for g in gauges]
    log_diameters = [math.log(diameter_of_awg_mm(gauge)) for gauge in gauges]
    return math.exp(_interpolate(log_diameters, at_celsius, math.log(diameter_mm)))


def _interpolate(places: Sequence[float], values: Sequence[float], place: float) -> float:
    """Linear between two entries, exactly the entry's value at its place, and extrapolated beyond the ends."""
    k = min(max(bisect.bisect_right(places, place) - 1, 0), len(places) - 2)
    share = (place - places[k]) / (places[k + 1] - places[k])
    return values[k] * (1 - share) + values[k + 1] * share
