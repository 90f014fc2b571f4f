"""Markings laid along the skin: closed forms on cylinder and cone, joins at stations, directions, and bad artwork."""

import json
import math
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from profiles import BlockSettings, Body, BodyMarks, PageSettings, ReadSettings, StationSettings, cut, plan, read
from profiles.blocks.cut_into import CutInto
from profiles.build import build
from profiles.drafting.bodydrafts import side_view
from profiles.drafting.drafts import draft
from profiles.drafting.markings import LaidMarking, lay_marking
from profiles.drafting.markingsheets import marking_notes
from profiles.drafting.settings import DraftSettings, DrawingSettings, DrawingView, Marking
from profiles.errors import HullError, JobError
from profiles.hull.formats.artwork import read_artwork
from profiles.jobfile import load_job
from profiles.layout import heading_of
from profiles.notes import NoteKind
from profiles.paper.drawing import Role
from profiles.results import draft_files, render_build
from tests import closed_forms as zoo
from tests.test_cli import write_stl

MODELS = Path(__file__).parents[2] / "models"
SQUARE = '<rect x="5" y="5" width="50" height="50"/>'
ELL = '<path d="M 0 0 V 30 H 20"/>'


def svg(content: str, size: str = 'width="60mm" height="60mm" viewBox="0 0 60 60"', head: str = "") -> str:
    """A drawing with something in it."""
    names = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    return f"{head}<svg {names} {size}>{content}</svg>"


@cache
def flying_boat() -> Body:
    """The demo in blocks of 40 mm, cut quickly."""
    hull = read(str(MODELS / "skerrywing.stl"))
    return cut(hull, plan(hull, StationSettings(thickness=40, breaks=(432.0,))), BlockSettings(growth=0.0))


def round_body(folder: Path, fore: float, aft: float) -> Body:
    """A cylinder or cone of 200 mm in blocks of 40 mm."""
    x = np.linspace(0.0, 200.0, 6)
    write_stl(folder / "hull.stl", zoo.revolved(x, np.linspace(fore, aft, 6), 1440))
    hull = read(str(folder / "hull.stl"), ReadSettings(unit="mm", length_axis="x", up="z", nose="low"))
    return cut(hull, plan(hull, StationSettings(thickness=40)), BlockSettings(growth=0.0))


def lay(body: Body, folder: Path, content: str = SQUARE, **settings: Any) -> tuple[LaidMarking, ...]:  # noqa: ANN401 - of any type
    """Artwork laid on a body."""
    (folder / "art.svg").write_text(svg(content) if content.startswith(("<r", "<p")) else content)
    return lay_marking(body, Marking(file=str(folder / "art.svg"), name="mark", **settings))


@pytest.mark.parametrize("side", ["starboard", "port", "top", "bottom"])
@pytest.mark.parametrize("above", [0.0, 8.0])
def test_a_square_on_a_cylinder_has_the_girth_of_its_arc(tmp_path: Path, side: str, above: float) -> None:
    """50 mm across the line of sight take R (asin(b / R) - asin(a / R)) of girth; along the body, and seen from the
    side, they stay 50 mm.
    """
    radius = 40.0
    body = round_body(tmp_path, radius, radius)
    axis = body.hull.lowest + radius
    place: dict[str, Any] = {"y": above} if side in {"top", "bottom"} else {"z": axis + above}
    (laid,) = lay(body, tmp_path, side=side, x=100.0, **place)
    x0, v0, x1, v1 = laid.extents
    assert x1 - x0 == pytest.approx(50.0, abs=1e-9)
    up = -above if side == "bottom" else above
    arcs = [radius * (math.asin((up + end) / radius) - math.asin(up / radius)) for end in (-25.0, 25.0)]
    assert (v0, v1) == pytest.approx(arcs, abs=0.01)
    seen = np.concatenate([line.seen for line in laid.lines])
    assert np.ptp(seen, axis=0) == pytest.approx([50.0, 50.0], abs=1e-9)
    assert laid.stretch == pytest.approx(0.0, abs=1e-6)


def test_the_skin_of_a_cone_is_longer_by_its_slope(tmp_path: Path) -> None:
    """A thin stripe along a generator: the skin is longer than the paper by the secant of the half angle."""
    body = round_body(tmp_path, 20.0, 60.0)
    axis = body.hull.lowest + 60.0
    (laid,) = lay(body, tmp_path, '<rect width="50" height="0.4"/>', x=100.0, z=axis)
    assert laid.stretch == pytest.approx(math.sqrt(1 + (40.0 / 200.0) ** 2) - 1, abs=1e-4)


