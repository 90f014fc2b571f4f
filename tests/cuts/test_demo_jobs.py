"""The demo boats that come with cuts: one ready to fly, one hollowed and afloat."""

import pytest

from profiles.build import Build, read_job, shape, supply_job, weigh_job
from profiles.jobfile import load_job
from profiles.notes import NoteKind
from tests.cuts.bodies import MODELS


def made(name: str) -> Build:
    """The body of a job, its foam and weight, without pages."""
    job = load_job(MODELS / f"{name}.toml")
    hull = read_job(job)
    body = shape(job, hull)
    foam = supply_job(job, body)
    return Build(job, (body,), foam, None, weigh_job(job, hull, body, foam))  # type: ignore[arg-type]


def test_the_launch_is_hollow_and_floats_at_its_line() -> None:
    """It displaces its weight (Archimedes), less foam than solid, and stands upright."""
    build = made("wickerby-hollow")
    figures = build.figures
    assert figures is not None
    assert figures.flotation is not None
    weights, afloat = figures.weights, figures.flotation.afloat
    assert afloat.displacement == pytest.approx(weights.total.amount, rel=1e-4)
    parts = {part.name: part.mass.amount for part in weights.parts}
    assert parts["cut out of it"] < -0.5 * parts["foam"]
    cuts = build.body.cuts
    assert cuts is not None
    (hold,) = cuts.figures["hollow"]
    assert all(block["thinnest"] >= 14.9 for block in hold["blocks"])
    assert figures.flotation.righting.stable


def test_the_flying_boat_is_fitted_and_balances() -> None:
    """Ballast brings it to where it should balance, with the foam that is cut out counted."""
    build = made("skerrywing-fitted")
    figures, cuts = build.figures, build.body.cuts
    assert figures is not None
    assert cuts is not None
    assert figures.weights.total.centre[0] == pytest.approx(280.0, abs=0.01)
    assert [row.kind for row in cuts.rows] == ["rod", "saddle", "slot", "bay", "stand"]
    warnings = [note.sentence for note in build.body.notes if note.kind is NoteKind.WARNING]
    assert len(warnings) == 3, warnings
    assert all("more than one piece is left" in text and "wing" in text for text in warnings)
