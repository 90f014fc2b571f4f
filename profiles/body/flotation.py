"""How a body floats: at a waterline, or where its weight and centre of gravity let it come to rest."""

import numpy as np

from profiles.arrays import Floats
from profiles.body.hydrostatics import Hydrostatics, hydrostatics
from profiles.body.immersed import Floater
from profiles.body.kinds import G_PER_MM3, WATERS
from profiles.body.mass import Mass
from profiles.body.resting import Righting, come_to_rest, righting_arms
from profiles.body.settings import WaterSettings
from profiles.body.waterplane import level
from profiles.errors import JobError
from profiles.hull.frame import Hull
from profiles.hull.surface import Mesh
from profiles.notes import Note, fact, warning
from profiles.values import dataclass

LEVELS = 19
"""Waterlines of the curves of form, evenly up the hull."""

LEAST_BUOYANCY = 1e-6
"""Share of a body's buoyancy that must be left for it to float."""

UPRIGHT = 1.0
"""Degrees of heel that nobody sees."""

UNKNOWN = (
    "Openings through which water comes in, and water or fuel that moves inside, are not known and not counted: both "
    "make a real hull less stable."
)

CAUTION = (
    "These figures are estimates for models. They prove nothing about the safety of anything that carries people: that "
    "is licensed work."
)


@dataclass(frozen=True, slots=True)
class Flotation:
    """A body afloat."""

    density: float
    """Of the water, kg/m3."""
    kind: str
    """"fresh", "salt", or "given"."""
    weight: float
    """g that float it as described."""
    gravity: Floats
    """(3,) mm, the centre of gravity."""
    at_waterline: bool
    """Whether the waterline was given, and the weight follows from it."""
    afloat: Hydrostatics
    righting: Righting
    buoyancy: float
    """g that the whole body displaces."""
    levels: tuple[Hydrostatics, ...]
    """The body upright at even steps of the waterline."""
    to_load: tuple[float, float] | None
    """At a given waterline: g to be loaded beyond the weight of the body, and x in mm where they keep it level; None
    where the body weighs as much or more.
    """
    notes: tuple[Note, ...]


def float_body(hull: Hull, mesh: Mesh, total: Mass, settings: WaterSettings) -> Flotation:
    """A body of the weight `total`, its finished surface a closed mesh, in the water of the settings.

    Raises JobError for a waterline that covers or misses the body, and for a weight that sinks it.
    """
    floater = Floater(mesh)
    density = settings.density or WATERS[settings.kind]
    per_mm3 = density * G_PER_MM3
    buoyancy = floater.volume * per_mm3
    gravity = np.array(settings.gravity) if settings.gravity is not None else total.centre
    notes: list[Note] = [fact(UNKNOWN), fact(CAUTION)]
    if settings.waterline is not None:
        if settings.waterline >= hull.depth:
            message = (
                f"a waterline at {settings.waterline:g} mm covers the whole body, which is {hull.depth:.1f} mm deep"
            )
            raise JobError(message, remedy="Give --waterline in mm above the lowest point of the hull.")
        under = floater.cut(level(hull.lowest + settings.waterline))
        weight = under.volume * per_mm3
        if under.volume <= LEAST_BUOYANCY * floater.volume:
            message = f"a waterline at {settings.waterline:g} mm touches hardly any of the body"
            raise JobError(message, remedy="Give --waterline in mm above the lowest point of the hull.")
        gravity = np.array([under.centre[0], under.centre[1], gravity[2]])
        to_load = _to_load(weight, under.centre, total, notes)
    else:
        weight, to_load = settings.weight or total.amount, None
        if weight >= (1 - LEAST_BUOYANCY) * buoyancy:
            message = f"the body weighs {weight:.4g} g, but under water it displaces only {buoyancy:.4g} g: it sinks"
            raise JobError(message, remedy="Take out loads, or give a lighter foam.")
        under = come_to_rest(floater, weight / per_mm3, gravity).under
    afloat = hydrostatics(floater, under, gravity, hull.lowest, per_mm3)
    trim = afloat.plane.trim if abs(afloat.plane.heel) < UPRIGHT else 0.0
    righting = righting_arms(floater, under.volume, gravity, trim=trim)
    notes += _warnings(afloat, righting)
    return Flotation(
        density=density,
        kind="given" if settings.density else settings.kind,
        weight=weight,
        gravity=gravity,
        at_waterline=settings.waterline is not None,
        afloat=afloat,
        righting=righting,
        buoyancy=buoyancy,
        levels=_levels(floater, hull, gravity, per_mm3),
        to_load=to_load,
        notes=tuple(notes),
    )


def _to_load(weight: float, buoyancy: Floats, total: Mass, notes: list[Note]) -> tuple[float, float] | None:
    """What must still be loaded to bring a body to a waterline, and where."""
    missing = weight - total.amount
    if missing <= 0:
        text = f"At this waterline the body displaces {weight:.4g} g. It weighs {total.amount:.4g} g: it floats deeper."
        notes.append(warning(text))
        return None
    return missing, float((weight * buoyancy[0] - total.amount * total.centre[0]) / missing)


def _levels(floater: Floater, hull: Hull, gravity: Floats, per_mm3: float) -> tuple[Hydrostatics, ...]:
    figures = []
    for share in np.linspace(0.0, 1.0, LEVELS + 2)[1:-1].tolist():
        under = floater.cut(level(hull.lowest + share * hull.depth))
        if under.volume > 0 and under.waterplane.amount > 0:
            figures.append(hydrostatics(floater, under, gravity, hull.lowest, per_mm3))
    return tuple(figures)


def _warnings(afloat: Hydrostatics, righting: Righting) -> list[Note]:
    notes = []
    heel = abs(afloat.plane.heel)
    if righting.indifferent:
        notes.append(warning("The body stays at any angle of heel: nothing rights it. Put the weight lower."))
    elif not righting.ever:
        notes.append(warning("The body does not right itself from any angle of heel. Put the weight lower."))
    elif not righting.stable:
        notes.append(warning("Upright the body is not stable: it falls over to one side. Put the weight lower."))
    if heel >= UPRIGHT:
        notes.append(warning(f"It comes to rest heeled by {heel:.1f} degrees."))
    return notes
