"""Which axis of the file is the hull's length, which end of which axis is up, and which end is the nose.

Nothing in a mesh file says so; each answer is read off the shape, reported with its reason, and can be overridden.

centre plane   the plane of symmetry comes first: wings make a hull wider than long, but not lopsided
length         of the two axes in the centre plane, the one along which more skin is spread
up             the other; what the standard of the format says, else an open deck is on top, else z counts
nose           away from the end where fins stand, else from one cut off square; else the fuller end, as on fish and
               fuselages; fins do not count as fullness
"""

from collections.abc import Sequence

import numpy as np

from profiles.arrays import Bools, Floats
from profiles.errors import JobError
from profiles.hull.cores import Cores
from profiles.hull.openings import DECK, Rim
from profiles.hull.surface import Surface
from profiles.hull.symmetry import SYMMETRIC, Samples
from profiles.notes import Note, assumption, warning
from profiles.values import dataclass

AXES = "xyz"

WIDER = 1.05
"""One end of the upright axis counts as the wider from here; below, the two are alike for this purpose."""

FINS = 0.25
"""Of the area of the sections in a fifth of the length: fins that stand out by so much show the tail."""

FEWER = 0.5
"""The other end must have less than this share of its fins."""

CUT_SQUARE = 0.12
"""Of the median section: an end with this much area in its last 2 thousandths is cut off (a round nose has
half of that)."""

CUT_BASE = 0.5
"""The same for a body without a deck: a torpedo's nose is often flattened, a rocket's base is cut at its full width."""

FINER = 0.5
"""The other end must have less than this share of the cut end's area: a box is cut off square at both."""

END_FACES = 0.06
"""Of the length: how near the end the faces of a raked or curved transom lie."""

FACING_AFT = 0.7
"""Least cosine to the length of a transom's faces: 45 degrees of rake."""

FLATNESS = 0.93
"""Resultant over sum of a transom's area vectors; a round nose has 0.85 over the same faces, a transom with a knuckle
of 40 degrees 0.95."""

ALIKE = 0.01
"""Of the length: with its volume this close to the middle a body has no fuller end worth guessing by."""

FINE_BOW = 0.04
"""Of the length: a decked boat's volume lies this far aft of the middle at most where no transom shows; what is fuller
than that at one end is a fuselage with a flat top."""


@dataclass(frozen=True, slots=True)
class Axes:
    """The file's axes as the hull's."""

    length_axis: str
    """ "x", "y" or "z"."""
    up: str
    """Such as "z" or "-y"."""
    nose: str
    """ "low" or "high": the end of the length axis."""


@dataclass(frozen=True, slots=True)
class Roles:
    """Which model axis (0, 1, 2) has which part."""

    length: int
    across: int
    upright: int
    reason: str
    sure: bool
    """Given, not guessed."""
    symmetric: bool
    """The body is symmetric about the centre plane."""


def find_roles(
    samples: Samples, skew: Floats, *, length_axis: str | None, up: str | None, across: int | None, up_hint: str | None
) -> Roles:
    """The parts of the three axes from what is given and, for the rest, from symmetry and spread.

    across is the axis a half hull was mirrored in. Raises JobError where what is given contradicts itself.
    """
    length = None if length_axis is None else AXES.index(length_axis)
    upright = None if up is None else AXES.index(up[-1])
    if length is not None and length == upright:
        msg = f"expected up to be another axis than the length, found {AXES[length]} for both."
        raise JobError(msg, remedy="Give --length-axis and --up two different axes.")
    for name, given in (("length axis", length), ("up axis", upright)):
        if given is not None and given == across:
            msg = f"expected the {name} to lie in the centre plane, found {AXES[given]}, which the half is mirrored in."
            raise JobError(msg, remedy="Change --mirror, --length-axis or --up.")
    symmetric = skew < SYMMETRIC
    sure = length is not None and upright is not None
    found_length, reason = _length(samples, symmetric, length, upright, across)
    found_upright, more = _upright(found_length, symmetric, upright, across, up_hint)
    found_across = 3 - found_length - found_upright
    whole = bool(symmetric[found_across]) or across is not None
    return Roles(found_length, found_across, found_upright, "; ".join(filter(None, (reason, more))), sure, whole)


def _length(
    samples: Samples, symmetric: Bools, length: int | None, upright: int | None, across: int | None
) -> tuple[int, str]:
    if length is not None:
        return length, "given"
    free = [k for k in range(3) if k not in (upright, across)]
    ranked = sorted(free, key=lambda k: (-round(float(samples.spread[k]), 6), k))
    longest = ranked[0]
    mirrored = [k for k in free if symmetric[k]]
    if across is None and mirrored == [longest] and len(ranked) > 1:
        return ranked[1], f"{AXES[longest]} is longer, but the body is symmetric about it and about no other axis"
    return longest, f"the body is longest in {AXES[longest]}"


def _upright(
    length: int, symmetric: Bools, upright: int | None, across: int | None, up_hint: str | None
) -> tuple[int, str]:
    if upright is not None:
        return upright, ""
    rest = [k for k in range(3) if k != length]
    if across is not None:
        return next(k for k in rest if k != across), f"mirrored in {AXES[across]}"
    mirrored = [k for k in rest if symmetric[k]]
    if len(mirrored) == 1:
        return next(k for k in rest if k != mirrored[0]), f"symmetric about {AXES[mirrored[0]]}"
    hinted = AXES.index(up_hint) if up_hint is not None else length
    upright = hinted if hinted != length else (2 if length != 2 else 1)  # noqa: PLR2004 - z, else y
    why = "symmetric about several axes" if mirrored else "symmetric about none of the other axes"
    return upright, f"{why}, so {AXES[upright]} is taken as upright"


