"""A saddle: where a wing goes through or sits on the body. No wire along the hull cuts it; two side templates do.

The wing is the aerofoil drawn out straight to both sides of the centre plane, each half raised by the dihedral d. In
the plane at y it stands tan(d) |y| higher and is 1 / cos(d) as high as the aerofoil itself.
"""

import math

import numpy as np
import shapely
from shapely import Polygon

from profiles.arrays import Floats
from profiles.blocks.body import Body
from profiles.blocks.cut_into import CutRow, CutSheet
from profiles.cuts.aerofoil import Aerofoil, aerofoil_of
from profiles.cuts.settings import Cutout
from profiles.cuts.sheets import ring_of, sheet_of
from profiles.cuts.solids import tube
from profiles.errors import HullError, JobError
from profiles.hull.sections import Side
from profiles.hull.surface import Mesh
from profiles.notes import Note, assumption
from profiles.units import length_text, short_length
from profiles.values import dataclass

BEYOND = 10.0
"""mm that the cut goes on beyond the sides of the body."""

ROUND = 16
"""Segments of a quarter circle where the contour is moved out by the skin."""


@dataclass(frozen=True, slots=True)
class Saddle:
    """A saddle in its place."""

    name: str
    aerofoil: Aerofoil
    contour: Floats
    """(n, 2) mm, x and z at the centre plane, over the skin, as high as in a plane square to the wing."""
    chord: float
    place: tuple[float, float]
    """x and z of the leading edge, mm."""
    incidence: float
    dihedral: float
    side: float
    """mm; y of the side templates, to port and to starboard."""

    def at(self, y: float) -> Floats:
        """(n, 2) mm: the contour in the plane at y."""
        turn = math.radians(self.dihedral)
        z0 = self.place[1]
        return np.column_stack(
            [self.contour[:, 0], z0 + (self.contour[:, 1] - z0) / math.cos(turn) + abs(y) * math.tan(turn)]
        )

    @property
    def solids(self) -> list[Mesh]:
        """What the wing takes out, both halves."""
        meshes = []
        for side in (self.side + BEYOND, -self.side - BEYOND):
            rings = [self.at(y) for y in (0.0, side)]
            ends = [
                np.column_stack([ring[:, 0], np.full(len(ring), y), ring[:, 1]])
                for ring, y in zip(rings, (0.0, side), strict=True)
            ]
            meshes.append(tube(ends[0], ends[1]))
        return meshes


def saddle_of(cutout: Cutout, name: str, body: Body) -> tuple[Saddle, list[Note]]:
    """A saddle in its place. Raises JobError for an aerofoil that cannot be read, and for a wing that is not
    on the body.
    """
    aerofoil = aerofoil_of(cutout.aerofoil)
    turn = math.radians(cutout.incidence)
    along, up = aerofoil.contour.T * cutout.chord
    contour = np.column_stack(
        [
            cutout.x + along * math.cos(turn) + up * math.sin(turn),
            cutout.z - along * math.sin(turn) + up * math.cos(turn),
        ]
    )
    if cutout.skin:
        grown = Polygon(contour).buffer(cutout.skin, quad_segs=ROUND)
        contour = ring_of(grown)
    low, high = contour[:, 0].min(), contour[:, 0].max()
    if low < 0 or high > body.hull.length:
        message = (
            f"{name}: the wing goes from x = {low:.1f} to {high:.1f} mm; the hull ends at {body.hull.length:.1f} mm"
        )
        raise JobError(message, remedy="Move x, the leading edge, or give a shorter chord.")
    side = cutout.wall or _half_breadth(body, contour)
    saddle = Saddle(
        name, aerofoil, contour, cutout.chord, (cutout.x, cutout.z), cutout.incidence, cutout.dihedral, side
    )
    notes = list(aerofoil.notes)
    if not cutout.wall:
        if not side:
            message = f"{name}: at z = {cutout.z:g} mm the wing does not touch the hull"
            raise JobError(message, remedy="Change z, the height of the leading edge above the datum.")
        text = f"{name}: the side templates stand {length_text(side)} to port and starboard, at the sides of the hull"
        notes.append(assumption(f"{text}. Override with wall"))
    return saddle, notes


def _half_breadth(body: Body, contour: Floats) -> float:
    """The largest half-breadth of the hull where the wing is, mm."""
    low, high = contour.min(axis=0), contour.max(axis=0)
    widest = 0.0
    for x in np.linspace(low[0] + 1e-3, high[0] - 1e-3, 9).tolist():
        try:
            region = body.hull.shape.section(x, Side.AFT).region
        except HullError:
            continue
        band = region.intersection(shapely.box(-1e6, low[1] - 1.0, 1e6, high[1] + 1.0))
        if not band.is_empty:
            widest = max(widest, abs(band.bounds[0]), abs(band.bounds[2]))
    return widest


def saddle_sheets(saddle: Saddle, body: Body) -> list[CutSheet]:
    """The two templates for the sides of the glued body."""
    words = [
        f"{saddle.aerofoil.name}, chord {short_length(saddle.chord)}, incidence {saddle.incidence:g} degrees",
        f"dihedral {saddle.dihedral:g} degrees; this card stands {length_text(saddle.side)} from the centre plane",
        "Pin it to the side by datum and stations; cut along it with a bow or a saw, then sand to the line.",
    ]
    return [
        sheet_of(body, f"{saddle.name} {side}", side, [saddle.at(saddle.side)], words) for side in ("port", "starboard")
    ]


def saddle_row(saddle: Saddle) -> CutRow:
    """The saddle as the book lists it."""
    x, z = saddle.place
    return CutRow(
        saddle.name,
        "saddle",
        f"leading edge at x {short_length(x)}, z {short_length(z)}",
        f"{saddle.aerofoil.name}, chord {short_length(saddle.chord)}, {saddle.incidence:g} degrees",
        "glued body: bow or fine saw along the two side templates",
    )