@pytest.mark.parametrize(("side", "z"), [("port", 0.0), ("starboard", 10.0)])
def test_a_stripe_over_five_blocks_joins_at_every_station(tmp_path: Path, side: str, z: float) -> None:
    """On both sides of each station that it crosses its lines are at the same girth, within 0.1 mm."""
    body = flying_boat()
    (laid,) = lay(body, tmp_path, '<rect width="180" height="12"/>', side=side, x=260.0, z=z)
    stations = [x for x in body.stations.stations if 170.0 < x < 350.0]
    assert len({line.block for line in laid.lines}) >= 5
    for x in stations:
        ends = [
            (round(float(line.seen[k, 1]), 6), float(line.laid[k, 1]), line.block)
            for line in laid.lines
            for k in (0, -1)
            if abs(line.seen[k, 0] - x) < 1e-6
        ]
        for across in {end[0] for end in ends}:
            girths = [end[1] for end in ends if end[0] == across]
            assert len(girths) == 2
            assert abs(girths[0] - girths[1]) <= 0.1
    assert laid.gap <= 0.1


def test_the_step_below_does_not_tear_a_marking_on_top(tmp_path: Path) -> None:
    """Across the planing step the girth from the top stays, and there is nothing to warn of."""
    body = flying_boat()
    top = lay(body, tmp_path, '<rect width="60" height="20"/>', side="top", x=432.0)
    assert top[0].gap < 0.1
    assert not [note for note in marking_notes(top) if note.kind is NoteKind.WARNING]


def test_artwork_reads_from_the_side_that_it_is_on(tmp_path: Path) -> None:
    """The right of an L lies forward on starboard and aft on port; its stem is up on both."""
    body = flying_boat()
    for side, sign in (("starboard", -1.0), ("port", 1.0)):
        (laid,) = lay(body, tmp_path, ELL, side=side, x=260.0, z=0.0)
        seen = np.concatenate([line.seen for line in laid.lines])
        foot = seen[np.argmax(sign * seen[:, 0])]
        assert foot == pytest.approx([260.0 + sign * 10.0, -15.0])
        assert seen[:, 1].max() == pytest.approx(15.0)


def test_the_other_side_reads_the_same_or_is_mirrored(tmp_path: Path) -> None:
    """Mirrored, both sides cover the same x and z; otherwise the other side is turned about, so that it reads."""
    body = flying_boat()

    def outlines(other: str) -> list[list[list[float]]]:
        laid = lay(body, tmp_path, ELL, side="port", x=260.0, z=0.0, other_side=other)
        assert [mark.side for mark in laid] == ["port", "starboard"]
        return [sorted(np.round(np.concatenate([line.seen for line in mark.lines]), 6).tolist()) for mark in laid]

    port, starboard = outlines("mirrored")
    assert port == starboard
    port, starboard = outlines("same")
    assert sorted([round(520.0 - x, 6), z] for x, z in starboard) == port


def test_size_turn_and_mirror(tmp_path: Path) -> None:
    """Twice as wide, a quarter turn anticlockwise, mirrored: where the end of the L's foot goes."""
    body = flying_boat()
    (laid,) = lay(body, tmp_path, ELL, side="port", x=260.0, width=10.0, turn=90.0, mirror=True)
    seen = np.concatenate([line.seen for line in laid.lines])
    assert np.ptp(seen, axis=0) == pytest.approx([15.0, 10.0])
    # mirrored: foot to the left below; a quarter turn anticlockwise: to the right, below
    assert np.abs(seen - (267.5, -5.0)).sum(axis=1).min() == pytest.approx(0.0, abs=1e-9)


def test_transforms_of_groups_are_applied() -> None:
    """Moved, turned and scaled, a line of 10 mm stands where the matrices put it."""
    line = '<line x1="0" y1="0" x2="10" y2="0"/>'
    content = f'<g transform="translate(20,10)"><g transform="rotate(90) scale(2)">{line}</g></g>'
    art = read_artwork(svg(content + '<circle cx="50" cy="50" r="5"/>').encode())
    # extents: the line at x = 20 from y = 10 to 30, the circle from 45 to 55 mm each way
    assert (art.width, art.height) == pytest.approx((35.0, 45.0), abs=0.01)
    assert art.lines[0][0][[0, -1]] == pytest.approx(np.array([(-17.5, 22.5), (-17.5, 2.5)]), abs=0.01)


def test_pictures_are_left_out_and_counted() -> None:
    """A picture is never opened, wherever it lies."""
    art = read_artwork(svg(SQUARE + '<image xlink:href="traced.png" width="5" height="5"/>').encode())
    assert art.pictures == 1


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (svg(SQUARE, 'width="60" height="60" viewBox="0 0 60 60"'), "no width in mm"),
        (svg(SQUARE, ""), "no width in mm"),
        (svg(SQUARE + "<text>hello</text>"), "holds text"),
        (svg(SQUARE + "<script>alert(1)</script>"), "script"),
        (svg('<rect width="5" height="5" onclick="x()"/>'), "script"),
        (svg('<use xlink:href="http://example.invalid/a.svg#b"/>'), "link"),
        (svg(SQUARE + '<image xlink:href="http://example.invalid/a.png"/>'), "link"),
        (svg(""), "no lines"),
        (svg('<path d="M 0 0 L what"/>'), "cannot be read|no lines"),
        (svg(SQUARE, head='<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/hostname">]>'), "document type|DOCTYPE|entit"),
        ("not a drawing", "XML"),
        ("<html/>", "expected an SVG"),
    ],
)
def test_artwork_that_cannot_be_used_is_one_sentence(tmp_path: Path, content: str, words: str) -> None:
    """Without size, with text, scripts, links or entities, empty or broken."""
    with pytest.raises(HullError, match=words):
        read_artwork(content.encode())
    with pytest.raises(JobError, match="marking mark"):
        lay(flying_boat(), tmp_path, content, x=260.0)