def role_notes(axis_roles: Roles) -> list[Note]:
    """Notes on the roles: an assumption with its reason, and a warning where the body is lopsided."""
    notes = []
    if not axis_roles.sure:
        notes.append(
            assumption(
                f"length along {AXES[axis_roles.length]}, {AXES[axis_roles.upright]} upright: {axis_roles.reason}. "
                "Override with --length-axis and --up."
            )
        )
    if not axis_roles.symmetric:
        notes.append(
            warning(
                f"the body is not symmetric about {AXES[axis_roles.across]}: it may be lopsided, or stand askew to the "
                "file's axes. Check its three views."
            )
        )
    return notes


STANDARDS = ("glTF", "COLLADA")
"""Formats whose standard says which axis points up: glTF 2.0, section 3.4 (Y), and up_axis of COLLADA 1.4. That of 3MF
is the printer's and only a hint."""


def up_sign(
    axis_roles: Roles, samples: Samples, rims: Sequence[Rim], *, up: str | None, up_hint: str | None, form: str
) -> tuple[int, str]:
    """+1 or -1 along the upright axis, and the reason: what the standard of the format says, then an open deck, then
    habit.
    """
    axis = axis_roles.upright
    name = AXES[axis]
    if up is not None:
        return (-1 if up.startswith("-") else 1), "given"
    deck = deck_sign(axis_roles, samples, rims)
    if form in STANDARDS and name == up_hint:
        return 1, f"the standard of {form} says so"
    if deck:
        return deck, "the open deck is on top"
    if name == up_hint or name != "x":
        return 1, "the file says so" if name == up_hint else f"{name} is usually up"
    return _wider_end(axis_roles, samples)


def deck_sign(axis_roles: Roles, samples: Samples, rims: Sequence[Rim]) -> int:
    """+1 or -1: the end of the upright axis where the body is open as under a missing deck; 0 where it is not."""
    axis = axis_roles.upright
    upwards = max(rims, key=lambda rim: abs(rim.normal[axis]), default=None)
    low, high = samples.points.min(axis=0), samples.points.max(axis=0)
    plan = float((high - low)[axis_roles.length] * (high - low)[axis_roles.across])
    if upwards is None or abs(upwards.normal[axis]) <= max(FACING_AFT * upwards.area, DECK * plan):
        return 0
    return 1 if upwards.normal[axis] > 0 else -1


def _wider_end(axis_roles: Roles, samples: Samples) -> tuple[int, str]:
    """Which end of the upright axis is the broader, as on most boats the deck is."""
    height = samples.points[:, axis_roles.upright]
    breadth = np.abs(samples.points[:, axis_roles.across] - samples.centroid[axis_roles.across])
    bottom, top = np.quantile(height, [1 / 3, 2 / 3])
    above, below = float(breadth[height >= top].mean()), float(breadth[height <= bottom].mean())
    if max(above, below) <= WIDER * min(above, below):
        return 1, "both ends are equally wide"
    return (1 if above > below else -1), "the body is wider at that end"


def nose_end(surface: Surface, cores: Cores, *, open_decked: bool, flat_topped: bool) -> tuple[str, str]:
    """The end, low or high, and the reason, for a surface in the hull frame with its nose taken at the low end.

    cores come from trial sections, of which the first and last stand close to the ends.
    """
    low, high = cores.fins
    if max(low, high) > FINS and min(low, high) < FEWER * max(low, high):
        return ("high" if low > high else "low"), "fins stand at the other end"
    x, areas = cores.x, cores.areas
    # The usual section, not the largest: the bridge of a catamaran is no measure for its stern.
    low, high = _squareness(surface, areas, float(np.median(areas[areas > 0])))
    least = CUT_SQUARE if open_decked or flat_topped else CUT_BASE
    if high > least and low < FINER * high:
        return "low", "the other end is cut off square"
    if low > least and high < FINER * low:
        return "high", "the other end is cut off square"
    total = float(np.trapezoid(areas, x))
    length = float(x[-1] - x[0])
    lead = 0.5 - (float(np.trapezoid(areas * (x - x[0]), x)) / total / length if total else 0.5)
    if abs(lead) < ALIKE:
        return "low", "both ends are alike"
    if open_decked or (flat_topped and abs(lead) < FINE_BOW):
        return ("high" if lead > 0 else "low"), "it is the finer end of a boat"
    return ("low" if lead > 0 else "high"), "it is the fuller end"


def _squareness(surface: Surface, areas: Floats, usual: float) -> tuple[float, float]:
    """How much of the usual section stands in each end: as area close to it, or as flat faces turned towards it."""
    a, b, c = (surface.vertices[surface.faces[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a) / 2
    size = np.linalg.norm(normal, axis=1)
    low, high = surface.bounds
    reach = END_FACES * float(high[0] - low[0])
    result = []
    for near, way, close in (
        (surface.x_high <= low[0] + reach, -1, areas[0]),
        (surface.x_low >= high[0] - reach, 1, areas[-1]),
    ):
        facing = near & (way * normal[:, 0] > FACING_AFT * size)
        resultant = normal[facing].sum(axis=0)
        flat = np.linalg.norm(resultant) > FLATNESS * size[facing].sum()
        result.append(max(float(close), abs(float(resultant[0])) if flat else 0.0) / usual)
    return result[0], result[1]
