"""Several ways to build a hull, side by side."""

from collections.abc import Callable, Sequence

from rich.markup import escape

from profiles.comparing import Row
from profiles.console.building import notes
from profiles.console.terminal import OUT, count_of, say, table_of
from profiles.notes import assumption, fact
from profiles.proposing import PartProposal, Proposal
from profiles.units import (
    bare_area,
    bare_length,
    bare_volume,
)

_COLUMNS: list[tuple[str, list[tuple[str, Callable[[Row], str]]]]] = [
    (
        "Blocks",
        [
            ("blocks", lambda row: f"{row.blocks}"),
            ("odd", lambda row: f"{row.odd}"),
            ("carved", lambda row: f"{row.tips}"),
            ("templates", lambda row: f"{row.templates}"),
            ("glued\ncm2", lambda row: bare_area(row.glue_area)),
        ],
    ),
    (
        "Fit",
        [
            ("missing\nmm", lambda row: bare_length(row.missing, 2)),
            ("enlarged\nmm", lambda row: bare_length(row.growth, 2)),
            ("to sand\nmm", lambda row: bare_length(row.extra, 2)),
            ("to sand\nlitres", lambda row: bare_volume(row.sanding_volume)),
            ("to carve\nlitres", lambda row: bare_volume(row.carving_volume)),
        ],
    ),
    (
        "Foam",
        [
            ("litres", lambda row: bare_volume(row.foam_volume, 2)),
            ("boards", lambda row: f"{row.boards}"),
            ("offcuts", lambda row: f"{row.offcuts}"),
            ("without\nfoam", lambda row: f"{row.lacking}"),
            ("glue\nlines", lambda row: f"{row.glue_lines}"),
            ("waste\n%", lambda row: f"{100 * row.waste:.0f}"),
        ],
    ),
]
"""Three tables, each narrow enough for 80 columns: title, and heading and value of every column."""


def comparison(rows: Sequence[Row]) -> None:
    """Three tables with a row for each way to build the hull, and what a few more blocks would bring."""
    for title, columns in _COLUMNS:
        table = table_of(title, "", *(heading for heading, _ in columns), left=[""])
        for row in rows:
            table.add_row(escape(row.label), *(figure(row) for _, figure in columns))
        OUT.print(table)
    for row in rows:
        if row.more_blocks:
            more = f"{row.more_blocks} more block{'' if row.more_blocks == 1 else 's'}"
            say(f"{row.label}: {more}: at most {row.more_extra:.1f} mm to sand instead of {row.extra:.1f} mm.")


def proposal(made: Proposal) -> None:
    """The thickness that was chosen, and the others that were tried."""
    comparison([variant.row for variant in made.tried])
    row = made.choice.row
    notes([assumption(f"foam thickness {row.foam:g} mm, because {made.reason}. Override with --foam.")])


def part_proposal(made: PartProposal | None) -> None:
    """Parts that would spare work, with the figures of both ways and the words to paste."""
    if made is None:
        return
    before, after = made.before, made.after
    carved = [count_of(row.tips, "carved block") for row in (before, after)]
    sanding, carving = (
        [bare_volume(volume, 3) for volume in volumes]
        for volumes in (
            (before.sanding_volume, after.sanding_volume),
            (before.carving_volume, after.carving_volume),
        )
    )
    text = (
        f"In parts this hull would leave {sanding[1]} litres to sand instead of {sanding[0]}, {carving[1]} to carve "
        f"instead of {carving[0]}, and at most {after.extra:.1f} mm to sand instead of {before.extra:.1f}, with "
        f"{after.blocks} blocks instead of {before.blocks} and {carved[1]} instead of {carved[0]}. "
        f"Take them with --parts auto, or change them: {' '.join(made.words)}"
    )
    notes([fact(text)])
