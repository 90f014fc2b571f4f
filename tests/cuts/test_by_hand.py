"""Bays, slots, tubes and stands: what they take, their templates, and what cannot be."""

import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from profiles import Bay, Body, Cutout, CutSettings, Stand, cut_into
from profiles.blocks.bodyfile import volume_of
from profiles.blocks.cut_into import Cuts
from profiles.build import build
from profiles.desk.wishes import WishError, clean_tree
from profiles.errors import JobError
from profiles.folder import OURS
from profiles.hull.sections import Side
from profiles.jobfile import load_job
from profiles.notes import NoteKind
from profiles.results import render_build
from tests import closed_forms as zoo
from tests.cuts.bodies import MODELS, body_of, hull_of


@pytest.fixture(scope="module")
def box(tmp_path_factory: pytest.TempPathFactory) -> Body:
    """400 x 80 x 60 mm, the datum in half of its height."""
    return body_of(hull_of(zoo.box(400.0, 80.0, 60.0), tmp_path_factory.mktemp("box")))


def taken(before: Body, after: Body) -> float:
    return sum((volume_of(b) or 0.0) - (volume_of(a) or 0.0) for b, a in zip(before.blocks, after.blocks, strict=True))


def cuts_of(body: Body) -> Cuts:
    assert body.cuts is not None
    return body.cuts


def test_a_bay_takes_its_prism(box: Body) -> None:
    """100 x 50 mm with corners of 8 mm, 35 mm deep: (100 50 - (4 - pi) 8^2) 35 mm3, over two joints."""
    after = cut_into(box, CutSettings(bays=(Bay(x_from=120.0, x_to=220.0, width=50.0, depth=35.0, radius=8.0),)))
    assert taken(box, after) == pytest.approx((5000 - (4 - math.pi) * 64) * 35, rel=1e-3)
    (figures,) = cuts_of(after).figures["by_hand"]
    assert figures["blocks"] == [3, 4, 5]
    assert figures["volume"] == pytest.approx(taken(box, after), rel=1e-6)
    face = after.blocks[2].aft
    (cut,) = face.into.by_hand
    assert cut.outline.bounds == pytest.approx((-25.0, box.hull.lowest + 25.0, 25.0, box.hull.lowest + 60.0))


@pytest.mark.parametrize(("side", "depth"), [("deck", 60.0), ("keel", 60.0), ("port", 80.0), ("starboard", 80.0)])
def test_a_slot_through_the_body_from_any_side(box: Body, side: str, depth: float) -> None:
    """A slot right through takes length x width x the depth of the body there."""
    middle = 0.0 if depth == 60.0 else box.hull.lowest + 30.0
    slot = Cutout(kind="slot", x_from=50.0, x_to=110.0, width=4.0, side=side, middle=middle, through=True)  # type: ignore[arg-type]
    after = cut_into(box, CutSettings(cutouts=(slot,)))
    assert taken(box, after) == pytest.approx(60 * 4 * depth, rel=1e-3)


def test_a_tube_at_an_angle_takes_its_cylinder(box: Body) -> None:
    """8 mm across, wholly inside: pi 4^2 times its length; seen from port and, since it runs aside, from above."""
    low = box.hull.lowest
    tube = Cutout(kind="tube", diameter=8.0, start=(60.0, -10.0, low + 15.0), end=(260.0, 10.0, low + 45.0))
    after = cut_into(box, CutSettings(cutouts=(tube,)))
    length = math.dist((60, -10, 15), (260, 10, 45))
    assert taken(box, after) == pytest.approx(math.pi * 16 * length, rel=2e-3)
    assert [sheet.name for sheet in cuts_of(after).sheets] == ["tube 1", "tube 1 from above"]


def test_a_hatch_has_draught(box: Body) -> None:
    """10 mm thick at 20 degrees: the lower edge is 10 tan 20 mm inside the upper one."""
    bay = Bay(x_from=120.0, x_to=220.0, width=50.0, depth=35.0, hatch=10.0, draught=20.0)
    sheet = cuts_of(cut_into(box, CutSettings(bays=(bay,)))).sheets[1]
    lower = next(line for line in sheet.lines if line.text == "lower edge")
    inset = 10 * math.tan(math.radians(20))
    assert np.ptp(lower.points, axis=0) == pytest.approx([100 - 2 * inset, 50 - 2 * inset], abs=1e-3)


