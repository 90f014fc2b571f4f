"""The printer correction: the only scaling of a drawing, applied last.

A printer scales each axis by its own error. Where the 100 mm bar measures `m` mm on paper, the page is scaled
by 100 / m along that axis, about the middle of the page. Text keeps its size.
"""

from dataclasses import replace

import numpy as np

from profiles.paper.drawing import Area, Drawing, Label, Points, Stroke, freeze
from profiles.values import dataclass


@dataclass(frozen=True, slots=True)
class Correction:
    """Factors along x and y about a fixed point (mm on the page)."""

    x: float = 1.0
    y: float = 1.0
    centre: tuple[float, float] = (0.0, 0.0)

    def point(self, x: float, y: float) -> tuple[float, float]:
        """The corrected place of a point of the page, mm."""
        return self.centre[0] + (x - self.centre[0]) * self.x, self.centre[1] + (y - self.centre[1]) * self.y

    def points(self, points: Points) -> Points:
        """The corrected places of points (n, 2) mm."""
        centre = np.asarray(self.centre)
        return freeze(centre + (points - centre) * (self.x, self.y))

    def stroke(self, stroke: Stroke) -> Stroke:
        """The stroke in its corrected place and size."""
        return replace(stroke, points=self.points(stroke.points))

    def label(self, label: Label) -> Label:
        """The label in its corrected place; the text keeps its size."""
        x, y = self.point(label.x, label.y)
        return replace(label, x=x, y=y)

    def area(self, area: Area) -> Area:
        """The area in its corrected place and size."""
        return replace(area, rings=tuple(self.points(ring) for ring in area.rings))

    def drawing(self, drawing: Drawing) -> Drawing:
        """The drawing with everything in its corrected place; the same drawing for factors of 1."""
        if self.x == 1.0 and self.y == 1.0:
            return drawing
        return replace(
            drawing,
            strokes=tuple(self.stroke(stroke) for stroke in drawing.strokes),
            labels=tuple(self.label(label) for label in drawing.labels),
            areas=tuple(self.area(area) for area in drawing.areas),
        )
