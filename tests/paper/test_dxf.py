"""DXF files opened by ezdxf, which writes only the head of them: units, layers, closed lines, areas, the pairing."""

import io
from pathlib import Path

import numpy as np
import pytest
import shapely
from ezdxf import document as dxf
from ezdxf import filemanagement, units
from ezdxf.entities.lwpolyline import LWPolyline

from profiles.blocks.blocks import Block
from profiles.blocks.settings import BlockSettings
from profiles.layout import draw_templates
from profiles.paper.cardrings import card_rings
from profiles.paper.cardsheets import EDGE, card_sheet, cut_drawing, too_large
from profiles.paper.drawing import Role
from profiles.paper.dxf import drawing_dxf
from profiles.paper.facesheet import TemplateTitle
from profiles.paper.template import BlockTemplate
from profiles.units import Paper, paper_named
from tests import closed_forms as zoo
from tests.paper.test_templates import blocks_of

TITLE = TemplateTitle("stonefly", "AB12-CD34")
CARD = paper_named("560x710")


@pytest.fixture(name="blocks", scope="module")
def fixture_blocks() -> list[Block]:
    """A spheroid: rounded faces, and a carved block at each end."""
    return list(blocks_of(zoo.spheroid(), 40.0, BlockSettings(kerf=1.0)))


@pytest.fixture(name="templates", scope="module")
def fixture_templates(blocks: list[Block]) -> list[BlockTemplate]:
    """Faces, profiles and gauges of all blocks."""
    return draw_templates(3.0, TITLE, blocks)


def _document(content: bytes) -> dxf.Drawing:
    document = filemanagement.read(io.StringIO(content.decode("ascii")))
    assert document.audit().errors == []
    return document


def _polygons(document: dxf.Drawing, layer: str = "cut") -> list[shapely.Polygon]:
    return [shapely.Polygon(line.get_points("xy")) for line in _lines(document, layer) if line.closed]


def _lines(document: dxf.Drawing, layer: str) -> list[LWPolyline]:
    found = document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    return [line for line in found if isinstance(line, LWPolyline)]


def test_a_template_is_in_millimetres_on_four_layers(templates: list[BlockTemplate]) -> None:
    """R2010, units mm, what is cut closed, pins on their own layer, and text where the SVG has it."""
    document = _document(drawing_dxf(cut_drawing(templates[0])))
    assert document.dxfversion == "AC1024"
    assert document.units == units.MM
    layers = {entity.dxf.layer for entity in document.modelspace()}
    assert layers == {"cut", "score", "text", "pins"}
    assert all(line.closed for line in _lines(document, "cut"))
    texts = {entity.dxf.text for entity in document.modelspace().query("TEXT")}
    assert "AB12-CD34" in texts


def test_areas_are_those_of_the_outlines(blocks: list[Block], templates: list[BlockTemplate]) -> None:
    """The area inside the cut lines of a face is that of its outline within 1e-6."""
    outlines = {face.id: face.outline.cut for block in blocks for face in block.faces}
    seen = 0
    for template in templates:
        if template.id in outlines:
            (area,) = (polygon.area for polygon in _polygons(_document(drawing_dxf(cut_drawing(template)))))
            assert area == pytest.approx(outlines[template.id].area, rel=1e-6)
            seen += 1
    assert seen > 6


def test_both_faces_have_equal_points_from_mark_to_mark(blocks: list[Block]) -> None:
    """Points of equal number are at the same share of the way between two marks, and rings keep their shape."""
    paired = [block for block in blocks if block.fore.has_template and block.aft.has_template]
    assert paired
    for block in paired:
        for fore, aft in zip(*card_rings(block), strict=True):
            assert len(fore) == len(aft)
            for face, ring in ((block.fore, fore), (block.aft, aft)):
                assert shapely.Polygon(ring).symmetric_difference(face.outline.cut).area < 1e-6
            places = []
            for face, ring in ((block.fore, fore), (block.aft, aft)):
                marks = np.array([(mark.y, mark.z) for mark in face.marks])
                apart = np.linalg.norm(ring[:, None] - marks[None], axis=2)
                assert apart.min(axis=0).max() < 1e-6
                places.append(apart.argmin(axis=0).tolist())
            assert places[0] == places[1]


def test_cards_hold_every_piece_apart(templates: list[BlockTemplate]) -> None:
    """All cut lines are inside the card, none crosses another, and the cards have as much area as the templates."""
    drawing = card_sheet(templates, CARD)
    pieces = _polygons(_document(drawing_dxf(drawing)))
    assert len(pieces) == sum(len(cut_drawing(t).of_role(Role.CUT)) for t in templates) - _open_lines(templates)
    low, high = EDGE - 1e-6, drawing.height
    for piece in pieces:
        left, bottom, right, top = piece.bounds
        assert left >= low
        assert bottom >= drawing.height - CARD.height + low
        assert top <= high - low
        assert right <= drawing.width - low
    edges = [piece.boundary for piece in pieces]
    assert all(a.distance(b) > 0 for k, a in enumerate(edges) for b in edges[k + 1 :])


def _open_lines(templates: list[BlockTemplate]) -> int:
    return sum(not stroke.closed for template in templates for stroke in cut_drawing(template).of_role(Role.CUT))


def test_same_templates_give_the_same_bytes(templates: list[BlockTemplate], tmp_path: Path) -> None:
    """No date, no name of a machine; ezdxf can write the file again."""
    first, second = (drawing_dxf(card_sheet(templates, CARD)) for _ in range(2))
    assert first == second
    _document(first).saveas(tmp_path / "again.dxf")


def test_what_is_larger_than_the_card_is_named(templates: list[BlockTemplate]) -> None:
    """On a card of 100 mm only small pieces are nested; the others are listed."""
    large = too_large(templates, Paper("small", 100.0, 100.0))
    assert large
    assert len(large) < len(templates)
    assert not too_large(templates, CARD)
