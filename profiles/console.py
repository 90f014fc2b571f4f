"""What the terminal shows: results, then warnings, then the next step; progress goes to standard error.

rich itself respects NO_COLOR and plain pipes. On a terminal, lines break between words; in a pipe each sentence stays
on one line, so that other programs can search it.
"""

import contextlib
import re
import shlex
import textwrap
from collections.abc import Callable, Iterator, Sequence
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape
from rich.table import Table
from rich.text import Text

from profiles import interrupts
from profiles.blocks.blocks import CarvedBlock, CutBlock
from profiles.blocks.missing import MISSED
from profiles.blocks.stations import StationPlan
from profiles.book.cautions import wire_cautions
from profiles.book.cutlist import billet_word, boards_text
from profiles.build import Build
from profiles.comparing import Row
from profiles.demos import Demo
from profiles.foam.accuracy import LengthError
from profiles.foam.cutting import CutPlan
from profiles.foam.figures import boards_used, cuts_by_fence, preference_rows, wire_rows
from profiles.foam.supply import FoamPlan
from profiles.foam.wire import WireFigures
from profiles.hull.frame import Hull
from profiles.hull.gaps import Opening
from profiles.notes import Note, NoteKind, assumption, merge_notes
from profiles.paper.proof import Check
from profiles.proposing import Proposal
from profiles.units import (
    MM_PER_IN,
    PrintUnit,
    area_units,
    bare_area,
    bare_length,
    bare_volume,
    in_printed_units,
    number_runs,
    printed_unit,
    rule_length,
    sizes_text,
    volume_unit,
)

if TYPE_CHECKING:
    from profiles.body.weigh import BodyFigures

MOST_OPENINGS = 20
"""Openings of the skin that are listed; more are only counted."""

_OUT = Console(highlight=False, soft_wrap=True)
_ERR = Console(stderr=True, highlight=False)

_WORDS = {
    NoteKind.FACT: "Note",
    NoteKind.REPAIR: "Repaired",
    NoteKind.ASSUMPTION: "Assumed",
    NoteKind.WARNING: "Warning",
}
_STYLES = {
    NoteKind.FACT: "dim",
    NoteKind.REPAIR: "cyan",
    NoteKind.ASSUMPTION: "blue",
    NoteKind.WARNING: "bold yellow",
}


def say(text: str, style: str = "") -> None:
    """One paragraph."""
    _paragraph(text, len(text), style)


def gap() -> None:
    """An empty line between groups."""
    _OUT.print()


