"""The pieces of a block: what hangs together between its faces, each with its own sections.

A fin beside a hull is a piece, and so are the two legs of a fork. A piece may begin, end, split or join in the block.
"""

from collections.abc import Sequence

import shapely
from shapely import MultiPolygon

from profiles.blocks.features import Sections, trace
from profiles.blocks.hull_sections import Cut
from profiles.values import dataclass


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of a block."""

    sections: tuple[tuple[float, MultiPolygon], ...]
    """Share of the way from the fore to the aft face, and what the section shows of the piece, (y, z) mm, which may be
    nothing; the faces come first and last."""
    area: MultiPolygon
    """All that it covers, seen along the hull, (y, z) mm."""

    @property
    def fore(self) -> MultiPolygon:
        """Its fore face."""
        return self.sections[0][1]

    @property
    def aft(self) -> MultiPolygon:
        """Its aft face."""
        return self.sections[-1][1]


def pieces_of(sections: Sections) -> list[Piece]:
    """The pieces of a block, that with the largest volume first."""
    tracks = trace([list(region.geoms) for _, region in sections])
    pieces = []
    for track in tracks:
        regions = [
            (share, MultiPolygon([part for place, part in track if place == number]))
            for number, (share, _) in enumerate(sections)
        ]
        pieces.append(Piece(tuple(regions), _covered([part for _, part in track])))
    return sorted(pieces, key=lambda piece: (-sum(region.area for _, region in piece.sections), piece.area.bounds))


def cut_of(piece: Piece, others: Sequence[Piece], cut: Cut, x_fore: float, thickness: float) -> Cut:
    """The sections of one piece alone, at x in mm; None where the hull cannot be closed.

    A part of a section belongs to the piece that it shares most with, in the nearest section that is known.
    """
    shares = [share for share, _ in piece.sections]

    def own(x: float) -> MultiPolygon | None:
        region = cut(x)
        if region is None:
            return None
        share = (x - x_fore) / thickness
        after = next((n for n, known in enumerate(shares) if known >= share), len(shares) - 1)
        near = (max(0, after - 1), after)
        return MultiPolygon(
            [
                part
                for part in region.geoms
                if _shared(piece, part, near) > max((_shared(other, part, near) for other in others), default=0.0)
            ]
        )

    return own if others else cut


def _shared(piece: Piece, part: shapely.Polygon, near: Sequence[int]) -> float:
    return float(sum(part.intersection(piece.sections[n][1]).area for n in near))


def _covered(parts: Sequence[shapely.Polygon]) -> MultiPolygon:
    whole = shapely.union_all(list(parts))
    return MultiPolygon([part for part in shapely.get_parts(whole) if isinstance(part, shapely.Polygon)])
