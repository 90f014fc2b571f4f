import math

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon

from profiles.blocks.kerf import kerf_from_test, kerf_test_notes
from profiles.blocks.outlines import outline_of
from profiles.blocks.settings import Allowances
from profiles.errors import JobError


def test_kerf_by_hand() -> None:
    """A 100 mm template and a 0.4 mm wire that leave 98.9 mm of foam: the kerf is 100 + 0.4 - 98.9 = 1.5 mm."""
    assert kerf_from_test(98.9, 0.4) == pytest.approx(1.5)
    assert kerf_from_test((98.7, 99.1), 0.4) == pytest.approx(1.5)
    assert kerf_from_test(48.9, 0.4, size=50.0) == pytest.approx(1.5)
    assert not kerf_test_notes((98.7, 99.1), 0.4)


@given(st.floats(0.1, 8.0), st.floats(0.05, 1.0))
def test_kerf_is_what_the_allowance_takes(kerf: float, wire: float) -> None:
    """A template drawn with a kerf for a 100 mm block, cut with that kerf, gives the kerf back: its own size less what
    the block measures, whatever the wire.
    """
    block = MultiPolygon([shapely.box(0, 0, 100, 100)])
    template = outline_of(block, Allowances(kerf=kerf, wire=wire)).cut
    side = math.sqrt(template.area)
    assert kerf_from_test(100.0, wire, size=side) == pytest.approx(kerf, abs=1e-9)


@pytest.mark.parametrize(
    ("measured", "wire", "words"),
    [
        (100.6, 0.4, "leave at most 100.4 mm"),
        (80.0, 0.4, "the kerf would be 20.40 mm; expected at most 10 mm"),
        (0.0, 0.4, "expected lengths above 0"),
        (float("nan"), 0.4, "expected lengths above 0"),
        (99.0, -0.4, "expected lengths above 0"),
        ((), 0.4, "measures nothing mm"),
    ],
)
def test_nonsense_is_refused(measured: float | tuple[float, ...], wire: float, words: str) -> None:
    """What cannot be of a test block is refused with what was expected and found."""
    with pytest.raises(JobError, match=words):
        kerf_from_test(measured, wire)


def test_uneven_sides_are_told() -> None:
    """Sides that differ by more than 0.5 mm are reported; at 0.5 mm they are not."""
    assert "98.6 and 99.2 mm" in kerf_test_notes((98.6, 99.2), 0.4)[0].text
    assert not kerf_test_notes((98.75, 99.25), 0.4)


def test_kerf_narrower_than_the_wire_is_told() -> None:
    """A wire can't pass through less than its own width, so the block was cut or measured wrong."""
    assert "narrower than the wire" in kerf_test_notes(100.2, 0.4)[0].text
    assert not kerf_test_notes(99.9, 0.4)
