import csv
import json
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from profiles.book.cautions import wire_cautions
from profiles.errors import JobError
from profiles.foam.alloys import ALLOYS, OHM_M_PER_OHM_CMIL_FT, TABLE_AMPS, TABLE_CELSIUS, Alloy
from profiles.foam.figures import wire_figures_of, wire_rows
from profiles.foam.heating import (
    THINNEST_GAUGE,
    awg_of,
    current_amps,
    diameter_of_awg_mm,
    find_alloy,
    ohm_per_metre,
    resistance_factor,
)
from profiles.foam.wire import WireFigures, WireSettings, next_rating, touch_notes, wire_figures
from profiles.notes import NoteKind

TABLE = Path(__file__).parents[3] / "shared" / "references" / "nicr_amps_C.csv"
NICKEL, NICKEL60, STEEL = ALLOYS


def _rows() -> list[dict[str, str]]:
    if not TABLE.exists():
        pytest.skip("the table of currents is not here")
    with TABLE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize(
    ("gauge", "mils"),
    [(18, 40.3), (20, 32.0), (22, 25.3), (24, 20.1), (26, 15.9), (28, 12.6), (30, 10.0), (32, 8.0), (36, 5.0)],
)
def test_gauges_have_their_diameters(gauge: int, mils: float) -> None:
    """Diameters by ASTM B258, to 0.1 mil; AWG 36 is 0.005 in by definition."""
    assert diameter_of_awg_mm(gauge) == pytest.approx(mils * 0.0254, abs=1e-12)
    assert awg_of(mils * 0.0254) == gauge
    assert awg_of(mils * 0.0254 + 0.001) is None


def test_diameters_are_those_of_the_makers_table() -> None:
    """The wire maker's table prints the same diameters in inches for AWG 20 to 36."""
    for row in _rows():
        assert diameter_of_awg_mm(int(row["AWG"])) == pytest.approx(25.4 * float(row["dia_in"]), abs=1e-12)


@pytest.mark.parametrize(
    ("gauge", "ohm_per_foot"), [(20, 0.6348), (22, 1.0155), (24, 1.6089), (26, 2.5711), (28, 4.0942), (30, 6.500)]
)
def test_resistance_of_nicr_8020_per_foot(gauge: int, ohm_per_foot: float) -> None:
    """A wire maker's table for 650 ohm cmil/ft, to its last figure."""
    figures = wire_figures(WireSettings(gauge=gauge))
    assert round(figures.cold_ohm_per_foot, 4) == ohm_per_foot


@pytest.mark.parametrize(
    ("gauge", "at_650", "at_675"),
    [(8, 0.0394, 0.0409), (10, 0.0626, 0.0650), (12, 0.0996, 0.1034), (13, 0.1254, 0.1302)],
)
def test_resistance_of_both_nickel_alloys_per_foot(gauge: int, at_650: float, at_675: float) -> None:
    """A wire maker's data sheets of the 650 and the 675 alloy, thick gauges, to their last figure."""
    for alloy, printed in ((NICKEL, at_650), (NICKEL60, at_675)):
        assert round(ohm_per_metre(alloy.resistivity_ohm_m, diameter_of_awg_mm(gauge)) * 0.3048, 4) == printed


def test_awg_32_and_the_unit_of_resistivity() -> None:
    """650 ohm cmil/ft over 8.0^2 circular mils are 10.156 ohm/ft; in SI 650 are 1.08058e-6 ohm m (closed form)."""
    assert wire_figures(WireSettings(gauge=32)).cold_ohm_per_foot == pytest.approx(650 / 64, rel=1e-12)
    assert pytest.approx(1.08058e-6, rel=5e-6) == 650 * OHM_M_PER_OHM_CMIL_FT
    assert pytest.approx(112.2e-8, rel=5e-4) == 675 * OHM_M_PER_OHM_CMIL_FT


