"""The stage `weigh`: weights, ballast, glue, skin and flotation of hulls."""

import math
from pathlib import Path

import numpy as np
import pytest

from profiles import (
    BlockSettings,
    Board,
    BodySettings,
    FoamSettings,
    Hull,
    Load,
    ReadSettings,
    StationSettings,
    WaterSettings,
    WeighSettings,
    cut,
    plan,
    read,
    supply,
    weigh,
)
from profiles.body import surface as surfaces
from profiles.body.kinds import FOAMS, WATERS
from profiles.body.mass import skin_mass, solid_mass
from profiles.body.settings import FoamName
from profiles.body.surface import closed_surface
from profiles.errors import JobError
from profiles.foam.figures import boards_used
from profiles.notes import NoteKind
from tests import closed_forms as zoo
from tests.body.figures import Mesh
from tests.hull import mesh_files

MODELS = Path(__file__).parents[2] / "models"


def hull_of(mesh: Mesh, folder: Path, **settings: object) -> Hull:
    place = folder / "body.stl"
    place.write_bytes(mesh_files.stl_binary(*mesh))
    given: dict[str, object] = {"unit": "mm", "length_axis": "x", "up": "z", "nose": "low", "mirror": "none"} | settings
    return read(place, ReadSettings(**given))  # type: ignore[arg-type]


def warnings_of(hull: Hull, settings: WeighSettings) -> list[str]:
    return [note.sentence for note in weigh(hull, settings).notes if note.kind is NoteKind.WARNING]


def test_foam_of_a_box(tmp_path: Path) -> None:
    """100 x 60 x 40 mm of 30 kg/m3 weigh 7.2 g and balance in the middle."""
    figures = weigh(hull_of(zoo.box(), tmp_path), WeighSettings(BodySettings(density=30.0)))
    total = figures.weights.total
    assert total.amount == pytest.approx(7.2)
    assert total.centre[:2] == pytest.approx([50.0, 0.0], abs=1e-6)
    assert total.centre[2] - figures.hull.lowest == pytest.approx(20.0)
    assert total.inertia[0, 0] == pytest.approx(7.2 / 12 * (60**2 + 40**2))


def test_densities_of_astm_c578() -> None:
    """The least densities of ASTM C578-10 in pounds per cubic foot, of which one is 16.018463 kg/m3."""
    expected = {"XPS X": 1.30, "XPS IV": 1.55, "XPS V": 3.0, "EPS I": 0.90, "EPS XI": 0.70, "EPS XV": 2.85}
    assert {name: FOAMS[name].density / 16.018463 for name in expected} == pytest.approx(expected)
    assert set(FoamName.__args__) == set(FOAMS)  # type: ignore[attr-defined]


def test_densities_of_water() -> None:
    """999.1 and 1026.0 kg/m3 at 15 degrees C (ITTC)."""
    assert WATERS["fresh"] == pytest.approx(999.1, abs=0.05)
    assert WATERS["salt"] == pytest.approx(1026.0, abs=0.05)


def test_skin_by_density_or_by_area(tmp_path: Path) -> None:
    """1.5 mm of 160 kg/m3 are 240 g/m2, on the whole surface; the foam under it is 3 mm narrower and lower."""
    hull = hull_of(zoo.box(), tmp_path)
    area = 2 * (100 * 60 + 100 * 40 + 60 * 40)
    for made_of in (BodySettings(density=30.0, skin_density=160.0), BodySettings(density=30.0, skin_weight=240.0)):
        weights = weigh(hull, WeighSettings(made_of, skin=1.5)).weights
        parts = {part.name: part.mass.amount for part in weights.parts}
        assert parts["skin"] == pytest.approx(240 * area * 1e-6)
        assert weights.foam.amount == pytest.approx(100 * 57 * 37)
    assert warnings_of(hull, WeighSettings(skin=1.5)) == [
        "The skin of 1.5 mm is not weighed. Give skin_density or skin_weight."
    ]


