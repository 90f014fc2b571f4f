"""The foam under the skin: what the wire leaves of a block, and what of it is sanded off.

Blocks are paired and grown without a skin, and the skin is then taken off their outlines. So the foam is the solid
between these, along the same pairing, and the hull under it is that of the sections less the skin. Without a skin both
are what growth gave.
"""

from collections.abc import Sequence

from shapely import MultiPolygon

from profiles.blocks.growth import GrownBlock
from profiles.blocks.hull_sections import Cut, hull_inside
from profiles.blocks.joined_pairing import join_pairing
from profiles.blocks.outlines import outline_of
from profiles.blocks.pairing import Pairing, number_rings, pair_faces
from profiles.blocks.ruled import RuledBlock, volume
from profiles.blocks.settings import Allowances
from profiles.blocks.skin import Skin

FARTHER = 1.01
"""Points of an outline are no farther from the same outline moved than their Hausdorff distance, but for rounding."""


def pair_moved(
    grown: GrownBlock,
    fore: MultiPolygon,
    aft: MultiPolygon,
    spacing: float | None,
    between: Sequence[tuple[float, MultiPolygon]],
) -> Pairing:
    """The pairing of a block's outlines moved by skin, kerf and wire, led by that of the block; `spacing` is the
    distance of marks in mm, and `between` are the hull's sections, each with its share of the way.
    """
    if grown.joined and not (fore.is_empty or aft.is_empty):
        reach = FARTHER * max(fore.hausdorff_distance(grown.fore), aft.hausdorff_distance(grown.aft))
        rings = join_pairing(grown.pairing.rings, fore, aft, reach)
        if rings:
            return number_rings(rings, spacing)
    return pair_faces(fore, aft, spacing, between, grown.pairing.rings)


def foam_under_skin(
    grown: GrownBlock,
    cut: Cut,
    finished: tuple[MultiPolygon, MultiPolygon],
    skins: tuple[Skin, Skin],
    skin: float,
) -> tuple[RuledBlock, float]:
    """The foam of a block under `skin` mm, and the mm3 of it to sand off; `finished` (y, z) mm are the hull's faces,
    and `skins` what the skin leaves of them.

    Between the faces the skin is taken off in the sections, and what more it takes off square to the surface is
    assumed to change evenly from face to face.
    """
    if not skin:
        return grown.block, grown.sanding_volume
    under = Allowances(skin=skin)
    fore, aft = (face.applied(outline, skin) for face, outline in zip(skins, (grown.fore, grown.aft), strict=True))
    inside = hull_inside(cut, grown.block.x_fore, grown.block.x_aft, *finished)
    rings = pair_moved(grown, fore, aft, None, inside.between).rings
    foam = RuledBlock(grown.block.x_fore, grown.block.x_aft, rings)
    first, last = (face.excess for face in skins)
    hull = inside.thickness * sum(
        part.weight * (outline_of(part.region, under).cut.area - first - part.share * (last - first))
        for part in inside.sections
    )
    return foam, max(0.0, volume(foam) - hull + grown.deviation.missing_volume)
