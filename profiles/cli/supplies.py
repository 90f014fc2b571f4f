"""The commands about foam and wire: `foam`, `wire` and `kerf-test`."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from profiles.cli.jobs import AS_JSON, SOURCE, make_job, start_workers
from profiles.cli.writing import out_option, print_json, write_file
from profiles.options import FOAM, HULL, PAPER, PARTS, TEMPLATE, UNITS, WIRE, WORKERS, grouped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from profiles.notes import Note


@click.command()
@SOURCE
@grouped(HULL, PARTS, FOAM, TEMPLATE, WIRE, UNITS, WORKERS, AS_JSON)
def foam(source: Path, workers: int | None, *, as_json: bool, **words: Any) -> None:  # noqa: ANN401 - click's own
    """Plan only the foam: boards, cuts, fence settings, wire."""
    from profiles import console
    from profiles.build import all_notes, read_job, shape, supply_job
    from profiles.foam.figures import foam_figures
    from profiles.notes import note_figures

    with start_workers(workers) as executor:
        job = make_job(source, words)
        body = shape(job, read_job(job), executor)
    made = supply_job(job, body)
    if as_json:
        print_json(foam_figures(made.cut, made.accuracy, made.wire) | note_figures(made.notes))
        return
    console.stations(body)
    console.foam(made)
    console.cuts(made.cut)
    console.wire(made.wire)
    console.notes((*all_notes((body,), made), *_without_warnings(made.wire.notes)))


def _without_warnings(notes: "Sequence[Note]") -> "list[Note]":
    """All but the warnings, which `all_notes` holds already."""
    from profiles.notes import NoteKind

    return [note for note in notes if note.kind is not NoteKind.WARNING]


@click.command()
@click.argument("source", metavar="[JOB]", type=click.Path(path_type=Path), required=False)
@grouped(WIRE, UNITS, AS_JSON)
def wire(source: Path | None, *, as_json: bool, **words: Any) -> None:  # noqa: ANN401 - click's own
    """Show the current, voltage and supply of a hot wire.

    This needs no hull.
    """
    from profiles import console
    from profiles.foam.figures import wire_figures_of
    from profiles.foam.wire import wire_figures
    from profiles.notes import note_figures

    figures = wire_figures(make_job(source or Path("hull"), words).wire)
    if as_json:
        print_json(wire_figures_of(figures) | note_figures(figures.notes))
        return
    console.wire(figures)
    console.notes(figures.notes)
    console.cautions()


@click.command("kerf-test")
@out_option("Where the page goes (.pdf; output/kerf-test.pdf).")
@grouped(PAPER, UNITS)
def kerf_test(target: Path | None, **words: Any) -> None:  # noqa: ANN401 - click's own
    """Make a page of templates to measure the kerf of a wire."""
    from profiles import console
    from profiles.results import kerf_test_pdf

    place = target or Path("output") / "kerf-test.pdf"
    write_file(place, kerf_test_pdf(make_job(Path("hull"), words)))
    console.following(
        f"print {place} at 100 %, cut the test block and measure it. Give the result, such as 98.9, as kerf_test under "
        "[template] in the job, or as --kerf-test 98.9."
    )
