"""The foam under the skin: what the wire leaves of a block, and what of it is sanded off.

Blocks are paired and grown without a skin, and the skin is then taken off their outlines. So the foam is the solid
between these, along the same pairing, and the hull under it is that of the sections less the skin. Without a skin both
are what growth gave.
"""

from shapely import MultiPolygon

from profiles.blocks.growth import GrownBlock
from profiles.blocks.hull_sections import Cut, hull_inside
from profiles.blocks.outlines import outline_of
from profiles.blocks.pairing import pair_faces
from profiles.blocks.ruled import RuledBlock, volume
from profiles.blocks.settings import Allowances


def foam_under_skin(
    grown: GrownBlock, cut: Cut, finished: tuple[MultiPolygon, MultiPolygon], skin: float
) -> tuple[RuledBlock, float]:
    """The foam of a block under `skin` mm, and the mm3 of it to sand off; `finished` (y, z) mm are the hull's faces."""
    if not skin:
        return grown.block, grown.sanding_volume
    under = Allowances(skin=skin)
    fore, aft = (outline_of(outline, under).cut for outline in (grown.fore, grown.aft))
    inside = hull_inside(cut, grown.block.x_fore, grown.block.x_aft, *finished)
    rings = pair_faces(fore, aft, None, inside.between, grown.pairing.rings).rings
    foam = RuledBlock(grown.block.x_fore, grown.block.x_aft, rings)
    hull = sum(part.weight * outline_of(part.region, under).cut.area for part in inside.sections) * inside.thickness
    return foam, max(0.0, volume(foam) - hull + grown.deviation.missing_volume)
