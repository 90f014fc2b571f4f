"""Which point of a block's fore face goes with which of its aft face: ring by ring, and as numbered marks.

Mark      a numbered point on an outline; equal numbers on the two faces of a block are reached by the wire together
RingPair  two rings, point by point

Marks stand at the stops of the rings, at keel and deck, and in even steps between them. Between two stops both hands
move at an even speed, so marks in between change nothing.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from shapely import LinearRing, MultiPolygon, Polygon

from profiles.arrays import Floats
from profiles.blocks.correspondence import led_rings, pair_rings
from profiles.blocks.landmarks import Landmark, Ring, match_polygons, ring_of, sorted_parts, straddles
from profiles.blocks.ring_pairs import RingPair
from profiles.values import dataclass

MARKS_ROUND = 16
"""Target number of marks round one ring when no spacing is set: about one every 25 mm on a 400 mm ring."""

CLOSEST = 9.0
"""mm; on the smaller face even steps are no shorter: marks closer together need leaders."""

MOST_BETWEEN = 5
"""Most sections between the faces that the pairing uses."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A numbered point on a cut outline."""

    number: int
    y: float
    """mm."""
    z: float
    """mm."""
    kind: str
    """keel, deck, corner or even."""
    inward: tuple[float, float]
    """Unit vector from the outline into the material."""


@dataclass(frozen=True, slots=True)
class Hands:
    """How fast the hands go from mark to mark."""

    ratio: float
    """The largest ratio of their speeds, at least 1, where both move."""
    rests: bool
    """Whether one of them waits somewhere for the other."""


@dataclass(frozen=True, slots=True)
class Pairing:
    """The marks of a block's two faces, the number of parts without a partner, and the rings point by point."""

    fore: tuple[Mark, ...]
    aft: tuple[Mark, ...]
    unpaired: int
    rings: tuple[RingPair, ...] = ()
    """Empty where a face is empty."""

    @property
    def hands(self) -> "Hands":
        """How fast the hands go that follow it."""
        ratios = np.concatenate([[1.0], *(pair.speed_ratios for pair in self.rings)])
        moving = np.isfinite(ratios)
        return Hands(float(ratios[moving].max()), bool((~moving).any()))


def pair_faces(
    fore: MultiPolygon,
    aft: MultiPolygon,
    spacing: float | None = None,
    between: Sequence[tuple[float, MultiPolygon]] = (),
    guide: Sequence[RingPair] = (),
) -> Pairing:
    """The pairing of the two outlines of a block, (y, z) mm, with a mark about every `spacing` mm.

    `between` holds sections of the hull inside the block, each with its share of the way from the fore face; without
    them, stretches are paired by arc length. `guide` holds the rings of an earlier pairing of nearly the same outlines.

    Parts are paired by position, and so are the hollows of paired parts. When one face is empty, the marks of the other
    stand at its landmarks and in even steps. Numbers run on from ring to ring.
    """
    if fore.is_empty or aft.is_empty:
        lone = [pair_rings(ring, ring) for part in sorted_parts(fore if aft.is_empty else aft) for ring in _rings(part)]
        marks = _number_marks(lone, spacing)[0]
        return Pairing(marks, (), 0) if aft.is_empty else Pairing((), marks, 0)
    lines, unpaired = _matched_lines(fore, aft)
    used_sections = [lines_of_section(share, region) for share, region in spread_sections(between)]
    guides: list[RingPair | None] = [*guide] if len(guide) == len(lines) else [None] * len(lines)
    rings = tuple(_pair_lines(line, used_sections, led) for line, led in zip(lines, guides, strict=True))
    fore_marks, aft_marks = _number_marks(rings, spacing)
    return Pairing(fore_marks, aft_marks, unpaired, rings)


def pair_faces_like(
    guide: Sequence[RingPair], fore: MultiPolygon, aft: MultiPolygon, spacing: float | None = None
) -> Pairing | None:
    """The pairing of two outlines near those of the `guide`, along its paths; None where the guide does not fit."""
    lines, unpaired = _matched_lines(fore, aft)
    if len(lines) != len(guide):
        return None
    rings = []
    for line, ring_guide in zip(lines, guide, strict=True):
        pair = led_rings(*_ends(line), ring_guide)
        if pair is None:
            return None
        rings.append(pair)
    return Pairing(*_number_marks(rings, spacing), unpaired, tuple(rings))


