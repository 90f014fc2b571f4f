"""How results are told on a terminal: tables with rich on standard output, progress on standard error.

rich itself respects NO_COLOR and plain pipes.
"""

import contextlib
from collections.abc import Callable, Iterator, Sequence
from itertools import groupby
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from profiles.blocks.stations import StationPlan
from profiles.book.cautions import wire_cautions
from profiles.build import Build
from profiles.comparing import Row
from profiles.foam.accuracy import LengthError
from profiles.foam.cutting import CutPlan
from profiles.foam.figures import boards_used, numbers_told, proof_told, wire_rows
from profiles.foam.wire import WireFigures
from profiles.foamplan import FoamPlan
from profiles.hull.frame import Hull
from profiles.notes import Note, NoteKind, assumption, merge_notes
from profiles.paper.proof import Check
from profiles.proposing import Proposal
from profiles.units import MM_PER_IN

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
    """One line."""
    _OUT.print(escape(text), style=style or None)


@contextlib.contextmanager
def progress() -> Iterator[Callable[[str], None]]:
    """A changing line on a terminal's standard error."""
    with _ERR.status("starting") as status:
        yield lambda stage: status.update(escape(stage))


def hull(body: Hull) -> None:
    """What the hull is."""
    table = Table(title=escape(body.name), title_justify="left", show_header=False, box=None, pad_edge=False)
    inches = [f"{size / MM_PER_IN:.2f}" for size in (body.length, body.breadth, body.depth)]
    rows = [
        ("file", f"{body.format}, {body.triangles:,} triangles, unit {body.unit} ({body.unit_from})"),
        ("length x breadth x depth", f"{body.length:.2f} x {body.breadth:.2f} x {body.depth:.2f} mm"),
        ("", f"{' x '.join(inches)} in"),
        ("volume", f"{body.volume / 1e6:.4f} litres (from {body.volume_from})"),
        ("bodies, voids", f"{body.body_count}, {body.void_count}"),
        ("datum", f"{-body.lowest:.2f} mm above the lowest point, on the centre plane"),
        ("file's axes", f"length {body.axes.length_axis}, up {body.axes.up}, nose {body.axes.nose}"),
    ]
    for row in rows:
        table.add_row(*map(escape, row))
    _OUT.print(table)


def stations(plan: StationPlan) -> None:
    """The blocks as a table; runs of full blocks are shown as one line."""
    table = Table(title=f"{len(plan.spans)} blocks, foam {plan.foam:g} mm", title_justify="left")
    for heading in ("block", "from x mm", "to x mm", "thick mm"):
        table.add_column(heading, justify="right")
    table.add_column("")
    for full, run in groupby(plan.spans, key=lambda span: span.full):
        spans = list(run)
        if full and len(spans) > 1:
            first, last = spans[0], spans[-1]
            table.add_row(
                f"{first.number:02d} to {last.number:02d}",
                f"{first.x_fore:.2f}",
                f"{last.x_aft:.2f}",
                _range([span.thickness for span in spans]),
                f"{len(spans)} full blocks",
            )
            continue
        for span in spans:
            kind = "full block" if full else "odd block"
            table.add_row(
                f"{span.number:02d}", f"{span.x_fore:.2f}", f"{span.x_aft:.2f}", f"{span.thickness:.2f}", kind
            )
    _OUT.print(table)


def _range(sizes: Sequence[float]) -> str:
    low, high = min(sizes), max(sizes)
    return f"{low:.2f}" if high - low < SAME_SIZE else f"{low:.2f} to {high:.2f}"


SAME_SIZE = 0.005
"""mm; sizes that print alike."""


def notes(told: Sequence[Note]) -> None:
    """All notes by kind, warnings last so that they are read."""
    for kind in NoteKind:
        for note in merge_notes(told):
            if note.kind is kind:
                _OUT.print(f"[{_STYLES[kind]}]{_WORDS[kind]}:[/] {escape(note.sentence)}")


def notes_as_json(told: Sequence[Note]) -> dict[str, Any]:
    """The notes for --json."""
    return {
        "told": [{"kind": str(note.kind), "text": note.sentence, "x": note.x} for note in told],
        "warnings": [note.sentence for note in told if note.kind is NoteKind.WARNING],
    }


def closing(build: Build, checks: Sequence[Check], folder: Path) -> None:
    """Where everything lies, and what was measured."""
    worst = max(checks, key=lambda check: abs(check.expected - check.measured))
    paper = build.pages[0].paper
    say(f"{len(build.templates)} templates on {len(build.pages)} pages {paper.name}; fingerprint {build.fingerprint}")
    deviations(build)
    say(
        f"measured in the finished PDF: {len(checks)} sizes, worst off by "
        f"{abs(worst.expected - worst.measured):.4f} mm ({worst.name})"
    )
    say(f"print this at 100 %: {folder / 'templates.pdf'}", "bold")
    say("Measure both bars on the paper before cutting anything.")


def foam(made: FoamPlan) -> None:
    """Which boards, which cuts, and what is lacking."""
    plan = made.cut
    table = Table(
        title=f"foam: {len(plan.billets)} billet" + ("s" if len(plan.billets) != 1 else ""), title_justify="left"
    )
    for heading in ("billet", "layers", "size mm", "blocks"):
        table.add_column(heading, justify="right" if heading == "billet" else "left")
    for billet in plan.billets:
        kind = billet.kind
        table.add_row(
            str(billet.number),
            escape(" + ".join(board.name for board in billet.boards)),
            f"{kind.length:g} x {kind.width:g} x {kind.thickness:g}",
            numbers_told([placed.block for placed in billet.blocks]),
        )
    _OUT.print(table)
    for use in boards_used(plan):
        cost = "" if use.price is None else f", price {use.price:.2f}"
        verb = "buy" if use.buy else "use"
        say(f"{verb} {use.used} of {use.board.name}{cost}")
    fences = ", ".join(f"{one.stage} {one.fence:g}: {one.cuts}" for one in plan.fences)
    say(f"fence settings (mm: cuts): {fences}")
    say(proof_told(plan))
    for line in accuracy_told(made.accuracy):
        say(line)


