"""An independent reader of cutting plans: it takes the raw boards, makes the cuts in their order and looks at the rest.

It shares nothing with the planner but the words of the plan.
"""

from collections import Counter
from collections.abc import Sequence

from profiles.foam.cutting import Billet, Box3, Cut, CutPlan, CuttingSettings, Stage, WantedBlock
from profiles.foam.layers import Halved
from profiles.foam.stock import Board

NEAR = 1e-6
"""mm; what two ways to add up the same sizes may differ by."""

ORDER = list(Stage)

Piece = tuple[float, float, float, float, float, float]
"""x, y, z, along, across, thick."""


def piece_of(box: Box3) -> Piece:
    return box.x, box.y, box.z, box.along, box.across, box.thick


def is_same(piece: Piece, other: Piece) -> bool:
    return all(abs(a - b) < NEAR for a, b in zip(piece, other, strict=True))


def volume(piece: Piece) -> float:
    return piece[3] * piece[4] * piece[5]


def take(pieces: list[Piece], wanted: Piece) -> Piece:
    """Remove a piece from the list; fails if it is not there."""
    match = next((piece for piece in pieces if is_same(piece, wanted)), None)
    assert match is not None, f"no piece {wanted} among {pieces}"
    pieces.remove(match)
    return match


def cut_through(pieces: list[Piece], cut: Cut, kerf: float) -> None:
    """Split one piece by a slot that goes from edge to edge."""
    piece, slot = take(pieces, piece_of(cut.piece)), piece_of(cut.slot)
    crossed = [n for n in range(3) if abs(slot[n + 3] - piece[n + 3]) > NEAR or abs(slot[n] - piece[n]) > NEAR]
    axis = {Stage.SLICE: 2, Stage.STRIP: 1, Stage.ACROSS: 0, Stage.TRIM: 1}.get(cut.stage, crossed[0] if crossed else 0)
    assert set(crossed) <= {axis}, f"cut {cut.number} does not go from edge to edge"
    low, high = slot[axis] - piece[axis], piece[axis] + piece[axis + 3] - slot[axis] - slot[axis + 3]
    assert low > -NEAR
    assert high > -NEAR
    assert slot[axis + 3] < kerf + NEAR
    if cut.stage == Stage.SQUARE:
        assert cut.fence == 0
        assert slot[axis + 3] > kerf - NEAR or abs(low) < NEAR
    else:
        assert abs(low - cut.fence) < NEAR, f"cut {cut.number}: fence {cut.fence}, kept {low}"
        assert slot[axis + 3] > kerf - NEAR or abs(high) < NEAR, "a slot is narrower than the kerf only at the end"
    sizes = list(piece)
    for start, size in ((piece[axis], low), (slot[axis] + slot[axis + 3], high)):
        if size > NEAR:
            sizes[axis], sizes[axis + 3] = start, size
            pieces.append((sizes[0], sizes[1], sizes[2], sizes[3], sizes[4], sizes[5]))


def raw_pieces(billet: Billet, settings: CuttingSettings) -> tuple[list[Piece], list[Piece]]:
    """The boards of a billet one above the other, and what of each is glued."""
    boards, glued = [], []
    if billet.kind.halved != Halved.NO:
        (board, same), kind = billet.boards, billet.kind
        assert board == same
        boards.append((0.0, 0.0, 0.0, board.length, board.width, board.thickness))
        across = billet.kind.halved == Halved.ACROSS
        step = (kind.length if across else kind.width) + settings.effective_kerf
        for x, y in ((0.0, 0.0), (step, 0.0) if across else (0.0, step)):
            glued.append((x, y, 0.0, kind.length, kind.width, board.thickness))
        assert abs(2 * board.thickness + settings.glue - kind.thickness) < NEAR
        return boards, glued
    z = 0.0
    for board in billet.boards:
        boards.append((0.0, 0.0, z, board.length, board.width, board.thickness))
        glued.append((0.0, 0.0, z, billet.kind.length, billet.kind.width, board.thickness))
        z += board.thickness + settings.glue
    assert abs(z - settings.glue - billet.kind.thickness) < NEAR
    return boards, glued


