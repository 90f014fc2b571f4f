"""Pitch of a body in its file: only proposed, because nothing in its shape shows it for certain.

The plane of symmetry says nothing about pitch, and a sound boat's main axis may lie several degrees off its base line.
What the middles, bottoms and tops of the sections all agree on is worth a sentence.
"""

from collections.abc import Sequence

import numpy as np

from profiles.arrays import Floats
from profiles.hull.askew import AXES, rotation
from profiles.hull.trial_sections import TrialSection
from profiles.hull.turns import MOST_TURN
from profiles.notes import Note, assumption

LEAST = 2.0
"""Degrees; all three lines must rise or fall by more."""

ENDS = 0.2
"""Of the sections, at each end: bow and stern rise for other reasons."""


def pitch_notes(trials: Sequence[TrialSection], across: Floats, turned: Floats) -> list[Note]:
    """A note with the option that levels a hull, where it seems to be pitched.

    across (3,) is the hull's y axis among the axes of the file, after these were turned by the matrix `turned` (3, 3).
    """
    cut = [trial for trial in trials if trial.region is not None and not trial.region.is_empty]
    cut = cut[int(ENDS * len(cut)) : len(cut) - int(ENDS * len(cut))]
    if len(cut) < 3:  # noqa: PLR2004 - two always lie on a line
        return []
    x = np.array([trial.x for trial in cut])
    regions = [trial.region for trial in cut if trial.region is not None]
    lines = [
        [region.centroid.y for region in regions],
        [region.bounds[1] for region in regions],
        [region.bounds[3] for region in regions],
    ]
    middle, bottom, top = (float(np.degrees(np.arctan(np.polyfit(x, line, 1)[0]))) for line in lines)
    if min(middle, bottom, top) < LEAST and max(middle, bottom, top) > -LEAST:
        return []
    way = "rise" if middle > 0 else "fall"
    text = (
        f"the body stays as it is pitched in its file. From nose to tail the middles of its sections {way} by "
        f"{abs(middle):.1f} degrees, their bottoms by {abs(bottom):.1f}, their tops by {abs(top):.1f}. "
    )
    option = _turn_option(rotation(across, float(np.radians(middle))) @ turned)
    return [assumption(text + f"If it should be level, turn it with {option}.")] if option else []


def _turn_option(matrix: Floats) -> str:
    """The turns about x, then y, then z that make up a turn (3, 3); empty where one would be 90 degrees or more."""
    angles = (
        np.arctan2(matrix[2, 1], matrix[2, 2]),
        np.arcsin(np.clip(-matrix[2, 0], -1.0, 1.0)),
        np.arctan2(matrix[1, 0], matrix[0, 0]),
    )
    turns = [(axis, round(float(np.degrees(angle)), 1)) for axis, angle in zip(AXES, angles, strict=True)]
    if any(abs(degrees) >= MOST_TURN for _, degrees in turns):
        return ""
    return "--turn " + ",".join(f"{axis}={degrees:g}" for axis, degrees in turns if degrees)
