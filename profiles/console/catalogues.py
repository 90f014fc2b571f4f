"""Many jobs in one call: how far they are, and the table of all."""

import contextlib
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from rich.live import Live
from rich.markup import escape
from rich.text import Text

from profiles import interrupts
from profiles.catalogue.rows import Row, State
from profiles.catalogue.webpage import summary
from profiles.console.building import following
from profiles.console.terminal import ERR, OUT, labelled, say, table_of
from profiles.units import bare_length, bare_volume

MOST_ROWS = 200
"""Jobs that the table on the terminal lists; catalogue.csv has all."""

Tell = Callable[[int, int, str], None]
"""How many are done, how many failed, and what has just ended."""


@contextlib.contextmanager
def catalogue_progress(total: int, *, quiet: bool) -> Iterator[Tell]:
    """A changing line on a terminal's standard error."""
    if quiet or not ERR.is_terminal:
        yield lambda _done, _failed, _name: None
        return
    # Drawn only when something has ended: a thread that draws it would keep workers from being forked.
    with Live(console=ERR, auto_refresh=False, transient=True) as line, interrupts.before_end(line.stop):

        def tell(done: int, failed: int, name: str) -> None:
            bad = f", {failed} not made" if failed else ""
            last = f"; last {name}" if name else ""
            line.update(Text(f"{done} of {total} jobs done{bad}{last}"), refresh=True)

        tell(0, 0, "")
        yield tell


def warning(text: str) -> None:
    """A warning before the work begins."""
    labelled("Warning", text, "bold yellow")


def catalogue(rows: Sequence[Row], seconds: float, pages: Sequence[Path]) -> None:
    """What became of all jobs, the table, every failure with its sentence, and where to look next."""
    say(f"{summary(rows)[:-1]}, in {seconds:.0f} s.", "bold")
    headings = ("sheets", "most to sand mm", "to sand litres", "seconds", "warnings")
    table = table_of("Jobs", "job", *headings, left=["job"])
    shown = [row for row in rows if row.folder][:MOST_ROWS]
    for row in shown:
        table.add_row(
            escape(row.name),
            str(row.sheets),
            bare_length(row.sanding or 0.0, 2),
            bare_volume(row.sanding_volume or 0.0),
            str(row.state) if row.seconds is None else f"{row.seconds:.1f}",
            str(len(row.warnings)),
        )
    if shown:
        OUT.print(table)
    made = sum(bool(row.folder) for row in rows)
    if made > len(shown):
        say(f"and {made - len(shown)} more, all in catalogue.csv")
    failures = [row for row in rows if row.state is State.FAILED]
    for row in failures[:MOST_ROWS]:
        labelled("Not made", f"{row.name}: {row.message}", "bold red")
    if len(failures) > MOST_ROWS:
        say(f"and {len(failures) - MOST_ROWS} more, all in catalogue.csv")
    if any(row.warnings for row in rows):
        say("The warnings of each job stand in catalogue.html, in catalogue.csv and in its job book.")
    following(f"open {pages[0]}. {pages[1]} has the same figures for a spreadsheet.")
