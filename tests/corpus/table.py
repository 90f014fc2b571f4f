"""The corpus as a table: cases by kind and outcome.

python tests/corpus/table.py            runs every case and prints the table and whatever is not as it must be
python tests/corpus/table.py crack      only those whose name holds a word
"""

import sys
import tempfile
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.corpus.case import Case
from tests.corpus.cases import all_cases
from tests.corpus.running import faults, run, set_up

OUTCOMES = {0: "accepted", 2: "refused: words", 3: "refused: hull or job"}


def rows(cases: Sequence[Case], wrong: Sequence[str] = ()) -> list[tuple[str, ...]]:
    """A row for each kind: its name, how many cases have which outcome, how many came out otherwise, and the sum."""
    counts = Counter((case.kind, case.code) for case in cases)
    bad = Counter(case.kind for case in cases if case.id in wrong)
    kinds = list(dict.fromkeys(case.kind for case in cases))
    table = [("kind", *OUTCOMES.values(), "otherwise", "cases")]
    for kind in kinds:
        figures = [counts[kind, code] for code in OUTCOMES]
        table.append((kind, *map(str, figures), str(bad[kind]), str(sum(figures))))
    sums = [sum(int(row[column]) for row in table[1:]) for column in range(1, len(table[0]))]
    return [*table, ("all", *map(str, sums))]


def printed(table: Sequence[tuple[str, ...]]) -> str:
    """The rows in columns."""
    widths = [max(len(row[column]) for row in table) for column in range(len(table[0]))]
    lines = []
    for row in table:
        first, *rest = (
            cell.ljust(width) if n == 0 else cell.rjust(width)
            for n, (cell, width) in enumerate(zip(row, widths, strict=True))
        )
        lines.append("  ".join([first, *rest]).rstrip())
    return "\n".join(lines)


def main(word: str) -> None:
    """Run the cases and print."""
    cases = [case for case in all_cases() if word in case.id]
    wrong, slowest, largest = [], (0.0, ""), (0, "")
    for case in cases:
        with tempfile.TemporaryDirectory(prefix="corpus-") as folder:
            try:
                set_up(case, Path(folder))
                outcome = run(case, Path(folder))
                found = faults(case, outcome, Path(folder))
            except Exception as fault:  # noqa: BLE001 - the table shows what the test would raise
                print(f"{case.id}\n    raised {type(fault).__name__}: {str(fault)[:300]}")
                wrong.append(case.id)
                continue
        slowest, largest = max(slowest, (outcome.seconds, case.id)), max(largest, (outcome.kib, case.id))
        if found or word:
            print(
                f"{case.id}\n    {'; '.join(found) or 'as it must be'}\n    {outcome.seconds:.2f} s, {outcome.kib >> 10} MiB"
            )
            print("    " + (outcome.err or outcome.out)[-500:].replace("\n", "\n    "))
        if found:
            wrong.append(case.id)
    print(printed(rows(cases, wrong)))
    print(f"slowest: {slowest[0]:.1f} s, {slowest[1]}; largest: {largest[0] >> 10} MiB, {largest[1]}")


if __name__ == "__main__":
    main(" ".join(sys.argv[1:]))
