"""Notes with the same text about many faces become one."""

from profiles.notes import merge_notes, repair, warning


def test_same_words_about_several_blocks_become_one_note() -> None:
    """Blocks are named once each, in order, and counted beyond the sixth."""
    notes = [warning("no room", about=f"block {n:02d}") for n in range(1, 10)]
    (note,) = merge_notes(notes)
    assert note.sentence == "Blocks 01, 02, 03, 04, 05, 06 and 3 more: no room."


def test_faces_keep_their_names_and_other_notes_their_order() -> None:
    """Only notes of one kind and text are merged; the rest stay as they are."""
    notes = [repair("a"), warning("point", about="01 fore"), repair("b"), warning("point", about="09 aft"), repair("a")]
    assert [note.sentence for note in merge_notes(notes)] == ["A.", "01 fore, 09 aft: point.", "B."]


def test_a_sentence_keeps_its_own_full_stop() -> None:
    """A text that ends with a full stop gets no second one."""
    assert warning("Check the bow.").sentence == "Check the bow."
