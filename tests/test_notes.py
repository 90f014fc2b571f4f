"""Notes that say the same of many faces are told once."""

from profiles.notes import gathered, mend, warning


def test_same_words_about_several_blocks_become_one_note() -> None:
    """Blocks are named once each, in order, and counted beyond the sixth."""
    notes = [warning("no room", about=f"block {n:02d}") for n in range(1, 10)]
    (note,) = gathered(notes)
    assert note.said == "blocks 01, 02, 03, 04, 05, 06 and 3 more: no room"


def test_faces_keep_their_names_and_other_notes_their_order() -> None:
    """Only notes of one kind and text are gathered; the rest stay as they are."""
    notes = [mend("a"), warning("point", about="01 fore"), mend("b"), warning("point", about="09 aft"), mend("a")]
    assert [note.said for note in gathered(notes)] == ["a", "01 fore, 09 aft: point", "b"]
