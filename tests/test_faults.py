"""Jobs that once ended in a fault of the program: each now ends in pages, or in one clear message."""

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from profiles.blocks.blocks import Block
from profiles.blocks.dividing import make_blocks
from profiles.blocks.settings import BlockSettings
from profiles.blocks.stations import plan_stations
from profiles.errors import HullError, JobError, PaperError, StationerError
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.plugs import AREA_FLOOR
from profiles.hull.reading import read
from profiles.hull.sections import Side, section
from profiles.hull.surface import Surface, surface_of
from profiles.layout import refuse_unprintable
from profiles.notes import NoteKind
from profiles.paper.cover import Heading
from profiles.paper.drawing import Role
from profiles.paper.facesheet import TemplateTitle
from profiles.paper.facetemplates import template_of
from profiles.paper.pages import lay_out
from profiles.paper.pdf import pages_pdf
from profiles.paper.proof import measure
from profiles.paper.settings import PageSettings
from profiles.paper.sheetcount import MANY_SHEETS, estimate_sheets, find_larger_paper, refuse_too_many, sheet_notes
from profiles.units import paper_named
from tests import closed_forms as zoo

ROOT = Path(__file__).resolve().parents[1]
MESHES = ROOT.parent / "shared/meshes"
TITLE = TemplateTitle("wagtail", "AB12-CD34")
A4 = PageSettings(paper_named("A4"))


def run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """The command in a folder of its own, on a terminal of 80 columns."""
    environment = os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "80"}
    command = [sys.executable, "-W", "error", "-m", "profiles", *words]
    return subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)


def write_stl(path: Path, mesh: zoo.Mesh) -> None:
    """A binary STL."""
    record = np.zeros(len(mesh[1]), dtype=np.dtype([("normal", "<3f4"), ("corners", "<9f4"), ("more", "<u2")]))
    record["corners"] = mesh[0][mesh[1]].reshape(-1, 9)
    path.write_bytes(b" " * 80 + len(record).to_bytes(4, "little") + record.tobytes())


def bodies(*meshes: zoo.Mesh) -> Surface:
    """Meshes as numbered bodies of one surface."""
    vertices, faces, owner, count = [], [], [], 0
    for number, (points, triangles) in enumerate(meshes, start=1):
        vertices.append(points)
        faces.append(triangles + count)
        owner += [number] * len(triangles)
        count += len(points)
    return surface_of(np.vstack(vertices), np.vstack(faces), np.array(owner))


def boxes(columns: int, rows: int) -> Surface:
    """Boxes 60 x 6 x 6 mm, 10 mm from each to the next."""
    points, faces = zoo.box(60, 6, 6)
    return bodies(*((points + (0, 10 * y, 10 * z), faces) for y in range(columns) for z in range(rows)))


def holed(size: float) -> Surface:
    """Four boxes 100 mm long, laid like the sails of a windmill round a square hole of this size in mm."""
    far = 40.0
    around = ((-far, size, -far, 0.0), (size, far, -far, size), (0.0, far, size, far), (-far, 0.0, 0.0, far))
    made = []
    for y0, y1, z0, z1 in around:
        points, faces = zoo.box(100, y1 - y0, z1 - z0)
        made.append((points - points.min(axis=0) + (0, y0, z0), faces))
    return bodies(*made)


def blocks_of(surface: Surface, foam: float, settings: BlockSettings | None = None) -> tuple[Block, ...]:
    plan = plan_stations(length=float(surface.vertices[:, 0].max()), foam=foam, min_block=10)
    return make_blocks(MeshShape(surface), plan, settings or BlockSettings())[1]


def test_section_has_no_hollow_that_is_rounding() -> None:
    """A hole of 0.1 micrometres between bodies is no hollow; one of 1 mm is."""
    assert not section(holed(1e-4), 50.0, Side.FORE).region.geoms[0].interiors
    (hollow,) = section(holed(1.0), 50.0, Side.FORE).region.geoms[0].interiors
    assert shapely.Polygon(hollow).area == pytest.approx(1.0)
    assert AREA_FLOOR == 1e-6


def test_ring_that_no_page_shows_is_not_drawn() -> None:
    """A hollow of 5 micrometres has an area and yet no line: the pages measure what the template asks for."""
    blocks = blocks_of(holed(5e-3), 100.0)
    assert blocks[0].fore.outline.cut.geoms[0].interiors
    templates = [template_of(block, face, 3.0, TITLE) for block in blocks for face in block.faces]
    assert all(len(template.drawing.of_role(Role.CUT)) == 1 for template in templates)
    pages = lay_out(templates, A4, Heading("wagtail", "100 mm", "AB12-CD34"))
    assert all(check.holds for check in measure(pages_pdf(pages), pages, templates))


@pytest.mark.slow
@pytest.mark.skipif(not MESHES.is_dir(), reason="the meshes beside the repository are not there")
def test_hull_with_a_speck_of_a_hollow_is_made(tmp_path: Path) -> None:
    """A hull whose section has a hollow of 10 nanometres comes out whole and measured."""
    done = run(tmp_path, "make", str(MESHES / "small_boat2.stl"), "--length", "900", "--foam", "50", "--out", "made")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "made/templates.pdf").is_file()


@pytest.mark.slow
def test_template_with_more_pieces_than_room_carries_every_name() -> None:
    """Of 100 pieces that hold no lettering each has its card, and no two of the cards meet."""
    block = blocks_of(boxes(10, 10), 60.0)[0]
    template = template_of(block, block.fore, 3.0, TITLE)
    names = [label for label in template.drawing.labels if label.text.startswith("01") and label.bold]
    assert {label.text.split()[0] for label in names} >= {f"01({number})" for number in range(27, 101)}
    prints = [label.footprint() for label in names]
    tree = shapely.STRtree(prints)
    pairs = tree.query(prints, predicate="overlaps")
    assert not pairs.size


