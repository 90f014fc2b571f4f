"""Stages ask a Shape: bodies without a triangle are planned, cut and laid out, and agree with their closed forms."""

# ruff: noqa: D102 - what the methods answer stands at the protocol

import math
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon

from profiles import BlockSettings, Body, PageSettings, StationSettings, cut, lay_out, plan, render
from profiles.arrays import Floats
from profiles.blocks.blocks import CarvedBlock
from profiles.blocks.depth import depth_inside
from profiles.blocks.growth import PROMISED
from profiles.blocks.hull_sections import hull_cut, hull_inside
from profiles.errors import HullError
from profiles.hull.axes import Axes
from profiles.hull.frame import Hull
from profiles.hull.sections import Section, Side
from profiles.hull.shape import Definition, Shape, SpanPoints, View
from profiles.layout import fingerprint_of

ROUND = np.linspace(0, 2 * math.pi, 360, endpoint=False)
"""Places round an ellipse; a polygon of these lies within 4e-5 of the radius."""


@dataclass(frozen=True)
class Ellipsoid:
    """x^2 / a^2 + y^2 / b^2 + z^2 / c^2 = 1, its foremost point at the origin."""

    a: float = 100.0
    b: float = 30.0
    c: float = 20.0

    @property
    def bounds(self) -> tuple[Floats, Floats]:
        return np.array((0.0, -self.b, -self.c)), np.array((2 * self.a, self.b, self.c))

    def share(self, x: float) -> float:
        """Of the greatest section's breadth and depth."""
        return math.sqrt(max(0.0, 1 - (x / self.a - 1) ** 2))

    def section(self, x: float, side: Side) -> Section:
        share = self.share(x)
        ring = np.column_stack([self.b * np.cos(ROUND), self.c * np.sin(ROUND)]) * share
        return Section(x, side, MultiPolygon([Polygon(ring)] if share > 1e-6 else []))

    def points(self, x_fore: float, x_aft: float, along: int, around: int) -> Floats:
        x = x_fore + (np.arange(along) + 0.5) / along * (x_aft - x_fore)
        angle = 2 * math.pi * (np.arange(around) + 0.37) / around
        share = np.sqrt(1 - (x / self.a - 1) ** 2)[:, None]
        y, z = self.b * share * np.cos(angle), self.c * share * np.sin(angle)
        return np.column_stack([np.repeat(x, around), y.reshape(-1), z.reshape(-1)])

    def points_between(self, x_fore: float, x_aft: float) -> SpanPoints:
        return SpanPoints(self.points(x_fore, x_aft, 21, 60), self.points(x_fore, x_aft, 20, 59))

    def silhouette(self, x_fore: float, x_aft: float, view: View) -> MultiPolygon:
        x = np.linspace(max(x_fore, 0.0), min(x_aft, 2 * self.a), 400)
        across = (self.c if view is View.SIDE else self.b) * np.sqrt(np.maximum(0.0, 1 - (x / self.a - 1) ** 2))
        ring = np.concatenate([np.column_stack([x, -across]), np.column_stack([x, across])[::-1]])
        return MultiPolygon([Polygon(ring).buffer(0)])

    def critical_places(self) -> Floats | None:
        return np.array((0.0, 2 * self.a))

    def wall_between(self, x_fore: float, x_aft: float) -> float | None:  # noqa: ARG002 - it has none
        return None

    def tip_points(self, x: float) -> Floats:
        return np.zeros((1 if x in {0.0, 2 * self.a} else 0, 2))

    def definition(self) -> Definition:
        return Definition({"a": self.a, "b": self.b, "c": self.c}, ())


@dataclass(frozen=True)
class Slotted:
    """A shape less a slot, 4 mm wide and open to above and below, from x aft: there one piece becomes two."""

    whole: Ellipsoid
    begin: float = 93.0

    @property
    def bounds(self) -> tuple[Floats, Floats]:
        return self.whole.bounds

    def section(self, x: float, side: Side) -> Section:
        section = self.whole.section(x, side)
        if x < self.begin or (x == self.begin and side is Side.FORE):
            return section
        rest = section.region.difference(shapely.box(-2.0, -1000.0, 2.0, 1000.0))
        return replace(section, region=MultiPolygon(list(shapely.get_parts(rest))))

    def points_between(self, x_fore: float, x_aft: float) -> SpanPoints:
        points = self.whole.points_between(x_fore, x_aft)
        return SpanPoints(*(self._left(of) for of in (points.search, points.control)))

    def _left(self, points: Floats) -> Floats:
        return points[(points[:, 0] < self.begin) | (np.abs(points[:, 1]) > 2.0)]

    def silhouette(self, x_fore: float, x_aft: float, view: View) -> MultiPolygon:
        seen = self.whole.silhouette(x_fore, x_aft, view)
        if view is View.PLAN:
            seen = seen.difference(shapely.box(self.begin, -2.0, 1000.0, 2.0))
        return MultiPolygon(list(shapely.get_parts(seen)))

    def critical_places(self) -> Floats | None:
        return None

    def wall_between(self, x_fore: float, x_aft: float) -> float | None:
        return self.begin if x_fore <= self.begin <= x_aft else None

    def tip_points(self, x: float) -> Floats:
        return self.whole.tip_points(x)

    def definition(self) -> Definition:
        whole = self.whole.definition()
        return Definition({**whole.values, "slot": self.begin}, whole.arrays)


