"""How deep points lie in a block of many pieces."""

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon

from profiles.blocks.depth import depth_inside
from profiles.blocks.pairing import pair_faces
from profiles.blocks.ruled import RuledBlock


@pytest.mark.parametrize("pieces", [3, 5, 24])
def test_depth_among_many_pieces_is_the_distance_to_the_nearest_edge(pieces: int) -> None:
    """Straight pieces with a hollow each, and points in, between and far off; shapely measures the distances."""
    squares = [shapely.box(15 * (n % 6), 15 * (n // 6), 15 * (n % 6) + 10, 15 * (n // 6) + 8) for n in range(pieces)]
    region = MultiPolygon([square.difference(square.centroid.buffer(2.0)) for square in squares])
    block = RuledBlock(0.0, 40.0, pair_faces(region, region).rings)
    chance = np.random.default_rng(4)
    x, y, z = (chance.uniform(low, high, 2000) for low, high in ((0, 40), (-30, 120), (-20, 80)))
    points = np.column_stack([x, y, z])
    flat = shapely.points(points[:, 1:])
    side = np.where(shapely.contains(region, flat), 1.0, -1.0)
    assert depth_inside(block, points) == pytest.approx(side * shapely.distance(region.boundary, flat), abs=1e-9)