def test_cloth_resin_and_paint(tmp_path: Path) -> None:
    """Two layers of 80 g/m2 take as much resin; all balance at the middle of the surface."""
    made_of = BodySettings(density=30.0, cloth=80.0, cloth_layers=2, paint=100.0, spare=0.1)
    weights = weigh(hull_of(zoo.box(), tmp_path), WeighSettings(made_of)).weights
    area = 0.0248
    covers = {cover.name: (cover.weight, cover.area / 1e6, cover.to_buy / 1e6) for cover in weights.covers}
    assert covers["cloth"] == pytest.approx((2 * 80 * area, 2 * area, 2.2 * area))
    assert covers["resin"][0] == pytest.approx(covers["cloth"][0])
    assert covers["paint"] == pytest.approx((100 * area, area, 0.0))


def test_ballast_brings_the_balance(tmp_path: Path) -> None:
    """7.2 g at x 50 and 3 g at x 90: ballast at x 10 brings the balance to 40."""
    made_of = BodySettings(density=30.0, balance=40.0, ballast=(10.0, 0.0, 0.0))
    weights = weigh(hull_of(zoo.box(), tmp_path), WeighSettings(made_of, (Load("motor", 3.0, 90.0),))).weights
    assert weights.total.centre[0] == pytest.approx(40.0)
    assert weights.ballast is not None
    assert weights.ballast.weight == pytest.approx((7.2 * 10 + 3.0 * 50) / 30)


def test_ballast_on_the_wrong_side(tmp_path: Path) -> None:
    """A ballast behind the wanted balance cannot bring it forward."""
    made_of = BodySettings(density=30.0, balance=40.0, ballast=(45.0, 0.0, 0.0))
    with pytest.raises(JobError, match="must lie forward of 40 mm"):
        weigh(hull_of(zoo.box(), tmp_path), WeighSettings(made_of))


def test_loads_outside_are_counted_and_named(tmp_path: Path) -> None:
    """A load above the deck and one ahead of the nose: one warning, and both count."""
    hull = hull_of(zoo.box(), tmp_path)
    loads = (Load("mast", 5.0, 50.0, 0.0, 400.0), Load("sprit", 1.0, -20.0), Load("motor", 3.0, 50.0))
    settings = WeighSettings(BodySettings(density=30.0), loads)
    (sentence,) = warnings_of(hull, settings)
    assert "2 loads lie outside the body (mast, sprit)" in sentence
    assert weigh(hull, settings).weights.total.amount == pytest.approx(7.2 + 9.0)


def test_glue_cost_and_foam_as_cut(tmp_path: Path) -> None:
    """A bar of 100 x 60 x 40 mm from boards of 10 mm glued to blocks of 20: four joints, five layers more."""
    hull = hull_of(zoo.box(), tmp_path)
    body = cut(hull, plan(hull, StationSettings(thickness=20.0, min_block=10.0)))
    board = Board("thin", None, 600.0, 300.0, 10.0, foam="EPS I", price=4.0)
    foam = supply(body.blocks, FoamSettings(stock=(board,)))
    made_of = BodySettings(glue=200.0)
    weights = weigh(hull, WeighSettings(made_of), body, foam).weights
    assert weights.joints == pytest.approx((4 * 2400, 5 * 2400))
    parts = {part.name: part.mass for part in weights.parts}
    assert parts["glue between blocks"].amount == pytest.approx(4 * 2400 * 200e-6)
    assert parts["glue between layers"].centre[0] == pytest.approx(50.0)
    assert weights.as_cut is not None
    assert weights.as_cut.amount == pytest.approx(240_000, rel=1e-6)
    assert weights.density == pytest.approx(0.9 * 16.018463)
    boards = sum(use.used for use in boards_used(foam.cut))
    assert weights.cost is not None
    assert weights.cost.total == pytest.approx(4.0 * boards)


def test_a_box_floats_as_its_weight_says(tmp_path: Path) -> None:
    """A box of 300 kg/m3 in fresh water: draught by the densities, BM = B2 / 12 d."""
    figures = weigh(
        hull_of(zoo.box(), tmp_path), WeighSettings(BodySettings(density=300.0), water=WaterSettings(density=1000.0))
    )
    assert figures.flotation is not None
    afloat = figures.flotation.afloat
    assert afloat.draught == pytest.approx(12.0)
    assert (afloat.draught_fore, afloat.draught_aft) == pytest.approx((12.0, 12.0))
    assert afloat.bm_across == pytest.approx(60**2 / 12 / 12)
    assert afloat.gm_across == pytest.approx(60**2 / 12 / 12 + 6 - 20)
    assert afloat.displacement == pytest.approx(72.0)


