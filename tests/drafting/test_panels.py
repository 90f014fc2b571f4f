"""Skins laid flat: closed forms of cylinder and cone, a developable chine hull, gores of a sphere, edges, bad input."""

import itertools
import math
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from profiles import BlockSettings, Body, PageSettings, ReadSettings, StationSettings, cut, lay_out, plan, read
from profiles.drafting.drafts import Drafts, draft
from profiles.drafting.flatten import flatten
from profiles.drafting.girths import skin_line
from profiles.drafting.panels import FlatPanel, flat_panels, panel_area
from profiles.drafting.panelsheets import cloth_figures, panel_figures
from profiles.drafting.settings import DraftSettings, Panel
from profiles.errors import HullError, JobError
from profiles.hull.frame import Hull
from profiles.layout import heading_of
from profiles.paper.drawing import Role
from profiles.paper.dxf import drawing_dxf
from profiles.results import draft_files
from tests import closed_forms as zoo
from tests.test_cli import write_stl

MODELS = Path(__file__).parents[2] / "models"
SIDES = 720
"""Of a round mesh: its half girth is 0.0003 % shorter than the circle's."""


def hull_of(mesh: zoo.Mesh, folder: Path) -> Hull:
    """A mesh as a hull along x with z up."""
    write_stl(folder / "hull.stl", mesh)
    return read(str(folder / "hull.stl"), ReadSettings(unit="mm", length_axis="x", up="z", nose="low"))


def only(hull: Hull, skin: float = 0.0, **settings: Any) -> FlatPanel:  # noqa: ANN401 - of any type
    """The only piece of a panel."""
    (piece,) = flat_panels(hull, Panel(name="skin", **settings), skin, ())
    return piece


@pytest.mark.parametrize("skin", [0.0, 2.0])
def test_half_a_cylinder_is_a_rectangle(tmp_path: Path, skin: float) -> None:
    """From keel to top: pi times the radius in the middle of the skin, by the length; to 0.01 mm."""
    hull = hull_of(zoo.revolved(np.linspace(0.0, 200.0, 5), np.full(5, 40.0), SIDES), tmp_path)
    piece = only(hull, skin, lower="keel", upper="top")
    wide, high = np.ptp(piece.points.reshape(-1, 2), axis=0)
    assert (wide, high) == pytest.approx((200.0, math.pi * (40.0 - skin / 2)), abs=0.01)
    assert panel_area(piece).area == pytest.approx(wide * high, rel=1e-6)
    assert piece.developable


def test_half_a_cone_is_a_sector(tmp_path: Path) -> None:
    """Straight edges as long as the slant, arcs about the apex, the angle by radius over slant; all to 0.01 mm."""
    fore, aft, length = 20.0, 50.0, 160.0
    hull = hull_of(zoo.revolved(np.linspace(0.0, length, 3), np.linspace(fore, aft, 3), SIDES), tmp_path)
    piece = only(hull, lower="keel", upper="top")
    slant = math.hypot(length, aft - fore)
    to_apex = slant * aft / (aft - fore)
    angle = math.pi * aft / to_apex
    for edge in piece.edges:
        assert edge.flat == pytest.approx(slant, abs=0.01)
        assert edge.on_body == pytest.approx(slant, abs=0.01)
    for row, radius in ((0, to_apex - slant), (-1, to_apex)):
        chord = math.dist(piece.points[row, 0], piece.points[row, -1])
        assert chord == pytest.approx(2 * radius * math.sin(angle / 2), abs=0.01)
        middle = piece.points[row, 12]
        foot = (piece.points[row, 0] + piece.points[row, -1]) / 2
        assert math.dist(middle, foot) == pytest.approx(radius * (1 - math.cos(angle / 2)), abs=0.01)
    assert piece.developable


LENGTH = 600.0


def keel(t: np.ndarray) -> np.ndarray:
    """Points (n, 3) of a curved keel."""
    return np.column_stack([t, 0 * t, -20.0 * np.sin(np.pi * t / LENGTH)])


def chine(t: np.ndarray) -> np.ndarray:
    """Points (n, 3) on the rays from one apex through the keel: the bottom between is part of a cone."""
    apex = np.array([150.0, -300.0, -200.0])
    reach = 1.0 + 0.2 * np.sin(np.pi * t / LENGTH)
    curve: np.ndarray = apex + reach[:, None] * (keel(t) - apex)
    return curve


def conical_chine_hull() -> zoo.Mesh:
    """A hull with a conical bottom that rises to a sharp chine, a flat deck, and both ends pointed."""
    t = np.linspace(0.0, LENGTH, 601)
    mirrored = chine(t) * (1.0, -1.0, 1.0)
    k, c, m = (np.arange(601) + 601 * n for n in range(3))
    strips = [(k, c), (c, m), (m, k)]
    faces = [
        np.concatenate([np.column_stack([a[:-1], a[1:], b[1:]]), np.column_stack([a[:-1], b[1:], b[:-1]])])
        for a, b in strips
    ]
    return zoo.welded((np.vstack([keel(t), chine(t), mirrored]), np.concatenate(faces)))


