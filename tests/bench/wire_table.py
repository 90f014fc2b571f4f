"""Table of wires: the supply that each gauge needs for each span, and what is named where 48 V is not enough.

python tests/bench/wire_table.py     every gauge AWG 20 to 40, spans 100 mm to 3 m, in Markdown
"""

from profiles.errors import JobError
from profiles.foam.wire import MAX_VOLTS, WireFigures, WireSettings, wire_figures

GAUGES = range(20, 41)
SPANS = (100, 300, 600, 1000, 1500, 2000, 2500, 3000)
"""mm."""


def main() -> None:
    """Print the table, and the highest supply that is named in it."""
    print("| AWG |", " | ".join(f"{span} mm" for span in SPANS), "|")
    print("|---|", "---|" * len(SPANS), sep="")
    highest = 0.0
    for gauge in GAUGES:
        cells = []
        for span in SPANS:
            try:
                figures = wire_figures(WireSettings(gauge=gauge, span_mm=float(span)))
            except JobError:
                cells.append("refused")
                continue
            highest = max(highest, figures.supply_volts or 0.0)
            cells.append(_cell(figures))
        print(f"| {gauge} |", " | ".join(cells), "|")
    print(f"\nhighest supply that is named: {highest:g} V; limit: {MAX_VOLTS:g} V")


def _cell(figures: WireFigures) -> str:
    """The supply, or the remedy that the note names."""
    if figures.supply_volts is not None:
        return f"{figures.supply_volts:g} V"
    sentence = next(note.text for note in figures.notes if "is not enough" in note.text)
    return sentence.split(": ", 1)[1].removesuffix(".")


if __name__ == "__main__":
    main()
