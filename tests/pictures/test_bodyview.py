import io
import itertools
import xml.etree.ElementTree as ET  # the tests read what we wrote ourselves
from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
import pytest
import shapely
from PIL import Image
from shapely import MultiPolygon, affinity

from profiles.errors import PaperError
from profiles.paper.correction import Correction
from profiles.paper.cover import Heading
from profiles.paper.drawing import STYLES, Area, Drawing, Role, freeze, line, patch
from profiles.paper.pages import Page, lay_out
from profiles.paper.pdf import drawing_png, pages_pdf
from profiles.paper.proof import measure
from profiles.paper.settings import PageSettings
from profiles.paper.svg import drawing_svg
from profiles.paper.template import Template
from profiles.pictures.bodyplan import nested_sections
from profiles.pictures.bodyview import BlockFigure, body_view
from profiles.pictures.tints import EVEN, EXTRA, LEVELS, MISSING, TintScale, linear_rgb, oklab, scale_to
from profiles.pictures.views import Extents
from profiles.units import paper_named

SVG = "{http://www.w3.org/2000/svg}"

STATIONS = (0.0, 30.0, 110.0, 190.0, 270.0, 350.0, 400.0)

FIGURES = (
    None,
    BlockFigure(2, 0.0, 0.31),
    BlockFigure(3, 0.72, 0.1),
    BlockFigure(4, 0.003, 0.0),
    BlockFigure(5, 0.0, 1.3),
    BlockFigure(6, 0.12, 0.12),
)

APART = 0.06
"""OKLab; three times 0.02, the just noticeable difference of CSS Color 4, 13.2 (from memory)."""

DICHROMATS = {
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
    "none": np.eye(3).tolist(),
}
"""Machado, Oliveira and Fernandes 2009, table 1, severity 1.0, on amounts of light."""

ROW = [tint.colour for tint in (*reversed(MISSING), EVEN, *EXTRA)]


def _spindle(length: float = 400.0, count: int = 161) -> Extents:
    """A pointed body 100 mm wide and 60 mm deep, its middle 10 mm above the datum."""
    x = np.linspace(0.0, length, count)
    half = np.sqrt(np.clip(1 - (2 * x / length - 1) ** 2, 0.0, 1.0))
    return Extents(x, np.column_stack([-50 * half, 10 - 30 * half]), np.column_stack([50 * half, 10 + 30 * half]))


def _shape(area: Area) -> shapely.Geometry:
    rings = sorted((shapely.Polygon(ring) for ring in area.rings), key=lambda ring: -ring.area)
    whole = rings[0]
    for ring in rings[1:]:
        whole = whole.symmetric_difference(ring)
    return whole


def _fills(drawing: Drawing) -> list[Area]:
    """The blocks of the side view, then those of the plan; not the cells of the legend."""
    kinds = {tint.kind for tint in (EVEN, *MISSING, *EXTRA)} | {"carved"}
    top = max(stroke.points[:, 1].max() for stroke in drawing.strokes)
    return [area for area in drawing.areas if area.kind in kinds and area.rings[0][:, 1].max() <= top]


def _touching(drawing: Drawing) -> list[tuple[str, str]]:
    labels = drawing.labels
    prints = [label.footprint() for label in labels]
    return [
        (labels[a].text, labels[b].text)
        for a, b in itertools.combinations(range(len(labels)), 2)
        if prints[a].intersects(prints[b])
    ]


def _off_sheet(drawing: Drawing) -> list[str]:
    sheet = shapely.box(-1e-6, -1e-6, drawing.width + 1e-6, drawing.height + 1e-6)
    things = [(label.text, label.footprint()) for label in drawing.labels]
    things += [(stroke.role.value, shapely.LineString(stroke.points)) for stroke in drawing.strokes]
    things += [(area.kind, shapely.MultiPoint(ring)) for area in drawing.areas for ring in area.rings]
    return [name for name, shape in things if not sheet.covers(shape)]


@pytest.mark.parametrize("observer", DICHROMATS)
def test_colours_are_monotone_in_lightness(observer: str) -> None:
    """From the sand outwards each tint is darker than the one before it, in both arms, for every observer."""
    lightness = [oklab(np.clip(DICHROMATS[observer] @ linear_rgb(colour), 0, 1))[0] for colour in ROW]
    assert all(np.diff(lightness[: LEVELS + 1]) > 0.05)
    assert all(np.diff(lightness[LEVELS:]) < -0.05)


