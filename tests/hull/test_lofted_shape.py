"""The Shape between frames: what the stages ask of it, against closed forms, another library and itself."""

import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh

from profiles import BlockSettings, Body, Hull, ReadSettings, StationSettings, cut, lay_out, plan, read, render
from profiles.arrays import Floats
from profiles.blocks.depth import depth_inside
from profiles.blocks.growth import PROMISED
from profiles.hull.frames import fair_frame
from profiles.hull.lofted_shape import LoftedShape, close_half, loft
from profiles.hull.sections import Side
from profiles.hull.shape import View
from profiles.layout import fingerprint_of
from tests.hull.tables import BREADTH, DRAUGHT, LENGTH, SKIFF, lofted, read_text, wigley, wigley_csv


def spindle(count: int = 13) -> LoftedShape:
    """A body of revolution r = 40 sin(pi x / 400), 400 mm long, from frames that are half circles."""
    angle = np.linspace(-math.pi / 2, math.pi / 2, 17)
    frames = []
    for x in np.linspace(0, 400, count).tolist():
        radius = 40 * math.sin(math.pi * x / 400)
        ring = radius * np.column_stack([np.cos(angle), np.sin(angle)])
        ring[[0, -1], 0] = 0.0
        points = ring if radius > 1e-9 else np.zeros((1, 2))
        frames.append(fair_frame(x, points, np.zeros(len(points), dtype=bool), []))
    return loft(frames, (None, None))


def test_a_spindle_has_its_volume_and_its_silhouettes() -> None:
    """Volume pi R^2 L / 2; from the side and from above it covers 4 R L / pi (closed forms)."""
    shape = spindle()
    places, weights = np.polynomial.legendre.leggauss(8)
    spans = zip(shape.x[:-1].tolist(), shape.x[1:].tolist(), strict=True)
    areas = [
        (b - a) / 2 * w * shape.section((a + b + (b - a) * p) / 2, Side.AFT).region.area
        for a, b in spans
        for p, w in zip(places.tolist(), weights.tolist(), strict=True)
    ]
    assert sum(areas) == pytest.approx(math.pi * 40**2 * 400 / 2, rel=5e-4)
    for view in View:
        assert shape.silhouette(-10, 500, view).area == pytest.approx(4 * 40 * 400 / math.pi, rel=2e-4)
        middle = shape.silhouette(100, 300, view)
        true = 2 * 40 * 2 * 400 / math.pi * math.cos(math.pi / 4)
        assert middle.area == pytest.approx(true, rel=2e-4)
        assert middle.bounds[::2] == (100.0, 300.0)


def test_points_between_stations_lie_on_the_surface() -> None:
    """In the span and on r = 40 sin(pi x / 400), to what the chords of frames leave out; none lies at a station."""
    points = spindle().points_between(130.0, 170.0)
    for x, y, z in (points.search.T, points.control.T):
        assert ((x > 130) & (x < 170)).all()
        outer = np.hypot(y, z) - 40 * np.sin(np.pi * x / 400)
        deck = np.abs(y) < 1e-9
        assert np.abs(outer[~deck]).max() < 0.02
    assert len(points.search) > 500
    assert not np.isin(points.search[:, 0], points.control[:, 0]).any()


def test_beyond_its_ends_there_is_nothing() -> None:
    """Forward of the first frame, aft of the last, and on the outer side of both."""
    shape = spindle()
    for x, side in ((-1.0, Side.AFT), (0.0, Side.FORE), (400.0, Side.AFT), (401.0, Side.FORE)):
        assert shape.section(x, side).region.is_empty
    assert shape.wall_between(0.0, 400.0) is None
    assert shape.tip_points(0.0) == pytest.approx(0.0, abs=1e-9)
    assert len(shape.tip_points(100.0)) == 0
    assert shape.critical_places() == pytest.approx([0.0, 400.0])


