"""Drawn sections: whole and half, matched corners, and every drawing that is refused."""

import math
from pathlib import Path

import numpy as np
import pytest

from profiles.errors import HullError
from profiles.hull.frame import Hull
from profiles.hull.sections import Side
from profiles.notes import NoteKind
from tests.hull.tables import BREADTH, DRAUGHT, LENGTH, lofted, read_text, wigley

SIZE = 'width="200mm" height="200mm" viewBox="0 0 200 200"'
CENTRE = '<line id="centre" x1="100" y1="0" x2="100" y2="200"/>'


def drawing(*shapes: str, size: str = SIZE) -> str:
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>\n' + "\n".join(shapes) + "\n</svg>"


def read_drawn(folder: Path, *shapes: str, size: str = SIZE) -> Hull:
    return read_text(folder, drawing(*shapes, size=size), name="hull.svg")


def half_circle(x: float, radius: float, side: int = 1) -> str:
    """Half of a round bottom: a quarter of a circle from the keel up, as an arc."""
    sweep = 0 if side > 0 else 1
    return f'<path id="x{x:g}" d="M 100 {100 + radius} A {radius} {radius} 0 0 {sweep} {100 + side * radius} 100"/>'


def whole_circle(x: float, radius: float) -> str:
    return f'<path data-x="{x:g}" d="M {100 - radius} 100 A {radius} {radius} 0 0 0 {100 + radius} 100"/>'


def closed_circle(x: float, radius: float) -> str:
    return f'<g id="station {x:g}"><path d="M {100 - radius} 100 a {radius} {radius} 0 0 0 {2 * radius} 0 Z"/></g>'


RADII = {0: 30.0, 100: 40.0, 200: 45.0, 300: 45.0, 400: 40.0}


@pytest.mark.parametrize("draw", [half_circle, whole_circle, closed_circle])
def test_half_and_whole_sections_make_the_same_hull(tmp_path: Path, draw: type) -> None:
    """Half circles below a flat deck: each section has half the area of a circle (closed form)."""
    hull = read_drawn(tmp_path, CENTRE, *(draw(x, radius) for x, radius in RADII.items()))
    for x, radius in RADII.items():
        side = Side.AFT if x < 400 else Side.FORE
        region = hull.shape.section(float(x), side).region
        assert region.area == pytest.approx(math.pi * radius**2 / 2, rel=2e-4)
        assert region.bounds[2] == pytest.approx(radius, abs=1e-6)
    assert hull.shape.section(250.0, Side.AFT).region.bounds[2] > 45.0  # fair, not straight, from frame to frame


def test_left_halves_are_mirrored(tmp_path: Path) -> None:
    """As in a body plan: one half of the hull on the right, the other on the left."""
    right = read_drawn(tmp_path, CENTRE, *(half_circle(x, radius) for x, radius in RADII.items()))
    both = read_drawn(tmp_path, CENTRE, *(half_circle(x, radius, 1 if x < 250 else -1) for x, radius in RADII.items()))
    assert both.volume == pytest.approx(right.volume, rel=1e-9)


def test_the_centre_line_is_assumed_and_reported(tmp_path: Path) -> None:
    """Whole sections show it; halves by where they begin."""
    for draw in (whole_circle, half_circle):
        hull = read_drawn(tmp_path, *(draw(x, radius) for x, radius in RADII.items()))
        assert hull.breadth == pytest.approx(2 * 45.4, abs=0.6)
        assert any(note.kind is NoteKind.ASSUMPTION and "centre line" in note.text for note in hull.notes)


def test_sizes_in_inches_and_other_user_units_are_applied(tmp_path: Path) -> None:
    """A page of 10 in by 10 in with 200 units across: a unit is 1.27 mm."""
    size = 'width="10in" height="10in" viewBox="0 0 200 200"'
    hull = read_drawn(tmp_path, CENTRE, half_circle(0, 30), half_circle(100, 30), size=size)
    assert hull.breadth == pytest.approx(2 * 30 * 1.27, rel=1e-6)
    assert hull.length == pytest.approx(100)  # places are mm in words