@pytest.mark.parametrize("observer", DICHROMATS)
def test_colours_stay_apart(observer: str) -> None:
    """Any two tints of the legend differ by three just noticeable steps, for every observer."""
    seen = [oklab(np.clip(DICHROMATS[observer] @ linear_rgb(colour), 0, 1)) for colour in ROW]
    nearest = min(float(np.linalg.norm(a - b)) for a, b in itertools.combinations(seen, 2))
    assert nearest > APART


def test_the_simulation_can_fail() -> None:
    """Red and green of one lightness, which the deuteranope confuses, come out nearer than the tints have to be."""
    seen = [oklab(np.clip(DICHROMATS["deuteranopia"] @ linear_rgb(colour), 0, 1)) for colour in ("#a58a00", "#bb8000")]
    true = [oklab(linear_rgb(colour)) for colour in ("#a58a00", "#bb8000")]
    assert float(np.linalg.norm(seen[0] - seen[1])) < APART / 2 < float(np.linalg.norm(true[0] - true[1]))


def test_white_has_no_colour_in_oklab() -> None:
    """White is (1, 0, 0) and red (0.628, 0.225, 0.126) (Ottosson 2020, from memory)."""
    assert oklab(linear_rgb("#ffffff")) == pytest.approx([1.0, 0.0, 0.0], abs=1e-6)
    assert oklab(linear_rgb("#ff0000")) == pytest.approx([0.628, 0.225, 0.126], abs=5e-4)


def test_no_area_has_the_colour_of_a_role() -> None:
    """Colours of areas are none of the colours that identify lines."""
    assert not {style.colour for style in STYLES.values()} & set(ROW)


@pytest.mark.parametrize(
    ("largest", "bounds"),
    [
        (0.0, (0.02, 0.05, 0.1, 0.2, 0.5)),
        (0.5, (0.02, 0.05, 0.1, 0.2, 0.5)),
        (0.51, (0.05, 0.1, 0.2, 0.5, 1.0)),
        (1.9, (0.1, 0.2, 0.5, 1.0, 2.0)),
        (37.0, (2.0, 5.0, 10.0, 20.0, 50.0)),
    ],
)
def test_the_scale_reaches_to_the_next_round_figure(largest: float, bounds: tuple[float, ...]) -> None:
    """Bounds are of 1, 2, 5, 10 ... and the last is not under the largest deviation."""
    assert scale_to(largest).bounds == bounds


def test_a_tint_is_that_of_the_larger_deviation() -> None:
    """The arm is that of the larger figure, missing foam where they are equal, sand where both are small."""
    scale = TintScale((0.1, 0.2, 0.5, 1.0, 2.0))
    assert scale.tint(0.099, 0.0) == EVEN
    assert scale.tint(0.1, 0.0) == MISSING[0]
    assert scale.tint(0.3, 0.6) == EXTRA[2]
    assert scale.tint(0.6, 0.6) == MISSING[2]
    assert scale.tint(0.0, 9.0) == EXTRA[-1]


def test_fills_are_the_stretches_of_the_blocks() -> None:
    """Each block is filled from station to station, and all of them together are the outline of the view."""
    extents = _spindle()
    drawing = body_view("spindle", extents, STATIONS, FIGURES)
    fills = _fills(drawing)
    assert len(fills) == 2 * len(FIGURES)
    outlines = [shapely.Polygon(stroke.points) for stroke in drawing.of_role(Role.LABEL) if stroke.closed]
    ratio = (outlines[0].bounds[2] - outlines[0].bounds[0]) / STATIONS[-1]
    for outline, view in zip(outlines, (fills[: len(FIGURES)], fills[len(FIGURES) :]), strict=True):
        left = outline.bounds[0]
        for area, (fore, aft) in zip(view, itertools.pairwise(STATIONS), strict=True):
            assert _shape(area).bounds[::2] == pytest.approx([left + fore * ratio, left + aft * ratio], abs=1e-9)
        union = shapely.union_all([_shape(area) for area in view])
        assert union.symmetric_difference(outline).area == pytest.approx(0.0, abs=1e-9)


