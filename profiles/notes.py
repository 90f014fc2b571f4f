"""What the program reports about its own decisions: facts, repairs, assumptions, warnings.

In the ground layer, with `errors` and `units`: every subpackage may return notes, none prints them.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from enum import StrEnum
from typing import Any

from profiles.units import figure
from profiles.values import dataclass


class NoteKind(StrEnum):
    """How much attention a note asks for, from the least to the most."""

    FACT = "fact"
    REPAIR = "repair"
    ASSUMPTION = "assumption"
    WARNING = "warning"


@dataclass(frozen=True, slots=True)
class Note:
    """One sentence for the user, with the place along the hull when there is one."""

    kind: NoteKind
    text: str
    x: float | None = None
    """Place in mm aft of the foremost point, for a note about one place."""
    about: str = ""
    """The face or block that the note is about: "03 fore", "block 07"."""

    @property
    def sentence(self) -> str:
        """The whole sentence with its subject, with a capital letter and a full stop."""
        words = f"{self.about}: {self.text}" if self.about else self.text
        end = "" if words.endswith((".", "!", "?")) else "."
        return words[:1].upper() + words[1:] + end


def fact(text: str, x: float | None = None, about: str = "") -> Note:
    """Something worth knowing that asks for nothing."""
    return Note(NoteKind.FACT, text, x, about)


def repair(text: str, x: float | None = None, about: str = "") -> Note:
    """A defect of the input that was repaired."""
    return Note(NoteKind.REPAIR, text, x, about)


def assumption(text: str, x: float | None = None) -> Note:
    """Something that the input does not say and that was derived from its shape; an option overrides it."""
    return Note(NoteKind.ASSUMPTION, text, x)


def warning(text: str, x: float | None = None, about: str = "") -> Note:
    """Something to check before foam is cut."""
    return Note(NoteKind.WARNING, text, x, about)


def note_figures(notes: Sequence[Note]) -> dict[str, Any]:
    """Notes for report.json and --json: all of them, and the sentences of the warnings."""
    return {
        "notes": [
            {"kind": str(note.kind), "text": note.sentence, "x": None if note.x is None else figure(note.x)}
            for note in notes
        ],
        "warnings": [note.sentence for note in notes if note.kind is NoteKind.WARNING],
    }


MOST_NAMED = 6
"""Faces or blocks that a merged note names; it counts the rest."""


def merge_notes(notes: Iterable[Note]) -> tuple[Note, ...]:
    """Notes with the same text about several faces or blocks become one that names them; the first sets the order.

    >>> notes = [warning("too thin", about=f"block {number:02d}") for number in (1, 2, 5)]
    >>> [note.sentence for note in merge_notes(notes)]
    ['Blocks 01, 02, 05: too thin.']
    """
    groups: dict[tuple[NoteKind, str, bool], list[Note]] = {}
    for note in notes:
        groups.setdefault((note.kind, note.text, bool(note.about)), []).append(note)
    return tuple(_merge(group) for group in groups.values())


def _merge(group: list[Note]) -> Note:
    subjects = list(dict.fromkeys(note.about for note in group if note.about))
    if len(subjects) < 2:  # noqa: PLR2004 - a single subject needs no list
        return group[0]
    first, *others = subjects
    # "block 01, block 02" reads as "blocks 01, 02"; faces ("01 fore, 09 aft") keep their names.
    words = first.split()[0] + " "
    short = [other.removeprefix(words) if first.startswith("block ") else other for other in others]
    plural = first.replace("block ", "blocks ", 1)
    named = [plural, *short][:MOST_NAMED]
    rest = len(subjects) - len(named)
    return replace(group[0], about=", ".join(named) + (f" and {rest} more" if rest else ""))
