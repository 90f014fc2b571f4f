"""Tables of offsets and drawn sections that contradict themselves, or would reach for something else."""

from tests.corpus.case import Case, accepted, refused
from tests.hull.tables import SKIFF

KIND = "hulls without a mesh"

SIZE = 'width="200mm" height="200mm" viewBox="0 0 200 200"'
HALF = '<path id="x0" d="M100 150L140 90"/><path id="x80" d="M100 150L150 90"/>'


def cases() -> list[Case]:
    """All of this kind."""
    return [*_tables(), *_drawings()]


def _table(old: str = "", new: str = "") -> bytes:
    assert old in SKIFF
    return SKIFF.strip().replace(old, new).encode() if old else SKIFF.strip().encode()


def _drawing(inside: str, size: str = SIZE, before: str = "") -> bytes:
    return f'{before}<svg xmlns="http://www.w3.org/2000/svg" {size}>{inside}</svg>'.encode()


def _tables() -> list[Case]:
    def no(name: str, old: str, new: str, *says: str) -> Case:
        return refused(KIND, name, "hull.csv", _table(old, new), "hull.csv", *says)

    return [
        accepted(KIND, "a sound table", "hull.csv", _table(), (560.0, 144.71, 98.94)),
        no("NaN in a table", "26, 20", "NaN, 20", "row 8, column C", "'NaN'"),
        no("text in a table", "26, 20", "about 26, 20", "row 8, column C", "'about 26'"),
        no("a cell too few", "90, 84, 78", "90, 78", "row 6", "6 cells", "7"),
        no("a cell too many", "90, 84, 78", "90, 84, 78, 1", "row 6", "8 cells", "7"),
        no("stations out of order", "100,200", "200,100", "row 4, column D", "out of order"),
        no("two stations at one place", "100,200", "100,100", "row 4, column D", "out of order"),
        no("an unknown unit", "unit,             mm", "unit, ell", "row 2, column B", "'ell'"),
        no("inches written as a date", "unit,             mm", "unit, feet-inches-eighths", "column", "0"),
        no("a stem that goes back", "-60,-30,0,", "-60,5,0,", "stem", "goes back"),
        no("a keel and a stem that disagree", "98, 55, 30", "98, 55, 33", "contradict", "0 mm"),
        refused(KIND, "an STL named .csv", "hull.csv", b"\0" * 200, "hull.csv"),
    ]


def _drawings() -> list[Case]:
    def no(name: str, content: bytes, *says: str) -> Case:
        return refused(KIND, name, "hull.svg", content, "hull.svg", *says)

    doctype = '<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]>'
    return [
        no("a drawing without a size", _drawing(HALF, ""), "no width in mm"),
        no("a drawing in pixels", _drawing(HALF, SIZE.replace("mm", "px")), "no width in mm", "'200px'"),
        no("a turned section", _drawing(HALF.replace("<path", '<path transform="rotate(9)"')), "transform"),
        no("a script", _drawing(f"{HALF}<script>go()</script>"), "script", "never run"),
        no("a link", _drawing(f'<a href="http://example.org">{HALF}</a>'), "link", "never opened"),
        no("a picture from elsewhere", _drawing(f'{HALF}<image href="file:///etc/passwd"/>'), "link", "never opened"),
        no("a document type", _drawing(HALF, before=doctype), "document type"),
        no("one section", _drawing(HALF.partition("/>")[0] + "/>"), "two stations or more", "found 1"),
    ]
