"""What a view of a billet from above does not show: boards cut down before gluing, sliced blanks, and layers."""

from collections.abc import Sequence

import shapely

from profiles.book.billetmap import BLOCK, LEFTOVER, REST, SIZES, SLOT, spread
from profiles.book.cutlist import DECIMALS, Cell, along_cut, billets_text, cells_of, cuts_text
from profiles.book.scales import ratio_for, scale_words
from profiles.foam.cutting import Billet, Box3, Cut, Stage
from profiles.foam.layers import Halved
from profiles.paper.drawing import Area, Drawing, Label, Role, Stroke, freeze, line, patch, rectangle
from profiles.paper.flow import wrap
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.pictures.bodyview import hatching
from profiles.units import decimal_length, number_runs, rule_length

SKETCH = (58.0, 40.0)
"""mm; largest width and height of a sketch without its text."""

LAYER = (46.0, 26.0)
"""mm; largest width and height of the layers at one end of a billet."""

TEAR, TEETH = 1.5, 6
"""Depth in mm and number of teeth of the torn edge, which shows that the billet is longer than its drawing."""

LIFT = 2.0
"""mm between two layers, which are drawn apart."""

LEAD = 4.0
"""mm from a sketch to the text at its right."""

LINE = SIZES * 1.4

NOTE = 80.0
"""mm; a longer note at the right of a sketch is wrapped."""


def _title(text: str) -> Label:
    return Label(text, 0.0, 0.3 + CAP_HEIGHT * SIZES, SIZES, bold=True)


def _notes(texts: Sequence[tuple[str, float]], right: float, top: float) -> tuple[list[Stroke], list[Label], float]:
    """Texts at the right of a sketch, none above `top`, each with a leader to the height (mm on the sheet) that it is
    about; and the lowest place that they reach.
    """
    strokes, labels = [], []
    places = spread([at for _, at in texts], LINE)
    low = min(places, default=0.0) - LINE / 2
    moved = max(0.0, top - low)
    for (text, at), place in zip(texts, places, strict=True):
        y = place + moved
        strokes.append(line(Role.LABEL, (right, at), (right + LEAD - 0.8, y)))
        labels.append(Label(text, right + LEAD, y + CAP_HEIGHT * SIZES / 2, SIZES))
    return strokes, labels, max([place + moved for place in places], default=0.0) + LINE / 2


def _sheet(title: Label, strokes: Sequence[Stroke], labels: Sequence[Label], bottom: float) -> Drawing:
    lettering = [title, *labels]
    width = max([label.x + text_width(label.text, label.size, bold=label.bold) for label in lettering])
    return Drawing(width, bottom, tuple(strokes), tuple(lettering))


def layers_view(billet: Billet) -> Drawing:
    """One end of a billet from the side, its boards drawn apart, with their names and thicknesses beside them."""
    thick = sum(board.thickness for board in billet.boards)
    gaps = LIFT * (len(billet.boards) - 1)
    ratio = ratio_for((thick, thick), (LAYER[1] - gaps, LAYER[1] - gaps), 2.0)
    top = LINE + 1.5
    title = _title(f"one end from the side, layers drawn apart, {scale_words(ratio)}")
    width = LAYER[0]
    strokes, areas, texts = [], [], []
    y = top
    for number, board in enumerate(reversed(billet.boards)):
        high = board.thickness / ratio
        if number:
            strokes.append(line(Role.TRIM, (0.0, y - LIFT / 2), (width, y - LIFT / 2)))
        tear = [(width - TEAR * (k % 2), y + high * k / TEETH) for k in range(TEETH + 1)]
        strokes.append(Stroke(Role.BOX, freeze([(0.0, y), *tear, (0.0, y + high)]), closed=True))
        areas.append(Area("block", BLOCK, (strokes[-1].points,)))
        measured = "" if board.measured is None else f", measured {decimal_length(board.measured)}"
        texts.append((f"{board.name}: {decimal_length(board.thickness)} thick{measured}", y + high / 2))
        y += high + LIFT
    leaders, labels, low = _notes(texts, width, top - 1.0)
    return _sheet(title, [*strokes, *leaders], labels, max(low, y)).with_more((), (), areas)


