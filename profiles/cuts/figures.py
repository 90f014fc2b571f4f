"""What is said of the cuts in a body: rows for the book, notes, and figures for the report."""

from collections.abc import Mapping, Sequence
from typing import Any

import shapely

from profiles.blocks.blocks import Block
from profiles.blocks.body import Body
from profiles.blocks.bodyfile import solid_of, volume_of
from profiles.blocks.cut_into import CutRow, CutSheet
from profiles.cuts import rods
from profiles.cuts.handmade import Handmade
from profiles.cuts.hollow import Void
from profiles.cuts.rods import Line
from profiles.cuts.settings import CutSettings
from profiles.cuts.solids import crossing
from profiles.hull.surface import Mesh
from profiles.notes import Note, fact
from profiles.units import figure, length_text, number_runs, short_length, volume_text


def hollow_rows(settings: CutSettings, voids: dict[str, list[Void]]) -> list[CutRow]:
    """The hollows as the book lists them."""
    rows = []
    for hollow, (name, found) in zip(settings.hollow, voids.items(), strict=True):
        numbers = number_runs([void.block for void in found])
        litres = volume_text(sum(void.volume for void in found))
        way = "along the inner line, from its slit" if hollow.deck == "closed" else "down from the deck"
        rows.append(
            CutRow(
                name,
                "hollow",
                f"block{'' if len(found) == 1 else 's'} {numbers}",
                f"wall {short_length(hollow.wall)}",
                f"hot wire, after the outside, {way}: {litres} come out",
            )
        )
    return rows


def rod_row(line: Line, blocks: Sequence[Block]) -> CutRow:
    """A rod as the book lists it."""
    through = number_runs([block.span.number for block in blocks if rods.solid_in(line, block)])
    level = line.degrees < 0.01  # noqa: PLR2004 - degrees; nobody drills so true
    way = "square to the faces" if level else f"at {line.degrees:.1f} degrees to the length, as the two holes show"
    return CutRow(
        line.name,
        "rod",
        f"blocks {through}",
        f"{length_text(line.diameter)}, {length_text(line.length, 0)} long",
        f"sharpened tube or long drill turned by hand, {way}, half-way from each face",
    )


def volume_notes(body: Body, blocks: Sequence[Block], voids: dict[str, list[Void]]) -> list[Note]:
    """How much foam comes out, and what becomes of the cores."""
    if not voids:
        return []
    before, after = _volumes(body, blocks)
    text = (
        f"cutting out takes {volume_text(before - after)} of {volume_text(before)} of foam; {volume_text(after)} stay"
    )
    cores = [void for found in voids.values() for void in found]
    numbers = number_runs([void.block for void in cores])
    return [fact(text), fact(f"the cores of blocks {numbers} come out whole: keep them as offcuts")]


def _volumes(body: Body, blocks: Sequence[Block]) -> tuple[float, float]:
    """mm3 of foam before and after."""
    before = sum(volume_of(block) or 0.0 for block in body.blocks)
    return before, sum(volume_of(block) or 0.0 for block in blocks)


def cut_figures(
    body: Body, blocks: Sequence[Block], settings: CutSettings, voids: dict[str, list[Void]], lines: Sequence[Line]
) -> dict[str, Any]:
    """Foam before and after, hollows block by block, rods with their holes."""
    before, after = _volumes(body, blocks)
    return {
        "foam_before_volume": figure(before),
        "foam_after_volume": figure(after),
        "hollow": [
            {
                "name": name,
                "wall": figure(hollow.wall),
                "deck": hollow.deck,
                "blocks": [
                    {
                        "block": void.block,
                        "volume": figure(void.volume),
                        "thinnest": figure(void.thinnest),
                        "areas": [figure(wall.area) for wall in void.walls],
                        "core": _core_size(void),
                    }
                    for void in found
                ],
            }
            for hollow, (name, found) in zip(settings.hollow, voids.items(), strict=True)
        ],
        "rods": [
            {
                "name": line.name,
                "diameter": figure(line.diameter),
                "start": [figure(at) for at in line.start],
                "end": [figure(at) for at in line.end],
                "length": figure(line.length),
                "degrees": figure(line.degrees),
                "proposed": line.proposed,
                "holes": [
                    {"face": face.id, "x": figure(face.x), "y": figure(hole.centre[0]), "z": figure(hole.centre[1])}
                    for block in blocks
                    for face in block.faces
                    for hole in face.into.holes
                    if hole.name == line.name
                ],
            }
            for line in lines
        ],
    }


def _core_size(void: Void) -> dict[str, float]:
    """The box of the piece that comes out of a hollow, mm."""
    both = shapely.union_all([*void.cuts])
    left, low, right, high = both.bounds
    return {
        "thickness": figure(void.ruled.thickness),
        "width": figure(right - left),
        "height": figure(high - low),
    }


def handmade_figures(
    body: Body, handmade: Sequence[Handmade], solids: Mapping[str, Mapping[int, list[Mesh]]]
) -> dict[str, Any]:
    """Saddles, slots, tubes and bays, each with the foam that it takes, mm3."""
    if not handmade:
        return {}
    wholes = {block.span.number: solid_of(block) for block in body.blocks}
    made = []
    for cut in handmade:
        by_block = solids[cut.name]
        taken = {n: crossing([whole], meshes) for n, meshes in by_block.items() if (whole := wholes[n]) is not None}
        made.append(
            {
                "name": cut.name,
                "kind": cut.row.kind,
                "x": [figure(at) for at in cut.reach],
                "volume": figure(sum(taken.values())),
                "blocks": sorted(taken),
                "sheets": [sheet.name for sheet in cut.sheets],
            }
        )
    return {"by_hand": made}


def sheet_figures(sheets: Sequence[CutSheet]) -> dict[str, Any]:
    """The templates that no face shows."""
    if not sheets:
        return {}
    rows = []
    for sheet in sheets:
        left, low, right, high = sheet.outline.bounds
        rows.append({"name": sheet.name, "width": figure(right - left), "height": figure(high - low)})
    return {"sheets": rows}
