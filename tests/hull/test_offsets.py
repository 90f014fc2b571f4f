"""Tables of offsets: hulls of closed form, a published ship, units, and every fault with its row and column."""

import gzip
import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import Point

from profiles import ReadSettings, read
from profiles.arrays import Floats
from profiles.errors import HullError
from profiles.hull.formats.offsets import read_offsets
from profiles.hull.lofted_shape import LoftedShape
from profiles.hull.sections import Side
from profiles.notes import NoteKind
from tests.hull import series_60
from tests.hull.tables import BREADTH, DRAUGHT, LENGTH, SKIFF, grid_csv, lofted, read_text, wigley, wigley_csv


def off_wigley(shape: LoftedShape, lowest: float, x: float) -> float:
    """The greatest distance along y of a section's points from the Wigley hull, mm; `lowest` is z of its keel."""
    half = shape.half(x)
    return float(np.abs(half[:, 0] - wigley(x, half[:, 1] - lowest - DRAUGHT)).max())


def test_wigley_hull_of_11_stations_and_7_waterlines_has_its_volume(tmp_path: Path) -> None:
    """4 L B T / 9 (closed form), to 0.2 %."""
    hull = read_text(tmp_path, wigley_csv())
    assert hull.volume == pytest.approx(4 * LENGTH * BREADTH * DRAUGHT / 9, rel=0.002)
    assert (hull.length, hull.breadth, hull.depth) == pytest.approx((LENGTH, BREADTH, DRAUGHT), abs=1e-6)


def test_wigley_sections_are_true_at_and_between_stations(tmp_path: Path) -> None:
    """Every section lies within 0.1 mm of the closed form at a breadth of 100 mm."""
    hull = read_text(tmp_path, wigley_csv())
    places = np.linspace(0, LENGTH, 401)[1:-1].tolist()
    assert max(off_wigley(lofted(hull), hull.lowest, x) for x in places) < 0.1
    middle = hull.shape.section(550.0, Side.AFT).region
    true = 2 * BREADTH / 2 * (1 - 0.1**2) * DRAUGHT * 2 / 3
    assert middle.area == pytest.approx(true, rel=1e-3)


def fish(x: float, z: float) -> float:
    """A hull that is no polynomial: (B / 2) sin(pi x / L) cos(pi z / (2 T))."""
    return 50 * math.sin(math.pi * x / LENGTH) * math.cos(math.pi * z / (2 * DRAUGHT))


def off_fish(tmp_path: Path, stations: int, waterlines: int) -> float:
    """The greatest distance along y of sections between stations from that hull, mm."""
    x, z = np.linspace(0, LENGTH, stations).tolist(), np.linspace(-DRAUGHT, 0, waterlines).tolist()
    hull = read_text(tmp_path, grid_csv(fish, x, z))
    worst = 0.0
    for at in np.linspace(0, LENGTH, 173)[1:-1].tolist():
        for y, height in lofted(hull).half(at).tolist():
            worst = max(worst, abs(y - fish(at, height - hull.lowest - DRAUGHT)))
    return worst


def test_sections_converge_with_the_fourth_power_of_the_spacing(tmp_path: Path) -> None:
    """Twice the stations and waterlines leave about a sixteenth of the distance from the closed form."""
    errors = [off_fish(tmp_path, n, m) for n, m in ((6, 4), (11, 7), (21, 13))]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert (orders > 3.4).all(), (errors, orders)


def test_the_table_itself_is_met_to_a_thousandth_of_a_mm(tmp_path: Path) -> None:
    """Each half-breadth of the skiff and of the Wigley hull lies on its section, on both sides of a station."""
    hull = read_text(tmp_path, wigley_csv())
    for x in np.linspace(0, LENGTH, 11)[1:-1].tolist():
        for z in np.linspace(-DRAUGHT, 0, 7).tolist():
            point = Point(float(wigley(x, z)), z + hull.lowest + DRAUGHT)
            for side in Side:
                assert hull.shape.section(x, side).region.boundary.distance(point) < 0.001
    hull = read_text(tmp_path, SKIFF, ReadSettings(datum=0.0))
    table = read_offsets(SKIFF.strip().encode())
    rows = {(row.line, row.measure): row.values for row in table.rows}
    rise = float(rows["sheer", "height"][2]) - hull.shape.section(260.0, Side.AFT).region.bounds[3]
    for column, x in enumerate(table.places.tolist()):
        outline = hull.shape.section(x + 60, Side.FORE).region.boundary
        for line in ("keel", "knuckle chine", "sheer"):
            y, z = rows.get((line, "half-breadth"), np.zeros(6))[column], rows[line, "height"][column]
            assert outline.distance(Point(y, z - rise)) < 0.001