def test_current_at_every_node_is_the_tables() -> None:
    """All 170 currents of the wire maker's table come out exactly, for both nickel alloys."""
    for row in _rows():
        for celsius in TABLE_CELSIUS:
            printed = float(row[f"A_at_{celsius}C"])
            for alloy in (NICKEL, NICKEL60):
                amps = current_amps(alloy, 25.4 * float(row["dia_in"]), celsius)
                assert amps == pytest.approx(printed, rel=1e-9)
    figures = wire_figures(WireSettings(gauge=24, temperature_celsius=300))
    assert figures.current_amps == pytest.approx(2.75, rel=1e-12)
    assert not any("interpolated" in note.text or "reach" in note.text for note in figures.notes)


def _free_air_watts_per_metre(diameter: float, kelvin: float, room: float = 293.15) -> float:
    """Convection from a thin level wire (Churchill and Chu 1975) and radiation with an emissivity of 0.8; air by
    Sutherland's law, ideal gas, Prandtl number 0.7.
    """
    film = (kelvin + room) / 2
    viscosity = 1.458e-6 * film**1.5 / (film + 110.4)
    conductivity = viscosity * 1005 / 0.7
    kinematic = viscosity * 287.05 * film / 101_325
    rayleigh = 9.81 / film * (kelvin - room) * diameter**3 / kinematic**2 * 0.7
    nusselt = (0.6 + 0.387 * rayleigh ** (1 / 6) / (1 + (0.559 / 0.7) ** (9 / 16)) ** (8 / 27)) ** 2
    convected = nusselt * conductivity / diameter * (kelvin - room)
    return float(math.pi * diameter * (convected + 0.8 * 5.670374e-8 * (kelvin**4 - room**4)))


def test_temperatures_of_the_table_are_celsius() -> None:
    """A heat balance in free air gives 0.7 to 1 of the table's watts per metre everywhere when its heads are read as
    degrees C (there is a draught and the ends are clamped); read as Fahrenheit it gives less than 0.4 everywhere.
    """
    for gauge, amps in TABLE_AMPS.items():
        diameter = diameter_of_awg_mm(gauge)
        for celsius, current in zip(TABLE_CELSIUS, amps, strict=True):
            hot = ohm_per_metre(NICKEL.resistivity_ohm_m, diameter) * resistance_factor(NICKEL, celsius)
            given = current**2 * hot
            assert 0.7 < _free_air_watts_per_metre(diameter / 1000, celsius + 273.15) / given < 1
            assert _free_air_watts_per_metre(diameter / 1000, (celsius - 32) / 1.8 + 273.15) / given < 0.4


DIAMETERS = st.floats(diameter_of_awg_mm(38), diameter_of_awg_mm(18))


@given(DIAMETERS, st.floats(150, 869), st.floats(1.0001, 1.5), st.sampled_from(ALLOYS))
def test_current_rises_with_temperature_and_diameter(
    diameter: float, celsius: float, step: float, alloy: Alloy
) -> None:
    """A hotter wire and a thicker wire each take more current, also beyond the ends of the table."""
    here = current_amps(alloy, diameter, celsius)
    assert current_amps(alloy, diameter, min(celsius * step, 870)) > here
    assert current_amps(alloy, min(diameter * step, diameter_of_awg_mm(18) * 1.01), celsius) > here


@given(DIAMETERS, st.floats(150, 450), st.floats(50, 3000), st.sampled_from([alloy.name for alloy in ALLOYS]))
def test_figures_obey_ohms_law(diameter: float, celsius: float, span: float, alloy: str) -> None:
    """P = I^2 R = U I = U^2 / R, power per cm times the span is the power, and the hot wire resists its factor more."""
    figures = wire_figures(
        WireSettings(alloy, diameter_mm=diameter, temperature_celsius=celsius, span_mm=span, in_foam_mm=span / 4)
    )
    power = pytest.approx(figures.power_watts, rel=1e-12)
    assert figures.current_amps**2 * figures.hot_ohm == power
    assert figures.watts_per_cm * span / 10 == power
    assert figures.in_foam_watts == pytest.approx(figures.power_watts / 4, rel=1e-12)
    assert figures.hot_ohm / figures.cold_ohm == pytest.approx(resistance_factor(find_alloy(alloy), celsius))
    assert figures.cold_ohm == pytest.approx(figures.cold_ohm_per_metre * span / 1000)
    if figures.voltage_volts is not None:
        assert figures.voltage_volts * figures.current_amps == power
        assert figures.voltage_volts**2 / figures.hot_ohm == power


