"""The commands about the finished body: `balance` and `float`."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from profiles.cli.jobs import AS_JSON, SOURCE, make_job, start_workers
from profiles.cli.writing import print_json, write_drawing, write_file
from profiles.options import BODY, FOAM, HULL, PARTS, SKIN, UNITS, WATER, WORKERS, grouped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from profiles.body.weigh import BodyFigures
    from profiles.job import Job
    from profiles.notes import Note


@click.command()
@SOURCE
@grouped(HULL, PARTS, FOAM, SKIN, BODY, UNITS, WORKERS, AS_JSON)
def balance(source: Path, workers: int | None, *, as_json: bool, **words: Any) -> None:  # noqa: ANN401 - click's own
    """Show what the body weighs and where it balances.

    With a foam thickness it is divided into blocks, and glue and boards count too. Loads stand in the job file.
    """
    from profiles import console
    from profiles.body.figures import body_figures
    from profiles.notes import note_figures

    job = make_job(source, words)
    figures, notes = _weigh(job, workers, floats=False)
    if as_json:
        print_json(body_figures(figures) | note_figures(notes))
        return
    console.weights(figures)
    console.notes(notes)
    console.following(f"stationer float {source} shows how it floats. Loads stand under [[loads]] in a job file.")


@click.command("float")
@SOURCE
@click.option(
    "--picture", type=click.Path(path_type=Path), metavar="FILE", help="Write the righting arms as a plot (.svg, .png)."
)
@click.option("--csv", "table", type=click.Path(path_type=Path), metavar="FILE", help="Write the righting arms as CSV.")
@grouped(HULL, WATER, PARTS, FOAM, SKIN, BODY, UNITS, WORKERS, AS_JSON)
def float_(
    source: Path,
    picture: Path | None,
    table: Path | None,
    workers: int | None,
    *,
    as_json: bool,
    **words: Any,  # noqa: ANN401 - click's own
) -> None:
    """Show how the body floats, and its righting arms.

    At a waterline, or where weight and balance let it come to rest. An estimate for models: it proves nothing about the
    safety of anything that carries people.
    """
    from profiles import console
    from profiles.body.figures import body_figures, righting_csv
    from profiles.notes import note_figures

    job = make_job(source, words)
    figures, notes = _weigh(job, workers, floats=True)
    flotation = figures.flotation
    assert flotation is not None  # noqa: S101 - floats is True
    if picture:
        from profiles.pictures.curves import righting_plot

        write_drawing("--picture", picture, righting_plot(figures.hull.name, flotation), figures.hull.name)
    if table:
        write_file(table, righting_csv(flotation).encode())
    if as_json:
        print_json(body_figures(figures) | note_figures(notes))
        return
    console.flotation(figures)
    for file in (picture, table):
        if file:
            console.say(f"Righting arms: {file}")
    console.notes(notes)
    console.following("stationer make, with [water] in the job, prints the waterline on templates and pictures.")


def _weigh(job: "Job", workers: int | None, *, floats: bool) -> "tuple[BodyFigures, Sequence[Note]]":
    """The figures of a job; with blocks and boards where it names a foam thickness."""
    from dataclasses import replace

    from profiles.body.settings import WaterSettings
    from profiles.build import all_notes, read_job, shape, supply_job, weigh_job

    job = replace(job, water=(job.water or WaterSettings()) if floats else None)
    if job.foam.thickness is None:
        figures = weigh_job(job, read_job(job))
        return figures, (*figures.hull.notes, *figures.notes)
    with start_workers(workers) as executor:
        body = shape(job, read_job(job), executor)
    foam = supply_job(job, body)
    figures = weigh_job(job, body.hull, body, foam)
    return figures, (*all_notes((body,), foam), *figures.notes)
