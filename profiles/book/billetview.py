"""A billet from above at a round scale: its edges, its blocks and cuts with their numbers, and what is left over.

Every rectangle is drawn in its place to the stated scale; only cut numbers move to a place where they can be read.
"""

from collections.abc import Sequence
from dataclasses import replace

import shapely

from profiles.book.billetmap import (
    BLOCK,
    BOTTOM,
    LEFT,
    LEFTOVER,
    REST,
    RIGHT,
    SLOT,
    TOP,
    BilletMap,
    Rect,
    fill,
    is_clear,
    outline,
    spread,
)
from profiles.book.billetnames import block_numbers, full_offcuts, offcut_names, strip_names
from profiles.book.cutlist import along_cut, cells_of
from profiles.book.scales import RATIOS, ratio_for
from profiles.foam.cutting import Billet, Cut, Stage
from profiles.paper.drawing import Drawing, Label, Role, Stroke, line
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.pictures.bodyview import hatching
from profiles.values import dataclass

TAG = 2.5
"""Font size in mm of a cut's number."""

TAG_PAD = 0.6
"""mm between a cut's number and its frame."""

SIDE, OVER = 4.0, 2.0
"""Length in mm of the leaders of cut numbers at the right of the foam and above it."""

THIN = 0.01
"""Width in mm given to a line to test whether a number lies on it."""

Line = tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class BilletView:
    """The drawing of billets that are cut alike; `zero` is the place of the foam's upper left corner on it, mm."""

    billets: tuple[Billet, ...]
    drawing: Drawing
    ratio: float
    zero: tuple[float, float]
    numbers: tuple[Label, ...]
    """The labels that carry block numbers."""
    tagged: tuple[int, ...]
    """Numbers of the cuts that the drawing names."""
    outside: int
    """How many block numbers do not fit in their rectangle and stand below the foam."""

    @property
    def is_clear(self) -> bool:
        """Whether every block number is in its rectangle and every cut has its number."""
        return not self.outside and len(self.tagged) == len(cuts_from_above(self.billets[0]))


def ratios_for(billet: Billet, room: tuple[float, float]) -> list[float]:
    """The scales at which a billet fits a `room` (width, height) mm, the largest drawing first.

    Raises PaperError if none does.
    """
    size = (billet.kind.length, billet.kind.width)
    first = ratio_for(size, (room[0] - LEFT - RIGHT, room[1] - TOP - BOTTOM))
    return [ratio for ratio in RATIOS if ratio >= first]


def billet_view(billets: Sequence[Billet], ratio: float) -> BilletView:
    """Draw billets that are cut alike, seen from above; `ratio` mm of foam are drawn as 1 mm."""
    first, plan = billets[0], BilletMap(ratio)
    foam, cuts = plan.foam(first), cuts_from_above(first)
    areas = [fill("rest", REST, foam)]
    for place in full_offcuts(first):
        areas += [fill("offcut", LEFTOVER, plan.rect(place)), *hatching(shapely.box(*plan.rect(place)))]
    areas += [fill("block", BLOCK, plan.rect(block.place)) for cell in cells_of(first) for block in cell.blocks]
    areas += [fill("slot", SLOT, plan.rect(cut.slot)) for cut in cuts]
    tags, taken, tagged = _tag_cuts(cuts, plan, foam)
    numbers, named, outside = block_numbers(billets, plan, taken, foam)
    taken += [label.extent() for label in numbers.labels]
    sheet = Drawing(foam[2] + RIGHT, foam[3] + BOTTOM, (outline(Role.BOX, foam),), (), tuple(areas)).overlay(tags)
    sheet = sheet.with_more((), strip_names(first, plan)).overlay(numbers).overlay(offcut_names(first, plan, taken))
    return _enlarge_sheet(BilletView(tuple(billets), sheet, ratio, plan.zero, tuple(named), tuple(tagged), outside))


def _enlarge_sheet(view: BilletView) -> BilletView:
    """The same drawing on a sheet that is high enough for numbers that moved beyond the foam's edges."""
    extents = [label.extent() for label in view.drawing.labels]
    over = max(0.0, -min((extent[1] for extent in extents), default=0.0))
    low = max(view.drawing.height, *(extent[3] for extent in extents), 0.0)
    if not over and low <= view.drawing.height:
        return view
    return replace(
        view,
        drawing=replace(view.drawing.translate(0.0, over), height=low + over),
        zero=(view.zero[0], view.zero[1] + over),
        numbers=tuple(label.translate(0.0, over) for label in view.numbers),
    )


def cuts_from_above(billet: Billet) -> list[Cut]:
    """The cuts that show as lines, in order: not those of single boards, nor slices, which are flat."""
    return [cut for cut in billet.cuts if cut.stage not in {Stage.DOWN, Stage.SLICE}]


