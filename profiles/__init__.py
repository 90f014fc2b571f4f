"""True-size templates for foam bodies that are cut out of blocks with a hot wire.

The stages, each a function of frozen settings and values:

    read -> Hull    plan -> StationPlan    cut -> Body    supply -> FoamPlan    weigh -> BodyFigures
    lay_out -> Layout    draft -> Drafts    render -> files

`divide` cuts a hull into parts, each a Hull for these stages.

Nothing is loaded until it is asked for.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from profiles.blocks.body import Body, cut
    from profiles.blocks.planning import plan
    from profiles.blocks.settings import BlockSettings, StationSettings
    from profiles.blocks.stations import StationPlan
    from profiles.body.settings import BodySettings, Load, WaterSettings, WeighSettings
    from profiles.body.waterplane import BodyMarks
    from profiles.body.weigh import BodyFigures, weigh
    from profiles.cuts.cutting import cut_into
    from profiles.cuts.settings import Bay, Cutout, CutSettings, Hollow, Rod, Stand
    from profiles.drafting.drafts import Drafts, draft
    from profiles.drafting.settings import DraftSettings, DrawingSettings, Marking, Panel
    from profiles.foam.cutting import CuttingSettings
    from profiles.foam.stock import Board
    from profiles.foam.supply import FoamPlan, FoamSettings, supply
    from profiles.foam.wire import WireSettings
    from profiles.hull.frame import Hull
    from profiles.hull.part_settings import PartSettings
    from profiles.hull.parts import Division, Joint, Part, divide
    from profiles.hull.reading import read
    from profiles.hull.settings import ReadSettings
    from profiles.hull.shape import Shape
    from profiles.layout import Layout, lay_out
    from profiles.paper.settings import PageSettings
    from profiles.results import render

__version__ = "0.1.0"

__all__ = [
    "Bay",
    "BlockSettings",
    "Board",
    "Body",
    "BodyFigures",
    "BodyMarks",
    "BodySettings",
    "CutSettings",
    "Cutout",
    "CuttingSettings",
    "Division",
    "DraftSettings",
    "Drafts",
    "DrawingSettings",
    "FoamPlan",
    "FoamSettings",
    "Hollow",
    "Hull",
    "Joint",
    "Layout",
    "Load",
    "Marking",
    "PageSettings",
    "Panel",
    "Part",
    "PartSettings",
    "ReadSettings",
    "Rod",
    "Shape",
    "Stand",
    "StationPlan",
    "StationSettings",
    "WaterSettings",
    "WeighSettings",
    "WireSettings",
    "cut",
    "cut_into",
    "divide",
    "draft",
    "lay_out",
    "plan",
    "read",
    "render",
    "supply",
    "weigh",
]

_HOMES = {
    "Bay": "cuts.settings",
    "BlockSettings": "blocks.settings",
    "Board": "foam.stock",
    "Body": "blocks.body",
    "BodyFigures": "body.weigh",
    "BodyMarks": "body.waterplane",
    "BodySettings": "body.settings",
    "CutSettings": "cuts.settings",
    "Cutout": "cuts.settings",
    "CuttingSettings": "foam.cutting",
    "Division": "hull.parts",
    "DraftSettings": "drafting.settings",
    "Drafts": "drafting.drafts",
    "DrawingSettings": "drafting.settings",
    "FoamPlan": "foam.supply",
    "FoamSettings": "foam.supply",
    "Hollow": "cuts.settings",
    "Hull": "hull.frame",
    "Joint": "hull.parts",
    "Layout": "layout",
    "Load": "body.settings",
    "Marking": "drafting.settings",
    "PageSettings": "paper.settings",
    "Panel": "drafting.settings",
    "Part": "hull.parts",
    "PartSettings": "hull.part_settings",
    "ReadSettings": "hull.settings",
    "Rod": "cuts.settings",
    "Shape": "hull.shape",
    "Stand": "cuts.settings",
    "StationPlan": "blocks.stations",
    "StationSettings": "blocks.settings",
    "WaterSettings": "body.settings",
    "WeighSettings": "body.settings",
    "WireSettings": "foam.wire",
    "cut": "blocks.body",
    "cut_into": "cuts.cutting",
    "divide": "hull.parts",
    "draft": "drafting.drafts",
    "lay_out": "layout",
    "plan": "blocks.planning",
    "read": "hull.reading",
    "render": "results",
    "supply": "foam.supply",
    "weigh": "body.weigh",
}
"""Public name -> the module that it comes from (PEP 562)."""


def __getattr__(name: str) -> Any:  # noqa: ANN401 - whatever the name stands for
    if name not in _HOMES:
        message = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(message)
    value = getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