def test_at_a_waterline(tmp_path: Path) -> None:
    """A box of 7.2 g at a waterline of 10 mm displaces 60 g: 52.8 g may be loaded, and where."""
    hull = hull_of(zoo.box(), tmp_path)
    water = WaterSettings(waterline=10.0, density=1000.0)
    settings = WeighSettings(BodySettings(density=30.0), (Load("motor", 2.8, 90.0),), water)
    flotation = weigh(hull, settings).flotation
    assert flotation is not None
    assert flotation.weight == pytest.approx(60.0)
    assert flotation.to_load == pytest.approx((50.0, (60 * 50 - 7.2 * 50 - 2.8 * 90) / 50))


def test_what_is_known_better_is_taken(tmp_path: Path) -> None:
    """Weight and centre of gravity that are given go before those that are worked out."""
    water = WaterSettings(weight=120.0, gravity=(50.0, 0.0, -20.0), density=1000.0)
    flotation = weigh(hull_of(zoo.box(), tmp_path), WeighSettings(water=water)).flotation
    assert flotation is not None
    assert flotation.afloat.displacement == pytest.approx(120.0)
    assert flotation.gravity.tolist() == [50.0, 0.0, -20.0]


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        (WeighSettings(water=WaterSettings(waterline=40.0)), "covers the whole body, which is 40.0 mm deep"),
        (WeighSettings(water=WaterSettings(waterline=1e-5)), "touches hardly any of the body"),
        (WeighSettings(loads=(Load("anvil", 900.0, 50.0),), water=WaterSettings()), "it sinks"),
        (WeighSettings(BodySettings(density=-1.0)), "density: expected a value above 0"),
        (WeighSettings(BodySettings(density=math.nan)), "density: expected a value above 0, found nan"),
        (WeighSettings(loads=(Load("motor", 0.0, 1.0),)), "weight: expected a value above 0"),
        (WeighSettings(loads=(Load("motor", 1.0, math.nan),)), "x: expected a value of -100000"),
        (WeighSettings(skin=25.0), "the skin of 25 mm leaves no foam"),
    ],
)
def test_bad_input(settings: WeighSettings, words: str, tmp_path: Path) -> None:
    """One sentence each."""
    with pytest.raises(Exception, match=words) as fault:
        weigh(hull_of(zoo.box(), tmp_path), settings)
    assert fault.value.exit_code == 3  # type: ignore[attr-defined]


def test_settings_that_contradict_each_other() -> None:
    """Either of two ways to give the same thing; balance and ballast only together."""
    for make, words in (
        (lambda: BodySettings(skin_density=1.0, skin_weight=1.0), "either skin_density or skin_weight"),
        (lambda: BodySettings(balance=40.0), "balance and ballast go together"),
        (lambda: WaterSettings(waterline=4.0, weight=5.0), "either waterline or weight"),
    ):
        with pytest.raises(JobError, match=words):
            make()