def number_rings(rings: Sequence[RingPair], spacing: float | None = None) -> Pairing:
    """The pairing whose rings are these, with its marks; nothing is left unpaired."""
    return Pairing(*_number_marks(rings, spacing), 0, tuple(rings))


@dataclass(frozen=True, slots=True)
class MatchedLines:
    """Two closed lines that belong together."""

    fore: LinearRing
    aft: LinearRing
    part: int
    hollow: bool


def _matched_lines(fore: MultiPolygon, aft: MultiPolygon) -> tuple[list[MatchedLines], int]:
    """The lines that belong together, and the number of parts and hollows on either face without a partner."""
    lines: list[MatchedLines] = []
    parts, unpaired = match_polygons(sorted_parts(fore), sorted_parts(aft))
    for number, (fore_part, aft_part) in enumerate(parts):
        lines.append(MatchedLines(fore_part.exterior, aft_part.exterior, number, hollow=False))
        hollows, unmatched = match_polygons(
            list(map(Polygon, fore_part.interiors)), list(map(Polygon, aft_part.interiors))
        )
        unpaired += unmatched
        lines += [MatchedLines(a.exterior, b.exterior, number, hollow=True) for a, b in hollows]
    return lines, unpaired


def spread_sections(between: Sequence[tuple[float, MultiPolygon]]) -> list[tuple[float, MultiPolygon]]:
    """At most MOST_BETWEEN of the sections, spread over the block."""
    sections = sorted(
        (section for section in between if 0 < section[0] < 1 and not section[1].is_empty),
        key=lambda section: section[0],
    )
    if len(sections) <= MOST_BETWEEN:
        return sections
    targets = (np.arange(MOST_BETWEEN) + 1) / (MOST_BETWEEN + 1)
    nearest = sorted(
        {min(range(len(sections)), key=lambda n: abs(sections[n][0] - share)) for share in targets.tolist()}
    )
    return [sections[n] for n in nearest]


def _ends(lines: MatchedLines) -> tuple[Ring, Ring]:
    fore, aft = (ring_of(line, hollow=lines.hollow, centre=_centre(lines)) for line in (lines.fore, lines.aft))
    return fore, aft


def _centre(lines: MatchedLines) -> float | None:
    return 0.0 if straddles(lines.fore) and straddles(lines.aft) else None


@dataclass(frozen=True, slots=True)
class SectionLines:
    """The closed lines of a section between the faces, and the centroids of what they enclose, (n, 2) mm."""

    share: float
    outsides: list[LinearRing]
    hollows: list[LinearRing]
    outside_centres: Floats
    hollow_centres: Floats


def lines_of_section(share: float, region: MultiPolygon) -> SectionLines:
    """The lines of a region (y, z) mm that is a section at so much of the way from the fore face."""
    outsides = [part.exterior for part in region.geoms]
    hollows = [ring for part in region.geoms for ring in part.interiors]
    return SectionLines(share, outsides, hollows, _centroids(outsides), _centroids(hollows))


def _centroids(lines: Sequence[LinearRing]) -> Floats:
    return np.reshape([Polygon(line).centroid.coords[0] for line in lines], (-1, 2))


def _pair_lines(lines: MatchedLines, between: Sequence[SectionLines], guide: RingPair | None) -> RingPair:
    fore, aft = _ends(lines)
    led = led_rings(fore, aft, guide) if guide is not None else None
    if led is not None:
        return led
    rings: list[tuple[float, Ring]] = []
    for section in between:
        line = matching_line(lines, section)
        if line is not None:
            rings.append((section.share, ring_of(line, hollow=lines.hollow, centre=_centre(lines))))
    return pair_rings(fore, aft, rings, part=lines.part)


def matching_line(lines: MatchedLines, section: SectionLines) -> LinearRing | None:
    """The line of a section between the faces that belongs to the same part or hollow: the nearest centroid."""
    candidates = section.hollows if lines.hollow else section.outsides
    if len(candidates) < 2:  # noqa: PLR2004 - no choice
        return candidates[0] if candidates else None
    fore, aft = _centroids([lines.fore, lines.aft])
    centres = section.hollow_centres if lines.hollow else section.outside_centres
    off = centres - ((1 - section.share) * fore + section.share * aft)
    return candidates[int(np.hypot(*off.T).argmin())]


