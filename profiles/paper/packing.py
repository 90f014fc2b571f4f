"""Which rectangles share a sheet, and where on it. Nothing is turned, so that up stays up."""

import math
from collections.abc import Sequence
from functools import partial
from typing import NamedTuple

import rectpack

GRAIN = 100
"""Steps per mm; the packer counts in whole numbers, and sizes are rounded up to 0.01 mm."""

LARGE = 0.4
"""Share of a sheet; two rectangles larger than this seldom fit on one."""

_online = partial(rectpack.newPacker, mode=rectpack.PackingMode.Online, pack_algo=rectpack.MaxRectsBl, rotation=False)
_next_fit = partial(_online, bin_algo=rectpack.PackingBin.BNF)
_first_fit = partial(_online, bin_algo=rectpack.PackingBin.BFF)
_best_fit = partial(
    rectpack.newPacker,
    mode=rectpack.PackingMode.Offline,
    bin_algo=rectpack.PackingBin.Global,
    pack_algo=rectpack.MaxRectsBssf,
    sort_algo=rectpack.SORT_LSIDE,
    rotation=False,
)


class Slot(NamedTuple):
    """Where one rectangle goes: its number, and its upper left corner on the area, mm, y down."""

    which: int
    x: float
    y: float


def pack(sizes: Sequence[tuple[float, float]], area: tuple[float, float], gap: float) -> tuple[tuple[Slot, ...], ...]:
    """Sheets with the slots on each; `sizes` (width, height) mm must each fit the `area`, `gap` mm stays between two.

    Rectangles keep their order from sheet to sheet if that costs no sheet; otherwise small ones go beside the first
    large ones that leave room, or all go wherever there is room. Sheets come in the order of their first rectangle. No
    rectangles: no sheets.
    """
    if not sizes:
        return ()
    steps = [(_steps(width + gap), _steps(height + gap)) for width, height in sizes]
    bin_size = (_steps(area[0] + gap), _steps(area[1] + gap))
    order = range(len(steps))
    large_first = sorted(order, key=lambda k: steps[k][0] * steps[k][1] < LARGE * bin_size[0] * bin_size[1])
    best = _run(steps, bin_size, _next_fit(), order)
    fewest = _fewest(steps, bin_size)
    for packer, numbers in ((_first_fit, order), (_first_fit, large_first), (_best_fit, order)):
        if len(best) > fewest:
            best = min(best, _run(steps, bin_size, packer(), numbers), key=len)
    return tuple(sorted(best, key=lambda sheet: sheet[0].which))


def _steps(length: float) -> int:
    return math.ceil(length * GRAIN - 1e-6)


def _fewest(steps: Sequence[tuple[int, int]], bin_size: tuple[int, int]) -> int:
    """A lower bound: sheets for the areas, and for rectangles that fit only one above the other, or side by side."""
    by_area = math.ceil(sum(width * height for width, height in steps) / (bin_size[0] * bin_size[1]))
    above = fewest_piles([height for width, height in steps if 2 * width > bin_size[0]], bin_size[1])
    beside = fewest_piles([width for width, height in steps if 2 * height > bin_size[1]], bin_size[0])
    return max(by_area, above, beside)


def fewest_piles(sizes: Sequence[int], room: int) -> int:
    """The least number of sheets for piles of these sizes: bound L2 of Martello and Toth (1990), one-dimensional bins.

    For any least size that counts, each pile over half the room has a sheet to itself, and the smaller ones that count
    fill what those sheets leave; the rest needs further sheets. Nor does a sheet hold more piles than it would of the
    least size.
    """
    large = [size for size in sizes if 2 * size > room]
    most = len(large)
    for least in {size for size in sizes if 2 * size <= room}:
        small = [size for size in sizes if least <= size and 2 * size <= room]
        rest = sum(small) - sum(room - size for size in large if size + least <= room)
        count = len(small) + len(large)
        most = max(most, len(large) + math.ceil(rest / room), math.ceil(count / (room // least)))
    return most


def _run(
    steps: Sequence[tuple[int, int]],
    bin_size: tuple[int, int],
    packer: rectpack.packer.PackerOnline,
    order: Sequence[int],
) -> tuple[tuple[Slot, ...], ...]:
    """Sheets of slots. The packer's y grows upwards and ours downwards: a packing upside down is as good."""
    packer.add_bin(*bin_size, count=len(steps))
    for index in order:
        packer.add_rect(*steps[index], rid=index)
    if hasattr(packer, "pack"):
        packer.pack()
    sheets: dict[int, list[Slot]] = {}
    for sheet, x, y, _width, _height, index in packer.rect_list():
        sheets.setdefault(sheet, []).append(Slot(index, x / GRAIN, y / GRAIN))
    packing = tuple(tuple(sorted(slots)) for slots in sheets.values())
    lost = len(steps) - sum(len(sheet) for sheet in packing)
    if lost:
        msg = f"expected every rectangle to fit the sheet, {lost} did not"
        raise ValueError(msg)
    return packing
