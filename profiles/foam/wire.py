"""The hot wire: what it resists, which current heats it, what its supply must give; and the kerf that it cuts.

Every quantity has its unit in its name. Resistance and Ohm's law are exact; the current for a temperature is a wire
maker's table for straight wire hanging free in air. In foam the wire gives off more heat and runs cooler, so the
figures are where to begin and not where to end.
"""

import bisect
import math
from collections.abc import Sequence
from dataclasses import dataclass

from profiles.errors import JobError
from profiles.foam.alloys import ALLOYS, TABLE_AMPS, TABLE_CELSIUS, Alloy
from profiles.notes import Note, assumption, warning
from profiles.units import MM_PER_IN

ROOM_CELSIUS = 20.0
"""The temperature of a cold wire."""

FARTHEST_GAUGES = 2
"""How many gauges beyond its ends the table is carried on; and to 150 degrees C, since a cooler wire cuts no foam."""

COOLEST_CELSIUS = 150.0

SAME_DIAMETER = 1e-6
"""mm; a diameter this near to a gauge is that gauge."""

VAPOUR_CELSIUS = 230.0
"""Polystyrene foam gives off flammable vapour from about here (makers' associations of EPS: 230 to 260)."""

IGNITION_CELSIUS = 450.0
"""Such vapour takes fire without a flame from about here (the same: 450 to 500)."""

EXTRA_LOW_AC_VOLTS, EXTRA_LOW_DC_VOLTS = 50.0, 120.0
"""Extra-low voltage reaches up to 50 V ac or 120 V ripple-free dc (IEC 61140)."""

SUPPLY_VOLTS = (5.0, 6.0, 9.0, 12.0, 15.0, 18.0, 24.0, 30.0, 36.0, 48.0, 60.0, 120.0)
SUPPLY_AMPS = (1.0, 2.0, 3.0, 5.0, 8.0, 10.0, 15.0, 20.0, 30.0, 40.0)
"""What supplies are sold for; common practice."""

HEADROOM = 1.25
"""How much more than the wire takes in free air a supply should give: foam cools the wire. Common practice."""

USUAL_GAUGE = 26
"""AWG, 0.40 mm: thin enough for corners, strong enough to be drawn tight; common practice."""

SETTING_UP = (
    (
        "Start at half the current and turn up until the wire cuts without being pushed, without glowing and almost "
        "without smoke. Where it leaves the foam it gets hotter than in it."
    ),
    "A hot wire grows longer. Let a spring or a weight draw it tight: a wire that sags or lags cuts a bent face.",
    (
        f"From about {VAPOUR_CELSIUS:g} degrees C polystyrene gives off flammable vapour, and styrene. Keep what burns "
        "away from the wire."
    ),
)
"""For whoever sets the wire up; the cautions that stand in the job book come before it."""


@dataclass(frozen=True, slots=True)
class WireSettings:
    """The wire as the job has it. Give the gauge or the diameter; with neither it is AWG 26, which is told."""

    alloy: str = "NiCr 80/20"
    gauge: int | None = None
    """AWG."""
    diameter_mm: float | None = None
    span_mm: float = 600.0
    """Heated length, between the clamps."""
    in_foam_mm: float | None = None
    """How much of the span lies in foam at most: the widest block."""
    temperature_celsius: float = 300.0
    """In free air. 300 is a node of the table; in foam the wire falls below it, to where polystyrene hardly smokes."""
    supply_volts: float | None = None
    """What the supply gives; None: not there yet."""


@dataclass(frozen=True, slots=True)
class WireFigures:
    """What a wire takes, in free air."""

    alloy: str
    gauge: int | None
    """AWG, where the wire is of one."""
    diameter_mm: float
    span_mm: float
    temperature_celsius: float
    cold_ohm_per_metre: float
    cold_ohm_per_foot: float
    cold_ohm: float
    hot_ohm: float
    current_amps: float
    voltage_volts: float
    power_watts: float
    watts_per_cm: float
    in_foam_watts: float | None
    """Given off in the foam at most; None: the length in foam is not known."""
    supply_volts: float
    """A usual rating that is enough, with room to turn up."""
    supply_amps: float
    notes: tuple[Note, ...]