@given(DIAMETERS, st.floats(150, 450), st.floats(50, 3000), st.sampled_from([alloy.name for alloy in ALLOYS]))
def test_supply_has_headroom_within_the_limit(diameter: float, celsius: float, span: float, alloy: str) -> None:
    """A supply gives a quarter more than the wire needs and at most 48 V; where that is not possible none is named."""
    settings = WireSettings(alloy, diameter_mm=diameter, temperature_celsius=celsius, span_mm=span)
    figures = wire_figures(settings)
    needed = 1.25 * figures.current_amps * figures.hot_ohm
    if needed > 48:
        assert (figures.voltage_volts, figures.supply_volts, figures.supply_amps) == (None, None, None)
    else:
        assert figures.supply_volts is not None
        assert figures.supply_amps is not None
        assert needed <= figures.supply_volts <= 48
        assert figures.supply_amps >= 1.25 * figures.current_amps


@pytest.mark.parametrize(
    ("alloy", "celsius", "factor"),
    [
        (NICKEL, 20, 1.0),
        (NICKEL, 300, 1.018),
        (NICKEL, 250, 1.015),
        (NICKEL60, 300, 1.038),
        (STEEL, 400, 100 / 72),
        (STEEL, 650, 116 / 72),
    ],
)
def test_hot_resistance(alloy: Alloy, celsius: float, factor: float) -> None:
    """Factors by an alloy maker's table (250: half way between two lines); 304 steel at 650 degrees C by the ASM data
    sheet, 116 microhm cm, and another table agrees within 3 %.
    """
    assert resistance_factor(alloy, celsius) == pytest.approx(factor, rel=0.03 if celsius == 650 else 1e-12)


def test_nickel_factors_agree_with_old_measurements() -> None:
    """Ratios measured on nickel-chromium with 18.95 % chromium, printed in a trade journal of 1925, within 2 %."""
    printed = {300: 1.025, 400: 1.036, 500: 1.042, 600: 1.032, 700: 1.028, 800: 1.028, 900: 1.030}
    for celsius, ratio in printed.items():
        assert resistance_factor(NICKEL, celsius) == pytest.approx(ratio, rel=0.02)


def test_other_alloys_take_as_many_watts() -> None:
    """Stainless wire of the same size and temperature takes the same power per length as NiCr 80/20, with a note."""
    settings = WireSettings(gauge=26)
    nickel, steel = (wire_figures(replace(settings, alloy=alloy.name)) for alloy in (NICKEL, STEEL))
    assert steel.watts_per_cm == pytest.approx(nickel.watts_per_cm, rel=1e-12)
    assert steel.current_amps > nickel.current_amps
    assert any("the same watts" in note.text for note in steel.notes)
    assert not any("the same watts" in note.text for note in nickel.notes)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("NiCr 80/20", "NiCr 80/20"),
        ("nicr8020", "NiCr 80/20"),
        ("Nichrome 80", "NiCr 80/20"),
        ("NiCr 60/16", "NiCr 60/15"),
        ("nicr 60/15", "NiCr 60/15"),
        ("stainless", "stainless 304"),
        ("1.4301", "stainless 304"),
        ("AISI 304", "stainless 304"),
    ],
)
def test_alloys_by_their_names(text: str, name: str) -> None:
    """An alloy is identified by what is printed on its reel."""
    assert find_alloy(text).name == name


@pytest.mark.parametrize("text", ["nichrome", "copper", ""])
def test_unknown_alloy_is_refused(text: str) -> None:
    """An unknown alloy is refused naming those known; nichrome alone does not say which."""
    with pytest.raises(JobError, match="expected one of NiCr 80/20, NiCr 60/15, stainless 304"):
        wire_figures(WireSettings(text))


