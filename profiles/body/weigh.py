"""The stage `weigh`: a hull, its blocks and its foam -> weight, balance and flotation."""

from profiles.blocks.body import Body
from profiles.body.flotation import Flotation, float_body
from profiles.body.settings import WeighSettings
from profiles.body.surface import closed_surface
from profiles.body.waterplane import BodyMarks
from profiles.body.weights import Weights, unglued_note, weigh_parts
from profiles.foam.supply import FoamPlan
from profiles.hull.frame import Hull
from profiles.notes import Note
from profiles.setting import check_settings
from profiles.values import dataclass


@dataclass(frozen=True, slots=True)
class BodyFigures:
    """What a body weighs, where it balances and how it floats."""

    hull: Hull
    weights: Weights
    flotation: Flotation | None
    """None where it is not floated."""
    source: str
    """What the surface is taken from: "mesh" or "sections"."""
    scale: float | None
    """Model over original, where that is known."""
    notes: tuple[Note, ...]

    @property
    def marks(self) -> BodyMarks:
        """What templates and pictures show."""
        gravity = self.flotation.gravity if self.flotation else self.weights.total.centre
        x, y, z = gravity.tolist()
        return BodyMarks(self.flotation.afloat.plane if self.flotation else None, (x, y, z))


def weigh(
    hull: Hull, settings: WeighSettings = WeighSettings(), body: Body | None = None, foam: FoamPlan | None = None
) -> BodyFigures:
    """Weight, balance and flotation of a hull; blocks and foam give the glue, the foam as cut, and the cost.

    Raises JobError for settings that cannot be and for a weight that sinks it, HullError where no surface closes.

    >>> from profiles import BodySettings, WaterSettings, WeighSettings, read, weigh
    >>> hull = read("models/skerrywing.stl")
    >>> figures = weigh(hull, WeighSettings(BodySettings(density=33), water=WaterSettings()))
    >>> total, afloat = figures.weights.total, figures.flotation.afloat
    >>> round(total.amount), round(float(total.centre[0]), 1), round(afloat.displacement)  # g, mm from the nose, g
    (174, 359.1, 174)
    """
    check_settings(settings.body, *settings.loads, *([settings.water] if settings.water else []))
    finished = closed_surface(hull)
    under = closed_surface(hull, settings.skin) if settings.skin else finished
    weights = weigh_parts(finished.mesh, under.mesh, settings, hull.shape, body, foam.cut if foam else None)
    flotation = float_body(hull, finished.mesh, weights.total, settings.water) if settings.water else None
    notes = (*finished.notes, *weights.notes, *(flotation.notes if flotation else ()))
    if body is None:
        notes = (*notes, unglued_note())
    return BodyFigures(hull, weights, flotation, finished.source, settings.scale, notes)
