"""What is cut out of the glued body by hand: saddles, slots, tubes and bays, each with its solid and its templates."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from shapely import Polygon

from profiles.blocks.blocks import Block, Face
from profiles.blocks.body import Body
from profiles.blocks.cut_into import CutRow, CutSheet, HandCut
from profiles.blocks.outlines import as_multi
from profiles.cuts.pockets import pocket_of, pocket_row, pocket_sheets
from profiles.cuts.saddle import saddle_of, saddle_row, saddle_sheets
from profiles.cuts.settings import CutSettings
from profiles.cuts.solids import slice_at
from profiles.cuts.tubes import tube_row, tube_sheets, tube_solid
from profiles.hull.surface import Mesh
from profiles.notes import Note
from profiles.units import number_runs
from profiles.values import dataclass

SHOWN = 1.0
"""mm2; a smaller part of a cut is not drawn on a face."""


@dataclass(frozen=True, slots=True)
class Handmade:
    """A cut that is made by hand."""

    name: str
    solids: tuple[Mesh, ...]
    sheets: tuple[CutSheet, ...]
    row: CutRow
    notes: tuple[Note, ...] = ()
    notch: tuple[Polygon, float, float] | None = None
    """What the wire can cut of it: the outline (y, z) mm, and from where to where along the hull it is that."""

    def with_wire(self, blocks: Sequence[int]) -> "Handmade":
        """The same, with words for the blocks in which the wire cuts it."""
        if not blocks:
            return self
        which = f"block{'' if len(blocks) == 1 else 's'} {number_runs(blocks)}"
        words = f"{which} by the wire along the notch of both templates"
        return replace(self, row=replace(self.row, work=f"{words}; the rest in the {self.row.work}"))

    @property
    def reach(self) -> tuple[float, float]:
        """From where to where it goes, mm from the nose."""
        places = np.concatenate([vertices[:, 0] for vertices, _ in self.solids])
        return float(places.min()), float(places.max())


def handmade_of(settings: CutSettings, body: Body) -> Iterator[Handmade]:
    """All of a job. Raises JobError for one that cannot be."""
    for n, cutout in enumerate(settings.cutouts, 1):
        name = cutout.name or f"{cutout.kind} {n}"
        if cutout.kind == "saddle":
            saddle, notes = saddle_of(cutout, name, body)
            sheets = tuple(saddle_sheets(saddle, body))
            yield Handmade(name, tuple(saddle.solids), sheets, saddle_row(saddle), tuple(notes))
        elif cutout.kind == "tube":
            sheets = tuple(tube_sheets(cutout, name, body))
            yield Handmade(name, (tube_solid(cutout),), sheets, tube_row(cutout, name))
        else:
            slot = pocket_of(cutout, name, "slot", body)
            yield Handmade(
                name, (slot.solid,), tuple(pocket_sheets(slot, body, None)), pocket_row(slot), notch=slot.notch
            )
    for n, bay in enumerate(settings.bays, 1):
        pocket = pocket_of(bay, bay.name or f"bay {n}", "bay", body)
        hatch = (bay.hatch, bay.draught) if bay.hatch else None
        yield Handmade(
            pocket.name,
            (pocket.solid,),
            tuple(pocket_sheets(pocket, body, hatch)),
            pocket_row(pocket),
            notch=pocket.notch,
        )


def shown_on(face: Face, cut: Handmade) -> HandCut | None:
    """Where a cut meets a face; None where it does not."""
    low, high = cut.reach
    if not low < face.x < high or face.outline.foam.is_empty:
        return None
    region = as_multi(slice_at(cut.solids, face.x).intersection(face.outline.foam))
    return HandCut(cut.name, region) if region.area > SHOWN else None


def is_in(block: Block, cut: Handmade) -> bool:
    """Whether a cut reaches into the length of a block."""
    low, high = cut.reach
    return low < block.span.x_aft and high > block.span.x_fore
