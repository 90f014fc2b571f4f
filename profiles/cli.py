"""The `stationer` command. Only this module and `console` print, and only this one writes a job's folder.

Commands import everything heavy inside themselves, so that --help answers at once.
"""

import contextlib
import gc
import json
import os
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from profiles import __version__, interrupts
from profiles.errors import FolderError, StationerError, WordsError
from profiles.options import (
    FITS,
    FOAM,
    FOAMS,
    HULL,
    NAMES,
    OUTPUT,
    PAPER,
    PLACES,
    PLANNING,
    TEMPLATE,
    WIRE,
    WORKERS,
    grouped,
)

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from profiles.build import Build
    from profiles.job import Job
    from profiles.notes import Note
    from profiles.proposing import Proposal

AS_JSON = [click.option("--json", "as_json", is_flag=True, help="Print figures as JSON instead of tables.")]
SOURCE = click.argument("source", metavar="HULL_OR_JOB", type=click.Path(path_type=Path))


def _out(text: str) -> Callable[[Any], Any]:
    """The option -o of a command that writes one file."""
    return click.option("-o", "--out", "target", type=click.Path(path_type=Path), metavar="FILE", help=text)


class _Commands(click.Group):
    """The commands; one whose output nobody reads any longer has done its work."""

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - click's own
        """As click does, but for a closed pipe."""
        try:
            return super().invoke(ctx)
        except (BrokenPipeError, SystemExit) as fault:  # click, and rich with SystemExit, would end with exit code 1
            if isinstance(fault, SystemExit) and not isinstance(fault.__context__, BrokenPipeError):
                raise
            sys.stdout = None  # what it still holds is not tried once more
            ctx.exit(0)


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110})
@click.version_option(__version__, prog_name="stationer")
def commands() -> None:
    """Make full-size templates for cutting a long body out of foam blocks with a hot wire.

    HULL_OR_JOB is a mesh (STL, OBJ, PLY, OFF, GLB, glTF, 3MF, COLLADA; each also gzipped) or a job file (.toml).

    A hot wire burns and foam fumes harm: read the cautions in the job book before you switch anything on.
    """


@commands.command()
@SOURCE
@click.option(
    "--picture", type=click.Path(path_type=Path), metavar="FILE", help="Write side, plan and end view (.svg, .png)."
)
@grouped(HULL, AS_JSON)
def inspect(source: Path, picture: Path | None, *, as_json: bool, **words: Any) -> None:  # noqa: ANN401 - click's own
    """Show what the hull file holds: size, unit, axes, bodies."""
    from profiles import console
    from profiles.build import read_job
    from profiles.notes import note_figures
    from profiles.report import hull_figures

    job = _job(source, words)
    hull = read_job(job)
    if picture:
        _write_picture(picture, hull)
    if as_json:
        _print_json(hull_figures(hull) | note_figures(hull.notes))
        return
    console.hull(hull)
    console.openings(hull.openings)
    if picture:
        console.say(f"Picture: {picture}")
    console.notes(hull.notes)
    foam = "" if job.foam.thickness else " --foam 40, with the thickness of your foam"
    console.following(f"stationer plan {source}{foam}.")


@commands.command()
@SOURCE
@grouped(HULL, FOAM, AS_JSON)
def plan(source: Path, *, as_json: bool, **words: Any) -> None:  # noqa: ANN401 - click's own
    """Show stations, blocks and every warning that make gives."""
    from profiles import console
    from profiles.build import all_notes, read_job, shape, supply_job
    from profiles.report import plan_figures

    job = _job(source, words)
    body = shape(job, read_job(job))
    notes = all_notes((body,), supply_job(job, body))
    if as_json:
        _print_json(plan_figures(job, body.hull, body.stations, notes))
        return
    console.hull(body.hull)
    console.stations(body.stations)
    console.notes(notes)
    console.following("stationer make, with the same hull and options, writes the templates.")


@commands.command()
@SOURCE
@grouped(HULL, FOAM, TEMPLATE, WIRE, PAPER, OUTPUT, WORKERS, AS_JSON)
def make(source: Path, workers: int | None, *, as_json: bool, **words: Any) -> None:  # noqa: ANN401 - click's own
    """Make the templates: PDF, SVG, block list and report."""
    from profiles.folder import check_free, last_report, write_whole
    from profiles.report import changes
    from profiles.results import render_build

    # Workers come after the imports, which a fork need not do again, and before the job, which they never see.
    with _executor(workers) as executor, _progress(quiet=as_json) as progress:
        job = _job(source, words)
        folder = Path(job.output.folder) if job.output.folder else Path("output") / _stem(source)
        check_free(folder)
        made, proposal = _built(job, progress, executor)
        results = render_build(made, progress, executor)
    from profiles import console

    before = last_report(folder)
    with interrupts.held():
        write_whole(folder, results.files)
        interrupts.wrote(str(folder))
    if as_json:
        _print_json(results.figures)
        return
    console.result(made, results.checks)
    console.stations(made.body.stations)
    console.foam(made.foam)
    if proposal:
        console.proposal(proposal)
    console.notes(made.notes)
    console.changed(changes(before, results.figures) if before else [])
    console.printing(folder)


