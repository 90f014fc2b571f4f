"""What the body weighs, and how it floats."""

from typing import TYPE_CHECKING

from rich.markup import escape

from profiles.console.terminal import OUT, plain_table, say, table_of
from profiles.units import (
    bare_length,
    in_printed_units,
)

if TYPE_CHECKING:
    from profiles.body.weigh import BodyFigures


def weights(figures: "BodyFigures") -> None:
    """What the body weighs, and where it balances."""
    from profiles.body.figures import balance_rows, weight_rows  # most commands do not ask for it

    table = table_of(
        f"{figures.hull.name}: weight", "part", "weight", "x mm", "y mm", "z mm", "from", left=["part", "from"]
    )
    rows = weight_rows(figures.weights)
    for number, row in enumerate(rows):
        table.add_row(
            *(escape(in_printed_units(cell)) for cell in row), style="bold" if number == len(rows) - 1 else ""
        )
    OUT.print(table)
    say("x from the nose, y to starboard, z above the datum.", "dim")
    plain_table("Balance", balance_rows(figures.weights, figures.hull.lowest))


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
        plain_table(f"{figures.hull.name} afloat", [(row.label, row.text, row.note) for row in rows])
    else:
        original = "original, same water"
        table = table_of(f"{figures.hull.name} afloat", "", "model", original, left=[""])
        for row in rows:
            table.add_row(escape(row.label), row.text, row.text_at(figures.scale))
        OUT.print(table)
        say(f"A speed of the model times {figures.scale**-0.5:.2f} is that of the original (Froude).")
    arms = figures.flotation.righting.arms
    table = table_of("Righting arms, free trim", "heel", "arm mm", "trim", "heel ", "arm mm ", "trim ")
    half = (len(arms) + 1) // 2
    for number in range(half):
        cells = []
        for arm in (arms[number], arms[number + half] if number + half < len(arms) else None):
            cells += [f"{arm.heel:g}", bare_length(arm.arm, 2), f"{arm.trim:.1f}"] if arm else ["", "", ""]
        table.add_row(*cells)
    OUT.print(table)
