"""The hot wire of a job: the current, voltage and power that it takes, and the supply that it needs.

A hot wire is bare and within reach. So no supply above MAX_VOLTS is ever named: if a wire needs more, the figures leave
out voltage and supply, and a note names a thicker wire or a shorter span that stays within the limit.
"""

import math
from collections.abc import Sequence
from typing import Annotated

from profiles.errors import JobError
from profiles.foam.alloys import TABLE_AMPS, TABLE_CELSIUS, Alloy
from profiles.foam.heating import (
    SAME_DIAMETER,
    THICKEST_GAUGE,
    THINNEST_GAUGE,
    awg_of,
    diameter_of_awg_mm,
    find_alloy,
    heat_wire,
)
from profiles.notes import Note, assumption, warning
from profiles.setting import Setting, length_setting
from profiles.units import MM_PER_IN
from profiles.values import dataclass

COOLEST_CELSIUS = 150.0
"""A cooler wire does not cut foam; common practice."""

IGNITION_CELSIUS = 450.0
"""The vapour of polystyrene catches fire without a flame from about here (makers' associations of EPS: 450 to 500). A
hotter wire is refused."""

NEAR_IGNITION_CELSIUS = 400.0
"""A wire from here on gets a warning; foam is cut far cooler. Common practice."""

MAX_VOLTS = 48.0
"""The highest supply that is ever named or accepted, a usual rating just below the 50 V ac of extra-low voltage
(IEC 61140)."""

TOUCH_VOLTS = 25.0
"""V ac; above it bare parts that can be touched must be guarded, also in dry rooms (IEC 60364-4-41, clause 414.4.5, in
the words of electricians who quote BS 7671, which has its clauses by the same numbers: no basic protection in dry
conditions up to 25 V ac or 60 V dc; EN 60204-1, clause 6.4, and IEC 60598-1, clause 8.2.3, give the same 25 V ac). The
standards themselves were not at hand."""

SUPPLY_VOLTS = (5.0, 6.0, 9.0, 12.0, 15.0, 18.0, 24.0, 30.0, 36.0, MAX_VOLTS)
SUPPLY_AMPS = (1.0, 2.0, 3.0, 5.0, 8.0, 10.0, 15.0, 20.0)
"""Usual ratings of supplies; common practice. The thickest wire of the table at IGNITION_CELSIUS needs 15 A."""

HEADROOM = 1.25
"""A supply should give this many times what the wire needs in free air: foam cools the wire. Common practice."""

SPAN_STEP_MM = 10.0
"""A span that a note names is a multiple of this, rounded down."""

DEFAULT_GAUGE = 26
"""AWG, 0.40 mm: thin enough for corners, strong enough to be pulled tight; common practice."""


@dataclass(frozen=True, slots=True)
class WireSettings:
    """The wire of a job, by its gauge or its diameter; with neither it is DEFAULT_GAUGE, with a note."""

    alloy: Annotated[str, Setting("NiCr 80/20, NiCr 60/15 or stainless 304 (NiCr 80/20).", "--alloy", "NAME")] = (
        "NiCr 80/20"
    )
    gauge: Annotated[int | None, Setting("Gauge of the wire, AWG.", "--gauge-awg", "AWG", minimum=0, maximum=50)] = None
    """AWG."""
    diameter_mm: Annotated[
        float | None,
        length_setting(
            "Diameter of the wire, instead of its gauge.", "--diameter", key="diameter", above=0, maximum=10
        ),
    ] = None
    span_mm: Annotated[
        float,
        length_setting("Heated length between the clamps (600).", "--span", key="span", above=0),
    ] = 600.0
    in_foam_mm: Annotated[
        float | None,
        length_setting("Longest part of it in foam (the widest block).", "--in-foam", key="in_foam", above=0),
    ] = None
    """None: the widest block."""
    temperature_celsius: Annotated[
        float,
        Setting("Temperature in free air, degrees Celsius (300).", "--temperature", "C", "temperature", lenient=True),
    ] = 300.0
    """In free air. 300 is a column of the table; in foam the wire cools to where polystyrene hardly smokes."""
    supply_volts: Annotated[
        float | None,
        Setting("Voltage of your supply.", "--supply", "V", "supply", lenient=True),
    ] = None
    """Voltage of the user's own supply; None: not known."""