def test_a_cradle_fits_the_body(boat: Body) -> None:
    """The edge of a cradle keeps the felt's clearance from the section, and touches nothing else of it."""
    cuts = cuts_of(cut_into(boat, CutSettings(stands=(Stand(at=(300.0,), clear=2.0),))))
    cradle, base = cuts.sheets
    section = boat.hull.shape.section(300.0, Side.AFT).region
    assert cradle.outline.distance(section) == pytest.approx(2.0, abs=0.02)
    low = section.bounds[1]
    near = cradle.outline.buffer(2.05).intersection(section.boundary)
    assert near.length > 0.3 * section.intersection(shapely.box(-1e3, low, 1e3, low + 38.0)).boundary.length
    (slot,) = base.outline.geoms[0].interiors
    tenon = cradle.outline.intersection(shapely.box(-1e3, -1e3, 1e3, cradle.outline.bounds[1] + 3.0))
    assert shapely.Polygon(slot).bounds[3] * 2 == pytest.approx(tenon.bounds[2] - tenon.bounds[0])


def test_a_stand_with_the_keel_up_turns_the_section(boat: Body) -> None:
    """The cradle then holds the deck: its deepest place is the deck's height below the foot."""
    down, up = (
        cuts_of(cut_into(boat, CutSettings(stands=(Stand(at=(300.0,), keel=keel, depth=20.0),)))).sheets[0].outline
        for keel in ("down", "up")
    )
    deck = boat.hull.shape.section(300.0, Side.AFT).region.bounds[3]
    assert up.bounds[3] == pytest.approx(-deck - 2.0 + 20.0, abs=0.01)
    assert down.bounds[3] != pytest.approx(up.bounds[3], abs=5.0)


def test_the_outside_stays_as_it_was(boat: Body) -> None:
    """Neither growth nor deviation nor a line of a template changes but where the wire itself cuts the bay."""
    settings = CutSettings(bays=(Bay(x_from=120.0, x_to=220.0, width=50.0, depth=35.0),))
    after = cut_into(boat, settings)
    for before, block in zip(boat.blocks, after.blocks, strict=True):
        assert block.growth == before.growth
        if not (before.span.x_fore >= 125.0 and before.span.x_aft <= 215.0):
            assert [face.outline for face in block.faces] == [face.outline for face in before.faces]
        if not before.span.x_aft > 120.0 or not before.span.x_fore < 220.0:
            assert block.into is None
            assert volume_of(block) == volume_of(before)


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        (CutSettings(bays=(Bay(x_from=350.0, x_to=450.0, width=20.0, depth=10.0),)), "the hull ends at 400.0 mm"),
        (CutSettings(bays=(Bay(x_from=50.0, x_to=90.0, width=20.0, depth=10.0, middle=200.0),)), "beside the hull"),
        (CutSettings(bays=(Bay(x_from=50.0, x_to=58.0, width=20.0, depth=10.0),)), "corners of 5 mm radius"),
        (
            CutSettings(cutouts=(Cutout(kind="tube", diameter=4.0, start=(50, 0, 100), end=(90, 0, 100)),)),
            "tube 1, from x = 50.0 to 90.0 mm, lies outside the hull",
        ),
        (CutSettings(stands=(Stand(at=(500.0,)),)), "there is no hull at x = 500 mm for a cradle"),
    ],
)
def test_what_lies_outside_the_hull_is_refused(box: Body, settings: CutSettings, words: str) -> None:
    """One sentence says which, where and what to do."""
    with pytest.raises(JobError, match=words):
        cut_into(box, settings)


def test_cuts_that_cross_are_a_warning(box: Body) -> None:
    """The builder may mean it."""
    bays = (
        Bay(name="fore bay", x_from=50.0, x_to=150.0, width=20.0, depth=20.0),
        Bay(name="aft bay", x_from=140.0, x_to=200.0, width=20.0, depth=20.0),
    )
    warnings = [note.sentence for note in cut_into(box, CutSettings(bays=bays)).notes if note.kind is NoteKind.WARNING]
    assert "Fore bay and aft bay cross in block 03. Check that this is what you want." in warnings