def _paragraph(text: str, styled: int, style: str, indent: str = "") -> None:
    """A paragraph whose first `styled` characters have the style; on a terminal it breaks between words."""
    text = in_printed_units(text)
    if _OUT.is_terminal:
        # Options such as --growth must stay whole, and so must file names.
        text = textwrap.fill(text, _OUT.width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
    line = Text(text)
    if style:
        line.stylize(style, 0, styled)
    _OUT.print(line)


def _labelled(label: str, text: str, style: str) -> None:
    _paragraph(f"{label}: {text}", len(label) + 1, style, indent="  ")


@contextlib.contextmanager
def progress() -> Iterator[Callable[[str], None]]:
    """A changing line on a terminal's standard error."""
    with _ERR.status("starting") as status, interrupts.before_end(status.stop):  # it hides the cursor
        yield lambda stage: status.update(escape(stage))


def _table(title: str, *headings: str, left: Sequence[str] = ()) -> Table:
    """A table whose columns are right-aligned, except those in `left`."""
    table = Table(title=escape(in_printed_units(title)), title_justify="left")
    for heading in headings:
        words = re.sub(r"\bmm\b", str(printed_unit()), heading).replace("litres", volume_unit())
        table.add_column(words.replace("cm2", area_units()[0]), justify="left" if heading in left else "right")
    return table


# ---- the hull and its blocks -----------------------------------------------------------------------------------------


def hull(body: Hull) -> None:
    """What the hull is."""
    table = Table(title=escape(body.name), title_justify="left", show_header=False, box=None, pad_edge=False)
    both = () if printed_unit() is PrintUnit.IN else (("", f"{_inches(body)} in"),)
    triangles = f"{body.triangles:,} triangles, " if body.triangles else ""
    rows = [
        ("file", f"{body.format}, {triangles}unit {body.unit} ({body.unit_from})"),
        ("length x breadth x depth", f"{body.length:.2f} x {body.breadth:.2f} x {body.depth:.2f} mm"),
        *both,
        ("volume", f"{body.volume / 1e6:.4f} litres (from {body.volume_from})"),
        ("bodies, voids", f"{body.body_count}, {body.void_count}"),
        ("datum", f"{-body.lowest:.2f} mm above the lowest point, on the centre plane"),
        ("file's axes", f"length {body.axes.length_axis}, up {body.axes.up}, nose {body.axes.nose}"),
    ]
    for row in rows:
        table.add_row(*(escape(in_printed_units(cell)) for cell in row))
    _OUT.print(table)


def _inches(body: Hull) -> str:
    return " x ".join(f"{size / MM_PER_IN:.2f}" for size in (body.length, body.breadth, body.depth))


def openings(found: Sequence[Opening]) -> None:
    """Where the skin is open, widest first."""
    if not found:
        return
    _OUT.print()
    table = _table("Openings of the skin", "widest mm", "from x mm", "to x mm", "at y mm", "z mm", "", left=[""])
    for opening in found[:MOST_OPENINGS]:
        _, y, z = opening.widest.middle
        start, end = opening.x
        sizes = (opening.widest.width, start, end, y, z)
        table.add_row(*(bare_length(size, 2 if n == 0 else 1) for n, size in enumerate(sizes)), str(opening.closing))
    if len(found) > MOST_OPENINGS:
        table.add_row(f"and {len(found) - MOST_OPENINGS} narrower ones")
    _OUT.print(table)


def stations(plan: StationPlan) -> None:
    """The blocks as a table; a run of full blocks is one line."""
    title = f"{len(plan.spans)} blocks, foam {plan.foam:g} mm"
    table = _table(title, "block", "from x mm", "to x mm", "thickness mm", "kind", left=["kind"])
    for full, run in groupby(plan.spans, key=lambda span: span.full):
        spans = list(run)
        if full and len(spans) > 1:
            first, last = spans[0], spans[-1]
            table.add_row(
                f"{first.number:02d} to {last.number:02d}",
                bare_length(first.x_fore, 2),
                bare_length(last.x_aft, 2),
                _range([span.thickness for span in spans]),
                f"{len(spans)} full blocks",
            )
            continue
        for span in spans:
            kind = "full block" if full else "odd block"
            table.add_row(
                f"{span.number:02d}",
                *(bare_length(size, 2) for size in (span.x_fore, span.x_aft, span.thickness)),
                kind,
            )
    _OUT.print(table)


def _range(sizes: Sequence[float]) -> str:
    low, high = min(sizes), max(sizes)
    return bare_length(low, 2) if high - low < SAME_SIZE else f"{bare_length(low, 2)} to {bare_length(high, 2)}"


SAME_SIZE = 0.005
"""Difference in mm below which two sizes print alike."""


# ---- notes -----------------------------------------------------------------------------------------------------------


def notes(every: Sequence[Note]) -> None:
    """All notes by kind, warnings last so that they are read."""
    merged = merge_notes(every)
    if merged:
        gap()
    for kind in NoteKind:
        for note in merged:
            if note.kind is kind:
                _labelled(_WORDS[kind], note.sentence, _STYLES[kind])


def following(step: str) -> None:
    """The next step, after everything else."""
    gap()
    _labelled("Next", step, "bold green")


# ---- the result of make ----------------------------------------------------------------------------------------------


def result(build: Build, checks: Sequence[Check]) -> None:
    """What was made, how well it fits the hull, and what was measured."""
    templates, pages = _count(len(build.layout.templates), "template"), _count(len(build.layout.pages), "page")
    paper = build.layout.pages[0].paper.name
    say(f"{build.body.hull.name}: {templates} on {pages} of {paper}, fingerprint {build.fingerprint}", "bold")
    fit(build)
    if build.figures:
        weight(build.figures)
    worst = max(checks, key=lambda check: abs(check.expected - check.measured))
    say(
        f"Measured in the finished PDF: {_count(len(checks), 'size')}, "
        f"largest error {abs(worst.expected - worst.measured):.4f} mm ({worst.name})."
    )


def fit(build: Build) -> None:
    """How close the blocks come to the hull; missing foam over MISSED is a warning and stands among these."""
    cut = [(block.span.number, block.grown) for block in build.body.blocks if isinstance(block, CutBlock)]
    tips = {block.span.number: block.tip for block in build.body.blocks if isinstance(block, CarvedBlock)}
    if cut:
        lacking, missing = max(cut, key=lambda item: item[1].deviation.missing)
        thickest, sanded = max(cut, key=lambda item: item[1].sanding)
        depth, offset = missing.deviation.missing, max(grown.offset for _, grown in cut)
        enlarged = f"Outlines are enlarged by up to {offset:.2f} mm." if offset else "Outlines are not enlarged."
        if depth <= UNSEEN:
            say(f"Enough foam everywhere. {enlarged}")
        elif depth <= MISSED:
            say(f"Enough foam, within {depth:.2f} mm (block {lacking:02d}). {enlarged}")
        else:
            say(enlarged)
        litres = sum(block.sanding_volume for block in build.body.cut_blocks) / 1e6
        say(f"To sand off: up to {sanded.sanding:.2f} mm (block {thickest:02d}), {litres:.3f} litres in all.")
    carved = {number: grown.deviation.carved_volume for number, grown in cut if grown.deviation.carved}
    if carved:
        litres = sum(carved.values()) / 1e6
        say(f"To carve where the templates show it: {_blocks([*carved])}, {litres:.3f} litres in all.")
    if tips:
        litres = sum(tip.carving_volume for tip in tips.values()) / 1e6
        say(f"To carve with profiles and gauges: {_blocks([*tips])}, {litres:.3f} litres in all.")


UNSEEN = 0.02
"""Depth in mm. Nobody can find less missing foam than this on the finished body."""


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}" + ("" if number == 1 else "s")