def test_sheets_are_estimated_well_enough_to_decide() -> None:
    """For faces of 300 x 240 mm the estimate is within a third of the pages that come out."""
    points, faces = zoo.box(400, 300, 240)
    blocks = blocks_of(surface_of(points, faces), 40.0)
    templates = [template_of(block, face, 3.0, TITLE) for block in blocks for face in block.faces]
    pages = lay_out(templates, A4, Heading("wagtail", "40 mm", "AB12-CD34"), cover=False)
    sizes = [(block.box.width, block.box.height) for block in blocks for _ in block.faces]
    assert estimate_sheets(sizes, A4) == pytest.approx(len(pages), rel=0.34)


def test_too_many_sheets_are_refused_with_what_to_do() -> None:
    """The message gives the count, the limit and the ways out."""
    with pytest.raises(PaperError, match=r"more than max_sheets allows \(2,000\)\. Check the hull's unit") as refused:
        refuse_too_many([(3010.0, 2010.0)] * 500, A4, 2000)
    assert "--max-sheets" in str(refused.value)
    refuse_too_many([(100.0, 80.0)] * 500, A4, 2000)


def test_named_paper_takes_fewer_sheets() -> None:
    """The paper that a warning names does with no more than the limit, and no smaller named one does."""
    sizes = [(700.0, 500.0)] * 60
    paper = find_larger_paper(sizes, A4, MANY_SHEETS)
    assert paper is not None
    assert estimate_sheets(sizes, PageSettings(paper)) <= MANY_SHEETS < estimate_sheets(sizes, A4)
    (note,) = sheet_notes(sizes, A4, estimate_sheets(sizes, A4))
    assert note.kind is NoteKind.WARNING
    assert f"--paper {paper.name}" in note.sentence
    assert not sheet_notes(sizes, A4, MANY_SHEETS)


def test_hull_in_a_wrong_unit_is_refused_before_anything_is_drawn(tmp_path: Path) -> None:
    """A box of 10 m on A4: exit 3, one message, no folder."""
    write_stl(tmp_path / "ark.stl", zoo.box(10_000, 3000, 2000))
    done = run(tmp_path, "make", "ark.stl", "--foam", "500")
    assert done.returncode == 3
    assert "sheets of A4, more than max_sheets allows (2,000)." in done.stderr
    assert [item.name for item in tmp_path.iterdir()] == ["ark.stl"]


def test_too_many_sheets_are_seen_before_the_blocks_are_made(tmp_path: Path) -> None:
    """From the hull and the foam alone; a hull that fits is not refused."""
    write_stl(tmp_path / "ark.stl", zoo.box(10_000, 3000, 2000))
    hull = read(tmp_path / "ark.stl")
    with pytest.raises(PaperError, match="The 38 templates of up to 3000 x 2000 mm"):
        refuse_unprintable(hull, 500.0, A4)
    refuse_unprintable(hull, 500.0, replace(A4, max_sheets=100_000))


def test_limit_of_sheets_is_an_option(tmp_path: Path) -> None:
    """--max-sheets 1 refuses what the usual limit takes."""
    write_stl(tmp_path / "punt.stl", zoo.box(300, 200, 100))
    assert run(tmp_path, "make", "punt.stl", "--foam", "100", "--max-sheets", "1").returncode == 3
    assert run(tmp_path, "make", "punt.stl", "--foam", "100", "--out", "made").returncode == 0


def test_growth_is_named_where_growth_joins_pieces() -> None:
    """Two bodies 1 mm apart, cut 2 mm oversize without any allowance, are said to be joined by growth."""
    points, faces = zoo.box(100, 30, 20)
    twins = bodies((points, faces), (points + (0, 31, 0), faces))
    (block,) = blocks_of(twins, 100.0, BlockSettings(growth=2.0))
    notes = [note.sentence for note in block.notes if "number of pieces" in note.sentence]
    assert len(notes) == 2
    assert all("growth of the outline changes the number of pieces from 2 to 1" in sentence for sentence in notes)


@pytest.mark.parametrize("kind", [StationerError, HullError, JobError])
def test_message_and_remedy_are_two_sentences(kind: type[StationerError]) -> None:
    """A message without a full stop gets one before its remedy; one that has its end keeps it."""
    assert str(kind("the hull is open", remedy="Close it")) == "the hull is open. Close it."
    assert str(kind("Is it open?", remedy="Close it.")) == "Is it open? Close it."
    assert str(kind("2 faults:\n  foam: missing\n  pin: missing")) == "2 faults:\n  foam: missing.\n  pin: missing."


def test_comparison_fits_a_terminal_of_80_columns(tmp_path: Path) -> None:
    """Four ways to build a hull: a row for each in every table, and no line wider than the terminal."""
    write_stl(tmp_path / "punt.stl", zoo.spheroid())
    done = run(tmp_path, "compare", "punt.stl", "--foam", "80", "--foam", "100", "--fit", "3.5")
    assert done.returncode == 0, done.stderr
    tables = done.stdout.partition("Deviation along the hull")[0].splitlines()
    assert all(len(row) <= 80 for row in tables)
    rows = [row.split("│")[1].strip() for row in tables if row.startswith("│")]
    for label in ("foam 80", "foam 80, fit 3.5", "foam 100", "foam 100, fit 3.5"):
        assert rows.count(label) == 3
