"""The kerf from a test piece: a square template of known size, cut, and the block measured.

The wire rides outside the template by its radius and melts half its kerf beyond its own middle, on both sides alike. So
the foam measures m = size + wire - kerf, which is `Allowances.edge` read backwards, and the kerf is size + wire - m.
"""

import math
from collections.abc import Sequence

from profiles.errors import JobError
from profiles.notes import Note, warning

TEST_SIZE = 100.0
"""mm; side of the square template."""

LARGEST_KERF = 10.0
"""mm; hot wires leave 0.5 to 3 mm (common practice). More is a wire that is far too hot, or another thing measured."""

UNEVEN = 0.5
"""mm; two sides of the test block that differ by more were not cut at one pace."""


def kerf_from_test(measured: float | Sequence[float], wire: float, size: float = TEST_SIZE) -> float:
    """The kerf in mm from what the test block measures (once, or across and up) and the wire's diameter, mm.

    Raises JobError where the figures cannot be of a test block.
    """
    sides = _sides(measured)
    if not sides or not 0 <= wire < math.inf or not all(0 < side < math.inf for side in sides):
        listed = ", ".join(f"{side:g}" for side in sides) or "nothing"
        msg = f"The test block measures {listed} mm and the wire {wire:g} mm, expected lengths above 0."
        raise JobError(msg)
    mean = sum(sides) / len(sides)
    kerf = size + wire - mean
    if kerf < 0:
        msg = (
            f"The test block measures {mean:g} mm; a template of {size:g} mm and a wire of {wire:g} mm leave at most "
            f"{size + wire:g} mm."
        )
        raise JobError(msg, remedy="Measure the bar on the print, the template, then the block half way along the cut.")
    if kerf > LARGEST_KERF:
        msg = (
            f"The test block measures {mean:g} mm, so the kerf would be {kerf:.2f} mm; expected at most "
            f"{LARGEST_KERF:g} mm."
        )
        raise JobError(
            msg,
            remedy=f"Measure the block that was cut with the {size:g} mm template, or cut another with less current.",
        )
    return kerf


def kerf_test_notes(measured: float | Sequence[float], wire: float, size: float = TEST_SIZE) -> tuple[Note, ...]:
    """What should be looked at before the kerf is used: sides that differ, a kerf narrower than the wire."""
    sides = _sides(measured)
    kerf = kerf_from_test(sides, wire, size)
    notes = []
    if max(sides) - min(sides) > UNEVEN:
        listed = " and ".join(f"{side:g}" for side in sides)
        notes.append(
            warning(
                f"The sides of the test block measure {listed} mm, apart by more than {UNEVEN:g} mm; their mean is "
                "taken. Cut another at an even pace."
            )
        )
    if kerf < wire:
        notes.append(
            warning(
                f"The kerf of {kerf:.2f} mm is narrower than the wire of {wire:g} mm: the wire lagged behind the "
                "template, or the block was not measured half way along the cut."
            )
        )
    return tuple(notes)


def _sides(measured: float | Sequence[float]) -> tuple[float, ...]:
    return (measured,) if isinstance(measured, int | float) else tuple(measured)