def test_a_transom_is_a_wall(tmp_path: Path) -> None:
    """The skiff ends flat at x = 560, where its section still has its area just forward."""
    shape = read_text(tmp_path, SKIFF).shape
    assert shape.wall_between(500.0, 560.0) == 560.0
    assert shape.wall_between(0.0, 500.0) is None
    assert shape.section(560.0, Side.FORE).region.area > 4000
    assert shape.section(560.0, Side.AFT).region.is_empty


def test_areas_on_the_centre_plane_are_none() -> None:
    """Two ovals that hang together by a line on the centre plane are two pieces of half circles (closed form)."""
    angle = np.linspace(-math.pi / 2, math.pi / 2, 181)
    oval = 10 * np.column_stack([np.cos(angle), np.sin(angle)])
    half = np.concatenate([oval - [0, 20], oval + [0, 20]])
    half[np.abs(half[:, 0]) < 1e-9, 0] = 0.0
    region = close_half(half, 0.0)
    assert len(region.geoms) == 2
    assert region.area == pytest.approx(2 * math.pi * 100, rel=1e-3)


def skin(hull: Hull) -> trimesh.Trimesh:
    """A closed mesh through points of the Wigley hull's sections, for another library to measure."""
    shape = lofted(hull)
    places = np.linspace(0, hull.length, 201).tolist()
    halves = np.array([shape.half(x) for x in places])
    rings = np.concatenate([halves, halves[:, ::-1] * [-1, 1]], axis=1)
    across = rings.shape[1]
    vertices = np.concatenate(
        [np.column_stack([np.full(across, x), ring]) for x, ring in zip(places, rings, strict=True)]
    )
    first = np.arange(across * (len(places) - 1))
    right = first // across * across + (first + 1) % across
    faces = np.concatenate(
        [np.column_stack([first, right, first + across]), np.column_stack([right, right + across, first + across])]
    )
    return trimesh.Trimesh(vertices, faces)


def test_the_volume_is_that_of_a_mesh_through_the_same_points(tmp_path: Path) -> None:
    """Trimesh measures the enclosed volume of a skin of sections 5 mm apart, and the same extents."""
    hull = read_text(tmp_path, wigley_csv())
    mesh = skin(hull)
    assert abs(mesh.volume) == pytest.approx(hull.volume, rel=5e-4)
    assert mesh.bounds == pytest.approx(np.array(hull.shape.bounds), abs=1e-6)


@cache
def wigley_body() -> Body:
    hull = read_wigley()
    return cut(hull, plan(hull, StationSettings(thickness=100)))


@cache
def read_wigley() -> Hull:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        return read_text(Path(folder), wigley_csv())


def wigley_points(x_fore: float, x_aft: float, lowest: float) -> Floats:
    """Points of the closed form between two stations."""
    x, z = np.meshgrid(np.linspace(x_fore, x_aft, 41)[1:-1], np.linspace(-DRAUGHT, 0, 60))
    y = wigley(x, z)
    return np.column_stack([x.ravel(), y.ravel(), z.ravel() + lowest + DRAUGHT])


def test_wire_cut_blocks_of_the_table_lack_foam_nowhere() -> None:
    """Points of the closed form, which nothing was made from, lie inside every block that two templates cut, to what is
    promised of a block and 0.1 mm of the table.
    """
    body = wigley_body()
    assert len(body.cut_blocks) >= 6
    for block in body.cut_blocks:
        points = wigley_points(block.span.x_fore, block.span.x_aft, body.hull.lowest)
        assert depth_inside(block.grown.block, points).min() > -PROMISED - 0.1


def test_pages_of_a_table_are_drawn_and_measured() -> None:
    """All stages after reading, as with a mesh."""
    files = render(lay_out(wigley_body()))
    assert files["templates.pdf"].startswith(b"%PDF")


def test_the_fingerprint_follows_every_figure(tmp_path: Path) -> None:
    """Another height of the stem, which is at no station, is another plan."""
    prints = set()
    for text in (SKIFF, SKIFF.replace("98, 55, 30", "98, 56, 30"), SKIFF):
        hull = read_text(tmp_path, text)
        stations = plan(hull, StationSettings(thickness=280))
        prints.add(fingerprint_of(cut(hull, stations, BlockSettings(growth=0.0))))
    assert len(prints) == 2