@pytest.mark.parametrize("name", ["skerrywing.stl", "pelloway.glb"])
def test_sections_give_the_body_of_a_mesh(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Bands between 160 sections hold the mesh's volume and surface within 0.05 %: sections stand apart, and leave out
    points within 0.01 mm.
    """
    hull = read(MODELS / name)
    exact = closed_surface(hull)
    monkeypatch.setattr(surfaces, "closed_mesh", lambda _hull: None)
    banded = closed_surface(hull)
    assert (exact.source, banded.source) == ("mesh", "sections")
    for measure in (solid_mass, skin_mass):
        one, other = measure(exact.mesh), measure(banded.mesh)
        assert other.amount == pytest.approx(one.amount, rel=5e-4)
        assert other.centre == pytest.approx(one.centre, abs=0.1)


@pytest.mark.parametrize(
    ("mesh", "volume", "area"),
    [
        (zoo.stepped_box(), zoo.stepped_box_volume(), None),
        (zoo.twin_boxes(), 2 * 100 * 20 * 30, 2 * 2 * (100 * 20 + 100 * 30 + 20 * 30)),
        (zoo.tube(), 100 * 2000.0, 100 * 4 * 100 + 2 * 2000.0),
        (zoo.frustum(40.0, 30.0, 50.0, 400), 193731.547, math.pi * (70 * math.hypot(50, 10) + 1600 + 900)),
    ],
)
def test_banded_bodies(
    mesh: Mesh, volume: float, area: float | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Flat ends, a step, two hulls and a hole: bands hold the body, and close. Round sections lose points within
    0.01 mm: 0.03 % of the volume.
    """
    monkeypatch.setattr(surfaces, "closed_mesh", lambda _hull: None)
    hull = hull_of(mesh, tmp_path, keep_holes=True)
    vertices, faces = closed_surface(hull).mesh
    assert solid_mass((vertices, faces)).amount == pytest.approx(volume, rel=5e-4)
    exact = skin_mass(mesh).amount if area is None else area
    assert skin_mass((vertices, faces)).amount == pytest.approx(exact, rel=1e-3)
    a, b, c = np.moveaxis(vertices[faces], 1, 0)
    assert np.cross(b - a, c - a).sum(axis=0) == pytest.approx([0, 0, 0], abs=1e-6 * exact)


def test_bodies_that_overlap_count_once(tmp_path: Path) -> None:
    """Two boxes one across the other are united, so that nothing counts twice; apart, the mesh is taken as it is."""
    crossing = zoo.joined(zoo.box(100.0, 20.0, 20.0), zoo.prism([(-30, 5), (30, 5), (30, 15), (-30, 15)], 40.0, 60.0))
    united = closed_surface(hull_of(crossing, tmp_path, all_bodies=True))
    assert united.source == "sections"
    assert solid_mass(united.mesh).amount == pytest.approx(100 * 400 + 20 * 10 * 40, rel=2e-3)
    assert closed_surface(hull_of(zoo.twin_boxes(), tmp_path)).source == "mesh"


def test_an_open_boat_is_weighed_and_floated() -> None:
    """The open launch is filled to a plug: its sections, not its open skin, say what it displaces."""
    hull = read(MODELS / "wickerby.obj", ReadSettings(unit="in", up="z", nose="low", mirror="y", solid=True))
    figures = weigh(hull, WeighSettings(BodySettings(density=300.0), water=WaterSettings()))
    assert figures.source == "sections"
    assert figures.weights.hull.amount == pytest.approx(hull.volume, rel=2e-3)
    assert figures.flotation is not None
    assert figures.flotation.afloat.displacement == pytest.approx(figures.weights.total.amount, rel=1e-9)


def test_scaling_a_hull_scales_its_figures(tmp_path: Path) -> None:
    """Twice as long: eight times the weight, sixteen times less trim for it; coefficients stay (Froude)."""
    water = WaterSettings()
    one, two = (
        weigh(hull_of(zoo.wigley(), tmp_path, scale=factor), WeighSettings(BodySettings(density=300.0), water=water))
        for factor in (1.0, 2.0)
    )
    assert one.flotation is not None
    assert two.flotation is not None
    before, after = one.flotation.afloat, two.flotation.afloat
    assert after.displacement == pytest.approx(8 * before.displacement)
    assert after.wetted == pytest.approx(4 * before.wetted)
    assert after.gm_across == pytest.approx(2 * before.gm_across)
    assert after.block == pytest.approx(before.block)


def test_block_settings_do_not_change_what_floats(tmp_path: Path) -> None:
    """Kerf and growth are of the templates: the finished body is the hull."""
    hull = hull_of(zoo.box(), tmp_path)
    stations = plan(hull, StationSettings(thickness=20.0))
    bodies = [cut(hull, stations, BlockSettings(kerf=kerf)) for kerf in (0.0, 1.2)]
    first, second = (weigh(hull, WeighSettings(BodySettings(density=30.0)), body).weights for body in bodies)
    assert first.foam.amount == second.foam.amount
