"""One billet from above at a round scale: its edges, its blocks and cuts with their numbers, and what is left over.

x of the billet runs to the right and y down the page, so everything is measured from the upper left corner. Every
rectangle is drawn in its place to the stated scale; only cut numbers move to a place where they can be read.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import shapely

from profiles.book.cutlist import Cell, along_cut, cells_of, mm, ordered_blocks, strips_of
from profiles.book.scales import RATIOS, ratio_for
from profiles.foam.cutting import Billet, Box3, Cut, Stage
from profiles.paper.drawing import UPWARDS, Area, Drawing, Label, Role, Stroke, line, patch, rectangle
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.pictures.bodyview import hatching

LEFT, TOP, RIGHT, BOTTOM = 17.0, 6.0, 11.0, 7.0
"""mm round the foam: for the names of strips at the left, the numbers of long cuts at the right, those of short edges
above, and block numbers with leaders below."""

NUMBER, SIZES, TAG = 3.8, 2.6, 2.5
"""Font sizes in mm of a block's number, of its sizes, and of a cut's number."""

LEAST_NUMBER = 2.5
"""Smallest font size of a block number, mm."""

LEADING = 1.3
"""Line spacing in font sizes."""

INSET = 0.5
"""mm between a block's edge and its letters."""

TAG_PAD = 0.6
"""mm between a cut's number and its frame."""

SIDE, OVER = 4.0, 2.0
"""Length in mm of the leaders of cut numbers at the right of the foam and above it."""

BLOCK, LEFT_OVER, REST, SLOT = "#dde8f2", "#ffffff", "#e3e3e3", "#6b6b6b"
"""Colours of a block, an offcut to keep, foam that is waste, and the foam that a cut takes."""

THIN = 0.01
"""Width in mm given to a line to test whether a number lies on it."""

Rect = tuple[float, float, float, float]
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
        return not self.outside and len(self.tagged) == len(_from_above(self.billets[0]))


def ratios_for(billet: Billet, room: tuple[float, float]) -> list[float]:
    """The scales at which a billet fits a `room` (width, height) mm, the largest drawing first.

    Raises PaperError if none does.
    """
    size = (billet.kind.length, billet.kind.width)
    first = ratio_for(size, (room[0] - LEFT - RIGHT, room[1] - TOP - BOTTOM))
    return [ratio for ratio in RATIOS if ratio >= first]


def billet_view(billets: Sequence[Billet], ratio: float) -> BilletView:
    """Draw billets that are `alike`, seen from above; `ratio` mm of foam are drawn as 1 mm."""
    first = billets[0]
    size = (first.kind.length, first.kind.width)
    plan = _Plan(ratio, (LEFT, TOP))
    sheet = Drawing(LEFT + size[0] / ratio + RIGHT, TOP + size[1] / ratio + BOTTOM)
    foam = plan.rect(Box3(0.0, 0.0, 0.0, *size, first.kind.thickness))
    sheet = sheet.with_more([_edge(Role.BOX, foam)], (), [_filled("rest", REST, foam)])
    sheet = _offcut_areas(sheet, first, plan)
    for cell in cells_of(first):
        for placed in cell.blocks:
            sheet = sheet.with_more((), (), [_filled("block", BLOCK, plan.rect(placed.place))])
    sheet = sheet.with_more((), (), [_filled("slot", SLOT, plan.rect(cut.slot)) for cut in _from_above(first)])
    tags, taken, tagged = _tags(first, plan, foam)
    sheet = sheet.with_more(tags.strokes, tags.labels, tags.areas)
    sheet = sheet.with_more((), _strip_names(first, plan))
    numbered, numbers, outside = _block_numbers(billets, plan, taken, foam)
    sheet = sheet.with_more(numbered.strokes, numbered.labels)
    taken += [label.extent() for label in numbered.labels]
    named = _offcut_names(first, plan, taken)
    sheet = sheet.with_more((), named.labels, named.areas)
    return _enlarge_sheet(BilletView(tuple(billets), sheet, ratio, plan.zero, tuple(numbers), tuple(tagged), outside))


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


@dataclass(frozen=True, slots=True)
class _Plan:
    """The map from foam to sheet, seen from above."""

    ratio: float
    zero: tuple[float, float]

    def rect(self, box: Box3) -> Rect:
        """Left, top, right and bottom, mm on the sheet."""
        left, top = self.zero[0] + box.x / self.ratio, self.zero[1] + box.y / self.ratio
        return left, top, left + box.along / self.ratio, top + box.across / self.ratio


def _edge(role: Role, rect: Rect) -> Stroke:
    return rectangle(role, rect[0], rect[1], rect[2] - rect[0], rect[3] - rect[1])


def _filled(kind: str, colour: str, rect: Rect) -> Area:
    return patch(kind, colour, rect[0], rect[1], rect[2] - rect[0], rect[3] - rect[1])


