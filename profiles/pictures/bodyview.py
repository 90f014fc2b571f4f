"""The finished body from the side and from above, each block in the colour of its deviation.

The picture is reduced, and says so: for looking at, not for measuring. No line has the role of a cut line.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely

from profiles.body.waterplane import BodyMarks, WaterPlane
from profiles.errors import PaperError
from profiles.paper.drawing import UPWARDS, Area, Drawing, Label, Role, Stroke, circle, freeze, hairline, line, patch
from profiles.paper.lettering import CAP_HEIGHT, text_width
from profiles.pictures.tints import (
    CELL,
    GREY,
    LEGEND_HEIGHT,
    LEGEND_TEXT,
    LEGEND_WIDTH,
    PALE,
    Tint,
    TintScale,
    scale_to,
)
from profiles.pictures.views import Extents
from profiles.units import LETTERED, PrintUnit, bare_length, block_name, printed_unit, sizes_text
from profiles.values import dataclass

ROOM = (182.0, 240.0)
"""mm; width and greatest height of the picture outside a page."""

TITLE, TEXT, SMALL = 4.2, 2.8, 2.2
"""mm, font sizes."""

LARGEST_RATIO = 0.5
"""A picture is at most half size, so that nobody cuts foam by it."""

LEAST_VIEW = 10.0
"""mm; breadth plus depth on the sheet; a smaller picture shows nothing."""

EDGE = 4.0
"""mm of space on every side; the datum line reaches OVERHANG mm into it."""

OVERHANG = 3.0

STRIP = 11.0
"""mm between the two views, for the block numbers and their values."""

BELOW = 15.0
"""mm below the lower view for the places of the stations, written upright, and what they are."""

HEAD = 22.0
"""mm above the upper view: the edge, the title and two lines of text."""

LEGEND_GAP = 3.0
"""mm between the picture and the legend, and between the rows of the legend."""

CLEAR = 0.8
"""mm; least distance between two numbers in a row."""

SEAM = 0.25
SEAM_SHARE = 0.08
"""Width of the white line between two blocks: mm, but at most this share of a block."""

MARK = 1.6
"""mm; radius of the mark of the centre of gravity."""

STRIPE = (0.35, 1.8)
"""mm; width and pitch of the hatching of carved blocks."""

NO_FIGURE = Tint("carved", "#ffffff")

THINNING = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
"""If numbers are too close, only every second, fifth, tenth ... is written."""


@dataclass(frozen=True, slots=True)
class BlockFigure:
    """The largest deviations of a block from the hull: missing and extra foam, both mm and not negative."""

    number: int
    missing: float
    extra: float

    @property
    def largest(self) -> float:
        """The larger of the two, mm."""
        return max(self.missing, self.extra)

    def signed(self, decimals: int) -> str:
        """The larger of the two as text, with a minus where foam is missing."""
        text = f"{self.largest:.{decimals}f}"
        return f"{'-' if self.missing >= self.extra else '+'}{text}" if float(text) else "0"


LEAST_SHOWN = 0.005
"""mm; a smaller value is shown as zero."""


def format_length(value: float) -> str:
    """A length with as many decimals as are significant: 0.42, 4.2, 42; inches with two more."""
    if printed_unit() is PrintUnit.IN:
        return bare_length(value, 2 if value < 1 else 1)
    return f"{value:.2f}" if value < 1 else f"{value:.1f}" if value < 10 else f"{value:.0f}"  # noqa: PLR2004


def plain(value: float) -> str:
    """A length to a tenth of a mm, without trailing zeros."""
    return bare_length(value, shorten=True)


@dataclass(frozen=True, slots=True)
class _View:
    """One of the two views: `axis` 0 from above, 1 from the side; the place of x = 0 on the datum, mm on the sheet."""

    axis: int
    zero: tuple[float, float]
    scale: float
    up: float
    """-1 where the axis points up the page."""

    def place(self, x: float, across: float) -> tuple[float, float]:
        return self.zero[0] + x * self.scale, self.zero[1] + across * self.scale * self.up


def body_view(
    name: str,
    extents: Extents,
    stations: Sequence[float],
    figures: Sequence[BlockFigure | None],
    *,
    room: tuple[float, float] = ROOM,
    scale: TintScale | None = None,
    marks: BodyMarks = BodyMarks(),
) -> Drawing:
    """Side and plan view of a hull, nose to the left, in a `room` (width, height) mm.

    `extents` are those of `views.extents_along`; `stations` are x in mm, and `figures` has one for each block between
    two of them, or None for a carved block, which is hatched. `scale` is shared between pictures to be compared;
    without one it goes up to the largest value. `marks` are the waterline and the centre of gravity. The picture is as
    wide as the room and as high as necessary. Raises ValueError if figures and stations do not match, PaperError if the
    room is too small.
    """
    if len(figures) != len(stations) - 1:
        msg = f"expected a figure for each of {len(stations) - 1} blocks, found {len(figures)}"
        raise ValueError(msg)
    known = [figure for figure in figures if figure]
    tints = scale or scale_to(max((figure.largest for figure in known), default=0.0))
    (y_low, z_low), (y_high, z_high) = extents.low.min(axis=0).tolist(), extents.high.max(axis=0).tolist()
    length = stations[-1]
    legend, legend_height = _legend(tints, room[0] - 2 * EDGE, hatched=len(known) < len(figures))
    fixed = HEAD + STRIP + BELOW + LEGEND_GAP + legend_height + EDGE
    ratio = min((room[0] - 2 * EDGE) / length, (room[1] - fixed) / (y_high - y_low + z_high - z_low), LARGEST_RATIO)
    if ratio * (y_high - y_low + z_high - z_low) < LEAST_VIEW:
        msg = f"expected more room for the picture of the body than {room[0]:.0f} x {room[1]:.0f} mm"
        raise PaperError(msg, remedy="Take a larger paper, or leave the pictures out.")
    side = _View(1, (EDGE, HEAD + z_high * ratio), ratio, -1.0)
    strip = HEAD + (z_high - z_low) * ratio
    plan = _View(0, (EDGE, strip + STRIP - y_low * ratio), ratio, 1.0)
    bottom = strip + STRIP + (y_high - y_low) * ratio
    drawing = Drawing(room[0], bottom + BELOW + LEGEND_GAP + legend_height + EDGE)
    for view in (side, plan):
        outline = _outline(view, extents)
        strokes = _lines(view, outline, float(extents.x[-1]))
        drawing = drawing.with_more(strokes, (), _fills(view, outline, stations, figures, tints))
        drawing = drawing.with_more(*_marks(view, marks, length))
    size = sizes_text((length, y_high - y_low, z_high - z_low))
    size += f", drawn about 1:{1 / ratio:.2g}, nose to the left"
    size += "; G: centre of gravity" if marks.gravity else ""
    size += "; WL: waterline" if marks.water and marks.water.z_at(0.0) is not None else ""
    strokes, labels = _between(stations, figures, side, strip)
    labels += [*_head(name, size, known, room[0] - 2 * EDGE), *_places(stations, side, bottom)]
    drawing = drawing.with_more(strokes, labels)
    return drawing.overlay(legend.translate(EDGE, bottom + BELOW + LEGEND_GAP))


def _outline(view: _View, extents: Extents) -> shapely.Geometry:
    """The outline of the view on the sheet."""
    x = np.concatenate([extents.x, extents.x[::-1]])
    across = np.concatenate([extents.low[:, view.axis], extents.high[::-1, view.axis]]) * view.up
    shape = shapely.Polygon(np.column_stack([x, across]) * view.scale + view.zero)
    return shape if shape.is_valid else shapely.make_valid(shape)


def _fills(
    view: _View,
    outline: shapely.Geometry,
    stations: Sequence[float],
    figures: Sequence[BlockFigure | None],
    tints: TintScale,
) -> list[Area]:
    """Each block in its colour, and a white seam at each station between two blocks."""
    _, top, _, bottom = outline.bounds
    ends = [view.place(x, 0.0)[0] for x in stations]
    parts = shapely.intersection(outline, shapely.box(ends[:-1], top - 1, ends[1:], bottom + 1))
    areas: list[Area] = []
    for part, figure in zip(parts, figures, strict=True):
        tint = tints.tint(figure.missing, figure.extra) if figure else NO_FIGURE
        areas += area_of(tint.kind, tint.colour, part)
        if figure is None:
            areas += hatching(part)
    seam = min(SEAM, SEAM_SHARE * float(np.median(np.diff(stations))) * view.scale)
    for at in ends[1:-1]:
        areas.append(hairline("seam", "#ffffff", (at, top - 0.1), (at, bottom + 0.1), seam))
    return areas


def area_of(kind: str, colour: str, shape: shapely.Geometry) -> list[Area]:
    """The polygons of a shape (mm on the sheet) as one area; none if it has no polygon."""
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and not part.is_empty]
    rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
    return [Area(kind, colour, tuple(freeze(shapely.get_coordinates(ring)[:-1]) for ring in rings))] if rings else []


def hatching(shape: shapely.Geometry) -> list[Area]:
    """Grey stripes, rising to the right, over a shape (mm on the sheet)."""
    if shape.is_empty:
        return []
    left, top, right, bottom = shape.bounds
    width, pitch = STRIPE
    rise = bottom - top
    count = int((right - left + rise) // pitch) + 1
    starts = left + pitch * np.arange(count) - rise + pitch / 2
    slant = np.array([(0.0, bottom), (width * 2**0.5, bottom), (rise + width * 2**0.5, top), (rise, top)])
    stripes = shapely.polygons(slant + np.column_stack([starts, np.zeros(count)])[:, None])
    return area_of("hatch", GREY, shapely.intersection(shapely.union_all(stripes), shape))


def _lines(view: _View, outline: shapely.Geometry, length: float) -> list[Stroke]:
    """The outline, and the datum line across it."""
    parts = [part for part in shapely.get_parts(outline) if part.geom_type == "Polygon"]
    outlines = [Stroke(Role.LABEL, freeze(shapely.get_coordinates(part.exterior)[:-1]), closed=True) for part in parts]
    end = view.place(length, 0.0)
    return [*outlines, line(Role.DATUM, (view.zero[0] - OVERHANG, view.zero[1]), (end[0] + OVERHANG, view.zero[1]))]


def _marks(view: _View, marks: BodyMarks, length: float) -> tuple[list[Stroke], list[Label], list[Area]]:
    """The waterline in the side view, and the centre of gravity: a circle with two dark quarters."""
    strokes: list[Stroke] = []
    labels: list[Label] = []
    areas: list[Area] = []
    if marks.water and view.axis == 1:
        strokes, labels = _waterline(view, marks.water, length)
    if marks.gravity:
        x, y = view.place(marks.gravity[0], marks.gravity[1 + view.axis])
        strokes.append(circle(Role.LABEL, x, y, MARK))
        turns = np.linspace(0.0, np.pi / 2, 9)
        for start in (0.0, np.pi):
            arc = np.column_stack([x + MARK * np.cos(start + turns), y - MARK * np.sin(start + turns)])
            areas.append(Area("gravity", "#202020", (freeze(np.vstack([(x, y), arc])),)))
        labels.append(Label("G", x + MARK + 0.8, y - 0.6, TEXT, bold=True))
    return strokes, labels, areas


def _waterline(view: _View, water: WaterPlane, length: float) -> tuple[list[Stroke], list[Label]]:
    fore, aft = water.z_at(0.0), water.z_at(length)
    if fore is None or aft is None:
        return [], []
    start, end = view.place(0.0, fore), view.place(length, aft)
    slope = (end[1] - start[1]) / (end[0] - start[0])
    left, right = start[0] - OVERHANG, end[0] + OVERHANG
    ends = (left, start[1] - slope * OVERHANG), (right, end[1] + slope * OVERHANG)
    return [line(Role.WATER, *ends)], [Label("WL", right, ends[1][1] - 0.8, SMALL, "end")]


def _head(name: str, size: str, known: Sequence[BlockFigure], width: float) -> list[Label]:
    """The title, the size, and the largest deviations with their blocks."""
    title_size = TITLE * min(1.0, width / text_width(name, TITLE, bold=True))
    worst = []
    for word, key in (("missing foam", "missing"), ("extra foam", "extra")):
        figure = max(known, key=lambda block: float(getattr(block, key)), default=None)
        value = getattr(figure, key) if figure else 0.0
        if figure and value >= LEAST_SHOWN:
            worst.append(f"{word} up to {format_length(value)} {printed_unit()} in block {block_name(figure.number)}")
    lines = [size, "; ".join(worst) if worst else "no deviation" if known else ""]
    y = EDGE + CAP_HEIGHT * TITLE
    labels = [Label(name, EDGE, y, title_size, bold=True)]
    for text in lines:
        y += 1.6 * TEXT
        if text:
            labels.append(Label(text, EDGE, y, TEXT * min(1.0, width / text_width(text, TEXT))))
    return labels


def _between(
    stations: Sequence[float], figures: Sequence[BlockFigure | None], view: _View, top: float
) -> tuple[list[Stroke], list[Label]]:
    """The strip between the views: a tick at each station, block numbers, and their values if there is room."""
    strokes = [
        line(Role.LABEL, (at, y), (at, y + 1.2))
        for at in (view.place(x, 0.0)[0] for x in stations)
        for y in (top + 1.0, top + STRIP - 2.2)
    ]
    middles = [view.place((fore + aft) / 2, 0.0)[0] for fore, aft in pairwise(stations)]
    first = next((figure.number for figure in figures if figure), 1) // LETTERED * LETTERED
    numbers = [block_name(figure.number if figure else first + k, 1) for k, figure in enumerate(figures, start=1)]
    row = top + 2.6 + CAP_HEIGHT * TEXT
    labels = [
        Label(numbers[k], middles[k], row, TEXT, "middle", bold=True)
        for k in thin_out(middles, [text_width(text, TEXT, bold=True) for text in numbers])
    ]
    row += 1.5 * SMALL
    for decimals in (2, 1):
        texts = [figure.signed(decimals) if figure else "" for figure in figures]
        if len(thin_out(middles, [text_width(text, SMALL) for text in texts])) == len(texts):
            labels += [Label(text, x, row, SMALL, "middle") for text, x in zip(texts, middles, strict=True) if text]
            break
    return strokes, labels


def thin_out(places: Sequence[float], widths: Sequence[float]) -> list[int]:
    """Which of the labels centred at rising `places` to write, so that no two are closer than CLEAR: all, or every
    second, fifth, tenth ... counted from 1; the first few are left out if they are closer than the others.
    """
    if len(places) < 2:  # noqa: PLR2004 - a single one has no neighbour
        return list(range(len(places)))
    pitch, widest = float(np.median(np.diff(places))), max(widths) + CLEAR
    every = next((step for step in THINNING if step * pitch >= widest), THINNING[-1])
    kept: list[int] = []
    for k in range(len(places) - 1, -1, -1):
        if (k + 1) % every:
            continue
        if not kept or places[kept[-1]] - places[k] >= (widths[k] + widths[kept[-1]]) / 2 + CLEAR:
            kept.append(k)
    return kept[::-1]


def _places(stations: Sequence[float], view: _View, bottom: float) -> list[Label]:
    """The places of the stations, mm from the nose, written upright below the lower view."""
    at = [view.place(x, 0.0)[0] for x in stations]
    shown = thin_out(at, [SMALL] * len(at))
    texts = [plain(stations[k]) for k in shown]
    under = bottom + 2.0 + max(text_width(text, SMALL) for text in texts) + 1.5 * SMALL
    return [
        *(
            Label(text, at[k] + CAP_HEIGHT * SMALL / 2, bottom + 2.0, SMALL, "end", UPWARDS)
            for k, text in zip(shown, texts, strict=True)
        ),
        Label(f"stations, {printed_unit()} from the nose", EDGE, under, SMALL),
    ]


def _legend(tints: TintScale, width: float, *, hatched: bool) -> tuple[Drawing, float]:
    """The colour scale with the meaning of hatching beside or below it, and the height of both."""
    inset = text_width("-100", LEGEND_TEXT) / 2
    row = min(LEGEND_WIDTH, width - 2 * inset)
    areas, labels = tints.legend(inset, 0.0, row)
    height = LEGEND_HEIGHT
    if hatched:
        x, y = inset + row + 4 * LEGEND_GAP, 0.0
        text = "carved block"
        if x + CELL[0] + 2.0 + text_width(text, LEGEND_TEXT) > width:
            x, y = inset, LEGEND_HEIGHT + LEGEND_GAP
            height = y + CELL[1]
        key = shapely.box(x, y, x + CELL[0], y + CELL[1])
        areas += [patch("frame", PALE, x, y, *CELL), *area_of(NO_FIGURE.kind, NO_FIGURE.colour, key.buffer(-0.15))]
        areas += hatching(key.buffer(-0.15))
        base = y + (CELL[1] + CAP_HEIGHT * LEGEND_TEXT) / 2
        labels.append(Label(text, x + CELL[0] + 2.0, base, LEGEND_TEXT))
    return Drawing(width, height, (), tuple(labels), tuple(areas)), height
