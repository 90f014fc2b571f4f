"""Equilibrium and righting arms."""

import math

import numpy as np
import pytest

from profiles.body.immersed import Floater
from profiles.body.resting import come_to_rest, righting_arms
from profiles.body.waterplane import plane_up
from tests import closed_forms as zoo
from tests.body.figures import BARGE, Mesh, barge, pressure, under_water

BODIES = (
    (barge(), 0.3, (75.0, 0.0, 6.0)),
    (zoo.wigley(), 0.5, (190.0, 0.0, 12.0)),
    (zoo.twin_boxes(), 0.4, (50.0, 3.0, 20.0)),
    (zoo.spheroid(), 0.7, (95.0, 2.0, -3.0)),
    (zoo.stepped_box(), 0.4, (40.0, 1.0, 20.0)),
    (zoo.tube(), 0.5, (50.0, 0.0, 1.0)),
    (zoo.wedge(), 0.6, (66.0, 0.0, 13.0)),
)
"""Mesh, share of the volume that is displaced, centre of gravity in mm."""


@pytest.mark.parametrize(("mesh", "share", "gravity"), BODIES)
def test_set_free_it_comes_to_rest(mesh: Mesh, share: float, gravity: tuple[float, float, float]) -> None:
    """From 20 random attitudes: pressure carries the weight, and force and moment left over are below 1e-6 of it."""
    floater, cg = Floater(mesh), np.array(gravity)
    volume = share * floater.volume
    for up in np.random.default_rng(20).normal(size=(20, 3)):
        rest = come_to_rest(floater, volume, cg, up)
        force, moment = pressure(under_water(mesh, rest.under.plane), rest.under.plane, cg)
        assert np.linalg.norm(force - volume * rest.up) < 1e-6 * volume
        assert np.linalg.norm(moment) < 1e-6 * volume * floater.size
        values = np.linalg.eigvalsh(rest.righting(rest.under.plane.axes))
        assert values[0] > -1e-6 * floater.size  # a hollow of the energy, not a saddle


def test_the_weight_moves_and_the_body_follows() -> None:
    """A box barge heels by tan(phi) = y / GM for a small list: GM sin(phi) = y cos(phi), wall-sided formula."""
    cg = np.array([75.0, 0.1, 8.0])
    rest = come_to_rest(Floater(barge()), math.prod(BARGE), cg)
    phi = math.radians(rest.under.plane.heel)
    gm, bm = 2.5 + 9.6 - 8.0, 9.6
    assert math.sin(phi) * (gm + bm * math.tan(phi) ** 2 / 2) == pytest.approx(0.1 * math.cos(phi), rel=1e-6)
    assert rest.under.plane.heel > 1


def test_upright_without_stability_falls_to_one_side() -> None:
    """A square bar of half the density of water floats on edge: flat, its BM of 10/6 is less than its BG of 10/4."""
    rest = come_to_rest(
        Floater(zoo.prism([(-5, -5), (5, -5), (5, 5), (-5, 5)], 0.0, 100.0)), 5000.0, np.array([50, 0, 0])
    )
    assert abs(rest.under.plane.heel) == pytest.approx(45.0, abs=1e-3)


def test_wall_sided_formula() -> None:
    """GZ = sin(phi) (GM + BM tan2(phi) / 2) until the deck goes under or the bilge comes out: at 22.6 degrees here."""
    righting = righting_arms(Floater(barge()), math.prod(BARGE), np.array([75.0, 0.0, 8.0]))
    edge = math.degrees(math.atan(BARGE[2] / (BARGE[1] / 2)))
    compared = 0
    for arm in righting.arms:
        phi = math.radians(arm.heel)
        if arm.heel < edge:
            expected = math.sin(phi) * (4.1 + 9.6 * math.tan(phi) ** 2 / 2)
            assert arm.arm == pytest.approx(expected, rel=1e-9, abs=1e-9)
            compared += 1
    assert compared == 5


def test_ball_with_a_low_weight() -> None:
    """B is always under the middle of a ball, so GZ = d sin(phi) for G at d below it, and it never vanishes."""
    floater = Floater(zoo.spheroid(50.0, 50.0, 60, 120))
    righting = righting_arms(floater, 0.4 * floater.volume, np.array([50.0, 0.0, -7.0]))
    for arm in righting.arms:
        assert arm.arm == pytest.approx(7.0 * math.sin(math.radians(arm.heel)), abs=7e-3)
    assert righting.vanishing is None
    assert righting.stable


def test_vanishing_angle() -> None:
    """A square bar with G in its middle: upright it falls over, at 45 degrees it rests, at 90 it lies flat again."""
    bar = Floater(zoo.prism([(-5, -5), (5, -5), (5, 5), (-5, 5)], 0.0, 100.0))
    righting = righting_arms(bar, 5000.0, np.array([50.0, 0.0, 0.0]))
    assert not righting.stable
    heels = {arm.heel: arm.arm for arm in righting.arms}
    assert heels[45.0] == pytest.approx(0.0, abs=1e-9)
    assert heels[20.0] < 0 < heels[70.0]
    assert righting.vanishing == pytest.approx(90.0, abs=0.02)


def test_arms_are_the_slope_of_the_energy() -> None:
    """The arm is the change of the height of G over B by heel: the same by differences of energies, with free trim."""
    floater, volume, cg = Floater(zoo.wigley()), 60_000.0, np.array([205.0, 0.0, 14.0])
    step = 0.01
    for heel in (10.0, 50.0, 140.0):
        energies = []
        for angle in (heel - step, heel + step):
            (arm,) = righting_arms(floater, volume, cg, heels=(angle, angle + 1)).arms[:1]
            up = plane_up(angle, arm.trim)
            energies.append(float(up @ (cg - floater.sink(up, volume).centre)))
        slope = (energies[1] - energies[0]) / math.radians(2 * step)
        (arm,) = righting_arms(floater, volume, cg, heels=(heel, heel + 1)).arms[:1]
        # Heel and trim are angles about axes that are not at right angles once it trims: the arm counts by cos(trim).
        assert slope == pytest.approx(arm.arm * math.cos(math.radians(arm.trim)), rel=1e-5, abs=1e-6)


def test_a_round_body_stays_at_any_angle() -> None:
    """A spheroid with G on its axis has no arm at any angle of heel but what its facets give, so no angle vanishes."""
    floater = Floater(zoo.spheroid(100.0, 50.0, 24, 48))
    righting = righting_arms(floater, 0.3 * floater.volume, np.array([100.0, 0.0, 0.0]))
    assert righting.indifferent
    assert not righting.stable
    assert not righting.ever
    assert righting.vanishing is None
