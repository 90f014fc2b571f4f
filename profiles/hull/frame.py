"""A repaired surface in the file's frame -> a hull in the hull frame.

Hull frame, mm: x aft from the foremost point (least x is 0), y to starboard with the centre plane at y = 0, z up with
the datum at z = 0. It is right-handed; the file's frame is turned, moved and scaled into it, never mirrored.
"""

from collections.abc import Sequence
from dataclasses import field, replace

import numpy as np

from profiles.arrays import Floats
from profiles.errors import HullError
from profiles.hull.askew import straighten_sampled, turn
from profiles.hull.axes import AXES, END_FACES, Axes, Roles, deck_sign, find_roles, nose_end, role_notes, up_sign
from profiles.hull.bodies import body_count
from profiles.hull.bores import join_bores
from profiles.hull.bridges import bridge_for
from profiles.hull.cores import find_cores
from profiles.hull.edges import CLEAN, edge_table, label_groups
from profiles.hull.gaps import Opening, bridge_all, find_openings, move_openings, opening_notes, remedy_for
from profiles.hull.half_hulls import mirror_half
from profiles.hull.later import Later, find_later, later_notes, without_seams
from profiles.hull.mesh_shape import MeshShape
from profiles.hull.openings import find_rims, has_open_deck, mark_openings
from profiles.hull.pitch import pitch_notes
from profiles.hull.settings import CRACK, CRACK_SHARE, THIN, THIN_SHARE, ReadSettings
from profiles.hull.shape import Shape
from profiles.hull.surface import RawMesh, SectionRules, Surface, sort_faces, transform, with_rules
from profiles.hull.symmetry import asymmetry, sample_surface
from profiles.hull.trial_sections import (
    TrialSection,
    cut_trial_sections,
    datum_height,
    is_flat_topped,
    is_shell,
    mesh_volume,
    reverse_trial_sections,
    section_volume,
    steps_along,
    wall_thickness,
)
from profiles.hull.walls import square_walls
from profiles.notes import Note, assumption, warning
from profiles.values import dataclass

AGREES = 0.03
"""Relative difference between the volumes by mesh and by sections above which the mesh overlaps itself."""


@dataclass(frozen=True, slots=True)
class Hull:
    """A hull in the hull frame with what is known of it."""

    name: str
    format: str
    unit: str
    unit_from: str
    shape: Shape
    """mm, hull frame."""
    length: float
    """mm overall."""
    breadth: float
    """mm."""
    depth: float
    """mm."""
    lowest: float
    """z of the lowest point, mm: minus the height of the datum."""
    body_count: int
    void_count: int
    triangles: int
    volume: float
    """mm3."""
    volume_from: str
    """ "mesh" or "sections"."""
    axes: Axes
    steps: tuple[float, ...] = ()
    """x in mm of walls across the hull, where the section changes at once."""
    openings: tuple[Opening, ...] = ()
    """Where the skin is open, widest first, closed or not."""
    remedy: str = ""
    """The option that closes what is still open, if anything is."""
    later: tuple[Later, ...] = ()
    """Holes and slits that no wire enters, left out of the sections and made by hand."""
    notes: tuple[Note, ...] = field(default=())

    @property
    def surface(self) -> Surface:
        """The triangles; raises HullError where the shape is not made of any."""
        if isinstance(self.shape, MeshShape):
            return self.shape.surface
        message = f"{self.name} is not made of triangles"
        raise HullError(message)