def hull_of(shape: Shape) -> Hull:
    low, high = shape.bounds
    length, breadth, depth = (high - low).tolist()
    return Hull(
        name="egg",
        format="none",
        unit="mm",
        unit_from="option",
        shape=shape,
        length=length,
        breadth=breadth,
        depth=depth,
        lowest=float(low[2]),
        body_count=1,
        void_count=0,
        triangles=0,
        volume=math.pi / 6 * length * breadth * depth,
        volume_from="sections",
        axes=Axes("x", "z", "low"),
    )


@cache
def ellipsoid_body() -> Body:
    hull = hull_of(Ellipsoid())
    return cut(hull, plan(hull, StationSettings(thickness=40)))


def segment(x: float, a: float, across: float) -> float:
    """Area of an ellipse of semi-axes a and `across` forward of x (closed form)."""
    u = x / a - 1
    return a * across * (math.acos(-u) + u * math.sqrt(1 - u * u))


def test_wire_cut_blocks_of_an_ellipsoid_lack_foam_nowhere() -> None:
    """Points of x^2 / a^2 + y^2 / b^2 + z^2 / c^2 = 1 that the search did not use lie inside to what is promised."""
    body = ellipsoid_body()
    assert [block.span.number for block in body.cut_blocks] == [2, 3, 4]
    for block in body.cut_blocks:
        points = Ellipsoid().points(block.span.x_fore, block.span.x_aft, 57, 211)
        assert depth_inside(block.grown.block, points).min() > -PROMISED
        assert block.grown.offset > 0.1


def test_deviation_without_growth_is_the_depth_that_the_ellipsoid_bulges() -> None:
    """Between stations at equal distance from the middle the wire is straight along x, and the hull bulges by the
    difference of semi-axes, b (1 - sqrt(1 - (h / a)^2)), at the middle of the longer semi-axis.
    """
    hull = hull_of(Ellipsoid())
    body = cut(hull, plan(hull, StationSettings(thickness=40)), BlockSettings(growth=0.0))
    middle = body.cut_blocks[1]
    assert (middle.span.x_fore, middle.span.x_aft) == (80.0, 120.0)
    assert middle.grown.deviation.missing == pytest.approx(30 * (1 - math.sqrt(1 - 0.2**2)), rel=0.01)


def test_ends_of_an_ellipsoid_are_carved_to_segments_of_ellipses() -> None:
    """Side and plan profile of the nose have the area of an ellipse's segment (closed form)."""
    nose = ellipsoid_body().blocks[0]
    assert isinstance(nose, CarvedBlock)
    for profile, across in zip(nose.tip.profiles, (20.0, 30.0), strict=True):
        assert profile.outline.finished.area == pytest.approx(segment(40.0, 100.0, across), rel=1e-3)


def test_sections_of_an_ellipsoid_give_its_volume() -> None:
    """Between two stations: pi b c times the integral of 1 - (x / a - 1)^2 (closed form), to what a polygon lacks."""
    shape = Ellipsoid()
    ends = shape.section(40.0, Side.AFT).region, shape.section(120.0, Side.FORE).region
    inside = hull_inside(hull_cut(shape), 40.0, 120.0, *ends)
    true = math.pi * 30 * 20 * (80.0 - ((20.0**3 + 60.0**3) / 3) / 100.0**2)
    assert inside.volume == pytest.approx(true, rel=1e-4)


def test_the_fingerprint_follows_the_definition() -> None:
    """Another semi-axis is another plan."""
    body = ellipsoid_body()
    other = replace(body, hull=replace(body.hull, shape=Ellipsoid(c=20.5)))
    assert fingerprint_of(body) == fingerprint_of(replace(body, hull=hull_of(Ellipsoid())))
    assert fingerprint_of(body) != fingerprint_of(other)


def test_pages_of_an_ellipsoid_are_drawn() -> None:
    """The extents along it are its own at the points too, and the templates print."""
    laid_out = lay_out(ellipsoid_body(), PageSettings())
    assert laid_out.extents is not None
    assert laid_out.extents.x[[0, -1]].tolist() == [0.0, 200.0]
    assert laid_out.extents.high[[0, -1]].tolist() == [[0.0, 0.0], [0.0, 0.0]]
    assert laid_out.extents.high.max(axis=0) == pytest.approx((30.0, 20.0), rel=1e-3)
    assert render(laid_out)["templates.pdf"].startswith(b"%PDF")


def test_a_slot_asks_for_a_station_where_it_begins() -> None:
    """The change of pieces is found in even steps, since the shape names no critical places, and put on its wall."""
    hull = hull_of(Slotted(Ellipsoid()))
    stations = plan(hull, StationSettings(thickness=40))
    assert 93.0 in stations.stations
    body = cut(hull, stations)
    before = next(block for block in body.blocks if block.span.x_aft == 93.0)
    behind = next(block for block in body.blocks if block.span.x_fore == 93.0)
    assert [len(face.outline.finished.geoms) for face in (*before.faces, *behind.faces)] == [1, 1, 2, 2]


def test_a_hull_without_triangles_says_so() -> None:
    """What needs triangles gets a reason."""
    with pytest.raises(HullError, match="egg is not made of triangles"):
        _ = hull_of(Ellipsoid()).surface
