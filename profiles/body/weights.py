"""What a body weighs and where it balances: foam, skin, glue and loads, each with its place.

foam      the solid under the skin x density
skin      the finished surface x thickness x density, or x g/m2; cloth, resin and paint the same way
glue      each joint between blocks, and between the layers of a block, x g/m2
loads     points
"""

from collections.abc import Iterator, Sequence
from itertools import accumulate, pairwise
from typing import get_args

from shapely import MultiPolygon

from profiles.blocks.body import Body
from profiles.blocks.bodyfile import solid_of
from profiles.blocks.outlines import foam_surface
from profiles.body.kinds import FOAMS, G_PER_MM2, G_PER_MM3
from profiles.body.mass import Mass, combine, flat_mass, is_inside, point_mass, skin_mass, solid_mass
from profiles.body.settings import BodySettings, FoamName, Load, WeighSettings
from profiles.errors import HullError, JobError
from profiles.foam.cutting import Billet, CutPlan, PlacedBlock
from profiles.foam.figures import boards_used
from profiles.hull.sections import Side
from profiles.hull.shape import Shape
from profiles.hull.surface import Mesh
from profiles.notes import Note, assumption, fact, warning
from profiles.units import large_area_text, volume_text
from profiles.values import dataclass

CLOSE = 1e-6
"""mm; a ballast nearer to the wanted balance than this moves nothing."""

NAMES: tuple[FoamName, ...] = get_args(FoamName)

USUAL: FoamName = "XPS"
"""The kind of foam where nothing says which."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the weight."""

    name: str
    mass: Mass
    """g."""
    basis: str = ""
    """What it is worked out from, in words."""


@dataclass(frozen=True, slots=True)
class Cover:
    """Something that goes over the surface of the body."""

    name: str
    area: float
    """mm2 of the body, all layers."""
    to_buy: float
    """mm2 with what overlaps and is cut off; 0 for what comes in a can."""
    weight: float
    """g."""


@dataclass(frozen=True, slots=True)
class Cost:
    """What the boards cost, in the job's currency."""

    total: float
    unpriced: tuple[str, ...]
    """Boards that are used and have no price."""


@dataclass(frozen=True, slots=True)
class Weights:
    """The weight of a body and what it is made up of."""

    parts: tuple[Part, ...]
    hull: Mass
    """Volume of the finished body, mm3."""
    surface: Mass
    """Its surface, mm2."""
    foam: Mass
    """The foam under the skin after sanding and carving, mm3."""
    as_cut: Mass | None
    """The foam as wire and knife leave it, before sanding, mm3; None without blocks."""
    density: float
    """Of the foam, kg/m3."""
    densities: tuple[float, float]
    """What it may be, kg/m3."""
    joints: tuple[float, float]
    """mm2 between blocks, and between layers inside the body."""
    covers: tuple[Cover, ...]
    ballast: Load | None
    """What brings the balance to where it is wanted."""
    cost: Cost | None
    """None where no board has a price."""
    outside: tuple[str, ...]
    """Loads that lie outside the body."""
    notes: tuple[Note, ...]

    @property
    def total(self) -> Mass:
        """All parts as one, g."""
        return combine(part.mass for part in self.parts)