@commands.command()
@SOURCE
@FOAMS
@FITS
@_out("Where the plot goes (.svg, .png; output/NAME-compare.svg).")
@grouped(HULL, PLANNING, TEMPLATE, PAPER, WORKERS, AS_JSON)
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
    job = _job(source, words)
    thicknesses = [_length("--foam", text) for text in foams]
    if not thicknesses and job.foam.thickness is not None:
        thicknesses = [job.foam.thickness]
    limits: list[float | None] = [None, *(_length("--fit", text) for text in fits)]
    if job.foam.fit is not None and job.foam.fit not in limits:
        limits.append(job.foam.fit)
    if not thicknesses:
        message = "expected at least one foam thickness to compare"
        raise WordsError(message, remedy="Give each as --foam 40.")
    from profiles.build import read_job
    from profiles.comparing import compare as compare_variants

    with _executor(workers) as executor:
        hull = read_job(job)
        variants = compare_variants(job, hull, thicknesses, limits, executor)
    rows = [variant.row for variant in variants]
    from profiles import console
    from profiles.pictures.deviationplot import deviation_plot

    place = target or Path("output") / f"{_stem(source)}-compare.svg"
    _write_drawing("--out", place, deviation_plot([variant.plot for variant in variants], title=hull.name), hull.name)
    if as_json:
        _print_json({"name": hull.name, "rows": [asdict(row) for row in rows], "picture": str(place)})
        return
    console.comparison(rows)
    console.say(f"Deviation along the hull: {place}")
    console.notes(hull.notes)
    console.following("stationer make, with the --foam and --fit of your choice, writes the templates.")


@commands.command()
@SOURCE
@grouped(HULL, FOAM, TEMPLATE, WIRE, AS_JSON)
def foam(source: Path, *, as_json: bool, **words: Any) -> None:  # noqa: ANN401 - click's own
    """Plan only the foam: boards, cuts, fence settings, wire."""
    from profiles import console
    from profiles.build import all_notes, read_job, shape, supply_job
    from profiles.foam.figures import foam_figures
    from profiles.notes import note_figures

    job = _job(source, words)
    body = shape(job, read_job(job))
    made = supply_job(job, body)
    if as_json:
        _print_json(foam_figures(made.cut, made.accuracy, made.wire) | note_figures(made.notes))
        return
    console.stations(body.stations)
    console.foam(made)
    console.cuts(made.cut)
    console.wire(made.wire)
    console.notes((*all_notes((body,), made), *_minor(made.wire.notes)))


@commands.command()
@click.argument("source", metavar="[JOB]", type=click.Path(path_type=Path), required=False)
@grouped(WIRE, AS_JSON)
def wire(source: Path | None, *, as_json: bool, **words: Any) -> None:  # noqa: ANN401 - click's own
    """Show the current, voltage and supply of a hot wire.

    This needs no hull.
    """
    from profiles import console
    from profiles.foam.figures import wire_figures_of
    from profiles.foam.wire import wire_figures
    from profiles.notes import note_figures

    figures = wire_figures(_job(source or Path("hull"), words).wire)
    if as_json:
        _print_json(wire_figures_of(figures) | note_figures(figures.notes))
        return
    console.wire(figures)
    console.notes(figures.notes)
    console.cautions()


@commands.command("kerf-test")
@_out("Where the page goes (.pdf; output/kerf-test.pdf).")
@grouped(PAPER)
def kerf_test(target: Path | None, **words: Any) -> None:  # noqa: ANN401 - click's own
    """Make a page of templates to measure the kerf of a wire."""
    from profiles import console
    from profiles.results import kerf_test_pdf

    place = target or Path("output") / "kerf-test.pdf"
    _write(place, kerf_test_pdf(_job(Path("hull"), words)))
    console.following(
        f"print {place} at 100 %, cut the test block and measure it. Give the result, such as 98.9, as kerf_test under "
        "[template] in the job, or as --kerf-test 98.9."
    )


@commands.command()
@click.argument("folder", type=click.Path(path_type=Path))
def demo(folder: Path) -> None:
    """Write the demo hulls and their jobs into a new FOLDER."""
    from profiles import console
    from profiles.demos import write_demos

    with interrupts.held():
        demos = write_demos(folder)
        interrupts.wrote(str(folder))
    console.demos(demos)


def _built(job: "Job", progress: Callable[[str], None], executor: "Executor | None") -> "tuple[Build, Proposal | None]":
    """The build; a job that names boards and no thickness gets the proposed one."""
    from profiles.build import build, read_job

    if job.foam.thickness is not None or not (job.boards or job.offcuts):
        return build(job, progress=progress, executor=executor), None
    from profiles.proposing import propose_thickness

    progress("reading the hull")
    hull = read_job(job)
    progress("trying what the boards give")
    proposal = propose_thickness(job, hull, executor)
    choice = proposal.choice
    return build(choice.job, choice.body, progress, executor), proposal


