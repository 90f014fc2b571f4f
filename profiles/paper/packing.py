"""Which rectangles share a sheet, and where on it. Nothing is turned: what is up stays up."""

import math
from collections.abc import Sequence
from typing import NamedTuple

import rectpack

GRAIN = 100
"""Steps per mm; the packer counts in whole numbers, and sizes are rounded up to 0.01 mm."""


LARGE = 0.4
"""Share of a sheet; of rectangles larger than this seldom two go on one."""


class Slot(NamedTuple):
    """Where one rectangle goes: its number, and its upper left corner on the area, mm, y down."""

    which: int
    x: float
    y: float


def pack(sizes: Sequence[tuple[float, float]], area: tuple[float, float], gap: float) -> tuple[tuple[Slot, ...], ...]:
    """Sheets with the slots on each; `sizes` (width, height) mm must each fit the `area`, `gap` mm stays between two.

    Rectangles keep their order from sheet to sheet where that costs no sheet; otherwise the small ones are put beside
    the first large ones that leave room, or all wherever there is room. Sheets come in the order of their first
    rectangle. No rectangles: no sheets.
    """
    if not sizes:
        return ()
    steps = [(_steps(width + gap), _steps(height + gap)) for width, height in sizes]
    bin_size = (_steps(area[0] + gap), _steps(area[1] + gap))
    best = _in_order(steps, bin_size)
    fewest = _fewest(steps, bin_size)
    for way in (_first_fit, _large_first, _best_fit):
        if len(best) > fewest:
            best = min(best, way(steps, bin_size), key=len)
    return tuple(sorted(best, key=lambda sheet: sheet[0].which))


def _steps(length: float) -> int:
    return math.ceil(length * GRAIN - 1e-6)


def _fewest(steps: Sequence[tuple[int, int]], bin_size: tuple[int, int]) -> int:
    """No packing can do with fewer sheets than the areas need, nor than those rectangles which can only stand one above
    the other, or only side by side.
    """
    by_area = math.ceil(sum(width * height for width, height in steps) / (bin_size[0] * bin_size[1]))
    above = fewest_piles([height for width, height in steps if 2 * width > bin_size[0]], bin_size[1])
    beside = fewest_piles([width for width, height in steps if 2 * height > bin_size[1]], bin_size[0])
    return max(by_area, above, beside)


def fewest_piles(sizes: Sequence[int], room: int) -> int:
    """Sheets that piles of these sizes need at least: bound L2 of Martello and Toth (1990) for bins of one dimension.

    Whatever the least size that counts: those over half the room each have a sheet of their own, those that leave room
    for the least size share it with the others that count, and what these have over needs further sheets. Nor do more
    go on one sheet than would of the least size.
    """
    large = [size for size in sizes if 2 * size > room]
    most = len(large)
    for least in {size for size in sizes if 2 * size <= room}:
        small = [size for size in sizes if least <= size and 2 * size <= room]
        over = sum(small) - sum(room - size for size in large if size + least <= room)
        count = len(small) + len(large)
        most = max(most, len(large) + math.ceil(over / room), math.ceil(count / (room // least)))
    return most


def _in_order(steps: Sequence[tuple[int, int]], bin_size: tuple[int, int]) -> tuple[tuple[Slot, ...], ...]:
    return _run(
        steps,
        bin_size,
        rectpack.newPacker(
            mode=rectpack.PackingMode.Online,
            bin_algo=rectpack.PackingBin.BNF,
            pack_algo=rectpack.MaxRectsBl,
            rotation=False,
        ),
    )


def _first_fit(steps: Sequence[tuple[int, int]], bin_size: tuple[int, int]) -> tuple[tuple[Slot, ...], ...]:
    return _run(steps, bin_size, _first_fitting())


def _large_first(steps: Sequence[tuple[int, int]], bin_size: tuple[int, int]) -> tuple[tuple[Slot, ...], ...]:
    """First fit, the large ones first in their order, then the others in theirs."""
    large = LARGE * bin_size[0] * bin_size[1]
    order = sorted(range(len(steps)), key=lambda k: steps[k][0] * steps[k][1] < large)
    return _run(steps, bin_size, _first_fitting(), order)


def _first_fitting() -> rectpack.packer.PackerOnline:
    return rectpack.newPacker(
        mode=rectpack.PackingMode.Online,
        bin_algo=rectpack.PackingBin.BFF,
        pack_algo=rectpack.MaxRectsBl,
        rotation=False,
    )


def _best_fit(steps: Sequence[tuple[int, int]], bin_size: tuple[int, int]) -> tuple[tuple[Slot, ...], ...]:
    return _run(
        steps,
        bin_size,
        rectpack.newPacker(
            mode=rectpack.PackingMode.Offline,
            bin_algo=rectpack.PackingBin.Global,
            pack_algo=rectpack.MaxRectsBssf,
            sort_algo=rectpack.SORT_LSIDE,
            rotation=False,
        ),
    )


def _run(
    steps: Sequence[tuple[int, int]],
    bin_size: tuple[int, int],
    packer: rectpack.packer.PackerOnline,
    order: Sequence[int] | None = None,
) -> tuple[tuple[Slot, ...], ...]:
    """Sheets of slots; the packer's origin is at the bottom, ours at the top, so y is the packer's y as it is."""
    packer.add_bin(*bin_size, count=len(steps))
    for index in range(len(steps)) if order is None else order:
        packer.add_rect(*steps[index], rid=index)
    if hasattr(packer, "pack"):
        packer.pack()
    sheets: dict[int, list[Slot]] = {}
    for sheet, x, y, _width, _height, index in packer.rect_list():
        sheets.setdefault(sheet, []).append(Slot(index, x / GRAIN, y / GRAIN))
    found = tuple(tuple(sorted(slots)) for slots in sheets.values())
    lost = len(steps) - sum(len(sheet) for sheet in found)
    if lost:
        msg = f"expected every rectangle to fit the sheet, {lost} did not"
        raise ValueError(msg)
    return found