def place(surface: Surface, raw: RawMesh, options: ReadSettings, notes: Sequence[Note] = ()) -> Hull:
    """The hull in the hull frame, from a repaired surface in the file's frame and what the file declares (`raw`).

    Mirrors halves, finds the axes, closes openings, sets size and datum. `notes` are those of earlier steps and come
    first. Raises HullError where no section closes.
    """
    all_notes = list(notes)
    matrix = np.eye(3)
    if options.turn is not None:
        surface, matrix, turned = turn(surface, options.turn)
        all_notes += turned
    samples = sample_surface(surface)
    skew = asymmetry(samples, surface.bounds)
    if options.turn is None:
        surface, samples, skew, matrix, turned = straighten_sampled(surface, samples, skew, raw.up_hint)
        all_notes += turned
    half = mirror_half(surface, samples, skew, options.mirror, raw.up_hint)
    if half is not None:
        surface = half.surface
        all_notes += half.notes
        samples = sample_surface(surface)
        skew = asymmetry(samples, surface.bounds)
    roles = find_roles(
        samples,
        skew,
        length_axis=options.length_axis,
        up=options.up,
        across=None if half is None else half.axis,
        up_hint=raw.up_hint,
    )
    all_notes += role_notes(roles)
    open_rims = () if surface.whole else find_rims(surface)
    sign, up_reason = up_sign(roles, samples, open_rims, up=options.up, up_hint=raw.up_hint, form=raw.format)
    up = ("-" if sign < 0 else "") + AXES[roles.upright]
    if options.up is None:
        all_notes.append(assumption(f"up is {up}: {up_reason}. Override with --up {_opposite(up)}."))
        if sign * deck_sign(roles, samples, open_rims) < 0:
            text = f"up is {up} because {up_reason}, but the body is open on the other side, as without a deck"
            all_notes.append(warning(f"{text}. If it lies upside down, give --up {_opposite(up)}."))
    plane = half.plane if half is not None else _centre_plane(surface, roles, all_notes)
    surface = _turn_to_frame(surface, roles, sign, plane, options)
    surface, opened = (surface, ()) if surface.whole else mark_openings(surface)
    surface = sort_faces(with_rules(surface, _rules(surface, options)))
    trials = cut_trial_sections(bridge_all(surface))
    if _is_thin_shell(surface, trials, options, all_notes):
        surface = with_rules(surface, replace(surface.rules, solid=True))
        trials = cut_trial_sections(bridge_all(surface))
    nose = _nose(surface, trials, options, roles, all_notes)
    if nose == "high":
        surface, opened, trials = _end_for_end(surface, opened, trials)
    if options.turn is None:
        all_notes += pitch_notes(trials, _across(roles, sign, nose), matrix)
    surface, squared = square_walls(surface)
    all_notes += squared
    axes = Axes(AXES[roles.length], up, nose)
    return _make_hull(surface, raw, options, axes, trials, (*all_notes, *opened))


def _rules(surface: Surface, options: ReadSettings) -> SectionRules:
    """How sections are closed and filled. Raises HullError for bridges wider than the hull."""
    length, breadth, depth = (surface.bounds[1] - surface.bounds[0]).tolist()
    crack = max(CRACK, CRACK_SHARE * length)
    bridge = crack if options.bridge is None else options.bridge
    # An open top as wide as the hull is bridged as well, with the option that its message names.
    if bridge > max(crack, bridge_for(max(breadth, depth))):
        message = f"--bridge {bridge:g} is wider than the hull, {breadth:.1f} mm broad and {depth:.1f} mm deep."
        raise HullError(message, remedy="inspect lists the gaps of the skin by their widths; give the widest of them.")
    return SectionRules(solid=bool(options.solid), crack=min(crack, bridge), bridge=bridge)


def _is_thin_shell(
    surface: Surface, trials: Sequence[TrialSection], options: ReadSettings, all_notes: list[Note]
) -> bool:
    """Whether a hull is a shell whose walls no wire can cut; reported, and never where solid or not is given."""
    if options.solid is not None or is_shell(trials) is None:
        return False
    breadth = float((surface.bounds[1] - surface.bounds[0])[1])
    thinnest = max(THIN, THIN_SHARE * breadth) if options.thinnest is None else options.thinnest
    thickness = wall_thickness(trials)
    if thickness >= thinnest:
        return False
    all_notes.append(
        assumption(
            f"the hull is a shell about {thickness:.1f} mm thick, thinner than {thinnest:.3g} mm: it is filled to a "
            "solid plug, with all that is inside. Override with --as-is."
        )
    )
    return True


def _opposite(up: str) -> str:
    return up[1:] if up.startswith("-") else f"-{up}"


