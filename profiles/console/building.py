"""The hull, its blocks, the result of a build and what to do next."""

import shlex
from collections.abc import Sequence
from itertools import groupby
from pathlib import Path

from rich.markup import escape
from rich.table import Table

from profiles.blocks.blocks import CarvedBlock, CutBlock
from profiles.blocks.body import Body
from profiles.blocks.missing import MISSED
from profiles.blocks.stations import StationPlan
from profiles.build import Build
from profiles.console.floating import weight
from profiles.console.terminal import OUT, count_of, gap, labelled, paragraph, say, table_of
from profiles.demos import Demo
from profiles.hull.frame import Hull
from profiles.hull.gaps import Opening
from profiles.notes import Note, NoteKind, merge_notes
from profiles.paper.proof import Check
from profiles.units import (
    MM_PER_IN,
    PrintUnit,
    bare_length,
    block_name,
    in_printed_units,
    number_runs,
    printed_unit,
)

MOST_OPENINGS = 20
"""Openings of the skin that are listed; more are only counted."""

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
    OUT.print(table)


def _inches(body: Hull) -> str:
    return " x ".join(f"{size / MM_PER_IN:.2f}" for size in (body.length, body.breadth, body.depth))


def openings(found: Sequence[Opening]) -> None:
    """Where the skin is open, widest first."""
    if not found:
        return
    OUT.print()
    table = table_of("Openings of the skin", "widest mm", "from x mm", "to x mm", "at y mm", "z mm", "", left=[""])
    for opening in found[:MOST_OPENINGS]:
        _, y, z = opening.widest.middle
        start, end = opening.x
        sizes = (opening.widest.width, start, end, y, z)
        table.add_row(*(bare_length(size, 2 if n == 0 else 1) for n, size in enumerate(sizes)), str(opening.closing))
    if len(found) > MOST_OPENINGS:
        table.add_row(f"and {len(found) - MOST_OPENINGS} narrower ones")
    OUT.print(table)


def stations(body: Body) -> None:
    """The blocks as a table, of a hull in parts one for each."""
    for piece in body.bodies:
        _plan(piece.stations, f"{piece.title}: " if piece.part else "")


def _plan(plan: StationPlan, name: str = "") -> None:
    """The blocks as a table; a run of full blocks is one line."""
    title = f"{escape(name)}{len(plan.spans)} blocks, foam {plan.foam:g} mm"
    table = table_of(title, "block", "from x mm", "to x mm", "thickness mm", "kind", left=["kind"])
    for full, run in groupby(plan.spans, key=lambda span: span.full):
        spans = list(run)
        if full and len(spans) > 1:
            first, last = spans[0], spans[-1]
            table.add_row(
                f"{block_name(first.number)} to {block_name(last.number)}",
                bare_length(first.x_fore, 2),
                bare_length(last.x_aft, 2),
                _range([span.thickness for span in spans]),
                f"{len(spans)} full blocks",
            )
            continue
        for span in spans:
            kind = "full block" if full else "odd block"
            table.add_row(
                block_name(span.number),
                *(bare_length(size, 2) for size in (span.x_fore, span.x_aft, span.thickness)),
                kind,
            )
    OUT.print(table)


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
                labelled(_WORDS[kind], note.sentence, _STYLES[kind])


def following(step: str) -> None:
    """The next step, after everything else."""
    gap()
    labelled("Next", step, "bold green")


# ---- the result of make ----------------------------------------------------------------------------------------------


def result(build: Build, checks: Sequence[Check]) -> None:
    """What was made, how well it fits the hull, and what was measured."""
    templates, pages = count_of(len(build.layout.templates), "template"), count_of(len(build.layout.pages), "page")
    paper = build.layout.pages[0].paper.name
    say(f"{build.body.hull.name}: {templates} on {pages} of {paper}, fingerprint {build.fingerprint}", "bold")
    fit(build)
    if build.figures:
        weight(build.figures)
    worst = max(checks, key=lambda check: abs(check.expected - check.measured))
    say(
        f"Measured in the finished PDF: {count_of(len(checks), 'size')}, "
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
            say(f"Enough foam, within {depth:.2f} mm (block {block_name(lacking)}). {enlarged}")
        else:
            say(enlarged)
        litres = sum(block.sanding_volume for block in build.body.cut_blocks) / 1e6
        say(f"To sand off: up to {sanded.sanding:.2f} mm (block {block_name(thickest)}), {litres:.3f} litres in all.")
    carved = {number: grown.deviation.carved_volume for number, grown in cut if grown.deviation.carved}
    if carved:
        litres = sum(carved.values()) / 1e6
        say(f"To carve where the templates show it: {_blocks([*carved])}, {litres:.3f} litres in all.")
    if tips:
        litres = sum(tip.carving_volume for tip in tips.values()) / 1e6
        say(f"To carve with profiles and gauges: {_blocks([*tips])}, {litres:.3f} litres in all.")


UNSEEN = 0.02
"""Depth in mm. Nobody can find less missing foam than this on the finished body."""


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
    labelled(_WORDS[NoteKind.WARNING], text, _STYLES[NoteKind.WARNING])
    for line in lines:
        paragraph(f"  {line}", 0, "", indent="    ")


def demos(written: Sequence[Demo]) -> None:
    """What each demo is, and the command for it."""
    say(f"{count_of(len(written), 'demo job')} in {written[0].job.parent}", "bold")
    for demo in written:
        paragraph(demo.about, 0, "", indent="  ")
        say(f"  stationer make {shlex.quote(str(demo.job))}")
    following("run one of these commands. It writes templates and job book into the folder output.")
