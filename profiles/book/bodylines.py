"""Side and plan view of the body at a round scale, with the number of every station and its place along the hull."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from profiles.book.scales import ratio_for, scale_words
from profiles.book.tables import TABLE_TEXT
from profiles.paper.drawing import UPWARDS, Drawing, Label, Role, Stroke, freeze, line
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.pictures.bodyview import plain, thin_out
from profiles.pictures.views import Extents
from profiles.units import block_name

SMALL = 2.5
"""Font size in mm of the numbers along the hull."""

EDGE = 5.0
"""Margin in mm at the left and right."""

HEAD = 6.0
"""mm above each view for its title and the block numbers."""

GAP = 7.0
"""mm between the views, for the block numbers."""

OVERHANG = 3.0
"""mm by which the datum line and the stations extend beyond the body."""


def body_lines(
    extents: Extents, stations: Sequence[float], numbers: Sequence[int], room: tuple[float, float]
) -> Drawing:
    """The body from the side and from above, nose to the left, in a `room` (width, height) mm.

    `stations` are x in mm; station 0 is the foremost point. `numbers` are those of the blocks between stations. If the
    stations are too close for text, only some are named. Raises PaperError if the room is too small.
    """
    texts = [f"{k}:  {plain(x)}" for k, x in enumerate(stations)]
    foot = max(text_width(text, SMALL) for text in texts) + 2 * OVERHANG
    (y_low, z_low), (y_high, z_high) = extents.low.min(axis=0).tolist(), extents.high.max(axis=0).tolist()
    fixed = 2 * HEAD + GAP + foot + 2 * OVERHANG
    length = max(float(extents.x[-1]), stations[-1])
    ratio = ratio_for((length, y_high - y_low + z_high - z_low), (room[0] - 2 * EDGE, room[1] - fixed), 2.0)
    at = [EDGE + x / ratio for x in stations]
    side = HEAD + OVERHANG
    strokes, labels = [], []
    title = f"side, nose to the left, {scale_words(ratio)}"
    labels.append(Label(title, EDGE, CAP_HEIGHT * TABLE_TEXT, TABLE_TEXT, bold=True))
    zero = side + z_high / ratio
    strokes += _view(extents, 1, (EDGE, zero), ratio, -1.0)
    low = side + (z_high - z_low) / ratio
    row = low + OVERHANG + CAP_HEIGHT * SMALL + 0.6
    middles = [(fore + aft) / 2 for fore, aft in pairwise(at)]
    names = [block_name(number, 1) for number in numbers]
    labels += [
        Label(names[k], middles[k], row, SMALL, "middle", bold=True)
        for k in thin_out(middles, [text_width(name, SMALL, bold=True) for name in names])
    ]
    top = low + OVERHANG + GAP
    labels.append(
        Label(
            f"plan, from above, {scale_words(ratio)}; below it each station and its x",
            EDGE,
            top + CAP_HEIGHT * TABLE_TEXT,
            TABLE_TEXT,
            bold=True,
        )
    )
    plan = top + HEAD
    strokes += _view(extents, 0, (EDGE, plan - y_low / ratio), ratio, 1.0)
    bottom = plan + (y_high - y_low) / ratio
    strokes += [
        line(Role.JOIN, (x, end[0]), (x, end[1]))
        for x in at
        for end in ((side - OVERHANG / 2, low + OVERHANG / 2), (plan - OVERHANG / 2, bottom + OVERHANG))
    ]
    for k in thin_out(at, [SMALL] * len(at)):
        x = at[k] + CAP_HEIGHT * SMALL / 2
        labels.append(Label(texts[k], x, bottom + OVERHANG + 1.0, SMALL, "end", UPWARDS))
    return Drawing(room[0], bottom + foot, tuple(strokes), tuple(labels))


def _view(extents: Extents, axis: int, zero: tuple[float, float], ratio: float, up: float) -> list[Stroke]:
    """One view as a closed outline, with the datum line."""
    x = np.concatenate([extents.x, extents.x[::-1]]) / ratio
    across = np.concatenate([extents.low[:, axis], extents.high[::-1, axis]]) / ratio * up
    outline = Stroke(Role.CUT, freeze(np.column_stack([x + zero[0], across + zero[1]])), closed=True)
    end = zero[0] + float(extents.x[-1]) / ratio
    return [outline, line(Role.DATUM, (zero[0] - OVERHANG, zero[1]), (end + OVERHANG, zero[1]))]