def test_a_supply_above_the_touch_limit_gets_a_warning() -> None:
    """No warning at 25 V, one above (IEC 60364-4-41, 414.4.5, as users of BS 7671 quote it: 25 V ac on bare parts)."""
    assert not touch_notes(25.0)
    assert "above 25 V" in touch_notes(25.01)[0].text
    settings = WireSettings(gauge=30, span_mm=700.0)
    assert wire_figures(settings).supply_volts == 24
    assert not any("IEC" in note.text for note in wire_figures(settings).notes)
    longer = wire_figures(replace(settings, span_mm=1000.0))
    assert longer.supply_volts == 36
    assert any("36 V is above 25 V" in note.text and note.kind is NoteKind.WARNING for note in longer.notes)
    owned = wire_figures(replace(settings, supply_volts=30.0))
    assert any("30 V is above 25 V" in note.text for note in owned.notes)


WAYS = re.compile(r"take AWG (\d+) \(|keep the span to (\d+) mm")
"""What a note about a wire that needs too much voltage names."""

VOLTS = re.compile(r"(\d+(?:\.\d+)?) ?V\b")


def _printed(figures: WireFigures) -> str:
    """All words that the terminal and the job book print about a wire, and all its figures."""
    rows = [word for row in wire_rows(figures) for word in row]
    return "\n".join([*rows, json.dumps(wire_figures_of(figures)), *(note.text for note in figures.notes)])


@pytest.mark.parametrize("gauge", range(20, 41))
def test_no_wire_is_given_more_than_48_volts(gauge: int) -> None:
    """Spans of 100 mm to 3 m: no voltage over 48 V is printed, and what the note names instead is within it."""
    named = 0
    for span in range(100, 3001, 50):
        settings = WireSettings(gauge=gauge, span_mm=float(span))
        if gauge > THINNEST_GAUGE:
            with pytest.raises(JobError, match="gauges AWG 38 to 18"):
                wire_figures(settings)
            continue
        figures = wire_figures(settings)
        assert all(float(volts) <= 48 for volts in VOLTS.findall(_printed(figures)))
        if figures.supply_volts is None:
            sentence = next(note.text for note in figures.notes if "is not enough" in note.text)
            ways = WAYS.findall(sentence)
            assert len(ways) == 2
            for other_gauge, other_span in ways:
                other = replace(settings, gauge=int(other_gauge or gauge), span_mm=float(other_span or span))
                assert wire_figures(other).supply_volts is not None
            named += 1
        else:
            assert figures.supply_volts <= 48
    assert named or gauge <= 26 or gauge > THINNEST_GAUGE


def test_named_gauge_and_span_are_the_nearest() -> None:
    """The next thinner gauge, and a span longer by 10 mm, need more than 48 V."""
    figures = wire_figures(WireSettings(gauge=30, span_mm=2000.0))
    assert WAYS.findall(figures.notes[-1].text) == [("27", ""), ("", "1530")]
    assert wire_figures(WireSettings(gauge=28, span_mm=2000.0)).supply_volts is None
    assert wire_figures(WireSettings(gauge=30, span_mm=1540.0)).supply_volts is None


def test_span_shorter_than_the_block_is_not_named() -> None:
    """Where the widest block needs the span, only the thicker wire is named; with no gauge that does, the span is."""
    wide = WireSettings(gauge=30, span_mm=2000.0, in_foam_mm=1600.0)
    assert WAYS.findall(wire_figures(wide).notes[-1].text) == [("27", "")]
    longest = WireSettings(gauge=20, span_mm=20_000.0, in_foam_mm=19_000.0)
    ((gauge, span),) = WAYS.findall(wire_figures(longest).notes[-1].text)
    assert not gauge
    assert wire_figures(replace(longest, span_mm=float(span), in_foam_mm=None)).supply_volts == 48