def weigh_parts(
    finished: Mesh,
    foam: Mesh,
    settings: WeighSettings,
    shape: Shape,
    body: Body | None = None,
    plan: CutPlan | None = None,
) -> Weights:
    """The weight of a body from its finished surface and that of its foam; `body` and `plan` say where the joints are.

    Raises JobError for a ballast that cannot bring the balance to where it is wanted.
    """
    made_of, notes = settings.body, list[Note]()
    surface, solid = skin_mass(finished), solid_mass(foam)
    density, densities = _density(made_of, plan, notes)
    parts = [Part("foam", solid.times(density * G_PER_MM3), f"{density:.1f} kg/m3")]
    parts += _cut_out(body, density)
    covers = list(_covers(surface, settings, notes))
    parts += [
        Part(cover.name, surface.times(cover.weight / surface.amount), large_area_text(cover.area)) for cover in covers
    ]
    joints = _joints(shape, settings.skin, body, plan)
    parts += _glue(joints, made_of, notes)
    parts += [Part(load.name, point_mass(load.weight, (load.x, load.y, load.z)), "load") for load in settings.loads]
    outside = tuple(load.name for load in settings.loads if not is_inside(finished, (load.x, load.y, load.z)))
    if outside:
        count = f"{len(outside)} load{' lies' if len(outside) == 1 else 's lie'} outside the body"
        notes.append(warning(f"{count} ({', '.join(outside)}). They count all the same; check x, y and z."))
    ballast = _ballast(made_of, combine(part.mass for part in parts))
    if ballast:
        parts.append(Part(ballast.name, point_mass(ballast.weight, (ballast.x, ballast.y, ballast.z)), "to balance"))
    return Weights(
        parts=tuple(parts),
        hull=solid_mass(finished),
        surface=surface,
        foam=solid,
        as_cut=_as_cut(body),
        density=density,
        densities=densities,
        joints=(sum(joint.amount for joint in joints[0]), sum(joint.amount for joint in joints[1])),
        covers=tuple(covers),
        ballast=ballast,
        cost=_cost(plan),
        outside=outside,
        notes=tuple(notes),
    )


def _cut_out(body: Body | None, density: float) -> Iterator[Part]:
    """The foam that is cut out of the body, as weight that is not there."""
    taken = [solid_mass(block.into.taken) for block in body.blocks if block.into] if body else []
    if taken:
        mass = combine(taken)
        yield Part("cut out of it", mass.times(-density * G_PER_MM3), f"{volume_text(mass.amount)} of foam")


def _density(made_of: BodySettings, plan: CutPlan | None, notes: list[Note]) -> tuple[float, tuple[float, float]]:
    """kg/m3 of the foam, and from what to what it may be."""
    if made_of.density is not None:
        return made_of.density, (made_of.density, made_of.density)
    name = made_of.kind or _kind_of_boards(plan)
    kind = FOAMS[name]
    text = f"foam {name}, {kind.density:.1f} kg/m3; boards have {kind.low:.0f} to {kind.high:.0f} ({kind.source})"
    notes.append(assumption(f"{text}. Weigh a board, and override with --density."))
    return kind.density, (kind.low, kind.high)


def _kind_of_boards(plan: CutPlan | None) -> FoamName:
    named = {use.board.foam.upper() for use in boards_used(plan)} if plan else set()
    return next((kind for kind in NAMES if named == {kind.upper()}), USUAL)


def _covers(surface: Mass, settings: WeighSettings, notes: list[Note]) -> Iterator[Cover]:
    """Sheet, cloth, resin and paint."""
    made_of, area = settings.body, surface.amount
    buy = area * (1 + made_of.spare)
    if made_of.skin_weight is not None:
        yield Cover("skin", area, buy, area * made_of.skin_weight * G_PER_MM2)
    elif made_of.skin_density is not None and settings.skin:
        yield Cover("skin", area, buy, area * settings.skin * made_of.skin_density * G_PER_MM3)
    elif settings.skin:
        notes.append(warning(f"The skin of {settings.skin:g} mm is not weighed. Give skin_density or skin_weight."))
    elif made_of.skin_density is not None:
        notes.append(warning("skin_density is without effect, because the skin has no thickness. Give --skin."))
    if made_of.cloth:
        layers = made_of.cloth_layers
        weight = area * layers * made_of.cloth * G_PER_MM2
        yield Cover("cloth", area * layers, buy * layers, weight)
        if made_of.resin:
            yield Cover("resin", area * layers, 0.0, weight * made_of.resin)
            if made_of.resin == BodySettings().resin:
                notes.append(assumption("resin as heavy as the dry cloth. Override with --resin."))
    if made_of.paint:
        yield Cover("paint", area, 0.0, area * made_of.paint * G_PER_MM2)


