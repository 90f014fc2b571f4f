"""Pages, case by case: which way they lie, what shares them, where it stands, and what the title block calls it."""

from collections.abc import Callable, Sequence

import pytest
import shapely

from profiles.errors import PaperError
from profiles.paper.bands import bands
from profiles.paper.cover import TITLE, Heading, cover_panels
from profiles.paper.drawing import Drawing, Label, Role, patch, rectangle
from profiles.paper.pages import PICTURES, Page, lay_out
from profiles.paper.settings import PageSettings
from profiles.paper.sheets import ASIDE, GAP, Picture
from profiles.paper.template import Template
from profiles.units import Paper, paper_named

Maker = Callable[..., Template]

ROUNDING = 0.011
"""mm; the packer counts in hundredths."""


@pytest.fixture(name="sheet")
def fixture_sheet(template: Maker) -> Maker:
    """A maker of templates by the size of their whole sheet: block, width and height in mm."""

    def sheet(block: int, width: float, height: float) -> Template:
        return template(block, "fore", width - 24.0, height - 24.0)

    return sheet


def _texts(pages: Sequence[Page]) -> list[str]:
    return [label.text for page in pages for label in page.drawing.labels]


def _windows(page: Page) -> list[shapely.Polygon]:
    return [shapely.transform(shapely.box(*piece.window), piece.to_page) for piece in page.pieces]


def _shown(page: Page) -> list[shapely.Polygon]:
    """The patches of the pictures on a page."""
    return [shapely.Polygon(area.rings[0]) for area in page.drawing.areas]


def _room(page: Page, settings: PageSettings) -> shapely.Polygon:
    x, y, width, height = bands(page.paper, settings).room
    return shapely.box(x, y, x + width, y + height).buffer(1e-6, join_style="mitre")


def _picture(name: str, width: float, height: float) -> Picture:
    """A patch with a frame as large as asked, or as wide as the room, with its name on it."""

    def picture(room: tuple[float, float]) -> Drawing:
        if height > room[1]:
            msg = "too low"
            raise PaperError(msg)
        across = min(width, room[0])
        frame = rectangle(Role.LABEL, 0.0, 0.0, across, height)
        return Drawing(
            across,
            height,
            (frame,),
            (Label(name, 2.0, 6.0, 3.0),),
            (patch("tint", "#ddeeff", 0.0, 0.0, across, height),),
        )

    return picture


def _whole(pages: Sequence[Page]) -> bool:
    return all(piece.rows * piece.columns == 1 for page in pages for piece in page.pieces)


def test_orientation_is_that_of_the_page_whichever_way_the_paper_is_named(heading: Heading) -> None:
    """A sheet given as 297 x 210 is turned upright for portrait and stays for landscape; a square one is one way."""
    for paper in (Paper("own", 297.0, 210.0), Paper("own", 210.0, 297.0)):
        (upright,) = lay_out((), PageSettings(paper, orientation="portrait"), heading)
        (across,) = lay_out((), PageSettings(paper, orientation="landscape"), heading)
        assert (upright.paper.width, upright.paper.height) == (210.0, 297.0)
        assert (across.paper.width, across.paper.height) == (297.0, 210.0)
    (square,) = lay_out((), PageSettings(Paper("square", 250.0, 250.0)), heading)
    assert square.paper.name == "square"


def test_a_single_sheet_stands_in_the_corner_of_the_room(sheet: Maker, heading: Heading) -> None:
    """It begins where the bands end, and all it draws is there, moved and no more."""
    small = sheet(1, 100.0, 70.0)
    settings = PageSettings(paper_named("A4"), orientation="portrait")
    (page,) = lay_out((small,), settings, heading, cover=False)
    corner = bands(page.paper, settings).room[:2]
    (piece,) = page.pieces
    assert piece.at == pytest.approx(corner, abs=1.0)
    assert piece.name == "01 fore"
    moved = piece.draw(small.drawing)
    drawn = {(stroke.role, stroke.points.tobytes()) for stroke in page.content.strokes}
    assert {(stroke.role, stroke.points.tobytes()) for stroke in moved.strokes} <= drawn
    assert set(moved.labels) <= set(page.content.labels)


def test_every_stroke_of_every_sheet_is_on_its_page(mixed: tuple[Template, ...], heading: Heading) -> None:
    """Sheets that share a page have all their strokes and labels there, beside the two rules of the bands."""
    settings = PageSettings(paper_named("A3"))
    drawings = {template.id: template.drawing for template in mixed}
    for page in lay_out(mixed, settings, heading, cover=False):
        if any(piece.rows * piece.columns > 1 for piece in page.pieces):
            continue
        shown = [drawings[piece.template_id] for piece in page.pieces]
        assert len(page.content.strokes) == 2 + sum(len(drawing.strokes) for drawing in shown)
        for piece, drawing in zip(page.pieces, shown, strict=True):
            assert set(piece.draw(drawing).labels) <= set(page.content.labels)


