"""The number of sheets for the templates, estimated from their sizes before any is drawn.

The estimate counts the windows of each large template and the area of small ones. It answers one question: whether
the paper suits the job.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

from profiles.errors import PaperError
from profiles.notes import Note, warning
from profiles.paper.settings import PageSettings
from profiles.paper.sheets import frame_of
from profiles.units import PAPERS, Paper

Size = tuple[float, float]
"""Width and height in mm."""

ROUND = 5.0
"""mm of marks and gap beside an outline, both sides together, and the same above and below it."""

MANY_SHEETS = 300
"""From this number of sheets on a warning names a larger paper: common practice, more than a tray of paper holds."""


def estimate_sheets(sizes: Sequence[Size], settings: PageSettings) -> int:
    """The number of sheets for templates of these sizes. Raises PaperError if the paper cannot hold the bars."""
    return count_sheets(sizes, frame_of(settings).room[2:], settings.overlap)


def count_sheets(sizes: Sequence[Size], room: Size, overlap: float) -> int:
    """The number of sheets with this room for templates of these sizes, which may be turned: windows of large ones,
    area of the rest.
    """
    windows, area = 0, 0.0
    for size in sizes:
        width, height = (side + ROUND for side in size)
        count = min(
            _windows(width, across, overlap) * _windows(height, down, overlap) for across, down in (room, room[::-1])
        )
        if count == 1:
            area += width * height
        else:
            windows += count
    return windows + math.ceil(area / (room[0] * room[1]))


def _windows(length: float, room: float, overlap: float) -> int:
    if length <= room:
        return 1
    # The layout refuses an overlap as wide as the sheet.
    return math.ceil((length - overlap) / max(room - overlap, 1.0))


def find_larger_paper(sizes: Sequence[Size], settings: PageSettings, limit: int) -> Paper | None:
    """The smallest larger paper that takes no more than `limit` sheets; None if there is none."""
    area = settings.paper.width * settings.paper.height
    larger = [paper for paper in PAPERS.values() if paper.width * paper.height > area]
    for paper in sorted(larger, key=lambda sheet: (sheet.width * sheet.height, sheet.name)):
        changed = replace(settings, paper=paper)
        try:
            if estimate_sheets(sizes, changed) <= limit:
                return paper
        except PaperError:
            continue
    return None


def refuse_too_many(sizes: Sequence[Size], settings: PageSettings, most: int) -> None:
    """Raise PaperError if the templates take more than `most` sheets."""
    count = estimate_sheets(sizes, settings)
    if count <= most:
        return
    width, height = (max(size[axis] for size in sizes) for axis in (0, 1))
    paper = find_larger_paper(sizes, settings, most)
    message = (
        f"The {len(sizes)} templates of up to {width:g} x {height:g} mm take about {count:,} sheets of "
        f"{settings.paper.name}, more than max_sheets allows ({most:,})"
    )
    larger = f"print on {paper.name} (--paper {paper.name})" if paper else "print on a larger paper"
    raise PaperError(
        message, remedy=f"Check the hull's unit and length (--unit, --length), {larger}, or raise --max-sheets."
    )


def sheet_notes(sizes: Sequence[Size], settings: PageSettings, count: int) -> tuple[Note, ...]:
    """A warning if `count` is more than MANY_SHEETS, with the paper that needs fewer."""
    if count <= MANY_SHEETS:
        return ()
    paper = find_larger_paper(sizes, settings, MANY_SHEETS) or find_larger_paper(sizes, settings, count // 2)
    text = f"the templates take {count:,} sheets of {settings.paper.name}"
    if paper is None:
        return (warning(f"{text}. No usual size of paper needs half of them or fewer"),)
    changed = replace(settings, paper=paper)
    fewer = estimate_sheets(sizes, changed)
    return (warning(f"{text}. {paper.name} needs about {fewer:,}: give --paper {paper.name}"),)