def wire_figures(settings: WireSettings) -> WireFigures:
    """All figures of a wire. Raises JobError for an unknown alloy, and for sizes and temperatures far off the table."""
    alloy = alloy_named(settings.alloy)
    gauge, diameter_mm, notes = _size(settings)
    celsius = settings.temperature_celsius
    _refuse_far(alloy, settings, diameter_mm)
    cold_ohm_per_metre = ohm_per_metre(alloy.resistivity_ohm_m, diameter_mm)
    cold_ohm = cold_ohm_per_metre * settings.span_mm / 1000
    hot_ohm = cold_ohm * resistance_factor(alloy, celsius)
    amps = current_amps(alloy, diameter_mm, celsius)
    watts = power_watts(amps, hot_ohm)
    per_mm = watts / settings.span_mm
    volts = voltage_volts(amps, hot_ohm)
    notes += _table_notes(alloy, diameter_mm, celsius)
    notes += _supply_notes(settings, volts, amps, hot_ohm)
    return WireFigures(
        alloy=alloy.name,
        gauge=gauge,
        diameter_mm=diameter_mm,
        span_mm=settings.span_mm,
        temperature_celsius=celsius,
        cold_ohm_per_metre=cold_ohm_per_metre,
        cold_ohm_per_foot=cold_ohm_per_metre * 12 * MM_PER_IN / 1000,
        cold_ohm=cold_ohm,
        hot_ohm=hot_ohm,
        current_amps=amps,
        voltage_volts=volts,
        power_watts=watts,
        watts_per_cm=10 * per_mm,
        in_foam_watts=None if settings.in_foam_mm is None else per_mm * settings.in_foam_mm,
        supply_volts=next_rating(HEADROOM * volts, SUPPLY_VOLTS),
        supply_amps=next_rating(HEADROOM * amps, SUPPLY_AMPS),
        notes=notes,
    )


def alloy_named(text: str) -> Alloy:
    """An alloy from what it is called ("NiCr 80/20", "nichrome 60", "304"). Raises JobError naming those known."""
    word = "".join(sign for sign in text.lower() if sign.isalnum())
    for alloy in ALLOYS:
        if word in (*alloy.words, alloy.name.lower().replace(" ", "").replace("/", "")):
            return alloy
    known = ", ".join(alloy.name for alloy in ALLOYS)
    msg = f"The wire's alloy is {text!r}, expected one of {known}."
    raise JobError(msg, remedy="Look at the reel; nichrome alone does not say which.")


def diameter_of_awg_mm(gauge: int) -> float:
    """0.005 in x 92^((36 - gauge) / 39), rounded to 0.1 mil as tables of bare wire print it (ASTM B258)."""
    return float(round(50 * 92 ** ((36 - gauge) / 39))) * 1e-4 * MM_PER_IN


def awg_of(diameter_mm: float) -> int | None:
    """The gauge of this diameter; None where it is of none."""
    gauge = round(36 - 39 * math.log(diameter_mm / (0.005 * MM_PER_IN), 92))
    return gauge if abs(diameter_of_awg_mm(gauge) - diameter_mm) < SAME_DIAMETER else None


def ohm_per_metre(resistivity_ohm_m: float, diameter_mm: float) -> float:
    """Resistivity over the area of a round wire."""
    return resistivity_ohm_m / (math.pi / 4 * (diameter_mm / 1000) ** 2)


def voltage_volts(current_amps: float, resistance_ohm: float) -> float:
    """Ohm's law, U = I R."""
    return current_amps * resistance_ohm


def power_watts(current_amps: float, resistance_ohm: float) -> float:
    """P = I^2 R."""
    return current_amps**2 * resistance_ohm


def resistance_factor(alloy: Alloy, celsius: float) -> float:
    """Resistance at a temperature over that at 20 degrees C, straight between the figures of the alloy's table."""
    return _between([at for at, _ in alloy.factors], [factor for _, factor in alloy.factors], celsius)