def test_kinds_say_what_they_need() -> None:
    """A saddle without a chord is refused with the job."""
    with pytest.raises(JobError, match="a saddle needs aerofoil and chord"):
        Cutout(kind="saddle", aerofoil="0012")
    with pytest.raises(JobError, match="a tube needs diameter, start and end"):
        Cutout(kind="tube", diameter=3.0)


JOB = """
[hull]
file = "{hull}"
unit = "mm"
nose = "low"
[foam]
thickness = 58
[body]
density = 33
[[cutouts]]
kind = "saddle"
name = "wing"
aerofoil = "wing.dat"
chord = 150
x = 250
z = 24
[[bays]]
from = 130
to = 220
width = 40
depth = 30
hatch = 8
"""


def test_a_job_has_it_all_in_its_folder(tmp_path: Path) -> None:
    """Templates in cutouts.pdf, figures in the report, names in the block list, and less weight."""
    (tmp_path / "wing.dat").write_text(
        "\n".join(f"{x} {y}" for x, y in ((1, 0), (0.6, 0.08), (0.3, 0.1), (0.1, 0.07), (0.02, 0.03), (0, 0)))
        + "\n"
        + "\n".join(f"{x} {-y}" for x, y in ((0.02, 0.03), (0.1, 0.05), (0.3, 0.05), (0.6, 0.03), (1, 0))),
        encoding="utf-8",
    )
    place = tmp_path / "boat.toml"
    place.write_text(JOB.format(hull=MODELS / "skerrywing.stl"), encoding="utf-8")
    results = render_build(build(load_job(place)))
    assert results.files["cutouts.pdf"].startswith(b"%PDF-")
    assert [cut["name"] for cut in results.figures["cuts"]["by_hand"]] == ["wing", "bay 1"]
    assert any(line.endswith(",bay 1") for line in results.files["blocks.csv"].decode().splitlines())
    parts = {part["name"]: part["weight_g"] for part in results.figures["body"]["parts"]}
    lost = results.figures["cuts"]["foam_before_volume"] - results.figures["cuts"]["foam_after_volume"]
    assert parts["cut out of it"] == pytest.approx(-lost * 33e-6, rel=1e-3)


def test_the_page_opens_no_aerofoil_file() -> None:
    """What the page sends names no file of the machine that it runs on; four digits pass."""
    with pytest.raises(WishError, match="aerofoils by four digits"):
        clean_tree({"cutouts": [{"kind": "saddle", "aerofoil": "/etc/hostname", "chord": 100}]})
    assert clean_tree({"cutouts": [{"kind": "saddle", "aerofoil": "NACA 2412", "chord": 100}]})


def test_the_wire_cuts_a_bay_that_goes_through_a_whole_block(box: Body) -> None:
    """Block 4, from 150 to 200 mm, lies between the corners: its templates have the notch, with marks that pair."""
    after = cut_into(box, CutSettings(bays=(Bay(x_from=120.0, x_to=220.0, width=50.0, depth=35.0, radius=8.0),)))
    assert taken(box, after) == pytest.approx((5000 - (4 - math.pi) * 64) * 35, rel=1e-3)
    notched = [
        block.span.number
        for block, old in zip(after.blocks, box.blocks, strict=True)
        if block.fore.outline.cut.area < old.fore.outline.cut.area - 1
    ]
    assert notched == [4]
    block, old = after.blocks[3], box.blocks[3]
    for face, before in zip(block.faces, old.faces, strict=True):
        assert before.outline.cut.area - face.outline.cut.area == pytest.approx(50 * 35, rel=1e-3)
        assert not face.into.by_hand
        edge = face.outline.cut.boundary
        assert all(edge.distance(shapely.Point(mark.y, mark.z)) < 0.02 for mark in face.marks)
    assert [mark.number for mark in block.fore.marks] == [mark.number for mark in block.aft.marks]
    assert "block 04 by the wire" in cuts_of(after).rows[0].work


def test_the_files_are_known_as_results() -> None:
    """A folder with an earlier result may be replaced, cutouts.pdf and all."""
    assert {f"cutouts.{ending}" for ending in ("pdf", "svg", "dxf")} <= OURS
