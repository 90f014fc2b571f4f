"""From what was typed to a job, and the processes and the progress line that go with it."""

import contextlib
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from profiles.errors import WordsError
from profiles.options import NAMES, PLACES

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from profiles.job import Job

AS_JSON = [click.option("--json", "as_json", is_flag=True, help="Print figures as JSON instead of tables.")]
SOURCE = click.argument("source", metavar="HULL_OR_JOB", type=click.Path(path_type=Path))


def make_job(source: Path, words: dict[str, Any]) -> "Job":
    """The job in a file, or of a hull, with the options of the command line; from here on lengths are printed in its
    unit. Raises JobError and WordsError.
    """
    from profiles.jobfile import load_job
    from profiles.units import print_lengths

    job = load_job(source, {PLACES[name]: value for name, value in words.items()}, NAMES)
    print_lengths(job.output.units)
    return job


def parse_length(option: str, text: str) -> float:
    """A length above 0 that an option gives, in mm. Raises WordsError."""
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
def start_workers(number: int | None, prepare: Callable[[], object] | None = None) -> "Iterator[Executor | None]":
    """Workers beside this process, so that `number` processes work in all; None is one for each core.

    `prepare` is called first in each worker, to load what is not loaded here.
    """
    from profiles.workers import MOST, cores, workers

    with workers((number or min(cores(), MOST)) - 1, prepare or _nothing) as executor:
        yield executor


def _nothing() -> None:
    """Nothing to load."""


@contextlib.contextmanager
def show_progress(*, quiet: bool) -> Iterator[Callable[[str], None]]:
    """A changing line on a terminal's standard error; in a pipe nothing, and then nothing is loaded for it either."""
    if quiet or not sys.stderr.isatty():
        yield lambda _stage: None
        return
    from profiles import console

    with console.progress() as progress:
        yield progress