@pytest.mark.parametrize("volts", [48.01, 60.0, 120.0, 230.0, math.inf])
def test_a_supply_above_48_volts_is_refused(volts: float) -> None:
    """Such a supply is refused with the caution, and its voltage is not repeated."""
    with pytest.raises(JobError, match="more than 48 V") as raised:
        wire_figures(WireSettings(gauge=26, supply_volts=volts))
    assert "never the mains" in raised.value.remedy
    assert set(VOLTS.findall(str(raised.value))) == {"48"}


def test_a_supply_that_does_not_fit_gets_a_warning() -> None:
    """Too little voltage, or far too much directly on the wire, gets a warning; a supply that fits does not."""
    settings = WireSettings(gauge=26)
    for volts, words in ((9.0, "the supply gives 9 V"), (24.0, "24 V directly on the wire drives 4.7 A")):
        assert any(words in note.text for note in wire_figures(replace(settings, supply_volts=volts)).notes)
    assert not any(note.kind is NoteKind.WARNING for note in wire_figures(replace(settings, supply_volts=12.0)).notes)


def test_supply_is_the_next_usual_rating() -> None:
    """AWG 26, 600 mm at 300 degrees C: 2.00 A and 10.3 V in air; with a quarter more, a 15 V supply of 3 A."""
    figures = wire_figures(WireSettings(gauge=26))
    assert (figures.supply_volts, figures.supply_amps) == (15, 3)
    assert next_rating(12.0, (5.0, 12.0, 15.0)) == 12
    assert next_rating(15.2, (5.0, 12.0, 15.0)) is None


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        (WireSettings(gauge=18), "The table of currents (AWG 20 to 36, 200 to 1100 degrees C) does not reach 1.024 mm"),
        (WireSettings(diameter_mm=0.11), "does not reach 0.110 mm"),
        (WireSettings(gauge=26, temperature_celsius=180), "does not reach 180 degrees C"),
        (WireSettings(diameter_mm=0.5), "interpolated between"),
        (WireSettings(gauge=26, temperature_celsius=250), "interpolated between"),
        (WireSettings(), "AWG 26 (0.40 mm), because"),
        (WireSettings(gauge=26), "free air"),
        (WireSettings(gauge=26, temperature_celsius=400), "catches fire without a flame"),
    ],
)
def test_what_is_not_in_the_table_has_a_note(settings: WireSettings, words: str) -> None:
    """Interpolated, extrapolated, assumed: every figure says where it comes from."""
    assert any(words in note.text for note in wire_figures(settings).notes)


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        (WireSettings(gauge=17), "expected 0.102 to 1.024 mm (gauges AWG 38 to 18)"),
        (WireSettings(diameter_mm=0.05), "diameter is 0.050 mm"),
        (WireSettings(diameter_mm=0.0), "diameter is 0 mm"),
        (WireSettings(diameter_mm=float("nan")), "diameter is nan mm"),
        (WireSettings(temperature_celsius=100), "expected 150 to 450: a cooler wire does not cut foam"),
        (WireSettings(temperature_celsius=450.1), "expected 150 to 450: above that the vapour"),
        (WireSettings(temperature_celsius=float("nan")), "nan degrees C"),
        (WireSettings(span_mm=0.0), "span is 0 mm"),
        (WireSettings(span_mm=300.0, in_foam_mm=301.0), "the span is only 300 mm"),
        (WireSettings(gauge=26, diameter_mm=0.4), "a gauge, 26, and a diameter, 0.4 mm"),
        (WireSettings(supply_volts=-12.0), "supply gives -12 V"),
    ],
)
def test_impossible_wires_are_refused(settings: WireSettings, words: str) -> None:
    """Far off the table, too hot or too cold, or no length at all: refused with what was expected."""
    with pytest.raises(JobError) as raised:
        wire_figures(settings)
    assert words in raised.value.message


def test_cautions_name_every_hazard() -> None:
    """The cautions speak of the mains, burns, vapour, ventilation and forbidden foam, and put the makers first."""
    text = " ".join(wire_cautions())
    for word in ("makers", "mains", "off and cold", "vapour", "extractor", "PVC", "spring", "fuse"):
        assert word in text
