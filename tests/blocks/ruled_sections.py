"""The section of a ruled block, by shapely: what areas and deviations are compared with."""

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from profiles.arrays import Floats
from profiles.blocks.outlines import as_multi
from profiles.blocks.ring_pairs import RingPair
from profiles.blocks.ruled import RuledBlock


def section_of(block: RuledBlock, share: float) -> MultiPolygon:
    """The section of the block, (y, z) mm, at a share of the way from its fore to its aft face; empty in a tip block.

    Where wires cross within the section it is not a simple polygon; the section is then repaired.
    """
    parts = []
    for shell in (pair for pair in block.rings if not pair.hollow):
        hollows = [pair for pair in block.rings if pair.hollow and pair.part == shell.part]
        part = Polygon(ring_at(shell, share), [ring_at(hollow, share) for hollow in hollows])
        parts.append(part if part.is_valid else shapely.make_valid(part))
    if len(parts) == 1 and isinstance(parts[0], Polygon):
        return MultiPolygon(parts)
    return as_multi(shapely.unary_union(parts))


def ring_at(pair: RingPair, share: float) -> Floats:
    """The ring (k, 2) mm at a share of the way."""
    return np.asarray((1 - share) * pair.fore + share * pair.aft)