def test_fills_have_the_colours_of_their_figures() -> None:
    """In both views the block's colour is that of its figure, and a block without one is white and hatched."""
    drawing = body_view("spindle", _spindle(), STATIONS, FIGURES)
    scale = scale_to(1.3)
    wanted = [scale.tint(block.missing, block.extra).colour if block else "#ffffff" for block in FIGURES]
    assert [area.colour for area in _fills(drawing)] == wanted * 2
    tips = [_shape(area) for area in _fills(drawing) if area.kind == "carved"]
    hatches = [_shape(area) for area in drawing.areas if area.kind == "hatch"]
    assert all(any(tip.buffer(1e-6).covers(hatch) for hatch in hatches) for tip in tips)


@pytest.mark.parametrize("room", [(182.0, 240.0), (116.0, 160.0), (90.0, 130.0), (360.0, 300.0)])
@pytest.mark.parametrize("foam", [5.0, 25.0, 40.0, 150.0])
def test_labels_of_the_body_are_clear(room: tuple[float, float], foam: float) -> None:
    """No two labels touch and nothing leaves the sheet, whatever the room and the number of blocks."""
    stations = sorted({0.0, *np.arange(1200.0, 0.0, -foam).tolist()})
    figures = [BlockFigure(k, 0.37 * (k % 3), 0.2) if k > 1 else None for k in range(1, len(stations))]
    drawing = body_view("spindle", _spindle(1200.0), stations, figures, room=room)
    assert drawing.width == room[0]
    assert drawing.height <= room[1] + 1e-6
    assert _touching(drawing) == []
    assert _off_sheet(drawing) == []


def test_the_body_says_what_is_worst() -> None:
    """The largest missing and the largest extra foam are stated with their blocks, and the reduction."""
    texts = [label.text for label in body_view("spindle", _spindle(), STATIONS, FIGURES).labels]
    assert "missing foam up to 0.72 mm in block 03; extra foam up to 1.3 mm in block 05" in texts
    assert any("drawn about 1:2.3" in text for text in texts)


def test_pictures_have_no_line_to_cut_by() -> None:
    """Roles that the proof measures are not used, so that a picture on a page is no template."""
    drawings = [body_view("a", _spindle(), STATIONS, FIGURES), nested_sections("a", _faces())]
    assert {stroke.role for drawing in drawings for stroke in drawing.strokes} <= {Role.LABEL, Role.DATUM}


def test_figures_must_go_with_stations() -> None:
    """One figure too few is refused with both numbers."""
    with pytest.raises(ValueError, match="6 blocks, found 5"):
        body_view("a", _spindle(), STATIONS, FIGURES[:-1])


def test_too_little_room_is_refused() -> None:
    """A room in which nothing could be seen is refused and not drawn upside down."""
    with pytest.raises(PaperError):
        body_view("a", _spindle(), STATIONS, FIGURES, room=(100.0, 40.0))
    with pytest.raises(PaperError):
        nested_sections("a", _faces(), room=(100.0, 28.0))


def _faces(count: int = 12, shift: float = 0.0) -> list[tuple[float, MultiPolygon]]:
    """Superellipses that grow to the middle and shrink again, each twice as the two faces at a station."""
    turn = np.linspace(0.0, 2 * np.pi, 96, endpoint=False)
    ring = np.column_stack([np.sign(np.cos(turn)) * np.abs(np.cos(turn)) ** 0.7, np.sin(turn)])
    faces = []
    for k in range(count):
        size = np.sin(np.pi * (k + 0.7) / (count + 0.4))
        shape = shapely.Polygon(ring * (60 * size, 40 * size) + (shift, 15 * (1 - size)))
        faces += [(40.0 * k, MultiPolygon([shape]))] * 2
    return faces


def _starboard(drawing: Drawing) -> list[bool]:
    middle = drawing.width / 2
    curves = [stroke.points[:, 0] for stroke in drawing.of_role(Role.LABEL)]
    assert all((x > middle - 1e-9).all() or (x < middle + 1e-9).all() for x in curves)
    return [bool(x.max() > middle + 1e-9) for x in curves]


def test_fore_body_is_to_starboard_and_aft_body_to_port() -> None:
    """As on a body plan (common practice), and looking forward starboard is on the right; the largest is on both."""
    faces = _faces(7)
    drawing = nested_sections("a", faces)
    sides = _starboard(drawing)
    largest = max(range(7), key=lambda k: faces[2 * k][1].area)
    assert (sides.count(True), sides.count(False)) == (largest + 1, 7 - largest)
    right = {label.text for label in drawing.labels if label.anchor == "start" and label.x > drawing.width / 2}
    assert right == {f"{40 * k}" for k in range(largest + 1)}