def current_amps(alloy: Alloy, diameter_mm: float, celsius: float) -> float:
    """The current that keeps a wire at a temperature in free air.

    For an alloy that the table is not printed for, the power per length of a NiCr 80/20 wire of the same diameter and
    temperature: I^2 times the hot resistivity is the same.
    """
    amps = _nickel_amps(diameter_mm, celsius)
    if alloy.in_table:
        return amps
    printed = ALLOYS[0]
    hot, printed_hot = (one.resistivity_ohm_m * resistance_factor(one, celsius) for one in (alloy, printed))
    return amps * math.sqrt(printed_hot / hot)


def _nickel_amps(diameter_mm: float, celsius: float) -> float:
    """The table, with the current's logarithm straight in the temperature and in the diameter's logarithm; beyond the
    ends the last two nodes are carried on.
    """
    gauges = sorted(TABLE_AMPS, reverse=True)
    at_celsius = [_between(TABLE_CELSIUS, [math.log(amps) for amps in TABLE_AMPS[g]], celsius) for g in gauges]
    places = [math.log(diameter_of_awg_mm(gauge)) for gauge in gauges]
    return math.exp(_between(places, at_celsius, math.log(diameter_mm)))


def _between(places: Sequence[float], values: Sequence[float], place: float) -> float:
    """Straight between two nodes, exactly the node's value on it, and straight on beyond the ends."""
    k = min(max(bisect.bisect_right(places, place) - 1, 0), len(places) - 2)
    share = (place - places[k]) / (places[k + 1] - places[k])
    return values[k] * (1 - share) + values[k + 1] * share


def _size(settings: WireSettings) -> tuple[int | None, float, tuple[Note, ...]]:
    """Gauge, diameter in mm, and what was guessed."""
    if settings.gauge is not None and settings.diameter_mm is not None:
        msg = f"The wire has a gauge, {settings.gauge}, and a diameter, {settings.diameter_mm:g} mm."
        raise JobError(msg, remedy="Give one of them.")
    if settings.diameter_mm is not None:
        if not 0 < settings.diameter_mm < math.inf:
            msg = f"The wire's diameter is {settings.diameter_mm:g} mm, expected more than 0."
            raise JobError(msg)
        return awg_of(settings.diameter_mm), settings.diameter_mm, ()
    gauge = USUAL_GAUGE if settings.gauge is None else settings.gauge
    told = f"The wire's size is not said; AWG {gauge}, {diameter_of_awg_mm(gauge):.2f} mm, is assumed."
    return gauge, diameter_of_awg_mm(gauge), () if settings.gauge is not None else (assumption(told),)


def _refuse_far(alloy: Alloy, settings: WireSettings, diameter_mm: float) -> None:
    """Raise JobError for what no table comes near to."""
    thick, thin = min(TABLE_AMPS) - FARTHEST_GAUGES, max(TABLE_AMPS) + FARTHEST_GAUGES
    low, high = diameter_of_awg_mm(thin), diameter_of_awg_mm(thick)
    if not low - SAME_DIAMETER <= diameter_mm <= high + SAME_DIAMETER:
        msg = f"The wire is {diameter_mm:.3f} mm thick, expected {low:.3f} to {high:.3f} mm (AWG {thin} to {thick})."
        raise JobError(msg, remedy="No table of currents reaches so far; ask the wire's maker.")
    celsius = settings.temperature_celsius
    if not COOLEST_CELSIUS <= celsius <= alloy.highest_celsius:
        msg = f"The wire is to have {celsius:g} degrees C, expected {COOLEST_CELSIUS:g} to {alloy.highest_celsius:g}."
        raise JobError(msg, remedy=f"Cooler it does not cut, hotter {alloy.name} does not last; 200 to 300 is usual.")
    for length, word in ((settings.span_mm, "span"), (settings.in_foam_mm, "length in foam")):
        if length is not None and not 0 < length < math.inf:
            msg = f"The wire's {word} is {length:g} mm, expected more than 0."
            raise JobError(msg)
    if settings.in_foam_mm is not None and settings.in_foam_mm > settings.span_mm:
        msg = f"{settings.in_foam_mm:g} mm of wire are to lie in foam, but the span is {settings.span_mm:g} mm."
        raise JobError(msg, remedy="Take a wider bow, or smaller blocks.")
    if settings.supply_volts is not None and not 0 < settings.supply_volts < math.inf:
        msg = f"The supply gives {settings.supply_volts:g} V, expected more than 0."
        raise JobError(msg)