def turns(half: Floats) -> Floats:
    """Degrees by which an outline turns at each of its inner points."""
    way = np.diff(half, axis=0)
    angle = np.degrees(np.arctan2(way[:, 1], way[:, 0]))
    return np.asarray(np.abs((np.diff(angle) + 180) % 360 - 180))


@pytest.mark.parametrize("x", [60.0, 111.0, 260.0, 333.3, 559.0])
def test_a_hard_chine_stays_sharp(tmp_path: Path, x: float) -> None:
    """One point of the half section turns by many degrees, all others together by few."""
    shape = lofted(read_text(tmp_path, SKIFF))
    half = shape.half(x)
    chine = int(shape.places.borders[1])
    angles = np.zeros(len(half))
    angles[1:-1] = turns(half)
    assert angles[chine] > 15
    assert np.delete(angles, chine).max() < 2


@pytest.mark.parametrize("x", [35.0, 45.0, 100.0, 300.0, 660.0])
def test_a_chine_that_begins_on_the_stem_is_sharp_from_there_on(x: float) -> None:
    """The demo's chine meets the stem between its stations, 7 in or 29.63 mm behind the nose at 1:6."""
    shape = lofted(read("models/dunnockle.csv", ReadSettings(scale=1 / 6)))
    chine = int(shape.places.borders[1])
    angles = turns(shape.half(x))
    assert angles[chine - 1] > 5
    assert np.delete(angles, chine - 1).max() < 1.5
    before = shape.half(29.0)
    assert before[: chine + 1, 0] == pytest.approx(0.0, abs=1e-9)


def test_sections_of_flat_strakes_are_flat(tmp_path: Path) -> None:
    """Between keel, chine and sheer the skiff has no points: its frames are straight, between stations to 0.05 mm."""
    shape = lofted(read_text(tmp_path, SKIFF))
    for x in np.linspace(1, 559, 60).tolist():
        half = shape.half(x)
        for first, last in zip(shape.places.borders[:-1], shape.places.borders[1:], strict=True):
            line = shapely.LineString(half[[first, last]])
            assert shapely.distance(shapely.points(half[first : last + 1]), line).max() < 0.05


def test_series_60_has_its_published_coefficients(tmp_path: Path) -> None:
    """Prismatic coefficients of ship, forebody and afterbody (report 1712, table 7) to 0.0015, displacement of the ship
    of 600 feet (table 39; 46,717 long tons of 35 cubic feet, common practice) to 0.3 %, section areas to 0.005.
    """
    hull = read_text(tmp_path, series_60.series_60_csv())
    shape, keel = lofted(hull), hull.lowest

    def area(x: float) -> float:
        wet = shapely.box(-100, keel - 1, 100, keel + series_60.DRAUGHT)
        return float(hull.shape.section(x, Side.AFT).region.intersection(wet).area)

    def volume(low: float, high: float) -> float:
        places, weights = np.polynomial.legendre.leggauss(6)
        ends = shape.x[(shape.x >= low) & (shape.x <= high)]
        spans = zip(ends[:-1].tolist(), ends[1:].tolist(), strict=True)
        return float(
            sum(
                (b - a) / 2 * w * area((a + b + (b - a) * p) / 2)
                for a, b in spans
                for p, w in zip(places, weights, strict=True)
            )
        )

    half, midship = series_60.LENGTH / 2, area(series_60.LENGTH / 2)
    fore, aft = volume(0, half), volume(half, 2 * half)
    assert fore / (midship * half) == pytest.approx(series_60.FOREBODY, abs=0.0015)
    assert aft / (midship * half) == pytest.approx(series_60.AFTERBODY, abs=0.0015)
    assert (fore + aft) / (midship * 2 * half) == pytest.approx(series_60.PRISMATIC, abs=0.0015)
    assert fore + aft == pytest.approx(46717 * 35, rel=0.003)
    for row in series_60.ROWS[:-1]:
        assert area(row[0] / 20 * series_60.LENGTH) / midship == pytest.approx(row[-1], abs=0.005)


