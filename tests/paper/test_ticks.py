"""Numbered marks on plain shapes: every number belongs to one tick, and no leader crosses another."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiPolygon, Point, Polygon

from profiles.blocks.pairing import Mark
from profiles.paper.drawing import Label, Points, Role, Stroke
from profiles.paper.placing import Occupied, Rect
from profiles.paper.ticks import LANDMARK_TICK, LEAST_TICK, TICK, Ticks, draw_marks, ticks_of

FAR = 1.2
"""mm; a number further than this from its line would belong to nothing for the eye."""


@dataclass
class Card:
    """A sheet with one shape on it, in the frame of the marks."""

    cut: MultiPolygon
    strokes: list[Stroke] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)

    @property
    def box(self) -> Rect:
        """With room all round."""
        left, top, right, bottom = self.cut.bounds
        return left - 20, top - 20, right + 20, bottom + 20

    def to_sheet(self, points: Points) -> Points:
        """The frame of the marks is that of the sheet."""
        return points


def marked(shape: Polygon, places: Sequence[float], kind: str = "even") -> tuple[Card, Ticks]:
    """The shape with marks at places along its edge in mm, drawn."""
    card = Card(MultiPolygon([shape]))
    marks = []
    for number, place in enumerate(places, start=1):
        before, here, after = (
            shape.exterior.interpolate((place + by) % shape.exterior.length) for by in (-0.1, 0, 0.1)
        )
        along = np.array([after.x - before.x, after.y - before.y]) / before.distance(after)
        inward = np.array([-along[1], along[0]])
        if not shape.contains(Point(here.x + 0.02 * inward[0], here.y + 0.02 * inward[1])):
            inward = -inward
        marks.append(Mark(number, here.x, here.y, kind, (inward[0], inward[1])))
    ticks = ticks_of(card, marks)
    draw_marks(card, Occupied([shapely.get_coordinates(shape.exterior), *ticks.lines]), ticks)
    return card, ticks


def lines_and_rects(card: Card, ticks: Ticks) -> tuple[list[shapely.Geometry], list[Polygon]]:
    """Of each tick its lines, its leader included, and what its number covers: figures stand on the base line."""
    lines = [LineString(tick) for tick in ticks.lines]
    for stroke in card.strokes[len(lines) :]:
        owner = np.argmin(np.linalg.norm(ticks.lines - stroke.points[0], axis=2).min(axis=1))
        lines[owner] = shapely.union(lines[owner], LineString(stroke.points))
    by_text = {label.text: label.extent() for label in card.labels}
    boxes = {text: shapely.box(x0, y0 + 0.2, x1, y1 - 0.7) for text, (x0, y0, x1, y1) in by_text.items()}
    return lines, [boxes[text] for text in ticks.texts]


def assert_clear(card: Card, ticks: Ticks) -> None:
    """Each number is at its line and further from all others, and leaders cross neither lines nor numbers."""
    lines, rects = lines_and_rects(card, ticks)
    away = shapely.distance(np.array(rects)[:, None], np.array(lines)[None])
    near = away.diagonal().copy()
    np.fill_diagonal(away, np.inf)
    assert near.max() < FAR
    assert (near < away.min(axis=1, initial=np.inf)).all()
    assert not shapely.crosses(np.array(lines)[:, None], np.array(lines)[None]).any()


WEDGE = Polygon([(0, 0), (20, -60), (-20, -60)])
"""A keel: its sides meet at the origin, the end of the edge."""


@pytest.mark.parametrize("apart", [0.3, 0.5, 1.0, 2.0])
def test_close_marks_at_a_keel_have_leaders_of_their_own(apart: float) -> None:
    """Marks at the point of a wedge and just beside it."""
    length = WEDGE.exterior.length
    card, ticks = marked(WEDGE, [0.0, apart, 30.0, length - 30.0, length - apart])
    assert len(ticks.texts) == 5
    assert_clear(card, ticks)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0.0, 240.0), min_size=1, max_size=24, unique_by=lambda place: round(place / 1.5)))
@example([0.0, 1.6, 3.2, 4.8, 6.4, 8.0])
def test_numbers_round_a_disc_belong_to_their_ticks(places: list[float]) -> None:
    """Marks in any order round a disc of 80 mm, some as close as a millimetre."""
    card, ticks = marked(Point(0, 0).buffer(40.0, 64), places)
    assert_clear(card, ticks)
    assert sorted(label.text for label in card.labels) == sorted(ticks.texts)


def test_marks_at_one_place_share_a_tick() -> None:
    """Where a hand rests, one tick carries all the numbers."""
    card, ticks = marked(Point(0, 0).buffer(40.0, 64), [50.0, 100.0, 100.05, 100.1, 150.0])
    assert ticks.texts == ("1", "2 to 4", "5")
    assert sum(stroke.role is Role.MARK for stroke in card.strokes) == 3


def test_marks_of_a_ring_meet_across_its_start() -> None:
    """The last mark at the place of the first is on the same tick."""
    assert marked(WEDGE, [0.0, 40.0, WEDGE.exterior.length - 0.1])[1].texts == ("1, 3", "2")


@pytest.mark.parametrize("thickness", [0.2, 0.8, 2.0, 4.0, 9.0])
def test_ticks_end_halfway_through_a_thin_piece(thickness: float) -> None:
    """A tick that came out at the far edge would mark that edge too."""
    strip = shapely.box(0, 0, 200, thickness)
    lengths = np.linalg.norm(np.diff(marked(strip, [50.0, 100.0, 320.0])[1].lines, axis=1), axis=-1)
    expected = TICK if thickness > TICK else max(thickness / 2, LEAST_TICK)
    assert lengths.ravel() == pytest.approx(expected)


@pytest.mark.parametrize("thickness", [0.8, 2.0, 4.0])
def test_numbers_of_a_thin_piece_stand_outside_at_their_edge(thickness: float) -> None:
    """Five marks on each of the two long edges."""
    strip = shapely.box(0, 0, 200, thickness)
    places = [along + side for side in (0.0, 200.0 + thickness) for along in (20.0, 60.0, 100.0, 140.0, 180.0)]
    card, ticks = marked(strip, [*places, 200.0 + thickness / 2])
    assert_clear(card, ticks)
    _, rects = lines_and_rects(card, ticks)
    assert not any(rect.intersects(strip) for rect in rects)


def test_ticks_that_would_cross_end_before_they_meet() -> None:
    """Two landmarks 1 mm from the corner of a square; their ticks would cross there at 1 mm from each edge."""
    square = shapely.box(0, 0, 100, 100)
    corner = 100.0  # along the edge from (100, 0), where the box starts
    card, ticks = marked(square, [corner - 1.0, corner + 1.0, 250.0], kind="keel")
    lengths = np.linalg.norm(np.diff(ticks.lines, axis=1), axis=-1).ravel()
    assert lengths == pytest.approx([0.6, 0.6, LANDMARK_TICK])
    assert_clear(card, ticks)


def test_a_number_stays_on_its_own_piece() -> None:
    """A fin that touches a disc: its number does not stand on the disc."""
    fin = Polygon([(40.2, -0.6), (80, -0.6), (80, 0.6), (40.2, 0.6)])
    disc = Point(0, 0).buffer(40.0, 64)
    card = Card(MultiPolygon([disc, fin]))
    ticks = ticks_of(card, [Mark(1, 40.2, 0.0, "corner", (1.0, 0.0))])
    assert ticks.pieces.tolist() == [1]
    draw_marks(card, Occupied([shapely.get_coordinates(part.exterior) for part in card.cut.geoms]), ticks)
    (label,) = card.labels
    assert not disc.intersects(Point(label.x, label.y))
