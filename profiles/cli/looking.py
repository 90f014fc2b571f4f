"""The commands that look at a hull and leave nothing: `inspect` and `plan`."""

from pathlib import Path
from typing import Any

import click

from profiles.cli.jobs import AS_JSON, SOURCE, make_job, start_workers
from profiles.cli.writing import print_json, write_lines_plan, write_picture
from profiles.options import FOAM, HULL, PARTS, UNITS, WORKERS, grouped


@click.command()
@SOURCE
@click.option(
    "--picture", type=click.Path(path_type=Path), metavar="FILE", help="Write side, plan and end view (.svg, .png)."
)
@click.option(
    "--lines",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write the lines plan: sheer, half-breadth and body plan (.svg, .png).",
)
@grouped(HULL, UNITS, AS_JSON)
def inspect(
    source: Path,
    picture: Path | None,
    lines: Path | None,
    *,
    as_json: bool,
    **words: Any,  # noqa: ANN401 - click's own
) -> None:
    """Show what the hull file holds: size, unit, axes, bodies."""
    from profiles import console
    from profiles.build import read_job
    from profiles.notes import note_figures
    from profiles.report import hull_figures

    job = make_job(source, words)
    hull = read_job(job)
    if picture:
        write_picture(picture, hull)
    if lines:
        write_lines_plan(lines, hull)
    if as_json:
        print_json(hull_figures(hull) | note_figures(hull.notes))
        return
    console.hull(hull)
    console.openings(hull.openings)
    if picture:
        console.say(f"Picture: {picture}")
    if lines:
        console.say(f"Lines plan: {lines}")
    console.notes(hull.notes)
    foam = "" if job.foam.thickness else " --foam 40, with the thickness of your foam"
    console.following(f"stationer plan {source}{foam}.")


@click.command()
@SOURCE
@grouped(HULL, PARTS, FOAM, UNITS, WORKERS, AS_JSON)
def plan(source: Path, workers: int | None, *, as_json: bool, **words: Any) -> None:  # noqa: ANN401 - click's own
    """Show stations, blocks and every warning that make gives."""
    from profiles import console
    from profiles.build import all_notes, read_job, shape, supply_job
    from profiles.proposing import propose_parts
    from profiles.report import plan_figures

    with start_workers(workers) as executor:
        job = make_job(source, words)
        body = shape(job, read_job(job), executor)
        parts = None if as_json else propose_parts(job, body.hull, body, executor)
    notes = all_notes((body,), supply_job(job, body))
    if as_json:
        print_json(plan_figures(job, body.hull, body.stations, notes))
        return
    console.hull(body.hull)
    console.stations(body)
    console.notes(notes)
    console.part_proposal(parts)
    console.following("stationer make, with the same hull and options, writes the templates.")
