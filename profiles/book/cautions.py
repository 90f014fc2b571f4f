"""The cautions: one text for each hazard, repeated word for word in every chapter where the hazard comes up.

They are common practice, not a maker's or an authority's text, and say so: the makers' sheets and local codes come
first.
"""

from enum import StrEnum

from profiles.paper.drawing import patch
from profiles.paper.flow import TEXT, Item, keep_together, text_items
from profiles.values import dataclass

BAR = (1.2, "#8a1c1c")
"""Width in mm and colour of the bar at the left of a caution; it stays dark in a grey print."""

INDENT = 4.0
"""mm from the bar's left edge to the text."""

GROUND = "#f6efe9"
"""Colour behind a caution, pale enough to read on."""


VAPOUR_CELSIUS = 230.0
"""Polystyrene foam gives off flammable vapour from about here (makers' associations of EPS: 230 to 260)."""

SETTING_UP = (
    (
        "Start at half the current and turn it up until the wire cuts without a push, without glowing and with "
        "almost no smoke. Outside the foam the wire is hotter than inside it."
    ),
    "A hot wire gets longer. Keep it tight with a spring or a weight: a wire that sags or lags cuts a curved face.",
    (
        f"From about {VAPOUR_CELSIUS:g} degrees C polystyrene gives off flammable vapour, and styrene. Keep anything "
        "that burns away from the wire."
    ),
)
"""How to set up the wire; the cautions come first."""


class Hazard(StrEnum):
    """What can harm the builder."""

    WIRE = "Hot wire: burns and fire"
    SUPPLY = "Switch and supply"
    REACH = "Never reach for a live or hot wire"
    FUMES = "Fumes: work outdoors or with an extractor"
    FOAM = "Which foam may be cut"
    ADHESIVE = "Spray adhesive: flammable, and its solvent attacks foam"
    RESIN = "Resin, filler and paint: some dissolve foam, all want gloves and air"
    KNIVES = "Knives and blades"
    DUST = "Dust"
    SHEETS = "What takes precedence over these cautions"


@dataclass(frozen=True, slots=True)
class Caution:
    """A hazard and what to do about it."""

    hazard: Hazard
    text: str


CAUTIONS: dict[Hazard, Caution] = {
    caution.hazard: caution
    for caution in (
        Caution(
            Hazard.WIRE,
            "The wire burns skin at once, and sets fire to paper, dust, solvent and solvent vapour. Keep hands, hair, "
            "sleeves and leads out of its way. Have water or an extinguisher at hand and a second person within call. "
            "Keep children and animals out, and never leave the wire on unattended.",
        ),
        Caution(
            Hazard.SUPPLY,
            "Feed the wire from an isolated extra-low-voltage supply with a fuse that suits the wire, never from the "
            "mains and never through a dimmer on the mains. Use a switch that turns off when you let go, for example "
            "a foot switch. Pull the plug before you change or tighten the wire.",
        ),
        Caution(
            Hazard.REACH,
            "Never reach for the wire, across it or under it, and never change a block, a fence or a template, unless "
            "the wire is off and cold. It stays hot for a while after it stops glowing: count to thirty.",
        ),
        Caution(
            Hazard.FUMES,
            "Melting foam gives off styrene and decomposition products, which are harmful. Work outdoors or with an "
            "extractor that leads outside; a dust mask does not stop vapours. If the foam smokes, the wire is too hot: "
            "turn it down. If you get a headache or sore eyes, stop and go out into fresh air.",
        ),
        Caution(
            Hazard.FOAM,
            "Cut only foam whose maker says that it may be cut with a hot wire: usually expanded or extruded "
            "polystyrene. Never cut a chlorinated foam (PVC), a polyurethane or an unknown foam with a hot wire: they "
            "can give off hydrogen chloride, hydrogen cyanide or isocyanates. If you cannot identify it, do not cut "
            "it.",
        ),
        Caution(
            Hazard.ADHESIVE,
            "Its gas and solvent are flammable: no hot wire, flame or spark near it until the vapour is gone, and air "
            "the room. The solvent dissolves foam: use an adhesive that its maker sells for polystyrene, test it on "
            "scrap, spray light coats from a distance, and let the solvent flash off before closing the joint. Never "
            "cut through a joint that still smells of solvent.",
        ),
        Caution(
            Hazard.RESIN,
            "Polyester resin, many fillers and most spray paints dissolve polystyrene: use epoxy resin and water-based "
            "filler and paint, or seal the foam first, and test all of them on a rest. Resin and hardener harm skin "
            "and eyes: wear gloves and goggles, air the room, and mix only as much as you use at once, because a full "
            "pot gets hot enough to smoke. Keep vapour away from flames and from the hot wire.",
        ),
        Caution(
            Hazard.KNIVES,
            "Cut away from the hand that holds the work, on a firm board, along a steel rule. Change a blade before it "
            "needs force, and keep it covered when it is not in use.",
        ),
        Caution(
            Hazard.DUST,
            "Sanding foam, filler or cloth makes fine dust. Wear a particle mask that fits and eye protection, remove "
            "the dust with an extractor or a wet cloth, and keep it away from flames and from the hot wire.",
        ),
        Caution(
            Hazard.SHEETS,
            "These cautions are common practice and not complete. The safety data sheets and instructions of the "
            "makers of foam, wire, supply, adhesive and tools come before them, and so do your local rules and codes, "
            "and the word of a licensed electrician on anything that is wired.",
        ),
    )
}
"""One for each hazard."""

WHERE: dict[str, tuple[Hazard, ...]] = {
    "foam": (Hazard.FOAM, Hazard.SHEETS),
    "layers": (Hazard.ADHESIVE,),
    "cutting": (Hazard.WIRE, Hazard.REACH, Hazard.FUMES, Hazard.FOAM),
    "fences": (Hazard.REACH,),
    "templates": (Hazard.KNIVES,),
    "shaping": (Hazard.WIRE, Hazard.REACH, Hazard.FUMES),
    "carving": (Hazard.KNIVES, Hazard.DUST),
    "cuts": (Hazard.WIRE, Hazard.REACH, Hazard.KNIVES, Hazard.DUST),
    "assembly": (Hazard.ADHESIVE, Hazard.DUST),
    "finish": (Hazard.RESIN,),
    "wire": (Hazard.SUPPLY, Hazard.WIRE, Hazard.REACH, Hazard.FUMES),
}
"""Chapter -> the hazards that come up in it."""

AT_THE_WIRE = (*WHERE["wire"], Hazard.FOAM, Hazard.SHEETS)
"""The hazards for somebody who asks about the wire alone and has no job book."""


def wire_cautions() -> tuple[str, ...]:
    """The cautions for setting up a wire, and the steps to do it."""
    return (*(CAUTIONS[hazard].text for hazard in AT_THE_WIRE), *SETTING_UP)


def caution_items(hazards: tuple[Hazard, ...], width: float) -> list[Item]:
    """Each caution as a block of text `width` mm wide with a bar at its left. No page break splits one."""
    items: list[Item] = []
    for hazard in hazards:
        lines = [
            *text_items(hazard.value, TEXT, width - INDENT, bold=True),
            *text_items(CAUTIONS[hazard].text, TEXT, width - INDENT - 1.5),
        ]
        height = sum(item.height for item in lines) + 1.6
        ground = Item(
            0.8,
            keep=True,
            areas=(
                patch("caution", GROUND, 0.0, 0.0, width, height),
                patch("caution", BAR[1], 0.0, 0.0, BAR[0], height),
            ),
        )
        items += [ground, *keep_together([line.shift(INDENT) for line in lines]), Item(0.8), Item(1.8)]
    return items