def test_a_developable_chine_hull_keeps_the_lengths_of_its_edges(tmp_path: Path) -> None:
    """Keel and chine of a conical bottom are as long on the flat panel as on the hull, within 0.05 %."""
    mesh = conical_chine_hull()
    hull = hull_of(mesh if zoo.mesh_volume(mesh) > 0 else zoo.turned_inside_out(mesh), tmp_path)
    piece = only(hull, lower="keel", upper="chine", start=60.0, end=520.0)
    t = np.linspace(0.0, LENGTH, 200_001)
    nose = mesh[0][:, 0].min()
    for edge, curve in zip(piece.edges, (keel(t), chine(t)), strict=True):
        shown = curve[(curve[:, 0] - nose >= 60.0) & (curve[:, 0] - nose <= 520.0)]
        true = float(np.linalg.norm(np.diff(shown, axis=0), axis=1).sum())
        assert edge.flat == pytest.approx(true, rel=5e-4)
        assert edge.on_body == pytest.approx(true, rel=5e-4)
    assert piece.developable


def test_the_stretch_of_a_gore_is_that_of_theory(tmp_path: Path) -> None:
    """A narrow gore of a sphere, half an angle w wide: the middle is stretched by w^2 / 6, the edges squeezed by
    w^2 / 3, the difference being Gauss's w^2 / 2 and their mean over the breadth zero, as no force pulls at the ends
    (theory of elastic sheets, Poisson's ratio 0). What is left falls with the square of w.
    """
    x = 50.0 * (1 - np.cos(np.linspace(0.0, np.pi, 181)))
    hull = hull_of(zoo.revolved(x, 50.0 * np.sin(np.linspace(0.0, np.pi, 181)), SIDES), tmp_path)
    off = []
    for share in (5.0, 10.0):
        piece = only(hull, lower=f"girth {50 - share:g}%", upper=f"girth {50 + share:g}%")
        half = math.pi * share / 100
        off.append((piece.stretch / (half**2 / 6) - 1, piece.squeeze / (half**2 / 3) - 1))
        assert not piece.developable
    assert np.abs(off[0]) == pytest.approx(0.0, abs=0.02)
    assert np.abs(off[1]) == pytest.approx(0.0, abs=0.08)


def test_strips_share_the_lengths_of_their_edges_and_are_stretched_less(tmp_path: Path) -> None:
    """Where two strips meet, both know the same line by its length; four strips are strained a fifth of one."""
    hull = hull_of(zoo.spheroid(150.0, 50.0, 60, 240), tmp_path)
    whole = only(hull, lower="girth 20%", upper="girth 80%", start=100.0, end=200.0)
    panel = Panel(name="skin", lower="girth 20%", upper="girth 80%", start=100.0, end=200.0, strips=4)
    strips = list(flat_panels(hull, panel, 0.0, ()))
    for left, right in itertools.pairwise(strips):
        assert left.edges[1].line == right.edges[0].line
        assert left.edges[1].on_body == pytest.approx(right.edges[0].on_body)
    assert max(strip.stretch for strip in strips) < whole.stretch / 5


def test_darts_make_a_panel_lie_easier(tmp_path: Path) -> None:
    """Cut open from the upper edge, a dome is stretched less, and the darts stand open on its outline."""
    hull = hull_of(zoo.spheroid(80.0, 60.0, 60, 240), tmp_path)
    place: dict[str, Any] = {"lower": "girth 50%", "upper": "girth 90%", "start": 40.0, "end": 120.0}
    plain, darted = only(hull, **place), only(hull, **place, darts=3)
    assert len(darted.slits) == 3
    assert darted.squeeze < plain.squeeze
    assert shapely.Polygon(darted.outline).is_valid
    for row, slit in zip(darted.cuts, darted.slits, strict=True):
        assert math.dist(slit[-1], darted.points[row, -1]) > 0.1


def test_a_port_panel_is_the_mirror_image_of_starboard() -> None:
    """Seen from outside, both with aft to the right, one is the other upside down."""
    hull = read(str(MODELS / "skerrywing.stl"))
    panel = Panel(name="bottom", lower="keel", upper="chine", start=60.0, end=300.0, side="both")
    starboard, port = flat_panels(hull, panel, 0.0, ())
    mirrored = port.points[:, ::-1] * (1.0, -1.0)
    apart = [np.linalg.norm(points[0, 0] - points[-1, -1]) for points in (starboard.points, mirrored)]
    assert apart[0] == pytest.approx(apart[1], abs=1e-6)
    assert panel_area(starboard).area == pytest.approx(panel_area(port).area)


