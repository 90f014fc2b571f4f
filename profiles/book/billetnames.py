"""The names in the drawing of a billet: strips at the left, numbers and sizes of blocks, sizes of offcuts."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from profiles.book.billetmap import LEFTOVER, RIGHT, SIZES, BilletMap, Rect, fill, is_clear, spread
from profiles.book.cutlist import Cell, cells_of, ordered_blocks, strips_of
from profiles.foam.cutting import Billet, Box3
from profiles.paper.drawing import UPWARDS, Drawing, Label, Role, line
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.units import block_name, decimal_length

NUMBERS = (3.8, 3.1, 2.61)
"""Font sizes in mm of a block's number, the largest that fits."""

LEAST_NUMBER = 2.5
"""Font size in mm of a block's number that runs upwards or stands below the foam."""

LEADING = 1.3
"""Line spacing in font sizes."""

INSET = 0.5
"""mm between a block's edge and its letters."""


def strip_names(billet: Billet, plan: BilletMap) -> list[Label]:
    """Each strip's number and width at the left, on one line if the strip is narrow."""
    names = []
    strips = strips_of(billet)
    middles = [plan.zero[1] + (strip.y + strip.width / 2) / plan.ratio for strip in strips]
    for strip, y in zip(strips, spread(middles, SIZES * LEADING), strict=True):
        high = strip.width / plan.ratio >= 2.2 * SIZES * LEADING
        lines = (
            [f"strip {strip.number}", decimal_length(strip.width)]
            if high
            else [f"{strip.number}: {decimal_length(strip.width)}"]
        )
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


def block_numbers(
    billets: Sequence[Billet], plan: BilletMap, taken: Sequence[Rect], foam: Rect
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
        yield cell, [" / ".join(block_name(placed.block) for placed in order[start:end]) for order in orders]
        start = end


def _letterings(
    cell: Cell, billet: Billet, texts: Sequence[str], rect: Rect, taken: Sequence[Rect]
) -> Iterator[list[Label]]:
    """Ways to letter a block, the most complete first, that stay inside its rectangle and clear of `taken`."""
    place = cell.place
    sizes = [f"{decimal_length(place.along)} x {decimal_length(place.across)}"]
    if any(billet.is_sliced(placed) for placed in cell.blocks):
        sizes.append(f"sliced to {' / '.join(decimal_length(placed.place.thick) for placed in cell.blocks)}")
    half = -(-len(texts) // 2)
    stacks = [[", ".join(texts)]]
    if len(texts) > 1:
        stacks += [[", ".join(texts[:half]) + ",", ", ".join(texts[half:])], [*texts]]
    for more in (sizes, sizes[:1] if len(sizes) == 1 else [], []):
        for size in NUMBERS:
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


def offcut_names(billet: Billet, plan: BilletMap, taken: Sequence[Rect]) -> Drawing:
    """The size of each offcut in it on a white background, horizontal or upright, if it fits."""
    sheet = Drawing(0.0, 0.0)
    for place in full_offcuts(billet):
        rect = plan.rect(place)
        x, y = (rect[0] + rect[2]) / 2, (rect[1] + rect[3]) / 2
        size = f"{decimal_length(place.along)} x {decimal_length(place.across)}"
        level = [_stacked(lines, [SIZES] * len(lines), (x, y)) for lines in (["keep", size], [f"keep {size}"], [size])]
        turned = Label(f"keep {size}", x + CAP_HEIGHT * SIZES / 2, y, SIZES, "middle", UPWARDS)
        for labels in (*level, [turned], [replace(turned, text=size)]):
            if _fits(labels, rect, taken):
                grounds = [fill("name", LEFTOVER, label.extent()) for label in labels]
                sheet = sheet.with_more((), labels, grounds)
                break
    return sheet


def full_offcuts(billet: Billet) -> Iterator[Box3]:
    """The offcuts as thick as the billet; those of single boards and of slices have drawings of their own."""
    for offcut in billet.offcuts:
        if offcut.layer is None and billet.is_full_thickness(offcut.place):
            yield offcut.place
