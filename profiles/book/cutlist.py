"""The cuts of a plan in words: which billets are alike, where a cut lies, and runs of cuts made with one fence."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from profiles.foam.cutting import Billet, Box3, Cut, Placed, Stage
from profiles.foam.figures import numbers_told

TOGETHER = 4
"""Billets at most that share a drawing: more block numbers in a rectangle are not read without error."""

SAME = 1e-6
"""mm; sizes nearer than this are one."""

DECIMALS = 4
"""mm to which two billets are alike."""


def mm(value: float) -> str:
    """A length with one decimal, as a fence is read; two where the second is not nought."""
    text = f"{value:.2f}"
    return text.removesuffix("0")


@dataclass(frozen=True, slots=True)
class Strip:
    """A strip of a billet: where it lies across the foam and how wide it is, mm."""

    number: int
    y: float
    width: float


@dataclass(frozen=True, slots=True)
class Cell:
    """A blank: the blocks that come out of it, from the top."""

    strip: int
    blank: int
    blocks: tuple[Placed, ...]

    @property
    def place(self) -> Box3:
        """Of the first block; blocks sliced from one blank have one outline."""
        return self.blocks[0].place


@dataclass(frozen=True, slots=True)
class Run:
    """Cuts of a billet that are made with one setting of the fence."""

    cuts: tuple[Cut, ...]
    where: str


def alike(billets: Sequence[Billet]) -> list[tuple[Billet, ...]]:
    """Billets that are cut alike and hold blocks of the same sizes at the same places, in the order of the first."""
    groups: dict[object, list[Billet]] = {}
    for billet in billets:
        groups.setdefault(_pattern(billet), []).append(billet)
    return [tuple(group[k : k + TOGETHER]) for group in groups.values() for k in range(0, len(group), TOGETHER)]


def _pattern(billet: Billet) -> object:
    blocks = [(one.strip, one.blank, one.turned, *_rounded(one.place)) for one in in_order(billet)]
    cuts = [
        (cut.stage, round(cut.fence, DECIMALS), *_rounded(cut.within), *_rounded(cut.slot)) for cut in _cuts(billet)
    ]
    offcuts = [(one.layer if one.layer is not None else -1, *_rounded(one.place)) for one in billet.offcuts]
    return billet.kind, billet.boards, tuple(blocks), tuple(cuts), tuple(offcuts)


def _rounded(box: Box3) -> tuple[float, ...]:
    return tuple(round(size, DECIMALS) + 0.0 for size in (box.x, box.y, box.z, box.along, box.across, box.thick))


def in_order(billet: Billet) -> list[Placed]:
    """The blocks by strip, blank, and from the top of the foam downwards."""
    return sorted(billet.blocks, key=lambda one: (one.strip, one.blank, -round(one.place.z, DECIMALS), one.block))


def _cuts(billet: Billet) -> list[Cut]:
    return sorted(billet.cuts, key=lambda cut: cut.number)


def cells_of(billet: Billet) -> list[Cell]:
    """The blanks with their blocks."""
    return [
        Cell(strip, blank, tuple(blocks))
        for (strip, blank), blocks in groupby(in_order(billet), key=lambda one: (one.strip, one.blank))
    ]


def strips_of(billet: Billet) -> list[Strip]:
    """The strips that hold blocks, as wide as they are before anything is cut off their blanks."""
    strips = []
    for number, blocks in groupby(in_order(billet), key=lambda one: one.strip):
        own = list(blocks)
        low = min(one.place.y for one in own)
        high = max(one.place.y + one.place.across for one in own)
        for cut in billet.cuts:
            if cut.stage is Stage.ACROSS and _holds(cut.within, own[0].place):
                low = min(low, cut.within.y)
                high = max(high, cut.within.y + cut.within.across)
        strips.append(Strip(number, low, high - low))
    return strips


def _holds(piece: Box3, place: Box3) -> bool:
    """Whether the middle of a place lies within the piece's reach across the foam."""
    return piece.y <= place.y + place.across / 2 <= piece.y + piece.across


def along_cut(cut: Cut) -> str:
    """Which way a cut runs: "x" along the foam, "y" across it, "z" flat through its thickness."""
    slot, piece = cut.slot, cut.within
    missing = {"y": piece.along - slot.along, "x": piece.across - slot.across, "z": piece.thick - slot.thick}
    return max(missing, key=lambda way: missing[way])


def runs_of(billet: Billet) -> list[Run]:
    """The cuts of a billet in order, drawn together where stage and fence stay the same."""
    return [
        Run(own, _where(billet, own))
        for _, group in groupby(_cuts(billet), key=lambda cut: (cut.stage, round(cut.fence, DECIMALS), _edge_of(cut)))
        for own in [tuple(group)]
    ]


def _edge_of(cut: Cut) -> str:
    """Cuts of the two edges that are squared stand apart."""
    return along_cut(cut) if cut.stage is Stage.SQUARE else ""


def _where(billet: Billet, cuts: Sequence[Cut]) -> str:
    """The pieces that cuts of one stage are made in, in words."""
    stage = cuts[0].stage
    if stage is Stage.DOWN:
        return "boards, before gluing"
    if stage is Stage.SQUARE:
        return "long edge" if along_cut(cuts[0]) == "x" else "short edge"
    if stage is Stage.STRIP:
        return "whole billet"
    cells = [cell for cut in cuts for cell in [_cell_at(billet, cut)] if cell]
    strips: dict[int, list[int]] = {}
    for cell in cells:
        strips.setdefault(cell.strip, []).append(cell.blank)
    if stage is Stage.ACROSS:
        return f"strip{'s' if len(strips) > 1 else ''} {numbers_told(list(strips), digits=1)}"
    return "; ".join(
        f"strip {strip}, blank{'s' if len(set(blanks)) > 1 else ''} {numbers_told(sorted(set(blanks)), digits=1)}"
        for strip, blanks in strips.items()
    )


def _cell_at(billet: Billet, cut: Cut) -> Cell | None:
    """The first blank in the piece that is cut: the one that comes off, or the one that is trimmed or sliced."""
    piece = cut.within
    for cell in cells_of(billet):
        middle = cell.place.x + cell.place.along / 2
        if _holds(piece, cell.place) and piece.x <= middle <= piece.x + piece.along:
            return cell
    return None


def cuts_told(cuts: Sequence[Cut]) -> str:
    """Numbers of cuts, runs drawn together: "3", "7 to 12, 15"."""
    return numbers_told([cut.number for cut in cuts], digits=1)


def boards_told(billet: Billet) -> str:
    """The layers by name, the same ones counted: "2 x XPS 20"."""
    parts = [(name, len(list(group))) for name, group in groupby(board.name for board in billet.boards)]
    return " + ".join(f"{count} x {name}" if count > 1 else name for name, count in parts)


def billets_told(billets: Sequence[Billet]) -> str:
    """Like "billet 3" or "billets 1, 4 to 6"."""
    return f"billet{'s' if len(billets) > 1 else ''} {numbers_told([billet.number for billet in billets], digits=1)}"