@dataclass(frozen=True, slots=True)
class WireFigures:
    """What a wire needs, in free air."""

    alloy: str
    gauge: int | None
    """AWG; None if the diameter is not that of a gauge."""
    diameter_mm: float
    span_mm: float
    temperature_celsius: float
    cold_ohm_per_metre: float
    cold_ohm_per_foot: float
    cold_ohm: float
    hot_ohm: float
    current_amps: float
    voltage_volts: float | None
    """None if no supply up to MAX_VOLTS is enough, as are the figures of the supply; a note says what to change."""
    power_watts: float
    watts_per_cm: float
    in_foam_watts: float | None
    """Largest power that goes into the foam; None if the length in foam is not known."""
    supply_volts: float | None
    """The smallest usual rating that is enough, with room to turn it up; at most MAX_VOLTS."""
    supply_amps: float | None
    notes: tuple[Note, ...]


def wire_figures(settings: WireSettings) -> WireFigures:
    """All figures of a wire.

    Raises JobError for an unknown alloy, for sizes and temperatures far outside the table, for a wire hotter than
    IGNITION_CELSIUS, and for a supply above MAX_VOLTS.

    >>> figures = wire_figures(WireSettings(gauge=26, span_mm=600.0))
    >>> figures.current_amps, round(figures.hot_ohm, 2), figures.supply_volts
    (2.0, 5.15, 15.0)
    """
    alloy = find_alloy(settings.alloy)
    gauge, diameter_mm, notes = _size(settings)
    celsius = settings.temperature_celsius
    _check_size(diameter_mm)
    _check_temperature(celsius)
    _check_lengths(settings)
    _check_supply(settings.supply_volts)
    wire, span_mm = heat_wire(alloy, diameter_mm, celsius), settings.span_mm
    volts = span_mm * wire.volts_per_mm
    supply_volts = next_rating(HEADROOM * volts, SUPPLY_VOLTS)
    notes += _table_notes(alloy, diameter_mm, celsius)
    if supply_volts is None:
        notes += (_supply_limit_note(settings, alloy, diameter_mm),)
    else:
        notes += _supply_notes(settings.supply_volts, volts, wire.amps)
    notes += touch_notes(max(supply_volts or 0.0, settings.supply_volts or 0.0))
    return WireFigures(
        alloy=alloy.name,
        gauge=gauge,
        diameter_mm=diameter_mm,
        span_mm=span_mm,
        temperature_celsius=celsius,
        cold_ohm_per_metre=1000 * wire.cold_ohm_per_mm,
        cold_ohm_per_foot=12 * MM_PER_IN * wire.cold_ohm_per_mm,
        cold_ohm=span_mm * wire.cold_ohm_per_mm,
        hot_ohm=span_mm * wire.hot_ohm_per_mm,
        current_amps=wire.amps,
        voltage_volts=None if supply_volts is None else volts,
        power_watts=span_mm * wire.watts_per_mm,
        watts_per_cm=10 * wire.watts_per_mm,
        in_foam_watts=None if settings.in_foam_mm is None else settings.in_foam_mm * wire.watts_per_mm,
        supply_volts=supply_volts,
        supply_amps=None if supply_volts is None else next_rating(HEADROOM * wire.amps, SUPPLY_AMPS),
        notes=notes,
    )


def _size(settings: WireSettings) -> tuple[int | None, float, tuple[Note, ...]]:
    """Gauge, diameter in mm, and a note if they are assumed."""
    if settings.gauge is not None and settings.diameter_mm is not None:
        msg = f"The wire has a gauge, {settings.gauge}, and a diameter, {settings.diameter_mm:g} mm."
        raise JobError(msg, remedy="Give one of them.")
    if settings.diameter_mm is not None:
        if not 0 < settings.diameter_mm < math.inf:
            msg = f"The wire's diameter is {settings.diameter_mm:g} mm, expected more than 0."
            raise JobError(msg)
        return awg_of(settings.diameter_mm), settings.diameter_mm, ()
    if settings.gauge is not None:
        return settings.gauge, diameter_of_awg_mm(settings.gauge), ()
    diameter_mm = diameter_of_awg_mm(DEFAULT_GAUGE)
    text = f"AWG {DEFAULT_GAUGE} ({diameter_mm:.2f} mm), because the job gives no size of the wire."
    return DEFAULT_GAUGE, diameter_mm, (assumption(text),)


