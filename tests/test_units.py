"""Text to millimetres, and the sizes of paper."""

import pytest

from profiles.units import PAPERS, PT_PER_MM, length_mm, paper_named, unit_name


@pytest.mark.parametrize(
    ("text", "mm"),
    [(40, 40), ("40", 40), ("1.5in", 38.1), ('1.5"', 38.1), (" 2 ft ", 609.6), ("1e-2 m", 10), ("-3 cm", -30)],
)
def test_lengths(text: str | float, mm: float) -> None:
    """Bare numbers are mm, anything else names its unit; 1 in is 25.4 mm (CSS Values and Units, W3C)."""
    assert length_mm(text) == pytest.approx(mm, rel=1e-12)


@pytest.mark.parametrize("text", ["", "4,5", "40 furlongs", "nan", "1e999", "4 0", "mm", True])
def test_what_is_no_length_is_refused(text: str | bool) -> None:  # noqa: FBT001 - a bool is one of the cases
    """Decimal commas, unknown units and infinities are refused, never guessed at."""
    with pytest.raises(ValueError, match="expected"):
        length_mm(text)


def test_unit_names() -> None:
    """Units are known by short and long names, in either number."""
    assert [unit_name(word) for word in ("Metres", "inch", "IN", "feet", "mm")] == ["m", "in", "in", "ft", "mm"]


ISO_216 = {"a0": (841, 1189), "a1": (594, 841), "a2": (420, 594), "a3": (297, 420), "a4": (210, 297), "a5": (148, 210)}
ASME_Y14_1_POINTS = {
    "letter": (612, 792),
    "legal": (612, 1008),
    "tabloid": (792, 1224),
    "ansi-c": (17 * 72, 22 * 72),
    "ansi-d": (22 * 72, 34 * 72),
    "ansi-e": (34 * 72, 44 * 72),
}


def test_paper_sizes_are_those_of_the_standards() -> None:
    """A sizes as in ISO 216, American sizes as in ASME Y14.1 (in points of 1/72 in, ISO 32000-1)."""
    assert {name: (PAPERS[name].width, PAPERS[name].height) for name in ISO_216} == ISO_216
    for name, points in ASME_Y14_1_POINTS.items():
        paper = PAPERS[name]
        assert (paper.width * PT_PER_MM, paper.height * PT_PER_MM) == pytest.approx(points, abs=1e-9)
    assert PAPERS.keys() == ISO_216.keys() | ASME_Y14_1_POINTS.keys()


def test_paper_by_size() -> None:
    """A roll is given by its size in mm, or in inches."""
    assert (paper_named("610x2000").width, paper_named("610x2000").height) == (610, 2000)
    assert paper_named("24 x 36 in").width == pytest.approx(609.6)
    assert paper_named("ansi c").name == "ANSI-C"


@pytest.mark.parametrize("text", ["A9", "10x10", "610x99999", "x", "1.2.3x400"])
def test_impossible_paper_is_refused(text: str) -> None:
    """Unknown names and sizes that no bar fits on are refused."""
    with pytest.raises(ValueError, match="expected"):
        paper_named(text)