def _tag_cuts(from_above: Sequence[Cut], plan: BilletMap, foam: Rect) -> tuple[Drawing, list[Rect], list[int]]:
    """All cuts as lines with their numbers; the rectangles of numbers on the foam; the cuts that have a number."""
    sheet = Drawing(0.0, 0.0)
    taken: list[Rect] = []
    tagged: list[int] = []
    cuts = [(cut, along_cut(cut), _middle(cut, plan)) for cut in from_above]
    edges: dict[str, list[tuple[Cut, float]]] = {"x": [], "y": []}
    for cut, way, (start, end) in cuts:
        if cut.stage in {Stage.SQUARE, Stage.STRIP}:
            sheet = sheet.with_more([line(Role.CUT, start, end)])
            edges[way].append((cut, start[1] if way == "x" else start[0]))
    pitch = TAG + 2 * TAG_PAD + 0.3
    for (cut, at), place in zip(edges["x"], spread([at for _, at in edges["x"]], pitch), strict=True):
        leader, label = _side_tag(cut, (foam[2], at), place)
        sheet = sheet.with_more([leader], [label])
        tagged.append(cut.number)
    widest = max([text_width(str(cut.number), TAG) for cut, _ in edges["y"]], default=0.0) + 2 * TAG_PAD + 0.3
    for (cut, at), place in zip(edges["y"], spread([at for _, at in edges["y"]], widest), strict=True):
        leader, label = _top_tag(cut, (at, foam[1]), place)
        sheet = sheet.with_more([leader], [label])
        tagged.append(cut.number)
    lines = [(cut.number, _thin(ends)) for cut, _, ends in cuts] + [(0, _thin(edge)) for edge in _sides(foam)]
    for cut, way, ends in cuts:
        if cut.stage not in {Stage.SQUARE, Stage.STRIP}:
            others = [rect for number, rect in lines if number != cut.number]
            sheet, tag = _inner_tag(sheet, cut, way, ends, [*taken, *others])
            if tag:
                taken.append(tag)
                tagged.append(cut.number)
    return sheet, taken, tagged


def _thin(ends: Line) -> Rect:
    (x0, y0), (x1, y1) = ends
    return x0, y0, x1 + THIN, y1 + THIN


def _sides(rect: Rect) -> list[Line]:
    left, top, right, bottom = rect
    corners = [(left, top), (right, top), (left, bottom), (right, bottom)]
    return [(corners[k], corners[n]) for k, n in ((0, 1), (2, 3), (0, 2), (1, 3))]


def _middle(cut: Cut, plan: BilletMap) -> Line:
    """The line of a cut: the middle of the foam that it melts."""
    left, top, right, bottom = plan.rect(cut.slot)
    if along_cut(cut) == "x":
        return (left, (top + bottom) / 2), (right, (top + bottom) / 2)
    return ((left + right) / 2, top), ((left + right) / 2, bottom)


def _side_tag(cut: Cut, end: tuple[float, float], y: float) -> tuple[Stroke, Label]:
    """A number at the right of the foam, with a leader from the end of its cut."""
    label = Label(str(cut.number), end[0] + SIDE + 0.6, y + CAP_HEIGHT * TAG / 2, TAG)
    return line(Role.LABEL, end, (end[0] + SIDE / 2, y), (end[0] + SIDE, y)), label


def _top_tag(cut: Cut, end: tuple[float, float], x: float) -> tuple[Stroke, Label]:
    """A number above the foam, with a leader from the end of its cut."""
    return line(Role.LABEL, end, (x, end[1] - OVER)), Label(str(cut.number), x, end[1] - OVER - 0.7, TAG, "middle")


def _inner_tag(sheet: Drawing, cut: Cut, way: str, ends: Line, taken: Sequence[Rect]) -> tuple[Drawing, Rect | None]:
    """A cut with its number in a frame on it or, if another line is too near, beside it on the piece that is kept; the
    rectangle of the number, or None if it does not fit.
    """
    text = str(cut.number)
    half = (text_width(text, TAG) / 2 + TAG_PAD, TAG / 2 + TAG_PAD)
    (x0, y0), (x1, y1) = ends
    reach = abs(x1 - x0) if way == "x" else abs(y1 - y0)
    inset = half[0] + 0.8 if way == "x" else half[1] + 0.8
    shares = [inset / reach, 1 - inset / reach, 0.3, 0.7, 0.5] if reach > 2 * inset else []
    away = (0.0, -half[1] - 0.3) if way == "x" else (-half[0] - 0.3, 0.0)
    for aside in (False, True):
        for share in shares:
            x, y = x0 + share * (x1 - x0) + aside * away[0], y0 + share * (y1 - y0) + aside * away[1]
            rect = (x - half[0], y - half[1], x + half[0], y + half[1])
            if not is_clear(rect, taken):
                continue
            near, far = ((rect[0], y), (rect[2], y)) if way == "x" else ((x, rect[1]), (x, rect[3]))
            pieces = [line(Role.CUT, *ends)] if aside else [line(Role.CUT, ends[0], near), line(Role.CUT, far, ends[1])]
            label = Label(text, x, y + CAP_HEIGHT * TAG / 2, TAG, "middle")
            return sheet.with_more([*pieces, outline(Role.LABEL, rect)], [label], [fill("tag", LEFTOVER, rect)]), rect
    return sheet.with_more([line(Role.CUT, *ends)]), None
