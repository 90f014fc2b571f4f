"""What two hands do: evenly between marks, neither much faster than the other."""

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, affinity

from profiles.arrays import Floats
from profiles.blocks.blocks import Block, CutBlock
from profiles.blocks.landmarks import Landmark, mirror_ring, ring_of
from profiles.blocks.pairing import Hands, pair_faces
from profiles.blocks.ring_pairs import even_out, mirror_pair, pair_evenly
from profiles.blocks.slow_hands import slow_hands
from profiles.blocks.speeds import FASTEST, limit_speeds
from profiles.notes import NoteKind

STEPS = st.lists(st.tuples(st.floats(0, 9), st.floats(0, 9)), min_size=2, max_size=30)


def ratios(path: Floats) -> Floats:
    """Of the hands' ways on each piece of a path, the faster to the slower."""
    runs = np.diff(path, axis=0)
    runs = runs[runs.sum(axis=1) > 1e-6]
    return np.asarray(runs.max(axis=1) / np.maximum(runs.min(axis=1), 1e-12))


def test_path_on_which_one_hand_rests_is_bent_until_it_keeps_the_limit() -> None:
    """First the one hand goes 60 mm and then the other: both are kept going at 3 to 1, and meet at the ends."""
    slow = limit_speeds(np.array([(0.0, 0.0), (60.0, 0.0), (60.0, 60.0)]))
    assert ratios(slow).max() == pytest.approx(FASTEST, abs=1e-5)
    assert slow[0].tolist() == [0, 0]
    assert slow[-1].tolist() == [60, 60]
    corner = np.abs(slow - (45.0, 15.0)).sum(axis=1).min()
    assert corner < 1.0  # of paths within the limit the one that goes farthest into the corner


def test_path_within_the_limit_stays_as_it_is() -> None:
    """The same array comes back, bends and all."""
    path = np.array([(0.0, 0.0), (40.0, 20.0), (60.0, 60.0)])
    assert limit_speeds(path) is path


@given(STEPS)
def test_no_path_is_left_faster_than_the_limit_or_than_its_ends_demand(steps: list[tuple[float, float]]) -> None:
    """Whatever the path: monotone, from end to end, and no steeper, but for ways too short to matter."""
    path = np.concatenate([[(0.0, 0.0)], np.cumsum(np.array(steps) + 0.01, axis=0)])
    slow = limit_speeds(path)
    assert slow[0] == pytest.approx(path[0])
    assert slow[-1] == pytest.approx(path[-1])
    assert (np.diff(slow, axis=0) >= 0).all()
    if slow is not path:
        demanded = path[-1].max() / path[-1].min()
        assert ratios(slow).max() < max(FASTEST, demanded) * (1 + 1e-3) + 1e-3


OVAL = Polygon([(60 * math.cos(a), 25 * math.sin(a)) for a in np.linspace(0, 2 * math.pi, 81)[:-1]])
ROUND = Polygon([(30 * math.cos(a), 30 * math.sin(a)) for a in np.linspace(0, 2 * math.pi, 81)[:-1]])
LOPSIDED = Polygon([(0, -30), (50, -12), (45, 30), (-20, 34), (-38, 8)])
TURNED = affinity.rotate(affinity.scale(LOPSIDED, 0.8, 0.7, origin=(0, 0)), 14, origin=(0, 0))


def one(shape: Polygon) -> MultiPolygon:
    return MultiPolygon([shape])


def sections(fore: Polygon, aft: Polygon) -> list[tuple[float, MultiPolygon]]:
    ends = [np.array(shape.exterior.coords) for shape in (fore, aft)]
    return [(share, one(Polygon((1 - share) * ends[0] + share * ends[1]))) for share in (0.25, 0.5, 0.75)]


def test_marks_let_even_hands_keep_to_a_hull_between_a_circle_and_an_oval() -> None:
    """The middle of both is 45 by 27.5 mm through; hands that go evenly round the whole of both lie 0.65 mm off it."""
    middle = Polygon((np.array(OVAL.exterior.coords) + np.array(ROUND.exterior.coords)) / 2)
    off = []
    for ways in ([], sections(OVAL, ROUND)):
        (pair,) = pair_faces(one(OVAL), one(ROUND), between=ways).rings
        wires = Polygon((pair.fore + pair.aft) / 2)
        off.append(wires.hausdorff_distance(middle))
    assert off[0] > 0.5
    assert off[1] < 0.05


@pytest.mark.parametrize(
    ("fore", "aft"), [(LOPSIDED, TURNED), (OVAL, LOPSIDED), (LOPSIDED, ROUND), (OVAL, ROUND)], ids=["a", "b", "c", "d"]
)
def test_mirror_image_is_paired_as_the_mirror_image(fore: Polygon, aft: Polygon) -> None:
    """Every wire of the mirrored block is the mirror image of a wire of the block."""

    def mirrored(shape: Polygon) -> Polygon:
        return affinity.scale(shape, -1, 1, origin=(0, 0))

    waist = [(0.5, one(affinity.scale(TURNED, 1.1, 1.2)))]
    (pair,) = pair_faces(one(fore), one(aft), between=waist).rings
    (other,) = pair_faces(
        one(mirrored(fore)), one(mirrored(aft)), between=[(share, one(mirrored(s.geoms[0]))) for share, s in waist]
    ).rings
    wires = np.hstack([pair.fore, pair.aft])
    image = np.hstack([other.fore, other.aft]) * (-1, 1, -1, 1)
    assert len(wires) == len(image)
    assert np.linalg.norm(wires[:, None] - image, axis=2).min(axis=1).max() < 1e-6


