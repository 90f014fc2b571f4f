"""The cuts of a plan in words: which billets are alike, where a cut lies, and runs of cuts made with one fence setting.

A billet that is a single board, with nothing glued, is called a board; a billet is glued.
"""

from collections.abc import Sequence
from itertools import groupby

from profiles.foam.cutting import Billet, Box3, Cut, PlacedBlock, Stage
from profiles.foam.layers import Halved
from profiles.units import number_runs
from profiles.values import dataclass

TOGETHER = 4
"""Largest number of billets that share a drawing: with more, the block numbers in a rectangle are easily misread."""

DECIMALS = 4
"""Decimals of a mm to which the sizes of two billets that are alike agree."""


@dataclass(frozen=True, slots=True)
class Strip:
    """A strip of a billet: where it lies across the foam and how wide it is, mm."""

    number: int
    y: float
    width: float


@dataclass(frozen=True, slots=True)
class Cell:
    """A blank and the blocks that come out of it, from the top."""

    strip: int
    blank: int
    blocks: tuple[PlacedBlock, ...]

    @property
    def place(self) -> Box3:
        """Place of the first block; blocks sliced from one blank lie one above the other."""
        return self.blocks[0].place


@dataclass(frozen=True, slots=True)
class Run:
    """Successive cuts of a billet that are made with one fence setting."""

    cuts: tuple[Cut, ...]
    where: str
    """The pieces that are cut, in words."""


def group_alike(billets: Sequence[Billet]) -> list[tuple[Billet, ...]]:
    """Groups of billets with the same cuts and blocks of the same sizes at the same places, at most `TOGETHER` in one.

    In the order of the first billet of each group.
    """
    groups: dict[object, list[Billet]] = {}
    for billet in billets:
        groups.setdefault(_pattern(billet), []).append(billet)
    return [tuple(group[k : k + TOGETHER]) for group in groups.values() for k in range(0, len(group), TOGETHER)]


def _pattern(billet: Billet) -> object:
    blocks = [(placed.strip, placed.blank, placed.turned, *_rounded(placed.place)) for placed in ordered_blocks(billet)]
    cuts = [(cut.stage, round(cut.fence, DECIMALS), *_rounded(cut.piece), *_rounded(cut.slot)) for cut in billet.cuts]
    offcuts = [(offcut.layer if offcut.layer is not None else -1, *_rounded(offcut.place)) for offcut in billet.offcuts]
    return billet.kind, billet.boards, tuple(blocks), tuple(cuts), tuple(offcuts)


def _rounded(box: Box3) -> tuple[float, ...]:
    return tuple(round(size, DECIMALS) + 0.0 for size in (box.x, box.y, box.z, box.along, box.across, box.thick))


def ordered_blocks(billet: Billet) -> list[PlacedBlock]:
    """The blocks by strip, then by blank, then from the top of the foam downwards."""
    return sorted(
        billet.blocks,
        key=lambda placed: (placed.strip, placed.blank, -round(placed.place.z, DECIMALS), placed.block),
    )


def cells_of(billet: Billet) -> list[Cell]:
    """The blanks of a billet with their blocks."""
    return [
        Cell(strip, blank, tuple(blocks))
        for (strip, blank), blocks in groupby(ordered_blocks(billet), key=lambda placed: (placed.strip, placed.blank))
    ]


def strips_of(billet: Billet) -> list[Strip]:
    """The strips that hold blocks, with the width that they have before their blanks are trimmed."""
    strips = []
    for number, group in groupby(ordered_blocks(billet), key=lambda placed: placed.strip):
        places = [placed.place for placed in group]
        low = min(place.y for place in places)
        high = max(place.y + place.across for place in places)
        for cut in billet.cuts:
            if cut.stage is Stage.ACROSS and _holds(cut.piece, places[0]):
                low = min(low, cut.piece.y)
                high = max(high, cut.piece.y + cut.piece.across)
        strips.append(Strip(number, low, high - low))
    return strips