def slice_views(billet: Billet) -> list[Drawing]:
    """Sliced blanks, seen from the side, with their cuts and what comes out of them: one drawing for all that are
    sliced alike.
    """
    groups: dict[object, list[Cell]] = {}
    for cell in cells_of(billet):
        if any(billet.is_sliced(placed) for placed in cell.blocks):
            thicknesses = (round(placed.place.thick, DECIMALS) for placed in cell.blocks)
            shape = [round(cell.place.along, DECIMALS), *thicknesses]
            groups.setdefault((tuple(shape), len(_rests(billet, cell))), []).append(cell)
    return [_slice_view(billet, cells) for cells in groups.values()]


def _slices(billet: Billet, cell: Cell) -> list[Cut]:
    return [cut for cut in billet.cuts if cut.stage is Stage.SLICE and _over(cut.piece, cell.place)]


def _rests(billet: Billet, cell: Cell) -> list[Box3]:
    """The offcuts to keep that slicing a blank leaves."""
    return [offcut.place for offcut in billet.offcuts if offcut.layer is None and _over(offcut.place, cell.place)]


def _over(piece: Box3, place: Box3) -> bool:
    """Whether the piece covers the middle of the place, seen from above."""
    x, y = place.x + place.along / 2, place.y + place.across / 2
    return piece.x <= x <= piece.x + piece.along and piece.y <= y <= piece.y + piece.across


def _slice_view(billet: Billet, cells: Sequence[Cell]) -> Drawing:
    first = cells[0]
    thick, along = billet.kind.thickness, first.place.along
    ratio = ratio_for((along, thick), SKETCH, 2.0)
    top = LINE + 1.5
    which = f"strip {first.strip}, blank {first.blank}" if len(cells) == 1 else f"{len(cells)} blanks alike"
    title = _title(f"{billets_text([billet])}, {which} from the side, {scale_words(ratio)}")
    wide, bottom = along / ratio, top + thick / ratio
    strokes = [rectangle(Role.BOX, 0.0, top, wide, thick / ratio)]
    areas = [patch("rest", REST, 0.0, top, wide, thick / ratio)]
    texts: list[tuple[str, float]] = []

    def layer(kind: str, colour: str, place: Box3) -> tuple[float, float]:
        """Fill a layer at the height of a place; return its upper edge and its middle on the sheet, mm."""
        high = bottom - (place.z + place.thick) / ratio
        areas.append(patch(kind, colour, 0.0, high, wide, place.thick / ratio))
        return high, high + place.thick / ratio / 2

    for k, placed in enumerate(first.blocks):
        high, middle = layer("block", BLOCK, placed.place)
        strokes.append(rectangle(Role.MARK, 0.0, high, wide, placed.place.thick / ratio))
        numbers = number_runs([cell.blocks[k].block for cell in cells])
        texts += _lines(f"block{'s' if len(cells) > 1 else ''} {numbers}: {decimal_length(placed.place.thick)}", middle)
    for rest in _rests(billet, first):
        high, middle = layer("offcut", LEFTOVER, rest)
        areas += hatching(shapely.box(0.0, high, wide, high + rest.thick / ratio))
        texts += _lines(f"keep: {decimal_length(rest.thick)}", middle)
    for k, cut in enumerate(_slices(billet, first)):
        _, middle = layer("slot", SLOT, cut.slot)
        strokes.append(line(Role.CUT, (0.0, middle), (wide, middle)))
        numbers = cuts_text([_slices(billet, cell)[k] for cell in cells])
        texts += _lines(f"cut{'s' if len(cells) > 1 else ''} {numbers}, fence {rule_length(cut.fence)}", middle)
    texts.sort(key=lambda entry: entry[1])
    leaders, labels, low = _notes(texts, wide, top - 1.0)
    return _sheet(title, [*strokes, *leaders], labels, max(low, bottom)).with_more((), (), areas)


