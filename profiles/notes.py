"""What the program tells about its own decisions: mends, guesses, warnings.

Part of the floor beside `errors` and `units`: every wing may tell something, none prints.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
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
    about: str = ""
    """The face or block that it is about: "03 fore", "block 07"."""

    @property
    def said(self) -> str:
        """The whole sentence, with what it is about."""
        return f"{self.about}: {self.text}" if self.about else self.text


def mend(text: str, x: float | None = None, about: str = "") -> Note:
    """A defect of the input that was put right."""
    return Note(NoteKind.MEND, text, x, about)


def guess(text: str, x: float | None = None) -> Note:
    """Something the input does not say and that was read off its shape; can be overruled."""
    return Note(NoteKind.GUESS, text, x)


def warning(text: str, x: float | None = None, about: str = "") -> Note:
    """Something the user should look at before foam is cut."""
    return Note(NoteKind.WARNING, text, x, about)


NAMED = 6
"""How many faces or blocks a gathered note names before it only counts the rest."""


def gathered(notes: Iterable[Note]) -> tuple[Note, ...]:
    """Notes that say the same of several faces or blocks made one that names them, in the order of the first."""
    same: dict[tuple[NoteKind, str, bool], list[Note]] = {}
    for note in notes:
        same.setdefault((note.kind, note.text, bool(note.about)), []).append(note)
    return tuple(_one_of(group) for group in same.values())


def _one_of(group: list[Note]) -> Note:
    abouts = list(dict.fromkeys(note.about for note in group if note.about))
    if len(abouts) < 2:  # noqa: PLR2004 - one is named as it is
        return group[0]
    first, *others = abouts
    words = first.split()[0] + " "
    short = [other.removeprefix(words) if first.startswith("block ") else other for other in others]
    plural = first.replace("block ", "blocks ", 1)
    named = [plural, *short][:NAMED]
    rest = len(abouts) - len(named)
    return replace(group[0], about=", ".join(named) + (f" and {rest} more" if rest else ""))