def replay_cuts(billet: Billet, settings: CuttingSettings) -> tuple[list[Piece], float]:
    """All pieces after all cuts, and the volume of the slivers that squaring took off."""
    pieces, glued = raw_pieces(billet, settings)
    kind = billet.kind
    for cut in billet.cuts:
        if cut.stage == Stage.DOWN:
            cut_through(pieces, cut, settings.effective_kerf)
    for layer in glued:
        take(pieces, layer)
    pieces.append((0.0, 0.0, 0.0, kind.length, kind.width, kind.thickness))
    slivers = 0.0
    for cut in billet.cuts:
        if cut.stage == Stage.DOWN:
            continue
        before = list(pieces)
        cut_through(pieces, cut, settings.effective_kerf)
        if cut.stage == Stage.SQUARE and settings.trim > settings.effective_kerf + NEAR:
            new = [left for left in pieces if left not in before and min(left[3], left[4]) < settings.trim + NEAR]
            slivers += volume(take(pieces, new[0]))
    return pieces, slivers


def used_boards(billet: Billet) -> tuple[Board, ...]:
    """The boards that a billet uses up: one for each layer, or one for both halves."""
    return billet.boards if billet.kind.halved == Halved.NO else billet.boards[:1]


def check_billet(billet: Billet, settings: CuttingSettings) -> None:
    """Replay all cuts of a billet and find every block, every offcut and all waste in what is left."""
    if billet.kind.halved == Halved.NO:
        assert billet.kind.length == min(board.length for board in billet.boards)
        assert billet.kind.width == min(board.width for board in billet.boards)
    assert len({board.foam for board in billet.boards}) == 1
    numbers = [cut.number for cut in billet.cuts]
    assert numbers == sorted(numbers)
    pieces, slivers = replay_cuts(billet, settings)
    for placed in billet.blocks:
        take(pieces, piece_of(placed.place))
    for offcut in billet.offcuts:
        assert min(offcut.place.along, offcut.place.across) >= settings.smallest_offcut
        take(pieces, piece_of(offcut.place))
    for left in pieces:
        assert min(left[3], left[4]) < settings.smallest_offcut + NEAR or left[5] < 10, "foam worth keeping is wasted"
    check_volumes(billet, sum(map(volume, pieces)), slivers)


def check_volumes(billet: Billet, waste: float, slivers: float) -> None:
    """Boards and glue are blocks, offcuts, kerf, trim and waste."""
    whole = sum(board.volume for board in used_boards(billet))
    assert abs(slivers - billet.trim_volume) <= 1e-9 * whole
    assert abs(waste - billet.waste_volume) <= 1e-9 * whole
    assert abs(sum(cut.slot.volume for cut in billet.cuts) - billet.kerf_volume) <= 1e-9 * whole
    accounted = sum(placed.place.volume for placed in billet.blocks) + billet.kerf_volume + billet.trim_volume
    accounted += sum(offcut.place.volume for offcut in billet.offcuts) + billet.waste_volume
    glue = billet.kind.thickness - sum(board.thickness for board in billet.boards)
    assert abs(accounted - whole - billet.kind.length * billet.kind.width * glue) <= 1e-9 * whole


def check_fences(plan: CutPlan) -> None:
    """Each setting is made once, in the order of the stages, and every cut belongs to one."""
    cuts = sorted((cut for billet in plan.billets for cut in billet.cuts), key=lambda cut: cut.number)
    assert [cut.number for cut in cuts] == list(range(1, len(cuts) + 1))
    assert len({(fence.stage, fence.fence) for fence in plan.fences}) == len(plan.fences)
    at = 0
    for fence in plan.fences:
        for cut in cuts[at : at + fence.cuts]:
            assert cut.stage == fence.stage
            assert abs(cut.fence - fence.fence) < NEAR
        at += fence.cuts
    assert at == len(cuts)
    stages = [ORDER.index(fence.stage) for fence in plan.fences]
    assert stages == sorted(stages)


def check_plan(plan: CutPlan, wanted: Sequence[WantedBlock]) -> None:
    """Everything that a plan claims."""
    asked = {block.number: block for block in wanted}
    placed = [block for billet in plan.billets for block in billet.blocks]
    missing = [number for shortage in plan.shortages for number in shortage.blocks]
    assert sorted([block.block for block in placed] + missing) == sorted(asked)
    for placed_block in placed:
        block, place = asked[placed_block.block], placed_block.place
        along, across = (block.width, block.height) if placed_block.turned else (block.height, block.width)
        assert abs(place.along - along) < NEAR
        assert abs(place.across - across) < NEAR
        assert abs(place.thick - block.thickness) < 0.011
    use = Counter(layer for billet in plan.billets for layer in billet.kind.layers[: len(used_boards(billet))])
    for number, used in use.items():
        count = plan.stock[number].count
        assert count is None or used <= count
    for billet in plan.billets:
        assert billet.blocks, "a billet without blocks"
        assert len(billet.kind.layers) <= plan.settings.max_layers
        check_billet(billet, plan.settings)
    check_fences(plan)
    assert plan.proof.bound <= plan.proof.cost + 1e-6