def _holds(piece: Box3, place: Box3) -> bool:
    """Whether the middle of a place lies within the piece's reach across the foam."""
    return piece.y <= place.y + place.across / 2 <= piece.y + piece.across


def along_cut(cut: Cut) -> str:
    """The direction of a cut: "x" along the foam, "y" across it, "z" flat, parallel to the board's faces."""
    slot, piece = cut.slot, cut.piece
    missing = {"y": piece.along - slot.along, "x": piece.across - slot.across, "z": piece.thick - slot.thick}
    return max(missing, key=lambda way: missing[way])


def runs_of(billet: Billet) -> list[Run]:
    """The cuts of a billet in order, merged into runs while stage and fence stay the same."""
    groups = [
        tuple(group)
        for _, group in groupby(billet.cuts, key=lambda cut: (cut.stage, round(cut.fence, DECIMALS), _edge_of(cut)))
    ]
    return [Run(cuts, _where(billet, cuts)) for cuts in groups]


def _edge_of(cut: Cut) -> str:
    """The direction of a squaring cut, so that the two edges make two runs; the same for every other cut."""
    return along_cut(cut) if cut.stage is Stage.SQUARE else ""


def _where(billet: Billet, cuts: Sequence[Cut]) -> str:
    """The pieces that cuts of one stage are made in, in words."""
    stage = cuts[0].stage
    if stage is Stage.DOWN:
        return "boards, before gluing"
    if stage is Stage.SQUARE:
        return "long edge" if along_cut(cuts[0]) == "x" else "short edge"
    if stage is Stage.STRIP:
        return f"whole {billet_word([billet])}"
    cells = [cell for cell in (_cell_at(billet, cut) for cut in cuts) if cell]
    strips: dict[int, list[int]] = {}
    for cell in cells:
        strips.setdefault(cell.strip, []).append(cell.blank)
    if stage is Stage.ACROSS:
        return f"strip{'s' if len(strips) > 1 else ''} {number_runs(list(strips), digits=1)}"
    return "; ".join(
        f"strip {strip}, blank{'s' if len(set(blanks)) > 1 else ''} {number_runs(sorted(set(blanks)), digits=1)}"
        for strip, blanks in strips.items()
    )


def _cell_at(billet: Billet, cut: Cut) -> Cell | None:
    """The first blank in the piece that is cut: the one that is cut off, trimmed or sliced. None if there is none."""
    piece = cut.piece
    for cell in cells_of(billet):
        middle = cell.place.x + cell.place.along / 2
        if _holds(piece, cell.place) and piece.x <= middle <= piece.x + piece.along:
            return cell
    return None


def cuts_text(cuts: Sequence[Cut]) -> str:
    """The numbers of cuts, successive ones as a range: "3", "7 to 12, 15"."""
    return number_runs([cut.number for cut in cuts], digits=1)


def boards_text(billet: Billet) -> str:
    """The names of the layers, equal neighbours counted: "2 x XPS 20"."""
    if billet.kind.halved is not Halved.NO:
        return f"{billet.boards[0].name}, halved and glued to itself"
    parts = [(name, len(list(group))) for name, group in groupby(board.name for board in billet.boards)]
    return " + ".join(f"{count} x {name}" if count > 1 else name for name, count in parts)


def billet_word(billets: Sequence[Billet], *, many: bool = False) -> str:
    """Return "board" if nothing is glued, "billet" if all are glued, else "board or billet"; of `many`, the plural."""
    glued = {billet.kind.glue_lines > 0 for billet in billets}
    words = [word for word, kind in (("board", False), ("billet", True)) if kind in glued] or ["board"]
    return " and ".join(f"{word}s" for word in words) if many else " or ".join(words)


def billets_text(billets: Sequence[Billet]) -> str:
    """Like "billet 3", "billets 1, 4 to 6" or "board 2"."""
    return (
        f"{billet_word(billets, many=len(billets) > 1)} {number_runs([billet.number for billet in billets], digits=1)}"
    )