def test_heights_at_buttocks_alone_make_a_hull(tmp_path: Path) -> None:
    """A parabola z = 40 (y / 50)^2 by its heights at buttocks: each section has 4 / 3 * 50 * 40 mm2 (closed form)."""
    rows = ["unit,mm", "place,0,100,200", "keel height,0,0,0", "sheer height,40,40,40", "sheer half-breadth,50,50,50"]
    rows += [f"buttock {y},{','.join([repr(40 * (y / 50) ** 2)] * 3)}" for y in (10, 20, 30, 40)]
    hull = read_text(tmp_path, "\n".join(rows))
    for x in (0.0, 37.0, 100.0):
        assert hull.shape.section(x, Side.AFT).region.area == pytest.approx(4 / 3 * 50 * 40, rel=2e-4)


def test_feet_inches_and_eighths_are_read() -> None:
    """1-4-3 is 1 ft 4 3/8 in = 415.925 mm; a + is a sixteenth more (common practice)."""
    table = "unit,feet-inches-eighths\nplace,0,1-0-0\nwaterline 0-6-0,0-1-4+,1-4-3\nwaterline 1-0-0,0,-\n"
    rows = read_offsets(table.encode()).rows
    assert rows[0].values == pytest.approx([(1.5 + 1 / 16) * 25.4, 415.925])
    assert rows[0].level == pytest.approx(152.4)
    assert rows[1].values[0] == 0.0
    assert math.isnan(rows[1].values[1])


@pytest.mark.parametrize(("unit", "mm"), [("mm", 1.0), ("cm", 10.0), ("in", 25.4), ("m", 1000.0)])
def test_units_are_applied(tmp_path: Path, unit: str, mm: float) -> None:
    """The same table in another unit is that much larger, and the hull says where its unit comes from."""
    hull = read_text(tmp_path, grid_csv(lambda x, z: 5 + x * 0 + z, [0.0, 5.0, 9.0], [0.0, 1.0, 2.0], unit))
    assert (hull.length, hull.depth) == pytest.approx((9 * mm, 2 * mm))
    assert (hull.unit, hull.unit_from) == (unit, "file")


def test_an_option_overrides_the_unit_and_a_missing_one_is_assumed(tmp_path: Path) -> None:
    """--unit in makes a table in mm 25.4 times as large; without either mm are assumed and reported."""
    plain = grid_csv(lambda x, _: 30 + x * 0, [0.0, 100.0], [0.0, 20.0]).partition("\n")[2]
    hull = read_text(tmp_path, plain)
    assert any(note.kind is NoteKind.ASSUMPTION and "no unit" in note.text for note in hull.notes)
    larger = read_text(tmp_path, plain, ReadSettings(unit="in"))
    assert larger.length == pytest.approx(2540.0)
    assert larger.unit_from == "option"


def test_a_spreadsheet_with_decimal_commas_and_another_with_tabs_are_read() -> None:
    """Semicolons between cells, commas within them; tabs; a byte order mark; UTF-16."""
    rows = [["unit", "mm"], ["place", "0", "100,5"], ["waterline 10,5", "1,25", "2"]]
    text = "\n".join(map(";".join, rows))
    table = read_offsets(b"\xef\xbb\xbf" + text.encode())
    assert table.places.tolist() == [0.0, 100.5]
    assert (table.rows[0].level, table.rows[0].values.tolist()) == (10.5, [1.25, 2.0])
    tabs = text.replace(";", "\t")
    assert read_offsets(tabs.encode("utf-16")).places.tolist() == [0.0, 100.5]


def test_a_gzipped_table_is_read(tmp_path: Path) -> None:
    """As meshes are."""
    (tmp_path / "hull.csv.gz").write_bytes(gzip.compress(wigley_csv().encode()))
    assert read(tmp_path / "hull.csv.gz").length == pytest.approx(LENGTH)


def test_length_scale_nose_and_datum_are_applied(tmp_path: Path) -> None:
    """Twice the length is eight times the volume; turned end for end the transom comes first."""
    hull = read_text(tmp_path, SKIFF)
    double = read_text(tmp_path, SKIFF, ReadSettings(length=2 * hull.length, datum=10.0))
    assert double.volume == pytest.approx(8 * hull.volume, rel=1e-6)
    assert double.lowest == -10.0
    assert read_text(tmp_path, SKIFF, ReadSettings(scale=0.5)).length == pytest.approx(hull.length / 2)
    turned = read_text(tmp_path, SKIFF, ReadSettings(nose="high"))
    assert turned.shape.section(0.0, Side.AFT).region.area == pytest.approx(
        hull.shape.section(560.0, Side.FORE).region.area
    )
    assert turned.volume == pytest.approx(hull.volume, rel=1e-9)


