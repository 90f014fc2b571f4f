"""Outlines that cross themselves all over are refused, before and after they are cut; no others are."""

import numpy as np
import numpy.typing as npt
import pytest
import shapely

from profiles.errors import TangledError
from profiles.hull.plugs import fill_to_plug
from profiles.hull.sections import Side, section
from profiles.hull.surface import Surface, sort_faces, surface_of
from profiles.hull.tangles import MOST_CROSSINGS, MOST_PARTS, refuse_crossings, refuse_parts, refuse_tangle
from profiles.hull.trial_sections import cut_trial_sections
from tests import closed_forms as zoo


def curls(many: int, around: int = 8) -> zoo.Floats:
    """A ring round (0, 0) that crosses itself in `many` small curls, one each, and nowhere else."""
    turns = many + 1  # one of them goes round the whole
    t = np.linspace(0, 2 * np.pi, turns * around, endpoint=False)
    size = np.pi * 60 / turns
    return np.column_stack([60 * np.cos(t) + size * np.cos(turns * t), 60 * np.sin(t) + size * np.sin(turns * t)])


def pieces_of(*rings: zoo.Floats) -> npt.NDArray[np.object_]:
    pieces: npt.NDArray[np.object_] = shapely.get_parts(
        shapely.unary_union([shapely.LinearRing(ring) for ring in rings])
    )
    return pieces


def tube(ring: zoo.Floats) -> Surface:
    vertices, faces = zoo.loft(np.array([0.0, 100.0]), np.stack([ring, ring]))
    return sort_faces(surface_of(vertices, faces, np.ones(len(faces), dtype=np.int64)))


def test_as_many_crossings_as_allowed_pass_and_one_more_does_not() -> None:
    """A ring with a known number of curls crosses itself that often; the message says so, and what to do."""
    refuse_crossings(pieces_of(curls(MOST_CROSSINGS)), 1, 12.0)
    often = MOST_CROSSINGS + 1
    with pytest.raises(TangledError, match=rf"x = 12\.00 mm crosses itself {often} times") as caught:
        refuse_crossings(pieces_of(curls(often)), 1, 12.0)
    assert "Export it again" in caught.value.remedy


def test_rings_that_run_together_do_not_cross() -> None:
    """Two rings that share 4000 edges, as two solids with a common wall do, have no crossing but where they part."""
    z = np.linspace(0, 60, 4001)
    wall = np.column_stack([3 * np.sin(z), z])
    right, left = np.vstack([wall[::-1], [(40.0, 0.0), (40.0, 60.0)]]), np.vstack([wall, [(-40.0, 60.0), (-40.0, 0.0)]])
    pieces = pieces_of(right, left)
    assert len(pieces) > 2 * MOST_CROSSINGS
    refuse_crossings(pieces, 2, 0.0)


def test_a_sample_tells_a_heap_of_lines_at_once() -> None:
    """200 000 corners at random, whose some 1e10 crossings nobody could count, are refused."""
    corners = np.random.default_rng(3).uniform(-50, 50, (200_000, 2))
    with pytest.raises(TangledError, match=r"x = 5\.00 mm crosses itself some [\d ]+ times"):
        refuse_tangle([corners], 5.0)


def test_the_sample_reckons_no_more_crossings_than_there_are() -> None:
    """A smooth line with a heap of random ones beside it: a large heap is refused, with a number below the true one."""
    chance = np.random.default_rng(4)
    smooth = np.column_stack([np.linspace(-50, 50, 400), np.full(400, 60.0)])
    for heap in (20, 60, 400):
        ring = np.vstack([smooth, chance.uniform(-50, 50, (heap, 2))])
        counted = (len(pieces_of(ring)) - 1) // 2
        refused = False
        try:
            refuse_tangle([ring], 0.0)
        except TangledError as fault:
            refused = True
            said = int(fault.message.split("some ")[1].split(" times")[0].replace(" ", ""))
            assert said <= counted
        assert refused == (heap == 400)


@pytest.mark.parametrize("shift", range(3))
def test_a_long_edge_over_many_small_ones_is_no_tangle(shift: int) -> None:
    """One line that crosses 450 waves passes, wherever the sample begins."""
    y = np.linspace(-50, 50, 451)
    waves = np.column_stack([y, np.where(np.arange(451) % 2, 1.0, -1.0)])
    ring = np.roll(np.vstack([waves, [(60.0, 0.0), (-60.0, 0.0)]]), shift, axis=0)
    refuse_tangle([ring], 0.0)
    refuse_crossings(pieces_of(ring), 1, 0.0)


def test_rings_apart_pass_whatever_their_number() -> None:
    """4000 squares side by side cross nothing."""
    square = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
    rings = [square + (2.0 * (n % 80), 2.0 * (n // 80)) for n in range(4000)]
    refuse_tangle(rings, 0.0)
    refuse_crossings(pieces_of(*rings), len(rings), 0.0)


def test_a_section_and_the_soundings_say_that_a_hull_is_a_tangle() -> None:
    """The first tangled outline ends both; one with a few curls is measured, all of it filled."""
    body = tube(curls(MOST_CROSSINGS + 1))
    with pytest.raises(TangledError):
        section(body, 40.0, Side.AFT)
    with pytest.raises(TangledError, match=r"x = 0\.20 mm"):
        cut_trial_sections(body)
    ring = curls(50)
    filled = shapely.Polygon(shapely.union_all(list(shapely.polygonize(list(pieces_of(ring))).geoms)).exterior)
    assert section(tube(ring), 40.0, Side.AFT).region.area == pytest.approx(filled.area, rel=1e-12)


def test_a_section_in_thousands_of_parts_is_refused() -> None:
    """A region of one part more than a hull may have is refused with their number; one of as many passes."""
    squares = [shapely.box(3 * k, 0, 3 * k + 1, 1) for k in range(MOST_PARTS + 1)]
    refuse_parts(shapely.MultiPolygon(squares[:-1]), 5.0)
    with pytest.raises(TangledError, match=f"x = 5.00 mm falls into {MOST_PARTS + 1} separate parts"):
        refuse_parts(shapely.MultiPolygon(squares), 5.0)


def test_many_parts_close_together_are_filled_one_by_one() -> None:
    """Hundreds of crumbs are no shell: each keeps its own area, and nothing between them is filled."""
    crumbs = [shapely.box(0.3 * j, 0.3 * k, 0.3 * j + 0.1, 0.3 * k + 0.1) for j in range(25) for k in range(25)]
    region = shapely.MultiPolygon([*crumbs, shapely.box(20, 0, 120, 1)])
    assert fill_to_plug(region).area == pytest.approx(region.area, abs=1e-9)