def _check_size(diameter_mm: float) -> None:
    """Raise JobError for a diameter far outside the table."""
    low, high = diameter_of_awg_mm(THINNEST_GAUGE), diameter_of_awg_mm(THICKEST_GAUGE)
    if not low - SAME_DIAMETER <= diameter_mm <= high + SAME_DIAMETER:
        msg = (
            f"The wire's diameter is {diameter_mm:.3f} mm, expected {low:.3f} to {high:.3f} mm "
            f"(gauges AWG {THINNEST_GAUGE} to {THICKEST_GAUGE})."
        )
        raise JobError(msg, remedy="No table of currents covers this wire; ask its maker.")


def _check_temperature(celsius: float) -> None:
    """Raise JobError for a wire that does not cut, or that can set the vapour of foam on fire."""
    if COOLEST_CELSIUS <= celsius <= IGNITION_CELSIUS:
        return
    hot = "above that the vapour of polystyrene catches fire without a flame."
    msg = (
        f"The wire's temperature is {celsius:g} degrees C, expected {COOLEST_CELSIUS:g} to {IGNITION_CELSIUS:g}: "
        f"{hot if celsius > IGNITION_CELSIUS else 'a cooler wire does not cut foam.'}"
    )
    raise JobError(msg, remedy="Cut at 200 to 300 degrees C.")


def _check_lengths(settings: WireSettings) -> None:
    """Raise JobError for a span or a length in foam that cannot be."""
    for length, name in ((settings.span_mm, "span"), (settings.in_foam_mm, "length in foam")):
        if length is not None and not 0 < length < math.inf:
            msg = f"The wire's {name} is {length:g} mm, expected more than 0."
            raise JobError(msg)
    if settings.in_foam_mm is not None and settings.in_foam_mm > settings.span_mm:
        msg = f"The wire's length in foam is {settings.in_foam_mm:g} mm, but the span is only {settings.span_mm:g} mm."
        raise JobError(msg, remedy="Use a wider bow, or smaller blocks.")


def _check_supply(supply_volts: float | None) -> None:
    """Raise JobError for a supply above MAX_VOLTS; the message does not repeat its voltage, which may be the mains."""
    if supply_volts is None:
        return
    if not supply_volts > 0:
        msg = f"The supply gives {supply_volts:g} V, expected more than 0."
        raise JobError(msg)
    if supply_volts > MAX_VOLTS:
        msg = f"The supply gives more than {MAX_VOLTS:g} V, which can kill on a bare wire."
        raise JobError(
            msg,
            remedy=f"Use an isolated extra-low-voltage supply of at most {MAX_VOLTS:g} V with a fuse, never the mains "
            "or a dimmer on the mains. Leave anything higher to licensed practice.",
        )


def _table_notes(alloy: Alloy, diameter_mm: float, celsius: float) -> tuple[Note, ...]:
    """How reliable the current is."""
    notes = [
        assumption(
            "The current is for a straight wire in free air (a wire maker's table). In foam the wire runs cooler. "
            "Start low, and turn it up until the wire cuts without glowing and with almost no smoke."
        )
    ]
    thinnest, thickest = (diameter_of_awg_mm(end(TABLE_AMPS)) for end in (max, min))
    first, last = TABLE_CELSIUS[0], TABLE_CELSIUS[-1]
    outside = []
    if not thinnest - SAME_DIAMETER <= diameter_mm <= thickest + SAME_DIAMETER:
        outside.append(f"{diameter_mm:.3f} mm")
    if celsius < first:
        outside.append(f"{celsius:g} degrees C")
    if outside:
        ends = f"AWG {min(TABLE_AMPS)} to {max(TABLE_AMPS)}, {first} to {last} degrees C"
        notes.append(
            warning(f"The table of currents ({ends}) does not reach {' and '.join(outside)}; it is extrapolated.")
        )
    elif awg_of(diameter_mm) is None or celsius not in TABLE_CELSIUS:
        notes.append(assumption("The current is interpolated between figures of the table."))
    if not alloy.in_table:
        notes.append(
            assumption(
                f"The table of currents is for nickel-chromium. The current for {alloy.name} gives the same watts "
                "per cm."
            )
        )
    if celsius >= NEAR_IGNITION_CELSIUS:
        notes.append(
            warning(
                f"The vapour of polystyrene catches fire without a flame from about {IGNITION_CELSIUS:g} degrees C, "
                f"and the wire's temperature is {celsius:g}. Cut at 200 to 300 degrees C."
            )
        )
    return tuple(notes)


