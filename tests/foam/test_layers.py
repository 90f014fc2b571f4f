from itertools import combinations_with_replacement

import pytest

from profiles.foam.layers import BilletKind, Halved, billet_kinds
from profiles.foam.stock import Board


def board(thickness: float, count: int | None = None, *, foam: str = "", measured: float | None = None) -> Board:
    return Board(f"{thickness:g}", count, 1200.0, 600.0, thickness, foam=foam, measured=measured)


def layers(kinds: tuple[BilletKind, ...]) -> list[tuple[int, ...]]:
    """Of billets of whole boards."""
    return [kind.layers for kind in kinds if kind.halved == Halved.NO]


def test_a_board_may_be_halved_and_glued_to_itself() -> None:
    """The halves of a board 1200 x 600 are 599.5 and 299.5 mm, with a kerf of 1 mm or of 0.8 mm; only one board is used
    up, and none is halved where it is thick enough.
    """
    for kerf in (1.0, 0.8):
        useful = billet_kinds([board(20.0, 1)], [40.0], max_layers=2, kerf=kerf).kinds
        assert [(kind.halved, kind.length, kind.width, kind.thickness, kind.uses) for kind in useful] == [
            (Halved.ACROSS, 599.5, 600, 40, (0,)),
            (Halved.ALONG, 1200, 299.5, 40, (0,)),
        ]
    assert not [
        kind for kind in billet_kinds([board(20.0, 1)], [20.0], max_layers=2, kerf=1.0).kinds if kind.glue_lines
    ]
    assert not billet_kinds([board(20.0, 1)], [40.0], max_layers=1, kerf=1.0).kinds


def test_two_boards_make_the_thickness() -> None:
    """40 mm comes from 20 + 20, and three layers give nothing more (common practice)."""
    useful = billet_kinds([board(20.0, 6)], [40.0] * 13, max_layers=3, kerf=1.0)
    assert layers(useful.kinds) == [(0, 0)]
    assert useful.complete
    assert (useful.kinds[0].thickness, useful.kinds[0].glue_lines) == (40, 1)


def test_a_board_as_thick_as_the_block_needs_no_glue() -> None:
    """A single board comes first, and is not glued to others that give nothing more."""
    useful = billet_kinds([board(20.0), board(40.0)], [40.0], max_layers=2, kerf=1.0)
    assert layers(useful.kinds) == [(1,), (0, 0)]


def test_boards_are_not_glued_more_often_than_they_are_there() -> None:
    """Of a single board no billet has two layers."""
    assert not layers(billet_kinds([board(20.0, 1)], [40.0], max_layers=3, kerf=1.0).kinds)
    assert layers(billet_kinds([board(20.0, 1), board(25.0, 1)], [40.0], max_layers=3, kerf=1.0).kinds) == [(1, 0)]
    assert not billet_kinds([board(20.0, 0)], [20.0], max_layers=3, kerf=1.0).kinds


def test_layers_are_of_one_foam() -> None:
    """Boards of different foam are not glued together."""
    boards = [board(20.0, 1, foam="XPS"), board(20.0, 1, foam="EPS")]
    assert not layers(billet_kinds(boards, [40.0], max_layers=2, kerf=1.0).kinds)


def test_layers_of_different_size_give_what_they_share() -> None:
    """The billet is as long as its shortest layer and as wide as its narrowest."""
    boards = [Board("a", 1, 1000.0, 300.0, 20.0), Board("b", 1, 600.0, 500.0, 25.0)]
    kind = next(kind for kind in billet_kinds(boards, [45.0], max_layers=2, kerf=1.0).kinds if kind.halved == Halved.NO)
    assert (kind.length, kind.width, kind.thickness, kind.layers) == (600, 300, 45, (1, 0))


def test_glue_lines_count() -> None:
    """Two boards of 20 mm with a glue line of 0.4 mm are 40.4 mm thick."""
    kinds = billet_kinds([board(20.0)], [40.3], max_layers=2, kerf=1.0, glue=0.4).kinds
    assert [kind.thickness for kind in kinds] == pytest.approx([40.4] * 3)


def test_a_thickness_may_be_named_or_measured() -> None:
    """A board called 40 that measures 39.4 gives blocks of 40 and of 39.4 as it comes, and nothing between."""
    (kind,) = billet_kinds([board(40.0, measured=39.4)], [40.0], max_layers=1, kerf=1.0).kinds
    assert kind.matches(40.0)
    assert kind.matches(39.4)
    assert not kind.matches(39.7)
    assert not billet_kinds([board(40.0, measured=39.4)], [39.7], max_layers=1, kerf=1.0).kinds


def test_a_thicker_billet_is_kept_where_a_blank_of_it_gives_more() -> None:
    """20 + 18 come out of one blank of 40; for 20 alone the second layer would be idle, and three layers too."""
    boards = [board(20.0, 9)]
    assert layers(billet_kinds(boards, [20.0], max_layers=3, kerf=1.0).kinds) == [(0,)]
    assert layers(billet_kinds(boards, [20.0, 18.0], max_layers=3, kerf=1.0).kinds) == [(0,), (0, 0)]


def test_what_is_left_out_gives_nothing_new() -> None:
    """Every billet that is left out gives stacks that one of fewer layers of the same boards gives too (exhaustive)."""
    boards, wanted, kerf = [board(20.0), board(30.0), board(50.0)], [18.0, 25.0, 40.0, 40.0], 2.0
    kept = {kind.layers for kind in billet_kinds(boards, wanted, max_layers=3, kerf=kerf).kinds}

    def stacks(thickness: float) -> set[tuple[float, ...]]:
        possible: list[tuple[float, ...]] = [(size,) for size in wanted if size == thickness]
        for mask in range(1, 2 ** len(wanted)):
            chosen = tuple(size for n, size in enumerate(wanted) if mask >> n & 1)
            if sum(chosen) + kerf * (len(chosen) - 1) <= thickness:
                possible.append(chosen)
        return set(possible)

    for layer_count in (1, 2, 3):
        for mixture in combinations_with_replacement((2, 1, 0), layer_count):
            gives = stacks(sum(boards[n].thickness for n in mixture))
            if mixture not in kept and gives:
                smaller = [part for part in _parts(mixture) if tuple(sorted(part, reverse=True)) in kept]
                assert any(stacks(sum(boards[n].thickness for n in part)) == gives for part in smaller), mixture


def _parts(mixture: tuple[int, ...]) -> set[tuple[int, ...]]:
    """The mixture, and every mixture of some of its layers."""
    parts = {mixture}
    for _ in mixture:
        parts |= {part[:n] + part[n + 1 :] for part in parts for n in range(len(part)) if len(part) > 1}
    return parts
