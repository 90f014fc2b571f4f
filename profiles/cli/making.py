"""The commands that make something of a hull: `make` and `compare`, and `demo`, which gives hulls to try them with."""

from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from profiles import interrupts
from profiles.cli.catalogues import CATALOGUE, Call, make_many
from profiles.cli.jobs import AS_JSON, SOURCE, make_job, parse_length, show_progress, start_workers
from profiles.cli.writing import out_option, print_json, write_drawing
from profiles.errors import WordsError
from profiles.options import (
    DRAWINGS,
    FITS,
    FOAMS,
    HULL,
    MADE,
    OUTPUT,
    PAPER,
    PARTS,
    PLANNING,
    TEMPLATE,
    UNITS,
    WIRE,
    WORKERS,
    grouped,
)


@click.command()
@click.argument("sources", metavar="HULL_OR_JOB...", type=click.Path(path_type=Path), nargs=-1, required=True)
@grouped(HULL, PARTS, MADE, TEMPLATE, WIRE, PAPER, DRAWINGS, OUTPUT, UNITS, WORKERS, CATALOGUE, AS_JSON)
def make(
    sources: tuple[Path, ...],
    foams: tuple[str, ...],
    workers: int | None,
    cluster: str | None,
    *,
    resume: bool,
    as_json: bool,
    **words: Any,  # noqa: ANN401 - click's own
) -> None:
    """Make the templates: PDF, SVG, block list and report.

    Several files, or --foam several times, are made one beside the other, each in a folder of its own in FOLDER, with a
    table of all in catalogue.html and catalogue.csv.
    """
    tls = (words.pop("tls_ca"), words.pop("tls_cert"), words.pop("tls_key"))
    call = Call(sources, foams, words, workers, resume, cluster, tls, as_json)
    if not call.is_one_job:
        click.get_current_context().exit(make_many(call))
    _make_one(sources[0], workers, words | {"foam_thickness": foams[0] if foams else None}, as_json=as_json)


def _make_one(source: Path, workers: int | None, words: dict[str, Any], *, as_json: bool) -> None:
    from profiles.build import build_or_propose
    from profiles.catalogue.tasks import OUTPUT as OUTPUT_FOLDER
    from profiles.catalogue.tasks import result_folder, stem
    from profiles.folder import check_free, last_report, write_whole
    from profiles.proposing import propose_parts
    from profiles.report import changes
    from profiles.results import load_libraries, render_build

    # Workers come after the imports, which a fork need not do again, and before the job, which they never see.
    with start_workers(workers, load_libraries) as executor, show_progress(quiet=as_json) as progress:
        job = make_job(source, words)
        blocks = job.paper.blocks
        folder = result_folder(Path(job.output.folder) if job.output.folder else OUTPUT_FOLDER / stem(source), blocks)
        check_free(folder)
        made, proposal = build_or_propose(job, progress, executor)
        results = render_build(made, progress, executor)
        parts = None
        if not as_json and not blocks:
            progress("looking for parts")
            parts = propose_parts(made.job, made.body.hull, made.body, executor)
    from profiles import console

    before = last_report(folder)
    with interrupts.held():
        write_whole(folder, results.files)
        interrupts.wrote(str(folder))
    if as_json:
        print_json(results.figures)
        return
    console.result(made, results.checks)
    if blocks:
        console.reprinted(blocks, made.fingerprint, folder)
        return
    console.stations(made.body)
    console.foam(made.foam)
    if proposal:
        console.proposal(proposal)
    console.notes(made.notes)
    console.part_proposal(parts)
    console.changed(changes(before, results.figures) if before else [])
    console.printing(folder)


@click.command()
@SOURCE
@FOAMS
@FITS
@out_option("Where the plot goes (.svg, .png; output/NAME-compare.svg).")
@grouped(HULL, PARTS, PLANNING, TEMPLATE, PAPER, UNITS, WORKERS, AS_JSON)
def compare(
    source: Path,
    foams: tuple[str, ...],
    fits: tuple[str, ...],
    target: Path | None,
    workers: int | None,
    *,
    as_json: bool,
    **words: Any,  # noqa: ANN401 - click's own
) -> None:
    """Compare foams and ways to divide the hull.

    A plot shows the deviation along the hull.
    """
    job = make_job(source, words)
    thicknesses = [parse_length("--foam", text) for text in foams]
    if not thicknesses and job.foam.thickness is not None:
        thicknesses = [job.foam.thickness]
    limits: list[float | None] = [None, *(parse_length("--fit", text) for text in fits)]
    if job.foam.fit is not None and job.foam.fit not in limits:
        limits.append(job.foam.fit)
    if not thicknesses:
        message = "expected at least one foam thickness to compare"
        raise WordsError(message, remedy="Give each as --foam 40.")
    from profiles.build import read_job
    from profiles.catalogue.tasks import stem
    from profiles.comparing import compare as compare_variants
    from profiles.proposing import propose_parts

    with start_workers(workers) as executor:
        hull = read_job(job)
        variants = compare_variants(job, hull, thicknesses, limits, executor)
        parts = None if as_json else propose_parts(variants[0].job, hull, variants[0].body, executor)
    rows = [variant.row for variant in variants]
    from profiles import console
    from profiles.pictures.deviationplot import deviation_plot

    place = target or Path("output") / f"{stem(source)}-compare.svg"
    write_drawing("--out", place, deviation_plot([variant.plot for variant in variants], title=hull.name), hull.name)
    if as_json:
        print_json({"name": hull.name, "rows": [asdict(row) for row in rows], "picture": str(place)})
        return
    console.comparison(rows)
    console.say(f"Deviation along the hull: {place}")
    console.notes(hull.notes)
    console.part_proposal(parts)
    console.following("stationer make, with the --foam and --fit of your choice, writes the templates.")


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
def demo(folder: Path) -> None:
    """Write the demo hulls and their jobs into a new FOLDER."""
    from profiles import console
    from profiles.demos import write_demos

    with interrupts.held():
        demos = write_demos(folder)
        interrupts.wrote(str(folder))
    console.demos(demos)