def _minor(notes: "Sequence[Note]") -> "list[Note]":
    """All but the warnings, which `all_notes` holds already."""
    from profiles.notes import NoteKind

    return [note for note in notes if note.kind is not NoteKind.WARNING]


def _length(option: str, text: str) -> float:
    from profiles.units import length_mm

    try:
        value = length_mm(text)
    except ValueError as fault:
        message = f"{option}: {fault}"
        raise WordsError(message) from None
    if value <= 0:
        message = f"{option}: expected a length above 0, found {text!r}"
        raise WordsError(message)
    return value


@contextlib.contextmanager
def _progress(*, quiet: bool) -> Iterator[Callable[[str], None]]:
    """A changing line on a terminal's standard error; in a pipe nothing, and then nothing is loaded for it either."""
    if quiet or not sys.stderr.isatty():
        yield lambda _stage: None
        return
    from profiles import console

    with console.progress() as progress:
        yield progress


@contextlib.contextmanager
def _executor(wanted: int | None) -> "Iterator[Executor | None]":
    """Workers beside this process, so that `wanted` processes work in all; None is one for each core."""
    from profiles.workers import MOST, cores, workers

    with workers((wanted or min(cores(), MOST)) - 1, _load_libraries) as executor:
        yield executor


def _load_libraries() -> None:
    from profiles.results import load_libraries

    load_libraries()


def _job(source: Path, words: dict[str, Any]) -> "Job":
    from profiles.jobfile import load_job

    return load_job(source, {PLACES[name]: value for name, value in words.items()}, NAMES)


def _stem(source: Path) -> str:
    """The file's name without its suffixes: "hull.stl.gz" -> "hull"."""
    name = source.name.removesuffix(".gz").removesuffix(".GZ")
    return Path(name).stem or "hull"


def _write_picture(target: Path, hull: Any) -> None:  # noqa: ANN401 - imported late
    from profiles.pictures.views import picture_of

    _write_drawing("--picture", target, picture_of(hull), hull.name)


def _write_drawing(option: str, target: Path, drawing: Any, title: str) -> None:  # noqa: ANN401 - imported late
    from profiles.paper.svg import drawing_svg

    suffix = target.suffix.lower()
    if suffix == ".svg":
        content = drawing_svg(drawing, title=title).encode()
    elif suffix == ".png":
        from profiles.paper.pdf import drawing_png

        content = drawing_png(drawing, 150)
    else:
        message = f"{option}: expected a name that ends in .svg or .png, found {target}"
        raise WordsError(message)
    _write(target, content)


def _write(target: Path, content: bytes) -> None:
    try:
        with interrupts.held():
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
            interrupts.wrote(str(target))
    except OSError as fault:
        message = f"{target} cannot be written: {fault.strerror}"
        raise FolderError(message, remedy="Choose another file.") from None


def _print_json(figures: dict[str, Any]) -> None:
    click.echo(json.dumps(figures, indent=1, ensure_ascii=False, allow_nan=False))


@contextlib.contextmanager
def _one_clear_message() -> Iterator[None]:
    try:
        yield
    except StationerError as fault:
        _fail(str(fault), fault.exit_code)
    except click.ClickException as fault:
        fault.show()
        sys.exit(fault.exit_code)
    except (KeyboardInterrupt, click.Abort):
        _fail(interrupts.sentence(), interrupts.EXIT_CODE)
    except BrokenPipeError:
        sys.stdout = None  # its reader has enough
        sys.exit(0)
    except OSError as fault:
        sys.stdout = None  # what it still holds is not tried once more
        where = f" ({fault.filename})" if fault.filename else ""
        _fail(f"the system refused: {fault.strerror or fault}{where}. Check the disk and the output folder.", 3)
    except MemoryError:
        _fail("this job needs more memory than there is. Close other programs, or reduce the mesh.", 3)


def _fail(message: str, code: int) -> NoReturn:
    click.echo(_wrapped(f"stationer: {message}"), err=True)
    sys.exit(code)


def _wrapped(message: str) -> str:
    """The message as it is in a pipe; on a terminal its lines break between words."""
    if not sys.stderr.isatty():
        return message
    width = shutil.get_terminal_size().columns
    lines = [
        textwrap.fill(line, width, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)
        for line in message.splitlines()
    ]
    return "\n".join(lines)


def main() -> None:
    """Entry point of the command."""
    run: Callable[..., Any] = commands.main
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # no product here is large enough to share, and threads cost
    gc.disable()  # one short run: looking for cycles costs a tenth of it and frees next to nothing
    try:
        with _one_clear_message():
            sys.exit(run(standalone_mode=False))
    finally:
        gc.freeze()  # nor is it worth looking for them on the way out, when all memory goes back at once


if __name__ == "__main__":
    main()