def accuracy_told(error: LengthError | None) -> list[str]:
    """How long the glued body may come out."""
    if error is None:
        return []
    end = error.end
    worst, usual = end.worst, end.usual
    known = "" if abs(end.known) < SMALLEST_SHIFT else f"{end.known:+.1f} mm as far as is known, "
    sides = f"-{worst[0]:.1f}/+{worst[1]:.1f} mm at worst, -{usual[0]:.1f}/+{usual[1]:.1f} mm as root sum of squares"
    return [f"length of the glued body: {known}{sides}"]


SMALLEST_SHIFT = 0.05
"""mm; a known error of the length under this is not told."""


def cuts(plan: CutPlan) -> None:
    """Every cut in the order to make them, by fence setting."""
    table = Table(title="cuts, in their order", title_justify="left")
    for heading in ("stage", "fence mm", "cuts", "billets: numbers of the cuts"):
        table.add_column(heading, justify="right" if heading in {"fence mm", "cuts"} else "left")
    for one in plan.fences:
        made = {
            billet.number: [cut.number for cut in billet.cuts if (cut.stage, cut.fence) == (one.stage, one.fence)]
            for billet in plan.billets
        }
        where = "; ".join(f"{number}: {numbers_told(found, digits=1)}" for number, found in made.items() if found)
        table.add_row(str(one.stage), f"{one.fence:.1f}", str(one.cuts), where)
    _OUT.print(table)


def proposal(made: Proposal) -> None:
    """The thickness that was chosen, and beside which."""
    comparison([one.row for one in made.tried])
    row = made.chosen.row
    text = f"foam thickness {row.foam:g} mm, because {made.why}. Override with --foam."
    notes([assumption(text)])


def cautions() -> None:
    """What to heed before the wire is switched on."""
    for line in wire_cautions():
        say(f"- {line}")


def wire(figures: WireFigures) -> None:
    """What the wire takes."""
    table = Table(title="wire", title_justify="left", show_header=False, box=None, pad_edge=False)
    for label, value, note in wire_rows(figures):
        table.add_row(escape(label), escape(value), escape(note))
    _OUT.print(table)
    notes(figures.notes)


def comparison(rows: Sequence[Row]) -> None:
    """A column for each way to build the hull."""
    table = Table(title="side by side", title_justify="left")
    table.add_column("")
    for row in rows:
        table.add_column(escape(row.label), justify="right")
    lines: list[tuple[str, Callable[[Row], str]]] = [
        ("blocks", lambda row: f"{row.blocks}"),
        ("of these odd", lambda row: f"{row.odd}"),
        ("of these carved", lambda row: f"{row.tips}"),
        ("templates", lambda row: f"{row.templates}"),
        ("pages", lambda row: f"{row.pages}"),
        ("foam missing, mm", lambda row: f"{row.missing:.2f}"),
        ("cut too large, mm", lambda row: f"{row.growth:.2f}"),
        ("to sand, mm", lambda row: f"{row.extra:.2f}"),
        ("to sand, litres", lambda row: f"{row.sanding_volume / 1e6:.3f}"),
        ("foam, litres", lambda row: f"{row.foam_volume / 1e6:.2f}"),
        ("glue area, cm2", lambda row: f"{row.glue_area / 100:.0f}"),
        ("boards", lambda row: f"{row.boards}"),
        ("offcuts used", lambda row: f"{row.offcuts}"),
        ("blocks without foam", lambda row: f"{row.lacking}"),
        ("glue lines in blocks", lambda row: f"{row.glue_lines}"),
        ("foam wasted, %", lambda row: f"{100 * row.waste:.0f}"),
    ]
    for name, figure in lines:
        table.add_row(name, *map(figure, rows))
    _OUT.print(table)


def deviations(build: Build) -> None:
    """How the body will come out, in two lines."""
    cut = [(block.span.number, block.grown) for block in build.blocks if block.grown and not block.tip]
    tips = [f"{block.span.number:02d}" for block in build.blocks if block.tip]
    if cut:
        lacking, missing = max(cut, key=lambda one: one[1].deviation.missing)
        thickest, sanded = max(cut, key=lambda one: one[1].sanding)
        depth = missing.deviation.missing
        litres = sum(one.sanding_volume for _, one in cut) / 1e6
        say(
            f"up to {depth:.2f} mm of foam is missing (block {lacking:02d})"
            if depth > UNSEEN
            else f"no foam is missing: outlines are cut up to {max(one.offset for _, one in cut):.2f} mm too large"
        )
        say(f"to be sanded off: up to {sanded.sanding:.2f} mm (block {thickest:02d}), {litres:.3f} litres in all")
    if tips:
        say(f"to be carved by side profile, plan profile and gauges: block {', '.join(tips)}")


UNSEEN = 0.02
"""mm; less missing foam than this cannot be found on the finished body."""


def changed(lines: Sequence[str]) -> None:
    """What is different from the last plan in the folder."""
    if not lines:
        return
    say("The templates that lay in this folder before are no longer valid; throw their prints away:", "bold yellow")
    for line in lines:
        say(f"  {line}")