def _blocks(numbers: Sequence[int]) -> str:
    return f"block{'' if len(numbers) == 1 else 's'} {number_runs(numbers)}"


def printing(folder: Path) -> None:
    """What to do with the folder that `make` wrote."""
    following(
        f"print {folder / 'templates.pdf'} at 100 %, and measure both bars on the paper before you cut anything. "
        f"{folder / 'job-book.pdf'} is the book for the bench."
    )


def reprinted(blocks: Sequence[int], fingerprint: str, folder: Path) -> None:
    """What to do with sheets that were made again."""
    following(
        f"print {folder / 'templates.pdf'} at 100 %, and measure both bars. The sheets of {_blocks(blocks)} are those "
        f"of plan {fingerprint}: they go with its other templates."
    )


def changed(lines: Sequence[str]) -> None:
    """What is different from the last plan in the folder."""
    if not lines:
        return
    text = "The templates that were in this folder before are no longer valid. Throw their prints away. What changed:"
    _labelled(_WORDS[NoteKind.WARNING], text, _STYLES[NoteKind.WARNING])
    for line in lines:
        _paragraph(f"  {line}", 0, "", indent="    ")


# ---- foam and wire ---------------------------------------------------------------------------------------------------


def foam(made: FoamPlan) -> None:
    """Which boards and which cuts, and how long the body may come out."""
    plan = made.cut
    noun = billet_word(plan.billets)
    title = f"Foam: {len(plan.billets)} {billet_word(plan.billets, many=len(plan.billets) != 1)}"
    table = _table(title, noun, "made of", "size mm", "blocks", left=["made of", "size mm", "blocks"])
    for billet in plan.billets:
        kind = billet.kind
        table.add_row(
            str(billet.number),
            escape(boards_text(billet)),
            sizes_text((kind.length, kind.width, kind.thickness), 2, shorten=True).rsplit(" ", 1)[0],
            number_runs([placed.block for placed in billet.blocks]),
        )
    _OUT.print(table)
    for use in boards_used(plan):
        cost = "" if use.price is None else f", price {use.price:.2f}"
        verb = "Buy" if use.buy else "Use"
        say(f"{verb} {use.used} of {use.board.name}{cost}.")
    chosen = Table(
        title="Why this plan, in this order", title_justify="left", show_header=False, box=None, pad_edge=False
    )
    for row in preference_rows(plan):
        chosen.add_row(*map(escape, row))
    _OUT.print(chosen)
    settings = _count(len(plan.fences), "fence setting")
    say(f"{_count(sum(setting.cuts for setting in plan.fences), 'cut')} at {settings}, squaring included.")
    for line in length_sentences(plan, made.accuracy):
        say(line)


