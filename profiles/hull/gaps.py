"""Where a surface is open, and how widely: the gaps of many sections, gathered into openings along the hull.

A gap is measured where sections meet it, because that is where it must be closed; how wide it is between its edges in
space does not matter to a template.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from enum import StrEnum

import numpy as np

from profiles.arrays import Floats, Ints
from profiles.errors import HullError, TangledError
from profiles.hull.bodies import body_count
from profiles.hull.bridges import Gap, bridge_for
from profiles.hull.edges import edge_table
from profiles.hull.openings import mark_openings
from profiles.hull.repair import choose_bodies
from profiles.hull.sections import Side, section
from profiles.hull.surface import Surface, edge_keys, with_rules
from profiles.hull.trial_sections import TrialSection
from profiles.notes import Note, repair, warning
from profiles.values import dataclass

MOST_PLACES = 120
"""Sections cut to find gaps, beside the trial sections; more are picked evenly."""

UNSEEN = 0.01
"""mm; gaps narrower than this are rounding and not reported."""

NEAR = 0.05
"""Of breadth and depth together, beside half the wider gap: so close lie neighbouring gaps of one opening."""

SKIPPED = 2
"""Places back at which a track may have been met last: a section in between may have missed it."""

MAIN_SOUND = 0.25
"""Of the widest gap: the largest body is worth naming as the hull where its own gaps are narrower than this."""

MOST_LISTED = 5
"""Openings that the notes name one by one."""


class Closing(StrEnum):
    """How an opening is closed."""

    CRACK = "closed"
    """No wider than the rule allows."""
    STRAIGHT = "closed rim"
    """The rim of an open deck or end."""
    OPEN = "open"
    """Wider than the rule allows."""


@dataclass(frozen=True, slots=True)
class Opening:
    """An opening or crack of a hull, mm in the hull frame."""

    gaps: tuple[Gap, ...]
    """Aft along the hull, at least one."""
    closing: Closing

    @property
    def widest(self) -> Gap:
        """The widest of its gaps."""
        return max(self.gaps, key=lambda gap: gap.width)

    @property
    def x(self) -> tuple[float, float]:
        """Foremost and aftermost place where it was met."""
        return self.gaps[0].x, self.gaps[-1].x

    @property
    def words(self) -> str:
        """Its size and place."""
        _, y, z = self.widest.middle
        start, end = self.x
        along = f"from x = {start:.1f} to {end:.1f} mm" if end - start > UNSEEN else f"at x = {start:.1f} mm"
        return (
            f"{self.widest.width:.2f} mm wide, {along}, widest at x = {self.widest.x:.1f}, y = {y:.1f}, z = {z:.1f} mm"
        )


def bridge_all(surface: Surface) -> Surface:
    """The surface with all gaps closed, however wide: for a first look, not for templates."""
    return with_rules(surface, replace(surface.rules, bridge=math.inf))


def find_openings(surface: Surface, trials: Sequence[TrialSection]) -> tuple[Opening, ...]:
    """The openings of a surface in the hull frame, widest first, those that sections are closed over as well.

    `trials` are its trial sections, with all gaps closed. More sections are cut only where there are edges with one
    face beside those of known openings. Gaps narrower than UNSEEN are left out.
    """
    if surface.whole:
        return ()
    gaps = [gap for trial in trials for gap in trial.bridges]
    gaps += _gaps_at(surface, _places_of_cracks(surface))
    gaps = sorted({gap for gap in gaps if gap.width > UNSEEN}, key=lambda gap: gap.middle)
    low, high = surface.bounds
    tracks = _follow(gaps, NEAR * float((high - low)[1:].sum()))
    openings = [Opening(tuple(track), _closing(track, surface.rules.bridge)) for track in tracks]
    return tuple(sorted(openings, key=lambda opening: -opening.widest.width))


def _closing(track: Sequence[Gap], bridge: float) -> Closing:
    if track[0].opening:
        return Closing.STRAIGHT
    return Closing.OPEN if any(gap.width > bridge for gap in track) else Closing.CRACK


def _places_of_cracks(surface: Surface) -> Floats:
    """(n,) mm: between the vertices of edges with one face that lie on no known opening."""
    table = edge_table(surface.faces, len(surface.vertices))
    sides = table.boundary
    keys = edge_keys(table.tail[sides], table.head[sides], len(surface.vertices))
    known = edge_keys(surface.open_edges[:, 0], surface.open_edges[:, 1], len(surface.vertices))
    sides = sides[~np.isin(keys, known)]
    x = np.unique(surface.vertices[np.concatenate([table.tail[sides], table.head[sides]]), 0])
    if len(x) < 2:  # noqa: PLR2004 - nothing lies between
        return np.zeros(0)
    middles = (x[1:] + x[:-1]) / 2
    # Just beside the vertices too: a gap is widest there.
    step = np.minimum(np.diff(x) / 8, UNSEEN)
    places = np.unique(np.concatenate([x[:-1] + step, middles, x[1:] - step]))
    chosen: Ints = np.linspace(0, len(places) - 1, min(len(places), MOST_PLACES)).round().astype(np.int64)
    return places[chosen]


def _gaps_at(surface: Surface, places: Floats) -> Iterable[Gap]:
    """The gaps at x of (n,) mm. Raises TangledError; a section that does not close in any way gives none."""
    surface = bridge_all(surface)
    for x in places.tolist():
        try:
            yield from section(surface, x, Side.AFT).bridges
        except TangledError:
            raise
        except HullError:
            continue


def _follow(gaps: Sequence[Gap], near: float) -> list[list[Gap]]:
    """Gaps, ascending in x, in tracks along the hull: each follows the last of a track that lies close beside it."""
    tracks: list[list[Gap]] = []
    number = {x: index for index, x in enumerate(sorted({gap.x for gap in gaps}))}
    for gap in gaps:
        last = range(number[gap.x] - SKIPPED, number[gap.x])
        going_on = [t for t in tracks if t[-1].opening == gap.opening and number[t[-1].x] in last]
        best = min(going_on, key=lambda track: _apart(track[-1], gap), default=None)
        if best is not None and _apart(best[-1], gap) < near + max(best[-1].width, gap.width) / 2:
            best.append(gap)
        else:
            tracks.append([gap])
    return tracks


def _apart(one: Gap, other: Gap) -> float:
    """Mm between the middles of two gaps, seen along the hull."""
    (_, y, z), (_, v, w) = one.middle, other.middle
    return math.hypot(y - v, z - w)


def move_openings(openings: Sequence[Opening], height: float) -> tuple[Opening, ...]:
    """The openings of the hull raised by `height` mm."""

    def raised(point: tuple[float, float]) -> tuple[float, float]:
        return point[0], point[1] + height

    return tuple(
        replace(
            opening,
            gaps=tuple(replace(gap, start=raised(gap.start), end=raised(gap.end)) for gap in opening.gaps),
        )
        for opening in openings
    )


def opening_notes(openings: Sequence[Opening], remedy: str) -> list[Note]:
    """What was closed, and what is still open with the remedy for it."""
    closed = [opening for opening in openings if opening.closing is Closing.CRACK]
    notes = [repair(f"gap closed straight: {opening.words}", x=opening.x[0]) for opening in closed[:MOST_LISTED]]
    if len(closed) > MOST_LISTED:
        rest = closed[MOST_LISTED:]
        gaps = "one more gap" if len(rest) == 1 else f"{len(rest)} more gaps"
        notes.append(repair(f"{gaps} closed straight, at most {rest[0].widest.width:.2f} mm wide"))
    still_open = [opening for opening in openings if opening.closing is Closing.OPEN]
    if still_open:
        count = "a gap" if len(still_open) == 1 else f"{len(still_open)} gaps"
        text = f"the skin has {count} too wide to be closed unasked. The widest is {still_open[0].words}. {remedy}"
        notes.append(warning(text, x=still_open[0].widest.x))
    return notes


def remedy_for(surface: Surface, openings: Sequence[Opening]) -> str:
    """The option that closes every opening of a surface, or leaves out what is open; empty where all is closed."""
    still_open = [opening for opening in openings if opening.closing is Closing.OPEN]
    if not still_open:
        return ""
    widest = max(opening.widest.width for opening in still_open)
    if body_count(surface) > 1:
        main, _ = mark_openings(choose_bodies(surface, (1,)))
        places = [opening.widest.x for opening in still_open]
        gaps = [gap for gap in _gaps_at(main, np.array([*places, *_places_of_cracks(main)])) if not gap.opening]
        if max((gap.width for gap in gaps), default=0.0) < MAIN_SOUND * widest:
            return (
                f"The largest body alone is closed or nearly so: use only that with --body 1, or close everything "
                f"straight with --bridge {bridge_for(widest):g}; inspect --picture marks the gaps in red."
            )
    them = "it" if len(still_open) == 1 else "them"
    option = f"--bridge {bridge_for(widest):g} instead of {surface.rules.bridge:.3g} mm"
    return f"Close {them} straight with {option}; inspect --picture marks {them} in red."


def refuse_open(openings: Sequence[Opening], remedy: str) -> None:
    """Raises HullError, with the widest gap and the remedy, where openings are not closed."""
    still_open = [opening for opening in openings if opening.closing is Closing.OPEN]
    if still_open:
        places = "in one place" if len(still_open) == 1 else f"in {len(still_open)} places"
        message = f"the skin stays open {places}. The widest gap is {still_open[0].words}."
        raise HullError(message, remedy=remedy)
