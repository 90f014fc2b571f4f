"""The lines plan: its curves are where closed forms say, at the scale that it names."""

import re
from pathlib import Path

import numpy as np
import pytest

from profiles import read
from profiles.paper.drawing import Drawing, Role
from profiles.pictures.linesplan import EDGE, WIDE, lines_plan
from tests.hull.tables import BREADTH, DRAUGHT, LENGTH, SKIFF, read_text, wigley_csv


def heights(drawing: Drawing, role: Role) -> list[float]:
    """Extents along y of the strokes of a role, mm."""
    return [float(np.ptp(stroke.points[:, 1])) for stroke in drawing.of_role(role)]


def test_the_title_names_both_scales(tmp_path: Path) -> None:
    """1000 mm of hull on 250 mm of sheet is 1:4; the body plan is 120 mm broad for 100 mm."""
    drawing = lines_plan(read_text(tmp_path, wigley_csv()))
    title = drawing.labels[0].text
    assert re.search(r"drawn about 1:4, the body plan 1\.2:1$", title)


def test_waterlines_of_a_wigley_hull_are_parabolas_of_the_right_height(tmp_path: Path) -> None:
    """The waterline at z reaches (B / 2) (1 - (z / T)^2) amidships (closed form), at 1:4; at the keel there is none."""
    drawing = lines_plan(read_text(tmp_path, wigley_csv()))
    scale = WIDE / LENGTH
    true = [BREADTH / 2 * (1 - (z / DRAUGHT) ** 2) * scale for z in np.linspace(-DRAUGHT, 0, 7)[1:-1]]
    for height in true:
        assert min(abs(height - drawn) for drawn in heights(drawing, Role.LABEL)) < 0.02


def test_waterlines_end_where_the_hull_does(tmp_path: Path) -> None:
    """Every waterline of the Wigley hull runs from stem to stern: its ends are the hull's, to 0.1 mm on the sheet."""
    drawing = lines_plan(read_text(tmp_path, wigley_csv()))
    long = [stroke.points[:, 0] for stroke in drawing.of_role(Role.LABEL) if np.ptp(stroke.points[:, 0]) > 0.9 * WIDE]
    assert len(long) >= 5
    for x in long:
        assert (x.min(), x.max()) == pytest.approx((EDGE, EDGE + WIDE), abs=0.1)


def test_knuckles_are_drawn_in_two_views(tmp_path: Path) -> None:
    """The skiff's chine from the side and from above; a Wigley hull has none."""
    skiff, smooth = (lines_plan(read_text(tmp_path, text)) for text in (SKIFF, wigley_csv()))
    assert len(skiff.of_role(Role.MARK)) == 2
    assert not smooth.of_role(Role.MARK)


def test_fore_sections_stand_on_the_right_and_aft_ones_on_the_left(tmp_path: Path) -> None:
    """Of the skiff's six stations three are in each half."""
    drawing = lines_plan(read_text(tmp_path, SKIFF))
    middle = EDGE + WIDE / 2
    sections = [stroke.points[:, 0] for stroke in drawing.of_role(Role.LABEL) if stroke.closed]
    assert sum(x.min() >= middle - 1e-6 for x in sections) == 3
    assert sum(x.max() <= middle + 1e-6 for x in sections) == 3


def test_a_mesh_has_a_lines_plan_too() -> None:
    """With even stations, waterlines and buttocks; the flying boat's step is drawn upright in its profile."""
    drawing = lines_plan(read("models/skerrywing.stl"))
    assert drawing.of_role(Role.LABEL)
    (outline,) = [stroke for stroke in drawing.of_role(Role.CUT) if stroke.closed]
    x, z = outline.points.T
    steps = (np.abs(np.diff(x)) < 1e-6) & (np.abs(np.diff(z)) > 0.5)
    assert steps.any()


def test_everything_lies_on_the_sheet(tmp_path: Path) -> None:
    """No stroke and no label leaves it."""
    drawing = lines_plan(read_text(tmp_path, SKIFF))
    points = np.concatenate([stroke.points for stroke in drawing.strokes])
    assert (points >= 0).all()
    assert (points <= (drawing.width, drawing.height)).all()
    for label in drawing.labels:
        left, top, right, bottom = label.extent()
        assert left >= 0
        assert top >= 0
        assert right <= drawing.width
        assert bottom <= drawing.height