def _centre_plane(surface: Surface, roles: Roles, all_notes: list[Note]) -> float:
    """Place of the centre plane along the model's transverse axis, mm."""
    low, high = surface.bounds
    if roles.symmetric:
        return float(low[roles.across] + high[roles.across]) / 2
    # Exact, not sampled: the result must not depend on how a lopsided body is triangulated.
    a, b, c = (surface.vertices[surface.faces[:, k]] for k in range(3))
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    middle = float(area @ (a + b + c)[:, roles.across] / (3 * area.sum()))
    all_notes.append(
        assumption(f"centre plane at {AXES[roles.across]} = {middle:.4g} mm, the middle of the skin's area")
    )
    return middle


def _across(roles: Roles, sign: int, nose: str) -> Floats:
    """(3,) the hull's y axis among the axes of the file."""
    aft, up = np.zeros(3), np.zeros(3)
    aft[roles.length], up[roles.upright] = (1.0 if nose == "low" else -1.0), sign
    return np.cross(up, aft)


def _turn_to_frame(surface: Surface, roles: Roles, sign: int, plane: float, options: ReadSettings) -> Surface:
    """The surface scaled to size, its low end forward, the centre plane at y = 0 and the lowest point at z = 0."""
    aft, up = np.zeros(3), np.zeros(3)
    aft[roles.length], up[roles.upright] = 1.0, sign
    matrix = np.stack([aft, np.cross(up, aft), up])
    low, high = surface.bounds
    factor = options.scale or 1.0
    if options.length is not None:
        factor = options.length / float(high[roles.length] - low[roles.length])
    centre = np.zeros(3)
    centre[roles.across] = plane
    corners = np.stack([low, high]) @ matrix.T
    lowest = corners.min(axis=0)
    offset = -np.array([lowest[0], (matrix @ centre)[1], lowest[2]])
    # Moved first, scaled after: points on the centre plane and in the lowest corner then land exactly on zero.
    shifted = transform(surface, matrix, offset)
    return shifted if factor == 1.0 else transform(shifted, np.eye(3) * factor, np.zeros(3))


def _nose(
    surface: Surface, trials: Sequence[TrialSection], options: ReadSettings, roles: Roles, all_notes: list[Note]
) -> str:
    if options.nose is not None:
        return options.nose
    open_decked, flat_topped = has_open_deck(surface), is_flat_topped(trials)
    nose, reason = nose_end(_ends(surface), find_cores(trials), open_decked=open_decked, flat_topped=flat_topped)
    other = "low" if nose == "high" else "high"
    where = f"the nose is at the {nose} end of {AXES[roles.length]}"
    all_notes.append(assumption(f"{where}: {reason}. Override with --nose {other}."))
    return nose


def _ends(surface: Surface) -> Surface:
    """The faces near the hull's ends, which show whether it is cut off square there. The bounds are kept."""
    low, high = surface.bounds
    reach = END_FACES * float(high[0] - low[0])
    near = np.flatnonzero((surface.x_high <= low[0] + reach) | (surface.x_low >= high[0] - reach))
    return replace(
        surface,
        faces=surface.faces[near],
        body=surface.body[near],
        x_low=surface.x_low[near],
        x_high=surface.x_high[near],
        order=None,
    )


def _end_for_end(
    surface: Surface, opened: tuple[Note, ...], trials: Sequence[TrialSection]
) -> tuple[Surface, tuple[Note, ...], tuple[TrialSection, ...]]:
    """The hull turned by 180 degrees about its upright axis, its foremost point again at x = 0."""
    _, high = surface.bounds
    length = float(high[0])
    surface = transform(surface, np.diag([-1.0, -1.0, 1.0]), np.array([length, 0.0, 0.0]))
    if opened:
        surface, opened = mark_openings(surface)
    return sort_faces(surface), opened, reverse_trial_sections(trials, length)