def _supply_notes(supply_volts: float | None, volts: float, amps: float) -> tuple[Note, ...]:
    """Warnings about the user's own supply for a wire that needs `volts` and `amps`."""
    if supply_volts is None:
        return ()
    if supply_volts < volts:
        text = (
            f"The wire needs {volts:.1f} V and the supply gives {supply_volts:g} V. Take a shorter span or a thicker "
            "wire: it needs less voltage and more current."
        )
    elif supply_volts > HEADROOM * volts:
        text = (
            f"{supply_volts:g} V directly on the wire drives {amps * supply_volts / volts:.1f} A instead of {amps:.1f} "
            "A and makes the wire far too hot. Use a supply that you can turn down, and start at its lowest setting."
        )
    else:
        return ()
    return (warning(text),)


def _supply_limit_note(settings: WireSettings, alloy: Alloy, diameter_mm: float) -> Note:
    """For a wire that needs more than MAX_VOLTS: a shorter span and a thicker gauge that do not.

    Resistance is proportional to the span, and so is the voltage. At a given temperature a thicker wire needs less
    voltage. A span shorter than the length in foam is not named if a thicker gauge is enough.
    """
    celsius, in_foam_mm = settings.temperature_celsius, settings.in_foam_mm or 0.0
    span_mm = _longest_span_mm(alloy, diameter_mm, celsius)
    gauges = [
        gauge
        for gauge in range(THINNEST_GAUGE, THICKEST_GAUGE - 1, -1)
        if diameter_of_awg_mm(gauge) > diameter_mm
        and _longest_span_mm(alloy, diameter_of_awg_mm(gauge), celsius) >= settings.span_mm
    ]
    remedies = []
    if gauges:
        remedies.append(f"take AWG {gauges[0]} ({diameter_of_awg_mm(gauges[0]):.3f} mm) or thicker")
    if span_mm >= in_foam_mm or not remedies:
        remedies.append(f"keep the span to {span_mm:.0f} mm or less")
    gauge = awg_of(diameter_mm)
    size = f"{diameter_mm:.3f} mm" if gauge is None else f"AWG {gauge}"
    return warning(
        f"A supply of {MAX_VOLTS:g} V, the highest that Stationer names for a bare wire, is not enough for {size} over "
        f"{settings.span_mm:g} mm with room to turn it up: {', or '.join(remedies)}."
    )


def _longest_span_mm(alloy: Alloy, diameter_mm: float, celsius: float) -> float:
    """The longest span in mm for which a supply of MAX_VOLTS is enough, rounded down to SPAN_STEP_MM."""
    volts_per_mm = HEADROOM * heat_wire(alloy, diameter_mm, celsius).volts_per_mm
    return math.floor(MAX_VOLTS / volts_per_mm / SPAN_STEP_MM) * SPAN_STEP_MM


def touch_notes(supply_volts: float) -> tuple[Note, ...]:
    """A warning for a supply above TOUCH_VOLTS; none at it or below."""
    if supply_volts <= TOUCH_VOLTS:
        return ()
    return (
        warning(
            f"A supply of {supply_volts:g} V is above {TOUCH_VOLTS:g} V, the limit for alternating current on bare "
            "parts that can be touched, in dry rooms too (IEC 60364-4-41). Take direct current, a thicker wire or a "
            "shorter span, and do not touch the wire while it is on."
        ),
    )


def next_rating(needed: float, ratings: Sequence[float]) -> float | None:
    """The smallest rating that is enough; None where the largest is not."""
    return next((rating for rating in ratings if rating >= needed), None)