def test_a_lopsided_body_is_drawn_whole_twice() -> None:
    """Where the sides differ nothing is left out: closed sections side by side."""
    drawing = nested_sections("a", _faces(7, shift=9.0))
    assert all(stroke.closed for stroke in drawing.of_role(Role.LABEL))
    assert len(drawing.of_role(Role.LABEL)) == 8
    assert _touching(drawing) == []
    assert _off_sheet(drawing) == []


def test_sections_are_drawn_to_the_stated_scale() -> None:
    """At 1:2 the half breadth of the largest section measures half of it."""
    faces = _faces(7)
    drawing = nested_sections("a", faces)
    assert any("drawn about 1:2" in label.text for label in drawing.labels)
    reach = max(stroke.points[:, 0].max() for stroke in drawing.of_role(Role.LABEL)) - drawing.width / 2
    assert reach == pytest.approx(max(region.bounds[2] for _, region in faces) / 2, abs=1e-9)


@pytest.mark.parametrize("room", [(182.0, 120.0), (116.0, 90.0), (91.0, 70.0), (360.0, 300.0)])
@pytest.mark.parametrize("count", [1, 2, 9, 40, 150])
def test_numbers_of_sections_are_clear(room: tuple[float, float], count: int) -> None:
    """No two labels touch, no two leaders of a side cross, nothing leaves the sheet."""
    drawing = nested_sections("spindle", _faces(count), room=room)
    assert drawing.height <= room[1] + 1e-6
    assert _touching(drawing) == []
    assert _off_sheet(drawing) == []
    leaders = [_leader(area) for area in drawing.areas if area.kind == "leader" and len(area.rings[0]) == 4]
    assert leaders
    crossing = [pair for pair in itertools.combinations(leaders, 2) if pair[0].crosses(pair[1])]
    assert crossing == []


def _leader(area: Area) -> shapely.LineString:
    ring = area.rings[0]
    return shapely.LineString([(ring[0] + ring[3]) / 2, (ring[1] + ring[2]) / 2])


def test_two_hulls_and_hollows_are_sections_too() -> None:
    """Separate parts and holes are drawn; faces without area are left out."""
    hull = shapely.box(-15.0, -20.0, 15.0, 20.0).difference(shapely.box(-10.0, -15.0, 10.0, 15.0))
    twin = MultiPolygon([affinity.translate(hull, 60.0), affinity.translate(hull, -60.0)])
    drawing = nested_sections("twin", [(0.0, MultiPolygon()), (50.0, twin)])
    assert len(drawing.of_role(Role.LABEL)) == 4
    assert _off_sheet(drawing) == []
    empty = nested_sections("none", [(0.0, MultiPolygon())])
    assert "no section" in empty.labels[0].text


def test_a_drawing_without_areas_is_what_it_was() -> None:
    """The SVG of a drawing without areas has no element that the areas brought, and areas come before every line."""
    plain = Drawing(50.0, 50.0, (line(Role.CUT, (1.0, 2.0), (3.0, 4.0)),))
    filled = plain.with_more(areas=[patch("even", "#f4ecda", 5.0, 6.0, 7.0, 8.0)])
    assert "evenodd" not in drawing_svg(plain)
    group = '<g fill-rule="evenodd" stroke="none"><path class="area even" d="M5.0000 6.0000L12.0000 6.0000L12.0000 '
    group += '14.0000L5.0000 14.0000Z" fill="#f4ecda" /></g>'
    assert drawing_svg(filled).count(group) == 1
    assert drawing_svg(filled).replace(group, "") == drawing_svg(plain)
    assert drawing_svg(filled).index("evenodd") < drawing_svg(filled).index('class="cut"')


def test_every_area_is_a_path_with_its_class() -> None:
    """In the SVG each area is filled, has no line, and carries its kind."""
    drawing = body_view("spindle", _spindle(), STATIONS, FIGURES)
    root = ET.fromstring(drawing_svg(drawing))  # noqa: S314 - our own text
    paths = [path for path in root.iter(f"{SVG}path") if (path.get("class") or "").startswith("area ")]
    assert [(path.get("class"), path.get("fill")) for path in paths] == [
        (f"area {area.kind}", area.colour) for area in drawing.areas
    ]