def wigley_path(x: float) -> str:
    """Half a Wigley section as one quadratic curve, which a parabola is exactly."""
    y = float(wigley(x, 0.0))
    return f'<path id="x{x:g}" d="M 100 {DRAUGHT} Q {100 + y} {DRAUGHT / 2} {100 + y} 0"/>'


def test_a_wigley_hull_from_drawn_sections(tmp_path: Path) -> None:
    """11 sections drawn as parabolas, y = b (1 - (z/T)^2) with its control point half-way up at b (closed form): volume
    to 0.2 %, sections between stations to 0.1 mm.
    """
    stations = np.linspace(0, LENGTH, 11)[1:-1].tolist()
    ends = [f'<line id="x{x:g}" x1="100" y1="0" x2="100" y2="{DRAUGHT}"/>' for x in (0, LENGTH)]
    hull = read_drawn(tmp_path, CENTRE, *ends, *map(wigley_path, stations))
    assert hull.volume == pytest.approx(4 * LENGTH * BREADTH * DRAUGHT / 9, rel=0.002)
    worst = 0.0
    for x in np.linspace(0, LENGTH, 201)[1:-1].tolist():
        half = lofted(hull).half(x)
        worst = max(worst, float(np.abs(half[:, 0] - wigley(x, half[:, 1] - hull.lowest - DRAUGHT)).max()))
    assert worst < 0.1


def boxed(x: float, *, chine: bool = True) -> str:
    """Half a section with one corner, or with none and a round bilge."""
    if chine:
        return f'<polyline id="x{x:g}" points="100,120 140,110 150,60"/>'
    return f'<path id="x{x:g}" d="M 100 120 C 135 118 148 100 150 60"/>'


def test_corners_stay_sharp_between_stations(tmp_path: Path) -> None:
    """A chine that runs along the hull is one corner of every section."""
    shape = lofted(read_drawn(tmp_path, CENTRE, boxed(0), boxed(100), boxed(200)))
    assert len(shape.places.borders) == 3
    half = shape.half(33.0)
    assert half[shape.places.borders[1]] == pytest.approx((40.0, half[0, 1] + 10.0))


def test_a_corner_that_fades_goes_on_smoothly_and_is_reported(tmp_path: Path) -> None:
    """Where a section has fewer corners than others, the knuckle passes it at the usual share of its outline."""
    hull = read_drawn(tmp_path, CENTRE, boxed(0, chine=False), boxed(100), boxed(200))
    assert any("belong to the nearest of 1 knuckles" in note.text for note in hull.notes)
    assert hull.shape.section(50.0, Side.AFT).region.is_valid


def test_lopsided_sections_are_reported(tmp_path: Path) -> None:
    """The left half is 1 mm narrower: the right one is used."""
    lopsided = '<path data-x="50" d="M 71 100 A 29 30 0 0 0 100 130 A 30 30 0 0 0 130 100"/>'
    hull = read_drawn(tmp_path, CENTRE, whole_circle(0, 30), lopsided, whole_circle(100, 30))
    assert any("differ by up to 1.0 mm" in note.text for note in hull.notes)
    assert hull.breadth == pytest.approx(60.0, abs=0.01)


def test_what_has_no_place_is_left_out_and_counted(tmp_path: Path) -> None:
    """A frame and a picture beneath the tracing; neither is opened."""
    rest = ['<path id="frame" d="M 0 0 H 200 V 200 H 0 Z"/>', '<image href="plan.png" width="200" height="200"/>']
    hull = read_drawn(tmp_path, CENTRE, *rest, half_circle(0, 30), half_circle(100, 30))
    texts = [note.text for note in hull.notes]
    assert any(text.startswith("1 shapes") for text in texts)
    assert any(text.startswith("1 pictures") for text in texts)


def test_the_head_that_many_programs_write_is_no_fault(tmp_path: Path) -> None:
    """A document type without definitions is left out; the file that it names is not opened."""
    doctype = '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">\n'
    text = '<?xml version="1.0"?>\n' + doctype + drawing(CENTRE, half_circle(0, 30), half_circle(100, 30))
    assert read_text(tmp_path, text, name="hull.svg").length == 100.0


A, B = half_circle(0, 30), half_circle(100, 30)

