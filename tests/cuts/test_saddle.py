"""Saddles: ordinates on the printed template, incidence, dihedral, and files of aerofoils, good and bad."""

import math
from pathlib import Path

import numpy as np
import pytest
from shapely import Point, Polygon

from profiles import Body, Cutout, CutSettings, cut_into
from profiles.arrays import Floats
from profiles.cuts.aerofoil import aerofoil_of, naca
from profiles.cuts.saddle import saddle_of
from profiles.drafting.cutdrafts import cut_draft
from profiles.errors import JobError
from profiles.paper.drawing import Role
from tests import closed_forms as zoo
from tests.cuts.bodies import body_of, hull_of

CHORD = 200.0

NACA_0012 = {
    1.25: 1.894,
    2.5: 2.615,
    5.0: 3.555,
    7.5: 4.200,
    10.0: 4.683,
    15.0: 5.345,
    20.0: 5.737,
    25.0: 5.941,
    30.0: 6.002,
    40.0: 5.803,
    50.0: 5.294,
    60.0: 4.563,
    70.0: 3.664,
    80.0: 2.623,
    90.0: 1.448,
    95.0: 0.807,
}
"""Stations and ordinates in per cent of the chord as tables of the section print them (Abbott and von Doenhoff 1959,
Theory of Wing Sections, appendix III); typed from memory and checked against the formula of NACA Report 460."""


@pytest.fixture(scope="module")
def box(tmp_path_factory: pytest.TempPathFactory) -> Body:
    """400 x 80 x 60 mm."""
    return body_of(hull_of(zoo.box(400.0, 80.0, 60.0), tmp_path_factory.mktemp("box")))


def saddle(**settings: object) -> Cutout:
    given: dict[str, object] = {"kind": "saddle", "aerofoil": "0012", "chord": CHORD, "x": 100.0, "z": 0.0} | settings
    return Cutout(**given)  # type: ignore[arg-type]


def printed(body: Body, cutout: Cutout, side: str = "port") -> Floats:
    """The contour (n, 2) on the printed template, x and z mm from its datum cross."""
    cuts = cut_into(body, CutSettings(cutouts=(cutout,))).cuts
    assert cuts is not None
    sheet = next(sheet for sheet in cuts.sheets if sheet.name.endswith(side))
    template = cut_draft(sheet)
    contour, _ = template.drawing.of_role(Role.CUT)
    flip = (1.0, -1.0) if side == "port" else (-1.0, -1.0)
    return np.asarray((contour.points - np.array(template.datum)) * flip)


def heights(contour: Floats, x: float) -> tuple[float, float]:
    """The upper and lower z of a contour at x mm."""
    nose = int(np.argmin(contour[:, 0]))
    sides = [contour[: nose + 1], contour[nose:]]
    found = [float(np.interp(x, *side[np.argsort(side[:, 0])].T)) for side in sides]
    return max(found), min(found)


@pytest.mark.parametrize("side", ["port", "starboard"])
def test_ordinates_of_naca_0012_are_on_the_printed_template(box: Body, side: str) -> None:
    """Published ordinates, to 0.01 mm at a chord of 200 mm, above and below."""
    contour = printed(box, saddle(), side)
    for station, ordinate in NACA_0012.items():
        upper, lower = heights(contour, 100.0 + station / 100 * CHORD)
        assert upper == pytest.approx(ordinate / 100 * CHORD, abs=0.01)
        assert lower == pytest.approx(-ordinate / 100 * CHORD, abs=0.01)


def test_ordinates_of_naca_2412_follow_the_published_formula(box: Body) -> None:
    """Thickness square to the mean line (NACA Report 460): points computed here lie within 0.01 mm of it."""
    line = Polygon(printed(box, saddle(aerofoil="NACA 2412"))).exterior
    for share in (0.0125, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 0.95):
        half = 0.6 * (
            0.2969 * math.sqrt(share) - 0.126 * share - 0.3516 * share**2 + 0.2843 * share**3 - 0.1015 * share**4
        )
        if share < 0.4:
            mean, slope = 0.02 / 0.16 * (0.8 * share - share**2), 0.04 / 0.16 * (0.4 - share)
        else:
            mean, slope = 0.02 / 0.36 * (0.2 + 0.8 * share - share**2), 0.04 / 0.36 * (0.4 - share)
        turn = math.atan(slope)
        for sign in (1, -1):
            point = (share - sign * half * math.sin(turn), mean + sign * half * math.cos(turn))
            place = Point(100 + CHORD * point[0], CHORD * point[1])
            assert line.distance(place) < 0.01


