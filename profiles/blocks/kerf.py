"""The kerf from a test block that is cut with a square template of known size, and measured.

The centre of the wire runs outside the template by the wire's radius, and the wire melts half the kerf on either side
of its centre. So the foam measures m = size + wire - kerf (compare `Allowances.edge`), and the kerf is size + wire - m.
"""

import math
from collections.abc import Sequence

from profiles.errors import JobError
from profiles.notes import Note, warning

TEST_SIZE = 100.0
"""mm; side of the square template."""

LARGEST_KERF = 10.0
"""mm; hot wires leave 0.5 to 3 mm (common practice). With more, the wire is far too hot or the wrong thing was
measured."""

UNEVEN = 0.5
"""mm; two sides of the test block that differ by more were not cut at the same pace."""


def kerf_from_test(measured: float | Sequence[float], wire: float, size: float = TEST_SIZE) -> float:
    """The kerf in mm, given the measured test block (once, or across and up) and the wire's diameter, mm.

    Raises JobError for sizes that a test block cannot have.

    >>> round(kerf_from_test((99.2, 99.0), wire=0.4), 6)
    1.3
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


def kerf_test_notes(measured: float | Sequence[float], wire: float) -> tuple[Note, ...]:
    """Warnings to heed before the kerf is used: sides that differ, a kerf narrower than the wire."""
    sides = _sides(measured)
    kerf = kerf_from_test(sides, wire)
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
