"""Alloys of hot wires: resistivity, how it changes with temperature, and a wire maker's table of currents."""

import math

from profiles.units import MM_PER_IN
from profiles.values import dataclass

OHM_M_PER_OHM_CMIL_FT = math.pi / 4 * (MM_PER_IN * 1e-6) ** 2 / (12 * MM_PER_IN * 1e-3)
"""A circular mil is the area of a circle 0.001 in across, so 1 ohm cmil/ft = 1.66243e-9 ohm m."""


@dataclass(frozen=True, slots=True)
class Alloy:
    """The metal of a wire."""

    name: str
    words: tuple[str, ...]
    """Its other names, in lower-case letters and digits only."""
    resistivity_ohm_m: float
    """At 20 degrees C."""
    factors: tuple[tuple[float, float], ...]
    """Degrees C, and the resistance there divided by that at 20 degrees C."""
    in_table: bool
    """True if the table of currents is printed for this alloy."""


ALLOYS = (
    Alloy(
        "NiCr 80/20",
        ("nicr8020", "nicr80", "nichrome80", "nichrome8020", "8020", "cr20ni80", "ni80cr20"),
        650 * OHM_M_PER_OHM_CMIL_FT,
        (
            *((20, 1.0), (100, 1.006), (200, 1.012), (300, 1.018), (400, 1.025), (500, 1.026), (600, 1.018)),
            *((700, 1.010), (800, 1.008), (900, 1.010), (1000, 1.014), (1100, 1.021), (1200, 1.025)),
        ),
        in_table=True,
    ),
    Alloy(
        "NiCr 60/15",
        ("nicr6015", "nicr6016", "nicr60", "nichrome60", "nichrome6015", "nichrome6016", "6015", "6016", "cr15ni60"),
        675 * OHM_M_PER_OHM_CMIL_FT,
        (
            *((20, 1.0), (100, 1.011), (200, 1.024), (300, 1.038), (400, 1.052), (500, 1.064), (600, 1.069)),
            *((700, 1.073), (800, 1.078), (900, 1.088), (1000, 1.095), (1100, 1.109)),
        ),
        in_table=True,
    ),
    Alloy(
        "stainless 304",
        ("stainless", "stainlesssteel", "stainlesssteel304", "steel304", "304", "aisi304", "14301", "v2a"),
        72e-8,
        tuple(
            (celsius, microhm_cm / 72)
            for celsius, microhm_cm in ((20, 72), (100, 78), (200, 86), (400, 100), (600, 111), (800, 121), (900, 126))
        ),
        in_table=False,
    ),
)
"""Resistivity of the nickel alloys: a wire maker's alloy data sheets (650 and 675 ohm cmil/ft). Their factors: an alloy
maker's table of correction factors for Cr20Ni80 and Cr15Ni60. Stainless: a supplier's table of resistivity of type 304,
72 microhm cm at 20 degrees C as in the ASM material data sheet. Makers' figures of a wire are good to 3 to 5 %. All of
them withstand air at any temperature of a foam cutter (up to 870 degrees C at least)."""

TABLE_CELSIUS = (200, 300, 400, 500, 600, 700, 800, 900, 1000, 1100)

TABLE_AMPS = {
    20: (3.85, 4.70, 5.80, 6.90, 8.20, 9.70, 11.40, 13.30, 15.40, 17.40),
    21: (3.30, 4.05, 4.95, 5.90, 7.10, 8.30, 9.85, 11.20, 13.10, 14.80),
    22: (2.85, 3.55, 4.25, 5.10, 6.00, 7.30, 8.40, 9.60, 11.15, 12.60),
    23: (2.45, 3.10, 3.70, 4.45, 5.10, 6.30, 7.30, 8.45, 9.70, 10.90),
    24: (2.16, 2.75, 3.40, 3.90, 4.60, 5.40, 6.35, 7.25, 8.30, 9.40),
    25: (1.85, 2.35, 2.90, 3.40, 4.00, 4.65, 5.45, 6.30, 7.15, 8.05),
    26: (1.61, 2.00, 2.48, 2.90, 3.40, 3.95, 4.65, 5.40, 6.10, 6.90),
    27: (1.39, 1.75, 2.13, 2.55, 2.95, 3.52, 4.05, 4.70, 5.30, 5.95),
    28: (1.21, 1.53, 1.84, 2.18, 2.60, 3.04, 3.55, 4.06, 4.55, 5.10),
    29: (1.08, 1.35, 1.62, 1.95, 2.30, 2.65, 3.12, 3.45, 3.99, 4.45),
    30: (0.90, 1.15, 1.40, 1.67, 1.97, 2.28, 2.67, 2.96, 3.42, 3.80),
    31: (0.77, 0.99, 1.22, 1.40, 1.68, 1.97, 2.28, 2.55, 2.92, 3.24),
    32: (0.66, 0.86, 1.05, 1.22, 1.42, 1.69, 1.95, 2.22, 2.51, 2.77),
    33: (0.58, 0.73, 0.92, 1.05, 1.22, 1.42, 1.66, 1.85, 2.14, 2.37),
    34: (0.50, 0.63, 0.79, 0.92, 1.06, 1.23, 1.42, 1.60, 1.83, 2.02),
    35: (0.43, 0.54, 0.68, 0.80, 0.92, 1.07, 1.25, 1.37, 1.57, 1.73),
    36: (0.37, 0.49, 0.59, 0.70, 0.80, 0.95, 1.08, 1.20, 1.34, 1.48),
}
"""AWG -> amperes for each of TABLE_CELSIUS, for a straight wire in free air: a wire maker's table, the same for
NiCr 80/20 and NiCr 60."""