def _make_hull(
    surface: Surface,
    raw: RawMesh,
    options: ReadSettings,
    axes: Axes,
    trials: Sequence[TrialSection],
    notes: tuple[Note, ...],
) -> Hull:
    low, high = surface.bounds
    length, breadth, depth = (high - low).tolist()
    datum = options.datum if options.datum is not None else datum_height(trials, float(low[2]), depth)
    volume, volume_from, steps = volume_and_steps(bridge_all(surface), trials)
    openings = move_openings(find_openings(surface, trials), -datum - float(low[2]))
    remedy = remedy_for(surface, openings)
    surface = transform(surface, np.eye(3), np.array([0.0, 0.0, -datum - low[2]]))
    narrow = () if options.keep_holes else find_later(surface, options.narrowest)
    later, bores = join_bores(surface, narrow)
    if narrow:
        spans = tuple((item.low[0], item.high[0]) for item in narrow)
        surface = with_rules(surface, replace(surface.rules, narrowest=options.narrowest, narrow=spans, bores=bores))
    notes = (*notes, *opening_notes(openings, remedy), *_warnings(surface, trials), *later_notes(later))
    return Hull(
        name=raw.name,
        format=raw.format,
        unit=raw.unit,
        unit_from=raw.unit_from,
        shape=MeshShape(surface),
        length=length,
        breadth=breadth,
        depth=depth,
        lowest=-datum,
        body_count=body_count(surface),
        void_count=void_count(surface),
        triangles=len(surface.faces),
        volume=volume,
        volume_from=volume_from,
        axes=axes,
        steps=steps,
        openings=openings,
        remedy=remedy,
        later=without_seams(later),
        notes=notes,
    )


def volume_and_steps(surface: Surface, trials: Sequence[TrialSection]) -> tuple[float, str, tuple[float, ...]]:
    """Volume in mm3, its source, and the steps along the hull."""
    steps = steps_along(surface, max(trial.solid_area for trial in trials))
    if _is_closed(surface) and not surface.rules.solid and body_count(surface) == 1:
        volume = mesh_volume(surface)
        x = np.array([trial.x for trial in trials])
        areas = np.array([0.0 if trial.region is None else trial.region.area for trial in trials])
        if abs(float(np.trapezoid(areas, x)) - volume) <= AGREES * volume:
            return volume, "mesh", steps
        by_sections = section_volume(surface, steps)
        agrees = abs(by_sections - volume) <= AGREES * volume
        return (volume, "mesh", steps) if agrees else (by_sections, "sections", steps)
    return section_volume(surface, steps), "sections", steps


def _is_closed(surface: Surface) -> bool:
    """Whether every edge has two faces."""
    return surface.whole or bool((edge_table(surface.faces, len(surface.vertices)).count == CLEAN).all())


def _warnings(surface: Surface, trials: Sequence[TrialSection]) -> list[Note]:
    notes = []
    faults = [trial for trial in trials if trial.region is None]
    if faults:
        notes.append(
            warning(
                f"{len(faults)} of {len(trials)} trial sections stay open. The first: {faults[0].fault}", x=faults[0].x
            )
        )
    share = is_shell(trials)
    if share is not None and not surface.rules.solid:
        notes.append(
            warning(
                f"the hull is hollow: its hollow sections fill {share:.0%} of their outline, and templates follow the "
                "inner skin too. Fill it with --solid."
            )
        )
    return notes


def void_count(surface: Surface) -> int:
    """Number of closed shells that are wound inwards: the voids. A single shell has been turned outwards before."""
    if surface.whole:
        return 0
    _, shell = label_groups(
        surface.faces[:, [0, 1]].reshape(-1), surface.faces[:, [1, 2]].reshape(-1), len(surface.vertices)
    )
    low, high = surface.bounds
    middle = (low + high) / 2
    a, b, c = (surface.vertices[surface.faces[:, k]] - middle for k in range(3))
    owner = shell[surface.faces[:, 0]]
    volume = np.bincount(owner, np.einsum("ij,ij->i", a, np.cross(b, c)))
    table = edge_table(surface.faces, len(surface.vertices))
    whole = np.ones(len(volume), dtype=bool)
    whole[owner[table.boundary // 3]] = False
    total = float(np.abs(volume).sum())
    # Rounding may give a shell without volume a little less than zero.
    return int((whole[: len(volume)] & (volume < -1e-9 * total)).sum())


def first_look(hull: Hull) -> Shape:
    """The hull's shape with all gaps closed, however wide: for pictures, not for templates."""
    return MeshShape(bridge_all(hull.surface)) if isinstance(hull.shape, MeshShape) else hull.shape