def _lines(text: str, at: float) -> list[tuple[str, float]]:
    """A note in as many lines as it needs."""
    return [(words, at) for words in wrap(text, SIZES, NOTE)]


def down_views(billet: Billet) -> list[Drawing]:
    """Each board that is cut down before gluing, from above, with its cuts and what is left of it."""
    views = []
    z = 0.0
    cuts = [cut for cut in billet.cuts if cut.stage is Stage.DOWN]
    for layer, board in enumerate(billet.boards[: len(billet.kind.uses)]):
        board_cuts = [cut for cut in cuts if abs(cut.piece.z - z) < board.thickness / 2]
        z += board.thickness + _glue(billet)
        if board_cuts:
            views.append(_down_view(billet, layer, board_cuts))
    return views


def _glue(billet: Billet) -> float:
    """Thickness of one glue line, mm."""
    if not billet.kind.glue_lines:
        return 0.0
    return (billet.kind.thickness - sum(board.thickness for board in billet.boards)) / billet.kind.glue_lines


def _half_step(cuts: Sequence[Cut], way: str) -> float:
    """How far the second half of a board lies from the first one (mm) if the first cut goes this way; else 0."""
    first = cuts[0]
    kerf = first.slot.along if way == "y" else first.slot.across
    return first.fence + kerf if along_cut(first) == way else 0.0


def _down_view(billet: Billet, layer: int, cuts: Sequence[Cut]) -> Drawing:
    board = billet.boards[layer]
    ratio = ratio_for((board.length, board.width), SKETCH, 2.0)
    top = LINE + 1.5
    halved = billet.kind.halved is not Halved.NO
    which = "in halves" if halved else f"layer {layer + 1}"
    title = _title(f"billet {billet.number}, {which}, {board.name} before gluing, {scale_words(ratio)}")
    wide, high = board.length / ratio, board.width / ratio
    strokes = [rectangle(Role.BOX, 0.0, top, wide, high)]
    areas = [patch("rest", REST, 0.0, top, wide, high)]
    kept = (billet.kind.length / ratio, billet.kind.width / ratio)
    for n in range(2 if halved else 1):
        x, y = (_half_step(cuts, way) * n / ratio for way in "yx")
        areas.append(patch("block", BLOCK, x, top + y, *kept))
    texts: list[tuple[str, float]] = []
    for offcut in billet.offcuts:
        if offcut.layer == layer:
            box = offcut.place
            place = (box.x / ratio, top + box.y / ratio, box.along / ratio, box.across / ratio)
            areas += [
                patch("offcut", LEFTOVER, *place),
                *hatching(shapely.box(place[0], place[1], place[0] + place[2], place[1] + place[3])),
            ]
            texts.append((f"keep: {decimal_length(box.along)} x {decimal_length(box.across)}", place[1] + place[3] / 2))
    for cut in cuts:
        box = cut.slot
        x, y = (box.x + box.along / 2) / ratio, top + (box.y + box.across / 2) / ratio
        if along_cut(cut) == "x":
            strokes.append(line(Role.CUT, (box.x / ratio, y), ((box.x + box.along) / ratio, y)))
        else:
            strokes.append(line(Role.CUT, (x, top + box.y / ratio), (x, top + (box.y + box.across) / ratio)))
        texts.append((f"cut {cut.number}, fence {rule_length(cut.fence)}", y))
    texts.sort(key=lambda entry: entry[1])
    leaders, labels, low = _notes(texts, wide, top - 1.0)
    return _sheet(title, [*strokes, *leaders], labels, max(low, top + high)).with_more((), (), areas)
