"""What the program tells about its own decisions: mends, guesses, warnings.

Part of the floor beside `errors` and `units`: every wing may tell something, none prints.
"""

from dataclasses import dataclass
from enum import StrEnum


class NoteKind(StrEnum):
    """How much attention a note asks for."""

    MEND = "mend"
    GUESS = "guess"
    WARNING = "warning"


@dataclass(frozen=True, slots=True)
class Note:
    """One sentence for the user, with the place along the hull when there is one."""

    kind: NoteKind
    text: str
    x: float | None = None
    """mm aft of the foremost point, where the note is about one place."""


def mend(text: str, x: float | None = None) -> Note:
    """A defect of the input that was put right."""
    return Note(NoteKind.MEND, text, x)


def guess(text: str, x: float | None = None) -> Note:
    """Something the input does not say and that was read off its shape; can be overruled."""
    return Note(NoteKind.GUESS, text, x)


def warning(text: str, x: float | None = None) -> Note:
    """Something the user should look at before foam is cut."""
    return Note(NoteKind.WARNING, text, x)
