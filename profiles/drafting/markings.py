"""Markings: artwork placed on a side of the body and laid along its skin.

Along the girth lengths are true; along the body every point keeps its station, so that equal stations of paper and body
lie on each other, and the paper is shorter than the skin by the lengthwise stretch that is reported. Seen square from
its side the marking looks as it was drawn.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from profiles.arrays import Floats
from profiles.blocks.body import Body
from profiles.drafting.settings import Marking
from profiles.drafting.skinplace import SeenSpan, seen_span
from profiles.errors import HullError, JobError
from profiles.hull.formats.artwork import Artwork, read_artwork
from profiles.values import dataclass

SPACING = 1.0
"""mm between points along a line before it is laid on the skin: a chord on a radius of 20 mm leaves out 0.006."""

MOST_BYTES = 5_000_000
"""Of an artwork; a larger file holds pictures."""

TOUCH = 1e-6
"""mm; nearer to a station a point lies on it."""


@dataclass(frozen=True, slots=True)
class LaidLine:
    """A piece of a line on one block."""

    block: int
    """Position among the blocks, from 0 at the nose."""
    seen: Floats
    """(n, 2) mm: x, and z or y, as it is seen square from the side."""
    laid: Floats
    """(n, 2) mm: x, and girth from the middle line, upwards as seen."""
    closed: bool


@dataclass(frozen=True, slots=True)
class LaidMarking:
    """A marking laid along the skin."""

    name: str
    marking: Marking
    side: str
    middle: float
    """z mm of its middle, for starboard and port; y for top and bottom."""
    lines: tuple[LaidLine, ...]
    stretch: float
    """Largest share by which the skin is longer than the paper, along the body."""
    gap: float
    """mm; the widest step of a line where it crosses a station."""
    pictures: int
    over: tuple[str, ...] = ()
    """Names of what is cut out of the blocks under it."""

    @property
    def extents(self) -> tuple[float, float, float, float]:
        """Least x and girth, greatest x and girth, mm."""
        points = np.concatenate([line.laid for line in self.lines])
        (x0, v0), (x1, v1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
        return x0, v0, x1, v1

    @property
    def turned(self) -> bool:
        """Whether the nose is on the right as it is seen."""
        return self.side == "starboard"


def lay_marking(body: Body, marking: Marking) -> tuple[LaidMarking, ...]:
    """A marking on its side, and on the other side where that is wanted.

    Raises JobError for artwork that cannot be read and for a marking that leaves the body.
    """
    artwork = _artwork(marking)
    sides = [marking.side]
    if marking.other_side != "none":
        sides.append("port" if marking.side == "starboard" else "starboard")
    laid = []
    for number, side in enumerate(sides):
        mirror = marking.mirror != (number > 0 and marking.other_side == "mirrored")
        name = f"{marking.name} {side}" if len(sides) > 1 else marking.name
        laid.append(_lay(body, replace(marking, mirror=mirror), side, name, artwork))
    return tuple(laid)


def _artwork(marking: Marking) -> Artwork:
    try:
        data = Path(marking.file).read_bytes()
    except OSError as fault:
        message = f"marking {marking.name}: the artwork {marking.file} cannot be read: {fault.strerror}"
        raise JobError(message, remedy="Check file under [[markings]].") from None
    if len(data) > MOST_BYTES:
        message = f"marking {marking.name}: the artwork is {len(data):,} bytes long; expected at most {MOST_BYTES:,}"
        raise JobError(message, remedy="Take pictures out of it, and simplify its paths.")
    try:
        return read_artwork(data)
    except HullError as fault:
        message = f"marking {marking.name}: {fault.message}"
        raise JobError(message, remedy=fault.remedy) from None


def placed_lines(marking: Marking, side: str, artwork: Artwork) -> list[tuple[Floats, bool]]:
    """The lines of the artwork as they are seen square from a side: (x, z) or (x, y) mm, and whether each is closed."""
    scale = 1.0 if marking.width is None else marking.width / max(artwork.width, TOUCH)
    angle = np.radians(marking.turn)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    flip = np.array([-1.0 if marking.mirror else 1.0, 1.0])
    # The right of the artwork looks forward on starboard, aft elsewhere; its top is up, on top starboard, below port.
    way = {"starboard": (-1.0, 1.0), "port": (1.0, 1.0), "top": (1.0, 1.0), "bottom": (1.0, -1.0)}[side]
    across = marking.z if side in {"starboard", "port"} else marking.y
    move = np.array([marking.x, across])
    return [((points * flip * scale) @ turn.T * way + move, closed) for points, closed in artwork.lines]


def _lay(body: Body, marking: Marking, side: str, name: str, artwork: Artwork) -> LaidMarking:
    middle = marking.z if side in {"starboard", "port"} else marking.y
    lines = placed_lines(marking, side, artwork)
    every = np.concatenate([points for points, _ in lines])
    stations = np.array(body.stations.stations)
    spans = _spans(body, side, middle, float(every[:, 0].min()), float(every[:, 0].max()))
    pieces = []
    for points, closed in lines:
        for block, seen, whole in _pieces(points, stations, closed=closed):
            girth = [_girth(spans.get(block), x, across, side, name) for x, across in seen.tolist()]
            pieces.append(LaidLine(block, seen, np.column_stack([seen[:, 0], girth]), whole))
    girths = np.concatenate([piece.laid[:, 1] for piece in pieces]) * (-1.0 if side == "bottom" else 1.0)
    low, high = float(girths.min()), float(girths.max())
    stretch = max(span.lengthwise(low, high) for span in spans.values())
    laid = LaidMarking(name, marking, side, middle, tuple(pieces), stretch, 0.0, artwork.pictures)
    return replace(laid, gap=_widest_gap(laid, stations), over=_cut_out_under(body, laid, spans))


def _spans(body: Body, side: str, middle: float, low: float, high: float) -> dict[int, SeenSpan]:
    """The sections of every block that a marking from low to high mm touches."""
    spans = {}
    for k, (x_fore, x_aft) in enumerate(pairwise(body.stations.stations)):
        if x_fore <= high and x_aft >= low:
            try:
                span = seen_span(body.hull.shape, side, middle, max(x_fore, low - 1.0), min(x_aft, high + 1.0))
            except HullError as fault:
                raise JobError(fault.message, remedy=fault.remedy) from None
            if span is not None:
                spans[k] = span
    return spans


def _girth(span: SeenSpan | None, x: float, across: float, side: str, name: str) -> float:
    girth = span.laid(x, across) if span is not None else None
    if girth is None:
        axis = "z" if side in {"starboard", "port"} else "y"
        message = f"the marking {name} leaves the body at x = {x:.1f}, {axis} = {across:.1f} mm, seen from {side}"
        raise JobError(message, remedy="Move it, or make it smaller.")
    return -girth if side == "bottom" else girth


def _pieces(points: Floats, stations: Floats, *, closed: bool) -> Iterator[tuple[int, Floats, bool]]:
    """The pieces of a line between stations, with points close together and on every station that it crosses.

    Yields the block, the points, and whether the piece is the whole of a closed line.
    """
    path = np.vstack([points, points[:1]]) if closed else points
    dense = [path[:1]]
    for a, b in pairwise(path):
        count = max(1, int(np.ceil(np.hypot(*(b - a)) / SPACING)))
        shares = np.linspace(0.0, 1.0, count + 1)[1:]
        if abs(b[0] - a[0]) > TOUCH:
            crossed = (stations - a[0]) / (b[0] - a[0])
            shares = np.union1d(shares, crossed[(crossed > TOUCH) & (crossed < 1 - TOUCH)])
        dense.append(a + shares[:, None] * (b - a))
    whole = np.concatenate(dense)
    middles = (whole[:-1, 0] + whole[1:, 0]) / 2
    blocks = np.clip(np.searchsorted(stations, middles, side="right") - 1, 0, len(stations) - 2)
    changes = [0, *(np.flatnonzero(np.diff(blocks)) + 1), len(blocks)]
    if closed and len(changes) == 2:  # noqa: PLR2004 - all on one block
        yield int(blocks[0]), whole[:-1], True
        return
    for first, last in pairwise(changes):
        yield int(blocks[first]), whole[first : last + 1], False


def _widest_gap(laid: LaidMarking, stations: Floats) -> float:
    """The widest difference of girth between the two sides of a station, where a line crosses it; mm."""
    ends: dict[tuple[float, float], list[float]] = {}
    for line in laid.lines:
        if line.closed:
            continue
        for k in (0, -1):
            x, across = line.seen[k].tolist()
            if np.abs(stations - x).min() < TOUCH:
                ends.setdefault((round(x, 6), round(across, 6)), []).append(float(line.laid[k, 1]))
    return max((max(girths) - min(girths) for girths in ends.values()), default=0.0)


def _cut_out_under(body: Body, laid: LaidMarking, spans: dict[int, SeenSpan]) -> tuple[str, ...]:
    """Names of what is cut out of a block where a marking lies on it, by the extents of what is taken away."""
    names: list[str] = []
    for line in laid.lines:
        into = body.blocks[line.block].into if line.block < len(body.blocks) else None
        if into is None or not len(into.taken[0]):
            continue
        low, high = into.taken[0].min(axis=0), into.taken[0].max(axis=0)
        axis = 2 if laid.side in {"starboard", "port"} else 1
        facing = {"starboard": high[1], "port": -low[1], "top": high[2], "bottom": -low[2]}[laid.side]
        inside = (line.seen >= low[[0, axis]]).all(axis=1) & (line.seen <= high[[0, axis]]).all(axis=1)
        skin = _outwards(spans[line.block], laid.side, line.seen[inside][:1])
        if inside.any() and skin is not None and skin <= facing + 1.0:
            names += into.names or ("a cut-out",)
    return tuple(dict.fromkeys(names))


def _outwards(span: SeenSpan, side: str, seen: Floats) -> float | None:
    """How far out the skin lies at the first of some places, mm towards that side."""
    for x, across in seen.tolist():
        section = span.sections[int(np.clip(np.searchsorted(span.x, x), 0, len(span.x) - 1))]
        place = section.place(across)
        if place is not None:
            y, z = place[1].tolist()
            return float({"starboard": y, "port": -y, "top": z, "bottom": -z}[side])
    return None


def lay_markings(body: Body, markings: Sequence[Marking]) -> tuple[LaidMarking, ...]:
    """All markings of a job. Raises JobError."""
    return tuple(laid for marking in markings for laid in lay_marking(body, marking))
