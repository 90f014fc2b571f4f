"""Kinds of foam and water by their density.

ASTM C578-10 gives the least density of each type of polystyrene; a board may be heavier. The plain names give what
makers' sheets of boards commonly state (common practice), the middle one of a range.
"""

from profiles.values import dataclass

KG_PER_M3_PER_PCF = 0.45359237 / 0.3048**3
"""kg/m3 in a pound per cubic foot, exact."""

G_PER_MM3 = 1e-6
"""g/mm3 in a kg/m3."""

G_PER_MM2 = 1e-6
"""g/mm2 in a g/m2."""


@dataclass(frozen=True, slots=True)
class FoamKind:
    """A kind of foam; densities in kg/m3."""

    density: float
    low: float
    high: float
    source: str


COMMON = "makers' boards, common practice"

_ASTM = {
    "EPS XI": 0.7,
    "EPS I": 0.9,
    "EPS VIII": 1.15,
    "EPS II": 1.35,
    "EPS IX": 1.8,
    "EPS XIV": 2.4,
    "EPS XV": 2.85,
    "XPS X": 1.3,
    "XPS IV": 1.55,
    "XPS VI": 1.8,
    "XPS VII": 2.2,
    "XPS V": 3.0,
}
"""Least density in pounds per cubic foot (ASTM C578-10, table 1)."""

FOAMS: dict[str, FoamKind] = {
    "EPS": FoamKind(20.0, 15.0, 30.0, COMMON),
    "XPS": FoamKind(33.0, 28.0, 40.0, COMMON),
    "EPP": FoamKind(30.0, 20.0, 45.0, COMMON),
    **{
        name: FoamKind(pcf * KG_PER_M3_PER_PCF, pcf * KG_PER_M3_PER_PCF, 1.2 * pcf * KG_PER_M3_PER_PCF, "ASTM C578-10")
        for name, pcf in _ASTM.items()
    },
}
"""By name. Of the types of ASTM C578 the least density; a fifth more is usual at most (common practice)."""

WATERS = {"fresh": 999.1026, "salt": 1026.021}
"""kg/m3 at 15 degrees C: ITTC 7.5-02-01-03, Fresh Water and Seawater Properties (values from memory; rounded they are
the 999.1 and 1026.0 of the ITTC's older tables)."""