def test_pages_count_themselves(mixed: tuple[Template, ...], heading: Heading) -> None:
    """Each knows its number, how many there are, and the name of its file."""
    pages = lay_out(mixed, PageSettings(paper_named("A4")), heading)
    count = len(pages)
    assert count > 2
    assert [(page.number, page.of) for page in pages] == [(k, count) for k in range(1, count + 1)]
    assert [page.file_stem for page in pages] == [f"page-{k:02d}" for k in range(1, count + 1)]


def test_title_block_names_what_is_on_the_page(sheet: Maker, heading: Heading) -> None:
    """A sheet alone is called by its name, several one after the other; pictures and the cover by theirs."""
    settings = PageSettings(paper_named("A4"), orientation="portrait")
    alone = lay_out((sheet(1, 170.0, 200.0),), settings, heading, cover=False)
    assert _texts(alone).count("01 fore") == 2  # on the template and in the title block
    both = lay_out((sheet(1, 80.0, 80.0), sheet(2, 80.0, 80.0)), settings, heading, cover=False)
    assert "01 fore; 02 fore" in _texts(both)
    shown = lay_out((), settings, heading, cover=False, pictures=[_picture("side", 100.0, 60.0)])
    assert PICTURES in _texts(shown)
    assert TITLE not in _texts([*alone, *both, *shown])
    large = lay_out((sheet(1, 80.0, 80.0),), PageSettings(paper_named("A0")), heading, pictures=[_picture("a", 90, 60)])
    assert f"{TITLE}; {PICTURES}; 01 fore" in _texts(large)


def test_large_sheet_holds_pictures_cover_and_templates(sheet: Maker, heading: Heading) -> None:
    """On A0 all is on one page, nothing nearer than the gap to anything else, and nothing outside the room."""
    job = [sheet(block, 150.0, 110.0) for block in range(1, 5)]
    settings = PageSettings(paper_named("A0"))
    pictures = [_picture("side", 360.0, 120.0), _picture("plan", 300.0, 200.0)]
    (page,) = lay_out(job, settings, heading, pictures=pictures)
    texts = _texts([page])
    assert [texts.count(name) for name in ("side", "plan", TITLE)] == [1, 1, 1]
    assert len(page.pieces) == 4
    cover = {label.text for panel in cover_panels(heading, "A0", [], [], (175.0, 1000.0)) for label in panel.labels}
    footprints = [label.footprint() for label in page.content.labels if label.text in cover]
    assert len(footprints) >= len(cover)
    shapes = [*_shown(page), *_windows(page)]
    assert len(shapes) == 6
    assert all(_room(page, settings).covers(shape) for shape in shapes)
    assert all(a.distance(b) >= GAP - ROUNDING for k, a in enumerate(shapes) for b in shapes[k + 1 :])
    panel = shapely.unary_union([text for text in footprints if _room(page, settings).covers(text)]).envelope
    assert all(panel.distance(shape) >= GAP - ROUNDING for shape in shapes)


def test_large_sheet_without_templates_holds_pictures_and_cover(heading: Heading) -> None:
    """Nothing to cut yet: pictures and cover still share a page, the pictures with their patches and frames."""
    pictures = [_picture("side", 360.0, 300.0), _picture("plan", 360.0, 300.0), _picture("end", 200.0, 100.0)]
    settings = PageSettings(paper_named("A1"))
    (page,) = lay_out((), settings, heading, pictures=pictures)
    assert len(page.content.areas) == 3
    assert {"side", "plan", "end", TITLE} <= set(_texts([page]))
    frames = [stroke for stroke in page.content.of_role(Role.LABEL) if stroke.closed]
    assert len(frames) == 3
    for frame, shown in zip(frames, _shown(page), strict=True):
        assert shapely.Polygon(frame.points).equals(shown)


def test_cover_comes_first_even_beside_a_later_sheet(sheet: Maker, heading: Heading) -> None:
    """The first sheet fills a page, the second shares the cover's; the cover's page is still the first."""
    job = [sheet(1, 380.0, 500.0), sheet(2, 200.0, 300.0)]
    pages = lay_out(job, PageSettings(paper_named("A2"), orientation="portrait"), heading)
    assert [[piece.template_id for piece in page.pieces] for page in pages] == [["02 fore"], ["01 fore"]]
    assert TITLE in _texts(pages[:1])


