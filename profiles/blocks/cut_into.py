"""What is cut into blocks after their outside is planned, as values; the package `cuts` makes them.

Hole       where a rod or tube passes through a face
FaceCuts   all that a face shows of it besides its outline
CutInto    what is left of a block
CutSheet   a template at full size for something that no face shows
Cuts       all cuts of a body, with their figures

The outside of a block stays as it was planned: its pairing, growth and deviation are those of the hull, so a cut-out
is never taken for missing foam.
"""

from collections.abc import Mapping
from typing import Any

from shapely import LineString, MultiPolygon, Polygon

from profiles.hull.surface import Mesh
from profiles.notes import Note
from profiles.values import dataclass


@dataclass(frozen=True, slots=True)
class Hole:
    """Where a rod or tube passes through a face; it is drilled."""

    name: str
    outline: Polygon
    """(y, z) mm; an ellipse where the rod is not square to the face."""
    centre: tuple[float, float]
    """(y, z) mm."""
    words: str
    """What stands beside it: its name and diameter."""


@dataclass(frozen=True, slots=True)
class HandCut:
    """Where something that is cut out of the glued body meets a face: for guidance, not for the wire."""

    name: str
    outline: MultiPolygon
    """(y, z) mm, inside the foam of the face."""


@dataclass(frozen=True, slots=True)
class FaceCuts:
    """What a face shows besides its outline."""

    holes: tuple[Hole, ...] = ()
    slits: tuple[LineString, ...] = ()
    """(y, z) mm; where the wire goes in to an inner outline, and where foam is glued again."""
    by_hand: tuple[HandCut, ...] = ()


@dataclass(frozen=True, slots=True)
class CutInto:
    """What is left of a block."""

    left: Mesh
    """Closed surface, hull frame, mm."""
    taken: Mesh
    """What is cut out of it, closed."""
    volume: float
    """mm3 that are left."""
    names: tuple[str, ...] = ()
    """Of what is cut out."""


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A line of a sheet with a word beside it."""

    role: str
    """A member of `paper.drawing.Role`, by its value."""
    points: tuple[tuple[float, float], ...]
    """mm, u to the right, v up."""
    text: str = ""


@dataclass(frozen=True, slots=True)
class CutSheet:
    """A template at full size for something that no face of a block shows. u to the right and v up, mm."""

    name: str
    """Unique in a plan, such as "saddle wing port"."""
    x: float
    """mm aft of the foremost point; where it belongs."""
    outline: MultiPolygon
    """The edge of the card."""
    lines: tuple[SheetLine, ...] = ()
    words: tuple[str, ...] = ()
    """What the builder does with it."""


@dataclass(frozen=True, slots=True)
class CutRow:
    """One cut as the job book lists it."""

    name: str
    kind: str
    place: str
    size: str
    work: str
    """With which tool, and how."""


@dataclass(frozen=True, slots=True)
class Cuts:
    """All cuts of a body."""

    definition: Mapping[str, Any]
    """The settings by their keys: part of the fingerprint."""
    rows: tuple[CutRow, ...]
    sheets: tuple[CutSheet, ...]
    figures: Mapping[str, Any]
    """For report.json; lengths mm, volumes mm3."""
    notes: tuple[Note, ...]
