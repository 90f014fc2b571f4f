"""Settings for weight, balance and flotation: [body], [[loads]] and [water] of a job."""

from typing import Annotated, Literal

from profiles.errors import JobError
from profiles.setting import LONGEST, Place, Setting, as_point, length_setting
from profiles.values import dataclass

# fmt: off
FoamName = Literal[
    "XPS", "XPS X", "XPS IV", "XPS VI", "XPS VII", "XPS V",
    "EPS", "EPS XI", "EPS I", "EPS VIII", "EPS II", "EPS IX", "EPS XIV", "EPS XV",
    "EPP",
]
# fmt: on
"""The keys of `kinds.FOAMS`."""


def _grams_per_m2(text: str, option: str = "") -> Setting:
    return Setting(text, option, "G/M2", minimum=0, maximum=1e5, lenient=True)


def _kg_per_m3(text: str, option: str = "") -> Setting:
    return Setting(text, option, "KG/M3", above=0, maximum=25_000, lenient=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class BodySettings:
    """[body]: what the body is made of and where it should balance. Raises JobError for settings that contradict each
    other.
    """

    kind: Annotated[
        FoamName | None, Setting("Kind of foam: plain, or a type of ASTM C578 (as the boards say, or XPS).", "--kind")
    ] = None
    density: Annotated[float | None, _kg_per_m3("Density of the foam; overrides its kind.", "--density")] = None
    skin_density: Annotated[
        float | None, _kg_per_m3("Density of sheeting, cloth and filler; the thickness is --skin.", "--skin-density")
    ] = None
    skin_weight: Annotated[
        float | None, _grams_per_m2("Weight of the skin, instead of its density.", "--skin-weight")
    ] = None
    cloth: Annotated[float, _grams_per_m2("Weight of one layer of dry cloth (0).", "--cloth")] = 0.0
    cloth_layers: Annotated[int, Setting("Layers of cloth (1).", "--cloth-layers", "N", minimum=1, maximum=100)] = 1
    resin: Annotated[
        float, Setting("Resin by weight of dry cloth (1).", "--resin", "SHARE", minimum=0, maximum=20, lenient=True)
    ] = 1.0
    """1: as much resin as cloth, careful work by hand (common practice)."""
    paint: Annotated[float, _grams_per_m2("Weight of all coats of filler and paint, dry (0).", "--paint")] = 0.0
    glue: Annotated[float, _grams_per_m2("Weight of cured glue in a joint (100).", "--glue-weight")] = 100.0
    """Of each joint between blocks and between layers (common practice: 50 to 200)."""
    spare: Annotated[
        float, Setting("Cloth and sheet to buy beyond the area of the body, as a share (0.15).", minimum=0, maximum=5)
    ] = 0.15
    """For overlaps and waste (common practice)."""
    balance: Annotated[
        float | None,
        length_setting("Where the body should balance, from the nose.", "--balance-at", minimum=-LONGEST),
    ] = None
    """mm."""
    ballast: Annotated[
        tuple[float, float, float] | None,
        Setting("Place of the ballast that brings it there: x, y, z.", "--ballast-at", "X,Y,Z", parse=as_point),
    ] = None
    """mm from the nose, to starboard, above the datum."""

    def __post_init__(self) -> None:
        if self.skin_density is not None and self.skin_weight is not None:
            msg = "give either skin_density or skin_weight, not both"
            raise JobError(msg)
        if (self.balance is None) != (self.ballast is None):
            msg = "balance and ballast go together: where the body should balance, and where the ballast lies"
            raise JobError(msg)


@dataclass(frozen=True, slots=True)
class Load:
    """[[loads]]: a weight in a place, such as a motor, a battery, a servo, ballast."""

    name: Annotated[str, Setting("What it is.", min_length=1, max_length=40)]
    weight: Annotated[float, Setting("In g.", above=0, maximum=1e9, lenient=True)]
    """g."""
    x: Place
    y: Place = 0.0
    z: Place = 0.0
    """mm above the datum."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterSettings:
    """[water]: how the body floats."""

    waterline: Annotated[
        float | None,
        length_setting("Waterline above the lowest point (as it floats by its weight).", "--waterline", above=0),
    ] = None
    """mm; None: where the weight and the centre of gravity let it float."""
    kind: Annotated[Literal["fresh", "salt"], Setting("Water at 15 degrees C (fresh).", "--water")] = "fresh"
    density: Annotated[
        float | None,
        Setting("Density of the water.", "--water-density", "KG/M3", minimum=500, maximum=2000, lenient=True),
    ] = None
    weight: Annotated[
        float | None,
        Setting("Weight afloat in g (as worked out).", "--weight", "G", above=0, maximum=1e9, lenient=True),
    ] = None
    """g; None: that of foam, skin, glue and loads."""
    gravity: Annotated[
        tuple[float, float, float] | None,
        Setting("Centre of gravity afloat: x, y, z (as worked out).", "--gravity", "X,Y,Z", parse=as_point),
    ] = None
    """mm from the nose, to starboard, above the datum."""

    def __post_init__(self) -> None:
        if self.waterline is not None and self.weight is not None:
            msg = "give either waterline or weight, not both: one follows from the other"
            raise JobError(msg)


@dataclass(frozen=True, slots=True)
class WeighSettings:
    """All that a body is weighed with."""

    body: BodySettings = BodySettings()
    loads: tuple[Load, ...] = ()
    water: WaterSettings | None = None
    """None: it is not floated."""
    skin: float = 0.0
    """mm, as the templates have it."""
    scale: float | None = None
    """Model over original, where the hull is a model of something; figures of the original are given beside."""