def test_a_nose_that_is_cut_off_flat_is_taken_for_the_tail(tmp_path: Path) -> None:
    """Stations counted from the transom: the pointed end is the nose, which is reported."""
    places = SKIFF.replace("place,            0,  100,200,300,400,500", "place, -500,-400,-300,-200,-100,0")
    assert "place, -500" in places
    lines = [line.split(",") for line in places.strip().splitlines()]
    turned = [
        [line[0], *reversed(line[1:])] if len(line) == 7 and not line[0].startswith("place") else line for line in lines
    ]
    turned = [
        [*line[:1], *(str(-float(cell)) if cell.strip() else cell for cell in line[1:])]
        if line[0].startswith("stem place")
        else line
        for line in turned
    ]
    hull = read_text(tmp_path, "\n".join(map(",".join, turned)).replace("stem", "stern"))
    assert hull.axes.nose == "high"
    assert any("the nose is at the last station" in note.text for note in hull.notes)
    assert hull.volume == pytest.approx(read_text(tmp_path, SKIFF).volume, rel=1e-9)


def test_settings_that_only_a_mesh_needs_are_reported(tmp_path: Path) -> None:
    """--up and --bridge mean nothing for a table."""
    hull = read_text(tmp_path, SKIFF, ReadSettings(up="z", bridge=3.0))
    assert any("--up, --bridge" in note.text for note in hull.notes if note.kind is NoteKind.WARNING)


def test_a_stem_is_met_between_its_points(tmp_path: Path) -> None:
    """The keel's line goes through every point of the stem, and the sheer's begins at its head."""
    hull = read_text(tmp_path, SKIFF)
    shape = lofted(hull)
    rise = 30.0 - float(shape.half(60.0)[0, 1])
    for x, z in ((30.0, 55.0), (60.0, 30.0)):
        assert shape.half(x)[0] == pytest.approx((0.0, z - rise), abs=1e-9)
    assert shape.tip_points(0.0)[:, 1] == pytest.approx(np.full(2 * len(shape.places.share), 98.0 - rise))


def test_an_upright_stem_is_an_edge(tmp_path: Path) -> None:
    """Points of the stem at one place make an edge from keel to sheer, at which the hull has no section."""
    table = SKIFF.replace("-60,-30,0, ", "-60,-60,0, ").replace("98, 55, 30", "98, 60, 30")
    shape = lofted(read_text(tmp_path, table))
    assert np.ptp(shape.tip_points(0.0)[:, 1]) == pytest.approx(38.0)
    assert shape.section(0.0, Side.AFT).region.is_empty
    assert not shape.section(0.5, Side.AFT).region.is_empty


def test_corners_along_the_hull_break_its_lines(tmp_path: Path) -> None:
    """At the greatest breadth a fair line is level; with a corner it comes to a point there."""
    rows = "unit,mm\nplace,0,100,200,300,400\nwaterline 0,0,20,50,20,0\nwaterline 20,0,20,50,20,0\n"
    fairer = lofted(read_text(tmp_path, rows))
    sharp = lofted(read_text(tmp_path, rows + "corners,,,x,,\n"))
    assert (50 - fairer.half(199.0)[:, 0]).max() < 0.02
    assert (50 - sharp.half(199.0)[:, 0]).min() > 0.2
    assert sharp.half(200.0)[:, 0] == pytest.approx(50.0, abs=1e-9)


GOOD = """unit,mm
place,0,100,200
keel height,5,0,0
sheer height,40,40,40
sheer half-breadth,0,30,30
waterline 20,0,20,22
"""