@pytest.mark.parametrize("paper", ["A4", "A2", "A0"])
def test_what_is_to_be_read_first_is_on_page_1(sheet: Maker, heading: Heading, paper: str) -> None:
    """The cover begins on the first page; pictures go where there is room, and take no page of their own."""
    job = [sheet(block, 150.0, 110.0) for block in range(1, 4)]
    pictures = [_picture("side", 360.0, 120.0), _picture("plan", 300.0, 200.0)]
    pages = lay_out(job, PageSettings(paper_named(paper)), heading, pictures=pictures)
    assert TITLE in _texts(pages[:1])
    assert paper != "A0" or {"side", "plan"} <= set(_texts(pages))
    assert all(page.pieces or TITLE in _texts([page]) for page in pages)


def test_without_a_cover_there_is_none(sheet: Maker, heading: Heading) -> None:
    """Pictures come first all the same, and no page is called by the cover's name."""
    for paper in ("A4", "A0"):
        pages = lay_out(
            (sheet(1, 100.0, 70.0),),
            PageSettings(paper_named(paper)),
            heading,
            cover=False,
            pictures=[_picture("side", 170.0, 120.0)],
        )
        assert TITLE not in _texts(pages)
        assert "side" in _texts(pages[:1])
        assert sum(len(page.pieces) for page in pages) == 1


def test_picture_that_finds_no_room_is_left_out(heading: Heading) -> None:
    """One that raises is not shown; the others are."""
    pictures = [_picture("high", 100.0, 1000.0), _picture("low", 100.0, 60.0)]
    pages = lay_out((), PageSettings(paper_named("A4")), heading, pictures=pictures)
    texts = _texts(pages)
    assert "low" in texts
    assert "high" not in texts


def test_pictures_one_over_the_other_keep_the_gap(heading: Heading) -> None:
    """Two that are low enough stand over each other on an upright page, within the room."""
    settings = PageSettings(paper_named("A4"), orientation="portrait")
    pages = lay_out((), settings, heading, cover=False, pictures=[_picture(name, 150.0, 110.0) for name in "ab"])
    assert len(pages) == 1
    shown = _shown(pages[0])
    assert len(shown) == 2
    assert shown[0].distance(shown[1]) >= GAP - ROUNDING
    assert all(_room(pages[0], settings).covers(picture) for picture in shown)


def test_cover_in_columns_tells_everything_once(heading: Heading) -> None:
    """On A3 across many notes run over columns side by side and over pages, each note once, in reading order."""
    words = "stands by itself, and is so long that it goes on over a second line of its column."
    notes = [f"Note {k:02d} {words}" for k in range(95)]
    settings = PageSettings(paper_named("A3"), orientation="landscape")
    pages = lay_out((), settings, heading, notes=notes)
    assert len(pages) > 1
    places = []
    for page in pages:
        heads = [label for label in page.content.labels if label.text.startswith("Note ")]
        places += [(label.text[:7], page.number, round(label.x), label.y) for label in heads]
        prints = [label.footprint() for label in page.content.labels]
        tree = shapely.STRtree(prints)
        assert all(a == b for a, b in tree.query(prints, predicate="intersects").T)
    assert sorted(name for name, *_ in places) == [note[:7] for note in notes]
    assert [name for name, *_ in sorted(places, key=lambda place: place[1:])] == [note[:7] for note in notes]
    assert len({x for _, number, x, _ in places if number == 1}) > 1


def test_cover_of_its_own_begins_in_the_corner_of_the_room(heading: Heading) -> None:
    """It is the panel of the cover, moved there."""
    settings = PageSettings(paper_named("A4"), orientation="portrait")
    (page,) = lay_out((), settings, heading)
    x, y, width, height = bands(page.paper, settings).room
    (panel,) = cover_panels(heading, "A4", [], [], (min(width - ASIDE, 175.0), height))
    assert {label.translate(x + ASIDE, y) for label in panel.labels} <= set(page.content.labels)


def test_cover_names_the_paper_to_print_on(heading: Heading) -> None:
    """The first rule says which."""
    for paper in ("A4", "Letter"):
        words = " ".join(_texts(lay_out((), PageSettings(paper_named(paper)), heading)))
        assert f"on {paper} paper" in words


@pytest.mark.parametrize(("across", "up"), [(1.0, 1.0), (1.01, 1.0), (1.0, 0.99), (1.01, 0.99)])
def test_cover_says_whether_pages_are_corrected_for_a_printer(heading: Heading, across: float, up: float) -> None:
    """A correction of either axis is stated, and only then."""
    settings = PageSettings(paper_named("A4"), bar_across=100 / across, bar_up=100 / up)
    words = " ".join(_texts(lay_out((), settings, heading)))
    assert ("corrected for one printer" in words) == ((across, up) != (1.0, 1.0))