def length_sentences(plan: CutPlan, error: LengthError | None) -> list[str]:
    """How long the glued body may come out; nothing where blocks have no foam yet."""
    if error is None:
        return []
    end = error.end
    lines = []
    if abs(end.known) >= SMALLEST_SHIFT:
        way = "longer" if end.known > 0 else "shorter"
        lines.append(f"Boards as measured and glue lines make the body {abs(end.known):.1f} mm {way} than planned.")
    layers = unmeasured_layers(plan)
    if layers:
        lines.append(
            f"If your boards are {EXAMPLE_ERROR:g} mm thicker than named, the body gets {layers * EXAMPLE_ERROR:g} mm "
            "longer. Measure them and give measured under [[boards]]."
        )
    (before, behind), (less, more) = end.likely, end.worst
    lines.append(
        f"Length error from tolerances: likely -{before:.1f}/+{behind:.1f} mm, at worst -{less:.1f}/+{more:.1f} mm."
    )
    return lines


EXAMPLE_ERROR = 0.5
"""Error of a board's thickness in mm, as an example."""


def unmeasured_layers(plan: CutPlan) -> int:
    """Board faces that decide the body's length without having been measured, counted along the hull.

    A sliced block has the thickness of the fence, whatever its boards measure.
    """
    return sum(
        board.measured is None
        for billet in plan.billets
        for placed in billet.blocks
        if not billet.is_sliced(placed)
        for board in billet.boards
    )


SMALLEST_SHIFT = 0.05
"""Known error of the length in mm below which none is reported."""


def cuts(plan: CutPlan) -> None:
    """Every cut in the order to make them, by fence setting."""
    numbers = "billet: numbers of its cuts"
    table = _table("Cuts in their order", "stage", "fence mm", "cuts", numbers, left=["stage", numbers])
    for fence, fence_cuts in cuts_by_fence(plan):
        by_billet: dict[int, list[int]] = {}
        for billet, cut in fence_cuts:
            by_billet.setdefault(billet.number, []).append(cut.number)
        where = "; ".join(f"{billet}: {number_runs(made, digits=1)}" for billet, made in sorted(by_billet.items()))
        table.add_row(str(fence.stage), rule_length(fence.fence), str(fence.cuts), where)
    _OUT.print(table)


def proposal(made: Proposal) -> None:
    """The thickness that was chosen, and the others that were tried."""
    comparison([variant.row for variant in made.tried])
    row = made.choice.row
    notes([assumption(f"foam thickness {row.foam:g} mm, because {made.reason}. Override with --foam.")])


def cautions() -> None:
    """What to observe before the wire is switched on."""
    for line in wire_cautions():
        _paragraph(f"- {line}", 0, "", indent="  ")


def wire(figures: WireFigures) -> None:
    """What the wire needs."""
    table = Table(title="Wire", title_justify="left", show_header=False, box=None, pad_edge=False)
    for row in wire_rows(figures):
        table.add_row(*(escape(in_printed_units(cell)) for cell in row))
    _OUT.print(table)


# ---- weight and flotation --------------------------------------------------------------------------------------------