def test_a_panel_is_divided_at_walls_and_splits() -> None:
    """The planing step and the user's own split make three pieces that meet there."""
    hull = read(str(MODELS / "skerrywing.stl"))
    panel = Panel(name="bottom", lower="keel", upper="chine", start=60.0, end=600.0, split=(300.0,))
    pieces = list(flat_panels(hull, panel, 0.0, ()))
    assert [(piece.x[0], piece.x[-1]) for piece in pieces] == pytest.approx(
        np.array([(60.0, 300.0), (300.0, 432.0), (432.0, 600.0)])
    )
    assert [piece.name for piece in pieces] == ["bottom 1", "bottom 2", "bottom 3"]


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"lower": "chine", "upper": "keel"}, "cross or meet"),
        ({"lower": "girth 90%", "upper": "z 0"}, "cross or meet"),
        ({"lower": "keel", "upper": "gunwale"}, "expected a line along the body"),
        ({"lower": "keel", "upper": "chine 7"}, "there is no 'chine 7'"),
        ({"lower": "keel", "upper": "chine", "start": 500.0, "end": 400.0}, "start first"),
        ({"lower": "keel", "upper": "chine", "end": 4000.0}, "from 0 to 820.0 mm"),
    ],
)
def test_a_panel_that_cannot_be_is_one_sentence(settings: dict[str, Any], words: str) -> None:
    """Lines that cross, that nobody knows, that the body does not have, and places beyond it."""
    hull = read(str(MODELS / "skerrywing.stl"))
    with pytest.raises((JobError, HullError), match=words):
        only(hull, **({"start": 60.0, "end": 300.0} | settings))


def test_lines_in_words() -> None:
    """Units, ports, and the mirrored side."""
    assert skin_line("girth 1in").value == pytest.approx(25.4)
    assert skin_line("z -12").value == -12.0
    assert skin_line("deck  Edge", port=True).words == "port deck edge"
    assert skin_line("port chine", port=True).port is False


@cache
def body() -> Body:
    """The flying boat in blocks of 58 mm, cut quickly."""
    hull = read(str(MODELS / "skerrywing.stl"))
    return cut(hull, plan(hull, StationSettings(thickness=58, breaks=(432.0,))), BlockSettings(growth=0.0))


def drafted(**settings: Any) -> tuple[Drafts, bytes]:  # noqa: ANN401 - of any type
    """The drafts of a panel of the flying boat, and its cards as DXF."""
    panel = Panel(name="bottom", lower="keel", upper="chine", start=60.0, end=300.0, **settings)
    drafts = draft(body(), DraftSettings(panels=(panel,)), PageSettings(), heading_of(body()))
    return drafts, drawing_dxf(lay_out(body(), more=drafts.panels).cards)


def test_a_panel_goes_onto_pages_and_cards_with_its_seam() -> None:
    """The finished PDF measures the seam line 5 mm outside the edge; the cards for cutters carry the panel too."""
    plain, seamed = (drafted(seam=seam) for seam in (0.0, 5.0))
    for drafts, cards in (plain, seamed):
        (group,) = drafts.sets
        files, checks = draft_files(group, "panels")
        assert sorted(files) == ["panels.dxf", "panels.pdf", "panels.svg"]
        assert max(check.off for check in checks) <= 0.01
        assert b"bottom" in cards
    areas = [shapely.Polygon(drafts.panels[0].drawing.of_role(Role.CUT)[0].points) for drafts, _ in (plain, seamed)]
    assert areas[1].buffer(-5.0, join_style="mitre").area == pytest.approx(areas[0].area, rel=1e-3)
    marks = {label.text for label in plain[0].panels[0].drawing.labels if len(label.text) == 2}
    assert {"A2", "B2", "A3", "B3"} <= marks


def test_cloth_is_cut_to_widths_with_overlap(tmp_path: Path) -> None:
    """125.66 mm of girth take two widths of 80 mm with 20 mm over each other, 200 + 2 x 20 mm long."""
    hull = hull_of(zoo.revolved(np.linspace(0.0, 200.0, 5), np.full(5, 40.0), SIDES), tmp_path)
    piece = only(hull, lower="keel", upper="top", cloth=80.0)
    cloth = cloth_figures(piece)
    assert cloth is not None
    assert (cloth["widths"], round(cloth["length"], 3)) == (2, 240.0)
    assert panel_figures(piece)["length"] == pytest.approx(200.0, abs=1e-3)


def test_a_flat_grid_stays_as_it_is() -> None:
    """Nothing is strained that lies flat already, whatever its breadth."""
    x, y = np.meshgrid(np.linspace(0.0, 90.0, 7), np.linspace(0.0, 40.0, 5), indexing="ij")
    grid = np.stack([x, y, 3.0 + 0.0 * x], axis=2)
    flat = flatten(grid, np.full((7, 4), 10.0))
    assert max(flat.stretch, flat.squeeze) < 1e-9
    assert flat.points.reshape(-1, 2) == pytest.approx(grid[..., :2].reshape(-1, 2), abs=1e-9)