def test_an_area_is_rendered_with_its_hole() -> None:
    """A rendered area has its colour, and white shows through the hole."""
    rings = tuple(patch("", "", at, at, size, size).rings[0] for at, size in ((2.0, 16.0), (8.0, 4.0)))
    png = drawing_png(Drawing(20.0, 20.0, areas=(Area("even", "#b4591a", rings),)), 127.0)
    picture = Image.open(io.BytesIO(png)).convert("RGB")
    assert picture.size == (100, 100)
    assert picture.getpixel((20, 50)) == (0xB4, 0x59, 0x1A)
    assert picture.getpixel((50, 50)) == (255, 255, 255)


def test_areas_move_and_are_corrected_like_lines() -> None:
    """Shifting a drawing and the printer correction take its areas along."""
    corner = freeze([(10.0, 10.0), (20.0, 10.0), (20.0, 20.0)])
    drawing = Drawing(
        50.0, 50.0, (line(Role.LABEL, *map(tuple, corner.tolist())),), areas=(Area("a", "#fff", (corner,)),)
    )
    for changed in (drawing.translate(3.0, 4.0), Correction(1.01, 0.98, (25.0, 25.0)).drawing(drawing)):
        assert changed.areas[0].rings[0] == pytest.approx(changed.strokes[0].points)
        assert changed.areas[0].rings[0] != pytest.approx(corner)


def _pictures() -> list[Callable[[tuple[float, float]], Drawing]]:
    return [
        lambda room: body_view("spindle", _spindle(), STATIONS, FIGURES, room=room),
        lambda room: nested_sections("spindle", _faces(), room=room),
    ]


def _with_pictures(
    templates: Sequence[Template], heading: Heading, paper: str, factor: float = 1.0
) -> tuple[Page, ...]:
    settings = PageSettings(paper_named(paper), bar_across=100.0 / factor)
    return lay_out(templates, settings, heading, pictures=_pictures())


@pytest.mark.parametrize("paper", ["A5", "A4", "A3", "A0", "120x200", "120x160", "300x120", "1000x150"])
@pytest.mark.parametrize("factor", [1.0, 1.012])
def test_pictures_lie_on_pages_like_all_others(
    mixed: tuple[Template, ...], heading: Heading, paper: str, factor: float
) -> None:
    """The first page with pictures says so and has both bars; nothing leaves the margins or lies on another label.
    Small sheets may have no room for any.
    """
    pages = _with_pictures(mixed, heading, paper, factor)
    first = next((page for page in pages if page.content.areas), None)
    if first is None:
        assert pages[0].paper.width < 150
        return
    assert any("Pictures, reduced" in label.text for label in first.drawing.labels)
    assert {bar.across for bar in first.bars} == {True, False}
    for page in pages:
        if not page.content.areas:
            continue
        assert _touching(page.drawing) == []
        room = shapely.box(8 - 1e-6, 8 - 1e-6, page.paper.width - 8 + 1e-6, page.paper.height - 8 + 1e-6)
        rings = [shapely.MultiPoint(ring) for area in page.content.areas for ring in area.rings]
        assert all(room.covers(shape) for shape in (*rings, *(label.footprint() for label in page.drawing.labels)))


def test_pages_with_pictures_measure_up(mixed: tuple[Template, ...], heading: Heading) -> None:
    """The proof finds every template as before, and no line to cut by in the pictures."""
    pages = _with_pictures(mixed, heading, "A4")
    assert all(check.holds for check in measure(pages_pdf(pages), pages, mixed))


def test_pages_without_pictures_are_what_they_were(mixed: tuple[Template, ...], heading: Heading) -> None:
    """No pictures, no change: the same pages, and those after the pictures differ in their numbers only."""
    settings = PageSettings(paper_named("A4"))
    bare, empty = lay_out(mixed, settings, heading), lay_out(mixed, settings, heading, pictures=())
    assert [drawing_svg(page.drawing) for page in bare] == [drawing_svg(page.drawing) for page in empty]
    after = _with_pictures(mixed, heading, "A4")
    assert [page.pieces for page in after[-len(bare) :]] == [page.pieces for page in bare]


def test_a_picture_that_finds_no_room_is_left_out(mixed: tuple[Template, ...], heading: Heading) -> None:
    """Pages are made without it."""
    settings = PageSettings(paper_named("120x160"))
    tall = partial(nested_sections, "spindle", _faces())
    pages = lay_out(mixed, settings, heading, pictures=[lambda room: tall(room=(room[0], 20.0))])
    assert not any(page.content.areas for page in pages)
