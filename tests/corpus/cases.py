"""The corpus: bad input of every kind and what must come of it.

python tests/corpus/cases.py FOLDER    lays the files of every case out, to try them by hand
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.corpus import containers, geometry, jobs, lines, measures, structure
from tests.corpus.case import Case, laid_out


def all_cases() -> list[Case]:
    """Every case, in the order of the kinds."""
    modules = (structure, measures, geometry, containers, jobs, lines)
    return [case for module in modules for case in module.cases()]


def main(folder: Path) -> None:
    """Lay everything out."""
    for number, case in enumerate(all_cases(), start=1):
        place = folder / f"{number:03d}" / "work"
        place.mkdir(parents=True)
        laid_out(case, place)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
