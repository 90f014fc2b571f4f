"""Tables of offsets for tests, as CSV."""

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from profiles import Hull, ReadSettings, read
from profiles.arrays import Floats
from profiles.hull.lofted_shape import LoftedShape

LENGTH, BREADTH, DRAUGHT = 1000.0, 100.0, 62.5
"""mm of the Wigley hull: L / B = 10, B / T = 1.6."""


def wigley(x: Floats | float, z: Floats | float) -> Floats:
    """Half-breadth (B / 2) (1 - (2 x / L)^2) (1 - (z / T)^2) of a Wigley hull, x from the bow, z from -T to 0."""
    return np.asarray(BREADTH / 2 * (1 - (2 * x / LENGTH - 1) ** 2) * (1 - (z / DRAUGHT) ** 2))


def grid_csv(breadth: Callable[[float, float], float], x: Sequence[float], z: Sequence[float], unit: str = "mm") -> str:
    """Half-breadths at stations and waterlines, all digits given."""
    lines = [["unit", unit], ["place", *map(repr, x)]]
    lines += [[f"waterline {height!r}", *(repr(float(breadth(at, height))) for at in x)] for height in z]
    return "\n".join(map(",".join, lines)) + "\n"


def wigley_csv(stations: int = 11, waterlines: int = 7) -> str:
    """The table of a Wigley hull."""
    x, z = np.linspace(0, LENGTH, stations), np.linspace(-DRAUGHT, 0, waterlines)
    return grid_csv(lambda at, height: float(wigley(at, height)), x.tolist(), z.tolist())


SKIFF = """
name,             Skiff of one chine
unit,             mm
station,          0,  1,  2,  3,  4,  5
place,            0,  100,200,300,400,500
keel height,      30, 8,  0,  0,  4,  10
sheer height,     90, 84, 78, 74, 72, 72
sheer half-breadth, 20, 55, 70, 72, 66, 54
knuckle chine height, 40, 26, 20, 18, 19, 22
knuckle chine half-breadth, 8, 38, 56, 60, 54, 42
stem place,       -60,-30,0,  ,   ,
stem height,      98, 55, 30, ,   ,
"""
"""A hull of our own invention: one hard chine, a raked stem, a transom."""


PLAIN = ReadSettings()


def read_text(folder: Path, text: str, settings: ReadSettings = PLAIN, name: str = "hull.csv") -> Hull:
    """The hull of a table, or of a drawing with that suffix."""
    (folder / name).write_text(text.strip() + "\n", encoding="utf-8")
    return read(folder / name, settings)


def lofted(hull: Hull) -> LoftedShape:
    """Its shape, which is a lofted one."""
    assert isinstance(hull.shape, LoftedShape)
    return hull.shape
