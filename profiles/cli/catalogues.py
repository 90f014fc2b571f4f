"""`make` with several files or foams: the jobs given out, each result written as it comes, and the table of all."""

import gc
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from functools import partial
from pathlib import Path
from shutil import rmtree
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import click

from profiles import interrupts
from profiles.cli.jobs import parse_length, start_workers
from profiles.cli.writing import print_json
from profiles.errors import ClusterError, FolderError, StationerError, WordsError
from profiles.options import NAMES, PLACES
from profiles.values import dataclass

if TYPE_CHECKING:
    from profiles.catalogue.making import Outcome
    from profiles.catalogue.orders import Orders
    from profiles.catalogue.rows import Row
    from profiles.catalogue.running import Crew
    from profiles.catalogue.tasks import Task, Words

FILE = click.Path(path_type=Path)

CATALOGUE = [
    click.option(
        "--resume/--again",
        default=False,
        help="Of several jobs, keep the folders that hold the same result already (make them again).",
    ),
    click.option(
        "--cluster", metavar="ADDRESS", help="Dask scheduler that makes the jobs: tcp://HOST:PORT or tls://..."
    ),
    click.option("--tls-ca", type=FILE, metavar="FILE", help="Certificate of the authority of a cluster with TLS."),
    click.option("--tls-cert", type=FILE, metavar="FILE", help="Certificate for it."),
    click.option("--tls-key", type=FILE, metavar="FILE", help="Key of that certificate."),
]
"""Options for several jobs."""


@dataclass(frozen=True, slots=True)
class Call:
    """What was typed after `make`."""

    sources: tuple[Path, ...]
    foams: tuple[str, ...]
    values: dict[str, Any]
    """All other options of a job, by click's names."""
    workers: int | None
    resume: bool
    cluster: str | None
    tls: tuple[Path | None, Path | None, Path | None]
    as_json: bool

    @property
    def is_one_job(self) -> bool:
        """Whether it is a single job, made by all processes together."""
        return len(self.sources) == 1 and len(self.foams) <= 1 and not self.resume and not self.cluster


def make_many(call: Call) -> int:
    """Make all jobs of a call, write and show the table; the exit code. Raises WordsError before anything starts."""
    from profiles.catalogue.tasks import OUTPUT, Words, make_tasks, refuse_root
    from profiles.catalogue.writing import refuse_strange_tables
    from profiles.units import print_lengths_in

    for foam in call.foams:
        parse_length("--foam", foam)
    if not call.cluster and any(call.tls):
        message = "certificates (--tls-ca, --tls-cert, --tls-key) go with --cluster"
        raise WordsError(message)
    values = {PLACES[name]: value for name, value in call.values.items()}
    folder = values.pop(("output", "folder"), None)
    words = Words(values, NAMES, Path(folder) if folder else None)
    tasks = make_tasks(call.sources, call.foams, words)
    root = words.root or OUTPUT
    refuse_root(root, tasks)
    refuse_strange_tables(root)
    gc.enable()  # this run may be long
    with _open_crew(call, words) as (crew, orders), print_lengths_in(_unit(words)), interrupts.held():
        return _Run(tasks, root, call.as_json).make(crew, orders)


def _unit(words: "Words") -> Any:  # noqa: ANN401 - imported late
    from profiles.units import PrintUnit

    return PrintUnit(words.overrides.get(("output", "units")) or PrintUnit.MM)


@contextmanager
def _open_crew(call: Call, words: "Words") -> "Iterator[tuple[Crew, Orders]]":
    """Who makes the jobs, here or on a cluster, and how they get their orders."""
    from profiles.catalogue.making import prepare
    from profiles.catalogue.memory import room_for
    from profiles.catalogue.orders import Orders
    from profiles.catalogue.running import Crew
    from profiles.workers import MOST, cores

    if call.cluster:
        from profiles import console
        from profiles.catalogue.cluster import TRUSTED, Certificates, connect

        with connect(call.cluster, Certificates(*call.tls)) as cluster:
            if call.cluster.startswith("tcp://") and not call.as_json:
                console.warning(TRUSTED)
            orders = Orders(words, call.resume, sends_files=True, expected=cluster.versions, memory=cluster.memory)
            yield Crew(cluster.start, cluster.workers, is_there=cluster.is_there, replaces_workers=True), orders
        return
    prepare()  # forks find it done
    number = call.workers or min(cores(), MOST)
    crew = Crew(lambda workers: start_workers(workers + 1, prepare), number, room_for(number))
    with TemporaryDirectory(prefix="stationer-") as shelf, interrupts.before_end(partial(rmtree, shelf)):
        yield crew, Orders(words, call.resume, shelf=shelf)