FAULTS = [
    (("waterline 20,0,20,22", "waterline 20,0,nan,22"), r"row 6, column C: expected a number, found 'nan'"),
    (("waterline 20,0,20,22", "waterline 20,0,wide,22"), r"row 6, column C: expected a number, found 'wide'"),
    (("waterline 20,0,20,22", "waterline 20,0,1e99,22"), r"row 6, column C: 1e99 is larger than any hull"),
    (("waterline 20,0,20,22", "waterline 20,0,-3,22"), r"row 6, column C: a half-breadth cannot be below zero"),
    (("waterline 20,0,20,22", "waterline 20,0,20"), r"row 6 \(waterline 20\) has 3 cells, but row 2 \(place\) has 4"),
    (("waterline 20,0,20,22", "waterline 50,0,20,22"), r"row 6, column C: waterline 50 stands above the sheer.* 40 mm"),
    (("waterline 20,0,20,22", "waterline -5,0,20,22"), r"row 6, column C: waterline -5 stands below the keel"),
    (
        ("waterline 20,0,20,22", "waterline 20,0,1-4-3,22"),
        r"row 6, column C: .*found '1-4-3'.*feet, inches and eighths",
    ),
    (("waterline 20,0,20,22", "watreline 20,0,20,22"), r"row 6, column A: expected one of name, unit.*'watreline 20'"),
    (("waterline 20,0,20,22", "waterline x,0,20,22"), r"row 6, column A: expected a number, found 'x'"),
    (("waterline 20,0,20,22", "sheer height,1,2,3"), r"rows 4 and 6 are both 'sheer height'"),
    (("waterline 20,0,20,22", "knuckle a height,9,9,9"), r"row 6 .* needs a row 'knuckle a half-breadth'"),
    (("waterline 20,0,20,22", "stem height,40,5,"), r"row 6 \(stem height\) needs a row 'stem place'"),
    (("place,0,100,200", "place,0,200,100"), r"row 2, column D: the stations are out of order, 100 mm after 200 mm"),
    (("place,0,100,200", "place,0,,200"), r"row 2, column C: the station has no place"),
    (("place,0,100,200", "place,0"), r"row 2: expected the places of at least 2 stations"),
    (("place,0,100,200", "spot,0,100,200"), r"no row that begins with 'place'"),
    (("unit,mm", "unit,furlong"), r"row 1, column B: expected a unit .*'furlong'"),
    (("unit,mm", "unit,feet-inches-eighths"), r"row 2, column C: expected feet-inches-eighths .*'100'"),
    (("sheer half-breadth,0,30,30", "sheer half-breadth,0,,30"), r"row 5, column C: sheer has no half-breadth here"),
    (("sheer half-breadth,0,30,30\n", ""), r"row 4 .* needs a row 'sheer half-breadth'"),
]


@pytest.mark.parametrize(("change", "words"), FAULTS, ids=[change[1][:24] for change, _ in FAULTS])
def test_each_fault_is_named_with_row_and_column(tmp_path: Path, change: tuple[str, str], words: str) -> None:
    """One sentence that says where, and one that says what to do."""
    assert change[0] in GOOD
    with pytest.raises(HullError, match=f"(?s)^hull.csv: .*{words}") as fault:
        read_text(tmp_path, GOOD.replace(*change))
    assert fault.value.remedy


def test_the_table_of_the_faults_is_sound(tmp_path: Path) -> None:
    """Each fault above is the only one."""
    assert read_text(tmp_path, GOOD).volume > 0


def test_dates_out_of_a_spreadsheet_are_refused() -> None:
    """3-4-5 typed into a spreadsheet may come back as 2005-04-03."""
    table = "unit,feet-inches-eighths\nplace,0,1-0-0\nwaterline 0-6-0,0-1-4,2005-04-03\n"
    with pytest.raises(HullError, match=r"row 3, column C: .*'2005-04-03'") as fault:
        read_offsets(table.encode())
    assert "format the cells as text" in fault.value.remedy


@pytest.mark.parametrize("data", [b"\xff\x00\x12", b"\0" * 90, b"", b"\n\n", b'"a', b"place,\n" * 9, b"a," * 300_000])
def test_what_is_no_table_is_refused(tmp_path: Path, data: bytes) -> None:
    """With one message."""
    (tmp_path / "hull.csv").write_bytes(data)
    with pytest.raises(HullError, match=r"hull\.csv"):
        read(tmp_path / "hull.csv")


def test_knuckles_that_cross_are_refused(tmp_path: Path) -> None:
    """Two chines that exchange their places."""
    heights = "knuckle a height,10,10,30\nknuckle b height,20,20,20\n"
    rows = f"{heights}knuckle a half-breadth,1,20,20\nknuckle b half-breadth,1,25,25\n"
    with pytest.raises(HullError, match=r"column D \(station 2\): knuckle . and knuckle . cross"):
        read_text(tmp_path, GOOD.replace("waterline 20,0,20,22\n", rows))


def test_the_table_in_the_readme_is_read(tmp_path: Path) -> None:
    """As it stands there: its figures agree, and its waterline and buttock lie where the frames pass them."""
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    (table,) = [block for block in readme.split("```") if block.startswith("\nname, ")]
    hull = read_text(tmp_path, table)
    assert (hull.name, hull.length) == ("River skiff", 560.0)
    shape = lofted(hull)
    for x in np.linspace(60, 560, 30).tolist():
        assert np.delete(turns(shape.half(x)), shape.places.borders[1] - 1).max() < 6