def weights(figures: "BodyFigures") -> None:
    """What the body weighs, and where it balances."""
    from profiles.body.figures import balance_rows, weight_rows  # most commands do not ask for it

    table = _table(
        f"{figures.hull.name}: weight", "part", "weight", "x mm", "y mm", "z mm", "from", left=["part", "from"]
    )
    rows = weight_rows(figures.weights)
    for number, row in enumerate(rows):
        table.add_row(
            *(escape(in_printed_units(cell)) for cell in row), style="bold" if number == len(rows) - 1 else ""
        )
    _OUT.print(table)
    say("x from the nose, y to starboard, z above the datum.", "dim")
    _plain_table("Balance", balance_rows(figures.weights, figures.hull.lowest))


def weight(figures: "BodyFigures") -> None:
    """Weight, balance and draught in a sentence."""
    from profiles.body.figures import grams

    total = figures.weights.total
    say(f"It weighs {grams(total.amount)} and balances at x {total.centre[0]:.1f} mm.")
    if figures.flotation:
        afloat = figures.flotation.afloat
        heel = f", heeled by {abs(afloat.plane.heel):.0f} degrees" if abs(afloat.plane.heel) >= 1 else ""
        say(f"Afloat it displaces {grams(afloat.displacement)} and is {afloat.draught:.1f} mm deep in the water{heel}.")


def flotation(figures: "BodyFigures") -> None:
    """How the body floats; with a scale, the original beside it."""
    from profiles.body.figures import flotation_rows  # most commands do not ask for it

    if figures.flotation is None:
        return
    rows = flotation_rows(figures.flotation)
    if figures.scale is None:
        _plain_table(f"{figures.hull.name} afloat", [(row.label, row.text, row.note) for row in rows])
    else:
        original = "original, same water"
        table = _table(f"{figures.hull.name} afloat", "", "model", original, left=[""])
        for row in rows:
            table.add_row(escape(row.label), row.text, row.text_at(figures.scale))
        _OUT.print(table)
        say(f"A speed of the model times {figures.scale**-0.5:.2f} is that of the original (Froude).")
    arms = figures.flotation.righting.arms
    table = _table("Righting arms, free trim", "heel", "arm mm", "trim", "heel ", "arm mm ", "trim ")
    half = (len(arms) + 1) // 2
    for number in range(half):
        cells = []
        for arm in (arms[number], arms[number + half] if number + half < len(arms) else None):
            cells += [f"{arm.heel:g}", bare_length(arm.arm, 2), f"{arm.trim:.1f}"] if arm else ["", "", ""]
        table.add_row(*cells)
    _OUT.print(table)


def _plain_table(title: str, rows: Sequence[tuple[str, str, str]]) -> None:
    """Rows of a label, a value and a note without lines."""
    table = Table(title=escape(title), title_justify="left", show_header=False, box=None, pad_edge=False)
    for row in rows:
        table.add_row(*(escape(in_printed_units(cell)) for cell in row))
    _OUT.print(table)


# ---- demos -----------------------------------------------------------------------------------------------------------


def demos(written: Sequence[Demo]) -> None:
    """What each demo is, and the command for it."""
    say(f"{_count(len(written), 'demo job')} in {written[0].job.parent}", "bold")
    for demo in written:
        _paragraph(demo.about, 0, "", indent="  ")
        say(f"  stationer make {shlex.quote(str(demo.job))}")
    following("run one of these commands. It writes templates and job book into the folder output.")


# ---- several ways to build a hull ------------------------------------------------------------------------------------

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
        table = _table(title, "", *(heading for heading, _ in columns), left=[""])
        for row in rows:
            table.add_row(escape(row.label), *(figure(row) for _, figure in columns))
        _OUT.print(table)
    for row in rows:
        if row.more_blocks:
            more = f"{row.more_blocks} more block{'' if row.more_blocks == 1 else 's'}"
            say(f"{row.label}: {more}: at most {row.more_extra:.1f} mm to sand instead of {row.extra:.1f} mm.")