def is_clear(rect: Rect, taken: Sequence[Rect]) -> bool:
    """Whether a rectangle overlaps none of the others."""
    left, top, right, bottom = rect
    return all(right <= other[0] or other[2] <= left or bottom <= other[1] or other[3] <= top for other in taken)


def _from_above(billet: Billet) -> list[Cut]:
    """The cuts that show as lines, in order: not those of single boards, nor slices, which are flat."""
    cuts = [cut for cut in billet.cuts if cut.stage not in {Stage.DOWN, Stage.SLICE}]
    return sorted(cuts, key=lambda cut: cut.number)


# Cuts


def _tags(billet: Billet, plan: _Plan, foam: Rect) -> tuple[Drawing, list[Rect], list[int]]:
    """All cuts as lines with their numbers; the rectangles of numbers on the foam; the cuts that have a number."""
    sheet = Drawing(0.0, 0.0)
    taken: list[Rect] = []
    tagged: list[int] = []
    cuts = [(cut, along_cut(cut), _middle(cut, plan)) for cut in _from_above(billet)]
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


def _middle(cut: Cut, plan: _Plan) -> Line:
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
            return sheet.with_more([*pieces, _edge(Role.LABEL, rect)], [label], [_filled("tag", LEFT_OVER, rect)]), rect
    return sheet.with_more([line(Role.CUT, *ends)]), None


def spread(places: Sequence[float], pitch: float, low: float = -math.inf, high: float = math.inf) -> list[float]:
    """Move places apart as little as a least distance `pitch` needs. Groups stay centred on their original places,
    unless they would leave the range from `low` to `high`.
    """
    order = sorted(range(len(places)), key=lambda k: (places[k], k))
    groups: list[list[int]] = []
    centres: list[float] = []
    for k in order:
        groups.append([k])
        centres.append(places[k])
        while len(groups) > 1 and centres[-1] - centres[-2] < pitch * (len(groups[-1]) + len(groups[-2])) / 2:
            merged = groups.pop(-2) + groups.pop()
            centres[-2:] = [sum(places[j] - pitch * i for i, j in enumerate(merged)) / len(merged)]
            centres[-1] += pitch * (len(merged) - 1) / 2
            groups.append(merged)
    moved = [0.0] * len(places)
    for group, centre in zip(groups, centres, strict=True):
        for i, k in enumerate(group):
            moved[k] = centre + pitch * (i - (len(group) - 1) / 2)
    for i, k in enumerate(reversed(order)):
        moved[k] = min(moved[k], high - i * pitch)
    for i, k in enumerate(order):
        moved[k] = max(moved[k], low + i * pitch)
    return moved


# Names


def _strip_names(billet: Billet, plan: _Plan) -> list[Label]:
    """Each strip's number and width at the left, on one line if the strip is narrow."""
    names = []
    strips = strips_of(billet)
    middles = [plan.zero[1] + (strip.y + strip.width / 2) / plan.ratio for strip in strips]
    for strip, y in zip(strips, spread(middles, SIZES * LEADING), strict=True):
        high = strip.width / plan.ratio >= 2.2 * SIZES * LEADING
        lines = [f"strip {strip.number}", mm(strip.width)] if high else [f"{strip.number}: {mm(strip.width)}"]
        names += _stacked(lines, [SIZES] * len(lines), (plan.zero[0] - 1.5, y), "end")
    return names


def _stacked(
    lines: Sequence[str], sizes: Sequence[float], middle: tuple[float, float], anchor: str = "middle"
) -> list[Label]:
    """Lines below each other, centred on a point; block numbers, which are larger than sizes, are bold."""
    height = sum(size * LEADING for size in sizes)
    y = middle[1] - height / 2
    labels = []
    for text, size in zip(lines, sizes, strict=True):
        base = y + (size * LEADING + CAP_HEIGHT * size) / 2
        labels.append(Label(text, middle[0], base, size, anchor, bold=size > SIZES))
        y += size * LEADING
    return labels


def _block_numbers(
    billets: Sequence[Billet], plan: _Plan, taken: Sequence[Rect], foam: Rect
) -> tuple[Drawing, list[Label], int]:
    """Every block's number in its rectangle, with its sizes if they fit, or else below the foam with a leader; the
    labels of the numbers; and how many are below the foam.
    """
    sheet = Drawing(0.0, 0.0)
    numbers: list[Label] = []
    outside: list[tuple[str, tuple[float, float]]] = []
    occupied = list(taken)
    for cell, texts in _cell_texts(billets):
        rect = plan.rect(cell.place)
        labels = next(_letterings(cell, billets[0], texts, rect, occupied), None)
        if labels is None:
            outside.append((", ".join(texts), ((rect[0] + rect[2]) / 2, (rect[1] + rect[3]) / 2)))
            continue
        occupied += [label.extent() for label in labels]
        numbers += [label for label in labels if label.bold]
        sheet = sheet.with_more((), labels)
    outside.sort(key=lambda entry: entry[1])
    widest = max([text_width(text, LEAST_NUMBER, bold=True) for text, _ in outside], default=0.0) + 1.0
    span = (widest / 2, foam[2] + RIGHT - widest / 2)
    for (text, centre), x in zip(outside, spread([at[0] for _, at in outside], widest, *span), strict=True):
        label = Label(text, x, foam[3] + 2.5 + CAP_HEIGHT * LEAST_NUMBER, LEAST_NUMBER, "middle", bold=True)
        numbers.append(label)
        sheet = sheet.with_more([line(Role.LABEL, centre, (x, foam[3] + 2.0))], [label])
    return sheet, numbers, len(outside)