def round_trip_table(hull: Hull, stations: Floats, heights: Floats) -> str:
    """Half-breadths of a hull's starboard side at stations and waterlines, with keel and sheer, as CSV."""
    sections = [hull.shape.section(x, Side.AFT).region for x in stations.tolist()]
    rows = [["unit", "mm"], ["place", *map(repr, stations.tolist())]]
    rows.append(["keel height", *(repr(region.bounds[1]) for region in sections)])
    rows.append(["sheer height", *(repr(region.bounds[3]) for region in sections)])
    rows.append(["sheer half-breadth", *("0" for _ in sections)])
    for z in heights.tolist():
        line = shapely.LineString([(0, z), (500, z)])
        cuts = [region.intersection(line) for region in sections]
        rows.append([f"waterline {z!r}", *("" if cut.is_empty else repr(cut.bounds[2]) for cut in cuts)])
    return "\n".join(map(",".join, rows))


def test_a_demo_written_as_a_table_comes_back(tmp_path: Path) -> None:
    """Pelloway, a round body: its sections every 10 mm at 31 heights, read again. The demo has 48 sides, the table's
    hull is round: 56.3 (1 - cos(pi / 48)) = 0.12 mm between them is expected, more where a waterline grazes the keel.
    """
    demo = read("models/pelloway.glb", ReadSettings(length_axis="z", up="y", nose="high"))
    stations = np.arange(50.0, 521.0, 10.0)
    low, high = demo.shape.bounds
    again = read_text(tmp_path, round_trip_table(demo, stations, np.linspace(low[2], high[2], 33)[1:-1]))
    apart = []
    for x in np.arange(55.0, 520.0, 15.0).tolist():
        old = demo.shape.section(x, Side.AFT).region
        new = again.shape.section(x - 50, Side.AFT).region
        new = shapely.affinity.translate(new, 0.0, old.bounds[1] - new.bounds[1])
        apart.append(shapely.hausdorff_distance(old.boundary, new.boundary))
    assert max(apart) < 0.3
    assert float(np.median(apart)) < 0.13


def section_path(region: shapely.MultiPolygon, x: float, middle: float) -> str:
    """A whole section as a closed path of straight pieces, y down."""
    points = shapely.get_coordinates(region.geoms[0].exterior)[:-1] * [1, -1] + [middle, 100.0]
    data = " L ".join(f"{y:.6f} {z:.6f}" for y, z in points)
    return f'<path id="x{x:g}" d="M {data} Z"/>'


def test_a_demo_written_as_a_drawing_comes_back(tmp_path: Path) -> None:
    """The flying boat's sections every 15 mm aft of its step, drawn as they are, with the mesh's flats: between them
    within 0.15 mm, at them within 0.05 mm.
    """
    demo = read("models/skerrywing.stl")
    stations = np.arange(450.0, 751.0, 15.0).tolist()
    paths = [section_path(demo.shape.section(x, Side.AFT).region, x, 100.0) for x in stations]
    centre = '<line id="centre" x1="100" y1="0" x2="100" y2="200"/>'
    size = 'width="200mm" height="200mm" viewBox="0 0 200 200"'
    text = f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{centre}{"".join(paths)}</svg>'
    again = read_text(tmp_path, text, ReadSettings(nose="low"), name="hull.svg")
    for x in np.arange(450.0, 750.0, 7.5).tolist():
        old = demo.shape.section(x, Side.AFT).region
        new = again.shape.section(x - 450, Side.AFT).region
        new = shapely.affinity.translate(new, 0.0, old.bounds[3] - new.bounds[3])
        apart = shapely.hausdorff_distance(old.boundary, new.boundary)
        assert apart < (0.05 if x % 15 == 0 else 0.15), x


def test_lengths_are_those_of_the_table() -> None:
    """Breadth and length come from the lines themselves."""
    hull = read_wigley()
    assert (hull.length, hull.breadth) == pytest.approx((LENGTH, BREADTH), abs=0.01)
