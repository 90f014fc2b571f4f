import itertools

import numpy as np
import pytest
import shapely

from profiles.paper.drawing import Area, Drawing, Role
from profiles.pictures.deviationplot import PlotRow, deviation_plot
from profiles.pictures.tints import EXTRA, MISSING

STATIONS = tuple(float(x) for x in range(0, 601, 40))


def _row(label: str = "foam 40 mm", size: float = 1.0, count: int = 601, *, grown: bool = False) -> PlotRow:
    """Parabolas from station to station, `size` mm high: missing foam, or as much extra when grown."""
    x = np.linspace(0.0, 600.0, count)
    within = (x % 40.0) / 40.0
    bulge = 4 * size * within * (1 - within)
    none = np.zeros(count)
    return PlotRow(label, x, none if grown else bulge, bulge if grown else none, STATIONS)


def _curves(drawing: Drawing, kind: str) -> list[Area]:
    return [area for area in drawing.areas if area.kind == kind and len(area.rings[0]) > 4]


def _zeros(drawing: Drawing) -> list[float]:
    return [float(stroke.points[0, 1]) for stroke in drawing.of_role(Role.LABEL)]


MISS, MORE = MISSING[1].kind, EXTRA[1].kind


def test_missing_hangs_below_and_extra_stands_above() -> None:
    """Of two rows the first has its curve under its zero line and the second over it."""
    drawing = deviation_plot([_row("as it is"), _row("grown", grown=True)])
    below, above = _curves(drawing, MISS), _curves(drawing, MORE)
    assert (len(below), len(above)) == (1, 1)
    first, second = _zeros(drawing)
    assert below[0].rings[0][:, 1].min() == pytest.approx(first)
    assert below[0].rings[0][:, 1].max() > first + 5
    assert above[0].rings[0][:, 1].max() == pytest.approx(second)
    assert above[0].rings[0][:, 1].min() < second - 5


def test_all_rows_have_one_scale() -> None:
    """Half the deviation is half as high, and both are as high as the numbers of the axis say."""
    drawing = deviation_plot([_row(size=1.0), _row(size=0.5)])
    heights = [
        area.rings[0][:, 1].max() - zero for area, zero in zip(_curves(drawing, MISS), _zeros(drawing), strict=True)
    ]
    assert heights[0] == pytest.approx(2 * heights[1])
    numbers = {label.text: label.y for label in drawing.labels if label.anchor == "end"}
    assert numbers["-1"] - numbers["0"] == pytest.approx(heights[0])


def test_places_are_where_the_lying_axis_says() -> None:
    """Stations lie under their numbers on the axis."""
    drawing = deviation_plot([_row()])
    lines = [float(area.rings[0][:, 0].mean()) for area in drawing.areas if area.kind == "station"]
    assert len(lines) == len(STATIONS)
    numbers = {float(label.text): label.x for label in drawing.labels if label.anchor == "middle"}
    assert np.interp(200.0, STATIONS, lines) == pytest.approx(numbers[200.0])
    assert np.interp(600.0, STATIONS, lines) == pytest.approx(numbers[600.0])


def test_the_area_of_a_curve_is_its_integral() -> None:
    """A parabola over each block fills two thirds of its box (closed form)."""
    drawing = deviation_plot([_row()])
    (curve,) = _curves(drawing, MISS)
    left, top, right, bottom = shapely.Polygon(curve.rings[0]).bounds
    assert shapely.Polygon(curve.rings[0]).area == pytest.approx((right - left) * (bottom - top) * 2 / 3, rel=2e-3)


def test_what_is_not_known_is_hatched() -> None:
    """A tip block without figures breaks the curve and is hatched from its station to the end."""
    row = _row()
    known = np.where(row.x < 80.0, np.nan, row.missing)
    drawing = deviation_plot([PlotRow(row.label, row.x, known, row.extra * known, row.stations)])
    (curve,) = _curves(drawing, MISS)
    lines = sorted(float(area.rings[0][:, 0].mean()) for area in drawing.areas if area.kind == "station")
    assert curve.rings[0][:, 0].min() == pytest.approx(lines[2])
    (hatch,) = (area for area in drawing.areas if area.kind == "hatch")
    x = np.concatenate([ring[:, 0] for ring in hatch.rings])
    assert (x.min(), x.max()) == pytest.approx((lines[0], lines[2]), abs=0.5)


def test_what_is_larger_than_most_is_cut_off_and_reported() -> None:
    """The axis ends at `most`, the curve with it, and the figure is stated in full."""
    free, cut = deviation_plot([_row(size=7.3)]), deviation_plot([_row(size=7.3)], most=1.0)
    heights = [np.ptp(_curves(drawing, MISS)[0].rings[0][:, 1]) for drawing in (free, cut)]
    numbers = {label.text: label.y for label in cut.labels if label.anchor == "end"}
    assert heights[1] == pytest.approx(numbers["-1"] - numbers["0"])
    for drawing, reported in ((free, False), (cut, True)):
        texts = [label.text for label in drawing.labels]
        assert any("missing up to 7.3 mm" in text for text in texts)
        assert any("cut off" in text for text in texts) is reported


@pytest.mark.parametrize("size", [0.0, 0.003, 0.42, 9.7, 123.0])
@pytest.mark.parametrize("rows", [1, 3, 12])
def test_labels_of_the_plot_are_clear(size: float, rows: int) -> None:
    """No two labels touch and nothing leaves the sheet, whatever the size of the deviation."""
    drawing = deviation_plot(
        [_row(f"foam {k} mm, a long word for a way of cutting " * 2, size, grown=k % 2 == 0) for k in range(rows)]
    )
    prints = [label.footprint() for label in drawing.labels]
    touching = [(a, b) for a, b in itertools.combinations(range(len(prints)), 2) if prints[a].intersects(prints[b])]
    assert [(drawing.labels[a].text, drawing.labels[b].text) for a, b in touching] == []
    sheet = shapely.box(-1e-6, -1e-6, drawing.width + 1e-6, drawing.height + 1e-6)
    assert all(sheet.covers(shape) for shape in prints)
    assert all(sheet.covers(shapely.MultiPoint(ring)) for area in drawing.areas for ring in area.rings)


def test_a_plot_has_no_line_to_cut_by() -> None:
    """Only label lines are drawn."""
    assert {stroke.role for stroke in deviation_plot([_row()]).strokes} == {Role.LABEL}


def test_rows_must_have_as_many_places_as_figures() -> None:
    """A row of unequal lengths is refused by its name, and so is a plot without rows."""
    row = _row()
    with pytest.raises(ValueError, match="foam 40 mm"):
        deviation_plot([PlotRow(row.label, row.x, row.missing[:-1], row.extra)])
    with pytest.raises(ValueError, match="none"):
        deviation_plot([])