FAULTS = [
    (drawing(A, B, size=""), "no width in mm"),
    (drawing(A, B, size='width="200" height="200" viewBox="0 0 200 200"'), "no width in mm, but '200'"),
    (drawing(A, B, size='width="200px" height="200mm" viewBox="0 0 200 200"'), "no width in mm, but '200px'"),
    (drawing(A, B, size='width="200mm" height="200mm"'), "no viewBox"),
    (drawing(A, B, size='width="200mm" height="200mm" viewBox="0 0 0 200"'), "no viewBox"),
    (drawing(A, B, size='width="200mm" height="200mm" viewBox="0 0 200 100"'), "1 mm across and 2 mm up"),
    (drawing(A, f'<g transform="translate(5 0)">{B}</g>'), "x100 stands in transform"),
    (drawing(A, B.replace("<path", '<path transform="rotate(3)"')), "x100 stands in transform"),
    (drawing(A, B.replace("<path", '<path style="transform: scale(2)"')), "x100 stands in transform"),
    (drawing(A, f'<svg x="9">{B}</svg>'), "x100 stands in a drawing inside"),
    (drawing(A, B, "<script>alert(1)</script>"), "holds a script"),
    (drawing(A, B.replace("<path", '<path onclick="go()"')), "holds a script"),
    (drawing(A, B, '<image href="https://example.org/plan.png"/>'), "holds a link .*never opened"),
    (drawing(A, B, '<image href="file:///etc/passwd"/>'), "holds a link .*never opened"),
    (drawing(A, f'<a href="https://example.org">{B}</a>'), "holds a link"),
    (drawing(A, B, '<use href="other.svg#x200"/>'), "holds a link"),
    ('<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]>' + drawing(A, B), "document type declaration"),
    (drawing(A), "two stations or more, found 1"),
    (drawing(A, A), "two outlines, x0 and x0, are at x = 0"),
    (drawing(A, '<path id="x9" d="M 0 0 L nonsense"/>'), "outline x9"),
    (drawing(A, '<path id="x9" d=""/>'), "outline x9 has 0 points"),
    (drawing(A, '<path data-x="wide" d="M 0 0 L 9 9"/>'), "expected a place in mm .*'wide'"),
    (drawing(A, '<path id="x9" d="M 100 100 L 120 90 M 130 80 L 140 70"/>'), "outline x9 has 2 pieces"),
    (drawing(CENTRE, A, '<path id="x9" d="M 100 130 L 140 60 L 100 90 L 140 130 L 140 40"/>'), "outline x9 crosses"),
    (drawing(CENTRE, A, '<path id="x9" d="M 90 130 L 140 60 L 60 60 L 140 130 Z"/>'), "outline x9 crosses"),
    (drawing(CENTRE, A, '<path id="x9" d="M 120 130 L 140 60 L 130 60 Z"/>'), "closed and does not run along"),
    (drawing('<line id="centre" x1="90" y1="0" x2="100" y2="9"/>', A, B), "centre line leans by 10.0 mm"),
    (drawing(A, B.replace("M 100", "M 90")), "sections disagree about it by 10.0 mm"),
    ("<html></html>", "begins with 'html'"),
    ("<svg", "not well-formed"),
]


@pytest.mark.parametrize(("text", "words"), FAULTS, ids=[f"{n}-{words[:30]}" for n, (_, words) in enumerate(FAULTS)])
def test_each_fault_of_a_drawing_is_named(tmp_path: Path, text: str, words: str) -> None:
    """One sentence with the outline's name, and one that says what to do."""
    with pytest.raises(HullError, match=f"(?s)^hull.svg: .*{words}") as fault:
        read_text(tmp_path, text, name="hull.svg")
    assert fault.value.remedy


def test_a_curve_of_many_straight_pieces_with_corners_is_refused(tmp_path: Path) -> None:
    """A saw of 40 teeth has 40 corners: no builder drew that."""
    teeth = " ".join(f"{110 + n % 2 * 3},{150 - 2 * n}" for n in range(40))
    with pytest.raises(HullError, match="corners"):
        read_drawn(tmp_path, CENTRE, A, f'<polyline id="x9" points="100,160 {teeth}"/>')