class _Run:
    """One call: rows are filled as outcomes come."""

    def __init__(self, tasks: "Sequence[Task]", root: Path, as_json: bool) -> None:  # noqa: FBT001 - as it was typed
        self.tasks, self.root, self.as_json = tasks, root, as_json
        self.rows: list[Row | None] = [None] * len(tasks)
        self.places = {task.folder: number for number, task in enumerate(tasks)}
        self.start = time.monotonic()

    def make(self, crew: "Crew", orders: "Orders") -> int:
        """Everything; the exit code."""
        from profiles import console
        from profiles.catalogue.rows import printable, row_figures, worst_code
        from profiles.catalogue.writing import write_tables

        lost = None
        with console.catalogue_progress(len(self.tasks), quiet=self.as_json) as tell:
            try:
                self._make(crew, orders, tell)
            except ClusterError as fault:
                lost = fault
        rows = [row or self._left(task, lost) for task, row in zip(self.tasks, self.rows, strict=True)]
        pages = write_tables(rows, self.root, f"{self.root.resolve().name}: {len(rows)} jobs")
        if self.as_json:
            print_json({"jobs": [row_figures(row) for row in rows], "tables": [printable(str(page)) for page in pages]})
        else:
            console.catalogue(rows, time.monotonic() - self.start, pages)
        if lost:
            raise lost
        return worst_code(rows)

    def _make(self, crew: "Crew", orders: "Orders", tell: Callable[[int, int, str], None]) -> None:
        from profiles.catalogue.running import run_tasks

        written = failed = done = 0
        with closing(run_tasks(self.tasks, orders.of, crew)) as outcomes:
            for task, outcome in outcomes:
                row = self._row(task, outcome)
                self.rows[self.places[task.folder]] = row
                done, written, failed = done + 1, written + bool(row.folder), failed + bool(row.code)
                del outcome  # it may hold a result
                if written:
                    so_far = f"{written} of {len(self.tasks)} jobs are made and complete"
                    interrupts.wrote_so_far(f"{so_far}; the same command with --resume makes the rest")
                tell(done, failed, row.name)

    def _row(self, task: "Task", outcome: "Outcome") -> "Row":
        """The row of an outcome, whose files are written now."""
        from profiles.catalogue.making import Failed, Made
        from profiles.catalogue.rows import State, failed_row, row_of
        from profiles.folder import write_whole

        if isinstance(outcome, Made):
            try:
                write_whole(task.folder, outcome.files)
            except FolderError as fault:
                outcome = Failed(str(fault), fault.exit_code, outcome.seconds)
        if isinstance(outcome, Failed):
            message = outcome.message + self._older(task)
            seconds = round(outcome.seconds, 2)
            return failed_row(task.name, task.source, State.FAILED, message, outcome.code, seconds)
        seconds_or_none = outcome.seconds if isinstance(outcome, Made) else None
        return row_of(task.name, task.source, task.folder, outcome.figures, seconds_or_none)

    @staticmethod
    def _older(task: "Task") -> str:
        from profiles.folder import last_report

        return f" {task.folder} still holds an earlier result." if last_report(task.folder) else ""

    @staticmethod
    def _left(task: "Task", lost: StationerError | None) -> "Row":
        from profiles.catalogue.rows import State, failed_row

        message = lost.message if lost else ""
        return failed_row(task.name, task.source, State.LEFT, message, lost.exit_code if lost else 0)