def test_a_marking_that_leaves_the_body_or_has_no_file(tmp_path: Path) -> None:
    """Place and side stand in the message."""
    with pytest.raises(JobError, match=r"marking mark leaves the body at x = .*, z = .* mm, seen from starboard"):
        lay(flying_boat(), tmp_path, x=30.0, z=0.0)
    with pytest.raises(JobError, match="leaves the body"):
        lay(flying_boat(), tmp_path, x=5000.0, z=0.0)
    with pytest.raises(JobError, match="cannot be read"):
        lay_marking(flying_boat(), Marking(file=str(tmp_path / "none.svg"), name="gone", x=260.0))
    with pytest.raises(JobError, match="x and y give its place"):
        Marking(file="a.svg", name="mark", side="top", x=10.0, z=5.0)


def test_what_is_cut_out_is_drawn_and_warned_of(tmp_path: Path) -> None:
    """A box taken out of the top of a block stands on the side view; a marking over it is warned of, another not."""
    body = flying_boat()
    block = next(block for block in body.blocks if block.span.x_fore < 260.0 < block.span.x_aft)
    middle, top = (block.span.x_fore + block.span.x_aft) / 2, body.hull.lowest + body.hull.depth
    vertices, faces = zoo.box(20.0, 24.0, 30.0)
    taken = (vertices - vertices.min(axis=0) + (middle - 10.0, -12.0, top - 28.0), faces)
    cut_into = replace(block, into=CutInto(taken, taken, 1.0, ("bay",)))
    less = replace(body, blocks=tuple(cut_into if other is block else other for other in body.blocks))
    rings = [stroke.points for stroke in side_view(less, BodyMarks())[0] if stroke.role is Role.LATER]
    (ring,) = rings
    assert np.ptp(ring, axis=0) == pytest.approx([20.0, 30.0], abs=0.001)
    assert ring[:, 0].mean() == pytest.approx(middle, abs=1e-3)
    for x, over in ((middle, ("bay",)), (middle + 120.0, ())):
        (laid,) = lay(less, tmp_path, side="top", x=x, width=12.0)
        assert laid.over == over
        warned = [note.text for note in marking_notes([laid]) if note.kind is NoteKind.WARNING]
        assert any("bay" in text for text in warned) == bool(over)


@pytest.mark.slow
def test_the_demo_draws_and_marks_the_flying_boat_with_one_command() -> None:
    """Board and views, two markings on three sides, a panel for each side: files, report and book sentences."""
    job = load_job(MODELS / "skerrywing-drawn.toml", {("template", "growth"): "none"})
    made = build(job)
    results = render_build(made)
    for stem in ("drawings", "panels", "markings"):
        assert {f"{stem}.pdf", f"{stem}.svg", f"{stem}.dxf"} <= results.files.keys()
    report = json.loads(results.files["report.json"])
    assert [drawn["name"] for drawn in report["drawings"]] == ["drawing side", "drawing plan", "drawing board"]
    assert [panel["name"] for panel in report["panels"]] == ["bottom starboard", "bottom port"]
    assert [mark["name"] for mark in report["markings"]] == ["wave port", "wave starboard", "rings"]
    assert all(mark["gap"] <= 0.1 for mark in report["markings"])
    assert all(abs(check["expected"] - check["measured"]) <= 0.01 for check in report["checks"])
    assert made.drafts is not None
    assert [step.split(":")[0].split(" ")[0] for step in made.drafts.steps] == ["Building", "Hang", "Skin", "Markings"]
    assert b"bottom port" in results.files["cards.svg"]


def test_sheets_drawings_and_report_have_the_markings(tmp_path: Path) -> None:
    """The finished PDF measures the lines; the side view shows the marking; the report has its figures."""
    (tmp_path / "art.svg").write_text(svg(SQUARE))
    marking = Marking(file=str(tmp_path / "art.svg"), name="square", side="port", x=300.0, z=0.0, width=30.0)
    settings = DraftSettings(DrawingSettings(views=(DrawingView.SIDE,)), (), (marking,))
    body = flying_boat()
    drafts = draft(body, settings, PageSettings(), heading_of(body))
    drawings, markings = drafts.sets
    shown = np.concatenate([stroke.points for stroke in drawings.templates[0].drawing.of_role(Role.LATER)])
    assert np.ptp(shown, axis=0) == pytest.approx([30.0, 30.0])
    files, checks = draft_files(markings, "markings")
    assert sorted(files) == ["markings.dxf", "markings.pdf", "markings.svg"]
    assert max(check.off for check in checks) <= 0.01
    (figures,) = drafts.figures["markings"]
    assert figures["x_aft"] - figures["x_fore"] == pytest.approx(30.0)
    assert figures["girth"] >= 30.0
    assert any("square" in step for step in drafts.steps)