def _table_notes(alloy: Alloy, diameter_mm: float, celsius: float) -> tuple[Note, ...]:
    """How far the current can be trusted."""
    notes = [
        assumption(
            "The current is for a straight wire in free air (a wire maker's table). In foam the wire runs cooler: "
            "begin low, and turn up until it cuts without glowing and almost without smoke."
        )
    ]
    gauge = awg_of(diameter_mm)
    thinnest, thickest = (diameter_of_awg_mm(end(TABLE_AMPS)) for end in (max, min))
    first, last = TABLE_CELSIUS[0], TABLE_CELSIUS[-1]
    beyond = [
        words
        for off, words in (
            (not thinnest - SAME_DIAMETER <= diameter_mm <= thickest + SAME_DIAMETER, f"{diameter_mm:.3f} mm"),
            (not first <= celsius <= last, f"{celsius:g} degrees C"),
        )
        if off
    ]
    if beyond:
        ends = f"AWG {min(TABLE_AMPS)} to {max(TABLE_AMPS)}, {first} to {last} degrees C"
        notes.append(warning(f"The table of currents ends before {' and '.join(beyond)} ({ends}); it is carried on."))
    elif gauge is None or celsius not in TABLE_CELSIUS:
        notes.append(assumption("The current lies between figures of the table and is interpolated."))
    if not alloy.in_table:
        notes.append(
            assumption(
                f"The table of currents is for nickel-chromium; in {alloy.name} the current gives as many watts per cm."
            )
        )
    if celsius >= IGNITION_CELSIUS:
        notes.append(
            warning(
                f"The vapour of polystyrene takes fire by itself from about {IGNITION_CELSIUS:g} degrees C, and the "
                f"wire is to have {celsius:g}. Foam is cut far cooler."
            )
        )
    return tuple(notes)


def _supply_notes(settings: WireSettings, volts: float, amps: float, hot_ohm: float) -> tuple[Note, ...]:
    """What the supply must be warned of."""
    notes = list(voltage_notes(max(volts, settings.supply_volts or 0.0)))
    if next_rating(HEADROOM * amps, SUPPLY_AMPS) > SUPPLY_AMPS[-1]:
        notes.append(warning(f"{amps:.1f} A are more than usual supplies give; take a thinner wire."))
    given = settings.supply_volts
    if given is None:
        return tuple(notes)
    if given < volts:
        notes.append(
            warning(
                f"The wire needs {volts:.1f} V; the supply gives {given:g} V. Take a shorter span or a thicker wire: "
                "it needs less voltage and more current."
            )
        )
    elif given > HEADROOM * volts:
        notes.append(
            warning(
                f"{given:g} V straight on the wire would drive {given / hot_ohm:.1f} A and not {amps:.1f} A, and make "
                "it far too hot. Use a supply that can be turned down, and begin at its lowest."
            )
        )
    return tuple(notes)


def voltage_notes(volts: float) -> tuple[Note, ...]:
    """A warning over extra-low voltage (IEC 61140); none up to and at 50 V."""
    if volts <= EXTRA_LOW_AC_VOLTS:
        return ()
    remedy = "Take a shorter span or a thicker wire, and leave higher voltage to licensed practice."
    if volts <= EXTRA_LOW_DC_VOLTS:
        text = (
            f"{volts:.1f} V is extra-low voltage (IEC 61140) only as ripple-free dc; the limit of ac is 50 V. {remedy}"
        )
    else:
        text = (
            f"{volts:.1f} V is over extra-low voltage (IEC 61140: 50 V ac, 120 V ripple-free dc) and can kill. {remedy}"
        )
    return (warning(text),)


def next_rating(needed: float, ratings: Sequence[float]) -> float:
    """The least rating that is enough; beyond the largest, the need itself rounded up to a whole number."""
    return next((rating for rating in ratings if rating >= needed), float(math.ceil(needed)))
