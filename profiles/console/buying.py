"""Boards, cuts and the wire."""

from rich.markup import escape
from rich.table import Table

from profiles.book.cautions import wire_cautions
from profiles.book.cutlist import billet_word, boards_text
from profiles.console.terminal import OUT, count_of, paragraph, say, table_of
from profiles.foam.accuracy import LengthError
from profiles.foam.cutting import CutPlan
from profiles.foam.figures import boards_used, cuts_by_fence, preference_rows, wire_rows
from profiles.foam.supply import FoamPlan
from profiles.foam.wire import WireFigures
from profiles.units import (
    in_printed_units,
    number_runs,
    rule_length,
    sizes_text,
)


def foam(made: FoamPlan) -> None:
    """Which boards and which cuts, and how long the body may come out."""
    plan = made.cut
    noun = billet_word(plan.billets)
    title = f"Foam: {len(plan.billets)} {billet_word(plan.billets, many=len(plan.billets) != 1)}"
    table = table_of(title, noun, "made of", "size mm", "blocks", left=["made of", "size mm", "blocks"])
    for billet in plan.billets:
        kind = billet.kind
        table.add_row(
            str(billet.number),
            escape(boards_text(billet)),
            sizes_text((kind.length, kind.width, kind.thickness), 2, shorten=True).rsplit(" ", 1)[0],
            number_runs([placed.block for placed in billet.blocks]),
        )
    OUT.print(table)
    for use in boards_used(plan):
        cost = "" if use.price is None else f", price {use.price:.2f}"
        verb = "Buy" if use.buy else "Use"
        say(f"{verb} {use.used} of {use.board.name}{cost}.")
    chosen = Table(
        title="Why this plan, in this order", title_justify="left", show_header=False, box=None, pad_edge=False
    )
    for row in preference_rows(plan):
        chosen.add_row(*map(escape, row))
    OUT.print(chosen)
    settings = count_of(len(plan.fences), "fence setting")
    say(f"{count_of(sum(setting.cuts for setting in plan.fences), 'cut')} at {settings}, squaring included.")
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
    table = table_of("Cuts in their order", "stage", "fence mm", "cuts", numbers, left=["stage", numbers])
    for fence, fence_cuts in cuts_by_fence(plan):
        by_billet: dict[int, list[int]] = {}
        for billet, cut in fence_cuts:
            by_billet.setdefault(billet.number, []).append(cut.number)
        where = "; ".join(f"{billet}: {number_runs(made, digits=1)}" for billet, made in sorted(by_billet.items()))
        table.add_row(str(fence.stage), rule_length(fence.fence), str(fence.cuts), where)
    OUT.print(table)


def cautions() -> None:
    """What to observe before the wire is switched on."""
    for line in wire_cautions():
        paragraph(f"- {line}", 0, "", indent="  ")


def wire(figures: WireFigures) -> None:
    """What the wire needs."""
    table = Table(title="Wire", title_justify="left", show_header=False, box=None, pad_edge=False)
    for row in wire_rows(figures):
        table.add_row(*(escape(in_printed_units(cell)) for cell in row))
    OUT.print(table)
