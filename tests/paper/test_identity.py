"""What is left when the scissors have passed: a name on every piece, read back from the SVG by svgelements."""

import functools
import io
import re
from pathlib import Path

import numpy as np
import pytest
import shapely
import svgelements

from profiles.build import Build, build
from profiles.jobfile import load_job
from profiles.paper.drawing import Role
from profiles.paper.svg import drawing_svg
from profiles.paper.template import BlockTemplate, Kind

MODELS = Path(__file__).parents[2] / "models"

HOLDS = 7.5
"""mm; the radius of the circle that a piece must hold to carry its name."""

SKINNED = {("template", "skin"): 1.5, ("template", "kerf"): 1.2, ("template", "wire"): 0.4}


def read(template: BlockTemplate) -> tuple[list[shapely.Polygon], list[tuple[str, shapely.Point]]]:
    """The pieces inside the closed cut lines of a template's SVG, and its texts with their places, mm of the sheet."""
    svg = svgelements.SVG.parse(io.StringIO(drawing_svg(template.drawing)), ppi=25.4, reify=True)
    rings, texts = [], []
    for element in svg.elements():
        if isinstance(element, svgelements.Path) and element.values.get("class") == "cut" and element.d().endswith("Z"):
            rings.append(shapely.LinearRing([(point.x, point.y) for point in element.as_points()]))
        if isinstance(element, svgelements.Text):
            at = element.transform.point_in_matrix_space((element.x, element.y))
            texts.append((element.text, shapely.Point(at.x, at.y)))
    area = shapely.build_area(shapely.GeometryCollection(rings))
    return [part for part in shapely.get_parts(area).tolist() if part.area > 0], texts


def large_enough(piece: shapely.Polygon) -> bool:
    return bool(shapely.maximum_inscribed_circle(piece, tolerance=0.05).length >= HOLDS)


@functools.cache
def made_of(name: str, *, skinned: bool) -> Build:
    return build(load_job(MODELS / f"{name}.toml", SKINNED if skinned else {}))


@pytest.mark.parametrize(("name", "skinned"), [("skerrywing", False), ("skerrywing", True), ("pelloway", True)])
def test_every_piece_that_holds_a_circle_of_15_mm_says_which_it_is(name: str, *, skinned: bool) -> None:
    """Block, face and the plan's number begin inside its cut line, in letters that can be read in the hand."""
    made = made_of(name, skinned=skinned)
    counted = 0
    for template in made.layout.templates:
        pieces, texts = read(template)
        for piece in filter(large_enough, pieces):
            inside = [text for text, place in texts if piece.covers(place)]
            assert any(re.match(rf"{template.source.block:02d}\S* {template.source.kind}", text) for text in inside), (
                template.id
            )
            assert made.fingerprint in " ".join(inside).replace("- ", "-"), template.id
            counted += 1
    assert counted > 30


def test_no_name_stands_on_a_datum_line() -> None:
    """A card may take the place of a datum line; the line is left out there."""
    made = made_of("skerrywing", skinned=False)
    for template in made.layout.templates:
        datum = shapely.MultiLineString([stroke.points for stroke in template.drawing.of_role(Role.DATUM)])
        rects = np.array([label.extent() for label in template.drawing.labels if label.bold])
        crossed = shapely.intersects(datum, shapely.box(*(rects + (0.05, 0.05, -0.05, -0.05)).T))
        assert not crossed.any(), template.id


def test_every_card_says_what_was_allowed_for() -> None:
    """Skin, kerf, wire and growth as used stand on the card of each face, the growth its own."""
    made = made_of("skerrywing", skinned=True)
    words, faces = 0, 0
    for template in made.layout.templates:
        if template.source.number:
            continue
        faces += 1
        texts = [label.text for label in (template.core or template.drawing).labels]
        grown = ""
        if template.source.kind in {Kind.FORE, Kind.AFT}:
            block = made.body.blocks[template.source.block - 1]
            grown = f", growth {block.growth[template.source.kind is Kind.AFT]:.2f}".rstrip("0").rstrip(".")
        words += {"skin 1.5, kerf 1.2", f"wire 0.4{grown} mm"} <= set(texts)
    assert words >= 0.6 * faces  # the others are too small for more than their name
    for page in made.layout.pages:
        assert any("Skin 1.5, kerf 1.2, wire 0.4 mm" in label.text for label in page.drawing.labels)