def _cell_texts(billets: Sequence[Billet]) -> Iterator[tuple[Cell, list[str]]]:
    """Each blank with one text for each billet: the numbers of its blocks from the top, "03" or "03 / 04"."""
    orders = [ordered_blocks(billet) for billet in billets]
    start = 0
    for cell in cells_of(billets[0]):
        end = start + len(cell.blocks)
        yield cell, [" / ".join(f"{placed.block:02d}" for placed in order[start:end]) for order in orders]
        start = end


def _letterings(
    cell: Cell, billet: Billet, texts: Sequence[str], rect: Rect, taken: Sequence[Rect]
) -> Iterator[list[Label]]:
    """Ways to letter a block, the most complete first, that stay inside its rectangle and clear of `taken`."""
    place = cell.place
    sizes = [f"{mm(place.along)} x {mm(place.across)}"]
    if any(billet.is_sliced(placed) for placed in cell.blocks):
        sizes.append(f"sliced to {' / '.join(mm(placed.place.thick) for placed in cell.blocks)}")
    half = -(-len(texts) // 2)
    stacks = [[", ".join(texts)]]
    if len(texts) > 1:
        stacks += [[", ".join(texts[:half]) + ",", ", ".join(texts[half:])], [*texts]]
    for more in (sizes, sizes[:1] if len(sizes) == 1 else [], []):
        for size in (NUMBER, 3.1, LEAST_NUMBER + 0.11):
            for lines in stacks:
                heights = [size] * len(lines) + [SIZES] * len(more)
                for y in _heights(rect, sum(heights) * LEADING):
                    labels = _stacked([*lines, *more], heights, ((rect[0] + rect[2]) / 2, y))
                    if _fits(labels, rect, taken):
                        yield labels
    x, y = (rect[0] + rect[2]) / 2, (rect[1] + rect[3]) / 2
    base = x + CAP_HEIGHT * LEAST_NUMBER / 2
    upright = [Label(", ".join(texts), base, y, LEAST_NUMBER, "middle", UPWARDS, bold=True)]
    if _fits(upright, rect, taken):
        yield upright


def _heights(rect: Rect, height: float) -> list[float]:
    """Where a stack of lines may be centred: in the middle of the block, or as low or as high as it fits."""
    low, high = rect[1] + INSET + height / 2, rect[3] - INSET - height / 2
    return [(rect[1] + rect[3]) / 2, *([high, low] if high > low else [])]


def _fits(labels: Sequence[Label], rect: Rect, taken: Sequence[Rect]) -> bool:
    for label in labels:
        left, top, right, bottom = label.extent()
        if left < rect[0] + INSET or right > rect[2] - INSET or top < rect[1] or bottom > rect[3]:
            return False
        if not is_clear((left, top, right, bottom), taken):
            return False
    return True


# What is left


def _whole(billet: Billet) -> Iterator[Box3]:
    """The offcuts as thick as the billet; those of single boards and of slices have their own drawings."""
    for offcut in billet.offcuts:
        if offcut.layer is None and billet.is_full_thickness(offcut.place):
            yield offcut.place


def _offcut_areas(sheet: Drawing, billet: Billet, plan: _Plan) -> Drawing:
    for place in _whole(billet):
        rect = plan.rect(place)
        sheet = sheet.with_more(areas=[_filled("offcut", LEFT_OVER, rect), *hatching(shapely.box(*rect))])
    return sheet


def _offcut_names(billet: Billet, plan: _Plan, taken: Sequence[Rect]) -> Drawing:
    """The size of each offcut in it on a white background, horizontal or upright, if it fits."""
    sheet = Drawing(0.0, 0.0)
    for place in _whole(billet):
        rect = plan.rect(place)
        x, y = (rect[0] + rect[2]) / 2, (rect[1] + rect[3]) / 2
        size = f"{mm(place.along)} x {mm(place.across)}"
        level = [_stacked(lines, [SIZES] * len(lines), (x, y)) for lines in (["keep", size], [f"keep {size}"], [size])]
        turned = Label(f"keep {size}", x + CAP_HEIGHT * SIZES / 2, y, SIZES, "middle", UPWARDS)
        for labels in (*level, [turned], [replace(turned, text=size)]):
            if _fits(labels, rect, taken):
                grounds = [_filled("name", LEFT_OVER, label.extent()) for label in labels]
                sheet = sheet.with_more((), labels, grounds)
                break
    return sheet