def _joints(
    shape: Shape, skin: float, body: Body | None, plan: CutPlan | None
) -> tuple[tuple[Mass, ...], tuple[Mass, ...]]:
    """The joints between blocks, of two faces that meet the smaller one, and those between layers of blocks; mm2."""
    if body is None:
        return (), ()
    between = []
    for fore, aft in pairwise(body.blocks):
        regions = (fore.aft.outline.foam, aft.fore.outline.foam)
        between.append(flat_mass(min(regions, key=lambda region: region.area), aft.span.x_fore))
    inside = []
    spans = {block.span.number: block for block in body.blocks}
    for billet in plan.billets if plan else ():
        for placed in billet.blocks:
            block = spans[placed.block]
            for depth in _glue_lines(billet, placed):
                x = block.span.x_fore + depth
                inside.append(flat_mass(_foam_at(shape, x, skin, block.fore.outline.foam), x))
    return tuple(between), tuple(inside)


def _glue_lines(billet: Billet, placed: PlacedBlock) -> list[float]:
    """How deep in a block the joints of its layers lie, mm from one of its faces."""
    low, thick = placed.place.z, placed.place.thick
    joints = accumulate(board.actual_thickness for board in billet.boards[:-1])
    return [joint - low for joint in joints if 0 < joint - low < thick]


def _foam_at(shape: Shape, x: float, skin: float, instead: MultiPolygon) -> MultiPolygon:
    try:
        return foam_surface(shape.section(x, Side.FORE).region, skin)
    except HullError:
        return instead


def _glue(joints: tuple[Sequence[Mass], Sequence[Mass]], made_of: BodySettings, notes: list[Note]) -> Iterator[Part]:
    if not made_of.glue or not any(joints):
        return
    if made_of.glue == BodySettings().glue:
        notes.append(assumption(f"glue {made_of.glue:g} g/m2 of joint. Override with --glue-weight."))
    for name, masses in zip(("glue between blocks", "glue between layers"), joints, strict=True):
        total = combine(masses)
        if total.amount:
            yield Part(name, total.times(made_of.glue * G_PER_MM2), large_area_text(total.amount))


def _ballast(made_of: BodySettings, total: Mass) -> Load | None:
    """The ballast that brings the centre of gravity to the wanted x. Raises JobError where none there does."""
    if made_of.balance is None or made_of.ballast is None:
        return None
    wanted, (x, y, z) = made_of.balance, made_of.ballast
    off = wanted - float(total.centre[0])
    if abs(off) <= CLOSE:
        return None
    if (x - wanted) * off <= CLOSE:
        side = "aft" if off > 0 else "forward"
        message = (
            f"ballast at x = {x:g} mm cannot bring the balance from x = {total.centre[0]:.1f} to {wanted:g} mm; "
            f"it must lie {side} of {wanted:g} mm"
        )
        raise JobError(message, remedy="Move the ballast, or the loads.")
    return Load("ballast", total.amount * off / (x - wanted), x, y, z)


def _as_cut(body: Body | None) -> Mass | None:
    if body is None:
        return None
    solids = [solid for block in body.blocks if (solid := solid_of(block)) is not None]
    return combine(solid_mass(solid) for solid in solids)


def _cost(plan: CutPlan | None) -> Cost | None:
    uses = boards_used(plan) if plan else ()
    priced = [use.price for use in uses if use.price is not None]
    if not priced:
        return None
    return Cost(sum(priced), tuple(use.board.name for use in uses if use.price is None))


def unglued_note() -> Note:
    """What is not counted where no foam thickness is given."""
    return fact("glue and cost are not counted without blocks. Give the thickness of your foam with --foam.")