def _rings(part: Polygon) -> list[Ring]:
    lines = [(part.exterior, False), *((ring, True) for ring in part.interiors)]
    return [ring_of(line, hollow=hollow, centre=0.0 if straddles(line) else None) for line, hollow in lines]


def _number_marks(pairs: Sequence[RingPair], spacing: float | None) -> tuple[tuple[Mark, ...], tuple[Mark, ...]]:
    fore: list[Mark] = []
    aft: list[Mark] = []
    for pair in pairs:
        stops = _fill(pair, spacing)
        places = np.array([(stop.fore, stop.aft) for stop in stops])
        first = len(fore) + 1
        fore += _marks(pair.fore, pair.along_fore, places[:, 0], stops, first, hollow=pair.hollow)
        aft += _marks(pair.aft, pair.along_aft, places[:, 1], stops, first, hollow=pair.hollow)
    return tuple(fore), tuple(aft)


def _fill(pair: RingPair, spacing: float | None) -> list[Landmark]:
    """Where the marks stand, ascending from the keel; places may run past the end of the ring and wrap round."""
    step = spacing or max(pair.along_fore[-1], pair.along_aft[-1]) / MARKS_ROUND
    marks: list[Landmark] = []
    for start, end in pairwise(_named_stops(pair)):
        on_fore, on_aft = end.fore - start.fore, end.aft - start.aft
        pieces = max(1, min(round(max(on_fore, on_aft) / step), math.floor(min(on_fore, on_aft) / CLOSEST)))
        shares = [n / pieces for n in range(1, pieces)]
        marks.append(start)
        marks += [Landmark(start.fore + share * on_fore, start.aft + share * on_aft, "even") for share in shares]
    return marks


def _named_stops(pair: RingPair) -> list[Landmark]:
    """The stops with keel and deck, from keel to keel."""
    length_fore, length_aft = pair.places[-1].tolist()
    if pair.from_keel and any(stop.kind == "deck" for stop in pair.stops):
        return [*pair.stops, Landmark(length_fore, length_aft, "keel")]
    poles = [
        Landmark(place, float(np.interp(place, *pair.places.T)), kind)
        for place, kind in ((pair.keel, "keel"), (pair.deck, "deck"))
    ]
    clear = (length_fore + length_aft) / 100
    named = list(pair.stops)
    for pole in poles:
        near = [n for n, stop in enumerate(named) if abs(stop.fore + stop.aft - pole.fore - pole.aft) <= clear]
        if not near:
            named.append(pole)
        elif named[near[0]].kind != "keel":  # on a speck of a ring both poles are at one stop, which is the keel
            named[near[0]] = replace(named[near[0]], kind=pole.kind)
    named.sort(key=lambda stop: (stop.fore + stop.aft, stop.fore))
    first = next(n for n, stop in enumerate(named) if stop.kind == "keel")
    beyond = [Landmark(stop.fore + length_fore, stop.aft + length_aft, stop.kind) for stop in named[: first + 1]]
    return [*named[first:], *beyond]


def _marks(
    points: Floats, along: Floats, places: Floats, stops: Sequence[Landmark], first: int, *, hollow: bool
) -> list[Mark]:
    closed = np.vstack([points, points[:1]])
    length = float(along[-1])
    reach = min(1.0, length / 40)
    here, before, after = (_at(closed, along, np.mod(places + by, length)) for by in (0.0, -reach, reach))
    tangent = after - before
    size = np.hypot(tangent[:, 0], tangent[:, 1])
    size[size == 0.0] = 1.0
    left = np.column_stack([-tangent[:, 1], tangent[:, 0]]) / size[:, None] * (-1 if hollow else 1)
    return [
        Mark(number, y, z, stop.kind, (u, v))
        for number, stop, (y, z), (u, v) in zip(
            range(first, first + len(stops)), stops, here.tolist(), left.tolist(), strict=True
        )
    ]


def _at(closed: Floats, along: Floats, places: Floats) -> Floats:
    return np.column_stack([np.interp(places, along, closed[:, axis]) for axis in (0, 1)])