def test_mirrored_twice_is_the_same() -> None:
    """Rings and pairs, knots and stops."""
    rings = [ring_of(shape.exterior, hollow=False, centre=0.0) for shape in (LOPSIDED, TURNED)]
    twice = mirror_ring(mirror_ring(rings[0]))
    assert np.allclose(twice.points, rings[0].points)
    assert np.allclose([corner.along for corner in twice.corners], [corner.along for corner in rings[0].corners])
    (pair,) = pair_faces(one(LOPSIDED), one(TURNED)).rings
    again = mirror_pair(mirror_pair(pair))
    assert np.allclose(again.fore, pair.fore)
    assert np.allclose(again.places, pair.places)


def test_moved_rings_are_evened_out_between_their_stops() -> None:
    """A square whose one side is drawn out: its partners move along by share of the way, and no corner is lost."""
    square = ring_of(Polygon([(-10, 0), (10, 0), (10, 20), (-10, 20)]).exterior, hollow=False, centre=0.0)
    stops = [Landmark(0, 0, "keel"), Landmark(40, 40, "deck"), Landmark(80, 80, "keel")]
    pair = pair_evenly(square, square, stops, 0, (0.0, 40.0))
    drawn = pair.aft + np.where(pair.aft[:, :1] == 10, (10.0, 0.0), 0.0) * (pair.aft[:, 1:] == 20)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(np.vstack([drawn, drawn[:1]]), axis=0).T))])
    deck = float(np.interp(40.0, pair.along_aft, along))
    moved = replace(pair, aft=drawn, along_aft=along, stops=(pair.stops[0], Landmark(40.0, deck, "deck")))
    even = even_out(moved)
    for places in (even.along_fore, even.along_aft):
        assert (np.diff(places) >= 0).all()
    shares = (
        np.interp(even.along_fore, [0, 40, 80], [0, 1, 2]),
        np.interp(even.along_aft, [0, deck, along[-1]], [0, 1, 2]),
    )
    assert np.allclose(shares[0], shares[1])
    assert {tuple(np.round(point, 9)) for point in drawn.tolist()} <= {tuple(np.round(p, 9)) for p in even.aft.tolist()}


def blocks(*hands: Hands) -> list[Block]:
    """Blocks of which only their hands are known."""
    made: list[Block] = []
    for number, each in enumerate(hands, start=1):
        block = object.__new__(CutBlock)
        object.__setattr__(block, "hands", each)
        object.__setattr__(block, "span", cast("Any", SimpleNamespace(number=number, x_fore=10.0 * number)))
        made.append(block)
    return made


def test_slow_hand_is_a_warning_that_names_its_blocks() -> None:
    """Three to one is no warning; beyond, the worst block is named."""
    assert slow_hands(blocks(Hands(1.0, rests=False), Hands(FASTEST, rests=False))) == ()
    (note,) = slow_hands(blocks(*(Hands(ratio, rests=False) for ratio in (1.0, 7.0, 12.0))))
    assert "blocks 02, 03: up to 12 to 1 in block 03" in note.text
    assert note.x == 30.0


def test_resting_hand_is_a_warning_of_its_own() -> None:
    """It names the blocks, whatever the ratio elsewhere in them."""
    (note,) = slow_hands(blocks(Hands(1.0, rests=False), Hands(2.0, rests=True)))
    assert note.kind is NoteKind.WARNING
    assert "in block 02. The wire burns a hollow where it waits" in note.text
    assert len(slow_hands(blocks(Hands(7.0, rests=True)))) == 2


@pytest.mark.parametrize(("way", "ratio"), [(1e-6, math.inf), (0.05, math.inf), (0.5, 80.0)])
def test_hand_that_hardly_moves_is_at_rest(way: float, ratio: float) -> None:
    """Over 40 mm of the other hand, a tenth of a millimetre is no movement and no ratio of speeds; half of one is."""
    square = ring_of(Polygon([(-10, 0), (10, 0), (10, 20), (-10, 20)]).exterior, hollow=False, centre=0.0)
    stops = [Landmark(0, 0, "keel"), Landmark(40, way, "deck"), Landmark(80, 80, "keel")]
    assert pair_evenly(square, square, stops, 0, (0.0, 40.0)).speed_ratios[0] == pytest.approx(ratio)


def test_pairing_knows_how_fast_hands_go_and_where_one_rests() -> None:
    """Concentric circles go at the ratio of their sizes; a hand at a point waits."""
    (near,) = pair_faces(one(OVAL), one(affinity.scale(OVAL, 0.4, 0.4, origin=(0, 0)))).rings
    assert near.speed_ratios == pytest.approx([2.5, 2.5])
    square = ring_of(Polygon([(-10, 0), (10, 0), (10, 20), (-10, 20)]).exterior, hollow=False, centre=0.0)
    stops = [Landmark(0, 0, "keel"), Landmark(40, 0, "deck"), Landmark(80, 80, "keel")]
    assert pair_evenly(square, square, stops, 0, (0.0, 40.0)).speed_ratios.tolist() == [math.inf, 2.0]