def test_incidence_turns_the_chord_about_the_leading_edge(box: Body) -> None:
    """At 5 degrees the trailing edge lies c sin 5 lower and the leading edge stays."""
    contour = printed(box, saddle(aerofoil="0012", incidence=5.0))
    tail = (contour[0] + contour[-1]) / 2
    turn = math.radians(5.0)
    assert tail == pytest.approx([100 + CHORD * math.cos(turn), -CHORD * math.sin(turn)], abs=0.01)
    assert np.min(np.hypot(*(contour - (100.0, 0.0)).T)) < 0.01


def test_dihedral_raises_the_side_templates(box: Body) -> None:
    """At y = 40 mm and 6 degrees the contour stands 40 tan 6 higher and is 1 / cos 6 as high."""
    flat, raised = (printed(box, saddle(dihedral=angle)) for angle in (0.0, 6.0))
    turn = math.radians(6.0)
    assert raised[:, 1] == pytest.approx(40.0 * math.tan(turn) + flat[:, 1] / math.cos(turn), abs=0.01)
    made, _ = saddle_of(saddle(dihedral=6.0), "wing", box)
    area = Polygon(flat).area / math.cos(turn)
    volume = sum(zoo.mesh_volume(mesh) for mesh in made.solids)
    assert volume == pytest.approx(2 * area * 50.0, rel=1e-6)


def test_skin_goes_round_the_aerofoil(box: Body) -> None:
    """A skin of 1.5 mm makes the thickest place 3 mm thicker."""
    bare, skinned = (np.ptp(printed(box, saddle(skin=skin))[:, 1]) for skin in (0.0, 1.5))
    assert skinned - bare == pytest.approx(3.0, abs=0.01)


def test_files_in_any_usual_order_give_one_contour(tmp_path: Path) -> None:
    """Round from the trailing edge, reversed, side by side, in per cent and with a name: all the same aerofoil."""
    whole = naca(2, 4, 12)
    nose = int(np.argmin(whole[:, 0]))
    upper, lower = whole[: nose + 1][::-1], whole[nose:]
    texts = {
        "round": "\n".join(f"{x:.9f} {y:.9f}" for x, y in whole),
        "named": "Some wing\n" + "\n".join(f"{x:.9f}, {y:.9f}" for x, y in whole),
        "reversed": "\n".join(f"{x:.9f} {y:.9f}" for x, y in whole[::-1]),
        "sides": f"{len(upper)}. {len(lower)}.\n" + "\n".join(f"{x:.9f} {y:.9f}" for x, y in (*upper, *lower)),
        "percent": "\n".join(f"{100 * x:.7f} {100 * y:.7f}" for x, y in whole),
    }
    for name, text in texts.items():
        path = tmp_path / f"{name}.dat"
        path.write_text(text, encoding="utf-8")
        found = aerofoil_of(str(path))
        assert Polygon(found.contour).symmetric_difference(Polygon(whole)).area < 1e-4, name
        assert found.notes


GOOD = "\n".join(f"{x} {y}" for x, y in naca(0, 0, 12).tolist())


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (GOOD + "\nthe end", r"line \d+: expected two numbers, found 'the end'"),
        (GOOD.replace("\n", "\nnan 0\n", 1), "line 2: expected x and y, found 'nan 0'"),
        ("\n".join(f"{x} {y} 0" for x, y in naca(0, 0, 12).tolist()), "line 1: expected x and y"),
        ("1 0\n0 0\n1 0", "expected at least 10 points"),
        ("\n".join(f"{(7 * n) % 23 / 23} {n / 100}" for n in range(23)), "do not run from the trailing edge"),
        ("\n".join(f"{x} {y + 0.2 * x * (y > 0)}" for x, y in naca(0, 0, 12).tolist()), "the trailing edge is open by"),
    ],
)
def test_what_is_no_aerofoil_is_refused(tmp_path: Path, text: str, words: str) -> None:
    """One sentence says which line, what was found, and what to do."""
    path = tmp_path / "wing.dat"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(JobError, match=words):
        aerofoil_of(str(path))


def test_a_missing_file_is_refused() -> None:
    """The name that was looked for stands in the message."""
    with pytest.raises(JobError, match=r"the aerofoil file nowhere\.dat cannot be read"):
        aerofoil_of("nowhere.dat")


@pytest.mark.parametrize(
    ("settings", "words"),
    [({"x": 300.0}, "the hull ends at 400.0 mm"), ({"z": 300.0}, "the wing does not touch the hull")],
)
def test_a_saddle_off_the_body_is_refused(box: Body, settings: dict[str, float], words: str) -> None:
    """Where it is, and what to change."""
    with pytest.raises(JobError, match=words):
        cut_into(box, CutSettings(cutouts=(saddle(**settings),)))
